//! A service in use: what flows when the supply begins to fall, at t = 0.

use crate::error::Error;
use crate::numerics::{Method, Options, solve};
use crate::parts::Opening;
use crate::rig::{Layout, Mode, Rig};

/// Time in which shutoff 2 is opened on the assembly under pressure, s: slow beside the longest line's water, which gathers
/// speed in seconds, so that zone 2 keeps the air inlet shut where the flow lets it.
const OPENED_IN: f64 = 10.0;
/// Time the flow then has to become steady, s.
const STEADY_IN: f64 = 20.0;

impl Rig {
    /// Mode and state, ledger empty, at t = 0: the steady flow under the supply's pressure at t = 0 where shutoff 2 and the
    /// outlet are open, the rig's own start where they are not.
    ///
    /// # Errors
    /// [`Error`] when the flow cannot be followed.
    pub(super) fn in_use(&self, options: &Options) -> Result<(Mode, Vec<f64>), Error> {
        let (mode, y) = self.start();
        let open = self.shutoff2.opening.at(0.0);
        if !(open > 0.0 && self.outlet.0 > 0.0) {
            return Ok((mode, y));
        }
        let mut before = self.clone();
        before.stop_at_equilibrium = false;
        let begins = -(OPENED_IN + STEADY_IN);
        before.shutoff2.opening = Opening::turn(0.0, open, begins, OPENED_IN);
        // Explicit steps would be held by stability for half a minute.
        let options = Options { keep_steps: false, method: Method::Rosenbrock, ..*options };
        let flow = solve(&before, mode, y, begins, 0.0, &options)?;
        let (mode, mut y) = (flow.mode_end, flow.y_end);
        y.iter_mut().skip(Layout::of(self).dim()).for_each(|count| *count = 0.0);
        Ok((mode, y))
    }
}
