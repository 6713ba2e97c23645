//! What a population came to, in words and as a document.

use super::population;
use super::population_charts::Ranking;
use super::report::Said;
use crate::cli::frame::Notice;
use crate::cli::problem::Problem;
use crate::cli::text::{Rows, wrapped};
use crate::study::Outcomes;
use crate::study::analysis::Analysis;
use crate::study::statistics::Share;
use crate::units::{Kind, System, format};
use serde_json::{Value as Json, json};
use std::path::PathBuf;

/// A finished study of a population with what is needed to tell of it.
pub(super) struct Told<'a> {
    pub said: &'a Said<'a>,
    pub all: &'a population::Prepared,
    pub analysis: &'a Analysis,
    pub ranking: Option<Ranking>,
    pub notices: Vec<Notice>,
    pub system: System,
}

/// "97.3 % (96.1 to 98.2 %)".
pub(super) fn percent(s: &Share) -> String {
    let p = |x: f64| format!("{:.1}", 100.0 * x);
    format!("{} % ({} to {} %)", p(s.estimate), p(s.low), p(s.high))
}

/// "97.3 % (96.1 to 98.2 %) of the 1000 units judged: 973 met, 27 not".
pub(super) fn outcomes(all: &Outcomes) -> String {
    let Outcomes { met, not_met, not_judged } = all;
    let open = if *not_judged > 0 { format!("; {not_judged} could not be judged") } else { String::new() };
    match all.share() {
        Share { of: 0, .. } => format!("no unit judged{open}"),
        share => format!("{} of the {} units judged: {met} met, {not_met} not{open}", percent(&share), share.of),
    }
}

impl<'a> Told<'a> {
    pub fn new(said: &'a Said<'a>, all: &'a population::Prepared, analysis: &'a Analysis, system: System) -> Told<'a> {
        let ranking = Ranking::new(&all.plan, analysis);
        let mut told = Told { said, all, analysis, ranking, notices: Vec::new(), system };
        if let Some(words) = told.cut() {
            told.notices.push(("population-cut", format!("{words}; give the spread ends that the field takes")));
        }
        if let Some(words) = told.not_judged() {
            told.notices.push(("missing-values", words));
        }
        let unseen = all.conditions.iter().filter_map(|c| said.summary.word_not_seen(c));
        told.notices.extend(unseen.map(|words| ("word-not-seen", words)));
        if let Some(words) = told.ranking.as_ref().and_then(Ranking::doubt) {
            told.notices.push(("variance-shares-uncertain", words));
        }
        told
    }

    /// That units failed, and what that makes of the figures.
    fn cut(&self) -> Option<String> {
        let Analysis { failed, units, .. } = self.analysis;
        (*failed > 0)
            .then(|| format!("{failed} of {units} units failed and are in no share: the population is cut there"))
    }

    /// That units lack a value, and what that makes of the shares.
    fn not_judged(&self) -> Option<String> {
        let units = self.analysis.units;
        let open = |what: &str, all: &Outcomes| {
            (all.not_judged > 0)
                .then(|| format!("whether they {what} cannot be judged in {} of {units} units", all.not_judged))
        };
        let parts = [
            open("pass", &self.analysis.pass_rate),
            self.analysis.spill_probability.as_ref().and_then(|s| open("spill", s)),
        ];
        let parts: Vec<String> = parts.into_iter().flatten().collect();
        (!parts.is_empty()).then(|| format!("{} for want of a value (null); these are in no share", parts.join(", ")))
    }

    /// What is in no figure, for a chart.
    pub fn left_out(&self) -> Option<String> {
        let all: Vec<String> = [self.cut(), self.not_judged()].into_iter().flatten().collect();
        (!all.is_empty()).then(|| all.join("; "))
    }

    pub fn headline(&self) -> String {
        let a = self.analysis;
        let pass = match (a.pass_rate.share(), a.pass_rate.not_judged) {
            (Share { of: 0, .. }, open) => format!("Whether units pass cannot be judged in any of {open}"),
            (share, 0) => format!("{} of {} units pass", percent(&share), share.of),
            (share, open) => {
                format!(
                    "{} of the {} units that can be judged pass, {open} cannot be judged",
                    percent(&share),
                    share.of
                )
            }
        };
        let spill = a.spill_probability.map(|s| s.share()).filter(|s| s.of > 0);
        pass + &spill.map_or(String::new(), |s| format!("; {} spill", percent(&s)))
    }

    pub fn text(&self, written: &[PathBuf], columns: usize) -> Result<String, Problem> {
        let a = self.analysis;
        let mut out = wrapped(&self.headline(), columns, 0, 0);
        out.push('\n');
        let mut rows = Rows::default();
        rows.add("assembly", self.said.assembly()?);
        rows.add("population", self.all.words(self.system));
        rows.add("sample", self.all.sample_words());
        out.push_str(&rows.laid_out("Conditions", columns));
        out.push('\n');
        let mut rows = Rows::default();
        rows.add("pass all", outcomes(&a.pass_rate));
        for (condition, o) in self.all.conditions.iter().zip(&a.conditions) {
            rows.add(&condition.text, outcomes(o));
        }
        if let Some(o) = &a.spill_probability {
            let limit = format(Kind::Volume, crate::bench::FIRST_VOLUME, self.system);
            rows.add(&format!("spill over {limit}"), outcomes(o));
        }
        if let Some(words) = self.cut() {
            rows.add("failed units", words);
        }
        if self.said.summary.failed > 0 {
            rows.add("failed runs", format!("{} of {}", self.said.summary.failed, self.said.summary.runs));
            self.said.summary.add_reasons(&mut rows);
        }
        out.push_str(&rows.laid_out("Shares of the units that can be judged, with 95 % intervals", columns));
        out.push('\n');
        let mut rows = Rows::default();
        for q in &a.quantities {
            let show = |v: f64| format(crate::study::kind_of(&q.key), v, self.system);
            let at = |i: usize| q.quantiles.get(i).copied().map_or_else(String::new, show);
            rows.add(
                &q.key,
                format!(
                    "{} in the middle; 90 % between {} and {}; all between {} and {}",
                    at(3),
                    at(1),
                    at(5),
                    show(q.least),
                    show(q.greatest)
                ),
            );
        }
        out.push_str(&rows.laid_out("Recorded (pressures gauge)", columns));
        out.push_str(&self.shares(columns));
        out.push_str(&self.said.end(written, columns));
        Ok(out)
    }

    /// Variance shares of the first output that varies.
    fn shares(&self, columns: usize) -> String {
        let Some(ranking) = &self.ranking else { return String::new() };
        let mut rows = Rows::default();
        let show = |e: &crate::study::statistics::Estimate| match e.half_width.is_finite() {
            true => format!("{:.3} +- {:.3}", e.mean, e.half_width),
            false => format!("{:.3}", e.mean),
        };
        for (name, index) in &ranking.inputs {
            rows.add(name, format!("total {}, by itself {}", show(&index.total), show(&index.first)));
        }
        if let Some(words) = ranking.left_out() {
            rows.add("", words);
        }
        let heading = format!("Shares in the variance of {} (1 = all of it)", ranking.key);
        format!("\n{}", rows.laid_out(&heading, columns))
    }

    pub fn document(&self, heads: &[String], file: Option<&PathBuf>, rows: Vec<Json>) -> Json {
        let a = self.analysis;
        let names = crate::study::analysis::inputs(&self.all.plan);
        let mut document = self.said.document("tolerance", self.all.axes(), heads);
        let sensitivity: Vec<Json> = a
            .sensitivity
            .iter()
            .map(|s| {
                let input = |(name, i): (&String, &crate::study::sensitivity::Indices)| json!({"path": name, "first": i.first, "total": i.total});
                let inputs: Option<Vec<Json>> = s.inputs.as_ref().map(|list| names.iter().zip(list).map(input).collect());
                json!({"key": s.key, "inputs": inputs, "dropped": s.dropped})
            })
            .collect();
        let conditions: Vec<Json> = self
            .all
            .conditions
            .iter()
            .zip(&a.conditions)
            .map(|(c, s)| json!({"condition": c.text, "share": s}))
            .collect();
        if let Some(Json::Array(warnings)) = document.get_mut("warnings") {
            warnings.extend(self.notices.iter().map(|(id, _)| json!(id)));
        }
        if let Json::Object(map) = &mut document {
            match file {
                Some(file) => map.insert("file".to_owned(), json!(file.display().to_string())),
                None => map.insert("rows".to_owned(), Json::Array(rows)),
            };
            for (key, value) in [
                ("seed", json!(self.all.seed)),
                ("sample", json!(self.all.sample_words())),
                ("units", json!(a.units)),
                ("units_failed", json!(a.failed)),
                ("shares_of", json!("units-judged")),
                ("pass_rate", json!(a.pass_rate)),
                ("conditions", json!(conditions)),
                ("spill_probability", json!(a.spill_probability)),
                ("quantile_shares", json!(crate::study::analysis::QUANTILES)),
                ("quantities", json!(a.quantities)),
                ("sensitivity", json!(sensitivity)),
                ("notes", json!(self.all.notices)),
            ] {
                map.insert(key.to_owned(), value);
            }
        }
        document
    }
}
