//! Faults of supply, load side and place.

use crate::assembly::Settings;
use crate::error::Error;
use crate::faults::{Change, Class, Component, Fault, Origin, Truth, Way};
use crate::laws::constants::STANDARD_GRAVITY;
use crate::rig::{Rig, installed_height};
use std::f64::consts::FRAC_PI_4;

/// Speed in the bore of shutoff 1, m/s, of a supply just short of its usual flow, and share of it left at severity 1.
const USUAL_SPEED: f64 = 3.0;
const TRICKLE: f64 = 0.04;
/// Friction coefficient of a poppet lying on its guide (estimate).
const GUIDE_FRICTION: f64 = 0.2;

fn bore(s: &Settings) -> Result<f64, Error> {
    Ok(FRAC_PI_4 * s.number("shutoff1.bore")?.powi(2))
}

fn trickle(s: &Settings, severity: f64) -> Result<Vec<(&'static str, f64)>, Error> {
    let flow = bore(s)? * USUAL_SPEED * (1.0 - (1.0 - TRICKLE) * severity);
    let limit = s.optional_number("supply.flow_limit")?.map_or(flow, |given| given.min(flow));
    Ok(vec![("supply.flow_limit", limit)])
}

fn broken_lateral(s: &Settings, severity: f64) -> Result<Vec<(&'static str, f64)>, Error> {
    Ok(vec![("load_side.outlet_area", s.number("load_side.outlet_area")? + severity * bore(s)?)])
}

/// The outlet's own height changes only where it is given below the assembly: a fill looks at nothing else.
fn too_low(s: &Settings, severity: f64) -> Result<Vec<(&'static str, f64)>, Error> {
    let height = s.number("load_side.height")?;
    let mut all = vec![("siphon.rise_limit", (1.0 - severity) * installed_height(s)?.max(0.0))];
    if height < 0.0 {
        all.push(("load_side.height", (1.0 - severity) * height));
    }
    Ok(all)
}

/// Lying on its side, each part rubs with its weight and its weight no longer loads it.
fn on_its_side(s: &Settings, severity: f64) -> Result<Vec<(&'static str, f64)>, Error> {
    let rig = Rig::from_settings(s)?;
    let rub = |mass: f64, area: f64| severity * GUIDE_FRICTION * mass * STANDARD_GRAVITY / area;
    let (check, inlet) = (&rig.check, &rig.inlet);
    Ok(vec![
        ("check.friction", s.number("check.friction")? + rub(check.mass, check.seat_area())),
        ("air_inlet.friction", s.number("air_inlet.friction")? + rub(inlet.poppet.mass, inlet.stated_area)),
    ])
}

pub(super) static FAULTS: &[Fault] = &[
    Fault {
        name: "supply-trickle",
        class: Class::Site,
        component: Component::Supply,
        what: "supply gives too little flow",
        physics: "Below the vent's critical flow neither pressure nor flow lifts the air inlet: it dribbles without end.",
        needs: &[],
        changes: &[Change::Worked {
            paths: &["supply.flow_limit"],
            words: "3 m/s in the bore of shutoff 1 x (1 - 0.96 s), or the given limit if that is less",
            by: trickle,
        }],
        truth: Truth::Field("supply.flow_limit", "most flow the supply can give", Way::Falls),
        look: "Flow and pressure at the hose tap before the assembly is blamed.",
        from: Origin::Estimate,
    },
    Fault {
        name: "load-side-broken",
        class: Class::Site,
        component: Component::LoadSide,
        what: "broken lateral, or a huge demand at the fill",
        physics: "Zone 2 stays below the pressure that shuts the air inlet until the load side has filled, or for good.",
        needs: &[],
        changes: &[Change::Worked {
            paths: &["load_side.outlet_area"],
            words: "as it is + bore of shutoff 1 x s",
            by: broken_lateral,
        }],
        truth: Truth::Field("load_side.outlet_area", "open area of the load side", Way::Rises),
        look: "It closes when shutoff 2 is shut: then it was the load side.",
        from: Origin::CommonPractice,
    },
    Fault {
        name: "outlet-above",
        class: Class::Site,
        component: Component::Site,
        what: "an outlet or pump stands above the assembly: backpressure",
        physics: "The column behind it holds the air inlet shut; it cannot tell it from the supply's own pressure.",
        needs: &[],
        changes: &[Change::Plus { path: "load_side.height", worst: "10 m", power: 1.0 }],
        truth: Truth::Field("load_side.height", "height of the outlet above the assembly", Way::Rises),
        look: "All outlets lower, no pump: else it is the wrong type, whatever it reads.",
        from: Origin::CommonPractice,
    },
    Fault {
        name: "installed-low",
        class: Class::Site,
        component: Component::Site,
        what: "installed too low above the highest outlet",
        physics: "The height that the rise of water in a siphon needs is missing; no gauge shows it.",
        needs: &[],
        changes: &[Change::Worked {
            paths: &["siphon.rise_limit", "load_side.height"],
            words: "height above the highest outlet x (1 - s); load_side.height only where it is below 0",
            by: too_low,
        }],
        truth: Truth::Field("siphon.rise_limit", "height of the assembly above its highest outlet", Way::Falls),
        look: "Measure from the highest outlet: 12 in or more.",
        from: Origin::CommonPractice,
    },
    Fault {
        name: "installed-tilted",
        class: Class::Site,
        component: Component::Site,
        what: "installed on its side",
        physics: "Parts rub on their guides and their weight no longer helps the load.",
        needs: &[],
        changes: &[
            Change::Becomes { path: "mounting", value: "horizontal" },
            Change::Worked {
                paths: &["check.friction", "air_inlet.friction"],
                words: "as it is + 0.2 x weight / area x s",
                by: on_its_side,
            },
        ],
        truth: Truth::InletOpens(Way::Falls),
        look: "A level on the body.",
        from: Origin::Estimate,
    },
    Fault {
        name: "canopy-missing",
        class: Class::Site,
        component: Component::Canopy,
        what: "canopy gone, insects and mud in the vent",
        physics: "Dirt holds the vent open a little and rubs in its guide.",
        needs: &[],
        changes: &[
            Change::Becomes { path: "canopy.fitted", value: "false" },
            Change::Plus { path: "air_inlet.foul_area", worst: "1 mm2", power: 2.0 },
            Change::Plus { path: "air_inlet.friction", worst: "0.5 psi", power: 1.0 },
        ],
        truth: Truth::InletOpens(Way::Falls),
        look: "Canopy on, screen whole.",
        from: Origin::Estimate,
    },
];
