//! Procedures: lists of acts, built in or from a user's TOML file.
//!
//! ```
//! use poppetry::bench::field::Procedure;
//! assert!(Procedure::builtin("two-cock").unwrap().acts.len() > 10);
//! assert!(Procedure::builtin("three-cock").is_err());
//! ```

use super::act::Act;
use super::script;
use crate::assembly::{Settings, read};
use crate::error::{At, Error, Source, nearest};
use crate::parts::Instrument;
use std::path::Path;

/// A field test as a list of acts.
#[derive(Debug, Clone, PartialEq)]
pub struct Procedure {
    /// Its name.
    pub name: String,
    /// What it is, in one line.
    pub title: String,
    /// What it reads.
    pub instrument: Instrument,
    /// The acts in order.
    pub acts: Vec<Act>,
}

/// Name and text of the built-in procedures.
const BUILT_IN: [(&str, &str); 6] = [
    ("two-cock", include_str!("builtin/two-cock.toml")),
    ("one-cock", include_str!("builtin/one-cock.toml")),
    ("two-cock-compensated", include_str!("builtin/two-cock-compensated.toml")),
    ("one-cock-compensated", include_str!("builtin/one-cock-compensated.toml")),
    ("two-cock-tube", include_str!("builtin/two-cock-tube.toml")),
    ("one-cock-tube", include_str!("builtin/one-cock-tube.toml")),
];

impl Procedure {
    /// Names of the built-in procedures.
    pub fn names() -> impl Iterator<Item = &'static str> {
        BUILT_IN.iter().map(|b| b.0)
    }

    /// A built-in procedure.
    ///
    /// # Errors
    /// [`Error::UnknownName`] with the nearest known name.
    pub fn builtin(name: &str) -> Result<Procedure, Error> {
        match BUILT_IN.iter().find(|b| b.0 == name) {
            Some((_, text)) => Self::from_text(text, &At::whole(Source::BuiltIn(name.to_owned()))),
            None => Err(Error::UnknownName {
                at: None,
                what: "procedure",
                name: name.to_owned(),
                nearest: nearest(name, Self::names()),
                known: Self::names().map(str::to_owned).chain(["a TOML file".to_owned()]).collect(),
            }),
        }
    }

    /// A user's procedure from a file.
    ///
    /// # Errors
    /// [`Error::File`] if it cannot be read; [`Error::Syntax`], [`Error::UnknownName`], [`Error::Quantity`] or
    /// [`Error::OutOfRange`] with file and line for what is wrong in it.
    pub fn from_file(path: &Path) -> Result<Procedure, Error> {
        let text = read::text(path)?;
        Self::from_text(&text, &At::whole(Source::File(path.to_path_buf())))
    }

    /// A procedure from TOML text that stands at `at`.
    ///
    /// # Errors
    /// As [`Procedure::from_file`].
    pub fn from_text(text: &str, at: &At) -> Result<Procedure, Error> {
        script::read(text, at)
    }

    /// A built-in by its name, or a file: what `--procedure` takes.
    ///
    /// # Errors
    /// As [`Procedure::builtin`] and [`Procedure::from_file`].
    pub fn named(text: &str) -> Result<Procedure, Error> {
        let file = text.ends_with(".toml") || text.contains(std::path::is_separator);
        if file && !Self::names().any(|n| n == text) { Self::from_file(Path::new(text)) } else { Self::builtin(text) }
    }

    /// The file of a built-in, ready to edit, with what may be written in it.
    ///
    /// # Errors
    /// As [`Procedure::builtin`].
    pub fn builtin_file(name: &str) -> Result<String, Error> {
        let known = Self::builtin(name)?;
        let text = BUILT_IN.iter().find(|b| b.0 == known.name).map_or("", |b| b.1);
        Ok(format!("{text}\n{}", script::FORMAT))
    }

    /// The procedure usual for an assembly: one cock and screw where zone 1 shuts the air inlet, else two cocks.
    ///
    /// # Errors
    /// [`Error`] if the settings lack a field.
    pub fn usual_for(settings: &Settings) -> Result<Procedure, Error> {
        Self::builtin(if settings.choice("air_inlet.closed_by")? == "zone2" { "two-cock" } else { "one-cock" })
    }
}
