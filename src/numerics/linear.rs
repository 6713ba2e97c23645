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
    /// One over each pivot.
    inverse: R,
    /// The row that came up at each pivot.
    exchange: Vec<usize>,
}

impl<R: Room> Factored<R> {
    /// Room for a matrix of `dim` rows, to be filled through [`Factored::columns`] before [`Factored::factor`].
    pub fn new(dim: usize) -> Self {
        Factored {
            upper: vec![R::zeros(dim); dim],
            lower: vec![R::zeros(dim); dim],
            inverse: R::zeros(dim),
            exchange: vec![0; dim],
        }
    }

    /// The columns, to be filled in.
    pub fn columns(&mut self) -> &mut [R] {
        &mut self.upper
    }

    /// Gaussian elimination with partial pivoting over the rows and columns in `active` (rising); the others count as absent
    /// and must hold zeros. `false` if a pivot is zero or not a number.
    pub fn factor(&mut self, active: &[usize]) -> bool {
        for (done, &k) in active.iter().enumerate() {
            let (left, right) = self.upper.split_at_mut(k + 1);
            let column = left[k].as_mut();
            let rest = &active[done + 1..];
            let mut best = k;
            for &r in rest {
                if column[r].abs() > column[best].abs() {
                    best = r;
                }
            }
            self.exchange[k] = best;
            let pivot = column[best];
            if !(pivot.abs() > 0.0) {
                return false;
            }
            column.swap(k, best);
            let inverse = 1.0 / pivot;
            self.inverse.as_mut()[k] = inverse;
            let lower = self.lower[k].as_mut();
            for (l, x) in lower.iter_mut().zip(column.iter()) {
                *l = x * inverse;
            }
            lower[..=k].fill(0.0);
            column[k..].fill(0.0);
            for &c in rest {
                let other = right[c - k - 1].as_mut();
                other.swap(k, best);
                let top = other[k];
                if top != 0.0 {
                    for (x, l) in other.iter_mut().zip(lower.iter()) {
                        *x -= top * l;
                    }
                }
            }
        }
        true
    }

    /// Solves in place.
    #[inline]
    pub fn solve(&self, active: &[usize], b: &mut R) {
        let b = b.as_mut();
        for &k in active {
            b.swap(k, self.exchange[k]);
            let known = b[k];
            for (x, l) in b.iter_mut().zip(self.lower[k].as_ref()) {
                *x -= known * l;
            }
        }
        for &k in active.iter().rev() {
            b[k] *= self.inverse.as_ref()[k];
            let known = b[k];
            for (x, u) in b.iter_mut().zip(self.upper[k].as_ref()) {
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
            let all: Vec<usize> = (0..n).collect();
            assert!(f.factor(&all));
            let mut x: Vec<f64> = b.iter().copied().collect();
            f.solve(&all, &mut x);
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
        assert!(!f.factor(&[0, 1]));
    }

    /// Source: `nalgebra` LU on the rows and columns that count.
    #[test]
    fn ref_rows_that_do_not_count_are_passed_over() {
        let active = [0, 2, 3];
        let m = DMatrix::from_row_slice(3, 3, &[0.0, 2.0, 1.0, 4.0, 0.5, -1.0, 1.0, 3.0, 0.0]);
        let b = DVector::from_row_slice(&[1.0, 2.0, -3.0]);
        let expected = m.clone().lu().solve(&b).unwrap();
        let mut f = Factored::<[f64; 6]>::new(5);
        let mut x = [0.0; 6];
        for (c, &to) in active.iter().enumerate() {
            for (r, &row) in active.iter().enumerate() {
                f.columns()[to][row] = m[(r, c)];
            }
            x[to] = b[c];
        }
        assert!(f.factor(&active));
        f.solve(&active, &mut x);
        for (r, &row) in active.iter().enumerate() {
            assert!((x[row] - expected[r]).abs() < 1e-14);
        }
        assert_eq!((x[1], x[4], x[5]), (0.0, 0.0, 0.0));
    }
}
