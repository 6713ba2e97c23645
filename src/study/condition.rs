//! `KEY<op>VALUE`: what an answer must be.

use super::axis::syntax;
use super::judged::Judged;
use super::output::{Cell, Output};
use crate::error::{At, Error, nearest, quoted};
use crate::units::{self, Kind};

/// How two values are compared.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Op {
    /// At least.
    AtLeast,
    /// At most.
    AtMost,
    /// Above.
    Above,
    /// Below.
    Below,
    /// The same.
    Is,
    /// Not the same.
    IsNot,
}

/// Longer signs first, lest "<" be found in "<=".
const SIGNS: [(&str, Op); 7] = [
    (">=", Op::AtLeast),
    ("<=", Op::AtMost),
    ("==", Op::Is),
    ("!=", Op::IsNot),
    (">", Op::Above),
    ("<", Op::Below),
    ("=", Op::Is),
];

/// What signs are made of.
const MARKS: [char; 4] = ['<', '>', '=', '!'];

impl Op {
    /// Its sign.
    pub fn sign(self) -> &'static str {
        SIGNS.iter().find(|(_, op)| *op == self).map_or("", |(sign, _)| sign)
    }

    /// Whether `left op right` holds; never with NaN.
    pub fn holds(self, left: f64, right: f64) -> bool {
        match self {
            Op::AtLeast => left >= right,
            Op::AtMost => left <= right,
            Op::Above => left > right,
            Op::Below => left < right,
            Op::Is => left == right,
            // NaN is not comparable: nothing holds with it.
            Op::IsNot => left.partial_cmp(&right).is_some_and(std::cmp::Ordering::is_ne),
        }
    }
}

/// Splits `KEY<op>VALUE` at the first sign.
///
/// # Errors
/// [`Error::Syntax`] without a sign.
pub fn split<'a>(text: &'a str, at: &At) -> Result<(&'a str, Op, &'a str), Error> {
    let place = text.find(MARKS);
    let found = place.and_then(|p| {
        SIGNS.iter().find(|(sign, _)| text.get(p..).is_some_and(|t| t.starts_with(sign))).map(|s| (p, s))
    });
    match found {
        // Nothing, or another sign ("=<"), is no value.
        Some((p, (sign, op)))
            if text.get(p + sign.len()..).is_some_and(|v| !v.trim().is_empty() && !v.starts_with(MARKS)) =>
        {
            let (key, value) = (text.get(..p).unwrap_or(""), text.get(p + sign.len()..).unwrap_or(""));
            Ok((key.trim(), *op, value.trim()))
        }
        _ => syntax(
            at,
            format!(
                "KEY<op>VALUE is wanted, with <, <=, >, >=, == or !=, for example \"sequence.spill_m3<1 mL\", not {}",
                quoted(text)
            ),
        ),
    }
}

/// Reads the number on the right of a sign; zero needs no unit.
pub(super) fn number(kind: Kind, key: &str, text: &str, at: &At) -> Result<f64, Error> {
    if text.parse::<f64>() == Ok(0.0) && kind != Kind::Temperature && kind != Kind::AbsolutePressure {
        return Ok(0.0);
    }
    units::parse(kind, text).map_err(|problem| Error::Quantity {
        at: at.clone(),
        field: key.to_owned(),
        text: text.to_owned(),
        expected: kind.expected().to_owned(),
        problem: Box::new(problem),
    })
}

/// Values that are one of a few words.
const WORDS: [(&str, &[&str]); 3] = [
    ("sequence.order", &["check-first", "air-inlet-first", "air-inlet-never-closed", "check-never-opened"]),
    ("sequence.stop", &["settled", "end-time", "check-closed", "order-known", "chatter"]),
    ("field-test.result", &["pass", "fail", "not-testable"]),
];

/// The word on the right of a sign, if the value can be it.
fn known_word<'a>(output: &Output, value: &'a str, at: &At) -> Result<&'a str, Error> {
    let name = output.name();
    match WORDS.iter().find(|(key, _)| *key == name) {
        Some((_, words)) if !words.contains(&value) => Err(Error::UnknownName {
            at: Some(at.clone()),
            what: "value of this key",
            name: value.to_owned(),
            nearest: nearest(value, words.iter().copied()),
            known: words.iter().map(|w| (*w).to_owned()).collect(),
        }),
        _ => Ok(value),
    }
}

/// A condition on one recorded value.
#[derive(Debug, Clone, PartialEq)]
pub struct Condition {
    /// What is compared.
    pub output: Output,
    /// How.
    pub op: Op,
    /// With what.
    pub value: Cell,
    /// As written.
    pub text: String,
    /// Where it is written.
    pub at: At,
}

impl Condition {
    /// Reads `COMMAND.KEY<op>VALUE`: `sequence.spill_m3<1 mL`, `sequence.order==air-inlet-first`,
    /// `sequence.spilling_at_end==false`. Numbers carry a unit of the key's kind; zero needs none.
    ///
    /// # Errors
    /// [`Error`] with the reason; words and flags take only `==` and `!=`.
    pub fn parse(text: &str, at: &At) -> Result<Condition, Error> {
        let (key, op, value) = split(text, at)?;
        let output = Output::parse(key, at)?;
        let kind = output.kind();
        // A key with a unit at its end is a number, whatever stands here.
        let word = kind == Kind::Number && value.starts_with(|c: char| c.is_ascii_alphabetic());
        let value = match value {
            "true" | "false" if word => Cell::Flag(value == "true"),
            _ if word => Cell::Text(known_word(&output, value, at)?.to_owned()),
            _ => Cell::Number(number(kind, &output.name(), value, at)?),
        };
        if !matches!(value, Cell::Number(_)) && !matches!(op, Op::Is | Op::IsNot) {
            return syntax(at, format!("{}: words are compared with == or !=", quoted(text)));
        }
        Ok(Condition { output, op, value, text: text.trim().to_owned(), at: at.clone() })
    }

    /// The word that it compares with, where not all words of its key are known: it may be misspelt.
    pub fn unchecked_word(&self) -> Option<&str> {
        let name = self.output.name();
        match &self.value {
            Cell::Text(word) if !WORDS.iter().any(|(key, _)| *key == name) => Some(word),
            _ => None,
        }
    }

    /// Whether a recorded value meets it; unknown where there is none to judge.
    ///
    /// # Errors
    /// [`Error::Syntax`] if the value is of another type than what it is compared with.
    pub fn judge(&self, cell: &Cell) -> Result<Judged, Error> {
        let holds = match (&self.value, cell) {
            (_, Cell::Missing) => None,
            (Cell::Number(_), Cell::Number(left)) if left.is_nan() => None,
            (Cell::Number(right), Cell::Number(left)) => Some(self.op.holds(*left, *right)),
            (Cell::Text(_), Cell::Text(_)) | (Cell::Flag(_), Cell::Flag(_)) => {
                Some((self.value == *cell) == (self.op == Op::Is))
            }
            (_, cell) => {
                let is = match cell {
                    Cell::Flag(_) => "true or false",
                    Cell::Text(_) => "a word",
                    _ => "a number",
                };
                let message = format!(
                    "{}: {} is {is} ({} here), so it is compared with {is}",
                    quoted(&self.text),
                    self.output.name(),
                    cell.text()
                );
                return syntax(&self.at, message);
            }
        };
        Ok(holds.into())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::error::Source;

    #[test]
    fn practice_conditions_are_read_and_decided() {
        let at = At::whole(Source::Option("--so-that"));
        let judge = |text: &str, cell: Cell| Condition::parse(text, &at).unwrap().judge(&cell);
        let holds = |text: &str, cell: Cell| judge(text, cell).unwrap() == Judged::Holds;
        let word = |w: &str| Cell::Text(w.to_owned());
        assert!(holds("sequence.spill_m3<1 mL", Cell::Number(0.9e-6)));
        assert!(!holds("sequence.spill_m3<1 mL", Cell::Number(1.1e-6)));
        assert!(holds("sequence.sequence_margin_pa >= 0", Cell::Number(0.0)));
        assert!(holds("sequence.order==air-inlet-first", word("air-inlet-first")));
        assert!(holds("sequence.order=air-inlet-first", word("air-inlet-first")));
        assert!(holds("sequence.order!=check-first", word("air-inlet-first")));
        assert!(holds("sequence.spilling_at_end==false", Cell::Flag(false)));
        assert!(!holds("sequence.sequence_margin_pa>0", Cell::Missing));
        assert!(!holds("sequence.sequence_margin_pa!=0", Cell::Number(f64::NAN)));
        assert_eq!(judge("sequence.spill_m3<1 mL", Cell::Missing), Ok(Judged::Unknown));
        assert_eq!(judge("sequence.spill_m3<1 mL", Cell::Number(f64::NAN)), Ok(Judged::Unknown));
        assert_eq!(judge("sequence.spill_m3<1 mL", Cell::Number(2e-6)), Ok(Judged::DoesNot));
        for (text, cell, part) in [
            ("siphon.protects==maybe", Cell::Flag(true), "true or false"),
            ("sequence.spilling_at_end>0", Cell::Flag(true), "true or false"),
            ("sequence.order!=true", word("check-first"), "a word"),
            ("sequence.order==3", word("check-first"), "a word"),
            ("sequence.solver.steps==many", Cell::Number(9.0), "a number"),
        ] {
            let message = judge(text, cell).unwrap_err().to_string();
            assert!(message.starts_with("--so-that: ") && message.contains(part), "{message}");
        }
        for (text, part) in [
            ("sequence.spill_m3", "KEY<op>VALUE"),
            ("sequence.order== ", "KEY<op>VALUE"),
            ("sequence.spill_m3=<1 mL", "<, <=, >"),
            ("sequence.order<>check-first", "KEY<op>VALUE"),
            ("sequence.spill_m3<1", "unit is missing"),
            ("sequence.spill_m3<1 psi", "unknown unit"),
            ("sequence.order<check-first", "== or !="),
            ("sequence.spill_m3==false", "takes a volume"),
            ("sequenze.order==x", "did you mean \"sequence\"?"),
            ("<1", "command to ask"),
        ] {
            let message = Condition::parse(text, &at).unwrap_err().to_string();
            assert!(message.contains(part), "{text}: {message}");
        }
    }
}
