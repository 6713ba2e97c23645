//! One error type for everything that can go wrong, each variant naming the thing, the value and the rule.

use crate::numerics::Failure;
use std::fmt;
use std::path::PathBuf;
use std::sync::Arc;

mod problem;
mod shown;

pub use problem::{FileProblem, QuantityProblem, TableProblem};
use shown::{at_prefix, column_suffix, did_you_mean, joined, line_suffix, named_by_suffix, shown_path};
pub use shown::{nearest, shown};
pub(crate) use shown::{quoted, shown_long};

/// Where a value came from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Source {
    /// An assembly file given by the user.
    File(PathBuf),
    /// A `--set PATH=VALUE` of the command line.
    Set,
    /// A `--fault NAME` of the command line, by the fault's name.
    Fault(String),
    /// A study that varies values (sweep, tolerance, find).
    Study,
    /// An option of the command line other than `--set`, by name.
    Option(&'static str),
    /// A built-in assembly, by name.
    BuiltIn(String),
    /// Nobody gave it: the catalogue's own "not set".
    Default,
}

/// A place in the input: the source, and the line (from 1) where it has lines.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct At {
    /// The source, shared by all its values.
    pub source: Arc<Source>,
    /// Line, counted from 1.
    pub line: Option<usize>,
}

impl At {
    /// A source as a whole.
    pub fn whole(source: Source) -> Self {
        Self { source: Arc::new(source), line: None }
    }

    /// The place "nobody gave it".
    pub fn default_value() -> Self {
        Self::whole(Source::Default)
    }

    /// A line, from 1, of the same source.
    pub fn line(&self, line: usize) -> Self {
        Self { source: Arc::clone(&self.source), line: Some(line) }
    }

    /// Whether the user gave the value, by file, by `--set`, by `--fault` or by a study.
    pub fn is_user(&self) -> bool {
        matches!(*self.source, Source::File(_) | Source::Set | Source::Fault(_) | Source::Study | Source::Option(_))
    }
}

impl fmt::Display for At {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.source.as_ref() {
            Source::File(path) => write!(f, "{}", shown_path(path))?,
            Source::Set => f.write_str("--set")?,
            Source::Fault(name) => write!(f, "--fault {}", shown(name))?,
            Source::Study => f.write_str("study")?,
            Source::Option(name) => f.write_str(name)?,
            Source::BuiltIn(name) => write!(f, "built-in {}", shown(name))?,
            Source::Default => f.write_str("default")?,
        }
        match self.line {
            Some(line) => write!(f, ":{line}"),
            None => Ok(()),
        }
    }
}

/// Everything that can go wrong in this crate.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum Error {
    /// A field name that the catalogue does not have.
    #[error("{at}: there is no field {}{}\n  rule: the fields are those that `poppetry assemblies NAME` prints", quoted(.field), did_you_mean(.nearest))]
    UnknownField {
        /// Where it stands.
        at: At,
        /// The name as written.
        field: String,
        /// Nearest known name.
        nearest: Option<String>,
    },
    /// A value that cannot be read as what the field takes.
    #[error("{at}: {} = {}: {problem}\n  rule: {} takes {expected}", shown(.field), quoted(.text), shown(.field))]
    Quantity {
        /// Where it stands.
        at: At,
        /// The field.
        field: String,
        /// The value as written.
        text: String,
        /// What the field takes, with an example.
        expected: String,
        /// What is wrong with the text.
        problem: Box<QuantityProblem>,
    },
    /// A value that reads well but lies outside the field's range.
    #[error("{at}: {} = {}: out of range\n  rule: {} must be {rule}", shown(.field), quoted(.value_text), shown(.field))]
    OutOfRange {
        /// Where it stands.
        at: At,
        /// The field.
        field: String,
        /// The value as written.
        value_text: String,
        /// The range, with its unit.
        rule: String,
    },
    /// Values that are each possible but not together.
    #[error("{at}: {} do not go together [{name}]\n  rule: {rule}", joined(.fields))]
    Conflict {
        /// Where the last of them stands.
        at: At,
        /// Stable name of the rule.
        name: &'static str,
        /// The fields, each with its value as written.
        fields: Vec<String>,
        /// The rule they break.
        rule: String,
    },
    /// Text that is not the format it should be.
    #[error("{at}: {}", shown_long(.message))]
    Syntax {
        /// Where.
        at: At,
        /// What the reader objected to.
        message: String,
    },
    /// A file that cannot be read at all.
    #[error("{}: {problem}{}", shown_path(.path), named_by_suffix(.named_by))]
    File {
        /// The file.
        path: PathBuf,
        /// The field that names it and where that stands, when it was not named on the command line.
        named_by: Option<String>,
        /// Why.
        problem: FileProblem,
    },
    /// A CSV table with something wrong in it.
    #[error("{}{}{}: {problem}", shown_path(.path), line_suffix(*.line), column_suffix(.column))]
    Table {
        /// The file.
        path: PathBuf,
        /// Line, counted from 1, when known.
        line: Option<usize>,
        /// Column name, when one is meant.
        column: Option<String>,
        /// What is wrong.
        problem: Box<TableProblem>,
    },
    /// A name (assembly, command, procedure, part) that does not exist.
    #[error("{}there is no {what} {}{}\n  known: {}", at_prefix(.at), quoted(.name), did_you_mean(.nearest), .known.join(", "))]
    UnknownName {
        /// Where it stands, when in a file.
        at: Option<At>,
        /// What kind of thing the name stands for.
        what: &'static str,
        /// The name as written.
        name: String,
        /// Nearest known name.
        nearest: Option<String>,
        /// All known names.
        known: Vec<String>,
    },
    /// A fault put into, or a repair done to, an assembly whose construction does not have the part.
    #[error("{} does not apply to this construction: {}\n  rule: {}", shown(.name), shown_long(.why), shown_long(.rule))]
    DoesNotApply {
        /// The fault or repair, as on the command line.
        name: String,
        /// Why it does not apply.
        why: String,
        /// What would apply, or where to look.
        rule: String,
    },
    /// A file that cannot be written.
    #[error("{}: cannot be written: {}", shown_path(.path), shown_long(.problem))]
    Output {
        /// The file or directory.
        path: PathBuf,
        /// The system's reason.
        problem: String,
    },
    /// A file that could be written as far as could be told beforehand, and then could not: a full disk.
    #[error("{}: could not be written: {}", shown_path(.path), shown_long(.problem))]
    Unwritten {
        /// The file or directory.
        path: PathBuf,
        /// The system's reason.
        problem: String,
    },
    /// A journal or a part of a study that belongs to another study.
    #[error("{}: belongs to another study: {}", shown_path(.path), shown_long(&.differences.join("; ")))]
    Mismatch {
        /// The file.
        path: PathBuf,
        /// In what they differ.
        differences: Vec<String>,
    },
    /// A run that could not be completed.
    #[error("the run could not be completed: {0}")]
    Run(#[from] Failure),
}

impl Error {
    /// The process exit status: 1 for a run that could not be completed or written down, 2 for wrong input.
    pub fn exit_code(&self) -> u8 {
        match self {
            Error::Run(_) | Error::Unwritten { .. } => 1,
            _ => 2,
        }
    }
}
