//! Exact Jacobians by forward differentiation, a few columns a pass.

use super::system::System;
use crate::real::{Dual, Real};

/// Columns per pass: of the usual rig, and of one with an elastomer's lip or a relief as well. One pass is cheaper than two
/// even when some of its columns are idle.
const NARROW: usize = 14;
const WIDE: usize = 20;

/// Jacobian of states and ledger with respect to the active states, and the partial derivative by time.
pub(super) struct Jacobian {
    /// Column by column, one per active state, `dim + ledger` entries each.
    columns: Vec<f64>,
    /// Derivative of the rates by time, `dim + ledger`.
    pub by_time: Vec<f64>,
    narrow: Pass<NARROW>,
    wide: Pass<WIDE>,
}

/// States and rates with derivatives.
struct Pass<const N: usize> {
    y: Vec<Dual<N>>,
    out: Vec<Dual<N>>,
}

impl<const N: usize> Pass<N> {
    fn new(dim: usize, ledger: usize) -> Self {
        Pass { y: vec![Dual::constant(0.0); dim], out: vec![Dual::constant(0.0); dim + ledger] }
    }

    /// Derivatives by variables `first` on, as many as fit; time is the variable behind the active states.
    #[allow(clippy::too_many_arguments)] // a point, and where it goes
    fn run<S: System>(
        &mut self,
        system: &S,
        mode: &S::Mode,
        t: f64,
        y: &[f64],
        active: &[usize],
        first: usize,
        columns: &mut [f64],
        by_time: &mut [f64],
    ) -> usize {
        let last = (first + N).min(active.len() + 1);
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
                Some(_) => &mut columns[c * rows..(c + 1) * rows],
                None => &mut by_time[..],
            };
            for (x, out) in target.iter_mut().zip(&self.out) {
                *x = out.eps[c - first];
            }
        }
        last
    }
}

impl Jacobian {
    pub fn new(dim: usize, ledger: usize) -> Self {
        Jacobian {
            columns: vec![0.0; (dim + ledger) * dim],
            by_time: vec![0.0; dim + ledger],
            narrow: Pass::new(dim, ledger),
            wide: Pass::new(dim, ledger),
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
        let total = active.len() + 1;
        let (columns, by_time) = (&mut self.columns, &mut self.by_time);
        let mut first = 0;
        while first < total {
            first = match total - first > NARROW {
                true => self.wide.run(system, mode, t, y, active, first, columns, by_time),
                false => self.narrow.run(system, mode, t, y, active, first, columns, by_time),
            };
        }
    }
}
