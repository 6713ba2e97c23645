//! A line by the method of characteristics at Courant number 1: elastic, with friction and vapour cavities.
//!
//! ```text
//! C+   P_i + B w_i = P_(i-1) + B w_(i-1) - (r_(i-1) + r_i)/2 + h          dx = a dt,  B = a/A
//! C-   P_i - B w_i = P_(i+1) - B w_(i+1) + (r_(i+1) + r_i)/2 - h
//! cavity   dm/dt = w_out - w_in by the trapezoid rule, P = P_v while there is one
//! ```
//!
//! | symbol | meaning |
//! |---|---|
//! | P, w | pressure, Pa absolute, and mass flow, kg/s, at the nodes |
//! | r, h | friction and rise of pressure by height over one cell, Pa |
//! | m | water that a cavity stands in for, kg |
//!
//! Without friction the scheme is exact; friction at the new time is taken at a predicted flow, which makes it of order 2.
//! With the trapezoid rule in time, the water in the cells (pressure linear between nodes) and in the cavities closes with
//! the flows at the ends to rounding and the friction of one cell.
//!
//! A cavity ends in the step in which it can be filled: the flow that fills its last water exactly, half in this step and
//! half in the next, gives a pressure at or above the vapour's. A plain scheme that drops a negative volume loses water
//! there at every collapse.
//!
//! Source: E. B. Wylie & V. L. Streeter, *Fluid Transients* (from memory); the treatment of the last volume is derived
//! here. Left out: unsteady friction (it damps the later swings, not the first peak) and dissolved air. A cavity stands at
//! a node and reaches no further; pressures after a collapse depend on the number of cells and are not converged.

use super::{Line, MainPressure};
use crate::laws::constants::STANDARD_GRAVITY;
use crate::parts::Fluid;

/// How a line's friction is computed.
#[derive(Debug, Clone, PartialEq)]
pub enum LineFriction {
    /// A constant Darcy friction factor; 0: none.
    Constant(f64),
    /// Quasi-steady, from the roughness in all regimes of flow (Churchill).
    Roughness,
}

/// Entries of the friction table; linear between them it errs by `(1/n)^2/8` of the largest loss.
const TABLE: usize = 4096;
/// Velocity up to which the table reaches, m/s.
const FASTEST: f64 = 20.0;

/// Friction over one cell, Pa, against mass flow.
#[derive(Debug, Clone)]
enum Loss {
    Square(f64),
    Table { per: f64, values: Vec<f64> },
}

impl Loss {
    #[inline]
    fn at(&self, w: f64) -> f64 {
        match self {
            Loss::Square(k) => k * w * w.abs(),
            Loss::Table { per, values } => {
                let place = w.abs() * per;
                let i = (place as usize).min(TABLE - 2);
                let (a, b) = match values.get(i..i + 2) {
                    Some([a, b]) => (*a, *b),
                    _ => (f64::NAN, f64::NAN),
                };
                (a + (place - i as f64) * (b - a)).copysign(w)
            }
        }
    }
}

/// A line in motion.
#[derive(Debug, Clone)]
pub struct Waves {
    /// Number of cells.
    pub cells: usize,
    /// Length of a cell, m.
    pub dx: f64,
    /// Time step, s.
    pub dt: f64,
    /// Characteristic impedance a/A, Pa s/kg.
    pub impedance: f64,
    /// Mass flow at the start, kg/s.
    pub flow_at_start: f64,
    /// Steps done.
    pub done: usize,
    /// Pressure at the nodes, Pa absolute, from the main to the end.
    pub pressure: Vec<f64>,
    /// Mass flow into each node from its upstream side, kg/s, and out of it on the downstream side.
    pub flow: [Vec<f64>; 2],
    /// Water that the cavity at each node stands in for, kg.
    pub cavity: Vec<f64>,
    /// Highest and lowest pressure so far at each node, Pa absolute.
    pub extremes: [Vec<f64>; 2],
    /// Water that has entered at the main and left at the end so far, kg (trapezoid rule).
    pub passed: [f64; 2],
    /// What happened to the column.
    pub separation: Separation,
    friction: Vec<f64>,
    loss: Loss,
    head: f64,
    vapour: f64,
    main: MainPressure,
    limit: f64,
    ambient: f64,
    storage: f64,
    fresh: [Vec<f64>; 4],
    /// Whether any node holds a cavity, or the last of one.
    hollow: bool,
}

/// Cavities of a run.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Separation {
    /// When the first cavity opened, s, and at which node.
    pub first: Option<(f64, usize)>,
    /// When a cavity first closed, s.
    pub collapse: Option<f64>,
    /// Largest water that the cavities of the line stood in for at one time, kg.
    pub largest: f64,
}

/// What stands at the end of the line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum End {
    /// This mass flow leaves, kg/s; a cavity may open before it.
    Flow(f64),
    /// An opening: `w = coefficient sqrt(P - downstream)`, kg/s per square root of Pa; downstream in Pa absolute.
    Opening {
        /// kg/s per square root of Pa.
        coefficient: f64,
        /// Pa absolute.
        downstream: f64,
    },
    /// This pressure stands there, Pa absolute, and takes what arrives; cavities stand beyond it.
    Held(f64),
}

impl Waves {
    /// The line `line` in `cells` cells, carrying the steady mass flow `w` kg/s at t = 0.
    pub fn steady(line: &Line, fluid: &Fluid, cells: usize, friction: &LineFriction, w: f64) -> Waves {
        let cells = cells.max(2);
        let area = line.area();
        let dx = line.length / cells as f64;
        let loss = match friction {
            LineFriction::Constant(f) => Loss::Square(f * dx / (2.0 * line.bore * fluid.density * area * area)),
            LineFriction::Roughness => {
                let step = FASTEST * fluid.density * area / (TABLE - 1) as f64;
                let at = |i: usize| {
                    let w = step * i as f64;
                    line.friction.loss_per_length(w) * dx
                };
                Loss::Table { per: 1.0 / step, values: (0..TABLE).map(at).collect() }
            }
        };
        let main = line.pressure.at(0.0);
        let limit = line.flow_limit.map_or(0.0, |q| main.abs().max(1.0) / (fluid.density * q).powi(2));
        let head = fluid.density * STANDARD_GRAVITY * line.elevation / cells as f64;
        let first = main + fluid.ambient - limit * w * w.abs();
        let pressure: Vec<f64> =
            (0..=cells).map(|i| (first + (head - loss.at(w)) * i as f64).max(fluid.vapour_pressure)).collect();
        let zero = vec![0.0; cells + 1];
        Waves {
            cells,
            dx,
            dt: dx / line.wave_speed,
            impedance: line.wave_speed / area,
            flow_at_start: w,
            done: 0,
            flow: [vec![w; cells + 1], vec![w; cells + 1]],
            cavity: zero.clone(),
            extremes: [pressure.clone(), pressure.clone()],
            passed: [0.0; 2],
            separation: Separation::default(),
            friction: vec![loss.at(w); cells + 1],
            loss,
            head,
            vapour: fluid.vapour_pressure,
            main: line.pressure.clone(),
            limit,
            ambient: fluid.ambient,
            storage: area * dx / (line.wave_speed * line.wave_speed),
            hollow: false,
            fresh: [zero.clone(), zero.clone(), zero.clone(), zero],
            pressure,
        }
    }

    /// Time reached, s.
    pub fn time(&self) -> f64 {
        self.done as f64 * self.dt
    }

    /// Water stored above that at zero pressure, kg: in the cells, less what the cavities stand in for.
    pub fn stored(&self) -> f64 {
        let inner: f64 = self.pressure.windows(2).map(|p| 0.5 * (p[0] + p[1])).sum();
        let ends = |r: &[f64]| r.first().copied().unwrap_or(0.0) - r.last().copied().unwrap_or(0.0);
        // Within a cell pressure bends by what friction differs between its ends: the scheme's own rule.
        self.storage * (inner - 0.25 * ends(&self.friction)) - self.cavity.iter().sum::<f64>()
    }

    /// One step; returns what arrived at the end, Pa absolute.
    pub fn step(&mut self, end: End) -> f64 {
        let n = self.cells;
        let b = self.impedance;
        let now = self.time();
        let t = (self.done + 1) as f64 * self.dt;
        let [p, inn, out, loss] = &mut self.fresh;
        let (p0, in0, out0, r0) = (&self.pressure, &self.flow[0], &self.flow[1], &self.friction);
        let (mut hollow, mut collapsed, mut summit) = (false, false, 0.0);
        let held: f64 = if self.hollow { self.cavity.iter().sum() } else { 0.0 };
        let mut lowest = f64::INFINITY;
        // Inner nodes as if whole; slices of equal length so that the loops run without checks.
        {
            let (pl, pr) = (&p0[..n - 1], &p0[2..]);
            let (wl, wr) = (&out0[..n - 1], &in0[2..]);
            let (rl, rr) = (&r0[..n - 1], &r0[2..]);
            let (p, w, r) = (&mut p[1..n], &mut inn[1..n], &mut loss[1..n]);
            let two_b = 0.5 / b;
            for i in 0..n - 1 {
                p[i] = 0.5 * (pl[i] + pr[i] + b * (wl[i] - wr[i]) - 0.5 * (rl[i] - rr[i]));
                w[i] = (pl[i] - pr[i] + b * (wl[i] + wr[i]) - 0.5 * (rl[i] + rr[i]) + 2.0 * self.head) * two_b;
            }
            // Friction at the new time at the flow that the old friction alone would give.
            for i in 0..n - 1 {
                r[i] = self.loss.at(w[i] - 0.5 * (rl[i] + rr[i]) * two_b);
            }
            for i in 0..n - 1 {
                w[i] -= r[i] * two_b;
                lowest = if p[i] < lowest { p[i] } else { lowest };
            }
            out[1..n].copy_from_slice(w);
        }
        if !(lowest >= self.vapour) || self.hollow {
            for i in 1..n {
                let plus = p0[i - 1] + b * out0[i - 1] + self.head - 0.5 * (r0[i - 1] + loss[i]);
                let minus = p0[i + 1] - b * in0[i + 1] - self.head + 0.5 * (r0[i + 1] + loss[i]);
                let before = out0[i] - in0[i];
                if self.cavity[i] == 0.0 && before == 0.0 && p[i] >= self.vapour {
                    continue;
                }
                // What leaves beyond what comes, such that the last water is filled exactly.
                let mut closing = -self.cavity[i] / self.dt - 0.5 * before;
                if closing.abs() <= 1e-13 * (plus.abs() + minus.abs()) / b {
                    closing = 0.0;
                }
                let filled = 0.5 * (plus + minus + b * closing);
                p[i] = filled.max(self.vapour);
                (inn[i], out[i]) = ((plus - p[i]) / b, (p[i] - minus) / b);
                if filled >= self.vapour {
                    collapsed |= self.cavity[i] > 0.0;
                    self.cavity[i] = -0.5 * self.dt * closing;
                    if closing == 0.0 {
                        out[i] = inn[i];
                    } else {
                        hollow = true;
                    }
                } else {
                    let after = out[i] - inn[i];
                    summit += within(before, after, self.dt);
                    self.cavity[i] += 0.5 * self.dt * (before + after);
                    hollow = true;
                }
            }
        }
        // The main: its pressure falls with the square of the flow where it is limited.
        {
            let minus = p0[1] - b * in0[1] - self.head;
            let r = self.loss.at(in0[0]);
            let minus = minus + 0.5 * (r0[1] + r);
            let drive = self.main.at(t) + self.ambient - minus;
            let w = match self.limit > 0.0 {
                true => drive.signum() * 2.0 * drive.abs() / (b + (b * b + 4.0 * self.limit * drive.abs()).sqrt()),
                false => drive / b,
            };
            (p[0], inn[0], out[0], loss[0]) = (minus + b * w, w, w, r);
        }
        let plus = p0[n - 1] + b * out0[n - 1] + self.head;
        let guess = match end {
            End::Flow(w) => w,
            End::Held(held) => (plus - r0[n - 1] - held) / b,
            End::Opening { coefficient, downstream } => opened(coefficient, downstream, plus - r0[n - 1], b),
        };
        let r = self.loss.at(guess);
        let plus = plus - 0.5 * (r0[n - 1] + r);
        loss[n] = r;
        if let End::Held(held) = end {
            let w = (plus - held) / b;
            (p[n], inn[n], out[n]) = (held, w, w);
        } else {
            // The same rule as at the inner nodes, with what leaves given by the end.
            let before = out0[n] - in0[n];
            let mut closing = -self.cavity[n] / self.dt - 0.5 * before;
            if closing.abs() <= 1e-13 * plus.abs() / b {
                closing = 0.0;
            }
            let leaving = |plus: f64| match end {
                End::Opening { coefficient, downstream } => opened(coefficient, downstream, plus, b),
                End::Flow(w) | End::Held(w) => w,
            };
            let w = leaving(plus + b * closing);
            let filled = plus + b * (closing - w);
            if filled >= self.vapour {
                collapsed |= self.cavity[n] > 0.0;
                (p[n], inn[n], out[n]) = (filled, w - closing, w);
                self.cavity[n] = -0.5 * self.dt * closing;
                hollow |= closing != 0.0;
            } else {
                p[n] = self.vapour;
                inn[n] = (plus - self.vapour) / b;
                out[n] = match end {
                    End::Opening { coefficient, downstream } => {
                        let dp = self.vapour - downstream;
                        coefficient * dp.signum() * dp.abs().sqrt()
                    }
                    End::Flow(w) | End::Held(w) => w,
                };
                let after = out[n] - inn[n];
                summit += within(before, after, self.dt);
                self.cavity[n] += 0.5 * self.dt * (before + after);
                hollow = true;
            }
        }
        self.passed[0] += 0.5 * self.dt * (self.flow[0][0] + inn[0]);
        self.passed[1] += 0.5 * self.dt * (self.flow[1][n] + out[n]);
        std::mem::swap(&mut self.pressure, &mut self.fresh[0]);
        let [first, second] = &mut self.flow;
        std::mem::swap(first, &mut self.fresh[1]);
        std::mem::swap(second, &mut self.fresh[2]);
        std::mem::swap(&mut self.friction, &mut self.fresh[3]);
        let [high, low] = &mut self.extremes;
        for ((high, low), p) in high.iter_mut().zip(low).zip(&self.pressure) {
            *high = high.max(*p);
            *low = low.min(*p);
        }
        self.done += 1;
        self.hollow = hollow;
        if hollow || collapsed {
            self.note_cavities(now, hollow, collapsed, held + summit);
        }
        plus
    }

    fn note_cavities(&mut self, t: f64, hollow: bool, collapsed: bool, summit: f64) {
        let total: f64 = self.cavity.iter().sum();
        let seen = &mut self.separation;
        if hollow && seen.first.is_none() {
            seen.first = self.cavity.iter().position(|m| *m > 0.0).map(|i| (t, i));
        }
        if collapsed && seen.collapse.is_none() {
            seen.collapse = Some(t);
        }
        seen.largest = seen.largest.max(total).max(summit);
    }

    /// What will arrive at the end over the next `steps` steps (at most [`Waves::cells`]), Pa absolute, as far as it is
    /// already on its way; friction along the way is taken with flow or pressure at the end staying what it is. The first
    /// entry is what stands there now.
    pub fn forecast(&self, steps: usize) -> Vec<f64> {
        let n = self.cells;
        if self.hollow {
            let mut copy = self.clone();
            let held = self.flow[0].last().copied().unwrap_or(0.0);
            let here = self.pressure.last().copied().unwrap_or(f64::NAN);
            let now = here + self.impedance * held;
            return std::iter::once(now).chain((0..steps).map(|_| copy.step(End::Held(here)))).collect();
        }
        let steps = steps.min(n - 1);
        let from = n - steps;
        let mut p = self.pressure[from..].to_vec();
        let (mut wi, mut wo) = (self.flow[0][from..].to_vec(), self.flow[1][from..].to_vec());
        let mut r = self.friction[from..].to_vec();
        let b = self.impedance;
        let last = steps;
        let mut arriving = Vec::with_capacity(steps + 1);
        arriving.push(p[last] + b * wi[last]);
        let held = wi[last];
        for k in 1..=steps {
            let (mut left_p, mut left_w, mut left_r) = (p[k - 1], wo[k - 1], r[k - 1]);
            for i in k..last {
                let plus = left_p + b * left_w + self.head;
                let minus = p[i + 1] - b * wi[i + 1] - self.head;
                let guess = (plus - left_r - minus - r[i + 1]) * 0.5 / b;
                let loss = self.loss.at(guess);
                let (plus, minus) = (plus - 0.5 * (left_r + loss), minus + 0.5 * (r[i + 1] + loss));
                (left_p, left_w, left_r) = (p[i], wo[i], r[i]);
                p[i] = (0.5 * (plus + minus)).max(self.vapour);
                (wi[i], wo[i], r[i]) = ((plus - p[i]) / b, (p[i] - minus) / b, loss);
            }
            let loss = self.loss.at(held);
            let plus = left_p + b * left_w + self.head - 0.5 * (left_r + loss);
            arriving.push(plus);
            (p[last], wi[last], wo[last], r[last]) = (plus - b * held, held, held, loss);
        }
        arriving
    }
}

/// How far a cavity still grows within a step in which its growth turns from `before` to `after`, kg.
fn within(before: f64, after: f64, dt: f64) -> f64 {
    if before > 0.0 && after < 0.0 { 0.5 * dt * before * before / (before - after) } else { 0.0 }
}

/// Flow through an opening at the end of a characteristic `plus`: `w = k sqrt(P - d)` with `P = plus - b w`.
fn opened(k: f64, downstream: f64, plus: f64, b: f64) -> f64 {
    let drive = plus - downstream;
    if !(k > 0.0) {
        return 0.0;
    }
    // w^2/k^2 + b w - drive = 0, the root that does not cancel.
    drive.signum() * 2.0 * drive.abs() / (b + (b * b + 4.0 * drive.abs() / (k * k)).sqrt())
}
