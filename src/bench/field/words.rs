//! A field test in plain words.

use super::act::{Act, Part};
use super::judge::{Kind, NOTHING, Outcome, PASS};
use super::note::{Lost, Note};
use super::procedure::Procedure;
use super::{FieldTest, Point, Reading, Single};
use crate::units::{Kind as Unit, System, format};

fn pa(value: f64, system: System) -> String {
    format(Unit::PressureDifference, value, system)
}

/// A recorded value: one decimal in psi, as it goes on a form.
fn recorded(value: f64, resolution: f64, system: System) -> String {
    match system {
        System::Us => {
            let decimals = if resolution < 600.0 { 2 } else { 1 };
            format!("{:.decimals$} psi", value / 6_894.757_293_168_361)
        }
        System::Si => pa(value, system),
    }
}

/// Whether the check's water ran away: what is read is not what it held at.
fn leaked(r: &Reading) -> bool {
    let nothing = r.recorded_pa.is_some_and(|v| v < NOTHING);
    r.part == Part::Check
        && (nothing || r.notes.iter().any(|n| matches!(n, Note::StillLoses(_) | Note::StillFalling(_))))
}

impl Note {
    /// The note in words.
    pub fn words(&self, part: Part, system: System) -> String {
        let flow = |q| format(Unit::VolumeFlow, q, system);
        match self {
            Note::NoGauge => "there is no test cock to put a gauge on".to_owned(),
            Note::NoSignal => {
                "nothing comes through the test cock, shut or plugged: the gauge is dead and says nothing of the \
                               part; open it and flush it until it runs"
                    .to_owned()
            }
            Note::WrongZone(0) => {
                "the cock taps the line before shutoff 1 (a tapped shutoff the wrong way round): the gauge \
                                   shows the supply, whatever the assembly does"
                    .to_owned()
            }
            Note::WrongZone(3) => {
                "the cock taps the piping beyond shutoff 2 (a tapped shutoff the wrong way round): bleeding \
                                   it does nothing to zone 2"
                    .to_owned()
            }
            Note::WrongZone(k) => format!("the gauge is on zone {k}, which is not what this reading asks for"),
            Note::OffScale => "the needle stood at the end of its scale".to_owned(),
            Note::AtLeast(v) => format!("the tube stood full: the value is at least {}", pa(*v, system)),
            Note::Zone2NotVented(p) => {
                let stands = format(Unit::GaugePressure, *p, system);
                let means = match part {
                    Part::Check => "the gauge reads against atmosphere, so that much is not the check's",
                    Part::AirInlet => "it helps to hold the air inlet shut, so this is not its opening pressure",
                };
                format!("zone 2 stood at {stands} and not at atmosphere: {means}")
            }
            Note::FlowThroughCheck(q) => format!(
                "{} still runs through the check and out of the open cock or screw: this is a check held open by flow, not \
                 one that holds; not testable while it runs (shutoff 1 leaks: compensate with the bleed valve, or repair it)",
                flow(*q)
            ),
            Note::StillFalling(rate) if *rate < 0.0 => "the needle had not come to rest".to_owned(),
            Note::StillFalling(rate) => {
                format!("the needle was still falling, by {} a second: it does not hold", pa(*rate, system))
            }
            Note::StillLoses(q) => format!(
                "{} still ran out of zone 1, through the check, a tear or a fitting, with shutoff 1 feeding none of it: the \
                 air inlet, on its way open, held the needle up, not the check; a check that holds lets nothing through",
                flow(*q)
            ),
            Note::NeverLifted(p) => format!(
                "the check passed nothing, {} does not lift it: this is the supply, not what the check holds; test it with \
                 more supply pressure",
                format(Unit::GaugePressure, *p, system)
            ),
            Note::NotLoaded => {
                "the check passed nothing since the gauge was opened to zone 1: hose and gauge took what zone 1 \
                                held, and this is what they left; open shutoff 1 again, shut it, then vent zone 2"
                    .to_owned()
            }
            Note::BledBefore(held) => format!(
                "zone 1 was bled down before the check was read: it held {} when it shut, and this is where the bleed valve \
                 left it; read the check before zone 1 is bled",
                pa(*held, system)
            ),
            Note::CreptUp(rose) => format!(
                "zone 1 crept up by {} before it was read, fed through shutoff 1: coming from below, friction helps the check, \
                 and the reading may stand higher than what it holds when it shuts by twice that friction; bleed zone 1 until \
                 the check passes water and read it as the needle comes down",
                pa(*rose, system)
            ),
            Note::KeptOpenByZone2(least, settles) => format!(
                "what zone 2 still holds keeps a stem's check open: it shuts at {} with zone 2 at atmosphere, at {} where zone 2 \
                 falls along with zone 1, and between them by how fast zone 2 is vented",
                pa(*settles, system),
                pa(*least, system)
            ),
            Note::StoodOpen => {
                "the air inlet stood open already when shutoff 1 was shut: the supply does not shut it, so there is no \
                 opening to read"
                    .to_owned()
            }
            Note::TooFast(rate, lag) => format!(
                "the pressure fell by {} a second by then, and the needle stood {} behind it: it cannot be read, whatever the \
                 air inlet opens at",
                pa(*rate, system),
                pa(*lag, system)
            ),
            Note::DidNotOpen(left) => format!("bled down to {} and the air inlet did not open", pa(*left, system)),
            Note::Stalled(at, open) => {
                let valve = if *open > 0.9 { "wide open" } else { "open" };
                format!(
                    "the needle stands still at {} with the bleed valve {valve}: as much runs in (shutoff 1 leaks) as the \
                     bleed lets out",
                    pa(*at, system)
                )
            }
            Note::GaveUp(at, rate) => format!(
                "the needle stood at {} and fell by {} a second when the tester stopped waiting: it was not bled down to the \
                 opening; wait longer, or bleed faster while it is high",
                pa(*at, system),
                pa(rate.max(0.0), system)
            ),
            Note::Hidden => "the canopy was on: the opening could not be seen".to_owned(),
            Note::ByItself => "the air inlet opened with the bleed valve shut".to_owned(),
            Note::InCheckStep => {
                "the air inlet opened in the check's step already, by itself: the check holds less than the \
                                  air inlet opens at"
                    .to_owned()
            }
            Note::RanDown => {
                "the air inlet opened in the check's step already: zone 1 had come down to it before the check \
                              was read (a leak of check, diaphragm or hose, or what a tube takes)"
                    .to_owned()
            }
            Note::PartlyOpen(share) => {
                format!("the air inlet did not open fully: {:.0} % of its lift", (100.0 * share).min(99.0))
            }
            Note::TriesDiffer(spread) => {
                format!("the tries differ by {}: something sticks, report the spread", pa(*spread, system))
            }
            Note::CannotBeTold => {
                "the gauge may be off by as much as the reading differs from 1.0 psi: whether the true value passes cannot be \
                 told"
                    .to_owned()
            }
            Note::SpillsYetPasses(margin) => format!(
                "the sequence margin is {}: the check lifts before the air inlet has shut, so it spills at a start even where \
                 both readings pass",
                pa(*margin, system)
            ),
            Note::MarginCannotBeTold(margin) => format!(
                "the sequence margin is {}, too little to tell: whether it spills at a start cannot be told",
                pa(*margin, system)
            ),
            Note::NotRead => "the procedure does not read it".to_owned(),
        }
    }
}

impl Lost {
    /// What was lost and why, as a sentence.
    pub fn words(&self, system: System) -> String {
        format!("The {} reading is lost: {}.", self.part.name(), self.why.words(self.part, system))
    }
}

/// One line that says what came of it.
pub fn headline(test: &FieldTest, system: System) -> String {
    let lost = |r: &Reading| test.lost.iter().any(|l| l.part == r.part);
    let said = test.readings.iter().map(|r| match (r.kind, lost(r)) {
        (Kind::Read, true) => format!("{} (lost)", lost_words(r, system)),
        _ => format!("{}{}", reading_words(r, system), later(r, system)),
    });
    let said = said.collect::<Vec<_>>().join(", ");
    let result = match test.outcome {
        Outcome::Pass => "Passes",
        Outcome::Fail => "Fails",
        Outcome::NotTestable => "Not testable",
    };
    let open = match (test.outcome, test.air_inlet_fully_open) {
        (Outcome::NotTestable, _) => "",
        (_, Some(true)) => ", fully open",
        (_, Some(false)) => ", not fully open",
        (_, None) => ", fully open not seen",
    };
    format!("{result}: {said}{open}")
}

/// A number that says nothing of the part.
fn lost_words(r: &Reading, system: System) -> String {
    let value = r.recorded_pa.map_or_else(|| "nothing".to_owned(), |v| recorded(v, r.resolution_pa, system));
    format!("{} read {value}", r.part.name())
}

/// The try that fails where the first does not.
fn later(r: &Reading, system: System) -> String {
    let low = |s: &Single| !s.recorded_pa.is_some_and(|v| v >= PASS - 1e-3);
    if r.pass || r.tries.first().is_none_or(low) {
        return String::new();
    }
    let Some((k, s)) = r.tries.iter().enumerate().find(|(_, s)| low(s)) else { return String::new() };
    let value = s.recorded_pa.map_or_else(|| "did not open".to_owned(), |v| recorded(v, r.resolution_pa, system));
    format!(" ({value} in try {})", k + 1)
}

fn reading_words(r: &Reading, system: System) -> String {
    let name = r.part.name();
    let more = if r.notes.iter().any(|n| matches!(n, Note::AtLeast(_))) { " or more" } else { "" };
    match (r.kind, r.recorded_pa, r.part) {
        (Kind::Read, Some(v), Part::Check) if leaked(r) => {
            format!("{name} leaked, read {}", recorded(v, r.resolution_pa, system))
        }
        (Kind::Read, Some(v), Part::Check) => format!("{name} held at {}{more}", recorded(v, r.resolution_pa, system)),
        (Kind::Read, Some(v), Part::AirInlet) => {
            format!("{name} opened at {}{more}", recorded(v, r.resolution_pa, system))
        }
        (Kind::StoodOpen, ..) => format!("{name} stood open"),
        (Kind::OverRange, ..) => format!("{name}: pressure never came into the scale"),
        (Kind::NoSignal, ..) => format!("{name}: no signal"),
        (Kind::GaveUp, ..) => format!("{name} not bled down, left at {}", pa(r.left_at_pa, system)),
        (Kind::Stalled, ..) => format!("{name}: the needle stalled at {}", pa(r.left_at_pa, system)),
        (Kind::NoGauge, ..) => format!("{name}: no gauge"),
        _ => format!("{name} did not open"),
    }
}

/// The acts one by one: when, what, and what is seen.
pub fn story(test: &FieldTest, procedure: &Procedure, system: System) -> Vec<String> {
    let Some(first) = test.tries.first() else { return Vec::new() };
    let mut all = Vec::new();
    for (i, mark) in first.marks.iter().enumerate() {
        let Some(act) = procedure.acts.get(mark.act) else { continue };
        let end = first.marks.get(i + 1).map_or(f64::INFINITY, |m| m.t_s);
        // What it was to wait for had been seen already.
        let at_once = end - mark.t_s < 1e-9 && matches!(act, Act::Bleed { .. } | Act::Wait { .. } | Act::Compensate);
        if at_once {
            continue;
        }
        let last = first.trace.iter().rev().find(|p| p.t_s <= end + 1e-9);
        if let Some(sentence) = sentence(act, mark.t_s, last, test, system) {
            let happened = happenings(test, mark.act, system);
            all.push(format!("{sentence}{happened}"));
        }
    }
    all.extend(first.remarks.iter().cloned());
    all
}

fn sentence(act: &Act, t: f64, last: Option<&Point>, test: &FieldTest, system: System) -> Option<String> {
    let needle = last.map_or_else(|| "nothing".to_owned(), |p| pa(p.shown_pa, system));
    let at = format!("At {t:.1} s");
    Some(match act {
        Act::Canopy { on: false } => format!("{at} the canopy comes off: the air inlet can be seen."),
        Act::Canopy { on: true } => format!("{at} the canopy goes on: the air inlet cannot be seen."),
        Act::Attach { cock } => format!("{at} the hose goes on test cock {cock}, bled to water."),
        Act::Detach => format!("{at} the hose comes off."),
        Act::Wait { until, .. } if *until == super::Sign::default() => return None,
        Act::Wait { .. } => format!("{at} the tester waits; the needle ends at {needle}."),
        Act::Bleed { .. } => format!("{at} the bleed valve is opened ({}); the needle comes to {needle}.", act.words()),
        Act::Compensate => {
            format!("{at} the bleed valve is opened until the cock stops running; the needle shows {needle}.")
        }
        Act::CloseBleed => format!("{at} the bleed valve is shut."),
        Act::Read { part, .. } => {
            let reading = test.reading(*part)?;
            match (reading.reading_pa, reading.kind) {
                (Some(v), Kind::Read) => format!("{at} the {} is read: {}.", part.name(), pa(v, system)),
                _ => format!("{at} there is nothing to read for the {}.", part.name()),
            }
        }
        _ => format!("{at}: {}.", act.words()),
    })
}

fn happenings(test: &FieldTest, act: usize, _system: System) -> String {
    use crate::rig::{Part as RigPart, What};
    let Some(first) = test.tries.first() else { return String::new() };
    let mut said = String::new();
    for h in first.happenings.iter().filter(|h| h.act == act && h.part == RigPart::AirInlet) {
        let what = match h.what {
            What::StartsToOpen => "starts to open",
            What::FullyOpen => "is fully open",
            What::StartsToClose => continue,
            What::Closed => "is shut again",
        };
        let unseen = if h.hidden { ", unseen under the canopy" } else { "" };
        said.push_str(&format!(" The air inlet {what} at {:.1} s{unseen}.", h.t_s));
    }
    said
}

/// What goes on record, in our own words; never called a test report.
pub fn record(test: &FieldTest, system: System) -> Vec<(&'static str, String)> {
    let mut rows = Vec::new();
    for r in &test.readings {
        let enough = r.tries.iter().all(|s| s.recorded_pa.is_some_and(|v| v >= PASS - 1e-3));
        let lost = test.lost.iter().any(|l| l.part == r.part);
        let verdict = match (lost, r.pass) {
            (true, _) => "does not count, see below",
            (_, true) => "at least 1.0 psi",
            (_, false) if enough => "does not hold, see below",
            (_, false) => "below 1.0 psi",
        };
        let band = r.band_pa.map_or(String::new(), |[low, high]| {
            let doubt = if r.doubtful { ": cannot be told from 1.0" } else { "" };
            format!("; with the instrument's class {} to {}{doubt}", pa(low, system), pa(high, system))
        });
        let words = if lost && r.kind == Kind::Read { lost_words(r, system) } else { reading_words(r, system) };
        rows.push((r.part.name(), format!("{words} ({verdict}{band})")));
        let tries: Vec<String> = r
            .tries
            .iter()
            .map(|s| s.recorded_pa.map_or_else(|| "did not open".to_owned(), |v| recorded(v, r.resolution_pa, system)))
            .collect();
        if tries.len() > 1 {
            rows.push(("", format!("tries: {}; true values spread by {}", tries.join(", "), pa(r.spread_pa, system))));
        }
    }
    let open = match test.air_inlet_fully_open {
        Some(true) => "yes",
        Some(false) => "no",
        None => "could not be seen",
    };
    rows.push(("air inlet fully open", open.to_owned()));
    rows
}
