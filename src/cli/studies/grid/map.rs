//! The map of one slice of a grid: regions of a word or of a band of numbers.

use super::{Drawn, axis_name};
use crate::charts::{MapPicture, Page, PointMark, Sheet, banded, lay_out_map};
use crate::study::boundary::Field;
use crate::study::{Axis, Cell, key_words};
use crate::units::{format, to_display, unit_symbol};

impl Drawn<'_> {
    /// Range of the numbers of one slice.
    pub(super) fn slice_title(&self, others: &[usize]) -> Option<String> {
        let field = self.field(&self.cells, others)?;
        let numbers: Vec<f64> = field.cells.iter().filter_map(Cell::number).collect();
        let (low, high) = numbers.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(*v), h.max(*v)));
        let show = |v: f64| format(self.output.kind(), v, self.system);
        let name = key_words(&self.output.key);
        (!numbers.is_empty()).then(|| format!("{} runs: {name} from {} to {}", numbers.len(), show(low), show(high)))
    }

    /// The first two axes at fixed places on the others.
    pub(super) fn map_sheet(&self, page: &Page, others: &[usize], base: &dyn Fn(&str) -> Option<f64>) -> Option<Sheet> {
        let [x, y, ..] = self.grid.axes.as_slice() else { return None };
        let field = self.field(&self.cells, others)?;
        let (regions, of) = self.regions(&field);
        // The chart wants rows from the lowest, both axes rising.
        let order = |axis: &Axis| {
            let mut places: Vec<usize> = (0..axis.values.len()).collect();
            places.sort_by(|a, b| {
                axis.values.get(*a).partial_cmp(&axis.values.get(*b)).unwrap_or(std::cmp::Ordering::Equal)
            });
            places
        };
        let (across, up) = (order(x), order(y));
        let place = |i: &usize, j: &usize| of.get(i * y.values.len() + j).copied().flatten();
        let cells = up.iter().flat_map(|j| across.iter().map(|i| place(i, j)).collect::<Vec<_>>()).collect();
        let values = |axis: &Axis, places: &[usize]| {
            places.iter().filter_map(|i| axis.values.get(*i)).map(|v| self.shown(axis, *v)).collect()
        };
        let mut lines = Vec::new();
        if let Some(margin) = &self.margin {
            let field = self.field(margin, others)?;
            let up = self.line("static boundary, margin 0", &x.values, &field.boundary(0.0));
            // Where it stands upright it crosses rows, not columns.
            lines.extend(up.or_else(|| self.line("static boundary, margin 0", &field.boundary_across(0.0), &y.values)));
        }
        let mut points = Vec::new();
        if let (Some(a), Some(b)) = (base(x.path), base(y.path)) {
            let inside = |axis: &Axis, v: f64| {
                let (low, high) =
                    axis.values.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(*v), h.max(*v)));
                v >= low && v <= high
            };
            if inside(x, a) && inside(y, b) {
                points.push(PointMark { at: (self.shown(x, a), self.shown(y, b)), text: "as given".to_owned() });
            }
        }
        let mut page = page.clone();
        let title = self.facet_title(others);
        if !title.is_empty() {
            page.subtitle = format!("{title}; {}", page.subtitle);
        }
        Some(lay_out_map(&MapPicture {
            page,
            x_name: axis_name(x.path, x.kind, self.system),
            y_name: axis_name(y.path, y.kind, self.system),
            xs: values(x, &across),
            ys: values(y, &up),
            log: [self.by_ratio(x), self.by_ratio(y)],
            cells,
            regions,
            lines,
            points,
        }))
    }

    /// Names of the regions and the region of each cell: words as they are, numbers in bands.
    fn regions(&self, field: &Field<'_>) -> (Vec<String>, Vec<Option<usize>>) {
        if self.words() {
            let mut names: Vec<String> = field.cells.iter().filter(|c| **c != Cell::Missing).map(Cell::text).collect();
            names.sort();
            names.dedup();
            let of = |c: &Cell| names.iter().position(|n| *n == c.text());
            let cells = field.cells.iter().map(of).collect();
            return (names, cells);
        }
        let kind = self.output.kind();
        let values: Vec<f64> =
            field.cells.iter().map(|c| c.number().map_or(f64::NAN, |v| to_display(kind, v, self.system))).collect();
        let limits = limits(&values);
        let unit = unit_symbol(kind, self.system);
        let number = |v: f64| {
            let text = format!("{v:.6}");
            text.trim_end_matches('0').trim_end_matches('.').to_owned()
        };
        let with = |text: String| if unit.is_empty() { text } else { format!("{text} {unit}") };
        let mut names = Vec::new();
        match (limits.first(), limits.last()) {
            (Some(first), Some(last)) => {
                names.push(with(format!("below {}", number(*first))));
                names.extend(limits.windows(2).filter_map(|w| match w {
                    [a, b] => Some(with(format!("{} to {}", number(*a), number(*b)))),
                    _ => None,
                }));
                names.push(with(format!("{} and more", number(*last))));
            }
            _ => {
                let known = field.cells.iter().find_map(Cell::number);
                let value = known.map_or_else(String::new, |v| format!(" {} everywhere", format(kind, v, self.system)));
                names.push(format!("{}{value}", key_words(&self.output.key)));
            }
        }
        (names, banded(&values, &limits))
    }
}

/// At most four round numbers inside the range of the values.
fn limits(values: &[f64]) -> Vec<f64> {
    let finite = values.iter().filter(|v| v.is_finite());
    let (low, high) = finite.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(*v), h.max(*v)));
    if !(high > low) {
        return Vec::new();
    }
    let power = 10f64.powf(((high - low) / 5.0).log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0].map(|f| f * power).into_iter().find(|s| (high - low) / s <= 5.0);
    let step = step.unwrap_or(10.0 * power);
    let first = (low / step).floor() + 1.0;
    (0..5).map(|k| (first + f64::from(k)) * step).filter(|v| *v < high).collect()
}
