//! `tolerance`: a population instead of one unit: how many pass, how many spill, and which input decides.

use super::args::{Common, Kept, Long};
use super::population::{self, People};
use super::population_charts::{Ranking, sheet};
use super::report::Said;
use super::session::{self, Asked, Places};
use super::summary::Summary;
use crate::charts::encode_sheet;
use crate::cli::caution::Caution;
use crate::cli::frame::Notice;
use crate::cli::problem::Problem;
use crate::cli::text::{self, Rows, wrapped};
use crate::error::Error;
use crate::study::analysis::{Analysis, analyse};
use crate::study::statistics::Share;
use crate::study::{Condition, Header, Lines, Row, Shard, Study, sha256};
use crate::units::{Kind, System, format};
use clap::Args;
use serde_json::{Value as Json, json};
use std::io::Write;
use std::path::{Path, PathBuf};

/// Charts there are.
const CHARTS: [&str; 2] = ["histogram", "bars"];

/// `tolerance`.
#[derive(Debug, Args)]
#[command(after_help = "\
FILE is an assembly file with tables such as
  [spread.\"check.load\"]
  kind = \"normal\"            # normal, uniform, triangular, lognormal or sample
  sd = \"0.1 psi\"             # about the assembly's value unless a mean is given
  [[correlation]]
  between = [\"check.load\", \"air_inlet.load\"]
  coefficient = 0.5
  [ageing]
  years = 10
Without one the built-in population of svb-diaphragm is run. First the units are sampled, then the points for the variance
shares (first order and total); both stand in DIR/tolerance-ASSEMBLY.csv.

Ageing: load_factor falls by 2 % (an estimate) with every tenfold of the time in days; [ageing] check_relaxation and
air_inlet_relaxation change that.

Charts: histogram (of the first number kept), bars (of the variance shares: not with --base 0 or correlations)")]
pub(in crate::cli) struct ToleranceArgs {
    #[command(flatten)]
    pub people: People,
    /// Keep this value too, repeatable; the first number kept is drawn [default: the sequence margin]
    #[arg(long, value_name = "COMMAND.KEY")]
    pub record: Vec<String>,
    /// Base points of each replicate for the variance shares, best a power of two; 0: none
    #[arg(long, value_name = "N", default_value_t = 32, allow_negative_numbers = true)]
    pub base: u64,
    /// Replicates with a scrambling of their own, from which the intervals come
    #[arg(long, value_name = "N", default_value_t = 8, value_parser = clap::value_parser!(u64).range(1..))]
    pub replicates: u64,
    /// Join the parts that --shard wrote, with the same input as they had
    #[arg(long, value_name = "SHARD", num_args = 1.., conflicts_with_all = ["resume", "shard"])]
    pub merge: Vec<PathBuf>,
    #[command(flatten)]
    pub long: Long,
    #[command(flatten)]
    pub kept: Kept,
    #[command(flatten)]
    pub common: Common,
}

pub(in crate::cli) fn run(
    args: &ToleranceArgs,
    out: &mut dyn Write,
    err: &mut dyn Write,
    columns: usize,
) -> Result<(), Problem> {
    let system: System = args.common.units.into();
    let indices = (args.base > 0).then_some((args.base, args.replicates));
    let all = population::prepare(&args.people, &args.common, indices)?;
    let mut study = Study::new(all.base.clone(), all.plan.clone());
    study.until = args.common.until.unwrap_or_default();
    let recorded: Vec<&str> = match args.record.is_empty() {
        true => population::RECORDED.to_vec(),
        false => args.record.iter().map(String::as_str).collect(),
    };
    for key in recorded {
        study = study.record(key)?;
    }
    population::also(&mut study, &all.conditions);
    super::check_outputs(&study)?;

    let read = all.population.files.iter().chain(&args.merge).map(PathBuf::as_path);
    let asked = Asked { command: "tolerance", common: &args.common, kept: &args.kept, long: &args.long };
    let usual: &[&'static str] = if all.plan.scheme().is_some() { &CHARTS } else { &["histogram"] };
    let places = Places::new(&asked, &study, (&CHARTS, usual), read)?;
    let outcome = match args.merge.as_slice() {
        [] => session::carry_out(&study, &places, &args.common, args.long.resume)?,
        parts => session::join(&study, &places, parts)?,
    };

    let identity = identity(&study, &all.conditions);
    if let Some(shard) = args.long.shard {
        return text::print(out, &part(&study, &places, shard, &identity, args.common.json, columns)?);
    }
    let journal = places.journal().to_path_buf();
    let mut read = |each: &mut dyn FnMut(&Row)| -> Result<(), Error> {
        let mut lines = Lines::open(&journal)?;
        while let Some(row) = lines.next_row() {
            each(&row?);
        }
        Ok(())
    };
    let mut summary = Summary::new(&study.outputs);
    read(&mut |row| summary.add(row))?;
    let analysis = analyse(&study, &all.plan, &all.conditions, &mut read)?;
    let header = Lines::open(&journal)?.header;
    if analysis.pass_rate.of == 0 {
        return Err(none_ran(&summary, places.finish()?.as_deref()));
    }
    let said = Said { study: &study, summary: &summary, outcome: &outcome, args: &args.common, identity: &identity };
    let ranking = Ranking::new(&all.plan, &analysis);
    let notices = notices(&analysis, ranking.as_ref());
    let told = Told { said: &said, all: &all, analysis: &analysis, ranking, notices, system };
    let encode =
        |name: &str, path: &Path| Ok(sheet(&told, name)?.map(|sheet| encode_sheet(&sheet, path)).transpose()?);
    let mut written = places.write_charts(encode, err, columns)?;
    written.extend(places.finish()?);
    if !args.common.quiet {
        let found = told.notices.iter().map(|(_, words)| words);
        all.notices.iter().chain(found).for_each(|words| text::warn(err, words, columns));
    }
    let mut rows = Vec::new();
    if args.common.json && places.table.is_none() {
        read(&mut |row| rows.push(super::sweep::document_row(row)))?;
    }
    let printed = match args.common.json {
        true => text::json(&told.document(&header.columns, written.last().filter(|_| places.table.is_some()), rows))?,
        false => told.text(&written, columns)?,
    };
    text::print(out, &printed)
}

/// Hash of all that decides what a population comes to: of its rows, and of what they are judged by.
fn identity(study: &Study, conditions: &[Condition]) -> String {
    let rows = Header::new(study, Shard::WHOLE).inputs_sha256();
    sha256(&json!({"pass": population::judged_by(conditions), "rows": rows}))
}

/// What is said of a part, which says nothing about the population: its runs are for --merge.
fn part(
    study: &Study,
    places: &Places,
    shard: Shard,
    identity: &str,
    json: bool,
    columns: usize,
) -> Result<String, Problem> {
    let (mut runs, mut failed) = (0, 0);
    let mut lines = Lines::open(places.journal())?;
    while let Some(row) = lines.next_row() {
        runs += 1;
        failed += u64::from(row?.failed.is_some());
    }
    drop(lines);
    let file = places.finish()?.unwrap_or_default();
    if json {
        return text::json(&json!({
            "schema": "poppetry/tolerance/1",
            "assembly": study.base.assembly(),
            "inputs_sha256": identity,
            "warnings": [],
            "cautions": Caution::ids(&super::cautions(&study.outputs)),
            "shard": [shard.part, shard.of],
            "runs": runs,
            "failed": failed,
            "file": file.display().to_string(),
        }));
    }
    let words = format!("part {}/{}, {runs} runs: {}", shard.part, shard.of, file.display());
    Ok(wrapped(&format!("{words}. Join all parts with --merge and the same input."), columns, 0, 2))
}

/// Without one unit there is nothing to judge.
fn none_ran(summary: &Summary, table: Option<&Path>) -> Problem {
    let why = summary.main_reason().map_or(String::new(), |(reason, runs)| format!("\n  {runs} x like {reason}"));
    let kept = table.map_or(String::new(), |t| format!("\n  each row of {} says its own", t.display()));
    Problem::Stopped(format!("no unit can be judged: all runs failed{why}{kept}"))
}

/// What a reader should know before relying on the figures.
fn notices(analysis: &Analysis, ranking: Option<&Ranking>) -> Vec<Notice> {
    let mut all = Vec::new();
    if let Some(words) = cut(analysis) {
        all.push(("population-cut", format!("{words}; give the spread ends that the field takes")));
    }
    if let Some(words) = ranking.and_then(Ranking::doubt) {
        all.push(("variance-shares-uncertain", words));
    }
    all
}

/// That units failed, and what that makes of the figures.
pub(super) fn cut(analysis: &Analysis) -> Option<String> {
    let Analysis { failed, units, .. } = analysis;
    (*failed > 0).then(|| format!("{failed} of {units} units failed and are in no share: the population is cut there"))
}

/// A finished study of a population with what is needed to tell of it.
pub(super) struct Told<'a> {
    pub said: &'a Said<'a>,
    pub all: &'a population::Prepared,
    pub analysis: &'a Analysis,
    pub ranking: Option<Ranking>,
    notices: Vec<Notice>,
    pub system: System,
}

/// "97.3 % (96.1 to 98.2 %)".
pub(super) fn percent(s: &Share) -> String {
    let p = |x: f64| format!("{:.1}", 100.0 * x);
    format!("{} % ({} to {} %)", p(s.estimate), p(s.low), p(s.high))
}

impl Told<'_> {
    pub fn headline(&self) -> String {
        let a = self.analysis;
        let spill = a.spill_probability.map_or(String::new(), |s| format!("; {} spill", percent(&s)));
        format!("{} of {} units pass{spill}", percent(&a.pass_rate), a.pass_rate.of)
    }

    fn text(&self, written: &[PathBuf], columns: usize) -> Result<String, Problem> {
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
        rows.add("pass all", percent(&a.pass_rate));
        for (condition, s) in self.all.conditions.iter().zip(&a.conditions) {
            rows.add(&condition.text, percent(s));
        }
        if let Some(s) = &a.spill_probability {
            let limit = format(Kind::Volume, crate::bench::FIRST_VOLUME, self.system);
            rows.add(&format!("spill over {limit}"), percent(s));
        }
        if let Some(words) = cut(a) {
            rows.add("failed units", words);
        }
        if self.said.summary.failed > 0 {
            rows.add("failed runs", format!("{} of {}", self.said.summary.failed, self.said.summary.runs));
            self.said.summary.add_reasons(&mut rows);
        }
        out.push_str(&rows.laid_out("Shares of all units, with 95 % intervals", columns));
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

    fn document(&self, heads: &[String], file: Option<&PathBuf>, rows: Vec<Json>) -> Json {
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
