//! Sticking is random: each try draws friction and adhesion from the seed.
//!
//! ```text
//! X = mean exp(s Z - s^2 / 2),   s^2 = ln(1 + cv^2),   Z standard normal (Box and Muller)
//! adhesion at a try = drawn value (1 - exp(-t_shut / T))
//! ```
//!
//! The first try finds parts that have stood shut for long; before each later one they stand shut for the pause between
//! tries. Lognormal with these scatters: estimate. Every try has its own stream of the generator, so that a try does not
//! depend on how many came before it.

use super::setup::Sticking;
use crate::rig::Rig;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

/// A standard normal number by Box and Muller.
fn normal(random: &mut ChaCha8Rng) -> f64 {
    let mut uniform = || (random.next_u64() >> 11) as f64 / (1_u64 << 53) as f64;
    let (a, b) = (1.0 - uniform(), uniform());
    (-2.0 * a.ln()).sqrt() * (2.0 * std::f64::consts::PI * b).cos()
}

/// A factor of mean 1 and this scatter.
fn lognormal(random: &mut ChaCha8Rng, cv: f64) -> f64 {
    let variance = (1.0 + cv * cv).ln();
    (variance.sqrt() * normal(random) - 0.5 * variance).exp()
}

/// Draws friction and adhesion of check and air inlet for one try.
pub(super) fn draw(rig: &mut Rig, sticking: &Sticking, seed: u64, attempt: u64) {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    random.set_stream(attempt);
    let grown = if attempt == 0 { 1.0 } else { 1.0 - (-sticking.pause / sticking.growth_time).exp() };
    for part in [&mut rig.check, &mut rig.inlet.poppet] {
        part.friction *= lognormal(&mut random, sticking.friction);
        part.adhesion *= lognormal(&mut random, sticking.adhesion) * grown;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Mean 1 and the stated scatter over 20,000 draws: 3 standard errors are 0.011 and about 0.02.
    #[test]
    fn analytic_draws_have_their_mean_and_scatter() {
        let mut random = ChaCha8Rng::seed_from_u64(7);
        let draws: Vec<f64> = (0..20_000).map(|_| lognormal(&mut random, 0.5)).collect();
        let mean = draws.iter().sum::<f64>() / 20_000.0;
        let deviation = (draws.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / 20_000.0).sqrt();
        assert!((mean - 1.0).abs() < 0.011, "{mean}");
        assert!((deviation - 0.5).abs() < 0.03, "{deviation}");
    }
}
