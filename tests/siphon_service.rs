//! A supply that fails on a service in use, and water that presses back. Loads are typed here: pvb-spring holds 1.5 psi on
//! check and air inlet, friction 0.05 psi each.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // a test stops where it fails

mod common;

use common::{ML, PSI};
use poppetry::assembly::{Resolver, Settings};
use poppetry::bench::siphon::{By, Outcome, Scene, Siphon, run_scene, siphon};
use poppetry::rig::options;

fn settings(assembly: &str, sets: &[&str]) -> Settings {
    sets.iter().fold(Resolver::new().assembly(assembly), |r, s| r.set(s)).resolve().unwrap()
}

fn service(assembly: &str, sets: &[&str]) -> Outcome {
    let s = settings(assembly, sets);
    run_scene(&s, Scene::Service, &options(&s).unwrap()).unwrap()
}

fn both(assembly: &str, sets: &[&str]) -> Siphon {
    let s = settings(assembly, sets);
    siphon(&s, &options(&s).unwrap()).unwrap()
}

const SHUT: &str = "load_side.outlet_area=0 mm2";

/// The four cases. PVB: shut while zone 2 stays above (F - R)/A = 1.45 psi. SVB: opens at p1 = (F - R - p2 A2)/Ad, so that
/// trapped pressure on a share of the vent may hold it shut even at 25 inHg; without that share, or with zone 2 drained, it
/// opens with zone 1.
#[test]
fn analytic_trapped_pressure_decides_whether_the_air_inlet_opens_behind_a_tight_check() {
    let pvb = service("pvb-spring", &[SHUT]);
    assert!(pvb.settled && pvb.t_air_inlet_opens_s.is_none() && pvb.inlet_shut_at_end);
    assert!(pvb.last().unwrap().zone2_pa_gauge > 1.45 * PSI);
    let svb = service("svb-diaphragm", &[SHUT]);
    assert!(svb.settled && svb.t_air_inlet_opens_s.is_none() && svb.inlet_shut_at_end);
    assert!(svb.last().unwrap().zone1_pa_gauge < -11.0 * PSI);
    let alone = service("svb-diaphragm", &[SHUT, "air_inlet.zone2_share=0"]);
    let drained = service("svb-diaphragm", &[]);
    let load = settings("svb-diaphragm", &[]);
    let (f, r) = (load.number("air_inlet.load").unwrap(), load.number("air_inlet.friction").unwrap());
    for o in [&alone, &drained] {
        assert!(o.settled && o.t_air_inlet_opens_s.is_some() && !o.inlet_shut_at_end);
        assert!(o.load_water_back_m3 < ML);
    }
    // Zone 1 alone: (F - R)/Ad, both stated on the diaphragm's area.
    let p1 = alone.zone1_at_opening_pa_gauge.unwrap();
    assert!((p1 / (f - r) - 1.0).abs() < 0.01, "{p1} against {}", f - r);
    // With a share of 0.3 of an equal area: p1 = F - R - 0.3 p2.
    let t = drained.t_air_inlet_opens_s.unwrap();
    let p2 =
        drained.points.iter().min_by(|a, b| (a.t_s - t).abs().total_cmp(&(b.t_s - t).abs())).unwrap().zone2_pa_gauge;
    let p1 = drained.zone1_at_opening_pa_gauge.unwrap();
    assert!((p1 + 0.3 * p2 - (f - r)).abs() < 0.02 * PSI, "{p1} {p2}");
}

/// With an outlet open zone 2 drains, and a PVB's air inlet opens at (F - R)/A = 1.45 psi of zone 2.
#[test]
fn analytic_a_drained_pvb_opens_at_its_load_less_friction() {
    let o = service("pvb-spring", &[]);
    let t = o.t_air_inlet_opens_s.unwrap();
    let p2 = o.points.iter().min_by(|a, b| (a.t_s - t).abs().total_cmp(&(b.t_s - t).abs())).unwrap().zone2_pa_gauge;
    assert!((p2 / PSI - 1.45).abs() < 0.02, "{}", p2 / PSI);
}

#[test]
fn practice_who_protects_a_tight_and_a_fouled_unit() {
    let tight = both("pvb-spring", &[]);
    assert_eq!(tight.protects, Some(true));
    assert_eq!(both("pvb-spring", &[SHUT, "siphon.scene=service"]).by, Some(By::Check));
    // The vacuum test has its air inlet open from the start.
    assert_eq!(tight.by, Some(By::Both));
    let fouled = both("pvb-spring", &["check.foul_area=20 mm2"]);
    assert_eq!(fouled.by, Some(By::AirInlet));
    assert!(fouled.asked.rise.unwrap().max_m < fouled.test_limit_m);
    // A stuck air inlet over a fouled check protects nothing.
    let stuck = both("pvb-spring", &["check.foul_area=20 mm2", "air_inlet.adhesion=40 psi"]);
    assert_eq!((stuck.protects, stuck.by), (Some(false), None));
}

/// Of the water that goes back, the load side's is told apart: never more than all of it, none with a tight check.
#[test]
fn balance_load_water_is_part_of_the_water_back_and_everything_closes() {
    for assembly in ["pvb-spring", "pvb-relief", "svb-diaphragm", "svb-stem"] {
        for sets in [
            vec![],
            vec![SHUT],
            vec!["check.foul_area=5 mm2"],
            vec!["check.foul_area=5 mm2", SHUT],
            vec!["check.foul_area=50 mm2", "load_side.height=2 m"],
            vec!["supply.elevation=-5 m", "supply.failed_pressure=0 psi", "check.foul_area=5 mm2"],
        ] {
            let o = service(assembly, &sets);
            assert!(o.balance.water.closure() < 1e-9 && o.balance.air.closure() < 1e-9, "{assembly} {sets:?}");
            assert!(o.load_water_back_m3 <= o.water_back_m3 + 1e-12 && o.load_water_back_m3 >= 0.0);
            if o.rig.check.foul_area == 0.0 {
                // A stem lifted by zone 1 still holds the check open while zone 2 is already above it.
                let limit = if assembly == "svb-stem" { ML } else { 0.1 * ML };
                assert!(o.load_water_back_m3 < limit, "{assembly} {sets:?}: {}", o.load_water_back_m3);
            }
        }
    }
}

/// 20 m of full line delay the air by seconds: it runs to rest, and the water of the line (10.6 L) is gone by then.
#[test]
fn practice_a_full_line_delays_the_air_phase_by_seconds() {
    let o = service("pvb-spring", &["check.foul_area=20 mm2"]);
    let line = std::f64::consts::FRAC_PI_4 * 0.026 * 0.026 * 20.0;
    assert!(o.settled && o.supply_back_m3 > 0.98 * line, "{} of {line}", o.supply_back_m3);
    let arrives = o.points.iter().find(|p| -p.supply_air_kg_s > 1e-4).unwrap().t_s;
    assert!(arrives > 4.0 && arrives < 12.0, "{arrives}");
}

/// A pump presses 80 psi back: the air inlet is held shut, a tight check passes nothing, a foul what an orifice passes:
/// Q = Cd A sqrt(2 dp/rho) with Cd 0.7.
#[test]
fn ref_backpressure_passes_a_foul_as_an_orifice_and_holds_the_air_inlet_shut() {
    let run = |sets: &[&str]| {
        let s =
            settings("pvb-spring", &[&["siphon.scene=backpressure", "load_side.backpressure=80 psi"], sets].concat());
        run_scene(&s, Scene::Backpressure, &options(&s).unwrap()).unwrap()
    };
    let tight = run(&[]);
    assert!(tight.reverse_flow_m3_s == 0.0 && tight.inlet_shut_at_end && tight.water_back_m3 < 0.1 * ML);
    for foul in [0.5, 2.0, 8.0] {
        let o = run(&[&format!("check.foul_area={foul} mm2")]);
        let last = o.last().unwrap();
        let dp = last.zone2_pa_gauge - last.zone1_pa_gauge;
        let expected = 0.7 * foul * 1e-6 * (2.0 * dp / 999.1).sqrt();
        assert!(o.settled && o.inlet_shut_at_end);
        assert!((o.reverse_flow_m3_s / expected - 1.0).abs() < 0.01, "{} {expected}", o.reverse_flow_m3_s);
        // Readings stay what they were: check 1.5 - 0.05, air inlet 1.5 - 0.05 psi.
        assert!((o.statics.check_settles_pa / PSI - 1.45).abs() < 0.01);
        assert!((o.statics.inlet_opens_pa_gauge.unwrap() / PSI - 1.45).abs() < 0.01);
    }
    // A tank 10 m up: 1.422 psi per metre.
    let s = settings("pvb-spring", &["siphon.scene=backpressure", "load_side.height=10 m", "check.foul_area=2 mm2"]);
    let o = run_scene(&s, Scene::Backpressure, &options(&s).unwrap()).unwrap();
    let p2 = o.last().unwrap().zone2_pa_gauge;
    assert!((p2 / (999.1 * 9.80665 * 10.0) - 1.0).abs() < 0.01, "{p2}");
}
