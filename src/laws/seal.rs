//! Leak past an elastomer seat.
//!
//! ```text
//! A = A₀ exp(−p_seat/p_ref)
//! ```
//!
//! The contact of rubber on a rough face leaks through channels that close as the seating pressure rises. That the leak
//! falls steeply, near to exponentially, with seating pressure is what percolation models of rough contact find (the
//! conductance falls by about a decade for a rise of pressure of some tenths of the modulus; B. N. J. Persson's theory of
//! seals, from memory). The numbers for a worn seat of a vacuum breaker are estimates: no source was found.

use crate::real::Real;

/// Seating pressure over which the leak area falls by e, Pa. **Estimate**, no source: with it a worn seat that dribbles at
/// 10 psi is about ten times tighter at 30 psi and a thousand times at 60 psi, if the seat carries the line pressure.
pub const LEAK_REFERENCE_PRESSURE: f64 = 50.0e3;

/// Effective leak area, m², of a closed seat.
///
/// `area_at_rest` A₀ m² at no seating pressure (0 for a perfect seat); `seating_pressure` Pa, contact force over contact
/// area, negative counts as 0; `reference_pressure` p_ref Pa, above 0.
#[inline]
pub fn leak_area<T: Real>(area_at_rest: f64, seating_pressure: T, reference_pressure: f64) -> T {
    (seating_pressure.at_least(0.0) / -reference_pressure).exp() * area_at_rest
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::real::Dual;
    use approx::assert_relative_eq;

    #[test]
    fn analytic_leak_falls_by_e_per_reference_pressure_and_not_below_rest() {
        assert_eq!(leak_area(2e-8, 0.0, 5e4), 2e-8);
        assert_eq!(leak_area(2e-8, -1e6, 5e4), 2e-8);
        assert_relative_eq!(leak_area(2e-8, 5e4, 5e4) * std::f64::consts::E, 2e-8, max_relative = 1e-15);
        let d = leak_area(2e-8, Dual::<1>::variable(1e5, 0), 5e4);
        assert_relative_eq!(d.eps[0], -d.re / 5e4, max_relative = 1e-14);
        assert!(leak_area(2e-8, f64::NAN, 5e4).is_nan());
    }

    #[test]
    fn analytic_reference_estimate_gives_the_falls_its_text_claims() {
        let at = |psi: f64| leak_area(1.0, psi * 6894.757, LEAK_REFERENCE_PRESSURE);
        let fall_30 = at(10.0) / at(30.0);
        let fall_60 = at(10.0) / at(60.0);
        assert!((8.0..25.0).contains(&fall_30) && (500.0..2000.0).contains(&fall_60), "{fall_30} {fall_60}");
    }
}
