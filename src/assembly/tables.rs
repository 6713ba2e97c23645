//! CSV tables: a poppet's load against travel, and the main's pressure against time.
//!
//! The header carries the units in brackets: `travel [mm],force [N]` with an optional third column `direction`
//! ("opening" or "closing"), and `time [s],pressure [psi]`. Lines that start with `#` are comments. Travel and time
//! must rise from row to row, travel within each direction.

use super::read;
use crate::error::{Error, QuantityProblem, TableProblem, nearest};
use crate::units::{self, Kind, Unit};
use std::path::Path;

/// Most rows a table may have.
pub const MOST_ROWS: usize = 100_000;

/// Fewest points that make a load curve.
const LEAST_CURVE: usize = 3;
/// Fewest points that make a trace.
const LEAST_TRACE: usize = 2;

/// One branch of a load curve, travel rising from the sealed position.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Branch {
    /// Travel from the sealed position, m.
    pub travel_m: Vec<f64>,
    /// Load, N, positive in the direction in which the part is loaded.
    pub force_n: Vec<f64>,
}

/// A poppet's load against travel.
#[derive(Debug, Clone, PartialEq)]
pub struct LoadCurve {
    /// The branch while opening, or both ways if no direction is given.
    pub opening: Branch,
    /// The branch while closing, where it differs.
    pub closing: Option<Branch>,
}

/// The main's pressure against time.
#[derive(Debug, Clone, PartialEq)]
pub struct SupplyTrace {
    /// Time from the start of the run, s.
    pub time_s: Vec<f64>,
    /// Pressure, Pa gauge.
    pub pressure_pa_gauge: Vec<f64>,
}

/// Reads a load curve.
///
/// # Errors
/// [`Error::File`] if it cannot be read, [`Error::Table`] with line and column for anything wrong in it.
pub fn load_curve(path: &Path) -> Result<LoadCurve, Error> {
    let table = Table {
        path,
        columns: &[("travel", Kind::Length), ("force", Kind::Force)],
        example: "travel [mm],force [N]",
        direction: true,
    };
    let rule = "travel must rise from row to row in each direction; a load curve cannot double back";
    let mut branches = [Branch::default(), Branch::default()];
    let mut before = [String::new(), String::new()];
    let mut directed = false;
    table.rows(|line, row| {
        let closing = row.direction == Some(Direction::Closing);
        directed |= row.direction.is_some();
        let [opening_branch, closing_branch] = &mut branches;
        let [opening_before, closing_before] = &mut before;
        let (branch, before) =
            if closing { (closing_branch, closing_before) } else { (opening_branch, opening_before) };
        if row.first.si < 0.0 {
            let rule = "travel counts from the sealed position";
            return Err(table.fail(line, "travel", TableProblem::Negative { text: row.first.text, rule }));
        }
        table.rising(line, branch.travel_m.last(), &row.first, before, rule)?;
        branch.travel_m.push(row.first.si);
        branch.force_n.push(row.second.si);
        *before = row.first.text;
        Ok(())
    })?;
    let [opening, closing] = branches;
    let enough = |branch: &Branch, of| match branch.travel_m.len() {
        rows if rows < LEAST_CURVE => Err(table.whole(TableProblem::TooFewRows { rows, of, least: LEAST_CURVE })),
        _ => Ok(()),
    };
    enough(&opening, if directed { " of direction opening" } else { "" })?;
    if closing.travel_m.is_empty() {
        return Ok(LoadCurve { opening, closing: None });
    }
    enough(&closing, " of direction closing")?;
    Ok(LoadCurve { opening, closing: Some(closing) })
}

/// Reads a supply trace; pressures are gauge.
///
/// # Errors
/// As [`load_curve`].
pub fn supply_trace(path: &Path) -> Result<SupplyTrace, Error> {
    let table = Table {
        path,
        columns: &[("time", Kind::Time), ("pressure", Kind::GaugePressure)],
        example: "time [s],pressure [psi]",
        direction: false,
    };
    let [time_s, pressure_pa_gauge] = against_time(&table, f64::INFINITY)?;
    Ok(SupplyTrace { time_s, pressure_pa_gauge })
}

/// Air temperature against time.
#[derive(Debug, Clone, PartialEq)]
pub struct AirTrace {
    /// Time from the start of the night, s.
    pub time_s: Vec<f64>,
    /// Air temperature, K.
    pub air_k: Vec<f64>,
}

/// Longest time between two rows of a weather trace, s (3 h): a longer one is a gap in the record.
pub const LONGEST_GAP: f64 = 10_800.0;

/// Reads a weather trace (`time [h],air [degC]`).
///
/// # Errors
/// As [`load_curve`]; [`TableProblem::Gap`] too where rows lie more than [`LONGEST_GAP`] apart.
pub fn weather(path: &Path) -> Result<AirTrace, Error> {
    let table = Table {
        path,
        columns: &[("time", Kind::Time), ("air", Kind::Temperature)],
        example: "time [h],air [degC]",
        direction: false,
    };
    let [time_s, air_k] = against_time(&table, LONGEST_GAP)?;
    Ok(AirTrace { time_s, air_k })
}

/// A table of rising times, s, and what was then, in SI; rows lie at most `gap` s apart.
fn against_time(table: &Table, gap: f64) -> Result<[Vec<f64>; 2], Error> {
    let [mut times, mut values] = [Vec::new(), Vec::new()];
    let mut before = String::new();
    table.rows(|line, row| {
        table.rising(line, times.last(), &row.first, &before, "time must rise from row to row")?;
        if times.last().is_some_and(|t| !(row.first.si - t <= gap)) {
            let rule = "rows of a weather trace stand at most 3 h apart";
            let problem = TableProblem::Gap { text: row.first.text, previous: before.clone(), rule };
            return Err(table.fail(line, "time", problem));
        }
        times.push(row.first.si);
        values.push(row.second.si);
        before = row.first.text;
        Ok(())
    })?;
    match times.len() {
        rows if rows < LEAST_TRACE => Err(table.whole(TableProblem::TooFewRows { rows, of: "", least: LEAST_TRACE })),
        _ => Ok([times, values]),
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Direction {
    Opening,
    Closing,
}

struct Cell {
    text: String,
    si: f64,
}

struct Row {
    first: Cell,
    second: Cell,
    direction: Option<Direction>,
}

/// What a table must look like.
struct Table<'a> {
    path: &'a Path,
    columns: &'a [(&'static str, Kind); 2],
    example: &'static str,
    direction: bool,
}

/// Where each column stands, and the units of the two numbers.
struct Layout {
    places: [usize; 2],
    units: [Unit; 2],
    direction: Option<usize>,
}

impl Table<'_> {
    fn whole(&self, problem: TableProblem) -> Error {
        Error::Table { path: self.path.to_path_buf(), line: None, column: None, problem: Box::new(problem) }
    }

    fn fail(&self, line: usize, column: &str, problem: TableProblem) -> Error {
        let column = Some(column.to_string());
        Error::Table { path: self.path.to_path_buf(), line: Some(line), column, problem: Box::new(problem) }
    }

    fn malformed(&self, e: &csv::Error) -> Error {
        let line = e.position().map(|p| p.line() as usize);
        let problem = match e.kind() {
            csv::ErrorKind::UnequalLengths { expected_len, len, .. } => {
                TableProblem::Malformed { message: format!("{len} cells where the header has {expected_len}") }
            }
            _ => TableProblem::Malformed { message: e.to_string() },
        };
        Error::Table { path: self.path.to_path_buf(), line, column: None, problem: Box::new(problem) }
    }

    fn rising(
        &self,
        line: usize,
        last: Option<&f64>,
        cell: &Cell,
        before: &str,
        rule: &'static str,
    ) -> Result<(), Error> {
        let rises = last.is_none_or(|l| cell.si > *l);
        let [(name, _), _] = self.columns;
        if rises {
            return Ok(());
        }
        let problem = TableProblem::NotIncreasing { text: cell.text.clone(), previous: before.to_string(), rule };
        Err(self.fail(line, name, problem))
    }

    fn rows(&self, mut each: impl FnMut(usize, Row) -> Result<(), Error>) -> Result<(), Error> {
        let text = read::text(self.path)?;
        let mut reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .comment(Some(b'#'))
            .trim(csv::Trim::All)
            .from_reader(text.as_bytes());
        let mut layout = None;
        for (count, record) in reader.records().enumerate() {
            let record = record.map_err(|e| self.malformed(&e))?;
            let line = record.position().map_or(0, |p| p.line() as usize);
            if count > MOST_ROWS {
                return Err(self.whole(TableProblem::TooManyRows { limit: MOST_ROWS }));
            }
            match &layout {
                None => layout = Some(self.layout(line, &record)?),
                Some(layout) => each(line, self.row(line, layout, &record)?)?,
            }
        }
        Ok(())
    }

    fn layout(&self, line: usize, header: &csv::StringRecord) -> Result<Layout, Error> {
        let [first, second] = self.columns;
        let mut found: [Option<(usize, Unit)>; 2] = [None, None];
        let mut direction = None;
        for (place, cell) in header.iter().enumerate() {
            let (name, unit) = match cell.split_once('[') {
                Some((name, rest)) => (name.trim(), rest.trim_end().strip_suffix(']').map(str::trim)),
                None => (cell, None),
            };
            if self.direction && name == "direction" {
                if direction.replace(place).is_some() {
                    return Err(self.fail(line, name, TableProblem::DuplicateColumn));
                }
                continue;
            }
            let [a, b] = &mut found;
            let (slot, kind) = match name {
                n if n == first.0 => (a, first.1),
                n if n == second.0 => (b, second.1),
                _ => {
                    let known = [first.0, second.0].into_iter().chain(self.direction.then_some("direction"));
                    let problem = TableProblem::UnknownColumn { name: name.to_string(), nearest: nearest(name, known) };
                    return Err(Error::Table {
                        path: self.path.to_path_buf(),
                        line: Some(line),
                        column: None,
                        problem: Box::new(problem),
                    });
                }
            };
            let Some(unit) = unit.filter(|u| !u.is_empty()) else {
                let example = self.example.split(',').find(|e| e.starts_with(name)).unwrap_or(self.example);
                let problem =
                    TableProblem::HeaderWithoutUnit { header: cell.to_string(), example: example.to_string() };
                return Err(self.fail(line, name, problem));
            };
            let unit = Unit::named(kind, unit)
                .map_err(|problem| self.fail(line, name, TableProblem::Cell { text: cell.to_string(), problem }))?;
            if slot.replace((place, unit)).is_some() {
                return Err(self.fail(line, name, TableProblem::DuplicateColumn));
            }
        }
        match found {
            [Some((a, unit_a)), Some((b, unit_b))] => Ok(Layout { places: [a, b], units: [unit_a, unit_b], direction }),
            [None, _] => Err(self.missing(line, first.0)),
            [_, None] => Err(self.missing(line, second.0)),
        }
    }

    fn missing(&self, line: usize, name: &'static str) -> Error {
        let problem = TableProblem::MissingColumn { name, example: self.example };
        Error::Table { path: self.path.to_path_buf(), line: Some(line), column: None, problem: Box::new(problem) }
    }

    fn row(&self, line: usize, layout: &Layout, record: &csv::StringRecord) -> Result<Row, Error> {
        let [(first, _), (second, _)] = self.columns;
        let [place_a, place_b] = layout.places;
        let [unit_a, unit_b] = layout.units;
        let direction = match layout.direction.map(|place| record.get(place).unwrap_or_default()) {
            None => None,
            Some("opening") => Some(Direction::Opening),
            Some("closing") => Some(Direction::Closing),
            Some(other) => {
                let known = vec!["opening", "closing"];
                let nearest = nearest(other, known.iter().copied());
                let problem = QuantityProblem::NotAChoice { known, nearest };
                return Err(self.fail(line, "direction", TableProblem::Cell { text: other.to_string(), problem }));
            }
        };
        Ok(Row {
            first: self.cell(line, first, unit_a, record.get(place_a))?,
            second: self.cell(line, second, unit_b, record.get(place_b))?,
            direction,
        })
    }

    fn cell(&self, line: usize, name: &str, unit: Unit, text: Option<&str>) -> Result<Cell, Error> {
        let text = text.unwrap_or_default();
        let value = units::parse_number(text).and_then(|(number, rest)| match rest.trim() {
            "" => unit.to_si(number),
            unit => Err(QuantityProblem::UnitOnNumber { unit: unit.to_string() }),
        });
        match value {
            Ok(si) => Ok(Cell { text: text.to_string(), si }),
            Err(problem) => Err(self.fail(line, name, TableProblem::Cell { text: text.to_string(), problem })),
        }
    }
}
