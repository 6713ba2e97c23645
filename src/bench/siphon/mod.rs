//! `siphon`: the supply fails or goes to vacuum, or water presses from the load side. Who protects, what comes back, how high
//! the water rises in a tube at the outlet.

mod chatter;
mod document;
mod limits;
mod points;
mod run;
mod scene;
mod words;

pub use chatter::Chatter;
pub use document::{SCHEMA_SIPHON, SiphonContext, SiphonDocument};
pub use limits::{Decides, FoulLimit, foul_limits, rise_at_rest};
pub use points::Point;
pub use run::{Outcome, Rise, run_scene};
pub use scene::{LONGEST, Scene, fall, rig as scene_rig, tube};
pub use words::{scene_headline, siphon_headline, siphon_story};

use crate::assembly::Settings;
use crate::error::Error;
use crate::numerics::Options;
use crate::rig::installed_height;
use serde::Serialize;

/// Least height of an assembly above its highest outlet, m: 12 in (ASSE 1056-2013, synopsis).
pub const LEAST_HEIGHT: f64 = 0.3048;

/// Who protected.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum By {
    /// The check alone: once shut it let nothing pass.
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
    /// Who protected in the scene asked for; `None` if the assembly does not protect.
    pub by: Option<By>,
    /// Height of the assembly above its highest outlet, m; negative below it.
    pub installed_height_m: f64,
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

impl Outcome {
    /// Whether the assembly protects in this scene. In the vacuum test the water must stay under `limit` m, unless nothing
    /// passes the check; in service the load side's water must not be drawn back ([`Outcome::draws_load_water`]). What has
    /// failed has failed, at rest or not; `None` if it has not, but might yet, and for backpressure.
    pub fn protects(&self, limit: f64) -> Option<bool> {
        let failed = match self.scene {
            Scene::VacuumTest => !self.rise.is_some_and(|r| r.max_m <= limit && !r.overflows) && !self.passed_nothing(),
            Scene::Service => self.draws_load_water(),
            Scene::Backpressure => return None,
        };
        if failed { Some(false) } else { (self.settled || self.nothing_more_to_draw()).then_some(true) }
    }

    /// Who protected in this scene; `None` if nobody did.
    pub fn by(&self, limit: f64) -> Option<By> {
        let failed = self.protects(limit) == Some(false);
        match (self.passed_nothing(), self.t_air_inlet_opens_s.is_some()) {
            _ if failed => None,
            (true, false) => Some(By::Check),
            (true, true) => Some(By::Both),
            (false, _) => (self.scene != Scene::Backpressure).then_some(By::AirInlet),
        }
    }
}

/// Runs the scene that the settings name and the one that belongs to it.
///
/// # Errors
/// [`Error`] for input that does not go together and for a run that cannot go on.
pub fn siphon(settings: &Settings, options: &Options) -> Result<Siphon, Error> {
    let scene = Scene::of(settings)?;
    let asked = run_scene(settings, scene, options)?;
    let installed_height_m = installed_height(settings)?;
    let rise_limit_m = scene::rise_limit(settings)?;
    let test_limit_m = settings.number("siphon.test_limit")?;
    let other = match scene {
        Scene::VacuumTest => Some(run_scene(settings, Scene::Service, options)?),
        Scene::Service => Some(run_scene(settings, Scene::VacuumTest, options)?),
        Scene::Backpressure => None,
    };
    let verdicts = [Some(&asked), other.as_ref()].map(|o| o.and_then(|o| o.protects(rise_limit_m)));
    let protects = match verdicts {
        [Some(true), Some(true)] => Some(true),
        _ => verdicts.contains(&Some(false)).then_some(false),
    };
    let by = if protects == Some(false) { None } else { asked.by(rise_limit_m) };
    Ok(Siphon { scene, asked, other, protects, by, installed_height_m, rise_limit_m, test_limit_m })
}
