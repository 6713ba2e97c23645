//! Exact Jacobians by forward differentiation, a few columns a pass.

use super::linear::Room;
use super::system::System;
use crate::real::{Dual, Real};

/// Columns per pass: of the usual rig with one part moving, and of any other. One pass is cheaper than two even when some of
/// its columns are idle.
const NARROW: usize = 12;
const WIDE: usize = 16;

/// Rates at one point and their derivatives. Rows and columns are those of the active states, in units of the scales.
pub(super) struct Jacobian<R> {
    /// Rates.
    pub rates: R,
    /// Row by row: the derivatives with their signs turned.
    pub negative: Vec<R>,
    /// Derivatives of the rates by time.
    pub by_time: R,
    /// Rates of the ledger, kg/s.
    pub ledger_rates: Vec<f64>,
    /// Row by row: derivatives of the ledger's rates.
    pub ledger: Vec<R>,
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
        Pass { y: vec![Dual::constant(0.0); dim], out: vec![Dual::constant(0.0); dim + ledger] }
    }

    /// Derivatives by variables `first` on, as many as fit; time is the variable behind the active states.
    fn run<S: System>(&mut self, at: &Point<'_, S>, first: usize) -> usize {
        let last = (first + N).min(at.active.len() + 1);
        for (d, v) in self.y.iter_mut().zip(at.y) {
            *d = Dual::constant(*v);
        }
        let mut time = Dual::constant(at.t);
        for c in first..last {
            match at.active.get(c) {
                // In units of its scale.
                Some(a) => self.y[a.at].eps[c - first] = a.scale,
                None => time = Dual::variable(at.t, c - first),
            }
        }
        at.system.rates(at.mode, time, &self.y, &mut self.out);
        last
    }
}

/// Where a pass puts its derivatives.
struct Target<'a, R> {
    negative: &'a mut [R],
    by_time: &'a mut R,
    rates: &'a mut R,
    ledger: &'a mut [R],
    ledger_by_time: &'a mut [f64],
    ledger_rates: &'a mut [f64],
}

impl<R: Room> Target<'_, R> {
    /// Takes a pass over variables `first` on. Behind the active states' columns time's may be left, which nothing reads.
    #[inline]
    fn take<const N: usize>(&mut self, out: &[Dual<N>], active: &[Active], first: usize) {
        let (states, ledger) = out.split_at(out.len() - self.ledger.len());
        for (row, a) in active.iter().enumerate() {
            let (d, per) = (&states[a.at], a.per);
            self.rates.as_mut()[row] = d.re * per;
            store(&mut self.negative[row], first, &d.eps, -per);
        }
        for (row, d) in ledger.iter().enumerate() {
            self.ledger_rates[row] = d.re;
            store(&mut self.ledger[row], first, &d.eps, 1.0);
        }
        if let Some(time) = active.len().checked_sub(first).filter(|time| *time < N) {
            for (x, a) in self.by_time.as_mut().iter_mut().zip(active) {
                *x = states[a.at].eps[time] * a.per;
            }
            for (x, d) in self.ledger_by_time.iter_mut().zip(ledger) {
                *x = d.eps[time];
            }
        }
    }
}

/// `row[first..] = factor * eps`, as far as there is room.
#[inline]
fn store<R: Room, const N: usize>(row: &mut R, first: usize, eps: &[f64; N], factor: f64) {
    let row = row.as_mut();
    // The usual case by itself: its length is known to the compiler.
    if first == 0 {
        for (x, e) in row.iter_mut().zip(eps) {
            *x = e * factor;
        }
    } else {
        for (x, e) in row[first..].iter_mut().zip(eps) {
            *x = e * factor;
        }
    }
}

impl<R: Room> Jacobian<R> {
    pub fn new(dim: usize, ledger: usize) -> Self {
        Jacobian {
            rates: R::zeros(dim),
            negative: vec![R::zeros(dim); dim],
            by_time: R::zeros(dim),
            ledger_rates: vec![0.0; ledger],
            ledger: vec![R::zeros(dim); ledger],
            ledger_by_time: vec![0.0; ledger],
            timed: false,
            narrow: Pass::new(dim, ledger),
            wide: Pass::new(dim, ledger),
        }
    }

    /// Forgets entries of other active states.
    pub fn clear(&mut self) {
        for part in self.negative.iter_mut().chain(&mut self.ledger).chain([&mut self.rates, &mut self.by_time]) {
            part.as_mut().fill(0.0);
        }
    }

    /// Evaluates rates and derivatives.
    pub fn evaluate<S: System>(&mut self, at: &Point<'_, S>) {
        let total = at.active.len() + 1;
        let Jacobian { rates, negative, by_time, ledger_rates, ledger, ledger_by_time, .. } = self;
        let mut target = Target { negative, by_time, rates, ledger, ledger_by_time, ledger_rates };
        let mut first = 0;
        while first < total {
            let from = first;
            if total - first > NARROW {
                first = self.wide.run(at, from);
                target.take(&self.wide.out, at.active, from);
            } else {
                first = self.narrow.run(at, from);
                target.take(&self.narrow.out, at.active, from);
            }
        }
        self.timed = self.by_time.as_ref().iter().chain(&self.ledger_by_time).any(|d| *d != 0.0);
    }
}
