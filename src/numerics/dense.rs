//! The inverse of a small matrix in arrays of known length, four rows at a time.
//!
//! A step solves six systems with one matrix, one after the other. Substitution would wait for itself, row by row; a
//! product with the inverse does not, and that is worth the two thirds more that the inverse costs than triangular factors.
//! Gauss-Jordan elimination in place, by columns; columns whose entry in the pivot's row is zero are left out (half of a
//! rig's matrix is empty). Tested against `nalgebra::linalg::LU`.

use super::linear::{Factors, is_pivot};
use wide::f64x4;

/// The inverse of a matrix of up to `N = 4 Q` rows.
///
/// Pivots are taken from the diagonal in order, as [`Factors`] says.
#[derive(Debug, Clone)]
pub(in crate::numerics) struct Dense<const N: usize, const Q: usize> {
    n: usize,
    /// The matrix without its shift, by columns.
    matrix: [[f64x4; Q]; N],
    /// The inverse, by columns.
    inverse: [[f64x4; Q]; N],
}

/// `yes` in row `row` of four, `no` in the others.
#[inline(always)]
fn with_row(row: usize, yes: f64, no: f64x4) -> f64x4 {
    let mut four = no.to_array();
    four[row] = yes;
    f64x4::new(four)
}

/// Calls a function of the number of a row for each row there may be.
macro_rules! for_rows {
    ($($row:literal)* => $self:ident.$function:ident::<$q:ident> $arguments:tt) => {
        $( if $row < N && $row < 4 * $q { for_rows!(@ $self $function $row $q $arguments) } )*
    };
    (@ $self:ident $function:ident $row:literal $q:ident ($($argument:expr),*)) => {
        $self.$function::<$row, $q>($($argument),*)
    };
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
    /// Exchanges unknown `K` for right-hand side `K`; `F` fours of rows are in use.
    #[inline(always)]
    fn exchange<const K: usize, const F: usize>(&mut self, shift: f64, fine: &mut bool) {
        if K >= self.n {
            return;
        }
        let (four, row) = (K / 4, K % 4);
        let mut own = [f64x4::ZERO; F];
        own.copy_from_slice(&self.inverse[K][..F]);
        let pivot = own[four].to_array()[row];
        *fine &= is_pivot(pivot, shift);
        let over = 1.0 / pivot;
        let (done, later) = self.inverse[..self.n].split_at_mut(K);
        // The next pivot's column first: what waits for it begins while the others are done.
        for column in later[1..].iter_mut().chain(done) {
            let factor = column[four].to_array()[row] * over;
            if factor == 0.0 {
                continue;
            }
            let by = f64x4::splat(factor);
            for i in 0..F {
                let rest = column[i] - own[i] * by;
                column[i] = if i == four { with_row(row, factor, rest) } else { rest };
            }
        }
        let by = f64x4::splat(-over);
        for (i, x) in own.iter_mut().enumerate() {
            *x *= by;
            if i == four {
                *x = with_row(row, over, *x);
            }
        }
        self.inverse[K][..F].copy_from_slice(&own);
    }

    fn invert<const F: usize>(&mut self, shift: f64) -> bool {
        let mut fine = true;
        for_rows!(0 1 2 3 4 5 6 7 8 9 10 11 12 13 14 15 16 17 18 19 => self.exchange::<F>(shift, &mut fine));
        fine
    }

    #[inline(always)]
    fn multiply<const F: usize>(&self, x: &mut [f64; N]) {
        let mut sums = [[f64x4::ZERO; F]; 2];
        for (j, column) in self.inverse.iter().enumerate().take(self.n) {
            let factor = f64x4::splat(x[j]);
            for (sum, part) in sums[j % 2].iter_mut().zip(column) {
                *sum += *part * factor;
            }
        }
        let [even, odd] = sums;
        for (i, four) in x.chunks_exact_mut(4).enumerate().take(F) {
            four.copy_from_slice(&(even[i] + odd[i]).to_array());
        }
    }
}

impl<const N: usize, const Q: usize> Factors<[f64; N]> for Dense<N, Q> {
    fn new(_dim: usize) -> Self {
        const { assert!(N == 4 * Q && Q >= 3 && Q <= 5) };
        Dense { n: 0, matrix: [[f64x4::ZERO; Q]; N], inverse: [[f64x4::ZERO; Q]; N] }
    }

    fn reset(&mut self, n: usize) {
        // Rows and columns behind the matrix stay zero.
        *self = Dense { n, ..Self::new(n) };
    }

    fn admit(&mut self, rows: &[[f64; N]]) {
        let none = [0.0; N];
        for (i, rows) in rows.chunks(4).enumerate().take(Q) {
            let [a, b, c, d] = std::array::from_fn(|k| rows.get(k).unwrap_or(&none));
            for (k, column) in self.matrix.iter_mut().enumerate().take(self.n) {
                column[i] = f64x4::new([a[k], b[k], c[k], d[k]]);
            }
        }
    }

    fn factor(&mut self, shift: f64) -> bool {
        const UNIT: [[f64; 4]; 4] =
            [[1.0, 0.0, 0.0, 0.0], [0.0, 1.0, 0.0, 0.0], [0.0, 0.0, 1.0, 0.0], [0.0, 0.0, 0.0, 1.0]];
        let n = self.n;
        for k in 0..n {
            self.inverse[k] = self.matrix[k];
            self.inverse[k][k / 4] += f64x4::new(UNIT[k % 4]) * shift;
        }
        by_size!(n, self.invert(shift))
    }

    #[inline]
    fn solve(&self, x: &mut [f64; N]) {
        by_size!(self.n, self.multiply(x));
    }
}
