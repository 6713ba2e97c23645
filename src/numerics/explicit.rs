//! The explicit family: Dormand and Prince's 5(4) pair as `ode_solvers` implements it, in short windows.
//!
//! `ode_solvers` has one scalar absolute tolerance, no event location and no clean early stop, so: states are shifted
//! and scaled per window, the window is integrated whole, and its accepted steps are handed on one by one with a cubic
//! Hermite interpolant. The driver looks for events in each; after one, the rest of the window is thrown away.

use super::solution::{Stats, Step};
use super::solve::{Attempt, Stepper, smallest_step};
use super::system::System;
use ode_solvers::dop_shared::OutputType;
use ode_solvers::{DVector, Dopri5};
use std::collections::VecDeque;

/// Length of a window, s. A trade between start-up cost per window and work thrown away at an event.
const WINDOW: f64 = 1e-3;
/// Steps per window before it is halved.
const WINDOW_STEPS: u32 = 50_000;
/// Ledger entries follow the states and shall not steer the step: one unit of error is this many kg.
const LEDGER_SCALE: f64 = 1.0;

pub(super) struct Explicit {
    tolerance: f64,
    ready: VecDeque<Step>,
    scale: Vec<f64>,
    last_h: f64,
}

impl Explicit {
    pub fn new<S: System>(system: &S, tolerance: f64) -> Self {
        let n = system.dim() + system.ledger();
        Explicit { tolerance, ready: VecDeque::new(), scale: vec![LEDGER_SCALE; n], last_h: 0.0 }
    }

    fn window<S: System>(&mut self, system: &S, mode: &S::Mode, t: f64, y: &[f64], h: f64, stats: &mut Stats) -> bool {
        let n = y.len();
        system.scales(t, y, &mut self.scale[..system.dim()]);
        let problem = Scaled { system, mode, t0: t, y0: y, scale: &self.scale };
        let first = if self.last_h > 0.0 { self.last_h.min(h) } else { 0.0 };
        let mut solver = Dopri5::from_param(
            problem,
            0.0,
            h,
            h,
            DVector::zeros(n),
            0.0,
            self.tolerance,
            0.9,
            0.04,
            0.2,
            10.0,
            h,
            first,
            WINDOW_STEPS,
            u32::MAX,
            OutputType::Sparse,
        );
        let Ok(done) = solver.integrate() else { return false };
        stats.rhs_evaluations += done.num_eval as usize;
        stats.rejected += done.rejected_steps as usize;
        let problem = Scaled { system, mode, t0: t, y0: y, scale: &self.scale };
        let back = |z: &DVector<f64>| -> Vec<f64> { (0..n).map(|i| y[i] + self.scale[i] * z[i]).collect() };
        let rate = |x: f64, z: &DVector<f64>| -> Vec<f64> {
            let mut dz = DVector::zeros(n);
            ode_solvers::System::system(&problem, x, z, &mut dz);
            (0..n).map(|i| self.scale[i] * dz[i]).collect()
        };
        let (xs, zs) = (solver.x_out(), solver.y_out());
        let mut steps = VecDeque::with_capacity(xs.len());
        let points = xs.iter().zip(zs);
        let mut previous: Option<(f64, Vec<f64>, Vec<f64>)> = None;
        for (&x, z) in points {
            let (y1, f1) = (back(z), rate(x, z));
            if !y1.iter().chain(&f1).all(|v| v.is_finite()) {
                return false;
            }
            if let Some((x0, y0, f0)) = &previous {
                let dt = x - x0;
                if dt > 0.0 {
                    let mut step = Step::room(n);
                    let [from, to, c3, c4] = step.begin(t + x0, dt);
                    from.copy_from_slice(y0);
                    to.copy_from_slice(&y1);
                    for i in 0..n {
                        c3[i] = dt * f0[i] - (y1[i] - y0[i]);
                        c4[i] = 2.0 * (y1[i] - y0[i]) - dt * (f0[i] + f1[i]);
                    }
                    steps.push_back(step);
                    self.last_h = dt;
                }
            }
            previous = Some((x, y1, f1));
        }
        stats.rhs_evaluations += xs.len();
        self.ready = steps;
        !self.ready.is_empty()
    }
}

impl<S: System> Stepper<S> for Explicit {
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
        if self.ready.is_empty() {
            let h = h.min(WINDOW);
            if !self.window(system, mode, t, y, h, stats) {
                self.last_h = 0.0;
                return Attempt::Rejected { next: if h > smallest_step(t) { 0.25 * h } else { 0.0 }, worst: 0 };
            }
        }
        match self.ready.pop_front() {
            Some(ready) => {
                *step = ready;
                Attempt::Accepted { next: WINDOW }
            }
            None => Attempt::Rejected { next: 0.25 * h, worst: 0 },
        }
    }

    fn restart(&mut self) {
        self.ready.clear();
        self.last_h *= 0.1;
    }
}

/// The system in shifted, scaled variables and time from the window's start.
struct Scaled<'a, S: System> {
    system: &'a S,
    mode: &'a S::Mode,
    t0: f64,
    y0: &'a [f64],
    scale: &'a [f64],
}

impl<S: System> ode_solvers::System<f64, DVector<f64>> for Scaled<'_, S> {
    fn system(&self, x: f64, z: &DVector<f64>, dz: &mut DVector<f64>) {
        let n = self.y0.len();
        let y: Vec<f64> = (0..n).map(|i| self.y0[i] + self.scale[i] * z[i]).collect();
        let mut rates = vec![0.0; n];
        self.system.rates(self.mode, self.t0 + x, &y, &mut rates);
        for i in 0..n {
            dz[i] = rates[i] / self.scale[i];
        }
    }
}
