//! What is said about a reading, and which measurements are lost.

use super::act::Part;

/// Something to be said about a reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Note {
    /// There was no hose on any cock.
    NoGauge,
    /// The gauge's cock was shut or plugged.
    NoSignal,
    /// The gauge is on this zone (0 the line before shutoff 1, 3 the load side), which is not the one to be read.
    WrongZone(usize),
    /// The needle stood at the end of its scale.
    OffScale,
    /// The tube stood full: the value is at least this.
    AtLeast(f64),
    /// Zone 2 stood at this pressure, Pa, not at atmosphere.
    Zone2NotVented(f64),
    /// This flow, m3/s, ran through the check: the reading is that of a check held open.
    FlowThroughCheck(f64),
    /// The needle was still falling, Pa/s.
    StillFalling(f64),
    /// The needle stood, but zone 1 still lost this much, m3/s: what moves with the air inlet held it up.
    StillLoses(f64),
    /// The check passed nothing: the supply does not lift it, and what is read is the supply.
    NeverLifted(f64),
    /// The check passed nothing since the gauge was opened to zone 1: hose and gauge took from zone 1 what it held.
    NotLoaded,
    /// The check held this, Pa, when it shut; zone 1 was bled below it before it was read.
    BledBefore(f64),
    /// Zone 1 crept up by this, Pa, before the check was read: what is read is high by up to twice its friction.
    CreptUp(f64),
    /// What zone 2 holds keeps a stem's check open: it shuts between these, Pa, zone 2 falling along with zone 1 and zone 2 at
    /// atmosphere.
    KeptOpenByZone2(f64, f64),
    /// The needle was bled to this, Pa, and the air inlet stayed shut.
    DidNotOpen(f64),
    /// The needle stood still at this, Pa, with the bleed valve this far open, and the air inlet stayed shut.
    Stalled(f64, f64),
    /// The tester stopped waiting with the needle at this, Pa, falling by this, Pa/s.
    GaveUp(f64, f64),
    /// The air inlet stood open already when shutoff 1 was shut.
    StoodOpen,
    /// The pressure fell so fast, Pa/s, that the needle stood this far behind it, Pa.
    TooFast(f64, f64),
    /// The canopy was on: the opening could not be seen.
    Hidden,
    /// The air inlet opened with the bleed valve shut.
    ByItself,
    /// The air inlet opened in the check's step, because the check holds less than the air inlet opens at.
    InCheckStep,
    /// The air inlet opened in the check's step though the check holds more: something took zone 1 down.
    RanDown,
    /// The air inlet did not open fully: this share of its lift.
    PartlyOpen(f64),
    /// The tries differ by this, Pa.
    TriesDiffer(f64),
    /// 1.0 psi lies within the band.
    CannotBeTold,
    /// The sequence margin is negative, Pa: both readings may pass, and it spills all the same.
    SpillsYetPasses(f64),
    /// The sequence margin is too small, Pa, to tell whether it spills.
    MarginCannotBeTold(f64),
    /// The procedure does not read this part.
    NotRead,
}

impl Note {
    /// A stable id.
    pub fn id(&self) -> &'static str {
        match self {
            Note::NoGauge => "no-gauge",
            Note::NoSignal => "no-signal",
            Note::WrongZone(0) => "gauge-on-supply-line",
            Note::WrongZone(3) => "gauge-on-load-side",
            Note::WrongZone(_) => "gauge-on-other-zone",
            Note::OffScale => "off-scale",
            Note::AtLeast(_) => "at-least",
            Note::Zone2NotVented(_) => "zone2-not-vented",
            Note::FlowThroughCheck(_) => "flow-through-check",
            Note::StillFalling(_) => "still-falling",
            Note::StillLoses(_) => "still-loses",
            Note::NeverLifted(_) => "check-never-lifted",
            Note::NotLoaded => "check-not-loaded",
            Note::BledBefore(_) => "bled-before-reading",
            Note::CreptUp(_) => "crept-up",
            Note::KeptOpenByZone2(..) => "check-kept-open-by-zone2",
            Note::DidNotOpen(_) => "did-not-open",
            Note::Stalled(..) => "stalled",
            Note::GaveUp(..) => "gave-up",
            Note::StoodOpen => "stood-open",
            Note::TooFast(..) => "too-fast-to-read",
            Note::Hidden => "hidden-by-canopy",
            Note::ByItself => "opened-by-itself",
            Note::InCheckStep => "opened-in-check-step",
            Note::RanDown => "zone1-ran-down-in-check-step",
            Note::PartlyOpen(_) => "partly-open",
            Note::TriesDiffer(_) => "tries-differ",
            Note::CannotBeTold => "cannot-be-told-from-limit",
            Note::SpillsYetPasses(_) => "passes-yet-spills",
            Note::MarginCannotBeTold(_) => "margin-cannot-be-told",
            Note::NotRead => "not-read",
        }
    }
}

/// A measurement that was lost, and why.
#[derive(Debug, Clone, PartialEq)]
pub struct Lost {
    /// Which.
    pub part: Part,
    /// Why.
    pub why: Note,
}
