//! A run played back: everything a picture needs at any instant, and the instants worth a picture.

use super::sequence::{FIRST_VOLUME, Sequence};
use crate::numerics::{Failure, Options, Solution, solve};
use crate::parts::Stand;
use crate::rig::{Layout, Mode, Part, Rig, What};

/// Flow, m3/s, below which nothing is said to flow: 0.06 L/min.
pub const STILL: f64 = 1e-6;

/// One instant of a run in SI units; pressures gauge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Instant {
    /// Time, s after shutoff 1 starts to move.
    pub t_s: f64,
    /// Line, zones 1 to 3, Pa gauge.
    pub gauge: [f64; 4],
    /// Travel of the check, m.
    pub check_travel_m: f64,
    /// Travel of the air inlet, m.
    pub air_inlet_travel_m: f64,
    /// Travel of a stem from its open stop, m; 0 where there is none.
    pub stem_travel_m: f64,
    /// Travel of the relief, m; 0 where there is none.
    pub relief_travel_m: f64,
    /// How far shutoffs 1 and 2 are open, 0 to 1.
    pub shutoffs: [f64; 2],
    /// Share of water in the line's last cell, zones 1 to 3.
    pub liquid: [f64; 4],
    /// Water through shutoff 1, check, shutoff 2 and out under the canopy, m3/s.
    pub water_m3_s: [f64; 4],
    /// Air out of the vent at ambient conditions, m3/s; negative when it comes in.
    pub vent_air_m3_s: f64,
    /// Water that has left under the canopy so far, m3.
    pub spilled_m3: f64,
}

/// A run that can be looked at at any instant.
#[derive(Debug)]
pub struct Playback<'a> {
    rig: &'a Rig,
    layout: Layout,
    start: (Mode, Vec<f64>),
    solution: Solution<Mode>,
}

impl<'a> Playback<'a> {
    /// Runs `rig` from its start, as [`super::sequence`] does.
    ///
    /// # Errors
    /// [`Failure`] with the time reached when the run cannot go on.
    pub fn new(rig: &'a Rig, options: &Options) -> Result<Playback<'a>, Failure> {
        let (mode, y0) = rig.start();
        let solution = solve(rig, mode, y0.clone(), 0.0, rig.end_time, options)?;
        Ok(Playback { rig, layout: Layout::of(rig), start: (mode, y0), solution })
    }

    /// When the run ended, s.
    pub fn end(&self) -> f64 {
        self.solution.t_end
    }

    /// The state at `t` s, at the start or the end if `t` lies outside the run.
    pub fn at(&self, t: f64) -> Instant {
        let t = if t >= 0.0 { t.min(self.end()) } else { 0.0 };
        let mut y = self.start.1.clone();
        let mut mode = self.start.0;
        if t > 0.0 && !self.solution.steps.is_empty() {
            let held = self.solution.at(t, &mut y);
            mode = self.solution.modes.get(held).copied().unwrap_or(mode);
        }
        let rig = self.rig;
        let p = rig.pressures(&self.layout, t, &y);
        let f = rig.flows(&self.layout, &mode, t, &y, &p);
        let torn = rig.side_flows(&self.layout, &mode, t, &y, &p).map_or(0.0, |side| side.tear.water);
        let (pa, rho) = (rig.fluid.ambient, rig.fluid.density);
        let [check, inlet] = rig.travels(&self.layout, &y);
        let lift = rig.inlet.poppet.lift;
        // The interpolant may leave a seat or a stop by the tolerance of the run; the mode knows better.
        let placed = |stand: Stand, x: f64, lift: f64| match stand {
            Stand::Sealed => 0.0,
            Stand::AtStop => lift,
            Stand::Moving => x.clamp(0.0, lift),
        };
        let by_stem = rig.stem.is_some();
        Instant {
            t_s: t,
            gauge: [p.line - pa, p.zone[0] - pa, p.zone[1] - pa, p.zone[2] - pa],
            check_travel_m: if by_stem { check.max(0.0) } else { placed(mode.check, check, rig.check.lift) },
            air_inlet_travel_m: if by_stem { inlet.max(0.0) } else { placed(mode.inlet, inlet, lift) },
            stem_travel_m: if by_stem { (lift - inlet).max(0.0) } else { 0.0 },
            relief_travel_m: self.layout.relief().and_then(|i| y.get(i)).map_or(0.0, |x| x.max(0.0)),
            shutoffs: [rig.shutoff1.opening.at(t), rig.shutoff2.opening.at(t)],
            liquid: p.liquid,
            water_m3_s: [
                f.shutoff1.water / rho,
                f.check.water / rho,
                f.shutoff2.water / rho,
                (f.vent.water + torn) / rho,
            ],
            vent_air_m3_s: f.vent.air / (pa / rig.fluid.air_rt()),
            spilled_m3: rig.spilled(&y).max(0.0),
        }
    }
}

/// An instant worth a picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KeyMoment {
    /// When, s.
    pub t_s: f64,
    /// What it is, for example "most spill".
    pub name: &'static str,
}

/// The instants that tell the story of one or more runs on one clock, in order of time: at rest, first part moves, most
/// spill, closed, flowing. What did not happen is left out.
pub fn key_moments(runs: &[&Sequence]) -> Vec<KeyMoment> {
    let end = runs.iter().map(|r| r.last.t_s).fold(f64::INFINITY, f64::min);
    let mut all = vec![KeyMoment { t_s: 0.0, name: "at rest" }];
    let mut add = |t_s: f64, name: &'static str| {
        if t_s.is_finite() {
            all.push(KeyMoment { t_s: t_s.min(end.max(0.0)), name });
        }
    };
    if !end.is_finite() {
        return all;
    }
    let first = runs.iter().filter_map(|r| first_way(r)).min_by(|a, b| a.0.total_cmp(&b.0));
    if let Some((begins, reaches)) = first {
        // Half-way to whatever happens next it can be seen to move, and nothing else has.
        add(begins + 0.5 * (reaches - begins), "first part moves");
    }
    let samples = || runs.iter().flat_map(|r| &r.samples);
    if let Some(most) = samples().max_by(|a, b| a.spill_m3_s.total_cmp(&b.spill_m3_s))
        && most.spill_m3_s > STILL
        && runs.iter().any(|r| r.spill_m3 + r.rebound_spill_m3 > FIRST_VOLUME)
    {
        add(most.t_s, "most spill");
    }
    let closed =
        |r: &&Sequence| r.events.iter().find(|e| e.part == Part::AirInlet && e.what == What::Closed).map(|e| e.t_s);
    // An instant after the last of them has shut.
    let last = runs.iter().filter_map(closed).fold(f64::NEG_INFINITY, f64::max);
    add(last + 1e-4, if runs.len() > 1 { "all air inlets shut" } else { "air inlet shut" });
    let flows = runs.iter().any(|r| r.samples.last().is_some_and(|s| s.inflow_m3_s > 10.0 * STILL));
    add(end, if flows { "flowing" } else { "settled" });
    all.sort_by(|a, b| a.t_s.total_cmp(&b.t_s));
    // Two names of one instant need one picture.
    all.dedup_by(|b, a| (b.t_s - a.t_s).abs() < 1e-4 * end.max(1e-3));
    all
}

/// When the first part of a run starts to move, and when the next thing happens: any part's event, else the first spill.
fn first_way(run: &Sequence) -> Option<(f64, f64)> {
    let first = run.events.first()?;
    let spill = || run.samples.iter().find(|s| s.spilled_m3 > FIRST_VOLUME).map(|s| s.t_s);
    let next = run.events.get(1).map(|e| e.t_s).or_else(spill);
    Some((first.t_s, next.unwrap_or(run.last.t_s)))
}

/// The stretch of a run in which its parts move: from a little before the first event to a little after the air inlet
/// last shut (or the last event if it never did).
pub fn moving_window(runs: &[&Sequence]) -> (f64, f64) {
    let end = runs.iter().map(|r| r.last.t_s).fold(0.0, f64::max);
    let first = runs.iter().filter_map(|r| r.events.first()).map(|e| e.t_s).fold(end, f64::min);
    let shut = |r: &&&Sequence| {
        let closed = r.events.iter().find(|e| e.part == Part::AirInlet && e.what == What::Closed);
        closed.or(r.events.last()).map(|e| e.t_s)
    };
    let last = runs.iter().filter_map(|r| shut(&r)).fold(first, f64::max);
    let span = (last - first).max(0.02 * end);
    ((first - 0.15 * span).max(0.0), (last + 0.3 * span).min(end))
}
