//! How large a foul may be: the static limit in closed form, and the smaller one under a sudden vacuum.
//!
//! ```text
//! at rest   Cd_f A_f G(p2, p_vacuum) = Cd_v A_v G(p_a, p2),   p2 = p_a - rho g limit,   G the isentropic orifice
//! sudden    the A_f whose highest rise on the way is the limit, vacuum within 0.1 s, found on the rig itself
//! ```

use super::run::run;
use super::scene::{self, Scene};
use crate::assembly::Settings;
use crate::bench::service::Begins;
use crate::error::Error;
use crate::laws::constants::STANDARD_GRAVITY;
use crate::numerics::Options;
use crate::parts::Stand;
use crate::rig::{Rig, foul_to_vent_ratio};
use serde::Serialize;

/// Time in which a sudden vacuum falls, s.
pub const SUDDEN: f64 = 0.1;

/// What decides.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Decides {
    /// The level at rest.
    AtRest,
    /// The swing of a sudden vacuum.
    Sudden,
}

/// The largest foul for one limit of the rise.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct FoulLimit {
    /// The limit, m.
    pub limit_m: f64,
    /// Effective foul over effective vent area at rest.
    pub ratio_at_rest: f64,
    /// Largest foul at rest, m2.
    pub at_rest_m2: f64,
    /// Largest foul under a sudden vacuum, m2.
    pub sudden_m2: f64,
    /// Which is smaller.
    pub decides: Decides,
}

impl Rig {
    /// Effective area of the air inlet for air at its stop, m2.
    fn vent_for_air(&self) -> f64 {
        let inlet = &self.inlet;
        inlet.effective_area(Stand::AtStop, inlet.poppet.lift, 0.0) * inlet.poppet.air_ratio[1]
    }

    /// Effective area of the check's foul and leak for air, m2.
    fn foul_for_air(&self) -> f64 {
        self.check.effective_area(Stand::Sealed, 0.0, 0.0) * self.check.air_ratio[0]
    }
}

/// Rise at rest, m, in a vacuum test with `vacuum` Pa absolute, in closed form; `None` where nothing passes the check.
pub fn rise_at_rest(rig: &Rig, vacuum: f64) -> Option<f64> {
    let (foul, vent) = (rig.foul_for_air(), rig.vent_for_air());
    if !(foul > 0.0) {
        return None;
    }
    let fluid = &rig.fluid;
    let (mut low, mut high) = (vacuum, fluid.ambient);
    for _ in 0..100 {
        let mid = 0.5 * (low + high);
        // The lower zone 2, the more the vent brings and the less the foul takes.
        if foul_to_vent_ratio(fluid.ambient, mid, vacuum, fluid.temperature) > foul / vent {
            low = mid
        } else {
            high = mid
        }
    }
    Some((fluid.ambient - high) / (fluid.density * STANDARD_GRAVITY))
}

/// Limits of the foul for each of `limits` m.
///
/// # Errors
/// [`Error`] for input that does not go together and for a run that cannot go on.
pub fn foul_limits(settings: &Settings, limits: &[f64], options: &Options) -> Result<Vec<FoulLimit>, Error> {
    let settings = settings.with_number("supply.course", SUDDEN)?;
    let rig = scene::rig(&settings, Scene::VacuumTest)?;
    let (vacuum, _) = scene::fall(&settings, Scene::VacuumTest, &rig)?;
    let fluid = rig.fluid;
    let per_area = rig.check.foul_coefficient * rig.check.air_ratio[0];
    let options = Options { keep_steps: true, ..*options };
    limits
        .iter()
        .map(|&limit_m| {
            let p2 = fluid.ambient - fluid.density * STANDARD_GRAVITY * limit_m;
            let ratio = foul_to_vent_ratio(fluid.ambient, p2, vacuum + fluid.ambient, fluid.temperature);
            let at_rest_m2 = ratio * rig.vent_for_air() / per_area;
            let sudden_m2 = sudden(&rig, limit_m, at_rest_m2, &options)?;
            let decides = if sudden_m2 < at_rest_m2 { Decides::Sudden } else { Decides::AtRest };
            Ok(FoulLimit { limit_m, ratio_at_rest: ratio, at_rest_m2, sudden_m2, decides })
        })
        .collect()
}

/// How closely the sudden limit is found, as a share.
const CLOSE: f64 = 2e-3;
/// How long the swing is followed, s: its first peak comes within a second.
const FOLLOWED: f64 = 4.0;

fn sudden(rig: &Rig, limit: f64, at_rest: f64, options: &Options) -> Result<f64, Error> {
    if !(at_rest > 0.0) {
        return Ok(0.0);
    }
    let mut rig = rig.clone();
    rig.end_time = rig.acts_until + FOLLOWED;
    let mut peak = |area: f64| -> Result<f64, Error> {
        rig.check.foul_area = area;
        Ok(run(rig.clone(), Scene::VacuumTest, Begins::AsGiven, options)?.rise.map_or(f64::NAN, |r| r.max_m))
    };
    let (mut low, mut high) = (0.0, at_rest);
    if peak(high)? <= limit {
        return Ok(at_rest);
    }
    // The rise goes roughly with the square of the area: a secant on its root, kept inside the bracket.
    let mut guess = at_rest * 0.75;
    for _ in 0..30 {
        let rise = peak(guess)?;
        if rise > limit {
            high = guess
        } else {
            low = guess
        }
        if high - low < CLOSE * at_rest || (rise / limit - 1.0).abs() < CLOSE {
            return Ok(guess);
        }
        let next = guess * (limit / rise.max(1e-3 * limit)).sqrt();
        guess = if next > low && next < high { next } else { 0.5 * (low + high) };
    }
    Ok(low)
}
