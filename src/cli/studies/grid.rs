//! A study over a grid, read back for its charts: the mapped output and the sequence margin beside it.

pub(super) mod curves;
mod map;

use super::boundaries::Boundary;
use crate::charts::{Multiple, MultiplesPicture, Page, Series, Sheet, lay_out_multiples};
use crate::error::Error;
use crate::study::analysis::MARGIN;
use crate::study::boundary::{Field, distance, nearest_place};
use crate::study::{Axis, Cell, Grid, Output, Row};
use crate::units::{Kind, System, format, to_display, unit_symbol};
use curves::curves;

/// Most points of a grid that is drawn.
pub(super) const MOST_DRAWN: u64 = 100_000;
/// Most panels of small multiples.
const PANELS: usize = 16;
/// The output whose change the boundaries are about.
const ORDER: &str = "sequence.order";

/// Words around the boundaries shown, of so many runs.
type PageOf<'a> = dyn Fn(&[Boundary], u64) -> Result<Page, Error> + 'a;

/// What is drawn of a grid.
pub(super) struct Drawn<'a> {
    grid: &'a Grid,
    output: Output,
    system: System,
    cells: Vec<Cell>,
    margin: Option<Vec<Cell>>,
    margin_place: Option<usize>,
    /// Of each axis behind the second, the decimals that its values need to be told apart in a title.
    decimals: Vec<Option<usize>>,
    /// All outputs of a grid with one axis.
    curves: Vec<(Output, Vec<Cell>)>,
}

/// "check.load" as "check load (psi)".
pub(super) fn axis_name(path: &str, kind: Kind, system: System) -> String {
    let words = path.replace(['.', '_'], " ");
    match unit_symbol(kind, system) {
        "" => words,
        unit => format!("{words} ({unit})"),
    }
}

/// A value of an axis in a panel's title, which has little room.
fn titled(axis: &Axis, value: f64, decimals: Option<usize>, system: System) -> String {
    match decimals {
        None => format(axis.kind, value, system).replace(".0 ", " "),
        Some(n) => {
            let number = to_display(axis.kind, value, system);
            format!("{number:.n$} {}", unit_symbol(axis.kind, system)).trim_end().to_owned()
        }
    }
}

/// The decimals with which all values of an axis read differently; `None` where the usual figures do.
fn decimals(axis: &Axis, system: System) -> Option<usize> {
    let apart = |decimals: Option<usize>| {
        let mut all: Vec<String> = axis.values.iter().map(|v| titled(axis, *v, decimals, system)).collect();
        all.sort();
        all.windows(2).all(|w| w[0] != w[1])
    };
    std::iter::once(None).chain((1..12).map(Some)).find(|d| apart(*d)).unwrap_or(Some(12))
}

impl<'a> Drawn<'a> {
    /// Takes the rows of a grid; the first output is mapped.
    pub fn new(grid: &'a Grid, outputs: &[Output], system: System) -> Option<Drawn<'a>> {
        let points: usize = grid.axes.iter().map(|a| a.values.len()).product();
        let output = outputs.first()?.clone();
        let margin_place = outputs.iter().position(|o| o.name() == MARGIN);
        let curves = match grid.axes.len() {
            1 => outputs.iter().map(|o| (o.clone(), vec![Cell::Missing; points])).collect(),
            _ => Vec::new(),
        };
        let empty = || vec![Cell::Missing; points];
        let decimals = grid.axes.iter().skip(2).map(|axis| decimals(axis, system)).collect();
        let margin = margin_place.map(|_| empty());
        Some(Drawn { grid, output, system, cells: empty(), margin, margin_place, decimals, curves })
    }

    pub fn add(&mut self, row: &Row) {
        let Ok(place) = usize::try_from(row.index) else { return };
        if let (Some(slot), Some(cell)) = (self.cells.get_mut(place), row.cells.first()) {
            *slot = cell.clone();
        }
        if let (Some(margin), Some(at)) = (&mut self.margin, self.margin_place)
            && let (Some(slot), Some(cell)) = (margin.get_mut(place), row.cells.get(at))
        {
            *slot = cell.clone();
        }
        for ((_, values), cell) in self.curves.iter_mut().zip(&row.cells) {
            if let Some(slot) = values.get_mut(place) {
                *slot = cell.clone();
            }
        }
    }

    /// The first two axes at fixed places on the others.
    fn field<'b>(&'b self, cells: &[Cell], others: &[usize]) -> Option<Field<'b>> {
        let [x, y, rest @ ..] = self.grid.axes.as_slice() else { return None };
        let tail: usize = rest.iter().map(|a| a.values.len()).product();
        let offset = rest.iter().zip(others).fold(0, |place, (axis, other)| place * axis.values.len() + other);
        let cell = |k: usize| cells.get(k * tail + offset).cloned().unwrap_or(Cell::Missing);
        Some(Field { xs: &x.values, ys: &y.values, cells: (0..x.values.len() * y.values.len()).map(cell).collect() })
    }

    /// Every combination of places on the axes behind the second.
    fn facets(&self) -> Vec<Vec<usize>> {
        let rest = self.grid.axes.get(2..).unwrap_or(&[]);
        let mut all = vec![Vec::new()];
        for axis in rest {
            let places = 0..axis.values.len();
            all = all.into_iter().flat_map(|f| places.clone().map(move |p| [f.clone(), vec![p]].concat())).collect();
        }
        all
    }

    fn shown(&self, axis: &Axis, si: f64) -> f64 {
        to_display(axis.kind, si, self.system)
    }

    /// Whether an axis is drawn by ratio: spaced so, and above zero in the unit shown too.
    fn by_ratio(&self, axis: &Axis) -> bool {
        axis.log && axis.values.iter().all(|v| self.shown(axis, *v) > 0.0)
    }

    fn line(&self, label: &str, xs: &[f64], ys: &[f64]) -> Option<Series> {
        let [x, y, ..] = self.grid.axes.as_slice() else { return None };
        let points: Vec<(f64, f64)> = xs.iter().zip(ys).map(|(a, b)| (self.shown(x, *a), self.shown(y, *b))).collect();
        points.iter().any(|p| p.1.is_finite()).then(|| Series { label: label.to_owned(), points })
    }

    fn words(&self) -> bool {
        self.cells.iter().any(|c| matches!(c, Cell::Text(_) | Cell::Flag(_)))
    }

    /// For each facet: its places, the static boundary and that of the output, over the first axis.
    pub fn boundaries(&self) -> Vec<Boundary> {
        let Some(margin) = self.margin.as_ref().filter(|_| self.output.name() == ORDER) else { return Vec::new() };
        let [_, y, ..] = self.grid.axes.as_slice() else { return Vec::new() };
        // The order of the runs turns somewhere between two rows.
        let steps = y.values.windows(2).map(|w| match w {
            [a, b] => (b - a).abs(),
            _ => 0.0,
        });
        let within = 0.5 * steps.fold(0.0, f64::max);
        let facet = |others: Vec<usize>| {
            let at_rest = self.field(margin, &others)?.boundary(0.0);
            let field = self.field(&self.cells, &others)?;
            let moving = field.boundary(0.0);
            let distance = distance(&moving, &at_rest);
            let mut words: Vec<String> = field.cells.iter().filter(|c| **c != Cell::Missing).map(Cell::text).collect();
            words.dedup();
            let only = if words.len() == 1 { words.pop() } else { None };
            Some(Boundary { title: self.facet_title(&others), at_rest, moving, distance, only, within })
        };
        self.facets().into_iter().filter_map(facet).collect()
    }

    fn facet_title(&self, others: &[usize]) -> String {
        let rest = self.grid.axes.get(2..).unwrap_or(&[]);
        let part = |((axis, place), decimals): ((&Axis, &usize), &Option<usize>)| {
            let value = axis.values.get(*place).copied().unwrap_or(f64::NAN);
            let name = axis.path.rsplit('.').next().unwrap_or(axis.path).replace('_', " ");
            format!("{name} {}", titled(axis, value, *decimals, self.system))
        };
        rest.iter().zip(others).zip(&self.decimals).map(part).collect::<Vec<_>>().join(", ")
    }

    /// The charts of this grid by name. `page` gives the words around those shown of `boundaries`; `base` the value of a
    /// field in the study's settings.
    pub fn charts(
        &self,
        boundaries: &[Boundary],
        page: &PageOf<'_>,
        base: &dyn Fn(&str) -> Option<f64>,
    ) -> Result<Vec<(&'static str, Sheet)>, Error> {
        let all_runs = self.cells.len() as u64;
        Ok(match self.grid.axes.as_slice() {
            [] => Vec::new(),
            [axis] => curves(axis, &self.curves, &page(boundaries, all_runs)?, self.system)
                .map(|sheet| ("curves", sheet))
                .into_iter()
                .collect(),
            [x, y, rest @ ..] => {
                let near = |axis: &Axis| base(axis.path).map_or(0, |v| nearest_place(axis, v));
                let others: Vec<usize> = rest.iter().map(near).collect();
                let mut all = Vec::new();
                // The map shows one slice, so its title is about that one.
                let title = self.facet_title(&others);
                let shown = boundaries.iter().position(|b| b.title == title);
                let slice = (x.values.len() * y.values.len()) as u64;
                let mut head = page(shown.map_or(&[], |i| &boundaries[i..=i]), slice)?;
                if !rest.is_empty() && shown.is_none() {
                    head.title = self.slice_title(&others).unwrap_or(head.title);
                }
                all.extend(self.map_sheet(&head, &others, base).map(|sheet| ("map", sheet)));
                if !rest.is_empty() {
                    all.extend(
                        self.multiples_sheet(&page(boundaries, all_runs)?, boundaries)
                            .map(|sheet| ("multiples", sheet)),
                    );
                }
                all
            }
        })
    }

    fn multiples_sheet(&self, page: &Page, boundaries: &[Boundary]) -> Option<Sheet> {
        let [x, y, ..] = self.grid.axes.as_slice() else { return None };
        if boundaries.is_empty() {
            return None;
        }
        let panel = |b: &Boundary| Multiple {
            title: b.title.clone(),
            series: [("order of the run", &b.moving), ("static, margin 0", &b.at_rest)]
                .into_iter()
                .filter_map(|(label, ys)| self.line(label, &x.values, ys))
                .collect(),
            note: match (b.distance, &b.only) {
                (Some([_, middle, _]), _) => {
                    format!("{} apart", super::boundaries::apart(y.kind, middle, b.within, self.system))
                }
                (None, Some(word)) => format!("{word} everywhere"),
                (None, None) => "not both boundaries".to_owned(),
            },
        };
        let mut page = page.clone();
        if boundaries.len() > PANELS {
            page.subtitle = format!("{}; the first {PANELS} of {} panels", page.subtitle, boundaries.len());
        }
        let ends = |axis: &Axis| {
            [axis.values.first(), axis.values.last()].map(|v| self.shown(axis, v.copied().unwrap_or(f64::NAN)))
        };
        let ([x0, x1], [y0, y1]) = (ends(x), ends(y));
        Some(lay_out_multiples(&MultiplesPicture {
            page,
            x_name: axis_name(x.path, x.kind, self.system),
            y_name: axis_name(y.path, y.kind, self.system),
            holds: vec![(x0, y0), (x1, y1)],
            panels: boundaries.iter().take(PANELS).map(panel).collect(),
            log: [self.by_ratio(x), self.by_ratio(y)],
        }))
    }
}
