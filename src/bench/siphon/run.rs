//! One scene run to rest, and what is read off it.

use super::chatter::{Chatter, follow};
use super::points::{Point, load_water_lost, points, supply_back};
use super::scene::{self, Scene};
use crate::assembly::{Settings, conflict};
use crate::bench::service::{Before, Begins};
use crate::error::Error;
use crate::laws::constants::STANDARD_GRAVITY;
use crate::numerics::{Options, Reason, Stats};
use crate::parts::Stand;
use crate::rig::{Balance, DRAINED, Feed, Layout, Part, Rig, Statics, What, label_meaning};

/// Time, s, over whose mean the tube's level at rest is taken, in swings of its column.
const SWINGS: f64 = 2.0;
/// Water and air through the check, kg, below which nothing has passed: less than a hundredth of a drop.
const NOTHING: f64 = 5e-7;
/// Volume, m3, below which no water has moved: less than a fifth of a drop.
pub(super) const DRY: f64 = 1e-8;
/// Flow, m3/s, below which none is left: a drop in a minute.
pub(super) const STILL: f64 = 1e-9;

/// Rise of the water in the tube, m above the pan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rise {
    /// Where it comes to rest.
    pub at_rest_m: f64,
    /// Highest point on the way.
    pub max_m: f64,
    /// Whether it ran over the tube's top into the assembly.
    pub overflows: bool,
}

/// A scene and what it comes to.
#[derive(Debug, Clone)]
pub struct Outcome {
    /// Which.
    pub scene: Scene,
    /// The rig it was run on.
    pub rig: Rig,
    /// Rise in the tube, in a vacuum test.
    pub rise: Option<Rise>,
    /// Water back through the check, m3, each time it passes.
    pub water_back_m3: f64,
    /// Of it, water that came from the load side, m3 (zone 2's water counted as stirred).
    pub load_water_back_m3: f64,
    /// What the load side gives off on relaxing from its pressure at the start to that at which its column hangs, m3.
    pub load_water_given_off_m3: f64,
    /// The most that the load side had lost on balance, m3.
    pub load_water_lost_m3: f64,
    /// Of the load side's water, what is in zone 2 at the end, m3.
    pub load_water_left_m3: f64,
    /// Water back into the main or vessel, m3: the most that it gained on balance since any earlier moment.
    pub supply_back_m3: f64,
    /// Water out of the air inlet, m3.
    pub spit_m3: f64,
    /// Air in through the air inlet, kg.
    pub air_admitted_kg: f64,
    /// Air back through the check, kg.
    pub air_back_kg: f64,
    /// When the air inlet starts to open, s; 0 where it is open before anything falls, `None` if it never does.
    pub t_air_inlet_opens_s: Option<f64>,
    /// Zone 1 at that moment, Pa gauge.
    pub zone1_at_opening_pa_gauge: Option<f64>,
    /// Lowest pressure in zone 2, Pa absolute.
    pub zone2_min_pa_abs: f64,
    /// Water that flows back through the check at the end, m3/s; the mean of the last rounds of parts that open and shut
    /// without end.
    pub reverse_flow_m3_s: f64,
    /// Air that flows back through the check at the end, kg/s.
    pub reverse_air_kg_s: f64,
    /// Whether all came to rest within the run.
    pub settled: bool,
    /// Parts that open and shut without end, which ended the run.
    pub chatter: Option<Chatter>,
    /// Whether all was steady when the supply began to fall.
    pub before: Before,
    /// Whether the air inlet is shut at the end.
    pub inlet_shut_at_end: bool,
    /// Events: time, part, what.
    pub events: Vec<(f64, Part, What)>,
    /// The run, sampled.
    pub points: Vec<Point>,
    /// Hand sums.
    pub statics: Statics,
    /// Balance of water and air.
    pub balance: Balance,
    /// Work done by the solver.
    pub stats: Stats,
}

impl Outcome {
    /// Whether the check, once shut, let nothing back. Where the load side's water is traced, the supply's own, which goes
    /// back while the check is closing, does not count.
    pub fn passed_nothing(&self) -> bool {
        let water = match self.rig.traces_load_water {
            true => self.load_water_back_m3 < DRY && self.reverse_flow_m3_s < STILL,
            false => self.water_back_m3 * self.rig.fluid.density < NOTHING,
        };
        water && self.air_back_kg < NOTHING
    }

    /// Whether more of the load side's water came back than its own pressure pushes out: the rest was drawn. A column that
    /// swings may bring back again what it had pushed in before, which the load side has not lost.
    pub fn draws_load_water(&self) -> bool {
        let drawn = self.load_water_back_m3.min(self.load_water_lost_m3);
        !(drawn <= self.load_water_given_off_m3 + NOTHING / self.rig.fluid.density)
    }

    /// Whether, after the longest run, no more of the load side's water can be drawn: a pinhole still seeps, but the pull is
    /// less than the height, and what zone 2 still holds of it was pushed there.
    pub(super) fn nothing_more_to_draw(&self) -> bool {
        let Some(last) = self.last() else { return false };
        let height = self.rig.fluid.density * STANDARD_GRAVITY * -self.rig.outlet.1;
        self.rig.traces_load_water
            && last.t_s >= scene::LONGEST
            && !slug_on_its_way(self)
            && -last.load_side_pa_gauge < height
            && self.load_water_back_m3 + self.load_water_left_m3 <= self.load_water_given_off_m3 + DRY
    }

    /// State at the start.
    pub fn first(&self) -> Option<&Point> {
        self.points.first()
    }

    /// Water, m3/s, that flows out of the main when it begins to fall; `None` where nothing more than a drop a minute does.
    pub fn flow_before(&self) -> Option<f64> {
        self.first().map(|p| p.supply_water_m3_s).filter(|q| *q > STILL)
    }

    /// State at the end.
    pub fn last(&self) -> Option<&Point> {
        self.points.last()
    }
}

/// Runs one scene to rest (at most [`scene::LONGEST`], or to `run.end_time`).
///
/// # Errors
/// [`Error`] for input that does not go together and for a run that cannot go on.
pub fn run_scene(settings: &Settings, scene: Scene, options: &Options) -> Result<Outcome, Error> {
    let rig = scene::rig(settings, scene)?;
    let begins = scene::begins(settings, scene, &rig);
    let outcome = run(rig, scene, begins, options)?;
    if scene == Scene::Service
        && !outcome.settled
        && settings.optional_number("run.end_time")?.is_some()
        && slug_on_its_way(&outcome)
    {
        let rule = "the line's water is still on its way back to the main: the air phase has not begun. A later end, or \
                    \"auto\", runs to rest";
        return Err(conflict(settings, "end-after-slug", &["supply.line_length", "run.end_time"], rule.to_owned()));
    }
    Ok(outcome)
}

/// Whether the line's column moves back and has not yet left.
fn slug_on_its_way(o: &Outcome) -> bool {
    let (Feed::Line(line), Some(last)) = (&o.rig.feed, o.last()) else { return false };
    let full = line.area() * line.length;
    // Faster than an elastic swing: a hundredth of the line in a second.
    last.line_water_m3 > DRAINED * full && -last.supply_water_m3_s > 0.01 * full
}

/// Runs a rig of a scene.
///
/// # Errors
/// [`Error`] when the run cannot go on.
pub fn run(rig: Rig, scene: Scene, begins: Begins, options: &Options) -> Result<Outcome, Error> {
    let (mode, y0, before) = rig.begun(begins, options)?;
    let (solution, chatter) = follow(&rig, mode, y0.clone(), options)?;
    let layout = Layout::of(&rig);
    let points = points(&rig, scene, &mode, &y0, &solution);
    let (pa, rho) = (rig.fluid.ambient, rig.fluid.density);
    let ledger = rig.ledger_of(&solution.y_end);
    let events: Vec<(f64, Part, What)> = solution
        .fired
        .iter()
        .map(|f| {
            let (part, what) = label_meaning(f.label);
            (f.t, part, what)
        })
        .collect();
    let opening = match mode.inlet {
        Stand::Sealed => solution
            .fired
            .iter()
            .find(|f| label_meaning(f.label) == (Part::AirInlet, What::StartsToOpen))
            .map(|f| (f.t, rig.pressures(&layout, f.t, &f.y).zone[0] - pa)),
        _ => Some((0.0, rig.pressures(&layout, 0.0, &y0).zone[0] - pa)),
    };
    let end = points.last().copied();
    let balance = rig.balance(&y0, &solution.y_end);
    Ok(Outcome {
        scene,
        rise: rise(&rig, &points),
        water_back_m3: ledger.check_back / rho,
        load_water_back_m3: ledger.load_back / rho,
        load_water_given_off_m3: given_off(&rig, &layout, &y0),
        load_water_lost_m3: load_water_lost(&rig, &mode, &y0, &solution),
        load_water_left_m3: layout.trace().map_or(0.0, |i| solution.y_end[i].max(0.0) / rho),
        supply_back_m3: supply_back(&rig, &mode, &y0, &solution),
        spit_m3: (ledger.spilled / rho).max(0.0),
        air_admitted_kg: ledger.admitted,
        air_back_kg: ledger.air_back,
        t_air_inlet_opens_s: opening.map(|o| o.0),
        zone1_at_opening_pa_gauge: opening.map(|o| o.1),
        zone2_min_pa_abs: points.iter().map(|p| p.zone2_pa_gauge + pa).fold(f64::INFINITY, f64::min),
        reverse_flow_m3_s: match chatter {
            Some(chatter) => chatter.reverse_flow_m3_s,
            None => end.map_or(0.0, |p| (-p.check_water_m3_s).max(0.0)),
        },
        reverse_air_kg_s: end.map_or(0.0, |p| (-p.check_air_kg_s).max(0.0)),
        settled: solution.reason == Reason::Asked,
        chatter,
        before,
        inlet_shut_at_end: solution.mode_end.inlet == Stand::Sealed,
        events,
        statics: rig.statics(),
        balance,
        stats: solution.stats,
        points,
        rig,
    })
}

/// Water, m3, that the load side's piping gives off as its pressure falls to that at which the column below it hangs:
/// water, walls and pockets of air relax.
fn given_off(rig: &Rig, layout: &Layout, y0: &[f64]) -> f64 {
    let (fluid, zone) = (&rig.fluid, &rig.zones[2]);
    let hangs = fluid.ambient + fluid.density * STANDARD_GRAVITY * rig.outlet.1.min(0.0);
    let p = hangs.max(1.01 * fluid.vapour_pressure);
    let gas = y0[layout.air(3)] * fluid.air_rt() / (p - fluid.vapour_pressure);
    ((y0[layout.water(3)] - zone.fill(fluid, p, gas, 0.0).0) / fluid.density).max(0.0)
}

/// Rise in the tube. At rest the column balances the load side's pressure; a swing that is left is averaged out.
fn rise(rig: &Rig, points: &[Point]) -> Option<Rise> {
    let tube = rig.tube.as_ref()?;
    let last = points.last()?;
    let length = tube.dip + last.rise_m.max(0.0);
    let span = SWINGS * std::f64::consts::TAU * (length / STANDARD_GRAVITY).sqrt();
    let (mut sum, mut time) = (0.0, 0.0);
    for pair in points.windows(2).rev() {
        let [a, b] = pair else { continue };
        if a.t_s < last.t_s - span {
            break;
        }
        sum += 0.5 * (a.load_side_pa_gauge + b.load_side_pa_gauge) * (b.t_s - a.t_s);
        time += b.t_s - a.t_s;
    }
    let mean = if time > 0.0 { sum / time } else { last.load_side_pa_gauge };
    let max_m = points.iter().map(|p| p.rise_m).fold(0.0, f64::max);
    let balanced = -mean / (rig.fluid.density * STANDARD_GRAVITY);
    Some(Rise { at_rest_m: balanced.clamp(-tube.dip, tube.length) + 0.0, max_m, overflows: max_m > 0.98 * tube.length })
}
