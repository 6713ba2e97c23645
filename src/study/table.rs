//! Points from a table: one row a run.

use super::axis::option;
use super::plan::{Column, Level, Plan};
use crate::assembly::{fields, read};
use crate::error::{Error, TableProblem};
use crate::units::{self, Kind, Unit};
use serde_json::{Value as Json, json};
use std::path::Path;

/// Points read from a CSV. A column whose head carries a unit, `check.load [psi]`, or whose field is a plain number, holds
/// numbers; any other holds values as `--set` takes them ("2.1 psi", "brimful", "3/4 in").
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    columns: Vec<Column>,
    rows: Vec<Vec<Level>>,
}

impl Table {
    /// Reads a table.
    ///
    /// # Errors
    /// [`Error`] with file, line, column and reason. Values that form no valid assembly are not refused here: their rows say
    /// why.
    pub fn read(path: &Path) -> Result<Table, Error> {
        let text = read::text(path)?;
        let fail = |line: Option<u64>, column: Option<&str>, problem: TableProblem| Error::Table {
            path: path.to_path_buf(),
            line: line.and_then(|l| usize::try_from(l).ok()),
            column: column.map(str::to_owned),
            problem: Box::new(problem),
        };
        let mut reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .comment(Some(b'#'))
            .trim(csv::Trim::All)
            .from_reader(text.as_bytes());
        let mut columns: Vec<(Column, Option<Unit>)> = Vec::new();
        let mut rows = Vec::new();
        for record in reader.records() {
            let record = record.map_err(|e| {
                let message = match e.kind() {
                    csv::ErrorKind::UnequalLengths { expected_len, len, .. } => {
                        format!("{len} cells where the header has {expected_len}")
                    }
                    _ => e.to_string(),
                };
                fail(e.position().map(csv::Position::line), None, TableProblem::Malformed { message })
            })?;
            let line = record.position().map(csv::Position::line);
            if columns.is_empty() {
                for head in &record {
                    let column = head_column(head).map_err(|e| match e {
                        HeadProblem::Field(e) => e,
                        HeadProblem::Unit(problem) => {
                            fail(line, Some(head), TableProblem::Cell { text: head.to_owned(), problem })
                        }
                    })?;
                    if columns.iter().any(|(c, _)| c.path == column.0.path) {
                        return Err(fail(line, Some(head), TableProblem::DuplicateColumn));
                    }
                    columns.push(column);
                }
                continue;
            }
            let level = |((column, unit), cell): (&(Column, Option<Unit>), &str)| match unit {
                // A number needs its unit here; words are the field's own.
                None => match fields::field(&column.path).and_then(fields::Field::number_kind) {
                    Some(kind) if cell.starts_with(|c: char| c.is_ascii_digit() || "+-.".contains(c)) => {
                        units::parse(kind, cell).map_err(|problem| {
                            fail(line, Some(&column.path), TableProblem::Cell { text: cell.to_owned(), problem })
                        })?;
                        Ok(Level::Text(cell.to_owned()))
                    }
                    _ => Ok(Level::Text(cell.to_owned())),
                },
                Some(unit) => units::parse_number(cell)
                    .and_then(|(number, rest)| match rest.trim() {
                        "" => unit.to_si(number),
                        rest => Err(crate::error::QuantityProblem::UnitOnNumber { unit: rest.to_owned() }),
                    })
                    .map(Level::Number)
                    .map_err(|problem| {
                        fail(line, Some(&column.path), TableProblem::Cell { text: cell.to_owned(), problem })
                    }),
            };
            rows.push(columns.iter().zip(record.iter()).map(level).collect::<Result<Vec<_>, _>>()?);
        }
        if rows.is_empty() {
            return Err(fail(None, None, TableProblem::TooFewRows { rows: 0, of: "", least: 1 }));
        }
        Ok(Table { columns: columns.into_iter().map(|(c, _)| c).collect(), rows })
    }
}

impl Table {
    /// The table that [`Plan::describe`] has told.
    pub(super) fn described(plan: &Json) -> Option<Table> {
        let column = |head: &Json| Some(head_column(head.as_str()?).ok()?.0);
        let level = |cell: &Json| match cell {
            Json::String(text) => Some(Level::Text(text.clone())),
            other => other.as_f64().map(Level::Number),
        };
        let row = |cells: &Json| cells.as_array()?.iter().map(level).collect();
        Some(Table {
            columns: plan.get("columns")?.as_array()?.iter().map(column).collect::<Option<_>>()?,
            rows: plan.get("rows")?.as_array()?.iter().map(row).collect::<Option<_>>()?,
        })
    }
}

enum HeadProblem {
    Field(Error),
    Unit(crate::error::QuantityProblem),
}

fn head_column(head: &str) -> Result<(Column, Option<Unit>), HeadProblem> {
    let (path, unit) = match head.split_once('[') {
        Some((path, rest)) => (path.trim(), rest.trim_end().strip_suffix(']').map(str::trim)),
        None => (head, None),
    };
    let field = fields::require(path, &option("--vary-from")).map_err(HeadProblem::Field)?;
    let unit = match (field.number_kind(), unit) {
        (Some(kind), Some(unit)) => Some((kind, Unit::named(kind, unit).map_err(HeadProblem::Unit)?)),
        (Some(kind @ (Kind::Number | Kind::Count)), None) => {
            Some((kind, Unit::named(kind, "").map_err(HeadProblem::Unit)?))
        }
        (None, Some(unit)) => {
            return Err(HeadProblem::Unit(crate::error::QuantityProblem::UnitOnNumber { unit: unit.to_owned() }));
        }
        _ => None,
    };
    Ok((Column { path: field.path.to_owned(), kind: unit.map(|(kind, _)| kind) }, unit.map(|(_, unit)| unit)))
}

impl Plan for Table {
    fn columns(&self) -> &[Column] {
        &self.columns
    }

    fn len(&self) -> u64 {
        self.rows.len() as u64
    }

    fn point(&self, index: u64) -> Vec<Level> {
        usize::try_from(index).ok().and_then(|i| self.rows.get(i)).cloned().unwrap_or_default()
    }

    fn describe(&self) -> Json {
        let level = |l: &Level| match l {
            Level::Number(si) => json!(si),
            Level::Text(text) => json!(text),
        };
        let rows: Vec<Vec<Json>> = self.rows.iter().map(|row| row.iter().map(level).collect()).collect();
        json!({"columns": self.columns.iter().map(Column::head).collect::<Vec<_>>(), "kind": "table", "rows": rows})
    }
}
