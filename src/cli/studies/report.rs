//! Studies in words and as documents.

use super::args::Common;
use super::grid::Boundary;
use super::summary::Summary;
use crate::bench::FIRST_VOLUME;
use crate::charts::Page;
use crate::cli::caution::Caution;
use crate::cli::frame::shown_names;
use crate::cli::problem::Problem;
use crate::cli::text::{Rows, end, files_written, wrapped};
use crate::error::{Error, shown};
use crate::study::{Column, Outcome, Study, Timing, Until};
use crate::units::{Kind, System, format, to_display, unit_symbol};
use serde_json::{Value as Json, json};
use std::collections::BTreeMap;
use std::path::PathBuf;

/// Panels whose boundaries are told one by one.
const PANELS: usize = 16;

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

/// How far any of the boundaries may be wrong.
fn within(boundaries: &[Boundary]) -> f64 {
    boundaries.iter().map(|b| b.within).fold(0.0, f64::max)
}

/// A difference with two figures of `within`, how far it may be wrong.
pub(super) fn apart(kind: Kind, v: f64, within: f64, system: System) -> String {
    let show = |v: f64| to_display(kind, v, system) - to_display(kind, 0.0, system);
    let decimals = (1.0 - show(within).abs().log10().floor()).clamp(0.0, 9.0) as usize;
    let text = format!("{:.decimals$}", show(v));
    match unit_symbol(kind, system) {
        "" => text,
        unit => format!("{text} {unit}"),
    }
}

pub(super) fn boundary_json(b: &Boundary) -> Json {
    json!({
        "panel": b.title,
        "static": b.at_rest,
        "dynamic": b.moving,
        "above_static": b.distance.map(|[low, middle, high]| json!({"low": low, "middle": middle, "high": high})),
        "within": b.within,
    })
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
        let short: String = self.identity.chars().take(8).collect();
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
        Page {
            title,
            subtitle: parts.join("; "),
            foot: vec![
                format!("Assembly {} · poppetry {} · inputs {short}", self.assembly, env!("CARGO_PKG_VERSION")),
                Caution::short().to_owned(),
            ],
        }
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

    /// What "first" means, wherever an order is told.
    fn order_rule(&self) -> String {
        format!(
            "\"check-first\" means that the check has passed more than {} before the air inlet is first closed",
            format(Kind::Volume, FIRST_VOLUME, self.system())
        )
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
            out.push_str(&wrapped(&format!("Rule: {}.", self.order_rule()), columns, 2, 2));
        }
        if !boundaries.is_empty() {
            out.push('\n');
            let kind = self.second_kind();
            let within = within(boundaries);
            let head = format!(
                "Boundary of the order above the static one (margin 0), within {}, half a step",
                apart(kind, within, within, self.system())
            );
            out.push_str(&self.boundary_rows(boundaries).laid_out(&head, columns));
        }
        out.push_str(&self.end(written, columns));
        Ok(out)
    }

    /// What the second axis is.
    fn second_kind(&self) -> Kind {
        self.study.plan.columns().get(1).and_then(|c| c.kind).unwrap_or(Kind::Number)
    }

    fn boundary_rows(&self, boundaries: &[Boundary]) -> Rows {
        let kind = self.second_kind();
        let mut rows = Rows::default();
        let more = boundaries.len().saturating_sub(PANELS);
        for b in boundaries.iter().take(PANELS) {
            let title = if b.title.is_empty() { "whole map" } else { &b.title };
            let show = |v: f64| {
                let text = apart(kind, v, b.within, self.system());
                if text.starts_with('-') { text } else { format!("+{text}") }
            };
            rows.add(
                title,
                match b.distance {
                    Some([low, middle, high]) => format!("{} (from {} to {})", show(middle), show(low), show(high)),
                    None => "the map shows not both".to_owned(),
                },
            );
        }
        if more > 0 {
            rows.add("", format!("{more} more; --json has all"));
        }
        rows
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
            "asked_as": asked_as(self.study),
            "order_rule_m3": self.records_order().then_some(FIRST_VOLUME),
            "timing": self.outcome.timing,
            "warnings": ids,
            "cautions": Caution::ids(&super::cautions(&self.study.outputs)),
        })
    }
}
