//! `find`: one unknown solved for, on single runs or on a population.

use super::args::Common;
use super::found::Told;
use super::population::{self, People};
use crate::assembly::Settings;
use crate::cli::interrupt;
use crate::cli::problem::Problem;
use crate::cli::text;
use crate::error::{At, Error, Source, shown};
use crate::study::analysis::{meets, pass_share};
use crate::study::find::{Found, Search, find};
use crate::study::statistics::Share;
use crate::study::{Condition, Op, Output, Plan, Population, PopulationPlan, Range, Row, Study, Until};
use clap::Args;
use indicatif::ProgressBar;
use rayon::prelude::*;
use serde_json::{Value as Json, json};
use std::collections::HashMap;
use std::io::Write;
use std::sync::{Mutex, PoisonError};

/// Width of the last bracket as a share of the range: of single runs, of populations.
const SINGLE: f64 = 1e-5;
const OF_PEOPLE: f64 = 1e-3;

/// `find`.
#[derive(Debug, Args)]
#[command(after_help = "\
For example:
  poppetry find \"check.load=0.8:3 psi\" --assembly svb-diaphragm --so-that \"sequence.order==air-inlet-first\"
  poppetry find \"check.load=0.8:3 psi\" unit.toml --years 10 --so-that \"tolerance.pass_rate>=0.95\"

The range is looked at in 17 places; every place where the answer changes is then halved down. The result is the value
nearest to LOW from which the condition holds, with the bracket it lies in; on a population with the interval that the
sample leaves open. Population keys: tolerance.pass_rate, tolerance.spill_probability; FILE then has [spread] tables as
`poppetry tolerance` takes them, and spreads about the assembly's own value move with PATH.")]
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
    pub common: Common,
}

/// Which share of a population a condition is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Of {
    Passing,
    Spilling,
}

/// A condition on a share.
#[derive(Debug, Clone, Copy)]
struct ShareCondition {
    of: Of,
    op: Op,
    value: f64,
}

pub(in crate::cli) fn run(
    args: &FindArgs,
    out: &mut dyn Write,
    _err: &mut dyn Write,
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
    let (base, told) = match args.so_that.trim_start().strip_prefix("tolerance.") {
        Some(rest) => pool.install(|| of_people(args, range, rest))?,
        None => pool.install(|| of_one(args, range))?,
    };
    let told = told.with(args, range, &base);
    let printed = if args.common.json { text::json(&told.document())? } else { told.text(columns)? };
    text::print(out, &printed)
}

/// What a search gives before it is told.
struct Answer {
    found: Found,
    open: Option<[Option<f64>; 2]>,
    share: Option<Share>,
    sample: Option<String>,
    runs: u64,
    /// What decides it beside settings and range.
    asked: Json,
    outputs: Vec<Output>,
}

impl Answer {
    fn with<'a>(self, args: &'a FindArgs, range: Range, base: &'a Settings) -> Told<'a> {
        let Answer { found, open, share, sample, runs, asked, outputs } = self;
        Told { args, range, base, found, open, share, sample, runs, asked, outputs }
    }
}

fn stopped() -> Problem {
    Problem::Interrupted("nothing was written".to_owned())
}

fn spinner(common: &Common) -> ProgressBar {
    if common.quiet { ProgressBar::hidden() } else { ProgressBar::new_spinner() }
}

fn of_one(args: &FindArgs, range: Range) -> Result<(Settings, Answer), Problem> {
    let at = At::whole(Source::Option("--so-that"));
    let condition = Condition::parse(&args.so_that, &at)?;
    if let Some(option) = args.people.given() {
        let message = "a condition on single runs has no population; --so-that \"tolerance.pass_rate>=0.95\" has one";
        return Err(Error::Syntax { at: At::whole(Source::Option(option)), message: message.to_owned() }.into());
    }
    let base = super::resolver(&args.common).resolve()?;
    // Any plan will do: settings are made here.
    let axis = crate::study::Axis::new(range.path, range.low, range.high, 2, false)?;
    let mut study = Study::new(base.clone(), crate::study::Grid::new(vec![axis])?);
    study.until = args.common.until.unwrap_or(Until::Rest);
    study.outputs.push(condition.output.clone());
    let asking = interrupt::ask_first();
    let bar = spinner(&args.common);
    let looked = std::sync::atomic::AtomicU64::new(0);
    let holds = |x: f64| {
        let settings = base.with_numbers(&[(range.path, x)])?;
        let cells = study.ask(&settings)?;
        let n = looked.fetch_add(1, std::sync::atomic::Ordering::Relaxed) + 1;
        bar.set_message(format!("{n} runs"));
        bar.tick();
        Ok(cells.first().is_some_and(|cell| condition.holds(cell)))
    };
    let tolerance = SINGLE * (range.high - range.low).abs();
    let search = Search { low: range.low, high: range.high, tolerance };
    let found = find(search, &holds, &|| asking.asked())?;
    bar.finish_and_clear();
    let found = found.ok_or_else(stopped)?;
    let runs = found.evaluations as u64;
    let asked = json!({"so_that": population::judged_by(&[condition]), "until": study.until.word()});
    Ok((base, Answer { found, open: None, share: None, sample: None, runs, asked, outputs: study.outputs }))
}

fn share_condition(rest: &str) -> Result<ShareCondition, Error> {
    let at = At::whole(Source::Option("--so-that"));
    let (key, op, value) = crate::study::split_condition(rest, &at)?;
    let known = ["tolerance.pass_rate", "tolerance.spill_probability"];
    let of = match key {
        "pass_rate" => Of::Passing,
        "spill_probability" => Of::Spilling,
        other => {
            let name = format!("tolerance.{other}");
            return Err(Error::UnknownName {
                at: Some(at),
                what: "value",
                nearest: crate::error::nearest(&name, known),
                name,
                known: known.map(str::to_owned).to_vec(),
            });
        }
    };
    let refuse = |message: String| Err(Error::Syntax { at: at.clone(), message });
    let (text, scale) = match value.strip_suffix('%') {
        Some(number) => (number.trim(), 0.01),
        None => (value, 1.0),
    };
    let share = match text.parse::<f64>() {
        Ok(v) if v * scale >= 0.0 && v * scale <= 1.0 => v * scale,
        _ => return refuse(format!("a share from 0 to 1 is wanted (or from 0 to 100 %), not {}", shown(value))),
    };
    if matches!(op, Op::Is | Op::IsNot) {
        return refuse("a share of a sample is compared with <, <=, > or >=".to_owned());
    }
    Ok(ShareCondition { of, op, value: share })
}

fn of_people(args: &FindArgs, range: Range, rest: &str) -> Result<(Settings, Answer), Problem> {
    let condition = share_condition(rest)?;
    let all = population::prepare(&args.people, &args.common, None)?;
    if let Some(spread) = all.population.spreads.iter().find(|s| s.name == range.path && !s.follows()) {
        let message = format!(
            "{} is looked for, so its spread must follow it: take the mean (or low and high) away and give sd, half_width \
             or factor",
            range.path
        );
        return Err(Error::Syntax { at: spread.at.clone(), message }.into());
    }
    let mut study = Study::new(all.base.clone(), all.plan.clone());
    study.until = args.common.until.unwrap_or(Until::Rest);
    match condition.of {
        Of::Passing => population::also(&mut study, &all.conditions),
        Of::Spilling => study = study.record(crate::study::analysis::SPILL)?,
    }
    super::check_outputs(&study)?;
    let asking = interrupt::ask_first();
    let bar = spinner(&args.common);
    let known: Mutex<HashMap<u64, Share>> = Mutex::new(HashMap::new());
    let share = |x: f64| -> Result<Share, Error> {
        if let Some(share) = known.lock().unwrap_or_else(PoisonError::into_inner).get(&x.to_bits()) {
            return Ok(*share);
        }
        let share = share_at(&study, &all.population, &all.conditions, args, condition.of, range, x)?;
        let mut known = known.lock().unwrap_or_else(PoisonError::into_inner);
        known.insert(x.to_bits(), share);
        bar.set_message(format!("{} populations of {}", known.len(), args.people.runs()));
        bar.tick();
        Ok(share)
    };
    let up = matches!(condition.op, Op::AtLeast | Op::Above);
    let search = Search { low: range.low, high: range.high, tolerance: OF_PEOPLE * (range.high - range.low).abs() };
    let look = |pick: &(dyn Fn(&Share) -> f64 + Sync)| -> Result<Found, Problem> {
        let holds = |x: f64| Ok(condition.op.holds(pick(&share(x)?), condition.value));
        find(search, &holds, &|| asking.asked())?.ok_or_else(stopped)
    };
    let found = look(&|s| s.estimate)?;
    let hopeful = look(&|s| if up { s.high } else { s.low })?;
    let careful = look(&|s| if up { s.low } else { s.high })?;
    bar.finish_and_clear();
    let first = found.first_holding(range.low);
    let at_answer = first.map(&share).transpose()?;
    let populations = known.lock().unwrap_or_else(PoisonError::into_inner).len() as u64;
    let asked = json!({
        "pass": (condition.of == Of::Passing).then(|| population::judged_by(&all.conditions)),
        "population": all.plan.describe(),
        "so_that": [format!("{:?}", condition.of), condition.op.sign()],
        "share": condition.value,
        "until": study.until.word(),
    });
    Ok((
        all.base.clone(),
        Answer {
            asked,
            outputs: study.outputs.clone(),
            open: Some([hopeful.first_holding(range.low), careful.first_holding(range.low)]),
            found,
            share: at_answer,
            sample: Some(all.sample_words()),
            runs: populations * all.plan.units(),
        },
    ))
}

/// The share at one value of the unknown; always the same units, so that values can be compared.
fn share_at(
    study: &Study,
    population: &Population,
    conditions: &[Condition],
    args: &FindArgs,
    of: Of,
    range: Range,
    x: f64,
) -> Result<Share, Error> {
    let base = study.base.with_numbers(&[(range.path, x)])?;
    let people = &args.people;
    let plan = PopulationPlan::new(population, &base, people.design(), people.runs(), None, args.common.seed)?;
    let units = plan.len();
    let here = Study { base, plan: std::sync::Arc::new(plan), ..study.clone() };
    // Blocks keep memory independent of the number of units.
    let mut counted = Share { count: 0, of: 0, estimate: f64::NAN, low: 0.0, high: 1.0 };
    let mut from = 0;
    while from < units {
        let to = (from + 1024).min(units);
        let rows: Vec<Row> = (from..to).into_par_iter().map(|i| here.row(i)).collect();
        let block = pass_share(&rows, &|row| match of {
            Of::Passing => conditions.iter().all(|c| meets(&here, c, row)),
            Of::Spilling => {
                row.cells.first().and_then(crate::study::Cell::number).is_some_and(|v| v > crate::bench::FIRST_VOLUME)
            }
        });
        (counted.count, counted.of) = (counted.count + block.count, counted.of + block.of);
        from = to;
    }
    Ok(crate::study::statistics::share(counted.count, counted.of))
}
