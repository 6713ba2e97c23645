//! Why a command ended without its result.

use crate::charts::ChartError;
use crate::error::Error;

/// What went wrong, with the exit status it leads to.
#[derive(Debug)]
#[non_exhaustive]
pub enum Problem {
    /// Arguments that do not form a command; the text is complete.
    Usage(String),
    /// Input, output file or run.
    Crate(Error),
    /// A chart.
    Chart(ChartError),
    /// A table or document that could not be put into its format.
    Encode(String),
    /// Ctrl-C during a study: what is kept and how to go on.
    Interrupted(String),
    /// A study that had to stop: why, what is kept and how to go on.
    Stopped(String),
    /// Standard output refuses to take text, other than by being closed.
    Stdout(std::io::Error),
}

impl From<Error> for Problem {
    fn from(error: Error) -> Self {
        Problem::Crate(error)
    }
}

impl From<crate::numerics::Failure> for Problem {
    fn from(failure: crate::numerics::Failure) -> Self {
        Problem::Crate(failure.into())
    }
}

impl From<ChartError> for Problem {
    fn from(error: ChartError) -> Self {
        Problem::Chart(error)
    }
}

impl Problem {
    /// The process exit status.
    pub fn status(&self) -> u8 {
        match self {
            Problem::Usage(_) => 2,
            Problem::Crate(error) => error.exit_code(),
            Problem::Chart(ChartError::Encode(_)) | Problem::Encode(_) => 1,
            Problem::Stopped(_) | Problem::Stdout(_) => 1,
            Problem::Chart(_) => 2,
            Problem::Interrupted(_) => super::interrupt::INTERRUPTED,
        }
    }

    /// The message, ready to print.
    pub fn message(&self) -> String {
        match self {
            Problem::Usage(text) => text.clone(),
            Problem::Crate(error) => format!("error: {error}\n"),
            Problem::Chart(error) => format!("error: {}\n", super::text::plain(&error.to_string())),
            Problem::Encode(what) => format!("error: {}\n", super::text::plain(what)),
            Problem::Stopped(what) => format!("error: {}\n", super::text::plain(what)),
            Problem::Interrupted(what) => format!("interrupted: {}\n", super::text::plain(what)),
            Problem::Stdout(error) => format!("error: standard output cannot be written: {error}\n"),
        }
    }
}
