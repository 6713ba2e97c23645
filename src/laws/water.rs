//! Liquid water: IAPWS-95 equation of state, saturation, viscosity.
//!
//! ```text
//! p = ρ² ∂f/∂ρ,   K_T = ρ ∂p/∂ρ|_T,   K_s = ρ w²
//! ln(p_s/p_c) = (T_c/T) [a₁ϑ + a₂ϑ^1.5 + a₃ϑ³ + a₄ϑ^3.5 + a₅ϑ⁴ + a₆ϑ^7.5],   ϑ = 1 − T/T_c
//! μ = 10⁻⁶ μ₀(T̄) μ₁(T̄, ρ̄)
//! ```
//!
//! Water hammer wants the isentropic modulus ρw², slow work on a trapped volume the isothermal one.
//!
//! Sources: IAPWS R6-95(2018) equation of state; IAPWS SR1-86(1992) saturation; IAPWS R12-08 viscosity. Range: 235 K to
//! 1273 K and to 1000 MPa; below the melting line (273.16 K at low pressure) the liquid is metastable and the equation
//! extrapolated. From the guideline for supercooled water, IAPWS G12-15, it then departs by 1e-4 in density and 0.5 % in
//! compressibility down to -10 degC and up to 60 MPa, where a night in a body may go, by 0.15 % and 5 % to -20 degC and
//! 200 MPa, and by more below (0.4 %, 7 %; specific heat a third at 250 K and 400 MPa). Functions of pressure cover the liquid to 640 K. Outside its range every function returns NaN.

pub mod iapws95;

use iapws95::{CRITICAL_DENSITY, CRITICAL_PRESSURE, CRITICAL_TEMPERATURE, GAS_CONSTANT};

/// Triple-point temperature of water, K.
pub const TRIPLE_TEMPERATURE: f64 = 273.16;

/// Lowest temperature served, K. The release starts at the melting line; below it the liquid is metastable.
pub const LOWEST_TEMPERATURE: f64 = 235.0;
/// Highest temperature of the release, K.
pub const HIGHEST_TEMPERATURE: f64 = 1273.0;
/// Highest temperature of functions that look for the liquid at a pressure, K.
pub const HIGHEST_LIQUID_TEMPERATURE: f64 = 640.0;
/// Highest pressure of the release, Pa.
pub const HIGHEST_PRESSURE: f64 = 1.0e9;

/// Above the liquid's density everywhere in the range: 1000 MPa needs 1262 kg/m³ at 235 K.
const DENSEST: f64 = 1400.0;

/// Properties of water at one temperature and density, by IAPWS-95.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WaterState {
    /// Temperature, K.
    pub temperature: f64,
    /// Density, kg/m³.
    pub density: f64,
    /// Pressure, Pa absolute.
    pub pressure: f64,
    /// Isothermal bulk modulus ρ ∂p/∂ρ, Pa.
    pub isothermal_bulk_modulus: f64,
    /// Speed of sound, m/s.
    pub speed_of_sound: f64,
    /// Isochoric specific heat, J/(kg K).
    pub cv: f64,
    /// Isobaric specific heat, J/(kg K).
    pub cp: f64,
    /// Isobaric expansion coefficient (1/v) ∂v/∂T, 1/K; negative below the density maximum.
    pub thermal_expansion: f64,
    /// Specific enthalpy, J/kg; internal energy and entropy of the liquid at the triple point are 0.
    pub enthalpy: f64,
    /// Specific entropy, J/(kg K).
    pub entropy: f64,
}

impl WaterState {
    /// The state at `temperature` K and `density` kg/m³; all NaN outside the range, and not meaningful between the
    /// saturated vapour and liquid densities.
    pub fn new(temperature: f64, density: f64) -> Self {
        let served = (LOWEST_TEMPERATURE..=HIGHEST_TEMPERATURE).contains(&temperature);
        let (temperature, density) =
            if served && density > 0.0 && density <= DENSEST { (temperature, density) } else { (f64::NAN, f64::NAN) };
        let (delta, tau) = (density / CRITICAL_DENSITY, CRITICAL_TEMPERATURE / temperature);
        let (ideal, res) = (iapws95::ideal(delta, tau), iapws95::residual(delta, tau));
        let rt = GAS_CONSTANT * temperature;
        let stiffness = 1.0 + 2.0 * res.d + res.dd;
        let thermal = 1.0 + res.d - res.dt;
        let cv = -(ideal.tt + res.tt);
        WaterState {
            temperature,
            density,
            pressure: density * rt * (1.0 + res.d),
            isothermal_bulk_modulus: density * rt * stiffness,
            speed_of_sound: (rt * (stiffness + thermal * thermal / cv)).sqrt(),
            cv: GAS_CONSTANT * cv,
            cp: GAS_CONSTANT * (cv + thermal * thermal / stiffness),
            thermal_expansion: thermal / (temperature * stiffness),
            enthalpy: rt * (1.0 + ideal.t + res.t + res.d),
            entropy: GAS_CONSTANT * (ideal.t + res.t - ideal.phi - res.phi),
        }
    }

    /// The liquid at `temperature` K and `pressure` Pa absolute; see [`density`] for the range.
    pub fn liquid(temperature: f64, pressure: f64) -> Self {
        WaterState::new(temperature, density(temperature, pressure))
    }

    /// Specific Gibbs energy h − Ts, J/kg.
    pub fn gibbs_energy(&self) -> f64 {
        self.enthalpy - self.temperature * self.entropy
    }
}

/// Pressure, Pa absolute, at `temperature` K and `density` kg/m³.
pub fn pressure(temperature: f64, density: f64) -> f64 {
    WaterState::new(temperature, density).pressure
}

/// Speed of sound, m/s, at `temperature` K and `density` kg/m³.
pub fn speed_of_sound(temperature: f64, density: f64) -> f64 {
    WaterState::new(temperature, density).speed_of_sound
}

/// Isochoric specific heat, J/(kg K), at `temperature` K and `density` kg/m³.
pub fn cv(temperature: f64, density: f64) -> f64 {
    WaterState::new(temperature, density).cv
}

/// Isothermal bulk modulus, Pa, at `temperature` K and `density` kg/m³.
pub fn isothermal_bulk_modulus(temperature: f64, density: f64) -> f64 {
    WaterState::new(temperature, density).isothermal_bulk_modulus
}

/// Density of the liquid, kg/m³, at `temperature` K (235 to 640) and `pressure` Pa absolute (0 to 1000 MPa).
///
/// Below the saturation pressure the liquid is metastable (stretched); where it could not exist, NaN. NaN also outside
/// the range. Newton's method inside a bracket on the liquid side, at most 100 steps.
pub fn density(temperature: f64, pressure: f64) -> f64 {
    let served = (LOWEST_TEMPERATURE..=HIGHEST_LIQUID_TEMPERATURE).contains(&temperature);
    if !(served && (0.0..=HIGHEST_PRESSURE).contains(&pressure)) {
        return f64::NAN;
    }
    let saturated = saturated_liquid_density(temperature.max(TRIPLE_TEMPERATURE));
    // 4 % of stretch away from the critical point, less towards it: always on the liquid's side of the spinodal.
    let stretch = 0.04 * ((CRITICAL_TEMPERATURE - temperature) / 100.0).min(1.0);
    let lowest = saturated * (1.0 - stretch);
    let (mut low, mut high) = (lowest, DENSEST);
    let mut rho = saturated;
    for _ in 0..100 {
        let delta = rho / CRITICAL_DENSITY;
        let res = iapws95::residual(delta, CRITICAL_TEMPERATURE / temperature);
        let rt = GAS_CONSTANT * temperature;
        let excess = rho * rt * (1.0 + res.d) - pressure;
        if excess > 0.0 {
            high = rho;
        } else {
            low = rho;
        }
        let newton = rho - excess / (rt * (1.0 + 2.0 * res.d + res.dd));
        // The terms of the equation cancel by up to four digits: a smaller step is noise.
        if (newton - rho).abs() <= 1e-12 * rho {
            return newton;
        }
        let next = if newton > low && newton < high { newton } else { 0.5 * (low + high) };
        if next <= low || next >= high {
            // The bracket has closed on its lower end: no liquid exists at this pressure.
            return f64::NAN;
        }
        rho = next;
    }
    f64::NAN
}

/// Saturation pressure, Pa absolute, at `temperature` K, 273.16 K to 647.096 K (IAPWS SR1-86 eq. 1); NaN outside.
///
/// Down to 235 K the equation is extrapolated, for supercooled water.
pub fn saturation_pressure(temperature: f64) -> f64 {
    if !(temperature >= LOWEST_TEMPERATURE && temperature <= CRITICAL_TEMPERATURE) {
        return f64::NAN;
    }
    let v = 1.0 - temperature / CRITICAL_TEMPERATURE;
    let r = v.sqrt();
    let v3 = v * v * v;
    let sum = -7.859_517_83 * v + 1.844_082_59 * v * r - 11.786_649_7 * v3 + 22.680_741_1 * v3 * r
        - 15.961_871_9 * v3 * v
        + 1.801_225_02 * v3 * v3 * v * r;
    CRITICAL_PRESSURE * (sum * CRITICAL_TEMPERATURE / temperature).exp()
}

/// Density of the saturated liquid, kg/m³, at `temperature` K, 273.16 K to 647.096 K (IAPWS SR1-86 eq. 2); NaN outside.
pub fn saturated_liquid_density(temperature: f64) -> f64 {
    if !(temperature >= TRIPLE_TEMPERATURE && temperature <= CRITICAL_TEMPERATURE) {
        return f64::NAN;
    }
    let c = (1.0 - temperature / CRITICAL_TEMPERATURE).cbrt();
    let sum = 1.0 + 1.992_740_64 * c + 1.099_653_42 * c.powi(2)
        - 0.510_839_303 * c.powi(5)
        - 1.754_934_79 * c.powi(16)
        - 45.517_035_2 * c.powi(43)
        - 6.746_944_50e5 * c.powi(110);
    CRITICAL_DENSITY * sum
}

/// i, j, H_ij of the residual viscosity (IAPWS R12-08 Table 2).
const VISCOSITY: [(i32, i32, f64); 21] = [
    (0, 0, 0.520094),
    (1, 0, 0.0850895),
    (2, 0, -1.08374),
    (3, 0, -0.289555),
    (0, 1, 0.222531),
    (1, 1, 0.999115),
    (2, 1, 1.88797),
    (3, 1, 1.26613),
    (5, 1, 0.120573),
    (0, 2, -0.281378),
    (1, 2, -0.906851),
    (2, 2, -0.772479),
    (3, 2, -0.489837),
    (4, 2, -0.257040),
    (0, 3, 0.161913),
    (1, 3, 0.257399),
    (0, 4, -0.0325372),
    (3, 4, 0.0698452),
    (4, 5, 0.00872102),
    (3, 6, -0.00435673),
    (5, 6, -0.000593264),
];

/// Dynamic viscosity, Pa s, at `temperature` K and `density` kg/m³ (IAPWS R12-08, without the critical enhancement, which
/// matters only within some kelvin of 647 K). NaN outside the range of [`WaterState`]; extrapolated below 253 K.
pub fn dynamic_viscosity(temperature: f64, density: f64) -> f64 {
    let served = (LOWEST_TEMPERATURE..=HIGHEST_TEMPERATURE).contains(&temperature);
    if !(served && density >= 0.0 && density <= DENSEST) {
        return f64::NAN;
    }
    let (t, r) = (temperature / CRITICAL_TEMPERATURE, density / CRITICAL_DENSITY);
    let dilute = 100.0 * t.sqrt() / (1.67752 + 2.20462 / t + 0.6366564 / (t * t) - 0.241605 / (t * t * t));
    let sum: f64 = VISCOSITY.iter().map(|&(i, j, h)| h * (1.0 / t - 1.0).powi(i) * (r - 1.0).powi(j)).sum();
    1e-6 * dilute * (r * sum).exp()
}

/// Kinematic viscosity, m²/s, of the liquid at `temperature` K and `pressure` Pa absolute; range as [`density`].
pub fn kinematic_viscosity(temperature: f64, pressure: f64) -> f64 {
    let rho = density(temperature, pressure);
    dynamic_viscosity(temperature, rho) / rho
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn ref_states_agree_with_the_release_table_7() {
        // IAPWS R6-95 Table 7 (from memory; the iapws library 1.5.5 gives the same): T, ρ, p MPa, cv, w, s in kJ.
        for (t, rho, p, cv, w, s) in [
            (300.0, 996.556, 0.0992418352, 4.13018112, 1501.51914, 0.393062643),
            (300.0, 1005.308, 20.0022515, 4.06798347, 1534.92501, 0.387405401),
            (300.0, 1188.202, 700.004704, 3.46135580, 2443.57992, 0.132609616),
            (500.0, 838.025, 10.0003858, 3.22106219, 1271.28441, 2.56690919),
            (500.0, 1084.564, 700.000405, 3.07437693, 2412.00877, 2.03237509),
            (647.0, 358.0, 22.0384756, 6.18315728, 252.145078, 4.32092307),
            (900.0, 870.769, 700.000006, 2.66422350, 2019.33608, 4.17223802),
        ] {
            let state = WaterState::new(t, rho);
            assert_relative_eq!(state.pressure, p * 1e6, max_relative = 1e-8);
            assert_relative_eq!(state.cv, cv * 1e3, max_relative = 1e-8);
            assert_relative_eq!(state.speed_of_sound, w, max_relative = 1e-8);
            assert_relative_eq!(state.entropy, s * 1e3, max_relative = 1e-8);
        }
    }

    #[test]
    fn ref_viscosity_agrees_with_the_release_table_4() {
        // IAPWS R12-08 Table 4, critical enhancement set to 1 (from memory; the iapws library 1.5.5 gives the same).
        for (t, rho, mu) in [
            (298.15, 998.0, 889.735100),
            (298.15, 1200.0, 1437.649467),
            (373.15, 1000.0, 307.883622),
            (433.15, 1.0, 14.538324),
            (433.15, 1000.0, 217.685358),
            (873.15, 600.0, 77.430195),
        ] {
            assert_relative_eq!(dynamic_viscosity(t, rho), mu * 1e-6, max_relative = 1e-7);
        }
    }

    #[test]
    fn analytic_density_inverts_pressure_over_the_whole_range() {
        for i in 0..=81 {
            let t = 235.0 + 5.0 * f64::from(i);
            let mut last = 0.0;
            for p in [1.0, 1e3, 1e5, 2e6, 2.1e7, 1e8, 1e9] {
                let rho = density(t, p);
                if p < 0.99 * saturation_pressure(t) && t > 450.0 {
                    assert!(rho.is_nan() || rho > 0.0);
                    continue;
                }
                assert!(rho > last, "{t} K, {p} Pa: {rho}");
                let state = WaterState::new(t, rho);
                assert!(state.isothermal_bulk_modulus > 0.0);
                // The terms of the equation cancel: round-off is worth 3e-4 Pa at 235 K, less above.
                assert!((state.pressure - p).abs() < 1e-11 * p + 1e-3, "{t} K, {p} Pa: {:e}", state.pressure - p);
                last = rho;
            }
        }
    }

    #[test]
    fn analytic_maxwell_relation_ties_expansion_to_entropy() {
        // ∂p/∂T at constant volume = α K_T, by central difference.
        for (t, rho) in [(274.0, 1000.0), (300.0, 996.5), (420.0, 930.0)] {
            let rise = (pressure(t + 1e-3, rho) - pressure(t - 1e-3, rho)) / 2e-3;
            let state = WaterState::new(t, rho);
            assert_relative_eq!(rise, state.thermal_expansion * state.isothermal_bulk_modulus, max_relative = 1e-6);
        }
    }

    #[test]
    fn ref_triple_point_liquid_has_no_internal_energy_or_entropy() {
        // The definition of the zero in R6-95; the rounded constants leave less than 1e-2 J/kg.
        let state = WaterState::liquid(TRIPLE_TEMPERATURE, 611.655);
        assert!((state.enthalpy - state.pressure / state.density).abs() < 1e-2);
        assert!(state.entropy.abs() < 1e-4);
    }

    #[test]
    fn analytic_inputs_out_of_range_give_nan() {
        for (t, p) in [
            (f64::NAN, 1e5),
            (300.0, f64::NAN),
            (200.0, 1e5),
            (700.0, 1e8),
            (300.0, -1.0),
            (300.0, 2e9),
            (600.0, 1e5),
            (f64::INFINITY, 1e5),
        ] {
            assert!(density(t, p).is_nan(), "{t} {p}");
            assert!(WaterState::liquid(t, p).speed_of_sound.is_nan());
        }
        assert!(pressure(300.0, -5.0).is_nan() && pressure(300.0, f64::INFINITY).is_nan());
        assert!(saturation_pressure(700.0).is_nan() && saturation_pressure(f64::NAN).is_nan());
        assert!(dynamic_viscosity(300.0, f64::NAN).is_nan());
    }
}
