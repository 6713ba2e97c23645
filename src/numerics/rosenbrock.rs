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
//! linear invariant of the equations (masses!) is kept to rounding.

use super::jacobian::Jacobian;
use super::linear::Factored;
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

/// Step size factors: safety, smallest, largest.
const SAFETY: f64 = 0.9;
const SHRINK: f64 = 0.2;
const GROW: f64 = 5.0;

pub(super) struct Rosenbrock {
    tolerance: f64,
    dim: usize,
    all: usize,
    active: Vec<usize>,
    jacobian: Jacobian,
    matrix: Factored,
    rhs: Vec<f64>,
    u: [Vec<f64>; 6],
    stage: Vec<f64>,
    rate: Vec<f64>,
    scale: Vec<f64>,
    per_scale: Vec<f64>,
    /// The Jacobian belongs to the present (t, y, mode).
    fresh: bool,
    active_known: bool,
    last_rejected: bool,
}

impl Rosenbrock {
    pub fn new<S: System>(system: &S, tolerance: f64) -> Self {
        let (dim, ledger) = (system.dim(), system.ledger());
        let all = dim + ledger;
        Rosenbrock {
            tolerance,
            dim,
            all,
            active: Vec::with_capacity(dim),
            jacobian: Jacobian::new(dim, ledger),
            matrix: Factored::default(),
            rhs: vec![0.0; dim],
            u: std::array::from_fn(|_| vec![0.0; all]),
            stage: vec![0.0; all],
            rate: vec![0.0; all],
            scale: vec![1.0; dim],
            per_scale: vec![1.0; dim],
            fresh: false,
            active_known: false,
            last_rejected: false,
        }
    }
}

/// `x += factor * y`.
#[inline]
fn add_scaled(x: &mut [f64], factor: f64, y: &[f64]) {
    for (x, y) in x.iter_mut().zip(y) {
        *x += factor * y;
    }
}

impl<S: System> Stepper<S> for Rosenbrock {
    fn attempt(&mut self, system: &S, mode: &S::Mode, t: f64, y: &[f64], h: f64, stats: &mut Stats) -> Attempt {
        if !self.active_known {
            self.active.clear();
            self.active.extend((0..self.dim).filter(|&i| !system.frozen(mode, i)));
            self.active_known = true;
        }
        let n = self.active.len();
        if !self.fresh {
            self.jacobian.evaluate(system, mode, t, y, &self.active);
            stats.jacobians += 1;
            self.fresh = true;
        }
        let inv = 1.0 / (h * GAMMA);
        // Rows and columns in units of the states' scales: grams of air are not drowned by newtons.
        system.scales(t, y, &mut self.scale);
        for (p, s) in self.per_scale.iter_mut().zip(&self.scale) {
            *p = 1.0 / s;
        }
        self.matrix.reset(n);
        for (c, column) in self.matrix.columns().enumerate() {
            let unit = -self.scale[self.active[c]];
            let jacobian = self.jacobian.column(c);
            for (x, &r) in column.iter_mut().zip(&self.active) {
                *x = jacobian[r] * unit * self.per_scale[r];
            }
            column[c] += inv;
        }
        let reject = |next: f64, worst: usize| Attempt::Rejected { next, worst };
        if n > 0 && !self.matrix.factor() {
            return reject(0.25 * h, 0);
        }
        let rhs = &mut self.rhs[..n];
        let dim = self.dim;
        for i in 0..6 {
            let (done, tail) = self.u.split_at_mut(i);
            let Some(u) = tail.first_mut() else { continue };
            // Rates do not depend on the ledger: the stages carry states only.
            let stage = &mut self.stage[..dim];
            stage.copy_from_slice(&y[..dim]);
            for (uj, a) in done.iter().zip(&A[i]) {
                if *a != 0.0 {
                    add_scaled(stage, *a, &uj[..dim]);
                }
            }
            system.rates(mode, t + ALPHA[i] * h, stage, &mut self.rate);
            stats.rhs_evaluations += 1;
            for (uj, c) in done.iter().zip(&C[i]) {
                add_scaled(&mut self.rate, *c / h, uj);
            }
            if D[i] != 0.0 {
                add_scaled(&mut self.rate, D[i] * h, &self.jacobian.by_time);
            }
            for (k, &a) in self.active.iter().enumerate() {
                rhs[k] = self.rate[a] * self.per_scale[a];
            }
            self.matrix.solve(rhs);
            u[..dim].fill(0.0);
            for (k, &a) in self.active.iter().enumerate() {
                rhs[k] *= self.scale[a];
                u[a] = rhs[k];
            }
            // Ledger rows: nothing depends on them, so their stage follows without a solve.
            u[dim..].copy_from_slice(&self.rate[self.dim..]);
            for (c, z) in rhs.iter().enumerate() {
                add_scaled(&mut u[dim..], *z, &self.jacobian.column(c)[dim..]);
            }
            for x in &mut u[dim..] {
                *x /= inv;
            }
            if u.iter().any(|v| !v.is_finite()) {
                self.last_rejected = true;
                let worst = u.iter().position(|v| !v.is_finite()).unwrap_or(0);
                return reject(0.25 * h, worst);
            }
        }
        // The new state: y + sum a_6j U_j + U_6, ledger and all.
        self.stage.copy_from_slice(y);
        for (uj, a) in self.u.iter().zip(A[5].iter().chain(&[1.0])) {
            add_scaled(&mut self.stage, *a, uj);
        }
        let (mut sum, mut worst, mut worst_error) = (0.0, 0, 0.0);
        for &i in &self.active {
            let e = (self.u[5][i] / (self.scale[i] * self.tolerance)).abs();
            sum += e * e;
            if e > worst_error {
                (worst, worst_error) = (i, e);
            }
        }
        let error = (sum / n.max(1) as f64).sqrt();
        let mut factor = if error > 0.0 { (SAFETY / error.powf(0.25)).clamp(SHRINK, GROW) } else { GROW };
        if !(error <= 1.0) {
            self.last_rejected = true;
            let next = if error.is_finite() { factor.min(0.9) * h } else { SHRINK * h };
            return reject(next, worst);
        }
        if self.last_rejected {
            factor = factor.min(1.0);
        }
        self.last_rejected = false;
        self.fresh = false;
        let mut c3 = vec![0.0; self.all];
        let mut c4 = vec![0.0; self.all];
        for ((uj, h2), h3) in self.u.iter().zip(&H2).zip(&H3) {
            add_scaled(&mut c3, *h2, uj);
            add_scaled(&mut c4, *h3, uj);
        }
        Attempt::Accepted { step: Step::new(t, h, y, &self.stage, &c3, &c4), next: factor * h }
    }

    fn restart(&mut self) {
        self.fresh = false;
        self.active_known = false;
        self.last_rejected = false;
    }
}
