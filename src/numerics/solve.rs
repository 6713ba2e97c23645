//! One entry point: integrate a system with modes, locate events, keep the ledger, say why it stopped.

use super::explicit::Explicit;
use super::locate::{Found, first_event};
use super::rosenbrock::Rosenbrock;
use crate::real::Real;

/// One state or ledger entry, named once for error messages, CSV headers and axis labels.
#[derive(Debug, Clone, PartialEq)]
pub struct Variable {
    /// Name in snake_case with the SI unit at the end, as in CSV headers.
    pub name: String,
    /// SI unit.
    pub unit: &'static str,
}

/// A set of ordinary differential equations with discrete modes.
///
/// The state is `y`, of length [`System::dim`]; behind it in the same slice stand [`System::ledger`] quadratures that
/// nothing depends on (what has passed where). [`System::rates`] fills both.
pub trait System {
    /// The discrete mode (which parts are sealed, moving, at their stop).
    type Mode: Clone;

    /// Number of states.
    fn dim(&self) -> usize;
    /// Number of quadratures behind the states.
    fn ledger(&self) -> usize;
    /// Names of states and ledger entries, in order.
    fn variables(&self) -> Vec<Variable>;
    /// Time derivatives of states and ledger, `out.len() == dim + ledger`; `y.len() >= dim`.
    fn rates<T: Real>(&self, mode: &Self::Mode, t: T, y: &[T], out: &mut [T]);
    /// Whether state `i` cannot change in this mode (its rate is zero); the solver leaves it out of the linear algebra.
    fn frozen(&self, _mode: &Self::Mode, _i: usize) -> bool {
        false
    }
    /// The change of each state that counts as one unit of relative error (positive, `out.len() == dim`).
    fn scales(&self, t: f64, y: &[f64], out: &mut [f64]);
    /// How many guards the mode has.
    fn guard_count(&self, _mode: &Self::Mode) -> usize {
        0
    }
    /// Guard functions: positive while the mode is valid, an event where one turns negative.
    fn guards(&self, _mode: &Self::Mode, _t: f64, _y: &[f64], _out: &mut [f64]) {}
    /// What happens when guard `fired` turns negative at `(t, y)`; may change `y`.
    fn transition(&self, mode: &Self::Mode, _t: f64, _y: &mut [f64], _fired: usize) -> Transition<Self::Mode> {
        Transition { mode: mode.clone(), label: None }
    }
    /// The next time after `t` at which the rates have a kink the solver must step onto.
    fn next_break(&self, _t: f64) -> f64 {
        f64::INFINITY
    }
    /// Called after every step and every transition; `true` ends the run with [`Reason::Asked`].
    fn enough(&self, _mode: &Self::Mode, _t: f64, _y: &[f64], _memory: &mut Self::Memory) -> bool {
        false
    }
    /// What [`System::enough`] remembers between calls.
    type Memory: Default;
}

/// The outcome of a fired guard: the new mode and the system's own label for it.
#[derive(Debug, Clone)]
pub struct Transition<M> {
    /// The mode that holds from now on.
    pub mode: M,
    /// Index by which the system knows the transition; `None` when nothing outwardly happened.
    pub label: Option<usize>,
}

/// A transition that took place.
#[derive(Debug, Clone, PartialEq)]
pub struct Fired<M> {
    /// When.
    pub t: f64,
    /// The system's label.
    pub label: usize,
    /// Mode before.
    pub before: M,
    /// State and ledger at that moment, before any jump.
    pub y: Vec<f64>,
}

/// Which family of methods integrates.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Method {
    /// Linearly implicit, order 4(3), L-stable, exact Jacobian: for the coupled assembly.
    #[default]
    Rosenbrock,
    /// Explicit, order 5(4), from `ode_solvers`: for smooth problems, and as an independent second opinion.
    DormandPrince,
}

/// How a run is done.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Options {
    /// Local error per step relative to [`System::scales`]. Default 1e-5; smaller costs steps as the fourth root.
    pub tolerance: f64,
    /// Which method.
    pub method: Method,
    /// Largest number of attempted steps before the run is given up. Default 400,000 (explicit: times 50).
    pub max_steps: usize,
    /// Transitions after which the run ends with [`Reason::Chatter`]. Default 4,000.
    pub max_transitions: usize,
    /// Keep every step for interpolation afterwards (default), or only the last state.
    pub keep_steps: bool,
}

impl Default for Options {
    fn default() -> Self {
        Options {
            tolerance: 1e-5,
            method: Method::Rosenbrock,
            max_steps: 400_000,
            max_transitions: 4_000,
            keep_steps: true,
        }
    }
}

/// Why an integration ended in good order.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reason {
    /// The end of the span was reached.
    End,
    /// [`System::enough`] said so.
    Asked,
    /// More transitions than allowed: a part opens and shuts without end.
    Chatter,
}

/// Why an integration could not go on.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Failure {
    /// The step fell below what the clock can resolve.
    #[error("the time step fell below {h_s:.1e} s at t = {t_s:.6} s; the variable that resisted is {variable}")]
    StepTooSmall {
        /// When, s.
        t_s: f64,
        /// Last step tried, s.
        h_s: f64,
        /// Name of the state with the largest error.
        variable: String,
    },
    /// The step budget is used up.
    #[error("{steps} steps were not enough; the run stands at t = {t_s:.6} s")]
    TooManySteps {
        /// When, s.
        t_s: f64,
        /// Steps attempted.
        steps: usize,
    },
    /// A rate is not finite at the start or after a transition.
    #[error("{variable} is not finite at t = {t_s:.6} s")]
    NotFinite {
        /// When, s.
        t_s: f64,
        /// Name of the first such variable.
        variable: String,
    },
}

/// Counts of work done.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Stats {
    /// Accepted steps.
    pub steps: usize,
    /// Rejected steps.
    pub rejected: usize,
    /// Evaluations of the rates (without those inside Jacobians).
    pub rhs_evaluations: usize,
    /// Jacobians.
    pub jacobians: usize,
    /// Transitions.
    pub transitions: usize,
}

/// One accepted step with its interpolant `y0 (1-s) + s (y1 + (1-s) (c3 + s c4))`, `s = (t - t0) / h`.
#[derive(Debug, Clone)]
pub struct Step {
    /// Start of the step, s.
    pub t0: f64,
    /// Length over which the interpolant is defined, s.
    pub h: f64,
    /// End of the part that counts (an event may cut the step short), s.
    pub t1: f64,
    /// Number of states and ledger entries.
    n: usize,
    /// `y0, y1, c3, c4` one behind the other.
    data: Vec<f64>,
}

impl Step {
    pub(super) fn new(t0: f64, h: f64, y0: &[f64], y1: &[f64], c3: &[f64], c4: &[f64]) -> Self {
        let n = y0.len();
        let mut data = Vec::with_capacity(4 * n);
        for part in [y0, y1, c3, c4] {
            data.extend_from_slice(part);
        }
        Step { t0, h, t1: t0 + h, n, data }
    }

    /// State and ledger at time `t` inside the step.
    pub fn at(&self, t: f64, out: &mut [f64]) {
        let s = (t - self.t0) / self.h;
        let (y0, rest) = self.data.split_at(self.n);
        let (y1, rest) = rest.split_at(self.n);
        let (c3, c4) = rest.split_at(self.n);
        for (i, o) in out.iter_mut().enumerate().take(self.n) {
            *o = y0[i] * (1.0 - s) + s * (y1[i] + (1.0 - s) * (c3[i] + s * c4[i]));
        }
    }
}

/// What a run leaves behind.
#[derive(Debug, Clone)]
pub struct Solution<M> {
    /// Accepted steps in order of time (empty if [`Options::keep_steps`] is off).
    pub steps: Vec<Step>,
    /// For each step the mode that held during it, as an index into `modes`.
    pub step_mode: Vec<usize>,
    /// Modes in order of appearance.
    pub modes: Vec<M>,
    /// Transitions in order of time.
    pub fired: Vec<Fired<M>>,
    /// End time, s.
    pub t_end: f64,
    /// State and ledger at the end.
    pub y_end: Vec<f64>,
    /// Mode at the end.
    pub mode_end: M,
    /// Why it ended.
    pub reason: Reason,
    /// Work done.
    pub stats: Stats,
}

impl<M> Solution<M> {
    /// State and ledger at time `t` (clamped to the run), with the index of the mode that held.
    pub fn at(&self, t: f64, out: &mut [f64]) -> usize {
        let k = self.steps.partition_point(|s| s.t1 < t).min(self.steps.len().saturating_sub(1));
        match self.steps.get(k) {
            Some(step) => {
                step.at(t.clamp(step.t0, step.t1), out);
                self.step_mode.get(k).copied().unwrap_or(0)
            }
            None => {
                out.copy_from_slice(&self.y_end[..out.len()]);
                self.modes.len().saturating_sub(1)
            }
        }
    }
}

/// The smallest step the clock resolves near `t`, s.
pub(super) fn smallest_step(t: f64) -> f64 {
    16.0 * f64::EPSILON * t.abs().max(1e-3)
}

/// What one attempt of a stepper gives.
pub(super) enum Attempt {
    /// Accepted; the next step to try, s.
    Accepted { step: Step, next: f64 },
    /// Rejected; a smaller step to try, s, and the state with the largest error.
    Rejected { next: f64, worst: usize },
}

/// A method that advances a system by one step.
pub(super) trait Stepper<S: System> {
    /// Tries a step of length `h` from `(t, y)`; never past `t + h`.
    fn attempt(&mut self, system: &S, mode: &S::Mode, t: f64, y: &[f64], h: f64, stats: &mut Stats) -> Attempt;
    /// The mode or the state has jumped.
    fn restart(&mut self);
}

/// First step after a transition, s: friction turns over within microseconds of a part leaving its rest, and a longer
/// step with the Jacobian of the first instant passes over that without its error estimate taking note.
const RESTART_STEP: f64 = 5e-6;

/// Integrates `system` from `(t0, y0)` in mode `mode0` to `t_end`.
///
/// `y0` holds the states and the ledger's start (usually zero).
///
/// # Errors
/// [`Failure`] with the time reached when the run cannot go on.
pub fn solve<S: System>(
    system: &S,
    mode0: S::Mode,
    y0: Vec<f64>,
    t0: f64,
    t_end: f64,
    options: &Options,
) -> Result<Solution<S::Mode>, Failure> {
    match options.method {
        Method::Rosenbrock => run(system, mode0, y0, t0, t_end, options, Rosenbrock::new(system, options.tolerance)),
        Method::DormandPrince => run(system, mode0, y0, t0, t_end, options, Explicit::new(system, options.tolerance)),
    }
}

fn run<S: System, K: Stepper<S>>(
    system: &S,
    mode0: S::Mode,
    y0: Vec<f64>,
    t0: f64,
    t_end: f64,
    options: &Options,
    mut stepper: K,
) -> Result<Solution<S::Mode>, Failure> {
    let name = |i: usize| system.variables().get(i).map_or_else(|| "?".to_owned(), |v| v.name.clone());
    let mut run = Run {
        system,
        t: t0,
        y: y0,
        mode: mode0,
        stats: Stats::default(),
        fired: Vec::new(),
        modes: Vec::new(),
        max_transitions: options.max_transitions,
    };
    let (mut steps, mut step_mode) = (Vec::new(), Vec::new());
    let mut memory = S::Memory::default();
    let mut mode_fresh = true;
    let mut attempts = 0;
    let mut h: f64 = 1e-6;
    let mut reason = Reason::End;
    run.check_finite(name)?;
    if !run.settle_guards() {
        reason = Reason::Chatter;
    }
    while reason == Reason::End && run.t < t_end {
        if mode_fresh {
            run.modes.push(run.mode.clone());
            mode_fresh = false;
        }
        attempts += 1;
        if attempts > options.max_steps {
            return Err(Failure::TooManySteps { t_s: run.t, steps: attempts });
        }
        let limit = system.next_break(run.t).min(t_end);
        let room = limit - run.t;
        // Stretch or halve the last steps so that none is a splinter.
        let h_try = if h >= room * 0.999 {
            room
        } else if h > 0.5 * room {
            0.5 * room
        } else {
            h
        };
        let (step, next) = match stepper.attempt(system, &run.mode, run.t, &run.y, h_try, &mut run.stats) {
            Attempt::Accepted { step, next } => (step, next),
            Attempt::Rejected { next, worst } => {
                run.stats.rejected += 1;
                if !(next > smallest_step(run.t)) {
                    return Err(Failure::StepTooSmall { t_s: run.t, h_s: h_try, variable: name(worst) });
                }
                h = next;
                continue;
            }
        };
        let mut step = step;
        let found = first_event(system, &run.mode, &step);
        match found {
            Found::Nothing => {
                run.stats.steps += 1;
                // Land on a break time exactly, whatever the rounding of t + h.
                run.t = if (step.t1 - limit).abs() <= smallest_step(limit) { limit } else { step.t1 };
                step.t1 = run.t;
                let s1 = step.t0 + step.h;
                step.at(s1, &mut run.y);
                h = if h_try < h { h.max(next) } else { next };
            }
            Found::TooCoarse => {
                // A part left its seat and came back within the step without the interpolant seeing it leave.
                run.stats.rejected += 1;
                if h_try > 1e3 * smallest_step(run.t) && h_try > 1e-9 {
                    h = 0.1 * h_try;
                    continue;
                }
                // It never left: treat the guard as fired at once.
                step.t1 = step.t0;
                let count = system.guard_count(&run.mode);
                let mut g = vec![0.0; count];
                let mut probe = run.y.clone();
                step.at(step.t0 + step.h, &mut probe);
                system.guards(&run.mode, step.t0 + step.h, &probe, &mut g);
                let which = g.iter().position(|v| !(*v >= 0.0)).unwrap_or(0);
                run.fire(which);
                mode_fresh = true;
            }
            Found::At { t, guard } => {
                run.stats.steps += 1;
                step.t1 = t;
                step.at(t, &mut run.y);
                run.t = t;
                run.fire(guard);
                mode_fresh = true;
                h = next.min(h_try);
            }
        }
        if options.keep_steps {
            step_mode.push(run.modes.len() - 1);
            steps.push(step);
        }
        if mode_fresh {
            if !run.settle_guards() {
                reason = Reason::Chatter;
            }
            run.check_finite(name)?;
            stepper.restart();
            h = h.min(RESTART_STEP);
        }
        if reason == Reason::End && system.enough(&run.mode, run.t, &run.y, &mut memory) {
            reason = Reason::Asked;
        }
    }
    run.stats.transitions = run.fired.len();
    Ok(Solution {
        steps,
        step_mode,
        modes: run.modes,
        fired: run.fired,
        t_end: run.t,
        y_end: run.y,
        mode_end: run.mode,
        reason,
        stats: run.stats,
    })
}

/// Where a run stands.
struct Run<'a, S: System> {
    system: &'a S,
    t: f64,
    y: Vec<f64>,
    mode: S::Mode,
    stats: Stats,
    fired: Vec<Fired<S::Mode>>,
    modes: Vec<S::Mode>,
    max_transitions: usize,
}

impl<S: System> Run<'_, S> {
    fn fire(&mut self, guard: usize) {
        let before = self.y.clone();
        let change = self.system.transition(&self.mode, self.t, &mut self.y, guard);
        let old = std::mem::replace(&mut self.mode, change.mode);
        if let Some(label) = change.label {
            self.fired.push(Fired { t: self.t, label, before: old, y: before });
        }
    }

    /// Applies transitions whose guard is already negative, in order of their index; `false` on endless chatter.
    fn settle_guards(&mut self) -> bool {
        for _ in 0..32 {
            if self.fired.len() > self.max_transitions {
                return false;
            }
            let mut g = vec![1.0; self.system.guard_count(&self.mode)];
            self.system.guards(&self.mode, self.t, &self.y, &mut g);
            let Some(which) = g.iter().position(|v| *v < 0.0) else { return true };
            self.fire(which);
        }
        false
    }

    fn check_finite(&self, name: impl Fn(usize) -> String) -> Result<(), Failure> {
        let n = self.system.dim() + self.system.ledger();
        let mut out = vec![0.0; n];
        self.system.rates(&self.mode, self.t, &self.y, &mut out);
        match out.iter().zip(&self.y).position(|(r, y)| !(r.is_finite() && y.is_finite())) {
            None => Ok(()),
            Some(i) => Err(Failure::NotFinite { t_s: self.t, variable: name(i) }),
        }
    }
}
