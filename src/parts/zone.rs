//! A zone: a closed space with water, a pocket of air and elastic walls. Its pressure follows from what is in it.
//!
//! ```text
//! V0 + C (P - Pa) + D  =  m_w v0 (1 - kappa (P - Pa))  +  m_a R T / (P - Pv)
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | V0 | volume at ambient pressure, parts in their reference position | m3 |
//! | C | compliance of walls and rubber | m3/Pa |
//! | D | volume that parts have moved out of the zone | m3 |
//! | m_w, m_a | masses of water and of air | kg |
//! | v0, kappa | specific volume and compressibility of water | m3/kg, 1/Pa |
//! | Pv | vapour pressure | Pa |
//!
//! The pocket is saturated: air at its partial pressure and vapour at Pv. The equation is a quadratic in `P - Pv` whose
//! positive root is the pressure, so a zone can neither fall below the vapour pressure nor lose its last compliance, and
//! the pressure is smooth in all its arguments as long as there is any air at all. The mass of vapour (17 g/m3 at 20 degC)
//! is counted neither as water nor as air. Source: ideal gas and Dalton's law; derived here.

use super::Fluid;
use crate::real::Real;

/// A space for water and air.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Zone {
    /// Volume at ambient pressure with all parts in their reference position, m3.
    pub volume: f64,
    /// Compliance of walls and rubber, m3/Pa.
    pub compliance: f64,
}

/// What a zone's contents come to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Contents<T> {
    /// Pressure, Pa absolute.
    pub pressure: T,
    /// Volume of the air pocket (air and vapour), m3.
    pub gas_volume: T,
    /// Volume of the zone, m3.
    pub volume: T,
}

impl<T: Real> Contents<T> {
    /// Share of the zone's volume that is liquid, 0 to 1.
    #[inline]
    pub fn liquid_share(&self) -> T {
        (-(self.gas_volume / self.volume) + 1.0).at_least(0.0).at_most(1.0)
    }
}

impl Zone {
    /// Pressure and volumes from the masses of water and air, kg, and the volume `displaced` by parts, m3.
    #[inline]
    pub fn contents<T: Real>(&self, fluid: &Fluid, water: T, air: T, displaced: T) -> Contents<T> {
        let v0 = 1.0 / fluid.density;
        let (pa, pv) = (fluid.ambient, fluid.vapour_pressure);
        let a = water * (v0 * fluid.compressibility) + self.compliance;
        // b = zone volume minus water volume, both at P = Pv.
        let b = displaced - water * (v0 * (1.0 + fluid.compressibility * (pa - pv))) + self.volume
            - self.compliance * (pa - pv);
        // The air of a pocket that has been swept away may stand a rounding error below nothing.
        let m = air.at_least(0.0) * fluid.air_rt();
        let root = (b * b + a * m * 4.0).sqrt();
        let partial = if b.value() > 0.0 { m * 2.0 / (root + b) } else { (root - b) / (a * 2.0) };
        let pressure = partial + pv;
        // The pocket is what the water leaves: b + a P', free of cancellation when there is much air.
        let gas_volume = if b.value() > 0.0 {
            b + a * partial
        } else if partial.value() > 0.0 {
            m / partial
        } else {
            T::constant(0.0)
        };
        let volume = displaced + (pressure - pa) * self.compliance + self.volume;
        Contents { pressure, gas_volume, volume }
    }

    /// Masses of water and air, kg, that hold `pressure` (Pa absolute, above the vapour pressure) with an air pocket of
    /// `gas_volume` m3.
    pub fn fill(&self, fluid: &Fluid, pressure: f64, gas_volume: f64, displaced: f64) -> (f64, f64) {
        let volume = self.volume + displaced + self.compliance * (pressure - fluid.ambient);
        let specific = (1.0 - fluid.compressibility * (pressure - fluid.ambient)) / fluid.density;
        let air = gas_volume * (pressure - fluid.vapour_pressure) / fluid.air_rt();
        ((volume - gas_volume).max(0.0) / specific, air)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    fn fluid() -> Fluid {
        Fluid {
            temperature: 293.15,
            ambient: 101_325.0,
            density: 998.2,
            compressibility: 1.0 / 2.18e9,
            viscosity: 1e-6,
            vapour_pressure: 2339.0,
        }
    }

    #[test]
    fn analytic_fill_and_contents_are_inverse() {
        let zone = Zone { volume: 120e-6, compliance: 1.5e-12 };
        for pressure in [5e3, 101_325.0, 6e5, 3e6] {
            for gas in [1e-9, 2e-6, 119e-6] {
                let (w, a) = zone.fill(&fluid(), pressure, gas, 3e-6);
                let c = zone.contents(&fluid(), w, a, 3e-6);
                assert_relative_eq!(c.pressure, pressure, max_relative = 1e-9);
                assert_relative_eq!(c.gas_volume, gas, max_relative = 1e-7);
            }
        }
    }

    #[test]
    fn analytic_a_zone_short_of_water_stands_at_vapour_pressure() {
        let zone = Zone { volume: 120e-6, compliance: 1.5e-12 };
        let c = zone.contents(&fluid(), 0.1, 0.0, 0.0);
        assert_relative_eq!(c.pressure, 2339.0, max_relative = 1e-12);
        // The walls have drawn in by C (Pa - Pv), the water has stretched by kappa (Pa - Pv).
        let walls = 1.5e-12 * (101_325.0 - 2339.0);
        let stretch = 0.1 / 998.2 * (101_325.0 - 2339.0) / 2.18e9;
        assert_relative_eq!(c.gas_volume, 120e-6 - walls - 0.1 / 998.2 - stretch, max_relative = 1e-6);
    }

    #[test]
    fn analytic_full_zone_follows_compliance_of_wall_and_water() {
        let zone = Zone { volume: 120e-6, compliance: 1.5e-12 };
        let (w, _) = zone.fill(&fluid(), 101_325.0, 0.0, 0.0);
        // 0.1 mL more: dP = dV / (C + V kappa).
        let c = zone.contents(&fluid(), w + 998.2 * 0.1e-6, 0.0, 0.0);
        let dp = 0.1e-6 / (1.5e-12 + 120.1e-6 / 2.18e9);
        assert_relative_eq!(c.pressure - 101_325.0, dp, max_relative = 2e-3);
    }
}
