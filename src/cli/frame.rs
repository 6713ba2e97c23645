//! What every command that runs an assembly has in common: its input, its charts, and where files go.

use super::args::Shared;
use super::conditions::Conditions;
use super::picture::Chart;
use super::problem::Problem;
use crate::assembly::{Resolver, Settings};
use crate::charts::Page;
use crate::error::{Error, nearest};
use std::path::{Path, PathBuf};

/// Folder of the charts unless one is named.
const OUT: &str = "output";

/// Built-in, files, sets and faults, resolved.
pub(super) fn resolve(shared: &Shared, files: &[PathBuf]) -> Result<Settings, Problem> {
    let mut resolver = Resolver::new();
    if let Some(name) = &shared.assembly {
        resolver = resolver.assembly(name);
    }
    resolver = files.iter().fold(resolver, |r, file| r.file(file));
    resolver = shared.set.iter().fold(resolver, |r, set| r.set(set));
    resolver = shared.fault.iter().fold(resolver, |r, fault| r.fault(fault));
    Ok(resolver.resolve()?)
}

/// All files a run reads; none of them may be written over.
pub(super) fn inputs<'a>(files: &'a [PathBuf], settings: &'a Settings) -> Result<Vec<&'a Path>, Problem> {
    let mut all: Vec<&Path> = files.iter().map(PathBuf::as_path).collect();
    for field in crate::assembly::fields::paths() {
        all.extend(settings.path(field)?);
    }
    Ok(all)
}

/// The charts to write, as (name, file): those asked for by name, and `usual` of the folder unless only others were asked
/// for. `known` are the names this command has.
///
/// # Errors
/// [`Error::UnknownName`] for a chart the command does not have.
pub(super) fn charts(
    shared: &Shared,
    known: &[&'static str],
    usual: &[(&'static str, String)],
) -> Result<Vec<(&'static str, PathBuf)>, Problem> {
    let mut all = Vec::new();
    for Chart { name, path } in &shared.chart {
        match known.iter().find(|k| *k == name) {
            Some(known) => all.push((*known, path.clone())),
            None => {
                return Err(Problem::from(Error::UnknownName {
                    at: None,
                    what: "chart",
                    name: name.clone(),
                    nearest: nearest(name, known.iter().copied()),
                    known: known.iter().map(|k| (*k).to_owned()).collect(),
                }));
            }
        }
    }
    if shared.out.is_some() || (!shared.json && shared.chart.is_empty()) {
        let folder = shared.out.as_deref().unwrap_or(Path::new(OUT));
        for (name, stem) in usual {
            all.extend(["svg", "png"].map(|ending| (*name, folder.join(format!("{stem}.{ending}")))));
        }
    }
    Ok(all)
}

/// Words around a chart: the finding above, conditions below it, assembly, version, input and caution at the foot.
///
/// # Errors
/// [`Error`] if a setting that the words need is missing.
pub(super) fn page(title: String, subtitle: &str, conditions: &Conditions<'_>, hash: &str) -> Result<Page, Error> {
    let short: String = hash.chars().take(8).collect();
    Ok(Page {
        title,
        subtitle: typeset(subtitle),
        foot: vec![
            format!("Assembly {} · poppetry {} · inputs {short}", conditions.assembly()?, env!("CARGO_PKG_VERSION")),
            super::caution::Caution::short().to_owned(),
        ],
    })
}

/// Unit symbols as printed in charts.
pub(super) fn typeset(text: &str) -> String {
    text.replace(" degF", " °F").replace(" degC", " °C").replace(" in2", " in²").replace(" mm2", " mm²")
}
