//! A table of short texts with marked cells: many cases down, what is seen across.
//!
//! Choices, and why:
//! - A mark is a tint and a hatch or a bold text, so that it reads in greyscale.
//! - Numbers stand in the cells: a reader compares figures, not shades.

use super::look::{self, LineLook, MARGIN};
use super::page::Page;
use super::sheet::{Align, Rect, Sheet, Text, crisp};

/// How a cell is marked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Mark {
    /// As it should be.
    #[default]
    Plain,
    /// Differs from the first row.
    Changed,
    /// Bad.
    Bad,
    /// Looks well and is bad.
    Deceiving,
}

/// One cell.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct MarkedCell {
    /// A few characters.
    pub text: String,
    /// Its mark.
    pub mark: Mark,
}

/// One row.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct MarkedRow {
    /// Its name.
    pub name: String,
    /// One cell a column.
    pub cells: Vec<MarkedCell>,
    /// Whether a line stands above it.
    pub ruled: bool,
}

/// A marked table.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MarkedTablePicture {
    /// Title, conditions, foot.
    pub page: Page,
    /// Names of the columns, two lines at most, and their shares of the width.
    pub columns: Vec<(String, f64)>,
    /// The rows from top to bottom; at most 80, more are noted as dropped.
    pub rows: Vec<MarkedRow>,
    /// What the marks mean, in the order changed, bad, deceiving; an empty text is left out.
    pub key: [String; 3],
}

const MOST: usize = 80;
const ROW: f64 = 24.0;
const HEAD: f64 = 52.0;

/// Lays the table out.
pub fn lay_out_marked_table(picture: &MarkedTablePicture) -> Sheet {
    let shown = picture.rows.len().min(MOST);
    let mut sheet = Sheet::sized(look::WIDTH, 250.0 + HEAD + ROW * shown.max(1) as f64);
    let area = picture.page.draw(&mut sheet);
    for row in picture.rows.iter().skip(MOST) {
        sheet.note_dropped(&row.name);
    }
    let names = picture.rows.iter().map(|r| look::text_width(&look::clean(&r.name), look::TICK, false));
    let left = MARGIN + names.fold(80.0, f64::max).min(330.0) + 14.0;
    let whole: f64 = picture.columns.iter().map(|c| c.1).sum();
    let mut edges = vec![left];
    for (_, share) in &picture.columns {
        let last = edges.last().copied().unwrap_or(left);
        edges.push(last + (area.x1 - left) * share / if whole > 0.0 { whole } else { 1.0 });
    }
    let y0 = key(&mut sheet, &picture.key, area.x0, area.y0 + 12.0);
    for ((name, _), edge) in picture.columns.iter().zip(edges.windows(2)) {
        let fit = edge[1] - edge[0] - 8.0;
        let (lines, cut) = look::wrapped(name, look::TICK, true, fit, 2);
        if cut {
            sheet.note_dropped(name);
        }
        for (k, line) in lines.iter().enumerate() {
            sheet.text(Text::new(line, look::TICK).bold(), edge[0] + 4.0, y0 + 14.0 + 19.0 * k as f64, Align::Left);
        }
    }
    let top = y0 + HEAD;
    for (i, row) in picture.rows.iter().take(MOST).enumerate() {
        let (a, b) = (top + ROW * i as f64, top + ROW * (i + 1) as f64);
        if row.ruled || i == 0 {
            let rule = LineLook::solid(look::FRAME, 1.2);
            sheet.line(&[(MARGIN, crisp(a)), (area.x1, crisp(a))], rule);
        } else {
            sheet.line(&[(MARGIN, crisp(a)), (area.x1, crisp(a))], LineLook::solid(look::GRID, 1.0));
        }
        let name = Text::new(&row.name, look::TICK).within(left - MARGIN - 8.0);
        sheet.text(name, MARGIN, 0.5 * (a + b), Align::Left);
        for (cell, edge) in row.cells.iter().zip(edges.windows(2)) {
            let r = Rect::new(edge[0] + 1.0, a + 1.5, edge[1] - 1.0, b - 0.5);
            tint(&mut sheet, r, cell.mark);
            let text = Text::new(&cell.text, look::TICK);
            let text = if cell.mark == Mark::Plain { text.colour(look::SOFT_INK) } else { text };
            let text = if matches!(cell.mark, Mark::Bad | Mark::Deceiving) { text.bold() } else { text };
            // Measured as it will be drawn.
            let text = text.within(r.width() - 8.0);
            sheet.text(text, r.x0 + 4.0, 0.5 * (a + b), Align::Left);
        }
    }
    sheet
}

fn tint(sheet: &mut Sheet, r: Rect, mark: Mark) {
    match mark {
        Mark::Plain => {}
        Mark::Changed => sheet.fill_rect(r, look::INSET),
        Mark::Bad => sheet.fill_rect(r, look::MOVING),
        Mark::Deceiving => {
            sheet.fill_rect(r, look::WASH);
            sheet.frame(r, LineLook::solid(look::INK, 1.6));
        }
    }
    // A bar at the left edge of what is bad: seen without colour.
    if matches!(mark, Mark::Bad | Mark::Deceiving) {
        sheet.fill_rect(Rect::new(r.x0 - 1.0, r.y0, r.x0 + 2.0, r.y1), look::INK);
    }
}

/// What the marks mean; returns where the table may start.
fn key(sheet: &mut Sheet, words: &[String; 3], x0: f64, y: f64) -> f64 {
    let mut x = x0;
    for (text, mark) in words.iter().zip([Mark::Changed, Mark::Bad, Mark::Deceiving]) {
        if text.is_empty() {
            continue;
        }
        let r = Rect::new(x + 2.0, y - 9.0, x + 32.0, y + 9.0);
        tint(sheet, r, mark);
        sheet.frame(r, LineLook::solid(look::FRAME, 0.8));
        let label = Text::new(text, look::TICK).within(sheet.width() - MARGIN - x - 40.0);
        let width = label.width();
        sheet.text(label, x + 40.0, y, Align::Left);
        x += 40.0 + width + 26.0;
    }
    y + 16.0
}
