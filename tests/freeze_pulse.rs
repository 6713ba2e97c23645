//! The pulse of ice after supercooling, and what a relief does to it.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // a test stops where it fails

mod freeze;

use freeze::*;
use poppetry::freeze::{Body, Happening, Lifts, Night, Relief, Weather, night};

const SET: f64 = 200.0 * PSI;

fn relief(bore_mm: f64) -> Relief {
    Relief {
        zone: 0,
        set: SET,
        reseat_ratio: 0.8,
        bore: 1e-3 * bore_mm,
        discharge: 0.6,
        one_shot: false,
        plugged_at: 0.9,
        stuck: false,
        frozen_drop: 0.0,
    }
}

/// Water 5 K below its melting point at 200 psi, about to freeze over `release` s, in air as cold as itself.
fn pulse(bore_mm: f64, release: f64, lifts: Lifts) -> (Body, Night) {
    let mut body = reference(Walls::Elastic, -5.1);
    body.supercooling = 5.0;
    body.release_time = release;
    body.relief = Some(relief(bore_mm));
    body.lifts = lifts;
    let t = poppetry::laws::melting::temperature(SET + ATM) - 5.0 - 1e-3 - 273.15;
    body.weather = Weather::steady(kelvin(t), 0.0);
    // A hair below the set, so that the relief is shut before the first ice.
    let run = night(&body, &[start(t, SET * (1.0 - 1e-6), 0.0)], 20.0 * release, 1e-6).unwrap();
    (body, run)
}

/// What the pulse does by a hand model: ice at an even rate, the mixture warms without heat given off, its growth either
/// leaves through the orifice or is stored in water and wall. With `stop` it ends where the mixture has come to the melting
/// point of the pressure it has itself made; without, all the ice of the first instant's melting point is formed.
fn hand_peak(bore_mm: f64, stop: bool) -> f64 {
    use poppetry::laws::{ice::IceState, melting, water::WaterState};
    let p0 = SET + ATM;
    let start = melting::temperature(p0) - 5.0;
    let (cold, warm) = (WaterState::liquid(start, p0), WaterState::liquid(start + 5.0, p0));
    let frozen = (warm.enthalpy - cold.enthalpy) / (warm.enthalpy - IceState::new(start + 5.0, p0).enthalpy);
    let mass = 150e-6 * (1.0 + TUBE.compliance() * SET) * cold.density;
    let volume = |x: f64| {
        let t = start + 5.0 * x / frozen;
        mass * ((1.0 - x) / WaterState::liquid(t, p0).density + x * IceState::new(t, p0).volume)
    };
    let (mut p, mut peak, steps) = (p0, p0, 4000);
    for i in 0..steps {
        let x = frozen * f64::from(i) / f64::from(steps);
        let t = start + 5.0 * x / frozen;
        if stop && t >= melting::temperature(p) {
            break;
        }
        let water = WaterState::liquid(t, p0);
        let dt = 1.0 / f64::from(steps);
        let area = std::f64::consts::FRAC_PI_4 * (1e-3 * bore_mm).powi(2);
        let out = 0.6 * area * (2.0 * (p - ATM) / water.density).sqrt() * dt;
        let stored = 150e-6 * ((1.0 - x) / water.isothermal_bulk_modulus + x * 1.18e-10 + TUBE.compliance());
        p += (volume(x + frozen * dt) - volume(x) - out) / stored;
        peak = f64::max(peak, p);
    }
    (peak - ATM) / PSI
}

/// Bores of half a millimetre and more hold the set within 3 %.
#[test]
fn ref_bores_from_half_a_millimetre_hold_the_set() {
    for lifts in [Lifts::Held, Lifts::Resolved] {
        for bore in [0.5, 1.0, 3.0] {
            let peak = pulse(bore, 1.0, lifts).1.peak(0, ATM).0;
            assert!(peak >= 0.999 * SET && peak <= 1.03 * SET, "{bore} mm: {} psi", peak / PSI);
        }
    }
}

/// Gross 0.85 mL (5 K: 6 % of 150 mL grows by 9 %), net less, because the water contracts as it warms to its melting point.
#[test]
fn ref_gross_and_net_volume_and_the_critical_bore() {
    let run = pulse(3.0, 1.0, Lifts::Held).1;
    let v = run.balance.volume;
    assert!((v.freezing_m3 / ML - 0.866).abs() < 0.01, "{v:?}");
    assert!(v.liquid_thermal_m3 < -0.07 * ML);
    let over = run.first(Happening::PulseOver).unwrap();
    // Published ice fraction of 5 K at one atmosphere, 0.06345 (bank, topic 2, 1 %); here at 200 psi.
    assert!((over.ice_share / 0.063_45 - 1.0).abs() < 1e-2, "{over:?}");
    assert!((over.time - 1.0).abs() < 5e-3);
    let net = v.expelled_m3 / over.time;
    let critical = Relief::critical_bore(net, SET, 0.6, 999.9);
    assert!((critical / 0.178e-3 - 1.0).abs() < 0.02, "{critical}");
    // At the critical bore the pressure stays by the set, a fifth below it does not.
    assert!(pulse(0.178, 1.0, Lifts::Resolved).1.peak(0, ATM).0 < 1.06 * SET);
    assert!(pulse(0.142, 1.0, Lifts::Resolved).1.peak(0, ATM).0 > 1.5 * SET);
    // Ten times as fast: the bore grows by √10.
    let fast = pulse(3.0, 0.1, Lifts::Held).1;
    let critical = Relief::critical_bore(fast.balance.volume.expelled_m3 / 0.1, SET, 0.6, 999.9);
    assert!((critical / (0.178e-3 * 10f64.sqrt()) - 1.0).abs() < 0.02, "{critical}");
}

/// 378 psi at 0.15 mm (5 % of what lies above the set). At 0.1 mm a model that forms all the ice of the first instant gives
/// 844 psi; but 600 psi lower the melting point by 0.3 K, so the mixture is at equilibrium after 0.94 s, with 6 % less ice, and
/// the pressure turns at 811 psi. Both by the hand model above; the program must follow the second.
#[test]
fn ref_small_bores_let_the_pressure_rise() {
    for lifts in [Lifts::Held, Lifts::Resolved] {
        let peak = |bore| pulse(bore, 1.0, lifts).1.peak(0, ATM).0 / PSI;
        assert!((peak(0.15) - 378.0).abs() < 0.05 * 178.0, "{}", peak(0.15));
        for bore in [0.15, 0.1] {
            let hand = hand_peak(bore, true);
            assert!((peak(bore) - hand).abs() < 0.05 * (hand - 200.0), "{bore}: {} against {hand}", peak(bore));
        }
    }
    println!("{} {} {} {}", hand_peak(0.15, false), hand_peak(0.15, true), hand_peak(0.1, false), hand_peak(0.1, true));
    assert!((hand_peak(0.1, false) - 844.0).abs() < 0.05 * 644.0);
}

/// The metal is as cold as the water and adds to the first ice: 450 J/K beside 632 J/K of water.
#[test]
fn analytic_metal_adds_ice_to_the_pulse() {
    let ice = |metal: f64| {
        let mut body = reference(Walls::Elastic, -6.0);
        body.zones[0].wall.heat_capacity = metal;
        body.supercooling = 5.0;
        body.relief = Some(relief(3.0));
        let run = night(&body, &[start(-5.05, SET * 0.999_999, 0.0)], 3000.0, 1e-6).unwrap();
        run.first(Happening::PulseOver).unwrap().ice_share
    };
    let water = 0.149_9 * 4217.0;
    assert!((ice(450.0) / ice(0.0) - (1.0 + 450.0 / water)).abs() < 0.03);
}

#[test]
fn balance_closes_through_a_pulse_with_lifts() {
    for lifts in [Lifts::Held, Lifts::Resolved] {
        let b = pulse(1.0, 1.0, lifts).1.balance;
        assert!(((b.water.end_kg + b.water.out_kg) / b.water.start_kg - 1.0).abs() < 1e-9);
        assert!((b.volume.sum_m3 - b.volume.expelled_m3).abs() < 1e-6 * b.volume.expelled_m3);
        assert!((b.volume.orifice_m3 / b.volume.expelled_m3 - 1.0).abs() < 1e-3);
        assert!(b.energy.sum_j.abs() < 1e-6 * b.energy.contents_j.abs(), "{:?}", b.energy);
    }
}

/// Ice was formed at the pulse's own pace, whatever heat left: where that was slow, water with ice in it went on cooling far
/// below the melting curve and the night stopped. Ice grows the faster the colder the water (dendrites by about the square of
/// the supercooling, Langer & Müller-Krumbhaar, from memory), so it never is colder than at the first ice; and what has
/// frozen when the pulse is over is, by hand, the warming of the water (4.25 kJ/(kg K), 2 K) and the heat given off until
/// then over 333 kJ/kg.
#[test]
fn bug_water_with_ice_in_it_does_not_go_on_cooling() {
    for (air, release) in [(-40.0, 300.0), (-20.0, 300.0), (-40.0, 1.0)] {
        let mut body = reference(Walls::Bronze, air);
        body.loss = poppetry::freeze::HeatLoss::Fixed(40.0);
        body.supercooling = 2.0;
        body.release_time = release;
        // Air enough that the pressure stays low.
        let run = night(&body, &[start(4.0, 0.0, 20.0 * ML)], 4.0 * 3600.0, 1e-6).unwrap();
        let (first, over) = (run.first(Happening::IceAppears).unwrap(), run.first(Happening::PulseOver).unwrap());
        let pulse = run.samples.iter().filter(|s| s.time > first.time && s.time < over.time);
        let coldest = pulse.map(|s| s.zones[0].t).fold(f64::INFINITY, f64::min);
        assert!(coldest > first.t - 0.01, "{air} {release}: {coldest} {}", first.t);
        assert!((over.time - first.time) / release < 1.2, "{air} {release}: {}", over.time - first.time);
        let at = |t: f64| run.samples.iter().find(|s| s.time >= t).unwrap();
        let heat = at(over.time).heat_out - at(first.time).heat_out;
        let mass = run.samples[0].zones[0].mass;
        let hand = (heat / mass + 4250.0 * (over.t - first.t)) / 333e3;
        assert!((over.ice_share / hand - 1.0).abs() < 0.02, "{air} {release}: {} {hand}", over.ice_share);
    }
}
