//! What a tester does, as data.

use serde::Serialize;

/// The two parts that a field test reads.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Part {
    /// The check: holds a pressure in the direction of flow.
    Check,
    /// The air inlet: starts to open as pressure falls.
    AirInlet,
}

impl Part {
    /// 0 for the check, 1 for the air inlet.
    pub fn index(self) -> usize {
        match self {
            Part::Check => 0,
            Part::AirInlet => 1,
        }
    }

    /// Name in plain words.
    pub fn name(self) -> &'static str {
        match self {
            Part::Check => "check",
            Part::AirInlet => "air inlet",
        }
    }
}

/// How fast the bleed valve lets pressure or water out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Pace {
    /// At a crawl: `hand.bleed_rate`.
    Slow,
    /// Briskly, while the needle is far from where anything happens: `hand.quick_rate`.
    Quick,
    /// A thin stream, by eye, while the needle is off the scale: `hand.vent_flow`.
    Vent,
    /// A stream that lets the air inlet rise: `hand.lift_flow`.
    Lift,
    /// At this fall of the needle, Pa/s.
    Fall(f64),
    /// At this flow, m3/s.
    Flow(f64),
}

/// What a tester waits for.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Sign {
    /// The needle has fallen to this, Pa.
    pub needle: Option<f64>,
    /// The air inlet is seen to open.
    pub opens: bool,
    /// The air inlet is seen to be fully open.
    pub fully_open: bool,
    /// The needle stands still.
    pub steady: bool,
    /// So does everything else: nothing runs out of zone 1 but what a leaking shutoff feeds it.
    pub at_rest: bool,
}

/// The moment at which a reading is taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Moment {
    /// When the air inlet starts to open.
    Opening,
    /// As the needle stands now.
    Held,
}

/// One thing done.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Act {
    /// Takes the canopy off, or puts it on.
    Canopy {
        /// Whether it is on afterwards.
        on: bool,
    },
    /// Turns a shutoff.
    Shutoff {
        /// 1 or 2.
        number: usize,
        /// How far it is open afterwards, 0 to 1.
        to: f64,
    },
    /// Puts the hose on a cock and bleeds it to water.
    Attach {
        /// 1 or 2.
        cock: usize,
    },
    /// Takes the hose off.
    Detach,
    /// Turns a test cock.
    Cock {
        /// 1 or 2.
        number: usize,
        /// Turns of the handle from shut afterwards; `None`: wide open, whatever its type.
        turns: Option<f64>,
    },
    /// Turns the bleed screw.
    Screw {
        /// How far it is open afterwards, 0 to 1.
        to: f64,
    },
    /// Opens the bleed valve, watching the needle, until something is seen.
    Bleed {
        /// How fast.
        pace: Pace,
        /// What ends it.
        until: Sign,
        /// Its longest, s; `None`: `hand.patience`.
        at_most: Option<f64>,
    },
    /// Leaves all as it is until something is seen.
    Wait {
        /// What ends it.
        until: Sign,
        /// Its longest, s; `None`: `hand.patience`.
        at_most: Option<f64>,
    },
    /// Shuts the bleed valve.
    CloseBleed,
    /// Opens the bleed valve until the other cock or the screw stops running: bleed compensation for a leaking shutoff.
    Compensate,
    /// Reads the needle.
    Read {
        /// What for.
        part: Part,
        /// When.
        at: Moment,
    },
}

impl Act {
    /// The act in a few words, as marked on a chart.
    pub fn words(&self) -> String {
        let open = |to: f64, what: String| match to {
            t if t <= 0.0 => format!("shut {what}"),
            t if t >= 1.0 => format!("open {what}"),
            t => format!("{what} {:.0} % open", 100.0 * t),
        };
        match self {
            Act::Canopy { on: true } => "canopy on".to_owned(),
            Act::Canopy { on: false } => "canopy off".to_owned(),
            Act::Shutoff { number, to } => open(*to, format!("shutoff {number}")),
            Act::Attach { cock } => format!("hose on cock {cock}"),
            Act::Detach => "hose off".to_owned(),
            Act::Cock { number, turns: Some(t) } if *t <= 0.0 => format!("shut cock {number}"),
            Act::Cock { number, turns: Some(t) } => format!("cock {number} {t} turn"),
            Act::Cock { number, turns: None } => format!("open cock {number}"),
            Act::Screw { to } => open(*to, "bleed screw".to_owned()),
            Act::Bleed { pace: Pace::Vent | Pace::Lift | Pace::Flow(_), .. } => "bleed a stream".to_owned(),
            Act::Bleed { pace: Pace::Quick, .. } => "bleed".to_owned(),
            Act::Bleed { .. } => "bleed slowly".to_owned(),
            Act::Wait { .. } => "wait".to_owned(),
            Act::CloseBleed => "shut bleed".to_owned(),
            Act::Compensate => "bleed compensation".to_owned(),
            Act::Read { part, .. } => format!("read {}", part.name()),
        }
    }
}
