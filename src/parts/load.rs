//! What presses a part shut (check) or holds it open (air inlet), against travel.

use crate::laws::curve::BranchedCurve;
use crate::real::Real;

/// A static load in the upright position, spring and weight together, as a function of travel from the as-new sealed
/// position. Travel is negative where a worn seat lets the part go deeper than that.
#[derive(Debug, Clone, PartialEq)]
pub enum Load {
    /// `F = sealed + rate * travel`: a helical spring about its working point.
    Linear {
        /// Force at the as-new sealed position, N.
        sealed: f64,
        /// Change with travel, N/m: positive for a check (its spring is compressed as it opens), negative for an air
        /// inlet (its spring relaxes as it opens).
        rate: f64,
    },
    /// A measured or tabulated curve, one branch for opening and one for closing.
    Measured(BranchedCurve),
}

impl Load {
    /// Whether the force both rises and falls along the travel by more than a hundredth of its largest value, as that of a
    /// lip that snaps through does.
    pub fn snaps(&self) -> bool {
        match self {
            Load::Linear { .. } => false,
            Load::Measured(curve) => {
                let forces: Vec<f64> = curve.opening().knots().map(|k| k.1).collect();
                let largest = forces.iter().fold(0.0, |m: f64, f| m.max(f.abs()));
                crate::laws::lip_load::is_non_monotone(&forces, 0.01 * largest)
            }
        }
    }

    /// Force midway between the branches, N, and half the distance between them (opening minus closing), N.
    #[inline]
    pub fn branches<T: Real>(&self, travel: T) -> (T, T) {
        match self {
            Load::Linear { sealed, rate } => (travel * *rate + *sealed, T::constant(0.0)),
            Load::Measured(curve) => curve.branches(travel),
        }
    }
}
