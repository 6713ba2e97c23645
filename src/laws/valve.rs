//! Quarter-turn shutoffs: loss coefficient and effective area against handle position.
//!
//! ```text
//! A_eff / A_bore = 1/√K(opening),   opening = 1 − (degrees from open)/90
//! ```
//!
//! One curve for the full-bore ball valve and the cock, through points of two published tables:
//!
//! - ball valve: Munson, Young & Okiishi, *Fundamentals of Fluid Mechanics*, Table 8.2: K = 0.05 open, 5.5 at 1/3 closed
//!   (30°), 210 at 2/3 closed (60°);
//! - cock in a pipe: Weisbach's table as handbooks print it, K against the closing angle (5, 10, 20, 40 and 60° read on a
//!   page, the others from memory), shut at about 82°.
//!
//! The tables agree where they meet (5.47 against 5.5 at 30°, 206 against 210 at 60°), so the curve takes the ball valve's
//! three points and the cock's points between them: it errs by 0 against the ball valve's table and by 0.6 % (30°) and
//! 1.9 % (60°) against Weisbach's, 0 at his other angles. Weisbach gives 0.05 at 5°, the ball valve 0.05 when open: the
//! first 5° change nothing. The data themselves are good to 20 to 30 %. Between the points the effective area follows
//! [`MonotoneCurve`]; it leaves zero at 82° with zero slope, so it is smooth there, and rests at zero from there to 90°.

use super::curve::MonotoneCurve;
use crate::real::Real;
use std::sync::LazyLock;

/// Closing angle, degrees from open, at which a ball valve or cock is shut (Weisbach; the last 8° only move the seal).
pub const SHUT_ANGLE: f64 = 82.0;

/// The opening from which a valve passes anything.
pub const FIRST_OPENING: f64 = 1.0 - SHUT_ANGLE / 90.0;

/// Loss coefficient of a fully open full-bore ball valve (Munson, Young & Okiishi, Table 8.2).
pub const BALL_OPEN_LOSS: f64 = 0.05;

/// (degrees from open, K), from nearly shut to open; see the module's text for where each comes from.
pub const LOSS_POINTS: [(f64, f64); 14] = [
    (65.0, 486.0),
    (60.0, 210.0),
    (55.0, 106.0),
    (50.0, 52.6),
    (45.0, 31.2),
    (40.0, 17.3),
    (35.0, 9.68),
    (30.0, 5.5),
    (25.0, 3.10),
    (20.0, 1.56),
    (15.0, 0.75),
    (10.0, 0.29),
    (5.0, 0.05),
    (0.0, BALL_OPEN_LOSS),
];

static RELATIVE_AREA: LazyLock<MonotoneCurve> = LazyLock::new(|| {
    let opening = |degrees: f64| 1.0 - degrees / 90.0;
    let mut x = vec![0.0, opening(SHUT_ANGLE)];
    let mut y = vec![0.0, 0.0];
    for (degrees, k) in LOSS_POINTS {
        x.push(opening(degrees));
        y.push(1.0 / k.sqrt());
    }
    MonotoneCurve::from_rising(&x, &y)
});

/// Effective area of a ball valve or cock over its bore area, from 0 to 1/√0.05 = 4.47.
///
/// `opening` is the fraction of the handle's quarter turn, 0 shut to 1 open, clamped. Continuously differentiable. Above 1
/// because a full-bore valve loses less than one velocity head of its bore.
#[inline]
pub fn ball_effective_area<T: Real>(opening: T) -> T {
    // The ends are where a valve spends its time.
    if opening.value() >= 1.0 {
        T::constant(1.0 / BALL_OPEN_LOSS.sqrt())
    } else if opening.value() <= FIRST_OPENING {
        T::constant(0.0)
    } else {
        RELATIVE_AREA.value(opening)
    }
}

/// Loss coefficient K (velocity head in the bore) of a ball valve or cock at `opening` (0 shut to 1 open, clamped);
/// infinite when shut.
pub fn ball_loss_coefficient(opening: f64) -> f64 {
    let area = ball_effective_area(opening);
    1.0 / (area * area)
}

/// Inherent equal-percentage characteristic: flow coefficient over that of the open valve, `R^(opening−1)`.
///
/// `opening` 0 to 1, `rangeability` R above 1 (50 is usual). Form of IEC 60534-2-4, from memory.
pub fn equal_percentage(opening: f64, rangeability: f64) -> f64 {
    rangeability.powf(opening - 1.0)
}

/// Liquid critical pressure ratio factor F_F of IEC 60534-2-1: `0.96 − 0.28 √(p_v/p_c)`, vapour over critical pressure.
pub fn critical_pressure_ratio_factor(vapour_pressure: f64, critical_pressure: f64) -> f64 {
    0.96 - 0.28 * (vapour_pressure / critical_pressure).sqrt()
}

/// Pressure drop, Pa, at which a valve chokes by cavitation: `F_L² (p₁ − F_F p_v)` (IEC 60534-2-1).
///
/// `pressure_recovery` F_L, `upstream` and `vapour_pressure` Pa absolute, `ff` of [`critical_pressure_ratio_factor`].
pub fn choked_pressure_drop(pressure_recovery: f64, upstream: f64, vapour_pressure: f64, ff: f64) -> f64 {
    pressure_recovery * pressure_recovery * (upstream - ff * vapour_pressure)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::real::Dual;
    use approx::assert_relative_eq;

    #[test]
    fn ref_open_a_third_and_two_thirds_closed_as_munson_prints() {
        // Munson, Young & Okiishi, Table 8.2.
        for (closed, k) in [(0.0, 0.05), (1.0 / 3.0, 5.5), (2.0 / 3.0, 210.0)] {
            assert_relative_eq!(ball_loss_coefficient(1.0 - closed), k, max_relative = 1e-9);
        }
    }

    #[test]
    fn analytic_area_is_zero_when_shut_rises_and_is_clamped() {
        for opening in [-1.0, 0.0, 0.05, 8.0 / 90.0] {
            assert_eq!(ball_effective_area(opening), 0.0);
        }
        assert!(ball_loss_coefficient(0.0).is_infinite());
        let mut last = 0.0;
        for i in 90..=1000 {
            let area = ball_effective_area(f64::from(i) / 1000.0);
            assert!(area > last || i > 944, "at {i}");
            last = area;
        }
        assert_relative_eq!(last, 1.0 / 0.05_f64.sqrt(), max_relative = 1e-15);
        assert_eq!(ball_effective_area(1.5), last);
        assert!(ball_effective_area(f64::NAN).is_nan());
    }

    #[test]
    fn analytic_slope_is_continuous_from_shut_to_open() {
        let slope = |x: f64| ball_effective_area(Dual::<1>::variable(x, 0)).eps[0];
        for x in [8.0 / 90.0, 25.0 / 90.0, 0.5, 85.0 / 90.0, 1.0] {
            assert_relative_eq!(slope(x - 1e-10), slope(x + 1e-10), epsilon = 1e-6);
        }
    }
}
