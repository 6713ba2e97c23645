//! The inverse of a small matrix in arrays of known length, four rows at a time.
//!
//! A step solves six systems with one matrix, one after the other. Substitution would wait for itself, row by row; a
//! product with the inverse does not, and that is worth the three times as many operations as triangular factors take.
//! Gauss-Jordan elimination in place, by columns, two at a time (half as many steps that wait for each other); columns with
//! nothing in the pair's rows are left out (half of a rig's matrix is empty). Tested against `nalgebra::linalg::LU`.

use super::linear::{Factors, four, is_pivot};
use wide::f64x4;

/// The inverse of a matrix of up to `N = 4 Q` rows.
///
/// Pivots are taken from the diagonal in order, as [`Factors`] says.
#[derive(Debug, Clone)]
pub(in crate::numerics) struct Dense<const N: usize, const Q: usize> {
    n: usize,
    /// The matrix without its shift, by columns.
    matrix: [[f64; N]; N],
    /// The inverse, by columns.
    inverse: [[f64; N]; N],
}

/// Two unknowns that are being exchanged, `k` and the next: the inverse of their block, and their columns.
struct Pair<const F: usize> {
    k: usize,
    block: [[f64; 2]; 2],
    columns: [[f64x4; F]; 2],
}

impl<const F: usize> Pair<F> {
    /// Another column.
    #[inline(always)]
    fn meet(&self, column: &mut [f64]) {
        let ([r, s], block) = (rows(column, self.k), &self.block);
        if r != 0.0 || s != 0.0 {
            self.give(column, [block[0][0] * r + block[0][1] * s, block[1][0] * r + block[1][1] * s]);
        }
    }

    /// A column takes `both` in the rows of the pair, and gives the product with the pair's columns away in the others.
    #[inline(always)]
    fn give(&self, column: &mut [f64], both: [f64; 2]) {
        let ([by, by_next], [own, next]) = (both.map(f64x4::splat), &self.columns);
        for i in 0..F {
            let rest = (four(column, 4 * i) - own[i] * by) - next[i] * by_next;
            column[4 * i..4 * i + 4].copy_from_slice(&rest.to_array());
        }
        column[self.k..self.k + 2].copy_from_slice(&both);
    }
}

/// What a column has in rows `k` and the next.
#[inline(always)]
fn rows(column: &[f64], k: usize) -> [f64; 2] {
    [column[k], column[k + 1]]
}

/// Calls a function of the number of fours of rows that the matrix has.
macro_rules! by_size {
    ($n:expr, $self:ident.$function:ident $arguments:tt) => {
        match $n.div_ceil(4) {
            ..=3 => $self.$function::<3> $arguments,
            4 => $self.$function::<4> $arguments,
            _ => $self.$function::<Q> $arguments,
        }
    };
}

impl<const N: usize, const Q: usize> Dense<N, Q> {
    /// Exchanges two unknowns, `k` and the next, for their right-hand sides; `F` fours of rows are in use.
    ///
    /// With `B` the block of these rows and columns, every other column takes `B^-1` times what it has in these rows in
    /// their place and gives the product of the pair's columns with that away in the others.
    #[inline(always)]
    fn exchange<const F: usize>(&mut self, k: usize, shift: f64) -> bool {
        let fours = |column: &[f64; N]| -> [f64x4; F] { std::array::from_fn(|i| four(column, 4 * i)) };
        let ([a, c], [b, d]) = (rows(&self.inverse[k], k), rows(&self.inverse[k + 1], k));
        let determinant = a * d - b * c;
        let over = 1.0 / determinant;
        let block = [[d * over, -b * over], [-c * over, a * over]];
        let pair = Pair { k, block, columns: [fours(&self.inverse[k]), fours(&self.inverse[k + 1])] };
        let (done, later) = self.inverse[..self.n.next_multiple_of(2)].split_at_mut(k);
        let Some((own, later)) = later.split_first_chunk_mut::<2>() else { return false };
        // The next pair first: what waits for it begins while the others are done.
        for column in later {
            pair.meet(column);
        }
        for column in done {
            pair.meet(column);
        }
        for (i, column) in own.iter_mut().enumerate() {
            *column = [0.0; N];
            pair.give(column, [block[0][i], block[1][i]]);
        }
        is_pivot(a, shift) && is_pivot(determinant, shift * a) && over.is_finite()
    }

    fn invert<const F: usize>(&mut self, shift: f64) -> bool {
        let mut fine = true;
        for k in (0..self.n).step_by(2) {
            fine &= self.exchange::<F>(k, shift);
        }
        fine
    }

    /// Columns behind the matrix are zero, and so is what stands behind `x`: whole fours of them need no counting.
    #[inline(always)]
    fn multiply<const F: usize>(&self, x: &mut [f64; N]) {
        let (mut even, mut odd) = ([f64x4::ZERO; F], [f64x4::ZERO; F]);
        for j in 0..2 * F {
            let (a, b) = (&self.inverse[2 * j], &self.inverse[2 * j + 1]);
            let (by_a, by_b) = (f64x4::splat(x[2 * j]), f64x4::splat(x[2 * j + 1]));
            for i in 0..F {
                even[i] += four(a, 4 * i) * by_a;
                odd[i] += four(b, 4 * i) * by_b;
            }
        }
        for i in 0..F {
            x[4 * i..4 * i + 4].copy_from_slice(&(even[i] + odd[i]).to_array());
        }
    }
}

impl<const N: usize, const Q: usize> Factors<[f64; N]> for Dense<N, Q> {
    fn new(_dim: usize) -> Self {
        const { assert!(N == 4 * Q && Q >= 3 && Q <= 5) };
        Dense { n: 0, matrix: [[0.0; N]; N], inverse: [[0.0; N]; N] }
    }

    fn reset(&mut self, n: usize) {
        // Rows and columns behind the matrix stay zero.
        *self = Dense { n, ..Self::new(n) };
    }

    fn admit(&mut self, rows: &[[f64; N]]) {
        let n = self.n.min(N);
        let none = [0.0; N];
        for i in 0..n.div_ceil(4) {
            let row = |k: usize| rows.get(4 * i + k).unwrap_or(&none);
            let (a, b, c, d) = (row(0), row(1), row(2), row(3));
            for k in 0..n {
                self.matrix[k][4 * i..4 * i + 4].copy_from_slice(&[a[k], b[k], c[k], d[k]]);
            }
        }
    }

    fn factor(&mut self, shift: f64) -> bool {
        // A lone last row has a partner that is a multiple of the identity.
        for k in 0..self.n.next_multiple_of(2) {
            self.inverse[k] = self.matrix[k];
            self.inverse[k][k] += shift;
        }
        by_size!(self.n, self.invert(shift))
    }

    #[inline]
    fn solve(&self, x: &mut [f64; N]) {
        by_size!(self.n, self.multiply(x));
    }
}
