//! The commands beside `sequence` that a study can ask. Each runs as its command does without further options: a field test
//! once, with the usual procedure of the construction and without chance. What costs much and is seldom wanted (the grid of a
//! relief study, the limits of the foul) is worked out where a key asks for it.

use super::question::{Need, Question};
use crate::assembly::Settings;
use crate::bench::field::{FieldContext, FieldDocument, FieldOptions, Procedure, Setup, field_test, in_service};
use crate::bench::siphon::{Scene as Service, SiphonContext, SiphonDocument, foul_limits, siphon};
use crate::bench::surge::{SurgeContext, SurgeDocument, surge};
use crate::bench::{
    CurvesDocument, FreezeDocument, RELIEF_GRID, blocking, curves, freeze, relief_document, relief_study,
};
use crate::error::{At, Error};
use crate::freeze::Scene;
use crate::freeze::night::TOLERANCE;
use crate::rig::{Rig, options};
use serde::Serialize;
use serde_json::Value as Json;

/// Takes a key out of a document: what was not worked out is not told as if there were none.
fn without(mut json: Json, key: &str) -> Json {
    if let Json::Object(map) = &mut json {
        map.remove(key);
    }
    json
}

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
        // A study repairs nothing.
        Ok(without(bare(&FieldDocument::new(&test, context))?, "after_repair"))
    }

    fn asked_as(&self) -> Option<&'static str> {
        Some("one try with friction as stated; the command makes three and draws the friction of each")
    }
}

/// `freeze`; the ends of where ice blocks a port are further nights, for those who ask.
#[derive(Debug)]
pub struct FreezeQuestion;

impl Question for FreezeQuestion {
    fn command(&self) -> &'static str {
        "freeze"
    }

    fn answer(&self, settings: &Settings, need: &Need<'_>) -> Result<Json, Error> {
        let scene = Scene::from_settings(settings, &Rig::from_settings(settings)?)?;
        let mut found = freeze(&scene, TOLERANCE)?;
        let ends = need.any_below("blocking");
        if ends {
            found.blocking = blocking(&scene, &found, TOLERANCE);
        }
        let json = bare(&FreezeDocument::new(&found, String::new(), String::new(), 0.0, Vec::new(), Vec::new()))?;
        Ok(if ends { json } else { without(json, "blocking") })
    }
}

/// `relief`; nothing but the grid itself depends on how fine it is.
#[derive(Debug)]
pub struct ReliefQuestion;

impl Question for ReliefQuestion {
    fn command(&self) -> &'static str {
        "relief"
    }

    fn answer(&self, settings: &Settings, need: &Need<'_>) -> Result<Json, Error> {
        let scene = Scene::from_settings(settings, &Rig::from_settings(settings)?)?;
        let whole = need.any_below("grid");
        let found = relief_study(settings, &scene, if whole { usize::from(RELIEF_GRID) } else { 2 }, TOLERANCE)?;
        let json = bare(&relief_document(&found, String::new(), String::new(), 0.0, Vec::new(), Vec::new()))?;
        Ok(if whole { json } else { without(json, "grid") })
    }
}

/// `siphon`.
#[derive(Debug)]
pub struct SiphonQuestion;

impl Question for SiphonQuestion {
    fn command(&self) -> &'static str {
        "siphon"
    }

    fn answer(&self, settings: &Settings, need: &Need<'_>) -> Result<Json, Error> {
        let options = options(settings)?;
        let found = siphon(settings, &options)?;
        let limited = need.any_below("foul_limits");
        let limits = match found.scene {
            scene if limited && scene != Service::Backpressure => {
                foul_limits(settings, &[found.rise_limit_m, found.test_limit_m], &options)?
            }
            _ => Vec::new(),
        };
        let context = SiphonContext {
            assembly: String::new(),
            inputs_sha256: String::new(),
            foul_limits: limits,
            wall_s: 0.0,
            warnings: Vec::new(),
            cautions: Vec::new(),
        };
        let json = bare(&SiphonDocument::new(&found, context))?;
        Ok(if limited { json } else { without(json, "foul_limits") })
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
