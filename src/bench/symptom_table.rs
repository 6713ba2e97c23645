//! Symptoms of many faults at many severities, worked out on all processors.

use super::symptoms::{Symptoms, started, symptoms, tested};
use crate::assembly::Settings;
use crate::error::Error;
use crate::faults::Fault;
use crate::rig::Rig;
use rayon::prelude::*;

/// Severities of a symptom table.
pub const SEVERITIES: [f64; 5] = [0.0, 0.25, 0.5, 0.75, 1.0];

/// One row of a symptom table.
#[derive(Debug, Clone)]
pub struct SymptomRow {
    /// The fault.
    pub fault: &'static Fault,
    /// How severe.
    pub severity: f64,
    /// The true quantity it moves, SI; `None` if nothing goes by degrees or this assembly has none.
    pub truth: Option<f64>,
    /// What comes out.
    pub symptoms: Symptoms,
}

/// One row.
///
/// # Errors
/// [`Error::DoesNotApply`] and what the changed settings refuse.
pub fn symptom_row(settings: &Settings, fault: &'static Fault, severity: f64) -> Result<SymptomRow, Error> {
    row(settings, fault, severity, &started(settings)?)
}

/// One row; `as_new` is the start-up of the unchanged assembly.
fn row(settings: &Settings, fault: &'static Fault, severity: f64, as_new: &Symptoms) -> Result<SymptomRow, Error> {
    let changed = settings.with_fault(fault.name, severity)?;
    let truth = fault.truth.value(&changed, &Rig::from_settings(&changed)?)?;
    // Gauge and hand have no part in the start-up, nor have cocks and screws that are shut.
    let shut = |path: &str| settings.number(path).is_ok_and(|v| v == 0.0);
    let all_shut = shut("cock1.turns") && shut("cock2.turns") && shut("bleed_screw.opening");
    let of_the_test = |path: &str| {
        let tapped = ["cock1.area", "cock2.area", "bleed_screw.area"].contains(&path);
        (tapped && all_shut) || ["gauge.", "hand.", "tube.", "test."].iter().any(|g| path.starts_with(g))
    };
    let same = severity == 0.0 || fault.changes.iter().flat_map(|c| c.paths()).all(of_the_test);
    let mut symptoms = if same { Symptoms { field_test: None, ..as_new.clone() } } else { started(&changed)? };
    match (severity == 0.0, &as_new.field_test) {
        (true, Some(_)) => symptoms.field_test = as_new.field_test.clone(),
        _ => tested(&changed, &mut symptoms)?,
    }
    Ok(SymptomRow { fault, severity, truth, symptoms })
}

/// Rows of `faults` (those that apply) at `severities`, worked out on all processors; `done` is called after each.
///
/// # Errors
/// The first [`Error`] other than a fault that does not apply.
pub fn symptom_table(
    settings: &Settings,
    faults: &[&'static Fault],
    severities: &[f64],
    done: &(dyn Fn() + Sync),
) -> Result<Vec<SymptomRow>, Error> {
    let applying = faults.iter().filter(|f| f.unmet(settings).is_none());
    let jobs: Vec<(&'static Fault, f64)> = applying.flat_map(|f| severities.iter().map(|s| (*f, *s))).collect();
    let as_new = symptoms(settings)?;
    jobs.into_par_iter()
        .map(|(fault, severity)| {
            let row = row(settings, fault, severity, &as_new);
            done();
            row
        })
        .collect()
}
