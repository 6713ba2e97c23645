//! What is given for an assembly, gathered and resolved into [`Settings`].

use super::builtin;
use super::layer::Layer;
use super::read;
use super::settings::Settings;
use crate::error::{At, Error, FileProblem, Source};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Gathers the sources of an assembly. Precedence, later wins: built-in (or `base` in a file), `size`, the files in
/// order, the sets in order, the faults in order. A repair comes last and takes faults away.
#[derive(Debug, Clone, Default)]
pub struct Resolver {
    assembly: Option<String>,
    inputs: Vec<Input>,
    sets: Vec<String>,
    faults: Vec<String>,
    repairs: Vec<String>,
    beside: Option<(&'static [&'static str], Reader)>,
}

/// Reads what the resolver leaves to it, of all files in their order, each as its path and text.
pub type Reader = fn(&[(PathBuf, String)]) -> Result<(), Error>;

#[derive(Debug, Clone)]
enum Input {
    File(PathBuf),
    Text(PathBuf, String),
}

impl Resolver {
    /// Nothing but the default built-in.
    pub fn new() -> Self {
        Self::default()
    }

    /// Starts from this built-in.
    #[must_use]
    pub fn assembly(mut self, name: &str) -> Self {
        self.assembly = Some(name.to_string());
        self
    }

    /// Adds a file; a later one overrides.
    #[must_use]
    pub fn file(mut self, path: impl Into<PathBuf>) -> Self {
        self.inputs.push(Input::File(path.into()));
        self
    }

    /// Adds TOML text as if it stood in the file `label`.
    #[must_use]
    pub fn text(mut self, label: impl Into<PathBuf>, text: &str) -> Self {
        self.inputs.push(Input::Text(label.into(), text.to_string()));
        self
    }

    /// Leaves top-level tables with these names in files to another reader ("spread" to that of populations), which says
    /// what is wrong with them.
    #[must_use]
    pub fn beside(mut self, names: &'static [&'static str], reader: Reader) -> Self {
        self.beside = Some((names, reader));
        self
    }

    /// Adds a `PATH=VALUE`; it overrides all files, a later one overrides.
    #[must_use]
    pub fn set(mut self, assignment: &str) -> Self {
        self.sets.push(assignment.to_string());
        self
    }

    /// Puts in a fault of [`crate::faults`], `NAME` (at its worst) or `NAME=SEVERITY`; it changes what all of the above
    /// came to.
    #[must_use]
    pub fn fault(mut self, fault: &str) -> Self {
        self.faults.push(fault.to_string());
        self
    }

    /// Repairs a part, as [`Settings::repaired`].
    #[must_use]
    pub fn repair(mut self, part: &str) -> Self {
        self.repairs.push(part.to_string());
        self
    }

    /// Reads and checks everything.
    ///
    /// # Errors
    /// The first thing wrong, as [`Error`] with its place.
    pub fn resolve(&self) -> Result<Settings, Error> {
        // Before the files: the second half of a --set without its "=" looks like one.
        let sets = self.sets.iter().map(|set| Layer::from_set(set, At::whole(Source::Set)));
        let sets = sets.collect::<Result<Vec<_>, _>>()?;
        let (mut given, mut texts) = (Vec::new(), Vec::new());
        for input in &self.inputs {
            let (path, text) = match input {
                Input::File(path) => (path, read::text(path).map_err(named_built_in)?),
                Input::Text(path, text) => (path, text.clone()),
            };
            let at = At::whole(Source::File(path.clone()));
            let directory = path.parent().unwrap_or(Path::new(""));
            given.push(Layer::from_toml_beside(&text, &at, directory, self.beside.map_or(&[], |b| b.0))?);
            texts.push((path.clone(), text));
        }
        let base = given.iter().rev().find_map(|layer| layer.base.clone());
        let (assembly, named_at) = match (&self.assembly, base) {
            (Some(named), Some((base, at))) if *named != base => {
                return Err(Error::Conflict {
                    at,
                    name: "one-base",
                    fields: vec![format!("base = {base}"), format!("--assembly {named}")],
                    rule: "name one built-in to start from: in the file or on the command line".to_string(),
                });
            }
            (Some(name), _) => (name.clone(), None),
            (None, Some((name, at))) => (name, Some(at)),
            (None, None) => (builtin::DEFAULT.to_string(), None),
        };
        given.extend(sets);
        let mut layers: Vec<Arc<Layer>> = builtin::layers(&assembly, named_at)?.into_iter().map(Arc::new).collect();
        layers.extend(given.into_iter().map(Arc::new));
        let mut settings = Settings::from_layers(assembly, layers, &BTreeMap::new())?;
        settings.size_counts()?;
        if let Some((_, reader)) = self.beside {
            reader(&texts)?;
        }
        for fault in &self.faults {
            let before = settings.faults();
            settings = settings.with_fault_text(fault)?;
            if let Some(last) =
                settings.faults().last().filter(|last| before.iter().any(|b| b.fault.name == last.fault.name))
            {
                return Err(Error::Conflict {
                    at: At::whole(Source::Fault(last.fault.name.to_string())),
                    name: "fault-once",
                    fields: vec![format!("--fault {}", last.fault.name); 2],
                    rule: "a fault is put in once: severity 1 is the worst end of its range".to_string(),
                });
            }
        }
        for part in &self.repairs {
            settings = settings.repaired(part)?;
        }
        Ok(settings)
    }
}

/// A built-in named where a file is wanted.
fn named_built_in(error: Error) -> Error {
    match error {
        Error::File { path, named_by, problem: FileProblem::NotFound } => {
            let built_in = builtin::names().map(|(name, _)| name).find(|name| path == Path::new(name));
            let problem = built_in.map_or(FileProblem::NotFound, |name| FileProblem::IsBuiltIn(name.to_owned()));
            Error::File { path, named_by, problem }
        }
        other => other,
    }
}
