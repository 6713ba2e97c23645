//! Ice Ih: the Gibbs energy of IAPWS R10-06 and its derivatives.
//!
//! ```text
//! g(T,p) = g0(p) − s0 Tt τ + Tt Re Σ r_k [ (t_k−τ) ln(t_k−τ) + (t_k+τ) ln(t_k+τ) − 2 t_k ln t_k − τ²/t_k ]   k = 1, 2
//! τ = T/Tt,  π = p/pt,   g0 = Σ g0k (π−π0)^k,   r_2 = Σ r2k (π−π0)^k
//! v = ∂g/∂p,  s = −∂g/∂T,  h = g + Ts,  cp = −T ∂²g/∂T²,  α = (∂v/∂T)/v,  κ = −(∂v/∂p)/v
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | Tt, pt | triple point, 273.16 K and 611.657 Pa | K, Pa |
//! | r_k, t_k | complex constants of Table 3 | J/(kg K), 1 |
//!
//! Source: IAPWS R10-06(2009), Tables 1 to 3; valid 0 to 273.16 K, 0 to 210 MPa, for ice Ih where it is stable. The zero
//! of energy and entropy is that of IAPWS-95 (liquid at the triple point), so the two may be subtracted. The coefficients
//! were compared number by number with the `iapws` library 1.5.5 (Python, general purpose).

use nalgebra::Complex;

/// Temperature of the triple point, K.
pub const TRIPLE_TEMPERATURE: f64 = 273.16;
/// Pressure of the triple point, Pa absolute (the release's value).
pub const TRIPLE_PRESSURE: f64 = 611.657;
/// Highest pressure served, Pa absolute.
pub const HIGHEST_PRESSURE: f64 = 210e6;

const G0: [f64; 5] = [
    -0.632_020_233_335_886e6,
    0.655_022_213_658_955,
    -0.189_369_929_326_131e-7,
    0.339_746_123_271_053e-14,
    -0.556_464_869_058_991e-21,
];
const S0: f64 = -0.332_733_756_492_168e4;
const T1: Complex<f64> = Complex::new(0.368_017_112_855_051e-1, 0.510_878_114_959_572e-1);
const R1: Complex<f64> = Complex::new(0.447_050_716_285_388e2, 0.656_876_847_463_481e2);
const T2: Complex<f64> = Complex::new(0.337_315_741_065_416, 0.335_449_415_919_309);
const R2: [Complex<f64>; 3] = [
    Complex::new(-0.725_974_574_329_220e2, -0.781_008_427_112_870e2),
    Complex::new(-0.557_107_698_030_123e-4, 0.464_578_634_580_806e-4),
    Complex::new(0.234_801_409_215_913e-10, -0.285_651_142_904_972e-10),
];

/// Properties of ice Ih at one temperature and pressure; all NaN outside the range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct IceState {
    /// Temperature, K.
    pub temperature: f64,
    /// Pressure, Pa absolute.
    pub pressure: f64,
    /// Specific Gibbs energy, J/kg.
    pub gibbs_energy: f64,
    /// Specific volume, m³/kg.
    pub volume: f64,
    /// Specific entropy, J/(kg K).
    pub entropy: f64,
    /// Specific enthalpy, J/kg.
    pub enthalpy: f64,
    /// Isobaric specific heat, J/(kg K).
    pub cp: f64,
    /// Cubic expansion coefficient, 1/K.
    pub thermal_expansion: f64,
    /// Isothermal compressibility, 1/Pa.
    pub compressibility: f64,
}

impl IceState {
    /// The state at `temperature` K (above 0, to 273.16; 0.1 K more for the melting line's end) and `pressure` Pa absolute.
    pub fn new(temperature: f64, pressure: f64) -> Self {
        let served = temperature > 0.0
            && temperature <= TRIPLE_TEMPERATURE + 0.1
            && (0.0..=HIGHEST_PRESSURE * 1.02).contains(&pressure);
        let (t, p) = if served { (temperature, pressure) } else { (f64::NAN, f64::NAN) };
        let tau = t / TRIPLE_TEMPERATURE;
        let x = (p - 101_325.0) / TRIPLE_PRESSURE;
        let per = 1.0 / TRIPLE_PRESSURE;
        let g0 = G0.iter().rev().fold(0.0, |sum, g| sum * x + g);
        let g0_p = per * (G0[1] + x * (2.0 * G0[2] + x * (3.0 * G0[3] + x * 4.0 * G0[4])));
        let g0_pp = per * per * (2.0 * G0[2] + x * (6.0 * G0[3] + x * 12.0 * G0[4]));
        let r2 = R2[0] + (R2[1] + R2[2] * x) * x;
        let r2_p = (R2[1] + R2[2] * (2.0 * x)) * per;
        let r2_pp = R2[2] * (2.0 * per * per);
        // The bracket of the equation, and its first and second derivative by τ.
        let bracket = |c: Complex<f64>| {
            let (minus, plus) = (c - tau, c + tau);
            let (lm, lp) = (minus.ln(), plus.ln());
            (
                minus * lm + plus * lp - c * c.ln() * 2.0 - Complex::from(tau * tau) / c,
                lp - lm - Complex::from(2.0 * tau) / c,
                minus.inv() + plus.inv() - Complex::from(2.0) / c,
            )
        };
        let (b1, b1t, b1tt) = bracket(T1);
        let (b2, b2t, b2tt) = bracket(T2);
        let tt = TRIPLE_TEMPERATURE;
        let g = g0 - S0 * tt * tau + tt * (R1 * b1 + r2 * b2).re;
        let g_t = -S0 + (R1 * b1t + r2 * b2t).re;
        let g_tt = (R1 * b1tt + r2 * b2tt).re / tt;
        let g_p = g0_p + tt * (r2_p * b2).re;
        let g_pp = g0_pp + tt * (r2_pp * b2).re;
        let g_tp = (r2_p * b2t).re;
        IceState {
            temperature: t,
            pressure: p,
            gibbs_energy: g,
            volume: g_p,
            entropy: -g_t,
            enthalpy: g - t * g_t,
            cp: -t * g_tt,
            thermal_expansion: g_tp / g_p,
            compressibility: -g_pp / g_p,
        }
    }

    /// Density, kg/m³.
    pub fn density(&self) -> f64 {
        1.0 / self.volume
    }
}

/// Thermal conductivity of ice, W/(m K), at `temperature` K, 233 to 273.16 K; NaN outside 200 to 273.3 K.
///
/// `k = 2.2196 − 6.2489e-3 t + 1.0154e-4 t²`, t in °C. Source: Choi & Okos, as in ASHRAE *Refrigeration* ch. 19. Handbook
/// tables differ from it by up to 5 %.
pub fn conductivity(temperature: f64) -> f64 {
    if !(200.0..=273.3).contains(&temperature) {
        return f64::NAN;
    }
    let t = temperature - 273.15;
    2.2196 + t * (-6.2489e-3 + t * 1.0154e-4)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn ref_table_6_of_the_release() {
        // IAPWS R10-06 Table 6, triple point and 100 K at 100 MPa (from memory; the iapws library 1.5.5 gives the same).
        let s = IceState::new(273.16, 611.657);
        assert_relative_eq!(s.gibbs_energy, 0.611_784_135, max_relative = 1e-8);
        assert_relative_eq!(s.volume, 0.109_085_812_737e-2, max_relative = 1e-11);
        assert_relative_eq!(s.entropy, -0.122_069_433_940e4, max_relative = 1e-11);
        assert_relative_eq!(s.cp, 0.209_678_431_622e4, max_relative = 1e-11);
        assert_relative_eq!(s.thermal_expansion, 0.159_863_102_566e-3, max_relative = 1e-11);
        assert_relative_eq!(s.compressibility, 0.117_793_449_348e-9, max_relative = 1e-11);
        let cold = IceState::new(100.0, 100e6);
        assert_relative_eq!(cold.volume, 0.106_193_389_260e-2, max_relative = 1e-11);
        assert_relative_eq!(cold.enthalpy, -0.483_491_635_676e6, max_relative = 1e-11);
        assert_relative_eq!(cold.cp, 0.866_333_195_517e3, max_relative = 1e-11);
    }

    #[test]
    fn analytic_enthalpy_by_pressure_is_v_minus_t_dv_dt() {
        for (t, p) in [(250.0, 1e7), (268.0, 6e7), (220.0, 2e8)] {
            let s = IceState::new(t, p);
            let slope = (IceState::new(t, p + 1e3).enthalpy - IceState::new(t, p - 1e3).enthalpy) / 2e3;
            assert_relative_eq!(slope, s.volume * (1.0 - t * s.thermal_expansion), max_relative = 1e-6);
        }
    }

    #[test]
    fn analytic_out_of_range_is_nan() {
        for (t, p) in [(f64::NAN, 1e5), (274.0, 1e5), (260.0, -1.0), (260.0, 3e8), (0.0, 1e5)] {
            assert!(IceState::new(t, p).volume.is_nan());
        }
        assert!(conductivity(280.0).is_nan() && conductivity(f64::NAN).is_nan());
    }
}
