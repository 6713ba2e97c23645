//! `assemblies`: what is built in, and its complete files.

use super::args::Assemblies;
use super::caution::Caution;
use super::compare::{self, Construction};
use super::problem::Problem;
use super::{frame, text};
use crate::assembly::builtin::names;
use crate::assembly::{Settings, fields};
use crate::study::si_symbol;
use crate::units::{Kind, format};
use serde::Serialize;
use serde_json::Value;
use std::io::Write;

/// Schema of the document.
const SCHEMA: &str = "poppetry/assemblies/1";

pub(super) fn run(args: &Assemblies, out: &mut dyn Write, columns: usize) -> Result<(), Problem> {
    if args.table {
        let all = Construction::all()?;
        if args.json {
            let figures = all.iter().map(Figures::of).collect::<Result<_, _>>()?;
            return text::print(out, &text::json(&Document { figures: Some(figures), ..Document::new() })?);
        }
        let caution = Caution::paragraph(&[Caution::NotATestResult], columns);
        let system = args.units.into();
        let supply = all[0].settings.number("supply.pressure")?;
        let note = format!(
            "Invented, generic units at 1 in, {}, shutoff 1 opened in 1 s, zone 1 brimful, zone 2 empty.",
            format(Kind::GaugePressure, supply, system)
        );
        let table = compare::constructions(&all, system, columns)?;
        return text::print(out, &format!("{table}\n{}\n{caution}", text::wrapped(&note, columns, 0, 0)));
    }
    let Some(name) = &args.name else {
        return text::print(out, &if args.json { text::json(&Document::new())? } else { list() });
    };
    let settings = frame::resolver(Some(name), &[], &args.set, &args.fault).resolve()?;
    if args.json {
        return text::print(out, &text::json(&Document::of(&settings))?);
    }
    let caution = text::wrapped(Caution::NotATestResult.words(), 100, 0, 0);
    let caution: String = caution.lines().map(|line| format!("# {line}\n")).collect();
    text::print(out, &format!("{}\n{caution}", settings.to_toml()))
}

fn list() -> String {
    let widest = names().map(|(name, _)| name.len()).max().unwrap_or(0);
    let lines: String = names().map(|(name, summary)| format!("{name:widest$}  {summary}\n")).collect();
    format!(
        "{lines}\nAll are invented, generic units, not any product. `poppetry assemblies NAME > mine.toml` writes a complete \
         file\nto edit; `poppetry sequence mine.toml` runs it. `poppetry assemblies --table` compares constructions.\n"
    )
}

/// What `assemblies --json` prints: the built-ins; every field of one; or the figures that compare them.
#[derive(Serialize)]
struct Document<'a> {
    schema: &'static str,
    assembly: Option<&'a str>,
    inputs_sha256: Option<String>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    assemblies: Vec<Listed>,
    #[serde(skip_serializing_if = "Option::is_none")]
    fields: Option<Vec<FieldLine<'a>>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    figures: Option<Vec<Figures>>,
    warnings: [&'static str; 0],
    cautions: Vec<&'static str>,
}

#[derive(Serialize)]
struct Listed {
    name: &'static str,
    summary: &'static str,
}

#[derive(Serialize)]
struct FieldLine<'a> {
    path: &'static str,
    /// SI.
    value: Value,
    /// The SI unit of numbers, empty for plain ones and for words.
    unit: String,
    /// As written.
    text: &'a str,
    provenance: &'static str,
    note: &'a str,
    meaning: &'static str,
    takes: String,
    rule: Option<String>,
}

#[derive(Serialize)]
struct Figures {
    name: &'static str,
    check_lifts_pa: f64,
    inlet_shut_pa_gauge: Option<f64>,
    inlet_opens_pa_gauge: Option<f64>,
    sequence_margin_pa: Option<f64>,
    lap_margin_m: Option<f64>,
    spill_m3: f64,
    rated_flow_m3_s: f64,
    loss_pa: f64,
}

impl<'a> Document<'a> {
    fn new() -> Self {
        Document {
            schema: SCHEMA,
            assembly: None,
            inputs_sha256: None,
            assemblies: names().map(|(name, summary)| Listed { name, summary }).collect(),
            fields: None,
            figures: None,
            warnings: [],
            cautions: Caution::ids(&[Caution::NotATestResult]),
        }
    }

    fn of(settings: &'a Settings) -> Self {
        let line = |field: &'static fields::Field| {
            let setting = settings.get(field.path)?;
            Some(FieldLine {
                path: field.path,
                value: settings.json_value(field.path, setting),
                unit: field.number_kind().map(si_symbol).unwrap_or_default(),
                text: &setting.text,
                provenance: setting.provenance.word(),
                note: &setting.note,
                meaning: field.doc,
                takes: field.expected(),
                rule: field.number_kind().map(|_| field.rule.words()),
            })
        };
        Document {
            assembly: Some(settings.assembly()),
            inputs_sha256: Some(settings.sha256(env!("CARGO_PKG_VERSION"))),
            assemblies: Vec::new(),
            fields: Some(fields::fields().filter_map(line).collect()),
            ..Document::new()
        }
    }
}

impl Figures {
    fn of(c: &Construction) -> Result<Self, Problem> {
        let s = &c.run.statics;
        Ok(Figures {
            name: c.name,
            check_lifts_pa: s.check_lifts_pa,
            inlet_shut_pa_gauge: s.inlet_shut_pa_gauge,
            inlet_opens_pa_gauge: s.inlet_opens_pa_gauge,
            sequence_margin_pa: s.sequence_margin_pa,
            lap_margin_m: s.lap_margin_m,
            spill_m3: c.run.spill_m3,
            rated_flow_m3_s: crate::bench::rated_flow(&c.rig),
            loss_pa: c.loss_pa()?,
        })
    }
}
