//! Discrete modes of a night: what each zone, its wall, the relief and the check are doing, and what makes that change.

use super::MOST_ZONES;
use super::body::{Body, Lifts};
use super::equations::is_open;
use super::wall::Stretch;
use super::zone::{Phase, Point};
use crate::laws::melting;
use crate::numerics::Transition;

/// Mode of one zone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ZoneMode {
    /// Liquid, growing, at equilibrium, solid.
    pub phase: Phase,
    /// Wall.
    pub stretch: Stretch,
    /// Air in the zone, kg; constant through a night.
    pub air: f64,
}

/// Mode of the relief.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ReliefMode {
    /// None fitted, or stuck.
    Absent,
    /// Shut.
    Shut,
    /// Open.
    Open,
    /// One-shot, and open for good.
    Spent,
    /// Its port is blocked by ice.
    Plugged,
}

/// Mode of the body.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mode {
    /// Zones; only as many as the body has count.
    pub zones: [ZoneMode; MOST_ZONES],
    /// Relief.
    pub relief: ReliefMode,
    /// Pressure at which the relief opens now, Pa gauge.
    pub opens_at: f64,
    /// Whether the check may pass water: it has lifted once and ice does not block it.
    pub check_open: bool,
    /// Zone and reason for which the run cannot go on.
    pub beyond: Option<(usize, Beyond)>,
}

/// Ends of the range in which ice Ih and liquid meet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Beyond {
    /// Liquid colder than the cold end of the melting curve.
    TooCold,
    /// Pressure above the end of the melting curve.
    TooHigh,
}

/// Something that happened, with the zone it happened in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Happening {
    /// First ice.
    IceAppears,
    /// The pulse of the first ice is over.
    PulseOver,
    /// The last ice is gone.
    Melted,
    /// The last liquid is gone.
    FrozenThrough,
    /// The bore of the wall yields.
    Yields,
    /// The wall has yielded through and grows at its plateau.
    YieldsThrough,
    /// The wall yields no further.
    YieldEnds,
    /// The relief opens.
    ReliefOpens,
    /// The relief shuts.
    ReliefCloses,
    /// Ice blocks the relief's port.
    ReliefPlugged,
    /// The check starts to pass water.
    CheckOpens,
    /// Ice blocks the check.
    CheckCloses,
    /// The air inlet opens: the zone is no longer closed.
    VentOpens,
    /// The bonnet splits: the zone is no longer closed.
    BonnetSplits,
    /// Liquid and ice Ih have no equilibrium any more.
    LeavesRange,
}

impl Happening {
    const ALL: [Happening; 15] = [
        Happening::IceAppears,
        Happening::PulseOver,
        Happening::Melted,
        Happening::FrozenThrough,
        Happening::Yields,
        Happening::YieldsThrough,
        Happening::YieldEnds,
        Happening::ReliefOpens,
        Happening::ReliefCloses,
        Happening::ReliefPlugged,
        Happening::CheckOpens,
        Happening::CheckCloses,
        Happening::VentOpens,
        Happening::BonnetSplits,
        Happening::LeavesRange,
    ];

    fn label(self, zone: usize) -> Option<usize> {
        Some(MOST_ZONES * Self::ALL.iter().position(|h| *h == self)? + zone)
    }

    /// What a label of a solution stands for.
    pub fn of(label: usize) -> Option<(Happening, usize)> {
        Some((*Self::ALL.get(label / MOST_ZONES)?, label % MOST_ZONES))
    }
}

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

impl Mode {
    /// All liquid, walls fresh, relief and check shut.
    pub(super) fn new(body: &Body) -> Mode {
        let zone = |i: usize| ZoneMode {
            phase: Phase::Liquid,
            stretch: body
                .zones
                .get(i)
                .map_or(Stretch::Elastic { lasting: 0.0, until: f64::INFINITY }, |z| z.wall.fresh()),
            air: super::LEAST_AIR,
        };
        Mode {
            zones: std::array::from_fn(zone),
            relief: match body.relief {
                Some(r) if !r.stuck => ReliefMode::Shut,
                _ => ReliefMode::Absent,
            },
            opens_at: body.relief.map_or(f64::INFINITY, |r| r.set),
            check_open: false,
            beyond: None,
        }
    }
}

impl Body {
    pub(super) fn guard_list(&self, mode: &Mode) -> GuardList {
        let mut list = GuardList([None; ROOM], 0);
        for (i, m) in mode.zones.iter().enumerate().take(self.zones.len()) {
            match m.phase {
                Phase::Liquid => list.push(Guard::Nucleates(i)),
                Phase::Growing(rate) if rate > 0.0 => list.push(Guard::PulseOver(i)),
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
            } else if !self.check_blocked(mode) {
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

    fn check_blocked(&self, mode: &Mode) -> bool {
        mode.zones.iter().take(2).any(|z| z.phase == Phase::Solid)
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
            Guard::Nucleates(i) => of(i, &|p| p.p - melting(p.t + self.supercooling) + HAIR),
            Guard::PulseOver(i) => of(i, &|p| melting(p.t) - p.p),
            Guard::Thaws(i) => of(i, &|p| melting(p.t) - p.p + HAIR),
            Guard::Melts(i) => of(i, &|p| p.ice + 1e-12),
            Guard::FreezesThrough(i) => of(i, &|p| -p.ice) + self.mass_of(points, i),
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
                limit * self.mass_of(points, relief_zone) - of(relief_zone, &|p| p.ice)
            }
            Guard::CheckOpens => {
                let (Some(a), Some(b), Some(check)) = (at(0), at(1), self.check) else { return f64::NAN };
                if (0..2).any(|i| of(i, &|p| p.ice) > check.plugged_at * self.mass_of(points, i)) {
                    return 1.0;
                }
                b.p + check.load - a.p
            }
            Guard::CheckPlugs => {
                let limit = self.check.map_or(1.0, |c| c.plugged_at);
                (0..2).map(|i| limit * self.mass_of(points, i) - of(i, &|p| p.ice)).fold(f64::INFINITY, f64::min)
            }
            Guard::VentOpens => {
                let Some(vent) = self.vent else { return f64::NAN };
                let force: f64 = points.iter().flatten().zip(vent.area).map(|(p, a)| a * gauge(p)).sum();
                force - vent.holding
            }
        }
    }

    /// Water and ice of a zone from its volume balance, kg: the points carry no mass, their phases do.
    fn mass_of(&self, points: &[Option<Point>; MOST_ZONES], i: usize) -> f64 {
        points.get(i).copied().flatten().map_or(f64::NAN, |p| p.mass)
    }

    pub(super) fn turned(&self, mode: &Mode, _t: f64, y: &mut [f64], fired: usize) -> Transition<Mode> {
        let mut new = *mode;
        let Some(guard) = self.guard_list(mode).iter().nth(fired) else {
            return Transition { mode: new, label: None };
        };
        let points = self.points(mode, y);
        let at = |i: usize| points.get(i).copied().flatten();
        let mut what = None;
        let mut zone = 0;
        if let Guard::Nucleates(i)
        | Guard::PulseOver(i)
        | Guard::Melts(i)
        | Guard::FreezesThrough(i)
        | Guard::Thaws(i) = guard
        {
            zone = i;
            let mass = y.get(3 * i + 1).copied().unwrap_or(0.0);
            let (phase, happening, ice) = match guard {
                Guard::Nucleates(_) => match self.supercooling > 0.0 {
                    true => (Phase::Growing(self.pulse_rate(i, at(i), mass)), Happening::IceAppears, 0.0),
                    false => (Phase::Equilibrium, Happening::IceAppears, 0.0),
                },
                Guard::PulseOver(_) => (Phase::Equilibrium, Happening::PulseOver, f64::NAN),
                Guard::Melts(_) => (Phase::Liquid, Happening::Melted, 0.0),
                Guard::FreezesThrough(_) => (Phase::Solid, Happening::FrozenThrough, mass),
                _ => (Phase::Equilibrium, Happening::IceAppears, mass),
            };
            if let Some(m) = new.zones.get_mut(i) {
                m.phase = phase;
            }
            if let (Some(state), true) = (y.get_mut(3 * i + 2), ice.is_finite()) {
                *state = ice;
            }
            what = if matches!(guard, Guard::Thaws(_)) { None } else { Some(happening) };
            if phase == Phase::Solid {
                new.check_open = false;
                if self.relief.is_some_and(|r| r.zone == i) && mode.relief != ReliefMode::Absent {
                    new.relief = ReliefMode::Plugged;
                }
            }
        }
        match guard {
            Guard::Yields(i) => {
                zone = i;
                what = Some(Happening::Yields);
                let plateau = self.zones.get(i).and_then(|z| z.wall.strength).map(|s| s.plateau());
                if let (Some(m), Some(plateau)) = (new.zones.get_mut(i), plateau) {
                    let through = matches!(m.stretch, Stretch::Elastic { until, .. } if until >= plateau);
                    m.stretch = match through {
                        true => Stretch::Held { pressure: plateau + self.ambient, open: false },
                        false => Stretch::Yielding,
                    };
                }
            }
            Guard::YieldsThrough(i) => {
                (zone, what) = (i, Some(Happening::YieldsThrough));
                let plateau = self.zones.get(i).and_then(|z| z.wall.strength).map(|s| s.plateau());
                if let (Some(m), Some(plateau)) = (new.zones.get_mut(i), plateau) {
                    m.stretch = Stretch::Held { pressure: plateau + self.ambient, open: false };
                }
            }
            Guard::Unloads(i) => {
                (zone, what) = (i, Some(Happening::YieldEnds));
                if let (Some(m), Some(p)) = (new.zones.get_mut(i), at(i)) {
                    m.stretch = Stretch::Elastic { lasting: p.lasting, until: p.p - self.ambient + 1.0 };
                }
            }
            Guard::TooCold(i) => {
                (zone, what, new.beyond) = (i, Some(Happening::LeavesRange), Some((i, Beyond::TooCold)))
            }
            Guard::TooHigh(i) => {
                (zone, what, new.beyond) = (i, Some(Happening::LeavesRange), Some((i, Beyond::TooHigh)))
            }
            Guard::Splits(_) | Guard::VentOpens => {
                zone = if let Guard::Splits(i) = guard { i } else { self.vent.map_or(0, |v| v.zone) };
                let split = matches!(guard, Guard::Splits(_));
                what = Some(if split { Happening::BonnetSplits } else { Happening::VentOpens });
                if let Some(m) = new.zones.get_mut(zone) {
                    m.stretch = Stretch::Held { pressure: self.ambient, open: true };
                }
            }
            Guard::ReliefOpens => {
                let relief = self.relief;
                zone = relief.map_or(0, |r| r.zone);
                what = Some(Happening::ReliefOpens);
                new.relief = if relief.is_some_and(|r| r.one_shot) { ReliefMode::Spent } else { ReliefMode::Open };
                // Held, it stands for the lifts to come, and those have a frozen drop to break.
                if self.lifts == Lifts::Held {
                    new.opens_at = relief.map_or(f64::INFINITY, |r| r.set + r.frozen_drop);
                }
                // A lift takes milliseconds: the ice stays as it is until the relief has shut.
                if self.lifts == Lifts::Resolved
                    && let (Some(m), Some(p)) = (new.zones.get_mut(zone), at(zone))
                    && m.phase == Phase::Equilibrium
                {
                    m.phase = Phase::Growing(0.0);
                    if let Some(ice) = y.get_mut(3 * zone + 2) {
                        *ice = p.ice;
                    }
                }
            }
            Guard::ReliefCloses | Guard::ReliefPlugs => {
                let relief = self.relief;
                zone = relief.map_or(0, |r| r.zone);
                let plugged = guard == Guard::ReliefPlugs;
                what = Some(if plugged { Happening::ReliefPlugged } else { Happening::ReliefCloses });
                new.relief = if plugged { ReliefMode::Plugged } else { ReliefMode::Shut };
                new.opens_at = relief.map_or(f64::INFINITY, |r| r.set + r.frozen_drop);
                if let Some(m) = new.zones.get_mut(zone)
                    && m.phase == Phase::Growing(0.0)
                {
                    m.phase = Phase::Equilibrium;
                }
            }
            Guard::CheckOpens => (what, new.check_open) = (Some(Happening::CheckOpens), true),
            Guard::CheckPlugs => (what, new.check_open) = (Some(Happening::CheckCloses), false),
            _ => {}
        }
        Transition { mode: new, label: what.and_then(|w| w.label(zone)) }
    }

    /// Rate at which the first ice grows, kg/s: what freezes at once without heat given off (the metal is as cold as the
    /// water and takes its share), spread over the release time.
    fn pulse_rate(&self, i: usize, point: Option<Point>, mass: f64) -> f64 {
        let (Some(p), Some(zone)) = (point, self.zones.get(i)) else { return 0.0 };
        let melting = melting::inverse(p.p.max(611.657));
        let warm = super::table::liquid(melting, p.p);
        let heat = mass * (warm.h - p.liquid.h) + zone.wall.heat_capacity * (melting - p.t);
        let ice = heat / (warm.h - super::table::ice(melting.min(273.24), p.p).h);
        (ice / self.release_time).max(1e-12)
    }
}
