//! Triangular factors of a small matrix in arrays of known length, two rows at a time.
//!
//! Every loop over rows is known to the compiler and unrolled, and each of its operations takes two numbers at once
//! ([`wide`]; 128 bits are there on every machine of the last twenty years). Column updates by a zero are left out: half of
//! a rig's matrix is empty. Tested against `nalgebra::linalg::LU`.

use super::linear::{Factors, is_pivot};
use wide::f64x2;

/// Factors of a matrix of up to `N = 2 H` rows.
///
/// Pivots are taken from the diagonal in order, as [`Factors`] says.
#[derive(Debug, Clone)]
pub(in crate::numerics) struct Dense<const N: usize, const H: usize> {
    n: usize,
    /// Columns: above the diagonal the upper factor, its rows divided by their pivots, below it the multipliers.
    columns: [[f64x2; H]; N],
    /// One over each pivot.
    inverse: [f64; N],
}

/// Calls a function of the number of a pair of rows for each of these pairs, `P` in all.
macro_rules! for_pairs {
    ($($pair:literal)* => $function:ident $arguments:tt) => {
        $( for_pairs!(@ $pair $function $arguments); )*
    };
    (@ $pair:literal $function:ident ($($argument:expr),*)) => {
        if $pair < P {
            Self::$function::<$pair, P>($($argument),*);
        }
    };
}

impl<const N: usize, const H: usize> Dense<N, H> {
    /// Eliminates below the pivot `2 PAIR + HALF`.
    #[inline(always)]
    fn eliminate<const PAIR: usize, const HALF: usize, const P: usize>(&mut self, shift: f64, fine: &mut bool) {
        let k = 2 * PAIR + HALF;
        if k >= self.n {
            return;
        }
        let (done, later) = self.columns.split_at_mut(k + 1);
        let own = &mut done[k];
        let pair = own[PAIR].to_array();
        let over = 1.0 / pair[HALF];
        *fine &= is_pivot(pair[HALF], shift);
        self.inverse[k] = over;
        if HALF == 0 {
            own[PAIR] = f64x2::new([pair[0], pair[1] * over]);
        }
        for x in &mut own[PAIR + 1..P] {
            *x *= f64x2::splat(over);
        }
        let below = f64x2::new([0.0, own[PAIR].to_array()[1]]);
        for column in &mut later[..self.n - k - 1] {
            let factor = column[PAIR].to_array()[HALF];
            if factor == 0.0 {
                continue;
            }
            let factor = f64x2::splat(factor);
            if HALF == 0 {
                column[PAIR] -= below * factor;
            }
            for (x, own) in column[PAIR + 1..P].iter_mut().zip(&own[PAIR + 1..P]) {
                *x -= *own * factor;
            }
        }
    }

    #[inline(always)]
    fn eliminate_pair<const PAIR: usize, const P: usize>(&mut self, shift: f64, fine: &mut bool) {
        self.eliminate::<PAIR, 0, P>(shift, fine);
        self.eliminate::<PAIR, 1, P>(shift, fine);
    }

    /// Divides the rows of the upper factor by their pivots, so that nothing waits for a product when solving.
    #[inline(always)]
    fn divide<const PAIR: usize, const P: usize>(&mut self) {
        let inverse = f64x2::new([self.inverse[2 * PAIR], self.inverse[2 * PAIR + 1]]);
        let [first, _] = inverse.to_array();
        // Within the pair only the entry above the second pivot belongs to the factor.
        let inside = self.columns[2 * PAIR + 1][PAIR].to_array();
        self.columns[2 * PAIR + 1][PAIR] = f64x2::new([inside[0] * first, inside[1]]);
        for column in &mut self.columns[2 * PAIR + 2..2 * P] {
            column[PAIR] *= inverse;
        }
    }

    #[inline(always)]
    fn forward<const PAIR: usize, const P: usize>(&self, b: &mut [f64x2; H]) {
        let (first, second) = (&self.columns[2 * PAIR], &self.columns[2 * PAIR + 1]);
        let [x, y] = b[PAIR].to_array();
        let y = y - first[PAIR].to_array()[1] * x;
        b[PAIR] = f64x2::new([x, y]);
        let (x, y) = (f64x2::splat(x), f64x2::splat(y));
        for r in PAIR + 1..P {
            b[r] = (b[r] - first[r] * x) - second[r] * y;
        }
    }

    #[inline(always)]
    fn backward<const PAIR: usize, const P: usize>(&self, b: &mut [f64x2; H]) {
        let (first, second) = (&self.columns[2 * PAIR], &self.columns[2 * PAIR + 1]);
        let [x, y] = b[PAIR].to_array();
        let x = x - second[PAIR].to_array()[0] * y;
        b[PAIR] = f64x2::new([x, y]);
        let (x, y) = (f64x2::splat(x), f64x2::splat(y));
        // What is known first comes first.
        for r in 0..PAIR {
            b[r] = (b[r] - second[r] * y) - first[r] * x;
        }
    }
}

/// Calls a function of the number of pairs of rows that the matrix has.
macro_rules! by_size {
    ($n:expr, $self:ident.$function:ident $arguments:tt) => {
        match $n.div_ceil(2) {
            ..=4 => $self.$function::<4> $arguments,
            5 => $self.$function::<5> $arguments,
            6 => $self.$function::<6> $arguments,
            7 => $self.$function::<7> $arguments,
            8 => $self.$function::<8> $arguments,
            _ => $self.$function::<9> $arguments,
        }
    };
}

impl<const N: usize, const H: usize> Dense<N, H> {
    fn eliminate_all<const P: usize>(&mut self, shift: f64) -> bool {
        let mut fine = true;
        for_pairs!(0 1 2 3 4 5 6 7 8 => eliminate_pair(self, shift, &mut fine));
        for_pairs!(0 1 2 3 4 5 6 7 8 => divide(self));
        fine
    }

    fn substitute<const P: usize>(&self, x: &mut [f64; N]) {
        let mut b = [f64x2::ZERO; H];
        for (b, x) in b[..P].iter_mut().zip(x.chunks_exact(2)) {
            *b = f64x2::new([x[0], x[1]]);
        }
        for_pairs!(0 1 2 3 4 5 6 7 8 => forward(self, &mut b));
        for (b, inverse) in b[..P].iter_mut().zip(self.inverse.chunks_exact(2)) {
            *b *= f64x2::new([inverse[0], inverse[1]]);
        }
        for_pairs!(8 7 6 5 4 3 2 1 0 => backward(self, &mut b));
        for (b, x) in b[..P].iter().zip(x.chunks_exact_mut(2)) {
            x.copy_from_slice(&b.to_array());
        }
    }
}

impl<const N: usize, const H: usize> Factors<[f64; N]> for Dense<N, H> {
    fn new(_dim: usize) -> Self {
        const { assert!(N == 2 * H && H <= 9) };
        Dense { n: 0, columns: [[f64x2::ZERO; H]; N], inverse: [0.0; N] }
    }

    fn reset(&mut self, n: usize) {
        // Rows and columns behind the matrix stay zero.
        *self = Dense { n, ..Self::new(n) };
    }

    fn admit(&mut self, _rows: &[[f64; N]]) {}

    fn factor(&mut self, rows: &[[f64; N]], shift: f64) -> bool {
        let n = self.n;
        for (pair, two) in rows.chunks(2).enumerate().take(n.div_ceil(2)) {
            let [first, second] = [two.first(), two.get(1)].map(|row| row.unwrap_or(&[0.0; N]));
            for (k, column) in self.columns.iter_mut().enumerate().take(n) {
                column[pair] = f64x2::new([first[k], second[k]]);
            }
        }
        for k in 0..n {
            let diagonal = if k % 2 == 0 { [shift, 0.0] } else { [0.0, shift] };
            self.columns[k][k / 2] += f64x2::new(diagonal);
        }
        by_size!(n, self.eliminate_all(shift))
    }

    #[inline]
    fn solve(&self, x: &mut [f64; N]) {
        by_size!(self.n, self.substitute(x));
    }
}
