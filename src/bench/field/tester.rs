//! A tester at work: the acts one after the other, each a run of the joined system from where the last one left it.

mod fittings;
mod takes;

use super::act::{Act, Pace, Part, Sign};
use super::judge::LOOKS_OPEN;
use super::log::{ActMark, Happening, Point, Work};
use super::procedure::Procedure;
use super::setup::Setup;
use super::stand::{Aim, FieldMode, STATES, TestStand, Until};
use crate::numerics::{Failure, Options, Reason, Solution, Stats, solve};
use crate::parts::{Instrument, Opening, Stand};
use crate::rig::{Layout, Part as RigPart, Rig, What, label_meaning};

/// A drop a second, m3/s: what a cock that only drips lets out (common practice, 0.05 mL a drop).
pub const DRIP: f64 = 0.05e-6;
/// Points per solver step kept for charts.
const POINTS: usize = 2;

pub(super) struct Tester<'a> {
    setup: &'a Setup,
    procedure: &'a Procedure,
    options: Options,
    stand: TestStand,
    mode: FieldMode,
    t: f64,
    y: Vec<f64>,
    cocks: [Opening; 2],
    screw: Opening,
    /// The only cock opened to air beside the hose on it.
    drained: Opening,
    steady: bool,
    last_read: f64,
    /// Water that had passed the check by then, or when the gauge's cock was opened, kg.
    passed: f64,
    /// The gauge was opened to zone 1 when shutoff 1 had been shut already.
    opened_late: bool,
    /// When shutoff 1 was last shut, s.
    shut_at: f64,
    /// Where the air inlet comes to rest if no speed carries it further, m.
    rests: f64,
    /// The furthest it was at a speed that is no creep, m.
    carried: f64,
    /// The air inlet was not shut when shutoff 1 was.
    stood_open: bool,
    vent_opened: Option<f64>,
    work: Work,
}

impl<'a> Tester<'a> {
    pub fn new(rig: Rig, setup: &'a Setup, procedure: &'a Procedure, options: Options) -> Self {
        let gauge = if procedure.instrument == Instrument::Tube { &setup.tube } else { &setup.gauge };
        let (mode, assembly) = rig.start();
        let stand = TestStand {
            rig,
            gauge: gauge.clone(),
            hose: None,
            tee: setup.hand.tee,
            part: Part::Check,
            aim: Aim::Still,
            reaction: setup.hand.reaction,
            until: Until::default(),
        };
        let n = stand.base();
        let mut y = assembly;
        y.splice(n..n, [0.0; STATES]);
        let rests = stand.rig.inlet_rests();
        let mut tester = Tester {
            setup,
            procedure,
            options,
            stood_open: mode.inlet != Stand::Sealed,
            mode: FieldMode { rig: mode, reached: false },
            t: 0.0,
            cocks: [Opening::fixed(0.0), Opening::fixed(0.0)],
            screw: Opening::fixed(0.0),
            drained: Opening::fixed(0.0),
            steady: false,
            last_read: 0.0,
            passed: 0.0,
            opened_late: false,
            shut_at: 0.0,
            rests,
            carried: 0.0,
            vent_opened: None,
            work: Work {
                takes: Vec::new(),
                trace: Vec::new(),
                marks: Vec::new(),
                happenings: Vec::new(),
                remarks: Vec::new(),
                start: Vec::new(),
                end: Vec::new(),
                stats: Stats::default(),
                lifted: None,
                vented_s: None,
                settled_pa: None,
                stand: stand.clone(),
            },
            stand,
            y,
        };
        tester.canopy(setup.canopy.1);
        let layout = Layout::of(&tester.stand.rig);
        tester.carried = tester.stand.rig.travels(&layout, &tester.y)[1].max(0.0);
        tester.fill_hose();
        // What the hose holds at the start is there, not brought.
        let d = n + STATES;
        tester.y[d..].fill(0.0);
        tester.work.start = tester.y.clone();
        tester
    }

    /// All acts.
    pub fn work(mut self) -> Result<Work, Failure> {
        let procedure = self.procedure;
        for (index, act) in procedure.acts.iter().enumerate() {
            let next = procedure.acts.iter().skip(index).find_map(|a| match a {
                Act::Read { part, .. } => Some(*part),
                _ => None,
            });
            self.stand.part = next.unwrap_or(self.stand.part);
            self.work.marks.push(ActMark { t_s: self.t, act: index, words: act.words() });
            self.act(index, act)?;
        }
        self.finish();
        Ok(self.work)
    }

    fn remark(&mut self, words: impl Into<String>) {
        let words = words.into();
        if !self.work.remarks.contains(&words) {
            self.work.remarks.push(words);
        }
    }

    fn act(&mut self, index: usize, act: &Act) -> Result<(), Failure> {
        let hand = self.setup.hand;
        match act {
            Act::Canopy { on } => self.canopy(*on),
            Act::Shutoff { number, to } => {
                if (*number, *to) == (1, 0.0) {
                    self.stood_open = self.mode.rig.inlet != Stand::Sealed;
                    self.shut_at = self.t;
                } else if *number == 1 {
                    self.opened_late = false;
                }
                let shutoff = if *number == 1 { &mut self.stand.rig.shutoff1 } else { &mut self.stand.rig.shutoff2 };
                shutoff.opening = turned(&shutoff.opening, *to, self.t, hand.turn_time);
                self.advance(index, 1.5 * hand.turn_time, Until::default())?;
            }
            Act::Attach { cock } => self.attach(*cock),
            Act::Detach => {
                self.stand.hose = None;
                self.fit_taps();
            }
            Act::Cock { number, turns } => {
                self.cock(*number, *turns);
                self.advance(index, 1.2 * hand.turn_time, Until::default())?;
            }
            Act::Screw { to } => {
                if self.setup.screw_area > 0.0 {
                    self.screw = turned(&self.screw, *to, self.t, hand.turn_time);
                    self.watch_vent(*to > 0.0);
                } else {
                    self.other_vent(*to);
                }
                self.fit_taps();
                self.advance(index, 1.2 * hand.turn_time, Until::default())?;
            }
            Act::Bleed { pace, until, at_most } => {
                self.stand.aim = match pace {
                    Pace::Slow => Aim::Fall(hand.slow),
                    Pace::Quick => Aim::Fall(hand.quick),
                    Pace::Vent => Aim::Flow(hand.vent),
                    Pace::Lift => Aim::Flow(hand.lift),
                    Pace::Fall(rate) => Aim::Fall(*rate),
                    Pace::Flow(q) => Aim::Flow(*q),
                };
                self.advance(index, at_most.unwrap_or(hand.patience), self.until(until))?;
                self.stand.aim = Aim::Still;
            }
            Act::Wait { until, at_most } => {
                self.advance(index, at_most.unwrap_or(hand.patience), self.until(until))?;
            }
            Act::CloseBleed => {
                let u = self.stand.base() + 3;
                self.y[u] = 0.0;
            }
            Act::Compensate => self.compensate(index)?,
            Act::Read { part, at } => self.read(index, *part, *at)?,
        }
        Ok(())
    }

    fn until(&self, sign: &Sign) -> Until {
        Until {
            needle: sign.needle,
            opens: sign.opens,
            fully_open: sign.fully_open,
            steady: (sign.steady || sign.at_rest).then_some(self.setup.hand.steady),
            at_rest: sign.at_rest,
            stopped: None,
        }
    }

    fn canopy(&mut self, on: bool) {
        self.stand.rig.inlet.canopy_area = on.then_some(self.setup.canopy.0);
    }

    fn compensate(&mut self, index: usize) -> Result<(), Failure> {
        let running = self.stand.rig.taps.iter().find(|tap| tap.opening.at(self.t) > 0.0).map(|tap| tap.zone);
        let Some(zone) = running else {
            self.remark("No cock or screw runs: there is nothing to compensate.");
            return Ok(());
        };
        if self.stand.cock_flow(&self.mode, self.t, &self.y, zone) < 1.2 * DRIP {
            return Ok(());
        }
        self.stand.aim = Aim::StopCock(zone, DRIP);
        let until = Until { stopped: Some(self.setup.hand.steady.1), ..Until::default() };
        self.advance(index, self.setup.hand.patience, until)?;
        let left = self.stand.cock_flow(&self.mode, self.t, &self.y, zone);
        if left > 2.0 * DRIP {
            self.remark(
                "The bleed valve is wide open and the cock still runs: the leak is more than the bleed can take.",
            );
        }
        self.stand.aim = Aim::Still;
        Ok(())
    }

    /// Runs for `longest` s or until the sign is seen; `true` if it was.
    fn advance(&mut self, index: usize, longest: f64, until: Until) -> Result<bool, Failure> {
        self.stand.until = until;
        self.mode.reached = false;
        let n = self.stand.base();
        if until.needle.is_some_and(|mark| self.y[n + 2] <= mark) || self.stand.told(&self.mode) {
            return Ok(true);
        }
        let end = self.t + longest;
        let run = solve(&self.stand, self.mode, self.y.clone(), self.t, end, &self.options)?;
        let stats = &mut self.work.stats;
        stats.steps += run.stats.steps;
        stats.rejected += run.stats.rejected;
        stats.rhs_evaluations += run.stats.rhs_evaluations;
        stats.jacobians += run.stats.jacobians;
        stats.transitions += run.stats.transitions;
        let mut y = self.y.clone();
        for step in &run.steps {
            for k in 1..=POINTS {
                let t = step.t0 + (step.t1 - step.t0) * k as f64 / POINTS as f64;
                step.at(t, &mut y);
                self.notice_carried(&y);
                let point = self.point(t, &y);
                self.notice_vent(&point);
                self.work.trace.push(point);
            }
        }
        let start = self.t;
        for f in &run.fired {
            let (part, what) = label_meaning(f.label);
            // At its stop only by the creep of regularised friction.
            let lift = self.stand.rig.inlet.poppet.lift;
            if (part, what) == (RigPart::AirInlet, What::FullyOpen) && self.reaches() < LOOKS_OPEN * lift {
                continue;
            }
            let fall_pa_s = match (part, what) {
                (RigPart::AirInlet, What::StartsToOpen) => self.fall(&run, start, f.t),
                _ => 0.0,
            };
            self.work.happenings.push(Happening {
                t_s: f.t,
                part,
                what,
                act: index,
                bleeding: f.y[n + 3] > 0.5 * super::stand::CRACK,
                hidden: self.stand.rig.inlet.canopy_area.is_some(),
                fall_pa_s,
                y: f.y.clone(),
                mode: f.before,
            });
        }
        if run.reason == Reason::Chatter {
            self.remark(format!("A part opens and shuts without end from {:.1} s on.", run.t_end));
        }
        self.t = run.t_end;
        self.y = run.y_end;
        self.mode = run.mode_end;
        let seen = run.reason == Reason::Asked;
        if until.steady.is_some() {
            self.steady = seen && !self.stand.told(&self.mode);
        }
        self.mode.reached = false;
        Ok(seen)
    }

    /// How fast the pressure of the zone that shuts the air inlet falls at `t`, Pa/s, by a parabola through the last moments
    /// of a run that began at `start`. Its rate of that very instant is stiff and would show the solver's noise.
    fn fall(&self, run: &Solution<FieldMode>, start: f64, t: f64) -> f64 {
        const BACK: f64 = 0.04;
        let back = BACK.min(0.5 * (t - start));
        if !(back > 1e-6) {
            return 0.0;
        }
        let layout = Layout::of(&self.stand.rig);
        let zone = self.stand.rig.shutting_zone();
        let mut y = self.y.clone();
        let mut at = |t: f64| {
            run.at(t, &mut y);
            self.stand.rig.pressures(&layout, t, &y).zone[zone.clamp(1, 3) - 1]
        };
        let [now, before, first] = [t, t - back, t - 2.0 * back].map(&mut at);
        (4.0 * before - 3.0 * now - first) / (2.0 * back)
    }

    fn point(&self, t: f64, y: &[f64]) -> Point {
        let (stand, n) = (&self.stand, self.stand.base());
        let layout = Layout::of(&stand.rig);
        let p = stand.rig.pressures(&layout, t, y);
        let pa = stand.rig.fluid.ambient;
        let [check, inlet] = stand.rig.travels(&layout, y);
        let c = stand.gauge.zone.contents(&stand.rig.fluid, y[n], y[n + 1], 0.0);
        Point {
            t_s: t,
            shown_pa: stand.gauge.shown(y[n + 2]),
            needle_pa: y[n + 2],
            gauge_pa: c.pressure - pa,
            line_pa_gauge: p.line - pa,
            zone1_pa_gauge: p.zone[0] - pa,
            zone2_pa_gauge: p.zone[1] - pa,
            check_travel_m: check.max(0.0),
            air_inlet_travel_m: inlet.max(0.0).min(self.reaches()),
            bleed_opening: y[n + 3].max(0.0),
            bleed_m3_s: if y[n + 3] > 0.0 { stand.seen(&p, t, y).bleed.water / stand.rig.fluid.density } else { 0.0 },
        }
    }
}

/// An opening turned to `to` from where it stands at `t`.
fn turned(opening: &Opening, to: f64, t: f64, time: f64) -> Opening {
    Opening::turn(opening.at(t), to, t, time)
}
