//! A study over one axis: everything recorded as curves, words beside numbers.

use super::axis_name;
use crate::charts::{CurvePanel, CurvesPicture, Page, Series, Sheet, lay_out_curves};
use crate::study::{Axis, Cell, Output, key_words, kind_of};
use crate::units::{Kind, System, to_display};

/// Most points of a curve that are marked one by one.
const MOST_DOTS: usize = 60;
/// Most panels of curves.
const MOST_CURVES: usize = 4;

/// A recorded value as "final zone2, gauge (psi)".
fn recorded_name(key: &str, kind: Kind, system: System) -> String {
    let words = key_words(key);
    axis_name(&if kind == Kind::GaugePressure { format!("{words}, gauge") } else { words }, kind, system)
}

/// One recorded value over a field, its cells at SI values of that.
pub(in super::super) fn panel<'a>(
    key: &str,
    (path, kind): (&str, Kind),
    cells: impl Iterator<Item = (f64, &'a Cell)>,
    system: System,
) -> CurvePanel {
    let of = kind_of(key);
    let mut words: Vec<String> = Vec::new();
    let mut height = |cell: &Cell| match cell {
        Cell::Number(v) => to_display(of, *v, system),
        Cell::Missing => f64::NAN,
        Cell::Text(_) | Cell::Flag(_) => {
            let word = cell.text();
            let place = words.iter().position(|w| *w == word).unwrap_or(words.len());
            if place == words.len() {
                words.push(word);
            }
            place as f64 + 1.0
        }
    };
    let points: Vec<(f64, f64)> = cells.map(|(x, cell)| (to_display(kind, x, system), height(cell))).collect();
    CurvePanel {
        y_name: recorded_name(key, of, system),
        x_name: axis_name(path, kind, system),
        dots: points.len() <= MOST_DOTS,
        series: vec![Series { label: String::new(), points }],
        words,
        ..CurvePanel::default()
    }
}

/// All outputs over one axis, numbers and words; `None` if there is nothing in them.
pub(super) fn curves(axis: &Axis, recorded: &[(Output, Vec<Cell>)], page: &Page, system: System) -> Option<Sheet> {
    let of = |(output, values): &(Output, Vec<Cell>)| {
        let cells = axis.values.iter().copied().zip(values);
        let one = panel(&output.key, (axis.path, axis.kind), cells, system);
        let something = one.series.iter().flat_map(|s| &s.points).any(|p| p.1.is_finite());
        something.then_some(CurvePanel { x_log: axis.log, ..one })
    };
    let mut panels: Vec<CurvePanel> = recorded.iter().filter_map(of).collect();
    let mut page = page.clone();
    let left_out: Vec<String> = panels.drain(panels.len().min(MOST_CURVES)..).map(|p| p.y_name).collect();
    if !left_out.is_empty() {
        page.subtitle = format!("{}; in the table only: {}", page.subtitle, left_out.join(", "));
    }
    (!panels.is_empty()).then(|| lay_out_curves(&CurvesPicture { page, panels }))
}
