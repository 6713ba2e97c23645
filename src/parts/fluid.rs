//! Water and air at the temperature of a run.

use crate::laws::{constants, water};

/// Water and air at one temperature, with the constants the equations of a run need.
///
/// Specific volume of the water is taken linear in pressure, `v = v0 (1 - kappa (P - P0))`, about the ambient
/// pressure. Against IAPWS-95 that is wrong by `(K'+1)/2 (dP/K)^2`, 7e-6 at 3 MPa.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fluid {
    /// Temperature, K.
    pub temperature: f64,
    /// Ambient pressure, Pa absolute.
    pub ambient: f64,
    /// Density of water at ambient pressure, kg/m3.
    pub density: f64,
    /// Isothermal compressibility of water, 1/Pa.
    pub compressibility: f64,
    /// Kinematic viscosity of water, m2/s.
    pub viscosity: f64,
    /// Vapour pressure of water, Pa absolute.
    pub vapour_pressure: f64,
}

impl Fluid {
    /// Water at `temperature` (K, 273.15 to 313.15) and `ambient` pressure (Pa absolute), by IAPWS-95, SR1-86 and R12-08.
    pub fn new(temperature: f64, ambient: f64) -> Self {
        let density = water::density(temperature, ambient);
        Fluid {
            temperature,
            ambient,
            density,
            compressibility: 1.0 / water::isothermal_bulk_modulus(temperature, density),
            viscosity: water::dynamic_viscosity(temperature, density) / density,
            vapour_pressure: water::saturation_pressure(temperature),
        }
    }

    /// `R T` of air, J/kg.
    pub fn air_rt(&self) -> f64 {
        constants::AIR_GAS_CONSTANT * self.temperature
    }
}
