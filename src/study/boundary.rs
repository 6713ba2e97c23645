//! Where on a map something changes: level lines of numbers, boundaries between words.

use super::axis::Axis;
use super::output::Cell;

/// One output over two axes: `cells[i * ys + j]` belongs to `xs[i]`, `ys[j]`.
#[derive(Debug, Clone)]
pub struct Field<'a> {
    /// Values of the first axis, SI.
    pub xs: &'a [f64],
    /// Values of the second axis, SI.
    pub ys: &'a [f64],
    /// The cells, the second axis running fastest.
    pub cells: Vec<Cell>,
}

impl Field<'_> {
    /// The cell at column `i`, row `j`.
    pub fn at(&self, i: usize, j: usize) -> &Cell {
        self.cells.get(i * self.ys.len() + j).filter(|_| j < self.ys.len()).unwrap_or(&Cell::Missing)
    }

    /// For each value of the first axis, the lowest place on the second where the output changes: a number through `level`
    /// (by straight line), a word to another (half-way). NaN where it does not.
    pub fn boundary(&self, level: f64) -> Vec<f64> {
        let column = |i: usize| {
            let crossing = |(j, pair): (usize, &[f64])| {
                let [low, high] = pair else { return None };
                let share = change(self.at(i, j), self.at(i, j + 1), level)?;
                Some(low + share * (high - low))
            };
            self.ys.windows(2).enumerate().find_map(crossing).unwrap_or(f64::NAN)
        };
        (0..self.xs.len()).map(column).collect()
    }
}

impl Field<'_> {
    /// As [`Field::boundary`] with the axes exchanged: for each value of the second axis the first place on the first.
    pub fn boundary_across(&self, level: f64) -> Vec<f64> {
        let row = |j: usize| {
            let crossing = |(i, pair): (usize, &[f64])| {
                let [low, high] = pair else { return None };
                let share = change(self.at(i, j), self.at(i + 1, j), level)?;
                Some(low + share * (high - low))
            };
            self.xs.windows(2).enumerate().find_map(crossing).unwrap_or(f64::NAN)
        };
        (0..self.ys.len()).map(row).collect()
    }
}

/// How far between two neighbours a change lies, 0 to 1.
fn change(a: &Cell, b: &Cell, level: f64) -> Option<f64> {
    match (a, b) {
        (Cell::Number(a), Cell::Number(b)) => {
            let (a, b) = (a - level, b - level);
            ((a < 0.0) != (b < 0.0)).then(|| a / (a - b))
        }
        (Cell::Text(_) | Cell::Flag(_), Cell::Text(_) | Cell::Flag(_)) => (a != b).then_some(0.5),
        _ => None,
    }
}

/// How far one boundary lies above another, where both are: lowest, middle and highest difference.
pub fn distance(boundary: &[f64], from: &[f64]) -> Option<[f64; 3]> {
    let mut all: Vec<f64> = boundary.iter().zip(from).map(|(a, b)| a - b).filter(|d| d.is_finite()).collect();
    all.sort_by(f64::total_cmp);
    Some([*all.first()?, super::distribution::sorted_quantile(&all, 0.5), *all.last()?])
}

/// The place on an axis that lies nearest to a value.
pub fn nearest_place(axis: &Axis, value: f64) -> usize {
    let far = |i: &usize| axis.values.get(*i).map_or(f64::INFINITY, |v| (v - value).abs());
    (0..axis.values.len()).min_by(|a, b| far(a).total_cmp(&far(b))).unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// z = y - x through zero is y = x; a word that changes between rows lies half-way.
    #[test]
    fn analytic_boundaries_of_a_plane_and_of_words() {
        let xs: Vec<f64> = (0..5).map(|i| 0.3 + 0.1 * f64::from(i)).collect();
        let ys: Vec<f64> = (0..11).map(|j| 0.1 * f64::from(j)).collect();
        let over = |f: &dyn Fn(f64, f64) -> Cell| Field {
            xs: &xs,
            ys: &ys,
            cells: xs.iter().flat_map(|x| ys.iter().map(|y| f(*x, *y)).collect::<Vec<_>>()).collect(),
        };
        let level = over(&|x, y| Cell::Number(y - x - 0.013)).boundary(0.0);
        for (x, y) in xs.iter().zip(&level) {
            assert!((y - x - 0.013).abs() < 1e-12);
        }
        let upright = over(&|x, y| Cell::Number(x - 0.35 - 0.001 * y));
        assert!(upright.boundary(0.0).iter().all(|y| y.is_nan()));
        for (x, y) in upright.boundary_across(0.0).iter().zip(&ys) {
            assert!((x - 0.35 - 0.001 * y).abs() < 1e-12);
        }
        let words = over(&|x, y| Cell::Text(if y > x + 0.013 { "a" } else { "b" }.into())).boundary(0.0);
        let [low, middle, high] = distance(&words, &level).unwrap();
        assert!(low > -0.05 && high < 0.05 && low <= middle && middle <= high);
        assert!(over(&|_, _| Cell::Missing).boundary(0.0).iter().all(|y| y.is_nan()));
        assert_eq!(distance(&[f64::NAN], &[1.0]), None);
    }
}
