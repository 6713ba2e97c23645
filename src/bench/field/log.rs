//! What a try leaves behind: moments, acts, what moved, and the readings before they are made sense of.

use super::act::{Moment, Part};
use super::stand::{FieldMode, TestStand};
use crate::numerics::Stats;
use crate::rig::{Part as RigPart, What};
use serde::Serialize;

/// One moment of a test, SI; pressures gauge.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Point {
    /// Time since the tester began.
    pub t_s: f64,
    /// What the instrument shows.
    pub shown_pa: f64,
    /// Where the needle stands without zero, span and stops.
    pub needle_pa: f64,
    /// In the gauge.
    #[serde(rename = "gauge_pa_gauge")]
    pub gauge_pa: f64,
    /// Before shutoff 1.
    pub line_pa_gauge: f64,
    /// Zone 1.
    pub zone1_pa_gauge: f64,
    /// Zone 2.
    pub zone2_pa_gauge: f64,
    /// Travel of the check.
    pub check_travel_m: f64,
    /// Travel of the air inlet, as far as forces carry it: what friction holds does not creep on.
    pub air_inlet_travel_m: f64,
    /// Opening of the bleed valve, 0 to 1.
    pub bleed_opening: f64,
    /// Flow out of the bleed valve.
    pub bleed_m3_s: f64,
}

/// When an act began.
#[derive(Debug, Clone, PartialEq)]
pub struct ActMark {
    /// When, s.
    pub t_s: f64,
    /// Which act of the procedure.
    pub act: usize,
    /// What it was, in a few words.
    pub words: String,
}

/// A part that moved during the test.
#[derive(Debug, Clone, PartialEq)]
pub struct Happening {
    /// When, s.
    pub t_s: f64,
    /// Which part.
    pub part: RigPart,
    /// What it did.
    pub what: What,
    /// During which act.
    pub act: usize,
    /// Whether the bleed valve was open.
    pub bleeding: bool,
    /// Whether the canopy hid it.
    pub hidden: bool,
    /// How fast the pressure of the zone that shuts the air inlet was falling, Pa/s.
    pub fall_pa_s: f64,
    /// State at that moment.
    pub(super) y: Vec<f64>,
    /// Mode before it.
    pub(super) mode: FieldMode,
}

/// A reading as taken, before it is made sense of.
#[derive(Debug, Clone)]
pub(super) struct Take {
    pub part: Part,
    pub at: Moment,
    /// The stand as it was when the needle was read.
    pub stand: TestStand,
    /// The moment the truth belongs to: the event, or now.
    pub moment: Option<(f64, Vec<f64>, FieldMode)>,
    /// The event read at.
    pub happening: Option<Happening>,
    /// When the needle was read, and its state then.
    pub read: (f64, Vec<f64>, FieldMode),
    /// Whether the needle stood still.
    pub steady: bool,
    /// Whether the air inlet stood open already when shutoff 1 was shut.
    pub stood_open: bool,
    /// Water that had passed the check by the reading before, or when the gauge's cock was opened, kg.
    pub passed_before: f64,
    /// Whether a late eye lies between event and reading.
    pub late: bool,
    /// As [`super::Single::crept_up_pa`].
    pub crept_up_pa: f64,
    /// As [`super::Single::held_before_pa`].
    pub held_before_pa: Option<f64>,
    /// As [`super::Single::opened_late`].
    pub opened_late: bool,
}

/// What a try leaves behind.
#[derive(Debug, Clone)]
pub(super) struct Work {
    pub takes: Vec<Take>,
    pub trace: Vec<Point>,
    pub marks: Vec<ActMark>,
    pub happenings: Vec<Happening>,
    pub remarks: Vec<String>,
    pub start: Vec<f64>,
    pub end: Vec<f64>,
    pub stats: Stats,
    /// Water let out of the bleed valve between the air inlet's first opening and its stop, m3, and the time that took, s.
    pub lifted: Option<(f64, f64)>,
    /// Time zone 2 took to come to atmosphere after a cock or screw was opened on it, s.
    pub vented_s: Option<f64>,
    /// Where the needle stood when it had had time to follow that, Pa.
    pub settled_pa: Option<f64>,
    pub stand: TestStand,
}
