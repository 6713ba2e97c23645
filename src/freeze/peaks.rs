//! Highest pressures of a night and nothing else: for grids of many nights that differ in their relief.

use super::body::{Body, ZoneStart};
use super::modes::{Happening, Mode};
use super::night::solved;
use super::{LEDGER, MOST_ZONES};
use crate::numerics::{Failure, Solution};

/// Highest pressure of each zone through a night, Pa gauge.
///
/// # Errors
/// As [`super::night()`].
pub fn peaks(body: &Body, starts: &[ZoneStart], duration: f64, tolerance: f64) -> Result<Vec<f64>, Failure> {
    let (mode, y, _) = body.start(starts);
    let solution = solved(body, mode, y, [0.0, duration], tolerance)?;
    Ok(highest(body, &solution, solution.steps.len()))
}

/// A night up to shortly before its first ice: what all nights have in common whose relief does not open before then.
#[derive(Debug, Clone)]
pub struct BeforeIce {
    time: f64,
    mode: Mode,
    y: Vec<f64>,
    /// Where the zones' states are searched from: temperature, K, and pressure, Pa absolute.
    near: [[f64; 2]; MOST_ZONES],
    /// Highest pressure of each zone so far, Pa gauge.
    pub highest: Vec<f64>,
}

/// The night up to its first ice, without a relief.
///
/// # Errors
/// As [`super::night()`].
pub fn before_ice(body: &Body, starts: &[ZoneStart], duration: f64, tolerance: f64) -> Result<BeforeIce, Failure> {
    let body = Body { relief: None, ..body.clone() };
    let (mut mode, mut y, _) = body.start(starts);
    let solution = solved(&body, mode, y.clone(), [0.0, duration], tolerance)?;
    let ice = solution.fired.iter().find(|f| matches!(Happening::of(f.label), Some((Happening::IceAppears, _))));
    let until = ice.map_or(f64::INFINITY, |f| f.t);
    let kept = solution.steps.partition_point(|s| s.t1 < until);
    let mut time = 0.0;
    if let Some((step, m)) = solution.steps.iter().zip(&solution.step_mode).take(kept).next_back() {
        step.at(step.t1, &mut y);
        (time, mode) = (step.t1, solution.modes.get(*m).copied().unwrap_or(mode));
    }
    let near = body.points(&mode, &y).map(|p| p.map_or([273.0, body.ambient], |p| [p.t, p.p]));
    Ok(BeforeIce { time, mode, y, near, highest: highest(&body, &solution, kept) })
}

/// As [`peaks`], from there on; the relief's set must lie above what [`BeforeIce::highest`] says.
///
/// # Errors
/// As [`super::night()`].
pub fn peaks_after(body: &Body, before: &BeforeIce, duration: f64, tolerance: f64) -> Result<Vec<f64>, Failure> {
    if before.time >= duration {
        return Ok(before.highest.clone());
    }
    let shut = Mode::new(body);
    let mode = Mode { relief: shut.relief, opens_at: shut.opens_at, ..before.mode };
    body.near.iter().zip(before.near).for_each(|(cell, at)| cell.set(at));
    let solution = solved(body, mode, before.y.clone(), [before.time, duration], tolerance)?;
    let after = highest(body, &solution, solution.steps.len());
    Ok(after.iter().zip(&before.highest).map(|(a, b)| a.max(*b)).collect())
}

/// Highest pressures at the ends of that many steps, Pa gauge.
fn highest(body: &Body, solution: &Solution<Mode>, steps: usize) -> Vec<f64> {
    let mut highest = vec![f64::NEG_INFINITY; body.zones.len()];
    let mut y = vec![0.0; 3 * body.zones.len() + LEDGER];
    for (step, mode) in solution.steps.iter().zip(&solution.step_mode).take(steps) {
        let Some(mode) = solution.modes.get(*mode) else { continue };
        step.at(step.t1, &mut y);
        for (best, point) in highest.iter_mut().zip(body.points(mode, &y).iter().flatten()) {
            *best = best.max(point.p - body.ambient);
        }
    }
    highest
}
