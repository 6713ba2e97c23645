//! A service before something happens to it at t = 0: in use, or at rest.

use crate::assembly::Settings;
use crate::error::Error;
use crate::numerics::{Method, Options, Reason, solve};
use crate::parts::Opening;
use crate::rig::{InitialWater, Layout, Mode, Rig, What, label_meaning};

/// Time in which shutoff 2 is opened on the assembly under pressure, s: slow beside the longest line's water, which gathers
/// speed in seconds, so that zone 2 keeps the air inlet shut where the flow lets it.
const OPENED_IN: f64 = 10.0;
/// Time that flow and pressures then have to become steady, s.
const STEADY_IN: f64 = 20.0;
/// Stretches, s, at the end of it over which what flows is compared.
const COMPARED: f64 = 2.0;
/// How much it may differ, as a share and m3: a dribble that a check makes up for in small lifts is steady.
const DIFFERS: (f64, f64) = (0.01, 0.1e-6);

/// How a scene begins.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Begins {
    /// As the zones are given.
    AsGiven,
    /// With nothing drawn, what leaks having come to its balance.
    AtRest,
    /// From the steady flow through shutoff 2 and the outlet.
    InUse,
}

/// How steady a scene was when it began.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Before {
    /// As given, or steady.
    Steady,
    /// Flow or water still change.
    Changing,
    /// A part opens and shuts without end.
    Chatter,
}

/// Whether a user has given this field.
pub(super) fn user_gave(s: &Settings, path: &str) -> bool {
    s.get(path).is_some_and(|v| v.at.is_user())
}

/// Fills the zones of `rig` and puts them under the pressures of a service at rest under `supply` Pa gauge, what a user has
/// given for zone 2 and the load side excepted.
///
/// # Errors
/// [`Error`] if a field is missing.
pub(super) fn put_under_pressure(s: &Settings, rig: &mut Rig, supply: f64) -> Result<(), Error> {
    let statics = rig.statics();
    let residual = s.number("zone2.residual_air")?;
    let full = InitialWater::Brimful { residual_air: residual };
    let trapped = if rig.equal_at_rest(supply) { supply } else { (supply - statics.check_settles_pa).max(0.0) };
    let pressed = user_gave(s, "zone2.initial_pressure");
    rig.initial_pressure[0] = supply;
    if !(pressed || user_gave(s, "zone2.initial")) {
        rig.initial[1] = full;
        rig.initial_pressure[1] = trapped;
    } else if pressed && !user_gave(s, "zone2.initial") {
        rig.initial[1] = full;
    }
    if !user_gave(s, "load_side.initial") {
        rig.initial[2] = full;
    }
    rig.initial_pressure[2] = match rig.initial[2] {
        InitialWater::Empty => 0.0,
        _ => rig.initial_pressure[1],
    };
    Ok(())
}

impl Rig {
    /// Mode and state with which a scene begins at t = 0, ledger empty, and how steady that is.
    ///
    /// # Errors
    /// [`Error`] when the flow cannot be followed.
    pub(super) fn begun(&self, begins: Begins, options: &Options) -> Result<(Mode, Vec<f64>, Before), Error> {
        let (mut mode, mut y) = self.start();
        if begins == Begins::AsGiven {
            return Ok((mode, y, Before::Steady));
        }
        let mut before = self.clone();
        before.stop_at_equilibrium = false;
        let mut t = -STEADY_IN;
        if begins == Begins::InUse {
            t -= OPENED_IN;
            before.shutoff2.opening = Opening::turn(0.0, self.shutoff2.opening.at(0.0), t, OPENED_IN);
        }
        // Explicit steps would be held by stability for half a minute.
        let options = Options { keep_steps: false, method: Method::Rosenbrock, ..*options };
        let layout = Layout::of(self);
        // Over each stretch: water from the supply, and water gained, kg.
        let mut seen = [[0.0; 2]; 3];
        let mut rattles = false;
        let little = DIFFERS.1 * self.fluid.density;
        for (seen, end) in seen.iter_mut().zip([-2.0 * COMPARED, -COMPARED, 0.0]) {
            let (from, stored) = (self.ledger_of(&y), self.stored(&y).0);
            let leg = solve(&before, mode, y, t, end, &options)?;
            (mode, y, t) = (leg.mode_end, leg.y_end, end);
            let to = self.ledger_of(&y);
            let supplied = (to.supply_in - from.supply_in) - (to.supply_back - from.supply_back);
            *seen = [supplied, self.stored(&y).0 - stored];
            let shut = leg.fired.iter().filter(|f| label_meaning(f.label).1 == What::Closed).count();
            let lost = (to.check_back - from.check_back) + (to.spilled - from.spilled) + (to.relieved - from.relieved);
            rattles = leg.reason == Reason::Chatter || (shut > 1 && lost > little);
            if leg.reason == Reason::Chatter {
                break;
            }
        }
        y.iter_mut().skip(layout.dim()).for_each(|count| *count = 0.0);
        if let (Begins::AtRest, Some(i)) = (begins, layout.trace()) {
            // Nothing has been drawn: zone 2 holds the supply's water.
            y[i] = 0.0;
        }
        let [_, [earlier, _], [later, gained]] = seen;
        let limit = DIFFERS.0 * later.abs() + little;
        let before = match (later - earlier).abs() <= limit && gained.abs() <= limit {
            _ if rattles => Before::Chatter,
            true => Before::Steady,
            false => Before::Changing,
        };
        Ok((mode, y, before))
    }
}
