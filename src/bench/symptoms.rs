//! What a fault looks like: an assembly with it, run through what people do to it.
//!
//! Nothing here is typed in: each figure comes from turning the water on ([`super::sequence`]) and from a field test of the
//! changed assembly.

use super::field::{FieldOptions, FieldTest, Kind, LOSES, Lost, Note, Outcome, PASS, Part, Procedure, field_test};
use super::sequence::{DRIPS, Order, sequence};
use super::siphon::LEAST_HEIGHT;
use crate::assembly::Settings;
use crate::error::Error;
use crate::faults::Truth;
use crate::rig::{Rig, SHARP_EDGE, Statics, installed_height, options};
use serde::Serialize;

/// Figures of one changed assembly.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Symptoms {
    /// Which part moves first when the water is turned on; `None` if that run could not be completed.
    pub order: Option<Order>,
    /// Water out of the air inlet in that run, m3.
    pub spill_m3: Option<f64>,
    /// Whether it still spills at the end.
    pub spilling_at_end: Option<bool>,
    /// Water out through the relief in that run, m3.
    pub relieved_m3: Option<f64>,
    /// Zone 2 at the end of that run, Pa gauge.
    pub zone2_pa_gauge: Option<f64>,
    /// Water lost through cracks and torn rings at the end of that run, m3/s.
    pub outside_leak_m3_s: Option<f64>,
    /// Sequence margin, Pa.
    pub sequence_margin_pa: Option<f64>,
    /// Pressure difference the check holds by the static sum, Pa.
    pub check_holds_pa: f64,
    /// What the shut check lets through at 1.0 psi, m3/s.
    pub check_leak_m3_s: f64,
    /// Pressure at which the air inlet starts to open by the static sum, Pa gauge.
    pub inlet_opens_pa_gauge: Option<f64>,
    /// What no gauge shows: found by looking at the place, or on a bench.
    pub found_by_looking: Vec<&'static str>,
    /// What a tester reads; `None` if that run could not be completed.
    pub field_test: Option<FieldFigures>,
    /// Why a run could not be completed.
    pub not_completed: Vec<String>,
}

/// One reading of a field test.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ReadingFigures {
    /// The pressure at the part, Pa.
    pub true_pa: Option<f64>,
    /// What the gauge shows, Pa.
    pub reading_pa: Option<f64>,
    /// What is written down, Pa.
    pub recorded_pa: Option<f64>,
    /// What came of it.
    pub came: Came,
    /// Whether it passes by the number.
    pub pass: bool,
}

/// What came of a reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Came {
    /// A value was read, and it means what it should.
    Read,
    /// A value was read that does not mean what it should.
    ReadButLost,
    /// Bled to nothing and it did not open.
    DidNotOpen,
    /// It was never shut.
    StoodOpen,
    /// The needle stood still and it did not open.
    Stalled,
    /// The tester stopped waiting before it opened.
    GaveUp,
    /// The gauge's cock was shut or plugged.
    NoSignal,
    /// The pressure never came into the scale.
    OverRange,
    /// No gauge was on it, or it was not read.
    NotRead,
}

/// What a tester reads and sees.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FieldFigures {
    /// The procedure.
    pub procedure: String,
    /// The check.
    pub check: ReadingFigures,
    /// The air inlet.
    pub air_inlet: ReadingFigures,
    /// Whether the air inlet was seen to open fully; `None` if it could not be seen.
    pub air_inlet_fully_open: Option<bool>,
    /// "pass", "fail" or "not-testable".
    pub result: &'static str,
    /// The air inlet opened in the check's step.
    pub opened_in_check_step: bool,
    /// The air inlet opened with the bleed valve shut.
    pub opened_by_itself: bool,
    /// Flow still running out of cock or screw when the check was read, m3/s.
    pub cock_flow_m3_s: Option<f64>,
    /// How fast the needle fell when the check was read, Pa/s.
    pub check_fall_pa_s: Option<f64>,
    /// How far it had fallen by then with everything shut, Pa.
    pub check_fell_pa: Option<f64>,
    /// What zone 1 still lost when the check was read, m3/s, through the check, a tear or a fitting.
    pub check_loses_m3_s: Option<f64>,
    /// Water under the canopy before the air inlet first opened, m3.
    pub dribble_m3: f64,
    /// How fast the pressure fell when the air inlet opened, Pa/s.
    pub fall_at_opening_pa_s: Option<f64>,
    /// The quickest fall the hand aims at, Pa/s.
    pub quickest_hand_pa_s: f64,
    /// Why a measurement was lost: ids of the field test's notes.
    pub lost: Vec<&'static str>,
}

/// Water under the canopy, m3, from which it counts as a dribble: a drop.
const A_DROP: f64 = 0.05e-6;
/// A cock that passes more than this when the check is read runs on, m3/s: a drop and a half a second.
const RUNS_ON: f64 = 0.075e-6;
/// What bodies are proved to without damage, Pa gauge: 300 psi, twice the usual rating (from memory).
const PROOF: f64 = 2_068_427.0;
/// A needle that falls faster than this when the check is read does not hold, Pa/s: 0.01 psi a second.
const FALLS: f64 = 68.9;

/// A fall of the check's reading with everything shut, Pa (0.05 psi), that is seen.
const FELL: f64 = 345.0;

impl Symptoms {
    /// What is not sound about the assembly, whatever the gauge shows; `spill_resistant` types must not let water through
    /// before the air inlet is shut.
    pub fn unsound(&self, spill_resistant: bool) -> Vec<&'static str> {
        let weak = |p: Option<f64>| p.is_some_and(|p| p < PASS);
        let mut all = Vec::new();
        let mut reason = |is: bool, words| all.extend(is.then_some(words));
        reason(self.check_holds_pa < PASS, "check holds less than 1.0 psi");
        reason(self.check_leak_m3_s > DRIPS, "check leaks");
        reason(weak(self.inlet_opens_pa_gauge), "air inlet opens below 1.0 psi");
        reason(spill_resistant && self.order == Some(Order::CheckFirst), "check passes water before the vent is shut");
        reason(self.spilling_at_end == Some(true), "spills without end");
        reason(self.empties_by_itself(), "zone 2 empties by itself");
        reason(self.leaks_outside(), "leaks to the outside");
        all.extend(&self.found_by_looking);
        all
    }

    /// Passes its test and is not sound.
    pub fn deceives(&self, spill_resistant: bool) -> bool {
        let passes = self.field_test.as_ref().is_some_and(|f| f.result == "pass");
        passes && !self.unsound(spill_resistant).is_empty()
    }

    fn leaks_outside(&self) -> bool {
        self.outside_leak_m3_s.is_some_and(|q| q > DRIPS)
    }

    /// The pressure fell faster than a hand bleeds when the air inlet opened.
    fn empties_by_itself(&self) -> bool {
        self.field_test.as_ref().is_some_and(|f| f.fall_at_opening_pa_s.is_some_and(|r| r > 1.5 * f.quickest_hand_pa_s))
    }

    /// What a tester sees besides the readings, in a few words each.
    pub fn signs(&self) -> Vec<&'static str> {
        let mut all = Vec::new();
        if let Some(f) = &self.field_test {
            let mut sign = |is: bool, words| all.extend(is.then_some(words));
            sign(f.opened_in_check_step, "inlet opens in the check step");
            sign(f.opened_by_itself, "inlet opens by itself");
            sign(f.cock_flow_m3_s.is_some_and(|q| q > RUNS_ON), "cock or screw runs on");
            sign(f.check_loses_m3_s.is_some_and(|q| q > LOSES), "zone 1 loses water with everything shut");
            sign(self.empties_by_itself(), "needle falls faster than bled");
            let falls = f.check_fall_pa_s.is_some_and(|r| r > FALLS) || f.check_fell_pa.is_some_and(|p| p > FELL);
            sign(falls, "check reading falls");
            sign(f.dribble_m3 > A_DROP, "water at the canopy");
        }
        if self.leaks_outside() {
            all.push("leaks to the outside");
        }
        if self.spilling_at_end == Some(true) {
            all.push("spills without end");
        }
        if self.relieved_m3.is_some_and(|v| v > A_DROP) {
            all.push("relief lets water out");
        }
        all
    }
}

/// Runs what people do to an assembly: the water is turned on, and it is tested.
///
/// # Errors
/// [`Error`] if the settings make no rig. A run that cannot be completed is no error: it is told in the result.
pub fn symptoms(settings: &Settings) -> Result<Symptoms, Error> {
    let mut all = started(settings)?;
    tested(settings, &mut all)?;
    Ok(all)
}

/// The settings of the start-up: zone 2 brimful, as after a short stop, unless somebody said otherwise. A dry zone 2 would
/// swallow what a lost sequence margin lets out.
///
/// # Errors
/// [`Error`] if a field is missing.
pub fn start_up_settings(settings: &Settings) -> Result<Settings, Error> {
    match settings.get("zone2.initial").is_some_and(|s| s.at.is_user()) {
        true => Ok(settings.clone()),
        false => settings.with_text("zone2.initial", "brimful"),
    }
}

/// The water is turned on.
pub(super) fn started(settings: &Settings) -> Result<Symptoms, Error> {
    let settings = &start_up_settings(settings)?;
    let rig = Rig::from_settings(settings)?;
    let statics = rig.statics();
    let leak_area = Truth::CheckLeak.value(settings, &rig)?.unwrap_or(0.0);
    let mut all = Symptoms {
        order: None,
        spill_m3: None,
        spilling_at_end: None,
        relieved_m3: None,
        zone2_pa_gauge: None,
        outside_leak_m3_s: None,
        sequence_margin_pa: statics.sequence_margin_pa,
        check_holds_pa: statics.check_settles_pa,
        check_leak_m3_s: leak_area * (2.0 * PASS / rig.fluid.density).sqrt(),
        inlet_opens_pa_gauge: statics.inlet_opens_pa_gauge,
        found_by_looking: found_by_looking(settings, &statics)?,
        field_test: None,
        not_completed: Vec::new(),
    };
    match sequence(&rig, &options(settings)?) {
        Ok(run) => {
            all.order = Some(run.order);
            all.spill_m3 = Some(run.spill_m3 + run.rebound_spill_m3);
            all.spilling_at_end = Some(run.spilling_at_end);
            all.relieved_m3 = Some(run.relieved_m3);
            all.zone2_pa_gauge = Some(run.last.zone2_pa_gauge);
            let gauge = [run.last.line_pa_gauge, run.last.zone1_pa_gauge, run.last.zone2_pa_gauge];
            let out = rig.outside_leak.iter().zip(gauge);
            let speed = |p: f64| (2.0 * p.max(0.0) / rig.fluid.density).sqrt();
            all.outside_leak_m3_s = Some(out.map(|(area, p)| SHARP_EDGE * area * speed(p)).sum());
        }
        Err(failure) => all.not_completed.push(format!("turning the water on: {failure}")),
    }
    Ok(all)
}

/// What makes it unsound and shows in no test of it.
fn found_by_looking(settings: &Settings, statics: &Statics) -> Result<Vec<&'static str>, Error> {
    let height = installed_height(settings)?;
    let found = [
        (height < 0.0, "an outlet stands above it"),
        ((0.0..LEAST_HEIGHT * (1.0 - 1e-9)).contains(&height), "less than 12 in above its highest outlet"),
        (settings.choice("mounting")? != "upright", "not upright"),
        (statics.relief_opens_pa_gauge.is_some_and(|p| p > PROOF), "relief opens above what the body is proved to"),
    ];
    Ok(found.into_iter().filter_map(|(is, words)| is.then_some(words)).collect())
}

/// It is tested, by the procedure usual for it.
pub(super) fn tested(settings: &Settings, all: &mut Symptoms) -> Result<(), Error> {
    let procedure = Procedure::usual_for(settings)?;
    // One try with friction and adhesion at their means: what differs from row to row is the fault.
    match field_test(settings, &procedure, &FieldOptions { repeats: 1, sticking: false, ..FieldOptions::default() }) {
        Ok(test) => all.field_test = Some(figures(&test, settings.number("hand.quick_rate")?)),
        Err(Error::Run(failure)) => all.not_completed.push(format!("field test: {failure}")),
        Err(other) => return Err(other),
    }
    Ok(())
}

fn figures(test: &FieldTest, quickest_hand_pa_s: f64) -> FieldFigures {
    let lost: Vec<&'static str> = test.lost.iter().map(|l| l.why.id()).collect();
    let reading = |part: Part| match test.reading(part) {
        Some(r) => ReadingFigures {
            // Where zone 2 helped to hold the air inlet shut, the pressure it opened at is not its own.
            true_pa: r.true_pa.filter(|_| {
                let helped = |l: &Lost| l.part == part && matches!(l.why, Note::Zone2NotVented(_));
                part == Part::Check || !test.lost.iter().any(helped)
            }),
            reading_pa: r.reading_pa,
            recorded_pa: r.recorded_pa,
            came: match r.kind {
                Kind::Read if test.lost.iter().any(|l| l.part == part) => Came::ReadButLost,
                Kind::Read => Came::Read,
                Kind::DidNotOpen => Came::DidNotOpen,
                Kind::StoodOpen => Came::StoodOpen,
                Kind::Stalled => Came::Stalled,
                Kind::GaveUp => Came::GaveUp,
                Kind::NoSignal => Came::NoSignal,
                Kind::OverRange => Came::OverRange,
                Kind::NoGauge => Came::NotRead,
            },
            pass: r.pass,
        },
        None => ReadingFigures { true_pa: None, reading_pa: None, recorded_pa: None, came: Came::NotRead, pass: false },
    };
    let o = &test.observed;
    FieldFigures {
        procedure: test.procedure.clone(),
        check: reading(Part::Check),
        air_inlet: reading(Part::AirInlet),
        air_inlet_fully_open: test.air_inlet_fully_open,
        result: match test.outcome {
            Outcome::Pass => "pass",
            Outcome::Fail => "fail",
            Outcome::NotTestable => "not-testable",
        },
        opened_in_check_step: o.opened_in_check_step,
        opened_by_itself: o.opened_by_itself,
        cock_flow_m3_s: o.cock_flow_m3_s,
        check_fall_pa_s: o.check_fall_pa_s,
        check_fell_pa: o.check_fell_pa,
        check_loses_m3_s: test.reading(Part::Check).and_then(|r| Some(r.tries.first()?.loses_m3_s)),
        dribble_m3: o.dribble_m3,
        fall_at_opening_pa_s: test
            .reading(Part::AirInlet)
            .filter(|r| r.true_pa.is_some())
            .and_then(|r| Some(r.tries.first()?.rate_pa_s)),
        quickest_hand_pa_s,
        lost,
    }
}
