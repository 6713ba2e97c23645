//! What ends each mode of a night: guards that are positive while it is valid.

use super::MOST_ZONES;
use super::body::{Body, DROP, Lifts};
use super::equations::is_open;
use super::modes::{Mode, ReliefMode};
use super::wall::Stretch;
use super::zone::{Phase, Point};
use crate::laws::constants::AIR_GAS_CONSTANT;
use crate::laws::melting;

/// A condition that ends a mode.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Guard {
    Nucleates(usize),
    PulseOver(usize),
    Melts(usize),
    FreezesThrough(usize),
    Thaws(usize),
    Yields(usize),
    YieldsThrough(usize),
    Unloads(usize),
    TooCold(usize),
    TooHigh(usize),
    Splits(usize),
    ReliefOpens,
    ReliefCloses,
    ReliefPlugs,
    CheckOpens,
    CheckPlugs,
    VentOpens,
}

/// Pressure, Pa, by which ice or liquid must have passed the melting curve before the other phase appears: 0.2 mK. Less than
/// that is the rounding with which the other phase has just gone.
const HAIR: f64 = 2e3;

/// Share of the water by which ice must have passed it all: ten times what the tolerance leaves. Melt that runs out as it
/// comes is not the end of the liquid.
const THROUGH: f64 = 1e-6;

/// Share of its limit to which ice must recede before a passage that it has blocked is open again: at the limit itself
/// rounding would block and open it without end.
const RECEDED: f64 = 0.99;

/// Share of ice from which a zone without liquid is blocked whatever the limit: there is no room for water to come in.
const NO_ROOM: f64 = 0.999;

/// At most this many guards hold at once.
const ROOM: usize = 20;

/// The guards of a mode.
pub(super) struct GuardList([Option<Guard>; ROOM], usize);

impl GuardList {
    fn push(&mut self, guard: Guard) {
        if let Some(place) = self.0.get_mut(self.1) {
            *place = Some(guard);
            self.1 += 1;
        }
    }
    pub fn len(&self) -> usize {
        self.1
    }
    pub fn iter(&self) -> impl Iterator<Item = Guard> + '_ {
        self.0.iter().take(self.1).flatten().copied()
    }
}

impl Body {
    pub(super) fn guard_list(&self, mode: &Mode) -> GuardList {
        let mut list = GuardList([None; ROOM], 0);
        // What has left the range ends there.
        if mode.beyond.is_some() {
            return list;
        }
        for (i, m) in mode.zones.iter().enumerate().take(self.zones.len()) {
            match m.phase {
                Phase::Liquid => list.push(Guard::Nucleates(i)),
                Phase::Growing(rate) if rate > 0.0 => {
                    list.push(Guard::PulseOver(i));
                    list.push(Guard::FreezesThrough(i));
                }
                Phase::Growing(_) => {}
                Phase::Equilibrium => {
                    list.push(Guard::FreezesThrough(i));
                    list.push(Guard::Melts(i));
                }
                Phase::Solid => list.push(Guard::Thaws(i)),
            }
            if m.phase != Phase::Solid {
                list.push(Guard::TooCold(i));
                list.push(Guard::TooHigh(i));
            }
            match m.stretch {
                Stretch::Elastic { until, .. } if until.is_finite() => list.push(Guard::Yields(i)),
                Stretch::Elastic { .. } => {}
                Stretch::Yielding => {
                    list.push(Guard::YieldsThrough(i));
                    list.push(Guard::Unloads(i));
                }
                Stretch::Held { open: false, .. } => list.push(Guard::Unloads(i)),
                Stretch::Held { .. } => {}
            }
            if !is_open(m.stretch) && self.zones.get(i).is_some_and(|z| z.bonnet.is_some()) {
                list.push(Guard::Splits(i));
            }
        }
        match mode.relief {
            ReliefMode::Shut => {
                list.push(Guard::ReliefOpens);
                list.push(Guard::ReliefPlugs);
            }
            ReliefMode::Open => {
                list.push(Guard::ReliefCloses);
                list.push(Guard::ReliefPlugs);
            }
            ReliefMode::Spent => list.push(Guard::ReliefPlugs),
            _ => {}
        }
        if self.check.is_some() && self.zones.len() > 1 {
            if mode.check_open {
                // No guard for its closing: its flow dies away smoothly and never turns back.
                list.push(Guard::CheckPlugs);
            } else if mode.zones[0].phase != Phase::Solid {
                list.push(Guard::CheckOpens);
            }
        }
        if let Some(zone) = self.vent.and_then(|v| mode.zones.get(v.zone))
            && !is_open(zone.stretch)
        {
            list.push(Guard::VentOpens);
        }
        list
    }

    pub(super) fn guard(&self, mode: &Mode, guard: Guard, points: &[Option<Point>; MOST_ZONES], rates: &[f64]) -> f64 {
        let at = |i: usize| points.get(i).copied().flatten();
        let of = |i: usize, f: &dyn Fn(&Point) -> f64| at(i).map_or(f64::NAN, |p| f(&p));
        let gauge = |p: &Point| p.p - self.ambient;
        // By the melting pressure at a temperature: it falls as the temperature rises.
        let melting = |t: f64| melting::pressure_and_slope(t).0;
        let rate_of = |i: usize, which: usize| {
            of(i, &|p| match rates.get(3 * i..3 * i + 3) {
                Some(&[a, b, c]) => p.rate(which, [a, b, c]),
                _ => f64::NAN,
            })
        };
        let strength = |i: usize| self.zones.get(i).and_then(|z| z.wall.strength);
        let relief = self.relief;
        let relief_zone = relief.map_or(0, |r| r.zone);
        match guard {
            Guard::Nucleates(i) => of(i, &|p| {
                let below = if p.mass < DROP { 0.0 } else { self.supercooling };
                p.p - melting(p.t + below) + HAIR
            }),
            Guard::PulseOver(i) => of(i, &|p| melting(p.t) - p.p),
            Guard::Thaws(i) => of(i, &|p| melting(p.t) - p.p + HAIR),
            Guard::Melts(i) => of(i, &|p| p.ice + 1e-12),
            Guard::FreezesThrough(i) => of(i, &|p| (1.0 + THROUGH) * p.mass - p.ice),
            Guard::Yields(i) => match mode.zones.get(i).map(|z| z.stretch) {
                Some(Stretch::Elastic { until, .. }) => until - of(i, &gauge),
                _ => 1.0,
            },
            Guard::YieldsThrough(i) => strength(i).map_or(1.0, |s| s.plateau() - of(i, &gauge)),
            Guard::Unloads(i) => match mode.zones.get(i).map(|z| z.stretch) {
                Some(Stretch::Yielding) => rate_of(i, 1),
                _ => rate_of(i, 3),
            },
            Guard::TooCold(i) => of(i, &|p| p.t - melting::LOWEST_TEMPERATURE),
            Guard::TooHigh(i) => of(i, &|p| melting::HIGHEST_PRESSURE - p.p),
            Guard::Splits(i) => self.zones.get(i).and_then(|z| z.bonnet).unwrap_or(f64::INFINITY) - of(i, &gauge),
            Guard::ReliefOpens => mode.opens_at - of(relief_zone, &gauge),
            Guard::ReliefCloses => {
                let gauge = of(relief_zone, &gauge);
                match (self.lifts, relief) {
                    (Lifts::Resolved, Some(r)) => gauge - r.reseat_ratio * r.set,
                    // A hundredth below, so that it does not flutter: below its set it passes nothing anyhow.
                    _ => gauge - 0.99 * mode.opens_at,
                }
            }
            Guard::ReliefPlugs => {
                let limit = relief.map_or(1.0, |r| r.plugged_at);
                self.until_blocked(mode, points, relief_zone, limit)
            }
            Guard::CheckOpens => {
                let (Some(a), Some(b), Some(check)) = (at(0), at(1), self.check) else { return f64::NAN };
                if (0..2).any(|i| !(self.until_blocked(mode, points, i, RECEDED * check.plugged_at) > 0.0)) {
                    return 1.0;
                }
                check.wants(a.p, b.p, self.ambient)
            }
            Guard::CheckPlugs => {
                let limit = self.check.map_or(1.0, |c| c.plugged_at);
                (0..2).map(|i| self.until_blocked(mode, points, i, limit)).fold(f64::INFINITY, f64::min)
            }
            Guard::VentOpens => {
                let Some(vent) = self.vent else { return f64::NAN };
                let force: f64 = points.iter().flatten().zip(vent.area).map(|(p, a)| a * gauge(p)).sum();
                force - vent.holding
            }
        }
    }

    /// Ice, kg, still to come in zone `i` until it blocks a port there, at this share of ice in a zone that is full: where
    /// air is, there is room for ice.
    fn until_blocked(&self, mode: &Mode, points: &[Option<Point>; MOST_ZONES], i: usize, limit: f64) -> f64 {
        let (Some(Some(p)), Some(m), Some(zone)) = (points.get(i), mode.zones.get(i), self.zones.get(i)) else {
            return f64::NAN;
        };
        let air = match is_open(m.stretch) {
            false => m.air * AIR_GAS_CONSTANT * p.t / p.p,
            true => (zone.wall.volume_at(p.t, p.p) - (p.mass - p.ice) * p.liquid.v - p.ice * p.solid.v).max(0.0),
        };
        // Ice alone tells no volume of water: a litre a kilogram.
        let (limit, v) = if m.phase == Phase::Solid { (limit.min(NO_ROOM), 1e-3) } else { (limit, p.liquid.v) };
        limit * (p.mass + air / v) - p.ice
    }
}
