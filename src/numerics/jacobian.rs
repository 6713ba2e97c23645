//! Exact Jacobians by forward differentiation, a few columns a pass.

use super::linear::Room;
use super::system::System;
use crate::real::{Dual, Real};

/// Columns per pass: of the usual rig, and of one with an elastomer's lip or a relief as well. One pass is cheaper than two
/// even when some of its columns are idle.
const NARROW: usize = 14;
const WIDE: usize = 20;

/// Rates at one point, and their derivatives with respect to the active states and to time.
pub(super) struct Jacobian<R> {
    /// Rates of the states.
    pub rates: R,
    /// Column by column, one per active state: derivatives of the states' rates.
    pub columns: Vec<R>,
    /// Derivatives of the states' rates by time.
    pub by_time: R,
    /// Rates of the ledger.
    pub ledger_rates: Vec<f64>,
    /// Column by column, one per active state: derivatives of the ledger's rates.
    ledger: Vec<f64>,
    /// Derivatives of the ledger's rates by time.
    pub ledger_by_time: Vec<f64>,
    /// Whether any rate depends on time at this point.
    pub timed: bool,
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
    fn run<S: System>(
        &mut self,
        system: &S,
        mode: &S::Mode,
        t: f64,
        y: &[f64],
        active: &[usize],
        first: usize,
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
        last
    }
}

/// Where a pass puts its derivatives.
struct Target<'a, R> {
    jacobian: &'a mut [R],
    by_time: &'a mut R,
    ledger: &'a mut [f64],
    ledger_by_time: &'a mut [f64],
    rates: &'a mut R,
    ledger_rates: &'a mut [f64],
}

impl<R: Room> Target<'_, R> {
    fn take<const N: usize>(&mut self, out: &[Dual<N>], first: usize, last: usize) {
        let active = self.jacobian.len();
        let rows = self.ledger_rates.len();
        let (states, ledger) = out.split_at(out.len() - rows);
        for (r, d) in states.iter().enumerate() {
            self.rates.as_mut()[r] = d.re;
        }
        for (r, d) in self.ledger_rates.iter_mut().zip(ledger) {
            *r = d.re;
        }
        for c in first..last {
            let (column, below) = match c < active {
                true => (self.jacobian[c].as_mut(), &mut self.ledger[c * rows..(c + 1) * rows]),
                false => (self.by_time.as_mut(), &mut *self.ledger_by_time),
            };
            for (x, d) in column.iter_mut().zip(states) {
                *x = d.eps[c - first];
            }
            for (x, d) in below.iter_mut().zip(ledger) {
                *x = d.eps[c - first];
            }
        }
    }
}

impl<R: Room> Jacobian<R> {
    pub fn new(dim: usize, ledger: usize) -> Self {
        Jacobian {
            rates: R::zeros(dim),
            columns: vec![R::zeros(dim); dim],
            by_time: R::zeros(dim),
            ledger_rates: vec![0.0; ledger],
            ledger: vec![0.0; dim * ledger],
            ledger_by_time: vec![0.0; ledger],
            timed: false,
            narrow: Pass::new(dim, ledger),
            wide: Pass::new(dim, ledger),
        }
    }

    /// Derivatives of the ledger's rates by active state `c`.
    #[inline]
    pub fn ledger_column(&self, c: usize) -> &[f64] {
        let rows = self.ledger_rates.len();
        &self.ledger[c * rows..(c + 1) * rows]
    }

    /// Evaluates at `(t, y)`; `active` lists the states that can move.
    pub fn evaluate<S: System>(&mut self, system: &S, mode: &S::Mode, t: f64, y: &[f64], active: &[usize]) {
        let total = active.len() + 1;
        let Jacobian { rates, columns, by_time, ledger_rates, ledger, ledger_by_time, .. } = self;
        let jacobian = &mut columns[..active.len()];
        let mut target = Target { jacobian, by_time, ledger, ledger_by_time, rates, ledger_rates };
        let mut first = 0;
        while first < total {
            let from = first;
            if total - first > NARROW {
                first = self.wide.run(system, mode, t, y, active, from);
                target.take(&self.wide.out, from, first);
            } else {
                first = self.narrow.run(system, mode, t, y, active, from);
                target.take(&self.narrow.out, from, first);
            }
        }
        self.timed = self.by_time.as_ref().iter().chain(&self.ledger_by_time).any(|d| *d != 0.0);
    }
}
