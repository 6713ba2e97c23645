//! Which input matters: first-order and total variance shares (Sobol indices).
//!
//! ```text
//! S_i  = 1/N sum_j (f(B)_j - f0) (f(A_B^i)_j - f(A)_j) / V           first order
//! ST_i = 1/(2N) sum_j (f(A)_j - f(A_B^i)_j)^2 / V                     total
//! ```
//!
//! `A` and `B` are N points each, the two halves of one point set with 2 d coordinates; `A_B^i` is A with coordinate i from B;
//! `f0` and `V` are mean and variance over A and B together. Subtracting `f0` does not change what the first sum estimates and
//! takes the mean out of its scatter. Source: A. Saltelli et al., Comput. Phys. Commun. 181 (2010) 259, table 2, rows (b) and
//! (f); the total index after M. J. W. Jansen, Comput. Phys. Commun. 117 (1999) 35.
//!
//! The inputs must be independent of each other. The interval comes from replicates that are scrambled independently.

use super::sampling::{MOST_SOBOL, sobol};
use super::statistics::{Estimate, estimate};
use crate::error::{At, Error, Source};
use serde::Serialize;

/// Which runs the indices need.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Scheme {
    base: u64,
    replicates: u64,
    inputs: usize,
    seed: u64,
}

impl Scheme {
    /// `base` points N for each of `replicates`, best a power of two, and `inputs` d.
    ///
    /// # Errors
    /// [`Error::Syntax`] for no points, replicates or inputs, more than [`MOST_SOBOL`] points, or more than 128 inputs.
    pub fn new(base: u64, replicates: u64, inputs: usize, seed: u64) -> Result<Scheme, Error> {
        let most = [
            (Source::Option("--base"), base, MOST_SOBOL, "base points"),
            (Source::Option("--replicates"), replicates, 10_000, "replicates"),
            (Source::Study, inputs as u64, 128, "inputs"),
        ];
        for (source, given, most, what) in most {
            if !(1..=most).contains(&given) {
                let message = format!("variance shares need 1 to {most} {what}, not {given}");
                return Err(Error::Syntax { at: At::whole(source), message });
            }
        }
        Ok(Scheme { base, replicates, inputs, seed })
    }

    /// Points N of each replicate.
    pub fn base(&self) -> u64 {
        self.base
    }

    /// Replicates.
    pub fn replicates(&self) -> u64 {
        self.replicates
    }

    /// Runs per base point: A, B and one for each input.
    fn block(&self) -> u64 {
        self.inputs as u64 + 2
    }

    /// Runs in all.
    pub fn len(&self) -> u64 {
        self.base * self.replicates * self.block()
    }

    /// Whether there are none; there always are.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// What run `index` belongs to: replicate, base point, and 0 for A, 1 for B, 2 + i for A with coordinate i from B.
    fn place(&self, index: u64) -> (u64, u64, u64) {
        let block = index / self.block();
        (block / self.base, block % self.base, index % self.block())
    }

    /// What run `index` is, in words: "A", "B", "AB1", ...
    pub fn name(&self, index: u64) -> String {
        match self.place(index).2 {
            0 => "A".to_owned(),
            1 => "B".to_owned(),
            k => format!("AB{}", k - 1),
        }
    }

    /// The point of run `index` in the open unit cube.
    pub fn point(&self, index: u64) -> Vec<f64> {
        let (replicate, j, kind) = self.place(index);
        // Each replicate has a scrambling of its own.
        let seed = super::sampling::fold(self.seed.wrapping_mul(0x1_0000_0001).wrapping_add(replicate));
        let from = |half: usize, i: usize| sobol(j as u32, (half * self.inputs + i) as u32, seed);
        (0..self.inputs).map(|i| if kind == 1 || kind == 2 + i as u64 { from(1, i) } else { from(0, i) }).collect()
    }
}

/// Indices of one input.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Indices {
    /// Share of the variance that the input explains by itself.
    pub first: Estimate,
    /// Share in which it takes part.
    pub total: Estimate,
}

/// Sums of one replicate.
#[derive(Debug, Clone, Default)]
struct Sums {
    /// Base points that are complete.
    n: f64,
    /// Sum and sum of squares of f over A and B, about the first value.
    f: f64,
    ff: f64,
    /// For each input: sum of f(B) d, of d, and of d squared, with d = f(AB) - f(A).
    bd: Vec<f64>,
    d: Vec<f64>,
    dd: Vec<f64>,
}

/// Gathers the values of the runs in their order and gives the indices. Memory does not depend on the number of points.
#[derive(Debug, Clone)]
pub struct Gather {
    scheme: Scheme,
    sums: Vec<Sums>,
    block: Vec<Option<f64>>,
    /// All values are taken relative to the first, so that a large mean costs no digits.
    shift: Option<f64>,
    dropped: u64,
    next: u64,
}

impl Gather {
    /// Empty.
    pub fn new(scheme: Scheme) -> Gather {
        let zero = || vec![0.0; scheme.inputs];
        let sums = Sums { bd: zero(), d: zero(), dd: zero(), ..Sums::default() };
        Gather {
            sums: vec![sums; usize::try_from(scheme.replicates).unwrap_or(0)],
            block: Vec::with_capacity(scheme.inputs + 2),
            shift: None,
            dropped: 0,
            next: 0,
            scheme,
        }
    }

    /// Takes the value of the next run; `None` if that run failed or has no such value. The base point it belongs to is then
    /// left out.
    pub fn push(&mut self, value: Option<f64>) {
        let (replicate, ..) = self.scheme.place(self.next);
        self.next += 1;
        self.block.push(value.filter(|v| v.is_finite()));
        if self.block.len() < self.scheme.inputs + 2 {
            return;
        }
        let values: Option<Vec<f64>> = self.block.iter().copied().collect();
        self.block.clear();
        let (Some(values), Some(sums)) = (values, self.sums.get_mut(replicate as usize)) else {
            self.dropped += 1;
            return;
        };
        let [a, b, mixed @ ..] = values.as_slice() else { return };
        let shift = *self.shift.get_or_insert(*a);
        let (a, b) = (a - shift, b - shift);
        sums.n += 1.0;
        sums.f += a + b;
        sums.ff += a * a + b * b;
        for (i, m) in mixed.iter().enumerate() {
            let d = (m - shift) - a;
            if let (Some(bd), Some(sd), Some(dd)) = (sums.bd.get_mut(i), sums.d.get_mut(i), sums.dd.get_mut(i)) {
                *bd += b * d;
                *sd += d;
                *dd += d * d;
            }
        }
    }

    /// Base points left out because one of their runs failed.
    pub fn dropped(&self) -> u64 {
        self.dropped
    }

    /// The indices, one pair for each input; `None` if the output does not vary at all.
    pub fn indices(&self) -> Option<Vec<Indices>> {
        let used: Vec<(&Sums, f64, f64)> = self
            .sums
            .iter()
            .filter(|s| s.n > 0.0)
            .map(|s| {
                let mean = s.f / (2.0 * s.n);
                (s, mean, s.ff / (2.0 * s.n) - mean * mean)
            })
            .collect();
        if used.is_empty() || !used.iter().all(|(_, _, variance)| *variance > 0.0) {
            return None;
        }
        let at = |list: &[f64], i: usize| list.get(i).copied().unwrap_or(f64::NAN);
        let pair = |i: usize| {
            let first = |&(s, mean, variance): &(&Sums, f64, f64)| (at(&s.bd, i) - mean * at(&s.d, i)) / s.n / variance;
            let total = |&(s, _, variance): &(&Sums, f64, f64)| at(&s.dd, i) / (2.0 * s.n) / variance;
            Indices {
                first: estimate(&used.iter().map(first).collect::<Vec<_>>()),
                total: estimate(&used.iter().map(total).collect::<Vec<_>>()),
            }
        };
        Some((0..self.scheme.inputs).map(pair).collect())
    }
}
