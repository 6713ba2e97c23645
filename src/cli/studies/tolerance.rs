//! `tolerance`: a population instead of one unit: how many pass, how many spill, and which input decides.

use super::args::{Common, Kept, Long};
use super::population::{self, People};
use super::report::Said;
use super::session::{self, Asked, Places};
use super::summary::Summary;
use crate::charts::{
    Bar, BarsPicture, HistogramPicture, Limit, Page, Sheet, encode_sheet, lay_out_bars, lay_out_histogram,
};
use crate::cli::caution::Caution;
use crate::cli::problem::Problem;
use crate::cli::text::{self, Rows, wrapped};
use crate::error::Error;
use crate::study::analysis::{Analysis, Quantity, analyse};
use crate::study::statistics::Share;
use crate::study::{Cell, Header, Lines, Op, Row, Study};
use crate::units::{Kind, System, format, to_display, unit_symbol};
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

Charts: histogram, bars")]
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
    let places = Places::new(&asked, &study, (&CHARTS, &CHARTS), read)?;
    let outcome = match args.merge.as_slice() {
        [] => session::carry_out(&study, &places, &args.common, args.long.resume)?,
        parts => session::join(&study, &places, parts)?,
    };

    if let Some(shard) = args.long.shard {
        // A part says nothing about the population; its runs are for --merge.
        let file = places.finish()?.unwrap_or_default();
        let words = format!("part {}/{}, {} runs: {}", shard.part, shard.of, outcome.done, file.display());
        let printed = match args.common.json {
            true => text::json(&json!({
                "schema": "poppetry/tolerance/1",
                "assembly": study.base.assembly(),
                "inputs_sha256": Header::new(&study, shard).inputs_sha256(),
                "warnings": [],
                "cautions": Caution::ids(&Caution::ALL),
                "shard": [shard.part, shard.of],
                "runs": outcome.done,
                "failed": outcome.failed,
                "file": file.display().to_string(),
            }))?,
            false => wrapped(&format!("{words}. Join all parts with --merge and the same input."), columns, 0, 2),
        };
        return text::print(out, &printed);
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
    let identity = header.inputs_sha256();
    let said = Said { study: &study, summary: &summary, outcome: &outcome, args: &args.common, identity: &identity };
    let told = Told { said: &said, all: &all, analysis: &analysis, system };
    let encode = |name: &str, path: &Path| Ok(told.sheet(name)?.map(|sheet| encode_sheet(&sheet, path)).transpose()?);
    let mut written = places.write_charts(encode, err, columns)?;
    written.extend(places.finish()?);
    if !args.common.quiet {
        all.notices.iter().for_each(|words| text::warn(err, words, columns));
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

/// A finished study of a population with what is needed to tell of it.
struct Told<'a> {
    said: &'a Said<'a>,
    all: &'a population::Prepared,
    analysis: &'a Analysis,
    system: System,
}

/// "97.3 % (96.1 to 98.2 %)".
pub(super) fn percent(s: &Share) -> String {
    let p = |x: f64| format!("{:.1}", 100.0 * x);
    format!("{} % ({} to {} %)", p(s.estimate), p(s.low), p(s.high))
}

impl Told<'_> {
    fn first(&self) -> Option<&Quantity> {
        self.analysis.quantities.first()
    }

    fn headline(&self) -> String {
        let a = self.analysis;
        if a.pass_rate.of == 0 {
            return "no unit can be judged: all runs failed".to_owned();
        }
        let spill = a.spill_probability.map_or(String::new(), |s| format!("; {} spill", percent(&s)));
        format!("{} of {} units pass{spill}", percent(&a.pass_rate), a.pass_rate.of)
    }

    fn page(&self, title: String) -> Result<Page, Error> {
        Ok(Page { title, ..self.said.page(&[])? })
    }

    fn sheet(&self, name: &str) -> Result<Option<Sheet>, Error> {
        match name {
            "histogram" => self.first().map(|q| self.histogram(q)).transpose(),
            _ => self.bars(),
        }
    }

    fn shown(&self, key: &str, si: f64) -> f64 {
        to_display(crate::study::kind_of(key), si, self.system)
    }

    fn axis_name(&self, key: &str) -> String {
        let kind = crate::study::kind_of(key);
        match unit_symbol(kind, self.system) {
            "" => population::short(key),
            unit => format!("{} ({unit})", population::short(key)),
        }
    }

    fn histogram(&self, q: &Quantity) -> Result<Sheet, Error> {
        let mut edges: Vec<f64> = q.histogram.iter().map(|b| self.shown(&q.key, b.from)).collect();
        edges.extend(q.histogram.last().map(|b| self.shown(&q.key, b.to)));
        let mut limits: Vec<Limit> = self
            .all
            .conditions
            .iter()
            .zip(&self.analysis.conditions)
            .filter(|(c, _)| c.output.name() == q.key)
            .filter_map(|(c, s)| match (&c.value, c.op) {
                (Cell::Number(v), op) => Some(Limit {
                    value: self.shown(&q.key, *v),
                    text: format!("limit: {} meet it", percent(s)),
                    bad_below: match op {
                        Op::AtLeast | Op::Above => Some(true),
                        Op::AtMost | Op::Below => Some(false),
                        _ => None,
                    },
                }),
                _ => None,
            })
            .collect();
        if limits.is_empty() && q.key == super::grid::MARGIN {
            let text = "below 0 the check lifts first".to_owned();
            limits.push(Limit { value: 0.0, text, bad_below: Some(true) });
        }
        Ok(lay_out_histogram(&HistogramPicture {
            page: self.page(self.headline())?,
            x_name: self.axis_name(&q.key),
            y_name: format!("units out of {}", q.count),
            edges,
            counts: q.histogram.iter().map(|b| b.share.count as f64).collect(),
            limits,
        }))
    }

    fn bars(&self) -> Result<Option<Sheet>, Error> {
        let Some((s, inputs)) = self.analysis.sensitivity.iter().find_map(|s| Some((s, s.inputs.as_ref()?))) else {
            return Ok(None);
        };
        let names = crate::study::analysis::inputs(&self.all.plan);
        let bar = |(name, index): (&String, &crate::study::sensitivity::Indices)| Bar {
            label: name.clone(),
            value: index.total.mean,
            range: index
                .total
                .half_width
                .is_finite()
                .then_some((index.total.mean - index.total.half_width, index.total.mean + index.total.half_width)),
        };
        let bars: Vec<Bar> = names.iter().zip(inputs).map(bar).collect();
        let largest = bars.iter().max_by(|a, b| a.value.total_cmp(&b.value)).map_or("", |b| b.label.as_str());
        let title = format!("{largest} decides most of how the {} varies", population::short(&s.key));
        Ok(Some(lay_out_bars(&BarsPicture {
            page: self.page(title)?,
            x_name: "total share of the variance (1 = all of it)".to_owned(),
            bars,
        })))
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
        if a.failed > 0 {
            rows.add("failed runs", format!("{} of {} units; they are in no share", a.failed, a.units));
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
        let Some((s, inputs)) = self.analysis.sensitivity.iter().find_map(|s| Some((s, s.inputs.as_ref()?))) else {
            return String::new();
        };
        let mut ranked: Vec<(String, &crate::study::sensitivity::Indices)> =
            crate::study::analysis::inputs(&self.all.plan).into_iter().zip(inputs).collect();
        ranked.sort_by(|a, b| b.1.total.mean.total_cmp(&a.1.total.mean));
        let mut rows = Rows::default();
        let show = |e: &crate::study::statistics::Estimate| match e.half_width.is_finite() {
            true => format!("{:.3} +- {:.3}", e.mean, e.half_width),
            false => format!("{:.3}", e.mean),
        };
        for (name, index) in ranked {
            rows.add(&name, format!("total {}, by itself {}", show(&index.total), show(&index.first)));
        }
        let heading = format!("Shares in the variance of {} (1 = all of it)", s.key);
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
        if let Json::Object(map) = &mut document {
            match file {
                Some(file) => map.insert("file".to_owned(), json!(file.display().to_string())),
                None => map.insert("rows".to_owned(), Json::Array(rows)),
            };
            for (key, value) in [
                ("seed", json!(self.all.seed)),
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
