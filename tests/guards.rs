//! What no file or option can bring about, but a program that uses the library can: options, spans and sizes that mean
//! nothing give an error or a documented value, never a panic, an endless loop or figures that look like a result.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // a test stops where it fails

mod common;

use common::{ML, PSI, rig};
use poppetry::assembly::Resolver;
use poppetry::bench::sequence;
use poppetry::bench::surge::{Beginning, Closing, PipeCase, coupled, pipe};
use poppetry::charts::{MovieFrame, MoviePicture, each_frame};
use poppetry::numerics::{Failure, Options, solve};
use poppetry::rig::{Feed, LineFriction, Rig};
use poppetry::study::distribution::{Distribution, normal_quantile};
use poppetry::study::sampling::{Design, Sample};
use poppetry::study::sensitivity::Scheme;
use poppetry::study::statistics::{Histogram, MOST_BINS, edges, share};
use poppetry::units::{Kind, exact_text, parse};

fn refused<T>(outcome: Result<T, Failure>, part: &str) {
    match outcome.map(|_| ()) {
        Err(Failure::Meaningless { what, .. }) => assert!(what.contains(part), "{what}"),
        other => panic!("{part}: {other:?}"),
    }
}

/// A fill with a negative tolerance, or an end that is no number, came back as done with nothing spilled.
#[test]
fn bug_options_that_mean_nothing_are_refused() {
    let plain = rig("pvb-spring", &[]);
    for tolerance in [-1.0, 0.0, 1.0, f64::INFINITY, f64::NAN] {
        refused(sequence(&plain, &Options { tolerance, ..Options::default() }), "tolerance");
    }
    for first_step in [-1e-6, 0.0, f64::INFINITY, f64::NAN] {
        refused(sequence(&plain, &Options { first_step, ..Options::default() }), "first_step");
    }
    for end_time in [-1.0, f64::INFINITY, f64::NAN] {
        refused(sequence(&Rig { end_time, ..plain.clone() }, &Options::default()), "the end");
    }
    let (mode, y) = plain.start();
    refused(solve(&plain, mode, y.clone(), f64::NAN, 1.0, &Options::default()), "the start");
    refused(solve(&plain, mode, y[1..].to_vec(), 0.0, 1.0, &Options::default()), "the length of the start");
    // An end at the start is a run of no length.
    assert_eq!(solve(&plain, mode, y.clone(), 2.0, 2.0, &Options::default()).unwrap().y_end, y);
}

/// A solution without steps copied from beyond its end into a longer list.
#[test]
fn bug_a_solution_without_steps_fills_what_it_has() {
    let plain = rig("pvb-spring", &[]);
    let (mode, y) = plain.start();
    let run = solve(&plain, mode, y.clone(), 0.0, 0.0, &Options::default()).unwrap();
    let mut out = vec![7.0; y.len() + 3];
    run.at(0.5, &mut out);
    assert_eq!(out[..y.len()], y);
    assert_eq!(out[y.len()..], [7.0; 3]);
}

/// No cells took the last cell for the one before the first.
#[test]
fn bug_a_line_of_no_cells_is_one_of_one_cell() {
    let spill = |cells: usize| {
        let mut r = rig("pvb-spring", &[]);
        if let Feed::Line(line) = &mut r.feed {
            line.cells = cells;
        }
        sequence(&r, &Options::default()).unwrap().spill_m3
    };
    assert_eq!(spill(0), spill(1));
    assert!(spill(0) > ML);
}

/// An endless surge stepped without end; a rig without a line was said to have one that is not finite.
#[test]
fn bug_a_surge_needs_an_end_and_a_line() {
    let r = rig("pvb-spring", &[]);
    let Feed::Line(line) = r.feed.clone() else { panic!("no line") };
    for end_time in [f64::INFINITY, f64::NAN, -1.0, 1e15] {
        let case = PipeCase {
            line: line.clone(),
            cells: 20,
            friction: LineFriction::Roughness,
            velocity: 1.0,
            closing: Closing::Flow,
            closing_time: 0.0,
            end_time,
        };
        refused(pipe(&case, &r.fluid), "the end");
        let from = Beginning { rig: r.clone(), flow: 0.0, pressure: None, state: None };
        if end_time != 1e15 {
            refused(coupled(from, 20, &LineFriction::Roughness, end_time, &Options::default()), "the end");
        }
    }
    let recorded = Rig { feed: Feed::Recorded(curve()), ..r };
    let from = Beginning { rig: recorded, flow: 0.0, pressure: None, state: None };
    let failure = coupled(from, 20, &LineFriction::Roughness, 1.0, &Options::default()).unwrap_err();
    assert_eq!(failure, Failure::NoLine);
}

fn curve() -> poppetry::laws::curve::MonotoneCurve {
    poppetry::laws::curve::MonotoneCurve::new(&[0.0, 1.0], &[60.0 * PSI, 60.0 * PSI]).unwrap()
}

/// A point beyond the last walked through a permutation for ever, and a scheme of no points divided by nothing.
#[test]
fn bug_points_beyond_the_last_begin_again_and_no_scheme_is_empty() {
    for design in [Design::LatinHypercube, Design::Sobol] {
        let sample = Sample::new(design, 3, 20, 0).unwrap();
        for index in 0..3 {
            assert_eq!(sample.point(index), sample.point(index + 3));
            assert_eq!(sample.point(index), sample.point(index + 3 * 1_000_000_007));
        }
    }
    for (base, replicates, inputs, option) in
        [(0, 8, 6, "--base"), (100_000, 8, 6, "--base"), (64, 0, 6, "--replicates"), (64, 8, 0, "inputs")]
    {
        let message = Scheme::new(base, replicates, inputs, 1).unwrap_err().to_string();
        assert!(message.contains(option), "{message}");
    }
}

/// The quantile of no number stopped the program, and a histogram of all the bins there are asked for more memory than
/// there is.
#[test]
fn bug_statistics_of_what_is_no_number() {
    assert!(normal_quantile(f64::NAN).is_nan());
    for d in [Distribution::Normal { mean: 1.0, sd: 2.0 }, Distribution::Lognormal { median: 1.0, factor: 2.0 }] {
        assert!(d.quantile(f64::NAN).is_nan());
    }
    assert_eq!(normal_quantile(-1.0), f64::NEG_INFINITY);
    assert_eq!(Histogram::new(edges(0.0, 1.0, usize::MAX, &[])).bins().len(), MOST_BINS);
    assert_eq!(Histogram::new(edges(0.0, 1.0, 0, &[])).bins().len(), 1);
}

/// The interval of half of 10^18 cases was never found. At 10^9, the most a study has, it is that of the normal law: with
/// p = 1/2 the half width is 1.959963985 sqrt(p (1 - p) / n), which the exact one exceeds by about 1 / 2n.
#[test]
fn bug_a_share_of_more_cases_than_there_can_be_has_no_interval() {
    let most = 1_000_000_000_u64;
    let half = share(most / 2, most);
    let width = 1.959_963_985 * (0.25 / most as f64).sqrt();
    assert!(((0.5 - half.low) / width - 1.0).abs() < 1e-3, "{half:?}");
    assert!(((half.high - 0.5) / width - 1.0).abs() < 1e-3, "{half:?}");
    let beyond = share(most * most / 2, most * most);
    assert_eq!(beyond.estimate, 0.5);
    assert!(beyond.low.is_nan() && beyond.high.is_nan());
}

/// A window that ends before it begins, or is none, stopped the thread that painted.
#[test]
fn bug_a_movie_without_a_window_is_drawn() {
    for window in [(1.0, 0.0), (f64::NAN, 1.0), (0.0, f64::NAN), (f64::NAN, f64::NAN)] {
        let frame = MovieFrame { time: 0.5, clock: "0.500 s".into(), cells: Vec::new() };
        let picture = MoviePicture { frames: vec![frame], window, time: vec![0.0, 1.0], ..MoviePicture::default() };
        let mut drawn = 0;
        each_frame(&picture, |_, _| {
            drawn += 1;
            Ok::<(), ()>(())
        })
        .unwrap();
        assert_eq!(drawn, 1);
    }
}

/// A number too small to be written as people write it was refused as a slip; a study's number is none.
#[test]
fn bug_a_number_from_a_study_may_be_next_to_nothing() {
    let settings = Resolver::new().resolve().unwrap();
    for tiny in [1e-31, -1e-40, f64::MIN_POSITIVE, 0.0] {
        assert_eq!(parse(Kind::Length, &exact_text(Kind::Length, tiny)).unwrap(), 0.0);
        assert_eq!(settings.with_number("check.load", tiny).unwrap().number("check.load").unwrap(), 0.0);
        assert_eq!(settings.with_numbers(&[("check.load", tiny)]).unwrap().number("check.load").unwrap(), 0.0);
    }
    assert!(settings.with_number("zone2.compliance", 1e-31).unwrap_err().to_string().contains("above 0 mL/psi"));
}
