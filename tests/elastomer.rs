//! The elastomer load: its pocket and slot, its temperature, and a lip that snaps. Size 1 in; hand sums are typed here.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // a test stops where it fails

mod common;

use common::{PSI, first, rig, run};
use poppetry::bench::{Order, Sequence, sequence};
use poppetry::numerics::Options;
use poppetry::parts::{Opening, Stand};
use poppetry::rig::{Part, Rig, Tap, What};
use std::f64::consts::FRAC_PI_4;

/// Atmosphere, Pa (ISO 2533).
const PA: f64 = 101_325.0;

/// Both shutoffs shut, zone 2 at `from` psi, then bled at a crawl through `area` m2: the air inlet is seen to open.
fn bled(assembly: &str, sets: &[&str], from: f64, area: f64, seconds: f64) -> (Rig, Sequence) {
    let end = format!("run.end_time={seconds} s");
    let (p1, p2) = (format!("zone1.initial_pressure={} psi", from + 1.0), format!("zone2.initial_pressure={from} psi"));
    let mut all = vec!["zone2.initial=brimful", &p1, &p2, &end, "shutoff2.open=false"];
    all.extend(sets);
    let mut r = rig(assembly, &all);
    r.shutoff1.opening = Opening::fixed(0.0);
    r.taps.push(Tap { zone: 2, area, opening: Opening::fixed(1.0) });
    let s = sequence(&r, &Options::default()).unwrap();
    (r, s)
}

fn opens_at(s: &Sequence) -> f64 {
    s.events.iter().find(|e| e.part == Part::AirInlet && e.what == What::StartsToOpen).unwrap().gauge[2] / PSI
}

/// Common practice, no source: a missing breathing slot does not delay the first lift, but full opening.
/// Isothermal hand sum: the part stands where `(pa - p) A = F(x)`, `p = pa V0/(V0 + A x)`.
#[test]
fn analytic_a_closed_slot_leaves_the_first_lift_and_holds_the_inlet_part_way() {
    let (area, volume) = (0.20 * 25.4e-3 * 25.4e-3, 1.2e-6);
    // What relaxes and rubs would move the balance; the slot alone is looked at.
    let sets = [
        "air_inlet.pocket_volume=1.2 mL",
        "air_inlet.lip_relaxing_share=0",
        "air_inlet.lip_slow_share=0",
        "air_inlet.friction=0.02 psi",
    ];
    let closed: Vec<&str> = sets.iter().copied().chain(["air_inlet.breathing_area=0 mm2"]).collect();
    let (_, open) = bled("pvb-elastomer", &sets, 5.0, 0.002e-6, 20.0);
    let (r, shut) = bled("pvb-elastomer", &closed, 5.0, 0.002e-6, 20.0);
    assert!((opens_at(&open) - opens_at(&shut)).abs() < 0.02, "{} {}", opens_at(&open), opens_at(&shut));
    let lift = r.inlet.poppet.lift;
    assert_eq!(open.last.air_inlet_travel_m, lift, "with the slot it opens fully");
    let x = shut.last.air_inlet_travel_m;
    assert!(x > 0.2 * lift && x < 0.9 * lift, "held at {:.0} %", 100.0 * x / lift);
    let suction = -shut.last.pocket_pa_gauge;
    let by_hand = PA * (1.0 - volume / (volume + area * x));
    assert!((suction / by_hand - 1.0).abs() < 0.05, "{suction} against {by_hand}");
    let load = r.inlet.poppet.static_force(x, true);
    println!("held at {:.1} % of the lift: suction {:.2} N, load {load:.2} N", 100.0 * x / lift, suction * area);
    assert!((suction * area / load - 1.0).abs() < 0.05, "{} against {load}", suction * area);
}

/// A pinhole lets it finish. By hand: quasi-static, `p(x) = pa - F(x)/A`, air enters isentropically at discharge coefficient
/// 0.61; the time is the integral of dm over the flow.
#[test]
fn analytic_a_pinhole_frees_the_inlet_in_the_time_its_leak_takes() {
    let (area, volume, hole) = (0.20 * 25.4e-3 * 25.4e-3, 1.2e-6, 0.002e-6);
    let sets = [
        "air_inlet.pocket_volume=1.2 mL",
        "air_inlet.lip_relaxing_share=0",
        "air_inlet.lip_slow_share=0",
        "air_inlet.friction=0.001 psi",
        "air_inlet.breathing_area=0.002 mm2",
    ];
    let (r, s) = bled("pvb-elastomer", &sets, 5.0, 0.002e-6, 40.0);
    let start = first(&s, Part::AirInlet, What::StartsToOpen).unwrap();
    let full = first(&s, Part::AirInlet, What::FullyOpen).unwrap();
    let rt: f64 = 287.05 * 288.15;
    let flow = |p: f64| {
        // Published isentropic orifice, choked below 0.5283.
        let ratio = (p / PA).max(0.528_28);
        let psi = (2.0 * 1.4 / 0.4 * (ratio.powf(2.0 / 1.4) - ratio.powf(2.4 / 1.4))).sqrt();
        0.61 * hole * PA / rt.sqrt() * psi
    };
    let pressure = |x: f64| PA - r.inlet.poppet.static_force(x, true) / area;
    let mass = |x: f64| pressure(x) * (volume + area * x) / rt;
    let lift = r.inlet.poppet.lift;
    // It jumps to where the air it has holds it, then follows the leak.
    let steps = 20_000;
    let at = |i: i32| lift * f64::from(i) / f64::from(steps);
    let had = PA * volume / rt;
    let mut seconds = 0.0;
    for i in 0..steps {
        let (m0, m1) = (mass(at(i)), mass(at(i + 1)));
        if m1 > had {
            seconds += (m1 - m0.max(had)) / flow(pressure(0.5 * (at(i) + at(i + 1))));
        }
    }
    println!("freed in {:.2} s, by hand {seconds:.2} s", full - start);
    assert!(((full - start) / seconds - 1.0).abs() < 0.1, "{} against {seconds}", full - start);
}

/// A pocket sealed while open is compressed on closing and pushes: by hand the inlet opens at
/// `(F - R + (p - pa) A) / A_vent` with `p = pa (V0 + A lift)/V0`.
#[test]
fn analytic_a_pocket_sealed_while_open_makes_the_inlet_open_early() {
    let (area, volume, vent) = (0.20 * 25.4e-3 * 25.4e-3, 2.4e-6, FRAC_PI_4 * 25.4e-3 * 25.4e-3);
    let plain =
        ["air_inlet.lip_relaxing_share=0", "air_inlet.lip_slow_share=0", "air_inlet.pocket_compliance=1e-9 mL/psi"];
    let sealed: Vec<&str> = plain
        .iter()
        .copied()
        .chain(["air_inlet.breathing_area=0 mm2", "air_inlet.pocket_initial=atmosphere-open"])
        .collect();
    let (_, usual) = bled("pvb-elastomer", &plain, 8.0, 0.002e-6, 30.0);
    let (r, early) = bled("pvb-elastomer", &sealed, 8.0, 0.002e-6, 30.0);
    let grown = area * 0.22 * 25.4e-3;
    let push = PA * grown / volume * area;
    let expected = opens_at(&usual) + push / vent / PSI;
    assert!((opens_at(&early) - expected).abs() < 0.02, "{} against {expected}", opens_at(&early));
    assert!(opens_at(&early) > opens_at(&usual) + 0.5);
    assert_eq!(r.inlet.poppet.lift, 0.22 * 25.4e-3);
}

/// Common practice, no source: water trapped between the lips makes the load nearly rigid; the inlet does not shut.
#[test]
fn practice_water_in_a_blocked_pocket_keeps_the_inlet_from_shutting() {
    let base = ["supply.pressure=8 psi", "air_inlet.breathing_area=0 mm2", "air_inlet.pocket_initial=atmosphere-open"];
    let dry = run("pvb-elastomer", &["supply.pressure=8 psi"]);
    let wet: Vec<&str> = base.iter().copied().chain(["air_inlet.pocket_water=2.38 mL"]).collect();
    let wet = run("pvb-elastomer", &wet);
    assert_eq!(dry.order, Order::CheckFirst);
    assert_eq!(wet.order, Order::AirInletNeverClosed);
    // It stands off its seat on the water, which carries what zone 2 presses with.
    assert!(wet.last.air_inlet_travel_m > 1e-4 && wet.last.pocket_pa_gauge > 2.0 * PSI);
    assert!(wet.spilling_at_end);
}

/// The load of rubber follows its temperature, a spring's does not. By hand, from the stated law: modulus proportional to
/// absolute temperature times ten to the power of n times the WLF shift (constants 17.44, 51.6 K about the glass
/// transition at -25 degC, n = 0.04).
#[test]
fn analytic_a_hot_day_and_a_cold_morning_move_the_elastomer_and_not_the_spring() {
    let fahrenheit = |f: f64| (f - 32.0) / 1.8 + 273.15;
    let shift = |t: f64| -17.44 * (t - 248.15) / (51.6 + t - 248.15);
    let law = |t: f64| t * 10f64.powf(0.04 * shift(t));
    let (hot, cold) = (fahrenheit(90.0), fahrenheit(35.0));
    let opens = |assembly: &str, day: &str| {
        let sets = [day, "air_inlet.friction=0 psi"];
        let (_, s) = bled(assembly, &sets, 5.0, 0.002e-6, 20.0);
        opens_at(&s)
    };
    let lip = |day: &str| opens("pvb-elastomer", &format!("air_inlet.lip_temperature={day}"));
    let (warm, chilled) = (lip("90 degF"), lip("35 degF"));
    // The weight of 12 g opens as well and does not change.
    let weight = 0.012 * 9.806_65 / (FRAC_PI_4 * 25.4e-3 * 25.4e-3) / PSI;
    let ratio = (chilled - weight) / (warm - weight);
    println!("elastomer opens at {warm:.3} psi on a 90 degF day, {chilled:.3} psi on a 35 degF morning");
    assert!((ratio / (law(cold) / law(hot)) - 1.0).abs() < 0.01, "{ratio} against {}", law(cold) / law(hot));
    assert!(chilled > 1.03 * warm);
    let spring = |day: &str| opens("pvb-spring", &format!("water.temperature={day}"));
    assert!((spring("90 degF") / spring("35 degF") - 1.0).abs() < 0.003);
}

/// A lip that snaps through runs; the stand it is left in is one of the two it has.
#[test]
fn practice_a_measured_curve_that_snaps_is_run_and_warned_of() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("snap.csv");
    std::fs::write(
        &path,
        "travel [mm],force [N],direction\n0,5,opening\n1.5,2.5,opening\n3,3.5,opening\n5.6,4,opening\n0,5.6,closing\n1.5,2.8,closing\n3,4,closing\n5.6,4.4,closing\n",
    )
    .unwrap();
    let r = rig("pvb-elastomer", &[&format!("air_inlet.load_curve={}", path.display())]);
    assert!(r.inlet.poppet.load.snaps());
    let s = sequence(&r, &Options::default()).unwrap();
    assert_eq!(s.order, Order::CheckFirst);
    assert!(s.balance.water.closure() < 1e-9);
    assert!(!rig("pvb-elastomer", &[]).inlet.poppet.load.snaps());
    assert_eq!(s.stands_at_start, [Stand::Sealed, Stand::AtStop]);
}
