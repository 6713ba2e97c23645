//! `find`: one unknown solved for, on single runs or on a population.

use super::args::Common;
use super::found::Told;
use super::looked::{Counted, Look, Looked, Seen};
use super::population::{self, People, Prepared};
use crate::assembly::Settings;
use crate::cli::problem::Problem;
use crate::cli::{files, frame, interrupt, text};
use crate::error::{At, Error, Source, shown};
use crate::study::analysis::meets;
use crate::study::find::{Found, Judged, Search, find};
use crate::study::statistics::Share;
use crate::study::{Cell, Condition, Op, Plan, PopulationPlan, Range, Row, Study, Until};
use crate::units::Kind;
use clap::Args;
use indicatif::ProgressBar;
use rayon::prelude::*;
use serde_json::{Value as Json, json};
use std::io::Write;
use std::path::PathBuf;
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

COMMAND.KEY is a value of a command's JSON, <op> one of == != < <= > >=, VALUE a number with its unit or a word.
The range is looked at in 17 places; every place where the answer changes is then halved down, to neighbours where PATH takes
whole numbers. All stretches on which the condition holds are told. The value of the document is the end of them nearest to
LOW: where the condition begins to hold or, if it holds at LOW, the last place before it ceases. With it comes the bracket it
lies in; on a population the interval that the sample leaves open. Where a run fails, or has no such value, the condition
cannot be judged. Of field-test one try is asked, with friction as stated. Population keys: tolerance.pass_rate,
tolerance.spill_probability; FILE then has [spread] tables as `poppetry tolerance` takes them, and spreads about the
assembly's own value move with PATH.")]
pub(in crate::cli) struct FindArgs {
    /// The unknown and where to look
    #[arg(value_name = "PATH=LOW:HIGH [unit]")]
    pub range: String,
    /// What must hold
    #[arg(long, value_name = "COMMAND.KEY<op>VALUE")]
    pub so_that: String,
    /// Write the places that were looked at to this file, SI, units in the header
    #[arg(long, value_name = "FILE")]
    pub csv: Option<PathBuf>,
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
        Some(rest) => pool.install(|| of_people(args, range, rest))?,
        None => pool.install(|| of_one(args, range))?,
    };
    answer.looked.require_runs()?;
    if let Some(place) = &answer.table {
        files::write(&[(place, answer.looked.table(&range, &answer.key)?)])?;
    }
    let told = Told { args, range, answer };
    if args.common.json && !args.common.quiet {
        told.answer.looked.not_judged().iter().for_each(|words| text::warn(err, words, columns));
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
    /// The share at the answer.
    pub share: Option<Share>,
    pub sample: Option<String>,
    pub looked: Looked,
    /// What decides it beside settings and range.
    pub asked: Json,
    /// What is compared.
    key: String,
    table: Option<files::Destination>,
}

/// Where the table goes, if one was asked for.
fn table<'a>(
    args: &'a FindArgs,
    base: &'a Settings,
    read: impl IntoIterator<Item = &'a PathBuf>,
) -> Result<Option<files::Destination>, Problem> {
    let Some(path) = &args.csv else { return Ok(None) };
    let mut inputs = frame::inputs(&args.common.files, base)?;
    inputs.extend(read.into_iter().map(PathBuf::as_path));
    Ok(files::check(std::slice::from_ref(path), &inputs)?.pop())
}

/// Looks from LOW to HIGH; halves down to `share` of the range.
fn search(range: &Range, share: f64) -> Search {
    let tolerance = share * (range.high - range.low).abs();
    Search { low: range.low, high: range.high, tolerance, whole: range.kind == Kind::Count }
}

fn stopped() -> Problem {
    Problem::Interrupted("nothing was written".to_owned())
}

fn spinner(common: &Common) -> ProgressBar {
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
    let table = table(args, &base, [])?;
    // Any plan will do: settings are made here.
    let axis = crate::study::Axis::new(range.path, range.low, range.high, 2, false)?;
    let mut study = Study::new(base.clone(), crate::study::Grid::new(vec![axis])?);
    study.until = args.common.until.unwrap_or(Until::Rest);
    study.outputs.push(condition.output.clone());
    super::check_outputs(&study)?;
    let asking = interrupt::ask_first();
    let bar = spinner(&args.common);
    let looked: Mutex<Vec<Look>> = Mutex::default();
    let judge = |x: f64| {
        let settings = base.with_numbers(&[(range.path, x)])?;
        let (judged, found) = match study.ask(&settings) {
            Ok(mut cells) => {
                let cell = cells.pop().unwrap_or(Cell::Missing);
                (condition.judge(&cell, &at)?.into(), Seen::Value(cell))
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
    let asked = json!({"so_that": population::judged_by(&[condition]), "until": study.until.word()});
    Ok(Answer { base, study, found, open: None, share: None, sample: None, looked, asked, key, table })
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

fn of_people(args: &FindArgs, range: Range, rest: &str) -> Result<Answer, Problem> {
    let condition = share_condition(rest)?;
    let all = population::prepare(&args.people, &args.common, None)?;
    let table = table(args, &all.base, &all.population.files)?;
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
    let looked: Mutex<Vec<Look>> = Mutex::default();
    let judge = |pick: fn(&Share) -> f64, share: &Share| match share.of {
        0 => Judged::Unknown,
        _ => Some(condition.op.holds(pick(share), condition.value)).into(),
    };
    let share = |x: f64| -> Result<Share, Error> {
        let lock = || looked.lock().unwrap_or_else(PoisonError::into_inner);
        let known = lock().iter().find(|look| look.x.to_bits() == x.to_bits()).map(|look| look.found.clone());
        if let Some(Seen::People(counted)) = known {
            return Ok(counted.share);
        }
        let counted = count_at(&study, &all, args, condition.of, (range.path, x))?;
        let share = counted.share;
        let mut known = lock();
        known.push(Look { x, judged: judge(|s| s.estimate, &share), found: Seen::People(counted) });
        bar.set_message(format!("{} populations of {}", known.len(), args.people.runs()));
        bar.tick();
        Ok(share)
    };
    let look = |pick: fn(&Share) -> f64| -> Result<Found, Problem> {
        let judge = |x: f64| Ok(judge(pick, &share(x)?));
        find(search(&range, OF_PEOPLE), &judge, &|| asking.asked())?.ok_or_else(stopped)
    };
    let found = look(|s| s.estimate)?;
    let (low, high) = (look(|s| s.low)?, look(|s| s.high)?);
    bar.finish_and_clear();
    // The end of where the condition holds, on the side of it that the estimate has.
    let ceases = found.at_low == Judged::Holds;
    let end = |f: &Found| match (f.at_low == Judged::Holds) == ceases {
        true => f.edge().map(|(x, _)| x),
        false => Some(range.low),
    };
    let up = matches!(condition.op, Op::AtLeast | Op::Above);
    let (hopeful, careful) = if up { (end(&high), end(&low)) } else { (end(&low), end(&high)) };
    let at_answer = found.edge().map(|(x, _)| x).or(ceases.then_some(range.low));
    let asked = json!({
        "pass": (condition.of == Of::Passing).then(|| population::judged_by(&all.conditions)),
        "population": all.plan.describe(),
        "so_that": [format!("{:?}", condition.of), condition.op.sign()],
        "share": condition.value,
        "until": study.until.word(),
    });
    Ok(Answer {
        base: all.base.clone(),
        open: Some(if ceases { [careful, hopeful] } else { [hopeful, careful] }),
        share: at_answer.map(&share).transpose()?,
        sample: Some(all.sample_words()),
        looked: Looked::new(looked.into_inner().unwrap_or_else(PoisonError::into_inner), &range),
        asked,
        key: args.so_that.split(['<', '>', '=', '!']).next().unwrap_or_default().trim().to_owned(),
        study,
        found,
        table,
    })
}

/// The population at one value of the unknown; always the same units, so that values can be compared.
fn count_at(study: &Study, all: &Prepared, args: &FindArgs, of: Of, at: (&str, f64)) -> Result<Counted, Error> {
    let base = study.base.with_numbers(&[at])?;
    let people = &args.people;
    let plan = PopulationPlan::new(&all.population, &base, people.design(), people.runs(), None, args.common.seed())?;
    let units = plan.len();
    let here = Study { base, plan: std::sync::Arc::new(plan), ..study.clone() };
    let holds = |row: &Row| match of {
        Of::Passing => all.conditions.iter().all(|c| meets(&here, c, row)),
        Of::Spilling => row.cells.first().and_then(Cell::number).is_some_and(|v| v > crate::bench::FIRST_VOLUME),
    };
    let (mut met, mut failed, mut missing, mut reason) = (0, 0, 0, None);
    // Blocks keep memory independent of the number of units.
    let mut from = 0;
    while from < units {
        let to = (from + 1024).min(units);
        let rows: Vec<Row> = (from..to).into_par_iter().map(|i| here.row(i)).collect();
        for row in rows {
            if row.failed.is_some() {
                failed += 1;
                reason = reason.or(row.failed);
                continue;
            }
            missing += u64::from(row.cells.contains(&Cell::Missing));
            met += u64::from(holds(&row));
        }
        from = to;
    }
    let share = crate::study::statistics::share(met, units - failed);
    Ok(Counted { share, units, failed, missing, reason })
}
