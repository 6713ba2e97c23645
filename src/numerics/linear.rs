//! Linear systems whose zeros stay where they are: the matrices of a step are a dozen rows wide, half empty, and factored
//! thousands of times a run. Where eliminating can put numbers is worked out when the first of them appears; nothing is
//! allocated after that. Tested against `nalgebra::linalg::LU`.

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

/// One elimination: `to -= from * by`, places in a vector or among the entries.
#[derive(Debug, Clone, Copy)]
struct Take {
    to: u32,
    from: u32,
    by: u32,
}

/// One elimination of a solve: `b[to] -= b[from] * factor`.
#[derive(Debug, Clone, Copy, Default)]
struct Sweep {
    to: u32,
    from: u32,
    factor: f64,
}

/// What eliminating does in one column: from here to the next column's start.
#[derive(Debug, Clone, Copy)]
struct Column {
    /// Its entries above the diagonal, the diagonal, and below.
    first: usize,
    pivot: usize,
    last: usize,
    /// How many eliminations follow from it.
    takes: usize,
}

/// A square matrix of which many entries are zero, and its triangular factors.
///
/// Pivots are taken from the diagonal in order. That suits `I/(h g) - J`: shorter steps make its diagonal dominant, and a
/// pivot that is next to nothing asks for one.
#[derive(Debug, Clone)]
pub(super) struct Factored<R> {
    n: usize,
    /// 1 where an entry counts as zero, column by column.
    absent: Vec<R>,
    /// Column and row of each entry that can be other than zero, eliminations counted, column by column.
    places: Vec<(u32, u32)>,
    columns: Vec<Column>,
    takes: Vec<Take>,
    /// The entries; after factoring multipliers stand below the diagonal.
    entries: Vec<f64>,
    forward: Vec<Sweep>,
    backward: Vec<Sweep>,
    /// One over each pivot.
    inverse: R,
}

/// A pivot smaller than this share of its column counts as none.
const SMALLEST_PIVOT: f64 = 1e-12;

impl<R: Room> Factored<R> {
    /// Room for matrices of up to `dim` rows.
    pub fn new(dim: usize) -> Self {
        Factored {
            n: 0,
            absent: vec![R::zeros(dim); dim],
            places: Vec::new(),
            columns: Vec::new(),
            takes: Vec::new(),
            entries: Vec::new(),
            forward: Vec::new(),
            backward: Vec::new(),
            inverse: R::zeros(dim),
        }
    }

    /// Forgets what is known of the matrix; from here on it has `n` rows.
    pub fn reset(&mut self, n: usize) {
        self.n = n;
        for (k, column) in self.absent.iter_mut().enumerate() {
            for (r, x) in column.as_mut().iter_mut().enumerate() {
                *x = if r < n && k < n { 1.0 } else { 0.0 };
            }
        }
        self.places.clear();
    }

    /// Makes sure that all entries of `columns` other than zero are known.
    pub fn admit(&mut self, columns: &[R]) {
        // Row by row, so that the sums run side by side.
        let mut stray = self.inverse.clone();
        let sums = stray.as_mut();
        sums.fill(0.0);
        for (column, absent) in columns.iter().zip(&self.absent) {
            let (column, absent) = (&column.as_ref()[..sums.len()], &absent.as_ref()[..sums.len()]);
            for (i, s) in sums.iter_mut().enumerate() {
                *s += column[i].abs() * absent[i];
            }
        }
        let known = sums.iter().all(|s| *s == 0.0);
        if !known || self.places.is_empty() {
            self.plan(columns);
        }
    }

    /// Works out where eliminating puts numbers, and lists what it does.
    fn plan(&mut self, columns: &[R]) {
        let n = self.n;
        let mut filled = vec![false; n * n];
        for (k, column) in columns.iter().enumerate().take(n) {
            for (r, x) in column.as_ref().iter().enumerate().take(n) {
                let known = self.absent[k].as_ref()[r] == 0.0;
                filled[k * n + r] = known || *x != 0.0 || r == k;
            }
        }
        for k in 0..n {
            for c in k + 1..n {
                for r in k + 1..n {
                    filled[c * n + r] |= filled[c * n + k] && filled[k * n + r];
                }
            }
        }
        self.places.clear();
        self.columns.clear();
        self.takes.clear();
        let mut at = vec![u32::MAX; n * n];
        for k in 0..n {
            let first = self.places.len();
            let mut pivot = first;
            for r in (0..n).filter(|r| filled[k * n + r]) {
                self.absent[k].as_mut()[r] = 0.0;
                at[k * n + r] = self.places.len() as u32;
                pivot = if r == k { self.places.len() } else { pivot };
                self.places.push((k as u32, r as u32));
            }
            self.columns.push(Column { first, pivot, last: self.places.len(), takes: 0 });
        }
        for k in 0..n {
            let before = self.takes.len();
            for c in (k + 1..n).filter(|c| filled[c * n + k]) {
                for r in (k + 1..n).filter(|r| filled[k * n + r]) {
                    self.takes.push(Take { to: at[c * n + r], from: at[c * n + k], by: at[k * n + r] });
                }
            }
            self.columns[k].takes = self.takes.len() - before;
        }
        self.entries = vec![0.0; self.places.len()];
        let sweep = |&(k, r): &(u32, u32)| Sweep { to: r, from: k, factor: 0.0 };
        self.forward = self.places.iter().filter(|(k, r)| r > k).map(sweep).collect();
        self.backward = self.places.iter().filter(|(k, r)| r < k).rev().map(sweep).collect();
        self.inverse = R::zeros(self.inverse.as_ref().len());
    }

    /// Factors the matrix of `columns` with `shift` added to its diagonal; `false` if a pivot is next to nothing or not a
    /// number.
    pub fn factor(&mut self, columns: &[R], shift: f64) -> bool {
        let entries = &mut self.entries[..];
        for (x, &(k, r)) in entries.iter_mut().zip(&self.places) {
            *x = columns[k as usize].as_ref()[r as usize];
        }
        let (mut takes, mut forward) = (&self.takes[..], self.forward.iter_mut());
        let mut backward = self.backward.iter_mut().rev();
        for (column, inverse) in self.columns.iter().zip(self.inverse.as_mut()) {
            let (above, rest) = entries[column.first..column.last].split_at_mut(column.pivot - column.first);
            let Some((pivot, below)) = rest.split_first_mut() else { return false };
            let pivot = *pivot + shift;
            let over = 1.0 / pivot;
            let mut largest = 0.0_f64;
            for (x, sweep) in below.iter_mut().zip(&mut forward) {
                largest = largest.max(x.abs());
                *x *= over;
                sweep.factor = *x;
            }
            if !(pivot.abs() > SMALLEST_PIVOT * largest && over.is_finite()) {
                return false;
            }
            for (x, sweep) in above.iter().zip(&mut backward) {
                sweep.factor = x * over;
            }
            *inverse = over;
            let (own, later) = takes.split_at(column.takes);
            for take in own {
                entries[take.to as usize] -= entries[take.from as usize] * entries[take.by as usize];
            }
            takes = later;
        }
        true
    }

    /// Solves in place; what stands in `b` behind the rows of the matrix must be zero.
    #[inline]
    pub fn solve(&self, b: &mut R) {
        let b = b.as_mut();
        for sweeps in [&self.forward, &self.backward] {
            for sweep in sweeps {
                b[sweep.to as usize] -= b[sweep.from as usize] * sweep.factor;
            }
        }
        for (x, inverse) in b.iter_mut().zip(self.inverse.as_ref()) {
            *x *= inverse;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::{DMatrix, DVector};

    /// Source: `nalgebra` LU (with row exchanges) on the same matrices: entries from a linear congruence, three quarters of
    /// them zero, rows of very different size, the diagonal shifted as a step of a stiff problem does.
    #[test]
    fn ref_solutions_equal_those_of_nalgebra() {
        for n in [1_usize, 2, 5, 13, 41] {
            let mut seed = 12_345_u32;
            let mut random = || {
                seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                f64::from(seed >> 8) / f64::from(1 << 24)
            };
            let m = DMatrix::from_fn(n, n, |r, _| match random() < 0.25 {
                true => (random() - 0.5) * 10f64.powi((r % 5) as i32),
                false => 0.0,
            });
            let shift = 2e4;
            let b = DVector::from_fn(n, |r, _| r as f64 + 0.5);
            let expected = (m.clone() + DMatrix::identity(n, n) * shift).lu().solve(&b).unwrap();
            let columns: Vec<Vec<f64>> = (0..n).map(|c| m.column(c).iter().copied().collect()).collect();
            let mut f = Factored::<Vec<f64>>::new(n);
            f.reset(n);
            f.admit(&columns);
            assert!(f.factor(&columns, shift));
            let mut x: Vec<f64> = b.iter().copied().collect();
            f.solve(&mut x);
            for (got, want) in x.iter().zip(expected.iter()) {
                assert!((got - want).abs() <= 1e-13 * expected.amax(), "n = {n}: {got} against {want}");
            }
        }
    }

    /// An entry that was zero at first, and room behind the matrix. Source: `nalgebra` LU.
    #[test]
    fn ref_a_new_entry_is_let_in_and_room_behind_does_not_count() {
        let mut f = Factored::<[f64; 5]>::new(4);
        f.reset(3);
        let mut columns = [[2.0, 0.0, 1.0, 0.0, 0.0], [0.0, 1.0, 0.0, 0.0, 0.0], [1.0, 0.0, 3.0, 0.0, 0.0]];
        f.admit(&columns);
        columns[1][0] = 0.5;
        f.admit(&columns);
        assert!(f.factor(&columns, 0.25));
        let m = DMatrix::from_fn(3, 3, |r, c| columns[c][r] + if r == c { 0.25 } else { 0.0 });
        let expected = m.lu().solve(&DVector::from_row_slice(&[1.0, 2.0, -3.0])).unwrap();
        let mut x = [1.0, 2.0, -3.0, 0.0, 0.0];
        f.solve(&mut x);
        for r in 0..3 {
            assert!((x[r] - expected[r]).abs() < 1e-14);
        }
        assert_eq!(x[3..], [0.0, 0.0]);
    }

    #[test]
    fn analytic_a_singular_matrix_is_refused() {
        let mut f = Factored::<[f64; 2]>::new(2);
        f.reset(2);
        let columns = [[1.0, 2.0], [1.0, 2.0]];
        f.admit(&columns);
        assert!(!f.factor(&columns, 0.0));
        assert!(!f.factor(&columns, f64::NAN));
    }
}
