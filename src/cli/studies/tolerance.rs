//! `tolerance`: a population instead of one unit: how many pass, how many spill, and which input decides.

use super::args::{Common, Kept, Long};
use super::population::{self, People};
use super::population_charts::sheet;
use super::population_report::Told;
use super::report::Said;
use super::session::{self, Asked, Places};
use super::summary::Summary;
use crate::charts::encode_sheet;
use crate::cli::caution::Caution;
use crate::cli::problem::Problem;
use crate::cli::text::{self, wrapped};
use crate::error::Error;
use crate::study::analysis::analyse;
use crate::study::{Condition, Header, Lines, Row, Shard, Study, sha256};
use crate::units::System;
use clap::Args;
use serde_json::json;
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
    let example = super::check_outputs(&study)?;
    super::check_conditions(&study, &all.conditions, &example)?;

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
    if analysis.failed == analysis.units {
        return Err(none_ran(&summary, places.finish()?.as_deref()));
    }
    let said = Said { study: &study, summary: &summary, outcome: &outcome, args: &args.common, identity: &identity };
    let told = Told::new(&said, &all, &analysis, system);
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
