//! Invented pictures for the tests of charts: shapes typical of the two assemblies, no simulation.

use poppetry::charts::{Lane, Mark, Phase, SequencePicture, Trace};

fn trace(label: &str, values: Vec<f64>) -> Trace {
    Trace { label: label.into(), values }
}

fn lane(part: &str, first_move: f64, spans: &[(f64, f64, Phase)]) -> Lane {
    Lane { part: part.into(), spans: spans.to_vec(), first_move: Some(first_move) }
}

/// Smooth rise from 0 to 1 between two times.
fn ramp(t: f64, from: f64, to: f64) -> f64 {
    let s = ((t - from) / (to - from)).clamp(0.0, 1.0);
    s * s * (3.0 - 2.0 * s)
}

/// A pressure vacuum breaker: the check opens at 0.12 s, water spills, the air inlet closes at 0.31 s with a blow.
pub fn pvb(samples: usize) -> SequencePicture {
    let time: Vec<f64> = (0..samples).map(|i| 3.0 * i as f64 / (samples - 1) as f64).collect();
    let ring = |t: f64, f: f64| {
        let s = t - 0.31;
        if s < 0.0 { 0.0 } else { 190.0 * (-s / 0.16).exp() * (std::f64::consts::TAU * f * s).cos() }
    };
    let settle = |t: f64| 60.0 * ramp(t, 0.29, 0.31);
    let zone1 = |t: f64| if t < 0.31 { 4.0 * ramp(t, 0.05, 0.2) } else { settle(t) + ring(t, 22.0) };
    let zone2 = |t: f64| if t < 0.31 { 2.4 * ramp(t, 0.12, 0.2) } else { settle(t) - 1.2 + 0.9 * ring(t, 22.0) };
    let line = |t: f64| if t < 0.31 { 60.0 - 42.0 * ramp(t, 0.0, 0.1) } else { 60.0 + 0.5 * ring(t, 21.0) };
    let flow = |t: f64| if t < 0.31 { 19.0 * ramp(t, 0.14, 0.2) * (1.0 - ramp(t, 0.285, 0.31)) } else { 0.0 };
    let step = 3.0 / (samples - 1) as f64;
    let mut total = 0.0;
    let volume = time.iter().map(|t| {
        total += flow(*t) * 63.09 * step;
        total
    });
    let volume: Vec<f64> = volume.collect();
    let over = |f: &dyn Fn(f64) -> f64| time.iter().map(|t| f(*t)).collect::<Vec<_>>();
    SequencePicture {
        title: "The check opened first; 153 mL spilled before the air inlet closed, and zone 1 peaked at 250 psi"
            .into(),
        subtitle:
            "Water turned on: shutoff 1 opens in 0.10 s, supply 60 psi, water 15 °C, load side closed, zones empty"
                .into(),
        foot: vec![
            "Assembly pvb-spring, 1 in (invented demo data) · file demo.toml · poppetry 0.1.0 · inputs 3f9a0c71".into(),
            "Caution: computed from a model, not measured. Not a substitute for a field test by a recognised tester."
                .into(),
        ],
        lanes: vec![
            lane("shutoff 1", 0.0, &[(0.0, 0.1, Phase::Moving), (0.1, 3.0, Phase::Open)]),
            lane("check", 0.12, &[(0.0, 0.12, Phase::Sealed), (0.12, 0.2, Phase::Moving), (0.2, 3.0, Phase::Open)]),
            lane(
                "air inlet",
                0.285,
                &[(0.0, 0.285, Phase::Open), (0.285, 0.31, Phase::Moving), (0.31, 3.0, Phase::Sealed)],
            ),
        ],
        pressures: vec![
            trace("zone 1", over(&zone1)),
            trace("zone 2", over(&zone2)),
            trace("supply line", over(&line)),
        ],
        pressure_unit: "psi".into(),
        levels: Vec::new(),
        travels: vec![
            trace("check", over(&|t| 100.0 * ramp(t, 0.12, 0.2) - 80.0 * ramp(t, 0.31, 0.5))),
            trace("air inlet", over(&|t| 100.0 * (1.0 - ramp(t, 0.285, 0.31)))),
        ],
        travel_unit: "% of lift".into(),
        vent_flow: trace("rate", over(&flow)),
        flow_unit: "gpm".into(),
        vent_volume: trace("total", volume),
        volume_unit: "mL".into(),
        marks: vec![
            Mark { time: 0.14, text: "water reaches the air inlet".into() },
            Mark { time: 0.31, text: "air inlet closed".into() },
        ],
        window: (f64::NAN, f64::NAN),
        time,
    }
}

/// A spill-resistant vacuum breaker: the air inlet closes at 0.1000 s, the check opens at 0.1006 s, nothing spills.
pub fn svb(samples: usize, spill: bool) -> SequencePicture {
    let mut picture = pvb(samples);
    let time = picture.time.clone();
    let over = |f: &dyn Fn(f64) -> f64| time.iter().map(|t| f(*t)).collect::<Vec<_>>();
    picture.title = "The air inlet closed 0.6 ms before the check opened; nothing spilled".into();
    if spill {
        picture.title = "The air inlet closed 0.6 ms before the check opened; yet 0.4 mL spilled".into();
    }
    picture.foot[0] =
        "Assembly svb-diaphragm, 1 in (invented demo data) · file demo.toml · poppetry 0.1.0 · inputs 77b10d2e".into();
    picture.lanes = vec![
        lane("shutoff 1", 0.0, &[(0.0, 0.5, Phase::Moving), (0.5, 3.0, Phase::Open)]),
        lane("check", 0.1006, &[(0.0, 0.1006, Phase::Sealed), (0.1006, 0.14, Phase::Moving), (0.14, 3.0, Phase::Open)]),
        lane(
            "air inlet",
            0.0995,
            &[(0.0, 0.0995, Phase::Open), (0.0995, 0.1, Phase::Moving), (0.1, 3.0, Phase::Sealed)],
        ),
    ];
    picture.pressures = vec![
        trace("zone 1", over(&|t| 60.0 * ramp(t, 0.04, 0.6))),
        trace("zone 2", over(&|t| 58.8 * ramp(t, 0.1006, 0.62))),
        trace("supply line", over(&|t| 60.0 - 25.0 * ramp(t, 0.0, 0.1) + 25.0 * ramp(t, 0.1, 0.7))),
    ];
    picture.travels = vec![
        trace("check", over(&|t| 100.0 * ramp(t, 0.1006, 0.14) - 92.0 * ramp(t, 0.2, 0.7))),
        trace("air inlet", over(&|t| 100.0 * (1.0 - ramp(t, 0.0995, 0.1)))),
    ];
    let some = if spill { 1.0 } else { 0.0 };
    picture.vent_flow = trace("rate", over(&|t| some * 0.3 * ramp(t, 0.05, 0.08) * (1.0 - ramp(t, 0.09, 0.1))));
    picture.vent_volume = trace("total", over(&|t| some * 0.4 * ramp(t, 0.05, 0.1)));
    picture.marks = vec![Mark { time: 0.14, text: "check fully open".into() }];
    picture
}
