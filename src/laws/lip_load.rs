//! The load that an elastomer lip makes against an air inlet's travel, with its two branches.
//!
//! ```text
//! roll        s = s_open + lift − x
//! mean        F(s) of the lip, times temperature and ageing
//! half width  w = (π/4) tan δ · F (1 − s_open/s),    closing F + w,  opening F − w
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | x | travel from the sealed position, positive open | m |
//! | s, s_open | roll of the lip, and roll at the open stop (preload) | m |
//! | F, w | force that pushes the inlet open, half the width of the loop | N |
//! | tan δ | loss tangent ([`crate::laws::rubber::Compound::loss_tangent`] or measured) | 1 |
//!
//! **Hysteresis.** A linear solid of loss tangent tan δ driven to and fro between s_open and s_sealed traces an ellipse of
//! area π tan δ K [(s_sealed − s_open)/2]². A loop that opens in proportion to the roll beyond the open stop,
//! w = c K(s − s_open), has the same area for c = (π/4) tan δ. Taken rate independent, as filled rubber nearly is. K is the
//! secant F/s, so that w stays positive where the lip softens. Estimate.

use super::curve::{BranchedCurve, CurveProblem, MonotoneCurve};
use super::lip::ElastomerLip;
use crate::real::Real;
use std::f64::consts::FRAC_PI_4;

/// A lip between its two ends of travel. It rolls by s = lift + preload − x, where x is travel from the sealed position,
/// and pushes the inlet open.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LipLoad {
    /// The lip.
    pub lip: ElastomerLip,
    /// Travel from sealed to the open stop, m.
    pub lift: f64,
    /// Roll at the open stop, m.
    pub preload: f64,
    /// Loss tangent tan δ; 0 gives one branch.
    pub loss_tangent: f64,
    /// Factor on all forces: temperature times ageing (1 = as new at the reference temperature).
    pub factor: f64,
}

impl LipLoad {
    /// Roll, m, at travel `x` m.
    #[inline]
    pub fn roll<T: Real>(&self, x: T) -> T {
        -x + (self.lift + self.preload)
    }

    /// Force midway between the branches, N, and half the distance between them, opening minus closing, N: not positive,
    /// since the lip pushes harder while it is rolled up (closing) than while it gives back (opening).
    pub fn branches<T: Real>(&self, x: T) -> (T, T) {
        let s = self.roll(x);
        let mean = self.lip.force(s) * self.factor;
        // Roll beyond the open stop as a share of all roll; none past the stop.
        let beyond = if s.value() > self.preload { (s - self.preload) / s } else { T::constant(0.0) };
        (mean, -(mean * beyond * (FRAC_PI_4 * self.loss_tangent)))
    }

    /// Does the force fall anywhere as the inlet closes, from the open stop to the sealed position? Such a lip snaps.
    pub fn snaps_through(&self) -> bool {
        const STEPS: u32 = 128;
        (0..=STEPS).any(|i| self.lip.rate(self.preload + self.lift * f64::from(i) / f64::from(STEPS)) < 0.0)
    }

    /// Both branches as curves of `points` (at least 2) evenly spaced travels from `below` m (not negative: the wear to
    /// allow for) under the sealed position to the stop: 30 times cheaper than the law itself. Between the points, the
    /// error falls as the square of their distance or faster; 33 points of a lip that does not snap are good to 2e-5.
    ///
    /// # Errors
    /// Fewer than two points, `below + lift` not above 0, or a force that is not finite (lip past 90°).
    pub fn tabulate(&self, below: f64, points: usize) -> Result<BranchedCurve, CurveProblem> {
        let last = points.saturating_sub(1).max(1) as f64;
        let travel: Vec<f64> = (0..points).map(|i| (self.lift + below) * (i as f64 / last) - below).collect();
        let forces = travel.iter().map(|&x| self.branches(x));
        let (opening, closing): (Vec<f64>, Vec<f64>) = forces.map(|(mean, half)| (mean + half, mean - half)).unzip();
        Ok(BranchedCurve::new(MonotoneCurve::new(&travel, &opening)?, MonotoneCurve::new(&travel, &closing)?))
    }
}

/// Does a measured `force` rise and fall along its rising travel by more than `noise` (same unit), as that of a lip that
/// snaps through does? False for fewer than three points.
pub fn is_non_monotone(force: &[f64], noise: f64) -> bool {
    let (mut high, mut low) = (f64::NEG_INFINITY, f64::INFINITY);
    let (mut rises, mut falls) = (false, false);
    for &f in force {
        high = high.max(f);
        low = low.min(f);
        rises |= f - low > noise;
        falls |= high - f > noise;
    }
    rises && falls
}
