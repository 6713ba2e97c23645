//! Faults of an elastomer load.

use crate::assembly::Settings;
use crate::error::Error;
use crate::faults::{Change, Class, Component, Fault, Needs, Origin, Truth, Way};

/// Share of the sealed pocket that trapped water fills at severity 1: what air is left must be squeezed a hundredfold.
const WATER_SHARE: f64 = 0.992;

fn flooded(s: &Settings, severity: f64) -> Result<Vec<(&'static str, f64)>, Error> {
    let (pocket, water) = (s.number("air_inlet.pocket_volume")?, s.number("air_inlet.pocket_water")?);
    Ok(vec![("air_inlet.pocket_water", water + severity * (WATER_SHARE * pocket - water).max(0.0))])
}

pub(super) static FAULTS: &[Fault] = &[
    Fault {
        name: "lip-soft",
        class: Class::Part,
        component: Component::InletLoad,
        what: "elastomer lip aged soft",
        physics: "Less force to open, and less still when warm: the pressure must fall further before the air inlet opens.",
        needs: &[Needs::Elastomer],
        changes: &[Change::Times { path: "air_inlet.load_factor", worst: 0.4 }],
        truth: Truth::InletOpens(Way::Falls),
        look: "Press the lip beside a new one; note the temperature with the reading.",
        from: Origin::CommonPractice,
    },
    Fault {
        name: "lip-stiff",
        class: Class::Part,
        component: Component::InletLoad,
        what: "elastomer lip stiff with cold or age",
        physics: "More force to hold open: it opens early and shuts late, worst on cold mornings.",
        needs: &[Needs::Elastomer],
        changes: &[Change::Times { path: "air_inlet.load_factor", worst: 2.0 }],
        truth: Truth::InletOpens(Way::Rises),
        look: "Test once more when it is warm before parts are bought.",
        from: Origin::CommonPractice,
    },
    Fault {
        name: "lip-slot-blocked",
        class: Class::Part,
        component: Component::InletLoad,
        what: "breathing slot between the lips blocked, the pocket half full of dirt",
        physics: "The pocket between the lips cannot breathe: opening enlarges it, its vacuum holds the air inlet part-way.",
        needs: &[Needs::Elastomer],
        changes: &[
            Change::Fades { path: "air_inlet.breathing_area", power: 4.0 },
            // What blocks the slot fills the pocket as well. Without that, the pocket of the built-in grows by a third only,
            // and its suction (0.68 lbf at 1 in) stays below the lip's load at the open stop (0.83 lbf).
            Change::Times { path: "air_inlet.pocket_volume", worst: 0.5 },
        ],
        truth: Truth::Field("air_inlet.breathing_area", "area of the breathing slot", Way::Falls),
        look: "A slot is meant to be there: compare with the part list before calling it damage.",
        from: Origin::CommonPractice,
    },
    Fault {
        name: "lip-water-trapped",
        class: Class::Part,
        component: Component::InletLoad,
        what: "water trapped between the lips, the slot blocked",
        physics: "Water does not give: trapped while the air inlet stood open it keeps it from shutting.",
        needs: &[Needs::Elastomer],
        changes: &[
            Change::Worked { paths: &["air_inlet.pocket_water"], words: "0.992 of the sealed pocket x s", by: flooded },
            Change::Becomes { path: "air_inlet.breathing_area", value: "0 mm2" },
            Change::Becomes { path: "air_inlet.pocket_initial", value: "atmosphere-open" },
        ],
        truth: Truth::Field("air_inlet.pocket_water", "water in the pocket", Way::Rises),
        look: "Dry it and clear the slot before it goes back.",
        from: Origin::Estimate,
    },
    Fault {
        name: "lip-inside-out",
        class: Class::Part,
        component: Component::InletLoad,
        what: "elastomer fitted inside out",
        physics: "The outer lip no longer bears on the bonnet and the sealing lip does not lie on its seat: no load, and a leak.",
        needs: &[Needs::Elastomer],
        changes: &[
            Change::Times { path: "air_inlet.load_factor", worst: 0.0 },
            Change::Plus { path: "air_inlet.foul_area", worst: "5 mm2", power: 1.0 },
        ],
        truth: Truth::InletOpens(Way::Falls),
        look: "Which way the lip points, against a new one.",
        from: Origin::Estimate,
    },
];
