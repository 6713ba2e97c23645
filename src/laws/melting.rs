//! The melting curve of ice Ih and what follows from it.
//!
//! ```text
//! p_m/p_t = 1 + Σ a_i (1 − θ^b_i),  θ = T/273.16 K            melting pressure
//! L = h_liquid − h_ice at (T, p_m)                            latent heat along the curve
//! dT/dp = T (v_liquid − v_ice)/L                              Clapeyron
//! ```
//!
//! Source: IAPWS R14-08(2011), ice Ih, 251.165 to 273.16 K (triple point with ice III: 208.566 MPa). Latent heat from
//! IAPWS-95 and R10-06, which have the same zero.

use super::ice::{IceState, TRIPLE_PRESSURE, TRIPLE_TEMPERATURE};
use super::water::WaterState;

/// Cold end of the curve, K: triple point of liquid, ice Ih and ice III.
pub const LOWEST_TEMPERATURE: f64 = 251.165;
/// Pressure at that end, Pa absolute.
pub const HIGHEST_PRESSURE: f64 = 208.566e6;

const A: [f64; 3] = [0.119_539_337e7, 0.808_183_159e5, 0.333_826_860e4];
const B: [f64; 3] = [3.0, 25.75, 103.75];

/// Melting pressure, Pa absolute, and its slope dp/dT, Pa/K, without a check of the range.
///
/// The curve is continued a little beyond both ends, so that an iteration may pass them.
#[inline]
pub fn pressure_and_slope(temperature: f64) -> (f64, f64) {
    let theta = temperature / TRIPLE_TEMPERATURE;
    let ln = theta.ln();
    let (mut sum, mut slope) = (1.0, 0.0);
    for (a, b) in A.into_iter().zip(B) {
        let power = (b * ln).exp();
        sum += a * (1.0 - power);
        slope -= a * b * power;
    }
    (TRIPLE_PRESSURE * sum, TRIPLE_PRESSURE * slope / temperature)
}

/// Melting pressure of ice Ih, Pa absolute, at `temperature` K (251.165 to 273.16); NaN outside.
pub fn pressure(temperature: f64) -> f64 {
    if !(LOWEST_TEMPERATURE..=TRIPLE_TEMPERATURE).contains(&temperature) {
        return f64::NAN;
    }
    pressure_and_slope(temperature).0
}

/// Melting temperature of ice Ih, K, at `pressure` Pa absolute (611.657 Pa to 208.566 MPa); NaN outside.
pub fn temperature(pressure: f64) -> f64 {
    // The equation gives 208.5664 MPa at its end, the release rounds it.
    if !(pressure >= TRIPLE_PRESSURE * (1.0 - 1e-9) && pressure <= HIGHEST_PRESSURE * 1.000_01) {
        return f64::NAN;
    }
    inverse(pressure)
}

/// As [`temperature`], continued beyond both ends by a few kelvin.
pub fn inverse(pressure: f64) -> f64 {
    let mut t = TRIPLE_TEMPERATURE - pressure / 9.5e6;
    for _ in 0..30 {
        let (p, slope) = pressure_and_slope(t);
        let step = (p - pressure) / slope;
        t -= step;
        if step.abs() < 1e-12 * t {
            break;
        }
    }
    t
}

/// Heat, J/kg, that a kilogram of water gives off when it freezes at `temperature` K on the melting curve; NaN outside.
pub fn latent_heat(temperature: f64) -> f64 {
    let p = pressure(temperature);
    WaterState::liquid(temperature, p).enthalpy - IceState::new(temperature, p).enthalpy
}

/// Clapeyron slope dT/dp, K/Pa, at `temperature` K on the melting curve, from volumes and latent heat; NaN outside.
pub fn clapeyron_slope(temperature: f64) -> f64 {
    let p = pressure(temperature);
    let volumes = 1.0 / WaterState::liquid(temperature, p).density - IceState::new(temperature, p).volume;
    temperature * volumes / latent_heat(temperature)
}

/// Share of the mass that freezes at once, without heat given off, when supercooled water at `temperature` K and
/// `pressure` Pa absolute starts to freeze at constant pressure; NaN outside.
pub fn nucleation_fraction(temperature: f64, pressure: f64) -> f64 {
    let melting = self::temperature(pressure);
    if !(temperature <= melting) {
        return f64::NAN;
    }
    let liquid = |t| WaterState::liquid(t, pressure).enthalpy;
    (liquid(melting) - liquid(temperature)) / (liquid(melting) - IceState::new(melting, pressure).enthalpy)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn ref_release_check_value() {
        // IAPWS R14-08(2011): 138.268 MPa at 260 K.
        assert_relative_eq!(pressure(260.0), 138.268e6, max_relative = 4e-6);
        assert_relative_eq!(pressure(251.165), 208.566e6, max_relative = 1e-5);
    }

    #[test]
    fn analytic_temperature_inverts_pressure() {
        for i in 0..=22 {
            let t = 251.17 + f64::from(i) * 0.999;
            assert_relative_eq!(temperature(pressure(t)), t, max_relative = 1e-13);
        }
        assert!(temperature(100.0).is_nan() && temperature(3e8).is_nan() && temperature(f64::NAN).is_nan());
        assert!(pressure(274.0).is_nan() && pressure(250.0).is_nan());
    }

    #[test]
    fn ref_slope_of_the_curve_is_clapeyrons() {
        // Two releases (R14-08; IAPWS-95 with R10-06) that do not know each other: within 1e-3, the uncertainty of the fit.
        for t in [272.0, 268.15, 263.15, 258.15] {
            assert_relative_eq!(1.0 / pressure_and_slope(t).1, clapeyron_slope(t), max_relative = 1e-3);
        }
    }
}
