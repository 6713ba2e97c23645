//! A closed zone on a night below freezing, without a relief: pressures, ice, first yield, plateau.
//!
//! Expected values: equal Gibbs energies of IAPWS-95 and R10-06 with the volume balance of a zone filled at 4 °C and
//! atmospheric pressure (computed apart from this program), and Lamé's cylinder.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // a test stops where it fails

mod freeze;

use approx::assert_relative_eq;
use freeze::*;
use poppetry::freeze::wall::{Rubber, Strength};
use poppetry::freeze::{Body, Happening, Night, ZoneSample, night};
use poppetry::laws::cylinder::Cylinder;
use poppetry::laws::melting;
use serde_json::Value;
use std::collections::HashMap;

const LONG: f64 = 30.0 * 3600.0;

fn run(body: &Body, air_ml: f64) -> Night {
    night(body, &[start_on(body, 4.0, 0.0, air_ml * ML)], LONG, 1e-6).unwrap()
}

fn last(run: &Night) -> ZoneSample {
    run.samples.last().unwrap().zones[0]
}

/// Ice as a share of the mass when the pressure first reaches `gauge` Pa, linear between samples.
fn ice_at(run: &Night, gauge: f64) -> f64 {
    let share = |z: &ZoneSample| z.ice / z.mass;
    for w in run.samples.windows(2) {
        let (a, b) = (&w[0].zones[0], &w[1].zones[0]);
        if a.p - ATM < gauge && b.p - ATM >= gauge {
            let f = (gauge + ATM - a.p) / (b.p - a.p);
            return share(a) + f * (share(b) - share(a));
        }
    }
    panic!("{gauge} Pa is never reached");
}

/// All entries of the bank about a whole zone (topic 2, each at its tolerance): pressure, share of ice and heat once it is as
/// cold as the air, for rigid walls and for such as are up to a hundred times softer than metal; and the softness from which
/// on all water freezes, which must be met to a hundredth from either side.
#[test]
fn ref_zones_of_the_bank_come_to_equilibrium() {
    let data: Value = serde_json::from_str(include_str!("data/check-freeze.json")).unwrap();
    let mut runs: HashMap<(u64, u64), (ZoneSample, f64)> = HashMap::new();
    let mut at_rest = |t: f64, compliance: f64| {
        *runs.entry((t.to_bits(), compliance.to_bits())).or_insert_with(|| {
            let mut body = reference(Walls::Rigid, t - 273.15);
            body.zones[0].wall.compliance = compliance;
            let run = night(&body, &[start(4.0, 0.0, 0.0)], 1e6, 1e-6).unwrap();
            (last(&run), run.balance.energy.heat_out_j)
        })
    };
    let (mut count, mut failures) = (0, Vec::new());
    for entry in data["02_ice"].as_array().unwrap() {
        let name = entry["name"].as_str().unwrap();
        let want = entry["value"].as_f64().unwrap();
        let input = |key: &str| entry["inputs"][key].as_f64().unwrap();
        let compliance = || input("wall_volume_compliance_1_per_Pa");
        let (got, allowed) = match name {
            "frozen-in-place equilibrium pressure" => (at_rest(input("T_K"), compliance()).0.p, 5e-3 * want),
            "frozen-in-place ice mass fraction" => {
                let z = at_rest(input("T_K"), compliance()).0;
                (z.ice / z.mass, 5e-3)
            }
            "heat removed at constant volume" => {
                let (z, heat) = at_rest(input("T_K"), compliance());
                (heat / z.mass, 5e-3 * want)
            }
            "wall compliance at which water just freezes completely" => {
                let mut frozen = |c: f64| {
                    let z = at_rest(input("T_K"), c).0;
                    z.ice / z.mass > 1.0 - 1e-6
                };
                let met = !frozen(0.99 * want) && frozen(1.01 * want);
                (if met { want } else { f64::NAN }, 0.0)
            }
            _ => continue,
        };
        if !((got - want).abs() <= allowed) {
            failures.push(format!("{name} {}: {got} against {want}", entry["inputs"]));
        }
        count += 1;
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
    assert_eq!(count, 53);
}

/// A bronze zone of another modulus.
fn bronze(modulus: f64) -> Body {
    let mut body = reference(Walls::Bronze, -5.0);
    let tube = Cylinder { modulus, ..TUBE };
    let wall = &mut body.zones[0].wall;
    wall.strength = Some(Strength { tube, yield_strength: YIELD });
    wall.compliance = tube.compliance();
    body
}

/// 13.5 Mpsi: the modulus of the same alloy in a metals table (seen in two).
const HANDBOOK_MODULUS: f64 = 13.5e6 * PSI;

/// Ice needed to reach 200 psi. Rigid 0.0062, bronze 0.0077, with a pocket of 1 mL of air beside 150 mL of water 0.076: by the
/// volume balance with IAPWS-95 and R10-06, worked out apart from this program. The two bronze values are those of 13.5 Mpsi;
/// with 97 GPa they are 0.00764 and 0.0758.
#[test]
fn ref_ice_needed_for_200_psi() {
    let set = 200.0 * PSI;
    assert!((ice_at(&run(&reference(Walls::Rigid, -5.0), 0.0), set) - 0.0062).abs() < 2e-4);
    assert!((ice_at(&run(&bronze(97e9), 0.0), set) - 0.007_636_8).abs() < 1e-5);
    for modulus in [97e9, HANDBOOK_MODULUS] {
        assert!((ice_at(&run(&bronze(modulus), 0.0), set) - 0.0077).abs() < 2e-4);
        let mut body = bronze(modulus);
        body.zones[0].wall.volume = 151.0 * ML;
        let got = ice_at(&run(&body, 1.0), set);
        assert!((got - 0.076).abs() < 2e-4, "{got}");
    }
}

/// x = [v0 (1 + C p) − v_l]/(v_i − v_l) on the melting curve at 19.58 MPa: 0.11695 with the `iapws` library 1.5.5 for 97 GPa,
/// 0.1178 for 13.5 Mpsi.
#[test]
fn ref_bronze_yields_where_the_melting_curve_says() {
    for (modulus, x, digits) in [(97e9, 0.116_950_57, 2e-5), (HANDBOOK_MODULUS, 0.1178, 1e-4)] {
        let body = bronze(modulus);
        let run = run(&body, 0.0);
        let first = run.first(Happening::Yields).unwrap();
        assert_relative_eq!(first.gauge, 19.58e6, max_relative = 5e-4);
        assert!((first.ice_share - x).abs() < digits, "{}", first.ice_share);
        assert!((first.t - kelvin(-1.512)).abs() < 1e-3, "{}", first.t);
        // Time to 99 % of the pressure at −5 °C, in the same wall without yield.
        let mut elastic = body.clone();
        elastic.zones[0].wall.strength = None;
        let elastic = night(&elastic, &[start(4.0, 0.0, 0.0)], LONG, 1e-6).unwrap();
        let target = 0.99 * melting::pressure(kelvin(-5.0));
        let t99 = elastic.samples.iter().find(|s| s.zones[0].p >= target).unwrap().time;
        assert!((first.time / t99 - 0.14).abs() < 0.01, "{}", first.time / t99);
        // The plateau, and the work of the wall in the energy.
        let top = run.samples.iter().map(|s| s.zones[0].p - ATM).fold(0.0, f64::max);
        assert_relative_eq!(top, 24.09e6, max_relative = 5e-4);
        let e = run.balance.energy;
        assert!(e.of_which_lasting_j > 1.0 && e.wall_work_j > 0.0);
        assert!(e.sum_j.abs() < 1e-6 * e.heat_out_j, "{e:?}");
    }
}

#[test]
fn ref_no_yield_in_air_warmer_than_the_melting_point_at_first_yield() {
    for (air, yields) in [(-1.50, false), (-1.53, true)] {
        let body = reference(Walls::Bronze, air);
        let run = night(&body, &[start_on(&body, 4.0, 0.0, 0.0)], 1e6, 1e-6).unwrap();
        assert_eq!(run.first(Happening::Yields).is_some(), yields, "{air}");
    }
}

#[test]
fn analytic_rubber_moves_the_ice_and_enough_of_it_freezes_the_zone_through() {
    let mut body = reference(Walls::Elastic, -5.0);
    let none = last(&run(&body, 0.0));
    // 0.5 mL at most: the same pressure, more ice by 0.5 mL over the expansion on freezing at −5 °C (v_i − v_l).
    body.zones[0].wall.rubber = Rubber { slope: 0.01 * ML / PSI, largest: 0.5 * ML };
    let some = last(&run(&body, 0.0));
    let growth = 1.0 / 923.783_367_6 - 1.0 / 1_028.781_695;
    assert_relative_eq!(some.p, none.p, max_relative = 1e-6);
    assert_relative_eq!(some.ice - none.ice, 0.5 * ML / growth, max_relative = 1e-3);
    // 15 mL: all of it freezes below the melting pressure, at the volume balance m v_i = V + rubber.
    body.zones[0].wall.rubber = Rubber { slope: 0.02 * ML / PSI, largest: 15.0 * ML };
    let through = last(&run(&body, 0.0));
    assert_eq!(through.ice, through.mass);
    assert!(through.p < 0.5 * none.p);
    let wall = body.zones[0].wall;
    let ice = poppetry::laws::ice::IceState::new(through.t, through.p);
    assert_relative_eq!(through.mass * ice.volume, wall.volume_at(through.t, through.p), max_relative = 1e-9);
    // Without a largest volume 0.002 mL/psi already freezes through below the melting pressure.
    body.zones[0].wall.rubber = Rubber { slope: 0.002 * ML / PSI, largest: 1.0 };
    let linear = last(&run(&body, 0.0));
    assert_eq!(linear.ice, linear.mass);
}

#[test]
fn balance_mass_volume_and_energy_close() {
    let mut body = reference(Walls::Bronze, -8.0);
    body.zones[0].wall.heat_capacity = 450.0;
    body.zones[0].wall.expansion = 54e-6;
    body.zones[0].wall.rubber = Rubber { slope: 0.004 * ML / PSI, largest: 0.4 * ML };
    body.supercooling = 3.0;
    let run = night(&body, &[start_on(&body, 15.0, 60.0 * PSI, 0.3 * ML)], LONG, 1e-5).unwrap();
    let b = &run.balance;
    assert!((b.water.end_kg / b.water.start_kg - 1.0).abs() < 1e-9, "{:?}", b.water);
    assert!(b.volume.sum_m3.abs() < 1e-6 * b.volume.freezing_m3, "{:?}", b.volume);
    assert!(b.energy.sum_j.abs() < 1e-6 * b.energy.heat_out_j, "{:?}", b.energy);
}

/// The end of the melting curve ends the run, with zone and time; the same air is fine where the wall yields.
#[test]
fn event_the_end_of_the_melting_curve_is_named() {
    let failure = night(&reference(Walls::Rigid, -30.0), &[start(4.0, 0.0, 0.0)], LONG, 1e-5).unwrap_err();
    let words = failure.to_string();
    assert!(words.contains("zone1") && words.contains(" at t = "), "{words}");
    let body = reference(Walls::Bronze, -30.0);
    let z = last(&run(&body, 0.0));
    assert!(z.ice == z.mass && (z.t - kelvin(-30.0)).abs() < 0.1);
}

#[test]
fn order_error_falls_with_the_tolerance() {
    let body = reference(Walls::Elastic, -5.0);
    let ice = |tolerance| {
        let run = night(&body, &[start(4.0, 0.0, 0.0)], 4.0 * 3600.0, tolerance).unwrap();
        last(&run).ice
    };
    let best = ice(1e-9);
    let (coarse, fine) = ((ice(1e-3) - best).abs(), (ice(1e-6) - best).abs());
    assert!(fine < 1e-6 * best && fine < 0.1 * coarse.max(1e-9), "{coarse:e} {fine:e}");
}
