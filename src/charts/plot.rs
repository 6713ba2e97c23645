//! A plotting area with named axes on both sides, anywhere on the sheet; and what is written into it.

use super::axis::{Axis, Panel, Ticks};
use super::look::{self, LineLook};
use super::sheet::{Align, Rect, Sheet, Text, crisp};

/// Height of the heading above a plot, px.
pub(super) const ABOVE: f64 = 34.0;
/// Height of tick labels and axis name below a plot, px.
pub(super) const BELOW: f64 = 50.0;
/// Most values marked on a vertical axis: more are read no better.
const MOST_TICKS: f64 = 13.0;

/// One axis of a plot: its name with its unit, and the values at its ends.
#[derive(Debug, Clone, PartialEq)]
pub struct AxisSpec {
    /// Name with unit, for example "flow (gpm)".
    pub name: String,
    /// Value at the left or lower end.
    pub low: f64,
    /// Value at the right or upper end.
    pub high: f64,
    /// Whether equal distances are to be equal ratios.
    pub log: bool,
    /// What stands at 1, 2, 3 and so on where the values are no numbers.
    pub words: Vec<String>,
    /// Whether only whole numbers are marked: there is nothing between them. Horizontal axes only.
    pub whole: bool,
}

impl AxisSpec {
    /// An axis with its ends given.
    pub fn new(name: &str, low: f64, high: f64) -> Self {
        Self { name: name.to_owned(), low, high, log: false, words: Vec::new(), whole: false }
    }

    /// An axis of words, the first lowest.
    pub fn of_words(name: &str, words: &[String]) -> Self {
        Self { words: words.to_vec(), ..Self::new(name, 0.5, words.len() as f64 + 0.5) }
    }

    /// An axis of things that are counted, the first and last half a step from its ends.
    pub fn counted(name: &str, values: impl IntoIterator<Item = f64>) -> Self {
        let finite = values.into_iter().filter(|v| v.is_finite());
        let (low, high) = finite.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
        if low <= high {
            Self { whole: true, ..Self::new(name, low - 0.5, high + 0.5) }
        } else {
            Self::new(name, 0.0, 1.0)
        }
    }

    /// An axis that holds all `values` with a little room, equal distances being equal ratios; as [`AxisSpec::around`] where
    /// a value is not above zero.
    pub fn by_ratio(name: &str, values: impl IntoIterator<Item = f64>) -> Self {
        let values: Vec<f64> = values.into_iter().filter(|v| v.is_finite()).collect();
        let (low, high) = values.iter().fold((f64::INFINITY, 0.0_f64), |(l, h), v| (l.min(*v), h.max(*v)));
        if !(low > 0.0 && high > low) {
            return Self::around(name, values, false);
        }
        let room = (high / low).powf(0.04);
        Self { log: true, ..Self::new(name, low / room, high * room) }
    }

    /// An axis that holds all finite `values` with a little room, and zero if `from_zero` or if zero is near.
    pub fn around(name: &str, values: impl IntoIterator<Item = f64>, from_zero: bool) -> Self {
        let finite = values.into_iter().filter(|v| v.is_finite());
        let (low, high) = finite.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
        if !(low <= high) {
            return Self::new(name, 0.0, 1.0);
        }
        let zero_near = from_zero || (low >= 0.0 && low < 0.6 * high) || (high <= 0.0 && high > 0.6 * low);
        let (low, high) = if zero_near { (low.min(0.0), high.max(0.0)) } else { (low, high) };
        let room = 0.06 * if high > low { high - low } else { low.abs().max(1.0) };
        let low = if low == 0.0 { low } else { low - room };
        Self::new(name, low, if high == 0.0 { high } else { high + room })
    }
}

/// Draws frame, grid, ticks and names inside `outer` and returns the panel. The heading (bold) names the vertical axis;
/// `tags` is the room kept at the right, px.
pub(super) fn plot(sheet: &mut Sheet, outer: Rect, heading: &str, x: &AxisSpec, y: &AxisSpec, tags: f64) -> Panel {
    let top = outer.y0 + if heading.is_empty() { 10.0 } else { ABOVE };
    let bottom = (outer.y1 - BELOW).max(top + 10.0);
    let vertical = Axis::new(y.low, y.high, bottom.round(), top.round()).by_ratio(y.log);
    let ticks = match y.words.is_empty() {
        true => {
            let ticks = vertical.ticks(((bottom - top) / 29.0 + 1.3).clamp(2.0, MOST_TICKS) as usize);
            ticks.values.iter().map(|v| (*v, ticks.label(*v))).collect()
        }
        false => (1..).map(f64::from).zip(y.words.iter().cloned()).collect::<Vec<_>>(),
    };
    let widest = ticks.iter().map(|(_, label)| look::text_width(label, look::TICK, false)).fold(0.0, f64::max);
    let left = (outer.x0 + widest + 15.0).round();
    let right = (outer.x1 - tags).max(left + 10.0).round();
    let area = Rect::new(left, top.round(), right, bottom.round());
    let panel = Panel { area, x: Axis::new(x.low, x.high, left, right).by_ratio(x.log), y: vertical };
    grid(sheet, &panel, &ticks, x.whole);
    let heading = Text::new(heading, look::HEADING).bold().within(outer.width());
    sheet.text(heading, outer.x0, outer.y0 + 14.0, Align::Left);
    let name = Text::new(&x.name, look::TICK).bold().within(outer.x1 - left + 30.0);
    let middle = 0.5 * (left + right);
    let start = (middle - 0.5 * name.width()).clamp(outer.x0, (outer.x1 - name.width()).max(outer.x0));
    sheet.text(name, start, bottom + 42.0, Align::Left);
    panel
}

fn grid(sheet: &mut Sheet, panel: &Panel, ticks: &[(f64, String)], whole: bool) {
    let (a, thin) = (panel.area, LineLook::solid(look::GRID, 1.0));
    let mut across = x_ticks(&panel.x);
    if whole && across.step < 1.0 {
        across = panel.x.ticks((panel.x.high - panel.x.low) as usize);
    }
    for value in &across.values {
        let x = crisp(panel.x.px(*value));
        sheet.line(&[(x, a.y0), (x, a.y1)], thin);
    }
    for (value, _) in ticks {
        let y = crisp(panel.y.px(*value));
        sheet.line(&[(a.x0, y), (a.x1, y)], thin);
    }
    frame(sheet, panel);
    for (value, label) in ticks {
        let y = crisp(panel.y.px(*value));
        sheet.line(&[(a.x0 - 6.0, y), (a.x0, y)], LineLook::solid(look::FRAME, 1.0));
        let label = Text::new(label, look::TICK).colour(look::SOFT_INK);
        sheet.try_text(&label, &[(a.x0 - 10.0, y, Align::Right)]);
    }
    for value in &across.values {
        let x = crisp(panel.x.px(*value));
        sheet.line(&[(x, a.y1), (x, a.y1 + 6.0)], LineLook::solid(look::FRAME, 1.0));
        let label = Text::new(&across.label(*value), look::TICK).colour(look::SOFT_INK);
        sheet.try_text(&label, &[(x, a.y1 + 18.0, Align::Center)]);
    }
}

/// The lines of both axes; the horizontal one stands at zero if zero is in view.
pub(super) fn frame(sheet: &mut Sheet, panel: &Panel) {
    let (a, look) = (panel.area, LineLook::solid(look::FRAME, 1.4));
    let zero = crisp(if panel.y.shows(0.0) { panel.y.px(0.0) } else { a.y1 });
    sheet.line(&[(a.x0, zero), (a.x1, zero)], look);
    sheet.line(&[(a.x0, crisp(a.y1)), (a.x1, crisp(a.y1))], LineLook::solid(look::FRAME, 1.0));
    sheet.line(&[(crisp(a.x0), a.y0), (crisp(a.x0), a.y1)], look);
}

/// As many ticks of a horizontal axis as have room for their labels.
pub(super) fn x_ticks(axis: &Axis) -> Ticks {
    let crowded = |ticks: &Ticks| {
        let widest = ticks.values.iter().map(|v| look::text_width(&ticks.label(*v), look::TICK, false));
        widest.fold(0.0, f64::max) + 18.0 > axis.apart(ticks)
    };
    let found = (2..=11).rev().map(|most| axis.ticks(most)).find(|ticks| !crowded(ticks));
    found.unwrap_or_else(|| axis.ticks(2))
}

/// Vertical lines at values of the horizontal axis, each named near its top where no other line crosses the name; one too long
/// for the room beside its line is broken.
pub(super) fn limit_lines(sheet: &mut Sheet, panel: &Panel, limits: &[(f64, &str)]) {
    let a = panel.area;
    let shown: Vec<_> = limits.iter().enumerate().filter(|(_, (value, _))| panel.x.shows(*value)).collect();
    for (i, (value, _)) in &shown {
        let x = crisp(panel.x.px(*value));
        sheet.line(&[(x, a.y0), (x, a.y1)], LineLook { colour: look::INK, width: 2.4, ..LineLook::of(1 + i) });
        sheet.keep_clear(Rect::new(x - 2.0, a.y0, x + 2.0, a.y1));
    }
    let at: Vec<f64> = shown.iter().map(|(_, (value, _))| crisp(panel.x.px(*value))).collect();
    for (_, (value, text)) in shown {
        let x = crisp(panel.x.px(*value));
        let label = Text::new(text, look::TICK).bold().on(look::PAPER).within(0.6 * a.width());
        let rows = |from: i32| (from..9).map(|row| a.y0 + 12.0 + 22.0 * f64::from(row)).filter(|y| *y < a.y1 - 8.0);
        let mut places = Vec::new();
        for y in rows(0) {
            let fits = |left: f64| left > a.x0 && left + label.width() < a.x1 + 6.0;
            places.extend(fits(x + 7.0).then_some((x + 7.0, y, Align::Left)));
            places.extend(fits(x - 7.0 - label.width()).then_some((x - 7.0, y, Align::Right)));
        }
        if sheet.clear_text(&label, &places).is_some() {
            continue;
        }
        let right = at.iter().copied().filter(|other| *other > x + 1.0).fold(a.x1 + 6.0, f64::min) - x - 16.0;
        let left = x - 16.0 - at.iter().copied().filter(|other| *other < x - 1.0).fold(a.x0, f64::max);
        let (room, from, align) =
            if right >= left { (right, x + 7.0, Align::Left) } else { (left, x - 7.0, Align::Right) };
        let (lines, cut) = look::wrapped(&look::clean(text), look::TICK, true, room, 3);
        let block = |first: i32, line: &String| {
            (
                Text::new(line, look::TICK).bold().on(look::PAPER),
                rows(first).map(|y| (from, y, align)).collect::<Vec<_>>(),
            )
        };
        if cut || lines.is_empty() {
            sheet.text_at_one_of(label, &places);
            continue;
        }
        for (row, line) in (0..).zip(&lines) {
            let (line, places) = block(row, line);
            sheet.text_at_one_of(line, &places);
        }
    }
}

/// Notes the stretch of a line as to be kept clear of words.
pub(super) fn guard_line(sheet: &mut Sheet, points: &[(f64, f64)], width: f64) {
    for pair in points.windows(2) {
        let &[(ax, ay), (bx, by)] = pair else { continue };
        // A long slope is guarded piece by piece, so that the corners of its box stay free.
        let pieces = (((bx - ax).abs() / 12.0).max((by - ay).abs() / 12.0).ceil()).clamp(1.0, 200.0) as usize;
        let at = |i: usize| {
            let f = i as f64 / pieces as f64;
            (ax + f * (bx - ax), ay + f * (by - ay))
        };
        for i in 0..pieces {
            let ((ax, ay), (bx, by), r) = (at(i), at(i + 1), 0.5 * width + 1.0);
            sheet.keep_clear(Rect::new(ax.min(bx) - r, ay.min(by) - r, ax.max(bx) + r, ay.max(by) + r));
        }
    }
}
