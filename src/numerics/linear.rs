//! Small dense linear systems, in place: the matrices of a step are a dozen rows wide and factored thousands of times a
//! run, so nothing is allocated. Same elimination as `nalgebra::linalg::LU`, against which it is tested.

/// A factored square matrix, column by column, with the row exchanges of partial pivoting.
#[derive(Debug, Clone, Default)]
pub(super) struct Factored {
    n: usize,
    a: Vec<f64>,
    exchange: Vec<usize>,
}

impl Factored {
    /// Room for an `n` by `n` matrix, to be filled through [`Factored::columns`] before [`Factored::factor`].
    pub fn reset(&mut self, n: usize) {
        self.n = n;
        self.a.resize(n * n, 0.0);
        self.exchange.resize(n, 0);
    }

    /// The columns, to be filled in; every entry counts.
    pub fn columns(&mut self) -> std::slice::ChunksExactMut<'_, f64> {
        self.a.chunks_exact_mut(self.n.max(1))
    }

    /// Gaussian elimination with partial pivoting; `false` if a pivot is zero or not a number.
    pub fn factor(&mut self) -> bool {
        let n = self.n;
        for k in 0..n {
            let (left, right) = self.a.split_at_mut((k + 1) * n);
            let column = &mut left[k * n..];
            let mut best = k;
            for r in k + 1..n {
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
            column[k] = inverse;
            for x in &mut column[k + 1..] {
                *x *= inverse;
            }
            let multipliers = &column[k + 1..];
            for other in right.chunks_exact_mut(n) {
                other.swap(k, best);
                let top = other[k];
                if top != 0.0 {
                    for (x, m) in other[k + 1..].iter_mut().zip(multipliers) {
                        *x -= top * m;
                    }
                }
            }
            for c in 0..k {
                self.a.swap(c * n + k, c * n + best);
            }
        }
        true
    }

    /// Solves in place; `b` has length `n`.
    pub fn solve(&self, b: &mut [f64]) {
        let n = self.n;
        for (k, &r) in self.exchange.iter().enumerate() {
            b.swap(k, r);
        }
        for (k, column) in self.a.chunks_exact(n.max(1)).enumerate() {
            let (head, rest) = b.split_at_mut(k + 1);
            let known = head[k];
            for (x, m) in rest.iter_mut().zip(&column[k + 1..]) {
                *x -= known * m;
            }
        }
        for (k, column) in self.a.chunks_exact(n.max(1)).enumerate().rev() {
            let (head, _) = b.split_at_mut(k + 1);
            let (rest, last) = head.split_at_mut(k);
            last[0] *= column[k];
            let known = last[0];
            for (x, m) in rest.iter_mut().zip(&column[..k]) {
                *x -= known * m;
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
            let mut f = Factored::default();
            f.reset(n);
            for (c, column) in f.columns().enumerate() {
                for (r, x) in column.iter_mut().enumerate() {
                    *x = m[(r, c)];
                }
            }
            assert!(f.factor());
            let mut x: Vec<f64> = b.iter().copied().collect();
            f.solve(&mut x);
            for (got, want) in x.iter().zip(expected.iter()) {
                assert!((got - want).abs() <= 1e-9 * expected.amax(), "n = {n}: {got} against {want}");
            }
        }
    }

    #[test]
    fn analytic_a_singular_matrix_is_refused() {
        let mut f = Factored::default();
        f.reset(2);
        for column in f.columns() {
            column.copy_from_slice(&[1.0, 2.0]);
        }
        assert!(!f.factor());
    }
}
