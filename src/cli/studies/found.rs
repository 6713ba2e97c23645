//! What `find` found, in words and as a document.

use super::find::FindArgs;
use super::tolerance::percent;
use crate::assembly::Settings;
use crate::cli::caution::Caution;
use crate::cli::problem::Problem;
use crate::cli::text::{Rows, end, wrapped};
use crate::error::shown;
use crate::study::find::Found;
use crate::study::statistics::Share;
use crate::study::{Output, Range};
use crate::units::{System, format, to_display, unit_symbol};
use serde_json::{Value as Json, json};

/// What was found, ready to be told.
pub(super) struct Told<'a> {
    pub args: &'a FindArgs,
    pub range: Range,
    pub base: &'a Settings,
    pub found: Found,
    /// Ends of what the sample leaves open; `None`: beyond HIGH.
    pub open: Option<[Option<f64>; 2]>,
    /// The share at the answer.
    pub share: Option<Share>,
    pub sample: Option<String>,
    pub runs: u64,
    /// What decides it beside settings and range.
    pub asked: Json,
    pub outputs: Vec<Output>,
}

impl Told<'_> {
    fn system(&self) -> System {
        self.args.common.units.into()
    }

    /// Four figures: the answer is known better than a reading.
    fn show(&self, si: f64) -> String {
        let unit = unit_symbol(self.range.kind, self.system());
        let text = format!("{:.4}", to_display(self.range.kind, si, self.system()));
        if unit.is_empty() { text } else { format!("{text} {unit}") }
    }

    fn value(&self) -> Option<f64> {
        self.found.first_holding(self.range.low)
    }

    /// What is certain of the answer: the bracket, or what the sample leaves open.
    fn interval(&self) -> Option<[Option<f64>; 2]> {
        match self.open {
            Some([None, None]) => None,
            Some(open) => Some(open),
            None => {
                let change = self.found.changes.iter().find(|c| c.begins).filter(|_| !self.found.holds_at_low)?;
                Some([Some(change.before), Some(change.after)])
            }
        }
    }

    /// Units at the answer that no share counts.
    fn failed_there(&self) -> u64 {
        self.share.map_or(0, |share| self.args.people.runs().saturating_sub(share.of))
    }

    fn headline(&self) -> String {
        let condition = shown(self.args.so_that.trim());
        let path = self.range.path;
        match self.value() {
            None => format!(
                "Nowhere from {} to {} does {condition} hold",
                self.show(self.range.low),
                self.show(self.range.high)
            ),
            Some(_) if self.found.holds_at_low && self.found.changes.is_empty() => {
                format!(
                    "Everywhere from {} to {} does {condition} hold",
                    self.show(self.range.low),
                    self.show(self.range.high)
                )
            }
            Some(_) if self.found.holds_at_low => {
                format!("{condition} holds at {path} = {} already", self.show(self.range.low))
            }
            Some(v) => format!("{condition} holds from {path} = {} on", self.show(v)),
        }
    }

    pub fn text(&self, columns: usize) -> Result<String, Problem> {
        let mut out = wrapped(&self.headline(), columns, 0, 0);
        out.push('\n');
        let mut rows = Rows::default();
        let size = self.base.choice("size")?;
        rows.add("assembly", format!("{}, {size}", self.base.assembly()));
        rows.add(
            "looked at",
            format!("{} from {} to {}", self.range.path, self.show(self.range.low), self.show(self.range.high)),
        );
        if let Some(sample) = &self.sample {
            rows.add("sample", sample.clone());
        }
        if let Some([low, high]) = self.interval() {
            let end = |v: Option<f64>| v.map_or_else(|| "beyond the range".to_owned(), |v| self.show(v));
            let what = if self.open.is_some() { "95 % interval" } else { "lies between" };
            rows.add(what, format!("{} and {}", end(low), end(high)));
        }
        if let Some(share) = &self.share {
            let cut = match self.failed_there() {
                0 => String::new(),
                n => format!("; {n} of {} units failed there and are in no share", share.of + n),
            };
            rows.add("share there", format!("{}{cut}", percent(share)));
        }
        if self.found.changes.len() > 1 {
            let one = |c: &crate::study::find::Change| {
                format!("{} {}", if c.begins { "begins at" } else { "ceases at" }, self.show(c.holding()))
            };
            rows.add("all changes", self.found.changes.iter().map(one).collect::<Vec<_>>().join(", "));
        }
        rows.add("runs", self.runs.to_string());
        out.push_str(&rows.laid_out("Result", columns));
        if self.args.so_that.contains("sequence.order") {
            let rule = format(crate::units::Kind::Volume, crate::bench::FIRST_VOLUME, self.system());
            out.push_str(&wrapped(&format!("Rule: \"check-first\" means that the check has passed more than {rule} before the air inlet is first closed."), columns, 2, 2));
        }
        out.push_str(&end(&[], &super::cautions(&self.outputs), columns));
        Ok(out)
    }

    pub fn document(&self) -> Json {
        let interval = self.interval().map(|[low, high]| json!([low, high]));
        let description = json!({
            "poppetry": env!("CARGO_PKG_VERSION"),
            "settings": serde_json::from_str::<Json>(&self.base.canonical_json()).unwrap_or(Json::Null),
            "find": [self.range.path, self.range.low, self.range.high],
            "asked": self.asked,
        });
        json!({
            "schema": "poppetry/find/1",
            "assembly": self.base.assembly(),
            "inputs_sha256": crate::study::sha256(&description),
            "path": self.range.path,
            "unit": crate::study::si_symbol(self.range.kind),
            "low": self.range.low,
            "high": self.range.high,
            "so_that": self.args.so_that,
            "value": self.value(),
            "interval": interval,
            "interval_is": if self.open.is_some() { "confidence-95" } else { "bracket" },
            "share": self.share,
            "holds_at_low": self.found.holds_at_low,
            "holds_at_high": self.found.holds_at_high,
            "changes": self.found.changes,
            "runs": self.runs,
            "seed": self.args.common.seed,
            "warnings": if self.failed_there() > 0 { vec!["population-cut"] } else { Vec::new() },
            "cautions": Caution::ids(&super::cautions(&self.outputs)),
        })
    }
}
