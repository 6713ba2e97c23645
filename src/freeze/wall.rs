//! What encloses a zone: a metal tube that stretches, contracts and yields, and rubber with a largest volume.
//!
//! ```text
//! V(T,p) = V0 [1 + β (T−T0) + C π] + V_rubber(π) + V_lasting            π = p − p_ambient
//! V_rubber = ± V_max (1 − e^{−s|π|/V_max})                               slope s at π = 0
//! U(T,p) = C_m (T−T0) + V0 C π²/2 + (π V_rubber − ∫V_rubber dπ) + V0 β T π
//! ```
//!
//! U is the energy that belongs to V by the free energy whose slope by pressure is −V: heat of the metal, elastic work, and
//! the heat a stretched metal takes up (the last term). Lasting growth turns work into heat of the metal.

use crate::laws::cylinder::Cylinder;

/// Plateau of a wall that has yielded through: at this share of the outer radius the slope of growth is still finite; the
/// pressure is then short of collapse by 5e-6 of it.
const THROUGH: f64 = 0.999;

/// Strength of a tube without hardening.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Strength {
    /// The tube.
    pub tube: Cylinder,
    /// Yield strength, Pa.
    pub yield_strength: f64,
}

impl Strength {
    /// Pressure at which the bore first yields, Pa gauge.
    pub fn first_yield(&self) -> f64 {
        self.tube.first_yield(self.yield_strength)
    }

    /// Pressure of the plateau on which the wall grows without end, Pa gauge.
    pub fn plateau(&self) -> f64 {
        self.tube.pressure_at_plastic_radius(self.yield_strength, THROUGH * self.tube.outer)
    }

    /// Lasting growth per volume at `gauge` Pa and its slope, 1/Pa; beyond the plateau straight on, so that a step may end
    /// there before the plateau is found.
    pub fn growth(&self, gauge: f64) -> (f64, f64) {
        let c = self.tube.plastic_radius(self.yield_strength, gauge).min(THROUGH * self.tube.outer);
        if c <= self.tube.inner {
            return (0.0, 0.0);
        }
        let slope = self.tube.plastic_slope(self.yield_strength, c);
        let beyond = (gauge - self.plateau()).max(0.0);
        (self.tube.plastic_growth(self.yield_strength, c) + slope * beyond, slope)
    }
}

/// Rubber parts (seals, diaphragm) that give way up to a largest volume.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Rubber {
    /// Volume per pressure at ambient pressure, m³/Pa.
    pub slope: f64,
    /// Largest volume, m³.
    pub largest: f64,
}

impl Rubber {
    /// Volume, m³, its slope, m³/Pa, and its integral over pressure, J, at `gauge` Pa.
    pub fn at(&self, gauge: f64) -> (f64, f64, f64) {
        if !(self.slope > 0.0 && self.largest > 0.0) {
            return (0.0, 0.0, 0.0);
        }
        let scale = self.largest / self.slope;
        let away = (-gauge.abs() / scale).exp();
        let volume = self.largest * (1.0 - away);
        (volume.copysign(gauge), self.slope * away, self.largest * gauge.abs() - scale * volume)
    }
}

/// The wall of one zone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wall {
    /// Inner volume at `reference` K and ambient pressure, m³.
    pub volume: f64,
    /// Elastic growth per volume and pressure, 1/Pa; 0 for a rigid wall.
    pub compliance: f64,
    /// Cubic thermal expansion of the inner volume, 1/K.
    pub expansion: f64,
    /// Heat capacity of the metal, J/K.
    pub heat_capacity: f64,
    /// Temperature at which `volume` is stated, K.
    pub reference: f64,
    /// Ambient pressure, Pa absolute.
    pub ambient: f64,
    /// Rubber.
    pub rubber: Rubber,
    /// Strength; `None` never yields.
    pub strength: Option<Strength>,
}

/// How far a wall has yielded.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Stretch {
    /// Elastic, with this lasting growth, m³, until the pressure comes to this, Pa gauge.
    Elastic {
        /// Lasting growth, m³.
        lasting: f64,
        /// Pressure up to which the wall is elastic, Pa gauge.
        until: f64,
    },
    /// Yielding: the lasting growth follows the pressure.
    Yielding,
    /// At this pressure, Pa absolute, whatever the volume: yielded through, or open to the atmosphere.
    Held {
        /// Pressure, Pa absolute.
        pressure: f64,
        /// Whether it is the vent that holds it.
        open: bool,
    },
}

impl Wall {
    /// Rigid and without metal: the laws' own limit.
    pub fn rigid(volume: f64, reference: f64, ambient: f64) -> Self {
        let (compliance, expansion, heat_capacity) = (0.0, 0.0, 0.0);
        let (rubber, strength) = (Rubber::default(), None);
        Wall { volume, compliance, expansion, heat_capacity, reference, ambient, rubber, strength }
    }

    /// An elastic tube without rubber or heat capacity; `yield_strength` Pa, `None` never yields.
    pub fn tube(volume: f64, tube: Cylinder, yield_strength: Option<f64>, reference: f64, ambient: f64) -> Self {
        let strength = yield_strength.map(|yield_strength| Strength { tube, yield_strength });
        Wall { compliance: tube.compliance(), strength, ..Wall::rigid(volume, reference, ambient) }
    }

    /// Inner volume without lasting growth, m³.
    pub fn volume_at(&self, t: f64, p: f64) -> f64 {
        let gauge = p - self.ambient;
        self.volume * (1.0 + self.expansion * (t - self.reference) + self.compliance * gauge) + self.rubber.at(gauge).0
    }

    /// Energy of metal and rubber, J, counted from the reference state.
    pub fn energy_at(&self, t: f64, p: f64) -> f64 {
        let gauge = p - self.ambient;
        self.heat_capacity * (t - self.reference) + self.stretch_energy(t, gauge)
    }

    /// The part of [`Wall::energy_at`] that goes with pressure, J.
    pub fn stretch_energy(&self, t: f64, gauge: f64) -> f64 {
        let (rubber, _, integral) = self.rubber.at(gauge);
        0.5 * self.volume * self.compliance * gauge * gauge + gauge * rubber - integral
            + self.volume * self.expansion * t * gauge
    }

    /// The wall at the start of its life.
    pub fn fresh(&self) -> Stretch {
        Stretch::Elastic { lasting: 0.0, until: self.strength.map_or(f64::INFINITY, |s| s.first_yield()) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The solver looks a little beyond the plateau before it finds it: slope and growth must go together there, too.
    #[test]
    fn bug_growth_and_its_slope_go_together_beyond_the_plateau() {
        for outer in [0.0149, 0.0155] {
            let tube = Cylinder { inner: 0.0125, outer, modulus: 97e9, poisson: 0.34 };
            let s = Strength { tube, yield_strength: 97e6 };
            let p = s.plateau();
            for at in [p - 20.0, p + 20.0, p + 1e5] {
                let (low, high) = (s.growth(at - 10.0), s.growth(at + 10.0));
                assert!(((high.0 - low.0) / 20.0 / s.growth(at).1 - 1.0).abs() < 0.1, "{at}");
            }
        }
    }
}
