//! The JSON document of `freeze`.

use super::freeze::{FirstYield, Freeze, NightFigures, Pulse, ReliefNights, ZoneNights};
use super::freeze_blocking::Blocking;
use crate::freeze::{Balance, Happening};
use serde::Serialize;

/// Schema of the document.
pub const SCHEMA_FREEZE: &str = "poppetry/freeze/1";

/// An event of the first night.
#[derive(Debug, Clone, PartialEq, Serialize)]
struct EventDocument {
    night: usize,
    t_s: f64,
    zone: String,
    what: &'static str,
    pa_gauge: f64,
    t_k: f64,
    ice_fraction: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct SolverDocument {
    steps: usize,
    rejected: usize,
    rhs_evaluations: usize,
    jacobians: usize,
    wall_s: f64,
}

/// What `freeze --json` prints.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FreezeDocument {
    schema: &'static str,
    assembly: String,
    inputs_sha256: String,
    zones: Vec<ZoneNights>,
    first_yield: Option<FirstYield>,
    relief: Option<ReliefNights>,
    pulses: Vec<Pulse>,
    freezes_last: Option<String>,
    ball_yields: Option<bool>,
    blocking: Vec<Blocking>,
    nights: Vec<NightFigures>,
    events: Vec<EventDocument>,
    /// Of the first night.
    balance: Balance,
    solver: SolverDocument,
    warnings: Vec<&'static str>,
    cautions: Vec<&'static str>,
}

/// The name of an event in JSON.
pub fn happening(what: Happening) -> &'static str {
    match what {
        Happening::IceAppears => "ice-appears",
        Happening::PulseOver => "pulse-over",
        Happening::Melted => "melted",
        Happening::FrozenThrough => "frozen-through",
        Happening::Yields => "yields",
        Happening::YieldsThrough => "yields-through",
        Happening::YieldEnds => "yield-ends",
        Happening::ReliefOpens => "relief-opens",
        Happening::ReliefCloses => "relief-closes",
        Happening::ReliefPlugged => "relief-plugged",
        Happening::CheckOpens => "check-opens",
        Happening::CheckCloses => "check-closes",
        Happening::VentOpens => "air-inlet-opens",
        Happening::BonnetSplits => "bonnet-splits",
        Happening::LeavesRange => "leaves-range",
    }
}

impl FreezeDocument {
    /// The document of a run.
    pub fn new(
        run: &Freeze,
        assembly: String,
        inputs_sha256: String,
        wall_s: f64,
        warnings: Vec<&'static str>,
        cautions: Vec<&'static str>,
    ) -> Self {
        let events = run.nights.iter().enumerate().flat_map(|(k, n)| {
            n.night.events.iter().map(move |e| EventDocument {
                night: k + 1,
                t_s: e.time,
                zone: n.body.zones.get(e.zone).map_or_else(String::new, |z| z.name.clone()),
                what: happening(e.what),
                pa_gauge: e.gauge,
                t_k: e.t,
                ice_fraction: e.ice_share,
            })
        });
        let sum = |get: fn(&crate::numerics::Stats) -> usize| run.nights.iter().map(|n| get(&n.night.stats)).sum();
        FreezeDocument {
            schema: SCHEMA_FREEZE,
            assembly,
            inputs_sha256,
            zones: run.zones.clone(),
            first_yield: run.first_yield.clone(),
            relief: run.relief.clone(),
            pulses: run.pulses.clone(),
            freezes_last: run.freezes_last.clone(),
            ball_yields: run.ball_yields,
            blocking: run.blocking.clone(),
            nights: run.figures.clone(),
            events: events.take(10_000).collect(),
            balance: run.nights.first().map_or_else(Balance::default, |n| n.night.balance),
            solver: SolverDocument {
                steps: sum(|s| s.steps),
                rejected: sum(|s| s.rejected),
                rhs_evaluations: sum(|s| s.rhs_evaluations),
                jacobians: sum(|s| s.jacobians),
                wall_s,
            },
            warnings,
            cautions,
        }
    }
}
