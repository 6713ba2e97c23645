//! The JSON document of `relief`.

use super::freeze_blocking::{Blocking, ZonePeak, zone_peaks};
use super::relief::{Recommended, ReliefBand, ReliefStudy};
use super::relief_grid::GridCell;
use super::{FirstYield, gives_way};
use serde::Serialize;

/// Schema of the document.
pub const SCHEMA_RELIEF: &str = "poppetry/relief/1";

#[derive(Debug, Clone, PartialEq, Serialize)]
struct Grid {
    sets_pa_gauge: Vec<f64>,
    bores_m: Vec<f64>,
    cells: Vec<GridCell>,
}

/// The night with the recommended relief and a port that ice can block.
#[derive(Debug, Clone, PartialEq, Serialize)]
struct WithIt {
    first_yield: Option<FirstYield>,
    after_plugging: Option<bool>,
    lifts: f64,
    relieved_m3: f64,
    zones: Vec<ZonePeak>,
    blocking: Vec<Blocking>,
}

/// What `relief --json` prints.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ReliefDocument {
    schema: &'static str,
    assembly: String,
    inputs_sha256: String,
    place: String,
    window: Vec<ReliefBand>,
    recommended: Option<Recommended>,
    critical_bore_m: Option<f64>,
    critical_bore_at_pa_gauge: f64,
    pulse_rate_m3_s: Option<f64>,
    weakest_part: &'static str,
    safety_factor: f64,
    rests_on: Vec<&'static str>,
    with_it: Option<WithIt>,
    grid: Grid,
    solver: Solver,
    warnings: Vec<&'static str>,
    cautions: Vec<&'static str>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct Solver {
    wall_s: f64,
}

/// The document of a study.
pub fn relief_document(
    found: &ReliefStudy,
    assembly: String,
    inputs_sha256: String,
    wall_s: f64,
    warnings: Vec<&'static str>,
    cautions: Vec<&'static str>,
) -> ReliefDocument {
    let with_it = found.with_it.as_ref().map(|run| WithIt {
        first_yield: run.first_yield.clone(),
        after_plugging: gives_way(run).map(|g| g.0),
        lifts: run.relief.as_ref().map_or(0.0, |r| r.lifts),
        relieved_m3: run.relief.as_ref().map_or(0.0, |r| r.relieved_m3),
        zones: zone_peaks(run),
        blocking: run.blocking.clone(),
    });
    ReliefDocument {
        schema: SCHEMA_RELIEF,
        assembly,
        inputs_sha256,
        place: found.place.clone(),
        window: found.window.clone(),
        recommended: found.recommended.clone(),
        critical_bore_m: found.critical_bore_m,
        critical_bore_at_pa_gauge: found.critical_set,
        pulse_rate_m3_s: found.pulse_rate,
        weakest_part: found.weakest.0,
        safety_factor: found.weakest.2,
        rests_on: found.rests_on.clone(),
        with_it,
        grid: Grid { sets_pa_gauge: found.sets.clone(), bores_m: found.bores.clone(), cells: found.grid.clone() },
        solver: Solver { wall_s },
        warnings,
        cautions,
    }
}
