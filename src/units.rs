//! Quantities as people write them ("60 psi", "1-1/4 in", "25 inHg vac") to f64 SI and back.
//!
//! This is the only place that converts units; below it all is SI. Gauge, absolute and difference are three kinds
//! of pressure and never pass for one another.
//!
//! ```
//! use poppetry::units::{parse, Kind};
//! let pa = parse(Kind::GaugePressure, "60 psi").unwrap();
//! assert!((pa - 413_685.44).abs() < 0.01);
//! assert!(parse(Kind::GaugePressure, "60 psia").is_err());
//! ```

use crate::error::{QuantityProblem as Problem, nearest};

mod display;
mod number;
mod table;

pub use display::{System, exact_text, format, to_display, unit_symbol};

/// What a quantity is; decides its units and how it is shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Kind {
    /// Pressure above the atmosphere, Pa gauge; vacuum is negative.
    GaugePressure,
    /// Pressure above nothing, Pa absolute.
    AbsolutePressure,
    /// Difference of two pressures, Pa.
    PressureDifference,
    /// Length, m.
    Length,
    /// Area, m2.
    Area,
    /// Volume, m3.
    Volume,
    /// Volume flow, m3/s.
    VolumeFlow,
    /// Mass, kg.
    Mass,
    /// Time, s.
    Time,
    /// Temperature on the absolute scale, K.
    Temperature,
    /// Force, N.
    Force,
    /// Force per length (spring rate), N/m.
    Stiffness,
    /// Force per velocity, N s/m.
    Damping,
    /// Volume per pressure, m3/Pa.
    Compliance,
    /// Velocity, m/s.
    Velocity,
    /// Angle, rad.
    Angle,
    /// Plain number.
    Number,
    /// Whole number.
    Count,
}

impl Kind {
    /// Every kind, for tables and tests.
    pub const ALL: [Kind; 18] = [
        Kind::GaugePressure,
        Kind::AbsolutePressure,
        Kind::PressureDifference,
        Kind::Length,
        Kind::Area,
        Kind::Volume,
        Kind::VolumeFlow,
        Kind::Mass,
        Kind::Time,
        Kind::Temperature,
        Kind::Force,
        Kind::Stiffness,
        Kind::Damping,
        Kind::Compliance,
        Kind::Velocity,
        Kind::Angle,
        Kind::Number,
        Kind::Count,
    ];

    /// What to write, with an example, for messages.
    pub fn expected(self) -> &'static str {
        match self {
            Kind::GaugePressure => "a gauge pressure such as \"60 psi\" or \"25 inHg vac\"",
            Kind::AbsolutePressure => "an absolute pressure such as \"14.7 psia\" or \"101.325 kPa abs\"",
            Kind::PressureDifference => "a pressure difference such as \"1.5 psi\"",
            Kind::Length => "a length such as \"3/4 in\" or \"20 m\"",
            Kind::Area => "an area such as \"5 cm2\" or \"0.8 in2\"",
            Kind::Volume => "a volume such as \"60 mL\" or \"2 fl oz\"",
            Kind::VolumeFlow => "a flow such as \"15 gpm\" (US) or \"1 L/s\"",
            Kind::Mass => "a mass such as \"12 g\"",
            Kind::Time => "a time such as \"1 s\" or \"350 ms\"",
            Kind::Temperature => "a temperature such as \"15 degC\" or \"60 degF\"",
            Kind::Force => "a force such as \"5 N\" or \"1.2 lbf\"",
            Kind::Stiffness => "a spring rate such as \"2 lbf/in\" or \"0.3 N/mm\"",
            Kind::Damping => "a damping such as \"2 N s/m\"",
            Kind::Compliance => "a compliance such as \"0.01 mL/psi\"",
            Kind::Velocity => "a velocity such as \"1280 m/s\"",
            Kind::Angle => "an angle such as \"45 deg\"",
            Kind::Number => "a plain number such as 0.7",
            Kind::Count => "a whole number such as 8",
        }
    }

    /// The unit symbols a text of this kind may carry, the most usual first; empty for plain numbers.
    pub fn accepted_units(self) -> Vec<&'static str> {
        match self {
            Kind::AbsolutePressure => vec!["psia", "kPa abs", "bar abs", "MPa abs", "Pa abs", "inHg abs", "mmHg abs"],
            _ => {
                let mut list: Vec<_> = table::units(self).iter().map(|u| u.symbol).collect();
                match self {
                    Kind::GaugePressure => list.extend(["psig", "inHg vac"]),
                    Kind::PressureDifference => list.push("psid"),
                    _ => {}
                }
                list
            }
        }
    }
}

/// A unit made out once, to convert many numbers with (a CSV column).
#[derive(Debug, Clone, Copy)]
pub struct Unit {
    to_si: fn(f64) -> f64,
    vacuum: bool,
}

impl Unit {
    /// The unit that `text` names, for a quantity of this kind.
    ///
    /// # Errors
    /// [`Problem::NoUnit`], [`Problem::UnknownUnit`] or one of the gauge/absolute/difference refusals.
    pub fn named(kind: Kind, text: &str) -> Result<Unit, Problem> {
        let symbol = normal_symbol(text);
        if symbol.is_empty() {
            return match kind {
                Kind::Number | Kind::Count => Ok(Unit { to_si: |v| v, vacuum: false }),
                _ => Err(Problem::NoUnit { accepted: kind.accepted_units() }),
            };
        }
        if matches!(kind, Kind::Number | Kind::Count) {
            return Err(Problem::UnitOnNumber { unit: symbol });
        }
        let is_pressure = matches!(kind, Kind::GaugePressure | Kind::AbsolutePressure | Kind::PressureDifference);
        let (bare, mark) = if is_pressure { split_mark(&symbol) } else { (symbol.as_str(), Mark::None) };
        let Some(unit) = table::find(kind, bare) else {
            let accepted = kind.accepted_units();
            // A unit of another quantity is no slip of the pen: what looks like it would mislead.
            let elsewhere = Kind::ALL.into_iter().any(|kind| table::find(kind, &symbol).is_some());
            let nearest = if elsewhere { None } else { nearest(&symbol, accepted.iter().copied()) };
            return Err(Problem::UnknownUnit { unit: symbol, nearest, accepted });
        };
        if is_pressure {
            check_mark(kind, mark, &symbol)?;
        }
        Ok(Unit { to_si: unit.to_si, vacuum: mark == Mark::Vacuum })
    }

    /// The SI value of `number` in this unit.
    ///
    /// # Errors
    /// [`Problem::SignedVacuum`] for a negative vacuum, [`Problem::NotFinite`], [`Problem::Absurd`].
    pub fn to_si(&self, number: f64) -> Result<f64, Problem> {
        let number = match self.vacuum {
            true if number < 0.0 => return Err(Problem::SignedVacuum),
            true => -number,
            false => number,
        };
        number::sane((self.to_si)(number))
    }
}

/// Reads a quantity: a number ("12", "-0.5", "3/4", "1-1/4", "1e-3") and its unit.
///
/// # Errors
/// Every text that is not exactly that, with the reason; nothing panics.
pub fn parse(kind: Kind, text: &str) -> Result<f64, Problem> {
    let (number, unit) = number::leading_number(text)?;
    let value = Unit::named(kind, unit)?.to_si(number)?;
    if kind == Kind::Count && (value.fract() != 0.0 || value.abs() > 9e15) {
        return Err(Problem::NotWhole);
    }
    Ok(value)
}

/// The plain number at the start of a text and what follows it.
///
/// # Errors
/// As [`parse`].
pub fn parse_number(text: &str) -> Result<(f64, &str), Problem> {
    number::leading_number(text)
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Mark {
    None,
    Gauge,
    Absolute,
    Vacuum,
    Difference,
}

/// Splits "psia", "kPa abs", "inHg vac" into the bare unit and its mark.
fn split_mark(symbol: &str) -> (&str, Mark) {
    let words = [
        (" vacuum", Mark::Vacuum),
        (" vac", Mark::Vacuum),
        (" absolute", Mark::Absolute),
        (" abs", Mark::Absolute),
        (" gauge", Mark::Gauge),
        (" g", Mark::Gauge),
        (" a", Mark::Absolute),
        (" d", Mark::Difference),
    ];
    for (word, mark) in words {
        if let Some(bare) = strip_suffix_any_case(symbol, word) {
            return (bare.trim_end(), mark);
        }
    }
    // The letter may also be joined on, but "inHg" ends in a g of its own.
    for bare in ["psi", "bar", "mbar", "kPa", "MPa", "Pa"] {
        for (letter, mark) in [("a", Mark::Absolute), ("g", Mark::Gauge), ("d", Mark::Difference)] {
            let same_case = if bare == "psi" {
                strip_suffix_any_case(symbol, letter).is_some_and(|s| s.eq_ignore_ascii_case(bare))
            } else {
                symbol.strip_suffix(letter) == Some(bare)
            };
            if same_case {
                return (bare, mark);
            }
        }
    }
    (symbol, Mark::None)
}

fn strip_suffix_any_case<'a>(text: &'a str, suffix: &str) -> Option<&'a str> {
    let at = text.len().checked_sub(suffix.len())?;
    let (head, tail) = text.split_at_checked(at)?;
    tail.eq_ignore_ascii_case(suffix).then_some(head)
}

fn check_mark(kind: Kind, mark: Mark, unit: &str) -> Result<(), Problem> {
    let unit = unit.to_string();
    match (kind, mark) {
        (Kind::GaugePressure, Mark::None | Mark::Gauge | Mark::Vacuum) => Ok(()),
        (Kind::GaugePressure, Mark::Absolute) => Err(Problem::AbsoluteInGauge { unit }),
        (Kind::GaugePressure, Mark::Difference) => Err(Problem::DifferenceInLevel { unit, write: "psi, bar or kPa" }),
        (Kind::AbsolutePressure, Mark::Absolute) => Ok(()),
        (Kind::AbsolutePressure, Mark::Difference) => {
            Err(Problem::DifferenceInLevel { unit, write: "psia or kPa abs" })
        }
        (Kind::AbsolutePressure, _) => Err(Problem::GaugeInAbsolute { unit }),
        (_, Mark::None | Mark::Difference) => Ok(()),
        (_, _) => Err(Problem::LevelInDifference { unit }),
    }
}

/// One spelling for signs that look alike: superscripts, degree sign, micro, middle dot, blanks.
fn normal_symbol(text: &str) -> String {
    let mut out = String::new();
    for c in text.trim().chars() {
        match c {
            '\u{b2}' => out.push('2'),
            '\u{b3}' => out.push('3'),
            '\u{b0}' => out.push_str("deg"),
            '\u{b5}' | '\u{3bc}' => out.push('u'),
            '\u{b7}' | '*' | '\u{22c5}' => out.push(' '),
            '^' => {}
            '\u{2082}' => out.push('2'),
            c if c.is_whitespace() => out.push(' '),
            c => out.push(c),
        }
    }
    let single: Vec<_> = out.split_ascii_whitespace().collect();
    single.join(" ").replace(" / ", "/").replace("/ ", "/").replace(" /", "/")
}
