//! A relief through one night and through many.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // a test stops where it fails

mod freeze;

use approx::assert_relative_eq;
use freeze::*;
use poppetry::freeze::still::liquid_range;
use poppetry::freeze::wall::{Strength, Wall};
use poppetry::freeze::{
    Body, Check, Happening, HeatLoss, Lifts, Night, Refill, Relief, Vent, Weather, ZoneStart, night, nights,
};
use poppetry::laws::cylinder::Cylinder;
use poppetry::laws::melting;

const SET: f64 = 200.0 * PSI;
const LOAD: f64 = 1.5 * PSI;
const LONG: f64 = 60.0 * 3600.0;

fn relief(zone: usize) -> Relief {
    Relief {
        zone,
        set: SET,
        reseat_ratio: 0.8,
        bore: 3e-3,
        discharge: 0.6,
        one_shot: false,
        plugged_at: 0.9,
        stuck: false,
        frozen_drop: 0.0,
    }
}

/// The reference zone, elastic, in air of −5 °C, with a relief.
fn single(lifts: Lifts, plugged_at: f64) -> Body {
    let mut body = reference(Walls::Elastic, -5.0);
    body.relief = Some(Relief { plugged_at, ..relief(0) });
    body.lifts = lifts;
    body
}

/// Zone 1 of 60 mL and zone 2 of 120 mL with the check between; `exposed` multiplies each one's surface.
fn double(exposed: [f64; 2], relief_in: Option<usize>) -> Body {
    let part = |ml: f64, metal: f64| Wall { volume: ml * ML, heat_capacity: metal, ..wall(Walls::Elastic, 4.0) };
    let mut zones = vec![zone("zone1", part(60.0, 150.0)), zone("zone2", part(120.0, 300.0))];
    for (zone, factor) in zones.iter_mut().zip(exposed) {
        zone.area *= factor;
    }
    let mut body = Body::bare(zones, HeatLoss::Fixed(10.0), Weather::steady(kelvin(-10.0), 0.0), ATM);
    body.check = Some(Check { load: LOAD, conductance: 1e-6, plugged_at: 0.95, stem: None });
    body.relief = relief_in.map(relief);
    body.link = 0.05;
    body
}

fn filled() -> [ZoneStart; 2] {
    [start(4.0, 60.0 * PSI, 0.0), start(4.0, 60.0 * PSI - LOAD, 0.0)]
}

/// Pressures (Pa gauge) of both zones over the samples in which a condition on their ice shares holds.
fn pressures(run: &Night, which: impl Fn([f64; 2]) -> bool) -> Vec<[f64; 2]> {
    let share = |s: &poppetry::freeze::NightSample, i: usize| s.zones[i].ice / s.zones[i].mass;
    let kept = run.samples.iter().filter(|s| which([share(s, 0), share(s, 1)]));
    kept.map(|s| [s.zones[0].p - ATM, s.zones[1].p - ATM]).collect()
}

#[test]
fn analytic_relief_in_zone_2_holds_zone_1_at_set_plus_check_load() {
    let run = night(&double([1.0, 1.0], Some(1)), &filled(), LONG, 1e-6).unwrap();
    let held = pressures(&run, |x| x.iter().all(|x| *x > 0.05 && *x < 0.88));
    assert!(held.len() > 3, "{} {:?}", held.len(), run.events);
    for [one, two] in held {
        assert_relative_eq!(two, SET, max_relative = 2e-3);
        assert!((one - (SET + LOAD)).abs() < 0.1 * PSI, "{}", (one - two) / PSI);
    }
}

#[test]
fn analytic_zone_1_climbs_the_melting_line_once_zone_2_is_frozen() {
    // Zone 2 twice as exposed: it is plugged first, and zone 1 is then alone.
    let run = night(&double([0.6, 1.6], Some(1)), &filled(), LONG, 1e-6).unwrap();
    let plugged = run.first(Happening::ReliefPlugged).unwrap().time;
    let through = run.events.iter().find(|e| e.what == Happening::FrozenThrough).unwrap();
    assert_eq!(through.zone, 1);
    let late = run.samples.iter().filter(|s| s.time > through.time && s.zones[0].ice < 0.95 * s.zones[0].mass);
    let mut count = 0;
    for s in late {
        let z = s.zones[0];
        assert_relative_eq!(z.p, melting::pressure(z.t), max_relative = 1e-6);
        assert!(z.p > 2.0 * SET);
        count += 1;
    }
    assert!(count > 5 && plugged < through.time);
}

#[test]
fn analytic_relief_in_zone_1_does_not_guard_zone_2() {
    let run = night(&double([1.0, 1.0], Some(0)), &filled(), LONG, 1e-6).unwrap();
    assert!(run.peak(1, ATM).0 > 10.0 * SET);
    let frozen = pressures(&run, |x| x[0] > 0.05 && x[0] < 0.88);
    assert!(frozen.iter().all(|p| p[0] < 1.01 * SET));
}

/// Plugged by ice at 90 and 95 % and cooled on to −5 °C: about 36.6 and 17.2 MPa in bronze (13.5 Mpsi, no yield), from the
/// volume balance: the water left freezes in what wall and ice give way. The wall that yields stops at its plateau.
#[test]
fn ref_a_plugged_relief_lets_the_rest_freeze_under_pressure() {
    let tube = Cylinder { modulus: 13.5e6 * PSI, ..TUBE };
    for (plugged_at, pressure) in [(0.9, 36.6e6), (0.95, 17.2e6)] {
        let mut body = single(Lifts::Held, plugged_at);
        body.zones[0].wall.compliance = tube.compliance();
        let run = night(&body, &[start(4.0, 0.0, 0.0)], LONG, 1e-6).unwrap();
        let last = run.samples.last().unwrap().zones[0];
        assert_relative_eq!(last.p, pressure, max_relative = 0.01);
        assert_eq!(last.ice, last.mass);
    }
    let mut body = single(Lifts::Held, 0.9);
    body.zones[0].wall = wall(Walls::Bronze, 4.0);
    let run = night(&body, &[start_on(&body, 4.0, 0.0, 0.0)], LONG, 1e-6).unwrap();
    assert_relative_eq!(run.peak(0, ATM).0, 24.09e6, max_relative = 1e-3);
}

/// Lifts: expelled volume over what a lift stores. By hand: water 0.51, ice 0.118, bronze 0.097 /GPa at 150 mL, over a fifth of
/// 200 psi; the share of ice runs evenly from 0 to 0.9, so the mean of 1/stored is ln(s0/s1)/(s0 − s1).
#[test]
fn ref_lift_count_is_expelled_volume_over_stored_volume() {
    let stored = |x: f64| 150e-6 * ((1.0 - x) * 5.09e-10 + x * 1.18e-10 * 1.03 + TUBE.compliance()) * 0.2 * SET;
    let per_volume = (stored(0.0) / stored(0.9)).ln() / (stored(0.0) - stored(0.9));
    for lifts in [Lifts::Held, Lifts::Resolved] {
        let run = night(&single(lifts, 0.9), &[start(4.0, 0.0, 0.0)], LONG, 1e-5).unwrap();
        let by_hand = run.balance.volume.expelled_m3 * per_volume;
        assert!((run.lifts / by_hand - 1.0).abs() < 0.05, "{lifts:?}: {} against {by_hand}", run.lifts);
        assert_eq!(run.lift_times.len(), run.lifts.floor() as usize + usize::from(lifts == Lifts::Held));
        assert!(run.lift_times.windows(2).all(|w| w[0] <= w[1]));
    }
}

/// A drop frozen in the outlet is there at every lift but the first: each then goes from set plus drop down to the reseat and
/// lets out that much more. By hand as above; a drop of 5 mm in 3 mm at 0.1 MPa adds 0.67 MPa.
#[test]
fn bug_a_frozen_drop_makes_lifts_fewer_and_larger() {
    let drop = 4.0 * 0.1e6 * 5e-3 / 3e-3;
    let give = |x: f64| 150e-6 * ((1.0 - x) * 5.09e-10 + x * 1.18e-10 * 1.03 + TUBE.compliance());
    let stored = |x: f64| give(x) * (0.2 * SET + drop);
    let per_volume = (stored(0.0) / stored(0.9)).ln() / (stored(0.0) - stored(0.9));
    for lifts in [Lifts::Held, Lifts::Resolved] {
        let mut body = single(lifts, 0.9);
        body.relief = Some(Relief { frozen_drop: drop, plugged_at: 0.9, ..relief(0) });
        let run = night(&body, &[start(4.0, 0.0, 0.0)], LONG, 1e-5).unwrap();
        let by_hand = run.balance.volume.expelled_m3 * per_volume;
        assert!((run.lifts / by_hand - 1.0).abs() < 0.05, "{lifts:?}: {} against {by_hand}", run.lifts);
    }
}

/// Both zones of a body without relief yield one after the other with the check open between them, 10 kPa apart. Their rates
/// of pressure hung on what the tolerance leaves of that difference: they yielded and stopped without end. Hand sum: both
/// come to `Y/sqrt(3) 2 ln(b/a)` (tube without hardening, text books), 24.1 MPa, and nothing is lost.
#[test]
fn bug_two_zones_that_yield_together_come_to_their_plateau() {
    let plateau = YIELD / 3f64.sqrt() * 2.0 * (TUBE.outer / TUBE.inner).ln();
    for exposed in [[1.0, 1.0], [1.6, 0.7], [0.7, 1.6]] {
        let mut body = double(exposed, None);
        body.supercooling = 5.0;
        for zone in &mut body.zones {
            zone.wall.strength = Some(Strength { tube: TUBE, yield_strength: YIELD });
        }
        let begin = [0, 1].map(|i| ZoneStart { stretch: body.zones[i].wall.fresh(), ..filled()[i] });
        let run = night(&body, &begin, LONG, 1e-5).unwrap();
        for zone in [0, 1] {
            let of = |what| run.events.iter().filter(|e| e.what == what && e.zone == zone).collect::<Vec<_>>();
            let (peak, when) = run.peak(zone, ATM);
            assert_relative_eq!(peak, plateau, max_relative = 1e-4);
            let through = of(Happening::YieldsThrough);
            assert_eq!((of(Happening::Yields).len(), through.len()), (1, 1), "{:?}", run.events);
            // The event has its figures, and the peak is dated when the plateau is first reached, not by rounding.
            assert_relative_eq!(through[0].gauge, plateau, max_relative = 1e-4);
            assert!(when <= through[0].time && when > of(Happening::Yields)[0].time, "{when} {through:?}");
            assert!(through[0].t.is_finite() && run.ice_max(zone) <= 1.0);
        }
        assert!(run.events.iter().all(|e| e.ice_share <= 1.0 && e.gauge.is_finite()), "{:?}", run.events);
        let b = &run.balance;
        assert!((b.water.end_kg / b.water.start_kg - 1.0).abs() < 1e-9, "{:?}", b.water);
        assert!(b.energy.sum_j.abs() < 1e-6 * b.energy.heat_out_j, "{:?}", b.energy);
    }
}

/// A stem that zone 2 holds up (its pressure counts for lifting, at par here) leaves the check off its seat: both zones have
/// one pressure, and a relief in zone 1 guards zone 2 as well. With zone 2 open to the air the check is a check again and keeps zone 1 at about its
/// load.
#[test]
fn analytic_a_stem_that_stands_joins_the_zones() {
    let joined = |split: Option<f64>| {
        let mut body = double([0.6, 1.6], Some(0));
        body.check = Some(Check { load: LOAD, conductance: 1e-6, plugged_at: 0.95, stem: Some(1.0) });
        body.zones[1].bonnet = split;
        let begin = [start(4.0, 60.0 * PSI, 0.0), start(4.0, 60.0 * PSI, 0.0)];
        night(&body, &begin, LONG, 1e-6).unwrap()
    };
    let held = pressures(&joined(None), |x| x[1] > 0.05 && x.iter().all(|x| *x < 0.88));
    assert!(held.len() > 3);
    for [one, two] in held {
        assert_relative_eq!(one, SET, max_relative = 2e-3);
        assert!((one - two).abs() < 0.1 * PSI, "{}", (one - two) / PSI);
    }
    let run = joined(Some(150.0 * PSI));
    let split = run.first(Happening::BonnetSplits).unwrap().time;
    let after = run.samples.iter().filter(|s| s.time > split + 60.0 && s.zones[0].ice == 0.0);
    let (mut count, mut least) = (0, f64::INFINITY);
    for s in after {
        (count, least) = (count + 1, f64::min(least, s.zones[0].p - ATM));
    }
    assert!(count > 0 && least > 0.5 * LOAD, "{count} {}", least / PSI);
}

/// Shut in at 15 °C and warmed to 35 °C, all liquid. By hand: water grows by 999.10/994.03 − 1 = 5.10e-3 (handbooks), the metal
/// by 3 · 18e-6 · 20 K = 1.08e-3; what is left meets water of 4.5e-10/Pa (handbooks, 25 to 35 °C) and walls of 1e-10 and
/// 1e-9/Pa. Zones joined share one pressure: Δp = ΣV δ / ΣV (κ + C). Zone 1 passes what is too much for it into a softer zone 2
/// through the check; a softer zone 1 gets nothing from zone 2, unless a stem stands.
#[test]
fn bug_zones_that_warm_share_their_pressure_through_the_check() {
    let (kappa, stiff, soft, over) = (4.5e-10, 1e-10, 1e-9, 5.10e-3 - 1.08e-3);
    let highest = |walls: [f64; 2], stem: Option<f64>| {
        let mut body = double([1.0, 1.0], None);
        body.check = Some(Check { load: LOAD, conductance: 1e-6, plugged_at: 0.95, stem });
        for (zone, c) in body.zones.iter_mut().zip(walls) {
            zone.wall = Wall { compliance: c, expansion: 54e-6, reference: kelvin(15.0), ..zone.wall };
        }
        let begin = [start(15.0, 60.0 * PSI, 0.0), start(15.0, 60.0 * PSI - LOAD, 0.0)];
        liquid_range(&body, &begin, kelvin(35.0)).1 - 60.0 * PSI
    };
    let alone = |c: f64| over / (kappa + c);
    let shared = |one: f64, two: f64| over * 180.0 / (60.0 * (kappa + one) + 120.0 * (kappa + two));
    assert_relative_eq!(highest([stiff, soft], None), shared(stiff, soft), max_relative = 0.03);
    assert_relative_eq!(highest([soft, stiff], None), alone(stiff), max_relative = 0.03);
    assert_relative_eq!(highest([soft, stiff], Some(1.0)), shared(soft, stiff), max_relative = 0.03);
}

#[test]
fn balance_closes_with_zones_check_and_relief() {
    for lifts in [Lifts::Held, Lifts::Resolved] {
        let mut body = double([1.2, 1.0], Some(1));
        body.lifts = lifts;
        body.supercooling = 3.0;
        let run = night(&body, &filled(), 12.0 * 3600.0, 1e-5).unwrap();
        let b = &run.balance;
        assert!(((b.water.end_kg + b.water.out_kg) / b.water.start_kg - 1.0).abs() < 1e-9, "{:?}", b.water);
        assert!((b.volume.sum_m3 / b.volume.expelled_m3 - 1.0).abs() < 1e-6, "{:?}", b.volume);
        assert!((b.volume.orifice_m3 / b.volume.expelled_m3 - 1.0).abs() < 1e-3, "{:?}", b.volume);
        assert!(b.energy.sum_j.abs() < 1e-6 * b.energy.heat_out_j, "{:?}", b.energy);
    }
}

/// 150 mL in 0.03 m² at 10 W/(m² K) and −10 °C: 32 g/h of ice, 2.9 mL/h, through in 4.6 h (hand sum of the trade's notes).
#[test]
fn practice_the_slow_rate_is_a_few_millilitres_an_hour() {
    let mut body = single(Lifts::Held, 0.99);
    body.zones[0].area = 0.03;
    body.weather = Weather::steady(kelvin(-10.0), 0.0);
    let run = night(&body, &[start(0.05, 190.0 * PSI, 0.0)], LONG, 1e-6).unwrap();
    let at = |t: f64| run.samples.iter().min_by(|a, b| (a.time - t).abs().total_cmp(&(b.time - t).abs())).unwrap();
    let (a, b) = (at(1800.0), at(9000.0));
    let hours = (b.time - a.time) / 3600.0;
    assert_relative_eq!((b.zones[0].ice - a.zones[0].ice) / hours, 0.032, max_relative = 0.03);
    assert_relative_eq!((b.relieved[1] - a.relieved[1]) / hours, 2.9 * ML, max_relative = 0.03);
    // The water that is left freezes, not all 150 g: by 8 % sooner.
    let through = run.first(Happening::FrozenThrough).unwrap().time / 3600.0;
    assert_relative_eq!(through, 4.6 * 0.92, max_relative = 0.05);
}

#[test]
fn event_one_shot_stays_open_stuck_never_opens_and_a_frozen_drop_raises_the_opening() {
    let with = |change: &dyn Fn(&mut Relief)| {
        let mut body = single(Lifts::Held, 0.9);
        change(body.relief.as_mut().unwrap());
        night(&body, &[start(4.0, 0.0, 0.0)], 4.0 * 3600.0, 1e-5).unwrap()
    };
    let once = with(&|r| r.one_shot = true);
    assert!(once.events.iter().filter(|e| e.what == Happening::ReliefOpens).count() == 1);
    assert!(once.samples.last().unwrap().zones[0].p - ATM < 0.01 * SET);
    let stuck = with(&|r| r.stuck = true);
    assert!(stuck.first(Happening::ReliefOpens).is_none() && stuck.peak(0, ATM).0 > 3.0 * SET);
    // 4 τ L/d of a 5 mm drop in a 3 mm outlet at 0.1 MPa: 0.67 MPa on top, from the second lift on.
    let drop = 4.0 * 0.1e6 * 5e-3 / 3e-3;
    let mut body = single(Lifts::Resolved, 0.9);
    body.relief = Some(Relief { frozen_drop: drop, ..relief(0) });
    let run = night(&body, &[start(4.0, 0.0, 0.0)], 2.0 * 3600.0, 1e-5).unwrap();
    let opens: Vec<f64> = run.events.iter().filter(|e| e.what == Happening::ReliefOpens).map(|e| e.gauge).collect();
    assert_relative_eq!(opens[0], SET, max_relative = 1e-4);
    assert_relative_eq!(opens[1], SET + drop, max_relative = 1e-4);
}

/// While a relief that pops is open the ice was held as it is. One that opens once and stays open held it all night: water
/// stayed liquid in any cold. By hand, in air of -5 degC at h A = 10 W/(m2 K) x 0.0298 m2: 150 g cool from 4 degC within
/// m c/(h A) ln(9/5) = 1,248 s, then what is not pushed out (the ratio of the specific volumes, 1.0002/1.0909 of it) freezes
/// within m L/(h A 5 K) = 30,780 s.
#[test]
fn bug_a_one_shot_relief_does_not_keep_water_from_freezing() {
    for lifts in [Lifts::Held, Lifts::Resolved] {
        let mut body = single(lifts, 1.0);
        body.relief = Some(Relief { one_shot: true, plugged_at: 1.0, ..relief(0) });
        let run = night(&body, &[start(4.0, 0.0, 0.0)], LONG, 1e-5).unwrap();
        let through = run.first(Happening::FrozenThrough).unwrap().time;
        assert!((through / 32_028.0 - 1.0).abs() < 0.02, "{lifts:?}: {through}");
    }
}

/// A single zone under an air inlet that opens at 1 psi.
fn breathing(reseats: bool) -> Body {
    let mut body = single(Lifts::Held, 0.995);
    body.vent = Some(Vent { zone: 0, area: [5e-4, 0.0], holding: 5e-4 * PSI, reseats });
    body
}

#[test]
fn ref_nights_in_a_row_with_a_tight_shutoff_expel_less_each_night() {
    let all = nights(&breathing(true), &[start(4.0, 60.0 * PSI, 0.0)], LONG, 4, Refill::Tight, 0.0, 1e-6).unwrap();
    let out: Vec<f64> = all.iter().map(|n| n.night.balance.volume.expelled_m3).collect();
    assert!(out.windows(2).all(|w| w[1] < w[0]), "{out:?}");
    // The air that came in for what had left is compressed from one atmosphere to the set.
    assert_relative_eq!(out[1] / out[0], ATM / (SET + ATM), max_relative = 0.1);
    let air = all[1].air_at_start[0];
    // An inlet that stays open leaves nothing closed on the second night.
    let open = nights(&breathing(false), &[start(4.0, 60.0 * PSI, 0.0)], LONG, 2, Refill::Tight, 0.0, 1e-6).unwrap();
    assert!(open[1].open_at_start && open[1].night.balance.volume.expelled_m3 == 0.0);
    assert!((air / out[0] - 1.0).abs() < 0.03, "{} {}", air / ML, out[0] / ML);
}

#[test]
fn analytic_a_weeping_shutoff_makes_every_night_the_first_unless_air_stays() {
    let run = |refill| {
        let all = nights(&breathing(true), &[start(4.0, 60.0 * PSI, 0.0)], LONG, 3, refill, 0.0, 1e-6).unwrap();
        all.iter().map(|n| n.night.balance.volume.expelled_m3).collect::<Vec<_>>()
    };
    let purged = run(Refill::Purged);
    assert!(purged.iter().all(|v| (v / purged[0] - 1.0).abs() < 0.01), "{purged:?}");
    let kept = run(Refill::AirKept);
    assert!(kept[1] < 0.99 * kept[0], "{kept:?}");
    // By the balance: the pocket, 12.5 mL at one atmosphere, shrinks from 74.7 to 214.7 psia before the relief opens, and water
    // fills what 74.7 psia leave of it: (V − V_a) 0.083 less what the pocket still takes up.
    let pocket = |psia: f64| kept[0] * 14.696 / psia;
    let by_hand = (150e-6 - pocket(74.7)) * (kept[0] / 150e-6) - (pocket(74.7) - pocket(214.7));
    assert!((kept[1] / by_hand - 1.0).abs() < 0.05, "{} {}", kept[1] / ML, by_hand / ML);
}

#[test]
fn event_an_inlet_that_stands_open_leaves_no_closed_zone() {
    let all = nights(&breathing(false), &[start(4.0, 0.5 * PSI, 0.0)], LONG, 1, Refill::Tight, 0.0, 1e-6).unwrap();
    assert!(all[0].open_at_start);
    assert!(all[0].night.first(Happening::VentOpens).is_some());
    assert!(all[0].night.peak(0, ATM).0 < 0.6 * PSI);
    assert!(all[0].night.balance.volume.expelled_m3 == 0.0);
}
