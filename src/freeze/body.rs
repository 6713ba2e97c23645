//! What stands out in the cold: zones with their walls, the check between them, relief, vent, and the air around.

use super::wall::{Stretch, Wall};
use super::zone::{self, Contents, Phase};
use crate::laws::constants::AIR_GAS_CONSTANT;
use crate::laws::film::Film;
use crate::real::Real;
use std::sync::atomic::{AtomicU64, Ordering};

/// Most zones of one body.
pub const MOST_ZONES: usize = 2;

/// A closed space with its wall.
#[derive(Debug, Clone, PartialEq)]
pub struct Zone {
    /// Name as printed and in JSON: "zone1", "zone2", "shutoff1-ball".
    pub name: String,
    /// Wall.
    pub wall: Wall,
    /// Outer surface that gives off heat, m².
    pub area: f64,
    /// Length of the tube, m: for the resistance of an ice shell.
    pub length: f64,
    /// Pressure at which a weaker part (the bonnet) splits, Pa gauge.
    pub bonnet: Option<f64>,
}

impl Zone {
    /// Pressure at which its weakest part gives way, Pa gauge; infinite where none does.
    pub fn strength(&self) -> f64 {
        let wall = self.wall.strength.map_or(f64::INFINITY, |s| s.first_yield());
        wall.min(self.bonnet.unwrap_or(f64::INFINITY))
    }
}

/// How heat leaves the surface.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum HeatLoss {
    /// This coefficient, W/(m² K).
    Fixed(f64),
    /// By the laws of convection and radiation.
    Air(Film),
}

/// Air temperature and wind, linear between the points, constant beyond them.
#[derive(Debug, Clone, PartialEq)]
pub struct Weather {
    /// Times, s, rising; one at least.
    pub time: Vec<f64>,
    /// Air temperature, K.
    pub air: Vec<f64>,
    /// Wind, m/s.
    pub wind: Vec<f64>,
}

impl Weather {
    /// The same air and wind all night.
    pub fn steady(air: f64, wind: f64) -> Self {
        Weather { time: vec![0.0], air: vec![air], wind: vec![wind] }
    }

    /// Air temperature, K, and wind, m/s, at time `t` s.
    pub fn at<T: Real>(&self, t: T) -> (T, T) {
        let k = self.time.partition_point(|x| *x <= t.value());
        let get = |v: &[f64], i: usize| v.get(i.min(v.len().saturating_sub(1))).copied().unwrap_or(f64::NAN);
        let (left, right) = (k.saturating_sub(1), k);
        let (Some(t0), Some(t1)) = (self.time.get(left), self.time.get(right)) else {
            return (T::constant(get(&self.air, left)), T::constant(get(&self.wind, left)));
        };
        if k == 0 {
            return (T::constant(get(&self.air, 0)), T::constant(get(&self.wind, 0)));
        }
        let share = (t - *t0) / (t1 - t0);
        let mix = |v: &[f64]| share * (get(v, right) - get(v, left)) + get(v, left);
        (mix(&self.air), mix(&self.wind))
    }

    /// The next point after `t` s.
    pub fn next_break(&self, t: f64) -> f64 {
        let k = self.time.partition_point(|x| *x <= t);
        self.time.get(k).copied().unwrap_or(f64::INFINITY)
    }

    /// Coldest air, K.
    pub fn coldest(&self) -> f64 {
        self.air.iter().copied().fold(f64::INFINITY, f64::min)
    }
}

/// The check from the first zone to the second.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Check {
    /// Zone 1 above zone 2 at which it lifts, Pa.
    pub load: f64,
    /// Flow per pressure above that, kg/(s Pa): at the crawl of a freeze the disc stands just off its seat.
    pub conductance: f64,
    /// Share of ice by mass in either zone, were it full, from which the passage is blocked.
    pub plugged_at: f64,
    /// For a check that the air inlet's stem carries: pressure of zone 1 that one of zone 2 is worth in lifting the stem. As
    /// long as zone 2 is closed the stem then stays up and water passes both ways without load. `None`: the check stands
    /// alone, and zone 2 holds it shut.
    pub stem: Option<f64>,
}

impl Check {
    /// Pressure, Pa, by which zones at `one` and `two` Pa absolute fall short of lifting it.
    pub fn wants(&self, one: f64, two: f64, ambient: f64) -> f64 {
        match self.stem {
            None => two + self.load - one,
            Some(share) => self.load - (one - ambient) - share * (two - ambient),
        }
    }
}

/// How an open relief passes water.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lifts {
    /// It pops open at its set and shuts at its reseat; every lift is followed.
    Resolved,
    /// It opens as far as the flow needs and holds its set: the limit of many small lifts.
    Held,
}

/// A relief valve to the atmosphere.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Relief {
    /// Zone it stands in (index).
    pub zone: usize,
    /// Pressure at which it opens, Pa gauge.
    pub set: f64,
    /// Share of the set at which it shuts again.
    pub reseat_ratio: f64,
    /// Bore, m.
    pub bore: f64,
    /// Discharge coefficient.
    pub discharge: f64,
    /// Whether it opens once and stays open.
    pub one_shot: bool,
    /// Share of ice by mass in its zone, were it full, from which its port is blocked.
    pub plugged_at: f64,
    /// Whether it never opens.
    pub stuck: bool,
    /// What a drop frozen in the outlet after a lift adds to the opening pressure, Pa.
    pub frozen_drop: f64,
}

impl Relief {
    /// Overpressure, as a share of the set, at which a held relief is wide open.
    pub const ACCUMULATION: f64 = 0.01;

    /// Area of the bore, m².
    pub fn area(&self) -> f64 {
        std::f64::consts::FRAC_PI_4 * self.bore * self.bore
    }

    /// Bore, m, through which `flow` m³/s of water of `density` kg/m³ passes at `gauge` Pa.
    pub fn critical_bore(flow: f64, gauge: f64, discharge: f64, density: f64) -> f64 {
        (flow / (discharge * std::f64::consts::FRAC_PI_4) / (2.0 * gauge / density).sqrt()).sqrt()
    }
}

/// The air inlet as what opens the second zone when pressure has gone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Vent {
    /// Zone it opens (index).
    pub zone: usize,
    /// Area on which each zone's pressure holds it shut, m².
    pub area: [f64; MOST_ZONES],
    /// Force below which it opens, N.
    pub holding: f64,
    /// Whether it is taken as shut once it has let air in (it sticks, or somebody shuts it) when a night begins without
    /// pressure; otherwise it stands open that night.
    pub reseats: bool,
}

/// A temperature, K, and a pressure, Pa, remembered from one search to the next. Atomic, so that bodies may be read by
/// several threads; torn pairs only make a search start less near.
#[derive(Debug, Default)]
pub(super) struct Near(AtomicU64, AtomicU64);

impl Near {
    pub fn get(&self) -> [f64; 2] {
        [&self.0, &self.1].map(|x| f64::from_bits(x.load(Ordering::Relaxed)))
    }
    pub fn set(&self, [t, p]: [f64; 2]) {
        self.0.store(t.to_bits(), Ordering::Relaxed);
        self.1.store(p.to_bits(), Ordering::Relaxed);
    }
}

impl Clone for Near {
    fn clone(&self) -> Self {
        let [t, p] = self.get().map(f64::to_bits);
        Near(AtomicU64::new(t), AtomicU64::new(p))
    }
}

/// The whole.
#[derive(Debug, Clone)]
pub struct Body {
    /// Zones, upstream first; one or two.
    pub zones: Vec<Zone>,
    /// Heat loss of the surfaces.
    pub loss: HeatLoss,
    /// Whether ice grows as a shell from the wall (its resistance counts) or everywhere alike.
    pub shell: bool,
    /// Conductance of the metal between the zones, W/K.
    pub link: f64,
    /// Check; `None` keeps the zones apart.
    pub check: Option<Check>,
    /// Relief.
    pub relief: Option<Relief>,
    /// How the relief's lifts are followed.
    pub lifts: Lifts,
    /// Air inlet.
    pub vent: Option<Vent>,
    /// Weather.
    pub weather: Weather,
    /// Kelvin below the melting point at which the first ice appears.
    pub supercooling: f64,
    /// Time over which that first ice grows, s.
    pub release_time: f64,
    /// Ambient pressure, Pa absolute.
    pub ambient: f64,
    /// Where each zone's last state was: the next search starts there. It changes rounding only.
    pub(super) near: [Near; MOST_ZONES],
}

/// How a zone starts its night.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ZoneStart {
    /// Temperature, K.
    pub t: f64,
    /// Pressure, Pa absolute.
    pub p: f64,
    /// Air, kg.
    pub air: f64,
    /// Wall.
    pub stretch: Stretch,
}

/// Least air of a zone, kg (8 nL at one atmosphere): a void has some pressure even where no air is.
pub const LEAST_AIR: f64 = 1e-11;

/// Water, kg, below which a zone counts as dry. What clings to a wall then freezes and thaws with it untold; its latent heat
/// must not show in the wall's temperature.
pub const DROP: f64 = 1e-8;

impl Body {
    /// A body of these zones in still weather, nothing fitted.
    pub fn bare(zones: Vec<Zone>, loss: HeatLoss, weather: Weather, ambient: f64) -> Self {
        Body {
            zones,
            loss,
            shell: false,
            link: 0.0,
            check: None,
            relief: None,
            lifts: Lifts::Held,
            vent: None,
            weather,
            supercooling: 0.0,
            release_time: 1.0,
            ambient,
            near: Default::default(),
        }
    }

    /// Air mass, kg, of a pocket of `volume` m³ at `t` K and `p` Pa absolute; never below [`LEAST_AIR`].
    pub fn air_mass(volume: f64, t: f64, p: f64) -> f64 {
        (p * volume / (AIR_GAS_CONSTANT * t)).max(LEAST_AIR)
    }

    /// Water, kg, of a zone that starts all liquid.
    pub fn water_at(&self, zone: usize, start: &ZoneStart) -> f64 {
        let Some(z) = self.zones.get(zone) else { return f64::NAN };
        let lasting = lasting(start.stretch);
        let pocket = start.air * AIR_GAS_CONSTANT * start.t / start.p;
        (z.wall.volume_at(start.t, start.p) + lasting - pocket) / super::table::liquid(start.t, start.p).v
    }

    /// Whether a zone starts without water.
    pub fn dry_at(&self, zone: usize, start: &ZoneStart) -> bool {
        self.water_at(zone, start) < DROP
    }

    /// Whether a stem stands up at the start and joins the zones.
    pub fn joined_at(&self, starts: &[ZoneStart]) -> bool {
        let (Some(check), [one, two]) = (self.check.filter(|c| c.stem.is_some()), starts) else { return false };
        check.wants(one.p, two.p, self.ambient) < 0.0
    }

    /// States of the night's equations for liquid zones, and their modes. An open zone starts at ambient pressure.
    pub fn start(&self, starts: &[ZoneStart]) -> (super::Mode, Vec<f64>, Vec<f64>) {
        let mut mode = super::Mode::new(self);
        let (mut y, mut air) = (Vec::new(), Vec::new());
        for (i, (z, s)) in self.zones.iter().zip(starts).enumerate() {
            let mass = self.water_at(i, s);
            let contents = Contents { energy: 0.0, mass, ice: 0.0, air: s.air };
            let e = zone::energy(&z.wall, Phase::Liquid, &contents, [s.t, s.p], lasting(s.stretch));
            y.extend([e, mass, 0.0]);
            air.push(s.air);
            if let Some(m) = mode.zones.get_mut(i) {
                m.stretch = s.stretch;
                m.air = s.air;
            }
            if let Some(cell) = self.near.get(i) {
                cell.set([s.t, s.p]);
            }
        }
        mode.check_open = self.joined_at(starts);
        y.extend([0.0; super::LEDGER]);
        (mode, y, air)
    }
}

/// Lasting growth that a stretch carries, m³ (0 where it follows the pressure).
pub fn lasting(stretch: Stretch) -> f64 {
    match stretch {
        Stretch::Elastic { lasting, .. } => lasting,
        _ => 0.0,
    }
}
