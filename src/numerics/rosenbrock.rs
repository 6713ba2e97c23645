//! A linearly implicit Runge-Kutta (Rosenbrock) method of order 4 with embedded order 3, six stages, L-stable and
//! stiffly accurate, with a continuous extension of order 3.
//!
//! ```text
//! (I/(h g) - J) U_i = f(t + a_i h, y + sum_j a_ij U_j) + sum_j (c_ij/h) U_j + g_i h f_t      i = 1..6
//! y1 = y + sum_j a_6j U_j + U_6,      error = U_6
//! ```
//!
//! Source: E. Hairer, G. Wanner, *Solving Ordinary Differential Equations II* (2nd ed. 1996), section IV.7, the method
//! there called RODAS. The coefficients below were written from memory and are checked by the order conditions that
//! `tests/numerics.rs` measures (order 4 of the steps, order 3 of the interpolant).
//!
//! There is no Newton iteration to fail, and since every stage solves one linear system with the exact Jacobian, any
//! linear invariant of the equations (masses!) is kept to rounding. The first stage's rates come with the Jacobian, so a
//! step costs one Jacobian and five evaluations, and another try of it five.
//!
//! States are in units of their scales throughout: grams of air are not drowned by newtons.
//!
//! The ledger behind the states goes through the same formulas, but nothing depends on it, so its stages need no solving:
//! with `G_i` = its rates at stage i + (their Jacobian) U_i + g_i h f_t, a sum of its stages is
//!
//! ```text
//! sum_i m_i U_i = h g sum_i w_i G_i,      w_j = m_j + g sum_(i>j) c_ij w_i
//! ```

use super::jacobian::Jacobian;
use super::linear::{Factored, Room, add_scaled};
use super::solution::{Stats, Step};
use super::solve::{Attempt, Stepper};
use super::system::System;

const GAMMA: f64 = 0.25;
/// Stage times.
const ALPHA: [f64; 6] = [0.0, 0.386, 0.21, 0.63, 1.0, 1.0];
/// Weights of the time derivative.
const D: [f64; 6] = [0.25, -0.1043, 0.1035, -0.036_200_000_000_000_23, 0.0, 0.0];
/// Stage weights a_ij, row i holds j = 0..i.
const A: [[f64; 5]; 6] = [
    [0.0; 5],
    [1.544, 0.0, 0.0, 0.0, 0.0],
    [0.946_678_528_081_582_6, 0.255_701_169_898_328_4, 0.0, 0.0, 0.0],
    [3.314_825_187_068_521, 2.896_124_015_972_201, 0.998_641_913_997_781_7, 0.0, 0.0],
    [1.221_224_509_226_641, 6.019_134_481_288_629, 12.537_083_329_320_87, -0.687_886_036_105_895, 0.0],
    [1.221_224_509_226_641, 6.019_134_481_288_629, 12.537_083_329_320_87, -0.687_886_036_105_895, 1.0],
];
/// Coupling c_ij.
const C: [[f64; 5]; 6] = [
    [0.0; 5],
    [-5.6688, 0.0, 0.0, 0.0, 0.0],
    [-2.430_093_356_833_875, -0.206_359_915_709_191_5, 0.0, 0.0, 0.0],
    [-0.107_352_905_815_137_5, -9.594_562_251_023_355, -20.470_286_148_096_16, 0.0, 0.0],
    [7.496_443_313_967_647, -10.246_804_314_643_52, -33.999_903_528_199_05, 11.708_908_932_061_6, 0.0],
    [
        8.083_246_795_921_522,
        -7.981_132_988_064_893,
        -31.521_594_328_743_71,
        16.319_305_431_231_36,
        -6.058_818_238_834_054,
    ],
];
/// Continuous extension.
const H2: [f64; 5] = [
    10.126_235_083_445_86,
    -7.487_995_877_610_167,
    -34.800_918_615_557_47,
    -7.992_771_707_568_823,
    1.025_137_723_295_662,
];
const H3: [f64; 5] = [
    -0.676_280_339_280_689_8,
    6.087_714_651_680_015,
    16.430_843_208_924_78,
    24.767_225_114_183_86,
    -6.594_389_125_716_872,
];

/// A sum of stages with weights `m` as a sum of the ledger's rates (see the head of this file).
const fn weights(m: [f64; 6]) -> [f64; 6] {
    let mut w = m;
    let mut j = 5;
    while j > 0 {
        j -= 1;
        let mut i = j + 1;
        while i < 6 {
            w[j] += GAMMA * C[i][j] * w[i];
            i += 1;
        }
    }
    w
}

const STEP_WEIGHTS: [f64; 6] = weights([A[5][0], A[5][1], A[5][2], A[5][3], A[5][4], 1.0]);
const H2_WEIGHTS: [f64; 6] = weights([H2[0], H2[1], H2[2], H2[3], H2[4], 0.0]);
const H3_WEIGHTS: [f64; 6] = weights([H3[0], H3[1], H3[2], H3[3], H3[4], 0.0]);

/// Step size factors: safety, smallest, largest.
const SAFETY: f64 = 0.9;
const SHRINK: f64 = 0.2;
const GROW: f64 = 5.0;

pub(super) struct Rosenbrock<R> {
    tolerance: f64,
    dim: usize,
    active: Vec<usize>,
    jacobian: Jacobian<R>,
    matrix: Factored<R>,
    /// Stages, in units of the scales.
    u: [R; 6],
    /// A sum of stages, and the state there.
    sum: R,
    at: R,
    /// Rates of states and ledger.
    rate: Vec<f64>,
    ledger_rates: [Vec<f64>; 6],
    scale: R,
    /// One over the scale; zero for a state that cannot move.
    per_scale: R,
    /// What holds at the present (t, y, mode) is known: active states, scales and Jacobian.
    fresh: bool,
    active_known: bool,
    last_rejected: bool,
}

impl<R: Room> Rosenbrock<R> {
    pub fn new<S: System>(system: &S, tolerance: f64) -> Self {
        let (dim, ledger) = (system.dim(), system.ledger());
        Rosenbrock {
            tolerance,
            dim,
            active: Vec::with_capacity(dim),
            jacobian: Jacobian::new(dim, ledger),
            matrix: Factored::new(dim),
            u: std::array::from_fn(|_| R::zeros(dim)),
            sum: R::zeros(dim),
            at: R::zeros(dim),
            rate: vec![0.0; dim + ledger],
            ledger_rates: std::array::from_fn(|_| vec![0.0; ledger]),
            scale: R::zeros(dim),
            per_scale: R::zeros(dim),
            fresh: false,
            active_known: false,
            last_rejected: false,
        }
    }

    /// Scales and Jacobian at `(t, y)`, the Jacobian's sign turned and in units of the scales.
    fn refresh<S: System>(&mut self, system: &S, mode: &S::Mode, t: f64, y: &[f64]) {
        if !self.active_known {
            self.active.clear();
            self.active.extend((0..self.dim).filter(|&i| !system.frozen(mode, i)));
            self.active_known = true;
            for column in self.matrix.columns() {
                column.as_mut().fill(0.0);
            }
        }
        system.scales(t, y, &mut self.scale.as_mut()[..self.dim]);
        self.per_scale.as_mut().fill(0.0);
        for &i in &self.active {
            self.per_scale.as_mut()[i] = 1.0 / self.scale.as_ref()[i];
        }
        self.jacobian.evaluate(system, mode, t, y, &self.active);
        self.ledger_rates[0].copy_from_slice(&self.jacobian.ledger_rates);
        for (column, &i) in self.jacobian.columns.iter_mut().zip(&self.active) {
            let unit = -self.scale.as_ref()[i];
            for (x, per) in column.as_mut().iter_mut().zip(self.per_scale.as_ref()) {
                *x *= unit * per;
            }
        }
        for x in [&mut self.jacobian.rates, &mut self.jacobian.by_time] {
            for (x, per) in x.as_mut().iter_mut().zip(self.per_scale.as_ref()) {
                *x *= per;
            }
        }
        self.fresh = true;
    }

    /// Solves for stage `K`, whose scaled rates stand in `u[K]`.
    #[inline(always)]
    fn solve_stage<const K: usize>(&mut self, h: f64) {
        let (done, rest) = self.u.split_at_mut(K);
        let u = &mut rest[0];
        if K > 0 {
            let c: [f64; K] = std::array::from_fn(|j| C[K][j] / h);
            combine(u, done, &c);
        }
        if D[K] != 0.0 && self.jacobian.timed {
            add_scaled(u, D[K] * h, &self.jacobian.by_time);
        }
        self.matrix.solve(&self.active, u);
    }

    /// Stage `K` at `(t, y)` plus what stands in `self.sum`.
    #[inline(always)]
    fn stage<S: System, const K: usize>(&mut self, system: &S, mode: &S::Mode, t: f64, y: &[f64], h: f64) {
        let moved = self.sum.as_ref().iter().zip(self.scale.as_ref());
        for ((at, y), (x, scale)) in self.at.as_mut().iter_mut().zip(y).zip(moved) {
            *at = y + x * scale;
        }
        system.rates(mode, t + ALPHA[K] * h, &self.at.as_ref()[..self.dim], &mut self.rate);
        let (states, ledger) = self.rate.split_at(self.dim);
        self.ledger_rates[K].copy_from_slice(ledger);
        for ((u, rate), per) in self.u[K].as_mut().iter_mut().zip(states).zip(self.per_scale.as_ref()) {
            *u = rate * per;
        }
        self.solve_stage::<K>(h);
    }

    /// The ledger's share of a sum of stages, by the weights of the rates; `sum` is room to work in.
    fn ledger_sum(&mut self, h: f64, w: &[f64; 6], out: &mut [f64]) {
        let factor = h * GAMMA;
        out.fill(0.0);
        let mut timed = 0.0;
        for ((rates, w), d) in self.ledger_rates.iter().zip(w).zip(&D) {
            timed += w * d * h;
            for (o, r) in out.iter_mut().zip(rates) {
                *o += factor * w * r;
            }
        }
        if self.jacobian.timed {
            for (o, r) in out.iter_mut().zip(&self.jacobian.ledger_by_time) {
                *o += factor * timed * r;
            }
        }
        self.sum.as_mut().fill(0.0);
        combine(&mut self.sum, &self.u, w);
        for (c, &i) in self.active.iter().enumerate() {
            let moved = factor * self.sum.as_ref()[i] * self.scale.as_ref()[i];
            for (o, j) in out.iter_mut().zip(self.jacobian.ledger_column(c)) {
                *o += moved * j;
            }
        }
    }
}

/// `out += sum_k factor_k u_k`.
#[inline(always)]
fn combine<R: Room, const K: usize>(out: &mut R, u: &[R], factors: &[f64; K]) {
    let out = out.as_mut();
    let n = out.len();
    let parts: [&[f64]; K] = std::array::from_fn(|k| &u[k].as_ref()[..n]);
    for (i, o) in out.iter_mut().enumerate() {
        for (factor, part) in factors.iter().zip(&parts) {
            *o += factor * part[i];
        }
    }
}

/// The first `K` of stage weights.
#[inline(always)]
fn first<const K: usize>(row: &[f64; 5]) -> [f64; K] {
    std::array::from_fn(|k| row[k])
}

impl<S: System, R: Room> Stepper<S> for Rosenbrock<R> {
    fn attempt(
        &mut self,
        system: &S,
        mode: &S::Mode,
        from: (f64, &[f64]),
        h: f64,
        step: &mut Step,
        stats: &mut Stats,
    ) -> Attempt {
        let (t, y) = from;
        if !self.fresh {
            self.refresh(system, mode, t, y);
            stats.jacobians += 1;
        }
        let inv = 1.0 / (h * GAMMA);
        for (column, &i) in self.jacobian.columns.iter().zip(&self.active) {
            let target = &mut self.matrix.columns()[i];
            target.as_mut().copy_from_slice(column.as_ref());
            target.as_mut()[i] += inv;
        }
        if !self.matrix.factor(&self.active) {
            return Attempt::Rejected { next: 0.25 * h, worst: 0 };
        }
        self.u[0] = self.jacobian.rates.clone();
        self.solve_stage::<0>(h);
        self.sum.as_mut().fill(0.0);
        combine(&mut self.sum, &self.u, &first::<1>(&A[1]));
        self.stage::<S, 1>(system, mode, t, y, h);
        self.sum.as_mut().fill(0.0);
        combine(&mut self.sum, &self.u, &first::<2>(&A[2]));
        self.stage::<S, 2>(system, mode, t, y, h);
        self.sum.as_mut().fill(0.0);
        combine(&mut self.sum, &self.u, &first::<3>(&A[3]));
        self.stage::<S, 3>(system, mode, t, y, h);
        self.sum.as_mut().fill(0.0);
        combine(&mut self.sum, &self.u, &first::<4>(&A[4]));
        self.stage::<S, 4>(system, mode, t, y, h);
        // The last stage's weights and the step's are those of the one before, and its own, 1.
        add_scaled(&mut self.sum, 1.0, &self.u[4]);
        self.stage::<S, 5>(system, mode, t, y, h);
        add_scaled(&mut self.sum, 1.0, &self.u[5]);
        stats.rhs_evaluations += 5;

        let per_tolerance = 1.0 / self.tolerance;
        let square: f64 = self.u[5].as_ref().iter().map(|e| e * e).sum();
        let error = (square / self.active.len().max(1) as f64).sqrt() * per_tolerance;
        let mut factor = if error > 0.0 { (SAFETY / error.sqrt().sqrt()).clamp(SHRINK, GROW) } else { GROW };
        if !(error <= 1.0) {
            self.last_rejected = true;
            let worst =
                |w: usize, &i: &usize| if self.u[5].as_ref()[i].abs() <= self.u[5].as_ref()[w].abs() { w } else { i };
            let worst = self.active.iter().fold(self.active.first().copied().unwrap_or(0), worst);
            let next = if error.is_finite() { factor.min(0.9) * h } else { 0.25 * h };
            return Attempt::Rejected { next, worst };
        }
        if self.last_rejected {
            factor = factor.min(1.0);
        }
        self.last_rejected = false;
        self.fresh = false;

        let [y0, y1, c3, c4] = step.begin(t, h);
        y0.copy_from_slice(y);
        let moved = self.sum.as_ref().iter().zip(self.scale.as_ref());
        for ((y1, y), (x, scale)) in y1.iter_mut().zip(y).take(self.dim).zip(moved) {
            *y1 = y + x * scale;
        }
        for (c, weights) in [(c3, &H2), (c4, &H3)] {
            self.sum.as_mut().fill(0.0);
            combine(&mut self.sum, &self.u, weights);
            let moved = self.sum.as_ref().iter().zip(self.scale.as_ref());
            for (c, (x, scale)) in c.iter_mut().zip(moved).take(self.dim) {
                *c = x * scale;
            }
        }
        let ledger = &mut y1[self.dim..];
        self.ledger_sum(h, &STEP_WEIGHTS, ledger);
        for (l, y) in ledger.iter_mut().zip(&y[self.dim..]) {
            *l += y;
        }
        Attempt::Accepted { next: factor * h }
    }

    fn complete(&mut self, step: &mut Step) {
        let h = step.h;
        let [_, _, c3, c4] = step.parts_mut();
        self.ledger_sum(h, &H2_WEIGHTS, &mut c3[self.dim..]);
        self.ledger_sum(h, &H3_WEIGHTS, &mut c4[self.dim..]);
    }

    fn restart(&mut self) {
        self.fresh = false;
        self.active_known = false;
        self.last_rejected = false;
    }
}
