//! The bare pipe: a valve at its end shuts, by flow or by area.

use crate::numerics::Failure;
use crate::parts::Fluid;
use crate::rig::{End, Line, LineFriction, Waves};

/// What falls in a straight line as the valve shuts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Closing {
    /// The flow.
    Flow,
    /// The open area; it discharges to the atmosphere.
    Area,
}

/// A closing of the valve at a pipe's end.
#[derive(Debug, Clone)]
pub struct PipeCase {
    /// The pipe and its main.
    pub line: Line,
    /// Cells.
    pub cells: usize,
    /// Friction.
    pub friction: LineFriction,
    /// Velocity before, m/s.
    pub velocity: f64,
    /// What falls in a straight line.
    pub closing: Closing,
    /// In which time, s; 0: at once.
    pub closing_time: f64,
    /// How long to look, s.
    pub end_time: f64,
}

/// A run of the bare pipe.
#[derive(Debug, Clone)]
pub struct PipeRun {
    /// The pipe at the end, with its extremes and cavities.
    pub waves: Waves,
    /// Pressure at the nodes at the start, Pa absolute.
    pub start: Vec<f64>,
    /// Pressure at the valve at every step, Pa absolute; the first before it moves.
    pub at_valve: Vec<f64>,
    /// Step of the highest pressure anywhere, and that pressure, Pa absolute.
    pub peak: (usize, f64),
    /// Pressure at the valve before it moved, Pa absolute, and the friction along the pipe then, Pa.
    pub before: (f64, f64),
    /// Whether the peak came before any cavity had closed.
    pub converged: bool,
    /// Largest difference of inflow against stored and cavities over the run, kg.
    pub closure_kg: f64,
}

/// Most steps of a run: hours on a line of any length, and what is kept of them has room in memory.
const MOST_STEPS: f64 = 1e8;

/// Runs a closing.
///
/// # Errors
/// [`Failure::Meaningless`] for an end that is none, or more than 100 million steps of the line away.
pub fn pipe(case: &PipeCase, fluid: &Fluid) -> Result<PipeRun, Failure> {
    let w0 = case.velocity * fluid.density * case.line.area();
    let mut waves = Waves::steady(&case.line, fluid, case.cells, &case.friction, w0);
    let n = waves.cells;
    let at_start = waves.pressure.clone();
    let at_end = waves.pressure.get(n).copied().unwrap_or(f64::NAN);
    let first = waves.pressure.first().copied().unwrap_or(f64::NAN);
    let open = w0 / (at_end - fluid.ambient).max(f64::MIN_POSITIVE).sqrt();
    let steps = (case.end_time / waves.dt).round();
    if !(case.end_time >= 0.0 && steps <= MOST_STEPS) {
        let rule = "a number of seconds from 0 to 100 million steps of the line";
        return Err(Failure::Meaningless { what: "the end", value: case.end_time, rule });
    }
    let steps = steps.max(1.0) as usize;
    let mut at_valve = Vec::with_capacity(steps + 1);
    at_valve.push(at_end);
    let mut peak = (0, at_end);
    let (start, mut closure_kg) = (waves.stored(), 0.0_f64);
    for k in 1..=steps {
        let t = k as f64 * waves.dt;
        let left = match case.closing_time > 0.0 {
            true => (1.0 - t / case.closing_time).max(0.0),
            false => 0.0,
        };
        waves.step(match case.closing {
            Closing::Flow => End::Flow(w0 * left),
            Closing::Area => End::Opening { coefficient: open * left, downstream: fluid.ambient },
        });
        let p = waves.pressure.get(n).copied().unwrap_or(f64::NAN);
        at_valve.push(p);
        let highest = waves.pressure.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        if highest > peak.1 {
            peak = (k, highest);
        }
        closure_kg = closure_kg.max((waves.stored() - start - waves.passed[0] + waves.passed[1]).abs());
    }
    let converged = waves.separation.collapse.is_none_or(|t| peak.0 as f64 * waves.dt <= t);
    let friction = first - at_end + fluid.density * crate::laws::constants::STANDARD_GRAVITY * case.line.elevation;
    Ok(PipeRun { start: at_start, waves, at_valve, peak, before: (at_end, friction), converged, closure_kg })
}
