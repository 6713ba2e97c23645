//! The commands beside `sequence` that a study can ask. Each runs as its command does without further options: a field test
//! once, with the usual procedure of the construction and without chance; a relief study on a coarse grid.

use super::question::{Need, Question};
use crate::assembly::Settings;
use crate::bench::field::{FieldContext, FieldDocument, FieldOptions, Procedure, Setup, field_test, in_service};
use crate::bench::siphon::{SiphonContext, SiphonDocument, siphon};
use crate::bench::surge::{SurgeContext, SurgeDocument, surge};
use crate::bench::{CurvesDocument, FreezeDocument, curves, freeze, relief_document, relief_study};
use crate::error::{At, Error};
use crate::freeze::Scene;
use crate::freeze::night::TOLERANCE;
use crate::rig::{Rig, options};
use serde::Serialize;
use serde_json::Value as Json;

/// Values of set and of bore in the grid of a relief study.
const RELIEF_GRID: usize = 8;

/// The document without what every command says of itself (a study has its own), and without the clock, whose reading would
/// differ from run to run.
pub(super) fn bare(document: &impl Serialize) -> Result<Json, Error> {
    let mut json = serde_json::to_value(document)
        .map_err(|e| Error::Syntax { at: At::default_value(), message: e.to_string() })?;
    if let Json::Object(map) = &mut json {
        for key in ["schema", "assembly", "inputs_sha256", "warnings", "cautions", "wall_s"] {
            map.remove(key);
        }
        if let Some(Json::Object(solver)) = map.get_mut("solver") {
            solver.remove("wall_s");
        }
    }
    Ok(json)
}

/// `curves`.
#[derive(Debug)]
pub struct CurvesQuestion;

impl Question for CurvesQuestion {
    fn command(&self) -> &'static str {
        "curves"
    }

    fn answer(&self, settings: &Settings, _need: &Need<'_>) -> Result<Json, Error> {
        let found = curves(settings, &Rig::from_settings(settings)?)?;
        bare(&CurvesDocument::new(found, String::new(), String::new(), Vec::new(), Vec::new()))
    }
}

/// `field-test`: one try, friction as stated.
#[derive(Debug)]
pub struct FieldTestQuestion;

impl Question for FieldTestQuestion {
    fn command(&self) -> &'static str {
        "field-test"
    }

    fn answer(&self, settings: &Settings, _need: &Need<'_>) -> Result<Json, Error> {
        let procedure = Procedure::usual_for(settings)?;
        let rig = in_service(settings, &Rig::from_settings(settings)?)?;
        let setup = Setup::from_settings(settings)?;
        let how = FieldOptions { repeats: 1, seed: 1, sticking: false };
        let test = field_test(settings, &procedure, &how)?;
        let context = FieldContext {
            assembly: String::new(),
            inputs_sha256: String::new(),
            setup: &setup,
            how,
            instrument: procedure.instrument,
            start_pa_gauge: [rig.initial_pressure[0], rig.initial_pressure[1]],
            after: None,
            tolerance: options(settings)?.tolerance,
            wall_s: 0.0,
            warnings: Vec::new(),
            cautions: Vec::new(),
        };
        bare(&FieldDocument::new(&test, context))
    }
}

/// `freeze`.
#[derive(Debug)]
pub struct FreezeQuestion;

impl Question for FreezeQuestion {
    fn command(&self) -> &'static str {
        "freeze"
    }

    fn answer(&self, settings: &Settings, _need: &Need<'_>) -> Result<Json, Error> {
        let scene = Scene::from_settings(settings, &Rig::from_settings(settings)?)?;
        let found = freeze(&scene, TOLERANCE)?;
        bare(&FreezeDocument::new(&found, String::new(), String::new(), 0.0, Vec::new(), Vec::new()))
    }
}

/// `relief`, on a coarse grid.
#[derive(Debug)]
pub struct ReliefQuestion;

impl Question for ReliefQuestion {
    fn command(&self) -> &'static str {
        "relief"
    }

    fn answer(&self, settings: &Settings, _need: &Need<'_>) -> Result<Json, Error> {
        let scene = Scene::from_settings(settings, &Rig::from_settings(settings)?)?;
        let found = relief_study(settings, &scene, RELIEF_GRID, TOLERANCE)?;
        bare(&relief_document(&found, String::new(), String::new(), 0.0, Vec::new(), Vec::new()))
    }
}

/// `siphon`.
#[derive(Debug)]
pub struct SiphonQuestion;

impl Question for SiphonQuestion {
    fn command(&self) -> &'static str {
        "siphon"
    }

    fn answer(&self, settings: &Settings, _need: &Need<'_>) -> Result<Json, Error> {
        let found = siphon(settings, &options(settings)?)?;
        let context = SiphonContext {
            assembly: String::new(),
            inputs_sha256: String::new(),
            foul_limits: Vec::new(),
            wall_s: 0.0,
            warnings: Vec::new(),
            cautions: Vec::new(),
        };
        bare(&SiphonDocument::new(&found, context))
    }
}

/// `surge`.
#[derive(Debug)]
pub struct SurgeQuestion;

impl Question for SurgeQuestion {
    fn command(&self) -> &'static str {
        "surge"
    }

    fn answer(&self, settings: &Settings, _need: &Need<'_>) -> Result<Json, Error> {
        let found = surge(settings, &options(settings)?)?;
        let context = SurgeContext {
            assembly: String::new(),
            inputs_sha256: String::new(),
            wall_s: 0.0,
            warnings: Vec::new(),
            cautions: Vec::new(),
        };
        bare(&SurgeDocument::new(&found, context))
    }
}
