//! The JSON document of `sequence`. Names, units and signs are a promise to scripts; `tests/contract.rs` holds them.

use super::sequence::{Forces, Order, Peak, Sequence, Stop};
use crate::rig::{Balance, Part, Statics, What};
use serde::Serialize;

/// Schema of the document.
pub const SCHEMA_SEQUENCE: &str = "poppetry/sequence/1";

/// An event as printed.
#[derive(Debug, Clone, PartialEq, Serialize)]
struct EventDocument {
    t_s: f64,
    part: Part,
    what: What,
    forces_n: Forces,
}

/// State at the end as printed.
#[derive(Debug, Clone, PartialEq, Serialize)]
struct FinalDocument {
    t_s: f64,
    line_pa_gauge: f64,
    zone1_pa_gauge: f64,
    zone2_pa_gauge: f64,
    load_side_pa_gauge: f64,
    check_travel_m: f64,
    air_inlet_travel_m: f64,
    inflow_m3_s: f64,
    zone2_water_m3: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct SolverDocument {
    method: String,
    tolerance: f64,
    steps: usize,
    rejected: usize,
    rhs_evaluations: usize,
    jacobians: usize,
    wall_s: f64,
}

/// What `sequence --json` prints.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SequenceDocument {
    schema: &'static str,
    assembly: String,
    inputs_sha256: String,
    order: Order,
    sequence_margin_pa: Option<f64>,
    lap_margin_m: Option<f64>,
    spill_m3: f64,
    rebound_spill_m3: f64,
    relieved_m3: f64,
    spilling_at_end: bool,
    spill_rate_m3_s: f64,
    critical_flow_m3_s: Option<f64>,
    trapped_excess_pa: f64,
    line_start_up_s: Option<f64>,
    stop: Stop,
    events: Vec<EventDocument>,
    peak: Peak,
    r#final: FinalDocument,
    statics: Statics,
    balance: Balance,
    solver: SolverDocument,
    warnings: Vec<&'static str>,
    cautions: Vec<&'static str>,
    /// The runs it was compared with, whole.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    against: Vec<SequenceDocument>,
}

/// What a document needs besides the run.
#[derive(Debug, Clone)]
pub struct DocumentContext {
    /// Assembly the settings started from.
    pub assembly: String,
    /// Hash of the resolved input.
    pub inputs_sha256: String,
    /// Method and tolerance of the solver.
    pub options: crate::numerics::Options,
    /// Wall time of the run, s.
    pub wall_s: f64,
    /// Time the line takes to 90 % of its flow, s.
    pub line_start_up_s: Option<f64>,
    /// Ids of warnings.
    pub warnings: Vec<&'static str>,
    /// Ids of cautions.
    pub cautions: Vec<&'static str>,
}

impl SequenceDocument {
    /// The document of one run.
    pub fn new(run: &Sequence, context: DocumentContext) -> Self {
        let last = &run.last;
        SequenceDocument {
            schema: SCHEMA_SEQUENCE,
            assembly: context.assembly,
            inputs_sha256: context.inputs_sha256,
            order: run.order,
            sequence_margin_pa: run.statics.sequence_margin_pa,
            lap_margin_m: run.statics.lap_margin_m,
            spill_m3: run.spill_m3,
            rebound_spill_m3: run.rebound_spill_m3,
            relieved_m3: run.relieved_m3,
            spilling_at_end: run.spilling_at_end,
            spill_rate_m3_s: run.spill_rate_m3_s,
            critical_flow_m3_s: run.statics.critical_flow_m3_s,
            trapped_excess_pa: run.trapped_excess_pa,
            line_start_up_s: context.line_start_up_s,
            stop: run.stop,
            events: run
                .events
                .iter()
                .map(|e| EventDocument { t_s: e.t_s, part: e.part, what: e.what, forces_n: e.forces })
                .collect(),
            peak: run.peak,
            r#final: FinalDocument {
                t_s: last.t_s,
                line_pa_gauge: last.line_pa_gauge,
                zone1_pa_gauge: last.zone1_pa_gauge,
                zone2_pa_gauge: last.zone2_pa_gauge,
                load_side_pa_gauge: last.load_side_pa_gauge,
                check_travel_m: last.check_travel_m,
                air_inlet_travel_m: last.air_inlet_travel_m,
                inflow_m3_s: last.inflow_m3_s,
                zone2_water_m3: last.zone2_water_m3,
            },
            statics: run.statics,
            balance: run.balance,
            solver: SolverDocument {
                method: match context.options.method {
                    crate::numerics::Method::Rosenbrock => "rosenbrock".to_owned(),
                    crate::numerics::Method::DormandPrince => "dormand-prince".to_owned(),
                },
                tolerance: context.options.tolerance,
                steps: run.stats.steps,
                rejected: run.stats.rejected,
                rhs_evaluations: run.stats.rhs_evaluations,
                jacobians: run.stats.jacobians,
                wall_s: context.wall_s,
            },
            warnings: context.warnings,
            cautions: context.cautions,
            against: Vec::new(),
        }
    }

    /// The same with the documents of the runs it was compared with.
    #[must_use]
    pub fn against(mut self, others: Vec<SequenceDocument>) -> Self {
        self.against = others;
        self
    }
}
