//! `sequence`: from the arguments to text, document, table and charts.

use super::args::Sequence as Args;
use super::caution::Caution;
use super::conditions::Conditions;
use super::problem::Problem;
use super::{files, picture, report, table, text, warning};
use crate::assembly::{Resolver, Settings};
use crate::bench::{DocumentContext, Sequence, SequenceDocument, line_start_up, sequence};
use crate::charts::{encode_sheet, lay_out_sequence};
use crate::rig::{Feed, Rig, options};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::time::Instant;

/// Folder of the charts unless one is named.
const OUT: &str = "output";

pub(super) fn run(args: &Args, out: &mut dyn Write, err: &mut dyn Write, columns: usize) -> Result<(), Problem> {
    let settings = resolve(args)?;
    let rig = Rig::from_settings(&settings)?;
    let options = options(&settings)?;
    let charts = chart_paths(args, &settings);
    let paths: Vec<PathBuf> = charts.iter().cloned().chain(args.shared.csv.clone()).collect();
    let places = files::check(&paths, &inputs(args, &settings)?)?;

    let start = Instant::now();
    let run = sequence(&rig, &options)?;
    let wall_s = start.elapsed().as_secs_f64();
    // A side figure: without it the run is still whole.
    let start_up = match &rig.feed {
        Feed::Line(line) => line_start_up(line, &rig.fluid).ok().flatten(),
        Feed::Recorded(_) => None,
    };

    let system = args.shared.units.into();
    let hash = settings.sha256(env!("CARGO_PKG_VERSION"));
    let notices = warning::warnings(&rig, &run, system);
    let cautions = cautions(&run);
    let conditions = Conditions {
        settings: &settings,
        rig: &rig,
        system,
        files: args.files.iter().map(|f| crate::error::shown(&f.to_string_lossy())).collect(),
    };

    let mut bytes = Vec::with_capacity(paths.len());
    if !charts.is_empty() {
        let (sheet, ..) = lay_out_sequence(&picture::sequence(&run, &conditions, &hash)?);
        for path in &charts {
            bytes.push(encode_sheet(&sheet, path)?);
        }
    }
    if args.shared.csv.is_some() {
        bytes.push(table::samples(&run.samples)?);
    }
    files::write(&places.iter().zip(bytes).collect::<Vec<_>>())?;

    for notice in notices.iter().filter(|n| !args.every.quiet && (args.shared.json || !report::said_in_text(n.warning)))
    {
        // A warning that cannot be shown is still in the document.
        let _ = err.write_all(text::wrapped(&format!("warning: {}", notice.words), columns, 0, 9).as_bytes());
    }
    let text = match args.shared.json {
        true => document(
            DocumentContext {
                assembly: settings.assembly().to_owned(),
                inputs_sha256: hash,
                options,
                wall_s,
                line_start_up_s: start_up,
                warnings: notices.iter().map(|n| n.warning.id()).collect(),
                cautions: cautions.iter().map(|c| c.id()).collect(),
            },
            &run,
        )?,
        false => report::sequence(&run, &conditions, start_up, &notices, &paths, &cautions, columns)?,
    };
    text::print(out, &text)
}

fn resolve(args: &Args) -> Result<Settings, Problem> {
    let mut resolver = Resolver::new();
    if let Some(name) = &args.shared.assembly {
        resolver = resolver.assembly(name);
    }
    resolver = args.files.iter().fold(resolver, |r, file| r.file(file));
    resolver = args.shared.set.iter().fold(resolver, |r, set| r.set(set));
    Ok(resolver.resolve()?)
}

/// All files a run reads; none of them may be written over.
fn inputs<'a>(args: &'a Args, settings: &'a Settings) -> Result<Vec<&'a Path>, Problem> {
    let mut all: Vec<&Path> = args.files.iter().map(PathBuf::as_path).collect();
    for field in ["check.load_curve", "air_inlet.load_curve", "supply.trace"] {
        all.extend(settings.path(field)?);
    }
    Ok(all)
}

/// The charts asked for by name, and those of the folder unless only others were asked for.
fn chart_paths(args: &Args, settings: &Settings) -> Vec<PathBuf> {
    let shared = &args.shared;
    let mut paths: Vec<PathBuf> = shared.chart.iter().map(|c| c.path.clone()).collect();
    if shared.out.is_some() || (!shared.json && shared.chart.is_empty()) {
        let folder = shared.out.as_deref().unwrap_or(Path::new(OUT));
        let name = format!("sequence-{}", settings.assembly());
        paths.extend(["svg", "png"].map(|ending| folder.join(format!("{name}.{ending}"))));
    }
    paths
}

/// Water that has spilled has been drinking water.
fn cautions(run: &Sequence) -> Vec<Caution> {
    let spilled = run.spill_m3 + run.rebound_spill_m3 > crate::bench::FIRST_VOLUME || run.spilling_at_end;
    Caution::ALL.into_iter().filter(|c| *c != Caution::PotableWater || spilled).collect()
}

fn document(context: DocumentContext, run: &Sequence) -> Result<String, Problem> {
    let document = SequenceDocument::new(run, context);
    let text = serde_json::to_string_pretty(&document).map_err(|e| Problem::Encode(e.to_string()))?;
    Ok(text + "\n")
}
