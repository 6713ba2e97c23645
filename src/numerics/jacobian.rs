//! Exact Jacobians by forward differentiation, a few columns a pass.

use super::linear::Room;
use super::system::System;
use crate::real::{Dual, Real};

/// Columns per pass: of the usual rig with one part moving, and of any other. One pass is cheaper than two even when some of
/// its columns are idle.
const NARROW: usize = 12;
const WIDE: usize = 16;

/// Rates at one point and their derivatives. Rows and columns are those of the active states, in units of the scales.
pub(super) struct Entries<R> {
    /// Rates.
    pub rates: R,
    /// Row by row: the derivatives with their signs turned.
    pub negative: Vec<R>,
    /// Derivatives of the rates by time.
    pub by_time: R,
    /// Rates of the ledger, kg/s.
    pub ledger_rates: Vec<f64>,
    /// Row by row, in whole fours: derivatives of the ledger's rates.
    pub ledger: Vec<R>,
    /// Derivatives of the ledger's rates by time, in whole fours.
    pub ledger_by_time: Vec<f64>,
    /// Whether any rate depends on time at this point.
    pub timed: bool,
}

impl<R: Room> Entries<R> {
    /// Takes a pass over variables `first` on. Behind the active states' columns time's may be left, which nothing reads.
    #[inline]
    fn take<const N: usize>(&mut self, out: &[Dual<N>], active: &[Active], first: usize) {
        let (states, ledger) = out.split_at(out.len() - self.ledger_rates.len());
        for ((a, row), rate) in active.iter().zip(&mut self.negative).zip(self.rates.as_mut()) {
            let d = &states[a.at];
            *rate = d.re * a.per;
            row.set_scaled(first, &d.eps, -a.per);
        }
        for ((d, row), rate) in ledger.iter().zip(&mut self.ledger).zip(&mut self.ledger_rates) {
            *rate = d.re;
            row.set_scaled(first, &d.eps, 1.0);
        }
        let Some(time) = active.len().checked_sub(first).filter(|time| *time < N) else { return };
        self.timed = active.iter().map(|a| &states[a.at]).chain(ledger).any(|d| d.eps[time] != 0.0);
        if self.timed {
            for (x, a) in self.by_time.as_mut().iter_mut().zip(active) {
                *x = states[a.at].eps[time] * a.per;
            }
            for (x, d) in self.ledger_by_time.iter_mut().zip(ledger) {
                *x = d.eps[time];
            }
        }
    }
}

/// Works them out.
pub(super) struct Jacobian<R> {
    pub entries: Entries<R>,
    narrow: Pass<NARROW>,
    wide: Pass<WIDE>,
}

/// States and rates with derivatives.
struct Pass<const N: usize> {
    y: Vec<Dual<N>>,
    out: Vec<Dual<N>>,
    /// The first of the variables whose seeds the states carry; their places stay, their scales do not.
    seeded: Option<usize>,
}

/// A state that can move.
#[derive(Debug, Clone, Copy)]
pub(super) struct Active {
    /// Its place among the states.
    pub at: usize,
    /// Its scale, and one over it.
    pub scale: f64,
    pub per: f64,
}

/// Where and by what rates are differentiated.
pub(super) struct Point<'a, S: System> {
    pub system: &'a S,
    pub mode: &'a S::Mode,
    pub t: f64,
    pub y: &'a [f64],
    pub active: &'a [Active],
}

impl<const N: usize> Pass<N> {
    fn new(dim: usize, ledger: usize) -> Self {
        let zeros = |n| vec![Dual::constant(0.0); n];
        Pass { y: zeros(dim), out: zeros(dim + ledger), seeded: None }
    }

    /// Derivatives by variables `first` on, as many as fit; time is the variable behind the active states.
    fn run<S: System>(&mut self, at: &Point<'_, S>, first: usize) -> usize {
        if self.seeded != Some(first) {
            self.y.fill(Dual::constant(0.0));
            self.seeded = Some(first);
        }
        for (d, v) in self.y.iter_mut().zip(at.y) {
            d.re = *v;
        }
        for (k, a) in at.active[first.min(at.active.len())..].iter().take(N).enumerate() {
            // In units of its scale.
            self.y[a.at].eps[k] = a.scale;
        }
        let time = Dual::variable(at.t, at.active.len() - first);
        at.system.rates(at.mode, time, &self.y, &mut self.out);
        first + N
    }
}

impl<R: Room> Jacobian<R> {
    pub fn new(dim: usize, ledger: usize) -> Self {
        let entries = Entries {
            rates: R::zeros(dim),
            negative: vec![R::zeros(dim); dim],
            by_time: R::zeros(dim),
            ledger_rates: vec![0.0; ledger],
            ledger: vec![R::zeros(dim); ledger.next_multiple_of(4)],
            ledger_by_time: vec![0.0; ledger.next_multiple_of(4)],
            timed: false,
        };
        Jacobian { entries, narrow: Pass::new(dim, ledger), wide: Pass::new(dim, ledger) }
    }

    /// Forgets entries of other active states.
    pub fn clear(&mut self) {
        let Entries { rates, negative, by_time, ledger, .. } = &mut self.entries;
        for part in negative.iter_mut().chain(ledger).chain([rates, by_time]) {
            part.as_mut().fill(0.0);
        }
        (self.narrow.seeded, self.wide.seeded) = (None, None);
    }

    /// Evaluates rates and derivatives.
    pub fn evaluate<S: System>(&mut self, at: &Point<'_, S>) {
        let total = at.active.len() + 1;
        let mut first = 0;
        while first < total {
            let from = first;
            if total - first > NARROW {
                first = self.wide.run(at, from);
                self.entries.take(&self.wide.out, at.active, from);
            } else {
                first = self.narrow.run(at, from);
                self.entries.take(&self.narrow.out, at.active, from);
            }
        }
    }
}
