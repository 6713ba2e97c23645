//! Why: the reasons that an [`Error`](super::Error) carries.

use super::shown::{did_you_mean, quoted, shown_long};

fn size(bytes: Option<u64>) -> String {
    bytes.map_or_else(|| "too many".to_owned(), |bytes| bytes.to_string())
}

/// Why a text is not the quantity a field takes.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum QuantityProblem {
    /// Nothing there.
    #[error("the value is empty")]
    Empty,
    /// Longer than any value is.
    #[error("the value is too long to be a quantity")]
    TooLong,
    /// Does not begin with a number.
    #[error("no number at the start")]
    NoNumber,
    /// NaN or infinite, or so many digits that it becomes so.
    #[error("not a finite number")]
    NotFinite,
    /// So large or so small that it must be a slip.
    #[error("the size of the number is absurd (beyond 1e30 or below 1e-30)")]
    Absurd,
    /// A fraction over zero.
    #[error("a fraction over zero")]
    ZeroDenominator,
    /// A decimal comma.
    #[error("a comma in a number: write the decimals after a point, and no thousands separator")]
    Comma,
    /// A number without a unit.
    #[error("the unit is missing; accepted: {}", .accepted.join(", "))]
    NoUnit {
        /// Accepted units.
        accepted: Vec<&'static str>,
    },
    /// A unit after a plain number.
    #[error("a plain number is wanted, without the unit {}", quoted(.unit))]
    UnitOnNumber {
        /// The unit as written.
        unit: String,
    },
    /// A unit that this kind of quantity does not have.
    #[error("unknown unit {}{}; accepted: {}", quoted(.unit), did_you_mean(.nearest), .accepted.join(", "))]
    UnknownUnit {
        /// The unit as written.
        unit: String,
        /// Nearest accepted unit.
        nearest: Option<String>,
        /// Accepted units.
        accepted: Vec<&'static str>,
    },
    /// An absolute pressure where gauge is meant.
    #[error("{} is absolute and this field is gauge: subtract the atmosphere and write psi, bar or kPa", quoted(.unit))]
    AbsoluteInGauge {
        /// The unit as written.
        unit: String,
    },
    /// A gauge pressure where absolute is meant.
    #[error("{} is gauge and this field is absolute: write psia, kPa abs or bar abs", quoted(.unit))]
    GaugeInAbsolute {
        /// The unit as written.
        unit: String,
    },
    /// A pressure difference takes no gauge, absolute or vacuum mark.
    #[error("{} marks a level, and this field is a pressure difference: write psi, bar or kPa", quoted(.unit))]
    LevelInDifference {
        /// The unit as written.
        unit: String,
    },
    /// A mark for a difference where a level is meant.
    #[error("{} marks a difference, and this field is a pressure level: write {write}", quoted(.unit))]
    DifferenceInLevel {
        /// The unit as written.
        unit: String,
        /// What to write instead.
        write: &'static str,
    },
    /// A negative vacuum.
    #[error("a minus sign and \"vac\" both say below atmosphere: use one of them")]
    SignedVacuum,
    /// A count that is not whole.
    #[error("a whole number is wanted")]
    NotWhole,
    /// A word that is none of the choices.
    #[error("not one of the choices {}{}", .known.join(", "), did_you_mean(.nearest))]
    NotAChoice {
        /// The choices.
        known: Vec<&'static str>,
        /// Nearest one.
        nearest: Option<String>,
    },
    /// A TOML value of the wrong type.
    #[error("{found} where one value belongs")]
    WrongType {
        /// What was found, with its article.
        found: &'static str,
    },
}

/// Why a file cannot be read.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum FileProblem {
    /// No such file.
    #[error("no such file")]
    NotFound,
    /// No such file, but a built-in assembly of this name.
    #[error("no such file; the built-in of this name is taken by --assembly {0}")]
    IsBuiltIn(String),
    /// A directory.
    #[error("this is a directory; name a file in it")]
    IsDirectory,
    /// Zero bytes, or nothing but blanks.
    #[error("the file is empty")]
    Empty,
    /// Larger than any such file is.
    #[error("the file has {} bytes; the limit is {limit}", size(*.bytes))]
    TooLarge {
        /// Size; `None` for a device or pipe, which has none and was read up to the limit.
        bytes: Option<u64>,
        /// Limit.
        limit: u64,
    },
    /// Not UTF-8 text.
    #[error("not UTF-8 text (first bad byte at offset {byte})")]
    NotUtf8 {
        /// Offset of the first bad byte.
        byte: usize,
    },
    /// Another reason of the system.
    #[error("cannot be read: {}", shown_long(.0))]
    Io(String),
}

/// What is wrong with a CSV table.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum TableProblem {
    /// A header cell without its unit in brackets.
    #[error("the header {} has no unit; write it like \"{example}\"", quoted(.header))]
    HeaderWithoutUnit {
        /// The cell as written.
        header: String,
        /// How to write it.
        example: String,
    },
    /// A column that must be there is not.
    #[error("the column \"{name}\" is missing; the header must be like \"{example}\"")]
    MissingColumn {
        /// The column.
        name: &'static str,
        /// A complete header.
        example: &'static str,
    },
    /// A column that has no meaning here.
    #[error("unknown column {}{}", quoted(.name), did_you_mean(.nearest))]
    UnknownColumn {
        /// The name as written.
        name: String,
        /// Nearest known name.
        nearest: Option<String>,
    },
    /// The same column twice.
    #[error("the column stands there twice")]
    DuplicateColumn,
    /// A cell or header unit that cannot be read.
    #[error("{}: {problem}", quoted(.text))]
    Cell {
        /// The text as written.
        text: String,
        /// What is wrong.
        problem: QuantityProblem,
    },
    /// A negative value where none can be.
    #[error("{} is negative; {rule}", quoted(.text))]
    Negative {
        /// The text as written.
        text: String,
        /// The rule.
        rule: &'static str,
    },
    /// A column that must rise does not.
    #[error("{} is not above the row before it ({}): {rule}", quoted(.text), quoted(.previous))]
    NotIncreasing {
        /// This row's text.
        text: String,
        /// The row before.
        previous: String,
        /// The rule.
        rule: &'static str,
    },
    /// A row too far from the one before it.
    #[error("{} leaves a gap after the row before it ({}): {rule}", quoted(.text), quoted(.previous))]
    Gap {
        /// This row's text.
        text: String,
        /// The row before.
        previous: String,
        /// The rule.
        rule: &'static str,
    },
    /// Too few rows.
    #[error("{rows} rows{of}; at least {least} are needed")]
    TooFewRows {
        /// Rows found.
        rows: usize,
        /// Which rows, with a leading blank, or nothing.
        of: &'static str,
        /// Rows needed.
        least: usize,
    },
    /// Too many rows.
    #[error("more than {limit} rows")]
    TooManyRows {
        /// Limit.
        limit: usize,
    },
    /// Not CSV.
    #[error("{}", shown_long(.message))]
    Malformed {
        /// What the reader objected to.
        message: String,
    },
}
