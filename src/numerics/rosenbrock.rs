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

use super::jacobian::{Active, Entries, Jacobian, Point};
use super::linear::{Factors, Room};
use super::solution::{Stats, Step};
use super::solve::{Attempt, Stepper};
use super::system::System;
use wide::f64x4;

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

/// Half-way through the step: `y + (y1 - y)/2 + c3/4 + c4/8`.
const MIDDLE: [f64; 6] = {
    let mut m = [0.0; 6];
    m[5] = 0.5;
    let mut j = 0;
    while j < 5 {
        m[j] = 0.5 * A[5][j] + 0.25 * H2[j] + 0.125 * H3[j];
        j += 1;
    }
    m
};

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

/// Chooses the length of the next step.
///
/// Two things beyond the textbook's fourth root, for equations with knees (a pocket of air that is swept away, friction
/// that turns over): near a knee the error does not fall as `h^4`, so a second try that fails, too, tells the order; and a
/// length that has failed is remembered, and approached only half-way (on a scale of logarithms) each step.
#[derive(Debug, Clone, Copy, Default)]
struct Pace {
    /// The last try failed: its length and error.
    failed: Option<(f64, f64)>,
    /// A length that has failed not long ago, s; forgotten step by step.
    ceiling: Option<f64>,
}

impl Pace {
    /// Safety, smallest and largest factor.
    const SAFETY: f64 = 0.8;
    const SHRINK: f64 = 0.1;
    const GROW: f64 = 8.0;
    /// A step that ends at a bend tells nothing of the length that suits behind it: at least this share of what was wanted.
    const BEHIND_BEND: f64 = 0.4;
    /// Growth of the remembered ceiling with every accepted step.
    const FORGET: f64 = 2.0;

    /// The length to try after one of length `h` failed with `error` (above 1, or not a number).
    fn rejected(&mut self, h: f64, error: f64) -> f64 {
        self.ceiling = (!(error < 10.0)).then_some(h);
        let order = match self.failed {
            Some((before, larger)) if h < before && larger.is_finite() => {
                ((larger / error).ln() / (before / h).ln()).clamp(0.3, 4.0)
            }
            _ => 4.0,
        };
        self.failed = Some((h, error));
        match error.is_finite() {
            true => h * (Self::SAFETY * error.powf(-1.0 / order)).clamp(Self::SHRINK, 0.9),
            false => 0.25 * h,
        }
    }

    /// The length to try after one of length `h` was accepted with `error` (at most 1).
    fn accepted(&mut self, h: f64, error: f64) -> f64 {
        let free = if error > 0.0 { (Self::SAFETY / error.sqrt().sqrt()).clamp(0.2, Self::GROW) } else { Self::GROW };
        let free = if self.failed.take().is_some() { free.min(1.0) } else { free };
        let Some(ceiling) = self.ceiling else { return free * h };
        if free * h < 0.9 * ceiling {
            self.ceiling = Some(ceiling * Self::FORGET);
            return free * h;
        }
        let ceiling = ceiling * Self::FORGET;
        self.ceiling = (ceiling > h).then_some(ceiling);
        (free * h).min((h * ceiling).sqrt().max(h))
    }
}

pub(super) struct Rosenbrock<R: Room> {
    tolerance: f64,
    dim: usize,
    /// The states that can move, with their scales at the present (t, y).
    active: Vec<Active>,
    /// How many of them, from the first on, have no state that rests before them: worked on side by side.
    leading: usize,
    /// Scales of the leading ones and one over them, behind them zeros.
    scales: R,
    per_scales: R,
    /// The bends of the mode: row of the state, its place, how near its bend begins.
    bends: [Option<(usize, usize, f64)>; 3],
    jacobian: Jacobian<R>,
    matrix: R::Factors,
    /// Stages of the active states, in units of the scales.
    u: [R; 6],
    /// A sum of stages.
    sum: R,
    /// States at the start of the step, and a state between.
    from: R,
    at: R,
    /// Rates of each stage, those of the ledger behind those of the states, in whole fours and with room for `R`.
    rates: [Vec<f64>; 6],
    scale: Vec<f64>,
    /// Scales and Jacobian are those of the present (t, y, mode).
    fresh: bool,
    active_known: bool,
    pace: Pace,
}

impl<R: Room> Rosenbrock<R> {
    pub fn new<S: System>(system: &S, tolerance: f64) -> Self {
        let (dim, ledger) = (system.dim(), system.ledger());
        let zeros = || R::zeros(dim);
        let room = (dim + ledger.next_multiple_of(4)).max(zeros().as_ref().len());
        Rosenbrock {
            tolerance,
            dim,
            active: Vec::with_capacity(dim),
            leading: 0,
            scales: zeros(),
            per_scales: zeros(),
            bends: [None; 3],
            jacobian: Jacobian::new(dim, ledger),
            matrix: R::Factors::new(dim),
            u: std::array::from_fn(|_| zeros()),
            sum: zeros(),
            from: zeros(),
            at: zeros(),
            rates: std::array::from_fn(|_| vec![0.0; room]),
            scale: vec![1.0; dim],
            fresh: false,
            active_known: false,
            pace: Pace::default(),
        }
    }

    /// Which states can move in the mode, and what follows from that.
    fn know_active<S: System>(&mut self, system: &S, mode: &S::Mode) {
        self.active.clear();
        let moving = (0..self.dim).filter(|&i| !system.frozen(mode, i));
        self.active.extend(moving.map(|at| Active { at, scale: 1.0, per: 1.0 }));
        self.leading = self.active.iter().enumerate().take_while(|(k, a)| *k == a.at).count();
        self.bends = system.bends(mode).map(|bend| {
            let (at, near) = bend?;
            Some((self.active.iter().position(|a| a.at == at)?, at, near))
        });
        self.jacobian.clear();
        for numbers in self.u.iter_mut().chain([&mut self.scales, &mut self.per_scales]) {
            numbers.as_mut().fill(0.0);
        }
        self.matrix.reset(self.active.len());
        self.active_known = true;
    }

    /// Scales and Jacobian at `(t, y)`.
    fn refresh<S: System>(&mut self, system: &S, mode: &S::Mode, t: f64, y: &[f64]) {
        system.scales(t, y, &mut self.scale);
        if !self.active_known {
            self.know_active(system, mode);
        }
        for a in &mut self.active {
            a.scale = self.scale[a.at];
            a.per = 1.0 / a.scale;
        }
        let sides = self.scales.as_mut().iter_mut().zip(self.per_scales.as_mut());
        for (a, (scale, per)) in self.active[..self.leading].iter().zip(sides) {
            (*scale, *per) = (a.scale, a.per);
        }
        self.jacobian.evaluate(&Point { system, mode, t, y, active: &self.active });
        self.matrix.admit(&self.jacobian.entries.negative[..self.active.len()]);
        let ledger = &self.jacobian.entries.ledger_rates;
        self.rates[0][self.dim..self.dim + ledger.len()].copy_from_slice(ledger);
        self.fresh = true;
    }

    /// About how long until a state passes zero where that bends the rates, s.
    fn to_next_bend(&self, y: &[f64]) -> f64 {
        let mut soonest = f64::INFINITY;
        for (row, at, near) in self.bends.into_iter().flatten() {
            let time = -y[at] / (self.jacobian.entries.rates.as_ref()[row] * self.active[row].scale);
            if y[at].abs() > near && time > 0.0 {
                soonest = soonest.min(time);
            }
        }
        soonest
    }

    /// Solves for stage `K`, whose scaled rates stand in `u[K]`.
    #[inline]
    fn solve_stage<const K: usize>(&mut self, h: f64) {
        let (done, rest) = self.u.split_at_mut(K);
        let u = &mut rest[0];
        let per_h = 1.0 / h;
        u.add::<K>(std::array::from_fn(|j| C[K][j] * per_h), done);
        if D[K] != 0.0 && self.jacobian.entries.timed {
            u.add([D[K] * h], std::slice::from_ref(&self.jacobian.entries.by_time));
        }
        self.matrix.solve(u);
    }

    /// Stage `K` at `t` and the state that [`Self::place`] makes of `self.sum`.
    #[inline]
    fn stage<S: System, const K: usize>(&mut self, system: &S, mode: &S::Mode, t: f64, h: f64) {
        self.place();
        let rates = &mut self.rates[K][..];
        let end = self.dim + self.jacobian.entries.ledger_rates.len();
        system.rates(mode, t + ALPHA[K] * h, &self.at.as_ref()[..self.dim], &mut rates[..end]);
        self.u[K].set_product(rates, &self.per_scales);
        for (a, u) in self.active[self.leading..].iter().zip(&mut self.u[K].as_mut()[self.leading..]) {
            *u = rates[a.at] * a.per;
        }
        self.solve_stage::<K>(h);
    }

    /// `self.at` becomes the states at the start plus what stands in `self.sum`.
    #[inline(always)]
    fn place(&mut self) {
        self.at.set_moved(&self.from, &self.sum, &self.scales);
        let (from, at) = (self.from.as_ref(), self.at.as_mut());
        for (a, x) in self.active[self.leading..].iter().zip(&self.sum.as_ref()[self.leading..]) {
            at[a.at] = from[a.at] + x * a.scale;
        }
    }

    /// The ledger's share of a sum of stages, by the weights of the rates.
    fn ledger_sum(&mut self, h: f64, w: &[f64; 6], out: &mut [f64]) {
        let factor = h * GAMMA;
        self.sum.set_sum(*w, &self.u);
        let Entries { ledger, ledger_by_time, timed, .. } = &self.jacobian.entries;
        let timed = match timed {
            true => factor * h * w.iter().zip(&D).map(|(w, d)| w * d).sum::<f64>(),
            false => 0.0,
        };
        let weights = w.map(f64x4::splat);
        let end = self.dim + ledger.len();
        let rows = ledger.as_chunks().0.iter().zip(ledger_by_time.as_chunks().0);
        let [a, b, c, d, e, f] = self.rates.each_ref().map(|rates| rates[self.dim..end].as_chunks().0.iter());
        let rates = a.zip(b).zip(c).zip(d).zip(e).zip(f);
        for ((out, (rows, by_time)), (((((a, b), c), d), e), f)) in out.chunks_mut(4).zip(rows).zip(rates) {
            let mut moved = f64x4::new(self.sum.dots(rows));
            for (rates, w) in [a, b, c, d, e, f].into_iter().zip(weights) {
                moved += f64x4::new(*rates) * w;
            }
            let moved = (moved * factor + f64x4::new(*by_time) * timed).to_array();
            out.copy_from_slice(&moved[..out.len()]);
        }
    }
}

/// The first weights of a row.
const fn first<const K: usize>(row: [f64; 5]) -> [f64; K] {
    let mut out = [0.0; K];
    let mut j = 0;
    while j < K {
        out[j] = row[j];
        j += 1;
    }
    out
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
        let wanted = h;
        let h = self.to_next_bend(y).min(h);
        let n = self.active.len();
        if !self.matrix.factor(1.0 / (h * GAMMA)) {
            return Attempt::Rejected { next: 0.25 * h, worst: 0 };
        }
        self.from.as_mut()[..self.dim].copy_from_slice(&y[..self.dim]);
        self.u[0].as_mut().copy_from_slice(self.jacobian.entries.rates.as_ref());
        self.solve_stage::<0>(h);
        self.sum.set_sum(const { first::<1>(A[1]) }, &self.u);
        self.stage::<S, 1>(system, mode, t, h);
        self.sum.set_sum(const { first::<2>(A[2]) }, &self.u);
        self.stage::<S, 2>(system, mode, t, h);
        self.sum.set_sum(const { first::<3>(A[3]) }, &self.u);
        self.stage::<S, 3>(system, mode, t, h);
        self.sum.set_sum(const { first::<4>(A[4]) }, &self.u);
        self.stage::<S, 4>(system, mode, t, h);
        // The last stage's weights and the step's are those of the one before, and its own, 1.
        self.sum.add([1.0], &self.u[4..]);
        self.stage::<S, 5>(system, mode, t, h);
        self.sum.add([1.0], &self.u[5..]);
        stats.rhs_evaluations += 5;

        let errors = &self.u[5].as_ref()[..n];
        let square: f64 = errors.iter().map(|e| e * e).sum();
        let error = (square / n.max(1) as f64).sqrt() / self.tolerance;
        if !(error <= 1.0) {
            let largest = |w: usize, k: usize| if errors[k].abs() <= errors[w].abs() { w } else { k };
            let worst = self.active.get((0..n).fold(0, largest)).map_or(0, |a| a.at);
            if !error.is_finite() {
                // What is no number must not stay behind the states.
                for u in &mut self.u {
                    u.as_mut().fill(0.0);
                }
            }
            return Attempt::Rejected { next: self.pace.rejected(h, error), worst };
        }
        // Behind a bend it goes on nearly as before.
        let next = self.pace.accepted(h, error).max(if h < wanted { Pace::BEHIND_BEND * wanted } else { 0.0 });
        self.fresh = false;

        let [y0, y1, _, _] = step.begin(t, h);
        y0.copy_from_slice(y);
        self.place();
        y1[..self.dim].copy_from_slice(&self.at.as_ref()[..self.dim]);
        let ledger = &mut y1[self.dim..];
        self.ledger_sum(h, &STEP_WEIGHTS, ledger);
        for (l, y) in ledger.iter_mut().zip(&y[self.dim..]) {
            *l += y;
        }
        Attempt::Accepted { next }
    }

    fn middle(&mut self, _step: &Step, out: &mut [f64]) {
        self.sum.set_sum(MIDDLE, &self.u);
        self.place();
        out.copy_from_slice(&self.at.as_ref()[..out.len()]);
    }

    fn complete(&mut self, step: &mut Step) {
        let h = step.h;
        let [_, _, c3, c4] = step.parts_mut();
        for (c, weights, ledger_weights) in [(c3, H2, &H2_WEIGHTS), (c4, H3, &H3_WEIGHTS)] {
            self.sum.set_sum(weights, &self.u);
            c[..self.dim].fill(0.0);
            for (a, x) in self.active.iter().zip(self.sum.as_ref()) {
                c[a.at] = x * a.scale;
            }
            self.ledger_sum(h, ledger_weights, &mut c[self.dim..]);
        }
    }

    fn restart(&mut self) {
        self.fresh = false;
        self.active_known = false;
        self.pace = Pace::default();
    }
}
