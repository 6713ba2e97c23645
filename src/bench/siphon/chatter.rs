//! A run followed until it ends, or until its parts open and shut without end: a pump that presses back through a stem's
//! check, for one, starves zone 2, the check shuts, the line's water swings back against it and opens it again.

use crate::numerics::{Failure, Options, Reason, Solution, Stats, solve};
use crate::rig::{Mode, Part, Rig, What, label_meaning};

/// Events after which a run is looked at.
const LOOK: usize = 100;
/// Rounds, from one shutting of a part to the next, that must be alike to go on for ever.
const ROUNDS: usize = 8;
/// How alike, as a share of the largest.
const ALIKE: f64 = 0.005;

/// Parts that open and shut without end: the last rounds of a run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Chatter {
    /// How long a round takes, s.
    pub round_s: f64,
    /// Whether the rounds are alike; if not, the run was given up after very many.
    pub alike: bool,
    /// Water that flows back through the check over these rounds on balance, m3/s.
    pub reverse_flow_m3_s: f64,
}

/// The last rounds of a run, if parts have opened and shut so often.
fn last_rounds(rig: &Rig, run: &Solution<Mode>) -> Option<Chatter> {
    let rho = rig.fluid.density;
    [Part::Check, Part::AirInlet, Part::Relief].into_iter().find_map(|part| {
        let shuttings = run.fired.iter().rev().filter(|f| label_meaning(f.label) == (part, What::Closed));
        // Latest first: when, and the water that has passed the check each way and left.
        let seen: Vec<[f64; 5]> = shuttings
            .take(ROUNDS + 1)
            .map(|f| {
                let l = rig.ledger_of(&f.y);
                [f.t, l.check_forward, l.check_back, l.spilled, l.relieved]
            })
            .collect();
        let (latest, first) = (seen.first()?, seen.get(ROUNDS)?);
        let time = latest[0] - first[0];
        let even = |k: usize, nothing: f64| {
            let rounds = seen.windows(2).map(|w| w[0][k] - w[1][k]);
            let (low, high) = rounds.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
            high - low <= ALIKE * high.abs() + nothing
        };
        let dry = 1e-3 * super::run::DRY * rho;
        let passes = (1..5).any(|k| latest[k] - first[k] > super::run::DRY * rho);
        let back = [1, 2].map(|k| latest[k] - first[k]);
        (time > 0.0).then(|| Chatter {
            round_s: time / ROUNDS as f64,
            // A part that rattles and lets nothing pass dies down with what rattles it.
            alike: passes && even(0, 0.0) && (1..5).all(|k| even(k, dry)),
            reverse_flow_m3_s: ((back[1] - back[0]) / (rho * time)).max(0.0),
        })
    })
}

/// Runs `rig` from `(mode, y0)` at t = 0 until its end, or until rounds of its parts are alike or have become too many.
///
/// # Errors
/// [`Failure`] when the run cannot go on.
pub(super) fn follow(
    rig: &Rig,
    mode: Mode,
    y0: Vec<f64>,
    options: &Options,
) -> Result<(Solution<Mode>, Option<Chatter>), Failure> {
    let stretch = Options { max_transitions: LOOK, ..*options };
    let mut run = solve(rig, mode, y0, 0.0, rig.end_time, &stretch)?;
    while run.reason == Reason::Chatter {
        let rounds = last_rounds(rig, &run);
        if rounds.is_some_and(|c| c.alike) || run.fired.len() > options.max_transitions {
            return Ok((run, rounds));
        }
        let next = solve(rig, run.mode_end, run.y_end.clone(), run.t_end, rig.end_time, &stretch)?;
        let stuck = !(next.t_end > run.t_end);
        append(&mut run, next);
        if stuck {
            let rounds = last_rounds(rig, &run);
            return Ok((run, rounds));
        }
    }
    Ok((run, None))
}

/// `run` goes on as `next`.
fn append(run: &mut Solution<Mode>, next: Solution<Mode>) {
    let before = run.modes.len();
    run.steps.extend(next.steps);
    run.step_mode.extend(next.step_mode.iter().map(|m| before + m));
    run.modes.extend(next.modes);
    run.fired.extend(next.fired);
    (run.t_end, run.y_end, run.mode_end, run.reason) = (next.t_end, next.y_end, next.mode_end, next.reason);
    let (a, b) = (run.stats, next.stats);
    run.stats = Stats {
        steps: a.steps + b.steps,
        rejected: a.rejected + b.rejected,
        rhs_evaluations: a.rhs_evaluations + b.rhs_evaluations,
        jacobians: a.jacobians + b.jacobians,
        transitions: a.transitions + b.transitions,
    };
}
