//! Faults of the air inlet that any construction, or one with a metal spring, can have.

use crate::assembly::Settings;
use crate::error::Error;
use crate::faults::change::stated;
use crate::faults::{Change, Class, Component, Fault, Needs, Origin, Truth, Way};
use crate::laws::constants::STANDARD_GRAVITY;
use crate::rig::Rig;

/// Mass of a waterlogged poppet over that of a dry one (estimate).
const WATERLOGGED: f64 = 2.5;

/// A heavier poppet: the stated load grows by the weight, which helps to open when upright.
fn heavy(s: &Settings, severity: f64) -> Result<Vec<(&'static str, f64)>, Error> {
    let mass = s.number("air_inlet.mass")?;
    let more = (WATERLOGGED - 1.0) * severity * mass;
    let mut all = vec![("air_inlet.mass", mass + more)];
    if stated(s, "air_inlet.load") {
        let area = Rig::from_settings(s)?.inlet.stated_area;
        all.push(("air_inlet.load", s.number("air_inlet.load")? + more * STANDARD_GRAVITY / area));
    }
    Ok(all)
}

pub(super) static FAULTS: &[Fault] = &[
    Fault {
        name: "inlet-spring-weak",
        class: Class::Part,
        component: Component::InletLoad,
        what: "air inlet spring tired or corroded",
        physics: "Less force to open: the pressure must fall further before the air inlet opens; it shuts sooner and spits less.",
        needs: &[Needs::InletSpring],
        changes: &[Change::Times { path: "air_inlet.load_factor", worst: 0.3 }],
        truth: Truth::InletOpens(Way::Falls),
        look: "Free length against a new spring.",
        from: Origin::CommonPractice,
    },
    Fault {
        name: "inlet-spring-stiff",
        class: Class::Part,
        component: Component::InletLoad,
        what: "wrong air inlet spring, too stiff",
        physics: "More force to hold open: it opens early and shuts late; a weak supply may never shut it.",
        needs: &[Needs::InletSpring],
        changes: &[Change::Times { path: "air_inlet.load_factor", worst: 3.0 }],
        truth: Truth::InletOpens(Way::Rises),
        look: "Wire and coils against the right spring: the check's own may have been put here.",
        from: Origin::CommonPractice,
    },
    Fault {
        name: "inlet-spring-missing",
        class: Class::Part,
        component: Component::InletLoad,
        what: "air inlet spring broken, or left out",
        physics: "What is left of the spring and the poppet's weight open it: at next to no pressure, or not at all.",
        needs: &[Needs::InletSpring],
        changes: &[Change::Times { path: "air_inlet.load_factor", worst: 0.0 }],
        truth: Truth::InletOpens(Way::Falls),
        look: "Count the springs before the bonnet goes on.",
        from: Origin::CommonPractice,
    },
    Fault {
        name: "inlet-stuck",
        class: Class::Part,
        component: Component::InletDisc,
        what: "air inlet disc stuck to its seat by scale or heat",
        physics: "Adhesion must be overcome once: bled to nothing it may still be shut, then it pops when touched.",
        needs: &[Needs::FaceSeat],
        changes: &[Change::Plus { path: "air_inlet.adhesion", worst: "5 psi", power: 1.0 }],
        truth: Truth::InletOpens(Way::Falls),
        look: "Scale ring on disc and seat; test twice after cleaning, the second time after it has stood shut.",
        from: Origin::CommonPractice,
    },
    Fault {
        name: "inlet-guide-scaled",
        class: Class::Part,
        component: Component::InletGuide,
        what: "scale or grit in the air inlet's guide",
        physics: "Friction both ways: it opens later than its load says, and only part-way if friction exceeds the load at the \
                  open stop.",
        needs: &[],
        changes: &[Change::Plus { path: "air_inlet.friction", worst: "1 psi", power: 1.0 }],
        truth: Truth::InletOpens(Way::Falls),
        look: "Move the poppet by hand over its whole travel.",
        from: Origin::CommonPractice,
    },
    Fault {
        name: "inlet-poppet-waterlogged",
        class: Class::Part,
        component: Component::InletPoppet,
        what: "air inlet poppet cracked and full of water",
        physics: "More mass: upright its weight helps to open, inertia delays it, so it shuts later and spits more.",
        needs: &[Needs::NoInletCurve],
        changes: &[Change::Worked {
            paths: &["air_inlet.mass", "air_inlet.load"],
            words: "mass x (1 + 1.5 s); a stated load grows by the weight added",
            by: heavy,
        }],
        truth: Truth::Field("air_inlet.mass", "mass of the air inlet's poppet", Way::Rises),
        look: "Shake it: water inside is heard. Cracks run from the stem.",
        from: Origin::Estimate,
    },
    Fault {
        name: "inlet-debris",
        class: Class::Part,
        component: Component::InletDisc,
        what: "dirt between air inlet disc and seat",
        physics: "The vent never quite shuts: it dribbles at any pressure and zone 2 empties by itself with everything shut.",
        needs: &[Needs::FaceSeat],
        changes: &[Change::Plus { path: "air_inlet.foul_area", worst: "5 mm2", power: 4.0 }],
        truth: Truth::InletLeak,
        look: "Sealing face and seat, and where the dirt came from.",
        from: Origin::CommonPractice,
    },
    Fault {
        name: "inlet-disc-set",
        class: Class::Part,
        component: Component::InletDisc,
        what: "air inlet disc set or brittle",
        physics: "Hard rubber needs pressure to seal: the leak falls by e for each 50 kPa of seating pressure.",
        needs: &[Needs::FaceSeat],
        changes: &[
            Change::Plus { path: "air_inlet.seat_leak_area", worst: "0.5 mm2", power: 2.0 },
            Change::Plus { path: "air_inlet.seat_wear", worst: "0.3 mm", power: 1.0 },
        ],
        truth: Truth::InletLeak,
        look: "Bend the disc: cracks show. Check again at low pressure, where it leaked.",
        from: Origin::Estimate,
    },
    Fault {
        name: "inlet-stiff-and-sticking",
        class: Class::Part,
        component: Component::InletDisc,
        what: "stiff air inlet spring and a sticking disc together",
        physics: "The spring lifts the opening pressure, adhesion lowers it, and adhesion differs from try to try.",
        needs: &[Needs::InletSpring, Needs::FaceSeat],
        changes: &[
            Change::In(Component::InletLoad, &Change::Times { path: "air_inlet.load_factor", worst: 2.0 }),
            Change::Plus { path: "air_inlet.adhesion", worst: "2.5 psi", power: 1.0 },
        ],
        truth: Truth::Field("air_inlet.adhesion", "adhesion of the air inlet", Way::Rises),
        look: "Repeat three times: one reading that looks right says nothing.",
        from: Origin::Estimate,
    },
];
