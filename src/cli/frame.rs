//! What every command that runs an assembly has in common: its input, its charts, where files go, and how what was found is
//! told.

use super::args::{Given, Shared};
use super::caution::Caution;
use super::conditions::Conditions;
use super::picture::Chart;
use super::problem::Problem;
use super::{files, text};
use crate::assembly::{Resolver, Settings};
use crate::charts::{Page, Sheet, encode_sheet};
use crate::error::{Error, nearest, shown};
use crate::rig::Rig;
use crate::study::{TABLES, check_tables};
use serde::Serialize;
use std::io::Write;
use std::path::{Path, PathBuf};

/// Folder of charts and tables unless one is named.
pub(super) const OUT: &str = "output";

/// Built-in, files, sets and faults, resolved.
pub(super) fn resolve(shared: &Shared, files: &[PathBuf]) -> Result<Settings, Problem> {
    Ok(resolver(shared.assembly.as_deref(), files, &shared.set, &shared.fault).resolve()?)
}

/// The same, to be resolved.
pub(super) fn resolver(assembly: Option<&str>, files: &[PathBuf], sets: &[String], faults: &[String]) -> Resolver {
    let resolver = assembly.map_or_else(Resolver::new, |name| Resolver::new().assembly(name));
    let resolver = resolver.beside(&TABLES, check_tables);
    let resolver = files.iter().fold(resolver, |r, file| r.file(file));
    let resolver = sets.iter().fold(resolver, |r, set| r.set(set));
    faults.iter().fold(resolver, |r, fault| r.fault(fault))
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

/// The files that a command is to write, checked before its run: its charts, then its table.
pub(super) struct Outputs {
    /// Names and files of the charts.
    pub charts: Vec<(&'static str, PathBuf)>,
    /// All files.
    pub paths: Vec<PathBuf>,
    places: Vec<files::Destination>,
}

impl Outputs {
    /// Checks them.
    ///
    /// # Errors
    /// [`Error::Output`] for the first that cannot be written.
    pub fn new(
        charts: Vec<(&'static str, PathBuf)>,
        table: Option<&PathBuf>,
        inputs: &[&Path],
    ) -> Result<Outputs, Problem> {
        let paths: Vec<PathBuf> = charts.iter().map(|(_, path)| path).chain(table).cloned().collect();
        let places = files::check(&paths, inputs)?;
        Ok(Outputs { charts, paths, places })
    }

    /// The table, if there is one.
    pub fn table(&self) -> Option<&PathBuf> {
        self.paths.get(self.charts.len())
    }

    /// Writes all of them; `bytes` in their order.
    ///
    /// # Errors
    /// [`Error::Output`]; then none has appeared.
    pub fn write(&self, bytes: Vec<Vec<u8>>) -> Result<(), Problem> {
        files::write(&self.places.iter().zip(bytes).collect::<Vec<_>>())
    }
}

/// Something to know before relying on a result: its id in JSON, and words.
pub(super) type Notice = (&'static str, String);

/// What every document says of itself.
pub(super) struct Stamp {
    pub assembly: String,
    pub inputs_sha256: String,
    pub warnings: Vec<&'static str>,
    pub cautions: Vec<&'static str>,
}

/// What a command has found. Charts, table, document and report are made only where they are asked for.
pub(super) struct Findings<'a, D> {
    pub draw: &'a dyn Fn(&str) -> Result<Sheet, Error>,
    pub table: &'a dyn Fn() -> Result<Vec<u8>, Problem>,
    pub notices: &'a [Notice],
    /// Whether the report holds the notices; standard error then has them beside a document only.
    pub said_in_text: bool,
    pub cautions: &'a [Caution],
    pub document: &'a dyn Fn(Stamp) -> D,
    /// All but its end, files and cautions.
    pub report: &'a dyn Fn() -> Result<String, Error>,
}

/// A command between its arguments and its output.
pub(super) struct Frame<'a> {
    given: &'a Given,
    settings: &'a Settings,
    outputs: Outputs,
    /// Hash of the resolved input.
    pub hash: String,
}

impl<'a> Frame<'a> {
    /// Checks the files to write; charts as in [`charts`]. `read` is a file that the command reads beside its input.
    ///
    /// # Errors
    /// [`Problem`] for a chart that the command does not have, or a file that cannot be written.
    pub fn new(
        given: &'a Given,
        settings: &'a Settings,
        known: &[&'static str],
        usual: &[(&'static str, String)],
        read: Option<&Path>,
    ) -> Result<Frame<'a>, Problem> {
        let charts = charts(&given.shared, known, usual)?;
        let mut all = inputs(&given.files, settings)?;
        all.extend(read);
        let outputs = Outputs::new(charts, given.shared.csv.as_ref(), &all)?;
        Ok(Frame { given, settings, outputs, hash: settings.sha256(env!("CARGO_PKG_VERSION")) })
    }

    /// The same, its input told apart by what the command is given beside the settings.
    #[must_use]
    pub fn beside(mut self, given: &str) -> Self {
        self.hash = self.settings.sha256_with(env!("CARGO_PKG_VERSION"), given);
        self
    }

    /// What words and charts need to know about the input.
    pub fn conditions(&self, rig: &'a Rig) -> Conditions<'a> {
        let files = shown_names(&self.given.files);
        Conditions { settings: self.settings, rig, system: self.given.shared.units.into(), files }
    }

    /// Writes charts and table, says the warnings, and prints the document or the report.
    ///
    /// # Errors
    /// [`Problem`] if one of them cannot be made or written.
    pub fn deliver<D: Serialize>(
        &self,
        found: &Findings<'_, D>,
        out: &mut dyn Write,
        err: &mut dyn Write,
        columns: usize,
    ) -> Result<(), Problem> {
        let shared = &self.given.shared;
        let mut bytes = Vec::with_capacity(self.outputs.paths.len());
        let mut last: Option<(&str, Sheet)> = None;
        for (name, path) in &self.outputs.charts {
            let sheet = match last.take() {
                Some((drawn, sheet)) if drawn == *name => sheet,
                _ => (found.draw)(name)?,
            };
            bytes.push(encode_sheet(&sheet, path)?);
            last = Some((name, sheet));
        }
        if shared.csv.is_some() {
            bytes.push((found.table)()?);
        }
        self.outputs.write(bytes)?;
        if !self.given.every.quiet && (shared.json || !found.said_in_text) {
            found.notices.iter().for_each(|(_, words)| text::warn(err, words, columns));
        }
        let text = match shared.json {
            true => text::json(&(found.document)(Stamp {
                assembly: self.settings.assembly().to_owned(),
                inputs_sha256: self.hash.clone(),
                warnings: found.notices.iter().map(|n| n.0).collect(),
                cautions: Caution::ids(found.cautions),
            }))?,
            false => (found.report)()? + &text::end(&self.outputs.paths, found.cautions, columns),
        };
        text::print(out, &text)
    }
}

/// Names of files, fit to be shown.
pub(super) fn shown_names(files: &[PathBuf]) -> Vec<String> {
    files.iter().map(|f| shown(&f.to_string_lossy())).collect()
}

/// Words around a chart: the finding above, conditions below it, assembly, version, input and caution at the foot.
///
/// # Errors
/// [`Error`] if a setting that the words need is missing.
pub(super) fn page(title: String, subtitle: &str, conditions: &Conditions<'_>, hash: &str) -> Result<Page, Error> {
    let short: String = hash.chars().take(8).collect();
    Ok(Page {
        title: typeset(&title),
        subtitle: typeset(subtitle),
        foot: vec![
            format!("Assembly {} · poppetry {} · inputs {short}", conditions.assembly()?, env!("CARGO_PKG_VERSION")),
            Caution::short().to_owned(),
        ],
    })
}

/// Unit symbols as printed in charts.
pub(super) fn typeset(text: &str) -> String {
    text.replace(" degF", " °F").replace(" degC", " °C").replace(" in2", " in²").replace(" mm2", " mm²")
}
