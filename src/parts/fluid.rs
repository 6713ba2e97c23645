//! Water and air at the temperature of a run.

use crate::laws::{constants, water};
use std::cell::Cell;

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
    /// What the equations make of these, worked out once.
    pub(crate) derived: Derived,
}

/// Constants that follow from those of a [`Fluid`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Derived {
    /// `R T` of air, J/kg.
    pub rt: f64,
    /// `1 / sqrt(R T)` of air.
    pub per_root_rt: f64,
    /// `sqrt(2 rho)` of water.
    pub root_density: f64,
    /// `1 / (rho R T)`.
    pub per_volume: f64,
    /// `R T / P` of air at ambient pressure, m3/kg.
    pub air_volume: f64,
    /// `1 / rho` of water at ambient pressure, m3/kg, at the vapour pressure, and its fall per Pa.
    pub volume: [f64; 3],
}

impl Fluid {
    /// Water at `temperature` (K, 273.15 to 313.15) and `ambient` pressure (Pa absolute), by IAPWS-95, SR1-86 and R12-08.
    pub fn new(temperature: f64, ambient: f64) -> Self {
        thread_local! {
            /// The last one made: the runs of a study share it.
            static LAST: Cell<Option<Fluid>> = const { Cell::new(None) };
        }
        if let Some(last) = LAST.get()
            && (last.temperature, last.ambient) == (temperature, ambient)
        {
            return last;
        }
        let density = water::density(temperature, ambient);
        let fluid = Fluid::with_properties(
            temperature,
            ambient,
            density,
            1.0 / water::isothermal_bulk_modulus(temperature, density),
            water::dynamic_viscosity(temperature, density) / density,
            water::saturation_pressure(temperature),
        );
        LAST.set(Some(fluid));
        fluid
    }

    /// Water of given properties, in the order of the fields.
    pub fn with_properties(
        temperature: f64,
        ambient: f64,
        density: f64,
        compressibility: f64,
        viscosity: f64,
        vapour_pressure: f64,
    ) -> Self {
        let rt = constants::AIR_GAS_CONSTANT * temperature;
        let v0 = 1.0 / density;
        let derived = Derived {
            rt,
            per_root_rt: 1.0 / rt.sqrt(),
            root_density: (2.0 * density).sqrt(),
            per_volume: 1.0 / (density * rt),
            air_volume: rt / ambient,
            volume: [v0, v0 * (1.0 + compressibility * (ambient - vapour_pressure)), v0 * compressibility],
        };
        Fluid { temperature, ambient, density, compressibility, viscosity, vapour_pressure, derived }
    }

    /// `R T` of air, J/kg.
    pub fn air_rt(&self) -> f64 {
        self.derived.rt
    }
}
