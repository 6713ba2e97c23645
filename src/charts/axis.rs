//! Axes, panels, and labels at the end of curves.

use super::look::{self, LineLook};
use super::sheet::{Align, Rect, Sheet, Text, crisp};
use super::thinned::decimated;

/// Largest value an axis shows; larger ones are drawn there, so that no sum on the way to a pixel overflows.
const HUGE: f64 = 1e30;

/// Room from the right end of a panel to the text of a [`Tag`], px: a leader and a sample of the line.
pub(super) const TAG_INDENT: f64 = 64.0;

/// An axis: values `low..high` on pixels `from..to` (which may run upwards).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Axis {
    /// Value at `from`.
    pub low: f64,
    /// Value at `to`.
    pub high: f64,
    /// Pixel of `low`.
    pub from: f64,
    /// Pixel of `high`.
    pub to: f64,
    /// Whether equal distances are equal ratios, not differences.
    pub log: bool,
}

impl Axis {
    /// An axis; a range that is not finite or is empty becomes one of width 1.
    pub fn new(low: f64, high: f64, from: f64, to: f64) -> Self {
        let low = if low.is_finite() { low.clamp(-HUGE, HUGE) } else { 0.0 };
        let high = if high.is_finite() { high.clamp(-HUGE, HUGE) } else { low };
        // Below one part in 1e12 the pixels of the axis are no longer different numbers.
        let enough = high - low > 1e-12 * low.abs().max(high.abs()).max(1e-30);
        let high = if enough { high } else { low + low.abs().max(1.0) };
        Self { low, high, from, to, log: false }
    }

    /// The same with equal distances for equal ratios, if `log` and if all of it is above zero.
    #[must_use]
    pub fn by_ratio(self, log: bool) -> Self {
        Self { log: log && self.low > 0.0, ..self }
    }

    /// Pixel of a value; NaN and infinities stay NaN, so that lines break there.
    pub fn px(&self, value: f64) -> f64 {
        if !value.is_finite() || (self.log && value <= 0.0) {
            return f64::NAN;
        }
        let place = |v: f64| if self.log { v.ln() } else { v };
        let (low, high) = (place(self.low), place(self.high));
        self.from + (place(value.clamp(-HUGE, HUGE)) - low) / (high - low) * (self.to - self.from)
    }

    /// Whether a value is on the axis.
    pub fn shows(&self, value: f64) -> bool {
        value >= self.low && value <= self.high
    }

    /// Round values, as many as there are up to `most` (two at least, room or not).
    pub fn ticks(&self, most: usize) -> Ticks {
        if let Some(values) = self.log.then(|| self.ratios(most)).flatten() {
            return Ticks { values, step: f64::NAN };
        }
        let span = self.high - self.low;
        let power = 10f64.powf((span / most.max(2) as f64).log10().floor());
        let steps = [0.5, 1.0, 2.0, 5.0, 10.0, 20.0].map(|m| m * power);
        let first = |step: f64| (self.low / step - 1e-6).ceil();
        let count = |step: f64| (self.high / step + 1e-6).floor() - first(step) + 1.0;
        let step = steps.into_iter().find(|s| count(*s) <= most.max(2) as f64).unwrap_or(span);
        let number = count(step).clamp(0.0, 100.0) as usize;
        let values = (0..number).map(|i| (first(step) + i as f64) * step);
        Ticks { values: values.filter(|v| v.is_finite()).collect(), step }
    }

    /// Round values of a logarithmic axis: the closest series with two to `most` of them.
    fn ratios(&self, most: usize) -> Option<Vec<f64>> {
        let decades = (self.low.log10().floor() as i32)..=(self.high.log10().ceil() as i32);
        let (low, high) = (self.low * (1.0 - 1e-9), self.high * (1.0 + 1e-9));
        let series: [&[f64]; 4] = [&[1.0, 2.0, 3.0, 5.0, 7.0], &[1.0, 2.0, 5.0], &[1.0, 3.0], &[1.0]];
        let values = series.map(|marks| -> Vec<f64> {
            let all = decades.clone().flat_map(|d| marks.iter().map(move |m| m * 10f64.powi(d)));
            all.filter(|v| *v >= low && *v <= high).collect()
        });
        values.into_iter().find(|v| v.len() >= 2 && v.len() <= most.max(2))
    }

    /// Least distance of neighbouring ticks, px.
    pub(super) fn apart(&self, ticks: &Ticks) -> f64 {
        if ticks.step.is_finite() && !self.log {
            return ticks.step / (self.high - self.low) * (self.to - self.from).abs();
        }
        let places: Vec<f64> = ticks.values.iter().map(|v| self.px(*v)).collect();
        places.windows(2).map(|w| w.iter().fold(0.0, |gap, px| px - gap).abs()).fold(f64::INFINITY, f64::min)
    }
}

/// Values to mark on an axis.
#[derive(Debug, Clone, PartialEq)]
pub struct Ticks {
    /// The values, rising.
    pub values: Vec<f64>,
    /// Their distance; NaN where they lie by ratio.
    pub step: f64,
}

impl Ticks {
    /// A tick's label, with as many decimals as the step needs.
    pub fn label(&self, value: f64) -> String {
        if self.step.is_nan() {
            return three_digits(value);
        }
        let value = if value.abs() < 1e-6 * self.step { 0.0 } else { value };
        let decimals = (-self.step.log10() - 1e-9).ceil();
        if value == 0.0 {
            "0".into()
        } else if value.abs() >= 1e6 || decimals > 6.0 {
            format!("{value:.2e}")
        } else {
            format!("{value:.*}", decimals.clamp(0.0, 6.0) as usize).replace('-', "−")
        }
    }
}

/// A plotting area with its two axes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Panel {
    /// The plotting area.
    pub area: Rect,
    /// Horizontal axis.
    pub x: Axis,
    /// Vertical axis.
    pub y: Axis,
}

/// A name at the right end of a curve.
#[derive(Debug, Clone)]
pub struct Tag {
    /// The name.
    pub text: String,
    /// Look of the curve.
    pub look: LineLook,
    /// Height of the end of the curve, px; NaN if it has none.
    pub y: f64,
}

impl Panel {
    /// A panel over `window` whose vertical axis starts at 0 or below and holds all finite values in the window.
    pub fn over<'a>(area: Rect, window: (f64, f64), time: &[f64], curves: impl IntoIterator<Item = &'a [f64]>) -> Self {
        let x = Axis::new(window.0, window.1, area.x0, area.x1);
        let (mut low, mut high) = (0.0f64, 0.0f64);
        for values in curves {
            for (t, v) in time.iter().zip(values) {
                if v.is_finite() && x.shows(*t) {
                    low = low.min(*v);
                    high = high.max(*v);
                }
            }
        }
        let (low, high) = (low.max(-HUGE), high.min(HUGE));
        let room = 0.07 * (high - low);
        let low = if low < 0.0 { low - room } else { 0.0 };
        Self { area, x, y: Axis::new(low, high + room, area.y1, area.y0) }
    }

    /// Heading, grid, tick labels on the left and the lines of the axes.
    pub fn draw_frame(&self, sheet: &mut Sheet, heading: &str) {
        let a = self.area;
        let fit = look::WIDTH - 2.0 * look::MARGIN;
        let heading = Text::new(heading, look::HEADING).bold().within(fit).on(look::PAPER);
        sheet.text(heading, look::MARGIN, a.y0 - 20.0, Align::Left);
        for value in self.x_ticks().values {
            let x = crisp(self.x.px(value));
            sheet.line(&[(x, a.y0), (x, a.y1)], LineLook::solid(look::GRID, 1.0));
        }
        let ticks = self.y.ticks((a.height() / 29.0 + 1.3).max(2.0) as usize);
        for value in &ticks.values {
            let y = crisp(self.y.px(*value));
            sheet.line(&[(a.x0, y), (a.x1, y)], LineLook::solid(look::GRID, 1.0));
            sheet.line(&[(a.x0 - 6.0, y), (a.x0, y)], LineLook::solid(look::FRAME, 1.0));
            let label = Text::new(&ticks.label(*value), look::TICK).colour(look::SOFT_INK);
            sheet.try_text(&label, &[(a.x0 - 11.0, y, Align::Right)]);
        }
        let zero = crisp(self.y.px(0.0).clamp(a.y0, a.y1));
        sheet.line(&[(a.x0, zero), (a.x1, zero)], LineLook::solid(look::FRAME, 1.4));
        sheet.line(&[(crisp(a.x0), a.y0), (crisp(a.x0), a.y1)], LineLook::solid(look::FRAME, 1.4));
    }

    /// As many ticks of the horizontal axis as have room for their labels.
    fn x_ticks(&self) -> Ticks {
        let wide = |ticks: &Ticks| {
            let widest = ticks.values.iter().map(|v| look::text_width(&ticks.label(*v), look::TICK, false));
            widest.fold(0.0, f64::max) + 16.0 > self.x.apart(ticks)
        };
        let choices = (2..=11).rev().map(|most| self.x.ticks(most));
        choices.into_iter().find(|ticks| !wide(ticks)).unwrap_or_else(|| self.x.ticks(2))
    }

    /// Tick labels below the panel and the name of the horizontal axis at its right end.
    pub fn draw_x_labels(&self, sheet: &mut Sheet, name: &str) {
        let (ticks, y) = (self.x_ticks(), self.area.y1 + 22.0);
        sheet.text(Text::new(name, look::HEADING).bold(), self.area.x1 + 26.0, y, Align::Left);
        for value in &ticks.values {
            let x = crisp(self.x.px(*value));
            sheet.line(&[(x, self.area.y1), (x, self.area.y1 + 7.0)], LineLook::solid(look::FRAME, 1.4));
            sheet.try_text(&Text::new(&ticks.label(*value), look::TICK), &[(x, y, Align::Center)]);
        }
    }

    /// Draws a curve, with the area down to zero filled if `wash`; returns the height of its right end, px.
    pub fn draw_curve(&self, sheet: &mut Sheet, time: &[f64], values: &[f64], look: LineLook, wash: bool) -> f64 {
        let mut end = f64::NAN;
        for run in decimated(time, values, &self.x, &self.y) {
            if let (true, Some(first), Some(last)) = (wash, run.first(), run.last()) {
                let zero = self.y.px(0.0);
                let mut points = run.clone();
                points.extend([(last.0, zero), (first.0, zero)]);
                sheet.fill(points, look::WASH);
            }
            end = run.last().map_or(end, |p| p.1);
            sheet.line(&run, look);
            for pair in run.windows(2) {
                let &[(ax, ay), (bx, by)] = pair else { continue };
                let r = 0.5 * look.width + 1.0;
                sheet.keep_clear(Rect::new(ax.min(bx) - r, ay.min(by) - r, ax.max(bx) + r, ay.max(by) + r));
            }
        }
        end
    }

    /// Writes the largest value in view, `text` before it and the unit after it, beside its point if there is room
    /// clear of all curves.
    pub fn draw_peak(&self, sheet: &mut Sheet, time: &[f64], values: &[f64], text: &str, unit: &str) {
        let seen = || time.iter().zip(values).filter(|(t, v)| self.x.shows(**t) && v.is_finite());
        let Some((t, v)) = seen().reduce(|best, p| if p.1 > best.1 { p } else { best }) else { return };
        if v.is_nan() || *v <= 0.0 {
            return;
        }
        let plateau_end = seen().rfind(|p| *p.1 > 0.998 * *v).map_or(*t, |p| *p.0);
        let y = self.y.px(*v);
        let text = Text::new(&format!("{text}{} {unit}", three_digits(*v)), look::LABEL).bold().on(look::PAPER);
        let mut places = Vec::new();
        for dy in [0.0, 7.0, 18.0, -14.0] {
            for (at, side) in [(t, -11.0), (&plateau_end, 11.0), (t, 11.0), (t, -30.0), (&plateau_end, 30.0)] {
                let align = if side > 0.0 { Align::Left } else { Align::Right };
                places.push((self.x.px(*at) + side, y + dy, align));
            }
        }
        let width = text.width();
        let (a, inside) = (self.area, |left: f64| left > self.area.x0 + 4.0 && left + width < self.area.x1);
        places.retain(|p| {
            p.1 > a.y0 - 6.0 && p.1 < a.y1 - 9.0 && inside(if p.2 == Align::Left { p.0 } else { p.0 - width })
        });
        if let Some(placed) = sheet.clear_text(&text, &places) {
            let x = if placed.x0 > self.x.px(plateau_end) { self.x.px(plateau_end) } else { self.x.px(*t) };
            sheet.disc((x, y), 5.5, look::PAPER);
            sheet.disc((x, y), 4.0, look::INK);
        }
    }

    /// Names of the curves at the right of the panel, in the order of their ends, moved apart where they would touch.
    pub fn draw_tags(&self, sheet: &mut Sheet, tags: Vec<Tag>) {
        self.draw_tags_within(sheet, tags, look::WIDTH - look::MARGIN);
    }

    /// As [`Panel::draw_tags`], but the names end at `limit`, px.
    pub fn draw_tags_within(&self, sheet: &mut Sheet, mut tags: Vec<Tag>, limit: f64) {
        let far = limit;
        let a = self.area;
        let step = 1.15 * look::LABEL;
        for tag in &mut tags {
            tag.y = if tag.y.is_finite() { tag.y.clamp(a.y0, a.y1) } else { a.y1 };
        }
        tags.sort_by(|a, b| a.y.total_cmp(&b.y));
        let (top, bottom) = (a.y0 - 2.0, a.y1 + 2.0);
        let mut places: Vec<f64> = Vec::with_capacity(tags.len());
        for tag in &tags {
            let above = places.last().map_or(top, |last| last + step);
            places.push(tag.y.max(above));
        }
        let mut limit = bottom;
        for place in places.iter_mut().rev() {
            *place = place.min(limit);
            limit = *place - step;
        }
        for (tag, y) in tags.iter().zip(places) {
            let x = a.x1;
            let text = Text::new(&tag.text, look::LABEL).within(far - x - TAG_INDENT);
            if y >= top - 0.5 * step && sheet.text(text, x + TAG_INDENT, y, Align::Left).is_some() {
                sheet.line(&[(x + 3.0, tag.y), (x + 16.0, y)], LineLook::solid(look::FRAME, 1.2));
                sheet.line(&[(x + 19.0, y), (x + TAG_INDENT - 7.0, y)], tag.look);
            }
        }
    }
}

/// A value with up to three significant digits.
pub(super) fn three_digits(value: f64) -> String {
    if value == 0.0 {
        return "0".to_owned();
    }
    let decimals = 2.0 - value.abs().log10().floor();
    if !(-4.0..=6.0).contains(&decimals) {
        return format!("{value:.2e}");
    }
    let text = format!("{value:.*}", decimals.max(0.0) as usize);
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_string() } else { text }
}
