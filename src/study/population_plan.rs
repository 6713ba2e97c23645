//! The points that stand for a population: sampled units, then the points for the variance shares.
//!
//! Correlations are those of the normal scores (Gaussian copula): with `L L^T` the matrix of coefficients (Cholesky),
//! `x_i = Q_i(Phi((L z)_i))`, `z_i = Phi^-1(u_i)`. Source: R. L. Iman, W. J. Conover, Commun. Stat. B 11 (1982) 311, for the
//! use; the transformation is elementary.

use super::distribution::{Distribution, normal_probability, normal_quantile};
use super::own_load::OwnLoad;
use super::plan::{Column, Level, Plan, changed};
use super::population::{Correlation, Population};
use super::sampling::{Design, Sample};
use super::sensitivity::Scheme;
use crate::assembly::Settings;
use crate::error::Error;
use nalgebra::DMatrix;
use serde_json::{Value as Json, json};

/// The points of a population study: first a sample of units, then the points for the sensitivity indices.
#[derive(Debug, Clone)]
pub struct PopulationPlan {
    population: Population,
    distributions: Vec<Distribution>,
    loads: Vec<Option<OwnLoad>>,
    cholesky: Option<DMatrix<f64>>,
    sample: Sample,
    design: Design,
    seed: u64,
    scheme: Option<Scheme>,
    columns: Vec<Column>,
}

impl PopulationPlan {
    /// `units` sampled units, and indices after `indices` (base points, replicates) unless there are correlations, with
    /// which the indices have no meaning.
    ///
    /// # Errors
    /// [`Error`] for a population without spread, impossible spreads, correlations that contradict each other, or sizes
    /// that no sample has.
    pub fn new(
        population: &Population,
        base: &Settings,
        design: Design,
        units: u64,
        indices: Option<(u64, u64)>,
        seed: u64,
    ) -> Result<PopulationPlan, Error> {
        let inputs = population.spreads.len();
        let sample = Sample::new(design, units, inputs, seed)?;
        let scheme = match indices.filter(|_| population.correlations.is_empty()) {
            Some((points, replicates)) => Some(Scheme::new(points, replicates, inputs, seed)?),
            None => None,
        };
        let set = Column { path: "set".to_owned(), kind: None };
        let spread = population.spreads.iter().map(|s| Column { path: s.name.clone(), kind: Some(s.kind) });
        let loads = population.own_loads(base)?;
        Ok(PopulationPlan {
            distributions: population.about(base, &loads)?,
            loads,
            cholesky: population.cholesky()?,
            population: population.clone(),
            sample,
            design,
            seed,
            scheme,
            columns: std::iter::once(set).chain(spread).collect(),
        })
    }

    /// Number of sampled units, which come first.
    pub fn units(&self) -> u64 {
        self.sample.count()
    }

    /// Which runs behind the units are for the indices.
    pub fn scheme(&self) -> Option<Scheme> {
        self.scheme
    }

    /// The distributions, in the order of the spreads.
    pub fn distributions(&self) -> &[Distribution] {
        &self.distributions
    }

    /// Spreads that a correlation mixes with others: they keep their distribution, but not the even slices of the design.
    pub fn mixed(&self) -> Vec<&str> {
        let Some(l) = &self.cholesky else { return Vec::new() };
        let alone = |i: usize| (0..i).all(|j| l.get((i, j)).is_none_or(|c| *c == 0.0));
        let spreads = self.population.spreads.iter().enumerate();
        spreads.filter(|(i, _)| !alone(*i)).map(|(_, s)| s.name.as_str()).collect()
    }

    /// For each spread, whether it goes as a factor on the force of a spring or lip.
    pub fn as_factor(&self) -> impl Iterator<Item = bool> + '_ {
        self.loads.iter().map(Option::is_some)
    }

    fn values(&self, unit: &[f64]) -> Vec<f64> {
        let shares = match &self.cholesky {
            None => unit.to_vec(),
            Some(l) => {
                let z: Vec<f64> = unit.iter().map(|u| normal_quantile(*u)).collect();
                let score = |i: usize| {
                    (0..=i).map(|j| l.get((i, j)).copied().unwrap_or(0.0) * z.get(j).copied().unwrap_or(0.0)).sum()
                };
                (0..unit.len()).map(score).map(normal_probability).collect()
            }
        };
        self.distributions.iter().zip(shares).map(|(d, p)| d.quantile(p)).collect()
    }
}

impl Plan for PopulationPlan {
    fn columns(&self) -> &[Column] {
        &self.columns
    }

    fn len(&self) -> u64 {
        self.units() + self.scheme.map_or(0, |s| s.len())
    }

    fn point(&self, index: u64) -> Vec<Level> {
        let (set, unit) = match (index.checked_sub(self.units()), &self.scheme) {
            (Some(behind), Some(scheme)) => (scheme.name(behind), scheme.point(behind)),
            _ => ("unit".to_owned(), self.sample.point(index)),
        };
        std::iter::once(Level::Text(set)).chain(self.values(&unit).into_iter().map(Level::Number)).collect()
    }

    fn settings(&self, base: &Settings, point: &[Level]) -> Result<Settings, Error> {
        let mut ageing = self.population.ageing;
        let mut changes: Vec<(&str, Level)> = Vec::new();
        let [mut check, mut inlet] = [1.0; 2];
        for ((spread, load), level) in self.population.spreads.iter().zip(&self.loads).zip(point.iter().skip(1)) {
            let Level::Number(v) = level else { continue };
            match (spread.name.as_str(), load) {
                ("check.load", Some(own)) => check = own.factor(*v),
                (_, Some(own)) => inlet = own.factor(*v),
                ("ageing.years", _) => ageing.years = *v,
                ("ageing.check_relaxation", _) => ageing.check_relaxation = *v,
                ("ageing.air_inlet_relaxation", _) => ageing.air_inlet_relaxation = *v,
                (path, None) => changes.push((path, Level::Number(*v))),
            }
        }
        let [check_left, inlet_left] = ageing.left()?;
        for (path, left) in [("check.load_factor", check * check_left), ("air_inlet.load_factor", inlet * inlet_left)] {
            if left == 1.0 {
                continue;
            }
            match changes.iter_mut().find(|(p, _)| *p == path) {
                Some((_, Level::Number(v))) => *v *= left,
                _ => changes.push((path, Level::Number(base.number(path)? * left))),
            }
        }
        changed(base, changes.iter().map(|(path, level)| (*path, level)))
    }

    fn describe(&self) -> Json {
        let spreads: serde_json::Map<String, Json> = self
            .population
            .spreads
            .iter()
            .zip(&self.distributions)
            .map(|(s, d)| (s.name.clone(), serde_json::to_value(d).unwrap_or(Json::Null)))
            .collect();
        let correlation = |c: &Correlation| json!({"between": c.between, "coefficient": c.coefficient});
        let a = &self.population.ageing;
        let mut described = json!({
            "ageing": {
                "air_inlet_relaxation": a.air_inlet_relaxation,
                "check_relaxation": a.check_relaxation,
                "years": a.years,
            },
            "correlations": self.population.correlations.iter().map(correlation).collect::<Vec<_>>(),
            "design": self.design.word(),
            "indices": self.scheme.map(|s| json!([s.base(), s.replicates()])),
            "kind": "population",
            "seed": self.seed,
            "spread": spreads,
            "units": self.units(),
        });
        let factors = self.population.spreads.iter().zip(self.as_factor()).filter(|(_, factor)| *factor);
        let factors: Vec<&str> = factors.map(|(s, _)| s.name.as_str()).collect();
        if let (false, Some(all)) = (factors.is_empty(), described.as_object_mut()) {
            all.insert("spread_as_factor".to_owned(), json!(factors));
        }
        described
    }
}
