//! How far a night rests on where ice is taken to block a port: the same night with the ends of that estimate.

use super::freeze::{Freeze, freeze};
use super::freeze_words::{part_name, zone_name};
use crate::freeze::Scene;
use crate::units::{Kind, System, format};
use rayon::prelude::*;
use serde::Serialize;

/// Ends of the share of ice at which a port may be blocked (estimate: one at the wall early, one in the middle last).
pub const BLOCKED: [f64; 2] = [0.5, 1.0];
/// Share by which a peak must move to be told.
const MOVES: f64 = 0.05;

/// Highest pressure of a zone.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ZonePeak {
    /// "zone1" or "zone2".
    pub zone: String,
    /// Pa gauge.
    pub peak_pa_gauge: f64,
}

/// The night with a port blocked at another share of ice.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BlockedAt {
    /// Share of ice.
    pub ice_fraction: f64,
    /// Zones.
    pub zones: Vec<ZonePeak>,
    /// First part to give way, as in the document's `first_yield`; `None` if none does.
    pub gives_way: Option<String>,
}

/// A field that decides where ice blocks a port, and what the night comes to at both ends of it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Blocking {
    /// "check.plugged_at" or "relief.plugged_at".
    pub field: &'static str,
    /// Its value in the run itself.
    pub ice_fraction: f64,
    /// The same night at the ends of [`BLOCKED`]; an end that could not be computed is missing.
    pub ends: Vec<BlockedAt>,
}

const FIELDS: [&str; 2] = ["check.plugged_at", "relief.plugged_at"];

/// Looks at the ends of each field on which the night rests; empty where none moves a peak or what gives way.
pub fn blocking(scene: &Scene, found: &Freeze, tolerance: f64) -> Vec<Blocking> {
    let given = [scene.body.check.map(|c| c.plugged_at), scene.body.relief.filter(|r| !r.stuck).map(|r| r.plugged_at)];
    let most = peaks(found).map(|z| z.ice_fraction_max).fold(0.0, f64::max);
    let fields = FIELDS.into_iter().zip(given).filter_map(|(field, share)| Some((field, share?)));
    fields
        .filter(|(_, share)| most >= share.min(BLOCKED[0]))
        .filter_map(|(field, share)| {
            let ends: Vec<BlockedAt> = BLOCKED.par_iter().filter_map(|end| at(scene, field, *end, tolerance)).collect();
            ends.iter().any(|end| differs(end, found)).then_some(Blocking { field, ice_fraction: share, ends })
        })
        .collect()
}

fn peaks(found: &Freeze) -> impl Iterator<Item = &super::ZoneNights> {
    found.zones.iter().filter(|z| z.zone != "shutoff-ball")
}

fn at(scene: &Scene, field: &str, share: f64, tolerance: f64) -> Option<BlockedAt> {
    let mut other = scene.clone();
    other.ball = None;
    match (field, &mut other.body.check, &mut other.body.relief) {
        ("check.plugged_at", Some(check), _) => check.plugged_at = share,
        (_, _, Some(relief)) => relief.plugged_at = share,
        _ => {}
    }
    let found = freeze(&other, tolerance).ok()?;
    Some(BlockedAt { ice_fraction: share, zones: zone_peaks(&found), gives_way: found.first_yield.map(|f| f.part) })
}

/// Peaks of the zones, the balls left out.
pub(super) fn zone_peaks(found: &Freeze) -> Vec<ZonePeak> {
    peaks(found).map(|z| ZonePeak { zone: z.zone.clone(), peak_pa_gauge: z.peak_pa_gauge }).collect()
}

fn moves(a: f64, b: f64) -> bool {
    !((a - b).abs() <= MOVES * a.abs().max(b.abs()))
}

fn differs(end: &BlockedAt, found: &Freeze) -> bool {
    end.gives_way.as_ref() != found.first_yield.as_ref().map(|f| &f.part)
        || end.zones.iter().zip(peaks(found)).any(|(a, b)| moves(a.peak_pa_gauge, b.peak_pa_gauge))
}

impl Blocking {
    /// What the port is.
    fn port(&self) -> &'static str {
        if self.field == FIELDS[0] { "the check" } else { "the relief's port" }
    }

    /// Id of the warning; it stays the same.
    pub fn id(&self) -> &'static str {
        if self.field == FIELDS[0] { "rests-on-check-plugged-at" } else { "rests-on-relief-plugged-at" }
    }

    /// The finding in one sentence without its stop.
    pub fn words(&self, found: &Freeze, system: System) -> String {
        let moved = |name: &str| {
            let at = |end: &BlockedAt| end.zones.iter().find(|z| z.zone == name).map_or(f64::NAN, |z| z.peak_pa_gauge);
            peaks(found).any(|z| z.zone == name && self.ends.iter().any(|e| moves(at(e), z.peak_pa_gauge)))
        };
        let ends: Vec<String> = self
            .ends
            .iter()
            .map(|end| {
                let mut all: Vec<String> = end
                    .zones
                    .iter()
                    .filter(|z| moved(&z.zone))
                    .map(|z| {
                        format!(
                            "{} comes to {}",
                            zone_name(&z.zone),
                            format(Kind::GaugePressure, z.peak_pa_gauge, system)
                        )
                    })
                    .collect();
                all.push(match &end.gives_way {
                    Some(p) => format!("{} gives way first", part_name(p)),
                    None => "nothing gives way".to_owned(),
                });
                format!("at {:.0} % {}", 100.0 * end.ice_fraction, all.join(" and "))
            })
            .collect();
        format!(
            "this night rests on where ice blocks {}, taken as {:.0} % ({}, hard to know): {}",
            self.port(),
            100.0 * self.ice_fraction,
            self.field,
            ends.join("; ")
        )
    }
}

impl Freeze {
    /// Lowest and highest peak of a zone, Pa gauge, over the run and the ends of where ice blocks a port; `None` if they are
    /// as good as one.
    pub fn peak_range(&self, zone: &str) -> Option<(f64, f64)> {
        let own = peaks(self).find(|z| z.zone == zone)?.peak_pa_gauge;
        let ends = self.blocking.iter().flat_map(|b| &b.ends).flat_map(|e| &e.zones).filter(|z| z.zone == zone);
        let (low, high) = ends.fold((own, own), |(l, h), z| (l.min(z.peak_pa_gauge), h.max(z.peak_pa_gauge)));
        moves(low, high).then_some((low, high))
    }

    /// A part that gives way at an end of where ice blocks a port though none does in the run itself, with field and share.
    pub fn gives_way_at(&self) -> Option<(&'static str, f64, &str)> {
        let ends = self.blocking.iter().flat_map(|b| b.ends.iter().map(move |e| (b, e)));
        let mut broken = ends.filter_map(|(b, e)| Some((b.port(), e.ice_fraction, e.gives_way.as_deref()?)));
        broken.next().filter(|_| self.first_yield.is_none())
    }
}
