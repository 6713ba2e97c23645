//! Ranked bars: which of many causes matters most, the largest at the top.

use super::axis::{Axis, three_digits};
use super::look::{self, LineLook, MARGIN};
use super::page::Page;
use super::plot::{self, AxisSpec};
use super::sheet::{Align, Rect, Sheet, Text, crisp};

/// One cause.
#[derive(Debug, Clone, PartialEq)]
pub struct Bar {
    /// Its name.
    pub label: String,
    /// Its effect, display units; may be negative.
    pub value: f64,
    /// Lower and upper end of what the effect may be, if known.
    pub range: Option<(f64, f64)>,
}

/// A chart of ranked bars.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct BarsPicture {
    /// Title, conditions, foot.
    pub page: Page,
    /// What the axis shows, with its unit.
    pub x_name: String,
    /// The bars in any order; they are ranked by the size of their values.
    pub bars: Vec<Bar>,
}

/// Most bars shown.
const MOST: usize = 20;
/// Height of a bar with the space to the next, px.
const ROW: f64 = 38.0;

/// Lays the chart out. The twenty largest are shown; the rest is counted in a line below.
pub fn lay_out_bars(picture: &BarsPicture) -> Sheet {
    let mut ranked: Vec<&Bar> = picture.bars.iter().filter(|b| b.value.is_finite()).collect();
    ranked.sort_by(|a, b| b.value.abs().total_cmp(&a.value.abs()));
    let left_out = picture.bars.len() - ranked.len().min(MOST);
    ranked.truncate(MOST);
    let rows = ranked.len().max(1) as f64;
    let mut sheet = Sheet::sized(look::WIDTH, 280.0 + ROW * rows);
    let area = picture.page.draw(&mut sheet);
    let ends =
        ranked.iter().flat_map(|b| [b.value, b.range.map_or(b.value, |r| r.0), b.range.map_or(b.value, |r| r.1)]);
    let spec = AxisSpec::around(&picture.x_name, ends, true);
    let names = ranked.iter().map(|b| look::text_width(&look::clean(&b.label), look::LABEL, false));
    let left = MARGIN + names.fold(90.0, f64::max).min(430.0) + 14.0;
    let numbers = 86.0;
    let low_room = if spec.low < 0.0 { numbers } else { 0.0 };
    let axis = Axis::new(spec.low, spec.high, left + low_room, area.x1 - numbers);
    let (top, bottom) = (area.y0 + 10.0, area.y0 + 10.0 + ROW * rows);
    let ticks = plot::x_ticks(&axis);
    for value in &ticks.values {
        let x = crisp(axis.px(*value));
        sheet.line(&[(x, top), (x, bottom + 6.0)], LineLook::solid(look::GRID, 1.0));
        let label = Text::new(&ticks.label(*value), look::TICK).colour(look::SOFT_INK);
        sheet.try_text(&label, &[(x, bottom + 20.0, Align::Center)]);
    }
    let zero = axis.px(0.0_f64.clamp(axis.low, axis.high));
    for (i, bar) in ranked.iter().enumerate() {
        let middle = top + ROW * (i as f64 + 0.5);
        let label = Text::new(&bar.label, look::LABEL).within(left - MARGIN - 14.0);
        sheet.text(label, left - 14.0, middle, Align::Right);
        let end = axis.px(bar.value);
        let r = Rect::new(zero.min(end), middle - 11.0, zero.max(end), middle + 11.0);
        sheet.fill_rect(r, if bar.value < 0.0 { look::MOVING } else { look::OPEN });
        if bar.value < 0.0 {
            lines(&mut sheet, r);
        }
        sheet.frame(r, LineLook::solid(look::INK, 1.2));
        let (mut low, mut high) = (r.x0, r.x1);
        if let Some((from, to)) = bar.range {
            let (a, b) = (axis.px(from), axis.px(to));
            let look = LineLook::solid(look::INK, 2.0);
            sheet.line(&[(a, middle), (b, middle)], look);
            sheet.line(&[(a, middle - 7.0), (a, middle + 7.0)], look);
            sheet.line(&[(b, middle - 7.0), (b, middle + 7.0)], look);
            (low, high) = (low.min(a.min(b)), high.max(a.max(b)));
        }
        let sign = if bar.value < 0.0 { "−" } else { "" };
        let number = Text::new(&format!("{sign}{}", three_digits(bar.value.abs())), look::TICK).bold();
        let place = if bar.value < 0.0 { (low - 8.0, Align::Right) } else { (high + 8.0, Align::Left) };
        sheet.text(number, place.0, middle, place.1);
    }
    sheet.line(&[(crisp(zero), top), (crisp(zero), bottom)], LineLook::solid(look::FRAME, 1.6));
    let name = Text::new(&picture.x_name, look::TICK).bold().within(area.width());
    sheet.text(name, 0.5 * (axis.from + axis.to), bottom + 44.0, Align::Center);
    if left_out > 0 {
        let words = format!("Not shown: {left_out} smaller ones or ones without a number");
        sheet.text(Text::new(&words, look::TICK), MARGIN, bottom + 68.0, Align::Left);
    }
    sheet
}

/// Upright lines in a bar that points the other way.
fn lines(sheet: &mut Sheet, r: Rect) {
    let mut x = r.x0 + 5.0;
    let mut most = 300;
    while x < r.x1 - 2.0 && most > 0 {
        sheet.line(&[(x, r.y0 + 2.0), (x, r.y1 - 2.0)], LineLook::solid(look::HATCH, 1.4));
        x += 8.0;
        most -= 1;
    }
}
