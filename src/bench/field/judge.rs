//! What the readings mean: obtained is not the same as meant.
//!
//! A reading means what a form asks only if the gauge is on the right zone, zone 2 is at atmosphere where it must be,
//! nothing flows through the part, and the event was seen. What fails this is *lost* (not testable); what is a result of
//! its own ("did not open") is not.

use super::act::Part;
use super::log::Work;
use super::note::{Lost, Note};
use super::observed::{empty, is, kept, observe};
use super::procedure::Procedure;
use super::reading::{Single, single};
use super::setup::Setup;
use super::stand::LOSES;
use super::tester::DRIP;
use super::{FieldTest, Observed, Reading};
use crate::parts::Instrument;
use crate::rig::{Part as RigPart, Rig, Statics, What};
use serde::Serialize;

/// What check and air inlet are tested for, Pa: 1.0 psi. Source: a state manual of field tests.
pub const PASS: f64 = 6_894.757_293_168_361;
/// Zone 2 counts as vented below this, Pa (0.05 psi).
const VENTED: f64 = 345.0;
/// A needle left below this, Pa (0.1 psi), has been bled to nothing.
pub(super) const NOTHING: f64 = 689.0;
/// Spread of the tries, Pa (0.1 psi), from which they are said to differ.
const DIFFER: f64 = 689.0;
/// Negative margins smaller than this, Pa (0.1 psi), cannot be told from none.
const MARGIN_DOUBT: f64 = 689.475_729;
/// A needle that falls more slowly than this, Pa/s (0.01 psi), seems to stand.
const FALLS: f64 = 69.0;
/// Water, m3 (a fiftieth of a drop), below which nothing has passed a check.
const NOTHING_PASSED: f64 = 1e-9;
/// Over what lifts a check on average; friction is drawn anew for each try.
const LIFTS_SURELY: f64 = 1.2;
/// Share of the lift from which an air inlet that has not met its stop still looks fully open.
pub(super) const LOOKS_OPEN: f64 = 0.99;
/// Water, m3/s (a drop in eight minutes), from which a shutoff counts as feeding zone 1.
const FEEDS: f64 = 1e-10;
/// Rise of zone 1, Pa (0.05 psi), from which it has crept up.
const CREPT: f64 = 345.0;

/// What came of a reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// A value was read.
    Read,
    /// Bled to nothing, and the air inlet did not open.
    DidNotOpen,
    /// The air inlet was never shut.
    StoodOpen,
    /// The needle stands still above nothing and the air inlet does not open.
    Stalled,
    /// The tester stopped waiting while the needle still fell.
    GaveUp,
    /// The gauge was cut off from the assembly: its cock shut or plugged.
    NoSignal,
    /// The pressure never came into the scale.
    OverRange,
    /// No gauge was on the assembly.
    NoGauge,
}

/// Result of a test.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Outcome {
    /// Both readings at least 1.0 psi and the air inlet fully open.
    Pass,
    /// A reading that means what it should is too low, or the air inlet did not open fully.
    Fail,
    /// What could be read is no ground for either.
    NotTestable,
}

/// Puts the tries together.
pub(super) fn test(rig: &Rig, setup: &Setup, procedure: &Procedure, works: Vec<Work>) -> FieldTest {
    let statics = rig.statics();
    let tube = procedure.instrument == Instrument::Tube;
    let class = if tube { setup.tube.class } else { setup.gauge.class };
    let singles: Vec<Vec<Single>> = works.iter().map(|w| w.takes.iter().map(single).collect()).collect();
    let observed = works.first().zip(singles.first()).map_or_else(empty, |(w, s)| observe(rig, w, s));
    let mut lost = Vec::new();
    let mut readings = Vec::new();
    let count = singles.first().map_or(0, Vec::len);
    for i in 0..count {
        let tries: Vec<Single> = singles.iter().filter_map(|s| s.get(i).cloned()).collect();
        let Some(first) = tries.first() else { continue };
        let kind = kind(first, tube);
        let mut notes = Vec::new();
        for note in reasons(rig, &statics, first, kind, tube) {
            lost.push(Lost { part: first.part, why: note });
            notes.push(note);
        }
        remarks(first, kind, tube, &statics, &observed, &mut notes);
        let values: Vec<f64> = tries.iter().map(|s| s.true_pa.unwrap_or(0.0)).collect();
        let spread = values.iter().fold(f64::MIN, |m, v| m.max(*v)) - values.iter().fold(f64::MAX, |m, v| m.min(*v));
        if spread >= DIFFER {
            notes.push(Note::TriesDiffer(spread));
        }
        let band = first.reading_pa.map(|r| [r - class, r + class]);
        let doubtful = band.is_some_and(|[low, high]| low < PASS && high >= PASS) && !tube;
        if doubtful {
            notes.push(Note::CannotBeTold);
        }
        let enough = |s: &Single| {
            let holds = (s.steady || rises(s)) && (s.part == Part::AirInlet || s.loses_m3_s <= LOSES);
            s.recorded_pa.is_some_and(|r| r >= PASS - 1e-3) && (holds || s.off_scale)
        };
        readings.push(Reading {
            part: first.part,
            true_pa: first.true_pa,
            reading_pa: first.reading_pa,
            recorded_pa: first.recorded_pa,
            band_pa: band,
            left_at_pa: first.left_at_pa,
            resolution_pa: if tube { setup.tube.resolution } else { setup.gauge.resolution },
            kind,
            pass: tries.iter().all(enough),
            doubtful,
            spread_pa: spread,
            notes,
            tries,
        });
    }
    let fully_open = fully_open(&works, &readings, &observed);
    finish(rig, &statics, &observed, fully_open, &mut readings, &mut lost);
    let failed = |r: &Reading| !r.pass && !lost.iter().any(|l| l.part == r.part);
    let hidden = lost.iter().any(|l| l.part == Part::AirInlet);
    let outcome = if readings.iter().any(failed) || (fully_open == Some(false) && !hidden) {
        Outcome::Fail
    } else if !lost.is_empty() || fully_open.is_none() {
        Outcome::NotTestable
    } else {
        Outcome::Pass
    };
    FieldTest {
        procedure: procedure.name.clone(),
        title: procedure.title.clone(),
        readings,
        air_inlet_fully_open: fully_open,
        outcome,
        lost,
        observed,
        statics,
        tolerance: 0.0,
        tries: works.into_iter().map(kept).collect(),
    }
}

fn kind(s: &Single, tube: bool) -> Kind {
    match (s.gauge_zone, s.true_pa) {
        (None, _) => Kind::NoGauge,
        _ if s.no_signal => Kind::NoSignal,
        (_, Some(_)) => Kind::Read,
        (_, None) if s.stood_open => Kind::StoodOpen,
        (_, None) if s.off_scale && !tube => Kind::OverRange,
        (_, None) if s.left_at_pa > NOTHING && s.fed_m3_s > FEEDS && s.rate_pa_s < FALLS => Kind::Stalled,
        (_, None) if s.left_at_pa > NOTHING => Kind::GaveUp,
        _ => Kind::DidNotOpen,
    }
}

/// A needle that shutoff 1 feeds and that still rises hides no loss.
fn rises(s: &Single) -> bool {
    s.rate_pa_s < 0.0 && s.fed_m3_s > FEEDS
}

/// Why a reading does not mean what the form asks.
fn reasons(rig: &Rig, statics: &Statics, s: &Single, kind: Kind, tube: bool) -> Vec<Note> {
    let mut all = Vec::new();
    let Some(zone) = s.gauge_zone else { return vec![Note::NoGauge] };
    if kind == Kind::NoSignal {
        return vec![Note::NoSignal];
    }
    let wanted = if s.part == Part::Check { 1 } else { rig.shutting_zone() };
    if zone != wanted {
        all.push(Note::WrongZone(zone));
    }
    if s.off_scale && !tube && all.is_empty() {
        all.push(Note::OffScale);
    }
    let zone2 = s.zone2_at_reading_pa_gauge;
    // Where zone 1 shuts the air inlet, what stands in zone 2 helps it shut.
    let matters = s.part == Part::Check || (wanted == 1 && rig.inlet.zone2_area > 0.0) || rig.stem.is_some();
    if matters && !(zone2.abs() < VENTED) {
        all.push(Note::Zone2NotVented(zone2));
    }
    if s.part == Part::Check && s.check_flow_m3_s > 2.0 * DRIP {
        all.push(Note::FlowThroughCheck(s.check_flow_m3_s));
    }
    // What opened while zone 2 still helped to hold it shut says that much too little.
    let lifted = rig.inlet.zone1_area + rig.stem.as_ref().map_or(0.0, |_| rig.check.seat_area());
    let helped = |p: &f64| p * rig.inlet.zone2_area / lifted >= DIFFER;
    if let (Part::AirInlet, 1, Some(p)) = (s.part, wanted, s.zone2_earlier_pa_gauge.filter(helped))
        && all.is_empty()
    {
        all.push(Note::Zone2NotVented(p));
    }
    let weak_supply = s.zones_pa_gauge[0] < LIFTS_SURELY * statics.check_lifts_pa;
    if s.part == Part::Check && all.is_empty() {
        match s.held_before_pa {
            _ if s.check_passed_m3 < NOTHING_PASSED && weak_supply => all.push(Note::NeverLifted(s.zones_pa_gauge[1])),
            Some(before) => all.push(Note::BledBefore(before)),
            None if s.check_passed_m3 < NOTHING_PASSED && s.opened_late && !s.off_scale => all.push(Note::NotLoaded),
            None => {}
        }
    }
    if s.part == Part::AirInlet && s.stood_open {
        all.push(Note::StoodOpen);
    }
    match kind {
        Kind::Stalled => all.push(Note::Stalled(s.left_at_pa, s.bleed_opening)),
        Kind::GaveUp => all.push(Note::GaveUp(s.left_at_pa, s.rate_pa_s)),
        Kind::Read if s.hidden => all.push(Note::Hidden),
        // So far behind, the needle shows a pass whatever the part does.
        Kind::Read if s.part == Part::AirInlet && s.lag_pa >= PASS => all.push(Note::TooFast(s.rate_pa_s, s.lag_pa)),
        _ => {}
    }
    all
}

/// What is worth saying about a reading that counts.
fn remarks(s: &Single, kind: Kind, tube: bool, statics: &Statics, observed: &Observed, notes: &mut Vec<Note>) {
    if kind == Kind::DidNotOpen {
        notes.push(Note::DidNotOpen(s.left_at_pa));
    }
    if let (true, true, Some(shown)) = (tube, s.off_scale, s.reading_pa) {
        notes.push(Note::AtLeast(shown));
    }
    if s.part == Part::Check && !s.off_scale {
        if s.loses_m3_s > LOSES && s.rate_pa_s < FALLS {
            notes.push(Note::StillLoses(s.loses_m3_s));
        } else if !s.steady && !rises(s) {
            notes.push(Note::StillFalling(s.rate_pa_s));
        }
        let still = s.check_flow_m3_s <= 2.0 * DRIP && s.held_before_pa.is_none();
        if kind == Kind::Read && still && s.fed_m3_s > FEEDS && s.crept_up_pa > CREPT {
            notes.push(Note::CreptUp(s.crept_up_pa));
        }
    }
    let [least, settles] = [statics.check_settles_least_pa, statics.check_settles_pa];
    if s.part == Part::Check && least < settles && s.true_pa.is_some_and(|p| p > NOTHING && p < settles - VENTED) {
        notes.push(Note::KeptOpenByZone2(least, settles));
    }
    if s.part == Part::AirInlet && kind == Kind::Read {
        if observed.opened_in_check_step {
            let weaker = statics.inlet_opens_pa_gauge.is_some_and(|opens| settles < opens);
            notes.push(if weaker { Note::InCheckStep } else { Note::RanDown });
        } else if s.by_itself {
            notes.push(Note::ByItself);
        }
    }
}

/// Whether the air inlet was seen to open fully in every try.
fn fully_open(works: &[Work], readings: &[Reading], observed: &Observed) -> Option<bool> {
    let inlet = readings.iter().find(|r| r.part == Part::AirInlet)?;
    if inlet.tries.iter().any(|s| s.true_pa.is_some() && s.hidden) {
        return None;
    }
    let full = |w: &Work| w.happenings.iter().any(|h| is(h, RigPart::AirInlet, What::FullyOpen));
    Some(
        (works.iter().all(full) || observed.inlet_lift_share >= LOOKS_OPEN)
            && inlet.tries.iter().all(|s| s.true_pa.is_some()),
    )
}

fn finish(
    rig: &Rig,
    statics: &Statics,
    observed: &Observed,
    fully_open: Option<bool>,
    readings: &mut [Reading],
    lost: &mut Vec<Lost>,
) {
    for part in [Part::Check, Part::AirInlet] {
        if !readings.iter().any(|r| r.part == part) {
            lost.push(Lost { part, why: Note::NotRead });
        }
    }
    for reading in readings.iter_mut() {
        if reading.part == Part::AirInlet && reading.true_pa.is_some() && fully_open == Some(false) {
            reading.notes.push(Note::PartlyOpen(observed.inlet_lift_share));
        }
        if let (Part::Check, 1, None, Some(margin)) =
            (reading.part, rig.shutting_zone(), &rig.stem, statics.sequence_margin_pa)
            && margin < 0.0
        {
            let doubt = margin > -MARGIN_DOUBT;
            reading.notes.push(if doubt { Note::MarginCannotBeTold(margin) } else { Note::SpillsYetPasses(margin) });
        }
    }
}
