//! Ice that grows from a cold wall: closed solutions for a half-space and for a cylinder.
//!
//! ```text
//! half-space   X = 2 λ √(a_s t),  λ e^{λ²} erf λ = Ste/√π                                     liquid at the melting point
//!              Ste/(e^{λ²} erf λ) − (k_l/k_s) √(a_s/a_l) (T_i−T_m)/(T_m−T_s) Ste/(e^{λ²a} erfc(λ√a)) = λ√π,  a = a_s/a_l
//! cylinder     t(r) = ρL/(k ΔT) [ (R²−r²)/4 − (r²/2) ln(R/r) ]                                quasi-steady, wall at T_w
//!              t_f = ρL/ΔT [ R/(2h) + R²/(4k) ]                                               with a film (Plank)
//! ```
//!
//! Ste = c_s (T_m − T_s)/L. Source: H. S. Carslaw, J. C. Jaeger, *Conduction of Heat in Solids* (1959), ch. XI (from memory);
//! the quasi-steady forms follow from steady conduction through the ice and are derived by hand. Constant properties,
//! equal densities.

/// Error function by its series and continued fraction, to about 1e-15.
///
/// `erf x = 2/√π e^{−x²} Σ 2ⁿ x^{2n+1}/(2n+1)!!` (Abramowitz & Stegun 7.1.6); beyond 3 the complement by 7.1.14.
pub fn erf(x: f64) -> f64 {
    if x < 0.0 {
        return -erf(-x);
    }
    if x > 3.0 {
        return 1.0 - erfc(x);
    }
    let (mut term, mut sum) = (x, x);
    for n in 1..200 {
        term *= 2.0 * x * x / f64::from(2 * n + 1);
        sum += term;
        if term < 1e-17 * sum {
            break;
        }
    }
    std::f64::consts::FRAC_2_SQRT_PI * (-x * x).exp() * sum
}

/// 1 − erf x without cancellation for x above 2.
pub fn erfc(x: f64) -> f64 {
    if !(x > 2.0) {
        return 1.0 - erf(x);
    }
    let mut tail = 0.0;
    for n in (1..=60).rev() {
        tail = 0.5 * f64::from(n) / (x + tail);
    }
    (-x * x).exp() / ((x + tail) * std::f64::consts::PI.sqrt())
}

/// Positive root of a function that is negative at 0 and rises, by bisection to rounding.
fn rising_root(f: impl Fn(f64) -> f64) -> f64 {
    let (mut low, mut high) = (0.0, 1.0);
    while f(high) < 0.0 && high < 1e3 {
        high *= 2.0;
    }
    for _ in 0..200 {
        let mid = 0.5 * (low + high);
        if f(mid) < 0.0 { low = mid } else { high = mid }
    }
    0.5 * (low + high)
}

/// Root λ of the one-phase Neumann problem for a Stefan number above 0; NaN otherwise.
pub fn neumann_root(stefan: f64) -> f64 {
    if !(stefan > 0.0 && stefan < 1e4) {
        return f64::NAN;
    }
    rising_root(|l| l * (l * l).exp() * erf(l) - stefan / std::f64::consts::PI.sqrt())
}

/// A half-space of water that freezes from its surface.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HalfSpace {
    /// Conductivity of ice and of liquid, W/(m K).
    pub conductivity: [f64; 2],
    /// Specific heat of ice and of liquid, J/(kg K).
    pub specific_heat: [f64; 2],
    /// Density of both, kg/m³.
    pub density: f64,
    /// Latent heat, J/kg.
    pub latent_heat: f64,
    /// Melting point less surface temperature, K.
    pub below: f64,
    /// Temperature of the liquid far away less melting point, K.
    pub above: f64,
}

impl HalfSpace {
    /// Root λ of the (two-phase) Neumann problem.
    pub fn root(&self) -> f64 {
        let stefan = self.specific_heat[0] * self.below / self.latent_heat;
        if !(self.above > 0.0) {
            return neumann_root(stefan);
        }
        let [a_s, a_l] = [0, 1].map(|i| self.conductivity[i] / (self.density * self.specific_heat[i]));
        let ratio = a_s / a_l;
        let liquid = self.conductivity[1] / self.conductivity[0] * ratio.sqrt() * self.above / self.below * stefan;
        rising_root(|l| {
            let ice = stefan / ((l * l).exp() * erf(l));
            let warm = liquid / ((l * l * ratio).exp() * erfc(l * ratio.sqrt()));
            l * std::f64::consts::PI.sqrt() - ice + warm
        })
    }

    /// Thickness of the ice, m, after `time` s.
    pub fn thickness(&self, time: f64) -> f64 {
        2.0 * self.root() * (self.conductivity[0] / (self.density * self.specific_heat[0]) * time).sqrt()
    }
}

/// Water in a cylinder that freezes inwards, all of it at the melting point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FreezingCylinder {
    /// Radius, m.
    pub radius: f64,
    /// Conductivity of ice, W/(m K).
    pub conductivity: f64,
    /// Density, kg/m³.
    pub density: f64,
    /// Latent heat, J/kg.
    pub latent_heat: f64,
    /// Melting point less the temperature of the wall (of the air, with a film), K.
    pub below: f64,
}

impl FreezingCylinder {
    /// Time, s, until the front stands at radius `r` m; the ice's own heat left out.
    pub fn quasi_steady_time(&self, r: f64) -> f64 {
        let big = self.radius;
        let shape = (big * big - r * r) / 4.0 - if r > 0.0 { r * r / 2.0 * (big / r).ln() } else { 0.0 };
        self.density * self.latent_heat / (self.conductivity * self.below) * shape
    }

    /// Time, s, to freeze through with a film of `film` W/(m² K) outside (Plank).
    pub fn plank_time(&self, film: f64) -> f64 {
        let big = self.radius;
        self.density * self.latent_heat / self.below * (big / (2.0 * film) + big * big / (4.0 * self.conductivity))
    }
}

/// Resistance, K/W, of the ice between the wall of a cylinder of length `length` m and a front behind which the share
/// `frozen` of the volume is ice (counted up to 0.999).
pub fn shell_resistance(frozen: f64, conductivity: f64, length: f64) -> f64 {
    let open = (1.0 - frozen).clamp(1e-3, 1.0);
    -0.5 * open.ln() / (2.0 * std::f64::consts::PI * conductivity * length)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn ref_error_function_of_the_handbook() {
        // Abramowitz & Stegun Table 7.1 (from memory): erf 0.5, 1, 2; erfc 3 from Table 7.3.
        assert_relative_eq!(erf(0.5), 0.520_499_877_813, max_relative = 1e-12);
        assert_relative_eq!(erf(1.0), 0.842_700_792_950, max_relative = 1e-12);
        assert_relative_eq!(erf(2.0), 0.995_322_265_019, max_relative = 1e-12);
        assert_relative_eq!(erfc(3.0), 2.209_049_699_858_544e-5, max_relative = 1e-12);
    }

    #[test]
    fn analytic_shell_resistance_is_the_log_of_the_radii() {
        // Front at half the radius: three quarters frozen.
        let r = shell_resistance(0.75, 2.2, 0.3);
        assert_relative_eq!(r, 2f64.ln() / (2.0 * std::f64::consts::PI * 2.2 * 0.3), max_relative = 1e-12);
    }
}
