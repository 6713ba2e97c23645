//! Relaxation of rubber under a held deflection: a Prony series and the same as ordinary differential equations.
//!
//! ```text
//! E(t) = E_∞ + Σ E_i exp(−t/τ_i)                                modulus after a step at t = 0
//! σ(t) = r [E_∞ t + Σ E_i τ_i (1 − exp(−t/τ_i))]                strain rising at the constant rate r
//! σ = E_∞ ε + Σ E_i (ε − z_i),   dz_i/dt = (ε − z_i)/τ_i        any history: z_i is what term i has forgotten
//! ```
//!
//! The generalised Maxwell solid (springs E_i in series with dashpots E_iτ_i, beside a spring E_∞). The states z_i have
//! the dimension of the input ε and need no rate of strain. For a load that is not linear in travel take the
//! instantaneous force as input and a series that adds up to 1 ([`Prony::normalised`]): quasi-linear viscoelasticity
//! (Fung). A warmer compound relaxes faster: multiply every τ by a_T ([`Prony::shifted`], time–temperature
//! superposition; shift from [`crate::laws::rubber::Compound::log10_shift`]).

use crate::real::Real;

/// One Maxwell element.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PronyTerm {
    /// Modulus E_i, Pa (or a share, in a normalised series).
    pub modulus: f64,
    /// Relaxation time τ_i, s.
    pub time: f64,
}

impl PronyTerm {
    /// dz/dt of this term's state z under `input` ε; the dimension of the input over s.
    #[inline]
    pub fn rate<T: Real>(&self, input: T, state: T) -> T {
        (input - state) / self.time
    }
}

/// A Prony series.
#[derive(Debug, Clone, PartialEq)]
pub struct Prony {
    /// Modulus left in the end E_∞, Pa.
    pub equilibrium: f64,
    /// The terms.
    pub terms: Vec<PronyTerm>,
}

impl Prony {
    /// A series of `count` terms a decade apart from `first` s on, that takes `per_decade` of what is left every decade:
    /// E(t) ∝ t⁻ⁿ with 10⁻ⁿ = 1 − `per_decade`, from `first` s to ten to the power of `count` times that. Adds up to 1.
    ///
    /// Good to 0.2 percentage points of the power law in between for `per_decade` up to 0.1.
    pub fn power_law(per_decade: f64, first: f64, count: usize) -> Self {
        let mut left = 1.0;
        let mut terms = Vec::with_capacity(count);
        let mut time = first;
        for _ in 0..count {
            terms.push(PronyTerm { modulus: left * per_decade, time });
            left *= 1.0 - per_decade;
            time *= 10.0;
        }
        Prony { equilibrium: left, terms }
    }

    /// Modulus at t = 0, Pa.
    pub fn instantaneous(&self) -> f64 {
        self.equilibrium + self.terms.iter().map(|t| t.modulus).sum::<f64>()
    }

    /// The same series scaled so that it adds up to 1.
    pub fn normalised(&self) -> Self {
        let total = self.instantaneous();
        let scale = |t: &PronyTerm| PronyTerm { modulus: t.modulus / total, ..*t };
        Prony { equilibrium: self.equilibrium / total, terms: self.terms.iter().map(scale).collect() }
    }

    /// The same series with every time multiplied by 10 to the power of `log10_shift`.
    pub fn shifted(&self, log10_shift: f64) -> Self {
        let factor = 10f64.powf(log10_shift);
        let shift = |t: &PronyTerm| PronyTerm { time: t.time * factor, ..*t };
        Prony { equilibrium: self.equilibrium, terms: self.terms.iter().map(shift).collect() }
    }

    /// Relaxation modulus, Pa, at `time` s ≥ 0 after a step.
    pub fn modulus(&self, time: f64) -> f64 {
        self.equilibrium + self.terms.iter().map(|t| t.modulus * (-time / t.time).exp()).sum::<f64>()
    }

    /// Stress, Pa, after `time` s of strain rising at `rate` 1/s.
    pub fn constant_rate_stress(&self, rate: f64, time: f64) -> f64 {
        let forgotten = |t: &PronyTerm| -t.modulus * t.time * (-time / t.time).exp_m1();
        rate * (self.equilibrium * time + self.terms.iter().map(forgotten).sum::<f64>())
    }

    /// Response (stress, or force for a normalised series) to `input` with the terms' `states` in order. Missing states
    /// count as 0, spare ones not at all.
    #[inline]
    pub fn response<T: Real>(&self, input: T, states: &[T]) -> T {
        let mut sum = input * self.instantaneous();
        for (term, state) in self.terms.iter().zip(states) {
            sum = sum - *state * term.modulus;
        }
        sum
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::real::Dual;
    use approx::assert_relative_eq;

    fn series() -> Prony {
        let term = |modulus, time| PronyTerm { modulus, time };
        Prony { equilibrium: 1.0, terms: vec![term(0.6, 1.0), term(0.3, 10.0), term(0.1, 1000.0)] }
    }

    #[test]
    fn analytic_states_follow_the_constant_rate_solution() {
        // Classic Runge–Kutta of order 4 on the states, step 0.02 s: local error (h/τ)⁵/120 = 3e-11 of the state.
        let (prony, rate, h, steps) = (series(), 1e-3, 0.02, 500);
        let mut states = [0.0; 3];
        for k in 0..steps {
            let start = rate * h * f64::from(k);
            for (z, term) in states.iter_mut().zip(&prony.terms) {
                let k1 = term.rate(start, *z);
                let k2 = term.rate(start + 0.5 * rate * h, *z + 0.5 * h * k1);
                let k3 = term.rate(start + 0.5 * rate * h, *z + 0.5 * h * k2);
                let k4 = term.rate(start + rate * h, *z + h * k3);
                *z += h / 6.0 * (k1 + 2.0 * k2 + 2.0 * k3 + k4);
            }
        }
        let time = h * f64::from(steps);
        assert_relative_eq!(
            prony.response(rate * time, &states),
            prony.constant_rate_stress(rate, time),
            max_relative = 1e-9
        );
    }

    #[test]
    fn analytic_step_gives_the_instantaneous_modulus_and_rates_carry_derivatives() {
        let prony = series();
        assert_relative_eq!(prony.response(0.1, &[0.0; 3]), 0.2, max_relative = 1e-15);
        assert_relative_eq!(prony.response(0.1, &[0.1; 3]), 0.1, max_relative = 1e-15);
        let rate = prony.terms[1].rate(Dual::<2>::variable(0.3, 0), Dual::variable(0.1, 1));
        assert_relative_eq!(rate.re, 0.02, max_relative = 1e-14);
        assert_relative_eq!(rate.eps[0], 0.1, max_relative = 1e-15);
        assert_relative_eq!(rate.eps[1], -0.1, max_relative = 1e-15);
        assert_relative_eq!(prony.normalised().instantaneous(), 1.0, max_relative = 1e-15);
        assert_relative_eq!(prony.shifted(1.0).modulus(100.0), prony.modulus(10.0), max_relative = 1e-14);
    }

    #[test]
    fn analytic_power_law_series_falls_by_its_share_every_decade() {
        for share in [0.03, 0.09] {
            let prony = Prony::power_law(share, 1e-2, 8);
            assert_relative_eq!(prony.instantaneous(), 1.0, max_relative = 1e-15);
            for decade in 1..6 {
                let t = 1e-2 * 10f64.powi(decade);
                let lost = 1.0 - prony.modulus(10.0 * t) / prony.modulus(t);
                assert!((lost - share).abs() < 2e-3, "{lost} against {share} at {t} s");
            }
        }
    }
}
