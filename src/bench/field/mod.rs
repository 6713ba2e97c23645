//! `field-test`: what a tester would read, act by act.
//!
//! An assembly in service is tested by a [`Procedure`]: a list of acts ([`Act`]) that a hand carries out on a gauge (or a
//! sight tube) with its hose, needle and bleed valve ([`TestStand`]: one system of equations with the assembly). Any
//! procedure may be run on any assembly, in any order of its acts; what a reading then means is said ([`Note`], [`Lost`]).
//!
//! ```
//! use poppetry::assembly::Resolver;
//! use poppetry::bench::field::{FieldOptions, Part, Procedure, field_test};
//! let settings = Resolver::new().assembly("pvb-spring").resolve().unwrap();
//! let test = field_test(&settings, &Procedure::builtin("two-cock").unwrap(), &FieldOptions::default()).unwrap();
//! // (1.50 - 0.05) psi on the vent seat, friction drawn with a scatter of 15 %.
//! let inlet = test.reading(Part::AirInlet).unwrap();
//! assert!((inlet.true_pa.unwrap() / 6_894.757 - 1.45).abs() < 0.03);
//! ```

mod act;
mod document;
mod judge;
mod log;
mod note;
mod observed;
mod procedure;
mod reading;
mod script;
mod setup;
mod stand;
mod sticking;
mod tester;
mod words;

pub use act::{Act, Moment, Pace, Part, Sign};
pub use document::{FieldContext, FieldDocument, SCHEMA_FIELD_TEST};
pub use judge::{Kind, Outcome, PASS};
pub use log::{ActMark, Happening, Point};
pub use note::{Lost, Note};
pub use procedure::Procedure;
pub use reading::{BudgetItem, Single};
pub use setup::{Cock, Hand, MissingCock, Setup, Sticking, in_service};
pub use stand::{Aim, FieldMode, Hose, LOSES, Seen, TestStand, Until, Watch};
pub use tester::DRIP;
pub use words::{headline, record, story};

use crate::assembly::Settings;
use crate::error::Error;
use crate::numerics::Stats;
use crate::rig::{Balance, Rig, Statics, options};

/// How a field test is run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FieldOptions {
    /// How often the whole procedure is gone through (1 or more).
    pub repeats: usize,
    /// Seed of the sticking.
    pub seed: u64,
    /// Whether friction and adhesion are drawn anew for each try; otherwise they stand at their means.
    pub sticking: bool,
}

impl Default for FieldOptions {
    /// Three tries, seed 1, random sticking.
    fn default() -> Self {
        FieldOptions { repeats: 3, seed: 1, sticking: true }
    }
}

/// A reading as a tester would report it: that of the first try, with all tries beside it.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// Which part it is for.
    pub part: Part,
    /// As [`Single::true_pa`], first try.
    pub true_pa: Option<f64>,
    /// As [`Single::reading_pa`], first try.
    pub reading_pa: Option<f64>,
    /// As [`Single::recorded_pa`], first try.
    pub recorded_pa: Option<f64>,
    /// The reading less and plus the instrument's class, Pa.
    pub band_pa: Option<[f64; 2]>,
    /// Where the instrument stood when the tester gave up, where nothing was to be read, Pa.
    pub left_at_pa: f64,
    /// Step to which it is recorded, Pa.
    pub resolution_pa: f64,
    /// What came of it.
    pub kind: Kind,
    /// Whether every try's recorded value is at least 1.0 psi, and it holds.
    pub pass: bool,
    /// Whether 1.0 psi lies within the band.
    pub doubtful: bool,
    /// Largest less smallest truth over the tries, "did not open" counted as 0, Pa.
    pub spread_pa: f64,
    /// What the reading means, and what it does not.
    pub notes: Vec<Note>,
    /// All tries.
    pub tries: Vec<Single>,
}

/// What a tester sees besides the readings, first try.
#[derive(Debug, Clone, PartialEq)]
pub struct Observed {
    /// The air inlet opened in the check's step already.
    pub opened_in_check_step: bool,
    /// The air inlet opened with the bleed valve shut.
    pub opened_by_itself: bool,
    /// How far the air inlet got, 0 to 1 of its lift, by the end of the inlet's step.
    pub inlet_lift_share: f64,
    /// Time from the start of its opening to fully open, s.
    pub full_open_s: Option<f64>,
    /// Water bled out in that time, m3.
    pub full_open_m3: Option<f64>,
    /// Flow still running out of cock or screw when the check is read, m3/s.
    pub cock_flow_m3_s: Option<f64>,
    /// How fast the needle falls when the check is read, Pa/s.
    pub check_fall_pa_s: Option<f64>,
    /// How far the needle fell between zone 2's coming to atmosphere (and the needle's following) and the check's reading,
    /// Pa: with everything shut, a leak back.
    pub check_fell_pa: Option<f64>,
    /// Time zone 2 took to come to atmosphere after its cock or screw was opened, s; `None` if it did not.
    pub zone2_vented_s: Option<f64>,
    /// Water that came out under the canopy before the air inlet first opened, m3.
    pub dribble_m3: f64,
    /// Highest pressure in the gauge, Pa.
    pub gauge_peak_pa: f64,
    /// Water that runs out of cracks and torn rings before anything is touched, m3/s; 0 where it does not even drip.
    pub outside_leak_m3_s: f64,
}

/// One run through the procedure, as it went.
#[derive(Debug, Clone)]
pub struct Try {
    /// Moments for charts and tables.
    pub trace: Vec<Point>,
    /// Acts with their times.
    pub marks: Vec<ActMark>,
    /// What moved.
    pub happenings: Vec<Happening>,
    /// What went other than the procedure has it.
    pub remarks: Vec<String>,
    /// Water and air, the gauge's contents counted.
    pub balance: Balance,
    /// Work done.
    pub stats: Stats,
}

/// A field test and what it comes to.
#[derive(Debug, Clone)]
pub struct FieldTest {
    /// Name of the procedure.
    pub procedure: String,
    /// What it is, in one line.
    pub title: String,
    /// Readings in the order in which they were taken.
    pub readings: Vec<Reading>,
    /// Whether the air inlet was seen to open fully; `None` if it could not be seen.
    pub air_inlet_fully_open: Option<bool>,
    /// Result of the whole.
    pub outcome: Outcome,
    /// Measurements that were lost, and why.
    pub lost: Vec<Lost>,
    /// What else a tester sees.
    pub observed: Observed,
    /// Hand sums of the assembly.
    pub statics: Statics,
    /// Tolerance of the solver.
    pub tolerance: f64,
    /// The tries.
    pub tries: Vec<Try>,
}

impl FieldTest {
    /// The reading of a part, the first if there are several.
    pub fn reading(&self, part: Part) -> Option<&Reading> {
        self.readings.iter().find(|r| r.part == part)
    }
}

/// Tests the assembly of `settings` by `procedure`.
///
/// # Errors
/// [`Error`] if settings do not go together, or a run cannot be completed.
pub fn field_test(settings: &Settings, procedure: &Procedure, how: &FieldOptions) -> Result<FieldTest, Error> {
    let rig = in_service(settings, &Rig::from_settings(settings)?)?;
    let setup = Setup::from_settings(settings)?;
    let solver = options(settings)?;
    field_test_of(
        &rig,
        &setup,
        procedure,
        how,
        crate::numerics::Options { tolerance: LOOSER * solver.tolerance, ..solver },
    )
}

/// Tolerance of a test over that of a fill. A test has no spill to count; its readings move by less than 0.0001 psi between
/// the fill's tolerance and ten times that (`tests/field_readings.rs`).
const LOOSER: f64 = 5.0;

/// Tests a rig that stands in service (see [`in_service`]); for rigs that settings cannot describe.
///
/// # Errors
/// [`Error`] if a run cannot be completed.
pub fn field_test_of(
    rig: &Rig,
    setup: &Setup,
    procedure: &Procedure,
    how: &FieldOptions,
    solver: crate::numerics::Options,
) -> Result<FieldTest, Error> {
    let mut works = Vec::new();
    for attempt in 0..how.repeats.max(1) as u64 {
        let mut rig = rig.clone();
        if how.sticking {
            sticking::draw(&mut rig, &setup.sticking, how.seed, attempt);
        }
        let work = tester::Tester::new(rig, setup, procedure, solver).work()?;
        overload(setup, procedure, &work)?;
        works.push(work);
    }
    Ok(FieldTest { tolerance: solver.tolerance, ..judge::test(rig, setup, procedure, works) })
}

/// Refuses a test that would have broken the gauge.
fn overload(setup: &Setup, procedure: &Procedure, work: &log::Work) -> Result<(), Error> {
    let Some(point) = work.trace.iter().find(|p| !(p.gauge_pa <= setup.overload)) else { return Ok(()) };
    let mark = work.marks.iter().rev().find(|m| m.t_s <= point.t_s);
    let (number, words) = mark.map_or((0, ""), |m| (m.act + 1, m.words.as_str()));
    let show = |pa| crate::units::format(crate::units::Kind::GaugePressure, pa, crate::units::System::Us);
    Err(Error::Conflict {
        at: setup.overload_at.clone(),
        name: "gauge-overloaded",
        fields: vec![
            format!("gauge.overload = {}", show(setup.overload)),
            format!("act {number} of {} ({words})", procedure.name),
        ],
        rule: format!(
            "the gauge stands at most {} without damage, and this act puts {} on it",
            show(setup.overload),
            show(point.gauge_pa)
        ),
    })
}
