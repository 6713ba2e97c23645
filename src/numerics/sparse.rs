//! Triangular factors of a matrix of many rows, most of its entries zero: a line of many cells. Where eliminating can put
//! numbers is worked out when the first of them appears; nothing is allocated after that.

use super::linear::{Factors, is_pivot};

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
#[derive(Debug, Clone)]
pub(super) struct Sparse {
    n: usize,
    /// Row and column of each entry that counts as zero.
    absent: Vec<(u32, u32)>,
    /// Column and row of each entry that can be other than zero, eliminations counted, column by column.
    places: Vec<(u32, u32)>,
    columns: Vec<Column>,
    takes: Vec<Take>,
    /// The entries; after factoring multipliers stand below the diagonal.
    entries: Vec<f64>,
    /// The matrix as it was taken, in the same order.
    matrix: Vec<f64>,
    forward: Vec<Sweep>,
    backward: Vec<Sweep>,
    /// One over each pivot.
    inverse: Vec<f64>,
}

impl Sparse {
    /// Works out where eliminating puts numbers, and lists what it does.
    fn plan(&mut self, rows: &[Vec<f64>]) {
        let n = self.n;
        let mut filled = vec![true; n * n];
        if self.places.is_empty() {
            self.absent = (0..n).flat_map(|r| (0..n).map(move |c| (r as u32, c as u32))).collect();
        }
        for &(r, c) in &self.absent {
            filled[c as usize * n + r as usize] = r == c || rows[r as usize][c as usize] != 0.0;
        }
        for k in 0..n {
            for c in k + 1..n {
                for r in k + 1..n {
                    filled[c * n + r] |= filled[c * n + k] && filled[k * n + r];
                }
            }
        }
        self.absent.retain(|&(r, c)| !filled[c as usize * n + r as usize]);
        self.places.clear();
        self.columns.clear();
        self.takes.clear();
        let mut at = vec![u32::MAX; n * n];
        for k in 0..n {
            let first = self.places.len();
            let mut pivot = first;
            for r in (0..n).filter(|r| filled[k * n + r]) {
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
        self.inverse = vec![0.0; n];
    }
}

impl Factors<Vec<f64>> for Sparse {
    fn new(_dim: usize) -> Self {
        Sparse {
            n: 0,
            absent: Vec::new(),
            places: Vec::new(),
            columns: Vec::new(),
            takes: Vec::new(),
            matrix: Vec::new(),
            entries: Vec::new(),
            forward: Vec::new(),
            backward: Vec::new(),
            inverse: Vec::new(),
        }
    }

    fn reset(&mut self, n: usize) {
        self.n = n;
        self.places.clear();
    }

    fn admit(&mut self, rows: &[Vec<f64>]) {
        if self.places.is_empty() || self.absent.iter().any(|&(r, c)| rows[r as usize][c as usize] != 0.0) {
            self.plan(rows);
        }
        self.matrix.clear();
        self.matrix.extend(self.places.iter().map(|&(k, r)| rows[r as usize][k as usize]));
    }

    fn factor(&mut self, shift: f64) -> bool {
        let entries = &mut self.entries[..];
        entries.copy_from_slice(&self.matrix);
        let (mut takes, mut forward) = (&self.takes[..], self.forward.iter_mut());
        let mut backward = self.backward.iter_mut().rev();
        for (column, inverse) in self.columns.iter().zip(&mut self.inverse) {
            let (above, rest) = entries[column.first..column.last].split_at_mut(column.pivot - column.first);
            let Some((pivot, below)) = rest.split_first_mut() else { return false };
            let pivot = *pivot + shift;
            let over = 1.0 / pivot;
            for (x, sweep) in below.iter_mut().zip(&mut forward) {
                *x *= over;
                sweep.factor = *x;
            }
            if !(is_pivot(pivot, shift) && over.is_finite()) {
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

    fn solve(&self, b: &mut Vec<f64>) {
        for sweeps in [&self.forward, &self.backward] {
            for sweep in sweeps {
                b[sweep.to as usize] -= b[sweep.from as usize] * sweep.factor;
            }
        }
        for (x, inverse) in b.iter_mut().zip(&self.inverse) {
            *x *= inverse;
        }
    }
}
