//! Dry air as an ideal gas.
//!
//! ```text
//! ρ = p/(R T),   m = p V/(R T)
//! ```
//!
//! R = 287.05 J/(kg K), γ = 1.4 (see [`super::constants`]). Real air departs by less than 0.1 % to 0.3 MPa and by less
//! than 0.6 % to 1 MPa at 0 to 40 °C (compressibility factor tables, from memory). Moisture is left out: saturated air at
//! 20 °C is 0.9 % lighter.

use super::constants::{AIR_GAMMA, AIR_GAS_CONSTANT};
use crate::real::Real;

/// Density, kg/m³, at `pressure` Pa absolute and `temperature` K.
#[inline]
pub fn density<T: Real>(pressure: T, temperature: f64) -> T {
    pressure * (1.0 / (AIR_GAS_CONSTANT * temperature))
}

/// Pressure, Pa absolute, of `mass` kg in `volume` m³ at `temperature` K.
#[inline]
pub fn pressure<T: Real>(mass: T, volume: T, temperature: f64) -> T {
    mass / volume * (AIR_GAS_CONSTANT * temperature)
}

/// Mass, kg, of air in `volume` m³ at `pressure` Pa absolute and `temperature` K.
pub fn mass(pressure: f64, volume: f64, temperature: f64) -> f64 {
    pressure * volume / (AIR_GAS_CONSTANT * temperature)
}

/// Speed of sound, m/s, at `temperature` K.
pub fn speed_of_sound(temperature: f64) -> f64 {
    (AIR_GAMMA * AIR_GAS_CONSTANT * temperature).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn ref_standard_atmosphere_at_sea_level() {
        // ISO 2533 / ICAO: 288.15 K, 101325 Pa, 1.225 kg/m³, 340.294 m/s.
        assert_relative_eq!(density(101_325.0, 288.15), 1.225, max_relative = 1e-4);
        assert_relative_eq!(speed_of_sound(288.15), 340.294, max_relative = 1e-5);
    }

    #[test]
    fn analytic_pressure_and_mass_are_inverse() {
        assert_relative_eq!(pressure(mass(2e5, 3e-4, 290.0), 3e-4, 290.0), 2e5, max_relative = 1e-14);
    }
}
