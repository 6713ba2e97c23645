//! Windows: for each requirement the range of one quantity that meets it, and the range that meets all.

use super::axis::{Axis, Panel, three_digits};
use super::look::{self, LineLook, MARGIN};
use super::page::Page;
use super::plot::{self, AxisSpec};
use super::sheet::{Align, Rect, Sheet, Text, crisp};

/// One requirement.
#[derive(Debug, Clone, PartialEq)]
pub struct Band {
    /// What is asked.
    pub label: String,
    /// Lowest value that meets it; minus infinity: no lower bound.
    pub low: f64,
    /// Highest value that meets it; infinity: no upper bound.
    pub high: f64,
    /// A few words on the bar, for example the reason of the bound.
    pub note: String,
}

/// A chart of windows, in display units.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct BandsPicture {
    /// Title, conditions, foot.
    pub page: Page,
    /// What the axis shows, with its unit.
    pub x_name: String,
    /// The requirements, from top to bottom.
    pub bands: Vec<Band>,
    /// The range that meets all, if there is one.
    pub window: Option<(f64, f64)>,
    /// The value recommended, if any.
    pub recommended: Option<f64>,
    /// Named values of the axis.
    pub limits: Vec<(f64, String)>,
}

/// Height of the row of a limit's name, px.
const LIMIT_ROW: f64 = 21.0;

/// The range that meets all bands, `None` if there is none.
pub fn common_window(bands: &[Band]) -> Option<(f64, f64)> {
    let low = bands.iter().map(|b| b.low).fold(f64::NEG_INFINITY, f64::max);
    let high = bands.iter().map(|b| b.high).fold(f64::INFINITY, f64::min);
    (low < high && bands.iter().all(|b| b.low < b.high)).then_some((low, high))
}

/// Lays the chart out. At most 14 requirements are shown; more are noted as dropped.
pub fn lay_out_bands(picture: &BandsPicture) -> Sheet {
    const MOST: usize = 14;
    let shown = picture.bands.len().min(MOST);
    let rows = shown.max(1) as f64;
    let mut sheet = Sheet::sized(look::WIDTH, (300.0 + 74.0 * rows).clamp(420.0, look::HEIGHT + 360.0));
    let area = picture.page.draw(&mut sheet);
    let values = picture.bands.iter().flat_map(|b| [b.low, b.high]).chain(picture.limits.iter().map(|l| l.0));
    let x = AxisSpec::around(&picture.x_name, values.chain(picture.recommended), true);
    let y = AxisSpec::new("", 0.0, rows);
    let widest = picture.bands.iter().map(|b| look::text_width(&look::clean(&b.label), look::LABEL, true));
    let left = MARGIN + widest.fold(90.0, f64::max).min(380.0) + 14.0;
    let top = area.y0 + 26.0 + LIMIT_ROW * picture.limits.len().saturating_sub(1) as f64;
    let plot_area = Rect::new(left.round(), top.round(), area.x1 - 14.0, (area.y1 - plot::BELOW - 30.0).round());
    let panel = Panel {
        area: plot_area,
        x: Axis::new(x.low, x.high, plot_area.x0, plot_area.x1),
        y: Axis::new(y.low, y.high, plot_area.y0, plot_area.y1),
    };
    let a = panel.area;
    if let Some((low, high)) = picture.window {
        let r = Rect::new(panel.x.px(low.max(x.low)), a.y0 - 4.0, panel.x.px(high.min(x.high)), a.y1 + 4.0);
        sheet.fill_rect(r, look::WASH);
        for edge in [r.x0, r.x1] {
            sheet.line(&[(crisp(edge), r.y0), (crisp(edge), a.y1)], LineLook::solid(look::COLOURS[0], 2.0));
        }
    }
    let ticks = plot::x_ticks(&panel.x);
    for value in &ticks.values {
        let at = crisp(panel.x.px(*value));
        sheet.line(&[(at, a.y0), (at, a.y1 + 6.0)], LineLook::solid(look::GRID, 1.0));
        sheet.try_text(&Text::new(&ticks.label(*value), look::TICK), &[(at, a.y1 + 20.0, Align::Center)]);
    }
    sheet.line(&[(a.x0, crisp(a.y1)), (a.x1, crisp(a.y1))], LineLook::solid(look::FRAME, 1.4));
    sheet.text(Text::new(&picture.x_name, look::TICK).bold(), 0.5 * (a.x0 + a.x1), a.y1 + 44.0, Align::Center);
    // The words for the whole come first: they must find their place.
    whole(&mut sheet, picture, &panel);
    for (i, band) in picture.bands.iter().enumerate() {
        if i >= MOST {
            sheet.note_dropped(&band.label);
            continue;
        }
        let height = a.height() / rows;
        let y0 = a.y0 + height * i as f64;
        bar(&mut sheet, band, &panel, Rect::new(a.x0, y0, a.x1, y0 + height), left);
    }
    limits(&mut sheet, picture, &panel);
    sheet
}

/// Named values of the axis: a row of its own above the bars for each name, the leftmost value's at the top, so that no
/// line crosses a name.
fn limits(sheet: &mut Sheet, picture: &BandsPicture, panel: &Panel) {
    let a = panel.area;
    let mut shown: Vec<_> = picture.limits.iter().filter(|l| panel.x.shows(l.0)).collect();
    shown.sort_by(|a, b| b.0.total_cmp(&a.0));
    for (i, (value, text)) in shown.into_iter().enumerate() {
        let at = crisp(panel.x.px(*value));
        let y = a.y0 - 16.0 - LIMIT_ROW * i as f64;
        let look = LineLook { colour: look::INK, width: 2.2, ..LineLook::of(1 + i) };
        sheet.line(&[(at, y + 10.0), (at, a.y1)], look);
        let label = Text::new(text, look::TICK).bold().on(look::PAPER).within(400.0);
        sheet.text_at_one_of(label, &[(at + 5.0, y, Align::Left), (at - 5.0, y, Align::Right)]);
    }
}

/// What meets all, below the axis, and the recommended value.
fn whole(sheet: &mut Sheet, picture: &BandsPicture, panel: &Panel) {
    let a = panel.area;
    let words = match picture.window {
        Some((low, high)) if low.is_finite() && high.is_finite() => {
            format!("All are met from {} to {}", three_digits(low), three_digits(high))
        }
        Some((low, _)) if low.is_finite() => format!("All are met from {} up", three_digits(low)),
        Some((_, high)) => format!("All are met up to {}", three_digits(high)),
        None => "No value meets all of them".to_owned(),
    };
    let words = match picture.recommended {
        Some(value) => format!("{words}; recommended: {}", three_digits(value)),
        None => words,
    };
    sheet.text(Text::new(&words, look::HEADING).bold(), MARGIN, a.y1 + 70.0, Align::Left);
    if let Some(value) = picture.recommended.filter(|v| panel.x.shows(*v)) {
        let at = panel.x.px(value);
        sheet.line(&[(at, a.y0), (at, a.y1)], LineLook::dashed(look::INK, 2.6, &[9.0, 7.0]));
        sheet.fill(vec![(at - 9.0, a.y1 + 1.0), (at + 9.0, a.y1 + 1.0), (at, a.y1 - 15.0)], look::INK);
    }
}

fn bar(sheet: &mut Sheet, band: &Band, panel: &Panel, row: Rect, left: f64) {
    let middle = 0.5 * (row.y0 + row.y1) - 8.0;
    let (x, a) = (&panel.x, panel.area);
    let label = Text::new(&band.label, look::LABEL).bold().within(left - MARGIN - 14.0);
    sheet.text(label, left - 14.0, middle, Align::Right);
    if !(band.low < band.high) {
        sheet.text(Text::new(&format!("no value: {}", band.note), look::TICK), a.x0 + 8.0, middle, Align::Left);
        return;
    }
    let end = |v: f64| {
        if v.is_finite() {
            x.px(v).clamp(a.x0, a.x1)
        } else if v > 0.0 {
            a.x1
        } else {
            a.x0
        }
    };
    let (x0, x1) = (end(band.low), end(band.high));
    let r = Rect::new(x0, middle - 11.0, x1, middle + 11.0);
    sheet.fill_rect(r, look::OPEN);
    sheet.frame(r, LineLook::solid(look::INK, 1.2));
    // An end without a bound is an arrow.
    for (unbounded, tip, way) in [(band.low == f64::NEG_INFINITY, x0, -1.0), (band.high == f64::INFINITY, x1, 1.0)] {
        if unbounded {
            let back = tip - way * 14.0;
            sheet.fill(vec![(tip, middle), (back, middle - 11.0), (back, middle + 11.0)], look::INK);
        }
    }
    sheet.keep_clear(r);
    for (value, at, align) in [(band.low, x0, Align::Left), (band.high, x1, Align::Right)] {
        let inside = if align == Align::Left { at + 7.0 } else { at - 7.0 };
        let outside = if align == Align::Left { (at - 7.0, Align::Right) } else { (at + 7.0, Align::Left) };
        if value.is_finite() {
            let text = Text::new(&three_digits(value), look::TICK).bold();
            let fits = x1 - x0 > 2.0 * text.width() + 30.0;
            let place = if fits { (inside, middle, align) } else { (outside.0, middle, outside.1) };
            sheet.text_at_one_of(text, &[place]);
        }
    }
    let note = Text::new(&band.note, look::TICK).on(look::PAPER).within(a.width() - 10.0);
    let start = x0.min(a.x1 - note.width() - 4.0).max(a.x0);
    sheet.text_at_one_of(note, &[(start, middle + 24.0, Align::Left)]);
}
