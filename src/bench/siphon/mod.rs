//! `siphon`: the supply fails or goes to vacuum, or water presses from the load side. Who protects, what comes back, how high
//! the water rises in a tube at the outlet.

mod document;
mod limits;
mod run;
mod scene;
mod words;

pub use document::{SCHEMA_SIPHON, SiphonContext, SiphonDocument};
pub use limits::{Decides, FoulLimit, foul_limits, rise_at_rest};
pub use run::{Outcome, Point, Rise, run_scene};
pub use scene::{LONGEST, Scene, fall, rig as scene_rig, tube};
pub use words::{siphon_headline, siphon_story};

use crate::assembly::Settings;
use crate::error::Error;
use crate::numerics::Options;
use serde::Serialize;

/// Water from the load side, m3, that may come back in service before protection counts as lost.
pub const BACK_LIMIT: f64 = 1e-6;

/// Who protected.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum By {
    /// The check alone: nothing passed it.
    Check,
    /// The air inlet: the check let something pass.
    AirInlet,
    /// The check held and the air inlet was open besides.
    Both,
}

/// The scenes of one assembly and what they come to.
#[derive(Debug, Clone)]
pub struct Siphon {
    /// The scene asked for.
    pub scene: Scene,
    /// It, run to rest.
    pub asked: Outcome,
    /// The scene that belongs to it: service to a vacuum test, and the reverse; none to backpressure.
    pub other: Option<Outcome>,
    /// Whether the assembly protects; `None` if that cannot be said.
    pub protects: Option<bool>,
    /// Who protected in the scene asked for; `None` if nobody did.
    pub by: Option<By>,
    /// Rise that the height of installation allows, m.
    pub rise_limit_m: f64,
    /// Rise that a test allows, m.
    pub test_limit_m: f64,
}

impl Siphon {
    /// The outcome of a scene, if it was run.
    pub fn outcome(&self, scene: Scene) -> Option<&Outcome> {
        [Some(&self.asked), self.other.as_ref()].into_iter().flatten().find(|o| o.scene == scene)
    }
}

/// Whether the assembly protects: in the vacuum test the water stays under `limit` m, in service no more than
/// [`BACK_LIMIT`] of the load side's water comes back, both run to rest. What has failed has failed, at rest or not.
fn protects(test: &Outcome, service: &Outcome, limit: f64) -> Option<bool> {
    let rise = test.rise.map_or(f64::NAN, |r| r.max_m);
    let back = service.load_water_back_m3;
    if rise > limit || back > BACK_LIMIT {
        return Some(false);
    }
    (test.settled && service.settled && rise <= limit && back <= BACK_LIMIT).then_some(true)
}

/// Runs the scene that the settings name and the one that belongs to it.
///
/// # Errors
/// [`Error`] for input that does not go together and for a run that cannot go on.
pub fn siphon(settings: &Settings, options: &Options) -> Result<Siphon, Error> {
    let scene = Scene::of(settings)?;
    let asked = run_scene(settings, scene, options)?;
    let rise_limit_m = settings.number("siphon.rise_limit")?;
    let test_limit_m = settings.number("siphon.test_limit")?;
    let other = match scene {
        Scene::VacuumTest => Some(run_scene(settings, Scene::Service, options)?),
        Scene::Service => Some(run_scene(settings, Scene::VacuumTest, options)?),
        Scene::Backpressure => None,
    };
    let protects = match (&other, scene) {
        (Some(service), Scene::VacuumTest) => protects(&asked, service, rise_limit_m),
        (Some(test), Scene::Service) => protects(test, &asked, rise_limit_m),
        _ => None,
    };
    let held = match asked.scene {
        Scene::VacuumTest => asked.rise.is_some_and(|r| r.max_m <= rise_limit_m),
        Scene::Service => asked.load_water_back_m3 <= BACK_LIMIT,
        Scene::Backpressure => asked.passed_nothing(),
    };
    let by = held.then(|| match (asked.passed_nothing(), asked.t_air_inlet_opens_s.is_some()) {
        (true, false) => By::Check,
        (true, true) => By::Both,
        (false, _) => By::AirInlet,
    });
    Ok(Siphon { scene, asked, other, protects, by, rise_limit_m, test_limit_m })
}
