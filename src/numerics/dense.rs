//! The inverse of a small matrix in arrays of known length, four rows at a time.
//!
//! A step solves six systems with one matrix, one after the other. Substitution would wait for itself, row by row; a
//! product with the inverse does not, and that is worth the three times as many operations as triangular factors take.
//! Gauss-Jordan elimination in place, by columns, two at a time (half as many steps that wait for each other); columns with
//! nothing in the pair's rows are left out (half of a rig's matrix is empty). Tested against `nalgebra::linalg::LU`.

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

/// Numbers for two rows of four, the rest as they stand in `no`.
#[inline(always)]
fn with_rows(row: usize, yes: [f64; 2], no: f64x4) -> f64x4 {
    let mut four = no.to_array();
    [four[row], four[row + 1]] = yes;
    f64x4::new(four)
}

/// Calls a function of the number of a pair of rows for each pair there may be.
macro_rules! for_pairs {
    ($($pair:literal)* => $self:ident.$function:ident::<$f:ident> $arguments:tt) => {
        $( if $pair < 2 * $f { for_pairs!(@ $self $function $pair $f $arguments) } )*
    };
    (@ $self:ident $function:ident $pair:literal $f:ident ($($argument:expr),*)) => {
        $self.$function::<$pair, $f>($($argument),*)
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
    /// Exchanges two unknowns, `2 PAIR` and the next, for their right-hand sides; `F` fours of rows are in use.
    ///
    /// With `B` the block of these rows and columns, every other column takes `B^-1` times what it has in these rows in
    /// their place and gives the product of the pair's columns with that away in the others.
    #[inline(always)]
    fn exchange<const PAIR: usize, const F: usize>(&mut self, shift: f64, fine: &mut bool) {
        let k = 2 * PAIR;
        if k >= self.n {
            return;
        }
        let (four, row) = (k / 4, k % 4);
        let at = |column: &[f64x4; Q]| {
            let rows = column[four].to_array();
            [rows[row], rows[row + 1]]
        };
        let (mut own, mut next) = ([f64x4::ZERO; F], [f64x4::ZERO; F]);
        own.copy_from_slice(&self.inverse[k][..F]);
        next.copy_from_slice(&self.inverse[k + 1][..F]);
        let ([a, c], [b, d]) = (at(&self.inverse[k]), at(&self.inverse[k + 1]));
        let determinant = a * d - b * c;
        let over = 1.0 / determinant;
        *fine &= is_pivot(a, shift) && is_pivot(determinant, shift * a) && over.is_finite();
        let block = [[d * over, -b * over], [-c * over, a * over]];
        let (done, later) = self.inverse[..self.n.next_multiple_of(2)].split_at_mut(k);
        // The next pair first: what waits for it begins while the others are done.
        for column in later[2..].iter_mut().chain(done) {
            let [r, s] = at(column);
            if r == 0.0 && s == 0.0 {
                continue;
            }
            let both = [block[0][0] * r + block[0][1] * s, block[1][0] * r + block[1][1] * s];
            let [by, by_next] = both.map(f64x4::splat);
            for i in 0..F {
                let rest = (column[i] - own[i] * by) - next[i] * by_next;
                column[i] = if i == four { with_rows(row, both, rest) } else { rest };
            }
        }
        for (column, by) in [(k, [block[0][0], block[1][0]]), (k + 1, [block[0][1], block[1][1]])] {
            let [first, second] = by.map(|x| f64x4::splat(-x));
            for i in 0..F {
                let rest = own[i] * first + next[i] * second;
                self.inverse[column][i] = if i == four { with_rows(row, by, rest) } else { rest };
            }
        }
    }

    fn invert<const F: usize>(&mut self, shift: f64) -> bool {
        let mut fine = true;
        for_pairs!(0 1 2 3 4 5 6 7 8 9 => self.exchange::<F>(shift, &mut fine));
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
        // A lone last row has a partner that is a multiple of the identity.
        for k in 0..self.n.next_multiple_of(2) {
            self.inverse[k] = self.matrix[k];
            self.inverse[k][k / 4] += f64x4::new(UNIT[k % 4]) * shift;
        }
        by_size!(self.n, self.invert(shift))
    }

    #[inline]
    fn solve(&self, x: &mut [f64; N]) {
        by_size!(self.n, self.multiply(x));
    }
}
