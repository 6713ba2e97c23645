//! The JSON document of `siphon`.

use super::limits::FoulLimit;
use super::run::Outcome;
use super::scene::Scene;
use super::{By, Siphon};
use crate::rig::{Balance, Part, What};
use serde::Serialize;

/// Schema of the document.
pub const SCHEMA_SIPHON: &str = "poppetry/siphon/1";

#[derive(Debug, Clone, PartialEq, Serialize)]
struct RiseDocument {
    at_rest: f64,
    max: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct EventDocument {
    t_s: f64,
    part: Part,
    what: What,
}

/// One scene as printed.
#[derive(Debug, Clone, PartialEq, Serialize)]
struct SceneDocument {
    scene: Scene,
    scene_protects: Option<bool>,
    scene_by: Option<By>,
    settled: bool,
    t_end_s: f64,
    water_back_m3: f64,
    load_water_back_m3: f64,
    load_water_given_off_m3: f64,
    supply_back_m3: f64,
    spit_m3: f64,
    air_admitted_kg: f64,
    air_back_kg: f64,
    t_air_inlet_opens_s: Option<f64>,
    zone1_at_opening_pa_gauge: Option<f64>,
    zone2_min_pa_abs: f64,
    reverse_flow_m3_s: f64,
    chatter_round_s: Option<f64>,
    air_inlet_shut_at_end: bool,
    start: StateDocument,
    r#final: StateDocument,
    events: Vec<EventDocument>,
    balance: Balance,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct StateDocument {
    zone1_pa_gauge: f64,
    zone2_pa_gauge: f64,
    load_side_pa_gauge: f64,
    air_inlet_travel_m: f64,
    zone2_water_m3: f64,
    line_water_m3: f64,
    supply_water_m3_s: f64,
}

impl StateDocument {
    fn of(point: Option<&super::Point>) -> Self {
        let value = |get: fn(&super::Point) -> f64| point.map_or(f64::NAN, get);
        StateDocument {
            zone1_pa_gauge: value(|p| p.zone1_pa_gauge),
            zone2_pa_gauge: value(|p| p.zone2_pa_gauge),
            load_side_pa_gauge: value(|p| p.load_side_pa_gauge),
            air_inlet_travel_m: value(|p| p.air_inlet_travel_m),
            zone2_water_m3: value(|p| p.zone2_water_m3),
            line_water_m3: value(|p| p.line_water_m3),
            supply_water_m3_s: value(|p| p.supply_water_m3_s),
        }
    }
}

impl SceneDocument {
    fn of(o: &Outcome, limit: f64) -> Self {
        SceneDocument {
            scene: o.scene,
            scene_protects: o.protects(limit),
            scene_by: o.by(limit),
            settled: o.settled,
            t_end_s: o.last().map_or(f64::NAN, |p| p.t_s),
            water_back_m3: o.water_back_m3,
            load_water_back_m3: o.load_water_back_m3,
            load_water_given_off_m3: o.load_water_given_off_m3,
            supply_back_m3: o.supply_back_m3,
            spit_m3: o.spit_m3,
            air_admitted_kg: o.air_admitted_kg,
            air_back_kg: o.air_back_kg,
            t_air_inlet_opens_s: o.t_air_inlet_opens_s,
            zone1_at_opening_pa_gauge: o.zone1_at_opening_pa_gauge,
            zone2_min_pa_abs: o.zone2_min_pa_abs,
            reverse_flow_m3_s: o.reverse_flow_m3_s,
            chatter_round_s: o.chatter.map(|c| c.round_s),
            air_inlet_shut_at_end: o.inlet_shut_at_end,
            start: StateDocument::of(o.first()),
            r#final: StateDocument::of(o.last()),
            events: o.events.iter().map(|&(t_s, part, what)| EventDocument { t_s, part, what }).collect(),
            balance: o.balance,
        }
    }
}

/// What `siphon --json` prints.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SiphonDocument {
    schema: &'static str,
    assembly: String,
    inputs_sha256: String,
    protects: Option<bool>,
    by: Option<By>,
    rise_m: Option<RiseDocument>,
    installed_height_m: f64,
    rise_limit_m: f64,
    test_limit_m: f64,
    foul_limits: Vec<FoulLimit>,
    #[serde(flatten)]
    asked: SceneDocument,
    other_scene: Option<SceneDocument>,
    solver: SolverDocument,
    warnings: Vec<&'static str>,
    cautions: Vec<&'static str>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct SolverDocument {
    steps: usize,
    rhs_evaluations: usize,
    jacobians: usize,
    wall_s: f64,
}

/// What a document needs besides the run.
#[derive(Debug, Clone)]
pub struct SiphonContext {
    /// Assembly the settings started from.
    pub assembly: String,
    /// Hash of the resolved input.
    pub inputs_sha256: String,
    /// Limits of the foul, where they were asked for.
    pub foul_limits: Vec<FoulLimit>,
    /// Wall time of the runs, s.
    pub wall_s: f64,
    /// Ids of warnings.
    pub warnings: Vec<&'static str>,
    /// Ids of cautions.
    pub cautions: Vec<&'static str>,
}

impl SiphonDocument {
    /// The document of one run.
    pub fn new(run: &Siphon, context: SiphonContext) -> Self {
        let rise = run.outcome(Scene::VacuumTest).and_then(|o| o.rise);
        let stats = |get: fn(&Outcome) -> usize| get(&run.asked) + run.other.as_ref().map_or(0, get);
        SiphonDocument {
            schema: SCHEMA_SIPHON,
            assembly: context.assembly,
            inputs_sha256: context.inputs_sha256,
            protects: run.protects,
            by: run.by,
            rise_m: rise.map(|r| RiseDocument { at_rest: r.at_rest_m, max: r.max_m }),
            installed_height_m: run.installed_height_m,
            rise_limit_m: run.rise_limit_m,
            test_limit_m: run.test_limit_m,
            foul_limits: context.foul_limits,
            asked: SceneDocument::of(&run.asked, run.rise_limit_m),
            other_scene: run.other.as_ref().map(|o| SceneDocument::of(o, run.rise_limit_m)),
            solver: SolverDocument {
                steps: stats(|o| o.stats.steps),
                rhs_evaluations: stats(|o| o.stats.rhs_evaluations),
                jacobians: stats(|o| o.stats.jacobians),
                wall_s: context.wall_s,
            },
            warnings: context.warnings,
            cautions: context.cautions,
        }
    }
}
