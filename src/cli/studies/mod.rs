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

use super::problem::Problem;
use crate::assembly::{Resolver, Settings};
use crate::error::Error;
use crate::study::Study;
use args::Common;
use std::path::{Path, PathBuf};

/// Folder of tables and charts unless one is named.
const OUT: &str = "output";

/// The assembly that a study starts from.
fn resolver(common: &Common) -> Resolver {
    let mut resolver = Resolver::new();
    if let Some(name) = &common.assembly {
        resolver = resolver.assembly(name);
    }
    resolver = common.files.iter().fold(resolver, |r, file| r.file(file));
    common.set.iter().fold(resolver, |r, set| r.set(set))
}

/// All files that a study reads; none of them may be written over.
fn inputs<'a>(common: &'a Common, settings: &'a Settings) -> Result<Vec<&'a Path>, Problem> {
    let mut all: Vec<&Path> = common.files.iter().map(PathBuf::as_path).collect();
    for field in ["check.load_curve", "air_inlet.load_curve", "supply.trace"] {
        all.extend(settings.path(field)?);
    }
    Ok(all)
}

/// Refuses an output that does not exist before the first of a million runs. A run that fails says nothing about that.
fn check_outputs(study: &Study) -> Result<(), Problem> {
    match study.ask(&study.base) {
        Err(e @ Error::UnknownName { .. }) => Err(e.into()),
        _ => Ok(()),
    }
}
