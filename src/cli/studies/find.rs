//! `find`: one unknown solved for, on single runs or on a population.

use super::args::{Common, Kept};
use super::found::Told;
use super::looked::{Counted, Look, Looked, Seen};
use super::population::{self, People};
use super::summary::not_seen;
use crate::assembly::Settings;
use crate::charts::encode_sheet;
use crate::cli::frame::{self, Outputs};
use crate::cli::problem::Problem;
use crate::cli::{interrupt, text};
use crate::error::{At, Error, Source};
use crate::study::find::{Found, Search, find};
use crate::study::{Cell, Condition, Judged, Range, Study, Until};
use crate::units::Kind;
use clap::Args;
use indicatif::ProgressBar;
use serde_json::{Value as Json, json};
use std::io::Write;
use std::path::PathBuf;
use std::sync::{Mutex, PoisonError};

/// Width of the last bracket as a share of the range.
const SINGLE: f64 = 1e-5;

/// `find`.
#[derive(Debug, Args)]
#[command(after_help = "\
For example:
  poppetry find \"check.load=0.8:3 psi\" --assembly svb-diaphragm --so-that \"sequence.order==air-inlet-first\"
  poppetry find \"check.load=0.8:3 psi\" unit.toml --years 10 --so-that \"tolerance.pass_rate>=0.95\"

COMMAND.KEY is a value of a command's JSON, <op> one of == != < <= > >=, VALUE a number with its unit or a word.
The range is looked at in 17 places; every place where the answer changes is then halved down, to neighbours where PATH takes
whole numbers. All stretches on which the condition holds are told. The value of the document is the end of them nearest to
LOW: where the condition begins to hold or, if it holds at LOW, the last place before it ceases. With it comes the bracket it
lies in; on a population the interval that the sample leaves open. Where a run fails, or has no such value, the condition
cannot be judged. Of field-test one try is asked, with friction as stated. Population keys: tolerance.pass_rate,
tolerance.spill_probability, shares of the units that can be judged; FILE then has [spread] tables as `poppetry tolerance`
takes them, and spreads about the assembly's own value move with PATH. The places that were looked at go to
DIR/find-ASSEMBLY.csv.

Charts: curves (what was seen at the places that were looked at)")]
pub(in crate::cli) struct FindArgs {
    /// The unknown and where to look
    #[arg(value_name = "PATH=LOW:HIGH [unit]")]
    pub range: String,
    /// What must hold
    #[arg(long, value_name = "COMMAND.KEY<op>VALUE")]
    pub so_that: String,
    #[command(flatten)]
    pub people: People,
    #[command(flatten)]
    pub kept: Kept,
    #[command(flatten)]
    pub common: Common,
}

/// Charts there are.
const CHARTS: [&str; 1] = ["curves"];

pub(in crate::cli) fn run(
    args: &FindArgs,
    out: &mut dyn Write,
    err: &mut dyn Write,
    columns: usize,
) -> Result<(), Problem> {
    let range = Range::parse(&args.range)?;
    let mut builder = rayon::ThreadPoolBuilder::new();
    if let Some(threads) = args.common.threads {
        builder = builder.num_threads(usize::from(threads));
    }
    let pool = builder
        .build()
        .map_err(|e| Error::Syntax { at: At::whole(Source::Study), message: format!("no worker threads: {e}") })?;
    let answer = match args.so_that.trim_start().strip_prefix("tolerance.") {
        Some(rest) => pool.install(|| super::find_people::of_people(args, range, rest))?,
        None => pool.install(|| of_one(args, range))?,
    };
    answer.looked.require_runs()?;
    let told = Told { args, range, answer };
    let mut bytes = Vec::new();
    let outputs = &told.answer.outputs;
    if !outputs.charts.is_empty() {
        let sheet = told.sheet()?;
        for (_, path) in &outputs.charts {
            bytes.push(encode_sheet(&sheet, path)?);
        }
    }
    if outputs.table().is_some() {
        bytes.push(told.answer.looked.table(&range, &told.answer.key)?);
    }
    outputs.write(bytes)?;
    if args.common.json && !args.common.quiet {
        let doubts = told.answer.looked.not_judged().into_iter().chain(told.answer.not_seen.clone());
        doubts.for_each(|words| text::warn(err, &words, columns));
    }
    let printed = if args.common.json { text::json(&told.document())? } else { told.text(columns)? };
    text::print(out, &printed)
}

/// What a search gives before it is told.
pub(super) struct Answer {
    pub base: Settings,
    pub study: Study,
    pub found: Found,
    /// Ends of what the sample leaves open; `None`: beyond HIGH.
    pub open: Option<[Option<f64>; 2]>,
    /// The population at the answer.
    pub there: Option<Counted>,
    /// What the value is compared with, if that is a number, SI.
    pub limit: Option<f64>,
    /// That no run gave the word that it is compared with.
    pub not_seen: Option<String>,
    pub sample: Option<String>,
    pub looked: Looked,
    /// What decides it beside settings and range.
    pub asked: Json,
    /// What is compared.
    pub key: String,
    /// Charts, then the table.
    pub outputs: Outputs,
}

/// Where charts and table go.
pub(super) fn outputs<'a>(
    args: &'a FindArgs,
    base: &'a Settings,
    read: impl IntoIterator<Item = &'a PathBuf>,
) -> Result<Outputs, Problem> {
    let mut inputs = frame::inputs(&args.common.files, base)?;
    inputs.extend(read.into_iter().map(PathBuf::as_path));
    let (stem, document) = (format!("find-{}", base.assembly()), args.common.json);
    let charts = args.kept.charts(&stem, document, (&CHARTS, &CHARTS))?;
    let charts = charts.into_iter().map(|c| (c.name, c.path)).collect();
    Outputs::new(charts, args.kept.table(&stem, document).as_ref(), &inputs)
}

/// Looks from LOW to HIGH; halves down to `share` of the range.
pub(super) fn search(range: &Range, share: f64) -> Search {
    let tolerance = share * (range.high - range.low).abs();
    Search { low: range.low, high: range.high, tolerance, whole: range.kind == Kind::Count }
}

pub(super) fn stopped() -> Problem {
    Problem::Interrupted("nothing was written".to_owned())
}

pub(super) fn spinner(common: &Common) -> ProgressBar {
    if common.quiet { ProgressBar::hidden() } else { ProgressBar::new_spinner() }
}

fn of_one(args: &FindArgs, range: Range) -> Result<Answer, Problem> {
    let at = At::whole(Source::Option("--so-that"));
    let condition = Condition::parse(&args.so_that, &at)?;
    if let Some(option) = args.people.given() {
        let message = "a condition on single runs has no population; --so-that \"tolerance.pass_rate>=0.95\" has one";
        return Err(Error::Syntax { at: At::whole(Source::Option(option)), message: message.to_owned() }.into());
    }
    let base = super::resolver(&args.common).resolve()?;
    let outputs = outputs(args, &base, [])?;
    // Any plan will do: settings are made here.
    let axis = crate::study::Axis::new(range.path, range.low, range.high, 2, false)?;
    let mut study = Study::new(base.clone(), crate::study::Grid::new(vec![axis])?);
    study.until = args.common.until.unwrap_or(Until::Rest);
    study.outputs.push(condition.output.clone());
    let example = super::check_outputs(&study)?;
    super::check_conditions(&study, std::slice::from_ref(&condition), &example)?;
    let asking = interrupt::ask_first();
    let bar = spinner(&args.common);
    let looked: Mutex<Vec<Look>> = Mutex::default();
    let judge = |x: f64| {
        let settings = base.with_numbers(&[(range.path, x)])?;
        let (judged, found) = match study.ask(&settings) {
            Ok(mut cells) => {
                let cell = cells.pop().unwrap_or(Cell::Missing);
                (condition.judge(&cell)?, Seen::Value(cell))
            }
            Err(error @ Error::UnknownName { .. }) => return Err(error),
            Err(error) => (Judged::Unknown, Seen::Failed(error)),
        };
        let mut all = looked.lock().unwrap_or_else(PoisonError::into_inner);
        all.push(Look { x, judged, found });
        bar.set_message(format!("{} runs", all.len()));
        bar.tick();
        Ok(judged)
    };
    let found = find(search(&range, SINGLE), &judge, &|| asking.asked())?;
    bar.finish_and_clear();
    let found = found.ok_or_else(stopped)?;
    let looked = Looked::new(looked.into_inner().unwrap_or_else(PoisonError::into_inner), &range);
    let key = condition.output.name();
    let limit = condition.value.number();
    let not_seen = not_seen(&condition, looked.words());
    let asked = json!({"so_that": population::judged_by(&[condition]), "until": study.until.word()});
    Ok(Answer {
        base,
        study,
        found,
        open: None,
        there: None,
        limit,
        not_seen,
        sample: None,
        looked,
        asked,
        key,
        outputs,
    })
}
