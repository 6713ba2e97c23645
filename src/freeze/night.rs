//! One night: the equations solved, and what is seen afterwards.

use super::LEDGER;
use super::balance::{Balance, Volumes};
use super::body::{Body, DROP, Lifts, ZoneStart};
use super::lifts::Lifter;
use super::modes::{Beyond, Happening, Mode};
use super::wall::Stretch;
use super::zone::Point;
use crate::numerics::{Failure, Options, Reason, Solution, Stats, solve};

/// One zone at one moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ZoneSample {
    /// Temperature, K.
    pub t: f64,
    /// Pressure, Pa absolute.
    pub p: f64,
    /// Water and ice, kg.
    pub mass: f64,
    /// Ice, kg.
    pub ice: f64,
    /// Lasting growth of the wall, m³; of an open zone, what it has overflowed by.
    pub lasting: f64,
    /// Specific volume of liquid and ice, m³/kg (0 where there is none), and their slopes by temperature, m³/(kg K).
    pub v: [[f64; 2]; 2],
    /// Whether it is open to the atmosphere.
    pub open: bool,
}

impl ZoneSample {
    /// Ice as a share of water and ice.
    pub fn ice_share(&self) -> f64 {
        share(self.ice, self.mass)
    }
}

/// At most all: freezing through is found a hair after the last of the water has gone. A dry zone has none.
fn share(ice: f64, mass: f64) -> f64 {
    if mass < DROP { 0.0 } else { (ice / mass).min(1.0) }
}

/// The body at one moment.
#[derive(Debug, Clone, PartialEq)]
pub struct NightSample {
    /// Time, s.
    pub time: f64,
    /// Zones.
    pub zones: Vec<ZoneSample>,
    /// Air, K.
    pub air: f64,
    /// Heat given off so far, J.
    pub heat_out: f64,
    /// Water out of the relief so far, kg and m³, and its enthalpy, J.
    pub relieved: [f64; 3],
}

/// Something that happened.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NightEvent {
    /// Time, s.
    pub time: f64,
    /// What.
    pub what: Happening,
    /// Zone (index).
    pub zone: usize,
    /// Pressure in that zone at that moment, Pa gauge.
    pub gauge: f64,
    /// Temperature there, K.
    pub t: f64,
    /// Ice there, as a share of its mass.
    pub ice_share: f64,
}

/// A night as it went.
#[derive(Debug, Clone)]
pub struct Night {
    /// Samples, rising in time; two at a moment where something jumps.
    pub samples: Vec<NightSample>,
    /// Events in order.
    pub events: Vec<NightEvent>,
    /// Where it ended: states and mode, to go on from.
    pub end: (Mode, Vec<f64>),
    /// Mass, volume and energy.
    pub balance: Balance,
    /// Lifts of the relief.
    pub lifts: f64,
    /// Times of the lifts, s (of at most the first 10,000).
    pub lift_times: Vec<f64>,
    /// Work of the solver.
    pub stats: Stats,
}

/// Tolerance of a night: local error of a step in units of a kelvin (energy) and a thousandth of the water (mass).
pub const TOLERANCE: f64 = 1e-5;

/// Share of a peak within which a pressure counts as being there: on a plateau the highest is a matter of rounding.
pub const SAME: f64 = 1e-4;

/// Options of a night's run. Where each lift is followed there may be thousands of them; any other night has a few dozen
/// changes, and one that has hundreds gets nowhere.
fn options(body: &Body, tolerance: f64) -> Options {
    let max_transitions = if body.lifts == Lifts::Resolved { 40_000 } else { 1_000 };
    Options { tolerance, max_transitions, max_steps: 4_000_000, ..Options::default() }
}

/// Runs a body through `duration` s from liquid zones.
///
/// # Errors
/// [`Failure`] if the run cannot go on; [`Failure::LeftRange`] where liquid and ice Ih have no equilibrium any more.
pub fn night(body: &Body, starts: &[ZoneStart], duration: f64, tolerance: f64) -> Result<Night, Failure> {
    let (mode, y, _) = body.start(starts);
    from_state(body, mode, y, duration, tolerance)
}

/// As [`night`], from any state and mode.
///
/// # Errors
/// As [`night`].
pub fn from_state(body: &Body, mode: Mode, y: Vec<f64>, duration: f64, tolerance: f64) -> Result<Night, Failure> {
    Ok(seen(body, &solved(body, mode, y, [0.0, duration], tolerance)?))
}

/// As [`night`], but where liquid and ice Ih have no equilibrium any more the night just ends, with
/// [`Happening::LeavesRange`].
///
/// # Errors
/// [`Failure`] if the run cannot go on.
pub fn as_far_as_it_goes(body: &Body, starts: &[ZoneStart], duration: f64, tolerance: f64) -> Result<Night, Failure> {
    let (mode, y, _) = body.start(starts);
    Ok(seen(body, &settled(body, mode, y, [0.0, duration], tolerance)?))
}

/// The night to its end, or why it has none.
pub(super) fn solved(
    body: &Body,
    mode: Mode,
    y: Vec<f64>,
    span: [f64; 2],
    tolerance: f64,
) -> Result<Solution<Mode>, Failure> {
    let solution = settled(body, mode, y, span, tolerance)?;
    match solution.mode_end.beyond {
        Some((zone, beyond)) => Err(Failure::LeftRange { t_s: solution.t_end, what: beyond_words(body, zone, beyond) }),
        None => Ok(solution),
    }
}

/// The night to its end, or to where it leaves the range.
fn settled(
    body: &Body,
    mode: Mode,
    y: Vec<f64>,
    [from, to]: [f64; 2],
    tolerance: f64,
) -> Result<Solution<Mode>, Failure> {
    let solution = solve(body, mode, y, from, to, &options(body, tolerance))?;
    match solution.reason {
        Reason::Chatter => Err(Failure::LeftRange { t_s: solution.t_end, what: flutter_words(body, &solution) }),
        _ => Ok(solution),
    }
}

/// What came and went without end: what the last change was a part of.
fn flutter_words(body: &Body, solution: &Solution<Mode>) -> String {
    let last = solution.fired.iter().rev().find_map(|f| Happening::of(f.label));
    let name = last.and_then(|(_, zone)| body.zones.get(zone)).map_or("a zone", |z| z.name.as_str());
    match last.map(|(what, _)| what) {
        Some(Happening::ReliefOpens | Happening::ReliefCloses) => "the relief opens and shuts without end".to_owned(),
        Some(Happening::CheckOpens | Happening::CheckCloses) => {
            "ice blocks the check and sets it free without end".to_owned()
        }
        Some(Happening::Yields | Happening::YieldsThrough | Happening::YieldEnds) => {
            format!("the wall of {name} yields and stops without end")
        }
        _ => format!("the water of {name} freezes and melts without end"),
    }
}

fn beyond_words(body: &Body, zone: usize, beyond: Beyond) -> String {
    let name = body.zones.get(zone).map_or("a zone", |z| z.name.as_str());
    match beyond {
        Beyond::TooCold => format!(
            "{name}: liquid colder than -21.985 degC, where the melting curve of ice Ih ends (a wall that never yields?)"
        ),
        Beyond::TooHigh => format!(
            "{name}: pressure beyond 208.566 MPa, where the melting curve of ice Ih ends and the denser ice III takes over: \
             the most that freezing makes (a wall that never yields?)"
        ),
    }
}

/// The sample at a state.
fn sample(body: &Body, mode: &Mode, time: f64, y: &[f64]) -> NightSample {
    let points = body.points(mode, y);
    let n = body.zones.len();
    let ledger = |k: usize| y.get(3 * n + k).copied().unwrap_or(f64::NAN);
    let zone = |(i, p): (usize, &Point)| ZoneSample {
        t: p.t,
        p: p.p,
        mass: p.mass,
        ice: p.ice,
        lasting: p.lasting,
        v: [[p.liquid.v, p.v_t[0]], [p.solid.v, p.v_t[1]]],
        open: mode.zones.get(i).is_some_and(|z| super::equations::is_open(z.stretch)),
    };
    NightSample {
        time,
        zones: points.iter().take(n).flatten().enumerate().map(zone).collect(),
        air: body.weather.at(time).0,
        heat_out: ledger(0),
        relieved: [ledger(1), ledger(3), ledger(2)],
    }
}

/// Places inside a step at which it is sampled besides its ends.
const INSIDE: [f64; 1] = [0.5];

fn seen(body: &Body, solution: &Solution<Mode>) -> Night {
    let n = body.zones.len();
    let mut samples = Vec::with_capacity(4 * solution.steps.len() + 2);
    let mut y = vec![0.0; 3 * n + LEDGER];
    let mut lifts = Lifter::default();
    for (k, step) in solution.steps.iter().enumerate() {
        let Some(mode) = solution.step_mode.get(k).and_then(|m| solution.modes.get(*m)) else { continue };
        let span = step.t1 - step.t0;
        let fresh = k == 0 || solution.step_mode.get(k) != solution.step_mode.get(k - 1);
        // The state a transition leaves can jump against the one it found.
        for at in fresh.then_some(0.0).into_iter().chain(INSIDE).chain([1.0]) {
            step.at(step.t0 + at * span, &mut y);
            let now = sample(body, mode, step.t0 + at * span, &y);
            lifts.pass(body, mode, &y, &now);
            samples.push(now);
        }
    }
    samples.push(sample(body, &solution.mode_end, solution.t_end, &solution.y_end));
    let mut events: Vec<NightEvent> = Vec::new();
    for fired in &solution.fired {
        let Some((what, zone)) = Happening::of(fired.label) else { continue };
        // Held, the first lift counts even if no drop that froze after it is ever broken.
        if what == Happening::ReliefOpens && (body.lifts == Lifts::Resolved || lifts.count == 0.0) {
            lifts.add(fired.t);
        }
        let Some(p) = body.point(&fired.before, &fired.y, zone) else { continue };
        let (gauge, ice_share) = (p.p - body.ambient, share(p.ice, p.mass));
        events.push(NightEvent { time: fired.t, what, zone, gauge, t: p.t, ice_share });
    }
    let volumes = Volumes::of(body, &solution.mode_end, &samples);
    Night {
        balance: Balance::of(body, solution, &samples, volumes),
        samples,
        events,
        end: (solution.mode_end, solution.y_end.clone()),
        lifts: lifts.count,
        lift_times: lifts.times,
        stats: solution.stats,
    }
}

impl Night {
    /// Highest pressure of a zone, Pa gauge, with the time, s, at which it is first as good as reached ([`SAME`]).
    pub fn peak(&self, zone: usize, ambient: f64) -> (f64, f64) {
        let all = || self.samples.iter().filter_map(|s| Some((s.zones.get(zone)?.p - ambient, s.time)));
        let peak = all().map(|(p, _)| p).fold(f64::NEG_INFINITY, f64::max);
        let first = all().find(|(p, _)| *p >= peak - SAME * peak.abs());
        (peak, first.map_or(0.0, |(_, time)| time))
    }

    /// Largest share of ice of a zone.
    pub fn ice_max(&self, zone: usize) -> f64 {
        self.samples.iter().filter_map(|s| s.zones.get(zone)).map(ZoneSample::ice_share).fold(0.0, f64::max)
    }

    /// First event of a kind.
    pub fn first(&self, what: Happening) -> Option<&NightEvent> {
        self.events.iter().find(|e| e.what == what)
    }

    /// Stretch of a zone's wall at the end, as it goes into the next night: elastic, with what lasts.
    pub fn stretch_at_end(&self, body: &Body, zone: usize) -> Stretch {
        let fresh =
            body.zones.get(zone).map_or(Stretch::Elastic { lasting: 0.0, until: f64::INFINITY }, |z| z.wall.fresh());
        let Some(m) = self.end.0.zones.get(zone) else { return fresh };
        match (m.stretch, self.samples.last().and_then(|s| s.zones.get(zone))) {
            (Stretch::Elastic { .. }, _) => m.stretch,
            (Stretch::Held { open: true, .. }, _) | (_, None) => fresh,
            (_, Some(z)) => Stretch::Elastic { lasting: z.lasting, until: z.p - body.ambient },
        }
    }
}
