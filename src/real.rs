//! Numbers that may carry derivatives.
//!
//! A law written over [`Real`] gives its value for `f64` and its value together with exact partial derivatives for
//! [`Dual`] (forward-mode differentiation: every operation applies the chain rule, no step size, no truncation).

use std::ops::{Add, Div, Mul, Neg, Sub};

/// A real number: `f64`, or a [`Dual`] that carries derivatives alongside.
///
/// Branches are taken on [`Real::value`] alone, so both kinds follow the same path.
pub trait Real:
    Copy
    + Add<Output = Self>
    + Sub<Output = Self>
    + Mul<Output = Self>
    + Div<Output = Self>
    + Neg<Output = Self>
    + Add<f64, Output = Self>
    + Sub<f64, Output = Self>
    + Mul<f64, Output = Self>
    + Div<f64, Output = Self>
{
    /// A constant: all derivatives zero.
    fn constant(value: f64) -> Self;
    /// The plain value, without derivatives.
    fn value(self) -> f64;
    /// The result of a smooth function of one variable, from its value and slope at `self`.
    fn chain(self, value: f64, slope: f64) -> Self;

    /// A number with its value and its slopes by `inputs`.
    fn with_slopes<const K: usize>(value: f64, inputs: [&Self; K], slopes: [f64; K]) -> Self;

    /// A law of few inputs, differentiated by these alone and then through them: cheaper than carrying every derivative
    /// through every operation of the law, and the same to rounding. The law is given twice, over plain numbers and over
    /// those with derivatives; the macro of the same name writes it once.
    #[inline(always)]
    fn through<const K: usize, const M: usize>(
        inputs: [Self; K],
        _plain: impl FnOnce([f64; K]) -> [f64; M],
        law: impl FnOnce([Dual<K>; K]) -> [Dual<K>; M],
    ) -> [Self; M] {
        let mut own = [Dual::constant(0.0); K];
        for (k, (own, input)) in own.iter_mut().zip(&inputs).enumerate() {
            *own = Dual::variable(input.value(), k);
        }
        let law = law(own);
        let mut out = [Self::constant(0.0); M];
        for (out, law) in out.iter_mut().zip(law) {
            *out = Self::with_slopes(law.re, inputs.each_ref(), law.eps);
        }
        out
    }

    /// Square root; the slope at 0 is taken as 0 (callers regularise before they take a root).
    #[inline]
    fn sqrt(self) -> Self {
        let root = self.value().sqrt();
        self.chain(root, if root > 0.0 { 0.5 / root } else { 0.0 })
    }
    /// Natural exponential.
    #[inline]
    fn exp(self) -> Self {
        let e = self.value().exp();
        self.chain(e, e)
    }
    /// Natural logarithm.
    #[inline]
    fn ln(self) -> Self {
        self.chain(self.value().ln(), 1.0 / self.value())
    }
    /// Power with a constant exponent.
    #[inline]
    fn powf(self, exponent: f64) -> Self {
        let p = self.value().powf(exponent);
        let slope = if self.value() == 0.0 { 0.0 } else { exponent * p / self.value() };
        self.chain(p, slope)
    }
    /// Absolute value; slope 0 at 0.
    #[inline]
    fn abs(self) -> Self {
        let v = self.value();
        self.chain(v.abs(), if v == 0.0 { 0.0 } else { v.signum() })
    }
    /// The larger of `self` and a constant.
    #[inline]
    fn at_least(self, floor: f64) -> Self {
        if self.value() < floor { Self::constant(floor) } else { self }
    }
    /// The smaller of `self` and a constant.
    #[inline]
    fn at_most(self, ceiling: f64) -> Self {
        if self.value() > ceiling { Self::constant(ceiling) } else { self }
    }
}

/// Evaluates `law`, a closure from an array of numbers to an array of numbers, by [`Real::through`].
macro_rules! through {
    ($inputs:expr, $law:expr) => {
        $crate::real::Real::through($inputs, $law, $law)
    };
}
pub(crate) use through;

impl Real for f64 {
    #[inline]
    fn constant(value: f64) -> Self {
        value
    }
    #[inline]
    fn value(self) -> f64 {
        self
    }
    #[inline]
    fn chain(self, value: f64, _slope: f64) -> Self {
        value
    }
    #[inline]
    fn with_slopes<const K: usize>(value: f64, _inputs: [&Self; K], _slopes: [f64; K]) -> Self {
        value
    }
    #[inline]
    fn through<const K: usize, const M: usize>(
        inputs: [Self; K],
        plain: impl FnOnce([f64; K]) -> [f64; M],
        _law: impl FnOnce([Dual<K>; K]) -> [Dual<K>; M],
    ) -> [Self; M] {
        plain(inputs)
    }
}

/// A value and its `N` partial derivatives.
#[derive(Debug, Clone, Copy, PartialEq)]
#[repr(C, align(64))] // a dozen derivatives take one line of the cache and a half; unaligned they would straddle two
pub struct Dual<const N: usize> {
    /// Partial derivatives with respect to the `N` seeded variables.
    pub eps: [f64; N],
    /// The value.
    pub re: f64,
}

impl<const N: usize> Dual<N> {
    /// A variable: derivative 1 with respect to seed `index`, 0 to the others. An `index` of `N` or more seeds nothing.
    #[inline]
    pub fn variable(value: f64, index: usize) -> Self {
        let mut eps = [0.0; N];
        if let Some(e) = eps.get_mut(index) {
            *e = 1.0;
        }
        Dual { re: value, eps }
    }

    #[inline]
    fn combine(re: f64, a: &[f64; N], fa: f64, b: &[f64; N], fb: f64) -> Self {
        let mut eps = [0.0; N];
        for i in 0..N {
            eps[i] = fa * a[i] + fb * b[i];
        }
        Dual { re, eps }
    }
}

impl<const N: usize> Real for Dual<N> {
    #[inline(always)]
    fn constant(value: f64) -> Self {
        Dual { re: value, eps: [0.0; N] }
    }
    #[inline(always)]
    fn value(self) -> f64 {
        self.re
    }
    #[inline(always)]
    fn chain(self, value: f64, slope: f64) -> Self {
        let mut eps = self.eps;
        for e in &mut eps {
            *e *= slope;
        }
        Dual { re: value, eps }
    }
    #[inline(always)]
    fn with_slopes<const K: usize>(value: f64, inputs: [&Self; K], slopes: [f64; K]) -> Self {
        let mut eps = [0.0; N];
        for (i, e) in eps.iter_mut().enumerate() {
            for (input, slope) in inputs.iter().zip(&slopes) {
                *e += slope * input.eps[i];
            }
        }
        Dual { re: value, eps }
    }
}

impl<const N: usize> Add for Dual<N> {
    type Output = Self;
    #[inline(always)]
    fn add(self, o: Self) -> Self {
        let mut eps = self.eps;
        for (e, o) in eps.iter_mut().zip(&o.eps) {
            *e += o;
        }
        Dual { re: self.re + o.re, eps }
    }
}
impl<const N: usize> Sub for Dual<N> {
    type Output = Self;
    #[inline(always)]
    fn sub(self, o: Self) -> Self {
        let mut eps = self.eps;
        for (e, o) in eps.iter_mut().zip(&o.eps) {
            *e -= o;
        }
        Dual { re: self.re - o.re, eps }
    }
}
impl<const N: usize> Mul for Dual<N> {
    type Output = Self;
    #[inline(always)]
    fn mul(self, o: Self) -> Self {
        Self::combine(self.re * o.re, &self.eps, o.re, &o.eps, self.re)
    }
}
impl<const N: usize> Div for Dual<N> {
    type Output = Self;
    #[inline(always)]
    fn div(self, o: Self) -> Self {
        let inv = 1.0 / o.re;
        let q = self.re * inv;
        Self::combine(q, &self.eps, inv, &o.eps, -q * inv)
    }
}
impl<const N: usize> Neg for Dual<N> {
    type Output = Self;
    #[inline(always)]
    fn neg(self) -> Self {
        self.chain(-self.re, -1.0)
    }
}
impl<const N: usize> Add<f64> for Dual<N> {
    type Output = Self;
    #[inline(always)]
    fn add(mut self, o: f64) -> Self {
        self.re += o;
        self
    }
}
impl<const N: usize> Sub<f64> for Dual<N> {
    type Output = Self;
    #[inline(always)]
    fn sub(mut self, o: f64) -> Self {
        self.re -= o;
        self
    }
}
impl<const N: usize> Mul<f64> for Dual<N> {
    type Output = Self;
    #[inline(always)]
    fn mul(self, o: f64) -> Self {
        self.chain(self.re * o, o)
    }
}
impl<const N: usize> Div<f64> for Dual<N> {
    type Output = Self;
    #[inline(always)]
    fn div(self, o: f64) -> Self {
        self.chain(self.re / o, 1.0 / o)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    /// A function with every operation; its derivatives are checked against central differences.
    fn mixture<T: Real>(x: T, y: T) -> T {
        ((x * y + 1.5).sqrt() / (y - x * 0.3) + (x / 2.0).exp() - y.ln() * (-x) + (x - 3.0).abs() + x.powf(2.5))
            * y.at_most(9.0)
    }

    #[test]
    fn analytic_a_law_through_its_inputs_has_the_same_derivatives() {
        let (a, b) = (Dual::<3>::variable(0.7, 0), Dual::<3>::variable(2.0, 2));
        let (x, y) = (a * b + 0.3, b.sqrt() - a);
        let [through] = through!([x, y], |[x, y]| [mixture(x, y)]);
        let plain = mixture(x, y);
        assert_relative_eq!(through.re, plain.re, max_relative = 1e-15);
        for (a, b) in through.eps.iter().zip(&plain.eps) {
            assert_relative_eq!(*a, *b, max_relative = 1e-13, epsilon = 1e-15);
        }
        let [value] = through!([0.7, 2.0], |[x, y]| [mixture(x, y)]);
        assert_eq!(value, mixture(0.7, 2.0));
    }

    #[test]
    fn analytic_dual_matches_central_difference() {
        for (x, y) in [(0.7, 2.0), (1.9, 4.4), (4.2, 8.0)] {
            let d = mixture(Dual::<2>::variable(x, 0), Dual::<2>::variable(y, 1));
            assert_relative_eq!(d.re, mixture(x, y), max_relative = 1e-15);
            let h = 1e-5;
            let dx = (mixture(x + h, y) - mixture(x - h, y)) / (2.0 * h);
            let dy = (mixture(x, y + h) - mixture(x, y - h)) / (2.0 * h);
            assert_relative_eq!(d.eps[0], dx, max_relative = 1e-8);
            assert_relative_eq!(d.eps[1], dy, max_relative = 1e-8);
        }
    }
}
