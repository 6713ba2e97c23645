//! What every chart has around it: a title that says the finding, the conditions below it, and a foot that says
//! assembly, file and version.

use super::look::{self, LineLook, MARGIN};
use super::sheet::{Align, Rect, Sheet, Text, crisp};

/// Most lines of a foot.
const FOOT_LINES: usize = 6;

/// The words around a chart.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Page {
    /// The finding, as a sentence.
    pub title: String,
    /// The conditions.
    pub subtitle: String,
    /// Assembly, file, version, caution: one entry per line.
    pub foot: Vec<String>,
}

impl Page {
    /// Draws title, subtitle and foot; returns the area between them for the chart itself.
    pub(super) fn draw(&self, sheet: &mut Sheet) -> Rect {
        let top = head(sheet, &self.title, &self.subtitle);
        let bottom = foot(sheet, &self.foot);
        Rect::new(MARGIN, top, sheet.width() - MARGIN, bottom.max(top + 40.0))
    }
}

/// Title and subtitle; returns where the chart may start.
pub(super) fn head(sheet: &mut Sheet, title: &str, subtitle: &str) -> f64 {
    let fit = sheet.width() - 2.0 * MARGIN - 4.0;
    let mut y = 8.0;
    for (text, size, bold, most) in [(title, look::TITLE, true, 3), (subtitle, look::SUBTITLE, false, 2)] {
        let text = look::clean(text);
        let (lines, cut) = look::wrapped(&text, size, bold, fit, most);
        if cut {
            sheet.note_dropped(&text);
        }
        for line in lines {
            y += 1.26 * size;
            let text = Text::new(&line, size);
            sheet.text(if bold { text.bold() } else { text }, MARGIN, y - 0.55 * size, Align::Left);
        }
        y += 3.0;
    }
    y + 4.0
}

/// Foot; returns where it starts.
pub(super) fn foot(sheet: &mut Sheet, foot: &[String]) -> f64 {
    let fit = sheet.width() - 2.0 * MARGIN - 4.0;
    let mut lines = Vec::new();
    for entry in foot {
        let text = look::clean(entry);
        let (wrapped, cut) = look::wrapped(&text, look::FOOT, false, fit, 2);
        if cut || lines.len() + wrapped.len() > FOOT_LINES {
            sheet.note_dropped(&text);
        }
        lines.extend(wrapped);
    }
    lines.truncate(FOOT_LINES);
    let step = 1.3 * look::FOOT;
    let top = sheet.height() - 10.0 - step * lines.len() as f64;
    for (i, line) in lines.iter().enumerate() {
        let text = Text::new(line, look::FOOT).colour(look::SOFT_INK);
        sheet.text(text, MARGIN, top + step * (i as f64 + 0.5), Align::Left);
    }
    if !lines.is_empty() {
        let ends = [(MARGIN, crisp(top - 5.0)), (sheet.width() - MARGIN, crisp(top - 5.0))];
        sheet.line(&ends, LineLook::solid(look::GRID, 1.0));
    }
    top - 8.0
}
