//! What `find` found, in words and as a document.

use super::find::{Answer, FindArgs};
use super::population_report::outcomes;
use super::report;
use crate::cli::caution::Caution;
use crate::cli::problem::Problem;
use crate::cli::text::{Rows, end, files_written, wrapped};
use crate::error::shown;
use crate::study::find::{Change, Found};
use crate::study::{Judged, Range, Until, kind_of};
use crate::units::{Kind, System, format, to_display, unit_symbol};
use serde_json::{Value as Json, json};

/// Stretches that the headline tells.
const STRETCHES: usize = 3;

/// What was found, ready to be told.
pub(super) struct Told<'a> {
    pub args: &'a FindArgs,
    pub range: Range,
    pub answer: Answer,
}

impl Told<'_> {
    pub fn system(&self) -> System {
        self.args.common.units.into()
    }

    fn found(&self) -> &Found {
        &self.answer.found
    }

    /// Decimals that tell the ends of the narrowest bracket apart.
    fn decimals(&self) -> usize {
        let Range { kind, low, high, .. } = self.range;
        let width = |a: f64, b: f64| (to_display(kind, a, self.system()) - to_display(kind, b, self.system())).abs();
        let brackets = self.found().changes.iter().map(|c| width(c.after, c.before)).filter(|w| *w > 0.0);
        let narrowest = brackets.fold(1e-4 * width(high, low), f64::min);
        if kind == Kind::Count { 0 } else { (-narrowest.log10()).ceil().clamp(0.0, 15.0) as usize }
    }

    fn with_unit(&self, text: &str) -> String {
        let unit = unit_symbol(self.range.kind, self.system());
        if unit.is_empty() { text.to_owned() } else { format!("{text} {unit}") }
    }

    fn number(&self, si: f64) -> String {
        format!("{:.*}", self.decimals(), to_display(self.range.kind, si, self.system()))
    }

    fn show(&self, si: f64) -> String {
        self.with_unit(&self.number(si))
    }

    /// LOW or HIGH, which were given and not found.
    fn given(&self, si: f64) -> String {
        let text = self.number(si);
        self.with_unit(if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text })
    }

    /// "from 1 psi to 3 psi".
    fn span(&self) -> String {
        format!("from {} to {}", self.given(self.range.low), self.given(self.range.high))
    }

    fn stretches(&self) -> Vec<[f64; 2]> {
        self.found().stretches(self.range.low, self.range.high)
    }

    /// The end of where the condition holds that is nearest to LOW; LOW if it holds everywhere.
    fn value(&self) -> Option<f64> {
        self.found().edge().map(|(x, _)| x).or_else(|| self.stretches().first().map(|s| s[0]))
    }

    fn value_is(&self) -> Option<&'static str> {
        self.value()?;
        Some(match (self.found().edge().is_some(), self.found().at_low) {
            (false, _) => "everywhere",
            (true, Judged::Holds) => "last",
            (true, _) => "first",
        })
    }

    /// What is certain of the answer: the bracket, or what the sample leaves open.
    fn interval(&self) -> Option<[Option<f64>; 2]> {
        match self.answer.open {
            Some([None, None]) => None,
            Some(open) => Some(open),
            None => self.found().edge().map(|(_, c)| [Some(c.before), Some(c.after)]),
        }
    }

    /// Units at the answer whose run failed.
    fn failed_there(&self) -> u64 {
        self.answer.there.as_ref().map_or(0, |counted| counted.failed)
    }

    /// Hash of all that decides the answer.
    pub fn identity(&self) -> String {
        let a = &self.answer;
        crate::study::sha256(&json!({
            "poppetry": env!("CARGO_PKG_VERSION"),
            "settings": serde_json::from_str::<Json>(&a.base.canonical_json()).unwrap_or(Json::Null),
            "find": [self.range.path, self.range.low, self.range.high],
            "asked": a.asked,
        }))
    }

    pub fn headline(&self) -> String {
        let condition = shown(self.args.so_that.trim());
        let found = self.found();
        let stretches = self.stretches();
        let unknown = |j: Judged| j == Judged::Unknown;
        let partly = unknown(found.at_low) || found.changes.iter().any(|c| unknown(c.to));
        if stretches.is_empty() && found.changes.is_empty() && partly {
            return format!("Whether {condition} holds cannot be judged anywhere {}", self.span());
        }
        if stretches.is_empty() {
            let where_known = if partly { ", as far as it can be judged" } else { "" };
            return format!("Nowhere {} does {condition} hold{where_known}", self.span());
        }
        if found.changes.is_empty() {
            return format!("Everywhere {} does {condition} hold", self.span());
        }
        let towards = if self.range.high > self.range.low { "up to" } else { "down to" };
        let last = stretches.len() - 1;
        let one = |(i, [a, b]): (usize, &[f64; 2])| {
            let path = if i == 0 { format!("{} = ", self.range.path) } else { String::new() };
            match (i == 0 && found.at_low == Judged::Holds, i == last && found.at_high == Judged::Holds) {
                (true, _) => format!("{towards} {path}{}", self.show(*b)),
                (false, true) => format!("from {path}{} on", self.show(*a)),
                (false, false) => format!("from {path}{} to {}", self.show(*a), self.show(*b)),
            }
        };
        let mut parts: Vec<String> = stretches.iter().enumerate().take(STRETCHES).map(one).collect();
        if stretches.len() > STRETCHES {
            parts.push(format!("on {} more stretches", stretches.len() - STRETCHES));
        }
        let end = parts.pop().unwrap_or_default();
        let list = if parts.is_empty() { end } else { format!("{} and {end}", parts.join(", ")) };
        format!("{condition} holds {list}")
    }

    /// A number that was seen: a share, or a value of the key.
    fn seen(&self, value: f64) -> String {
        match self.answer.open {
            Some(_) => format!("{:.1} %", 100.0 * value),
            None => format(kind_of(&self.answer.key), value, self.system()),
        }
    }

    /// A change in words.
    fn change(&self, c: &Change) -> String {
        match (c.from, c.to) {
            (_, Judged::Holds) => format!("begins at {}", self.show(c.after)),
            (Judged::Holds, Judged::Unknown) => format!("cannot be judged beyond {}", self.show(c.before)),
            (Judged::Holds, _) => format!("ceases at {}", self.show(c.before)),
            (_, Judged::Unknown) => format!("cannot be judged from {} on", self.show(c.after)),
            _ => format!("can be judged from {} on", self.show(c.after)),
        }
    }

    pub fn text(&self, columns: usize) -> Result<String, Problem> {
        let mut out = wrapped(&self.headline(), columns, 0, 0);
        out.push('\n');
        let mut rows = Rows::default();
        let a = &self.answer;
        let size = a.base.choice("size")?;
        rows.add("assembly", format!("{}, {size}", a.base.assembly()));
        rows.add("looked at", format!("{} {}", self.range.path, self.span()));
        if let Some(sample) = &a.sample {
            rows.add("sample", sample.clone());
        }
        if a.study.until != Until::Rest {
            rows.add("each run", report::how_far(a.study.until));
        }
        if let Some([low, high]) = self.interval() {
            let end = |v: Option<f64>| v.map_or_else(|| "beyond the range".to_owned(), |v| self.show(v));
            let what = if a.open.is_some() { "95 % interval" } else { "lies between" };
            rows.add(what, format!("{} and {}", end(low), end(high)));
        }
        if let Some(counted) = &a.there {
            let cut = match counted.failed {
                0 => String::new(),
                n => format!("; {n} failed there and are in no share"),
            };
            rows.add("share there", format!("{}{cut}", outcomes(&counted.outcomes)));
        }
        if !a.found.changes.is_empty() {
            rows.add("changes", a.found.changes.iter().map(|c| self.change(c)).collect::<Vec<_>>().join(", "));
        }
        if let Some(extremes) = a.looked.extremes() {
            let [low, high] = extremes.map(|(x, value)| format!("{} at {}", self.seen(value), self.show(x)));
            rows.add("seen", format!("lowest {low}, highest {high}"));
        }
        rows.add("runs", a.looked.runs().to_string());
        for (i, words) in a.looked.not_judged().into_iter().enumerate() {
            rows.add(if i == 0 { "not judged" } else { "" }, words);
        }
        if let Some(words) = &a.not_seen {
            rows.add("not seen", words.clone());
        }
        out.push_str(&rows.laid_out("Result", columns));
        if a.study.outputs.iter().any(|o| o.name() == "sequence.order") {
            out.push_str(&wrapped(
                &report::order_rule(a.study.until, a.looked.words().any(|w| w.contains("never")), self.system()),
                columns,
                2,
                2,
            ));
        }
        out.push_str(&report::notes(&a.study, columns));
        out.push_str(&files_written(&a.outputs.paths));
        out.push_str(&end(&[], &super::cautions(&a.study.outputs), columns));
        Ok(out)
    }

    pub fn document(&self) -> Json {
        let a = &self.answer;
        let interval = self.interval().map(|[low, high]| json!([low, high]));
        let mut warnings = Vec::new();
        if a.looked.failed() > 0 {
            warnings.push("failed-runs");
        }
        if self.failed_there() > 0 {
            warnings.push("population-cut");
        }
        if a.looked.missing() > 0 {
            warnings.push("missing-values");
        }
        if a.not_seen.is_some() {
            warnings.push("word-not-seen");
        }
        json!({
            "schema": "poppetry/find/1",
            "assembly": a.base.assembly(),
            "inputs_sha256": self.identity(),
            "path": self.range.path,
            "unit": crate::study::si_symbol(self.range.kind),
            "low": self.range.low,
            "high": self.range.high,
            "so_that": self.args.so_that,
            "until": a.study.until.word(),
            "leaves_open": a.study.until.leaves_open(),
            "asked_as": report::asked_as(&a.study),
            "value": self.value(),
            "value_is": self.value_is(),
            "interval": interval,
            "interval_is": if a.open.is_some() { "confidence-95" } else { "bracket" },
            "share": a.there.as_ref().map(|counted| counted.outcomes),
            "holds": self.stretches(),
            "holds_at_low": a.found.at_low == Judged::Holds,
            "holds_at_high": a.found.at_high == Judged::Holds,
            "at_low": a.found.at_low,
            "at_high": a.found.at_high,
            "changes": a.found.changes,
            "seen": a.looked.extremes().map(|ends| ends.map(|(at, value)| json!({"at": at, "value": value}))),
            "runs": a.looked.runs(),
            "failed": a.looked.failed(),
            "missing": a.looked.missing(),
            "failures": a.looked.reasons(),
            "file": a.outputs.table().map(|path| path.display().to_string()),
            "seed": self.args.common.seed(),
            "warnings": warnings,
            "cautions": Caution::ids(&super::cautions(&a.study.outputs)),
        })
    }
}
