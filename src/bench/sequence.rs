//! `sequence`: the water is turned on. What moves, in which order and by which forces, what spills, what pressures.

mod events;
mod forces;

use crate::numerics::{Failure, Options, Reason, Solution, Stats, solve};
use crate::parts::Stand;
use crate::rig::{Balance, Feed, Layout, Mode, Part, Rig, Statics, What, label_meaning};
use serde::Serialize;

/// A check that has passed this much water, m3, before the air inlet is first closed counts as first. Lifts of a hundredth of
/// a millimetre follow the air inlet's closing within a millisecond and pass a few thousandths of a millilitre.
pub const FIRST_VOLUME: f64 = 0.1e-6;

/// A leak that is seen to drip, m3/s: a drop (0.05 mL) in ten seconds.
pub const DRIPS: f64 = 0.005e-6;

/// Points per solver step at which a run is sampled for charts, tables and peaks.
const SAMPLES_PER_STEP: usize = 4;

/// Which part moved first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Order {
    /// The check passed more than [`FIRST_VOLUME`] before the air inlet was first closed.
    CheckFirst,
    /// The air inlet was closed before that.
    AirInletFirst,
    /// The check opened and the air inlet never closed.
    AirInletNeverClosed,
    /// The check never opened.
    CheckNeverOpened,
}

/// Why a run ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Stop {
    /// All parts rest.
    Settled,
    /// The end time was reached with a part still in motion, or was asked for.
    EndTime,
    /// The check closed for the first time (asked for by a study).
    CheckClosed,
    /// A part opens and shuts without end.
    Chatter,
}

/// Forces on a part at an event, N, positive in the direction in which it opens. Check and air inlet on one stem are one body:
/// each then has the forces on all of it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Forces {
    /// Of the zone pressures.
    pub pressure: f64,
    /// Of the loading element.
    pub load: f64,
    /// Friction (and adhesion on leaving a seat), against the motion that begins or ends.
    pub friction: f64,
    /// Weight.
    pub weight: f64,
    /// Of the flow.
    pub flow: f64,
}

/// An event.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Event {
    /// When, s after shutoff 1 starts to move.
    pub t_s: f64,
    /// Which part.
    pub part: Part,
    /// What it did.
    pub what: What,
    /// The forces on it.
    pub forces: Forces,
    /// Pressures at that moment, Pa gauge: line, zones 1 to 3.
    pub gauge: [f64; 4],
    /// Travel of the part as a share of its lift, 0 sealed to 1 at its stop.
    pub travel_share: f64,
}

/// One point of a run in plain SI units; pressures gauge.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Sample {
    /// Time.
    pub t_s: f64,
    /// Pressure before shutoff 1.
    pub line_pa_gauge: f64,
    /// Zone 1.
    pub zone1_pa_gauge: f64,
    /// Zone 2.
    pub zone2_pa_gauge: f64,
    /// Load side.
    pub load_side_pa_gauge: f64,
    /// Travel of the check.
    pub check_travel_m: f64,
    /// Travel of the air inlet.
    pub air_inlet_travel_m: f64,
    /// Travel of the relief; 0 where there is none.
    pub relief_travel_m: f64,
    /// Pressure in the pocket between an elastomer's lips; 0 where there is none.
    pub pocket_pa_gauge: f64,
    /// Flow into zone 1.
    pub inflow_m3_s: f64,
    /// Water leaving through the relief.
    pub relief_m3_s: f64,
    /// Water leaving through the air inlet.
    pub spill_m3_s: f64,
    /// Water that has left so far.
    pub spilled_m3: f64,
    /// Water in zone 2.
    pub zone2_water_m3: f64,
}

/// Highest pressures of a run, Pa gauge.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Peak {
    /// Zone 1.
    pub zone1_pa_gauge: f64,
    /// Zone 2.
    pub zone2_pa_gauge: f64,
}

/// A run and what it comes to.
#[derive(Debug, Clone)]
pub struct Sequence {
    /// Order of the parts.
    pub order: Order,
    /// Hand sums.
    pub statics: Statics,
    /// Water out of the air inlet until it first closed (to the end if it never did), m3.
    pub spill_m3: f64,
    /// Water let out by the relief, m3.
    pub relieved_m3: f64,
    /// Water out of the air inlet after that, m3.
    pub rebound_spill_m3: f64,
    /// Whether water still leaves at the end, faster than [`DRIPS`].
    pub spilling_at_end: bool,
    /// How fast, m3/s.
    pub spill_rate_m3_s: f64,
    /// Zone 2 above what supply less check load would give (atmosphere, if that is not enough to lift the check), Pa.
    pub trapped_excess_pa: f64,
    /// Why the run ended.
    pub stop: Stop,
    /// Events in order of time.
    pub events: Vec<Event>,
    /// Highest pressures.
    pub peak: Peak,
    /// State at the end.
    pub last: Sample,
    /// The run, sampled.
    pub samples: Vec<Sample>,
    /// When each part first leaves where it stood at the start, s: check, air inlet.
    pub first_move_s: [Option<f64>; 2],
    /// Where each part stood at the start: check, air inlet.
    pub stands_at_start: [Stand; 2],
    /// Balance of water and air.
    pub balance: Balance,
    /// Work done by the solver.
    pub stats: Stats,
}

/// Turns the water on: runs `rig` from its start.
///
/// # Errors
/// [`Failure`] with the time reached when the run cannot go on.
pub fn sequence(rig: &Rig, options: &Options) -> Result<Sequence, Failure> {
    let (mode, y0) = rig.start();
    let solution = solve(rig, mode, y0.clone(), 0.0, rig.end_time, options)?;
    Ok(Reading { rig, layout: Layout::of(rig), y0, solution }.sequence(mode))
}

/// A finished run with what is needed to read it.
struct Reading<'a> {
    rig: &'a Rig,
    layout: Layout,
    y0: Vec<f64>,
    solution: Solution<Mode>,
}

impl Reading<'_> {
    fn sample(&self, mode: &Mode, t: f64, y: &[f64]) -> Sample {
        let p = self.rig.pressures(&self.layout, t, y);
        let f = self.rig.flows(&self.layout, mode, t, y, &p);
        let side = self.rig.side_flows(&self.layout, mode, t, y, &p);
        let [relieved, torn] = side.map_or([0.0; 2], |side| [side.relief.water, side.tear.water]);
        let pa = self.rig.fluid.ambient;
        let rho = self.rig.fluid.density;
        let [check, inlet] = self.rig.travels(&self.layout, y);
        Sample {
            t_s: t,
            line_pa_gauge: p.line - pa,
            zone1_pa_gauge: p.zone[0] - pa,
            zone2_pa_gauge: p.zone[1] - pa,
            load_side_pa_gauge: p.zone[2] - pa,
            check_travel_m: check.max(0.0),
            air_inlet_travel_m: inlet.max(0.0),
            relief_travel_m: self.layout.relief().map_or(0.0, |i| y[i]),
            relief_m3_s: relieved.max(0.0) / rho,
            pocket_pa_gauge: p.lips[0] - pa,
            inflow_m3_s: f.shutoff1.water / rho,
            spill_m3_s: (f.vent.water + torn).max(0.0) / rho,
            spilled_m3: self.rig.spilled(y).max(0.0),
            zone2_water_m3: y[self.layout.water(2)] / rho,
        }
    }

    fn samples(&self) -> Vec<Sample> {
        let s = &self.solution;
        let mut y = self.y0.clone();
        let mut all = Vec::with_capacity(s.steps.len() * SAMPLES_PER_STEP + 1);
        if let Some(mode) = s.modes.first() {
            all.push(self.sample(mode, 0.0, &self.y0));
        }
        for (step, &m) in s.steps.iter().zip(&s.step_mode) {
            let Some(mode) = s.modes.get(m) else { continue };
            for k in 1..=SAMPLES_PER_STEP {
                let t = step.t0 + (step.t1 - step.t0) * k as f64 / SAMPLES_PER_STEP as f64;
                step.at(t, &mut y);
                all.push(self.sample(mode, t, &y));
            }
        }
        all
    }

    fn sequence(&self, start: Mode) -> Sequence {
        let rig = self.rig;
        let s = &self.solution;
        let fluid = &rig.fluid;
        let samples = self.samples();
        let events = self.events();
        let first_closed = if start.inlet == Stand::Sealed {
            Some(self.y0.as_slice())
        } else {
            s.fired.iter().find(|f| label_meaning(f.label) == (Part::AirInlet, What::Closed)).map(|f| f.y.as_slice())
        };
        let opens = |e: &Event| e.part == Part::Check && e.what == What::StartsToOpen;
        let check_opened = start.check != Stand::Sealed || events.iter().any(opens);
        let order = match first_closed {
            _ if !check_opened => Order::CheckNeverOpened,
            None => Order::AirInletNeverClosed,
            Some(y) if rig.ledger_of(y).check_forward / fluid.density > FIRST_VOLUME => Order::CheckFirst,
            Some(_) => Order::AirInletFirst,
        };
        let total = rig.spilled(&s.y_end).max(0.0);
        let spill = first_closed.map_or(total, |y| rig.spilled(y).max(0.0));
        let statics = rig.statics();
        let last = self.sample(&s.mode_end, s.t_end, &s.y_end);
        let highest = |get: fn(&Sample) -> f64| samples.iter().map(get).fold(get(&last), f64::max);
        let supply = match &rig.feed {
            Feed::Line(line) => line.static_pressure(fluid, s.t_end),
            _ => last.line_pa_gauge,
        };
        // An open check with nothing drawn beyond it traps nothing.
        let joined = last.check_travel_m > 0.0 && rig.shutoff2.effective_area(s.t_end) <= 0.0;
        let trapped_excess_pa = match joined {
            true => last.zone2_pa_gauge - last.zone1_pa_gauge,
            false => last.zone2_pa_gauge - (supply - statics.check_settles_pa).max(0.0),
        };
        let first_move_s =
            [Part::Check, Part::AirInlet].map(|part| events.iter().find(|e| e.part == part).map(|e| e.t_s));
        Sequence {
            order,
            statics,
            spill_m3: spill,
            rebound_spill_m3: (total - spill).max(0.0),
            relieved_m3: rig.ledger_of(&s.y_end).relieved / fluid.density,
            spilling_at_end: last.spill_m3_s > DRIPS,
            spill_rate_m3_s: last.spill_m3_s,
            trapped_excess_pa,
            stop: match s.reason {
                Reason::Chatter => Stop::Chatter,
                Reason::Asked if rig.stop_at_check_closed && s.mode_end.check_has_closed => Stop::CheckClosed,
                Reason::Asked => Stop::Settled,
                Reason::End => Stop::EndTime,
            },
            events,
            peak: Peak { zone1_pa_gauge: highest(|s| s.zone1_pa_gauge), zone2_pa_gauge: highest(|s| s.zone2_pa_gauge) },
            last,
            first_move_s,
            stands_at_start: [start.check, start.inlet],
            balance: rig.balance(&self.y0, &s.y_end),
            stats: s.stats,
            samples,
        }
    }
}
