//! Flow through openings: liquid, air, areas in series, and flow coefficients.
//!
//! ```text
//! liquid   m = A √(2ρ) Δp / (Δp² + Δp_lam²)^¼          → A √(2ρΔp) when |Δp| ≫ Δp_lam
//! air      m = A p_up ψ(r) / √(R T),  r = p_down/p_up
//!          ψ² = 2γ/(γ−1) (r^(2/γ) − r^((γ+1)/γ))         r > r_c
//!          ψ² = γ (2/(γ+1))^((γ+1)/(γ−1))                r ≤ r_c = (2/(γ+1))^(γ/(γ−1))
//! series   1/A² = 1/A₁² + 1/A₂²
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | A | effective area: discharge coefficient times area | m² |
//! | Δp | pressure difference, signed | Pa |
//! | Δp_lam | pressure difference of the laminar transition | Pa |
//! | ψ | flow function | 1 |
//! | R, γ | gas constant and specific-heat ratio of air | J/(kg K), 1 |
//!
//! Source: orifice equation and isentropic nozzle as in any text of fluid mechanics (Munson, Young & Okiishi,
//! *Fundamentals of Fluid Mechanics*, ch. 8 and 11). Neither has a term for the approach velocity.

use super::constants::AIR_GAS_CONSTANT;
use crate::lanes::Lanes;
use crate::real::{Real, through};

/// Reynolds number (bore velocity, equivalent diameter) at which the laminar and the turbulent asymptotes of a
/// sharp-edged opening meet: (C_d/δ)² with C_d = 0.61 and δ = 0.2, H. E. Merritt, *Hydraulic Control Systems* (1967),
/// ch. 3 (from memory). Larger values soften the law near zero, smaller ones sharpen it.
pub const TRANSITION_REYNOLDS: f64 = 9.3;

/// Below this relative pressure difference δ the factor √δ of the air law is replaced by the odd quintic in δ that meets
/// it with two derivatives; the rest of the law stays.
///
/// About 10 Pa (1 mm of water) at one atmosphere. Cost: inside the band the flow is too small (10 % at half of it, more
/// below), which is the same as a pressure difference too large by at most 0.135 of the band (1.4 Pa at one atmosphere)
/// for the same flow. Outside the band the law is exact.
pub const GAS_SMOOTHING: f64 = 1e-4;

/// m³/h per √bar in one US gal/min per √psi: Kv = 0.86498 Cv (from the definitions of gallon and pound-force per
/// square inch: 3.785411784e-3 m³ × 60 × √(100000/6894.757293168361)).
pub const KV_PER_CV: f64 = 0.864_977_655_442_301_8;

// γ = 7/5: with x = r^(2/7), ψ² = 7 x⁵ (1 − x), and x = 5/6 at the critical ratio.
/// (5/6)^3.5
const CRITICAL_RATIO: f64 = 0.528_281_787_717_174_2;
/// √(7 (5/6)⁵ / 6)
const CHOKED_PSI: f64 = 0.684_731_456_377_270_5;

/// Mass flow of liquid, kg/s, with the sign of `dp`.
///
/// `effective_area` m², `dp` Pa, `density` kg/m³, `laminar_dp` Pa (see [`laminar_dp`]; 0 gives the plain square root).
/// Smooth through zero; below the square-root law by (Δp_lam/Δp)²/4, that is 0.25 % at ten times `laminar_dp`.
#[inline]
pub fn liquid<T: Real>(effective_area: T, dp: T, density: f64, laminar_dp: f64) -> T {
    effective_area * dp * ((2.0 * density).sqrt()) / quarter_root(dp, laminar_dp)
}

/// `(dp^2 + laminar_dp^2)^(1/4)`, Pa^(1/2), never zero.
#[inline]
pub(crate) fn quarter_root<T: Real>(dp: T, laminar_dp: f64) -> T {
    let floor = (laminar_dp * laminar_dp).max(f64::MIN_POSITIVE);
    (dp * dp + floor).sqrt().sqrt()
}

/// Pressure difference, Pa, at which the opening passes [`TRANSITION_REYNOLDS`]: `ρ/2 (Re ν / (C_d d))²`, d the diameter
/// of a circle of the same area.
///
/// `density` kg/m³, `kinematic_viscosity` m²/s, `cd` discharge coefficient, `area` m² (not effective). Not finite for a
/// closed opening: floor the area.
pub fn laminar_dp(density: f64, kinematic_viscosity: f64, cd: f64, area: f64) -> f64 {
    let diameter = (4.0 * area / std::f64::consts::PI).sqrt();
    let velocity_head = TRANSITION_REYNOLDS * kinematic_viscosity / (cd * diameter);
    0.5 * density * velocity_head * velocity_head
}

/// Ratio of downstream to upstream pressure below which air chokes: (2/(γ+1))^(γ/(γ−1)) = 0.5283.
pub const fn critical_ratio() -> f64 {
    CRITICAL_RATIO
}

/// Mass flow of air from `a` to `b`, kg/s (negative when `p_b` is the larger).
///
/// `effective_area` m², `p_a` and `p_b` Pa **absolute**, `temperature_k` of the upstream air, K. Isentropic, choked below
/// [`critical_ratio`], continuously differentiable everywhere; see [`GAS_SMOOTHING`] for the band around zero. No flow
/// when the upstream pressure is zero or negative; a downstream pressure below zero counts as choked.
#[inline]
pub fn gas<T: Real>(effective_area: T, p_a: T, p_b: T, temperature_k: f64) -> T {
    gas_per_pressure(effective_area * (1.0 / (AIR_GAS_CONSTANT * temperature_k).sqrt()), p_a, p_b)
}

/// The same with the area already over `sqrt(R T)`, m2/(J/kg)^(1/2).
#[inline]
pub(crate) fn gas_per_pressure<T: Real>(per_pressure: T, p_a: T, p_b: T) -> T {
    let inputs = [&per_pressure, &p_a, &p_b];
    let (flow, slopes) = gas_slopes(inputs.map(|x| x.value()));
    T::with_slopes(flow, inputs, slopes)
}

/// The same with its slopes by area over `sqrt(R T)`, `p_a` and `p_b`; one opening, or four side by side.
#[inline(always)]
pub(crate) fn gas_slopes<V: Lanes>([per_pressure, p_a, p_b]: [V; 3]) -> (V, [V; 3]) {
    let (zero, one) = (V::splat(0.0), V::splat(1.0));
    let (up, down) = (p_a.where_less(p_b, p_b, p_a), p_a.where_less(p_b, p_a, p_b));
    let way = p_a.where_less(p_b, -one, one);
    let drop = (up - down) / up;
    let limit = V::splat(1.0 - CRITICAL_RATIO);
    let choked = |yes: V, no: V| limit.where_at_most(drop, yes, no);
    let (root, root_by) = smoothed_root(drop);
    let (rest, rest_by) = psi_over_root(choked(limit, drop));
    let psi = choked(V::splat(CHOKED_PSI), root * rest);
    let by_drop = choked(zero, root_by * rest + root * rest_by);
    // Nothing comes from a vacuum.
    let per_pressure = up.where_at_most(zero, zero, per_pressure);
    let flowing = |x: V| up.where_at_most(zero, zero, x);
    let (by_up, by_down) = (per_pressure * (psi + by_drop * (one - drop)), per_pressure * by_drop);
    let backward = |yes: V, no: V| way.where_less(zero, yes, no);
    let flow = flowing(per_pressure * up * psi * way);
    let by_area = flowing(up * psi * way);
    (flow, [by_area, flowing(backward(by_down, by_up)), flowing(-backward(by_up, by_down))])
}

/// `√δ` and its slope; below [`GAS_SMOOTHING`] the odd quintic that meets it with two derivatives.
#[inline(always)]
fn smoothed_root<V: Lanes>(drop: V) -> (V, V) {
    let root = drop.sqrt();
    let band = V::splat(GAS_SMOOTHING);
    let t = drop * (1.0 / GAS_SMOOTHING);
    let t2 = t * t;
    let scale = ROOT_OF_SMOOTHING / 32.0;
    let soft = t * ((t2 * 5.0 - 18.0) * t2 + 45.0) * scale;
    let soft_by = ((t2 * 25.0 - 54.0) * t2 + 45.0) * (scale / GAS_SMOOTHING);
    (drop.where_less(band, soft, root), drop.where_less(band, soft_by, V::splat(0.5) / root))
}

/// `ψ/√δ` and its slope for δ = 0 to 1 − r_c, where it is as smooth as a function can be: the polynomial through its
/// values at Chebyshev's points, good to 1e-13 (`ref_flow_function_equals_the_power_law`).
#[inline(always)]
fn psi_over_root<V: Lanes>(drop: V) -> (V, V) {
    let s = drop - 0.5 * (1.0 - CRITICAL_RATIO);
    let c = PSI_OVER_ROOT;
    let (s2, pair) = (s * s, |k: usize| s * c[k + 1] + c[k]);
    let s4 = s2 * s2;
    let four = |k: usize| pair(k) + s2 * pair(k + 2);
    let value = (four(0) + s4 * four(4)) + (s4 * s4) * (four(8) + s4 * pair(12));
    let mut slope = V::splat(13.0 * c[13]);
    for k in (1..13).rev() {
        slope = slope * s + k as f64 * c[k];
    }
    (value, slope)
}

/// √[`GAS_SMOOTHING`].
const ROOT_OF_SMOOTHING: f64 = 1e-2;

/// Coefficients of powers of δ − (1 − r_c)/2, computed with 40 digits from the power law at the head of this file.
#[allow(clippy::excessive_precision)]
const PSI_OVER_ROOT: [f64; 14] = [
    1.222_724_057_776_071_6,
    -0.873_661_458_240_471_7,
    -0.299_445_904_252_984_56,
    -0.187_821_360_579_456_8,
    -0.147_137_124_991_021_94,
    -0.129_733_414_505_436_5,
    -0.123_141_035_601_360_94,
    -0.122_939_282_986_613_58,
    -0.127_511_843_546_111_78,
    -0.135_831_578_855_359_15,
    -0.143_189_624_102_425_8,
    -0.158_442_384_531_650_33,
    -0.239_634_332_408_500_02,
    -0.274_224_517_621_190_27,
];

/// Effective area of two openings in series, m²: `1/√(1/a² + 1/b²)`; 0 when either is 0. Both not negative.
#[inline]
pub fn series_area<T: Real>(a: T, b: T) -> T {
    let [series] = through!([a, b], |[a, b]| {
        let sum = a * a + b * b;
        [if sum.value() == 0.0 { Real::constant(0.0) } else { a * b / sum.sqrt() }]
    });
    series
}

/// Effective area of three openings in series, m², two of them constant, for one root instead of two: with a, b, c
/// `a b c/√(a² (b² + c²) + b² c²)`; 0 when one is 0. None negative.
#[inline]
pub fn series_area_of_three<T: Real>(a: T, b: f64, c: f64) -> T {
    let (sum, product) = (b * b + c * c, b * c);
    let [series] = through!([a], |[a]| {
        let square = a * a * sum + product * product;
        [if square.value() == 0.0 { Real::constant(0.0) } else { a * product / square.sqrt() }]
    });
    series
}

/// Area of the curtain between a flat disc and the rim of its seat, m²: `π d x`.
///
/// `diameter` of the seat m, `travel` m from the sealed position (below 0 counts as 0).
#[inline]
pub fn curtain<T: Real>(diameter: f64, travel: T) -> T {
    travel.at_least(0.0) * (std::f64::consts::PI * diameter)
}

/// Area between a flat disc and its seat, m²: the curtain in series with the port.
///
/// `diameter` of the seat m, `travel` m from the sealed position (below 0 counts as 0), `port_area` m².
#[inline]
pub fn curtain_area<T: Real>(diameter: f64, travel: T, port_area: f64) -> T {
    series_area(curtain(diameter, travel), T::constant(port_area))
}

/// Kv (m³/h of water at 1 bar) from Cv (US gal/min at 1 psi).
pub fn kv_from_cv(cv: f64) -> f64 {
    cv * KV_PER_CV
}

/// Flow coefficient Av, m², from Kv: `Q = Av √(Δp/ρ)` in SI; `Av = Kv/36000` (reference density 1000 kg/m³).
pub fn av_from_kv(kv: f64) -> f64 {
    kv / 36_000.0
}

/// Loss coefficient K of a fitting with `kv` m³/h in a pipe of `bore` m: `1.6e9 D⁴/Kv²`.
///
/// The constant is the rounded one of IEC 60534-2-1 (exact: 1.59888e9, 0.07 % less).
pub fn loss_coefficient_from_kv(kv: f64, bore: f64) -> f64 {
    1.6e9 * bore.powi(4) / (kv * kv)
}

/// Volume flow, m³/s, of a liquid of `density` kg/m³ at `dp` Pa through `kv` m³/h; no choking.
pub fn volume_flow_from_kv(kv: f64, dp: f64, density: f64) -> f64 {
    av_from_kv(kv) * dp.signum() * (dp.abs() / density).sqrt()
}

#[cfg(test)]
mod tests {
    use super::super::constants::AIR_GAMMA;
    use super::*;
    use crate::real::Dual;
    use approx::assert_relative_eq;

    const AREA: f64 = 2.0e-4;

    fn air(a: f64, b: f64) -> f64 {
        gas(AREA, a, b, 293.15)
    }

    #[test]
    fn analytic_choked_constants_follow_from_gamma() {
        let g = AIR_GAMMA;
        assert_relative_eq!(critical_ratio(), (2.0 / (g + 1.0_f64)).powf(g / (g - 1.0)), max_relative = 1e-14);
        let psi = g.sqrt() * (2.0 / (g + 1.0)).powf((g + 1.0) / (2.0 * (g - 1.0)));
        assert_relative_eq!(CHOKED_PSI, psi, max_relative = 1e-14);
    }

    #[test]
    fn ref_flow_function_equals_the_power_law() {
        // Source: the power law at the head of this file, with the power function of the C library.
        for i in 1..=4717 {
            let drop = f64::from(i) * 1e-4;
            let x = (1.0 - drop).powf(2.0 / 7.0);
            let psi = (2.0 * AIR_GAMMA / (AIR_GAMMA - 1.0) * x.powi(5) * (1.0 - x)).sqrt();
            let (got, slope) = psi_over_root(drop);
            // The law's own `1 - x` loses what digits a small drop has.
            assert_relative_eq!(got, psi / drop.sqrt(), max_relative = 2e-13 + 1e-15 / drop);
            let step = 1e-6;
            let difference = (psi_over_root(drop + step).0 - psi_over_root(drop - step).0) / (2.0 * step);
            assert_relative_eq!(slope, difference, max_relative = 1e-8);
        }
    }

    #[test]
    fn analytic_liquid_has_laminar_and_turbulent_limits() {
        let (rho, nu, cd, area) = (998.2, 1.003e-6, 0.61, 1e-5);
        let lam = laminar_dp(rho, nu, cd, area);
        let turbulent = cd * area * (2.0 * rho * 5e4_f64).sqrt();
        assert_relative_eq!(liquid(cd * area, 5e4, rho, lam), turbulent, max_relative = 1e-6);
        // Merritt's low-Reynolds asymptote C_d = δ √Re, that is Q/A = 2 δ² d Δp/(ρ ν).
        let d = (4.0 * area / std::f64::consts::PI).sqrt();
        let dp = lam * 1e-4;
        let slow = rho * area * 2.0 * (cd * cd / TRANSITION_REYNOLDS) * d * dp / (rho * nu);
        assert_relative_eq!(liquid(cd * area, dp, rho, lam), slow, max_relative = 1e-7);
        assert_eq!(liquid(cd * area, 0.0, rho, 0.0), 0.0);
    }

    #[test]
    fn analytic_gas_and_liquid_derivatives_match_central_differences() {
        let (a0, b0) = (101_325.0, 101_325.0);
        for shift in [-60_000.0, -3_000.0, -10.0, -4.0, -0.5, 0.5, 4.0, 10.0, 3_000.0, 47_000.0, 60_000.0] {
            let (a, b) = (a0 + shift, b0);
            let d = gas(Dual::<3>::variable(AREA, 0), Dual::variable(a, 1), Dual::variable(b, 2), 293.15);
            let h = if shift.abs() < 20.0 { 1e-2 } else { 1.0 };
            assert_relative_eq!(d.re, air(a, b), max_relative = 1e-14);
            assert_relative_eq!(d.eps[0], air(a, b) / AREA, max_relative = 1e-12);
            assert_relative_eq!(d.eps[1], (air(a + h, b) - air(a - h, b)) / (2.0 * h), max_relative = 2e-5);
            let fall = (air(a, b + h) - air(a, b - h)) / (2.0 * h);
            assert_relative_eq!(d.eps[2], fall, max_relative = 2e-5, epsilon = 1e-14);
            let w = liquid(Dual::<1>::constant(AREA), Dual::variable(shift, 0), 998.0, 20.0);
            let slope = (liquid(AREA, shift + h, 998.0, 20.0) - liquid(AREA, shift - h, 998.0, 20.0)) / (2.0 * h);
            assert_relative_eq!(w.eps[0], slope, max_relative = 1e-6);
        }
    }

    #[test]
    fn analytic_gas_slope_is_continuous_at_every_seam() {
        let slope =
            |a: f64, b: f64| gas(Dual::<1>::constant(AREA), Dual::variable(a, 0), Dual::constant(b), 293.15).eps[0];
        let b = 101_325.0;
        let band = b / (1.0 - GAS_SMOOTHING);
        for (seam, eps) in [(b, 1e-6), (band, 1e-6), (b / critical_ratio(), 1e-3), (b * (1.0 - GAS_SMOOTHING), 1e-6)] {
            assert_relative_eq!(slope(seam - eps, b), slope(seam + eps, b), max_relative = 1e-5);
            assert_relative_eq!(air(seam - eps, b), air(seam + eps, b), max_relative = 1e-6, epsilon = 1e-9);
        }
    }

    #[test]
    fn analytic_gas_is_odd_and_rises_with_pressure_difference() {
        let mut last = f64::NEG_INFINITY;
        for i in -4000..=4000 {
            let x = f64::from(i) / 4000.0;
            let a = 101_325.0 + 60_000.0 * x * x.abs();
            let m = air(a, 101_325.0);
            assert_eq!(m, -air(101_325.0, a));
            let choked = a < 101_325.0 * critical_ratio();
            assert!(m > last || (choked && m >= last), "flow does not rise at {a} Pa");
            last = m;
        }
    }

    #[test]
    fn analytic_smoothing_costs_at_most_what_its_constant_says() {
        let p = 101_325.0;
        for i in 1..=1000 {
            let t = f64::from(i) / 1000.0;
            let m = air(p, p * (1.0 - t * GAS_SMOOTHING));
            let t_exact = (m / (AREA * p * (2.0 * GAS_SMOOTHING / (AIR_GAS_CONSTANT * 293.15)).sqrt())).powi(2);
            assert!(t - t_exact < 0.135 + 1e-3 && t - t_exact > -2e-4, "at {t}: {}", t - t_exact);
        }
    }

    #[test]
    fn analytic_areas_in_series_and_curtain() {
        assert_relative_eq!(series_area(3.0, 4.0), 2.4, max_relative = 1e-15);
        assert_eq!(series_area(0.0, 0.0), 0.0);
        assert_eq!(series_area(0.0, 4.0), 0.0);
        let d = 0.02;
        let near = curtain_area(d, 1e-6, 3e-4);
        assert_relative_eq!(near, std::f64::consts::PI * d * 1e-6, max_relative = 1e-4);
        assert_relative_eq!(curtain_area(d, 10.0, 3e-4), 3e-4, max_relative = 1e-4);
        assert_eq!(curtain_area(d, -1.0, 3e-4), 0.0);
        // Three by hand: 1/A^2 = 1/9 + 1/16 + 1/25 in mm^4.
        let by_hand = 1e-6 / (1.0 / 9.0 + 1.0 / 16.0 + 1.0 / 25.0_f64).sqrt();
        assert_relative_eq!(series_area_of_three(3e-6, 4e-6, 5e-6), by_hand, max_relative = 1e-15);
        assert_eq!([(0.0, 1e-6), (1e-6, 0.0)].map(|(a, b)| series_area_of_three(a, b, 1e-6)), [0.0; 2]);
        assert_eq!(series_area_of_three(0.0, 0.0, 1e-6), 0.0);
        assert_relative_eq!(curtain_area(d, Dual::<1>::variable(0.0, 0), 3e-4).eps[0], std::f64::consts::PI * d);
    }

    #[test]
    fn analytic_bad_pressures_do_not_panic() {
        assert_eq!(air(-5.0, -7.0), 0.0);
        assert!(air(f64::NAN, 1e5).is_nan());
        assert!(air(1e5, f64::NAN).is_nan());
        assert_relative_eq!(air(1e5, -1.0), air(1e5, 0.0), max_relative = 1e-15);
    }
}
