//! Small multiples: the same panel many times on the same axes, so that shapes can be compared at a glance.

use super::curves::{Series, draw_series};
use super::look::{self, LineLook};
use super::page::Page;
use super::plot::{self, AxisSpec};
use super::sheet::{Align, Rect, Sheet, Text};

/// One panel.
#[derive(Debug, Clone, PartialEq)]
pub struct Multiple {
    /// What it shows.
    pub title: String,
    /// Its curves; the n-th of every panel has the same look.
    pub series: Vec<Series>,
    /// A few words inside, for example the finding.
    pub note: String,
}

/// A chart of small multiples, in display units.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MultiplesPicture {
    /// Title, conditions, foot.
    pub page: Page,
    /// What all horizontal axes show, with the unit.
    pub x_name: String,
    /// What all vertical axes show, with the unit.
    pub y_name: String,
    /// The panels, row by row; at most 20 are shown, more are noted as dropped.
    pub panels: Vec<Multiple>,
    /// Values that all panels hold beside those of their curves, such as the corners of what was looked at.
    pub holds: Vec<(f64, f64)>,
    /// Whether equal distances of the horizontal and the vertical axes are equal ratios.
    pub log: [bool; 2],
}

/// Lays the chart out: two to four panels in a row.
pub fn lay_out_multiples(picture: &MultiplesPicture) -> Sheet {
    const MOST: usize = 20;
    let number = picture.panels.len().clamp(1, MOST);
    let columns = match number {
        1 => 1,
        2 | 4 => 2,
        3 | 5 | 6 | 9 => 3,
        _ => 4,
    };
    let rows = number.div_ceil(columns);
    let mut sheet = Sheet::sized(look::WIDTH, 220.0 + 270.0 * rows as f64);
    for panel in picture.panels.iter().skip(MOST) {
        sheet.note_dropped(&panel.title);
    }
    let area = picture.page.draw(&mut sheet);
    let all = || picture.panels.iter().flat_map(|p| &p.series).flat_map(|s| &s.points).chain(&picture.holds);
    let spec = |name: &str, values: &mut dyn Iterator<Item = f64>, log: bool| match log {
        true => AxisSpec::by_ratio(name, values),
        false => AxisSpec::around(name, values, false),
    };
    let x = spec(&picture.x_name, &mut all().map(|p| p.0), picture.log[0]);
    let y = spec("", &mut all().map(|p| p.1), picture.log[1]);
    let key = key(&mut sheet, picture, Rect::new(area.x0, area.y0, area.x1, area.y0 + 30.0));
    let top = area.y0 + key;
    let (width, height) = (area.width() / columns as f64, (area.y1 - top) / rows as f64);
    for (i, content) in picture.panels.iter().take(MOST).enumerate() {
        let (x0, y0) = (area.x0 + width * (i % columns) as f64, top + height * (i / columns) as f64);
        let outer = Rect::new(x0, y0, x0 + width - 22.0, y0 + height - 8.0);
        let panel = plot::plot(&mut sheet, outer, &content.title, &x, &y, 4.0);
        for (j, series) in content.series.iter().enumerate() {
            draw_series(&mut sheet, &panel, series, LineLook::of(j));
        }
        let a = panel.area;
        let note = Text::new(&content.note, look::TICK).on(look::PAPER).within(a.width() - 12.0);
        let mut places = Vec::new();
        for y in [a.y0 + 13.0, a.y1 - 14.0, a.y0 + 36.0, 0.5 * (a.y0 + a.y1)] {
            places.extend([(a.x1 - 5.0, y, Align::Right), (a.x0 + 7.0, y, Align::Left)]);
        }
        sheet.text_at_one_of(note, &places);
    }
    sheet
}

/// Name of the vertical axis and, if the panels hold several curves, what each look means; returns its height, px.
fn key(sheet: &mut Sheet, picture: &MultiplesPicture, row: Rect) -> f64 {
    let y = row.y0 + 14.0;
    let name = Text::new(&format!("Up: {}", picture.y_name), look::TICK).bold().within(0.5 * row.width());
    let mut x = sheet.text(name, row.x0, y, Align::Left).map_or(row.x0, |r| r.x1) + 34.0;
    let Some(longest) = picture.panels.iter().map(|p| &p.series).max_by_key(|s| s.len()) else { return 34.0 };
    for (i, series) in longest.iter().enumerate().filter(|(_, s)| !s.label.is_empty()) {
        let text = Text::new(&series.label, look::TICK).within(row.x1 - x - 60.0);
        let (from, width) = (x, text.width());
        if sheet.text(text, from + 52.0, y, Align::Left).is_some() {
            sheet.line(&[(from, y), (from + 44.0, y)], LineLook::of(i));
        }
        x += 52.0 + width + 30.0;
    }
    34.0
}
