//! `sweep`: many runs over a range of one to three fields, or over the rows of a table.

use super::args::{self, Chart, Common, Kept, Long};
use super::grid::{Drawn, MOST_DRAWN};
use super::report::{self, Said};
use super::session::{self, Places};
use super::summary::Summary;
use crate::assembly::Settings;
use crate::charts::encode_sheet;
use crate::cli::problem::Problem;
use crate::cli::{files, interrupt, text};
use crate::error::{At, Error, Source};
use crate::study::{Axis, Column, Grid, Level, Lines, Plan, Study, Table, Until, table_file};
use crate::units::System;
use clap::Args;
use serde_json::{Value as Json, json};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Charts there are.
const CHARTS: [&str; 3] = ["map", "multiples", "curves"];
/// Most rows that stand inside a document.
pub(super) const IN_DOCUMENT: u64 = 20_000;
/// What is recorded unless asked otherwise.
const RECORDED: [&str; 3] = ["sequence.order", "sequence.sequence_margin_pa", "sequence.spill_m3"];
/// And of the demo, whose runs end before all has spilled.
const DEMO_RECORDED: [&str; 2] = ["sequence.order", "sequence.sequence_margin_pa"];

/// `sweep`.
#[derive(Debug, Args)]
#[command(after_help = "\
With no FILE, --vary and --vary-from it runs the built-in demo: the order map of svb-diaphragm over the loads of air inlet
and check, small multiples over supply pressure and seat wear. Any value of a command's JSON can be recorded, for example
sequence.final.zone2_pa_gauge. One row a run goes to DIR/sweep-ASSEMBLY.csv; while the study runs its journal stands beside
it. A failed run is a row with its reason.

  poppetry sweep --assembly svb-diaphragm --vary \"air_inlet.load=0.8:2:25 psi\" --vary \"check.load=0.8:3:45 psi\"
  poppetry sweep mine.toml --vary \"shutoff1.opening_time=0.05:60:20 s log\" --record sequence.spill_m3

On a cluster: --shard K/N in each job, then --merge *.shard --csv whole.csv.

Charts: map, multiples, curves")]
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
    #[arg(long, value_name = "SHARD", num_args = 1.., conflicts_with_all = ["vary", "vary_from", "record", "resume", "shard", "files"])]
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
        return merge(args, out, columns);
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
    super::check_outputs(&study)?;

    let system: System = args.common.units.into();
    let places = prepare(args, &study, &points)?;
    let outcome = session::carry_out(&study, &places.session, &args.common, args.long.resume)?;

    let mut summary = Summary::new(&study.outputs);
    let mut drawn = points
        .grid
        .as_ref()
        .filter(|_| points.plan.len() <= MOST_DRAWN && args.long.shard.is_none())
        .and_then(|grid| Drawn::new(grid, &study.outputs, system));
    let inside = args.common.json && places.session.table.is_none();
    let mut rows: Vec<Json> = Vec::new();
    let mut lines = Lines::open(places.session.journal())?;
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
        let page = said.page(&boundaries)?;
        let base = |path: &str| study.base.number(path).ok();
        let sheets = drawn.charts(&page, &base);
        let mut bytes = Vec::new();
        for (chart, place) in &places.charts {
            match sheets.iter().find(|(name, _)| *name == chart.name) {
                Some((_, sheet)) => bytes.push((place, encode_sheet(sheet, &chart.path)?)),
                None if chart.asked => {
                    let words = format!("warning: this study has no chart \"{}\"", chart.name);
                    let _ = err.write_all(text::wrapped(&words, columns, 0, 9).as_bytes());
                }
                None => {}
            }
        }
        files::write(&bytes)?;
        written.extend(bytes.iter().map(|(place, _)| place.shown.clone()));
    }
    written.extend(places.session.finish()?);
    for notice in report::warnings(&summary).iter().filter(|_| !args.common.quiet && args.common.json) {
        let _ = err.write_all(text::wrapped(&format!("warning: {notice}"), columns, 0, 9).as_bytes());
    }
    let printed = match args.common.json {
        true => {
            let mut document = said.document("sweep", axes(&points), &heads);
            if let Json::Object(map) = &mut document {
                match written.last().filter(|_| !inside) {
                    Some(file) => map.insert("file".to_owned(), json!(file.display().to_string())),
                    None => map.insert("rows".to_owned(), Json::Array(rows)),
                };
                let list: Vec<Json> = boundaries.iter().map(report::boundary_json).collect();
                map.insert("boundaries".to_owned(), Json::Array(list));
            }
            report::pretty(&document)?
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

fn axes(points: &Points) -> Json {
    let column = |c: &Column| {
        let values = points.grid.as_ref().and_then(|g| g.axes.iter().find(|a| a.path == c.path)).map(|a| &a.values);
        json!({"path": c.path, "unit": c.kind.map(crate::study::si_symbol), "values": values})
    };
    points.plan.columns().iter().map(column).collect()
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

/// Table, journal and charts, all checked.
struct Prepared {
    session: Places,
    charts: Vec<(Wanted, files::Destination)>,
}

struct Wanted {
    name: &'static str,
    path: PathBuf,
    asked: bool,
}

fn prepare(args: &SweepArgs, study: &Study, points: &Points) -> Result<Prepared, Problem> {
    let common = &args.common;
    let folder = args.kept.out.as_deref().unwrap_or(Path::new(super::OUT));
    let stem = format!("sweep-{}", study.base.assembly());
    let to_folder = args.kept.out.is_some() || !common.json;
    let table = match &args.kept.csv {
        Some(path) => Some(path.clone()),
        None if to_folder || args.long.shard.is_some() || args.long.resume => Some(folder.join(format!("{stem}.csv"))),
        None => None,
    };
    if table.is_none() && study.plan.len() > IN_DOCUMENT {
        let message = format!("{} rows are too many for one document; name a table with --csv", study.plan.len());
        return Err(Error::Syntax { at: At::whole(Source::Option("--json")), message }.into());
    }
    let asked: Vec<Chart> = args.kept.chart.iter().map(|c| args::chart(c, &CHARTS)).collect::<Result<_, _>>()?;
    let mut wanted: Vec<Wanted> =
        asked.into_iter().map(|c| Wanted { name: c.name, path: c.path, asked: true }).collect();
    if points.grid.is_some()
        && args.long.shard.is_none()
        && (args.kept.out.is_some() || (!common.json && wanted.is_empty()))
    {
        let axes = points.grid.as_ref().map_or(0, |g| g.axes.len());
        let names: &[&'static str] = match axes {
            0 | 1 => &["curves"],
            2 => &["map"],
            _ => &["map", "multiples"],
        };
        for name in names {
            for ending in ["svg", "png"] {
                let path = folder.join(format!("{stem}-{name}.{ending}"));
                wanted.push(Wanted { name, path, asked: false });
            }
        }
    }
    let paths: Vec<PathBuf> = wanted.iter().map(|w| w.path.clone()).collect();
    let mut inputs = super::inputs(common, &study.base)?;
    inputs.extend(args.vary_from.as_deref());
    let (session, checked) = Places::new(table, &args.long, &paths, &inputs)?;
    Ok(Prepared { session, charts: wanted.into_iter().zip(checked).collect() })
}

fn merge(args: &SweepArgs, out: &mut dyn Write, columns: usize) -> Result<(), Problem> {
    let mut merged = table_file::Merged::open(&args.merge)?;
    let folder = args.kept.out.as_deref().unwrap_or(Path::new(super::OUT));
    let assembly = merged.header.study.get("assembly").and_then(Json::as_str).unwrap_or("study").to_owned();
    let table = args.kept.csv.clone().unwrap_or_else(|| folder.join(format!("sweep-{assembly}.csv")));
    let inputs: Vec<&Path> = args.merge.iter().map(PathBuf::as_path).collect();
    let checked = files::check(std::slice::from_ref(&table), &inputs)?;
    let head = merged.header.table_head();
    let identity = merged.header.inputs_sha256();
    let heads = merged.header.columns.clone();
    files::folders(&checked)?;
    let rows = {
        let _whole = interrupt::hold();
        table_file::write_lines(&table, &head, &mut merged)?
    };
    let printed = match args.common.json {
        true => report::pretty(&json!({
            "schema": "poppetry/sweep/1",
            "assembly": assembly,
            "inputs_sha256": identity,
            "columns": heads,
            "file": table.display().to_string(),
            "runs": rows,
            "merged": args.merge.len(),
            "warnings": [],
            "cautions": report::cautions().iter().map(|c| c.id()).collect::<Vec<_>>(),
        }))?,
        false => {
            let words = format!("{rows} runs from {} parts, in order: {}", args.merge.len(), table.display());
            format!("{}\n{}", text::wrapped(&words, columns, 0, 2), report::caution_text(columns))
        }
    };
    text::print(out, &printed)
}
