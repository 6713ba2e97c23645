//! Exact Jacobians by forward differentiation, a few columns a pass.

use super::system::System;
use crate::real::{Dual, Real};

/// Columns per pass.
const WIDTH: usize = 14;

/// Jacobian of states and ledger with respect to the active states, and the partial derivative by time.
pub(super) struct Jacobian {
    /// Column by column, one per active state, `dim + ledger` entries each.
    columns: Vec<f64>,
    /// Derivative of the rates by time, `dim + ledger`.
    pub by_time: Vec<f64>,
    y: Vec<Dual<WIDTH>>,
    out: Vec<Dual<WIDTH>>,
}

impl Jacobian {
    pub fn new(dim: usize, ledger: usize) -> Self {
        Jacobian {
            columns: vec![0.0; (dim + ledger) * dim],
            by_time: vec![0.0; dim + ledger],
            y: vec![Dual::constant(0.0); dim],
            out: vec![Dual::constant(0.0); dim + ledger],
        }
    }

    /// Derivatives of all rates by active state `c`.
    #[inline]
    pub fn column(&self, c: usize) -> &[f64] {
        let rows = self.by_time.len();
        &self.columns[c * rows..(c + 1) * rows]
    }

    /// Evaluates at `(t, y)`; `active` lists the states that can move.
    pub fn evaluate<S: System>(&mut self, system: &S, mode: &S::Mode, t: f64, y: &[f64], active: &[usize]) {
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
            let rows = self.out.len();
            for c in first..last {
                let target = match active.get(c) {
                    Some(_) => &mut self.columns[c * rows..(c + 1) * rows],
                    None => self.by_time.as_mut_slice(),
                };
                for (x, out) in target.iter_mut().zip(&self.out) {
                    *x = out.eps[c - first];
                }
            }
            first = last;
        }
    }
}
