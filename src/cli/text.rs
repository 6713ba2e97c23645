//! Laying text out and printing it.

use super::caution::Caution;
use super::problem::Problem;
use crate::units::{Kind, System, format};
use serde::Serialize;
use serde_json::Value as Json;
use std::io::{ErrorKind, Write};
use std::path::PathBuf;

/// Prints to standard output. A reader that has gone away (`| head`) is no error: nobody wants the rest.
pub(super) fn print(out: &mut dyn Write, text: &str) -> Result<(), Problem> {
    forgiving(out.write_all(text.as_bytes()))
}

/// Flushes, as forgiving as [`print`].
pub(super) fn flush(out: &mut dyn Write) -> Result<(), Problem> {
    forgiving(out.flush())
}

fn forgiving(done: std::io::Result<()>) -> Result<(), Problem> {
    match done {
        Err(e) if e.kind() != ErrorKind::BrokenPipe => Err(Problem::Stdout(e)),
        _ => Ok(()),
    }
}

/// A warning on standard error; one that cannot be shown is still in the document.
pub(super) fn warn(err: &mut dyn Write, words: &str, columns: usize) {
    let _ = err.write_all(wrapped(&format!("warning: {words}"), columns, 0, 9).as_bytes());
}

/// A document as JSON text.
///
/// # Errors
/// [`Problem::Encode`] if it has a value that JSON does not know.
pub(super) fn json(document: &impl Serialize) -> Result<String, Problem> {
    let mut document = serde_json::to_value(document).map_err(|e| Problem::Encode(e.to_string()))?;
    without_minus_zero(&mut document);
    serde_json::to_string_pretty(&document).map(|t| t + "\n").map_err(|e| Problem::Encode(e.to_string()))
}

/// Nothing is nothing, whichever way it has gone.
fn without_minus_zero(document: &mut Json) {
    match document {
        Json::Number(n) if n.as_f64() == Some(0.0) && n.is_f64() => *document = Json::from(0.0),
        Json::Array(all) => all.iter_mut().for_each(without_minus_zero),
        Json::Object(all) => all.values_mut().for_each(without_minus_zero),
        _ => {}
    }
}

/// The files that a run has written, as a paragraph; nothing if there are none.
pub(super) fn files_written(written: &[PathBuf]) -> String {
    if written.is_empty() {
        return String::new();
    }
    written.iter().fold("\nFiles written\n".to_owned(), |out, path| out + &format!("  {}\n", path.display()))
}

/// The end of a report: files and cautions.
pub(super) fn end(written: &[PathBuf], cautions: &[Caution], columns: usize) -> String {
    format!("{}\n{}", files_written(written), Caution::paragraph(cautions, columns))
}

/// The text with control characters other than line ends escaped, so that an argument shown in a message cannot steer
/// the terminal.
pub(super) fn plain(text: &str) -> String {
    text.chars().fold(String::with_capacity(text.len()), |mut out, c| {
        if c.is_control() && c != '\n' {
            out.extend(c.escape_default())
        } else {
            out.push(c)
        }
        out
    })
}

/// The text in lines of at most `columns`, the first indented by `first`, the others by `next` blanks. Breaks at
/// blanks, never between a number and its unit.
pub(super) fn wrapped(text: &str, columns: usize, first: usize, next: usize) -> String {
    let mut out = " ".repeat(first);
    let (mut column, mut fresh) = (first, true);
    for word in unbroken(text) {
        let width = word.chars().count();
        if !fresh && column + 1 + width > columns {
            out.push('\n');
            out.push_str(&" ".repeat(next));
            (column, fresh) = (next, true);
        }
        if !fresh {
            out.push(' ');
            column += 1;
        }
        out.push_str(&word);
        column += width;
        fresh = false;
    }
    out.push('\n');
    out
}

/// Words, with those joined that belong together: a number and its unit, a name and its number ("zone 1").
fn unbroken(text: &str) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    let number = |w: &str| {
        w.ends_with(|c: char| c.is_ascii_digit()) && w.chars().all(|c| c.is_ascii_digit() || "-.".contains(c))
    };
    for word in text.split_whitespace() {
        match words.last_mut() {
            Some(last)
                if (number(last) && word.len() <= 7) || (NUMBERED.contains(&last.as_str()) && word.len() <= 2) =>
            {
                last.push(' ');
                last.push_str(word);
            }
            _ => words.push(word.to_owned()),
        }
    }
    words
}

/// Names that carry a number behind them.
const NUMBERED: [&str; 3] = ["zone", "shutoff", "cock"];

/// Names and values in two columns, values wrapped under themselves.
#[derive(Debug, Default)]
pub(super) struct Rows(Vec<(String, String)>);

impl Rows {
    pub fn add(&mut self, name: &str, value: impl Into<String>) {
        self.0.push((name.to_owned(), value.into()));
    }

    /// All rows under a heading, names padded to the longest.
    pub fn laid_out(&self, heading: &str, columns: usize) -> String {
        let widest = self.0.iter().map(|(name, _)| name.chars().count()).max().unwrap_or(0);
        let mut out = format!("{heading}\n");
        for (name, value) in &self.0 {
            let value = wrapped(value, columns, widest + 4, widest + 4);
            let pad = " ".repeat(widest.saturating_sub(name.chars().count()));
            out.push_str(&format!("  {name}{pad}  {}", value.trim_start()));
        }
        out
    }
}

/// A difference of `kelvin` K, in degrees of the system.
pub(super) fn degrees(kelvin: f64, system: System) -> String {
    let (number, unit) = if system == System::Us { (1.8 * kelvin, "degF") } else { (kelvin, "K") };
    format!("{} {unit}", format(Kind::Number, number, system))
}

/// Where something stands that is `height` m above `what`, or below it.
pub(super) fn at_height(height: f64, what: &str, system: System) -> String {
    let by = format(Kind::Length, height.abs(), system);
    match height {
        0.0 => format!("level with {what}"),
        h if h > 0.0 => format!("{by} above {what}"),
        _ => format!("{by} below {what}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn analytic_lines_stay_within_the_width_and_numbers_keep_their_units() {
        let text = "The check lifts at 1.71 psi and the vent has shut when zone 1 stands at 3.26 psi by the hand sum.";
        for columns in 24..60 {
            let laid = wrapped(text, columns, 2, 4);
            for line in laid.lines() {
                assert!(line.chars().count() <= columns, "{columns}: {line:?}");
                assert!(!line.ends_with("1.71") && !line.ends_with("3.26"), "{line:?}");
            }
            let words = |s: &str| s.split_whitespace().map(str::to_owned).collect::<Vec<_>>();
            assert_eq!(words(&laid), words(text));
        }
    }

    #[test]
    fn analytic_control_characters_are_escaped() {
        assert_eq!(plain("a\u{1b}[31mb\nc"), "a\\u{1b}[31mb\nc");
    }
}
