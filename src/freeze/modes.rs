//! Discrete modes of a night: what each zone, its wall, the relief and the check are doing, and what makes that change.

use super::MOST_ZONES;
use super::body::{Body, DROP, Lifts};
use super::guards::Guard;
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
            // What a dry zone has freezes and thaws with its wall, untold.
            let dry = mass < DROP;
            let (phase, happening, ice) = match guard {
                Guard::Nucleates(_) if dry => (Phase::Solid, Happening::FrozenThrough, mass),
                Guard::Thaws(_) if dry => (Phase::Liquid, Happening::Melted, 0.0),
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
            what = if dry || matches!(guard, Guard::Thaws(_)) { None } else { Some(happening) };
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
                // A lift takes milliseconds: the ice stays as it is until the relief has shut. One that opens once never does.
                if self.lifts == Lifts::Resolved
                    && new.relief == ReliefMode::Open
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
    /// water and takes its share; no more than there is), spread over the release time.
    fn pulse_rate(&self, i: usize, point: Option<Point>, mass: f64) -> f64 {
        let (Some(p), Some(zone)) = (point, self.zones.get(i)) else { return 0.0 };
        let melting = melting::inverse(p.p.max(611.657));
        let warm = super::table::liquid(melting, p.p);
        let heat = mass * (warm.h - p.liquid.h) + zone.wall.heat_capacity * (melting - p.t);
        let ice = heat / (warm.h - super::table::ice(melting.min(273.24), p.p).h);
        (ice.min(mass) / self.release_time).max(1e-12)
    }
}
