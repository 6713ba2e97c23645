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
//! A short column is not lifted by its own weight's pull: air breaks through it. At a height of 0 this is the level load
//! side of `flows`. Water and air pass each other in the open pipe, so a falling pipe runs part full until the flow fills
//! its outlet, and does not prime by itself. Source: hydrostatics; the share of the top is an estimate.

use super::Rig;
use super::flows::Pressures;
use super::siphon::step;
use super::stream::{SOFT_DP, SOFT_DP_WIDE, Stream};
use crate::laws::constants::STANDARD_GRAVITY;
use crate::real::Real;

/// Water reaches the assembly from the last bore of a falling pipe, and of one beyond this many bores from the last fiftieth,
/// for a smooth hand-over to air (estimate).
const TOP: f64 = 50.0;

impl Rig {
    /// Whether the load side falls to an outlet in the air.
    #[inline]
    pub(super) fn falls(&self) -> bool {
        self.outlet.1 < 0.0 && self.beyond_outlet.is_none()
    }

    /// What passes shutoff 2, of effective area `open`, and the outlet, where the load side falls. Apart from the other
    /// openings, whose rates then cost as if there were none.
    #[cold]
    #[inline(never)]
    pub(super) fn falling_streams<T: Real>(&self, open: T, p: &Pressures<T>) -> [Stream<T>; 2] {
        let ([_, zone2, pressure], [_, _, share2, liquid]) = (p.zone, p.liquid);
        let (area, height) = self.outlet;
        let (pa, dry, full) = (T::constant(self.fluid.ambient), T::constant(0.0), T::constant(1.0));
        let air = (-liquid + 1.0).at_least(0.0);
        let head = self.fluid.density * STANDARD_GRAVITY * height;
        let hangs = liquid * head + self.fluid.ambient;
        // With its outlets shut nothing can follow the column.
        let sunk = match area > 0.0 {
            true => -step((-pressure + (self.fluid.ambient + head)) / SOFT_DP_WIDE) + 1.0,
            false => full,
        };
        let bore = (self.shutoff2.bore_area / std::f64::consts::FRAC_PI_4).sqrt();
        let depth = air * sunk * (-height / bore).min(TOP);
        let reach = liquid * step(-depth + 1.0);
        let shutoff2 = self.fluid.stream(open, SOFT_DP_WIDE, zone2, pressure, share2, reach);
        let mut outlet = self.fluid.stream(liquid * area, SOFT_DP, pressure, hangs, full, dry);
        outlet.air = outlet.air + self.fluid.stream(air * area, SOFT_DP, pressure, pa, dry, dry).air;
        [shutoff2, outlet]
    }
}
