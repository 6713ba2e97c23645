//! From settings to the scenes of a failing supply.

use crate::assembly::{Settings, conflict};
use crate::bench::service::{Begins, put_under_pressure, user_gave};
use crate::error::Error;
use crate::laws::curve::MonotoneCurve;
use crate::laws::pipe::Friction;
use crate::parts::{Fluid, Opening};
use crate::rig::{Feed, InitialWater, MainPressure, Rig, Tube, installed_height};
use crate::units::{Kind, System, format};
use serde::Serialize;

/// Longest run, s.
pub const LONGEST: f64 = 600.0;

/// What happens to the assembly.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Scene {
    /// A vessel under vacuum on the inlet side, a tube in an open pan on the load side; no line.
    VacuumTest,
    /// The supply of a service in use fails; its line is full of water.
    Service,
    /// Water pressure from the load side, with the supply fallen.
    Backpressure,
}

impl Scene {
    /// The scene that the settings name.
    ///
    /// # Errors
    /// [`Error`] if the field is missing.
    pub fn of(settings: &Settings) -> Result<Scene, Error> {
        Ok(match settings.choice("siphon.scene")? {
            "service" => Scene::Service,
            "backpressure" => Scene::Backpressure,
            _ => Scene::VacuumTest,
        })
    }

    /// In plain words.
    pub fn name(self) -> &'static str {
        match self {
            Scene::VacuumTest => "vacuum test",
            Scene::Service => "service",
            Scene::Backpressure => "backpressure",
        }
    }
}

/// From where the supply of a scene begins to fall.
pub(super) fn begins(s: &Settings, scene: Scene, rig: &Rig) -> Begins {
    match scene {
        Scene::VacuumTest => Begins::AsGiven,
        _ if rig.shutoff2.opening.at(0.0) > 0.0 && rig.outlet.0 > 0.0 => Begins::InUse,
        _ if user_gave(s, "zone2.initial_pressure") || user_gave(s, "zone2.initial") => Begins::AsGiven,
        _ => Begins::AtRest,
    }
}

/// Pressure, Pa gauge, to which the supply falls, and the time it takes, s.
///
/// # Errors
/// [`Error`] when the pressure is below absolute zero or below the vapour pressure of the water.
pub fn fall(s: &Settings, scene: Scene, rig: &Rig) -> Result<(f64, f64), Error> {
    const PATH: &str = "supply.failed_pressure";
    // Against pressure from the load side a main that is merely empty is the plain case.
    let p = if scene == Scene::Backpressure && !user_gave(s, PATH) { 0.0 } else { s.number(PATH)? };
    let fluid = &rig.fluid;
    let absolute = p + fluid.ambient;
    let show = |kind, si| format(kind, si, System::Us);
    let fields = ["ambient.pressure_absolute", "water.temperature", PATH];
    if !(absolute > 0.0) {
        let rule = format!(
            "no vacuum goes below absolute zero, which here is {} below atmosphere",
            show(Kind::AbsolutePressure, fluid.ambient)
        );
        return Err(conflict(s, "above-absolute-zero", &[fields[0], PATH], rule));
    }
    if !(absolute > fluid.vapour_pressure) {
        let rule = format!(
            "water boils at its vapour pressure of {}: a supply can fall to {} at the lowest",
            show(Kind::AbsolutePressure, fluid.vapour_pressure),
            show(Kind::GaugePressure, fluid.vapour_pressure - fluid.ambient)
        );
        return Err(conflict(s, "above-vapour-pressure", &fields, rule));
    }
    Ok((p, s.number("supply.course")?))
}

fn course(s: &Settings, from: f64, to: f64, time: f64) -> Result<MonotoneCurve, Error> {
    MonotoneCurve::new(&[0.0, time], &[from, to])
        .map_err(|e| conflict(s, "course", &["supply.failed_pressure", "supply.course"], e.to_string()))
}

/// Length of a tube over the rise it is to show, unless it is given.
const HEADROOM: f64 = 1.25;

/// Rise, m, that the height of installation allows: none for an assembly below its outlet.
///
/// # Errors
/// [`Error`] if a field is missing.
pub fn rise_limit(s: &Settings) -> Result<f64, Error> {
    let limit = if user_gave(s, "siphon.rise_limit") { s.number("siphon.rise_limit")? } else { installed_height(s)? };
    Ok(limit.max(0.0))
}

/// The tube of the vacuum test.
///
/// # Errors
/// [`Error`] if a field is missing.
pub fn tube(s: &Settings, fluid: &Fluid) -> Result<Tube, Error> {
    let bore = s.optional_number("load_side.tube_bore")?;
    let bore = bore.map_or_else(|| s.number("shutoff2.bore"), Ok)?;
    let length = s.number("load_side.tube_length")?;
    Ok(Tube {
        bore,
        length: if user_gave(s, "load_side.tube_length") { length } else { length.max(HEADROOM * rise_limit(s)?) },
        dip: s.number("load_side.tube_dip")?,
        entry_loss: s.number("load_side.tube_entry_loss")?,
        friction: Friction::new(bore, s.number("supply.line_roughness")?, fluid.density, fluid.viscosity),
    })
}

/// The rig of a scene, with the same assembly as for any other run.
///
/// # Errors
/// [`Error`] naming the fields that do not go together.
pub fn rig(s: &Settings, scene: Scene) -> Result<Rig, Error> {
    let mut rig = Rig::from_settings(s)?;
    let (failed, time) = fall(s, scene, &rig)?;
    rig.shutoff1.opening = Opening::fixed(1.0);
    rig.acts_until = time;
    let end = s.optional_number("run.end_time")?;
    if let Some(end) = end
        && !(end > time)
    {
        let rule = "the run must last longer than the supply takes to fall".to_owned();
        return Err(conflict(s, "end-after-course", &["supply.course", "run.end_time"], rule));
    }
    rig.end_time = end.unwrap_or(LONGEST);
    rig.stop_at_equilibrium = true;
    rig.stop_at_rest = false;
    let inlet = &rig.inlet.poppet;
    rig.starts_stuck = inlet.adhesion + inlet.friction >= inlet.static_force(0.0, true);
    match scene {
        Scene::VacuumTest => vacuum_test(s, &mut rig, failed, time)?,
        Scene::Service => {
            service(s, &mut rig, failed, time)?;
            rig.outlet.1 = -installed_height(s)?;
        }
        Scene::Backpressure => {
            service(s, &mut rig, failed, time)?;
            backpressure(s, &mut rig)?;
        }
    }
    Ok(rig)
}

fn vacuum_test(s: &Settings, rig: &mut Rig, failed: f64, time: f64) -> Result<(), Error> {
    rig.feed = Feed::Vessel(course(s, 0.0, failed, time)?);
    let tube = tube(s, &rig.fluid)?;
    rig.zones[2].volume += tube.area() * tube.length;
    rig.tube = Some(tube);
    rig.outlet = (0.0, 0.0);
    rig.shutoff2.opening = Opening::fixed(1.0);
    rig.initial[2] = InitialWater::Empty;
    // Everything is open to the pan: nothing can be trapped.
    rig.initial_pressure = [0.0; 3];
    Ok(())
}

fn service(s: &Settings, rig: &mut Rig, failed: f64, time: f64) -> Result<(), Error> {
    let fluid = rig.fluid;
    let mut supply = match &rig.feed {
        Feed::Line(line) => line.static_pressure(&fluid, 0.0),
        Feed::Recorded(curve) => curve.value(0.0),
        Feed::Vessel(_) | Feed::Wave(_) => s.number("supply.pressure")?,
    };
    if let Feed::Line(line) = &mut rig.feed {
        line.cells = 1;
        line.wall_compliance = line.walls(&fluid);
        line.drains = true;
        match s.supply_trace() {
            Some(trace) => rig.acts_until = trace.time_s.last().copied().unwrap_or(time),
            None => {
                let start = s.number("supply.pressure")?;
                line.pressure = MainPressure::Recorded(course(s, start, failed, time)?);
                supply = line.static_pressure(&fluid, 0.0);
            }
        }
    }
    put_under_pressure(s, rig, supply)?;
    rig.traces_load_water = true;
    Ok(())
}

fn backpressure(s: &Settings, rig: &mut Rig) -> Result<(), Error> {
    let pump = s.optional_number("load_side.backpressure")?;
    let height = s.number("load_side.height")?;
    if pump.is_none() && !(height > 0.0) {
        let rule = "backpressure comes from load_side.backpressure (a pump) or from an outlet above the assembly \
                    (load_side.height above 0)"
            .to_owned();
        return Err(conflict(
            s,
            "backpressure-from",
            &["siphon.scene", "load_side.height", "load_side.backpressure"],
            rule,
        ));
    }
    rig.beyond_outlet = Some(pump.unwrap_or(0.0));
    Ok(())
}
