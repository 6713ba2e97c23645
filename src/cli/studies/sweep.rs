//! `sweep`: many runs over a range of one to three fields, or over the rows of a table.

use super::args::{Common, Kept, Long};
use super::grid::{Drawn, MOST_DRAWN};
use super::report::{self, Said};
use super::session::{self, Asked, Places};
use super::summary::Summary;
use crate::assembly::Settings;
use crate::charts::encode_sheet;
use crate::cli::problem::Problem;
use crate::cli::text;
use crate::error::{At, Error, Source};
use crate::study::analysis::MARGIN;
use crate::study::{Axis, Cell, Column, Grid, Level, Lines, Output, Plan, Study, Table, Until};
use crate::units::{Kind, System};
use clap::Args;
use serde_json::{Value as Json, json};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Charts there are.
pub(super) const CHARTS: [&str; 3] = ["map", "multiples", "curves"];
/// What is recorded unless asked otherwise.
const RECORDED: [&str; 3] = ["sequence.order", "sequence.sequence_margin_pa", "sequence.spill_m3"];
/// And of the demo, whose runs end before all has spilled.
const DEMO_RECORDED: [&str; 2] = ["sequence.order", "sequence.sequence_margin_pa"];

/// `sweep`.
#[derive(Debug, Args)]
#[command(after_help = "\
With no FILE, --vary and --vary-from it runs the built-in demo: the order map of svb-diaphragm over the loads of air inlet
and check, small multiples over supply pressure and seat wear. Any value of a command's JSON can be recorded, for example
sequence.final.zone2_pa_gauge; of field-test it is that of one try with friction as stated, where the command makes three and
draws the friction of each. One row a run goes to DIR/sweep-ASSEMBLY.csv; while the study runs its journal stands beside
it. A failed run is a row with its reason.

  poppetry sweep --assembly svb-diaphragm --vary \"air_inlet.load=0.8:2:25 psi\" --vary \"check.load=0.8:3:45 psi\"
  poppetry sweep mine.toml --vary \"shutoff1.opening_time=0.05:60:20 s log\" --record sequence.spill_m3

On a cluster: --shard K/N in each job, then --merge *.shard --csv whole.csv --chart map=whole.png.

Charts: map (two or three axes; of the first value kept), multiples (three axes; the first value kept a word, the sequence
margin kept too), curves (one axis)")]
pub(in crate::cli) struct SweepArgs {
    /// Vary a field evenly from LOW to HIGH, one to three of these
    #[arg(long, value_name = "PATH=LOW:HIGH:COUNT [unit] [log]")]
    pub vary: Vec<String>,
    /// Take the points from the rows of a CSV with heads like "check.load [psi]"
    #[arg(long, value_name = "TABLE.csv", conflicts_with = "vary")]
    pub vary_from: Option<PathBuf>,
    /// Keep this value of each run, repeatable [default: order, margin and spill of sequence]
    #[arg(long, value_name = "COMMAND.KEY")]
    pub record: Vec<String>,
    /// Join the parts that --shard wrote
    #[arg(long, value_name = "SHARD", num_args = 1.., conflicts_with_all = ["vary", "vary_from", "record", "resume", "shard", "files", "assembly", "set", "fault", "until", "threads"])]
    pub merge: Vec<PathBuf>,
    #[command(flatten)]
    pub long: Long,
    #[command(flatten)]
    pub kept: Kept,
    #[command(flatten)]
    pub common: Common,
}

/// The grid, if there is one, and the plan.
struct Points {
    grid: Option<Grid>,
    plan: Arc<dyn Plan>,
}

pub(in crate::cli) fn run(
    args: &SweepArgs,
    out: &mut dyn Write,
    err: &mut dyn Write,
    columns: usize,
) -> Result<(), Problem> {
    if !args.merge.is_empty() {
        return super::merged::merge(args, out, err, columns);
    }
    let demo = args.common.files.is_empty() && args.vary.is_empty() && args.vary_from.is_none();
    let base = settings(args, demo)?;
    let points = points(args, demo)?;
    let default = if demo { Until::OrderKnown } else { Until::Rest };
    let mut study = Study {
        base,
        plan: Arc::clone(&points.plan),
        outputs: Vec::new(),
        until: args.common.until.unwrap_or(default),
    };
    let recorded: Vec<String> = match args.record.is_empty() {
        true if study.until == Until::OrderKnown => DEMO_RECORDED.map(str::to_owned).to_vec(),
        true => RECORDED.map(str::to_owned).to_vec(),
        false => args.record.clone(),
    };
    for key in &recorded {
        study = study.record(key)?;
    }
    in_range(&study.base, &points)?;
    let example = super::check_outputs(&study)?;

    let system: System = args.common.units.into();
    let usual = usual(points.grid.as_ref(), &study.outputs, example.first());
    let asked = Asked { command: "sweep", common: &args.common, kept: &args.kept, long: &args.long };
    let places = Places::new(&asked, &study, (&CHARTS, usual), args.vary_from.as_deref())?;
    let outcome = session::carry_out(&study, &places, &args.common, args.long.resume)?;

    let mut summary = Summary::new(&study.outputs);
    let mut drawn = points
        .grid
        .as_ref()
        .filter(|_| !usual.is_empty() && args.long.shard.is_none())
        .and_then(|grid| Drawn::new(grid, &study.outputs, system));
    let inside = args.common.json && places.table.is_none();
    let mut rows: Vec<Json> = Vec::new();
    let mut lines = Lines::open(places.journal())?;
    let identity = lines.header.inputs_sha256();
    let heads = lines.header.columns.clone();
    while let Some(row) = lines.next_row() {
        let row = row?;
        summary.add(&row);
        if let Some(drawn) = &mut drawn {
            drawn.add(&row);
        }
        if inside {
            rows.push(document_row(&row));
        }
    }
    drop(lines);

    let said = Said { study: &study, summary: &summary, outcome: &outcome, args: &args.common, identity: &identity };
    let boundaries = drawn.as_ref().map(Drawn::boundaries).unwrap_or_default();
    let mut written = Vec::new();
    if let Some(drawn) = &drawn {
        let base = |path: &str| study.base.number(path).ok();
        let sheets = drawn.charts(&boundaries, &|shown, runs| said.page_of(shown, runs), &base)?;
        let encode = |name: &str, path: &Path| {
            let sheet = sheets.iter().find(|(drawn, _)| *drawn == name);
            Ok(sheet.map(|(_, sheet)| encode_sheet(sheet, path)).transpose()?)
        };
        written = places.write_charts(encode, err, columns)?;
    }
    written.extend(places.finish()?);
    if !args.common.quiet && args.common.seed.is_some() {
        text::warn(err, "--seed changes nothing: a sweep takes no random numbers", columns);
    }
    if !args.common.quiet && args.common.json {
        report::warnings(&summary).iter().for_each(|words| text::warn(err, words, columns));
    }
    let printed = match args.common.json {
        true => {
            let mut document = said.document("sweep", axes(points.grid.as_ref(), points.plan.columns()), &heads);
            if let Json::Object(map) = &mut document {
                match written.last().filter(|_| !inside) {
                    Some(file) => map.insert("file".to_owned(), json!(file.display().to_string())),
                    None => map.insert("rows".to_owned(), Json::Array(rows)),
                };
                let list: Vec<Json> = boundaries.iter().map(super::boundaries::json_of).collect();
                map.insert("boundaries".to_owned(), Json::Array(list));
            }
            text::json(&document)?
        }
        false => said.sweep(&points.plan.describe(), &boundaries, &written, columns)?,
    };
    text::print(out, &printed)
}

/// One row of a document: levels, then cells, then the reason of a failure or null.
pub(super) fn document_row(row: &crate::study::Row) -> Json {
    let level = |l: &Level| match l {
        Level::Number(v) => json!(v),
        Level::Text(t) => json!(t),
    };
    let mut cells = vec![json!(row.index + 1)];
    cells.extend(row.point.iter().map(level));
    cells.extend(row.cells.iter().map(crate::study::Cell::json));
    cells.push(json!(row.failed));
    Json::Array(cells)
}

/// What is varied, with the values of a grid.
pub(super) fn axes(grid: Option<&Grid>, columns: &[Column]) -> Json {
    let column = |c: &Column| {
        let values = grid.and_then(|g| g.axes.iter().find(|a| a.path == c.path)).map(|a| &a.values);
        json!({"path": c.path, "unit": c.kind.map(crate::study::si_symbol), "values": values})
    };
    columns.iter().map(column).collect()
}

/// The charts that a study has; `example` is the first value kept, where it is known.
pub(super) fn usual(grid: Option<&Grid>, outputs: &[Output], example: Option<&Cell>) -> &'static [&'static str] {
    let Some(grid) = grid.filter(|g| g.len() <= MOST_DRAWN) else { return &[] };
    let number = match example {
        Some(Cell::Text(_) | Cell::Flag(_)) => false,
        Some(Cell::Number(_)) => true,
        _ => outputs.first().is_some_and(|o| o.kind() != Kind::Number),
    };
    match grid.axes.len() {
        0 | 1 => &["curves"],
        2 => &["map"],
        _ if number || !outputs.iter().any(|o| o.name() == MARGIN) => &["map"],
        _ => &["map", "multiples"],
    }
}

/// A range of which the field takes no value is wrong input, not a table of failed runs.
fn in_range(base: &Settings, points: &Points) -> Result<(), Error> {
    for axis in points.grid.iter().flat_map(|grid| &grid.axes) {
        let refused = |value: &f64| match base.with_number(axis.path, *value) {
            Err(e @ (Error::OutOfRange { .. } | Error::Quantity { .. })) => Some(e),
            _ => None,
        };
        // The first that is taken ends the search.
        let mut all = axis.values.iter().map(refused);
        let first = all.next().flatten();
        if let (Some(error), true) = (first, all.all(|e| e.is_some())) {
            return Err(error);
        }
    }
    Ok(())
}

fn settings(args: &SweepArgs, demo: bool) -> Result<Settings, Problem> {
    let mut resolver = super::resolver(&args.common);
    if demo {
        if args.common.assembly.is_none() {
            resolver = resolver.assembly("svb-diaphragm");
        }
        // Opened briskly, so that the boundary of the runs stands clear of the static one.
        let set = |path: &str| args.common.set.iter().any(|s| s.split('=').next().map(str::trim) == Some(path));
        if !set("shutoff1.opening_time") {
            resolver = resolver.set("shutoff1.opening_time=0.1 s");
        }
    }
    Ok(resolver.resolve()?)
}

fn points(args: &SweepArgs, demo: bool) -> Result<Points, Problem> {
    if let Some(path) = &args.vary_from {
        return Ok(Points { grid: None, plan: Arc::new(Table::read(path)?) });
    }
    let grid = match demo {
        true => Grid::order_map()?,
        false => {
            if args.vary.len() > 3 {
                let message = format!("one to three fields can be varied at once, not {}", args.vary.len());
                return Err(Error::Syntax { at: At::whole(Source::Option("--vary")), message }.into());
            }
            if args.vary.is_empty() {
                let message = "there is nothing to vary: give PATH=LOW:HIGH:COUNT, for example --vary \
                               \"check.load=0.8:3:23 psi\"";
                return Err(
                    Error::Syntax { at: At::whole(Source::Option("--vary")), message: message.to_owned() }.into()
                );
            }
            Grid::new(args.vary.iter().map(|text| Axis::parse(text)).collect::<Result<_, _>>()?)?
        }
    };
    Ok(Points { plan: Arc::new(grid.clone()), grid: Some(grid) })
}
