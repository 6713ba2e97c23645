//! The JSON document of `surge`.

use super::scene::{Surge, SurgeScene, slam};
use super::trapped_excess;
use crate::rig::{Balance, Part, What};
use serde::Serialize;

/// Schema of the document.
pub const SCHEMA_SURGE: &str = "poppetry/surge/1";

/// Pressures in line and zones; `None` where there is no assembly.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Places {
    /// Anywhere in the line.
    pub line: f64,
    /// Zone 1.
    pub zone1: Option<f64>,
    /// Zone 2.
    pub zone2: Option<f64>,
}

/// A parted column.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ColumnSeparation {
    /// When the first cavity opened, s.
    pub t_s: f64,
    /// Where, in words.
    pub r#where: String,
    /// Distance of that place from the main, m.
    pub from_main_m: f64,
    /// The line's end in words, if it was there.
    #[serde(skip)]
    at_end: Option<&'static str>,
    /// Largest volume of all cavities of the line at one time, m3.
    pub largest_m3: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct Slams {
    check: Option<f64>,
    air_inlet: Option<f64>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct EventDocument {
    t_s: f64,
    part: Part,
    what: What,
    speed_m_s: f64,
}

/// What `surge --json` prints.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SurgeDocument {
    schema: &'static str,
    assembly: String,
    inputs_sha256: String,
    scene: SurgeScene,
    cells: usize,
    time_step_s: f64,
    peak_pa_gauge: Places,
    trough_pa_abs: Places,
    joukowsky_pa: Option<f64>,
    slam_m_s: Slams,
    column_separation: Option<ColumnSeparation>,
    relief_lifts: bool,
    relieved_m3: f64,
    spill_m3: f64,
    trapped_excess_pa: Option<f64>,
    converged: bool,
    events: Vec<EventDocument>,
    balance: Option<Balance>,
    wall_s: f64,
    warnings: Vec<&'static str>,
    cautions: Vec<&'static str>,
}

/// What a document needs besides the run.
#[derive(Debug, Clone)]
pub struct SurgeContext {
    /// Assembly the settings started from.
    pub assembly: String,
    /// Hash of the resolved input.
    pub inputs_sha256: String,
    /// Wall time of the run, s.
    pub wall_s: f64,
    /// Ids of warnings.
    pub warnings: Vec<&'static str>,
    /// Ids of cautions.
    pub cautions: Vec<&'static str>,
}

impl Surge {
    /// Highest pressures, Pa gauge.
    pub fn peaks(&self) -> Places {
        match (&self.coupled, &self.bare) {
            (Some(run), _) => {
                let highest =
                    |get: fn(&super::SurgePoint) -> f64| run.points.iter().map(get).fold(f64::NEG_INFINITY, f64::max);
                Places {
                    line: run.line_peak.0 - run.rig.fluid.ambient,
                    zone1: Some(highest(|p| p.zone1_pa_gauge)),
                    zone2: Some(highest(|p| p.zone2_pa_gauge)),
                }
            }
            (_, Some((_, run))) => Places { line: run.peak.1 - self.ambient, zone1: None, zone2: None },
            _ => Places { line: f64::NAN, zone1: None, zone2: None },
        }
    }

    /// Lowest pressures, Pa absolute.
    pub fn troughs(&self) -> Places {
        match (&self.coupled, &self.bare) {
            (Some(run), _) => {
                let pa = run.rig.fluid.ambient;
                let lowest =
                    |get: fn(&super::SurgePoint) -> f64| run.points.iter().map(get).fold(f64::INFINITY, f64::min) + pa;
                Places {
                    line: run.line_trough,
                    zone1: Some(lowest(|p| p.zone1_pa_gauge)),
                    zone2: Some(lowest(|p| p.zone2_pa_gauge)),
                }
            }
            (_, Some((_, run))) => {
                let line = run.waves.extremes[1].iter().copied().fold(f64::INFINITY, f64::min);
                Places { line, zone1: None, zone2: None }
            }
            _ => Places { line: f64::NAN, zone1: None, zone2: None },
        }
    }

    /// The parted column, if it parted.
    pub fn column_separation(&self) -> Option<ColumnSeparation> {
        let (seen, waves) = match (&self.coupled, &self.bare) {
            (Some(run), _) => (run.separation, &run.waves),
            (_, Some((_, run))) => (run.waves.separation, &run.waves),
            _ => return None,
        };
        let (t_s, node) = seen.first?;
        let from_main_m = node as f64 * waves.dx;
        let end = node >= waves.cells;
        let mut parted = ColumnSeparation {
            t_s,
            r#where: String::new(),
            from_main_m,
            at_end: end.then_some(if self.coupled.is_some() { "before shutoff 1" } else { "at the valve" }),
            largest_m3: seen.largest / self.density,
        };
        parted.r#where = parted.place(&format!("{from_main_m:.2} m"));
        Some(parted)
    }
}

impl ColumnSeparation {
    /// Where, in words, with the distance from the main as `written`.
    pub(super) fn place(&self, written: &str) -> String {
        self.at_end.map_or_else(|| format!("in the line, {written} from the main"), str::to_owned)
    }
}

impl SurgeDocument {
    /// The document of one run.
    pub fn new(run: &Surge, context: SurgeContext) -> Self {
        let waves = run.coupled.as_ref().map(|r| &r.waves).or(run.bare.as_ref().map(|b| &b.1.waves));
        let coupled = run.coupled.as_ref();
        SurgeDocument {
            schema: SCHEMA_SURGE,
            assembly: context.assembly,
            inputs_sha256: context.inputs_sha256,
            scene: run.scene,
            cells: waves.map_or(0, |w| w.cells),
            time_step_s: waves.map_or(f64::NAN, |w| w.dt),
            peak_pa_gauge: run.peaks(),
            trough_pa_abs: run.troughs(),
            joukowsky_pa: run.bare.as_ref().map(|(case, _)| run.density * case.line.wave_speed * case.velocity),
            slam_m_s: Slams {
                check: coupled.and_then(|r| slam(r, Part::Check)),
                air_inlet: coupled.and_then(|r| slam(r, Part::AirInlet)),
            },
            column_separation: run.column_separation(),
            relief_lifts: coupled.is_some_and(|r| r.events.iter().any(|e| e.1 == Part::Relief)),
            relieved_m3: coupled.map_or(0.0, |r| r.relieved_m3),
            spill_m3: coupled.map_or(0.0, |r| r.spill_m3),
            trapped_excess_pa: coupled.map(trapped_excess),
            converged: run.converged,
            events: coupled.map_or_else(Vec::new, |r| {
                r.events
                    .iter()
                    .map(|&(t_s, part, what, speed_m_s)| EventDocument { t_s, part, what, speed_m_s })
                    .collect()
            }),
            balance: coupled.map(|r| r.balance),
            wall_s: context.wall_s,
            warnings: context.warnings,
            cautions: context.cautions,
        }
    }
}
