//! Linear systems: the matrices of a step are a dozen rows wide, and factored thousands of times a run.

use super::dense::Dense;
use super::sparse::Sparse;
use crate::lanes::each;
use wide::f64x4;

/// Room for the states of a step: an array where their number is known to the compiler, whose loops then unroll, else a
/// vector. What lies behind the states is zero.
pub(super) trait Room: Clone + AsRef<[f64]> + AsMut<[f64]> {
    /// The factors of a matrix of that many rows.
    type Factors: Factors<Self>;

    /// Zeros for at least `dim` states.
    fn zeros(dim: usize) -> Self;

    /// `self += sum_k factors_k terms_k` over the first `K` terms.
    fn add<const K: usize>(&mut self, factors: [f64; K], terms: &[Self]);

    /// `self = sum_k factors_k terms_k` over the first `K` terms, one at least.
    fn set_sum<const K: usize>(&mut self, factors: [f64; K], terms: &[Self]);

    /// `self = a + b c`, number by number.
    fn set_moved(&mut self, a: &Self, b: &Self, c: &Self);

    /// `self = a b`, number by number; `a` has as many at least.
    fn set_product(&mut self, a: &[f64], b: &Self);

    /// `self[first..] = factor numbers`, as far as there is room.
    fn set_scaled<const N: usize>(&mut self, first: usize, numbers: &[f64; N], factor: f64);

    /// Scalar products with four others.
    fn dots(&self, others: &[Self; 4]) -> [f64; 4];
}

/// The four numbers from `x[at]` on.
#[inline(always)]
pub(super) fn four(x: &[f64], at: usize) -> f64x4 {
    let x = &x[at..at + 4];
    f64x4::new([x[0], x[1], x[2], x[3]])
}

macro_rules! array_room {
    ($($length:literal)*) => { $(
        impl Room for [f64; $length] {
            type Factors = Dense<$length, { $length / 4 }>;

            #[inline]
            fn zeros(_dim: usize) -> Self {
                [0.0; $length]
            }

            #[inline(always)]
            fn add<const K: usize>(&mut self, factors: [f64; K], terms: &[Self]) {
                // There are as many: the compiler should know.
                let Some(terms) = terms.first_chunk::<K>() else { return };
                let factors = factors.map(f64x4::splat);
                for k in (0..$length).step_by(4) {
                    let mut sum = four(self, k);
                    for (factor, term) in factors.iter().zip(terms) {
                        sum += *factor * four(term, k);
                    }
                    self[k..k + 4].copy_from_slice(&sum.to_array());
                }
            }

            #[inline(always)]
            fn set_sum<const K: usize>(&mut self, factors: [f64; K], terms: &[Self]) {
                let Some(terms) = terms.first_chunk::<K>() else { return };
                let factors = factors.map(f64x4::splat);
                for k in (0..$length).step_by(4) {
                    let mut sum = factors[0] * four(&terms[0], k);
                    for (factor, term) in factors.iter().zip(terms).skip(1) {
                        sum += *factor * four(term, k);
                    }
                    self[k..k + 4].copy_from_slice(&sum.to_array());
                }
            }

            #[inline(always)]
            fn set_moved(&mut self, a: &Self, b: &Self, c: &Self) {
                for k in (0..$length).step_by(4) {
                    self[k..k + 4].copy_from_slice(&(four(a, k) + four(b, k) * four(c, k)).to_array());
                }
            }

            #[inline(always)]
            fn set_product(&mut self, a: &[f64], b: &Self) {
                let Some(a) = a.first_chunk::<$length>() else { return };
                for k in (0..$length).step_by(4) {
                    self[k..k + 4].copy_from_slice(&(four(a, k) * four(b, k)).to_array());
                }
            }

            #[inline(always)]
            fn set_scaled<const N: usize>(&mut self, first: usize, numbers: &[f64; N], factor: f64) {
                if first == 0 && N % 4 == 0 && N <= $length {
                    for k in (0..N).step_by(4) {
                        self[k..k + 4].copy_from_slice(&(four(numbers, k) * factor).to_array());
                    }
                    return;
                }
                for (x, number) in self[first..].iter_mut().zip(numbers) {
                    *x = number * factor;
                }
            }

            #[inline(always)]
            fn dots(&self, others: &[Self; 4]) -> [f64; 4] {
                let mut sums = [f64x4::ZERO; 4];
                for k in (0..$length).step_by(4) {
                    let own = four(self, k);
                    for (sum, other) in sums.iter_mut().zip(others) {
                        *sum += four(other, k) * own;
                    }
                }
                let [a, b, c, d] = each(sums).map(f64x4::new);
                ((a + b) + (c + d)).to_array()
            }
        }
    )* };
}
array_room!(16 20);

impl Room for Vec<f64> {
    type Factors = Sparse;

    fn zeros(dim: usize) -> Self {
        vec![0.0; dim]
    }

    fn add<const K: usize>(&mut self, factors: [f64; K], terms: &[Self]) {
        for (factor, term) in factors.iter().zip(terms) {
            for (x, y) in self.iter_mut().zip(term) {
                *x += factor * y;
            }
        }
    }

    fn set_sum<const K: usize>(&mut self, factors: [f64; K], terms: &[Self]) {
        self.fill(0.0);
        self.add(factors, terms);
    }

    fn set_moved(&mut self, a: &Self, b: &Self, c: &Self) {
        for (((x, a), b), c) in self.iter_mut().zip(a).zip(b).zip(c) {
            *x = a + b * c;
        }
    }

    fn set_product(&mut self, a: &[f64], b: &Self) {
        for ((x, a), b) in self.iter_mut().zip(a).zip(b) {
            *x = a * b;
        }
    }

    fn set_scaled<const N: usize>(&mut self, first: usize, numbers: &[f64; N], factor: f64) {
        for (x, number) in self[first..].iter_mut().zip(numbers) {
            *x = number * factor;
        }
    }

    fn dots(&self, others: &[Self; 4]) -> [f64; 4] {
        let dot = |other: &Self| self.iter().zip(other).map(|(a, b)| b * a).sum();
        [dot(&others[0]), dot(&others[1]), dot(&others[2]), dot(&others[3])]
    }
}

/// A square matrix, given row by row, made ready to solve with.
///
/// Pivots are taken from the diagonal in order. That suits `I/(h g) - J`: shorter steps make its diagonal dominant, and a
/// pivot that is next to nothing asks for one.
pub(super) trait Factors<R> {
    /// Room for matrices of up to `dim` rows.
    fn new(dim: usize) -> Self;
    /// Forgets what is known of the matrix; from here on it has `n` rows.
    fn reset(&mut self, n: usize);
    /// Takes the rows of a matrix.
    fn admit(&mut self, rows: &[R]);
    /// Makes the matrix last taken, with `shift` added to its diagonal, ready; `false` if a pivot is next to nothing or not
    /// a number.
    fn factor(&mut self, shift: f64) -> bool;
    /// Solves in place; what stands in `b` behind the rows of the matrix must be zero.
    fn solve(&self, b: &mut R);
}

/// Whether a number that began as `shift` or more is still worth dividing by.
#[inline]
pub(super) fn is_pivot(pivot: f64, shift: f64) -> bool {
    pivot.abs() > 1e-12 * shift.abs()
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::{DMatrix, DVector};

    /// Numbers from 0 to 1 by a linear congruence.
    fn random(seed: &mut u32) -> f64 {
        *seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        f64::from(*seed >> 8) / f64::from(1 << 24)
    }

    /// A number in a matrix of `dim` rows, three quarters of them zero, rows of very different size.
    fn matrix(n: usize, seed: &mut u32) -> DMatrix<f64> {
        DMatrix::from_fn(n, n, |r, _| match random(seed) < 0.25 {
            true => (random(seed) - 0.5) * 10f64.powi((r % 5) as i32),
            false => 0.0,
        })
    }

    /// Rows of a matrix in room for `dim`.
    fn rows<R: Room>(m: &DMatrix<f64>, dim: usize) -> Vec<R> {
        let row = |r: usize| {
            let mut row = R::zeros(dim);
            for c in 0..m.ncols() {
                row.as_mut()[c] = m[(r, c)];
            }
            row
        };
        (0..m.nrows()).map(row).collect()
    }

    /// What a room does with numbers, by the same formulas written out.
    fn arithmetic<R: Room>(dim: usize) {
        let mut seed = 7;
        let mut numbers = || {
            let mut x = R::zeros(dim);
            x.as_mut()[..dim].iter_mut().for_each(|x| *x = random(&mut seed) - 0.5);
            x
        };
        let others: [R; 4] = std::array::from_fn(|_| numbers());
        let [a, b, c, d] = others.each_ref().map(|x| x.as_ref().to_vec());
        let check = |got: &R, want: &dyn Fn(usize) -> f64| {
            for (i, got) in got.as_ref().iter().enumerate() {
                assert!((got - want(i)).abs() <= 1e-15, "{dim}: {i}: {got} against {}", want(i));
            }
        };
        let mut x = others[0].clone();
        x.add([2.0, -3.0], &others[1..]);
        check(&x, &|i| a[i] + 2.0 * b[i] - 3.0 * c[i]);
        x.set_sum([2.0, -3.0, 0.5], &others[1..]);
        check(&x, &|i| 2.0 * b[i] - 3.0 * c[i] + 0.5 * d[i]);
        x.set_moved(&others[0], &others[1], &others[2]);
        check(&x, &|i| a[i] + b[i] * c[i]);
        x.set_product(&d, &others[0]);
        check(&x, &|i| d[i] * a[i]);
        let from: [f64; 12] = std::array::from_fn(|i| i as f64);
        let keep = x.as_ref().to_vec();
        x.set_scaled(0, &from, -2.0);
        check(&x, &|i| if i < 12 { -2.0 * from[i] } else { keep[i] });
        x.set_scaled(6, &from, 0.5);
        check(&x, &|i| if i < 6 { -2.0 * from[i] } else { from.get(i - 6).map_or(keep[i], |x| 0.5 * x) });
        for (got, other) in others[0].dots(&others).into_iter().zip([&a, &b, &c, &d]) {
            let want: f64 = a.iter().zip(other).map(|(a, b)| a * b).sum();
            assert!((got - want).abs() <= 1e-15 * dim as f64, "{got} against {want}");
        }
    }

    #[test]
    fn analytic_sums_and_products_are_those_of_each_number() {
        arithmetic::<[f64; 16]>(13);
        arithmetic::<[f64; 16]>(16);
        arithmetic::<[f64; 20]>(17);
        arithmetic::<Vec<f64>>(41);
    }

    /// Solves by `f` and by LU with row exchanges, the diagonal shifted as a step of a stiff problem does.
    fn compare<R: Room>(f: &mut R::Factors, m: &DMatrix<f64>, dim: usize) {
        let n = m.nrows();
        let shift = 2e4;
        let b = DVector::from_fn(n, |r, _| r as f64 + 0.5);
        let expected = (m.clone() + DMatrix::identity(n, n) * shift).lu().solve(&b).unwrap();
        let rows = rows::<R>(m, dim);
        f.admit(&rows);
        assert!(f.factor(shift));
        let mut x = R::zeros(dim);
        x.as_mut()[..n].copy_from_slice(b.as_slice());
        f.solve(&mut x);
        for (got, want) in x.as_ref().iter().zip(expected.iter()) {
            assert!((got - want).abs() <= 1e-13 * expected.amax(), "n = {n}: {got} against {want}");
        }
        assert!(x.as_ref()[n..].iter().all(|x| *x == 0.0), "n = {n}: room behind the matrix");
    }

    fn any_size<R: Room>(dim: usize) {
        let mut seed = 12_345;
        let mut f = R::Factors::new(dim);
        for n in (1..=dim).chain([2, dim]) {
            f.reset(n);
            // The second matrix has entries where the first had none.
            for _ in 0..2 {
                compare::<R>(&mut f, &matrix(n, &mut seed), dim);
            }
        }
    }

    /// Source: `nalgebra` LU on the same matrices.
    #[test]
    fn ref_solutions_equal_those_of_nalgebra() {
        any_size::<[f64; 16]>(16);
        any_size::<[f64; 20]>(20);
        any_size::<Vec<f64>>(41);
    }

    fn refuses<R: Room>() {
        let m = DMatrix::from_row_slice(2, 2, &[1.0, 1.0, 2.0, 2.0]);
        let rows = rows::<R>(&m, 2);
        let mut f = R::Factors::new(2);
        f.reset(2);
        f.admit(&rows);
        for shift in [0.0, f64::NAN] {
            assert!(!f.factor(shift));
        }
        assert!(f.factor(1.0));
    }

    #[test]
    fn analytic_a_singular_matrix_is_refused() {
        refuses::<[f64; 16]>();
        refuses::<[f64; 20]>();
        refuses::<Vec<f64>>();
    }
}
