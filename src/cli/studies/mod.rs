//! Studies on the command line: `sweep`, `tolerance`, `find`.

mod args;
mod find;
mod found;
mod grid;
mod population;
mod report;
mod session;
mod summary;
mod sweep;
mod tolerance;

pub(super) use find::{FindArgs, run as find};
pub(super) use sweep::{SweepArgs, run as sweep};
pub(super) use tolerance::{ToleranceArgs, run as tolerance};

use super::frame;
use super::problem::Problem;
use crate::assembly::Resolver;
use crate::error::Error;
use crate::study::Study;
use args::Common;

/// The assembly that a study starts from.
fn resolver(common: &Common) -> Resolver {
    frame::resolver(common.assembly.as_deref(), &common.files, &common.set, &common.fault)
}

/// Refuses an output that does not exist before the first of a million runs. A run that fails says nothing about that.
fn check_outputs(study: &Study) -> Result<(), Problem> {
    match study.ask(&study.base) {
        Err(e @ Error::UnknownName { .. }) => Err(e.into()),
        _ => Ok(()),
    }
}
