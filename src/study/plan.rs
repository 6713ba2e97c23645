//! Which runs a study consists of: every point by its number, none of them stored.

use super::axis::Axis;
use crate::assembly::Settings;
use crate::error::{At, Error, Source};
use crate::units::Kind;
use serde_json::{Value as Json, json};
use std::sync::Arc;

/// What one column of a plan takes at one point.
#[derive(Debug, Clone, PartialEq)]
pub enum Level {
    /// A number, SI.
    Number(f64),
    /// A value as people write it.
    Text(String),
}

/// A column of a plan.
#[derive(Debug, Clone, PartialEq)]
pub struct Column {
    /// The field, or a name of the plan's own.
    pub path: String,
    /// The kind of its numbers; `None` for texts.
    pub kind: Option<Kind>,
}

impl Column {
    /// The head of the column in a CSV: the path, with the SI unit in brackets where there is one.
    pub fn head(&self) -> String {
        match self.kind.map(si_symbol).filter(|symbol| !symbol.is_empty()) {
            Some(symbol) => format!("{} [{symbol}]", self.path),
            None => self.path.clone(),
        }
    }
}

impl Column {
    /// The column with this head.
    pub fn of_head(head: &str) -> Column {
        let path = head.split_once(" [").map_or(head, |(path, _)| path);
        let kind = crate::assembly::fields::field(path).and_then(crate::assembly::fields::Field::number_kind);
        Column { path: path.to_owned(), kind }
    }
}

/// Symbol of the SI unit in which numbers of a kind are written to tables.
pub fn si_symbol(kind: Kind) -> String {
    // The exact text of 1 is "1 UNIT" for every kind.
    crate::units::exact_text(kind, 1.0).split_once(' ').map_or_else(String::new, |(_, unit)| unit.to_owned())
}

/// The points of a study. A point is worked out from its number alone, so that any part of a study can be done anywhere, in
/// any order, by any number of threads.
pub trait Plan: Send + Sync {
    /// The columns that tell the points apart.
    fn columns(&self) -> &[Column];

    /// Number of points.
    fn len(&self) -> u64;

    /// Whether there are none.
    fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// One value for each column at point `index` (from 0).
    fn point(&self, index: u64) -> Vec<Level>;

    /// The settings at a point, from those of the study.
    ///
    /// # Errors
    /// [`Error`] when the point is no valid assembly; it becomes the reason of a failed row.
    fn settings(&self, base: &Settings, point: &[Level]) -> Result<Settings, Error> {
        changed(base, self.columns().iter().map(|c| c.path.as_str()).zip(point))
    }

    /// Everything that decides the points, for the identity of the study.
    fn describe(&self) -> Json;
}

/// Settings with fields changed together: by the quick way if all are numbers.
pub(super) fn changed<'a>(
    base: &Settings,
    changes: impl Iterator<Item = (&'a str, &'a Level)> + Clone,
) -> Result<Settings, Error> {
    let numbers: Option<Vec<(&str, f64)>> = changes
        .clone()
        .map(|(path, level)| match level {
            Level::Number(si) => Some((path, *si)),
            Level::Text(_) => None,
        })
        .collect();
    if let Some(numbers) = numbers {
        return base.with_numbers(&numbers);
    }
    let mut texts = Vec::new();
    for (path, level) in changes {
        let text = match level {
            Level::Text(text) => text.clone(),
            Level::Number(si) => {
                let field = crate::assembly::fields::require(path, &At::whole(Source::Study))?;
                field.number_kind().map_or_else(|| si.to_string(), |kind| crate::units::exact_text(kind, *si))
            }
        };
        texts.push((path, text));
    }
    base.with_texts(&texts)
}

/// The points that a study's description tells; `None` where it tells only how they were drawn.
pub(super) fn described(study: &Json) -> Option<Arc<dyn Plan>> {
    let plan = study.get("plan")?;
    match plan.get("kind")?.as_str()? {
        "grid" => Some(Arc::new(Grid::described(plan)?)),
        "table" => Some(Arc::new(super::table::Table::described(plan)?)),
        _ => None,
    }
}

/// All combinations of the values of several axes; the last axis runs fastest.
#[derive(Debug, Clone)]
pub struct Grid {
    /// The axes.
    pub axes: Vec<Axis>,
    columns: Vec<Column>,
}

/// Most runs of one study.
pub const MOST_RUNS: u64 = 1_000_000_000;

impl Grid {
    /// A grid over these axes.
    ///
    /// # Errors
    /// [`Error::Syntax`] if a field stands on two axes, if there is no axis, or if the grid has more than [`MOST_RUNS`].
    pub fn new(axes: Vec<Axis>) -> Result<Grid, Error> {
        let at = At::whole(Source::Option("--vary"));
        let refuse = |message: String| Err(Error::Syntax { at: at.clone(), message });
        for (i, axis) in axes.iter().enumerate() {
            if axes.iter().take(i).any(|other| other.path == axis.path) {
                return refuse(format!("{} is varied twice", axis.path));
            }
        }
        let runs = axes.iter().try_fold(1u64, |n, axis| n.checked_mul(axis.values.len() as u64));
        match runs {
            Some(n) if (1..=MOST_RUNS).contains(&n) && !axes.is_empty() => {}
            Some(n) if n < 1 || axes.is_empty() => return refuse("there is nothing to vary".to_owned()),
            _ => return refuse(format!("the axes make more than {MOST_RUNS} runs")),
        }
        let columns = axes.iter().map(|a| Column { path: a.path.to_owned(), kind: Some(a.kind) }).collect();
        Ok(Grid { axes, columns })
    }
}

impl Grid {
    /// The grid that [`Plan::describe`] has told.
    pub fn described(plan: &Json) -> Option<Grid> {
        let axis = |a: &Json| {
            let number = |key: &str| a.get(key).and_then(Json::as_f64);
            let count = a.get("count").and_then(Json::as_u64).and_then(|n| usize::try_from(n).ok())?;
            let path = a.get("path").and_then(Json::as_str)?;
            let axis = Axis::new(path, number("low")?, number("high")?, count, a.get("log")?.as_bool()?).ok()?;
            match a.get("values").and_then(|v| serde_json::from_value(v.clone()).ok()) {
                Some(values) => Some(Axis { values, ..axis }),
                None => Some(axis),
            }
        };
        Grid::new(plan.get("axes")?.as_array()?.iter().map(axis).collect::<Option<_>>()?).ok()
    }

    /// The built-in demo: the order of a spill-resistant assembly over the loads of air inlet and check, for three supply
    /// pressures and three depths of wear of the check's seat.
    ///
    /// # Errors
    /// None with the fields as they are.
    pub fn order_map() -> Result<Grid, Error> {
        let axes = [
            "air_inlet.load=0.8:2:25 psi",
            "check.load=0.6:3:49 psi",
            "supply.pressure=20:100:3 psi",
            "check.seat_wear=0:1:3 mm",
        ];
        Grid::new(axes.into_iter().map(Axis::parse).collect::<Result<_, _>>()?)
    }
}

impl Plan for Grid {
    fn columns(&self) -> &[Column] {
        &self.columns
    }

    fn len(&self) -> u64 {
        self.axes.iter().map(|a| a.values.len() as u64).product()
    }

    fn point(&self, index: u64) -> Vec<Level> {
        let mut rest = index;
        let mut levels: Vec<Level> = self
            .axes
            .iter()
            .rev()
            .map(|axis| {
                let count = (axis.values.len() as u64).max(1);
                let value = axis.values.get((rest % count) as usize).copied().unwrap_or(f64::NAN);
                rest /= count;
                Level::Number(value)
            })
            .collect();
        levels.reverse();
        levels
    }

    fn describe(&self) -> Json {
        let axes: Vec<Json> = self
            .axes
            .iter()
            .map(|a| {
                let mut axis = json!({"count": a.values.len(), "high": a.values.last(), "log": a.log, "low": a.values.first(), "path": a.path});
                // Rounded values do not follow from their ends.
                if let (Kind::Count, Json::Object(map)) = (a.kind, &mut axis) {
                    map.insert("values".to_owned(), json!(a.values));
                }
                axis
            })
            .collect();
        json!({"axes": axes, "kind": "grid"})
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn analytic_the_last_axis_runs_fastest_and_every_combination_comes_once() {
        let axes = ["check.load=1:3:3 psi", "air_inlet.load=1:2:2 psi", "check.seat_wear=0:1:4 mm"]
            .map(|a| Axis::parse(a).unwrap());
        let grid = Grid::new(axes.to_vec()).unwrap();
        assert_eq!(grid.len(), 24);
        let points: Vec<Vec<Level>> = (0..24).map(|i| grid.point(i)).collect();
        let at = |a: usize, b: usize, c: usize| {
            vec![Level::Number(axes[0].values[a]), Level::Number(axes[1].values[b]), Level::Number(axes[2].values[c])]
        };
        assert_eq!(points[0], at(0, 0, 0));
        assert_eq!(points[1], at(0, 0, 1));
        assert_eq!(points[4], at(0, 1, 0));
        assert_eq!(points[23], at(2, 1, 3));
        for (i, p) in points.iter().enumerate() {
            assert!(points.iter().skip(i + 1).all(|q| q != p));
        }
    }

    #[test]
    fn practice_a_field_on_two_axes_and_an_endless_grid_are_refused() {
        let axis = Axis::parse("check.load=1:3:3 psi").unwrap();
        assert!(Grid::new(vec![axis.clone(), axis]).unwrap_err().to_string().contains("varied twice"));
        let big = ["check.load=1:3:1000000 psi", "air_inlet.load=1:3:1000000 psi"].map(|a| Axis::parse(a).unwrap());
        assert!(Grid::new(big.to_vec()).unwrap_err().to_string().contains("more than"));
        assert!(Grid::new(vec![]).unwrap_err().to_string().contains("nothing to vary"));
    }

    #[test]
    fn analytic_heads_carry_the_si_unit() {
        let head = |path: &str, kind| Column { path: path.into(), kind }.head();
        assert_eq!(head("check.load", Some(Kind::PressureDifference)), "check.load [Pa]");
        assert_eq!(head("check.load_factor", Some(Kind::Number)), "check.load_factor");
        assert_eq!(
            head("ambient.pressure_absolute", Some(Kind::AbsolutePressure)),
            "ambient.pressure_absolute [Pa abs]"
        );
        assert_eq!(head("size", None), "size");
    }
}
