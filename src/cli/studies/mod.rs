//! Studies on the command line: `sweep`, `tolerance`, `find`.

mod args;
mod boundaries;
mod find;
mod find_people;
mod found;
mod found_chart;
mod grid;
mod looked;
mod merged;
mod population;
mod population_charts;
mod population_report;
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
use crate::error::{At, Error, Source, quoted, shown};
use crate::study::{Cell, Condition, Judge, Output, Row, Study, Until};
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
            "a run that ends when the order is known does not know {}; it knows sequence.order, sequence.stop, \
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

/// Refuses conditions that compare a value with one of another type, or with what runs stopped on their way do not tell, before
/// the first run; `example` is what the assembly itself comes to.
fn check_conditions(study: &Study, conditions: &[Condition], example: &[Cell]) -> Result<(), Error> {
    for condition in conditions {
        let of_order = study.until == Until::OrderKnown && condition.output.name() == "sequence.order";
        if of_order && matches!(&condition.value, Cell::Text(word) if word.contains("never")) {
            let message = format!(
                "{}: a run that ends when the order is known does not tell a part that is late from one that never moves; \
                 let the runs go on to rest",
                quoted(&condition.text)
            );
            return Err(Error::Syntax { at: condition.at.clone(), message });
        }
    }
    let example = Row { index: 0, point: Vec::new(), cells: example.to_vec(), failed: None };
    Judge::new(&study.outputs, conditions).each(&example).map(drop)
}

/// What must stand under a study: what stands under each command that it asks.
fn cautions(outputs: &[Output]) -> Vec<Caution> {
    Caution::of_commands(outputs.iter().map(|o| o.question.command()))
}
