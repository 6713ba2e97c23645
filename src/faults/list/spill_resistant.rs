//! Faults that only a spill-resistant construction can have.

use crate::assembly::Settings;
use crate::error::Error;
use crate::faults::assembly_errors as errors;
use crate::faults::{Change, Class, Component, Fault, Needs, Origin, Truth, Way};
use crate::rig::Rig;

/// What the check still holds at severity 1, Pa: 1.05 psi, a shade above what the trade asks for (common practice).
const STILL_PASSES: f64 = 7_239.495;

/// Load factor of the check at which it holds just enough to pass.
fn just_passing(s: &Settings, severity: f64) -> Result<Vec<(&'static str, f64)>, Error> {
    let rig = Rig::from_settings(s)?;
    let factor = s.number("check.load_factor")?;
    let element = -rig.check.load_force(0.0, -1.0);
    let wanted = STILL_PASSES * rig.check.seat_area() + rig.check.friction + rig.check.weight;
    // A check that already holds less is left as it is.
    let worst = if element > 0.0 { (wanted / element).min(1.0) } else { 1.0 };
    Ok(vec![("check.load_factor", factor * (1.0 + (worst - 1.0) * severity))])
}

pub(super) static FAULTS: &[Fault] = &[
    Fault {
        name: "check-load-below-margin",
        class: Class::Part,
        component: Component::CheckSpring,
        what: "check weak, though it still passes: the air inlet no longer shuts first",
        physics: "The check opens below the pressure that shuts the air inlet: margin gone, it spills like a pressure type and \
                  passes its test.",
        needs: &[Needs::Diaphragm],
        changes: &[Change::Worked {
            paths: &["check.load_factor"],
            words: "falls to where the check still holds 1.05 psi, x s",
            by: just_passing,
        }],
        truth: Truth::Margin(Way::Falls),
        look: "The check's reading must be well above the air inlet's, not just above 1.0.",
        from: Origin::CommonPractice,
    },
    Fault {
        name: "diaphragm-torn",
        class: Class::Part,
        component: Component::Diaphragm,
        what: "pinhole or tear in the diaphragm",
        physics: "Zone 1 loses water through it to the canopy: both readings fall by themselves, the true opening is unmoved; \
                  where zone 1 is gone before zone 2 is vented it cannot be read.",
        needs: &[Needs::Diaphragm],
        changes: &[Change::Plus { path: "air_inlet.diaphragm_tear_area", worst: "5 mm2", power: 4.0 }],
        truth: Truth::Field("air_inlet.diaphragm_tear_area", "area of the tear", Way::Rises),
        look: "Stretch it against the light; water at the canopy with the screw dry told this from the check.",
        from: Origin::CommonPractice,
    },
    Fault {
        name: "diaphragm-unclamped",
        class: Class::Part,
        component: Component::Diaphragm,
        what: "diaphragm not clamped all round, or wrinkled",
        physics: "The same force on less area: the air inlet opens and shuts at a pressure higher by 1/(1 - loss).",
        needs: &[Needs::Diaphragm],
        changes: &[Change::Times { path: "air_inlet.zone1_share", worst: 0.7 }],
        truth: Truth::InletOpens(Way::Rises),
        look: "Bead in its groove all round before the bonnet goes down.",
        from: Origin::CommonPractice,
    },
    Fault {
        name: "diaphragm-folded-wrong",
        class: Class::Part,
        component: Component::Diaphragm,
        what: "rolling diaphragm folded the wrong way",
        physics: "Without its fold it has the piston's area when sealed and the bore's when open: it opens early and pulls \
                  harder as it goes.",
        needs: &[Needs::Diaphragm],
        changes: &[Change::Worked {
            paths: &["air_inlet.zone1_share", "air_inlet.diaphragm_area_change"],
            words: "diameters D (1 - 0.08 s) sealed and D (1 + 0.08 s) at the open stop",
            by: errors::diaphragm_folded,
        }],
        truth: Truth::InletOpens(Way::Rises),
        look: "The fold's closed side points away from the pressure; push the piston through its travel and watch it roll.",
        from: Origin::Geometry,
    },
    Fault {
        name: "stem-ring-cut",
        class: Class::Part,
        component: Component::StemRing,
        what: "ring that seals the stem in the vent cut",
        physics: "Zone 2 leaks through the clearance round the stem: a dribble at the canopy at any pressure.",
        needs: &[Needs::Stem],
        changes: &[Change::Worked {
            paths: &["air_inlet.foul_area"],
            words: "rim of the vent x 0.05 mm of clearance x s",
            by: errors::stem_ring_cut,
        }],
        truth: Truth::InletLeak,
        look: "The ring, and the edge of the bore that may have cut it.",
        from: Origin::Geometry,
    },
];
