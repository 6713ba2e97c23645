//! Small dense linear systems, in place: the matrices of a step are a dozen rows wide and factored thousands of times a
//! run, so nothing is allocated. Same elimination as `nalgebra::linalg::LU`, against which it is tested.

/// Room for the states of a step: an array where their number is known to the compiler, whose loops then unroll, else a
/// vector. What lies behind the states is zero.
pub(super) trait Room: Clone + AsRef<[f64]> + AsMut<[f64]> {
    /// Zeros for at least `dim` states.
    fn zeros(dim: usize) -> Self;
}

impl<const N: usize> Room for [f64; N] {
    #[inline]
    fn zeros(_dim: usize) -> Self {
        [0.0; N]
    }
}

impl Room for Vec<f64> {
    fn zeros(dim: usize) -> Self {
        vec![0.0; dim]
    }
}

/// `x += factor * y`.
#[inline(always)]
pub(super) fn add_scaled<R: Room>(x: &mut R, factor: f64, y: &R) {
    for (x, y) in x.as_mut().iter_mut().zip(y.as_ref()) {
        *x += factor * y;
    }
}

/// A factored square matrix, column by column, with the row exchanges of partial pivoting.
///
/// The columns of both triangles are kept at full length, zeros and all: a column operation is then one loop whose length
/// the compiler knows.
#[derive(Debug, Clone)]
pub(super) struct Factored<R> {
    /// The matrix; after factoring its upper triangle without the diagonal.
    upper: Vec<R>,
    /// Multipliers below the diagonal.
    lower: Vec<R>,
    /// One over each pivot, and the row that came up at it.
    pivots: Vec<(f64, usize)>,
}

impl<R: Room> Factored<R> {
    /// Room for matrices of up to `dim` rows.
    pub fn new(dim: usize) -> Self {
        Factored { upper: vec![R::zeros(dim); dim], lower: vec![R::zeros(dim); dim], pivots: Vec::with_capacity(dim) }
    }

    /// The columns, to be filled in: zero behind the rows that count.
    pub fn columns(&mut self) -> &mut [R] {
        &mut self.upper
    }

    /// Gaussian elimination with partial pivoting of the first `n` rows and columns; `false` if a pivot is zero or not a
    /// number.
    pub fn factor(&mut self, n: usize) -> bool {
        self.pivots.clear();
        let mut columns = &mut self.upper[..n];
        for (k, lower) in self.lower[..n].iter_mut().enumerate() {
            let Some((column, right)) = columns.split_first_mut() else { return false };
            let column = column.as_mut();
            let (mut best, mut largest) = (k, column[k].abs());
            for (r, x) in column.iter().enumerate().skip(k + 1) {
                if x.abs() > largest {
                    (best, largest) = (r, x.abs());
                }
            }
            if !(largest > 0.0) {
                return false;
            }
            let inverse = 1.0 / column[best];
            column[best] = column[k];
            self.pivots.push((inverse, best));
            let lower = lower.as_mut();
            for (i, (l, x)) in lower.iter_mut().zip(column.iter_mut()).enumerate() {
                let below = i > k;
                *l = if below { *x * inverse } else { 0.0 };
                *x = if i < k { *x } else { 0.0 };
            }
            for other in right.iter_mut() {
                let other = other.as_mut();
                let top = other[best];
                other[best] = other[k];
                other[k] = top;
                if top != 0.0 {
                    for (x, l) in other.iter_mut().zip(lower.iter()) {
                        *x -= top * l;
                    }
                }
            }
            columns = right;
        }
        true
    }

    /// Solves in place; what stands in `b` behind the rows that count stays.
    #[inline]
    pub fn solve(&self, b: &mut R) {
        let b = b.as_mut();
        for (k, (&(_, best), lower)) in self.pivots.iter().zip(&self.lower).enumerate() {
            let known = b[best];
            b[best] = b[k];
            b[k] = known;
            for (x, l) in b.iter_mut().zip(lower.as_ref()) {
                *x -= known * l;
            }
        }
        for (k, (&(inverse, _), upper)) in self.pivots.iter().zip(&self.upper).enumerate().rev() {
            let known = b[k] * inverse;
            b[k] = known;
            for (x, u) in b.iter_mut().zip(upper.as_ref()) {
                *x -= known * u;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::{DMatrix, DVector};

    /// Source: `nalgebra` LU on the same matrices (entries from a linear congruence, zeros on the diagonal so that rows must
    /// be exchanged, rows of very different size).
    #[test]
    fn ref_solutions_equal_those_of_nalgebra() {
        for n in [2_usize, 5, 13, 41] {
            let mut seed = 12_345_u32;
            let m = DMatrix::from_fn(n, n, |r, c| {
                seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                let v = f64::from(seed >> 8) / f64::from(1 << 24) - 0.5;
                if r == c { 0.0 } else { v * 10f64.powi((r % 5) as i32) }
            });
            let b = DVector::from_fn(n, |r, _| r as f64 + 0.5);
            let expected = m.clone().lu().solve(&b).unwrap();
            let mut f = Factored::<Vec<f64>>::new(n);
            for (c, column) in f.columns().iter_mut().enumerate() {
                for (r, x) in column.iter_mut().enumerate() {
                    *x = m[(r, c)];
                }
            }
            assert!(f.factor(n));
            let mut x: Vec<f64> = b.iter().copied().collect();
            f.solve(&mut x);
            for (got, want) in x.iter().zip(expected.iter()) {
                assert!((got - want).abs() <= 1e-9 * expected.amax(), "n = {n}: {got} against {want}");
            }
        }
    }

    #[test]
    fn analytic_a_singular_matrix_is_refused() {
        let mut f = Factored::<[f64; 2]>::new(2);
        for column in f.columns() {
            column.copy_from_slice(&[1.0, 2.0]);
        }
        assert!(!f.factor(2));
    }

    /// Source: `nalgebra` LU; the room is larger than the matrix.
    #[test]
    fn ref_room_behind_the_matrix_does_not_count() {
        let m = DMatrix::from_row_slice(3, 3, &[0.0, 2.0, 1.0, 4.0, 0.5, -1.0, 1.0, 3.0, 0.0]);
        let b = DVector::from_row_slice(&[1.0, 2.0, -3.0]);
        let expected = m.clone().lu().solve(&b).unwrap();
        let mut f = Factored::<[f64; 6]>::new(5);
        let mut x = [0.0; 6];
        for c in 0..3 {
            for r in 0..3 {
                f.columns()[c][r] = m[(r, c)];
            }
            x[c] = b[c];
        }
        assert!(f.factor(3));
        f.solve(&mut x);
        for r in 0..3 {
            assert!((x[r] - expected[r]).abs() < 1e-14);
        }
        assert_eq!(x[3..], [0.0; 3]);
    }
}
