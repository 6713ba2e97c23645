//! Surge with the assembly at the line's end. Unless a test says otherwise: pvb-spring, 1 in, 60 psi, 20 m of line of 26 mm
//! bore at 1280 m/s, shutoff 2 shut.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // a test stops where it fails

mod common;

use common::PSI;
use poppetry::assembly::{Resolver, Settings};
use poppetry::bench::sequence;
use poppetry::bench::surge::{Surge, slam, surge, trapped_excess};
use poppetry::cli::Warning;
use poppetry::rig::{Part, Rig, What, options};

fn settings(assembly: &str, sets: &[&str]) -> Settings {
    sets.iter().fold(Resolver::new().assembly(assembly), |r, s| r.set(s)).resolve().unwrap()
}

fn run(assembly: &str, sets: &[&str]) -> Surge {
    let s = settings(assembly, sets);
    surge(&s, &options(&s).unwrap()).unwrap()
}

/// A rigid column of inertance I that stops on compliance C: dp = Q sqrt(I/C) above what drives it (energy; derived here).
/// I = rho L/A, C of line A L/(rho a^2), of zones: walls and rubber 0.01 mL/psi each, water V/K. Within 0.1 s the formula is
/// 13 % low: the check then shuts from its stop, and the 4.5 mL its disc sweeps are as much as a zone yields.
#[test]
fn analytic_one_cell_traps_what_a_column_on_a_spring_gives() {
    for time in ["0.5 s", "1 s", "2 s"] {
        let s = settings("pvb-spring", &["shutoff2.open=false", &format!("shutoff1.opening_time={time}")]);
        let rig = Rig::from_settings(&s).unwrap();
        let one = sequence(&rig, &options(&s).unwrap()).unwrap();
        let shut = one.events.iter().find(|e| e.part == Part::AirInlet && e.what == What::Closed).unwrap().t_s;
        let inflow = one.samples.iter().find(|p| p.t_s >= shut).unwrap().inflow_m3_s;
        let (rho, area, kappa) = (999.1, std::f64::consts::FRAC_PI_4 * 0.026 * 0.026, 4.67e-10);
        let inertance = rho * 20.0 / area;
        let line = area * 20.0 / (rho * 1280.0 * 1280.0);
        let zones = 2.0 * 0.01e-6 / PSI + (60e-6 + 120e-6) * kappa;
        let expected = inflow * (inertance / (line + zones)).sqrt();
        let found = one.trapped_excess_pa;
        assert!((found / expected - 1.0).abs() < 0.1, "{time}: {:.1} psi against {:.1}", found / PSI, expected / PSI);
    }
}

#[test]
fn order_sixteen_cells_stand_within_two_per_cent_of_two_hundred_and_one_cell_15_to_20_per_cent_low() {
    let sets =
        |cells: &str| [format!("surge.cells={cells}"), "shutoff2.open=false".into(), "surge.end_time=0.3 s".into()];
    let with = |cells: &str| {
        let sets = sets(cells);
        let sets: Vec<&str> = sets.iter().map(String::as_str).collect();
        run("pvb-spring", &sets)
    };
    let (coarse, fine) = (with("16"), with("200"));
    let (a, b) = (trapped_excess(coarse.coupled.as_ref().unwrap()), trapped_excess(fine.coupled.as_ref().unwrap()));
    assert!((a / b - 1.0).abs() < 0.02, "{} against {}", a / PSI, b / PSI);
    let (p, q) = (coarse.peaks(), fine.peaks());
    assert!((p.zone2.unwrap() / q.zone2.unwrap() - 1.0).abs() < 0.02);
    assert!((p.line / q.line - 1.0).abs() < 0.02);
    // One elastic cell of the fill is said to stand low.
    let s = settings("pvb-spring", &["shutoff2.open=false", "shutoff1.opening_time=0.1 s"]);
    let rig = Rig::from_settings(&s).unwrap();
    let one = sequence(&rig, &options(&s).unwrap()).unwrap();
    let low = 1.0 - one.peak.zone2_pa_gauge / q.zone2.unwrap();
    println!("one cell: {:.1} % low", 100.0 * low);
    assert!(low > 0.05 && low < 0.25, "{low}");
    assert_eq!(line_warning(&rig, &one), Warning::WavesInOneLineCell);
}

/// What a run says of its line of one cell.
fn line_warning(rig: &Rig, run: &poppetry::bench::Sequence) -> Warning {
    let notices = poppetry::cli::warnings(rig, run, poppetry::units::System::Us);
    let of_line = [Warning::OneLineCell, Warning::WavesInOneLineCell];
    let said: Vec<_> = notices.iter().map(|n| n.warning).filter(|w| of_line.contains(w)).collect();
    assert_eq!(said.len(), 1);
    said[0]
}

/// One cell was said to give any spill to 2 %; in 100 m of line that is thrown open it gives more than twice of what waves
/// followed along the line give.
#[test]
fn bug_one_cell_is_good_where_it_is_said_to_be_and_elsewhere_warned_of() {
    for (length, opening, good) in [("20 m", "0.3 s", true), ("100 m", "0.05 s", false), ("60 m", "0.1 s", false)] {
        let sets = [format!("supply.line_length={length}"), format!("shutoff1.opening_time={opening}")];
        let sets: Vec<&str> = sets.iter().map(String::as_str).chain(["shutoff2.open=false"]).collect();
        let s = settings("pvb-spring", &sets);
        let rig = Rig::from_settings(&s).unwrap();
        let one = sequence(&rig, &options(&s).unwrap()).unwrap();
        let thrown = format!("surge.opening_time={opening}");
        let waves = run("pvb-spring", &[&sets[..], &[&thrown, "surge.end_time=1 s"]].concat());
        let spill = waves.coupled.as_ref().unwrap().spill_m3;
        let out = (one.spill_m3 + one.rebound_spill_m3) / spill - 1.0;
        println!("{length}, {opening}: {:.1} % out of {:.1} mL", 100.0 * out, 1e6 * spill);
        assert_eq!(out.abs() < 0.03, good);
        let expected = if good { Warning::OneLineCell } else { Warning::WavesInOneLineCell };
        assert_eq!(line_warning(&rig, &one), expected);
    }
}

/// The same fill on the ladder of 32 elastic cells of `sequence`, an independent discretisation: events and spill agree.
#[test]
fn ref_the_fill_agrees_with_the_ladder_of_elastic_cells() {
    let sets = ["shutoff1.opening_time=0.1 s", "supply.line_cells=24", "run.end_time=0.35 s"];
    let s = settings("pvb-spring", &sets);
    let ladder = sequence(&Rig::from_settings(&s).unwrap(), &options(&s).unwrap()).unwrap();
    let waves = run("pvb-spring", &["surge.end_time=0.35 s"]);
    let waves = waves.coupled.unwrap();
    let shut = |events: Vec<(f64, Part, What)>| {
        events.into_iter().find(|e| e.1 == Part::AirInlet && e.2 == What::Closed).unwrap().0
    };
    let a = shut(ladder.events.iter().map(|e| (e.t_s, e.part, e.what)).collect());
    let b = shut(waves.events.iter().map(|e| (e.0, e.1, e.2)).collect());
    // One cell of the ladder is crossed in 0.65 ms.
    assert!((a - b).abs() < 1.5e-3, "{a} against {b}");
    assert!((ladder.spill_m3 / waves.spill_m3 - 1.0).abs() < 0.03, "{} {}", ladder.spill_m3, waves.spill_m3);
}

#[test]
fn balance_water_and_air_close_and_pressure_stays_above_the_vapours() {
    for (assembly, sets) in [
        ("pvb-spring", vec!["shutoff2.open=false", "surge.end_time=0.5 s"]),
        ("pvb-spring", vec!["surge.end_time=0.5 s"]),
        ("pvb-relief", vec!["shutoff2.open=false", "surge.end_time=0.5 s"]),
        ("svb-diaphragm", vec!["shutoff2.open=false", "surge.end_time=0.5 s"]),
        ("svb-stem", vec!["surge.end_time=0.5 s"]),
        ("pvb-spring", vec!["surge.scene=downstream-valve", "surge.end_time=0.1 s"]),
    ] {
        let r = run(assembly, &sets);
        let run = r.coupled.as_ref().unwrap();
        assert!(run.balance.water.closure() < 1e-9, "{assembly} {sets:?}: {:e}", run.balance.water.closure());
        assert!(run.balance.air.closure() < 1e-9);
        // The seam: what the line has yet to be charged with, beside some 10 kg in it.
        assert!(run.seam_kg.abs() < 1e-6 * run.balance.water.stored_end_kg, "{:e}", run.seam_kg);
        let lowest = run.waves.extremes[1].iter().copied().fold(run.line_trough, f64::min);
        assert!(lowest >= r.vapour_pressure, "{lowest}");
    }
}

/// The valve stops the assembly's flow; upstream of it no pressure can rise by more than density times wave speed times the
/// velocity there was, and friction (Joukowsky).
#[test]
fn analytic_a_downstream_slam_stays_below_joukowsky_and_slams_the_check() {
    let s = ["surge.scene=downstream-valve", "surge.closing_time=0.01 s", "surge.end_time=0.06 s"];
    let r = run("pvb-spring", &s);
    let run = r.coupled.as_ref().unwrap();
    let area = std::f64::consts::FRAC_PI_4 * 0.026 * 0.026;
    let velocity = run.waves.flow_at_start / 999.1 / area;
    assert!(velocity > 0.3 && velocity < 3.0, "{velocity}");
    let rise = r.peaks().line - 60.0 * PSI;
    assert!(rise < 999.1 * 1280.0 * velocity && rise > 0.3 * 999.1 * 1280.0 * velocity, "{rise} {velocity}");
    let v = slam(run, Part::Check).unwrap();
    assert!(v > 0.01 && v < 3.0, "{v}");
}

/// A relief set at 200 psi in the stem lifts on a fill slam of 600 psi and takes the trapped pressure off.
#[test]
fn practice_a_relief_lifts_on_the_fill_slam() {
    let with = run("pvb-relief", &["shutoff2.open=false", "surge.end_time=0.5 s"]);
    let without = run("pvb-relief", &["shutoff2.open=false", "surge.end_time=0.5 s", "relief.place=none"]);
    let (a, b) = (with.coupled.as_ref().unwrap(), without.coupled.as_ref().unwrap());
    assert!(a.relieved_m3 > 0.0 && a.events.iter().any(|e| e.1 == Part::Relief));
    assert!(trapped_excess(a) < 0.6 * trapped_excess(b));
}

#[test]
fn practice_opening_slowly_slams_less() {
    let peak = |time: &str| {
        let r =
            run("pvb-spring", &["shutoff2.open=false", "surge.end_time=0.5 s", &format!("surge.opening_time={time}")]);
        r.peaks().zone2.unwrap()
    };
    let (quick, slow) = (peak("0.05 s"), peak("0.4 s"));
    assert!(quick > slow, "{} {}", quick / PSI, slow / PSI);
}

/// The flow on which a valve slams was the fifth second of a fill: a long line brings less than a pressure type's open vent
/// takes, so that 0.40 of 0.46 L/s left by the air inlet and the slam did not show. In use the zones are under pressure and
/// the tap is opened then; what flows is what line, check (1.5 psi and a little drag) and outlet leave of 60 psi.
#[test]
fn bug_a_valve_at_the_end_of_a_long_line_slammed_on_a_vent_that_had_never_shut() {
    let friction = |q: f64| {
        // 1 km of 26 mm drawn tube by Blasius (Re 17,000).
        let v = q / (std::f64::consts::FRAC_PI_4 * 0.026 * 0.026);
        0.3164 / (v * 0.026 / 1.139e-6).powf(0.25) * 1000.0 / 0.026 * 0.5 * 999.1 * v * v
    };
    let outlet = |q: f64| 0.5 * 999.1 * (q / (0.61 * 0.069 * 6.4516e-4)).powi(2);
    let (mut low, mut high) = (0.0, 1e-3);
    for _ in 0..60 {
        let mid = 0.5 * (low + high);
        if friction(mid) + outlet(mid) + 1.5 * PSI < 60.0 * PSI { low = mid } else { high = mid }
    }
    let run = run(
        "pvb-spring",
        &["surge.scene=downstream-valve", "supply.line_length=1000 m", "surge.cells=600", "surge.end_time=2 s"],
    );
    let coupled = run.coupled.as_ref().unwrap();
    let first = coupled.points[0];
    assert!((first.inflow_m3_s / low - 1.0).abs() < 0.02, "{} {low}", first.inflow_m3_s);
    assert!(first.air_inlet_travel_m == 0.0 && first.spill_m3_s == 0.0);
    let joukowsky = 999.1 * 1280.0 * low / (std::f64::consts::FRAC_PI_4 * 0.026 * 0.026);
    let before = first.line_pa_gauge;
    let rise = (run.peaks().line - before) / joukowsky;
    assert!(rise > 0.9 && rise < 1.6, "{rise}");
}
