//! From settings to the scenes of a surge.

use super::coupled::{Beginning, CoupledRun, coupled};
use super::pipe::{Closing, PipeCase, PipeRun, pipe};
use crate::assembly::{Settings, conflict};
use crate::bench::service::{Before, Begins, put_under_pressure};
use crate::error::Error;
use crate::numerics::Options;
use crate::parts::Opening;
use crate::rig::{Feed, Layout, Line, LineFriction, Part, Rig, Tap, What};
use serde::Serialize;

/// Longest time step of the line against the parts' motion, s.
pub const COARSEST: f64 = 2e-3;

/// What is done.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum SurgeScene {
    /// Shutoff 1 is thrown open.
    Fill,
    /// A valve beyond the assembly slams.
    DownstreamValve,
    /// The bare pipe with a valve at its end.
    Pipe,
}

/// A surge and what it comes to. Pressures absolute.
#[derive(Debug, Clone)]
pub struct Surge {
    /// Which.
    pub scene: SurgeScene,
    /// Friction of the line.
    pub friction: LineFriction,
    /// Line and assembly, unless the pipe was bare.
    pub coupled: Option<CoupledRun>,
    /// The bare pipe.
    pub bare: Option<(PipeCase, PipeRun)>,
    /// Pressure of the atmosphere, Pa absolute.
    pub ambient: f64,
    /// Vapour pressure of the water, Pa absolute.
    pub vapour_pressure: f64,
    /// Density of the water, kg/m3.
    pub density: f64,
    /// Whether the flow was steady on which a valve slammed.
    pub before: Before,
    /// Whether the peaks came before any cavity closed (after that they depend on the number of cells).
    pub converged: bool,
}

/// Speed, m/s, with which a part strikes its seat hardest; `None` if it never shuts.
pub fn slam(run: &CoupledRun, part: Part) -> Option<f64> {
    run.events
        .iter()
        .filter(|e| e.1 == part && e.2 == What::Closed)
        .map(|e| e.3.abs())
        .fold(None, |m: Option<f64>, v| Some(m.map_or(v, |m| m.max(v))))
}

/// Zone 2 at the end above what supply less check load would give, Pa.
pub fn trapped_excess(run: &CoupledRun) -> f64 {
    let supply = match &run.rig.feed {
        Feed::Wave(end) => end.static_gauge,
        _ => f64::NAN,
    };
    run.points.last().map_or(f64::NAN, |p| p.zone2_pa_gauge) - (supply - run.rig.statics().check_settles_pa)
}

fn line_of(s: &Settings, rig: &Rig) -> Result<Line, Error> {
    match &rig.feed {
        Feed::Line(line) => Ok(line.clone()),
        _ => Err(conflict(
            s,
            "surge-needs-a-line",
            &["supply.line_length", "supply.trace_at"],
            "a pressure recorded at shutoff 1 leaves no line to carry waves; record it at the main".to_owned(),
        )),
    }
}

fn friction(s: &Settings) -> Result<LineFriction, Error> {
    Ok(s.optional_number("surge.friction_factor")?.map_or(LineFriction::Roughness, LineFriction::Constant))
}

/// Cells, fine enough for parts that move within milliseconds.
fn cells(s: &Settings, line: &Line, act: &str) -> Result<usize, Error> {
    let cells = s.number("surge.cells")? as usize;
    let dt = line.length / line.wave_speed / cells as f64;
    let time = s.number(act)?;
    let longest = if time > 0.0 { COARSEST.min(0.25 * time) } else { COARSEST };
    if !(dt <= longest) {
        let wanted = (line.length / line.wave_speed / longest).ceil();
        let rule = format!(
            "too coarse: the line's time step (length over wave speed and cells) is {:.3} ms and must be at most {:.3} ms, the \
             smaller of 2 ms and a quarter of {act}: at least {wanted:.0} cells",
            1e3 * dt,
            1e3 * longest
        );
        return Err(conflict(s, "fine-enough", &["supply.line_length", act, "surge.cells"], rule));
    }
    Ok(cells)
}

/// Runs the surge that the settings name.
///
/// # Errors
/// [`Error`] for input that does not go together and for a run that cannot go on.
pub fn surge(s: &Settings, options: &Options) -> Result<Surge, Error> {
    let mut rig = Rig::from_settings(s)?;
    let line = line_of(s, &rig)?;
    let friction = friction(s)?;
    let time = s.number("surge.end_time")?;
    rig.stop_at_rest = false;
    let scene = s.choice("surge.scene")?;
    if scene != "pipe" && s.get("surge.velocity").is_some_and(|v| v.at.is_user()) {
        let rule = "a velocity is given to the bare pipe (surge.scene = pipe); with an assembly the flow is what supply, \
                    assembly and the open area of the load side (load_side.outlet_area) make it";
        return Err(conflict(s, "velocity-of-the-pipe", &["surge.scene", "surge.velocity"], rule.to_owned()));
    }
    match scene {
        "pipe" => bare(s, &rig, line, friction, time),
        "downstream-valve" => downstream(s, rig, line, friction, time, options),
        _ => {
            let cells = cells(s, &line, "surge.opening_time")?;
            rig.shutoff1.opening = Opening::turn(0.0, 1.0, 0.0, s.number("surge.opening_time")?);
            let run =
                coupled(Beginning { rig, flow: 0.0, pressure: None, state: None }, cells, &friction, time, options)?;
            Ok(finished(SurgeScene::Fill, friction, run))
        }
    }
}

fn finished(scene: SurgeScene, friction: LineFriction, run: CoupledRun) -> Surge {
    let highest = |get: fn(&super::SurgePoint) -> f64| {
        run.points.iter().fold((f64::NEG_INFINITY, 0.0), |m, p| if get(p) > m.0 { (get(p), p.t_s) } else { m }).1
    };
    let last = run.line_peak.1.max(highest(|p| p.zone1_pa_gauge)).max(highest(|p| p.zone2_pa_gauge));
    let converged = run.separation.collapse.is_none_or(|t| last <= t) && !run.chatter;
    let fluid = run.rig.fluid;
    Surge {
        scene,
        friction,
        coupled: Some(run),
        bare: None,
        ambient: fluid.ambient,
        vapour_pressure: fluid.vapour_pressure,
        density: fluid.density,
        before: Before::Steady,
        converged,
    }
}

fn bare(s: &Settings, rig: &Rig, line: Line, friction: LineFriction, time: f64) -> Result<Surge, Error> {
    let case = PipeCase {
        cells: s.number("surge.cells")? as usize,
        friction: friction.clone(),
        velocity: s.number("surge.velocity")?,
        closing: if s.choice("surge.closing")? == "flow" { Closing::Flow } else { Closing::Area },
        closing_time: s.number("surge.closing_time")?,
        end_time: time,
        line,
    };
    let dt = case.line.length / case.line.wave_speed / case.cells as f64;
    if !(time >= dt) {
        let rule =
            "the end must lie at least one time step of the line (length over wave speed and cells) away".to_owned();
        return Err(conflict(s, "end-after-step", &["surge.cells", "surge.end_time"], rule));
    }
    let fluid = &rig.fluid;
    let run = pipe(&case, fluid)?;
    let (before, _) = run.before;
    if !(before > fluid.vapour_pressure && (case.closing == Closing::Flow || before > fluid.ambient)) {
        let rule = "the supply cannot drive this velocity: friction eats its pressure before the pipe's end".to_owned();
        return Err(conflict(s, "flow-possible", &["supply.pressure", "supply.line_length", "surge.velocity"], rule));
    }
    let converged = run.converged;
    Ok(Surge {
        scene: SurgeScene::Pipe,
        friction,
        coupled: None,
        bare: Some((case, run)),
        ambient: fluid.ambient,
        vapour_pressure: fluid.vapour_pressure,
        density: fluid.density,
        before: Before::Steady,
        converged,
    })
}

/// A valve on the load side slams on a flow that has become steady.
fn downstream(
    s: &Settings,
    mut rig: Rig,
    line: Line,
    friction: LineFriction,
    time: f64,
    options: &Options,
) -> Result<Surge, Error> {
    let area = s.number("load_side.outlet_area")?;
    let open = s.number("shutoff2.open")?;
    if !(area > 0.0 && open > 0.0) {
        let rule = "a downstream valve slams on a flow: shutoff 2 and an outlet (load_side.outlet_area) must be open";
        return Err(conflict(s, "flow-to-stop", &["shutoff2.open", "load_side.outlet_area"], rule.to_owned()));
    }
    if s.choice("surge.closing")? == "flow" && s.get("surge.closing").is_some_and(|v| v.at.is_user()) {
        let rule =
            "beside an assembly the valve shuts by area; by flow is for the bare pipe (surge.scene = pipe)".to_owned();
        return Err(conflict(s, "closing-by-area", &["surge.scene", "surge.closing"], rule));
    }
    let cells = cells(s, &line, "surge.closing_time")?;
    let closing = s.number("surge.closing_time")?.max(1e-5);
    rig.outlet = (0.0, 0.0);
    let valve = rig.taps.len();
    rig.taps.push(Tap { zone: 3, area, opening: Opening::fixed(1.0) });
    // The flow before: the same rig in use on a line of one cell.
    let mut steady = rig.clone();
    steady.shutoff1.opening = Opening::fixed(1.0);
    steady.feed = Feed::Line(one_cell(&line, &rig));
    put_under_pressure(s, &mut steady, line.static_pressure(&rig.fluid, 0.0))?;
    let (mode, y, before) = steady.begun(Begins::InUse, options)?;
    let layout = Layout::of(&steady);
    let flow = y.get(layout.line_flow(0)).copied().unwrap_or(f64::NAN);
    rig.feed = steady.feed.clone();
    if let Feed::Line(own) = &mut rig.feed {
        own.cells = 1;
    }
    rig.shutoff1.opening = Opening::fixed(1.0);
    if let Some(tap) = rig.taps.get_mut(valve) {
        tap.opening = Opening::turn(1.0, 0.0, 0.0, closing);
    }
    let pressure = Some(steady.pressures(&layout, 0.0, &y).line);
    let state = Some((mode, y));
    let run = coupled(Beginning { rig, flow, pressure, state }, cells, &friction, time, options)?;
    Ok(Surge { before, ..finished(SurgeScene::DownstreamValve, friction, run) })
}

fn one_cell(line: &Line, rig: &Rig) -> Line {
    let mut one = Line { cells: 1, ..line.clone() };
    one.wall_compliance = one.walls(&rig.fluid);
    one
}
