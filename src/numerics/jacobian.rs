//! Exact Jacobians by forward differentiation, a few columns a pass.

use super::solve::System;
use crate::real::{Dual, Real};
use nalgebra::DMatrix;

/// Columns per pass.
const WIDTH: usize = 7;

/// Jacobian of states and ledger with respect to the active states, and the partial derivative by time.
pub(super) struct Jacobian {
    /// `(dim + ledger) x active.len()`.
    pub matrix: DMatrix<f64>,
    /// Derivative of the rates by time, `dim + ledger`.
    pub by_time: Vec<f64>,
    y: Vec<Dual<WIDTH>>,
    out: Vec<Dual<WIDTH>>,
}

impl Jacobian {
    pub fn new(dim: usize, ledger: usize) -> Self {
        Jacobian {
            matrix: DMatrix::zeros(dim + ledger, dim),
            by_time: vec![0.0; dim + ledger],
            y: vec![Dual::constant(0.0); dim],
            out: vec![Dual::constant(0.0); dim + ledger],
        }
    }

    /// Evaluates at `(t, y)`; `active` lists the states that can move.
    pub fn evaluate<S: System>(&mut self, system: &S, mode: &S::Mode, t: f64, y: &[f64], active: &[usize]) {
        let rows = self.out.len();
        let mut first = 0;
        // Time is the last variable of the last pass.
        let total = active.len() + 1;
        while first < total {
            let last = (first + WIDTH).min(total);
            for (d, v) in self.y.iter_mut().zip(y) {
                *d = Dual::constant(*v);
            }
            let mut time = Dual::constant(t);
            for c in first..last {
                match active.get(c) {
                    Some(&i) => self.y[i] = Dual::variable(y[i], c - first),
                    None => time = Dual::variable(t, c - first),
                }
            }
            system.rates(mode, time, &self.y, &mut self.out);
            for c in first..last {
                for r in 0..rows {
                    let d = self.out[r].eps[c - first];
                    match active.get(c) {
                        Some(_) => self.matrix[(r, c)] = d,
                        None => self.by_time[r] = d,
                    }
                }
            }
            first = last;
        }
    }
}
