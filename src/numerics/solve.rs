//! One entry point: integrate a system with modes, locate events, keep the ledger, say why it stopped.

use super::explicit::Explicit;
use super::locate::{Found, Search};
use super::rosenbrock::Rosenbrock;
use super::solution::{Failure, Fired, Reason, Solution, Stats, Step};
use super::system::System;

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
    /// Local error per step relative to [`System::scales`], above 0 and below 1. Default 1e-5; smaller costs steps as the
    /// fourth root.
    pub tolerance: f64,
    /// Which method.
    pub method: Method,
    /// Largest number of attempted steps before the run is given up. Default 400,000 (explicit: times 50).
    pub max_steps: usize,
    /// Transitions after which the run ends with [`Reason::Chatter`]. Default 4,000.
    pub max_transitions: usize,
    /// Keep every step for interpolation afterwards (default), or only the last state.
    pub keep_steps: bool,
    /// First step to try, s, above 0. Default 1e-6; a run that goes on from another may begin where that one's steps were.
    pub first_step: f64,
}

impl Default for Options {
    fn default() -> Self {
        Options {
            tolerance: 1e-5,
            method: Method::Rosenbrock,
            max_steps: 400_000,
            max_transitions: 4_000,
            keep_steps: true,
            first_step: 1e-6,
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
    Accepted { next: f64 },
    /// Rejected; a smaller step to try, s, and the state with the largest error.
    Rejected { next: f64, worst: usize },
}

/// A method that advances a system by one step.
pub(super) trait Stepper<S: System> {
    /// Tries a step of length `h` from `(t, y)`, never past `t + h`; an accepted one is left in `step`.
    fn attempt(
        &mut self,
        system: &S,
        mode: &S::Mode,
        from: (f64, &[f64]),
        h: f64,
        step: &mut Step,
        stats: &mut Stats,
    ) -> Attempt;
    /// The states half-way through the step just accepted.
    fn middle(&mut self, step: &Step, out: &mut [f64]) {
        step.at(step.t0 + 0.5 * step.h, out);
    }
    /// Fills in what interpolating the step just accepted needs; till then its ends and its middle are known.
    fn complete(&mut self, _step: &mut Step) {}
    /// The mode or the state has jumped.
    fn restart(&mut self);
}

/// Integrates `system` from `(t0, y0)` in mode `mode0` to `t_end`.
///
/// `y0` holds the states and the ledger's start (usually zero).
///
/// # Errors
/// [`Failure::Meaningless`] for an option, a span or a start that is none; another [`Failure`] with the time reached when
/// the run cannot go on.
pub fn solve<S: System>(
    system: &S,
    mode0: S::Mode,
    y0: Vec<f64>,
    t0: f64,
    t_end: f64,
    options: &Options,
) -> Result<Solution<S::Mode>, Failure> {
    check(options, [t0, t_end], [system.dim() + system.ledger(), y0.len()])?;
    let start = Run {
        system,
        t: t0,
        y: y0,
        mode: mode0,
        stats: Stats::default(),
        fired: Vec::new(),
        modes: Vec::new(),
        max_transitions: options.max_transitions,
    };
    match options.method {
        // Arrays for the usual rig, and for one with an elastomer's lip, a relief or a gauge.
        Method::Rosenbrock => match system.dim() {
            ..=16 => run(start, t_end, options, Rosenbrock::<[f64; 16]>::new(system, options.tolerance)),
            17..=20 => run(start, t_end, options, Rosenbrock::<[f64; 20]>::new(system, options.tolerance)),
            _ => run(start, t_end, options, Rosenbrock::<Vec<f64>>::new(system, options.tolerance)),
        },
        Method::DormandPrince => run(start, t_end, options, Explicit::new(system, options.tolerance)),
    }
}

/// What does not hold here would end the run at once, or never, with figures that look like a result.
fn check(options: &Options, [t0, t_end]: [f64; 2], [wanted, given]: [usize; 2]) -> Result<(), Failure> {
    let (tolerance, first) = (options.tolerance, options.first_step);
    let rules = [
        (tolerance > 0.0 && tolerance < 1.0, "tolerance", tolerance, "above 0 and below 1"),
        (first > 0.0 && first.is_finite(), "first_step", first, "a number of seconds above 0"),
        (t0.is_finite(), "the start", t0, "a number of seconds"),
        (t_end >= t0 && t_end.is_finite(), "the end", t_end, "a number of seconds, not before the start"),
        (given == wanted, "the length of the start", given as f64, "that of the states and the ledger"),
    ];
    match rules.into_iter().find(|(holds, ..)| !holds) {
        Some((_, what, value, rule)) => Err(Failure::Meaningless { what, value, rule }),
        None => Ok(()),
    }
}

fn run<S: System, K: Stepper<S>>(
    mut run: Run<'_, S>,
    t_end: f64,
    options: &Options,
    mut stepper: K,
) -> Result<Solution<S::Mode>, Failure> {
    let system = run.system;
    let name = |i: usize| system.variables().get(i).map_or_else(|| "?".to_owned(), |v| v.name.clone());
    let (mut steps, mut step_mode) = (Vec::new(), Vec::new());
    let mut memory = S::Memory::default();
    let mut mode_fresh = true;
    let mut attempts = 0;
    let mut step = Step::room(system.dim() + system.ledger());
    let mut search = Search::new(system);
    let mut h = options.first_step.max(1e-3 * system.restart_step(&run.mode, options.first_step));
    // What holds until the next break, and from the last step to the next one.
    let mut limit = system.next_break(run.t).min(t_end);
    let mut fold: Option<f64> = None;
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
        if !(run.t < limit) {
            limit = system.next_break(run.t).min(t_end);
        }
        let room = limit - run.t;
        // Stretch or halve the last steps so that none is a splinter.
        let h_try = if h >= room * 0.999 {
            room
        } else if h > 0.5 * room {
            0.5 * room
        } else {
            h
        };
        let next = match stepper.attempt(system, &run.mode, (run.t, &run.y), h_try, &mut step, &mut run.stats) {
            Attempt::Accepted { next } => next,
            Attempt::Rejected { next, worst } => {
                run.stats.rejected += 1;
                if !(next > smallest_step(run.t)) {
                    return Err(Failure::StepTooSmall { t_s: run.t, h_s: h_try, variable: name(worst) });
                }
                h = next;
                continue;
            }
        };
        // What lies beyond a bend has spoilt the whole step: a shorter one ends just behind it.
        let before = fold.take().unwrap_or_else(|| system.fold(&run.mode, run.t, &run.y));
        let ahead = system.fold(&run.mode, step.t0 + step.h, step.end());
        let folded = before * ahead < 0.0;
        let crossed = search.crossed(system, &run.mode, &step, |y| stepper.middle(&step, y));
        if options.keep_steps || folded || crossed.is_some() {
            stepper.complete(&mut step);
        }
        if folded {
            let share = search.fold(system, &run.mode, &step, before);
            if share < 0.95 && share * step.h > 1e-7 {
                run.stats.rejected += 1;
                h = 1.01 * share * step.h;
                search.restart();
                continue;
            }
        }
        let found = crossed.map_or(Found::Nothing, |half| search.first_event(system, &run.mode, &step, half));
        match found {
            Found::Nothing => {
                run.stats.steps += 1;
                // Land on a break time exactly, whatever the rounding of t + h.
                run.t = if (step.t1 - limit).abs() <= smallest_step(limit) { limit } else { step.t1 };
                step.t1 = run.t;
                run.y.copy_from_slice(step.end());
                fold = Some(ahead);
                h = if h_try < h { h.max(next) } else { next };
            }
            Found::TooCoarse => {
                // A part left its seat and came back within the step without the interpolant seeing it leave.
                run.stats.rejected += 1;
                if h_try > 1e3 * smallest_step(run.t) && h_try > 1e-9 {
                    h = 0.1 * h_try;
                    search.restart();
                    continue;
                }
                // It never left: treat the guard as fired at once.
                step.t1 = step.t0;
                let count = system.guard_count(&run.mode);
                let mut g = vec![0.0; count];
                system.guards(&run.mode, step.t0 + step.h, step.end(), &mut g);
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
            steps.push(step.clone());
        }
        if mode_fresh {
            if !run.settle_guards() {
                reason = Reason::Chatter;
            }
            run.check_finite(name)?;
            stepper.restart();
            search.restart();
            h = system.restart_step(&run.mode, h);
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
