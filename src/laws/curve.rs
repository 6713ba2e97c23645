//! Curves through measured points that keep the shape of the data.
//!
//! Piecewise cubic Hermite polynomials whose slopes stay inside the monotone region of Fritsch & Carlson, SIAM J. Numer.
//! Anal. 17 (1980) 238. Variant: slopes are the weighted harmonic means of Fritsch & Butland, SIAM J. Sci. Stat. Comput.
//! 5 (1984) 300, with one-sided three-point slopes at the ends (the variant known as PCHIP; citations from memory).
//!
//! ```text
//! d_i = (h_{i−1} + h_i)·3 / [ (2h_i + h_{i−1})/Δ_{i−1} + (h_i + 2h_{i−1})/Δ_i ]    Δ_{i−1}Δ_i > 0,  else 0
//! ```
//!
//! Where the data rise the curve rises, where they turn the curve turns at the knot and never overshoots. Continuous with
//! its first derivative.

use crate::real::Real;
use thiserror::Error;

/// Why a curve cannot be built from given points.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
#[non_exhaustive]
pub enum CurveProblem {
    /// Fewer than two points.
    #[error("a curve needs at least 2 points, got {count}")]
    TooFewPoints {
        /// Number of points given.
        count: usize,
    },
    /// Coordinate lists of unequal length.
    #[error("a curve needs as many x as y, got {x} and {y}")]
    LengthsDiffer {
        /// Number of x.
        x: usize,
        /// Number of y.
        y: usize,
    },
    /// A coordinate is NaN or infinite.
    #[error("point {index} of the curve is not finite: ({x}, {y})")]
    NotFinite {
        /// Index of the point, from 0.
        index: usize,
        /// Its x.
        x: f64,
        /// Its y.
        y: f64,
    },
    /// x does not rise from one point to the next.
    #[error("x of the curve must rise strictly: point {index} has {x} after {previous}")]
    NotIncreasing {
        /// Index of the offending point, from 0.
        index: usize,
        /// Its x.
        x: f64,
        /// x of the point before.
        previous: f64,
    },
}

/// The curve from one point to the next: a cubic, seen from either end.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Piece {
    x: [f64; 2],
    y: [f64; 2],
    slope: [f64; 2],
    /// Second coefficient seen from either end, and the third.
    c2: [f64; 2],
    c3: f64,
}

impl Piece {
    fn new(x: [f64; 2], y: [f64; 2], slope: [f64; 2]) -> Self {
        let h = x[1] - x[0];
        let secant = (y[1] - y[0]) / h;
        let c2 = [(3.0 * secant - 2.0 * slope[0] - slope[1]) / h, (2.0 * slope[1] + slope[0] - 3.0 * secant) / h];
        Piece { x, y, slope, c2, c3: (slope[0] + slope[1] - 2.0 * secant) / (h * h) }
    }

    /// Its cubic at `x`. Measured from the nearer end: the curve then passes through both to the last digit.
    #[inline]
    fn value<T: Real>(&self, x: T) -> T {
        let (near, u) = self.nearer_end(x.value());
        self.value_from(near, u, x)
    }

    /// Which end is nearer to `at`, and how far `at` stands from it.
    #[inline]
    fn nearer_end(&self, at: f64) -> (usize, f64) {
        let near = usize::from(!(at - self.x[0] <= self.x[1] - at));
        (near, at - self.x[near])
    }

    #[inline]
    fn value_from<T: Real>(&self, near: usize, u: f64, x: T) -> T {
        let (c2, slope) = (self.c2[near], self.slope[near]);
        x.chain(u * ((u * self.c3 + c2) * u + slope) + self.y[near], (3.0 * self.c3 * u + 2.0 * c2) * u + slope)
    }
}

/// A shape-preserving curve y(x) through at least two points.
///
/// ```
/// use poppetry::laws::curve::MonotoneCurve;
/// let load = MonotoneCurve::new(&[0.0, 0.002, 0.006], &[10.0, 14.0, 16.0])?;
/// assert_eq!(load.value(0.002), 14.0);
/// assert_eq!(load.value(0.1), 16.0);
/// # Ok::<(), poppetry::laws::curve::CurveProblem>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct MonotoneCurve {
    /// At least one, x strictly rising.
    pieces: Vec<Piece>,
    /// The piece in which each of equal bins of the domain begins, then the last one; and bins per unit of x.
    bins: Vec<u32>,
    per_unit: f64,
}

/// Bins per piece: few pieces are then looked at in vain.
const BINS: usize = 4;

impl MonotoneCurve {
    /// A curve through the points (`x[i]`, `y[i]`), any units. y need not be monotone: a local extremum of the data becomes
    /// a flat point of the curve.
    ///
    /// # Errors
    /// Fewer than two points, lists of unequal length, a value that is not finite, x not strictly rising.
    pub fn new(x: &[f64], y: &[f64]) -> Result<Self, CurveProblem> {
        if x.len() != y.len() {
            return Err(CurveProblem::LengthsDiffer { x: x.len(), y: y.len() });
        }
        if x.len() < 2 {
            return Err(CurveProblem::TooFewPoints { count: x.len() });
        }
        for (index, (&x, &y)) in x.iter().zip(y).enumerate() {
            if !(x.is_finite() && y.is_finite()) {
                return Err(CurveProblem::NotFinite { index, x, y });
            }
        }
        for (i, pair) in x.windows(2).enumerate() {
            // The gap must be a number one can divide by as well.
            if !(pair[1] > pair[0] && (pair[1] - pair[0]).is_normal()) {
                return Err(CurveProblem::NotIncreasing { index: i + 1, x: pair[1], previous: pair[0] });
            }
        }
        Ok(Self::from_rising(x, y))
    }

    /// The curve through points already known to be finite, of equal number (at least two) and rising in x.
    pub(crate) fn from_rising(x: &[f64], y: &[f64]) -> Self {
        let slopes = slopes(x, y);
        let pair = |z: &[f64], i: usize| [z[i], z[i + 1]];
        let pieces = (0..x.len() - 1).map(|i| Piece::new(pair(x, i), pair(y, i), pair(&slopes, i))).collect();
        let (first, last) = (x[0], x[x.len() - 1]);
        let per_unit = (BINS * (x.len() - 1)) as f64 / (last - first);
        // The last piece that begins in an earlier bin: a number falls into its bin by the same operations as a knot does,
        // so none is ever behind it.
        let mut interval = 0;
        let bins = (0..=BINS * (x.len() - 1)).map(|bin| {
            while interval + 2 < x.len() && Self::bin(x[interval + 1] - first, per_unit) < bin {
                interval += 1;
            }
            interval as u32
        });
        MonotoneCurve { pieces, bins: bins.collect(), per_unit }
    }

    /// y at `x`; outside the domain the end value (constant extrapolation). NaN gives NaN.
    #[inline]
    pub fn value<T: Real>(&self, x: T) -> T {
        let (first, last) = self.ends();
        if x.value() < first.x[0] {
            T::constant(first.y[0])
        } else if x.value() > last.x[1] {
            T::constant(last.y[1])
        } else {
            self.piece(x.value()).value(x)
        }
    }

    /// y at `x`; outside the domain the tangent at the end (linear extrapolation). NaN gives NaN.
    #[inline]
    pub fn value_extrapolated<T: Real>(&self, x: T) -> T {
        let (first, last) = self.ends();
        if x.value() < first.x[0] {
            (x - first.x[0]) * first.slope[0] + first.y[0]
        } else if x.value() > last.x[1] {
            (x - last.x[1]) * last.slope[1] + last.y[1]
        } else {
            self.piece(x.value()).value(x)
        }
    }

    /// dy/dx of [`Self::value_extrapolated`] at `x` (inside the domain also that of [`Self::value`]).
    pub fn slope(&self, x: f64) -> f64 {
        self.value_extrapolated(crate::real::Dual::<1>::variable(x, 0)).eps[0]
    }

    /// First and last x.
    #[inline]
    pub fn domain(&self) -> (f64, f64) {
        let (first, last) = self.ends();
        (first.x[0], last.x[1])
    }

    /// The points the curve was built from, (x, y).
    pub fn knots(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        let start = self.pieces.first().map(|p| (p.x[0], p.y[0]));
        start.into_iter().chain(self.pieces.iter().map(|p| (p.x[1], p.y[1])))
    }

    #[inline]
    fn ends(&self) -> (&Piece, &Piece) {
        (&self.pieces[0], &self.pieces[self.pieces.len() - 1])
    }

    /// The piece that holds `x`, which lies in the domain or is no number.
    #[inline]
    fn piece(&self, x: f64) -> &Piece {
        &self.pieces[self.index(x)]
    }

    #[inline]
    fn index(&self, x: f64) -> usize {
        let bin = Self::bin(x - self.pieces[0].x[0], self.per_unit);
        let mut i = self.bins[bin.min(self.bins.len() - 1)] as usize;
        while i + 1 < self.pieces.len() && x >= self.pieces[i].x[1] {
            i += 1;
        }
        i
    }

    #[inline]
    fn bin(from_first: f64, per_unit: f64) -> usize {
        (from_first * per_unit) as usize
    }

    /// The values at `x` of two curves with the same knots, outside the domain the end values: [`Self::value`] of each for
    /// one search.
    #[inline]
    fn values_of_two<T: Real>(a: &Self, b: &Self, x: T) -> (T, T) {
        let (first, last) = a.ends();
        if x.value() < first.x[0] || x.value() > last.x[1] {
            return (a.value(x), b.value(x));
        }
        let i = a.index(x.value());
        let (near, u) = a.pieces[i].nearer_end(x.value());
        (a.pieces[i].value_from(near, u, x), b.pieces[i].value_from(near, u, x))
    }
}

fn slopes(x: &[f64], y: &[f64]) -> Vec<f64> {
    let h: Vec<f64> = x.windows(2).map(|p| p[1] - p[0]).collect();
    let secant: Vec<f64> = y.windows(2).zip(&h).map(|(p, h)| (p[1] - p[0]) / h).collect();
    let n = x.len();
    if n == 2 {
        return vec![secant[0]; 2];
    }
    let mut slope = Vec::with_capacity(n);
    slope.push(end_slope(h[0], h[1], secant[0], secant[1]));
    for i in 1..n - 1 {
        let (before, after) = (secant[i - 1], secant[i]);
        slope.push(if before * after > 0.0 {
            let w1 = 2.0 * h[i] + h[i - 1];
            let w2 = h[i] + 2.0 * h[i - 1];
            (w1 + w2) / (w1 / before + w2 / after)
        } else {
            0.0
        });
    }
    slope.push(end_slope(h[n - 2], h[n - 3], secant[n - 2], secant[n - 3]));
    slope
}

/// Three-point slope at an end, cut back where it would break the shape.
fn end_slope(h0: f64, h1: f64, s0: f64, s1: f64) -> f64 {
    let slope = ((2.0 * h0 + h1) * s0 - h0 * s1) / (h0 + h1);
    if slope * s0 <= 0.0 {
        0.0
    } else if s0 * s1 <= 0.0 && slope.abs() > 3.0 * s0.abs() {
        3.0 * s0
    } else {
        slope
    }
}

/// A load with hysteresis: one curve for opening travel, one for closing travel.
///
/// A model writes the load as `mean(x) + half_width(x)·sign(v)` with v positive on opening; with equal curves the half
/// width is 0. Both curves are extrapolated by their end values.
#[derive(Debug, Clone, PartialEq)]
pub struct BranchedCurve {
    opening: MonotoneCurve,
    closing: MonotoneCurve,
    /// One curve for both ways.
    same: bool,
    /// Both have their knots at the same x.
    aligned: bool,
}

impl BranchedCurve {
    /// From the curve followed while opening and the one followed while closing.
    pub fn new(opening: MonotoneCurve, closing: MonotoneCurve) -> Self {
        let aligned = opening.knots().map(|k| k.0).eq(closing.knots().map(|k| k.0));
        BranchedCurve { same: opening == closing, aligned, opening, closing }
    }

    /// A curve without hysteresis.
    pub fn single(curve: MonotoneCurve) -> Self {
        BranchedCurve { same: true, aligned: true, closing: curve.clone(), opening: curve }
    }

    /// The curve for opening travel.
    pub fn opening(&self) -> &MonotoneCurve {
        &self.opening
    }

    /// The curve for closing travel.
    pub fn closing(&self) -> &MonotoneCurve {
        &self.closing
    }

    /// Mean of the two branches at `x`.
    #[inline]
    pub fn mean<T: Real>(&self, x: T) -> T {
        self.branches(x).0
    }

    /// Half of opening minus closing branch at `x`. A passive part resists either motion: not negative where the load shuts
    /// it (a check), not positive where it opens it (an air inlet).
    #[inline]
    pub fn half_width<T: Real>(&self, x: T) -> T {
        self.branches(x).1
    }

    /// Mean and half width at `x`, for the price of one evaluation without hysteresis.
    #[inline]
    pub fn branches<T: Real>(&self, x: T) -> (T, T) {
        if self.same {
            return (self.opening.value(x), T::constant(0.0));
        }
        let (opening, closing) = match self.aligned {
            true => MonotoneCurve::values_of_two(&self.opening, &self.closing, x),
            false => (self.opening.value(x), self.closing.value(x)),
        };
        ((opening + closing) * 0.5, (opening - closing) * 0.5)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::real::Dual;
    use approx::assert_relative_eq;

    // The example data of Fritsch & Carlson (1980), table "RPN 14" (from memory).
    const X: [f64; 9] = [7.99, 8.09, 8.19, 8.7, 9.2, 10.0, 12.0, 15.0, 20.0];
    const Y: [f64; 9] = [0.0, 2.76429e-5, 4.37498e-2, 0.169183, 0.469428, 0.943740, 0.998636, 0.999919, 0.999994];

    #[test]
    fn ref_agrees_with_scipy_pchip() {
        // SciPy 1.17.1, scipy.interpolate.PchipInterpolator: value and first derivative.
        type Case<'a> = (&'a [f64], &'a [f64], &'a [(f64, f64, f64)]);
        let cases: [Case<'_>; 2] =
            [(&X, &Y, &PCHIP_A), (&[0.0, 1.0, 3.0, 4.0, 6.0], &[1.0, 3.0, 2.0, 2.0, 7.0], &PCHIP_B)];
        for (x, y, points) in cases {
            let curve = MonotoneCurve::new(x, y).unwrap();
            for &(at, value, slope) in points {
                assert_relative_eq!(curve.value(at), value, max_relative = 1e-12, epsilon = 1e-15);
                assert_relative_eq!(curve.slope(at), slope, max_relative = 1e-11, epsilon = 1e-13);
            }
        }
    }

    #[test]
    fn analytic_monotone_data_give_a_monotone_curve_through_the_points() {
        let curve = MonotoneCurve::new(&X, &Y).unwrap();
        let mut last = f64::NEG_INFINITY;
        for i in 0..=20_000 {
            let y = curve.value(7.5 + 13.0 * f64::from(i) / 20_000.0);
            assert!(y >= last);
            last = y;
        }
        for (x, y) in X.iter().zip(Y) {
            assert_eq!(curve.value(*x), y);
        }
    }

    #[test]
    fn analytic_slope_is_continuous_and_matches_differences() {
        let curve = MonotoneCurve::new(&X, &Y).unwrap();
        for &x in &X[1..8] {
            // The curvature of these data stays below 100, so 2e-9 in x moves the slope by less than 2e-7.
            assert_relative_eq!(curve.slope(x - 1e-9), curve.slope(x + 1e-9), epsilon = 2e-7);
        }
        for x in [8.03, 8.4, 9.7, 13.0, 19.0, 25.0, 7.0] {
            let d = curve.value_extrapolated(Dual::<1>::variable(x, 0)).eps[0];
            let h = 1e-6;
            let slope = (curve.value_extrapolated(x + h) - curve.value_extrapolated(x - h)) / (2.0 * h);
            assert_relative_eq!(d, slope, max_relative = 1e-6, epsilon = 1e-9);
        }
    }

    #[test]
    fn analytic_outside_the_domain_as_documented() {
        let curve = MonotoneCurve::new(&[0.0, 1.0], &[2.0, 5.0]).unwrap();
        assert_eq!((curve.value(-3.0), curve.value(9.0)), (2.0, 5.0));
        assert_eq!((curve.value_extrapolated(-1.0), curve.value_extrapolated(2.0)), (-1.0, 8.0));
        assert_eq!(curve.value(Dual::<1>::variable(9.0, 0)).eps[0], 0.0);
        assert!(curve.value(f64::NAN).is_nan() && curve.value_extrapolated(f64::NAN).is_nan());
    }

    #[test]
    fn analytic_bad_points_are_named() {
        assert_eq!(MonotoneCurve::new(&[1.0], &[1.0]), Err(CurveProblem::TooFewPoints { count: 1 }));
        assert_eq!(MonotoneCurve::new(&[], &[1.0]), Err(CurveProblem::LengthsDiffer { x: 0, y: 1 }));
        let stalled = MonotoneCurve::new(&[0.0, 1.0, 1.0], &[0.0; 3]);
        assert_eq!(stalled, Err(CurveProblem::NotIncreasing { index: 2, x: 1.0, previous: 1.0 }));
        let nan = MonotoneCurve::new(&[0.0, 1.0], &[0.0, f64::NAN]);
        assert!(matches!(nan, Err(CurveProblem::NotFinite { index: 1, .. })));
    }

    #[test]
    fn analytic_branches_are_recovered_from_mean_and_half_width() {
        let x = [0.0, 1.0, 2.0];
        let up = MonotoneCurve::new(&x, &[3.0, 5.0, 6.0]).unwrap();
        let down = MonotoneCurve::new(&x, &[2.0, 4.5, 5.0]).unwrap();
        let pair = BranchedCurve::new(up.clone(), down.clone());
        for at in [0.2, 1.1, 1.9, 3.0] {
            assert_relative_eq!(pair.mean(at) + pair.half_width(at), up.value(at), max_relative = 1e-15);
            assert_relative_eq!(pair.mean(at) - pair.half_width(at), down.value(at), max_relative = 1e-15);
        }
        // Knots of its own on the way back.
        let sparse = MonotoneCurve::new(&[0.0, 0.3, 2.0], &[2.0, 3.0, 5.0]).unwrap();
        let pair = BranchedCurve::new(up.clone(), sparse.clone());
        assert_relative_eq!(pair.mean(1.1) - pair.half_width(1.1), sparse.value(1.1), max_relative = 1e-15);
        assert_eq!(BranchedCurve::single(up).half_width(0.7), 0.0);
    }

    const PCHIP_A: [(f64, f64, f64); 10] = [
        (7.99, 0.0, 0.0),
        (8.05, 9.956474181099992e-06, 0.00033175671817583645),
        (8.15, 0.023528278365786123, 0.5891170393088024),
        (8.5, 0.1166325769392755, 0.20580225251505585),
        (9.0, 0.33753432684619816, 0.6812468776692762),
        (9.9, 0.9252702456904094, 0.3008154294883696),
        (11.0, 0.9860433625350502, 0.025866439773565023),
        (14.0, 0.99977249170715, 0.0002700904279658138),
        (18.5, 0.9999876987753435, 8.529854401965072e-06),
        (20.0, 0.9999940000000002, 3.3881317890172014e-21),
    ];
    const PCHIP_B: [(f64, f64, f64); 9] = [
        (0.0, 1.0, 2.8333333333333335),
        (0.25, 1.7109375, 2.78125),
        (0.9, 2.9695, 0.5983333333333332),
        (1.5, 2.84375, -0.5625),
        (2.7, 2.0607499999999996, -0.38249999999999984),
        (3.5, 2.0, 0.0),
        (4.6, 2.5549999999999993, 1.774999999999999),
        (5.9, 6.587708333333335, 4.077083333333334),
        (6.0, 7.0, 4.166666666666667),
    ];
}
