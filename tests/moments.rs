//! The strip of key moments and the moving picture, from runs of the program: words stand apart, the picture shows the
//! state, and the moments are those of the events.

#![allow(clippy::expect_used, clippy::unwrap_used)]

#[path = "charts/polygons.rs"]
mod polygons;

use polygons::overlap;
use poppetry::assembly::{Resolver, Settings, builtin::names};
use poppetry::bench::{Playback, SectionView, Sequence, key_moments, moving_window, sequence};
use poppetry::charts::section::{Placement, section};
use poppetry::charts::{
    MomentCell, MomentColumn, MomentsPicture, MovieFrame, MoviePicture, Page, Rect, Sheet, Trace, each_frame,
    encode_gif, encode_sheet, lay_out_moments, look,
};
use poppetry::rig::{Part, Rig, What, options};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::path::Path;

fn assert_legible(sheet: &Sheet, name: &str) {
    let canvas = Rect::new(0.0, 0.0, sheet.width(), sheet.height());
    let labels = sheet.label_boxes();
    for (i, a) in labels.iter().enumerate() {
        assert!(canvas.holds(&a.area), "{name}: {a:?} leaves the canvas");
        assert!(a.size >= look::FOOT, "{name}: {a:?} is too small");
        for b in labels.iter().skip(i + 1) {
            assert!(!a.area.meets(&b.area), "{name}: {a:?} overlaps {b:?}");
        }
    }
    assert!(sheet.dropped().is_empty(), "{name}: {:?}", sheet.dropped());
    let cut: Vec<_> = labels.iter().filter(|l| l.text.ends_with('…')).collect();
    assert!(cut.is_empty(), "{name}: {cut:?}");
}

struct Ran {
    settings: Settings,
    rig: Rig,
    run: Sequence,
}

fn ran(settings: Settings) -> Ran {
    let rig = Rig::from_settings(&settings).unwrap();
    let run = sequence(&rig, &options(&settings).unwrap()).unwrap();
    Ran { settings, rig, run }
}

fn cells(ran: &Ran, times: &[f64]) -> Vec<MomentCell> {
    let view = SectionView::new(&ran.settings, &ran.rig).unwrap();
    let playback = Playback::new(&ran.rig, &options(&ran.settings).unwrap()).unwrap();
    let cell = |t: &f64| {
        let at = playback.at(*t);
        MomentCell {
            state: view.state(&at),
            pressures: [at.gauge[1], at.gauge[2]].map(|p| format!("{:.2} psi", p / 6894.757)),
            spilled: at.spilled_m3,
            spilled_text: format!("{:.1} mL spilled", 1e6 * at.spilled_m3),
            note: "spilling 11.2 gpm".to_owned(),
        }
    };
    times.iter().map(cell).collect()
}

fn strip(all: &[Ran]) -> MomentsPicture {
    let moments = key_moments(&all.iter().map(|r| &r.run).collect::<Vec<_>>());
    let times: Vec<f64> = moments.iter().map(|m| m.t_s).collect();
    let column = |r: &Ran| MomentColumn {
        name: r.settings.assembly().to_owned(),
        verdict: poppetry::bench::headline(&r.run, poppetry::units::System::Us),
        shape: SectionView::new(&r.settings, &r.rig).unwrap().shape,
        cells: cells(r, &times),
    };
    MomentsPicture {
        page: Page {
            title: "One spills, one stays dry".into(),
            subtitle: "Water turned on: shutoff 1 opens in 1 s".into(),
            foot: vec!["Assembly, file, version".into(), "Not a test result.".into()],
        },
        moments: moments.iter().map(|m| (format!("{:.3} s", m.t_s), m.name.to_owned())).collect(),
        columns: all.iter().map(column).collect(),
        key_flow: (5e-4, "8 gpm".into()),
        cup: (5e-5, "50 mL".into()),
        bar: (0.0254, "1 in".into()),
    }
}

fn built_ins() -> Vec<Ran> {
    names().map(|(name, _)| ran(Resolver::new().assembly(name).resolve().unwrap())).collect()
}

/// Constructions drawn from all axes, in any size, that the settings allow.
fn random_constructions(number: usize) -> Vec<Ran> {
    let mut rng = ChaCha8Rng::seed_from_u64(20);
    let mut all: Vec<Ran> = Vec::new();
    let mut tried = 0;
    while all.len() < number {
        tried += 1;
        assert!(tried < 40 * number, "too few of the drawn constructions are allowed");
        let mut pick = |choices: &[&'static str]| choices[rng.random_range(0..choices.len())];
        let places = ["body", "shutoff-inner", "shutoff-outer", "none"];
        let closed_by = pick(&["zone2", "diaphragm", "stem"]);
        let base = match closed_by {
            "diaphragm" => "svb-diaphragm",
            "stem" => "svb-stem",
            _ => pick(&["pvb-spring", "pvb-elastomer", "pvb-relief"]),
        };
        let sets = [
            format!("size={}", pick(&["3/8 in", "1/2 in", "3/4 in", "1 in", "1-1/4 in", "1-1/2 in", "2 in"])),
            format!("air_inlet.loading={}", pick(&["spring", "elastomer"])),
            format!("check.spring={}", pick(&["straight", "conical"])),
            format!("check.seat={}", pick(&["insert", "integral"])),
            format!("cock1.place={}", pick(&places)),
            format!("cock2.place={}", pick(&places)),
            format!("relief.place={}", pick(&["none", "air-inlet-stem", "zone1", "zone2"])),
            format!("canopy.fitted={}", pick(&["true", "false"])),
            format!("bleed_screw.area={}", pick(&["0 mm2", "12 mm2"])),
            format!("shutoff2.open={}", pick(&["true", "false", "0.4"])),
            format!("shutoff1.opening_time={}", pick(&["0.2 s", "1 s"])),
            format!("zone2.initial={}", pick(&["empty", "brimful"])),
        ];
        let resolver = sets.iter().fold(Resolver::new().assembly(base), |r, set| r.set(set));
        let Ok(settings) = resolver.resolve() else { continue };
        let Ok(rig) = Rig::from_settings(&settings) else { continue };
        let Ok(run) = sequence(&rig, &options(&settings).unwrap()) else { continue };
        all.push(Ran { settings, rig, run });
    }
    all
}

/// Height of the air inlet's sealing edge under the vent and of the check over its seat, in pixels of the strip.
fn measured(view: &SectionView, cell: &MomentCell, scale: f64) -> [f64; 2] {
    let d = section(&view.shape, &cell.state);
    let at = Placement { x: 0.0, y: 0.0, scale };
    let ends = |name: &str| {
        let ys = || d.solids.iter().filter(|p| p.name == name).flat_map(|p| &p.points).map(|p| at.px(*p).1);
        (ys().fold(f64::MAX, f64::min), ys().fold(f64::MIN, f64::max))
    };
    let check = ends("check seat").0 - ends("check facing").1;
    let moving = if d.named("stem").next().is_some() { "stem" } else { "air inlet" };
    let stop = ends("check bridge").0 - ends_of_disc(&d, moving, &at);
    [check, stop]
}

/// Lower side of the disc, px: the lowest of the part that is wider than its stem.
fn ends_of_disc(d: &poppetry::charts::section::Drawing, name: &str, at: &Placement) -> f64 {
    let points = || d.solids.iter().filter(|p| p.name == name).flat_map(|p| &p.points);
    let widest = points().map(|p| p.0.abs()).fold(0.0, f64::max);
    let disc = points().filter(|p| p.0.abs() > 0.95 * widest).map(|p| at.px(*p).1);
    disc.fold(f64::MIN, f64::max)
}

#[test]
fn analytic_pictures_of_all_built_ins_and_twenty_random_constructions_show_the_travels_of_the_run() {
    let scale = 3000.0;
    for (i, r) in built_ins().iter().chain(&random_constructions(20)).enumerate() {
        let view = SectionView::new(&r.settings, &r.rig).unwrap();
        let times: Vec<f64> = key_moments(&[&r.run]).iter().map(|m| m.t_s).collect();
        for (t, cell) in times.iter().zip(cells(r, &times)) {
            let [check, from_stop] = measured(&view, &cell, scale);
            // The run's own samples are the other witness: between two neighbours, and to a pixel.
            let k = r.run.samples.partition_point(|s| s.t_s < *t).min(r.run.samples.len() - 1);
            let near = [&r.run.samples[k.saturating_sub(1)], &r.run.samples[k]];
            let between = |px: f64, get: &dyn Fn(&poppetry::bench::Sample) -> f64| {
                let values = near.map(|s| scale * get(s));
                px > values[0].min(values[1]) - 1.0 && px < values[0].max(values[1]) + 1.0
            };
            assert!(between(check, &|s| s.check_travel_m), "case {i} at {t} s: check {check} px");
            let lift = r.rig.inlet.poppet.lift;
            let with_stem = r.rig.stem.is_some();
            let by_run = |s: &poppetry::bench::Sample| lift - s.air_inlet_travel_m;
            let sealed = near.iter().all(|s| s.air_inlet_travel_m == 0.0);
            // A stem goes on after its vent is sealed.
            assert!(
                between(from_stop, &by_run) || (with_stem && sealed && from_stop > scale * lift - 1.0),
                "case {i} at {t} s: air inlet {from_stop} px from its stop"
            );
        }
    }
}

#[test]
fn analytic_nothing_overlaps_in_the_pictures_of_all_built_ins_and_twenty_random_constructions() {
    for (i, r) in built_ins().iter().chain(&random_constructions(20)).enumerate() {
        let view = SectionView::new(&r.settings, &r.rig).unwrap();
        let times: Vec<f64> = key_moments(&[&r.run]).iter().map(|m| m.t_s).collect();
        for cell in cells(r, &times) {
            let d = section(&view.shape, &cell.state);
            let scale = 560.0 / (d.bounds.2 - d.bounds.0);
            for (k, a) in d.solids.iter().enumerate() {
                for b in d.solids.iter().skip(k + 1) {
                    let px = scale * overlap(&a.points, &b.points);
                    assert!(px < 0.05, "case {i}: {} and {} overlap by {px} px: {:?}", a.name, b.name, view.shape);
                }
            }
        }
    }
}

#[test]
fn regress_strips_of_all_built_ins_and_random_constructions_are_legible() {
    let all = built_ins();
    for r in all.into_iter().chain(random_constructions(20)) {
        let name = r.settings.assembly().to_owned();
        assert_legible(&lay_out_moments(&strip(&[r])), &name);
    }
    for number in [2, 3, 5] {
        let some: Vec<Ran> = built_ins().into_iter().rev().take(number).collect();
        assert_legible(&lay_out_moments(&strip(&some)), &format!("{number} side by side"));
    }
}

#[test]
fn event_key_moments_are_those_of_the_events_in_order() {
    let all = built_ins();
    for r in &all {
        let moments = key_moments(&[&r.run]);
        assert!(moments.windows(2).all(|w| w[0].t_s < w[1].t_s), "{moments:?}");
        assert!(moments[0].t_s == 0.0 && moments[0].name == "at rest");
        let find = |name: &str| moments.iter().find(|m| m.name == name).map(|m| m.t_s);
        let shut = r.run.events.iter().find(|e| e.part == Part::AirInlet && e.what == What::Closed).unwrap().t_s;
        assert!((find("air inlet shut").unwrap() - shut).abs() < 2e-4, "{}", r.settings.assembly());
        let first = r.run.events[0];
        let begins = find("first part moves").unwrap();
        assert!(begins > first.t_s && begins < r.run.events[1].t_s, "{begins} {first:?}");
        let most = r.run.samples.iter().map(|s| s.spill_m3_s).fold(0.0, f64::max);
        assert_eq!(find("most spill").is_some(), r.run.spill_m3 > 1e-7 && most > 1e-6, "{}", r.settings.assembly());
        assert!(find("flowing").is_some());
    }
    let two: Vec<&Sequence> = all.iter().map(|r| &r.run).collect();
    let (from, to) = moving_window(&two);
    assert!(from >= 0.0 && to > from);
    let shuts = two.iter().flat_map(|r| &r.events).filter(|e| e.part == Part::AirInlet && e.what == What::Closed);
    assert!(shuts.map(|e| e.t_s).fold(f64::MAX, f64::min) < to);
}

/// A check that leaves its seat and does nothing more was pictured half-way to the end of the run, long after the air inlet
/// had shut: the first picture of motion is to show what moved before anything else did, or before water came.
#[test]
fn bug_the_first_part_is_pictured_moving_before_the_next_thing_happens() {
    let with = |name: &str, sets: &[&str]| {
        let resolver = sets.iter().fold(Resolver::new().assembly(name), |r, set| r.set(set));
        ran(resolver.resolve().unwrap()).run
    };
    let swapped = with("svb-diaphragm", &["check.load=1.2 psi", "air_inlet.load=2.4 psi"]);
    let endless = with("pvb-spring", &["supply.pressure=3 psi"]);
    let pictured = |run: &Sequence| key_moments(&[run]).into_iter().find(|m| m.name == "first part moves").unwrap().t_s;
    let spills = endless.samples.iter().find(|s| s.spilled_m3 > 0.1e-6).unwrap().t_s;
    assert_eq!(endless.events.len(), 1);
    for (run, next) in [(&swapped, swapped.events[1].t_s), (&endless, spills)] {
        let at = pictured(run);
        assert!(at > run.events[0].t_s && at < next, "{at} s, next at {next} s");
    }
}

/// Played back, a run gives its own samples again.
#[test]
fn analytic_playback_agrees_with_the_samples_of_the_run() {
    for r in built_ins() {
        let playback = Playback::new(&r.rig, &options(&r.settings).unwrap()).unwrap();
        assert_eq!(playback.end(), r.run.last.t_s);
        for s in r.run.samples.iter().step_by(37) {
            let at = playback.at(s.t_s);
            assert!((at.gauge[1] - s.zone1_pa_gauge).abs() < 1e-6 * s.zone1_pa_gauge.abs().max(1e5));
            assert!((at.gauge[2] - s.zone2_pa_gauge).abs() < 1e-6 * s.zone2_pa_gauge.abs().max(1e5));
            assert!((at.spilled_m3 - s.spilled_m3).abs() < 1e-12);
            assert!((at.check_travel_m - s.check_travel_m).abs() < 2e-3 * r.rig.check.lift);
        }
    }
}

fn movie(all: &[Ran], frames: usize) -> MoviePicture {
    let picture = strip(all);
    let window = moving_window(&all.iter().map(|r| &r.run).collect::<Vec<_>>());
    let times: Vec<f64> =
        (0..frames).map(|i| window.0 + (window.1 - window.0) * i as f64 / (frames - 1) as f64).collect();
    let by_column: Vec<Vec<MomentCell>> = all.iter().map(|r| cells(r, &times)).collect();
    let frame = |(i, t): (usize, &f64)| MovieFrame {
        time: *t,
        clock: format!("{t:.3} s"),
        cells: by_column.iter().map(|c| c[i].clone()).collect(),
    };
    MoviePicture {
        page: picture.page,
        columns: picture.columns.iter().map(|c| (c.name.clone(), c.shape)).collect(),
        frames: times.iter().enumerate().map(frame).collect(),
        time: all[0].run.samples.iter().map(|s| s.t_s).collect(),
        traces: vec![Trace {
            label: "zone 1".into(),
            values: all[0].run.samples.iter().map(|s| s.zone1_pa_gauge / 6894.757).collect(),
        }],
        y_name: "gauge pressure (psi)".into(),
        window,
        pace: "10 times slower than life".into(),
        key_flow: picture.key_flow,
        cup: picture.cup,
    }
}

#[test]
fn regress_every_frame_of_a_movie_is_legible_and_of_one_size() {
    let all = built_ins();
    for some in [&all[..1], &all[..2], &all[2..5]] {
        let mut size = None;
        each_frame(&movie(some, 9), |i, sheet| {
            assert_legible(&sheet, &format!("frame {i}"));
            let here = (sheet.width(), sheet.height());
            assert_eq!(*size.get_or_insert(here), here);
            encode_sheet(&sheet, Path::new("a.svg")).map(|_| ())
        })
        .unwrap();
    }
}

/// The GIF decoded again by the decoder of the same format: number, size and last picture.
#[test]
fn regress_the_gif_holds_all_frames_and_decodes_to_the_picture() {
    let all = built_ins();
    let picture = movie(&all[..1], 7);
    let mut heard = Vec::new();
    let bytes = encode_gif(&picture, |done| heard.push(done)).unwrap();
    assert_eq!(heard, [1, 2, 3, 4, 5, 6, 7]);
    assert!(bytes.starts_with(b"GIF89a"));
    let mut options = gif::DecodeOptions::new();
    options.set_color_output(gif::ColorOutput::RGBA);
    let mut decoder = options.read_info(&bytes[..]).unwrap();
    let (width, height) = (usize::from(decoder.width()), usize::from(decoder.height()));
    let mut canvas = vec![0u8; 4 * width * height];
    let mut frames = 0;
    while let Some(frame) = decoder.read_next_frame().unwrap() {
        frames += 1;
        for (old, new) in canvas.chunks_exact_mut(4).zip(frame.buffer.chunks_exact(4)) {
            if new[3] > 0 {
                old.copy_from_slice(new);
            }
        }
    }
    assert_eq!(frames, 7);
    let mut last = None;
    each_frame(&picture, |_, sheet| {
        last = Some(encode_sheet(&sheet, Path::new("a.png"))?);
        Ok::<(), poppetry::charts::ChartError>(())
    })
    .unwrap();
    let png = image::load_from_memory(&last.unwrap()).unwrap().to_rgb8();
    assert_eq!((png.width() as usize, png.height() as usize), (width, height));
    // The palette has steps of 51 in each channel, so no channel is off by more than half of that and a bucket.
    let worst = png
        .pixels()
        .zip(canvas.chunks_exact(4))
        .flat_map(|(a, b)| a.0.into_iter().zip(b[..3].to_vec()))
        .map(|(a, b)| a.abs_diff(b))
        .max()
        .unwrap();
    assert!(worst <= 34, "{worst}");
}

#[test]
fn regress_senseless_pictures_do_not_panic() {
    assert!(encode_gif(&MoviePicture::default(), |_| {}).is_err());
    lay_out_moments(&MomentsPicture::default());
    let all = built_ins();
    let mut picture = strip(&all[..2]);
    for cell in picture.columns.iter_mut().flat_map(|c| &mut c.cells) {
        cell.state.water = [f64::NAN, f64::INFINITY, -1.0, 1e300];
        cell.spilled = f64::NAN;
        cell.note = "x".repeat(500);
    }
    picture.columns[0].cells.truncate(1);
    picture.moments.truncate(2);
    picture.cup.0 = 0.0;
    encode_sheet(&lay_out_moments(&picture), Path::new("a.png")).unwrap();
}
