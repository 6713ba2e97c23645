//! The JSON document of `faults`.

use super::Tested;
use crate::assembly::Settings;
use crate::bench::{Shown, Symptoms};
use crate::cli::caution::Caution;
use crate::cli::problem::Problem;
use crate::cli::text::json;
use crate::faults::{self, Class, Component, Fault, Way, look_alikes, not_expressed};
use crate::units::exact_text;
use serde::Serialize;

/// Schema of the document.
const SCHEMA: &str = "poppetry/faults/1";

#[derive(Serialize)]
struct TruthDocument {
    name: &'static str,
    way: Option<Way>,
}

#[derive(Serialize)]
struct RemedyDocument {
    parts: Vec<&'static str>,
    words: String,
}

#[derive(Serialize)]
struct FaultDocument {
    name: &'static str,
    class: Class,
    component: Component,
    what: &'static str,
    physics: &'static str,
    mapping: Vec<String>,
    range_from: faults::Origin,
    needs: Vec<&'static str>,
    applies: bool,
    why_not: Option<String>,
    truth: TruthDocument,
    remedy: RemedyDocument,
    look: &'static str,
    look_alikes: Vec<&'static str>,
}

#[derive(Serialize)]
struct RowDocument<'a> {
    fault: &'static str,
    severity: f64,
    truth_si: Option<f64>,
    #[serde(flatten)]
    symptoms: &'a Symptoms,
    unsound: Vec<&'static str>,
    deceives: bool,
}

#[derive(Serialize)]
struct TestedDocument<'a> {
    assembly: &'a str,
    inputs_sha256: String,
    rows: Vec<RowDocument<'a>>,
}

#[derive(Serialize)]
struct LookAlikeDocument {
    name: &'static str,
    seen: &'static str,
    taken_for: &'static str,
    why: &'static str,
    tell: &'static str,
    faults: &'static [&'static str],
    verdict: &'static str,
}

#[derive(Serialize)]
struct FindingDocument {
    what: &'static str,
    value_si: f64,
    text: String,
}

#[derive(Serialize)]
struct Library<'a> {
    schema: &'static str,
    assembly: &'a str,
    inputs_sha256: String,
    faults: Vec<FaultDocument>,
    symptoms: Vec<TestedDocument<'a>>,
    look_alikes: Vec<LookAlikeDocument>,
    not_expressed: &'static [not_expressed::NotExpressed],
    warnings: Vec<&'static str>,
    cautions: Vec<&'static str>,
}

#[derive(Serialize)]
struct ShownDocument {
    schema: &'static str,
    assembly: &'static str,
    inputs_sha256: String,
    look_alike: LookAlikeDocument,
    run: &'static str,
    findings: Vec<FindingDocument>,
    borne_out: bool,
    warnings: Vec<&'static str>,
    cautions: Vec<&'static str>,
}

fn hash(settings: &Settings) -> String {
    settings.sha256(env!("CARGO_PKG_VERSION"))
}

fn fault(f: &'static Fault, settings: &Settings) -> FaultDocument {
    let why_not = f.unmet(settings);
    let remedy = f.remedy(settings);
    FaultDocument {
        name: f.name,
        class: f.class,
        component: f.component,
        what: f.what,
        physics: f.physics,
        mapping: f.mapping(),
        range_from: f.from,
        needs: f.needs.iter().map(|n| n.words()).collect(),
        applies: why_not.is_none(),
        why_not,
        truth: TruthDocument { name: f.truth.words(), way: f.truth.way() },
        remedy: RemedyDocument { parts: remedy.parts, words: remedy.words },
        look: f.look,
        look_alikes: look_alikes::of_fault(f.name).map(|l| l.name).collect(),
    }
}

fn alike(l: &'static look_alikes::LookAlike) -> LookAlikeDocument {
    LookAlikeDocument {
        name: l.name,
        seen: l.seen,
        taken_for: l.taken_for,
        why: l.why,
        tell: l.tell,
        faults: l.faults,
        verdict: look_alikes::VERDICT,
    }
}

/// The library, or one fault of it, with the rows that were worked out.
pub(super) fn library(
    settings: &Settings,
    only: Option<&'static Fault>,
    tested: &[&Tested],
    cautions: &[Caution],
) -> Result<String, Problem> {
    let symptoms = tested
        .iter()
        .map(|t| {
            let resistant = super::spill_resistant(&t.settings);
            TestedDocument {
                assembly: t.settings.assembly(),
                inputs_sha256: hash(&t.settings),
                rows: t
                    .rows
                    .iter()
                    .map(|r| RowDocument {
                        fault: r.fault.name,
                        severity: r.severity,
                        truth_si: r.truth,
                        symptoms: &r.symptoms,
                        unsound: r.symptoms.unsound(resistant),
                        deceives: r.symptoms.deceives(resistant),
                    })
                    .collect(),
            }
        })
        .collect();
    let document = Library {
        schema: SCHEMA,
        assembly: settings.assembly(),
        inputs_sha256: hash(settings),
        faults: faults::all().filter(|f| only.is_none_or(|o| o.name == f.name)).map(|f| fault(f, settings)).collect(),
        symptoms,
        look_alikes: look_alikes::ALL.iter().map(alike).collect(),
        not_expressed: not_expressed::ALL,
        warnings: Vec::new(),
        cautions: Caution::ids(cautions),
    };
    json(&document)
}

pub(super) fn look_alike(shown: &Shown, cautions: &[Caution]) -> Result<String, Problem> {
    let settings = crate::assembly::Resolver::new().assembly(shown.assembly).resolve().map_err(Problem::from)?;
    json(&ShownDocument {
        schema: SCHEMA,
        assembly: shown.assembly,
        inputs_sha256: hash(&settings),
        look_alike: alike(shown.look_alike),
        run: shown.run,
        findings: shown
            .findings
            .iter()
            .map(|f| FindingDocument { what: f.what, value_si: f.si, text: exact_text(f.kind, f.si) })
            .collect(),
        borne_out: shown.borne_out,
        warnings: Vec::new(),
        cautions: Caution::ids(cautions),
    })
}
