//! The finding in words.

use super::run::{DRY, STILL};
use super::{By, Decides, FoulLimit, Outcome, Scene, Siphon};
use crate::rig::Rig;
use crate::units::{Kind, System, format};

struct Words {
    system: System,
}

impl Words {
    fn show(&self, kind: Kind, si: f64) -> String {
        format(kind, si, self.system)
    }
    fn length(&self, m: f64) -> String {
        self.show(Kind::Length, m)
    }
    fn volume(&self, m3: f64) -> String {
        if m3 < DRY { "no water".to_owned() } else { self.show(Kind::Volume, m3) }
    }
    fn gauge(&self, pa: f64) -> String {
        self.show(Kind::GaugePressure, pa)
    }
}

/// One sentence.
pub fn siphon_headline(assembly: &str, run: &Siphon, system: System) -> String {
    let w = Words { system };
    if run.scene == Scene::Backpressure {
        let flow = run.asked.reverse_flow_m3_s;
        return match flow * 1e9 > 1.0 {
            true => format!(
                "{assembly} does not protect against backpressure: {} flow back through the check{}",
                w.show(Kind::VolumeFlow, flow),
                match (run.asked.chatter, run.asked.inlet_shut_at_end) {
                    (Some(_), _) => ", which opens and shuts without end",
                    (None, true) => " while the air inlet is held shut",
                    (None, false) => "",
                }
            ),
            false => format!(
                "{assembly} lets nothing back, on its check alone: against backpressure the air inlet does nothing, and a \
                 fouled check would not be noticed"
            ),
        };
    }
    let rise = run.outcome(Scene::VacuumTest).and_then(|o| o.rise);
    let back = run.outcome(Scene::Service).map_or(f64::NAN, |o| o.load_water_back_m3);
    let figures = format!("{}, and in service {}", risen(rise.map(|r| r.max_m), run, &w), came_back(back, &w));
    let fails = |scene| run.outcome(scene).and_then(|o| o.protects(run.rise_limit_m)) == Some(false);
    match run.protects {
        Some(true) => format!("{assembly} protects: {figures}"),
        Some(false) => {
            let only = match (fails(Scene::VacuumTest), fails(Scene::Service)) {
                (true, false) => " in the vacuum test",
                (false, true) => " in service",
                _ => "",
            };
            format!("{assembly} does not protect{only}: {figures}")
        }
        None => format!("Whether {assembly} protects cannot be said, for not all came to rest: {figures}"),
    }
}

fn risen(max: Option<f64>, run: &Siphon, w: &Words) -> String {
    let rise = max.map_or("-".to_owned(), |m| w.length(m.max(0.0)));
    format!("water rises {rise} in the tube (limit {})", w.length(run.rise_limit_m))
}

fn came_back(load_water: f64, w: &Words) -> String {
    format!("{} of the load side's comes back", w.volume(load_water))
}

/// One sentence about the scene asked for alone.
pub fn scene_headline(assembly: &str, run: &Siphon, system: System) -> String {
    let w = Words { system };
    match run.scene {
        Scene::VacuumTest => {
            format!("{assembly} in the vacuum test: {}", risen(run.asked.rise.map(|r| r.max_m), run, &w))
        }
        Scene::Service => format!("{assembly} in service: {}", came_back(run.asked.load_water_back_m3, &w)),
        Scene::Backpressure => siphon_headline(assembly, run, system),
    }
}

/// Who protected in a scene, in words.
fn by(o: &Outcome, limit: f64) -> String {
    let scene = if o.scene == Scene::VacuumTest { "In the vacuum test" } else { "In service" };
    let words = match (o.protects(limit), o.by(limit), o.scene) {
        (None, ..) => "nobody can say who protects: it had not come to rest when the run ended.",
        (_, Some(By::Check), _) => {
            "the check alone protected: once shut it let nothing pass, and the air inlet stayed shut."
        }
        (_, Some(By::Both), _) => {
            "check and air inlet both protected: once shut the check let nothing pass, and the air inlet stood open besides."
        }
        (_, Some(By::AirInlet), _) => {
            "the air inlet protected: the check let something pass, and air took the water's place."
        }
        (_, None, Scene::VacuumTest) => {
            "nothing protected: what passed the check was more than the air inlet made up for, and the water rose higher than \
             the assembly stands above its outlet."
        }
        (_, None, _) => {
            "nothing protected: more of the load side's water came back than its own pressure gives off, so the rest was drawn."
        }
    };
    format!("{scene} {words}")
}

/// What there was before the supply fell.
fn before(o: &Outcome, w: &Words) -> Option<String> {
    let first = o.first()?;
    let stand = format!("zone 1 at {} and zone 2 at {}", w.gauge(first.zone1_pa_gauge), w.gauge(first.zone2_pa_gauge));
    let flow = match o.flow_before() {
        Some(q) => format!("{} flow steadily", w.show(Kind::VolumeFlow, q)),
        None => "nothing is drawn".to_owned(),
    };
    Some(format!("Until the supply begins to fall at 0 s, {flow}, with {stand}."))
}

/// When and why the air inlet opened, or did not.
fn inlet(o: &Outcome, w: &Words) -> String {
    let rig = &o.rig;
    let opens = o.statics.inlet_opens_pa_gauge.map_or("-".to_owned(), |p| w.gauge(p));
    match o.t_air_inlet_opens_s {
        Some(0.0) => match o.first().map_or(0.0, |p| p.vent_water_m3_s) {
            spills if spills > STILL => format!(
                "The air inlet stands open in use already, and {} run out of it: the flow leaves too little pressure in zone 2.",
                w.show(Kind::VolumeFlow, spills)
            ),
            _ => "The air inlet stands open from the start: nothing presses it shut.".to_owned(),
        },
        Some(t) => format!(
            "The air inlet starts to open at {} with zone 1 at {} (on its own it opens at {opens} in zone {}).",
            w.show(Kind::Time, t),
            o.zone1_at_opening_pa_gauge.map_or("-".to_owned(), |p| w.gauge(p)),
            rig.shutting_zone()
        ),
        None if rig.starts_stuck => "The air inlet is stuck on its seat and never opens.".to_owned(),
        None if rig.shutting_zone() == 2 => format!(
            "The air inlet stays shut: it opens only when zone 2 is down to {opens}, and pressure is trapped there behind the \
             tight check ({} at the end). That is no fault: the check protects.",
            o.last().map_or("-".to_owned(), |p| w.gauge(p.zone2_pa_gauge))
        ),
        None => format!(
            "The air inlet stays shut though zone 1 is gone: the pressure trapped in zone 2 ({} at the end) holds it by its share \
             of the vent's area. With no such share, or zone 2 drained, it opens with zone 1.",
            o.last().map_or("-".to_owned(), |p| w.gauge(p.zone2_pa_gauge))
        ),
    }
}

/// What came back.
fn back(o: &Outcome, w: &Words) -> String {
    let mut words = match o.water_back_m3 < DRY {
        true => "No water went back through the check".to_owned(),
        false => {
            format!(
                "{} went back through the check, {} of it from the load side",
                w.volume(o.water_back_m3),
                w.volume(o.load_water_back_m3)
            )
        }
    };
    if !o.rig.traces_load_water {
        words = words.replace(&format!(", {} of it from the load side", w.volume(o.load_water_back_m3)), "");
    } else if o.load_water_back_m3 >= DRY {
        let verdict = if o.draws_load_water() { "more" } else { "no more" };
        let own = w.volume(o.load_water_given_off_m3);
        words.push_str(&format!(" ({verdict} than the {own} that its own pressure gives off)"));
    }
    words.push_str(&format!(
        "; {} ran back into the supply, {} left the air inlet, and it let in {} of air.",
        w.volume(o.supply_back_m3),
        w.volume(o.spit_m3),
        w.show(Kind::Mass, o.air_admitted_kg)
    ));
    words
}

fn rise(run: &Siphon, o: &Outcome, w: &Words) -> Option<String> {
    let r = o.rise?;
    let against = |limit: f64| if r.max_m <= limit { "under" } else { "over" };
    let mut words = format!(
        "In the tube the water comes to rest {} above the pan and reaches {} on the way: {} the {} of the installation's height, \
         {} the {} of a test.",
        w.length(r.at_rest_m.max(0.0)),
        w.length(r.max_m.max(0.0)),
        against(run.rise_limit_m),
        w.length(run.rise_limit_m),
        against(run.test_limit_m),
        w.length(run.test_limit_m)
    );
    if r.overflows {
        words.push_str(" It ran over the top of the tube into the assembly.");
    }
    let barometric = (o.rig.fluid.ambient - o.rig.fluid.vapour_pressure)
        / (o.rig.fluid.density * crate::laws::constants::STANDARD_GRAVITY);
    if r.max_m > barometric {
        words.push_str(" The swing passes what a column at rest could be: the water below is still moving.");
    }
    Some(words)
}

fn limits(found: &[FoulLimit], rig: &Rig, w: &Words) -> Vec<String> {
    let here = rig.check.foul_area;
    found
        .iter()
        .filter(|l| l.limit_m > 0.0)
        .map(|l| {
            let (decides, area) = match l.decides {
                Decides::AtRest => ("the level at rest", l.at_rest_m2),
                Decides::Sudden => ("the swing of a sudden vacuum", l.sudden_m2),
            };
            format!(
                "For a rise of {} the check may be held open by {} at rest ({:.4} of the vent, both times their coefficients) and by \
                 {} under a vacuum within 0.1 s: {decides} decides, {} (here {}).",
                w.length(l.limit_m),
                w.show(Kind::Area, l.at_rest_m2),
                l.ratio_at_rest,
                w.show(Kind::Area, l.sudden_m2),
                w.show(Kind::Area, area),
                w.show(Kind::Area, here)
            )
        })
        .collect()
}

/// What happens and why.
pub fn siphon_story(run: &Siphon, found: &[FoulLimit], system: System) -> Vec<String> {
    let w = Words { system };
    let mut all = Vec::new();
    if run.scene == Scene::Backpressure {
        return backpressure(run, &w);
    }
    for o in [Some(&run.asked), run.other.as_ref()].into_iter().flatten() {
        let name = match o.scene {
            Scene::VacuumTest => "Vacuum test",
            _ => "Service",
        };
        all.push(by(o, run.rise_limit_m));
        let before = before(o, &w).filter(|_| o.scene == Scene::Service).map_or_else(String::new, |b| b + " ");
        all.push(format!("{name}. {before}{}", inlet(o, &w)));
        all.extend(rise(run, o, &w));
        all.push(back(o, &w));
        if !o.settled && o.protects(run.rise_limit_m).is_some() {
            all.push("It had not come to rest when the run ended.".to_owned());
        }
    }
    all.extend(limits(found, &run.asked.rig, &w));
    all.push(
        "A wider vent never makes the rise higher. The water back and the water out of the air inlet need not fall with it: a \
         wider vent lets zone 2 empty sooner through a foul, and a poppet that opens sooner lets more out before air comes in. \
         The lowest pressure in zone 2 is no measure of protection."
            .to_owned(),
    );
    all
}

fn backpressure(run: &Siphon, w: &Words) -> Vec<String> {
    let o = &run.asked;
    let s = &o.statics;
    let shut = match (o.chatter, o.inlet_shut_at_end) {
        (Some(chatter), _) => format!(
            "Check and air inlet open and shut, a round in {}: the check lets more back than the load side brings, zone 2 falls \
             and it shuts; the line's water, left without it, comes back and opens it again. What comes while it is shut \
             leaves under the canopy ({} by the end).",
            w.show(Kind::Time, chatter.round_s),
            w.volume(o.spit_m3)
        ),
        (None, true) => {
            "The air inlet is held shut by zone 2: it cannot tell pressure from the load side from pressure of the supply."
                .to_owned()
        }
        (None, false) => "The air inlet is open: what comes from the load side leaves under the canopy.".to_owned(),
    };
    let back = w.show(Kind::VolumeFlow, o.reverse_flow_m3_s);
    let gone = format!("{} have gone back by the end.", w.volume(o.water_back_m3));
    let flow = match (o.reverse_flow_m3_s * 1e9 > 1.0, o.chatter, o.last()) {
        (false, ..) => "A tight check lets nothing back.".to_owned(),
        (true, Some(_), _) => format!("{back} flow back through the check on the mean of the last rounds; {gone}"),
        (true, None, Some(p)) if p.check_travel_m > 0.0 => {
            let holds = if o.rig.stem.is_some() { ": the stem that shuts the air inlet holds it up" } else { "" };
            format!(
                "{back} flow back through the check, which stands {} open{holds}; {gone}",
                w.length(p.check_travel_m)
            )
        }
        (true, None, last) => format!(
            "{back} flow back through the check's foul, as through an orifice of {} under {}; {gone}",
            w.show(Kind::Area, o.rig.check.foul_area + o.rig.check.leak_area),
            last.map_or("-".to_owned(), |p| w.show(Kind::PressureDifference, p.zone2_pa_gauge - p.zone1_pa_gauge)),
        ),
    };
    let readings = format!(
        "A field test would not show it: the check still settles at {} and the air inlet still opens at {}.",
        w.show(Kind::PressureDifference, s.check_settles_pa),
        s.inlet_opens_pa_gauge.map_or("-".to_owned(), |p| w.gauge(p))
    );
    vec![
        shut,
        flow,
        readings,
        "What the assembly cannot do: it breaks a siphon, it does not stop a pump. Where pumps, tanks, chemical injection or \
         outlets above it can press back, another kind of protection belongs there."
            .to_owned(),
    ]
}
