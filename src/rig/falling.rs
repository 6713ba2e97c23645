//! A load side that falls from the assembly to an outlet open to the air: its water lies at the low end, and comes back only
//! where the piping is full or where the pull lifts it over the whole height.
//!
//! ```text
//! column    P_c = Pa - rho g abs(h) phi      its top, with atmosphere at its foot
//! outlet    phi A between P and P_c: water out, or air in behind a column that is lifted
//!           (1 - phi) A between P and Pa: air past the water, either way
//! shutoff 2 of what comes back, water is phi step(1 - k (1 - phi)(1 - lifted)),    lifted = step((Pa - rho g abs(h) - P)/SOFT_DP_WIDE)
//! ```
//!
//! | symbol | meaning |
//! |---|---|
//! | P, phi | pressure of the load side at the assembly, Pa, and its liquid share |
//! | h, A | height of the outlet, negative, and its effective area |
//! | k | `abs(h)` over the bore of shutoff 2, at most [`TOP`]: what falls by less than its bore is level |
//!
//! A short column is not lifted by its own weight's pull: air breaks through it. At a height of 0 this is the level load side of `flows`. Water and air pass each other in the open pipe, so a falling
//! pipe runs part full until the flow fills its outlet, and does not prime by itself. Source: hydrostatics; the share of
//! the top is an estimate.

use super::siphon::step;
use super::{Rig, SOFT_DP_WIDE};
use crate::laws::constants::STANDARD_GRAVITY;
use crate::real::Real;

/// Water reaches the assembly from the last bore of a falling pipe, and of one beyond this many bores from the last fiftieth,
/// for a smooth hand-over to air (estimate).
const TOP: f64 = 50.0;

/// What a falling load side is at one instant.
pub(super) struct Falling<T> {
    /// Pressure at which its column hangs, Pa absolute.
    pub hangs: T,
    /// Parts of the outlet's area that the column and the air beside it take, m2.
    pub area: [T; 2],
    /// Share of water in what comes back through shutoff 2.
    pub reach: T,
}

impl Rig {
    /// The load side if it falls to an outlet in the air.
    #[inline(always)]
    pub(super) fn falling<T: Real>(&self, pressure: &T, liquid: &T) -> Option<Falling<T>> {
        if self.falls() { Some(self.falling_column(pressure, liquid)) } else { None }
    }

    /// Whether the load side falls to an outlet in the air.
    pub(super) fn falls(&self) -> bool {
        self.outlet.1 < 0.0 && self.beyond_outlet.is_none()
    }

    #[inline(never)]
    fn falling_column<T: Real>(&self, pressure: &T, liquid: &T) -> Falling<T> {
        let (area, height) = self.outlet;
        let air = (-*liquid + 1.0).at_least(0.0);
        let head = self.fluid.density * STANDARD_GRAVITY * height;
        let hangs = *liquid * head + self.fluid.ambient;
        // With its outlets shut nothing can follow the column.
        let sunk = match area > 0.0 {
            true => -step((-*pressure + (self.fluid.ambient + head)) / SOFT_DP_WIDE) + 1.0,
            false => T::constant(1.0),
        };
        let bore = (self.shutoff2.bore_area / std::f64::consts::FRAC_PI_4).sqrt();
        let depth = air * sunk * (-height / bore).min(TOP);
        Falling { hangs, area: [*liquid * area, air * area], reach: *liquid * step(-depth + 1.0) }
    }
}
