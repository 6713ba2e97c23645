//! Faults of bonnet, body, shutoffs, cocks and relief.

use crate::assembly::Settings;
use crate::error::Error;
use crate::faults::{Change, Class, Component, Fault, Needs, Origin, Truth, Way};

/// The relief's set pressure at severity 1 over the supply's.
const JUST_ABOVE_SUPPLY: f64 = 1.1;
/// No relief is set lower than this, Pa: 5 psi.
const LOWEST_SET: f64 = 34_473.8;

fn set_low(s: &Settings, severity: f64) -> Result<Vec<(&'static str, f64)>, Error> {
    let set = s.number("relief.set_pressure")?;
    let supply = s.number("supply.pressure")?
        + 1000.0 * crate::laws::constants::STANDARD_GRAVITY * s.number("supply.elevation")?;
    let worst = (JUST_ABOVE_SUPPLY * supply).max(LOWEST_SET).min(set);
    Ok(vec![("relief.set_pressure", set + (worst - set) * severity)])
}

/// Hot shutoff leaks run from 0.005 to 1 gpm (common practice). 3.6 mm2 passes 1 gpm at 60 psi: Q / (0.61 sqrt(2 dp/rho)).
const SHUTOFF_LEAK: &str = "3.6 mm2";
/// So that severity 0.1 passes a two-hundredth of severity 1.
const SHUTOFF_POWER: f64 = 2.3;

pub(super) static FAULTS: &[Fault] = &[
    Fault {
        name: "bonnet-ring-torn",
        class: Class::Part,
        component: Component::BonnetRing,
        what: "ring under the bonnet torn or pinched",
        physics: "Zone 2 leaks to the outside round the bonnet, not through the vent.",
        needs: &[],
        changes: &[Change::Plus { path: "outside_leak.zone2_area", worst: "2 mm2", power: 3.0 }],
        truth: Truth::Field("outside_leak.zone2_area", "area of the leak round the bonnet", Way::Rises),
        look: "A new ring, its groove clean, the bonnet down by hand.",
        from: Origin::Estimate,
    },
    Fault {
        name: "bonnet-split",
        class: Class::Part,
        component: Component::Bonnet,
        what: "bonnet split by freezing",
        physics: "A large hole in zone 2: water pours out as soon as it is turned on. Where zone 2 shuts the air inlet no test \
                  holds; where zone 1 does, zone 2 stands at atmosphere anyway and the readings show nothing of it.",
        needs: &[],
        changes: &[Change::Plus { path: "outside_leak.zone2_area", worst: "200 mm2", power: 2.0 }],
        truth: Truth::Field("outside_leak.zone2_area", "area of the split", Way::Rises),
        look: "What split the bonnet may have cracked the body and the balls of the shutoffs: look before turning on.",
        from: Origin::Estimate,
    },
    Fault {
        name: "body-split",
        class: Class::Part,
        component: Component::Body,
        what: "body split by freezing, upstream of the check",
        physics: "Zone 1 jets to the outside: it cannot hold pressure.",
        needs: &[],
        changes: &[Change::Plus { path: "outside_leak.zone1_area", worst: "50 mm2", power: 2.0 }],
        truth: Truth::Field("outside_leak.zone1_area", "area of the split", Way::Rises),
        look: "Nothing goes back together: a mended casting is not trusted.",
        from: Origin::Estimate,
    },
    Fault {
        name: "shutoff-ball-cracked",
        class: Class::Part,
        component: Component::Shutoff1,
        what: "shutoff 1 cracked by water frozen in its ball",
        physics: "Wet below the handle all the time, and it no longer shuts: zone 1 is fed through it.",
        needs: &[],
        changes: &[
            Change::Plus { path: "outside_leak.line_area", worst: "2 mm2", power: 2.0 },
            Change::Plus { path: "shutoff1.leak_area", worst: SHUTOFF_LEAK, power: SHUTOFF_POWER },
        ],
        truth: Truth::Field("outside_leak.line_area", "area of the crack", Way::Rises),
        look: "Handles at 45 degrees over winter leave no water shut in the ball.",
        from: Origin::Estimate,
    },
    Fault {
        name: "shutoff1-leaks",
        class: Class::Part,
        component: Component::Shutoff1,
        what: "shutoff 1 does not shut tight",
        physics: "Zone 1 is refilled while it is bled: the needle stalls, test cock 2 runs on.",
        needs: &[],
        changes: &[Change::Plus { path: "shutoff1.leak_area", worst: SHUTOFF_LEAK, power: SHUTOFF_POWER }],
        truth: Truth::Field("shutoff1.leak_area", "leak area of shutoff 1", Way::Rises),
        look: "Work it a few times and try again before it is taken out.",
        from: Origin::CommonPractice,
    },
    Fault {
        name: "shutoff2-leaks",
        class: Class::Part,
        component: Component::Shutoff2,
        what: "shutoff 2 does not shut tight",
        physics: "Zone 2 is drained by an empty load side while it is tested, or fed by one under pressure.",
        needs: &[],
        // The load side is a stub here: under pressure it has nothing to feed with.
        changes: &[
            Change::Plus { path: "shutoff2.leak_area", worst: SHUTOFF_LEAK, power: SHUTOFF_POWER },
            Change::Becomes { path: "test.load_side", value: "drained" },
        ],
        truth: Truth::Field("shutoff2.leak_area", "leak area of shutoff 2", Way::Rises),
        look: "Shut a valve further down and see whether that stops it.",
        from: Origin::CommonPractice,
    },
    Fault {
        name: "shutoff1-reversed",
        class: Class::Part,
        component: Component::Shutoff1,
        what: "tapped shutoff 1 fitted the wrong way round",
        physics: "Test cock 1 taps the line before the ball: it stays at line pressure with shutoff 1 shut.",
        needs: &[Needs::Cock1InShutoff],
        changes: &[Change::Becomes { path: "cock1.place", value: "shutoff-outer" }],
        truth: Truth::Whole("the check has no test point; with a single cock neither measurement is left"),
        look: "The tap between ball and body.",
        from: Origin::CommonPractice,
    },
    Fault {
        name: "shutoff2-reversed",
        class: Class::Part,
        component: Component::Shutoff2,
        what: "tapped shutoff 2 fitted the wrong way round",
        physics: "Test cock 2 taps the load side: opening it does nothing to zone 2.",
        needs: &[Needs::Cock2InShutoff],
        changes: &[Change::Becomes { path: "cock2.place", value: "shutoff-outer" }],
        truth: Truth::Whole("zone 2 can be neither measured nor vented: both measurements are lost"),
        look: "The tap between body and ball.",
        from: Origin::CommonPractice,
    },
    Fault {
        name: "cock1-plugged",
        class: Class::Part,
        component: Component::Cock1,
        what: "test cock 1 plugged",
        physics: "Little or nothing comes through: the gauge follows slowly or not at all.",
        needs: &[Needs::Cock1],
        changes: &[Change::Fades { path: "cock1.area", power: 3.0 }],
        truth: Truth::Field("cock1.area", "area of test cock 1", Way::Falls),
        look: "Flush before the hose goes on.",
        from: Origin::CommonPractice,
    },
    Fault {
        name: "cock2-plugged",
        class: Class::Part,
        component: Component::Cock2,
        what: "test cock 2 plugged",
        physics: "Zone 2 cannot be vented or measured through it.",
        needs: &[Needs::Cock2],
        changes: &[Change::Fades { path: "cock2.area", power: 3.0 }],
        truth: Truth::Field("cock2.area", "area of test cock 2", Way::Falls),
        look: "Flush before the hose goes on.",
        from: Origin::CommonPractice,
    },
    Fault {
        name: "bleed-screw-plugged",
        class: Class::Part,
        component: Component::BleedScrew,
        what: "bleed screw plugged",
        physics: "Zone 2 does not come down to atmosphere: the check's reading is taken against what is left in it.",
        needs: &[Needs::BleedScrew],
        changes: &[Change::Fades { path: "bleed_screw.area", power: 3.0 }],
        truth: Truth::Field("bleed_screw.area", "area of the bleed screw", Way::Falls),
        look: "Water must run from it, then stop.",
        from: Origin::CommonPractice,
    },
    Fault {
        name: "relief-stuck-open",
        class: Class::Part,
        component: Component::Relief,
        what: "relief held open by dirt",
        physics: "Its zone drains through it: a steady drip in service, and no pressure holds in a test.",
        needs: &[Needs::Relief],
        changes: &[Change::Plus { path: "relief.foul_area", worst: "3 mm2", power: 2.0 }],
        truth: Truth::Field("relief.foul_area", "area held open", Way::Rises),
        look: "Seat and disc of the relief under a glass.",
        from: Origin::Estimate,
    },
    Fault {
        name: "relief-stuck-shut",
        class: Class::Part,
        component: Component::Relief,
        what: "relief scaled shut, or set far too high",
        physics: "Nothing changes in any test; when it freezes there is no way out.",
        needs: &[Needs::Relief],
        changes: &[Change::Times { path: "relief.set_pressure", worst: 10.0 }],
        truth: Truth::ReliefOpens(Way::Rises),
        look: "Its set pressure on a bench: no field test shows it.",
        from: Origin::Estimate,
    },
    Fault {
        name: "relief-set-low",
        class: Class::Part,
        component: Component::Relief,
        what: "relief set below the surges of its line",
        physics: "It lifts on every surge: it spits when valves shut, not steadily.",
        needs: &[Needs::Relief],
        changes: &[Change::Worked {
            paths: &["relief.set_pressure"],
            words: "falls towards 1.1 x the supply's pressure, x s",
            by: set_low,
        }],
        truth: Truth::ReliefOpens(Way::Falls),
        look: "When does it spit? With the zone valves: set pressure or arrestor, not dirt.",
        from: Origin::CommonPractice,
    },
];
