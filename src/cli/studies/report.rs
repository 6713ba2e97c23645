//! Studies in words and as documents.

use super::args::Common;
use super::boundaries::{self, Boundary, apart, within};
use super::summary::Summary;
use crate::bench::FIRST_VOLUME;
use crate::charts::Page;
use crate::cli::caution::Caution;
use crate::cli::frame::shown_names;
use crate::cli::problem::Problem;
use crate::cli::text::{Rows, end, files_written, wrapped};
use crate::error::{Error, shown};
use crate::study::{Column, Outcome, Study, Timing, Until};
use crate::units::{Kind, System, format};
use serde_json::{Value as Json, json};
use std::collections::BTreeMap;
use std::path::PathBuf;

/// Warnings about a study, in words.
pub(super) fn warnings(summary: &Summary) -> Vec<String> {
    let mut all = Vec::new();
    if summary.failed > 0 {
        all.push(format!("{} of {} runs failed; each row says why", summary.failed, summary.runs));
    }
    all
}

/// Time in words.
pub(super) fn timing(t: &Timing) -> String {
    // Of fewer than a hundred runs a hundredth is no run.
    let slowest = match t.runs >= 100 {
        true => format!("; the slowest hundredth took {:.0} % of it", 100.0 * t.slowest_1_percent_share),
        false => String::new(),
    };
    format!(
        "{} runs in {}, {:.0} a second on {} threads, busy {:.0} % of the time{slowest}",
        t.runs,
        format(Kind::Time, t.wall_s, System::Si),
        t.runs_per_s,
        t.threads,
        100.0 * t.busy_share,
    )
}

/// How far each run goes, in words.
pub(super) fn how_far(until: Until) -> &'static str {
    match until {
        Until::Rest => "to its end",
        Until::CheckClosed => "to the check's first closing",
        Until::OrderKnown => "until the order is known",
    }
}

/// What the words of an order mean, wherever one is told; `never`: whether one of them says so.
pub(super) fn order_rule(until: Until, never: bool, system: System) -> String {
    let first = format!(
        "Rule: \"check-first\" means that the check has passed more than {} before the air inlet is first closed",
        format(Kind::Volume, FIRST_VOLUME, system)
    );
    let open = until.leaves_open().map_or(String::new(), |words| format!("; {words}"));
    let never = match never {
        true => {
            " \"Never\" means not before the run's end: for good where sequence.stop is \"settled\", not yet where it is \
             \"end-time\"."
        }
        false => "",
    };
    format!("{first}{open}.{never}")
}

/// The commands that a study asks otherwise than they run by themselves, and how.
pub(super) fn asked_as(study: &Study) -> BTreeMap<&'static str, &'static str> {
    study.outputs.iter().filter_map(|o| Some((o.question.command(), o.question.asked_as()?))).collect()
}

/// [`asked_as`] in words.
pub(super) fn notes(study: &Study, columns: usize) -> String {
    let note = |(command, words): (&str, &str)| {
        format!("\n{}", wrapped(&format!("Asked of {command}: {words}."), columns, 0, 2))
    };
    asked_as(study).into_iter().map(note).collect()
}

/// Conditions that all runs of a study share, from its settings.
pub(super) fn conditions(
    number: &dyn Fn(&str) -> Option<f64>,
    varied: &[Column],
    until: Until,
    system: System,
) -> String {
    let mut parts = Vec::new();
    for (words, kind, path) in [
        ("supply", Kind::GaugePressure, "supply.pressure"),
        ("shutoff 1 opens in", Kind::Time, "shutoff1.opening_time"),
    ] {
        if let Some(value) = number(path).filter(|_| !varied.iter().any(|c| c.path == path)) {
            parts.push(format!("{words} {}", format(kind, value, system)));
        }
    }
    parts.push(format!("each run {}", how_far(until)));
    parts.join(", ")
}

/// What stands at the foot of a chart.
pub(super) fn foot(assembly: &str, identity: &str) -> Vec<String> {
    let short: String = identity.chars().take(8).collect();
    vec![
        format!("Assembly {assembly} · poppetry {} · inputs {short}", env!("CARGO_PKG_VERSION")),
        Caution::short().to_owned(),
    ]
}

/// What is said round a chart of a study.
pub(super) struct Around<'a> {
    pub summary: &'a Summary,
    pub system: System,
    /// What the second axis is.
    pub second: Kind,
    pub conditions: String,
    pub assembly: String,
    pub identity: &'a str,
}

impl Around<'_> {
    /// Words round a chart that shows so many of the runs, and these boundaries.
    pub fn page(&self, boundaries: &[Boundary], runs: u64) -> Page {
        let mut title = self.summary.headline(self.system);
        let mut middles: Vec<f64> = boundaries.iter().filter_map(|b| b.distance).map(|[_, middle, _]| middle).collect();
        middles.sort_by(f64::total_cmp);
        let within = within(boundaries);
        let show = |v: f64| apart(self.second, v, within, self.system);
        if let (Some(low), Some(high)) = (middles.first(), middles.last()) {
            let span =
                |a: f64, b: f64| if show(a) == show(b) { show(a) } else { format!("{} to {}", show(a), show(b)) };
            title = match (*low >= 0.0, *high <= 0.0) {
                (true, _) => format!("The order turns {} above the static boundary", span(*low, *high)),
                (_, true) => format!("The order turns {} below the static boundary", span(-*high, -*low)),
                _ => format!("The order turns from {} below to {} above the static boundary", show(-*low), show(*high)),
            };
        }
        let mut parts = Vec::new();
        if !boundaries.is_empty() {
            let of = if runs < self.summary.runs { format!(" of {}", self.summary.runs) } else { String::new() };
            parts.push(format!("{runs}{of} runs, the turn within {}", show(within)));
        }
        parts.push(self.conditions.clone());
        Page { title, subtitle: parts.join("; "), foot: foot(&self.assembly, self.identity) }
    }
}

/// A finished study with what is needed to tell of it.
pub(super) struct Said<'a> {
    pub study: &'a Study,
    pub summary: &'a Summary,
    pub outcome: &'a Outcome,
    pub args: &'a Common,
    pub identity: &'a str,
}

impl Said<'_> {
    fn system(&self) -> System {
        self.args.units.into()
    }

    /// Assembly, size and where they come from.
    pub fn assembly(&self) -> Result<String, Error> {
        let (name, size) = (self.study.base.assembly(), self.study.base.choice("size")?);
        let files = shown_names(&self.args.files);
        let sets: Vec<String> = self.args.set.iter().chain(&self.args.fault).map(|s| shown(s)).collect();
        let from = if files.is_empty() {
            "built in (invented, generic)".to_owned()
        } else {
            format!("from {}", files.join(", "))
        };
        let set = if sets.is_empty() { String::new() } else { format!("; {}", sets.join(", ")) };
        Ok(format!("{name}, {size}, {from}{set}"))
    }

    /// What was varied, from the plan's own description.
    pub fn varied(&self, plan: &Json) -> String {
        let Some(axes) = plan.get("axes").and_then(Json::as_array) else {
            return format!("{} rows of a table", self.study.plan.len());
        };
        let show = |axis: &Json| {
            let path = axis.get("path").and_then(Json::as_str).unwrap_or("");
            let kind = self.study.plan.columns().iter().find(|c| c.path == path).and_then(|c| c.kind);
            let value = |key| {
                let si = axis.get(key).and_then(Json::as_f64).unwrap_or(f64::NAN);
                format(kind.unwrap_or(Kind::Number), si, self.system())
            };
            let log = if axis.get("log") == Some(&Json::Bool(true)) { ", even by ratio" } else { "" };
            let count = axis.get("count").and_then(Json::as_u64).unwrap_or(0);
            if count == 1 {
                return format!("{path} {}", value("low"));
            }
            format!("{path} from {} to {} in {count} values{log}", value("low"), value("high"))
        };
        axes.iter().map(show).collect::<Vec<_>>().join("; ")
    }

    /// Conditions that all runs share.
    fn conditions(&self) -> String {
        let number = |path: &str| self.study.base.number(path).ok();
        conditions(&number, self.study.plan.columns(), self.study.until, self.system())
    }

    /// Words round a chart of all runs.
    pub fn page(&self, boundaries: &[Boundary]) -> Result<Page, Error> {
        self.page_of(boundaries, self.summary.runs)
    }

    /// Words round a chart that shows so many of the runs.
    pub fn page_of(&self, boundaries: &[Boundary], runs: u64) -> Result<Page, Error> {
        let around = Around {
            summary: self.summary,
            system: self.system(),
            second: self.second_kind(),
            conditions: self.conditions(),
            assembly: self.assembly()?,
            identity: self.identity,
        };
        Ok(around.page(boundaries, runs))
    }

    fn records_order(&self) -> bool {
        self.study.outputs.iter().any(|o| o.name() == "sequence.order")
    }

    /// The report of a sweep.
    pub fn sweep(
        &self,
        plan: &Json,
        boundaries: &[Boundary],
        written: &[PathBuf],
        columns: usize,
    ) -> Result<String, Problem> {
        let mut out = wrapped(&self.summary.headline(self.system()), columns, 0, 0);
        out.push('\n');
        let mut rows = Rows::default();
        rows.add("assembly", self.assembly()?);
        rows.add("varied", self.varied(plan));
        rows.add("all runs", self.conditions());
        out.push_str(&rows.laid_out("Conditions", columns));
        out.push('\n');
        out.push_str(&self.summary.rows(self.system()).laid_out("Recorded (pressures gauge)", columns));
        if self.records_order() {
            out.push_str(&wrapped(
                &order_rule(self.study.until, self.summary.says("never"), self.system()),
                columns,
                2,
                2,
            ));
        }
        if !boundaries.is_empty() {
            out.push('\n');
            let kind = self.second_kind();
            let within = within(boundaries);
            let head = format!(
                "Boundary of the order above the static one (margin 0), within {}, half a step",
                apart(kind, within, within, self.system())
            );
            out.push_str(&boundaries::rows(boundaries, kind, self.system()).laid_out(&head, columns));
        }
        out.push_str(&self.end(written, columns));
        Ok(out)
    }

    /// What the second axis is.
    fn second_kind(&self) -> Kind {
        self.study.plan.columns().get(1).and_then(|c| c.kind).unwrap_or(Kind::Number)
    }

    /// Files, time and cautions, at the end of every report.
    pub fn end(&self, written: &[PathBuf], columns: usize) -> String {
        let mut out = notes(self.study, columns);
        out.push_str(&files_written(written));
        let time = match self.outcome.done {
            0 => format!("Nothing was left to do: all {} runs were there.", self.summary.runs),
            _ => format!("Time: {}.", timing(&self.outcome.timing)),
        };
        out.push_str(&format!("\n{}", wrapped(&time, columns, 0, 6)));
        out.push_str(&end(&[], &super::cautions(&self.study.outputs), columns));
        out
    }

    /// What every study's document begins with.
    pub fn document(&self, command: &str, axes: Json, heads: &[String]) -> Json {
        let mut ids: Vec<&str> = Vec::new();
        if self.summary.failed > 0 {
            ids.push("failed-runs");
        }
        json!({
            "schema": format!("poppetry/{command}/1"),
            "assembly": self.study.base.assembly(),
            "inputs_sha256": self.identity,
            "axes": axes,
            "columns": heads,
            "runs": self.summary.runs,
            "failed": self.summary.failed,
            "failures": self.summary.failures(),
            "until": self.study.until.word(),
            "leaves_open": self.study.until.leaves_open(),
            "asked_as": asked_as(self.study),
            "order_rule_m3": self.records_order().then_some(FIRST_VOLUME),
            "timing": self.outcome.timing,
            "warnings": ids,
            "cautions": Caution::ids(&super::cautions(&self.study.outputs)),
        })
    }
}
