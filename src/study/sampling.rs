//! Points that fill the unit cube evenly, each worked out from its number alone.
//!
//! Latin hypercube: in every coordinate exactly one of n points in each of n equal slices. The order of the slices is a
//! bijection of 0..n computed, not stored: a Feistel network on the next power of four, applied again while it leaves the
//! range (cycle walking). Source: M. D. McKay, R. J. Beckman, W. J. Conover, Technometrics 21 (1979) 239; format-preserving
//! permutations: J. Black, P. Rogaway, CT-RSA 2002.
//!
//! Sobol points with Owen's scrambling: the first 2^m points of any coordinates form a net in base 2. Source: A. B. Owen,
//! Ann. Stat. 25 (1997) 1541; direction numbers of S. Joe and F. Y. Kuo (2008); from the `sobol_burley` crate.

use crate::error::{At, Error, Source};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Most scrambled Sobol points that keep their structure.
pub const MOST_SOBOL: u64 = 1 << 16;
/// Most coordinates of a Sobol point.
pub const MOST_COORDINATES: usize = 256;

/// How points are laid.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Design {
    /// Latin hypercube.
    LatinHypercube,
    /// Scrambled Sobol points; best with a power of two.
    Sobol,
}

impl Design {
    /// The word on the command line.
    pub fn word(self) -> &'static str {
        match self {
            Design::LatinHypercube => "latin-hypercube",
            Design::Sobol => "sobol",
        }
    }
}

/// A set of points in the open unit cube.
#[derive(Debug, Clone)]
pub struct Sample {
    design: Design,
    seed: u64,
    count: u64,
    coordinates: usize,
    slices: Vec<Permutation>,
}

impl Sample {
    /// `count` points with `coordinates` coordinates. Equal seeds give equal points, on every machine.
    ///
    /// # Errors
    /// [`Error::Syntax`] for no points or coordinates, or more Sobol points or coordinates than there are.
    pub fn new(design: Design, count: u64, coordinates: usize, seed: u64) -> Result<Sample, Error> {
        let refuse = |message: String| Err(Error::Syntax { at: At::whole(Source::Study), message });
        if count == 0 || coordinates == 0 {
            return refuse("a sample needs at least one point and one coordinate".to_owned());
        }
        if design == Design::Sobol && (count > MOST_SOBOL || coordinates > MOST_COORDINATES) {
            return refuse(format!(
                "Sobol points go up to {MOST_SOBOL} points and {MOST_COORDINATES} coordinates, not {count} and {coordinates}; \
                 a Latin hypercube has no limit"
            ));
        }
        let slices = match design {
            Design::LatinHypercube => (0..coordinates).map(|j| Permutation::new(count, seed, j as u64)).collect(),
            Design::Sobol => Vec::new(),
        };
        Ok(Sample { design, seed, count, coordinates, slices })
    }

    /// Number of points.
    pub fn count(&self) -> u64 {
        self.count
    }

    /// Point `index`, every coordinate above 0 and below 1. After the last point the first comes again.
    pub fn point(&self, index: u64) -> Vec<f64> {
        let index = index % self.count;
        match self.design {
            Design::LatinHypercube => {
                let mut rng = stream(self.seed, index);
                let n = self.count as f64;
                self.slices.iter().map(|p| (p.at(index) as f64 + unit(&mut rng)) / n).collect()
            }
            Design::Sobol => (0..self.coordinates).map(|j| sobol(index as u32, j as u32, fold(self.seed))).collect(),
        }
    }
}

/// One coordinate of a scrambled Sobol point, in the middle of its cell of 2^-24.
pub(super) fn sobol(index: u32, coordinate: u32, seed: u32) -> f64 {
    let x = f64::from(sobol_burley::sample(index % (1 << 16), coordinate % 256, seed));
    x + 0.5 / 16_777_216.0
}

/// A 64-bit seed as the 32 bits that the scrambling takes.
pub(super) fn fold(seed: u64) -> u32 {
    let mixed = mix(seed);
    (mixed ^ (mixed >> 32)) as u32
}

/// The random numbers that belong to one index.
fn stream(seed: u64, index: u64) -> ChaCha8Rng {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    rng.set_stream(index);
    rng
}

/// Uniform in the open interval (0, 1): 53 bits in the middle of their cells.
fn unit(rng: &mut ChaCha8Rng) -> f64 {
    ((rng.next_u64() >> 11) as f64 + 0.5) / (1u64 << 53) as f64
}

/// Finaliser of splitmix64. Source: G. L. Steele, D. Lea, C. H. Flood, OOPSLA 2014.
fn mix(x: u64) -> u64 {
    let mut z = x.wrapping_add(0x9e37_79b9_7f4a_7c15);
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

/// A bijection of 0..n.
#[derive(Debug, Clone)]
struct Permutation {
    n: u64,
    half_bits: u32,
    keys: [u64; 8],
}

impl Permutation {
    fn new(n: u64, seed: u64, coordinate: u64) -> Permutation {
        // Streams at the far end, which no point of a study uses.
        let mut rng = stream(seed, u64::MAX - coordinate);
        let bits = u64::BITS - n.saturating_sub(1).leading_zeros();
        Permutation { n, half_bits: bits.div_ceil(2).max(1), keys: [(); 8].map(|()| rng.next_u64()) }
    }

    /// `index` below `n`: from beyond it the walk may never come back.
    fn at(&self, index: u64) -> u64 {
        let mask = (1u64 << self.half_bits) - 1;
        let mut x = index;
        loop {
            let (mut left, mut right) = (x >> self.half_bits, x & mask);
            for key in self.keys {
                (left, right) = (right, left ^ (mix(right ^ key) & mask));
            }
            x = (left << self.half_bits) | right;
            if x < self.n {
                return x;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn analytic_a_permutation_takes_every_place_once() {
        for n in [1, 2, 3, 5, 16, 17, 100, 1000, 4097] {
            for coordinate in 0..3 {
                let p = Permutation::new(n, 7, coordinate);
                let mut seen: Vec<u64> = (0..n).map(|i| p.at(i)).collect();
                seen.sort_unstable();
                assert!(seen.iter().copied().eq(0..n), "{n}");
            }
        }
    }

    #[test]
    fn analytic_points_are_inside_the_cube_and_follow_from_seed_and_number() {
        for design in [Design::LatinHypercube, Design::Sobol] {
            let a = Sample::new(design, 256, 5, 11).unwrap();
            let b = Sample::new(design, 256, 5, 11).unwrap();
            let c = Sample::new(design, 256, 5, 12).unwrap();
            for i in (0..256).rev() {
                assert!(a.point(i).iter().all(|u| *u > 0.0 && *u < 1.0));
                assert_eq!(a.point(i), b.point(i));
                assert_ne!(a.point(i), c.point(i));
            }
        }
        assert!(Sample::new(Design::Sobol, MOST_SOBOL + 1, 2, 1).is_err());
        assert!(Sample::new(Design::LatinHypercube, 0, 2, 1).is_err());
    }
}
