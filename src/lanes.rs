//! Numbers that are worked out side by side.
//!
//! A law written over [`Lanes`] takes one number (`f64`) or four at once ([`f64x4`]), by the same operations in the same
//! order, so each of the four has the bits that it would have alone. Four divisions or roots then take the time of one,
//! and these are what an evaluation of the rates waits for. There is no fused multiplication: its rounding would depend on
//! the machine.

use std::ops::{Add, Div, Mul, Neg, Sub};
use wide::{CmpLe, CmpLt, f64x4};

/// One number, or several side by side.
pub(crate) trait Lanes:
    Copy
    + Add<Output = Self>
    + Sub<Output = Self>
    + Mul<Output = Self>
    + Div<Output = Self>
    + Neg<Output = Self>
    + Add<f64, Output = Self>
    + Sub<f64, Output = Self>
    + Mul<f64, Output = Self>
{
    /// The same number everywhere.
    fn splat(x: f64) -> Self;
    /// Square root.
    fn sqrt(self) -> Self;
    /// `yes` where `self < bound`, else `no` (also where either is not a number).
    fn where_less(self, bound: Self, yes: Self, no: Self) -> Self;
    /// `yes` where `self <= bound`, else `no` (also where either is not a number).
    fn where_at_most(self, bound: Self, yes: Self, no: Self) -> Self;
    /// Whether `self >= bound` everywhere.
    fn all_at_least(self, bound: f64) -> bool;
}

impl Lanes for f64 {
    #[inline(always)]
    fn splat(x: f64) -> Self {
        x
    }
    #[inline(always)]
    fn sqrt(self) -> Self {
        f64::sqrt(self)
    }
    #[inline(always)]
    fn where_less(self, bound: Self, yes: Self, no: Self) -> Self {
        if self < bound { yes } else { no }
    }
    #[inline(always)]
    fn where_at_most(self, bound: Self, yes: Self, no: Self) -> Self {
        if self <= bound { yes } else { no }
    }
    #[inline(always)]
    fn all_at_least(self, bound: f64) -> bool {
        self >= bound
    }
}

impl Lanes for f64x4 {
    #[inline(always)]
    fn splat(x: f64) -> Self {
        f64x4::splat(x)
    }
    #[inline(always)]
    fn sqrt(self) -> Self {
        f64x4::sqrt(self)
    }
    #[inline(always)]
    fn where_less(self, bound: Self, yes: Self, no: Self) -> Self {
        self.cmp_lt(bound).blend(yes, no)
    }
    #[inline(always)]
    fn where_at_most(self, bound: Self, yes: Self, no: Self) -> Self {
        self.cmp_le(bound).blend(yes, no)
    }
    #[inline(always)]
    fn all_at_least(self, bound: f64) -> bool {
        f64x4::splat(bound).cmp_le(self).all()
    }
}

/// Numbers that came side by side, one by one: the `K` of each lane.
#[inline(always)]
pub(crate) fn each<const K: usize>(numbers: [f64x4; K]) -> [[f64; K]; 4] {
    let mut out = [[0.0; K]; 4];
    for (k, four) in numbers.into_iter().enumerate() {
        let four = four.to_array();
        for lane in 0..4 {
            out[lane][k] = four[lane];
        }
    }
    out
}
