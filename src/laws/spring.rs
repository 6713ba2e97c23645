//! Springs: straight helical and conical.
//!
//! ```text
//! helical   k = G d⁴/(8 D³ n),   τ = K 8 F D/(π d³),   C = D/d
//!           Wahl K = (4C−1)/(4C−4) + 0.615/C,   Bergsträsser K = (4C+2)/(4C−3)
//! conical   k = G d⁴/[2n(D₁²+D₂²)(D₁+D₂)]                             F ≤ F_T = G d⁴ (L_a−L_s)/(8 D₂³ n)
//!           s = 2Fn(D_T⁴−D₁⁴)/[G d⁴(D₂−D₁)] + (L_a−L_s)(1−n_f/n)      F_T ≤ F ≤ F_C = G d⁴ (L_a−L_s)/(8 D₁³ n)
//!           D_T³ = G d⁴(L_a−L_s)/(8Fn),   n_f = n(D_T−D₁)/(D₂−D₁)
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | G, d | shear modulus, wire diameter | Pa, m |
//! | D, n | mean coil diameter, active coils | m, 1 |
//! | D₁, D₂ | mean diameter of the smallest and largest active coil | m |
//! | L_a, L_s | active length free and solid | m |
//! | D_T, n_f | diameter of the coil about to bottom, coils still free | m, 1 |
//!
//! Sources: helical forms as in Shigley, *Mechanical Engineering Design*, and EN 13906-1 (from memory), good for
//! 4 < C < 20. Conical (constant pitch, diameter linear in the coil number): Rodriguez, Paredes & Sartor, J. Mech. Des.
//! 128 (2006) 1352 (from memory), rederived from 8FD³/(Gd⁴) per coil with coils bottoming from the largest.

use std::f64::consts::PI;

/// Shear modulus of stainless spring wire (EN 10270-3, 1.4310), Pa; from memory, ±5 %.
pub const STAINLESS_SHEAR_MODULUS: f64 = 73.0e9;

/// Shear modulus of plain carbon spring wire, Pa; from memory, ±3 %.
pub const CARBON_STEEL_SHEAR_MODULUS: f64 = 79.3e9;

/// Wahl's stress factor for a spring index C above 1.
pub fn wahl_factor(index: f64) -> f64 {
    (4.0 * index - 1.0) / (4.0 * index - 4.0) + 0.615 / index
}

/// Bergsträsser's stress factor for a spring index C above 1 (the one of EN 13906-1).
pub fn bergstrasser_factor(index: f64) -> f64 {
    (4.0 * index + 2.0) / (4.0 * index - 3.0)
}

/// Which factor corrects the shear stress for the curvature of the wire.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StressFactor {
    /// [`wahl_factor`].
    Wahl,
    /// [`bergstrasser_factor`].
    Bergstrasser,
}

impl StressFactor {
    /// The factor at spring index C above 1.
    pub fn at(self, index: f64) -> f64 {
        match self {
            StressFactor::Wahl => wahl_factor(index),
            StressFactor::Bergstrasser => bergstrasser_factor(index),
        }
    }
}

/// A straight helical compression spring of round wire.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HelicalSpring {
    /// Wire diameter d, m.
    pub wire: f64,
    /// Mean coil diameter D, m.
    pub mean_diameter: f64,
    /// Active coils.
    pub active_coils: f64,
    /// Coils in all, including the dead ones at the ends.
    pub total_coils: f64,
    /// Shear modulus, Pa.
    pub shear_modulus: f64,
}

impl HelicalSpring {
    /// Rate, N/m.
    pub fn rate(&self) -> f64 {
        self.shear_modulus * self.wire.powi(4) / (8.0 * self.mean_diameter.powi(3) * self.active_coils)
    }

    /// Spring index C = D/d.
    pub fn index(&self) -> f64 {
        self.mean_diameter / self.wire
    }

    /// Largest shear stress, Pa, at `load` N.
    pub fn shear_stress(&self, load: f64, factor: StressFactor) -> f64 {
        factor.at(self.index()) * 8.0 * load * self.mean_diameter / (PI * self.wire.powi(3))
    }

    /// Load, N, at which the shear stress reaches `stress` Pa.
    pub fn load_at_stress(&self, stress: f64, factor: StressFactor) -> f64 {
        stress / self.shear_stress(1.0, factor)
    }

    /// Height with all coils touching, m: `total_coils · d`, ends squared and ground. Unground ends add one wire.
    pub fn solid_height(&self) -> f64 {
        self.total_coils * self.wire
    }
}

/// Wire diameter, m, that keeps Wahl's stress at `stress` Pa under `load` N at spring index `index`.
pub fn wire_for_stress(load: f64, index: f64, stress: f64) -> f64 {
    (wahl_factor(index) * 8.0 * load * index / (PI * stress)).sqrt()
}

/// Active coils for a deflection of `deflection` m under `load` N.
pub fn active_coils_for_deflection(
    load: f64,
    deflection: f64,
    wire: f64,
    mean_diameter: f64,
    shear_modulus: f64,
) -> f64 {
    shear_modulus * wire.powi(4) * deflection / (8.0 * load * mean_diameter.powi(3))
}

/// A conical compression spring: constant pitch, mean diameter linear in the coil number. Linear until the largest coil
/// lies on its seat or neighbour, then stiffening coil by coil.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ConicalSpring {
    /// Wire diameter d, m.
    pub wire: f64,
    /// Mean diameter of the smallest active coil D₁, m.
    pub small_diameter: f64,
    /// Mean diameter of the largest active coil D₂, m; not equal to D₁.
    pub large_diameter: f64,
    /// Active coils n.
    pub active_coils: f64,
    /// Free length of the active coils L_a, m.
    pub free_length: f64,
    /// Shear modulus, Pa.
    pub shear_modulus: f64,
}

impl ConicalSpring {
    /// Solid length of the active coils L_s, m: 0 when they telescope, `(D₂−D₁)/(2n) ≥ d`.
    pub fn solid_length(&self) -> f64 {
        let step = (self.large_diameter - self.small_diameter) / (2.0 * self.active_coils);
        if step >= self.wire { 0.0 } else { self.active_coils * (self.wire * self.wire - step * step).sqrt() }
    }

    /// Deflection available L_a − L_s, m.
    pub fn available_deflection(&self) -> f64 {
        self.free_length - self.solid_length()
    }

    fn stiffness(&self) -> f64 {
        self.shear_modulus * self.wire.powi(4)
    }

    /// Rate before any coil bottoms, N/m.
    pub fn initial_rate(&self) -> f64 {
        let (small, large) = (self.small_diameter, self.large_diameter);
        self.stiffness() / (2.0 * self.active_coils * (small * small + large * large) * (small + large))
    }

    fn bottoming_load(&self, diameter: f64) -> f64 {
        self.stiffness() * self.available_deflection() / (8.0 * diameter.powi(3) * self.active_coils)
    }

    /// Load F_T at which the largest coil bottoms, N.
    pub fn first_bottoming_load(&self) -> f64 {
        self.bottoming_load(self.large_diameter)
    }

    /// Load F_C at which the last coil bottoms, N.
    pub fn full_bottoming_load(&self) -> f64 {
        self.bottoming_load(self.small_diameter)
    }

    /// Deflection, m, under `load` N; L_a − L_s at F_C and above. Negative loads give the linear law.
    pub fn deflection(&self, load: f64) -> f64 {
        if load <= self.first_bottoming_load() {
            return load / self.initial_rate();
        }
        if load >= self.full_bottoming_load() {
            return self.available_deflection();
        }
        let (small, large, n) = (self.small_diameter, self.large_diameter, self.active_coils);
        let bottoming = (self.stiffness() * self.available_deflection() / (8.0 * load * n)).cbrt();
        let free_share = (bottoming - small) / (large - small);
        let free = 2.0 * load * n * (bottoming.powi(4) - small.powi(4)) / (self.stiffness() * (large - small));
        free + self.available_deflection() * (1.0 - free_share)
    }

    /// Load, N, at `deflection` m (negative gives the linear law). F_C when fully down, infinite beyond; NaN when the
    /// spring's numbers describe none.
    pub fn load(&self, deflection: f64) -> f64 {
        let (mut low, mut high) = (self.first_bottoming_load(), self.full_bottoming_load());
        if deflection <= low / self.initial_rate() {
            return deflection * self.initial_rate();
        }
        if deflection > self.available_deflection() {
            return f64::INFINITY;
        }
        if !(low < high && deflection.is_finite()) {
            return f64::NAN;
        }
        // Bisection on the bottoming branch, which rises from F_T to F_C: halves until the ends are neighbours.
        for _ in 0..200 {
            let middle = 0.5 * (low + high);
            if middle <= low || middle >= high {
                break;
            }
            if self.deflection(middle) < deflection {
                low = middle;
            } else {
                high = middle;
            }
        }
        high
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    fn cone(active_coils: f64, free_length: f64) -> ConicalSpring {
        ConicalSpring {
            wire: 1e-3,
            small_diameter: 8e-3,
            large_diameter: 16e-3,
            active_coils,
            free_length,
            shear_modulus: CARBON_STEEL_SHEAR_MODULUS,
        }
    }

    /// Deflection by adding up coil slices, each 8FD³/(Gd⁴) per coil but no more than its share of L_a − L_s.
    fn by_slices(spring: &ConicalSpring, load: f64) -> f64 {
        let slices = 200_000;
        let share = 1.0 / f64::from(slices);
        let stiffness = spring.shear_modulus * spring.wire.powi(4);
        (0..slices)
            .map(|i| {
                let d = spring.small_diameter
                    + (spring.large_diameter - spring.small_diameter) * (f64::from(i) + 0.5) * share;
                let free = 8.0 * load * d.powi(3) / stiffness * spring.active_coils * share;
                free.min(spring.available_deflection() * share)
            })
            .sum()
    }

    #[test]
    fn analytic_conical_deflection_equals_the_sum_over_coils() {
        for spring in [cone(6.0, 0.020), cone(3.5, 0.015)] {
            let last = spring.full_bottoming_load();
            for part in [0.05, 0.13, 0.3, 0.6, 0.95, 1.0, 1.5] {
                assert_relative_eq!(
                    spring.deflection(part * last),
                    by_slices(&spring, part * last),
                    max_relative = 1e-8
                );
            }
        }
    }

    #[test]
    fn analytic_conical_load_inverts_deflection() {
        let spring = cone(6.0, 0.020);
        for i in 1..100 {
            let s = spring.available_deflection() * f64::from(i) / 100.0;
            assert_relative_eq!(spring.deflection(spring.load(s)), s, max_relative = 1e-13);
        }
        assert_relative_eq!(spring.load(-1e-3), -1e-3 * spring.initial_rate(), max_relative = 1e-15);
        assert!(spring.load(0.03).is_infinite());
        assert!(spring.load(f64::NAN).is_nan());
        assert!(cone(f64::NAN, 0.02).load(0.001).is_nan());
    }

    #[test]
    fn ref_bhandari_example_after_rounding_up_the_wire() {
        // Bhandari, Design of Machine Elements, example 10.1: d 7 mm, C 6, 8 coils; 41.20 N/mm.
        let spring = HelicalSpring {
            wire: 7e-3,
            mean_diameter: 42e-3,
            active_coils: 8.0,
            total_coils: 10.0,
            shear_modulus: 81_370e6,
        };
        assert_relative_eq!(spring.rate(), 41_203.0, max_relative = 1e-5);
        assert_relative_eq!(spring.solid_height(), 0.070, max_relative = 1e-14);
        for factor in [StressFactor::Wahl, StressFactor::Bergstrasser] {
            let load = spring.load_at_stress(500e6, factor);
            assert_relative_eq!(spring.shear_stress(load, factor), 500e6, max_relative = 1e-14);
        }
    }
}
