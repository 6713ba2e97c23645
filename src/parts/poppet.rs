//! A poppet: the one moving part behind check, air inlet and relief.

use super::{Fluid, Load};
use crate::laws::{friction, orifice, seal};
use crate::real::{Real, through};

/// Where a poppet stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Stand {
    /// On its seat.
    Sealed,
    /// Between seat and stop.
    Moving,
    /// Fully open, at its stop.
    AtStop,
}

/// Speed at which Coulomb friction is fully developed, m/s. Larger makes a held part creep, smaller is stiffer.
pub const FRICTION_SPEED: f64 = 1e-4;

/// A disc that meets its seat is held off it by its roughness until it is pressed down: the gap, m, that still leaks while
/// the part counts as moving. It lets a part reach its seat against the water it squeezes out (estimate).
pub const TOUCH_GAP: f64 = 1e-6;

/// How much a worn seat widens: its radius grows by this many times the depth of wear (estimate: a flank of 17 degrees to
/// the axis, whose tangent this is).
pub const WEAR_WIDENING: f64 = 0.3;

/// Geometry and laws of a poppet. Travel is measured from the sealed position, positive open.
#[derive(Debug, Clone, PartialEq)]
pub struct Poppet {
    /// Sealing diameter, m, wear counted.
    pub seat_diameter: f64,
    /// Open area of the port under the seat, m2.
    pub port_area: f64,
    /// Travel from the sealed position to the stop, m, wear counted.
    pub lift: f64,
    /// Moving mass, kg.
    pub mass: f64,
    /// Static load in the upright position, against travel from the as-new sealed position.
    pub load: Load,
    /// +1 if the load opens the part (air inlet), -1 if it shuts it (check).
    pub load_sign: f64,
    /// Factor on the loading element's force (1 = as new).
    pub load_factor: f64,
    /// Component of the weight along opening travel in the mounting of the run, N, and in the upright position.
    pub weight: f64,
    /// The same in the upright position, where [`Poppet::load`] was stated.
    pub weight_upright: f64,
    /// Depth of seat wear, m: the sealed position lies this much deeper than as new.
    pub wear: f64,
    /// Coulomb friction, N.
    pub friction: f64,
    /// Force that must be overcome once to leave the seat, N.
    pub adhesion: f64,
    /// Viscous damping, N s/m.
    pub damping: f64,
    /// Discharge coefficient of the opening.
    pub discharge_coefficient: f64,
    /// Flow force: times momentum flux through the port, over two.
    pub drag_coefficient: f64,
    /// Leak area of the seat when nothing presses on it, m2.
    pub leak_area: f64,
    /// Area held open by debris whatever the part does, m2.
    pub foul_area: f64,
    /// Discharge coefficient of that area.
    pub foul_coefficient: f64,
    /// Discharge coefficient of air over that of water: sealed (foul and leak), open.
    pub air_ratio: [f64; 2],
}

impl Poppet {
    /// Sealing area, m2.
    #[inline]
    pub fn seat_area(&self) -> f64 {
        std::f64::consts::FRAC_PI_4 * self.seat_diameter * self.seat_diameter
    }

    /// Force of the loading element along opening travel, N (its weight share of the stated load taken out), at travel
    /// `x` m and speed `v` m/s (speed chooses the branch).
    #[inline]
    pub fn load_force<T: Real>(&self, x: T, v: T) -> T {
        let [force] = through!([x, v], |[x, v]| {
            let (mean, half) = self.load.branches(x - self.wear);
            let total =
                if half.value() == 0.0 { mean } else { mean + friction::coulomb(v, 1.0, FRICTION_SPEED) * half };
            // The element can push, never pull.
            let element = (total - self.load_sign * self.weight_upright).at_least(0.0);
            [element * (self.load_sign * self.load_factor)]
        });
        force
    }

    /// Static force along opening travel of load and weight at `x`, N, without friction, on the branch for opening (`true`) or closing.
    pub fn static_force(&self, x: f64, opening: bool) -> f64 {
        self.load_force(x, if opening { 1.0 } else { -1.0 }) + self.weight
    }

    /// The greatest static force along opening travel, N, on the way from the stop to the seat: at the seat unless the load
    /// rises and falls.
    pub fn hardest_closing(&self) -> f64 {
        let sealed = self.static_force(0.0, false);
        match &self.load {
            Load::Linear { rate, .. } if *rate <= 0.0 => sealed,
            _ => (1..=64).map(|i| self.static_force(self.lift * f64::from(i) / 64.0, false)).fold(sealed, f64::max),
        }
    }

    /// Friction against motion at speed `v`, N (Coulomb and viscous).
    #[inline]
    pub fn friction_force<T: Real>(&self, v: T) -> T {
        friction::coulomb(v, self.friction, FRICTION_SPEED) + v * self.damping
    }

    /// Effective flow area (discharge coefficient counted), m2, at travel `x` in the given stand; `seating` is the
    /// pressure, Pa, with which a sealed disc is pressed on its seat.
    #[inline]
    pub fn effective_area<T: Real>(&self, stand: Stand, x: T, seating: T) -> T {
        let cd = self.discharge_coefficient;
        let foul = self.foul_coefficient * self.foul_area;
        match stand {
            Stand::Sealed if self.leak_area == 0.0 => T::constant(foul),
            Stand::Sealed => seal::leak_area(self.leak_area, seating, seal::LEAK_REFERENCE_PRESSURE) * cd + foul,
            Stand::Moving => {
                orifice::curtain_area(self.seat_diameter, x + TOUCH_GAP, self.port_area) * cd
                    + (cd * self.leak_area + foul)
            }
            Stand::AtStop => {
                orifice::curtain_area(self.seat_diameter, x, self.port_area) * cd + (cd * self.leak_area + foul)
            }
        }
    }

    /// The same in series with the effective area `other`, m2: one root for curtain, port and that area unless something
    /// leaks past the first two.
    #[inline]
    pub fn effective_area_behind<T: Real>(&self, other: f64, stand: Stand, x: T, seating: T) -> T {
        if stand == Stand::Sealed || self.leak_area > 0.0 || self.foul_area > 0.0 {
            return orifice::series_area(self.effective_area(stand, x, seating), T::constant(other));
        }
        let cd = self.discharge_coefficient;
        let gap = if stand == Stand::Moving { TOUCH_GAP } else { 0.0 };
        orifice::series_area_of_three(orifice::curtain(self.seat_diameter, x + gap) * cd, self.port_area * cd, other)
    }

    /// Force of a flow of `water` and `air`, kg/s, along the flow, N: half the momentum flux through the seat area times the
    /// drag coefficient, `c (m_w |m_w|/rho_w + m_a |m_a|/rho_a) / (2 A_seat)`, the air's density at ambient pressure.
    #[inline]
    pub fn flow_force<T: Real>(&self, fluid: &Fluid, water: T, air: T) -> T {
        let per_area = 0.5 * self.drag_coefficient / self.seat_area();
        let (per_water, per_air) = (per_area * fluid.derived.volume[0], per_area * fluid.derived.air_volume);
        let (w, a) = (water.value(), air.value());
        let force = w * w.abs() * per_water + a * a.abs() * per_air;
        T::with_slopes(force, [&water, &air], [2.0 * w.abs() * per_water, 2.0 * a.abs() * per_air])
    }
}
