//! One source of settings, read but not yet resolved: a TOML file, a built-in, or a list of `PATH=VALUE`.
//!
//! A value is a scalar (`load = "1.5 psi"`) or a table that also says where it comes from
//! (`load = { value = "1.5 psi", from = "estimate", note = "..." }`); `by_size` in place of `value` lists one value
//! for each nominal size, in the order of [`SIZES`](super::fields::SIZES).

use super::fields::{self, SIZES};
use crate::error::{At, Error, QuantityProblem, nearest, quoted};
use std::collections::BTreeMap;
use std::ops::Range;
use std::path::{Path, PathBuf};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Deepest nesting of brackets and of dotted keys; our own files need 3.
const DEEPEST: usize = 16;

/// How far a value can be relied on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Provenance {
    /// A standard or published table, named in the note.
    Source,
    /// What the trade does, without a source.
    CommonPractice,
    /// Remembered, to be verified.
    Memory,
    /// A modelling guess.
    Estimate,
    /// The user gave it and did not say.
    Given,
}

impl Provenance {
    const ALL: [Provenance; 5] =
        [Provenance::Source, Provenance::CommonPractice, Provenance::Memory, Provenance::Estimate, Provenance::Given];

    /// The word for it in files and output.
    pub fn word(self) -> &'static str {
        match self {
            Provenance::Source => "source",
            Provenance::CommonPractice => "common-practice",
            Provenance::Memory => "memory",
            Provenance::Estimate => "estimate",
            Provenance::Given => "given",
        }
    }
}

#[derive(Debug, Clone)]
enum Written {
    Once(String),
    BySize(Vec<String>),
}

/// One assignment as written.
#[derive(Debug, Clone)]
pub(super) struct Entry {
    written: Written,
    pub at: At,
    pub provenance: Provenance,
    pub note: String,
}

impl Entry {
    /// Whether it has a value for each nominal size.
    pub fn goes_by_size(&self) -> bool {
        matches!(self.written, Written::BySize(_))
    }

    /// The text for this nominal size.
    pub fn text(&self, size: &str) -> &str {
        match &self.written {
            Written::Once(text) => text,
            Written::BySize(texts) => {
                let place = SIZES.iter().position(|s| *s == size).unwrap_or(0);
                texts.get(place).map_or("", String::as_str)
            }
        }
    }
}

/// All assignments of one source.
#[derive(Debug, Clone)]
pub(super) struct Layer {
    pub base: Option<(String, At)>,
    pub entries: BTreeMap<&'static str, Entry>,
    /// Where relative file names start.
    pub directory: PathBuf,
    /// The fault this layer puts in, and how severe it is.
    pub fault: Option<(&'static str, f64)>,
    /// Parts of it that have been renewed since.
    pub cured: Vec<crate::faults::Component>,
}

impl Layer {
    /// A layer with one assignment, already taken apart.
    pub fn single(path: &str, text: &str, at: At) -> Result<Layer, Error> {
        let field = fields::require(path, &at)?;
        let entry =
            Entry { written: Written::Once(text.to_string()), at, provenance: Provenance::Given, note: String::new() };
        Ok(Layer::of(BTreeMap::from([(field.path, entry)])))
    }

    /// A layer of these entries.
    pub fn of(entries: BTreeMap<&'static str, Entry>) -> Layer {
        Layer { base: None, entries, directory: PathBuf::new(), fault: None, cured: Vec::new() }
    }

    /// A layer of assignments that somebody else worked out, all from the same place and with the same note.
    ///
    /// # Errors
    /// [`Error::UnknownField`].
    pub fn worked_out(changes: &[(&str, String)], at: &At, note: &str) -> Result<Layer, Error> {
        let mut entries = BTreeMap::new();
        for (path, text) in changes {
            let entry = Entry {
                written: Written::Once(text.clone()),
                at: at.clone(),
                provenance: Provenance::Given,
                note: note.to_string(),
            };
            entries.insert(fields::require(path, at)?.path, entry);
        }
        Ok(Layer::of(entries))
    }

    /// A layer from `PATH=VALUE`. Quotes round the value, a habit from TOML, are dropped.
    pub fn from_set(assignment: &str, at: At) -> Result<Layer, Error> {
        let Some((path, value)) = assignment.split_once('=') else {
            return Err(Error::Syntax { at, message: format!("PATH=VALUE is wanted, not {}", quoted(assignment)) });
        };
        let value = value.trim();
        let value = value.strip_prefix('"').and_then(|v| v.strip_suffix('"')).unwrap_or(value);
        Layer::single(path.trim(), value, at)
    }

    /// A layer from TOML text.
    ///
    /// # Errors
    /// [`Error::Syntax`], [`Error::UnknownField`], or [`Error::Quantity`] for a TOML type that no field takes.
    pub fn from_toml(text: &str, at: &At, directory: &Path) -> Result<Layer, Error> {
        Layer::from_toml_beside(text, at, directory, &[])
    }

    /// As [`Layer::from_toml`]; tables with the names in `beside` are left to another reader.
    pub fn from_toml_beside(text: &str, at: &At, directory: &Path, beside: &[&str]) -> Result<Layer, Error> {
        let ends = text.match_indices('\n').map(|(at, _)| at).collect();
        let reader = Reader { text, ends, at, beside };
        reader.check_depth()?;
        let root = DeTable::parse(text).map_err(|e| {
            let span = e.span();
            let line = span.clone().map(|s| reader.line(s));
            let part = span.and_then(|s| text.get(s)).filter(|p| !p.trim().is_empty() && p.len() < 200);
            let message = match part {
                Some(part) => format!("not TOML: {} at {}", e.message(), quoted(part)),
                None => format!("not TOML: {}", e.message()),
            };
            Error::Syntax { at: line.map_or_else(|| at.clone(), |l| at.line(l)), message }
        })?;
        let mut layer = Layer { directory: directory.to_path_buf(), ..Layer::of(BTreeMap::new()) };
        reader.table("", root.get_ref(), &mut layer)?;
        Ok(layer)
    }
}

struct Reader<'a> {
    text: &'a str,
    /// Where its lines end.
    ends: Vec<usize>,
    at: &'a At,
    beside: &'a [&'a str],
}

impl Reader<'_> {
    fn line(&self, span: Range<usize>) -> usize {
        self.ends.partition_point(|end| *end < span.start) + 1
    }

    fn place(&self, span: Range<usize>) -> At {
        self.at.line(self.line(span))
    }

    /// Refuses deep nesting before any recursive parser or destructor sees it. Strings and comments are skipped as
    /// TOML has them; text that is not TOML may be refused here or by the parser, either is right.
    fn check_depth(&self) -> Result<(), Error> {
        let (mut depth, mut dots) = (0_usize, 0_usize);
        let mut rest = self.text.as_bytes();
        while let [byte, tail @ ..] = rest {
            let mut skipped = 1;
            match byte {
                b'#' => skipped = rest.iter().position(|b| *b == b'\n').unwrap_or(rest.len()),
                b'"' | b'\'' => skipped = string_length(rest, *byte),
                b'[' | b'{' => (depth, dots) = (depth + 1, 0),
                b']' | b'}' => (depth, dots) = (depth.saturating_sub(1), 0),
                b'.' => dots += 1,
                b'=' | b',' | b'\n' => dots = 0,
                _ => {}
            }
            if depth > DEEPEST || dots > DEEPEST {
                let offset = self.text.len() - rest.len();
                let what = if depth > DEEPEST { "brackets" } else { "dotted names" };
                return Err(Error::Syntax {
                    at: self.place(offset..offset),
                    message: format!("{what} are nested deeper than {DEEPEST}; an assembly file needs 3"),
                });
            }
            rest = rest.get(skipped..).unwrap_or(tail);
        }
        Ok(())
    }

    fn table(&self, prefix: &str, table: &DeTable<'_>, layer: &mut Layer) -> Result<(), Error> {
        for (key, value) in table.iter() {
            let name = key.get_ref().as_ref();
            let path = if prefix.is_empty() { name.to_string() } else { format!("{prefix}.{name}") };
            let at = self.place(key.span());
            if prefix.is_empty() && self.beside.contains(&name) {
                continue;
            }
            if prefix.is_empty() && name == "base" {
                layer.base = Some((self.word(&path, value)?, at));
            } else if let Some(field) = fields::field(&path) {
                let entry = self.entry(field, at.clone(), value)?;
                // A quoted "check.load" and the table [check] are two keys to TOML and one field to us.
                if layer.entries.insert(field.path, entry).is_some() {
                    return Err(Error::Syntax { at, message: format!("duplicate key: {path} is given twice") });
                }
            } else if fields::is_group(&path) {
                match value.get_ref() {
                    DeValue::Table(inner) => self.table(&path, inner, layer)?,
                    _ => {
                        let message = format!("{path} is a group of fields: write [{path}] and its fields below");
                        return Err(Error::Syntax { at, message });
                    }
                }
            } else {
                let near = if prefix.is_empty() { nearest(&path, ["base"]) } else { None };
                let nearest = near.or_else(|| fields::nearest(&path));
                return Err(Error::UnknownField { at, field: path, nearest });
            }
        }
        Ok(())
    }

    fn entry(&self, field: &fields::Field, at: At, value: &Spanned<DeValue<'_>>) -> Result<Entry, Error> {
        let mut entry =
            Entry { written: Written::Once(String::new()), at, provenance: Provenance::Given, note: String::new() };
        let DeValue::Table(table) = value.get_ref() else {
            entry.written = Written::Once(self.scalar(field, value)?);
            return Ok(entry);
        };
        let mut written = None;
        for (key, inner) in table.iter() {
            let at = self.place(key.span());
            match key.get_ref().as_ref() {
                "value" => written = Some(Written::Once(self.scalar(field, inner)?)),
                "by_size" => written = Some(Written::BySize(self.by_size(field, inner)?)),
                "note" => entry.note = self.word(field.path, inner)?,
                "from" => {
                    let word = self.word(field.path, inner)?;
                    let known = || Provenance::ALL.into_iter().map(Provenance::word);
                    entry.provenance = Provenance::ALL.into_iter().find(|p| p.word() == word).ok_or_else(|| {
                        let problem =
                            QuantityProblem::NotAChoice { known: known().collect(), nearest: nearest(&word, known()) };
                        let field = format!("{}.from", field.path);
                        let expected = "a provenance".to_string();
                        Error::Quantity { at, field, text: word.clone(), expected, problem: Box::new(problem) }
                    })?;
                }
                other => {
                    let nearest = nearest(other, ["value", "by_size", "from", "note"])
                        .map(|n| format!("{}.{n}", field.path))
                        .or_else(|| fields::nearest(other));
                    return Err(Error::UnknownField { at, field: format!("{}.{other}", field.path), nearest });
                }
            }
        }
        if table.contains_key("value") && table.contains_key("by_size") {
            let message = format!("{}: value and by_size exclude each other", field.path);
            return Err(Error::Syntax { at: entry.at, message });
        }
        match written {
            Some(written) => entry.written = written,
            None => return Err(self.wrong_type(field, value, "a table without a value")),
        }
        Ok(entry)
    }

    fn by_size(&self, field: &fields::Field, value: &Spanned<DeValue<'_>>) -> Result<Vec<String>, Error> {
        match value.get_ref() {
            DeValue::Array(list) if list.len() == SIZES.len() => list.iter().map(|v| self.scalar(field, v)).collect(),
            _ => Err(self.wrong_type(field, value, "not a list of 7 values (3/8 in to 2 in)")),
        }
    }

    fn scalar(&self, field: &fields::Field, value: &Spanned<DeValue<'_>>) -> Result<String, Error> {
        match value.get_ref() {
            DeValue::String(text) => Ok(text.to_string()),
            DeValue::Integer(number) if number.radix() == 10 => Ok(number.as_str().to_string()),
            DeValue::Float(number) => Ok(number.as_str().to_string()),
            DeValue::Boolean(yes) => Ok(yes.to_string()),
            DeValue::Integer(_) => Err(self.wrong_type(field, value, "a binary, octal or hexadecimal number")),
            DeValue::Datetime(_) => Err(self.wrong_type(field, value, "a date or time of day")),
            DeValue::Array(_) => Err(self.wrong_type(field, value, "a list")),
            DeValue::Table(_) => Err(self.wrong_type(field, value, "a table")),
        }
    }

    fn word(&self, path: &str, value: &Spanned<DeValue<'_>>) -> Result<String, Error> {
        match value.get_ref() {
            DeValue::String(text) => Ok(text.to_string()),
            _ => Err(Error::Quantity {
                at: self.place(value.span()),
                field: path.to_string(),
                text: self.text.get(value.span()).unwrap_or_default().to_string(),
                expected: "a text in quotes".to_string(),
                problem: Box::new(QuantityProblem::WrongType { found: "something else" }),
            }),
        }
    }

    fn wrong_type(&self, field: &fields::Field, value: &Spanned<DeValue<'_>>, found: &'static str) -> Error {
        Error::Quantity {
            at: self.place(value.span()),
            field: field.path.to_string(),
            text: self.text.get(value.span()).unwrap_or_default().to_string(),
            expected: field.expected(),
            problem: Box::new(QuantityProblem::WrongType { found }),
        }
    }
}

/// Length in bytes of the TOML string at the start of `text`, closing quotes included.
fn string_length(text: &[u8], quote: u8) -> usize {
    let triple = [quote; 3];
    let long = text.starts_with(&triple);
    let mut at = if long { 3 } else { 1 };
    while let Some(rest) = text.get(at..).filter(|r| !r.is_empty()) {
        match rest {
            [b'\\', ..] if quote == b'"' => at += 2,
            _ if long && rest.starts_with(&triple) => return at + 3,
            [b, ..] if !long && *b == quote => return at + 1,
            // An unclosed string ends with its line; what follows must not hide from the check.
            [b'\n', ..] if !long => return at,
            _ => at += 1,
        }
    }
    text.len()
}
