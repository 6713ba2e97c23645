//! Values in the tables of a population, with the line of what is wrong.

use super::axis::syntax;
use crate::error::{At, Error, QuantityProblem, nearest};
use crate::units::{self, Kind};
use std::ops::Range;
use std::path::Path;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// A file's text, for values and the lines they stand in.
pub(super) struct Reader<'a> {
    pub text: &'a str,
    /// The file.
    pub at: &'a At,
    /// Its folder.
    pub directory: &'a Path,
}

/// Name, value and place of an entry.
pub(super) type Entry<'a, 'b> = (&'b str, &'b Spanned<DeValue<'a>>, At);

impl Reader<'_> {
    /// The line that a span begins in.
    pub fn place(&self, span: Range<usize>) -> At {
        let before = self.text.as_bytes().get(..span.start).unwrap_or(self.text.as_bytes());
        self.at.line(before.iter().filter(|b| **b == b'\n').count() + 1)
    }

    /// The entries of a table, all of which must be known.
    pub fn entries<'a, 'b>(
        &self,
        what: &str,
        table: &'b DeTable<'a>,
        known: &[&str],
    ) -> Result<Vec<Entry<'a, 'b>>, Error> {
        let mut all = Vec::new();
        for (key, value) in table.iter() {
            let (name, here) = (key.get_ref().as_ref(), self.place(key.span()));
            if !known.contains(&name) {
                let nearest = nearest(name, known.iter().copied());
                return Err(Error::UnknownName {
                    at: Some(here),
                    what: "entry of this kind",
                    name: format!("{what}.{name}"),
                    nearest,
                    known: known.iter().map(|k| (*k).to_owned()).collect(),
                });
            }
            all.push((name, value, here));
        }
        Ok(all)
    }

    /// One value as text.
    pub fn scalar(&self, value: &Spanned<DeValue<'_>>, what: &str) -> Result<String, Error> {
        match value.get_ref() {
            DeValue::String(text) => Ok(text.to_string()),
            DeValue::Integer(number) if number.radix() == 10 => Ok(number.as_str().to_string()),
            DeValue::Float(number) => Ok(number.as_str().to_string()),
            _ => syntax(&self.place(value.span()), format!("{what}: one value is wanted here")),
        }
    }

    /// A quantity, SI.
    pub fn number(&self, value: &Spanned<DeValue<'_>>, kind: Kind, what: &str) -> Result<f64, Error> {
        let text = self.scalar(value, what)?;
        units::parse(kind, &text).map_err(|problem| self.quantity(value, kind, what, text, problem))
    }

    /// A width: a difference between two values of the kind, so that "2 degC" is two degrees, and "0.2 psi" will do for an
    /// absolute pressure.
    pub fn width(&self, value: &Spanned<DeValue<'_>>, kind: Kind, what: &str) -> Result<f64, Error> {
        let text = self.scalar(value, what)?;
        let kind = match kind {
            Kind::AbsolutePressure if units::parse(Kind::PressureDifference, &text).is_ok() => Kind::PressureDifference,
            _ => kind,
        };
        let width = units::parse(kind, &text).and_then(|end| {
            let (_, unit) = units::parse_number(&text)?;
            let zero = units::parse(kind, format!("0 {unit}").trim())?;
            Ok(end - zero)
        });
        let width = width.map_err(|problem| self.quantity(value, kind, what, text.clone(), problem))?;
        if width >= 0.0 {
            Ok(width)
        } else {
            syntax(&self.place(value.span()), format!("{what} = {text:?}: a spread cannot be negative"))
        }
    }

    fn quantity(
        &self,
        value: &Spanned<DeValue<'_>>,
        kind: Kind,
        what: &str,
        text: String,
        problem: QuantityProblem,
    ) -> Error {
        Error::Quantity {
            at: self.place(value.span()),
            field: what.to_owned(),
            text,
            expected: kind.expected().to_owned(),
            problem: Box::new(problem),
        }
    }
}
