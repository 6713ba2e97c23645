//! Friction on a moving part, smooth through rest.
//!
//! ```text
//! Coulomb   F = F_c v/√(v² + v_t²)        → F_c sign(v) when |v| ≫ v_t
//! viscous   F = c v
//! ```
//!
//! The sign is that of the velocity: the force *on* the part is the negative. At |v| = v_t the Coulomb force is 71 % of
//! F_c, at 10 v_t 99.5 %. A part under a load below F_c creeps instead of sticking, at about v_t·load/F_c: choose v_t so
//! small that the creep during the time of interest does not matter. Regularisation common in multibody dynamics.

use crate::real::Real;

/// Regularised Coulomb friction, N, with the sign of `velocity` m/s.
///
/// `magnitude` F_c N, not negative; `transition_velocity` v_t m/s, above 0 (with 0 the law is a step, and 0 at rest).
#[inline]
pub fn coulomb<T: Real>(velocity: T, magnitude: f64, transition_velocity: f64) -> T {
    let floor = (transition_velocity * transition_velocity).max(f64::MIN_POSITIVE);
    let v = velocity.value();
    let root = (v * v + floor).sqrt();
    velocity.chain(v / root * magnitude, magnitude * floor / (root * root * root))
}

/// Viscous friction, N, with the sign of `velocity` m/s; `coefficient` c in N s/m.
#[inline]
pub fn viscous<T: Real>(velocity: T, coefficient: f64) -> T {
    velocity * coefficient
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::real::Dual;
    use approx::assert_relative_eq;

    #[test]
    fn analytic_coulomb_is_odd_bounded_and_has_its_slope_at_rest() {
        for v in [0.0, 1e-9, 1e-4, 1e-3, 0.5, 1e6] {
            let f = coulomb(v, 3.0, 1e-3);
            assert_eq!(f, -coulomb(-v, 3.0, 1e-3));
            assert!(f <= 3.0);
        }
        assert_relative_eq!(coulomb(1e-3, 3.0, 1e-3), 3.0 / 2f64.sqrt(), max_relative = 1e-15);
        assert_relative_eq!(coulomb(0.1, 3.0, 1e-3), 3.0, max_relative = 1e-4);
        assert_relative_eq!(coulomb(Dual::<1>::variable(0.0, 0), 3.0, 1e-3).eps[0], 3000.0, max_relative = 1e-14);
        assert_eq!(coulomb(0.0, 3.0, 0.0), 0.0);
        assert!(coulomb(f64::NAN, 3.0, 1e-3).is_nan());
        assert_eq!(viscous(-0.2, 5.0), -1.0);
    }
}
