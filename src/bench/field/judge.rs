//! What the readings mean: obtained is not the same as meant.
//!
//! A reading means what a form asks only if the gauge is on the right zone, zone 2 is at atmosphere where it must be,
//! nothing flows through the part, and the event was seen. What fails this is *lost* (not testable); what is a result of
//! its own ("did not open") is not.

use super::act::Part;
use super::log::{Happening, Work};
use super::note::{Lost, Note};
use super::procedure::Procedure;
use super::reading::{Single, single};
use super::setup::Setup;
use super::stand::LOSES;
use super::tester::DRIP;
use super::{FieldTest, Observed, Reading, Try};
use crate::parts::Instrument;
use crate::rig::{Balance, Layout, Part as RigPart, Rig, SpeciesBalance, Statics, What, ledger};
use serde::Serialize;

/// What check and air inlet are tested for, Pa: 1.0 psi. Source: a state manual of field tests.
pub const PASS: f64 = 6_894.757_293_168_361;
/// Zone 2 counts as vented below this, Pa (0.05 psi).
const VENTED: f64 = 345.0;
/// A needle left below this, Pa (0.1 psi), has been bled to nothing.
const NOTHING: f64 = 689.0;
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
const LOOKS_OPEN: f64 = 0.99;

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
            let holds = s.steady && (s.part == Part::AirInlet || s.loses_m3_s <= LOSES);
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
        (_, Some(_)) => Kind::Read,
        (_, None) if s.stood_open => Kind::StoodOpen,
        (_, None) if s.off_scale && !tube => Kind::OverRange,
        (_, None) if s.left_at_pa > NOTHING => Kind::Stalled,
        _ => Kind::DidNotOpen,
    }
}

/// Why a reading does not mean what the form asks.
fn reasons(rig: &Rig, statics: &Statics, s: &Single, kind: Kind, tube: bool) -> Vec<Note> {
    let mut all = Vec::new();
    let Some(zone) = s.gauge_zone else { return vec![Note::NoGauge] };
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
    let weak_supply = s.zones_pa_gauge[0] < LIFTS_SURELY * statics.check_lifts_pa;
    if s.part == Part::Check && weak_supply && s.check_passed_m3 < NOTHING_PASSED && all.is_empty() {
        all.push(Note::NeverLifted(s.zones_pa_gauge[1]));
    }
    if s.part == Part::AirInlet && s.stood_open {
        all.push(Note::StoodOpen);
    }
    match kind {
        Kind::Stalled => all.push(Note::Stalled(s.left_at_pa, s.bleed_opening)),
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
        } else if !s.steady {
            notes.push(Note::StillFalling(s.rate_pa_s));
        }
    }
    let [least, settles] = [statics.check_settles_least_pa, statics.check_settles_pa];
    if s.part == Part::Check && least < settles && s.true_pa.is_some_and(|p| p > NOTHING && p < settles - VENTED) {
        notes.push(Note::KeptOpenByZone2(least, settles));
    }
    if s.part == Part::AirInlet && kind == Kind::Read {
        if observed.opened_in_check_step {
            notes.push(Note::InCheckStep(s.zones_pa_gauge[1]));
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

fn is(h: &Happening, part: RigPart, what: What) -> bool {
    h.part == part && h.what == what
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

fn empty() -> Observed {
    Observed {
        opened_in_check_step: false,
        opened_by_itself: false,
        inlet_lift_share: 0.0,
        full_open_s: None,
        full_open_m3: None,
        cock_flow_m3_s: None,
        check_fall_pa_s: None,
        check_fell_pa: None,
        zone2_vented_s: None,
        dribble_m3: 0.0,
        gauge_peak_pa: 0.0,
    }
}

fn observe(rig: &Rig, work: &Work, singles: &[Single]) -> Observed {
    let opened = work.happenings.iter().find(|h| is(h, RigPart::AirInlet, What::StartsToOpen));
    let check = singles.iter().find(|s| s.part == Part::Check);
    let highest = |get: fn(&super::Point) -> f64, from: f64| {
        work.trace.iter().filter(|p| p.t_s >= from).map(get).fold(0.0, f64::max)
    };
    // Where zone 1 shuts the air inlet and the check is read first, an opening before that is a weak check's.
    let first = singles.first().is_some_and(|s| s.part == Part::Check);
    let in_check_step = match (check, opened) {
        (Some(c), Some(o)) => rig.shutting_zone() == 1 && first && o.t_s < c.t_s,
        _ => false,
    };
    let spilled = Layout::of(rig).dim() + super::stand::STATES + ledger::SPILLED;
    let until = opened.map(|o| &o.y).or(work.takes.last().map(|t| &t.read.1));
    let dribbled = until.and_then(|y| y.get(spilled)).copied().unwrap_or(0.0);
    Observed {
        opened_in_check_step: in_check_step,
        opened_by_itself: opened.is_some_and(|o| !o.bleeding),
        inlet_lift_share: opened.map_or(0.0, |o| highest(|p| p.air_inlet_travel_m, o.t_s) / rig.inlet.poppet.lift),
        full_open_s: work.lifted.map(|l| l.1),
        full_open_m3: work.lifted.map(|l| l.0),
        cock_flow_m3_s: check.map(|c| c.cock_flow_m3_s),
        check_fall_pa_s: check.map(|c| c.rate_pa_s),
        check_fell_pa: work.settled_pa.zip(check).map(|(from, c)| from - c.left_at_pa),
        zone2_vented_s: work.vented_s,
        dribble_m3: dribbled.max(0.0) / rig.fluid.density,
        gauge_peak_pa: highest(|p| p.gauge_pa, 0.0),
    }
}

/// What stays of a try, with its balance.
fn kept(work: Work) -> Try {
    let stand = &work.stand;
    let n = stand.base();
    let stored = |y: &[f64]| {
        let (water, air) = stand.rig.stored(y);
        let (in_gauge, air_in_gauge) = stand.gauge.zone.weigh(&stand.rig.fluid, y[n], y[n + 1], 0.0);
        (water + in_gauge, air + air_in_gauge)
    };
    let ((w0, a0), (w1, a1)) = (stored(&work.start), stored(&work.end));
    let entry = |k: usize| work.end[n + super::stand::STATES + k];
    let balance = Balance {
        water: SpeciesBalance {
            in_kg: entry(ledger::WATER_IN),
            out_kg: entry(ledger::WATER_OUT),
            spilled_kg: entry(ledger::SPILLED),
            stored_start_kg: w0,
            stored_end_kg: w1,
        },
        air: SpeciesBalance {
            in_kg: entry(ledger::AIR_IN),
            out_kg: entry(ledger::AIR_OUT),
            spilled_kg: entry(ledger::AIR_VENTED),
            stored_start_kg: a0,
            stored_end_kg: a1,
        },
    };
    Try {
        trace: work.trace,
        marks: work.marks,
        happenings: work.happenings,
        remarks: work.remarks,
        balance,
        stats: work.stats,
    }
}
