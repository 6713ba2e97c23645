//! A line that carries waves and the assembly at its end, each by its own equations.
//!
//! What arrives at the end of the line over the next stretch of time is on its way already, however the assembly behaves;
//! only friction on the way depends on that a little. So a stretch goes in three strokes: the line forecasts what arrives,
//! the rig is integrated against `P = C(t) - B w` by its own solver, and the line takes the flows that came out of that.
//! If what then arrives differs from the forecast by more than [`AGREES`], the stretch is done again with it.
//!
//! The line counts its outflow by the trapezoid rule, the rig exactly; the difference (some 1e-8 kg where a front passes)
//! is given back to the line over the next steps, so that no water is lost at the seam.

use super::recorder::{Recorder, SurgePoint};
use crate::numerics::{Failure, Options, Solution, solve};
use crate::parts::Zone;
use crate::rig::{Balance, End, Feed, Layout, Line, LineFriction, Mode, Part, Rig, Separation, WaveEnd, Waves, What};

/// Agreement of forecast and arrival, Pa, at which a stretch is done.
pub const AGREES: f64 = 300.0;
/// Most repetitions of a stretch.
const MOST: usize = 4;
/// Cells of a stretch at most, and as a share of the line.
const STRETCH: (usize, usize) = (50, 4);
/// The end piece between line and shutoff 1, m, and at most as a share of the line: it has its compliance, no inertia, and
/// room for a cavity. It holds the rig's pressure there as a state.
const END_PIECE: (f64, f64) = (0.2, 0.02);
/// Steps of the line over which it is given back what its trapezoid rule missed.
const GIVEN_BACK: f64 = 8.0;

/// A run of line and assembly.
#[derive(Debug, Clone)]
pub struct CoupledRun {
    /// The line at the end, with its extremes and cavities.
    pub waves: Waves,
    /// The rig.
    pub rig: Rig,
    /// The run, sampled.
    pub points: Vec<SurgePoint>,
    /// Pressure at the line's nodes at the start, Pa absolute.
    pub before: Vec<f64>,
    /// Events: time, part, what, speed of the part just before, m/s.
    pub events: Vec<(f64, Part, What, f64)>,
    /// Cavities of the line and at its end.
    pub separation: Separation,
    /// Highest pressure in the line, Pa absolute, and when.
    pub line_peak: (f64, f64),
    /// Lowest pressure in the line, Pa absolute.
    pub line_trough: f64,
    /// Whether the relief opened, and what it let out, m3.
    pub relieved_m3: f64,
    /// Water out of the air inlet, m3.
    pub spill_m3: f64,
    /// Whether a part chattered without end, which stopped the run.
    pub chatter: bool,
    /// Balance of water and air, line included.
    pub balance: Balance,
    /// Water that the assembly has from the line and the line has yet to be charged with, kg (counted in the balance).
    pub seam_kg: f64,
    /// Solver steps.
    pub steps: usize,
    /// Stretches done again.
    pub repeated: usize,
}

/// The end of `line` in `cells` cells, met at `pressure` Pa absolute.
fn wave_end(line: &Line, length: f64, rig: &Rig, waves: &Waves) -> WaveEnd {
    let piece = Line { cells: 1, length, ..line.clone() };
    WaveEnd {
        t0: 0.0,
        dt: waves.dt,
        incoming: Vec::new(),
        impedance: waves.impedance,
        cell: Zone { volume: piece.area() * piece.length, compliance: piece.walls(&rig.fluid) },
        static_gauge: line.static_pressure(&rig.fluid, 0.0),
    }
}

/// Where a run begins.
pub struct Beginning {
    /// The rig, its feed still the line.
    pub rig: Rig,
    /// Flow in the line, kg/s.
    pub flow: f64,
    /// Pressure at the line's end, Pa absolute; `None`: that of the steady flow.
    pub pressure: Option<f64>,
    /// Mode and state of everything behind the line; `None`: the rig's own start.
    pub state: Option<(Mode, Vec<f64>)>,
}

/// Runs line and assembly for `time` s.
///
/// # Errors
/// [`Failure::NoLine`] for a rig that no line feeds, [`Failure::Meaningless`] for a time that is none, another [`Failure`]
/// with the time reached when the run cannot go on.
pub fn coupled(
    beginning: Beginning,
    cells: usize,
    friction: &LineFriction,
    time: f64,
    options: &Options,
) -> Result<CoupledRun, Failure> {
    let Beginning { mut rig, flow, pressure, state } = beginning;
    let Feed::Line(line) = rig.feed.clone() else {
        return Err(Failure::NoLine);
    };
    if !(time >= 0.0 && time.is_finite()) {
        return Err(Failure::Meaningless { what: "the end", value: time, rule: "a number of seconds, 0 or more" });
    }
    let behind = {
        let layout = Layout::of(&rig);
        layout.water(1)
    };
    let piece = END_PIECE.0.min(END_PIECE.1 * line.length);
    let moving = Line { length: line.length - piece, ..line.clone() };
    let mut waves = Waves::steady(&moving, &rig.fluid, cells, friction, flow);
    let stretch = (cells / STRETCH.1).clamp(1, STRETCH.0);
    let mut end = wave_end(&line, piece, &rig, &waves);
    end.incoming = waves.forecast(1);
    // At rest in the steady flow the piece stands at the pressure of the line's end.
    let at_end = pressure.or(waves.pressure.last().copied()).unwrap_or(f64::NAN);
    end.incoming.fill(at_end);
    rig.feed = Feed::Wave(end.clone());
    let (mut mode, mut y) = rig.start();
    if let Some((m, from)) = state {
        mode = m;
        let own = Layout::of(&rig);
        let (target, source) = (own.water(1), behind);
        let n = own.dim() - target;
        for (to, value) in y.iter_mut().skip(target).take(n).zip(from.iter().skip(source)) {
            *to = *value;
        }
    }
    let layout = Layout::of(&rig);
    let y_start = y.clone();
    let stored_line = waves.stored();
    let empty = rig.fluid.density * moving.area() * moving.length;
    let steps = (time / waves.dt).round().max(1.0) as usize;
    let mut run = Recorder::new(layout, &waves);
    run.point(&rig, &mode, 0.0, &y);
    let mut options = Options { keep_steps: true, ..*options };
    let mut reach = stretch;
    while waves.done < steps && !run.chatter {
        let mut k = reach.min(steps - waves.done);
        let (t0, from) = (waves.time(), waves.clone());
        let mut incoming = waves.forecast(k);
        let mut tries = 0;
        let solution = loop {
            end.t0 = t0;
            end.incoming.clone_from(&incoming);
            rig.feed = Feed::Wave(end.clone());
            let solution = solve(&rig, mode, y.clone(), t0, t0 + k as f64 * waves.dt, &options)?;
            let actual = take(&rig, &layout, &solution, &mut waves, &incoming);
            let worst = actual.iter().zip(&incoming).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
            tries += 1;
            if !(worst > AGREES) || (tries == MOST && k == 1) {
                break solution;
            }
            run.repeated += 1;
            waves = from.clone();
            incoming = actual;
            // A cavity near the end answers within the stretch: a shorter one is over before it does.
            if tries == MOST {
                (k, tries) = (k.div_ceil(2), 0);
                reach = k;
                incoming = waves.forecast(k);
            }
        };
        if tries <= 2 {
            reach = (2 * reach).min(stretch);
        }
        run.stretch(&rig, &solution, &waves);
        options.first_step = solution.steps.last().map_or(1e-6, |s| (0.5 * s.h).min(waves.dt));
        (mode, y) = (solution.mode_end, solution.y_end);
    }
    Ok(run.finish(rig, waves, &y_start, &y, stored_line, empty))
}

/// Lets the line take the flows of a solved stretch; returns what arrived.
fn take(rig: &Rig, layout: &Layout, solution: &Solution<Mode>, waves: &mut Waves, incoming: &[f64]) -> Vec<f64> {
    let mut y = solution.y_end.clone();
    let mut actual = incoming.to_vec();
    let start = waves.done;
    let net = |y: &[f64]| {
        let ledger = rig.ledger_of(y);
        ledger.supply_in - ledger.supply_back
    };
    solution.at(waves.time(), &mut y);
    let mut before = net(&y);
    for k in 1..incoming.len() {
        let t = (start + k) as f64 * waves.dt;
        solution.at(t, &mut y);
        let pressure = rig.pressures(layout, t, &y).line;
        let Some(slot) = actual.get_mut(k) else { continue };
        // What the trapezoid rule missed before, kg, is made up for over the next steps.
        let missed = before - waves.passed[1];
        let held = pressure - waves.impedance * missed / (GIVEN_BACK * waves.dt);
        *slot = waves.step(End::Held(held.max(rig.fluid.vapour_pressure)));
        before = net(&y);
    }
    actual
}
