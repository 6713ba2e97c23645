//! Studies: thousands of runs that answer a design or a teaching question.
//!
//! A [`Study`] is an assembly, a [`Plan`] of points and a list of values to record; any value of a command's JSON can be
//! recorded ([`Question`]). A point follows from its number alone and a row from its point alone, so rows are the same to the
//! bit for any number of threads, shards and interruptions.
//!
//! ```
//! use poppetry::assembly::Resolver;
//! use poppetry::study::{Axis, Cell, Control, Grid, Study};
//! let base = Resolver::new().assembly("svb-diaphragm").resolve()?;
//! let grid = Grid::new(vec![Axis::parse("check.load=1:2.2:2 psi")?])?;
//! let study = Study::new(base, grid).record("sequence.order")?;
//! let mut control = Control { threads: None, cancel: &|| false, progress: &mut |_| {} };
//! let (rows, _) = study.rows(&mut control)?;
//! assert_eq!(rows[0].cells, [Cell::Text("check-first".into())]);
//! assert_eq!(rows[1].cells, [Cell::Text("air-inlet-first".into())]);
//! # Ok::<(), poppetry::error::Error>(())
//! ```

pub mod analysis;
mod axis;
pub mod boundary;
mod commands;
mod condition;
pub mod distribution;
pub mod find;
mod identity;
pub mod journal;
mod judged;
mod optional;
mod output;
mod own_load;
mod part;
mod plan;
pub mod population;
mod population_file;
mod population_plan;
mod population_reader;
mod question;
mod row_line;
mod run;
pub mod sampling;
pub mod sensitivity;
pub mod statistics;
mod table;
pub mod table_file;
mod timing;

pub use axis::{Axis, Range};
pub use commands::{CurvesQuestion, FieldTestQuestion, FreezeQuestion, ReliefQuestion, SiphonQuestion, SurgeQuestion};
pub use condition::{Condition, Op, split as split_condition};
pub use identity::{differences, sha256};
pub use journal::{Header, Journal, Lines};
pub use judged::{Judge, Judged, Outcomes};
pub use output::{Cell, Output, key_words, kind_of};
pub use part::{Done, Shard};
pub use plan::{Column, Grid, Level, MOST_RUNS, Plan, si_symbol};
pub use population::Population;
pub use population_file::{TABLES, check_tables};
pub use population_plan::PopulationPlan;
pub use question::{Need, QUESTIONS, Question, SequenceQuestion, Until, named};
pub use run::{Control, Outcome, Progress, Row, Study, WINDOW};
pub use table::Table;
pub use timing::Timing;
