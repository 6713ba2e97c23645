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
use crate::lanes::{Lanes, each};
use crate::real::Real;
use wide::f64x4;

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
    /// Share of the zone's volume that is liquid, 0 to 1.
    pub liquid_share: T,
}

/// The volumes that a zone's contents take.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Volumes<T> {
    /// Of the air pocket (air and vapour), m3.
    pub gas: T,
    /// Of the zone, m3.
    pub whole: T,
}

/// Pressure above the vapour pressure, volume of the pocket (a fraction) and of the zone, each with its slopes by the masses
/// of water and air and by the displaced volume.
struct Solved<V> {
    above: (V, [V; 3]),
    gas: ([V; 2], [V; 3]),
    whole: (V, [V; 3]),
    /// The pocket's share of the whole, as a numerator and a denominator that do not wait for the pressure.
    share: [V; 2],
}

impl<V: Lanes> Solved<V> {
    /// Liquid share with its slopes.
    #[inline(always)]
    fn liquid_share(&self) -> (V, [V; 3]) {
        let (zero, one) = (V::splat(0.0), V::splat(1.0));
        let (_, gas_by) = self.gas;
        let (whole, whole_by) = self.whole;
        let gas = self.share[0] / self.share[1];
        let per_whole = one / whole;
        let by = |k: usize| one.where_less(gas, zero, (gas * whole_by[k] - gas_by[k]) * per_whole);
        (one.where_less(gas, zero, one - gas), [by(0), by(1), by(2)])
    }
}

/// Zones by their volumes and compliances: one, or four side by side.
#[inline(always)]
fn solve<V: Lanes>(fluid: &Fluid, [volume, compliance]: [V; 2], [water, air, displaced]: [V; 3]) -> Solved<V> {
    let (zero, one) = (V::splat(0.0), V::splat(1.0));
    let (pa, pv) = (fluid.ambient, fluid.vapour_pressure);
    // With x = P - Pv: a x^2 + b x - m = 0.
    let [_, b_by_water, a_by_water] = fluid.derived.volume;
    let a = water * a_by_water + compliance;
    // b = zone volume minus water volume, both at P = Pv.
    let b = displaced - water * b_by_water + volume - compliance * (pa - pv);
    // The air of a pocket that has been swept away may stand a rounding error below nothing.
    let m = air.where_less(zero, zero, air) * fluid.air_rt();
    let m_by_air = air.where_less(zero, zero, V::splat(fluid.air_rt()));
    let root = (b * b + a * m * 4.0).sqrt();
    let (part, of) = (zero.where_less(b, m * 2.0, root - b), zero.where_less(b, root + b, a * 2.0));
    let x = part / of;
    // The slope of the quadratic is its root: (2 a x + b) dx = dm - x db - x^2 da.
    let per_root = zero.where_less(root, one / root, zero);
    let x_by = [(V::splat(b_by_water) - x * a_by_water) * x * per_root, m_by_air * per_root, -x * per_root];
    // The pocket is what the water leaves, b + a x, which is m / x: the first is free of cancellation when there is much
    // air. As a numerator and a denominator.
    let pressed = [zero.where_less(x, m, zero), zero.where_less(x, x, one)];
    let gas = [zero.where_less(b, b + a * x, pressed[0]), zero.where_less(b, one, pressed[1])];
    let gas_by = [a * x_by[0] + x * a_by_water - b_by_water, a * x_by[1], a * x_by[2] + 1.0];
    let whole = displaced + (x + (pv - pa)) * compliance + volume;
    let whole_by = [x_by[0] * compliance, x_by[1] * compliance, x_by[2] * compliance + 1.0];
    // The same with x = part / of: gas over whole, both times of.
    let rest = displaced + compliance * (pv - pa) + volume;
    let times_whole = rest * of + compliance * part;
    let gas_of = [zero.where_less(part, m * of * of, zero), zero.where_less(part, part * times_whole, one)];
    let share = [zero.where_less(b, b * of + a * part, gas_of[0]), zero.where_less(b, times_whole, gas_of[1])];
    Solved { above: (x, x_by), gas: (gas, gas_by), whole: (whole, whole_by), share }
}

/// Pressures and liquid shares of four zones side by side, as [`Zone::contents`] gives each.
#[inline(always)]
pub(crate) fn contents_of_four<T: Real>(
    zones: [&Zone; 4],
    fluid: &Fluid,
    [water, air, displaced]: [[&T; 4]; 3],
) -> [Contents<T>; 4] {
    let four = |x: &[&T; 4]| f64x4::new([x[0].value(), x[1].value(), x[2].value(), x[3].value()]);
    let sizes = [f64x4::new(zones.map(|z| z.volume)), f64x4::new(zones.map(|z| z.compliance))];
    let solved = solve(fluid, sizes, [four(&water), four(&air), four(&displaced)]);
    let (x, by) = solved.above;
    let (share, share_by) = solved.liquid_share();
    let (pressure, share) = ((x + fluid.vapour_pressure).to_array(), share.to_array());
    let (by, share_by) = (each(by), each(share_by));
    let inputs = |k: usize| [water[k], air[k], displaced[k]];
    let one = |k: usize| Contents::new([pressure[k], share[k]], inputs(k), [by[k], share_by[k]]);
    // Not by `from_fn`, which is not inlined here.
    [one(0), one(1), one(2), one(3)]
}

impl<T: Real> Contents<T> {
    /// From pressure and liquid share and their slopes by `inputs`.
    #[inline(always)]
    fn new(values: [f64; 2], inputs: [&T; 3], slopes: [[f64; 3]; 2]) -> Self {
        Contents {
            pressure: T::with_slopes(values[0], inputs, slopes[0]),
            liquid_share: T::with_slopes(values[1], inputs, slopes[1]),
        }
    }
}

impl Zone {
    #[inline(always)]
    fn solve(&self, fluid: &Fluid, inputs: [f64; 3]) -> Solved<f64> {
        solve(fluid, [self.volume, self.compliance], inputs)
    }

    /// Pressure and liquid share from the masses of water and air, kg, and the volume `displaced` by parts, m3.
    #[inline(always)]
    pub fn contents<T: Real>(&self, fluid: &Fluid, water: T, air: T, displaced: T) -> Contents<T> {
        let inputs = [&water, &air, &displaced];
        let solved = self.solve(fluid, inputs.map(|x| x.value()));
        let (x, by) = solved.above;
        let (share, share_by) = solved.liquid_share();
        Contents::new([x + fluid.vapour_pressure, share], inputs, [by, share_by])
    }

    /// The volumes of the same contents.
    #[inline]
    pub fn volumes<T: Real>(&self, fluid: &Fluid, water: T, air: T, displaced: T) -> Volumes<T> {
        let inputs = [&water, &air, &displaced];
        let Solved { gas: ([part, of], gas_by), whole: (whole, whole_by), .. } =
            self.solve(fluid, inputs.map(|x| x.value()));
        Volumes { gas: T::with_slopes(part / of, inputs, gas_by), whole: T::with_slopes(whole, inputs, whole_by) }
    }

    /// Masses of water and air, kg, as pressure and volumes have it: a balance is struck with these.
    pub fn weigh(&self, fluid: &Fluid, water: f64, air: f64, displaced: f64) -> (f64, f64) {
        let pressure = self.contents(fluid, water, air, displaced).pressure;
        let Volumes { gas, whole } = self.volumes(fluid, water, air, displaced);
        let specific = (1.0 - fluid.compressibility * (pressure - fluid.ambient)) / fluid.density;
        ((whole - gas) / specific, gas * (pressure - fluid.vapour_pressure) / fluid.air_rt())
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
    use crate::real::Dual;
    use approx::assert_relative_eq;

    fn fluid() -> Fluid {
        Fluid::with_properties(293.15, 101_325.0, 998.2, 1.0 / 2.18e9, 1e-6, 2339.0)
    }

    #[test]
    fn analytic_fill_and_contents_are_inverse() {
        let zone = Zone { volume: 120e-6, compliance: 1.5e-12 };
        for pressure in [5e3, 101_325.0, 6e5, 3e6] {
            for gas in [1e-9, 2e-6, 119e-6] {
                let (w, a) = zone.fill(&fluid(), pressure, gas, 3e-6);
                let c = zone.contents(&fluid(), w, a, 3e-6);
                let volumes = zone.volumes(&fluid(), w, a, 3e-6);
                assert_relative_eq!(c.pressure, pressure, max_relative = 1e-9);
                assert_relative_eq!(volumes.gas, gas, max_relative = 1e-7);
                assert_relative_eq!(c.liquid_share, 1.0 - gas / volumes.whole, max_relative = 1e-12);
            }
        }
    }

    /// To the last bit, whatever stands beside it: full, half empty, without air, short of water.
    #[test]
    fn analytic_four_zones_side_by_side_are_each_as_alone() {
        let fluid = fluid();
        let zones = [120e-6, 40e-6, 2e-3, 80e-6].map(|volume| Zone { volume, compliance: 1e-8 * volume });
        let (mut water, mut air) = ([0.0; 4], [0.0; 4]);
        for (k, (pressure, gas)) in [(5e5, 1e-9), (1.2e5, 2e-5), (9e5, 0.0), (5e3, 7e-5)].into_iter().enumerate() {
            (water[k], air[k]) = zones[k].fill(&fluid, pressure, gas, 1e-7);
        }
        air[3] = -1e-18;
        let displaced = [1e-7; 4];
        let states = [water.each_ref(), air.each_ref(), displaced.each_ref()];
        let four = contents_of_four(zones.each_ref(), &fluid, states);
        for k in 0..4 {
            assert_eq!(four[k], zones[k].contents(&fluid, water[k], air[k], displaced[k]), "{k}");
        }
    }

    #[test]
    fn analytic_slopes_match_central_differences() {
        let zone = Zone { volume: 120e-6, compliance: 1.5e-12 };
        for (pressure, gas) in [(101_325.0, 60e-6), (5e5, 1e-7), (3e6, 1e-9), (4e3, 30e-6)] {
            let (w, a) = zone.fill(&fluid(), pressure, gas, 3e-6);
            let dual = [Dual::<3>::variable(w, 0), Dual::variable(a, 1), Dual::variable(3e-6, 2)];
            let [water, air, displaced] = dual;
            let contents = zone.contents(&fluid(), water, air, displaced);
            let volumes = zone.volumes(&fluid(), water, air, displaced);
            let at = |w: f64, a: f64, d: f64| {
                let (c, v) = (zone.contents(&fluid(), w, a, d), zone.volumes(&fluid(), w, a, d));
                [c.pressure, v.gas, v.whole, c.liquid_share]
            };
            // Steps small against the pocket; the difference of volumes is that of 1e-4 m3.
            let steps = [1e-5 * gas * 1e3, 1e-4 * a, 1e-5 * gas];
            for k in 0..3 {
                let mut h = [0.0; 3];
                h[k] = steps[k];
                let (up, down) = (at(w + h[0], a + h[1], 3e-6 + h[2]), at(w - h[0], a - h[1], 3e-6 - h[2]));
                let difference = |i: usize| (up[i] - down[i]) / (2.0 * steps[k]);
                assert_relative_eq!(contents.pressure.eps[k], difference(0), max_relative = 1e-4);
                let volumes = [volumes.gas, volumes.whole];
                for (i, v) in volumes.iter().enumerate() {
                    let floor = 1e-3 * volumes[0].eps[0].abs().min(1.0);
                    assert_relative_eq!(v.eps[k], difference(1 + i), max_relative = 1e-4, epsilon = floor);
                }
                // The difference of shares near 1.
                let floor = 2.0 * f64::EPSILON / steps[k];
                let slope = contents.liquid_share.eps[k];
                assert_relative_eq!(slope, difference(3), max_relative = 1e-4, epsilon = floor);
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
        let gas = zone.volumes(&fluid(), 0.1, 0.0, 0.0).gas;
        assert_relative_eq!(gas, 120e-6 - walls - 0.1 / 998.2 - stretch, max_relative = 1e-6);
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
