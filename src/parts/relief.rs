//! A small relief: a poppet held shut by a spring, which opens a zone to atmosphere at its set pressure.
//!
//! ```text
//! sealed    opens when  p A >= p_set A
//! open      p A(x) against  F(x) = p_set A + k x,     A(x) = A + (A_disc - A) s(x / x_g),   A_disc = A / reseat ratio
//! ```
//!
//! | symbol | meaning |
//! |---|---|
//! | A, A_disc | area of the seat, and of the disc that feels the pressure once the water is under it |
//! | s, x_g | growth `s (2 - s)` from 0 to 1, and the travel it takes, a twentieth of the lift ([`GROWTH`], estimate) |
//! | k | rate of the spring: at full lift it balances `full lift ratio * p_set` on the disc |
//!
//! The area grows from the first opening on, faster than the spring stiffens: with a slow start the relief would simmer in
//! micrometre lifts at its set pressure and never reach the reseat pressure (seen in a trial).
//!
//! A larger area once open is why a relief pops and why it shuts below its set pressure (the blowdown of safety valves;
//! the same text-book picture is used there, no single source). The linear spring makes the relief throttle between
//! reseat and full lift.

use super::{Poppet, Stand};
use crate::real::Real;

/// Share of the lift over which the disc comes to feel the pressure all over (estimate).
pub const GROWTH: f64 = 0.05;

/// Where a relief is fitted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum ReliefPlace {
    /// In the body, on zone 1.
    Zone1,
    /// In the body, on zone 2.
    Zone2,
    /// In the air inlet's stem: it opens zone 2 and rides on the air inlet.
    AirInletStem,
}

impl ReliefPlace {
    /// The zone it relieves, 1 or 2.
    pub fn zone(self) -> usize {
        if self == ReliefPlace::Zone1 { 1 } else { 2 }
    }
}

/// A relief.
#[derive(Debug, Clone, PartialEq)]
pub struct Relief {
    /// The moving part; its load is the spring's force, its seat the relief's bore.
    pub poppet: Poppet,
    /// Where it is.
    pub place: ReliefPlace,
    /// Whether it stays open once it has opened.
    pub one_shot: bool,
    /// Area that feels the pressure when open, m2.
    pub disc_area: f64,
}

impl Relief {
    /// Area that feels the pressure at travel `x` m, m2.
    #[inline]
    pub fn pressure_area<T: Real>(&self, stand: Stand, x: T) -> T {
        let seat = self.poppet.seat_area();
        if stand == Stand::Sealed {
            return T::constant(seat);
        }
        let s = (x / (GROWTH * self.poppet.lift)).at_least(0.0).at_most(1.0);
        s * (-s + 2.0) * (self.disc_area - seat) + seat
    }

    /// Force along opening travel without friction, N, at `gauge` Pa under the disc, travel `x` m and speed `v` m/s.
    #[inline]
    pub fn drive<T: Real>(&self, stand: Stand, gauge: T, x: T, v: T) -> T {
        gauge * self.pressure_area(stand, x) + self.poppet.load_force(x, v)
    }
}
