//! Why, in words: a run told from the forces at its events.

use super::sequence::{Event, Order, Sequence, Stop};
use crate::parts::Stand;
use crate::rig::{Part, Rig, What};
use crate::units::{Kind, System, format};

/// Events told one by one before the rest is summed up.
const TOLD: usize = 8;
/// Less than this, m3, is no spill: a fifth of a drop.
const A_DROP: f64 = 0.01e-6;
/// Forces smaller than this share of the largest are left out of a sentence.
const SMALL: f64 = 0.01;

/// One line that says what came of it.
pub fn headline(run: &Sequence, system: System) -> String {
    let spill = format(Kind::Volume, run.spill_m3, system);
    match run.order {
        Order::AirInletFirst if run.spill_m3 + run.rebound_spill_m3 < A_DROP => {
            let does = if check_lifts_first(run) { "passes water" } else { "opens" };
            format!("The air inlet shuts before the check {does}: nothing spills")
        }
        Order::AirInletFirst if run.rebound_spill_m3 > run.spill_m3 => format!(
            "The air inlet shuts first, but reopens on the rebound: {} spills",
            format(Kind::Volume, run.rebound_spill_m3 + run.spill_m3, system)
        ),
        Order::AirInletFirst => format!("The air inlet shuts before the check passes water: {spill} spills"),
        Order::CheckFirst => {
            let does = if leaks_first(run) { "leaks" } else { "opens" };
            match run.spill_m3 < A_DROP {
                true => format!("The check {does} first, yet nothing spills"),
                false => format!("The check {does} first: {spill} spills before the air inlet shuts"),
            }
        }
        Order::AirInletNeverClosed if run.spilling_at_end => {
            let rate = format(Kind::VolumeFlow, run.spill_rate_m3_s, system);
            match run.stop {
                Stop::Settled => format!("The air inlet never shuts: water spills at {rate} without end"),
                _ => format!("The air inlet never shuts: water spills without end, at {rate} when the run ended"),
            }
        }
        Order::AirInletNeverClosed => format!("The air inlet never shuts: {spill} spills"),
        Order::CheckNeverOpened => "The check never opens: no water passes".to_owned(),
    }
}

/// Whether the check leaves its seat before the air inlet is shut, however little it passes.
fn check_lifts_first(run: &Sequence) -> bool {
    let first = |part: Part, what: What| run.events.iter().position(|e| e.part == part && e.what == what);
    match (first(Part::Check, What::StartsToOpen), first(Part::AirInlet, What::Closed)) {
        (Some(lifts), Some(shuts)) => lifts < shuts,
        _ => false,
    }
}

/// Whether what passed the check before the air inlet was shut passed it while it stood on its seat.
fn leaks_first(run: &Sequence) -> bool {
    let shut = run.events.iter().find(|e| e.part == Part::AirInlet && e.what == What::Closed);
    let mut before = run.samples.iter().take_while(|s| shut.is_none_or(|e| s.t_s < e.t_s)).peekable();
    before.peek().is_some() && before.all(|s| s.check_travel_m <= 0.0)
}

/// Which zone shuts the air inlet, by construction.
fn closed_by(rig: &Rig) -> &'static str {
    if rig.stem.is_some() {
        return "the stem, which zone 1 lifts by the check's disc";
    }
    match (rig.inlet.zone1_area > 0.0, rig.inlet.zone2_area > 0.0) {
        (true, true) => "zone 1 on the diaphragm, helped by zone 2 on the vent disc",
        (true, false) => "zone 1 on the diaphragm alone",
        (false, true) => "zone 2 under the vent disc, which has pressure only after the check has let water through",
        (false, false) => "no zone at all: no pressure acts on it",
    }
}

/// The forces of one event as a clause, largest first: "pressure 8.2 N opening, load 8.0 N shutting, …".
fn forces_clause(event: &Event, system: System) -> String {
    let f = &event.forces;
    let mut all =
        [("pressure", f.pressure), ("load", f.load), ("friction", f.friction), ("weight", f.weight), ("flow", f.flow)];
    all.sort_by(|a, b| b.1.abs().total_cmp(&a.1.abs()));
    let largest = all[0].1.abs();
    all.iter()
        .filter(|(_, v)| v.abs() > SMALL * largest)
        .map(|(name, v)| {
            let way = if *v > 0.0 { "opening" } else { "shutting" };
            format!("{name} {} {way}", format(Kind::Force, v.abs(), system))
        })
        .collect::<Vec<_>>()
        .join(", ")
}

fn sentence(rig: &Rig, event: &Event, system: System) -> String {
    let gauge = |k: usize| format(Kind::GaugePressure, event.gauge[k], system);
    let at = format!("At {:.4} s", event.t_s);
    let forces = forces_clause(event, system);
    let zone = rig.shutting_zone();
    let name = if zone == 1 { "zone 1" } else { "zone 2" };
    let (seat, pushed) = match rig.stem {
        Some(_) => ("stem seals the vent", "stem"),
        None => ("air inlet meets its seat", "air inlet"),
    };
    match (event.part, event.what) {
        (Part::AirInlet, What::StartsToClose) if event.travel_share < 0.999 => format!(
            "{at} {name} stands at {} again: the air inlet, {:.0} % open, turns back towards its seat.",
            gauge(zone),
            100.0 * event.travel_share
        ),
        (Part::AirInlet, What::StartsToClose) => format!(
            "{at} {name} stands at {} and the push on the {pushed} exceeds its load at the open stop and friction: it \
             leaves its stop ({forces}).",
            gauge(zone)
        ),
        (Part::AirInlet, What::Closed) => {
            format!("{at} the {seat} with {name} at {}: the way out is shut ({forces}).", gauge(zone))
        }
        (Part::AirInlet, What::StartsToOpen) => format!(
            "{at} zone 1 has fallen to {} with zone 2 at {}: load overcomes pressure and friction, the air inlet opens again \
             ({forces}).",
            gauge(1),
            gauge(2)
        ),
        (Part::AirInlet, What::FullyOpen) => format!("{at} the air inlet is back at its open stop."),
        (Part::Relief, What::StartsToOpen) => {
            let zone = rig.relief.as_ref().map_or(2, |r| r.place.zone());
            format!("{at} zone {zone} stands at {}: pressure exceeds the relief's spring, it opens.", gauge(zone))
        }
        (Part::Relief, What::FullyOpen) => format!("{at} the relief is wide open."),
        (Part::Relief, What::StartsToClose) => format!("{at} the relief turns back."),
        (Part::Relief, What::Closed) => format!("{at} the relief is shut again."),
        (_, What::StartsToOpen) if rig.stem.is_some() => format!(
            "{at} zone 1 stands at {} and lifts the stem against the check's spring as well: the check opens ({forces}).",
            gauge(1)
        ),
        (_, What::StartsToOpen) => format!(
            "{at} zone 1 stands {} above zone 2: pressure on the check exceeds its load and friction, the check opens \
             ({forces}).",
            format(Kind::PressureDifference, event.gauge[1] - event.gauge[2], system)
        ),
        (_, What::FullyOpen) => format!("{at} the check reaches its stop."),
        (_, What::StartsToClose) => format!("{at} the check turns back towards its seat ({forces})."),
        (_, What::Closed) => format!(
            "{at} the check is shut again with zone 1 at {} and zone 2 at {}: what stands in zone 2 is trapped.",
            gauge(1),
            gauge(2)
        ),
    }
}

fn margin_sentence(rig: &Rig, run: &Sequence, system: System) -> String {
    let s = &run.statics;
    let lifts = format(Kind::PressureDifference, s.check_lifts_pa, system);
    let by = closed_by(rig);
    if let Some(lap) = s.lap_margin_m {
        let verdict = match lap > 0.0 {
            true => "the vent is sealed by travel before the check can lift, whatever the loads",
            false => "the check lifts before the vent is sealed, as in a pressure type",
        };
        let shut = s.inlet_shut_pa_gauge.map_or(String::new(), |p| {
            format!(" the vent is sealed when zone 1 stands at {} and", format(Kind::GaugePressure, p, system))
        });
        return format!(
            "By the hand sum{shut} the check lifts at {lifts}, with zone 2 at atmosphere. One stem does both: its lap is \
             {}, so {verdict}.",
            format(Kind::Length, lap, system)
        );
    }
    match (s.sequence_margin_pa, s.inlet_shut_pa_gauge) {
        (Some(margin), Some(shut)) => {
            let verdict = if rig.shutting_zone() == 2 && margin <= 0.0 {
                "always negative here: which zone shuts the air inlet decides the order first, the loads only second"
            } else if margin > 0.0 {
                "positive: on a slow opening the vent is shut before any water can reach it; a quick opening may still beat a \
                 small margin"
            } else {
                "negative: the check passes water before the vent is shut, as in a pressure type"
            };
            let zone2 = if rig.shutting_zone() == 1 { ", zone 2 at atmosphere" } else { "" };
            format!(
                "By the hand sum the check lifts at {lifts}; the air inlet, shut by {by}, has shut when zone 1 stands at \
                 {}{zone2}. The sequence margin is {}, {verdict}.",
                format(Kind::GaugePressure, shut, system),
                format(Kind::PressureDifference, margin, system)
            )
        }
        _ => format!("By the hand sum the check lifts at {lifts}; the air inlet is shut by {by}."),
    }
}

fn outcome(run: &Sequence, system: System) -> String {
    let volume = |v: f64| format(Kind::Volume, v, system);
    let spill = match run.order {
        Order::AirInletNeverClosed if run.spilling_at_end => {
            let critical = run.statics.critical_flow_m3_s.map_or(String::new(), |q| {
                format!(
                    "; below {} out of the vent neither pressure nor flow can lift it off its stop",
                    format(Kind::VolumeFlow, q, system)
                )
            });
            format!(
                "{} had spilled when the run ended, and {} goes on leaving{critical}",
                volume(run.spill_m3),
                format(Kind::VolumeFlow, run.spill_rate_m3_s, system)
            )
        }
        _ if run.spill_m3 + run.rebound_spill_m3 < A_DROP => "No water left through the air inlet".to_owned(),
        _ if run.rebound_spill_m3 < A_DROP => format!("{} left through the air inlet", volume(run.spill_m3)),
        _ => format!(
            "{} left through the air inlet until it first shut and {} on the rebound",
            volume(run.spill_m3),
            volume(run.rebound_spill_m3)
        ),
    };
    format!(
        "{spill}. The price in pressure: zone 1 peaked at {} and zone 2 at {}.",
        format(Kind::GaugePressure, run.peak.zone1_pa_gauge, system),
        format(Kind::GaugePressure, run.peak.zone2_pa_gauge, system)
    )
}

/// The chain of sentences: how it stood, what moved by which forces, the hand sum, what came of it.
pub fn story(rig: &Rig, run: &Sequence, system: System) -> Vec<String> {
    let mut all = Vec::new();
    all.push(match run.stands_at_start[1] {
        Stand::Sealed => {
            "At the start the pressure left in the zones holds the air inlet shut; the check is shut.".to_owned()
        }
        _ => "At the start the check is shut and the air inlet stands open, held by its load.".to_owned(),
    });
    all.extend(run.events.iter().take(TOLD).map(|e| sentence(rig, e, system)));
    if run.events.len() > TOLD {
        all.push(format!("{} more events follow as the pressures swing.", run.events.len() - TOLD));
    }
    all.push(margin_sentence(rig, run, system));
    all.push(outcome(run, system));
    all
}
