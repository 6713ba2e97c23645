//! What all rows of a study come to, gathered in one pass and a fixed amount of memory.

use crate::cli::text::Rows;
use crate::error::quoted;
use crate::study::{Cell, Condition, Output, Row};
use crate::units::{Kind, System, format};
use serde_json::{Value as Json, json};
use std::collections::{BTreeMap, BTreeSet};

/// Different words of one output that are counted one by one.
const WORDS: usize = 12;
/// Different reasons of failure that are shown.
const REASONS: usize = 5;

/// One output.
#[derive(Debug, Clone)]
struct Column {
    name: String,
    kind: Kind,
    low: f64,
    high: f64,
    numbers: u64,
    words: BTreeMap<String, u64>,
    other_words: u64,
    missing: u64,
}

/// All outputs and the failures.
#[derive(Debug, Clone)]
pub(super) struct Summary {
    columns: Vec<Column>,
    /// Rows.
    pub runs: u64,
    /// Rows that failed.
    pub failed: u64,
    /// Of each kind the first, as an example, and how many.
    reasons: Vec<(String, u64)>,
}

/// A reason without its numbers: failures that differ in nothing else are of one kind.
fn without_numbers(reason: &str) -> String {
    let number = |word: &str| word.trim_matches(|c: char| "\"(),:;".contains(c)).parse::<f64>().is_ok();
    reason.split_whitespace().filter(|word| !number(word)).collect::<Vec<_>>().join(" ")
}

/// "no run has siphon.by \"x\"; there were air-inlet": it may be misspelt.
pub(super) fn not_seen<'a>(condition: &Condition, seen: impl Iterator<Item = &'a str>) -> Option<String> {
    let word = condition.unchecked_word()?;
    let seen: BTreeSet<&str> = seen.collect();
    let all: Vec<&str> = seen.iter().copied().collect();
    (!seen.is_empty() && !seen.contains(word))
        .then(|| format!("no run has {} {}; there were {}", condition.output.name(), quoted(word), all.join(", ")))
}

impl Summary {
    pub fn new(outputs: &[Output]) -> Summary {
        let column = |o: &Output| Column {
            name: o.name(),
            kind: o.kind(),
            low: f64::INFINITY,
            high: f64::NEG_INFINITY,
            numbers: 0,
            words: BTreeMap::new(),
            other_words: 0,
            missing: 0,
        };
        Summary { columns: outputs.iter().map(column).collect(), runs: 0, failed: 0, reasons: Vec::new() }
    }

    pub fn add(&mut self, row: &Row) {
        self.runs += 1;
        if let Some(reason) = &row.failed {
            self.failed += 1;
            let full = self.reasons.len() >= REASONS;
            let kind = without_numbers(reason);
            match self.reasons.iter_mut().find(|(r, _)| without_numbers(r) == kind) {
                Some((_, count)) => *count += 1,
                None if full => {}
                None => self.reasons.push((reason.clone(), 1)),
            }
            return;
        }
        for (column, cell) in self.columns.iter_mut().zip(&row.cells) {
            match cell {
                Cell::Number(v) => {
                    column.numbers += 1;
                    (column.low, column.high) = (column.low.min(*v), column.high.max(*v));
                }
                Cell::Missing => column.missing += 1,
                Cell::Flag(_) | Cell::Text(_) => {
                    let word = cell.text();
                    if column.words.contains_key(&word) || column.words.len() < WORDS {
                        *column.words.entry(word).or_default() += 1;
                    } else {
                        column.other_words += 1;
                    }
                }
            }
        }
    }

    /// Whether one of the words recorded has this part.
    pub fn says(&self, part: &str) -> bool {
        self.columns.iter().flat_map(|c| c.words.keys()).any(|word| word.contains(part))
    }

    /// That no run gave the word that a condition compares with, where runs gave others.
    pub fn word_not_seen(&self, condition: &Condition) -> Option<String> {
        let column = self.columns.iter().find(|c| c.name == condition.output.name() && c.other_words == 0)?;
        not_seen(condition, column.words.keys().map(String::as_str))
    }

    /// One row of text for each output, and the failures.
    pub fn rows(&self, system: System) -> Rows {
        let mut rows = Rows::default();
        for c in &self.columns {
            let mut parts = Vec::new();
            if c.numbers > 0 {
                let show = |v: f64| format(c.kind, v, system);
                parts.push(match c.low == c.high {
                    true => format!("{} in all", show(c.low)),
                    false => format!("from {} to {}", show(c.low), show(c.high)),
                });
            }
            let mut words: Vec<(&String, &u64)> = c.words.iter().collect();
            words.sort_by(|a, b| b.1.cmp(a.1).then(a.0.cmp(b.0)));
            parts.extend(words.iter().map(|(word, count)| format!("{word} in {count}")));
            if c.other_words > 0 {
                parts.push(format!("other words in {}", c.other_words));
            }
            if c.missing > 0 {
                parts.push(format!("none in {}", c.missing));
            }
            rows.add(&c.name, if parts.is_empty() { "none".to_owned() } else { parts.join(", ") });
        }
        if self.failed > 0 {
            rows.add("failed runs", format!("{} of {}", self.failed, self.runs));
            self.add_reasons(&mut rows);
        }
        rows
    }

    /// Why runs failed, one row for each kind of reason.
    pub fn add_reasons(&self, rows: &mut Rows) {
        for (reason, count) in &self.reasons {
            let like = if *count > 1 { "like " } else { "" };
            rows.add("", format!("{count} x {like}{}", crate::error::shown_long(reason)));
        }
        let told: u64 = self.reasons.iter().map(|(_, n)| n).sum();
        if told < self.failed {
            rows.add("", format!("{} for other reasons; each row of the table says its own", self.failed - told));
        }
    }

    /// The commonest reason of failure.
    pub fn main_reason(&self) -> Option<&(String, u64)> {
        self.reasons.iter().max_by_key(|(_, n)| *n)
    }

    /// The reasons of failure for a document.
    pub fn failures(&self) -> Vec<Json> {
        self.reasons.iter().map(|(reason, count)| json!({"reason": reason, "runs": count})).collect()
    }

    /// The headline: what the first output says.
    pub fn headline(&self, system: System) -> String {
        let failed = if self.failed > 0 { format!(", {} failed", self.failed) } else { String::new() };
        let Some(c) = self.columns.first() else { return format!("{} runs{failed}", self.runs) };
        let name = super::population::short(&c.name);
        if c.words.is_empty() && c.numbers > 0 {
            let show = |v: f64| format(c.kind, v, system);
            let (low, high) = (show(c.low), show(c.high));
            let range = match low == high {
                true if c.missing == 0 => format!("{low} in all"),
                true => low,
                false => format!("from {low} to {high}"),
            };
            let none = if c.missing > 0 { format!(", none in {}", c.missing) } else { String::new() };
            return format!("{} runs{failed}: {name} {range}{none}", self.runs);
        }
        let mut words: Vec<(&String, &u64)> = c.words.iter().collect();
        words.sort_by(|a, b| b.1.cmp(a.1).then(a.0.cmp(b.0)));
        let parts: Vec<String> = words.iter().take(4).map(|(word, count)| format!("{word} in {count}")).collect();
        format!("{} runs{failed}: {name} {}", self.runs, parts.join(", "))
    }
}
