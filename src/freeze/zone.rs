//! The state of a closed zone from its energy and masses.
//!
//! ```text
//! E = m_l h_l + m_i h_i + m_a [c_v (T−T0) + R T] − π V + U_wall(T,p)             (U of contents + p_ambient V + U_wall)
//! 0 = m_l v_l + m_i v_i + m_a R T/p − V(T,p)
//! ```
//!
//! Energy and masses are the states of the night's equations, so both are conserved to rounding; temperature, pressure and
//! ice follow here. While ice and water are at equilibrium, p = p_m(T) and the ice mass is the second unknown; at a held
//! pressure the wall's lasting growth is. Two equations, two unknowns, Newton's method with exact slopes; the slopes of the
//! solution by E, m and m_i follow from the same matrix.

use super::curve;
use super::table::{self, PhasePoint};
use super::wall::{Stretch, Wall};
use crate::laws::constants::AIR_GAS_CONSTANT;
use crate::laws::ice::TRIPLE_TEMPERATURE;
use crate::laws::melting;
use crate::real::Real;

/// Isochoric specific heat of air, J/(kg K): 5/2 R.
const AIR_CV: f64 = 2.5 * AIR_GAS_CONSTANT;
/// Steps of Newton's method before a state counts as impossible.
const MOST: usize = 80;
/// Beyond the triple point by this, K, the melting curve, straight on, comes to 2 mPa.
const VOID: f64 = 4.542_36e-5;
/// Relative step below which the search is over: the error left is of the order of its square.
const SMALL: f64 = 1e-7;

/// What decides how much ice there is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Phase {
    /// No ice; the liquid may be supercooled.
    Liquid,
    /// The ice mass is a state of its own that grows at this pace, kg/s, and by the heat that leaves (0: held while a relief
    /// is open).
    Growing(f64),
    /// Ice and water at equilibrium: the pressure is the melting pressure.
    Equilibrium,
    /// All ice.
    Solid,
}

/// Energy and masses of a zone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Contents {
    /// Energy, J.
    pub energy: f64,
    /// Water and ice, kg.
    pub mass: f64,
    /// Ice, kg; counts only while [`Phase::Growing`].
    pub ice: f64,
    /// Air, kg.
    pub air: f64,
}

/// The state that belongs to [`Contents`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Temperature, K.
    pub t: f64,
    /// Pressure, Pa absolute.
    pub p: f64,
    /// Ice, kg.
    pub ice: f64,
    /// Lasting growth of the wall, or what an open zone has overflowed by, m³.
    pub lasting: f64,
    /// Water and ice, kg.
    pub mass: f64,
    /// The liquid (where there is any).
    pub liquid: PhasePoint,
    /// The ice (where there is any).
    pub solid: PhasePoint,
    /// Slopes of the specific volumes of liquid and ice by temperature at fixed pressure, m³/(kg K).
    pub v_t: [f64; 2],
    /// Slopes of t, p, ice and lasting by energy, mass and ice mass.
    pub slopes: [[f64; 3]; 4],
}

impl Point {
    /// A quantity of the state (0 t, 1 p, 2 ice, 3 lasting) with the derivatives that the states carry.
    #[inline]
    pub fn lift<T: Real>(&self, which: usize, states: &[T; 3]) -> T {
        let value = [self.t, self.p, self.ice, self.lasting][which];
        let mut out = T::constant(value);
        for (s, k) in states.iter().zip(self.slopes[which]) {
            out = out + (*s - s.value()) * k;
        }
        out
    }

    /// Change of a quantity with time from the rates of energy, mass and ice.
    pub fn rate(&self, which: usize, rates: [f64; 3]) -> f64 {
        self.slopes[which].iter().zip(rates).map(|(k, r)| k * r).sum()
    }
}

const NONE: PhasePoint = PhasePoint { v: 0.0, v_t: 0.0, v_p: 0.0, h: 0.0, h_t: 0.0, h_p: 0.0 };

/// Both phases that matter at (t, p); the absent one is all zero.
fn phases(phase: Phase, t: f64, p: f64) -> (PhasePoint, PhasePoint) {
    // Ice that grows in warmed liquid may be asked for a hair above its range.
    let ice = |t: f64| table::ice(t.min(273.24), p);
    match phase {
        Phase::Liquid => (table::liquid(t, p), NONE),
        Phase::Solid => (NONE, ice(t)),
        _ => (table::liquid(t, p), ice(t)),
    }
}

/// Energy of given masses at (t, p) with lasting growth `lasting`, J; `contents.energy` is not read.
pub fn energy(wall: &Wall, phase: Phase, contents: &Contents, [t, p]: [f64; 2], lasting: f64) -> f64 {
    let (l, s) = phases(phase, t, p);
    let ice = ice_mass(phase, contents.mass, contents.ice);
    (contents.mass - ice) * l.h + ice * s.h + contents.air * (AIR_CV * (t - wall.reference) + AIR_GAS_CONSTANT * t)
        - (p - wall.ambient) * (wall.volume_at(t, p) + lasting)
        + wall.energy_at(t, p)
}

fn ice_mass(phase: Phase, mass: f64, ice: f64) -> f64 {
    match phase {
        Phase::Liquid => 0.0,
        Phase::Solid => mass,
        _ => ice,
    }
}

/// Residuals of both equations with their slopes at a trial state.
struct Residual {
    f: [f64; 2],
    by_t: [f64; 2],
    by_p: [f64; 2],
    by_ice: [f64; 2],
    by_lasting: [f64; 2],
    by_mass: [f64; 2],
}

/// What stays the same through one search.
struct Search<'a> {
    wall: &'a Wall,
    phase: Phase,
    yielding: bool,
    c: &'a Contents,
}

fn residual(search: &Search<'_>, (l, s): (PhasePoint, PhasePoint), t: f64, p: f64, ice: f64, given: f64) -> Residual {
    let &Search { wall, phase, yielding, c } = search;
    let water = c.mass - ice;
    let gauge = p - wall.ambient;
    let (lasting, lasting_p) = match wall.strength {
        Some(strength) if yielding => {
            let (share, slope) = strength.growth(gauge);
            (wall.volume * share, wall.volume * slope)
        }
        _ => (given, 0.0),
    };
    let (rubber, rubber_p, integral) = wall.rubber.at(gauge);
    let v0 = wall.volume;
    let volume = v0 * (1.0 + wall.expansion * (t - wall.reference) + wall.compliance * gauge) + rubber + lasting;
    let stretch =
        0.5 * v0 * wall.compliance * gauge * gauge + gauge * rubber - integral + v0 * wall.expansion * t * gauge;
    let energy = water * l.h + ice * s.h + c.air * (AIR_CV * (t - wall.reference) + AIR_GAS_CONSTANT * t)
        - gauge * volume
        + wall.heat_capacity * (t - wall.reference)
        + stretch;
    let pocket = c.air * AIR_GAS_CONSTANT * t / p;
    Residual {
        f: [energy - c.energy, water * l.v + ice * s.v + pocket - volume],
        by_t: [
            water * l.h_t + ice * s.h_t + c.air * (AIR_CV + AIR_GAS_CONSTANT) + wall.heat_capacity,
            water * l.v_t + ice * s.v_t + pocket / t - v0 * wall.expansion,
        ],
        by_p: [
            water * l.h_p + ice * s.h_p - volume - gauge * lasting_p + v0 * wall.expansion * t,
            water * l.v_p + ice * s.v_p - pocket / p - v0 * wall.compliance - rubber_p - lasting_p,
        ],
        by_ice: [s.h - l.h, s.v - l.v],
        by_lasting: [-gauge, -1.0],
        by_mass: if phase == Phase::Solid { [s.h, s.v] } else { [l.h, l.v] },
    }
}

/// Solves `a x + b y = r` for a pair of columns.
fn solve2(a: [f64; 2], b: [f64; 2], r: [f64; 2]) -> [f64; 2] {
    let det = a[0] * b[1] - a[1] * b[0];
    [(r[0] * b[1] - r[1] * b[0]) / det, (a[0] * r[1] - a[1] * r[0]) / det]
}

fn plus(a: [f64; 2], k: f64, b: [f64; 2]) -> [f64; 2] {
    [a[0] + k * b[0], a[1] + k * b[1]]
}

/// The state of a zone. `near` is a temperature (K) and pressure (Pa absolute) close by, from which the search starts; NaNs
/// in the result mean that no such state exists within the tables.
pub fn solve(wall: &Wall, phase: Phase, stretch: Stretch, c: &Contents, near: [f64; 2]) -> Point {
    let (held, yielding, given) = match stretch {
        Stretch::Elastic { lasting, .. } => (None, false, lasting),
        Stretch::Yielding => (None, true, 0.0),
        Stretch::Held { pressure, .. } => (Some(pressure), false, 0.0),
    };
    let equilibrium = phase == Phase::Equilibrium;
    let [mut t, mut p] = near;
    let (mut ice, mut lasting) = (ice_mass(phase, c.mass, c.ice), given);
    if equilibrium {
        ice = ice.max(0.0).min(c.mass);
    }
    if let Some(pressure) = held {
        p = pressure;
        if equilibrium {
            t = melting::inverse(p);
        }
    }
    let range = match phase {
        Phase::Solid => (table::COLDEST_ICE, 273.24),
        Phase::Liquid => table::LIQUID_RANGE,
        // Where the contents do not fill the zone its pressure lies below the triple point's 612 Pa: the melting curve goes
        // straight on to no pressure at all.
        Phase::Equilibrium => (table::LIQUID_RANGE.0, TRIPLE_TEMPERATURE + VOID),
        Phase::Growing(_) => (table::LIQUID_RANGE.0, 273.3),
    };
    let search = Search { wall, phase, yielding, c };
    for step in 0..MOST {
        t = t.clamp(range.0, range.1);
        let mut slope = 0.0;
        let mut v_t = [f64::NAN; 2];
        let (l, s) = if equilibrium {
            let curve = curve::at(t);
            if held.is_none() {
                (p, slope) = (curve.p, curve.slope);
            }
            v_t = [curve.liquid_v_t, curve.ice_v_t];
            (curve.liquid, curve.ice)
        } else {
            phases(phase, t, p)
        };
        let r = residual(&search, (l, s), t, p, ice, lasting);
        let first = if held.is_some() && equilibrium { r.by_ice } else { plus(r.by_t, slope, r.by_p) };
        let second = match (held.is_some(), equilibrium) {
            (true, _) => r.by_lasting,
            (false, true) => r.by_ice,
            (false, false) => r.by_p,
        };
        let [dx, dy] = solve2(first, second, r.f).map(|d| -d);
        if !(dx.is_finite() && dy.is_finite()) {
            break;
        }
        let (t_was, p_was) = (t, p);
        let mut done = true;
        if held.is_some() && equilibrium {
            ice += dx;
        } else {
            let limited = dx.clamp(-2.0, 2.0);
            t += limited;
            done &= limited.abs() < SMALL * t;
        }
        match (held.is_some(), equilibrium) {
            (true, _) => lasting += dy,
            (false, true) => {
                ice += dy;
                p += slope * (t - t_was);
                // A pocket of air bends as 1/p.
                done &= (p - p_was).abs() < 1e-5 * p_was;
            }
            (false, false) => {
                let next = p + dy;
                // A pocket of air makes the volume fall as 1/p: a step past zero is cut.
                let cut = next < 0.1 * p;
                p = if cut { 0.1 * p } else { next.min(p + 2e7) };
                done &= !cut && dy.abs() < SMALL * p + 1.0;
            }
        }
        // Both equations are linear to second order in what is left, so the last step needs no further look; but a search
        // that starts at its goal takes two.
        if done && step > 0 && t >= range.0 && t <= range.1 {
            let (dt, dp) = (t - t_was, p - p_was);
            let moved =
                |q: PhasePoint| PhasePoint { v: q.v + q.v_t * dt + q.v_p * dp, h: q.h + q.h_t * dt + q.h_p * dp, ..q };
            if !equilibrium {
                v_t = [l.v_t, s.v_t];
            }
            let slopes = slopes(&search, held.is_some(), &r, first, second, slope);
            let mut point = Point { t, p, ice, lasting, mass: c.mass, liquid: moved(l), solid: moved(s), v_t, slopes };
            if let (true, Some(strength)) = (yielding, wall.strength) {
                let (share, by_p) = strength.growth(p - wall.ambient);
                point.lasting = wall.volume * share;
                point.slopes[3] = slopes[1].map(|s| s * wall.volume * by_p);
            }
            return point;
        }
    }
    let n = f64::NAN;
    let none = PhasePoint { v: n, v_t: n, v_p: n, h: n, h_t: n, h_p: n };
    let (liquid, solid, v_t, slopes) = (none, none, [n; 2], [[n; 3]; 4]);
    Point { t: n, p: n, ice: n, lasting: n, mass: n, liquid, solid, v_t, slopes }
}

/// The slopes of the solution, from the matrix at it.
fn slopes(
    search: &Search<'_>,
    held: bool,
    r: &Residual,
    first: [f64; 2],
    second: [f64; 2],
    slope: f64,
) -> [[f64; 3]; 4] {
    let equilibrium = search.phase == Phase::Equilibrium;
    // Right-hand sides: energy enters the first equation as −1, mass and (where it is a state) ice by their own columns.
    let grown = if matches!(search.phase, Phase::Growing(_)) { r.by_ice } else { [0.0, 0.0] };
    let columns = [[-1.0, 0.0], r.by_mass, grown].map(|b| solve2(first, second, b.map(|x| -x)));
    let mut slopes = [[0.0; 3]; 4];
    for (k, [x, y]) in columns.into_iter().enumerate() {
        match (held, equilibrium) {
            (true, true) => (slopes[2][k], slopes[3][k]) = (x, y),
            (true, false) => (slopes[0][k], slopes[3][k]) = (x, y),
            (false, true) => (slopes[0][k], slopes[1][k], slopes[2][k]) = (x, slope * x, y),
            (false, false) => (slopes[0][k], slopes[1][k]) = (x, y),
        }
    }
    match search.phase {
        Phase::Solid => slopes[2] = [0.0, 1.0, 0.0],
        Phase::Growing(_) => slopes[2] = [0.0, 0.0, 1.0],
        _ => {}
    }
    slopes
}
