//! Studies on the command line: `sweep`, `tolerance`, `find`.

mod args;
mod find;
mod found;
mod grid;
mod looked;
mod merged;
mod population;
mod population_charts;
mod report;
mod session;
mod summary;
mod sweep;
mod tolerance;

pub(super) use find::{FindArgs, run as find};
pub(super) use sweep::{SweepArgs, run as sweep};
pub(super) use tolerance::{ToleranceArgs, run as tolerance};

use super::caution::Caution;
use super::frame;
use super::problem::Problem;
use crate::assembly::Resolver;
use crate::error::{At, Error, Source, shown};
use crate::study::{Cell, Output, Study};
use args::Common;

/// The assembly that a study starts from.
fn resolver(common: &Common) -> Resolver {
    frame::resolver(common.assembly.as_deref(), &common.files, &common.set, &common.fault)
}

/// Refuses an output that does not exist, or that runs stopped on their way do not know, before the first of a million runs,
/// and gives what the assembly itself comes to. A run that fails says nothing.
fn check_outputs(study: &Study) -> Result<Vec<Cell>, Problem> {
    if let Some(output) = study.outputs.iter().find(|o| !study.until.tells(o.question.command(), &o.key)) {
        let message = format!(
            "a run that ends when the order is known does not know {}; it knows sequence.order, \
             sequence.sequence_margin_pa, sequence.critical_flow_m3_s, sequence.lap_margin_m and sequence.statics.*: name \
             what is to be kept with --record, or let the runs go on to rest",
            shown(&output.name())
        );
        return Err(Error::Syntax { at: At::whole(Source::Option("--until")), message }.into());
    }
    match study.ask(&study.base) {
        Err(e @ Error::UnknownName { .. }) => Err(e.into()),
        cells => Ok(cells.unwrap_or_default()),
    }
}

/// What must stand under a study: what stands under each command that it asks.
fn cautions(outputs: &[Output]) -> Vec<Caution> {
    Caution::of_commands(outputs.iter().map(|o| o.question.command()))
}
