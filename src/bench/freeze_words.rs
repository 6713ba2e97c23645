//! A freeze in words: the finding in one line, then the story.

use super::freeze::Freeze;
use crate::freeze::{Happening, NightEvent, Relief, Scene};
use crate::units::{Kind, System, format};

/// A zone's name as printed.
pub fn zone_name(name: &str) -> String {
    name.replace("zone", "zone ")
}

/// A part's name as printed.
pub fn part_name(name: &str) -> String {
    match name {
        "bonnet" => "the bonnet".to_owned(),
        other => format!("the wall of {}", zone_name(other.trim_end_matches("-wall"))),
    }
}

/// The finding in one sentence.
pub fn freeze_headline(run: &Freeze, scene: &Scene, system: System) -> String {
    let show = |kind, si| format(kind, si, system);
    let ice = run.zones.iter().filter(|z| z.zone != "shutoff-ball").map(|z| z.ice_fraction_max).fold(0.0, f64::max);
    let balls = if run.ball_yields == Some(true) { ", but the balls of the shutoffs yield" } else { "" };
    if ice <= 0.0 {
        return format!("No ice forms: the water stays liquid all night{balls}");
    }
    if let Some(first) = &run.first_yield {
        let verb = if first.part == "bonnet" { "splits" } else { "yields" };
        let night = if run.figures.len() > 1 { format!(" of night {}", first.night) } else { String::new() };
        let why = match &run.relief {
            None => "no relief is fitted",
            Some(r) if scene.body.relief.is_some_and(|x| x.stuck) && r.lifts == 0.0 => "the relief is stuck",
            Some(r) if r.t_plugged_s.is_some_and(|t| t < first.t_s) => "ice had plugged the relief",
            Some(_) => "the relief does not reach that far",
        };
        return format!(
            "{} {verb} at {} after {}{night}: {why}",
            capital(&part_name(&first.part)),
            show(Kind::GaugePressure, first.pa_gauge),
            show(Kind::Time, first.t_s)
        );
    }
    let rests = run.gives_way_at().map_or(String::new(), |(port, share, broken)| {
        format!("; with {port} blocked at {:.0} % ice {} gives way", 100.0 * share, part_name(broken))
    });
    let peak = run.figures.iter().map(|f| f.peak_pa_gauge).fold(f64::NEG_INFINITY, f64::max);
    match &run.relief {
        Some(r) if r.lifts > 0.0 => format!(
            "The relief in {} lifts {} and lets out {}; the zones stay whole, {} at most{balls}{rests}",
            zone_name(&r.place),
            times(r.lifts),
            show(Kind::Volume, r.relieved_m3),
            show(Kind::GaugePressure, peak)
        ),
        _ => match balls {
            "" => format!("Nothing gives way: {} at most{rests}", show(Kind::GaugePressure, peak)),
            _ => format!("The zones stay whole, {} at most{balls}{rests}", show(Kind::GaugePressure, peak)),
        },
    }
}

fn times(lifts: f64) -> String {
    match lifts.round() {
        n if n <= 1.0 => "once".to_owned(),
        n => format!("{n:.0} times"),
    }
}

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}

/// What happens in the first night, in order, one sentence each; what repeats is told once.
pub fn freeze_story(run: &Freeze, scene: &Scene, system: System) -> Vec<String> {
    let Some(first) = run.nights.first() else { return vec![] };
    let show = |kind, si| format(kind, si, system);
    let name = |i: usize| scene.body.zones.get(i).map_or_else(|| "a zone".to_owned(), |z| zone_name(&z.name));
    let mut out = Vec::new();
    if first.open_at_start {
        out.push(
            "The air inlet stands open: the pressure shut in does not hold it. Zone 2 is no closed zone; its ice grows out \
             of the vent, and may hold the inlet open in the morning."
                .to_owned(),
        );
    }
    if first.body.joined_at(&first.starts) {
        out.push(
            "The pressure shut in holds the stem up and the check off its seat: zones 1 and 2 are joined, and water passes \
             both ways."
                .to_owned(),
        );
    }
    let mut told: Vec<(Happening, usize)> = Vec::new();
    for e in &first.night.events {
        let once = matches!(e.what, Happening::ReliefCloses | Happening::CheckCloses | Happening::YieldEnds);
        if once || told.contains(&(e.what, e.zone)) {
            continue;
        }
        told.push((e.what, e.zone));
        let at = format!("At {}", show(Kind::Time, e.time));
        let Some(rest) = sentence(e, run, scene, &name(e.zone), system) else { continue };
        out.push(format!("{at} {rest}"));
    }
    if let (Some(r), Some(relief)) = (&run.relief, scene.body.relief) {
        out.extend(lifts(r, &relief, run, system));
    }
    let frozen = run.zones.iter().filter(|z| z.frozen_through_s.is_some() && z.zone != "shutoff-ball").count();
    let wet = scene.starts.iter().enumerate().filter(|(i, s)| !scene.body.dry_at(*i, s)).count();
    if let (Some(last), true) = (&run.freezes_last, wet > 1) {
        let zone = zone_name(last);
        out.push(match frozen {
            0 => format!("{} holds the least ice in the morning: it freezes last.", capital(&zone)),
            _ => format!("{} freezes last.", capital(&zone)),
        });
    }
    out
}

fn sentence(e: &NightEvent, run: &Freeze, scene: &Scene, zone: &str, system: System) -> Option<String> {
    let show = |kind, si| format(kind, si, system);
    let pressure = show(Kind::GaugePressure, e.gauge);
    let temperature = show(Kind::Temperature, e.t);
    Some(match e.what {
        Happening::IceAppears if scene.body.supercooling > 0.0 => {
            let name = zone.replace(' ', "");
            let pulse = run.pulses.iter().find(|p| p.zone == name);
            let pulse = pulse.map_or(String::new(), |p| {
                format!(
                    ": within {} it makes {} of room too little ({} of growth less the contraction of the water that warms)",
                    show(Kind::Time, p.lasts_s),
                    show(Kind::Volume, p.net_m3),
                    show(Kind::Volume, p.gross_m3)
                )
            });
            format!("the first ice appears in {zone} at {temperature}{pulse}.")
        }
        Happening::IceAppears => format!("the first ice appears in {zone} at {temperature}."),
        Happening::FrozenThrough => format!("{zone} is frozen through, at {pressure} and {temperature}."),
        Happening::Yields => format!(
            "the wall of {zone} yields: {pressure} with {:.1} % of the water frozen, at {temperature}.",
            100.0 * e.ice_share
        ),
        Happening::YieldsThrough => {
            format!("the wall of {zone} has yielded through and grows at {pressure} without rising.")
        }
        Happening::ReliefOpens => format!("the relief in {zone} opens at {pressure}."),
        Happening::ReliefPlugged => {
            format!("ice reaches the relief's port in {zone} ({:.0} % frozen) and plugs it.", 100.0 * e.ice_share)
        }
        Happening::CheckOpens => format!("the check lifts and lets zone 1 into zone 2, zone 1 at {pressure}."),
        Happening::VentOpens => {
            format!("the air inlet opens: {zone} is open to the air from here on and makes no pressure.")
        }
        Happening::BonnetSplits => {
            format!(
                "the bonnet splits at {pressure}: {zone} is open from here on, which spares the body and costs the bonnet."
            )
        }
        _ => return None,
    })
}

fn lifts(r: &super::freeze::ReliefNights, relief: &Relief, run: &Freeze, system: System) -> Option<String> {
    let show = |kind, si| format(kind, si, system);
    if r.lifts <= 0.0 {
        return Some(format!("The relief in {} never opens.", zone_name(&r.place)));
    }
    let nights = if run.figures.len() > 1 { format!(" in {} nights", run.figures.len()) } else { String::new() };
    let shut = match r.closed_again {
        Some(true) => "It is shut in the morning",
        _ => "It stands open in the morning",
    };
    Some(format!(
        "The relief lifts {}{nights} and lets out {} in all, {} a lift. {shut}.",
        times(r.lifts),
        show(Kind::Volume, r.relieved_m3),
        show(Kind::Volume, r.relieved_m3 / r.lifts.max(1.0)),
    ))
    .map(|words| match relief.one_shot {
        true => format!("The relief opens once, for good, and lets out {}.", show(Kind::Volume, r.relieved_m3)),
        false => words,
    })
}
