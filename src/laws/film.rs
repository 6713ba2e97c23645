//! Heat from a horizontal round body to the air: still air, wind, radiation, insulation.
//!
//! ```text
//! still   Nu_n = {0.60 + 0.387 Ra^{1/6} / [1 + (0.559/Pr)^{9/16}]^{8/27}}²
//! wind    Nu_f = 0.3 + 0.62 Re^{1/2} Pr^{1/3} / [1 + (0.4/Pr)^{2/3}]^{1/4} · [1 + (Re/282000)^{5/8}]^{4/5}
//! both    Nu³ = Nu_n³ + Nu_f³
//! sky     h_r = ε σ (T² + T_a²)(T + T_a)
//! ```
//!
//! Source: S. W. Churchill, H. H. S. Chu (1975) and S. W. Churchill, M. Bernstein (1977), as in Incropera & DeWitt,
//! *Fundamentals of Heat and Mass Transfer*, ch. 7 and 9; within about 20 % by the authors. Air at one atmosphere: U.S.
//! Standard Atmosphere 1976, viscosity and conductivity. The sky is taken as warm as the air.

use super::constants::{AIR_GAS_CONSTANT, STANDARD_ATMOSPHERE, STANDARD_GRAVITY};
use crate::real::Real;

/// Stefan-Boltzmann constant, W/(m² K⁴) (CODATA, exact since 2019).
pub const STEFAN_BOLTZMANN: f64 = 5.670_374_419e-8;
/// Specific heat of air at constant pressure, J/(kg K) (ideal diatomic gas, 7/2 R).
const AIR_CP: f64 = 3.5 * AIR_GAS_CONSTANT;
/// Conductivity of closed-cell foam, W/(m K) (handbook range 0.03 to 0.04, from memory).
pub const FOAM_CONDUCTIVITY: f64 = 0.035;

/// Viscosity (Pa s) and conductivity (W/(m K)) of air at `temperature` K.
pub fn air_transport<T: Real>(temperature: T) -> (T, T) {
    let root = temperature * temperature.sqrt();
    let viscosity = root * 1.458e-6 / (temperature + 110.4);
    let tail = (T::constant(-12.0 * std::f64::consts::LN_10) / temperature).exp() * 245.4;
    (viscosity, root * 2.648_151e-3 / (temperature + tail))
}

/// What surrounds a horizontal cylinder.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Film {
    /// Outer diameter, m.
    pub diameter: f64,
    /// Emissivity of the surface.
    pub emissivity: f64,
    /// Thickness of foam around it, m.
    pub insulation: f64,
}

impl Film {
    /// Convection alone, W/(m² K), from a surface at `surface` K to air at `air` K that moves at `wind` m/s, for an outer
    /// diameter of `diameter` m.
    pub fn convection<T: Real>(diameter: f64, surface: T, air: T, wind: T) -> T {
        let mean = (surface + air) * 0.5;
        let (viscosity, conductivity) = air_transport(mean);
        let density = T::constant(STANDARD_ATMOSPHERE / AIR_GAS_CONSTANT) / mean;
        let kinematic = viscosity / density;
        let prandtl = viscosity * AIR_CP / conductivity;
        // Half a kelvin is kept so that the sixth root has a slope where surface and air are alike.
        let difference = ((surface - air) * (surface - air) + 0.25).sqrt();
        let rayleigh = difference * (STANDARD_GRAVITY * diameter.powi(3)) / mean / (kinematic * kinematic) * prandtl;
        let still = rayleigh.powf(1.0 / 6.0) * 0.387
            / ((T::constant(0.559) / prandtl).powf(9.0 / 16.0) + 1.0).powf(8.0 / 27.0)
            + 0.60;
        let still = still * still;
        if !(wind.value() > 0.0) {
            return still * conductivity / diameter;
        }
        let reynolds = wind * diameter / kinematic;
        let forced = (reynolds + 1e-12).sqrt() * prandtl.powf(1.0 / 3.0) * 0.62
            / ((T::constant(0.4) / prandtl).powf(2.0 / 3.0) + 1.0).powf(0.25)
            * ((reynolds * (1.0 / 282_000.0) + 1e-300).powf(0.625) + 1.0).powf(0.8)
            + 0.3;
        (still * still * still + forced * forced * forced).powf(1.0 / 3.0) * conductivity / diameter
    }

    /// Radiation, W/(m² K), between a surface at `surface` K and surroundings at `air` K.
    pub fn radiation<T: Real>(emissivity: f64, surface: T, air: T) -> T {
        (surface * surface + air * air) * (surface + air) * (emissivity * STEFAN_BOLTZMANN)
    }

    /// Overall coefficient, W/(m² K) of the bare outer surface. The surface is taken as warm as the body; under insulation
    /// it is a little cooler, which changes the coefficient by a few per cent.
    pub fn overall<T: Real>(&self, body: T, air: T, wind: T) -> T {
        let outer = self.diameter + 2.0 * self.insulation;
        let film = Self::convection(outer, body, air, wind) + Self::radiation(self.emissivity, body, air);
        if !(self.insulation > 0.0) {
            return film;
        }
        let foam = 0.5 * self.diameter * (outer / self.diameter).ln() / FOAM_CONDUCTIVITY;
        T::constant(1.0) / (T::constant(self.diameter / outer) / film + foam)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn ref_air_at_300_k() {
        // Incropera & DeWitt, Table A.4 (from memory): 184.6e-7 Pa s, 26.3e-3 W/(m K).
        let (viscosity, conductivity) = air_transport(300.0);
        assert_relative_eq!(viscosity, 184.6e-7, max_relative = 5e-3);
        assert_relative_eq!(conductivity, 26.3e-3, max_relative = 1e-2);
    }

    #[test]
    fn ref_steam_pipe_in_still_air_and_rod_in_wind() {
        // Incropera & DeWitt (from memory): Example 9.4, 0.1 m pipe at 165 °C in air of 23 °C, Nu = 23.3 and
        // k = 0.0313 W/(m K), that is 325 W/m or 7.29 W/(m² K); Example 7.4, 12.7 mm cylinder at 128.4 °C in air of 26.2 °C
        // at 10 m/s, 96 W/(m² K). Properties there are read from a table and free convection is left out: 3 %.
        assert_relative_eq!(Film::convection(0.1, 438.15, 296.15, 0.0), 7.29, max_relative = 0.03);
        assert_relative_eq!(Film::convection(0.0127, 401.55, 299.35, 10.0), 96.0, max_relative = 0.03);
    }

    #[test]
    fn analytic_insulation_alone_is_the_log_law() {
        // So much wind that only the foam is left: k/(r ln(R/r)).
        let film = Film { diameter: 0.03, emissivity: 0.0, insulation: 0.02 };
        let foam = FOAM_CONDUCTIVITY / (0.015 * (0.035f64 / 0.015).ln());
        assert_relative_eq!(film.overall(273.0, 263.0, 1e6), foam, max_relative = 1e-3);
    }
}
