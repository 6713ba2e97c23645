//! The places that a search has looked at: how many of their runs could be judged, and their table.

use crate::cli::problem::Problem;
use crate::error::{Error, shown_long};
use crate::study::{Cell, Column, Judged, Outcomes, Range};

/// Different reasons of failure that are told.
const REASONS: usize = 3;

/// One place.
#[derive(Debug, Clone)]
pub(super) struct Look {
    /// Value of the unknown, SI.
    pub x: f64,
    pub judged: Judged,
    pub found: Seen,
}

/// What was seen there.
#[derive(Debug, Clone)]
pub(super) enum Seen {
    /// What the one run gave.
    Value(Cell),
    /// Why it failed.
    Failed(Error),
    /// A population.
    People(Counted),
}

/// A population at one value of the unknown.
#[derive(Debug, Clone)]
pub(super) struct Counted {
    /// Units whose run did not fail.
    pub outcomes: Outcomes,
    /// Units whose run failed.
    pub failed: u64,
    /// Why the first one failed.
    pub reason: Option<String>,
}

impl Counted {
    fn units(&self) -> u64 {
        let Outcomes { met, not_met, not_judged } = self.outcomes;
        met + not_met + not_judged + self.failed
    }
}

/// All places from LOW to HIGH.
pub(super) struct Looked(Vec<Look>);

impl Looked {
    pub fn new(mut all: Vec<Look>, range: &Range) -> Looked {
        all.sort_by(|a, b| if range.high > range.low { a.x.total_cmp(&b.x) } else { b.x.total_cmp(&a.x) });
        Looked(all)
    }

    fn sum(&self, of_one: fn(&Seen) -> bool, of_people: fn(&Counted) -> u64) -> u64 {
        let count = |look: &Look| match &look.found {
            Seen::People(counted) => of_people(counted),
            one => u64::from(of_one(one)),
        };
        self.0.iter().map(count).sum()
    }

    /// The lowest and the highest number seen, SI (of populations the share), each with its place.
    pub fn extremes(&self) -> Option<[(f64, f64); 2]> {
        let number = |look: &Look| {
            let value = match &look.found {
                Seen::Value(cell) => cell.number()?,
                Seen::Failed(_) => return None,
                Seen::People(counted) => Some(counted.outcomes.share()).filter(|s| s.of > 0)?.estimate,
            };
            Some((look.x, value))
        };
        let all: Vec<(f64, f64)> = self.0.iter().filter_map(number).collect();
        let by_value = |a: &&(f64, f64), b: &&(f64, f64)| a.1.total_cmp(&b.1);
        Some([*all.iter().min_by(by_value)?, *all.iter().max_by(by_value)?])
    }

    /// Runs in all.
    pub fn runs(&self) -> u64 {
        self.sum(|_| true, Counted::units)
    }

    /// Runs that failed.
    pub fn failed(&self) -> u64 {
        self.sum(|s| matches!(s, Seen::Failed(_)), |c| c.failed)
    }

    /// Runs that cannot be judged for want of a value.
    pub fn missing(&self) -> u64 {
        self.sum(|s| matches!(s, Seen::Value(Cell::Missing)), |c| c.outcomes.not_judged)
    }

    /// The first reasons of failure, each once.
    pub fn reasons(&self) -> Vec<String> {
        let reason = |look: &Look| match &look.found {
            Seen::Failed(error) => Some(error.to_string().split_whitespace().collect::<Vec<_>>().join(" ")),
            Seen::People(counted) => counted.reason.clone(),
            Seen::Value(_) => None,
        };
        let mut all: Vec<String> = Vec::new();
        for reason in self.0.iter().filter_map(reason) {
            if all.len() < REASONS && !all.contains(&reason) {
                all.push(reason);
            }
        }
        all
    }

    /// A search of which every run failed has no answer.
    ///
    /// # Errors
    /// The failure of the one run nearest to LOW; of populations [`Problem::Stopped`].
    pub fn require_runs(&self) -> Result<(), Problem> {
        if self.failed() < self.runs() {
            return Ok(());
        }
        match self.0.first().map(|look| &look.found) {
            Some(Seen::Failed(error)) => Err(error.clone().into()),
            _ => {
                let reasons: Vec<String> = self.reasons().iter().map(|r| shown_long(r)).collect();
                Err(Problem::Stopped(format!("all {} runs failed\n  {}", self.runs(), reasons.join("\n  "))))
            }
        }
    }

    /// The words that were seen.
    pub fn words(&self) -> impl Iterator<Item = &str> {
        self.0.iter().filter_map(|look| match &look.found {
            Seen::Value(Cell::Text(word)) => Some(word.as_str()),
            _ => None,
        })
    }

    /// The places.
    pub fn all(&self) -> &[Look] {
        &self.0
    }

    /// What could not be judged, in words: none, or one line each.
    pub fn not_judged(&self) -> Vec<String> {
        let (runs, failed, missing) = (self.runs(), self.failed(), self.missing());
        let of_people = self.0.iter().any(|look| matches!(look.found, Seen::People(_)));
        let mut all = Vec::new();
        if failed > 0 {
            let which = if of_people { "they are in no share" } else { "nothing is said of their places" };
            all.push(format!("{failed} of {runs} runs failed; {which}"));
            all.extend(self.reasons().iter().map(|r| shown_long(r)));
        }
        if missing > 0 {
            let which = if of_people { "they are in no share" } else { "nothing is said of their places" };
            all.push(format!("{missing} of {runs} runs have no such value (null) and cannot be judged; {which}"));
        }
        all
    }

    /// Every place as a row, SI.
    ///
    /// # Errors
    /// [`Problem::Encode`].
    pub fn table(&self, range: &Range, key: &str) -> Result<Vec<u8>, Problem> {
        let encode = |e: csv::Error| Problem::Encode(e.to_string());
        let mut writer = csv::Writer::from_writer(Vec::new());
        let path = Column { path: range.path.to_owned(), kind: Some(range.kind) }.head();
        let of_people = self.0.iter().any(|look| matches!(look.found, Seen::People(_)));
        match of_people {
            true => writer.write_record([path.as_str(), "holds", key, "low", "high", "units", "failed", "missing"]),
            false => writer.write_record([path.as_str(), "holds", key, "failed"]),
        }
        .map_err(encode)?;
        for look in &self.0 {
            let number = |v: f64| Cell::Number(v).text();
            let holds = match look.judged {
                Judged::Holds => "true",
                Judged::DoesNot => "false",
                Judged::Unknown => "",
            };
            let mut row = vec![number(look.x), holds.to_owned()];
            match &look.found {
                Seen::Value(cell) => row.extend([cell.text(), String::new()]),
                Seen::Failed(error) => {
                    row.extend([String::new(), error.to_string().split_whitespace().collect::<Vec<_>>().join(" ")]);
                }
                Seen::People(counted) => {
                    let share = counted.outcomes.share();
                    let estimate = if share.of > 0 { number(share.estimate) } else { String::new() };
                    row.extend([estimate, number(share.low), number(share.high)]);
                    row.extend([counted.units(), counted.failed, counted.outcomes.not_judged].map(|n| n.to_string()));
                }
            }
            writer.write_record(&row).map_err(encode)?;
        }
        writer.into_inner().map_err(|e| Problem::Encode(e.to_string()))
    }
}
