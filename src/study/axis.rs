//! One field and the values it is to take.

use crate::assembly::fields::{self, Field};
use crate::error::{At, Error, Source, quoted};
use crate::units::{self, Kind};
use std::path::Path;

/// Most values on one axis.
const MOST: usize = 1_000_000;

/// A field with the values it takes in turn, SI.
#[derive(Debug, Clone, PartialEq)]
pub struct Axis {
    /// The field.
    pub path: &'static str,
    /// What its numbers are.
    pub kind: Kind,
    /// The values, SI, in the order in which they are taken.
    pub values: Vec<f64>,
    /// Whether they are spaced evenly by ratio.
    pub log: bool,
}

/// The place that messages about an option name.
pub(super) fn option(name: &'static str) -> At {
    At::whole(Source::Option(name))
}

pub(super) fn syntax<T>(at: &At, message: impl Into<String>) -> Result<T, Error> {
    Err(Error::Syntax { at: at.clone(), message: message.into() })
}

/// The field and the kind of its number.
pub(super) fn number_field(path: &str, at: &At) -> Result<(&'static Field, Kind), Error> {
    let field = fields::require(path, at)?;
    match field.number_kind() {
        Some(kind) => Ok((field, kind)),
        None => syntax(at, format!("{} has no number that could be varied; it takes {}", field.path, field.expected())),
    }
}

/// A number with `unit` behind it, unless it has one of its own.
fn with_unit(text: &str, unit: &str) -> String {
    let bare = units::parse_number(text).is_ok_and(|(_, rest)| rest.trim().is_empty());
    if bare && !unit.is_empty() { format!("{} {unit}", text.trim()) } else { text.trim().to_owned() }
}

/// Reads a number that may leave its unit to `unit`.
pub(super) fn quantity(field: &Field, kind: Kind, text: &str, unit: &str, at: &At) -> Result<f64, Error> {
    units::parse(kind, &with_unit(text, unit)).map_err(|problem| Error::Quantity {
        at: at.clone(),
        field: field.path.to_owned(),
        text: text.trim().to_owned(),
        expected: field.expected(),
        problem: Box::new(problem),
    })
}

/// The unit that stands behind a number.
fn unit_of(text: &str) -> &str {
    units::parse_number(text).map_or("", |(_, rest)| rest.trim())
}

/// Where one unknown is looked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Range {
    /// The field.
    pub path: &'static str,
    /// What its numbers are.
    pub kind: Kind,
    /// Where the search begins, SI.
    pub low: f64,
    /// Where it ends, SI.
    pub high: f64,
}

impl Range {
    /// Reads `PATH=LOW:HIGH`, the unit behind either number or behind the whole.
    ///
    /// # Errors
    /// [`Error`] with the reason.
    pub fn parse(text: &str) -> Result<Range, Error> {
        let at = option("find");
        let wanted = || {
            let example = "for example \"check.load=1:3 psi\"";
            syntax(&at, format!("PATH=LOW:HIGH is wanted, {example}, not {}", quoted(text)))
        };
        let Some((path, rest)) = text.split_once('=') else { return wanted() };
        let (field, kind) = number_field(path.trim(), &at)?;
        let Some((low, high)) = rest.split_once(':').filter(|(_, high)| !high.contains(':')) else { return wanted() };
        // Both ends are values of the field, and refused as they were written.
        let end = |text: &str, unit| -> Result<f64, Error> {
            field.read(&with_unit(text, unit), &at, Path::new(""))?;
            quantity(field, kind, text, unit, &at)
        };
        let (low, high) = (end(low, unit_of(high))?, end(high, "")?);
        if low == high {
            return syntax(&at, format!("{}: LOW and HIGH are the same", field.path));
        }
        Ok(Range { path: field.path, kind, low, high })
    }
}

impl Axis {
    /// `count` values from `low` to `high` (SI), both included, evenly spaced by difference or, with `log`, by ratio. Of a
    /// field that takes whole numbers it is the nearest ones, each once.
    ///
    /// # Errors
    /// [`Error`] for a path that is no field with a number, a count of 0 or above a million, one value between two different
    /// ends, or `log` from or to 0 or less.
    pub fn new(path: &str, low: f64, high: f64, count: usize, log: bool) -> Result<Axis, Error> {
        Axis::at(path, low, high, count, log, &At::whole(Source::Study))
    }

    fn at(path: &str, low: f64, high: f64, count: usize, log: bool, at: &At) -> Result<Axis, Error> {
        let (field, kind) = number_field(path, at)?;
        if !(1..=MOST).contains(&count) {
            return syntax(at, format!("{path}: COUNT must be from 1 to {MOST}, not {count}"));
        }
        if !(low.is_finite() && high.is_finite()) {
            return syntax(at, format!("{path}: LOW and HIGH must be finite"));
        }
        if count > 1 && low == high {
            return syntax(at, format!("{path}: LOW and HIGH are the same; {count} equal values make no axis"));
        }
        if count == 1 && low != high {
            return syntax(at, format!("{path}: COUNT is 1, and LOW and HIGH are two values"));
        }
        if log && !(low > 0.0 && high > 0.0) {
            return syntax(at, format!("{path}: log needs LOW and HIGH above zero"));
        }
        let last = (count - 1).max(1) as f64;
        let value = |i: usize| match i {
            0 => low,
            i if i + 1 == count => high,
            i if log => low * (high / low).powf(i as f64 / last),
            i => low + (high - low) * (i as f64 / last),
        };
        let mut values: Vec<f64> = (0..count).map(value).collect();
        if kind == Kind::Count {
            values.iter_mut().for_each(|v| *v = v.round());
            values.dedup();
        }
        Ok(Axis { path: field.path, kind, values, log })
    }

    /// Reads `PATH=LOW:HIGH:COUNT [unit] [log]`, for example `check.load=0.5:3:26 psi` or
    /// `shutoff1.opening_time=50 ms:60 s:20 log`.
    ///
    /// # Errors
    /// [`Error`] that names `--vary`, the field and the rule.
    pub fn parse(text: &str) -> Result<Axis, Error> {
        let at = option("--vary");
        let wanted = || {
            let example = "for example \"check.load=0.5:3:26 psi\"";
            syntax(&at, format!("PATH=LOW:HIGH:COUNT [unit] [log] is wanted, {example}, not {}", quoted(text)))
        };
        let Some((path, rest)) = text.split_once('=') else { return wanted() };
        let (field, kind) = number_field(path.trim(), &at)?;
        let parts: Vec<&str> = rest.split(':').collect();
        let [low, high, tail] = parts.as_slice() else { return wanted() };
        // A unit may follow at once, as in "26psi"; a fraction or an exponent is no count.
        let tail = tail.trim();
        let (count, rest) = tail.split_at(tail.find(|c: char| !c.is_ascii_digit()).unwrap_or(tail.len()));
        let number = units::parse_number(tail).is_ok_and(|(_, behind)| behind.trim() == rest.trim());
        let count = match count.parse::<usize>() {
            Ok(count) if number => count,
            _ => return syntax(&at, format!("{path}: COUNT must be a whole number, not {}", quoted(tail))),
        };
        let mut words: Vec<&str> = rest.split_whitespace().collect();
        let log = words.last() == Some(&"log");
        if log {
            words.pop();
        }
        let unit = if words.is_empty() { unit_of(high).to_owned() } else { words.join(" ") };
        let low = quantity(field, kind, low, &unit, &at)?;
        let high = quantity(field, kind, high, &unit, &at)?;
        Axis::at(field.path, low, high, count, log, &at)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 1 psi = 6.894 757 E+03 Pa (NIST SP 811), so 0.001 Pa or 1.45e-7 to the last digit given.
    #[test]
    fn ref_units_may_stand_at_either_end_or_behind_the_count() {
        for text in [
            "check.load=1:3:5 psi",
            "check.load=1 psi:3 psi:5",
            "check.load=1:3 psi:5",
            "check.load = 1 : 3 : 5 psi",
            "check.load=1:3:5psi",
        ] {
            let axis = Axis::parse(text).unwrap();
            assert_eq!(axis.values.len(), 5);
            for (i, v) in axis.values.iter().enumerate() {
                approx::assert_relative_eq!(*v, 6894.757 * (1.0 + 0.5 * i as f64), max_relative = 1.45e-7);
            }
        }
    }

    #[test]
    fn analytic_log_axes_have_equal_ratios_and_exact_ends() {
        let axis = Axis::parse("shutoff1.opening_time=50 ms:50 s:4 log").unwrap();
        for (v, expected) in axis.values.iter().zip([0.05, 0.5, 5.0, 50.0]) {
            approx::assert_relative_eq!(*v, expected, max_relative = 1e-12);
        }
        assert_eq!((axis.values[0], axis.values[3]), (0.05, 50.0));
    }

    /// Halves between two cells of a line were handed on, and each of their runs failed.
    #[test]
    fn bug_an_axis_of_whole_numbers_has_whole_values() {
        let values = |text: &str| Axis::parse(text).unwrap().values;
        assert_eq!(values("supply.line_cells=1:16:5"), [1.0, 5.0, 9.0, 12.0, 16.0]);
        assert_eq!(values("supply.line_cells=1:4:9"), [1.0, 2.0, 3.0, 4.0]);
        assert_eq!(values("supply.line_cells=1:16:9 log"), [1.0, 2.0, 3.0, 4.0, 6.0, 8.0, 11.0, 16.0]);
        assert!(Axis::parse("supply.line_cells=1.5:16:5").unwrap_err().to_string().contains("whole number"));
    }

    /// Ends of a range that the field does not take were named in kelvin, as of a "study".
    #[test]
    fn bug_the_ends_of_a_range_are_refused_as_written() {
        for (text, part) in [
            ("water.temperature=160:180 degF", "find: water.temperature = \"160 degF\": out of range"),
            ("check.load=-1:2 psi", "find: check.load = \"-1 psi\": out of range"),
            ("supply.line_cells=1.5:4", "whole number"),
        ] {
            let message = Range::parse(text).unwrap_err().to_string();
            assert!(message.contains(part), "{message}");
        }
    }

    #[test]
    fn practice_what_is_no_axis_is_refused_with_its_reason() {
        for (text, part) in [
            ("check.lod=1:2:3 psi", "did you mean \"check.load\"?"),
            ("check.load", "PATH=LOW:HIGH:COUNT"),
            ("check.load=1:2", "PATH=LOW:HIGH:COUNT"),
            ("check.load=1:2:3:4 psi", "PATH=LOW:HIGH:COUNT"),
            ("check.load=1:2:0 psi", "COUNT must be from 1"),
            ("check.load=1:2:x psi", "COUNT must be a whole number"),
            ("check.load=1:2:2.5 psi", "COUNT must be a whole number"),
            ("check.load=1:2:1 psi", "COUNT is 1"),
            ("check.load=1:2:3", "unit is missing"),
            ("check.load=1:2:3 m", "unknown unit"),
            ("check.load=0:2:3 psi log", "above zero"),
            ("check.load=2:2:3 psi", "the same"),
            ("check.load=nan:2:3 psi", "finite"),
            ("mounting=1:2:3", "no number that could be varied"),
            ("check.load=1:2:99999999999 psi", "COUNT must be from 1"),
        ] {
            let message = Axis::parse(text).unwrap_err().to_string();
            assert!(message.starts_with("--vary: ") && message.contains(part), "{text}: {message}");
        }
    }
}
