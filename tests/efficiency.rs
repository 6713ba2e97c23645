//! What a fill costs, in counts that no load on the machine can change, and what it is worth: its events and its spill.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // a test stops where it fails

use poppetry::assembly::Resolver;
use poppetry::numerics::{Options, Solution, solve};
use poppetry::rig::{Mode, Rig, options};

fn rig(assembly: &str, sets: &[String]) -> (Rig, Options) {
    let mut resolver = Resolver::new().assembly(assembly);
    for set in sets {
        resolver = resolver.set(set);
    }
    let settings = resolver.resolve().unwrap();
    let mut rig = Rig::from_settings(&settings).unwrap();
    rig.stop_at_check_closed = sets.iter().any(|s| s == "shutoff2.open=false");
    (rig, Options { keep_steps: false, ..options(&settings).unwrap() })
}

fn run(rig: &Rig, options: &Options, tolerance: f64) -> Solution<Mode> {
    let (mode, y) = rig.start();
    solve(rig, mode, y, 0.0, rig.end_time, &Options { tolerance, ..*options }).unwrap()
}

/// Fill number `i` of a case: loads and pressure of the main from a linear congruence.
fn case(i: u64, closing: bool) -> Vec<String> {
    let mut seed = i.wrapping_mul(0x9e37_79b9_7f4a_7c15).wrapping_add(12_345);
    let mut draw = |low: f64, high: f64| {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        low + (high - low) * (seed >> 33) as f64 / f64::from(1_u32 << 31)
    };
    let mut sets = vec![
        format!("check.load={} psi", draw(1.3, 2.8)),
        format!("air_inlet.load={} psi", draw(0.85, 1.25)),
        format!("supply.pressure={} psi", draw(30.0, 90.0)),
    ];
    sets.push(if closing { "shutoff2.open=false".into() } else { "run.end_time=3 s".into() });
    sets
}

/// Assembly; shutoff 2 shut, up to the check's closing; the loosest tolerance of the series 1, 2, 5 at which the second test
/// holds, which is what speeds are quoted at; most attempted steps on average.
const CASES: [(&str, bool, f64, f64); 6] = [
    ("svb-diaphragm", false, 2e-3, 278.0),
    ("svb-diaphragm", true, 1e-3, 161.0),
    ("pvb-spring", false, 2e-3, 288.0),
    ("pvb-spring", true, 1e-4, 310.0),
    ("pvb-elastomer", false, 2e-3, 285.0),
    ("pvb-elastomer", true, 1e-4, 304.0),
];

/// Counts of 40 fills: 5 % more than on the day they were taken fails. An attempt is one Jacobian or none and five
/// evaluations, and at most a quarter of the attempts may be thrown away.
#[test]
fn regress_a_fill_takes_no_more_steps_than_it_did() {
    for (assembly, closing, tolerance, most) in CASES {
        let (mut attempts, mut rejected) = (0, 0);
        for i in 0..40 {
            let (rig, options) = rig(assembly, &case(i, closing));
            let stats = run(&rig, &options, tolerance).stats;
            attempts += stats.steps + stats.rejected;
            rejected += stats.rejected;
            assert_eq!(
                stats.rhs_evaluations,
                5 * (stats.steps + stats.rejected),
                "{assembly} {closing} {i}: {stats:?}"
            );
            assert!(stats.jacobians <= stats.steps + stats.transitions + 1, "{assembly} {closing} {i}: {stats:?}");
        }
        let mean = f64::from(u32::try_from(attempts).unwrap()) / 40.0;
        println!("{assembly}, closing {closing}: {mean} attempts, {rejected} of {attempts} rejected");
        assert!(mean < most, "{assembly}, closing {closing}: {mean} attempted steps a fill, not {most}");
        assert!(4 * rejected < attempts, "{assembly}, closing {closing}: {rejected} of {attempts} rejected");
    }
}

/// What a fill's events and spill differ in from those of a run 100 times tighter: events within 0.1 ms, spill within 0.1 %
/// or 0.01 mL, a fifth of a drop.
fn differs(assembly: &str, closing: bool, tolerance: f64, i: u64) -> Option<String> {
    let (rig, options) = rig(assembly, &case(i, closing));
    let (loose, tight) = (run(&rig, &options, tolerance), run(&rig, &options, 0.01 * tolerance));
    let sorted = |s: &Solution<Mode>| {
        let mut events: Vec<(usize, f64)> = s.fired.iter().map(|f| (f.label, f.t)).collect();
        events.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
        events
    };
    let (a, b) = (sorted(&loose), sorted(&tight));
    if a.iter().map(|e| e.0).ne(b.iter().map(|e| e.0)) {
        return Some(format!("fill {i}: other events, {a:?} against {b:?}"));
    }
    if let Some((a, b)) = a.iter().zip(&b).find(|(a, b)| !((a.1 - b.1).abs() < 1e-4)) {
        return Some(format!("fill {i}: {a:?} against {b:?}"));
    }
    let (got, want) = (rig.spilled(&loose.y_end), rig.spilled(&tight.y_end));
    let same = (got - want).abs() < (1e-3 * want.abs()).max(0.01e-6);
    (!same).then(|| format!("fill {i}: {got} against {want} m3"))
}

/// 20 drawn fills a case, and all but 6 of 200: in two of a hundred fills of an SVB the air inlet comes off its seat once
/// more for a fifth of a millisecond, or just does not.
#[test]
fn event_times_and_spill_of_drawn_fills_equal_those_of_a_run_a_hundred_times_tighter() {
    for (assembly, closing, tolerance, _) in CASES {
        let others: Vec<String> = (1000..1200).filter_map(|i| differs(assembly, closing, tolerance, i)).collect();
        println!("{assembly}, closing {closing}: {} of 200 differ", others.len());
        assert!(others.len() <= 6, "{assembly}, closing {closing}: {others:#?}");
        let first = others.iter().find(|s| (1000..1020).any(|i| s.starts_with(&format!("fill {i}:"))));
        assert_eq!(first, None, "{assembly}, closing {closing}");
    }
}
