//! Commands that a study can ask: settings in, the command's JSON document out.
//!
//! A new command joins with one type that implements [`Question`] and one line in [`QUESTIONS`]; every key of its document
//! can then be recorded, mapped, spread and solved for.

use super::commands::{
    CurvesQuestion, FieldTestQuestion, FreezeQuestion, ReliefQuestion, SiphonQuestion, SurgeQuestion, bare,
};
use crate::assembly::Settings;
use crate::bench::{DocumentContext, FIRST_VOLUME, Order, SequenceDocument, line_start_up, sequence};
use crate::error::{At, Error, nearest};
use crate::numerics::{Options, System, Transition, Variable, solve};
use crate::parts::Stand;
use crate::real::Real;
use crate::rig::{Feed, Mode, Rig, options};
use serde_json::{Value as Json, json};

/// How far a run goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Until {
    /// To the end that the settings give.
    #[default]
    Rest,
    /// To the first closing of the check.
    CheckClosed,
    /// Until the order of the parts is known: the air inlet is shut, or the check has passed more than
    /// [`FIRST_VOLUME`]. Only the order and the hand sums are answered: what spills is not over by then. Whether an air inlet
    /// that is late closes at all, or a check that is late opens, is not awaited.
    OrderKnown,
}

impl Until {
    /// All, in the order of their words.
    pub const ALL: [Until; 3] = [Until::Rest, Until::CheckClosed, Until::OrderKnown];

    /// The word for it on the command line.
    pub fn word(self) -> &'static str {
        match self {
            Until::Rest => "rest",
            Until::CheckClosed => "check-closed",
            Until::OrderKnown => "order-known",
        }
    }

    /// What of the order a run that goes this far leaves open, if anything.
    pub fn leaves_open(self) -> Option<&'static str> {
        (self == Until::OrderKnown).then_some("whether the later of the two parts moves at all is not awaited")
    }

    /// Whether a run that goes this far answers a key of a command. Only `sequence` can be stopped on its way.
    pub fn tells(self, command: &str, key: &str) -> bool {
        self != Until::OrderKnown
            || command != "sequence"
            || WITH_THE_ORDER.contains(&key)
            || key.starts_with("statics.")
    }
}

/// What is known with the order, beside the statics.
const WITH_THE_ORDER: [&str; 5] = ["order", "stop", "sequence_margin_pa", "lap_margin_m", "critical_flow_m3_s"];
/// Why a run that knew it ended, beside the reasons of a whole run.
const KNOWN: &str = "order-known";

/// What is wanted of an answer, so that no work is done for the rest.
#[derive(Debug, Clone, Copy)]
pub struct Need<'a> {
    /// Dotted keys below the command.
    pub keys: &'a [&'a str],
    /// How far the run goes.
    pub until: Until,
}

impl Need<'_> {
    /// Whether nothing is wanted that needs the water turned on.
    fn only_hand_sums(&self) -> bool {
        !self.keys.is_empty() && self.keys.iter().all(|k| *k == "sequence_margin_pa" || k.starts_with("statics."))
    }

    /// Whether a key is, or lies below, `group`.
    pub(super) fn any_below(&self, group: &str) -> bool {
        self.keys.iter().any(|k| k.strip_prefix(group).is_some_and(|rest| rest.is_empty() || rest.starts_with('.')))
    }
}

/// A command that can be asked again and again.
pub trait Question: Send + Sync {
    /// The command's name, which stands before the dot.
    fn command(&self) -> &'static str;

    /// Runs it for these settings and gives its document. Keys outside `need` may be left out; those given must not depend
    /// on `need`.
    ///
    /// # Errors
    /// [`Error`] when the settings do not form a rig or the run cannot be completed.
    fn answer(&self, settings: &Settings, need: &Need<'_>) -> Result<Json, Error>;

    /// In what it is asked otherwise than the command runs without further options.
    fn asked_as(&self) -> Option<&'static str> {
        None
    }
}

/// Every command that a study can ask.
pub static QUESTIONS: [&dyn Question; 7] = [
    &SequenceQuestion,
    &CurvesQuestion,
    &FieldTestQuestion,
    &FreezeQuestion,
    &ReliefQuestion,
    &SiphonQuestion,
    &SurgeQuestion,
];

/// The question with this name.
///
/// # Errors
/// [`Error::UnknownName`] with the nearest.
pub fn named(command: &str, at: &At) -> Result<&'static dyn Question, Error> {
    let names = || QUESTIONS.iter().map(|q| q.command());
    QUESTIONS.iter().copied().find(|q| q.command() == command).ok_or_else(|| Error::UnknownName {
        at: Some(at.clone()),
        what: "command to ask",
        name: command.to_owned(),
        nearest: nearest(command, names()),
        known: names().map(str::to_owned).collect(),
    })
}

/// `sequence`: the water is turned on.
#[derive(Debug)]
pub struct SequenceQuestion;

impl Question for SequenceQuestion {
    fn command(&self) -> &'static str {
        "sequence"
    }

    fn answer(&self, settings: &Settings, need: &Need<'_>) -> Result<Json, Error> {
        let mut rig = Rig::from_settings(settings)?;
        let options = options(settings)?;
        if need.only_hand_sums() {
            let statics = rig.statics();
            return Ok(json!({"sequence_margin_pa": statics.sequence_margin_pa, "statics": statics}));
        }
        if need.until == Until::OrderKnown {
            return order_only(&rig, &options);
        }
        rig.stop_at_check_closed |= need.until == Until::CheckClosed;
        // Peaks and events that turn half-way are read off the steps; nothing else needs them kept.
        let whole = need.any_below("events") || need.any_below("peak");
        let run = sequence(&rig, &Options { keep_steps: whole, ..options })?;
        let line_start_up_s = match &rig.feed {
            Feed::Line(line) if need.any_below("line_start_up_s") => line_start_up(line, &rig.fluid).ok().flatten(),
            _ => None,
        };
        let context = DocumentContext {
            assembly: settings.assembly().to_owned(),
            inputs_sha256: String::new(),
            options,
            wall_s: 0.0,
            line_start_up_s,
            warnings: Vec::new(),
            cautions: Vec::new(),
        };
        let mut json = bare(&SequenceDocument::new(&run, context))?;
        if let (Json::Object(map), false) = (&mut json, whole) {
            map.remove("events");
            map.remove("peak");
        }
        Ok(json)
    }
}

/// The rig, watched until the order is known. Every method but `enough` is the rig's own.
struct Watched<'a>(&'a Rig);

impl Watched<'_> {
    fn check_passed(&self, y: &[f64]) -> bool {
        self.0.ledger_of(y).check_forward / self.0.fluid.density > FIRST_VOLUME
    }
}

impl System for Watched<'_> {
    type Mode = Mode;
    type Memory = <Rig as System>::Memory;

    fn dim(&self) -> usize {
        self.0.dim()
    }
    fn ledger(&self) -> usize {
        self.0.ledger()
    }
    fn variables(&self) -> Vec<Variable> {
        System::variables(self.0)
    }
    fn rates<T: Real>(&self, mode: &Mode, t: T, y: &[T], out: &mut [T]) {
        self.0.rates(mode, t, y, out);
    }
    fn frozen(&self, mode: &Mode, i: usize) -> bool {
        self.0.frozen(mode, i)
    }
    fn scales(&self, t: f64, y: &[f64], out: &mut [f64]) {
        self.0.scales(t, y, out);
    }
    fn bends(&self, mode: &Mode) -> [Option<(usize, f64)>; 3] {
        self.0.bends(mode)
    }
    fn fold(&self, mode: &Mode, t: f64, y: &[f64]) -> f64 {
        self.0.fold(mode, t, y)
    }
    fn guard_count(&self, mode: &Mode) -> usize {
        System::guard_count(self.0, mode)
    }
    fn guards(&self, mode: &Mode, t: f64, y: &[f64], out: &mut [f64]) {
        self.0.guards(mode, t, y, out);
    }
    fn transition(&self, mode: &Mode, t: f64, y: &mut [f64], fired: usize) -> Transition<Mode> {
        self.0.transition(mode, t, y, fired)
    }
    fn next_break(&self, t: f64) -> f64 {
        self.0.next_break(t)
    }
    fn restart_step(&self, mode: &Mode, before: f64) -> f64 {
        self.0.restart_step(mode, before)
    }
    fn enough(&self, mode: &Mode, t: f64, y: &[f64], memory: &mut Self::Memory) -> bool {
        mode.inlet == Stand::Sealed || self.check_passed(y) || self.0.enough(mode, t, y, memory)
    }
}

fn order_only(rig: &Rig, options: &Options) -> Result<Json, Error> {
    let (mode, y0) = rig.start();
    let watched = Watched(rig);
    let options = Options { keep_steps: false, ..*options };
    let run = solve(&watched, mode, y0, 0.0, rig.end_time, &options)?;
    let (order, stop) = match (watched.check_passed(&run.y_end), run.mode_end.inlet == Stand::Sealed) {
        (true, _) => (Order::CheckFirst, json!(KNOWN)),
        (false, true) => (Order::AirInletFirst, json!(KNOWN)),
        // Neither came about before the run ended.
        (false, false) => {
            let whole = sequence(rig, &options)?;
            (whole.order, json!(whole.stop))
        }
    };
    let statics = rig.statics();
    Ok(json!({
        "order": order,
        "stop": stop,
        "sequence_margin_pa": statics.sequence_margin_pa,
        "lap_margin_m": statics.lap_margin_m,
        "critical_flow_m3_s": statics.critical_flow_m3_s,
        "statics": statics,
    }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::assembly::Resolver;

    /// Leaving out what is not needed must not change what is: the same document, but for the parts left out.
    #[test]
    fn regress_answers_without_kept_steps_are_those_with_them() {
        for (name, set) in [
            ("svb-diaphragm", "zone2.initial=brimful"),
            ("svb-diaphragm", "check.load=1.2 psi"),
            ("svb-diaphragm", "shutoff2.open=false"),
            ("pvb-spring", "shutoff1.opening_time=0.1 s"),
        ] {
            let settings = Resolver::new().assembly(name).set(set).resolve().unwrap();
            for until in [Until::Rest, Until::CheckClosed] {
                let ask = |keys| SequenceQuestion.answer(&settings, &Need { keys, until }).unwrap();
                let (lean, mut whole) = (ask(&["order"]), ask(&["peak.zone1_pa_gauge"]));
                let map = whole.as_object_mut().unwrap();
                assert!(map.remove("events").is_some() && map.remove("peak").is_some());
                assert_eq!(lean, whole, "{name} {set}");
                let sums = ask(&["sequence_margin_pa", "statics.check_settles_pa"]);
                assert_eq!(sums["sequence_margin_pa"], whole["sequence_margin_pa"]);
                assert_eq!(sums["statics"], whole["statics"]);
            }
        }
    }

    /// Stopped as soon as it is known, the order is that of the whole run.
    #[test]
    fn regress_the_order_is_known_early() {
        for load in ["0.9 psi", "1.15 psi", "1.25 psi", "1.3 psi", "2.2 psi"] {
            let settings =
                Resolver::new().assembly("svb-diaphragm").set(&format!("check.load={load}")).resolve().unwrap();
            let ask = |until| SequenceQuestion.answer(&settings, &Need { keys: &["order"], until }).unwrap();
            assert_eq!(ask(Until::OrderKnown)["order"], ask(Until::Rest)["order"], "{load}");
        }
    }
}
