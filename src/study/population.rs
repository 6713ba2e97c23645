//! A population: an assembly whose fields are spread, correlated and aged. Its points are those of
//! [`PopulationPlan`](super::population_plan::PopulationPlan).
//!
//! Ageing. A loading element under stress relaxes with the logarithm of time:
//!
//! ```text
//! load_factor(t) = load_factor(0) (1 - r log10(1 + t / 1 day))
//! ```
//! `r`: share lost per decade of time, [`RELAXATION`] unless given. The form is usual for springs and rubber under constant
//! deflection (from memory), the figure is an estimate for a generic unit.

use super::axis::syntax;
use super::distribution::Distribution;
use super::own_load::OwnLoad;
use crate::assembly::Settings;
use crate::error::{At, Error, Source};
use crate::units::Kind;
use nalgebra::DMatrix;

/// Share of the load lost per decade of time (estimate).
pub const RELAXATION: f64 = 0.02;
/// Days in a year.
const DAYS: f64 = 365.25;

/// Names beside the fields that can be spread: years and the two relaxations.
pub const AGEING: [&str; 3] = ["ageing.years", "ageing.check_relaxation", "ageing.air_inlet_relaxation"];

/// How a value is spread, with what is left to the assembly's own value.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// Fixed by the file.
    Fixed(Distribution),
    /// Normal about the assembly's value.
    NormalAbout {
        /// Standard deviation.
        sd: f64,
    },
    /// Even within this much on either side of it.
    UniformAbout {
        /// Half the width.
        half_width: f64,
    },
    /// Triangular within this much on either side of it.
    TriangularAbout {
        /// Half the width.
        half_width: f64,
    },
    /// Lognormal about it as the median.
    LognormalAbout {
        /// Geometric standard deviation.
        factor: f64,
    },
}

/// One spread value.
#[derive(Debug, Clone, PartialEq)]
pub struct Spread {
    /// A field, or one of [`AGEING`].
    pub name: String,
    /// What its numbers are.
    pub kind: Kind,
    /// How.
    pub shape: Shape,
    /// Where it is written.
    pub at: At,
}

/// A coefficient between two spread values.
#[derive(Debug, Clone, PartialEq)]
pub struct Correlation {
    /// Places in the list of spreads.
    pub between: [usize; 2],
    /// The coefficient, above -1 and below 1.
    pub coefficient: f64,
    /// Where it is written.
    pub at: At,
}

/// Ageing of the two loads.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ageing {
    /// Years in service.
    pub years: f64,
    /// Share of the check's load lost per decade of time.
    pub check_relaxation: f64,
    /// Share of the air inlet's load lost per decade of time.
    pub air_inlet_relaxation: f64,
}

impl Default for Ageing {
    fn default() -> Self {
        Ageing { years: 0.0, check_relaxation: RELAXATION, air_inlet_relaxation: RELAXATION }
    }
}

/// What of a load is left after `years` at a relaxation of `rate` per decade.
pub fn load_left(years: f64, rate: f64) -> f64 {
    (1.0 - rate * (1.0 + years * DAYS).log10()).max(0.0)
}

impl Ageing {
    /// What is left of the loads of check and air inlet.
    ///
    /// # Errors
    /// [`Error::OutOfRange`] for years below zero or a relaxation that is no share.
    pub fn left(&self) -> Result<[f64; 2], Error> {
        let shares = [
            ("ageing.check_relaxation", self.check_relaxation),
            ("ageing.air_inlet_relaxation", self.air_inlet_relaxation),
        ];
        let wrong =
            shares.into_iter().find(|(_, v)| !(0.0..=1.0).contains(v)).map(|(name, v)| (name, v, "from 0 to 1"));
        let years = (!(self.years >= 0.0)).then_some(("ageing.years", self.years, "0 or more"));
        match years.or(wrong) {
            Some((field, value, rule)) => Err(Error::OutOfRange {
                at: At::whole(Source::Study),
                field: field.to_owned(),
                value_text: value.to_string(),
                rule: rule.to_owned(),
            }),
            None => Ok(shares.map(|(_, rate)| load_left(self.years, rate))),
        }
    }
}

/// How a population departs from its assembly.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Population {
    /// What is spread.
    pub spreads: Vec<Spread>,
    /// What goes together.
    pub correlations: Vec<Correlation>,
    /// How old it is.
    pub ageing: Ageing,
    /// Tables of measured values that were read.
    pub files: Vec<std::path::PathBuf>,
}

impl Spread {
    /// The distribution about the value that the assembly has.
    ///
    /// # Errors
    /// [`Error::Syntax`] if it is impossible, such as a lognormal about zero.
    fn about(&self, nominal: f64) -> Result<Distribution, Error> {
        let d = match &self.shape {
            Shape::Fixed(d) => d.clone(),
            Shape::NormalAbout { sd } => Distribution::Normal { mean: nominal, sd: *sd },
            Shape::UniformAbout { half_width: w } => Distribution::Uniform { low: nominal - w, high: nominal + w },
            Shape::TriangularAbout { half_width: w } => {
                Distribution::Triangular { low: nominal - w, mode: nominal, high: nominal + w }
            }
            Shape::LognormalAbout { factor } => Distribution::Lognormal { median: nominal, factor: *factor },
        };
        d.checked(&self.name, &self.at)
    }

    /// Whether it moves with the assembly's value.
    pub fn follows(&self) -> bool {
        !matches!(self.shape, Shape::Fixed(_))
    }
}

impl Population {
    /// For each spread the load that it goes as a factor on, if it does.
    pub(super) fn own_loads(&self, base: &Settings) -> Result<Vec<Option<OwnLoad>>, Error> {
        self.spreads.iter().map(|s| OwnLoad::of(base, &s.name)).collect()
    }

    /// The distributions about the values of these settings; those of a load that no number states about what its spring,
    /// lip or curve gives.
    ///
    /// # Errors
    /// [`Error`] for a spread that is impossible or a field that holds no number.
    pub fn distributions(&self, base: &Settings) -> Result<Vec<Distribution>, Error> {
        self.about(base, &self.own_loads(base)?)
    }

    pub(super) fn about(&self, base: &Settings, loads: &[Option<OwnLoad>]) -> Result<Vec<Distribution>, Error> {
        let nominal = |s: &Spread, load: &Option<OwnLoad>| match s.name.as_str() {
            _ if load.is_some() => Ok(load.map_or(f64::NAN, |l| l.nominal)),
            "ageing.years" => Ok(self.ageing.years),
            "ageing.check_relaxation" => Ok(self.ageing.check_relaxation),
            "ageing.air_inlet_relaxation" => Ok(self.ageing.air_inlet_relaxation),
            path if s.follows() => match base.initial(path) {
                Ok(crate::assembly::Initial::Volume(v)) => Ok(v),
                _ => base.number(path),
            },
            _ => Ok(f64::NAN),
        };
        self.spreads.iter().zip(loads).map(|(s, load)| s.about(nominal(s, load)?)).collect()
    }

    /// Lower triangle of the matrix of coefficients; `None` without correlations.
    ///
    /// # Errors
    /// [`Error::Syntax`] if the coefficients contradict each other: the matrix is not positive definite.
    pub(super) fn cholesky(&self) -> Result<Option<DMatrix<f64>>, Error> {
        let Some(first) = self.correlations.first() else { return Ok(None) };
        let n = self.spreads.len();
        let mut matrix = DMatrix::identity(n, n);
        for c in &self.correlations {
            let [i, j] = c.between;
            for place in [(i, j), (j, i)] {
                if let Some(entry) = matrix.get_mut(place) {
                    *entry = c.coefficient;
                }
            }
        }
        match matrix.cholesky() {
            Some(decomposed) => Ok(Some(decomposed.l())),
            None => {
                let all: Vec<String> = self.correlations.iter().map(|c| c.coefficient.to_string()).collect();
                syntax(
                    &first.at,
                    format!(
                        "the correlations {} contradict each other: their matrix is not positive definite, so no \
                         population has them together",
                        all.join(", ")
                    ),
                )
            }
        }
    }
}
