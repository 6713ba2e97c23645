//! Curves against any quantity: load against travel, loss against flow, capacities. One to four panels.

use super::axis::{Panel, TAG_INDENT, Tag};
use super::look::{self, LineLook, WIDTH};
use super::page::Page;
use super::plot::{self, AxisSpec};
use super::sheet::{Align, Rect, Sheet, Text};

/// One curve.
#[derive(Debug, Clone, PartialEq)]
pub struct Series {
    /// Its name; written beside its end.
    pub label: String,
    /// Its points in display units; one that is not finite breaks the line.
    pub points: Vec<(f64, f64)>,
}

/// A point to be marked and named.
#[derive(Debug, Clone, PartialEq)]
pub struct PointMark {
    /// Where, display units.
    pub at: (f64, f64),
    /// What it is.
    pub text: String,
}

/// One panel of curves.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CurvePanel {
    /// What the vertical axis shows, with its unit.
    pub y_name: String,
    /// What the horizontal axis shows, with its unit.
    pub x_name: String,
    /// The curves, at most six apart by colour and stroke.
    pub series: Vec<Series>,
    /// Named points.
    pub points: Vec<PointMark>,
    /// Named values of the horizontal axis ("sealed", "stop").
    pub verticals: Vec<(f64, String)>,
    /// Named values of the vertical axis.
    pub horizontals: Vec<(f64, String)>,
    /// Where the curves show words and no numbers: what stands at 1, 2, 3 and so on.
    pub words: Vec<String>,
    /// Whether equal distances of the horizontal axis are equal ratios.
    pub x_log: bool,
    /// Whether each point is marked: between them nothing is known.
    pub dots: bool,
    /// Whether the horizontal axis counts things (nights).
    pub counted: bool,
}

/// The chart of `curves`.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CurvesPicture {
    /// Title, conditions, foot.
    pub page: Page,
    /// One to four panels are shown; more are noted as dropped.
    pub panels: Vec<CurvePanel>,
}

/// Lays the chart out: one panel takes the page, two stand one above the other, three or four in two columns.
pub fn lay_out_curves(picture: &CurvesPicture) -> Sheet {
    let mut sheet = Sheet::new();
    let area = picture.page.draw(&mut sheet);
    let number = picture.panels.len().min(4);
    let columns = if number > 2 { 2 } else { 1 };
    let rows = number.div_ceil(columns).max(1);
    for (i, panel) in picture.panels.iter().enumerate() {
        if i >= 4 {
            sheet.note_dropped(&panel.y_name);
            continue;
        }
        // A third panel without a neighbour takes the whole row.
        let alone = columns == 2 && i + 1 == number && i % 2 == 0;
        let (column, row) = (i % columns, i / columns);
        let width = (area.width() - 24.0 * (columns as f64 - 1.0)) / columns as f64;
        let height = area.height() / rows as f64;
        let x0 = area.x0 + column as f64 * (width + 24.0);
        let y0 = area.y0 + row as f64 * height;
        let x1 = if alone { area.x1 } else { x0 + width };
        draw(&mut sheet, panel, Rect::new(x0, y0, x1, y0 + height - 6.0));
    }
    sheet
}

fn draw(sheet: &mut Sheet, content: &CurvePanel, outer: Rect) {
    let xs =
        content.series.iter().flat_map(|s| s.points.iter().map(|p| p.0)).chain(content.verticals.iter().map(|v| v.0));
    let ys =
        content.series.iter().flat_map(|s| s.points.iter().map(|p| p.1)).chain(content.horizontals.iter().map(|v| v.0));
    let xs = xs.chain(content.points.iter().map(|p| p.at.0));
    let x = match (content.counted, content.x_log) {
        (true, _) => AxisSpec::counted(&content.x_name, xs),
        (_, true) => AxisSpec::by_ratio(&content.x_name, xs),
        _ => AxisSpec::around(&content.x_name, xs, false),
    };
    let y = match content.words.is_empty() {
        true => AxisSpec::around(&content.y_name, ys.chain(content.points.iter().map(|p| p.at.1)), false),
        false => AxisSpec::of_words(&content.y_name, &content.words),
    };
    let names = content.series.iter().map(|s| look::text_width(&look::clean(&s.label), look::LABEL, false));
    let tags = match content.series.len() {
        0 | 1 => 12.0,
        _ => (names.fold(0.0, f64::max) + TAG_INDENT + 6.0).min(0.42 * outer.width()),
    };
    let panel = plot::plot(sheet, outer, &content.y_name, &x, &y, tags);
    let verticals: Vec<_> = content.verticals.iter().map(|v| (v.0, v.1.as_str())).collect();
    plot::limit_lines(sheet, &panel, &verticals);
    let tags: Vec<Tag> = content
        .series
        .iter()
        .enumerate()
        .map(|(i, s)| Tag {
            text: s.label.clone(),
            look: LineLook::of(i),
            y: draw_series(sheet, &panel, s, LineLook::of(i)),
        })
        .collect();
    if content.dots {
        dots(sheet, &panel, &content.series);
    }
    for (i, (value, text)) in content.horizontals.iter().enumerate() {
        level(sheet, &panel, *value, text, i);
    }
    for mark in &content.points {
        point(sheet, &panel, mark);
    }
    // A curve that stands alone is named on the spot: the panel keeps its width.
    if let [only] = &content.series[..] {
        name(sheet, &panel, only);
        return;
    }
    panel.draw_tags_within(sheet, tags, outer.x1.min(WIDTH - look::MARGIN) + 2.0);
}

/// Draws one series; returns the height of its rightmost point, px.
pub(super) fn draw_series(sheet: &mut Sheet, panel: &Panel, series: &Series, look: LineLook) -> f64 {
    let pixels: Vec<(f64, f64)> = series.points.iter().map(|p| (panel.x.px(p.0), panel.y.px(p.1))).collect();
    for run in pixels.split(|p| !(p.0.is_finite() && p.1.is_finite())) {
        plot::guard_line(sheet, run, look.width);
        sheet.line(run, look);
    }
    let end = pixels.iter().filter(|p| p.0.is_finite() && p.1.is_finite()).max_by(|a, b| a.0.total_cmp(&b.0));
    end.map_or(f64::NAN, |p| p.1)
}

/// Marks every point of the series.
fn dots(sheet: &mut Sheet, panel: &Panel, all: &[Series]) {
    for (i, series) in all.iter().enumerate() {
        let at = series.points.iter().map(|p| (panel.x.px(p.0), panel.y.px(p.1)));
        for at in at.filter(|at| at.0.is_finite() && at.1.is_finite()) {
            sheet.disc(at, 6.0, look::PAPER);
            sheet.disc(at, 4.5, LineLook::of(i).colour);
        }
    }
}

/// Names a curve beside one of its points.
fn name(sheet: &mut Sheet, panel: &Panel, series: &Series) {
    let label = Text::new(&series.label, look::LABEL).on(look::PAPER).within(0.8 * panel.area.width());
    let shown: Vec<_> = series.points.iter().filter(|p| panel.x.shows(p.0) && panel.y.shows(p.1)).collect();
    let mut places = Vec::new();
    for f in [0.7, 0.5, 0.85, 0.3, 0.95, 0.1] {
        if let Some(p) = shown.get((f * shown.len() as f64) as usize) {
            places.extend(beside(panel, (panel.x.px(p.0), panel.y.px(p.1)), label.width()));
        }
    }
    if sheet.clear_text(&label, &places).is_none() {
        sheet.text_at_one_of(label, &places);
    }
}

/// Places for a text of a width beside a point, inside the panel.
fn beside(panel: &Panel, (x, y): (f64, f64), width: f64) -> Vec<(f64, f64, Align)> {
    let a = panel.area;
    let mut places = Vec::new();
    // Further off only where lines stand close.
    for dy in [0.0, -16.0, 16.0, -30.0, 30.0, -46.0, 46.0, -90.0, 90.0, -150.0, 150.0, -200.0, 200.0, -250.0, 250.0] {
        let dx = match dy {
            0.0 => 12.0,
            near if f64::abs(near) < 50.0 => 8.0,
            _ => 80.0,
        };
        places.extend([(x + dx, y + dy, Align::Left), (x - dx, y + dy, Align::Right), (x, y + dy, Align::Center)]);
    }
    places.retain(|p| {
        let left = match p.2 {
            Align::Left => p.0,
            Align::Center => p.0 - 0.5 * width,
            Align::Right => p.0 - width,
        };
        let covers = p.1 == y && p.2 == Align::Center;
        !covers && left > a.x0 + 3.0 && left + width < a.x1 - 2.0 && p.1 > a.y0 + 8.0 && p.1 < a.y1 - 8.0
    });
    places
}

/// A horizontal line at a value, named at its left or right end.
fn level(sheet: &mut Sheet, panel: &Panel, value: f64, text: &str, index: usize) {
    if !panel.y.shows(value) {
        return;
    }
    let (a, y) = (panel.area, panel.y.px(value).round() + 0.5);
    sheet.line(&[(a.x0, y), (a.x1, y)], LineLook { colour: look::INK, width: 2.0, ..LineLook::of(1 + index) });
    let label = Text::new(text, look::TICK).bold().on(look::PAPER).within(a.width() - 10.0);
    let mut places = Vec::new();
    for f in [0.02, 0.3, 0.6] {
        let x = a.x0 + f * a.width() + 4.0;
        places.extend([(x, y - 12.0, Align::Left), (x, y + 13.0, Align::Left)]);
    }
    // Where another line runs close beside it.
    places.extend([-30.0, -48.0, 30.0, 48.0].map(|dy| (a.x0 + 0.02 * a.width() + 4.0, y + dy, Align::Left)));
    places.retain(|p| p.1 > a.y0 + 6.0 && p.1 < a.y1 - 6.0 && p.0 + label.width() < a.x1);
    sheet.text_at_one_of(label, &places);
}

/// A dot with its name beside it.
pub(super) fn point(sheet: &mut Sheet, panel: &Panel, mark: &PointMark) {
    let (x, y) = (panel.x.px(mark.at.0), panel.y.px(mark.at.1));
    if !(x.is_finite() && y.is_finite() && panel.x.shows(mark.at.0) && panel.y.shows(mark.at.1)) {
        return;
    }
    sheet.disc((x, y), 6.5, look::PAPER);
    sheet.disc((x, y), 5.0, look::INK);
    let label = Text::new(&mark.text, look::TICK).on(look::PAPER).within(0.7 * panel.area.width());
    let places = beside(panel, (x, y), label.width());
    sheet.text_at_one_of(label, &places);
}
