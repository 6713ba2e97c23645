//! A measured load curve and a recorded supply pressure in place of the built-in ones.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // a test stops where it fails

mod common;

use common::{ML, PSI, run};
use poppetry::assembly::Resolver;
use poppetry::bench::Sequence;
use poppetry::rig::{Part, Rig, What};
use std::fmt::Write as _;
use std::path::Path;

const INCH: f64 = 0.0254;
const LBF_PER_INCH: f64 = 4.448_221_615_260_5 / INCH;

fn disc(diameter: f64) -> f64 {
    std::f64::consts::FRAC_PI_4 * diameter * diameter
}

/// Events of two runs within 0.1 ms up to the check's first closing, spill within 0.1 %.
fn same(a: &Sequence, b: &Sequence) {
    let list = |r: &Sequence| -> Vec<(Part, What, f64)> {
        let closing = r.events.iter().position(|e| e.part == Part::Check && e.what == What::Closed);
        r.events[..closing.map_or(r.events.len(), |k| k + 1)].iter().map(|e| (e.part, e.what, e.t_s)).collect()
    };
    let (x, y) = (list(a), list(b));
    assert!(x.len() >= 3 && x.len() == y.len(), "{x:?} against {y:?}");
    for (p, q) in x.iter().zip(&y) {
        assert_eq!((p.0, p.1), (q.0, q.1));
        assert!((p.2 - q.2).abs() < 1e-4, "{p:?} against {q:?}");
    }
    assert!((a.spill_m3 - b.spill_m3).abs() <= 1e-3 * a.spill_m3 + 1e-4 * ML);
}

fn write_curve(path: &Path, sealed: f64, rate: f64, lift: f64) {
    let mut text = String::from("travel [mm],force [N]\n");
    for k in 0..=12 {
        let x = lift * f64::from(k) / 12.0;
        writeln!(text, "{},{}", x * 1e3, sealed + rate * x).unwrap();
    }
    std::fs::write(path, text).unwrap();
}

/// The typed design of the built-ins at 1 in: load as pressure on the stated area, rate, lift.
#[test]
fn analytic_a_curve_sampled_from_the_built_in_spring_gives_its_events() {
    let folder = tempfile::tempdir().unwrap();
    for (assembly, check, inlet) in [
        ("pvb-spring", (1.5 * PSI * disc(1.05 * INCH), 1.01), (1.5 * PSI * disc(INCH), -1.34)),
        ("svb-diaphragm", (2.2 * PSI * disc(1.05 * INCH), 1.78), (1.2 * PSI * disc(INCH), -1.07)),
    ] {
        let (c, a) = (folder.path().join("check.csv"), folder.path().join("inlet.csv"));
        write_curve(&c, check.0, check.1 * LBF_PER_INCH, 0.32 * INCH);
        write_curve(&a, inlet.0, inlet.1 * LBF_PER_INCH, 0.22 * INCH);
        let measured = run(
            assembly,
            &[
                &format!("check.load_curve={}", c.display()),
                &format!("air_inlet.load_curve={}", a.display()),
                "run.end_time=0.6 s",
            ],
        );
        same(&run(assembly, &["run.end_time=0.6 s"]), &measured);
    }
}

#[test]
fn analytic_a_recorded_trace_gives_the_events_of_the_supply_it_was_taken_from() {
    let folder = tempfile::tempdir().unwrap();
    for assembly in ["pvb-spring", "svb-diaphragm"] {
        let built_in = run(assembly, &["run.end_time=0.6 s"]);
        // At the main: a steady 60 psi, logged every tenth of a second.
        let main = folder.path().join("main.csv");
        let mut text = String::from("time [s],pressure [psi]\n");
        for k in 0..=20 {
            writeln!(text, "{},60", 0.1 * f64::from(k)).unwrap();
        }
        std::fs::write(&main, text).unwrap();
        let at_main = run(assembly, &[&format!("supply.trace={}", main.display()), "run.end_time=0.6 s"]);
        same(&built_in, &at_main);
        // Just before shutoff 1: what a logger there would have seen of the same run.
        let close = folder.path().join("shutoff1.csv");
        let mut text = String::from("time [s],pressure [Pa]\n");
        let mut last = -1.0;
        for s in &built_in.samples {
            if s.t_s > last + 2e-5 {
                writeln!(text, "{:.9},{:.6}", s.t_s, s.line_pa_gauge).unwrap();
                last = s.t_s;
            }
        }
        std::fs::write(&close, text).unwrap();
        let at_shutoff = run(
            assembly,
            &[&format!("supply.trace={}", close.display()), "supply.trace_at=shutoff1", "run.end_time=0.6 s"],
        );
        same(&built_in, &at_shutoff);
    }
}

/// A loop run through the other way gives energy at every stroke: a part on it opened and shut without end.
#[test]
fn bug_a_load_that_gives_back_more_than_it_took_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("loop.csv");
    // The check's spring is to resist either way: more opening than closing; the air inlet's the other way round.
    for (group, opening, closing, fine) in [
        ("check", 12.0, 10.0, true),
        ("check", 10.0, 12.0, false),
        ("air_inlet", 8.0, 9.0, true),
        ("air_inlet", 9.0, 8.0, false),
    ] {
        let branch = |force: f64, way: &str| (0..3).fold(String::new(), |s, k| format!("{s}{},{force},{way}\n", 5 * k));
        let text =
            format!("travel [mm],force [N],direction\n{}{}", branch(opening, "opening"), branch(closing, "closing"));
        std::fs::write(&path, text).unwrap();
        let set = format!("{group}.load_curve={}", path.display());
        let settings = Resolver::new().assembly("pvb-spring").set(&set).resolve().unwrap();
        let built = Rig::from_settings(&settings);
        assert_eq!(built.is_ok(), fine, "{group} {opening} {closing}");
        if let Err(e) = built {
            let message = e.to_string();
            assert!(message.contains("load_curve") && message.contains("gain energy"), "{message}");
        }
    }
}

/// A curve with two branches: the air inlet needs more to shut (closing branch) than it gives back (opening branch).
#[test]
fn analytic_two_branches_move_the_shutting_and_the_opening_pressure_apart() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("loop.csv");
    let force = |p: f64| p * PSI * disc(INCH);
    let mut text = String::from("travel [mm],force [N],direction\n");
    for (direction, p) in [("opening", 1.1), ("closing", 1.4)] {
        for k in 0..=4 {
            let x = 0.22 * 25.4 * f64::from(k) / 4.0;
            writeln!(text, "{x},{},{direction}", force(p) - 0.1 * x).unwrap();
        }
    }
    std::fs::write(&path, text).unwrap();
    let r = run("svb-diaphragm", &[&format!("air_inlet.load_curve={}", path.display())]);
    // Friction 0.05 psi on the same area on top of each branch.
    assert!((r.statics.inlet_shut_pa_gauge.unwrap() - 1.45 * PSI).abs() < 0.005 * PSI);
    assert!((r.statics.inlet_opens_pa_gauge.unwrap() - 1.05 * PSI).abs() < 0.005 * PSI);
}
