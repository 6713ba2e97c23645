//! The library of faults: what can be wrong with an assembly, its site, the instrument or the hand, as changes of fields.
//!
//! Each fault has a severity from 0 (as new) to 1 (the worst end of its range) and a printed mapping from severity to
//! fields ([`Change`]). Symptoms are not written down here: they are computed by running the changed assembly
//! ([`crate::bench::symptoms`]). Where a fault applies, what cures it and which parts that takes follow from the
//! construction ([`Needs`], [`Component`], [`Repair`]).
//!
//! Ranges are common practice without a source unless a fault says "estimate". Errors of assembly are worked out from
//! geometry in [`assembly_errors`]. [`look_alikes`] are what people take for damage and is none; [`not_expressed`] is what
//! these equations cannot show, with the reason.
//!
//! ```
//! use poppetry::assembly::Resolver;
//! let weak = Resolver::new().assembly("pvb-spring").fault("check-spring-weak=0.5").resolve().unwrap();
//! assert!((weak.number("check.load_factor").unwrap() - 0.7).abs() < 1e-12);
//! ```

pub mod assembly_errors;
mod change;
mod component;
mod list;
pub mod look_alikes;
mod needs;
pub mod not_expressed;
mod repair;
mod truth;

pub use change::{Change, Worked};
pub use component::{Component, Remedy};
pub use needs::Needs;
pub use repair::Repair;
pub use truth::{Truth, Way};

use crate::assembly::Settings;
use crate::error::{At, Error, QuantityProblem, Source, nearest};
use crate::units::{self, Kind};

/// Whose fault it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Class {
    /// A part of the assembly is worn, dirty, wrong or wrongly fitted.
    Part,
    /// The supply, the load side or the place where it hangs.
    Site,
    /// The gauge or its hoses.
    Instrument,
    /// The tester's hand.
    Hand,
}

impl Class {
    /// All, in the order in which they are listed.
    pub const ALL: [Class; 4] = [Class::Part, Class::Site, Class::Instrument, Class::Hand];

    /// As printed.
    pub fn name(self) -> &'static str {
        match self {
            Class::Part => "part",
            Class::Site => "site",
            Class::Instrument => "instrument",
            Class::Hand => "hand",
        }
    }
}

/// Where the ends of a fault's range come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Origin {
    /// What the trade sees, without a source.
    CommonPractice,
    /// A guess.
    Estimate,
    /// Worked out from the dimensions of the parts.
    Geometry,
}

impl Origin {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Origin::CommonPractice => "common practice, no source",
            Origin::Estimate => "estimate",
            Origin::Geometry => "worked out from the dimensions; what the dimensions leave open is an estimate",
        }
    }
}

/// One fault.
#[derive(Debug)]
pub struct Fault {
    /// Stable name.
    pub name: &'static str,
    /// Whose.
    pub class: Class,
    /// Which part, and with it what a repair takes.
    pub component: Component,
    /// What is wrong.
    pub what: &'static str,
    /// What it does, one line of physics.
    pub physics: &'static str,
    /// What a construction must have for it.
    pub needs: &'static [Needs],
    /// What it changes.
    pub changes: &'static [Change],
    /// The true quantity that only goes one way with severity.
    pub truth: Truth,
    /// What to look at when it goes back together.
    pub look: &'static str,
    /// Where its range comes from.
    pub from: Origin,
}

/// All faults, by class.
pub fn all() -> impl Iterator<Item = &'static Fault> {
    list::ALL.iter().flat_map(|part| part.iter())
}

/// The fault with this name.
///
/// # Errors
/// [`Error::UnknownName`] with the nearest known one.
pub fn named(name: &str) -> Result<&'static Fault, Error> {
    all().find(|f| f.name == name).ok_or_else(|| Error::UnknownName {
        at: None,
        what: "fault",
        name: name.to_string(),
        nearest: nearest(name, all().map(|f| f.name)),
        known: vec!["`poppetry faults` lists them".to_string()],
    })
}

/// Reads `NAME` (at its worst) or `NAME=SEVERITY`.
///
/// # Errors
/// [`Error::UnknownName`], [`Error::Quantity`] for a severity that is no plain number, [`Error::OutOfRange`].
pub fn parse(text: &str) -> Result<(&'static Fault, f64), Error> {
    let Some((name, severity)) = text.split_once('=') else { return Ok((named(text.trim())?, 1.0)) };
    let fault = named(name.trim())?;
    let at = At::whole(Source::Fault(fault.name.to_string()));
    let refuse = |problem: QuantityProblem| Error::Quantity {
        at: at.clone(),
        field: "severity".to_string(),
        text: severity.trim().to_string(),
        expected: "a plain number from 0 (as new) to 1 (the worst); physical amounts go with --set".to_string(),
        problem: Box::new(problem),
    };
    let value = units::parse(Kind::Number, severity.trim()).map_err(refuse)?;
    allowed(fault, value, severity.trim())?;
    Ok((fault, value))
}

fn allowed(fault: &Fault, severity: f64, text: &str) -> Result<(), Error> {
    if (0.0..=1.0).contains(&severity) {
        return Ok(());
    }
    Err(Error::OutOfRange {
        at: At::whole(Source::Fault(fault.name.to_string())),
        field: "severity".to_string(),
        value_text: text.to_string(),
        rule: format!(
            "from 0 (as new) to 1 (the worst end of its range; `poppetry faults {}` prints what that is)",
            fault.name
        ),
    })
}

impl Fault {
    /// Why this construction cannot have the fault, or `None` if it can.
    pub fn unmet(&self, settings: &Settings) -> Option<String> {
        self.needs.iter().find_map(|n| n.unmet(settings))
    }

    /// What it changes at a severity (0 to 1): paths with their new values as text.
    ///
    /// # Errors
    /// [`Error::OutOfRange`] for the severity; [`Error::DoesNotApply`]; what the settings refuse.
    pub fn changes_at(&self, settings: &Settings, severity: f64) -> Result<Vec<(&'static str, String)>, Error> {
        self.changes_left(settings, severity, &[])
    }

    /// As [`Fault::changes_at`], without what sits in the `cured` parts.
    pub(crate) fn changes_left(
        &self,
        settings: &Settings,
        severity: f64,
        cured: &[Component],
    ) -> Result<Vec<(&'static str, String)>, Error> {
        allowed(self, severity, &severity.to_string())?;
        if let Some(why) = self.unmet(settings) {
            return Err(Error::DoesNotApply {
                name: format!("--fault {}", self.name),
                why,
                rule: format!("`poppetry faults {}` says what it needs", self.name),
            });
        }
        if severity == 0.0 {
            return Ok(Vec::new());
        }
        let mut all = Vec::new();
        for change in self.changes.iter().filter(|c| !cured.contains(&self.sits_in(c))) {
            all.extend(change.at(settings, severity)?);
        }
        Ok(all)
    }

    /// Whether these parts as new cure all of it.
    pub(crate) fn cured_by(&self, renewed: &[Component]) -> bool {
        self.changes.iter().all(|c| renewed.contains(&self.sits_in(c)))
    }

    fn sits_in(&self, change: &Change) -> Component {
        change.elsewhere().unwrap_or(self.component)
    }

    /// What it takes to cure it in this construction.
    pub fn remedy(&self, settings: &Settings) -> Remedy {
        // A valve that only has its tap on the wrong side is not worn.
        let tap = |path: &str| ["cock1.place", "cock2.place"].contains(&path);
        if self.changes.iter().flat_map(Change::paths).any(tap) {
            let words = "nothing is worn: turn the valve round, its tap between ball and body".to_string();
            return Remedy { parts: Vec::new(), words };
        }
        let mut all = self.component.remedy(settings);
        for other in self.changes.iter().filter_map(Change::elsewhere) {
            let more = other.remedy(settings);
            all.parts.extend(more.parts);
            all.words = format!("two causes, each by itself: {}; {}", all.words, more.words);
        }
        all
    }

    /// The mapping in words, one line a field.
    pub fn mapping(&self) -> Vec<String> {
        self.changes.iter().map(Change::words).collect()
    }
}
