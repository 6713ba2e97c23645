//! The chart of `field-test`: the needle against time with every act marked, the true pressures behind it, and below it
//! how far the parts are open.
//!
//! Choices, and why:
//! - The needle is the thick line in front; what it should show runs behind it, so that lag and bias are seen as gaps.
//! - The vertical axis holds what is read and asked for; a pressure beyond it runs along the upper edge.
//! - Acts come in bursts, so they are numbered on the time axis and named in a list below, those at one place together.

use super::axis::{Axis, Panel, Tag};
use super::look::{self, LineLook, MARGIN, WIDTH};
use super::page::Page;
use super::sequence::Trace;
use super::sheet::{Align, Rect, Sheet, Text, crisp};

/// An act with its time.
#[derive(Debug, Clone, PartialEq)]
pub struct ActLabel {
    /// When it begins, s.
    pub time: f64,
    /// A few words.
    pub text: String,
}

/// A reading: where it was taken, and what it is.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadPoint {
    /// When, s.
    pub time: f64,
    /// What was shown, display units.
    pub value: f64,
    /// A few words.
    pub text: String,
}

/// What the chart shows; values in display units, times in s.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct NeedlePicture {
    /// Title, conditions, foot.
    pub page: Page,
    /// Times of the samples, rising.
    pub time: Vec<f64>,
    /// The needle first, then the pressures behind it.
    pub pressures: Vec<Trace>,
    /// Unit of the pressures.
    pub unit: String,
    /// End of the scale.
    pub scale: f64,
    /// The value that is asked for, drawn as a line with its name.
    pub limit: Option<(f64, String)>,
    /// Travels, % of lift.
    pub travels: Vec<Trace>,
    /// Acts in order of time.
    pub acts: Vec<ActLabel>,
    /// Readings.
    pub readings: Vec<ReadPoint>,
}

/// Height of the row of numbers above the panel, px.
const NUMBERS: f64 = 30.0;
/// Acts closer than this share one number, px.
const NEAR: f64 = 26.0;
/// Height of a line of the list of acts, px.
const LINE: f64 = 21.0;

/// Acts at one place of the time axis.
struct Group {
    x: f64,
    number: usize,
    text: String,
}

/// Lays the chart out.
pub fn lay_out_needle(picture: &NeedlePicture) -> Sheet {
    let mut sheet = Sheet::new();
    let area = picture.page.draw(&mut sheet);
    let names = picture.pressures.iter().chain(&picture.travels);
    let widest = names.map(|t| look::text_width(&look::clean(&t.label), look::LABEL, false)).fold(60.0, f64::max);
    let right = (WIDTH - MARGIN - super::axis::TAG_INDENT - widest.min(230.0)).round();
    let left = MARGIN + 58.0;
    let window = window(picture);
    let axis = Axis::new(window.0, window.1, left, right);
    let groups = groups(picture, &axis);
    let rows = list_rows(&groups);
    let list_top = area.y1 - LINE * rows.len() as f64 - 6.0;
    let top = area.y0 + NUMBERS + 34.0;
    let room = (list_top - 46.0 - top - 56.0).max(80.0);
    let upper = Rect::new(left, top, right, (top + 0.68 * room).round());
    let lower = Rect::new(left, upper.y1 + 56.0, right, (upper.y1 + 56.0 + 0.32 * room).round());

    let panel = Panel { area: upper, x: axis, y: Axis::new(lowest(picture), 1.07 * picture.scale, upper.y1, upper.y0) };
    panel.draw_frame(&mut sheet, "");
    sheet.text(
        Text::new(
            &format!(
                "Needle, and the pressures behind it ({} gauge; what is higher runs along the edge)",
                picture.unit
            ),
            look::HEADING,
        )
        .bold(),
        MARGIN,
        area.y0 + 12.0,
        Align::Left,
    );
    let travel = Panel::over(lower, window, &picture.time, picture.travels.iter().map(|t| &t.values[..]));
    travel.draw_frame(&mut sheet, "Travel, 0 = sealed (% of lift)");
    for group in &groups {
        for a in [upper, lower] {
            sheet.line(&[(group.x, a.y0), (group.x, a.y1)], LineLook::dashed(look::FRAME, 1.2, &[3.0, 5.0]));
        }
        let number = Text::new(&group.number.to_string(), look::TICK).bold();
        sheet.try_text(&number, &[(group.x, upper.y0 - 14.0, Align::Center)]);
    }
    if let Some((value, words)) = &picture.limit
        && panel.y.shows(*value)
    {
        let y = crisp(panel.y.px(*value));
        sheet.line(&[(upper.x0, y), (upper.x1, y)], LineLook::dashed(look::INK, 1.8, &[9.0, 5.0]));
        let label = Text::new(words, look::TICK).bold().on(look::PAPER);
        let places = [0.02, 0.3, 0.6].map(|f| (upper.x0 + f * upper.width(), y - 11.0, Align::Left));
        sheet.text_at_one_of(label, &places);
    }
    curves(&mut sheet, picture, &panel);
    let tags: Vec<Tag> = picture
        .travels
        .iter()
        .enumerate()
        .map(|(i, t)| {
            let look = LineLook::mixed(3 + i, i);
            Tag { text: t.label.clone(), look, y: travel.draw_curve(&mut sheet, &picture.time, &t.values, look, false) }
        })
        .collect();
    travel.draw_tags(&mut sheet, tags);
    travel.draw_x_labels(&mut sheet, "time (s)");
    for reading in &picture.readings {
        mark(&mut sheet, &panel, reading);
    }
    for (i, row) in rows.iter().enumerate() {
        sheet.text(Text::new(row, look::TICK), MARGIN, list_top + LINE * (i as f64 + 0.6), Align::Left);
    }
    sheet
}

/// From the first to the last finite time of samples and acts.
fn window(picture: &NeedlePicture) -> (f64, f64) {
    let acts = || picture.acts.iter().map(|a| a.time);
    let finite = || picture.time.iter().copied().chain(acts()).filter(|t| t.is_finite());
    let (low, high) = finite().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), t| (l.min(t), h.max(t)));
    if high > low { (low, high) } else { (0.0, 1.0) }
}

/// Lower end of the scale: zero, or a little below it where the needle goes there.
fn lowest(picture: &NeedlePicture) -> f64 {
    let needle = picture.pressures.first().map_or(&[][..], |t| &t.values[..]);
    let low = needle.iter().copied().filter(|v| v.is_finite()).fold(0.0, f64::min);
    if low < -0.02 * picture.scale { 1.2 * low } else { 0.0 }
}

/// The pressures, the needle last so that it lies in front; beyond the scale they run along its edge.
fn curves(sheet: &mut Sheet, picture: &NeedlePicture, panel: &Panel) {
    let mut tags = Vec::new();
    for (i, trace) in picture.pressures.iter().enumerate().rev() {
        let look = match i {
            0 => LineLook::solid(look::INK, 4.2),
            i => LineLook::mixed(i - 1, i),
        };
        let shown: Vec<f64> = trace.values.iter().map(|v| v.min(1.04 * picture.scale).max(panel.y.low)).collect();
        let y = panel.draw_curve(sheet, &picture.time, &shown, look, false);
        tags.push(Tag { text: trace.label.clone(), look, y });
    }
    panel.draw_tags(sheet, tags);
}

/// A reading: a disc on the needle with its words.
fn mark(sheet: &mut Sheet, panel: &Panel, reading: &ReadPoint) {
    let (x, y) = (panel.x.px(reading.time), panel.y.px(reading.value));
    if !(panel.x.shows(reading.time) && panel.y.shows(reading.value)) {
        return;
    }
    sheet.disc((x, y), 8.0, look::PAPER);
    sheet.disc((x, y), 6.0, look::INK);
    let label = Text::new(&reading.text, look::LABEL).bold().on(look::PAPER).within(0.5 * panel.area.width());
    let a = panel.area;
    let mut places = Vec::new();
    for dy in [-30.0, -54.0, -80.0, -110.0, 26.0, 50.0, 74.0, 98.0, -150.0] {
        places.extend([(x, y + dy, Align::Center), (x + 10.0, y + dy, Align::Left), (x - 10.0, y + dy, Align::Right)]);
    }
    let width = label.width();
    places.retain(|p| {
        let left = match p.2 {
            Align::Left => p.0,
            Align::Center => p.0 - 0.5 * width,
            Align::Right => p.0 - width,
        };
        left > a.x0 + 2.0 && left + width < a.x1 && p.1 > a.y0 + 8.0 && p.1 < a.y1 - 8.0
    });
    sheet.text_at_one_of(label, &places);
}

/// Acts that lie close together under one number.
fn groups(picture: &NeedlePicture, axis: &Axis) -> Vec<Group> {
    let mut all: Vec<Group> = Vec::new();
    let mut starts = f64::NEG_INFINITY;
    for act in picture.acts.iter().filter(|a| axis.shows(a.time)) {
        let x = axis.px(act.time);
        match all.last_mut() {
            Some(last) if x - starts < NEAR => last.text.push_str(&format!(", {}", act.text)),
            _ => {
                starts = x;
                all.push(Group { x: crisp(x), number: all.len() + 1, text: act.text.clone() });
            }
        }
    }
    all
}

/// The list of acts in as few lines as it takes.
fn list_rows(groups: &[Group]) -> Vec<String> {
    let fit = WIDTH - 2.0 * MARGIN - 8.0;
    let text = groups.iter().map(|g| format!("{} {}", g.number, g.text)).collect::<Vec<_>>().join("; ");
    look::wrapped(&look::clean(&format!("Acts: {text}.")), look::TICK, false, fit, 6).0
}
