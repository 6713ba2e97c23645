//! How severity becomes a field's value.

use super::component::Component;
use crate::assembly::{Settings, Value, fields};
use crate::error::{At, Error};
use crate::units::{self, Kind};

/// New values of fields, SI, worked out from the settings at a severity.
pub type Worked = fn(&Settings, f64) -> Result<Vec<(&'static str, f64)>, Error>;

/// One change. `s` is the severity, 0 to 1; every change leaves the field as it is at 0.
#[derive(Debug)]
pub enum Change {
    /// Value times `1 + (worst - 1) s`.
    Times {
        /// Which field.
        path: &'static str,
        /// Factor at severity 1.
        worst: f64,
    },
    /// Value plus `worst s^power`.
    Plus {
        /// Which field.
        path: &'static str,
        /// What is added at severity 1, with its unit.
        worst: &'static str,
        /// A high power spreads the severities over a range of several decades.
        power: f64,
    },
    /// Value times `(1 - s)^power`.
    Fades {
        /// Which field.
        path: &'static str,
        /// As for [`Change::Plus`].
        power: f64,
    },
    /// A choice or switch, at any severity above 0.
    Becomes {
        /// Which field.
        path: &'static str,
        /// Its new value.
        value: &'static str,
    },
    /// Worked out from several fields.
    Worked {
        /// Which fields.
        paths: &'static [&'static str],
        /// How, in words.
        words: &'static str,
        /// The working.
        by: Worked,
    },
    /// A change that sits in another part than the rest of its fault, and is cured with that part.
    In(Component, &'static Change),
}

/// SI value as text that reads back to it, in the unit people use.
fn text(kind: Kind, si: f64) -> String {
    let symbol = match kind {
        Kind::GaugePressure | Kind::PressureDifference => "psi",
        Kind::Area => "mm2",
        Kind::Length => "mm",
        Kind::Volume => "mL",
        Kind::VolumeFlow => "gpm",
        Kind::Mass => "g",
        _ => return units::exact_text(kind, rounded(si)),
    };
    match units::parse(kind, &format!("1 {symbol}")) {
        Ok(one) if one > 0.0 => format!("{} {symbol}", units::exact_text(Kind::Number, rounded(si / one))),
        _ => units::exact_text(kind, si),
    }
}

/// Six figures: more would say nothing and clutter the list of what was changed.
fn rounded(value: f64) -> f64 {
    format!("{value:.5e}").parse().unwrap_or(value)
}

fn kind_of(path: &str) -> Result<Kind, Error> {
    let field = fields::require(path, &At::default_value())?;
    Ok(field.number_kind().unwrap_or(Kind::Number))
}

impl Change {
    /// The new values at severity `s` above 0.
    ///
    /// # Errors
    /// [`Error`] of the settings, for example a load that its curve has replaced.
    pub fn at(&self, settings: &Settings, s: f64) -> Result<Vec<(&'static str, String)>, Error> {
        let one = |path: &'static str, si: f64| Ok(vec![(path, text(kind_of(path)?, si))]);
        match *self {
            Change::Times { path, worst } => one(path, settings.number(path)? * (1.0 + (worst - 1.0) * s)),
            Change::Plus { path, worst, power } => {
                let added = units::parse(kind_of(path)?, worst).unwrap_or(0.0);
                one(path, settings.number(path)? + added * s.powf(power))
            }
            Change::Fades { path, power } => one(path, settings.number(path)? * (1.0 - s).powf(power)),
            Change::Becomes { path, value } => Ok(vec![(path, value.to_string())]),
            Change::Worked { by, .. } => {
                by(settings, s)?.into_iter().map(|(path, si)| Ok((path, text(kind_of(path)?, si)))).collect()
            }
            Change::In(_, change) => change.at(settings, s),
        }
    }

    /// The fields it changes.
    pub fn paths(&self) -> Vec<&'static str> {
        match *self {
            Change::Times { path, .. }
            | Change::Plus { path, .. }
            | Change::Fades { path, .. }
            | Change::Becomes { path, .. } => vec![path],
            Change::Worked { paths, .. } => paths.to_vec(),
            Change::In(_, change) => change.paths(),
        }
    }

    /// The part it sits in, where that is not its fault's.
    pub fn elsewhere(&self) -> Option<Component> {
        match *self {
            Change::In(component, _) => Some(component),
            _ => None,
        }
    }

    /// The mapping in words.
    pub fn words(&self) -> String {
        let figure = |x: f64| units::exact_text(Kind::Number, rounded(x));
        match *self {
            Change::Times { path, worst: 0.0 } => format!("{path} = as it is x (1 - s)"),
            Change::Times { path, worst } if worst < 1.0 => {
                format!("{path} = as it is x (1 - {} s)", figure(1.0 - worst))
            }
            Change::Times { path, worst } => format!("{path} = as it is x (1 + {} s)", figure(worst - 1.0)),
            Change::Plus { path, worst, power } => {
                let (sign, size) = worst.strip_prefix('-').map_or(('+', worst), |size| ('-', size));
                let by = if power == 1.0 { "s".to_string() } else { format!("s^{}", figure(power)) };
                format!("{path} = as it is {sign} {size} x {by}")
            }
            Change::Fades { path, power: 1.0 } => format!("{path} = as it is x (1 - s)"),
            Change::Fades { path, power } => format!("{path} = as it is x (1 - s)^{}", figure(power)),
            Change::Becomes { path, value } => format!("{path} = {value}, at any severity above 0"),
            Change::Worked { paths, words, .. } => format!("{}: {words}", paths.join(", ")),
            Change::In(_, change) => change.words(),
        }
    }
}

/// Whether the settings state this load as a pressure (and not by dimensions or as a curve).
pub(super) fn stated(settings: &Settings, path: &str) -> bool {
    matches!(settings.get(path).map(|s| &s.value), Some(Value::Number(_)))
}
