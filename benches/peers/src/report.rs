//! Tables in Markdown from the rows of all peers.

use crate::cases::names;
use crate::outcome::Row;
use crate::sweep::METHODS;

/// Accuracies at which costs are compared: event times within, us, and spilled volume within, mL.
const LEVELS: [(f64, f64); 4] = [(100.0, 0.1), (10.0, 0.01), (1.0, 0.001), (0.1, 0.0001)];

/// Prints all tables from CSV files.
///
/// # Errors
/// A file cannot be read or a line is not a row.
pub fn print(files: &[String]) -> Result<(), String> {
    let mut rows = Vec::new();
    for file in files {
        let text = std::fs::read_to_string(file).map_err(|e| format!("{file}: {e}"))?;
        for line in text.lines().filter(|l| *l != Row::HEADER && !l.is_empty()) {
            rows.push(Row::read(line).ok_or_else(|| format!("{file}: not a row: {line}"))?);
        }
    }
    let all = Table::new(rows);
    all.equal_accuracy("CPU time as a multiple of ours at equal accuracy", "ours, ms (tolerance)", |row, ours| {
        if row.method == ours.method {
            return format!("{:.2} ({:.0e})", row.cpu, row.tolerance);
        }
        let ratio = row.cpu / ours.cpu;
        if ratio < 10.0 { format!("{ratio:.1}") } else { format!("{ratio:.0}") }
    });
    all.equal_accuracy("Evaluations of the rates (and of the Jacobian) at equal accuracy", "ours", |row, _| {
        format!("{} ({})", row.rates, row.jacobians)
    });
    all.check();
    all.balances();
    all.work_precision();
    all.deviations();
    Ok(())
}

/// All rows, and the methods in the order of the tables.
struct Table {
    rows: Vec<Row>,
    methods: Vec<String>,
}

/// A line of a Markdown table.
fn line(cells: impl IntoIterator<Item = String>) {
    let cells: Vec<String> = cells.into_iter().collect();
    println!("| {} |", cells.join(" | "));
}

/// Head of a table: the first `left` columns to the left, the rest to the right.
fn head(left: usize, cells: impl IntoIterator<Item = String>) {
    let cells: Vec<String> = cells.into_iter().collect();
    let rule: String = (0..cells.len()).map(|i| if i < left { "---|" } else { "---:|" }).collect();
    println!("| {} |\n|{rule}", cells.join(" | "));
}

fn micro(seconds: f64) -> String {
    let us = 1e6 * seconds;
    if us >= 100.0 {
        format!("{us:.0}")
    } else if us >= 1.0 {
        format!("{us:.1}")
    } else {
        format!("{us:.3}")
    }
}

impl Table {
    fn new(rows: Vec<Row>) -> Self {
        let mut methods: Vec<String> =
            METHODS.iter().filter(|m| rows.iter().any(|r| r.method == **m)).map(|m| (*m).to_owned()).collect();
        for row in &rows {
            if !methods.contains(&row.method) {
                methods.push(row.method.clone());
            }
        }
        Table { rows, methods }
    }

    /// Rows of one method in one case, loosest tolerance first.
    fn of(&self, case: &str, method: &str) -> Vec<&Row> {
        let mut rows: Vec<&Row> = self.rows.iter().filter(|r| r.case == case && r.method == method).collect();
        rows.sort_by(|a, b| b.tolerance.total_cmp(&a.tolerance));
        rows
    }

    /// The cheapest of the rows from the loosest tolerance on from which on the method stays within both errors; runs that
    /// did not come to their end are not counted against it.
    fn within(&self, case: &str, method: &str, (events, spill): (f64, f64)) -> Option<&Row> {
        let rows: Vec<&Row> = self.of(case, method).into_iter().filter(|r| r.failure.is_empty()).collect();
        let good = |r: &&Row| 1e6 * r.errors.events <= events && 1e6 * r.errors.spill <= spill;
        let first = rows.iter().rposition(|r| !good(r)).map_or(0, |k| k + 1);
        rows.into_iter().skip(first).min_by(|a, b| a.cpu.total_cmp(&b.cpu))
    }

    fn equal_accuracy(&self, title: &str, first: &str, cell: impl Fn(&Row, &Row) -> String) {
        println!("## {title}\n");
        println!(
            "Each method at the cheapest of the tolerances from which on it stays within both errors \
             (of 1e-2 to 1e-8 by half decades; runs that failed are listed below and left out); \"–\": not down to 1e-8.\n"
        );
        let fixed = ["case", "events within / spill within", first].map(String::from);
        let ours_name = self.methods.first().cloned().unwrap_or_default();
        head(2, fixed.into_iter().chain(self.methods.iter().skip(1).cloned()));
        for (case, title) in names() {
            for (k, level) in LEVELS.into_iter().enumerate() {
                let ours = self.within(case, &ours_name, level);
                let mut cells = vec![if k == 0 { title.to_owned() } else { String::new() }];
                cells.push(format!("{} µs / {} mL", level.0, level.1));
                for method in &self.methods {
                    let row = self.within(case, method, level);
                    cells.push(row.zip(ours).map_or("–".into(), |(row, ours)| cell(row, ours)));
                }
                line(cells);
            }
        }
        println!();
    }

    /// Every method at its tightest tolerance against the reference.
    fn check(&self) {
        println!("## Check: every method at its tightest tolerance against the reference\n");
        head(
            2,
            ["case", "method", "tolerance", "events", "same labels and order", "event times, µs", "spill, mL"]
                .map(String::from),
        );
        for (case, title) in names() {
            for method in &self.methods {
                let Some(row) = self.of(case, method).last().copied() else { continue };
                let e = &row.errors;
                let verdict = match row.failure.as_str() {
                    "" if e.in_order && e.events <= 1e-5 => "yes".to_owned(),
                    "" if e.in_order => "yes, but late or early".to_owned(),
                    "" => "**no**".to_owned(),
                    why => format!("**failed**: {why}"),
                };
                line([
                    title.to_owned(),
                    method.clone(),
                    format!("{:.0e}", row.tolerance),
                    format!("{} of {}", row.events.0, row.events.1),
                    verdict,
                    micro(e.events),
                    format!("{:.1e}", 1e6 * e.spill),
                ]);
            }
        }
        println!();
    }

    /// Worst closure of the balances of water and air over the cases and tolerances.
    fn balances(&self) {
        println!("## How well the balances of water and air close: worst of all cases\n");
        println!(
            "diffsol and SUNDIALS integrate what came in and went out beside the states, as outputs or quadratures: \
             this is their accuracy. SciPy takes them as further states, which closes to rounding (SUNDIALS did so too \
             when tried, at two thirds more time).\n"
        );
        let tolerances = [1e-4, 1e-5, 1e-6];
        head(1, ["method".to_owned()].into_iter().chain(tolerances.iter().map(|t| format!("at {t:.0e}"))));
        for method in &self.methods {
            let worst = |t: &f64| {
                let rows = self.rows.iter().filter(|r| r.method == *method && (r.tolerance / t - 1.0).abs() < 0.1);
                rows.filter(|r| r.failure.is_empty()).map(|r| r.closure).reduce(f64::max)
            };
            let cells = tolerances.iter().map(|t| worst(t).map_or("–".into(), |w| format!("{w:.0e}")));
            line([method.clone()].into_iter().chain(cells));
        }
        println!();
    }

    /// Cost and event error against tolerance, one table for each case.
    fn work_precision(&self) {
        println!("## Work and precision: CPU time of one run, ms / largest error of an event time, µs\n");
        for (case, title) in names() {
            println!("### {title}\n");
            let mut tolerances: Vec<f64> = self.rows.iter().filter(|r| r.case == case).map(|r| r.tolerance).collect();
            tolerances.sort_by(|a, b| b.total_cmp(a));
            tolerances.dedup();
            head(1, ["tolerance".to_owned()].into_iter().chain(self.methods.iter().cloned()));
            for t in tolerances {
                let mut cells = vec![format!("{t:.1e}")];
                for method in &self.methods {
                    cells.push(match self.of(case, method).into_iter().find(|r| r.tolerance == t) {
                        None => String::new(),
                        Some(r) if !r.failure.is_empty() => "failed".to_owned(),
                        Some(r) if !r.errors.events.is_finite() => {
                            format!("{:.2} / {} events", r.cpu, r.events.0)
                        }
                        Some(r) => format!("{:.2} / {}", r.cpu, micro(r.errors.events)),
                    });
                }
                line(cells);
            }
            println!();
        }
    }

    /// What failed, and where the events were others.
    fn deviations(&self) {
        println!("## Runs that failed or had other events\n");
        let mut none = true;
        for row in &self.rows {
            let what = if !row.failure.is_empty() {
                row.failure.clone()
            } else if !row.errors.events.is_finite() {
                format!("{} events instead of {}", row.events.0, row.events.1)
            } else if !row.errors.in_order {
                "the same events in another order".to_owned()
            } else {
                continue;
            };
            println!("- {}, {} at {:.1e}: {what}", row.case, row.method, row.tolerance);
            none = false;
        }
        if none {
            println!("None.");
        }
    }
}
