//! What a fault looks like: an assembly with it, run through what people do to it.
//!
//! Nothing here is typed in: each figure comes from turning the water on ([`super::sequence`]) and from a field test of the
//! changed assembly.

use super::sequence::{Order, sequence};
use crate::assembly::Settings;
use crate::error::Error;
use crate::faults::{Class, Fault};
use crate::rig::{Rig, options};
use rayon::prelude::*;
use serde::Serialize;

/// Severities of a symptom table.
pub const SEVERITIES: [f64; 5] = [0.0, 0.25, 0.5, 0.75, 1.0];

/// Figures of one changed assembly.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Symptoms {
    /// Which part moves first when the water is turned on; `None` if that run could not be completed.
    pub order: Option<Order>,
    /// Water out of the air inlet in that run, m3.
    pub spill_m3: Option<f64>,
    /// Whether it still spills at the end.
    pub spilling_at_end: Option<bool>,
    /// Water out through the relief in that run, m3.
    pub relieved_m3: Option<f64>,
    /// Zone 2 at the end of that run, Pa gauge.
    pub zone2_pa_gauge: Option<f64>,
    /// Sequence margin, Pa.
    pub sequence_margin_pa: Option<f64>,
    /// Pressure difference the check holds by the static sum, Pa.
    pub check_holds_pa: f64,
    /// Pressure at which the air inlet starts to open by the static sum, Pa gauge.
    pub inlet_opens_pa_gauge: Option<f64>,
    /// Why a run could not be completed.
    pub not_completed: Vec<String>,
}

/// Runs what people do to an assembly.
///
/// # Errors
/// [`Error`] if the settings make no rig. A run that cannot be completed is no error: it is told in the result.
pub fn symptoms(settings: &Settings) -> Result<Symptoms, Error> {
    let rig = Rig::from_settings(settings)?;
    let statics = rig.statics();
    let mut all = Symptoms {
        order: None,
        spill_m3: None,
        spilling_at_end: None,
        relieved_m3: None,
        zone2_pa_gauge: None,
        sequence_margin_pa: statics.sequence_margin_pa,
        check_holds_pa: statics.check_settles_pa,
        inlet_opens_pa_gauge: statics.inlet_opens_pa_gauge,
        not_completed: Vec::new(),
    };
    match sequence(&rig, &options(settings)?) {
        Ok(run) => {
            all.order = Some(run.order);
            all.spill_m3 = Some(run.spill_m3 + run.rebound_spill_m3);
            all.spilling_at_end = Some(run.spilling_at_end);
            all.relieved_m3 = Some(run.relieved_m3);
            all.zone2_pa_gauge = Some(run.last.zone2_pa_gauge);
        }
        Err(failure) => all.not_completed.push(format!("turning the water on: {failure}")),
    }
    Ok(all)
}

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
    let changed = settings.with_fault(fault.name, severity)?;
    let truth = fault.truth.value(&changed, &Rig::from_settings(&changed)?)?;
    Ok(SymptomRow { fault, severity, truth, symptoms: symptoms(&changed)? })
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
    jobs.into_par_iter()
        .map(|(fault, severity)| {
            let row = symptom_row(settings, fault, severity);
            done();
            row
        })
        .collect()
}

/// Faults of these classes.
pub fn of_classes(classes: &[Class]) -> Vec<&'static Fault> {
    crate::faults::all().filter(|f| classes.contains(&f.class)).collect()
}
