//! Rubber: stiffness from hardness, stress at large stretch, temperature, set and ageing.
//!
//! ```text
//! Gent            E = 0.0981 (56 + 7.62336 S)/[0.137505 (254 − 2.54 S)]  MPa            20 < S < 80
//! Ruess           log₁₀ E = 0.0235 S − 0.6403   (E in MPa)                              30 … 60
//! BS 903          S = 100 erf(3.186·10⁻⁴ √E)    (E in Pa)                               30 … 85
//! neo-Hookean     W = μ(I₁ − 3)/2,   P = μ(λ − λ⁻²),   σ = λP                           λ up to about 1.5
//! Mooney–Rivlin   P = 2(λ − λ⁻²)(C₁₀ + C₀₁/λ),   μ = 2(C₁₀ + C₀₁),   E = 3μ
//! temperature     E(T)/E(T₀) = (T/T₀)·[a_T(T)/a_T(T₀)]ⁿ,   log₁₀ a_T = −C₁(T − T_g)/(C₂ + T − T_g)
//! set             D395 B / ISO 815: (t₀ − t_i)/(t₀ − t_n);   D395 A: (t₀ − t_i)/t₀
//! ageing          rate(T) = exp[(Q/R)(1/T₀ − 1/T)]/τ
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | S, E, μ | hardness, Young's and shear modulus | Shore A, Pa, Pa |
//! | λ, P, σ | stretch, nominal and true stress | 1, Pa, Pa |
//! | T, T₀, T_g | temperature, reference, glass transition | K |
//! | a_T, n | shift of time with temperature, exponent of relaxation | 1, 1 |
//! | t₀, t_i, t_n | height before, after, and of the spacer | m |
//! | Q, τ | activation energy, time constant at T₀ | J/mol, s |
//!
//! **Sources.** Gent, Rubber Chem. Technol. 31 (1958) 896 in its SI form (form seen in public code); Ruess fit (page
//! seen; base 10, a widely copied version with base e is wrong); BS 903 form from memory. The three lie 10 to 55 % apart
//! between 30 and 80 Shore A: no hardness tells the modulus better than ±25 %. Neo-Hookean and Mooney–Rivlin: Treloar,
//! *The Physics of Rubber Elasticity*. WLF with the universal constants 17.44 and 51.6 K: Williams, Landel & Ferry,
//! J. Am. Chem. Soc. 77 (1955) 3701, good from T_g to T_g + 100 K.
//!
//! **Why warm rubber gets softer although rubber elasticity says the opposite.** The network's own modulus is entropic,
//! E ∝ T (Treloar): +0.34 % per kelvin at room temperature. But a filled compound is never fully relaxed: its modulus
//! falls about as t⁻ⁿ over many decades of time, and a warmer compound runs through those decades faster
//! (time–temperature superposition, E(t, T) = (T/T₀) E(t/a_T, T₀)). Both together give the law above: the second factor
//! wins while n·ln 10·C₁C₂/(C₂ + T − T_g)² > 1/T. For the default compound it wins over all its range; for one with T_g at
//! −54 °C (an ethylene–propylene rubber) only up to 60 °C, where its stiffness has a minimum. A minimum of this kind was
//! published for ethylene–propylene rubber (Polymers 17 (2025) 1626, abstract seen).

use crate::real::Real;

/// Gas constant, J/(mol K) (exact since 2019).
pub const GAS_CONSTANT: f64 = 8.314_462_618_153_24;

/// Universal WLF constants C₁ and C₂ (K) with the glass transition as reference.
pub const WLF_AT_GLASS: (f64, f64) = (17.44, 51.6);

/// WLF constants with T_g + 50 K as reference (from memory).
pub const WLF_FIFTY_ABOVE: (f64, f64) = (8.86, 101.6);

/// Which relation turns Shore A hardness into Young's modulus.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum HardnessLaw {
    /// Gent 1958, the default: from the contact of the indentor.
    #[default]
    Gent,
    /// Ruess' fit; stiffer than the others above 60.
    Ruess,
    /// Error-function form of BS 903.
    Bs903,
}

impl HardnessLaw {
    /// Hardness range, Shore A, within which the relation is meant.
    pub fn range(self) -> (f64, f64) {
        match self {
            HardnessLaw::Gent => (20.0, 80.0),
            HardnessLaw::Ruess => (30.0, 60.0),
            HardnessLaw::Bs903 => (30.0, 85.0),
        }
    }

    /// Young's modulus, Pa, at hardness `shore_a`; NaN unless 0 < `shore_a` < 100. See [`Self::range`].
    pub fn youngs_modulus(self, shore_a: f64) -> f64 {
        if !(shore_a > 0.0 && shore_a < 100.0) {
            return f64::NAN;
        }
        match self {
            HardnessLaw::Gent => 0.0981e6 * (56.0 + 7.62336 * shore_a) / (0.137505 * (254.0 - 2.54 * shore_a)),
            HardnessLaw::Ruess => 1e6 * 10f64.powf(0.0235 * shore_a - 0.6403),
            HardnessLaw::Bs903 => (inverse_erf(shore_a / 100.0) / 3.186e-4).powi(2),
        }
    }
}

/// Error function for x ≥ 0 by its series of positive terms.
fn erf(x: f64) -> f64 {
    let (mut term, mut sum, mut k) = (x, x, 0.0);
    while term > 1e-17 * sum {
        k += 1.0;
        term *= 2.0 * x * x / (2.0 * k + 1.0);
        sum += term;
    }
    std::f64::consts::FRAC_2_SQRT_PI * (-x * x).exp() * sum
}

/// x with erf(x) = `y`, 0 < y < 1: Newton's method from 0, which rises to the root because erf is concave there.
fn inverse_erf(y: f64) -> f64 {
    let mut x = 0.0;
    for _ in 0..100 {
        let step = (y - erf(x)) * (x * x).exp() / std::f64::consts::FRAC_2_SQRT_PI;
        x += step;
        if !(step > 1e-16 * x) {
            break;
        }
    }
    x
}

/// An incompressible neo-Hookean rubber.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NeoHookean {
    /// Shear modulus μ = E/3, Pa.
    pub shear_modulus: f64,
}

impl NeoHookean {
    /// Nominal stress (force over undeformed area), Pa, at `stretch` λ > 0 along one axis, the others free.
    pub fn uniaxial_nominal<T: Real>(&self, stretch: T) -> T {
        self.as_mooney_rivlin().uniaxial_nominal(stretch)
    }

    /// True (Cauchy) stress, Pa, at `stretch` λ > 0 along one axis.
    pub fn uniaxial_true<T: Real>(&self, stretch: T) -> T {
        self.uniaxial_nominal(stretch) * stretch
    }

    /// Nominal stress, Pa, at equal `stretch` λ > 0 along two axes: μ(λ − λ⁻⁵).
    pub fn equibiaxial_nominal<T: Real>(&self, stretch: T) -> T {
        self.as_mooney_rivlin().equibiaxial_nominal(stretch)
    }

    /// Nominal stress, Pa, at `stretch` λ > 0 along one axis with a second held at its length: μ(λ − λ⁻³).
    pub fn planar_nominal<T: Real>(&self, stretch: T) -> T {
        (stretch - stretch.powf(-3.0)) * self.shear_modulus
    }

    fn as_mooney_rivlin(&self) -> MooneyRivlin {
        MooneyRivlin { c10: 0.5 * self.shear_modulus, c01: 0.0 }
    }
}

/// An incompressible Mooney–Rivlin rubber.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MooneyRivlin {
    /// Constant C₁₀, Pa.
    pub c10: f64,
    /// Constant C₀₁, Pa.
    pub c01: f64,
}

impl MooneyRivlin {
    /// Shear modulus at rest, Pa.
    pub fn shear_modulus(&self) -> f64 {
        2.0 * (self.c10 + self.c01)
    }

    /// Young's modulus at rest, Pa.
    pub fn youngs_modulus(&self) -> f64 {
        3.0 * self.shear_modulus()
    }

    /// Nominal stress, Pa, at `stretch` λ > 0 along one axis.
    pub fn uniaxial_nominal<T: Real>(&self, stretch: T) -> T {
        let inverse = T::constant(1.0) / stretch;
        (stretch - inverse * inverse) * (inverse * self.c01 + self.c10) * 2.0
    }

    /// True stress, Pa, at `stretch` λ > 0 along one axis.
    pub fn uniaxial_true<T: Real>(&self, stretch: T) -> T {
        self.uniaxial_nominal(stretch) * stretch
    }

    /// Nominal stress, Pa, at equal `stretch` λ > 0 along two axes: 2(λ − λ⁻⁵)(C₁₀ + C₀₁λ²).
    pub fn equibiaxial_nominal<T: Real>(&self, stretch: T) -> T {
        (stretch - stretch.powf(-5.0)) * (stretch * stretch * self.c01 + self.c10) * 2.0
    }
}

/// Apparent modulus of a block bonded between plates, over E: 1 + 2φS², with `shape_factor` S (loaded over free area) and
/// `phi` φ the compound's coefficient (Gent & Lindley, from memory; good to S of about 3).
pub fn bonded_block_ratio(shape_factor: f64, phi: f64) -> f64 {
    1.0 + 2.0 * phi * shape_factor * shape_factor
}

/// log₁₀ of the WLF shift at `above_reference` K above the reference temperature of the `constants` (C₁, C₂).
pub fn wlf_log10_shift(above_reference: f64, constants: (f64, f64)) -> f64 {
    -constants.0 * above_reference / (constants.1 + above_reference)
}

/// What decides how a compound's modulus moves with temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Compound {
    /// Glass transition T_g, K.
    pub glass_transition: f64,
    /// Exponent n: the modulus falls as t⁻ⁿ, so a decade of time takes 1 − 10⁻ⁿ of it.
    pub relaxation_exponent: f64,
}

impl Default for Compound {
    /// A filled nitrile rubber: T_g −25 °C (from memory, medium acrylonitrile), n = 0.04, that is 9 % a decade (estimate).
    fn default() -> Self {
        Compound { glass_transition: 248.15, relaxation_exponent: 0.04 }
    }
}

impl Compound {
    /// log₁₀ of the time shift between `temperature` and `reference`, K: negative when warmer. Temperatures below T_g,
    /// where the law ends, count as T_g.
    pub fn log10_shift(&self, temperature: f64, reference: f64) -> f64 {
        // Not `max`: it would turn NaN into 0.
        let above = |t: f64| if t < self.glass_transition { 0.0 } else { t - self.glass_transition };
        wlf_log10_shift(above(temperature), WLF_AT_GLASS) - wlf_log10_shift(above(reference), WLF_AT_GLASS)
    }

    /// Modulus at `temperature` over modulus at `reference`, both K, at equal time under load. Estimate, stated for T_g to
    /// T_g + 100 K.
    pub fn temperature_factor(&self, temperature: f64, reference: f64) -> f64 {
        temperature / reference * 10f64.powf(self.relaxation_exponent * self.log10_shift(temperature, reference))
    }

    /// Loss tangent that belongs to a modulus ∝ t⁻ⁿ: tan(πn/2), the same at every frequency (Ferry, *Viscoelastic
    /// Properties of Polymers*, from memory).
    pub fn loss_tangent(&self) -> f64 {
        (std::f64::consts::FRAC_PI_2 * self.relaxation_exponent).tan()
    }
}

/// Compression set as a fraction, ASTM D395 method B and ISO 815-1 (constant deflection): `original`, `recovered` and
/// `spacer` heights in one unit.
pub fn compression_set_constant_deflection(original: f64, recovered: f64, spacer: f64) -> f64 {
    (original - recovered) / (original - spacer)
}

/// Compression set as a fraction, ASTM D395 method A (constant force).
pub fn compression_set_constant_force(original: f64, recovered: f64) -> f64 {
    (original - recovered) / original
}

/// Ageing of a load made by rubber: set takes the roll away, hardening raises the modulus; both follow Arrhenius with one
/// activation energy.
///
/// ```text
/// set = 1 − exp(−t a/τ_set),   hardening = h[1 − exp(−t a/τ_h)],   a = exp[(Q/R)(1/T₀ − 1/T)]
/// load factor = (1 − set)(1 + hardening)
/// ```
///
/// Estimate throughout but for Q: 69 to 76 kJ/mol was found on ethylene–propylene vulcanisates between 100 and 150 °C
/// (a published ageing study, page seen); below about 70 °C rubbers leave Arrhenius, so long forecasts are guesses.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ageing {
    /// Activation energy Q, J/mol.
    pub activation_energy: f64,
    /// Reference temperature T₀, K.
    pub reference_temperature: f64,
    /// Time constant of set at T₀, s.
    pub set_time: f64,
    /// Time constant of hardening at T₀, s.
    pub hardening_time: f64,
    /// Rise of the modulus at the end of hardening, as a fraction h.
    pub hardening: f64,
}

/// A Julian year, s.
const YEAR: f64 = 365.25 * 86_400.0;

impl Default for Ageing {
    /// 72 kJ/mol, 23 °C, set within 30 years, hardening by half within 60 (all but the first estimates).
    fn default() -> Self {
        Ageing {
            activation_energy: 72e3,
            reference_temperature: 296.15,
            set_time: 30.0 * YEAR,
            hardening_time: 60.0 * YEAR,
            hardening: 0.5,
        }
    }
}

impl Ageing {
    /// How many times faster than at the reference temperature.
    pub fn acceleration(&self, temperature: f64) -> f64 {
        (self.activation_energy / GAS_CONSTANT * (1.0 / self.reference_temperature - 1.0 / temperature)).exp()
    }

    /// Share of the held deflection that has become permanent after `time` s at `temperature` K.
    pub fn set(&self, time: f64, temperature: f64) -> f64 {
        -(-time * self.acceleration(temperature) / self.set_time).exp_m1()
    }

    /// Rise of the modulus after `time` s at `temperature` K, as a fraction.
    pub fn hardened(&self, time: f64, temperature: f64) -> f64 {
        -self.hardening * (-time * self.acceleration(temperature) / self.hardening_time).exp_m1()
    }

    /// Load over load when new after `time` s at `temperature` K.
    pub fn load_factor(&self, time: f64, temperature: f64) -> f64 {
        (1.0 - self.set(time, temperature)) * (1.0 + self.hardened(time, temperature))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn ref_error_function_and_its_inverse() {
        // Abramowitz & Stegun, table 7.1: erf(0.5), erf(1), erf(2).
        for (x, y) in [(0.5, 0.520_499_877_8), (1.0, 0.842_700_792_9), (2.0, 0.995_322_265_0)] {
            assert_relative_eq!(erf(x), y, epsilon = 5e-11);
            assert_relative_eq!(inverse_erf(y), x, max_relative = 1e-8);
        }
        assert_relative_eq!(erf(inverse_erf(0.9999)), 0.9999, max_relative = 1e-14);
    }

    #[test]
    fn ref_hardness_laws_lie_as_far_apart_as_published_and_rise() {
        // The scatter stated with the sources: 10 to 55 % within 30 to 80 Shore A.
        let laws = [HardnessLaw::Gent, HardnessLaw::Ruess, HardnessLaw::Bs903];
        let all = |s: f64| laws.map(|l| l.youngs_modulus(s));
        for s in 30..=80 {
            let here = all(f64::from(s));
            let (least, most) = here.iter().fold((f64::MAX, 0f64), |(a, b), e| (a.min(*e), b.max(*e)));
            assert!(1.0 - least / most < 0.55, "{s}: {here:?}");
            assert!(here.iter().zip(all(f64::from(s) + 1.0)).all(|(a, b)| b > *a));
        }
        for bad in [0.0, -5.0, 100.0, f64::NAN] {
            assert!(all(bad).iter().all(|e| e.is_nan()));
        }
    }

    #[test]
    fn analytic_small_strain_gives_the_moduli() {
        let (e, rubber) = (1e-6, MooneyRivlin { c10: 0.4e6, c01: 0.1e6 });
        let neo = NeoHookean { shear_modulus: rubber.shear_modulus() };
        assert_eq!(rubber.youngs_modulus(), 3e6);
        // Uniaxial E, equal biaxial 2E, one side held 4E/3; next terms are of the order of the strain.
        assert_relative_eq!(rubber.uniaxial_nominal(1.0 + e) / e, 3e6, max_relative = 1e-5);
        assert_relative_eq!(neo.uniaxial_true(1.0 + e) / e, 3e6, max_relative = 1e-5);
        assert_relative_eq!(rubber.equibiaxial_nominal(1.0 + e) / e, 6e6, max_relative = 1e-5);
        assert_relative_eq!(neo.planar_nominal(1.0 + e) / e, 4e6, max_relative = 1e-5);
    }
}
