//! `sweep --merge`: the parts of a sweep joined to its table, and drawn as the whole would be.

use super::grid::Drawn;
use super::report;
use super::summary::Summary;
use super::sweep::{CHARTS, SweepArgs, axes, usual};
use crate::charts::encode_sheet;
use crate::cli::caution::Caution;
use crate::cli::problem::Problem;
use crate::cli::{files, interrupt, text};
use crate::error::{At, Error, Source};
use crate::study::table_file::{Merged, write_lines};
use crate::study::{Column, Grid, Header, Output, Until};
use crate::units::{Kind, System};
use serde_json::{Value as Json, json};
use std::io::Write;
use std::path::{Path, PathBuf};

/// What the parts say of their study.
struct Described<'a> {
    header: &'a Header,
    grid: Option<Grid>,
    outputs: Vec<Output>,
    columns: Vec<Column>,
}

impl Described<'_> {
    fn new<'a>(merged: &Merged, header: &'a Header) -> Result<Described<'a>, Error> {
        let list = |key: &str| header.study.get(key).and_then(Json::as_array).into_iter().flatten();
        let at = At::whole(Source::Study);
        let columns = match merged.plan() {
            Some(plan) => plan.columns().to_vec(),
            // A population tells only how its points were drawn.
            None => header.columns.iter().skip(1).take(header.points).map(|head| Column::of_head(head)).collect(),
        };
        Ok(Described {
            header,
            grid: header.study.get("plan").and_then(Grid::described),
            outputs: list("record")
                .filter_map(Json::as_str)
                .map(|key| Output::parse(key, &at))
                .collect::<Result<_, _>>()?,
            columns,
        })
    }

    fn word(&self, key: &str) -> &str {
        self.header.study.get(key).and_then(Json::as_str).unwrap_or("study")
    }

    fn setting(&self, path: &str) -> Option<&Json> {
        self.header.study.get("settings")?.get(path)
    }

    fn number(&self, path: &str) -> Option<f64> {
        self.setting(path).and_then(Json::as_f64)
    }

    fn until(&self) -> Until {
        Until::ALL.into_iter().find(|u| u.word() == self.word("until")).unwrap_or_default()
    }

    fn conditions(&self, system: System) -> String {
        report::conditions(&|path| self.number(path), &self.columns, self.until(), system)
    }
}

pub(super) fn merge(args: &SweepArgs, out: &mut dyn Write, err: &mut dyn Write, columns: usize) -> Result<(), Problem> {
    let merged = Merged::open(&args.merge)?;
    let header = merged.header.clone();
    let study = Described::new(&merged, &header)?;
    let system: System = args.common.units.into();
    let assembly = study.word("assembly");
    let stem = format!("sweep-{assembly}");
    let table = args.kept.csv.clone().unwrap_or_else(|| args.kept.folder().join(format!("{stem}.csv")));
    // The parts may be of a study that has no chart: only what is asked for is drawn.
    let known = usual(study.grid.as_ref(), &study.outputs, None);
    let charts = args.kept.charts(&stem, true, (&CHARTS, known))?;
    let inputs: Vec<&Path> = args.merge.iter().map(PathBuf::as_path).collect();
    let all: Vec<PathBuf> = std::iter::once(table.clone()).chain(charts.iter().map(|c| c.path.clone())).collect();
    let places = files::check(&all, &inputs)?;
    files::folders(&places)?;

    let identity = header.inputs_sha256();
    let mut summary = Summary::new(&study.outputs);
    let drawn = study.grid.as_ref().filter(|_| !known.is_empty());
    let mut drawn = drawn.and_then(|grid| Drawn::new(grid, &study.outputs, system));
    {
        let _whole = interrupt::hold();
        let mut lines = merged.map(|row| {
            let (row, line) = row?;
            summary.add(&row);
            if let Some(drawn) = &mut drawn {
                drawn.add(&row);
            }
            Ok(line)
        });
        write_lines(&table, &header.table_head(), &mut lines)?;
    }
    let boundaries = drawn.as_ref().map(Drawn::boundaries).unwrap_or_default();
    let mut written = vec![table.clone()];
    if let Some(drawn) = &drawn {
        let size = study.setting("size").and_then(Json::as_str).unwrap_or("");
        let whole = format!("{assembly}, {size}, joined from {} parts", args.merge.len());
        let around = report::Around {
            summary: &summary,
            system,
            second: study.columns.get(1).and_then(|c| c.kind).unwrap_or(Kind::Number),
            conditions: study.conditions(system),
            assembly: whole,
            identity: &identity,
        };
        let page = |shown: &[_], runs| Ok(around.page(shown, runs));
        let sheets = drawn.charts(&boundaries, &page, &|path| study.number(path))?;
        let mut bytes = Vec::new();
        for (chart, place) in charts.iter().zip(places.iter().skip(1)) {
            match sheets.iter().find(|(name, _)| *name == chart.name) {
                Some((_, sheet)) => bytes.push((place, encode_sheet(sheet, &chart.path)?)),
                None if chart.asked => {
                    text::warn(err, &format!("this study has no chart \"{}\"", chart.name), columns);
                }
                None => {}
            }
        }
        files::write(&bytes)?;
        written.extend(bytes.iter().map(|(place, _)| place.shown.clone()));
    }
    let cautions = super::cautions(&study.outputs);
    let printed = match args.common.json {
        true => text::json(&json!({
            "schema": "poppetry/sweep/1",
            "assembly": assembly,
            "inputs_sha256": identity,
            "axes": axes(study.grid.as_ref(), &study.columns),
            "columns": header.columns,
            "file": table.display().to_string(),
            "runs": summary.runs,
            "merged": args.merge.len(),
            "failed": summary.failed,
            "failures": summary.failures(),
            "until": study.until().word(),
            "leaves_open": study.until().leaves_open(),
            "boundaries": boundaries.iter().map(super::boundaries::json_of).collect::<Vec<_>>(),
            "warnings": if summary.failed > 0 { vec!["failed-runs"] } else { Vec::new() },
            "cautions": Caution::ids(&cautions),
        }))?,
        false => {
            let failed =
                if summary.failed > 0 { format!(", {} of them failed,", summary.failed) } else { String::new() };
            let names: Vec<String> = written.iter().map(|p| p.display().to_string()).collect();
            let words = format!(
                "{} runs{failed} from {} parts, in order: {}",
                summary.runs,
                args.merge.len(),
                names.join(", ")
            );
            format!("{}\n{}", text::wrapped(&words, columns, 0, 2), Caution::paragraph(&cautions, columns))
        }
    };
    text::print(out, &printed)
}
