//! The finding in words.

use super::scene::{Surge, SurgeScene, slam};
use super::trapped_excess;
use crate::rig::Part;
use crate::units::{Kind, System, format};

/// One sentence.
pub fn surge_headline(assembly: &str, run: &Surge, system: System) -> String {
    let gauge = |pa: f64| format(Kind::GaugePressure, pa, system);
    let peaks = run.peaks();
    let act = match run.scene {
        SurgeScene::Fill => format!("{assembly}, shutoff 1 thrown open"),
        SurgeScene::DownstreamValve => format!("{assembly}, a valve beyond it slams"),
        SurgeScene::Pipe => "A valve slams at the end of the bare line".to_owned(),
    };
    let zones = match (peaks.zone1, peaks.zone2) {
        (Some(a), Some(b)) => format!(", zone 1 at {}, zone 2 at {}", gauge(a), gauge(b)),
        _ => String::new(),
    };
    let rough = if run.converged { "" } else { ", not converged" };
    format!("{act}: the line peaks at {}{zones} (gauge{rough})", gauge(peaks.line))
}

/// What happens and why.
pub fn surge_story(run: &Surge, system: System) -> Vec<String> {
    let show = |kind: Kind, si: f64| format(kind, si, system);
    let mut all = Vec::new();
    if let Some((case, pipe)) = &run.bare {
        let period = 2.0 * case.line.length / case.line.wave_speed;
        let joukowsky = run.density * case.line.wave_speed * case.velocity;
        let share = if case.closing_time > period { period / case.closing_time } else { 1.0 };
        all.push(format!(
            "A wave takes {} to the main and back. Stopping {} at once raises the pressure by {} (density times wave speed times \
             velocity); the valve takes {}, and the rise is {}.",
            show(Kind::Time, period),
            show(Kind::Velocity, case.velocity),
            show(Kind::PressureDifference, joukowsky),
            show(Kind::Time, case.closing_time),
            show(Kind::PressureDifference, pipe.peak.1 - pipe.before.0)
        ));
        if share < 1.0 {
            all.push(format!(
                "Closing more slowly than a wave's return helps: a flow that falls in a straight line would give {:.0} % of \
                 that.",
                100.0 * share
            ));
        }
    }
    if let Some(r) = &run.coupled {
        let excess = trapped_excess(r);
        if run.scene == SurgeScene::Fill {
            let words = match (slam(r, Part::AirInlet), excess > 0.0) {
                (None, _) => "The air inlet never shuts.".to_owned(),
                (Some(v), true) => format!(
                    "The air inlet shuts on a moving column at {}; the check keeps what the column's blow put in: zone 2 is left {} \
                     above what supply less check load gives. Bleed it before opening the body.",
                    show(Kind::Velocity, v),
                    show(Kind::PressureDifference, excess)
                ),
                (Some(v), false) => format!(
                    "The air inlet shuts at {}; nothing above the supply stays trapped.",
                    show(Kind::Velocity, v)
                ),
            };
            all.push(words);
        } else {
            let words = match slam(r, Part::Check) {
                Some(v) => format!("The check slams at {} as the column swings back.", show(Kind::Velocity, v)),
                None => "The check does not shut.".to_owned(),
            };
            all.push(words);
        }
        if r.rig.relief.is_some() {
            all.push(match r.relieved_m3 > 1e-9 {
                true => format!("The relief lifts and weeps {}.", show(Kind::Volume, r.relieved_m3)),
                false => "The relief stays shut.".to_owned(),
            });
        }
        if r.spill_m3 > 1e-8 {
            all.push(format!("{} leave the air inlet.", show(Kind::Volume, r.spill_m3)));
        }
    }
    if let Some(s) = run.column_separation() {
        all.push(format!(
            "At {} the column parts {}: cavities of water vapour grow to {}. When they close the column strikes itself; peaks after \
             that depend on the number of cells and are {}.",
            show(Kind::Time, s.t_s),
            s.place(&show(Kind::Length, s.from_main_m)),
            show(Kind::Volume, s.largest_m3),
            if run.converged { "lower than those before" } else { "not converged" }
        ));
    }
    all.push(
        "The line's friction is the steady one: the first peak is right, later swings die down faster in a real pipe."
            .to_owned(),
    );
    all
}
