//! Nights below freezing: what pressure, how much ice, what the relief does, what yields first.

use super::freeze_blocking::Blocking;
use crate::freeze::night::SAME;
use crate::freeze::{Happening, Night, NightEvent, OneNight, Relief, ReliefMode, Scene, as_far_as_it_goes, nights};
use crate::numerics::Failure;
use serde::Serialize;

/// Lifts shown one by one in the document at most.
const MOST_LIFTS: usize = 2_000;

/// What one zone went through, over all nights.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ZoneNights {
    /// "zone1", "zone2" or "shutoff-ball".
    pub zone: String,
    /// Highest pressure, Pa gauge.
    pub peak_pa_gauge: f64,
    /// When, s from the start of its night.
    pub t_peak_s: f64,
    /// Which night, from 1.
    pub night: usize,
    /// Largest share of ice.
    pub ice_fraction_max: f64,
    /// When the last of its water froze in the first night, s; `None` if some stayed liquid.
    pub frozen_through_s: Option<f64>,
}

/// First part to give way.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FirstYield {
    /// "bonnet", "zone1-wall" or "zone2-wall".
    pub part: String,
    /// Time in its night, s.
    pub t_s: f64,
    /// Night, from 1.
    pub night: usize,
    /// Pressure there, Pa gauge.
    pub pa_gauge: f64,
    /// Share of ice in that zone.
    pub ice_fraction: f64,
    /// Temperature of that zone, K.
    pub t_k: f64,
}

/// What the relief did, over all nights.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ReliefNights {
    /// Where it stands.
    pub place: String,
    /// Lifts.
    pub lifts: f64,
    /// Water let out, m³.
    pub relieved_m3: f64,
    /// Whether it was shut at the end of every night (`None` if it never opened).
    pub closed_again: Option<bool>,
    /// Whether ice blocked it.
    pub plugged: bool,
    /// When ice first blocked it, s into its night.
    pub t_plugged_s: Option<f64>,
    /// Times of the first night's lifts, s (at most 2,000).
    pub lift_times_s: Vec<f64>,
}

/// The pulse of the first ice.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Pulse {
    /// Zone.
    pub zone: String,
    /// When it begins, s.
    pub t_s: f64,
    /// How long it lasts, s.
    pub lasts_s: f64,
    /// Growth of what freezes, m³.
    pub gross_m3: f64,
    /// The same less the contraction of the water that warms, m³.
    pub net_m3: f64,
    /// Bore whose flow at the set is the net rate, m; `None` without a relief.
    pub critical_bore_m: Option<f64>,
}

/// One of many nights in figures.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NightFigures {
    /// From 1.
    pub night: usize,
    /// Air in each zone at the start, m³ at ambient pressure.
    pub air_at_start_m3: Vec<f64>,
    /// Whether the air inlet stood open at the start: then zone 2 is not closed.
    pub inlet_open: bool,
    /// Water let out by the relief, m³.
    pub relieved_m3: f64,
    /// Lifts.
    pub lifts: f64,
    /// Highest pressure in any zone, Pa gauge.
    pub peak_pa_gauge: f64,
    /// Lasting growth of each zone at the end, m³.
    pub lasting_m3: Vec<f64>,
}

/// All that is seen.
#[derive(Debug, Clone)]
pub struct Freeze {
    /// The nights themselves.
    pub nights: Vec<OneNight>,
    /// The ball of a shutoff on the first night.
    pub ball: Option<Night>,
    /// Zones.
    pub zones: Vec<ZoneNights>,
    /// First part to give way; the balls are told apart.
    pub first_yield: Option<FirstYield>,
    /// Relief; `None` if none is fitted.
    pub relief: Option<ReliefNights>,
    /// Pulses of the first night.
    pub pulses: Vec<Pulse>,
    /// Night by night.
    pub figures: Vec<NightFigures>,
    /// Zone that freezes last on the first night, if any freezes through.
    pub freezes_last: Option<String>,
    /// Whether the balls yield (`None` where they hold no water).
    pub ball_yields: Option<bool>,
    /// On which estimates of where ice blocks a port it rests; empty until [`super::blocking`] has looked.
    pub blocking: Vec<Blocking>,
}

/// Runs the nights of a scene.
///
/// # Errors
/// [`Failure`] of the first night that cannot be completed.
pub fn freeze(scene: &Scene, tolerance: f64) -> Result<Freeze, Failure> {
    let all = nights(&scene.body, &scene.starts, scene.duration, scene.count, scene.refill, scene.drift, tolerance)?;
    let ball = match &scene.ball {
        // It has no part in the rest, so what a wall too strong for ice Ih makes of it does not end the study.
        Some((body, start)) => Some(as_far_as_it_goes(body, std::slice::from_ref(start), scene.duration, tolerance)?),
        None => None,
    };
    Ok(seen(scene, all, ball))
}

fn seen(scene: &Scene, all: Vec<OneNight>, ball: Option<Night>) -> Freeze {
    let ambient = scene.body.ambient;
    let name = |i: usize| scene.body.zones.get(i).map_or_else(String::new, |z| z.name.clone());
    let first = all.first().map(|n| &n.night);
    let through = |n: Option<&Night>, i: usize| {
        n.and_then(|n| n.events.iter().find(|e| e.what == Happening::FrozenThrough && e.zone == i)).map(|e| e.time)
    };
    let mut zones: Vec<ZoneNights> = (0..scene.body.zones.len())
        .map(|i| {
            let peaks: Vec<(f64, f64)> = all.iter().map(|n| n.night.peak(i, ambient)).collect();
            let peak_pa_gauge = peaks.iter().map(|p| p.0).fold(f64::NEG_INFINITY, f64::max);
            // The first of nights that come to the same plateau.
            let peaked = peaks.iter().position(|p| p.0 >= peak_pa_gauge - SAME * peak_pa_gauge.abs()).unwrap_or(0);
            let (night, t_peak_s) = (peaked + 1, peaks.get(peaked).map_or(0.0, |p| p.1));
            let ice_fraction_max = all.iter().map(|n| n.night.ice_max(i)).fold(0.0, f64::max);
            ZoneNights {
                zone: name(i),
                peak_pa_gauge,
                t_peak_s,
                night,
                ice_fraction_max,
                frozen_through_s: through(first, i),
            }
        })
        .collect();
    let wet = |i: usize| scene.starts.get(i).is_some_and(|s| !scene.body.dry_at(i, s));
    let last = zones.iter().enumerate().filter(|(i, _)| wet(*i)).map(|(_, z)| z).max_by(|a, b| {
        let t = |z: &ZoneNights| z.frozen_through_s.unwrap_or(f64::INFINITY);
        t(a).total_cmp(&t(b)).then(b.ice_fraction_max.total_cmp(&a.ice_fraction_max))
    });
    let freezes_last = last.filter(|_| zones.iter().any(|z| z.ice_fraction_max > 0.0)).map(|z| z.zone.clone());
    if let Some(ball) = &ball {
        let (peak_pa_gauge, t_peak_s) = ball.peak(0, ambient);
        zones.push(ZoneNights {
            zone: "shutoff-ball".to_owned(),
            peak_pa_gauge,
            t_peak_s,
            night: 1,
            ice_fraction_max: ball.ice_max(0),
            frozen_through_s: through(Some(ball), 0),
        });
    }
    let gives = |e: &&NightEvent| matches!(e.what, Happening::Yields | Happening::BonnetSplits);
    let first_yield = all.iter().enumerate().find_map(|(k, n)| {
        let e = n.night.events.iter().find(gives)?;
        let part = match e.what {
            Happening::BonnetSplits => "bonnet".to_owned(),
            _ => format!("{}-wall", name(e.zone)),
        };
        let (t_s, night, pa_gauge) = (e.time, k + 1, e.gauge);
        Some(FirstYield { part, t_s, night, pa_gauge, ice_fraction: e.ice_share, t_k: e.t })
    });
    let figures: Vec<NightFigures> = all
        .iter()
        .enumerate()
        .map(|(k, n)| NightFigures {
            night: k + 1,
            air_at_start_m3: n.air_at_start.clone(),
            inlet_open: n.open_at_start,
            relieved_m3: n.night.balance.volume.orifice_m3,
            lifts: n.night.lifts,
            peak_pa_gauge: (0..scene.body.zones.len())
                .map(|i| n.night.peak(i, ambient).0)
                .fold(f64::NEG_INFINITY, f64::max),
            lasting_m3: n
                .night
                .samples
                .last()
                .map_or(vec![], |s| s.zones.iter().map(|z| if z.open { 0.0 } else { z.lasting }).collect()),
        })
        .collect();
    Freeze {
        relief: scene.body.relief.map(|r| relief(&r, &name(r.zone), &all)),
        pulses: first.map_or(vec![], |n| pulses(scene, n)),
        first_yield,
        figures,
        freezes_last,
        ball_yields: ball.as_ref().map(|b| b.first(Happening::Yields).is_some()),
        blocking: Vec::new(),
        zones,
        nights: all,
        ball,
    }
}

fn relief(fitted: &Relief, place: &str, all: &[OneNight]) -> ReliefNights {
    let count = |n: &Night, what: Happening| n.events.iter().filter(|e| e.what == what).count();
    let opened = all.iter().any(|n| count(&n.night, Happening::ReliefOpens) > 0);
    // A held relief passes nothing below its set.
    let shut = all.iter().all(|n| match n.night.end.0.relief {
        ReliefMode::Shut | ReliefMode::Plugged => true,
        ReliefMode::Open => n
            .night
            .samples
            .last()
            .and_then(|s| s.zones.get(fitted.zone))
            .is_some_and(|z| z.p - n.body.ambient <= n.night.end.0.opens_at),
        _ => false,
    });
    let t_plugged_s = all.iter().find_map(|n| n.night.first(Happening::ReliefPlugged)).map(|e| e.time);
    ReliefNights {
        place: place.to_owned(),
        // A one-shot relief opens once, whatever it lets out.
        lifts: match fitted.one_shot {
            true => all.iter().map(|n| count(&n.night, Happening::ReliefOpens) as f64).sum(),
            false => all.iter().map(|n| n.night.lifts).sum(),
        },
        relieved_m3: all.iter().map(|n| n.night.balance.volume.orifice_m3).sum(),
        closed_again: opened.then_some(shut),
        plugged: t_plugged_s.is_some(),
        t_plugged_s,
        lift_times_s: all.first().map_or(vec![], |n| n.night.lift_times.iter().copied().take(MOST_LIFTS).collect()),
    }
}

/// Gross and net growth of each pulse, from the zone's own ice and warming.
fn pulses(scene: &Scene, night: &Night) -> Vec<Pulse> {
    let mut all = Vec::new();
    for begin in night.events.iter().filter(|e| e.what == Happening::IceAppears) {
        let over = night
            .events
            .iter()
            .find(|e| e.what == Happening::PulseOver && e.zone == begin.zone && e.time >= begin.time);
        let (Some(over), Some(zone)) = (over, scene.body.zones.get(begin.zone)) else { continue };
        let at = |t: f64| {
            let k = night.samples.partition_point(|s| s.time < t);
            night.samples.get(k).and_then(|s| s.zones.get(begin.zone))
        };
        let (Some(a), Some(b)) = (at(begin.time), at(over.time)) else { continue };
        let gross_m3 = b.ice * (b.v[1][0] - b.v[0][0]);
        let warming = (b.mass - b.ice) * (b.v[0][0] - a.v[0][0]);
        let (net_m3, lasts_s) = (gross_m3 + warming, over.time - begin.time);
        let critical =
            |r: Relief| Relief::critical_bore(net_m3.max(0.0) / lasts_s, r.set, r.discharge, 1.0 / b.v[0][0]);
        let critical_bore_m = scene.body.relief.filter(|r| r.zone == begin.zone).map(critical);
        all.push(Pulse { zone: zone.name.clone(), t_s: begin.time, lasts_s, gross_m3, net_m3, critical_bore_m });
    }
    all
}
