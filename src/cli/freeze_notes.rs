//! What a reader of `freeze` should know beside its figures.

use super::frame::Notice;
use crate::bench::Freeze;
use crate::freeze::{Happening, Scene};
use crate::units::{Kind, System, format};

/// The notes, each with its stable id.
pub(super) fn notices(found: &Freeze, scene: &Scene, system: System) -> Vec<Notice> {
    let show = |kind, si| format(kind, si, system);
    let mut all: Vec<Notice> = Vec::new();
    let mut say = |id, words: String| all.push((id, words));
    if found.figures.iter().any(|f| f.inlet_open) {
        let first = found.figures.iter().find(|f| f.inlet_open).map_or(1, |f| f.night);
        say(
            "air-inlet-open",
            format!(
                "on night {first} the air inlet stands open, so there is no closed zone 2 (--set \
                 night.inlet_stays_shut=true takes it as shut)"
            ),
        );
    }
    if let Some(r) = found.relief.as_ref().filter(|r| r.lifts > 0.0) {
        let words = "the relief has lifted: inspect or replace it, and have the assembly retested, before it goes back \
                     into service";
        say("inspect-or-replace-and-retest", words.to_owned());
        if let (true, Some(t)) = (r.plugged, r.t_plugged_s) {
            let words = format!(
                "ice plugs the relief after {}; what is still liquid then freezes under pressure",
                show(Kind::Time, t)
            );
            say("relief-plugged", words);
        }
    }
    if found.first_yield.is_some() {
        let words = "a part has given way: in use it would leak or break; the figures after that moment are those of a body \
                     that still holds";
        say("part-gives-way", words.to_owned());
    }
    if found.ball_yields == Some(true) {
        let words = "the water shut in in the balls of both shutoffs is guarded by no relief, and a ball yields too: leave \
                     the handles half open (body.ball_volume=0 mL) once the body is drained";
        say("ball-cavities-unguarded", words.to_owned());
    }
    for b in &found.blocking {
        say(b.id(), b.words(found, system));
    }
    if let Some(end) = found.ball.as_ref().and_then(|b| b.first(Happening::LeavesRange)) {
        let words = format!(
            "the water in the balls of both shutoffs comes to {}, the most that freezing makes (ice III then takes over): it \
             is followed no further",
            show(Kind::GaugePressure, end.gauge)
        );
        say("ball-at-the-end-of-the-melting-curve", words);
    }
    if scene.body.weather.coldest() < 273.15 && found.zones.iter().all(|z| z.ice_fraction_max == 0.0) {
        let words = "the air is below freezing but the water does not reach its freezing point, or stays supercooled: a \
                     knock may start it";
        say("supercooled", words.to_owned());
    }
    all
}
