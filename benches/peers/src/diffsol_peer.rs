//! Drives a diffsol method through the modes of the rig: one diffsol problem per mode, ended at the first guard that
//! diffsol's root finder reports; then poppetry's transition, then a fresh start.

use crate::diffsol_equations::{Counts, M, Modal, V};
use crate::frame::Frame;
use crate::outcome::{Outcome, closure};
use crate::place::Place;
use diffsol::{
    BdfState, DiffsolError, NalgebraLU, OdeBuilder, OdeSolverMethod, OdeSolverProblem, OdeSolverState,
    OdeSolverStopReason, RkState,
};
use poppetry::numerics::System;
use poppetry::rig::Rig;
use std::rc::Rc;

type Problem = OdeSolverProblem<Modal>;
type LS = NalgebraLU<f64>;

/// What is done for diffsol beyond its defaults.
#[derive(Debug, Clone, Copy)]
pub struct Manner {
    /// First step after a transition at most this long, s.
    pub first_step: f64,
    /// Tolerances follow the rig's scales when one has moved by this factor; the method goes on with its history.
    pub follow: f64,
    /// Keep diffsol's limits on the number of failures per solver (50 of Newton's, 40 of the error test per step).
    pub limits: bool,
}

impl Manner {
    /// The same care that poppetry's own driver takes.
    pub const CAREFUL: Manner = Manner { first_step: 5e-6, follow: 2.0, limits: false };
}

const MAX_STEPS: usize = 2_000_000;

/// A family of diffsol's methods.
pub trait Family {
    type State: OdeSolverState<V> + Clone;
    /// Order for which diffsol picks its first step.
    const ORDER: usize;
    fn solver<'p>(
        problem: &'p Problem,
        state: Self::State,
    ) -> Result<impl OdeSolverMethod<'p, Modal, State = Self::State>, DiffsolError>;
}

pub struct Bdf;
impl Family for Bdf {
    type State = BdfState<V>;
    const ORDER: usize = 1;
    fn solver<'p>(
        problem: &'p Problem,
        state: Self::State,
    ) -> Result<impl OdeSolverMethod<'p, Modal, State = Self::State>, DiffsolError> {
        problem.bdf_solver::<LS>(state)
    }
}

pub struct TrBdf2;
impl Family for TrBdf2 {
    type State = RkState<V>;
    const ORDER: usize = 2;
    fn solver<'p>(
        problem: &'p Problem,
        state: Self::State,
    ) -> Result<impl OdeSolverMethod<'p, Modal, State = Self::State>, DiffsolError> {
        problem.tr_bdf2_solver::<LS>(state)
    }
}

pub struct Esdirk34;
impl Family for Esdirk34 {
    type State = RkState<V>;
    const ORDER: usize = 3;
    fn solver<'p>(
        problem: &'p Problem,
        state: Self::State,
    ) -> Result<impl OdeSolverMethod<'p, Modal, State = Self::State>, DiffsolError> {
        problem.esdirk34_solver::<LS>(state)
    }
}

fn add(out: &mut Outcome, s: &diffsol::ode_solver::OdeSolverStatistics) {
    out.steps += s.number_of_steps;
    out.rejected += s.number_of_error_test_failures;
    out.newton_failures += s.number_of_nonlinear_solver_fails;
}

fn problem(
    frame: &Rc<Frame>,
    counts: &Rc<Counts>,
    t: f64,
    atol: Vec<f64>,
    limits: bool,
) -> Result<Problem, DiffsolError> {
    let mut problem = OdeBuilder::<M>::new()
        .t0(t)
        .h0(1e-6)
        .rtol(0.0)
        .atol(atol)
        .integrate_out(true)
        .build_from_eqn(Modal::new(frame, counts))?;
    if !limits {
        // Failures are counted instead and shown in the table.
        problem.ode_options.max_nonlinear_solver_failures = usize::MAX;
        problem.ode_options.max_error_test_failures = usize::MAX;
    }
    Ok(problem)
}

/// Runs the fill; an error says where and how it failed.
pub fn run<F: Family>(rig: &Rc<Rig>, tolerance: f64, manner: Manner) -> Result<Outcome, String> {
    let counts = Rc::new(Counts::default());
    let mut place = Place::new(rig);
    let mut out = Outcome::default();
    let mut memory = Default::default();
    // Shorter first step after a start from which a guard went negative unseen.
    let mut first = f64::INFINITY;
    place.settle()?;
    let at = |t: f64| move |e: DiffsolError| format!("{e} (mode begun at t = {t:.6} s)");
    'modes: while place.t < rig.end_time {
        let t_mode = place.t;
        let frame = Rc::new(Frame::new(rig, place.mode, place.t, place.y.clone()));
        let mut scales = frame.scale.clone();
        let (mut probe, mut now) = (place.y.clone(), scales.clone());
        let atol = frame.tolerances(tolerance, place.t, &place.y, &mut scales);
        let mut current = problem(&frame, &counts, place.t, atol, manner.limits).map_err(at(t_mode))?;
        let mut state = F::State::new_and_consistent::<LS, _>(&current, F::ORDER).map_err(at(t_mode))?;
        {
            let state = state.as_mut();
            *state.h = state.h.min(manner.first_step).min(first);
        }
        loop {
            // One solver: until an event, or until the tolerances have to follow the scales.
            let refreshed = {
                let mut solver = F::solver(&current, state).map_err(at(t_mode))?;
                let mut limit = f64::NAN;
                loop {
                    let next = rig.next_break(place.t).min(rig.end_time);
                    if next != limit {
                        limit = next;
                        solver.set_stop_time(limit).map_err(at(t_mode))?;
                    }
                    let before = place.t;
                    let reason = solver.step().map_err(|e| format!("{e} (at t = {before:.6} s)"))?;
                    if out.steps + solver.get_statistics().number_of_steps > MAX_STEPS {
                        return Err(format!("{MAX_STEPS} steps were not enough, t = {before:.6} s"));
                    }
                    if let OdeSolverStopReason::RootFound(t, guard) = reason {
                        solver.state_mut_back(t).map_err(at(t_mode))?;
                        frame.all(solver.state().y.batch_as_slice(0), solver.state().g.batch_as_slice(0), &mut place.y);
                        add(&mut out, solver.get_statistics());
                        place.t = t;
                        place.fire(guard);
                        break None;
                    }
                    // The root finder has computed the guards at the end of the step.
                    let negative = counts.guards.borrow().iter().position(|g| *g < 0.0);
                    let t = if reason == OdeSolverStopReason::TstopReached { limit } else { solver.state().t };
                    frame.all(solver.state().y.batch_as_slice(0), solver.state().g.batch_as_slice(0), &mut probe);
                    if !probe.iter().all(|v| v.is_finite()) {
                        return Err(format!("not finite at t = {t:.6} s"));
                    }
                    if let Some(guard) = negative {
                        // The guard was zero at the start and is negative now: the root finder sees no change of sign.
                        add(&mut out, solver.get_statistics());
                        out.unseen += 1;
                        first = 0.1 * (t - before);
                        if !(first > 1e-9) {
                            place.fire(guard);
                        }
                        place.settle()?;
                        continue 'modes;
                    }
                    first = f64::INFINITY;
                    place.t = t;
                    std::mem::swap(&mut place.y, &mut probe);
                    if rig.enough(&place.mode, place.t, &place.y, &mut memory) || !(place.t < rig.end_time) {
                        add(&mut out, solver.get_statistics());
                        break 'modes;
                    }
                    rig.scales(t, &place.y, &mut now);
                    let moved =
                        |&i: &usize| !(now[i] < manner.follow * scales[i] && now[i] > scales[i] / manner.follow);
                    if frame.active.iter().any(moved) {
                        add(&mut out, solver.get_statistics());
                        out.refreshes += 1;
                        break Some(solver.into_state());
                    }
                }
            };
            match refreshed {
                Some(s) => {
                    state = s;
                    let atol = frame.tolerances(tolerance, place.t, &place.y, &mut scales);
                    current = problem(&frame, &counts, place.t, atol, manner.limits).map_err(at(t_mode))?;
                }
                None => break,
            }
        }
        place.settle()?;
        if rig.enough(&place.mode, place.t, &place.y, &mut memory) {
            break;
        }
    }
    out.rates = counts.rates.get() + counts.ledger.get();
    out.jacobians = counts.jacobians.get();
    out.spill = rig.spilled(&place.y);
    out.closure = closure(rig, &place.y);
    out.t_end = place.t;
    out.fired = place.fired;
    Ok(out)
}
