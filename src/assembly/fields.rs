//! The catalogue: the one place that says which fields an assembly has, what each takes and what it means.

use crate::error::{self, At, Error, QuantityProblem};
use crate::units::{self, Kind};
use std::path::{Path, PathBuf};

mod list;

/// Nominal sizes, in the order in which the built-in files list values by size.
pub const SIZES: [&str; 7] = ["3/8 in", "1/2 in", "3/4 in", "1 in", "1-1/4 in", "1-1/2 in", "2 in"];

/// What a field takes.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum FieldKind {
    /// A quantity with its unit, or a plain number.
    Quantity(Kind),
    /// A quantity, or the word that stands for "none".
    QuantityOr(Kind, &'static str),
    /// How far something is open: true (1), false (0) or a number from 0 to 1.
    Opening,
    /// true or false.
    Switch,
    /// One of these words.
    Choice(&'static [&'static str]),
    /// A nominal size of [`SIZES`].
    Size,
    /// A CSV file, relative to the file that names it, or "none".
    Path,
    /// Water at the start: "empty", "brimful" or a volume.
    Initial,
}

/// One end of a range, as text with its unit so that messages print it as written here.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Bound {
    /// The value with its unit.
    pub text: &'static str,
    /// Whether the value itself is allowed.
    pub included: bool,
}

/// Which values of a field are possible.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rule {
    /// Whatever the kind allows.
    Any,
    /// Between two ends.
    Range(Bound, Bound),
}

impl Rule {
    /// Both ends allowed.
    const fn within(low: &'static str, high: &'static str) -> Rule {
        Rule::Range(Bound { text: low, included: true }, Bound { text: high, included: true })
    }

    /// Above the low end, up to the high end.
    const fn above(low: &'static str, high: &'static str) -> Rule {
        Rule::Range(Bound { text: low, included: false }, Bound { text: high, included: true })
    }

    /// Neither end allowed.
    const fn between(low: &'static str, high: &'static str) -> Rule {
        Rule::Range(Bound { text: low, included: false }, Bound { text: high, included: false })
    }

    /// The ends in SI; `None` without a range.
    pub fn range_si(&self, kind: Kind) -> Option<(f64, f64)> {
        match self {
            Rule::Any => None,
            Rule::Range(low, high) => Some((units::parse(kind, low.text).ok()?, units::parse(kind, high.text).ok()?)),
        }
    }

    /// Whether the SI value obeys; NaN never does.
    pub fn allows(&self, kind: Kind, si: f64) -> bool {
        match self {
            Rule::Any => si.is_finite(),
            Rule::Range(low, high) => match self.range_si(kind) {
                Some((l, h)) => {
                    (if low.included { si >= l } else { si > l }) && (if high.included { si <= h } else { si < h })
                }
                None => false,
            },
        }
    }

    /// The rule in words.
    pub fn words(&self) -> String {
        match self {
            Rule::Any => "a finite number".to_string(),
            Rule::Range(low, high) => format!(
                "{} {} and {} {}",
                if low.included { "at least" } else { "above" },
                low.text,
                if high.included { "at most" } else { "below" },
                high.text
            ),
        }
    }
}

/// One field of an assembly file.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Field {
    /// Dotted path, snake_case.
    pub path: &'static str,
    /// What it takes.
    pub kind: FieldKind,
    /// Which values are possible.
    pub rule: Rule,
    /// What it means, one sentence.
    pub doc: &'static str,
}

/// Water in a space at the start of a run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Initial {
    /// Air at atmospheric pressure only.
    Empty,
    /// Water up to the air that cannot leave.
    Brimful,
    /// This volume of water, m3.
    Volume(f64),
}

/// A field's value, SI.
#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    /// Not set, or the word that stands for "none".
    None,
    /// Number, SI.
    Number(f64),
    /// One of the field's words.
    Choice(&'static str),
    /// true or false.
    Switch(bool),
    /// File, joined to the directory of the file that names it.
    Path(PathBuf),
    /// Water at the start.
    Initial(Initial),
}

/// All fields, in the order in which files list them.
pub fn fields() -> impl Iterator<Item = &'static Field> {
    list::GROUPS.iter().flat_map(|group| group.iter())
}

/// Paths of the fields that name a file.
pub fn paths() -> impl Iterator<Item = &'static str> {
    fields().filter(|f| f.kind == FieldKind::Path).map(|f| f.path)
}

/// The field with this path.
pub fn field(path: &str) -> Option<&'static Field> {
    fields().find(|f| f.path == path)
}

/// The field with this path.
///
/// # Errors
/// [`Error::UnknownField`] with the nearest known path.
pub fn require(path: &str, at: &At) -> Result<&'static Field, Error> {
    field(path).ok_or_else(|| Error::UnknownField { at: at.clone(), field: path.to_string(), nearest: nearest(path) })
}

/// The known path nearest to a name that is none: by spelling, else by its last part ("load" in the wrong group).
pub fn nearest(path: &str) -> Option<String> {
    let last = path.rsplit('.').next().unwrap_or(path);
    let same_last = || fields().find(|f| f.path.rsplit('.').next() == Some(last)).map(|f| f.path.to_string());
    error::nearest(path, fields().map(|f| f.path)).or_else(same_last)
}

/// Whether any field lies in the group with this name ("check", "zone1").
pub fn is_group(name: &str) -> bool {
    !name.is_empty() && fields().any(|f| f.path.split_once('.').is_some_and(|(group, _)| group == name))
}

/// The canonical spelling of a nominal size: "1", "1 in", "1.25 in" and "25.4 mm" are read by their value.
pub fn size_named(text: &str) -> Option<&'static str> {
    let metres =
        units::parse(Kind::Length, text).or_else(|_| units::parse(Kind::Length, &format!("{text} in"))).ok()?;
    SIZES.into_iter().find(|s| units::parse(Kind::Length, s).is_ok_and(|m| (m - metres).abs() < 1e-6))
}

impl Field {
    /// What to write, for messages and comments.
    pub fn expected(&self) -> String {
        match self.kind {
            FieldKind::Quantity(kind) => kind.expected().to_string(),
            FieldKind::QuantityOr(kind, word) => format!("{}, or \"{word}\"", kind.expected()),
            FieldKind::Opening => "true, false or a number from 0 to 1".to_string(),
            FieldKind::Switch => "true or false".to_string(),
            FieldKind::Choice(words) => format!("one of {}", words.join(", ")),
            FieldKind::Size => format!("one of {}", SIZES.join(", ")),
            FieldKind::Path => "the name of a CSV file, or \"none\"".to_string(),
            FieldKind::Initial => "\"empty\", \"brimful\" or a volume of water such as \"20 mL\"".to_string(),
        }
    }

    /// The kind of its number, for fields that can hold one.
    pub fn number_kind(&self) -> Option<Kind> {
        match self.kind {
            FieldKind::Quantity(kind) | FieldKind::QuantityOr(kind, _) => Some(kind),
            FieldKind::Opening => Some(Kind::Number),
            FieldKind::Initial => Some(Kind::Volume),
            _ => None,
        }
    }

    /// Reads a value as people write it. `base` is the directory that relative file names start from.
    ///
    /// # Errors
    /// [`Error::Quantity`] if the text is not what the field takes, [`Error::OutOfRange`] if it breaks the rule.
    pub fn read(&self, text: &str, at: &At, base: &Path) -> Result<Value, Error> {
        let refuse = |problem| Error::Quantity {
            at: at.clone(),
            field: self.path.to_string(),
            text: text.to_string(),
            expected: self.expected(),
            problem: Box::new(problem),
        };
        let text = text.trim();
        if text.is_empty() {
            return Err(refuse(QuantityProblem::Empty));
        }
        let word = |w: &str| text.eq_ignore_ascii_case(w);
        let value = match self.kind {
            FieldKind::Quantity(kind) => Value::Number(units::parse(kind, text).map_err(refuse)?),
            FieldKind::QuantityOr(_, w) if word(w) => Value::None,
            FieldKind::QuantityOr(kind, _) => Value::Number(units::parse(kind, text).map_err(refuse)?),
            FieldKind::Opening if word("true") => Value::Number(1.0),
            FieldKind::Opening if word("false") => Value::Number(0.0),
            FieldKind::Opening => Value::Number(units::parse(Kind::Number, text).map_err(refuse)?),
            FieldKind::Switch if word("true") => Value::Switch(true),
            FieldKind::Switch if word("false") => Value::Switch(false),
            FieldKind::Switch => return Err(refuse(not_a_choice(text, &["true", "false"]))),
            FieldKind::Choice(words) => match words.iter().find(|w| **w == text) {
                Some(w) => Value::Choice(w),
                None => return Err(refuse(not_a_choice(text, words))),
            },
            FieldKind::Size => match size_named(text) {
                Some(size) => Value::Choice(size),
                None => return Err(refuse(not_a_choice(text, &SIZES))),
            },
            FieldKind::Path if word("none") => Value::None,
            // A NUL cannot be part of a name, and the system's own message for it helps nobody.
            FieldKind::Path if text.contains('\0') || text.len() > 4096 => {
                return Err(refuse(QuantityProblem::TooLong));
            }
            FieldKind::Path => Value::Path(base.join(text)),
            FieldKind::Initial if word("empty") => Value::Initial(Initial::Empty),
            FieldKind::Initial if word("brimful") => Value::Initial(Initial::Brimful),
            FieldKind::Initial => Value::Initial(Initial::Volume(units::parse(Kind::Volume, text).map_err(refuse)?)),
        };
        let number = match value {
            Value::Number(si) | Value::Initial(Initial::Volume(si)) => Some(si),
            _ => None,
        };
        if let (Some(si), Some(kind)) = (number, self.number_kind())
            && !self.rule.allows(kind, si)
        {
            return Err(Error::OutOfRange {
                at: at.clone(),
                field: self.path.to_string(),
                value_text: text.to_string(),
                rule: self.rule.words(),
            });
        }
        Ok(value)
    }
}

fn not_a_choice(text: &str, known: &[&'static str]) -> QuantityProblem {
    QuantityProblem::NotAChoice { known: known.to_vec(), nearest: error::nearest(text, known.iter().copied()) }
}
