//! Which relief keeps a freezing body whole and does not weep: the window of set pressures, and a grid of set and bore.

use super::freeze::{Freeze, freeze};
use super::freeze_blocking::blocking;
use super::relief_grid::{GridCell, Limits, axes};
use super::sequence;
use super::surge::{COARSEST, surge};
use crate::assembly::Settings;
use crate::error::Error;
use crate::freeze::peaks::{before_ice, peaks, peaks_after};
use crate::freeze::still::liquid_range;
use crate::freeze::{Happening, Lifts, OneNight, Relief, Scene};
use crate::laws::{melting, pipe, water};
use crate::rig::{Feed, Rig, options};
use rayon::prelude::*;
use serde::Serialize;

/// Kelvin by which a shut body may warm before it is used again (estimate: from a cold main to a warm day).
pub const WARM_DAY: f64 = 20.0;
/// Quick opening of shutoff 1 for the fill slam, s (estimate: a flick of the handle).
pub const QUICK: f64 = 0.1;
/// Values of set and of bore in the grid, unless asked otherwise.
pub const RELIEF_GRID: u16 = 24;
/// Tolerance of the grid's nights.
const COARSE: f64 = 1e-4;
/// Time, s, for which a fill slam is followed; with shutoff 2 shut the vent shuts within hundredths of a second.
const FILLED: f64 = 3.0;
/// Bore recommended, as a multiple of the critical one: the flow at the set is then ten times the pulse's.
pub const BORE_MARGIN: f64 = 3.2;

/// One band of pressures.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ReliefBand {
    /// Stable name.
    pub name: &'static str,
    /// Lower end, Pa gauge; `None`: no end.
    pub lower_pa_gauge: Option<f64>,
    /// Upper end, Pa gauge; `None`: no end.
    pub upper_pa_gauge: Option<f64>,
}

/// What is recommended.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Recommended {
    /// Set, Pa gauge.
    pub set_pressure_pa_gauge: f64,
    /// Bore, m.
    pub bore_m: f64,
    /// Room down to the highest pressure that must not lift it, Pa.
    pub margin_below_pa: f64,
    /// Room up to the weakest part over its safety factor, Pa.
    pub margin_above_pa: f64,
    /// Highest pressure of the night with it, Pa gauge, its port clear of ice.
    pub peak_pa_gauge: f64,
    /// Whether slams lift it.
    pub lifts_in_slams: bool,
}

/// The whole study.
#[derive(Debug, Clone)]
pub struct ReliefStudy {
    /// Where the relief stands: "zone1" or "zone2".
    pub place: String,
    /// Bands, from working pressure up to strength.
    pub window: Vec<ReliefBand>,
    /// Recommendation; `None` if no set meets the bands.
    pub recommended: Option<Recommended>,
    /// Critical bore at the recommended set (at the given one without a recommendation), m, of each zone's pulse that the
    /// relief has to pass.
    pub critical_bore_m: Option<f64>,
    /// Set that the critical bore belongs to, Pa gauge.
    pub critical_set: f64,
    /// Net rate of the pulse, m³/s.
    pub pulse_rate: Option<f64>,
    /// What the recommendation rests on: stable ids.
    pub rests_on: Vec<&'static str>,
    /// Sets of the grid, Pa gauge.
    pub sets: Vec<f64>,
    /// Bores of the grid, m.
    pub bores: Vec<f64>,
    /// Cells, bore by bore for each set.
    pub grid: Vec<GridCell>,
    /// The night with the recommended relief and ports that ice can block.
    pub with_it: Option<Freeze>,
    /// Strength of the weakest part and its safety factor.
    pub weakest: (&'static str, f64, f64),
}

impl ReliefStudy {
    /// Upper end of a band, Pa gauge.
    pub fn upper(&self, name: &str) -> Option<f64> {
        self.window.iter().find(|b| b.name == name).and_then(|b| b.upper_pa_gauge)
    }
}

fn band(name: &'static str, lower: Option<f64>, upper: Option<f64>) -> ReliefBand {
    ReliefBand { name, lower_pa_gauge: lower, upper_pa_gauge: upper }
}

/// Highest pressure of a zone, Pa gauge, when the body is filled by a flick of shutoff 1 with shutoff 2 shut and no relief;
/// `None` if that run cannot be completed. The line carries waves: in a few cells it makes the peak too low. A pressure
/// recorded at shutoff 1 has no line.
fn fill_slam(settings: &Settings, rig: &Rig) -> Option<f64> {
    let s = settings.with_text("shutoff2.open", "false").ok()?.with_text("relief.place", "none").ok()?;
    let Feed::Line(line) = &rig.feed else {
        let s = s.with_number("shutoff1.opening_time", QUICK).ok()?;
        let run = sequence(&Rig::from_settings(&s).ok()?, &options(&s).ok()?).ok()?;
        return Some(run.peak.zone1_pa_gauge.max(run.peak.zone2_pa_gauge));
    };
    let cells = s.number("surge.cells").ok()?.max((line.length / line.wave_speed / COARSEST).ceil());
    let s = s.with_text("surge.scene", "fill").ok()?.with_number("surge.opening_time", QUICK).ok()?;
    let s = s.with_number("surge.cells", cells).ok()?.with_number("surge.end_time", FILLED).ok()?;
    let run = surge(&s, &options(&s).ok()?).ok()?.coupled?;
    run.points.iter().map(|p| p.zone1_pa_gauge.max(p.zone2_pa_gauge)).reduce(f64::max)
}

/// A scene with a relief whose ports stay clear of ice and a bonnet that does not split, so that pressures can be compared
/// with its strength afterwards.
fn clear(scene: &Scene, relief: Relief) -> Scene {
    let mut scene = scene.clone();
    scene.body.relief = Some(Relief { plugged_at: 1.0, stuck: false, ..relief });
    scene.body.lifts = Lifts::Held;
    scene.body.vent = None;
    for zone in &mut scene.body.zones {
        zone.bonnet = None;
    }
    if let Some(check) = scene.body.check.as_mut() {
        check.plugged_at = 1.0;
    }
    scene.ball = None;
    scene.count = 1;
    scene
}

/// The study: `steps` values of set and of bore each.
///
/// # Errors
/// [`Error`] if a setting is missing; [`Error::Run`] if the night with the recommended relief cannot be completed.
pub fn relief_study(settings: &Settings, scene: &Scene, steps: usize, tolerance: f64) -> Result<ReliefStudy, Error> {
    let n = |path: &str| settings.number(path);
    let place = if settings.choice("relief.place")? == "zone1" { "zone1" } else { "zone2" };
    let zone = scene.body.zones.iter().position(|z| z.name == place).unwrap_or(0);
    let fitted = Relief {
        zone,
        set: n("relief.set_pressure")?,
        reseat_ratio: n("relief.reseat_ratio")?.min(0.99),
        bore: n("relief.bore")?,
        discharge: n("relief.discharge_coefficient")?,
        one_shot: false,
        plugged_at: n("relief.plugged_at")?,
        stuck: false,
        frozen_drop: 0.0,
    };
    let safety = n("body.safety_factor")?;
    let (weak, strength) = scene.weakest;
    let upper = strength / safety;

    let rig = Rig::from_settings(settings)?;
    let shut_in = scene.starts.first().map_or(0.0, |s| s.p - scene.body.ambient);
    let working = rig.feed.at_rest(&rig.fluid).max(shut_in);
    let cold = liquid_range(&scene.body, &scene.starts, melting::inverse(scene.body.ambient) - scene.body.supercooling);
    let warm_to = scene.starts.first().map_or(293.15, |s| (s.t + WARM_DAY).min(314.0));
    let warm = liquid_range(&scene.body, &scene.starts, warm_to);
    let slam = fill_slam(settings, &rig);
    let density = water::density(n("water.temperature")?, scene.body.ambient + working);
    let downstream = working + pipe::joukowsky(density, n("load_side.wave_speed")?, n("load_side.slam_velocity")?);
    let window = vec![
        band("working-pressure", Some(0.0), Some(working)),
        band("shut-in-and-cooled-before-ice", Some(cold.0), Some(cold.1)),
        band("shut-in-and-warmed", Some(warm.0), Some(warm.1)),
        band("fill-slam", Some(0.0), slam),
        band("downstream-slam", Some(working), Some(downstream)),
        band("weakest-part-over-safety-factor", Some(upper), None),
        band("weakest-part", Some(strength), None),
    ];
    // It must be shut again at working pressure, too.
    // Warming lifts any relief on a shut, full body, and should: it is shown and does not bind.
    let everyday = (working / fitted.reseat_ratio).max(cold.1);
    let slams = everyday.max(downstream).max(slam.unwrap_or(0.0));

    let free = clear(scene, Relief { set: everyday.max(1e5), bore: 10e-3, ..fitted });
    let pulses = freeze(&free, tolerance).map(|f| f.pulses).unwrap_or_default();
    let rates = pulses.iter().filter(|p| p.lasts_s > 0.0).map(|p| p.net_m3 / p.lasts_s);
    // Zone 1 reaches the relief of zone 2 through the check; the other way round the check is shut, unless a stem holds it
    // up.
    let joined = scene.body.joined_at(&scene.starts);
    let reaches = |name: &str| joined || place == "zone2" || name == "zone1";
    let pulse_rate = rates
        .zip(&pulses)
        .filter(|(_, p)| reaches(&p.zone))
        .map(|(r, _)| r)
        .fold(None, |most: Option<f64>, r| Some(most.map_or(r, |m| m.max(r))));
    let critical = |set: f64| pulse_rate.map(|q| Relief::critical_bore(q.max(0.0), set, fitted.discharge, 1000.0));

    let (set, lifts_in_slams) = match (slams < upper, everyday < upper) {
        (true, _) => (Some(slams + 0.5 * (upper - slams)), false),
        (false, true) => (Some(everyday + 0.5 * (upper - everyday)), true),
        _ => (None, true),
    };
    let set = set.map(|set| rounded(set, everyday, upper));
    let critical_set = set.unwrap_or(fitted.set);
    // Half a millimetre up: what can be drilled, and dirt does not block at once.
    let bore = critical(critical_set).map_or(fitted.bore, |b| ((b * BORE_MARGIN / 5e-4).ceil() * 5e-4).max(1e-3));
    let mut recommended = None;
    let mut with_it = None;
    if let Some(set) = set {
        let clear = clear(scene, Relief { set, bore, ..fitted });
        let found = peaks(&clear.body, &clear.starts, clear.duration, tolerance)?;
        let peak = found.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let floor = if lifts_in_slams { everyday } else { slams };
        recommended = Some(Recommended {
            set_pressure_pa_gauge: set,
            bore_m: bore,
            margin_below_pa: set - floor,
            margin_above_pa: upper - set,
            peak_pa_gauge: peak,
            lifts_in_slams,
        });
        let mut tonight = scene.clone();
        tonight.body.relief = Some(Relief { set, bore, ..fitted });
        tonight.count = 1;
        let mut found = freeze(&tonight, tolerance)?;
        found.blocking = blocking(&tonight, &found, tolerance);
        with_it = Some(found);
    }
    let (sets, bores) =
        axes(everyday, upper.max(1.2 * everyday), strength, critical(critical_set).unwrap_or(1e-3), bore, steps);
    let pairs: Vec<(f64, f64)> = sets.iter().flat_map(|s| bores.iter().map(move |b| (*s, *b))).collect();
    let limits = Limits {
        everyday,
        slams,
        upper,
        strength,
        weak,
        zone2: scene.body.zones.iter().position(|z| z.name == "zone2"),
    };
    let free = clear(scene, Relief { set: everyday, bore, ..fitted });
    // All nights are alike until the first ice, or until a relief opens.
    let before = before_ice(&free.body, &free.starts, free.duration, COARSE).ok();
    let grid = pairs
        .par_iter()
        .map(|&(set, bore)| {
            let tonight = clear(scene, Relief { set, bore, ..fitted });
            let found = match before.as_ref().filter(|b| b.highest.iter().all(|p| *p < set)) {
                Some(before) => peaks_after(&tonight.body, before, tonight.duration, COARSE),
                None => peaks(&tonight.body, &tonight.starts, tonight.duration, COARSE),
            };
            limits.cell(set, bore, found.ok())
        })
        .collect();
    let mut rests_on =
        vec!["working-pressure", "thermal-before-ice", "weakest-part", "safety-factor", "pulse-of-first-ice"];
    rests_on.extend(["ports-clear-of-ice", "relief-as-set"]);
    if !lifts_in_slams {
        rests_on.extend(["fill-slam", "downstream-slam"]);
    }
    Ok(ReliefStudy {
        place: place.to_owned(),
        window,
        recommended,
        critical_bore_m: critical(critical_set),
        critical_set,
        pulse_rate,
        rests_on,
        sets,
        bores,
        grid,
        with_it,
        weakest: (weak, strength, safety),
    })
}

/// A set on a round figure (5 psi) inside the window, or as it is where the window is too narrow.
fn rounded(set: f64, low: f64, high: f64) -> f64 {
    const STEP: f64 = 5.0 * 6_894.757_293_168_361;
    let round = (set / STEP).round() * STEP;
    if round > low && round < high { round } else { set }
}

/// Whether the night with the recommended relief, its ports open to ice, ends with something given way, and after what.
pub fn gives_way(run: &Freeze) -> Option<(bool, f64)> {
    let first = run.first_yield.as_ref()?;
    let plugged = run.nights.first().and_then(|n: &OneNight| n.night.first(Happening::ReliefPlugged));
    Some((plugged.is_some_and(|e| e.time <= first.t_s), first.t_s))
}
