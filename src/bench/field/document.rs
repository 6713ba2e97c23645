//! The JSON document of `field-test`. Names, units and signs are a promise to scripts; `tests/field_contract.rs` holds them.

use super::act::Part;
use super::judge::{Kind, Outcome};
use super::note::Lost;
use super::{FieldOptions, FieldTest, Hand, Reading, Setup};
use crate::parts::{Gauge, Instrument, Reference};
use crate::rig::{Balance, Statics};
use crate::units::System;
use serde::Serialize;

/// Schema of the document.
pub const SCHEMA_FIELD_TEST: &str = "poppetry/field-test/1";

#[derive(Debug, Clone, PartialEq, Serialize)]
struct ItemDocument {
    what: &'static str,
    adds_pa: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct TryDocument {
    true_pa: Option<f64>,
    reading_pa: Option<f64>,
    recorded_pa: Option<f64>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct ReadingDocument {
    name: Part,
    kind: Kind,
    true_pa: Option<f64>,
    reading_pa: Option<f64>,
    recorded_pa: Option<f64>,
    band_pa: Option<[f64; 2]>,
    pass: bool,
    doubtful: bool,
    spread_pa: f64,
    fall_pa_s: f64,
    left_at_pa: f64,
    notes: Vec<&'static str>,
    budget: Vec<ItemDocument>,
    tries: Vec<TryDocument>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct LostDocument {
    measurement: Part,
    why: &'static str,
    words: String,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct ObservedDocument {
    opened_in_check_step: bool,
    opened_by_itself: bool,
    air_inlet_lift_share: f64,
    full_open_s: Option<f64>,
    full_open_m3: Option<f64>,
    cock_flow_m3_s: Option<f64>,
    check_fell_pa: Option<f64>,
    zone2_vented_s: Option<f64>,
    dribble_m3: f64,
    gauge_peak_pa_gauge: f64,
    outside_leak_m3_s: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct GaugeDocument {
    instrument: Instrument,
    height_m: f64,
    reference: Reference,
    lag_s: f64,
    trapped_air_m3: f64,
    range_pa: f64,
    class_pa: f64,
    resolution_pa: f64,
    zero_error_pa: f64,
    span_error: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct HandDocument {
    /// Fall of the needle when bleeding slowly, Pa/s.
    bleed_rate_pa_s: f64,
    eye_delay_s: f64,
    patience_s: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct SolverDocument {
    tolerance: f64,
    steps: usize,
    rejected: usize,
    rhs_evaluations: usize,
    jacobians: usize,
    wall_s: f64,
}

/// Readings and what they come to.
#[derive(Debug, Clone, PartialEq, Serialize)]
struct Findings {
    readings: Vec<ReadingDocument>,
    air_inlet_fully_open: Option<bool>,
    result: Outcome,
    lost: Vec<LostDocument>,
    observed: ObservedDocument,
}

/// What `field-test --json` prints.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FieldDocument {
    schema: &'static str,
    assembly: String,
    inputs_sha256: String,
    procedure: String,
    #[serde(flatten)]
    findings: Findings,
    after_repair: Option<Findings>,
    repeats: usize,
    seed: u64,
    gauge: GaugeDocument,
    hand: HandDocument,
    zone1_at_start_pa_gauge: f64,
    zone2_at_start_pa_gauge: f64,
    statics: Statics,
    balance: Option<Balance>,
    solver: SolverDocument,
    warnings: Vec<&'static str>,
    cautions: Vec<&'static str>,
}

/// What a document needs besides the test.
#[derive(Debug, Clone)]
pub struct FieldContext<'a> {
    /// Assembly the settings started from.
    pub assembly: String,
    /// Hash of the resolved input.
    pub inputs_sha256: String,
    /// Instrument and hand.
    pub setup: &'a Setup,
    /// How it was run.
    pub how: FieldOptions,
    /// What the instrument was.
    pub instrument: Instrument,
    /// Pressures in zones 1 and 2 at the start, Pa gauge.
    pub start_pa_gauge: [f64; 2],
    /// The test after a repair, if one was made.
    pub after: Option<&'a FieldTest>,
    /// Tolerance of the solver.
    pub tolerance: f64,
    /// Wall time, s.
    pub wall_s: f64,
    /// Ids of warnings.
    pub warnings: Vec<&'static str>,
    /// Ids of cautions.
    pub cautions: Vec<&'static str>,
}

impl FieldDocument {
    /// The document of one test.
    pub fn new(test: &FieldTest, context: FieldContext<'_>) -> Self {
        let gauge = match context.instrument {
            Instrument::Tube => &context.setup.tube,
            Instrument::Gauge => &context.setup.gauge,
        };
        let sum = |get: fn(&crate::numerics::Stats) -> usize| test.tries.iter().map(|t| get(&t.stats)).sum();
        FieldDocument {
            schema: SCHEMA_FIELD_TEST,
            assembly: context.assembly,
            inputs_sha256: context.inputs_sha256,
            procedure: test.procedure.clone(),
            findings: findings(test),
            after_repair: context.after.map(findings),
            repeats: test.tries.len(),
            seed: context.how.seed,
            gauge: gauge_document(gauge),
            hand: hand_document(&context.setup.hand),
            zone1_at_start_pa_gauge: context.start_pa_gauge[0],
            zone2_at_start_pa_gauge: context.start_pa_gauge[1],
            statics: test.statics,
            balance: test.tries.first().map(|t| t.balance),
            solver: SolverDocument {
                tolerance: context.tolerance,
                steps: sum(|s| s.steps),
                rejected: sum(|s| s.rejected),
                rhs_evaluations: sum(|s| s.rhs_evaluations),
                jacobians: sum(|s| s.jacobians),
                wall_s: context.wall_s,
            },
            warnings: context.warnings,
            cautions: context.cautions,
        }
    }
}

fn findings(test: &FieldTest) -> Findings {
    let o = &test.observed;
    Findings {
        readings: test.readings.iter().map(reading).collect(),
        air_inlet_fully_open: test.air_inlet_fully_open,
        result: test.outcome,
        lost: test.lost.iter().map(lost).collect(),
        observed: ObservedDocument {
            opened_in_check_step: o.opened_in_check_step,
            opened_by_itself: o.opened_by_itself,
            air_inlet_lift_share: o.inlet_lift_share.clamp(0.0, 1.0),
            full_open_s: o.full_open_s,
            full_open_m3: o.full_open_m3,
            cock_flow_m3_s: o.cock_flow_m3_s,
            check_fell_pa: o.check_fell_pa,
            zone2_vented_s: o.zone2_vented_s,
            dribble_m3: o.dribble_m3,
            gauge_peak_pa_gauge: o.gauge_peak_pa,
            outside_leak_m3_s: o.outside_leak_m3_s,
        },
    }
}

fn lost(lost: &Lost) -> LostDocument {
    LostDocument { measurement: lost.part, why: lost.why.id(), words: lost.words(System::Us) }
}

fn reading(r: &Reading) -> ReadingDocument {
    let first = r.tries.first();
    ReadingDocument {
        name: r.part,
        kind: r.kind,
        true_pa: r.true_pa,
        reading_pa: r.reading_pa,
        recorded_pa: r.recorded_pa,
        band_pa: r.band_pa,
        pass: r.pass,
        doubtful: r.doubtful,
        spread_pa: r.spread_pa,
        fall_pa_s: first.map_or(0.0, |s| s.rate_pa_s),
        left_at_pa: r.left_at_pa,
        notes: r.notes.iter().map(super::Note::id).collect(),
        budget: first
            .map_or_else(Vec::new, |s| s.budget.iter().map(|b| ItemDocument { what: b.what, adds_pa: b.pa }).collect()),
        tries: r
            .tries
            .iter()
            .map(|s| TryDocument { true_pa: s.true_pa, reading_pa: s.reading_pa, recorded_pa: s.recorded_pa })
            .collect(),
    }
}

fn gauge_document(g: &Gauge) -> GaugeDocument {
    GaugeDocument {
        instrument: g.instrument,
        height_m: g.height,
        reference: g.reference,
        lag_s: g.lag,
        trapped_air_m3: g.trapped_air,
        range_pa: g.range,
        class_pa: g.class,
        resolution_pa: g.resolution,
        zero_error_pa: g.zero_error,
        span_error: g.span_error,
    }
}

fn hand_document(h: &Hand) -> HandDocument {
    HandDocument { bleed_rate_pa_s: h.slow, eye_delay_s: h.eye_delay, patience_s: h.patience }
}
