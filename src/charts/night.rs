//! A night against time: pressure, temperature, ice, water let out, one below the other on one time axis.
//!
//! Choices, and why:
//! - Pressure has a logarithmic axis: a supply of tens and a burst of thousands must both be read. Below its lowest decade
//!   is a strip for 0 and less, which no logarithm has.
//! - Strengths and the relief's set are lines across the pressure panel, named on the line.
//! - Lifts are ticks along the top of the pressure panel; where they stand closer than the eye can part they make a bar.

use super::axis::{Axis, Panel, TAG_INDENT, Tag};
use super::look::{self, LineLook, MARGIN, WIDTH};
use super::page::Page;
use super::sequence::{Mark, Trace};
use super::sheet::{Align, Rect, Sheet, Text, crisp};

/// The chart of a night. Values are in display units, times in hours.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct NightPicture {
    /// Title, conditions, foot.
    pub page: Page,
    /// Times of the samples, h, rising.
    pub time: Vec<f64>,
    /// Gauge pressures.
    pub pressures: Vec<Trace>,
    /// Their unit.
    pub pressure_unit: String,
    /// Named pressures: yield, set, bonnet.
    pub limits: Vec<(f64, String)>,
    /// Times of the relief's lifts, h.
    pub lifts: Vec<f64>,
    /// Temperatures.
    pub temperatures: Vec<Trace>,
    /// Their unit.
    pub temperature_unit: String,
    /// Ice, % of each zone's mass.
    pub ice: Vec<Trace>,
    /// Water let out by the relief so far.
    pub relieved: Trace,
    /// Its unit.
    pub volume_unit: String,
    /// Events to mark.
    pub marks: Vec<Mark>,
}

/// Height between panels, px: heading and room for ticks.
const GAP: f64 = 42.0;
/// Height of the ticks of the lifts, px.
const LIFT: f64 = 12.0;
/// Height of the strip for 0 and below, as a share of the decades.
const STRIP: f64 = 0.08;

/// Lays the chart out.
pub fn lay_out_night(picture: &NightPicture) -> Sheet {
    let mut sheet = Sheet::new();
    let area = picture.page.draw(&mut sheet);
    let finite = || picture.time.iter().copied().filter(|t| t.is_finite());
    let window = (finite().fold(f64::INFINITY, f64::min).min(1e9), finite().fold(f64::NEG_INFINITY, f64::max));
    let window = if window.1 > window.0 { window } else { (0.0, 1.0) };
    let all = picture.pressures.iter().chain(&picture.temperatures).chain(&picture.ice);
    let tags = all.map(|t| look::text_width(&look::clean(&t.label), look::LABEL, false)).fold(60.0, f64::max);
    let (left, right) = (MARGIN + 96.0, (WIDTH - tags.min(200.0) - TAG_INDENT - MARGIN - 4.0).round());
    let wet = picture.relieved.values.iter().any(|v| *v > 0.0);
    let shares: &[f64] = if wet { &[0.44, 0.2, 0.2, 0.16] } else { &[0.5, 0.25, 0.25] };
    // Marks stand in up to three rows above the first panel.
    let rows = if picture.marks.is_empty() { 0.0 } else { 62.0 };
    let height = area.height() - rows - GAP * shares.len() as f64 - 30.0;
    let mut y = area.y0 + rows;
    let mut areas = Vec::new();
    for share in shares {
        let top = y + GAP - 8.0;
        y = top + height * share;
        areas.push(Rect::new(left, top.round(), right, y.round()));
        y += 8.0;
    }
    let (Some(first), Some(last)) = (areas.first().copied(), areas.last().copied()) else { return sheet };
    let (pressure, decade) = pressure_panel(&mut sheet, picture, first, window);
    let others: Vec<(Panel, String, &[Trace], usize)> = areas
        .iter()
        .skip(1)
        .zip([
            (format!("Temperature ({})", picture.temperature_unit), &picture.temperatures[..], 0),
            ("Ice (% of the water)".to_owned(), &picture.ice[..], 0),
            (
                format!("Water let out by the relief ({})", picture.volume_unit),
                std::slice::from_ref(&picture.relieved),
                4,
            ),
        ])
        .map(|(area, (heading, traces, colour))| {
            let values = traces.iter().map(|t| &t.values[..]);
            let panel = Panel::over(*area, window, &picture.time, values);
            (panel, heading, traces, colour)
        })
        .collect();
    for (panel, heading, ..) in &others {
        panel.draw_frame(&mut sheet, heading);
    }
    marks(&mut sheet, picture, &pressure, &areas);
    let place = |v: &f64| if *v > 0.0 { v.log10().max(decade) } else { pressure.y.low };
    let log: Vec<Vec<f64>> = picture.pressures.iter().map(|t| t.values.iter().map(place).collect()).collect();
    limits(&mut sheet, picture, &pressure);
    let mut names = Vec::new();
    for (i, (trace, values)) in picture.pressures.iter().zip(&log).enumerate() {
        let y = pressure.draw_curve(&mut sheet, &picture.time, values, LineLook::of(i), false);
        names.push(Tag { text: trace.label.clone(), look: LineLook::of(i), y });
    }
    pressure.draw_tags(&mut sheet, names);
    limit_names(&mut sheet, picture, &pressure);
    for (panel, _, traces, colour) in &others {
        let mut names = Vec::new();
        for (i, trace) in traces.iter().enumerate() {
            let look = LineLook::mixed(colour + i, i);
            let y = panel.draw_curve(&mut sheet, &picture.time, &trace.values, look, *colour == 4);
            names.push(Tag { text: trace.label.clone(), look, y });
        }
        panel.draw_tags(&mut sheet, names);
    }
    if let Some((panel, ..)) = others.last() {
        panel.draw_x_labels(&mut sheet, "time (h)");
    }
    let _ = last;
    sheet
}

/// The pressure panel with its decades, and the exponent of the lowest.
fn pressure_panel(sheet: &mut Sheet, picture: &NightPicture, area: Rect, window: (f64, f64)) -> (Panel, f64) {
    let curves = || picture.pressures.iter().flat_map(|t| t.values.iter().copied());
    let values = curves().chain(picture.limits.iter().map(|l| l.0)).filter(|v| v.is_finite() && *v > 0.0);
    let (low, high) = values.fold((f64::INFINITY, 0.0f64), |(l, h), v| (l.min(v), h.max(v)));
    let (low, high) = if high > 0.0 { (low.max(1e-5 * high), high) } else { (1.0, 10.0) };
    let (low, high) = (low.log10().floor(), (1.9 * high).log10());
    let strip = if curves().any(|v| v <= 0.0) { STRIP * (high - low) } else { 0.0 };
    let y = Axis::new(low - strip, high, area.y1, area.y0);
    let panel = Panel { area, x: Axis::new(window.0, window.1, area.x0, area.x1), y };
    let heading = format!("Gauge pressure ({}), logarithmic", picture.pressure_unit);
    sheet.text(Text::new(&heading, look::HEADING).bold().on(look::PAPER), MARGIN, area.y0 - 20.0, Align::Left);
    for value in panel.x.ticks(10).values {
        let x = crisp(panel.x.px(value));
        sheet.line(&[(x, area.y0), (x, area.y1)], LineLook::solid(look::GRID, 1.0));
    }
    let mut decade = low;
    while decade <= high {
        for m in [1.0, 2.0, 5.0] {
            let at = decade + f64::log10(m);
            if !panel.y.shows(at) {
                continue;
            }
            let y = crisp(panel.y.px(at));
            sheet.line(&[(area.x0, y), (area.x1, y)], LineLook::solid(look::GRID, 1.0));
            sheet.line(&[(area.x0 - 6.0, y), (area.x0, y)], LineLook::solid(look::FRAME, 1.0));
            let value = m * 10f64.powf(decade);
            let words = if value >= 1.0 { format!("{value:.0}") } else { format!("{value}") };
            let label = Text::new(&words, look::TICK).colour(look::SOFT_INK);
            sheet.try_text(&label, &[(area.x0 - 11.0, y, Align::Right)]);
        }
        decade += 1.0;
    }
    if strip > 0.0 {
        let label = Text::new("0 or below", look::TICK).colour(look::SOFT_INK);
        sheet.try_text(&label, &[(area.x0 - 11.0, area.y1, Align::Right)]);
    }
    let frame = LineLook::solid(look::FRAME, 1.4);
    sheet.line(&[(area.x0, crisp(area.y1)), (area.x1, crisp(area.y1))], frame);
    sheet.line(&[(crisp(area.x0), area.y0), (crisp(area.x0), area.y1)], frame);
    (panel, low)
}

/// Whether a text at a place lies between `low` and `high` px.
fn within(text: &Text, (x, _, align): &(f64, f64, Align), (low, high): (f64, f64)) -> bool {
    match align {
        Align::Left => *x >= low && x + text.width() <= high,
        Align::Right => x - text.width() >= low && *x <= high,
        Align::Center => x - 0.5 * text.width() >= low && x + 0.5 * text.width() <= high,
    }
}

/// Strengths and set as lines, and lifts as ticks below the top.
fn limits(sheet: &mut Sheet, picture: &NightPicture, panel: &Panel) {
    let a = panel.area;
    for (value, _) in picture.limits.iter().filter(|l| l.0 > 0.0) {
        let at = value.log10();
        if !panel.y.shows(at) {
            continue;
        }
        let y = crisp(panel.y.px(at));
        sheet.line(&[(a.x0, y), (a.x1, y)], LineLook::dashed(look::INK, 1.8, &[11.0, 5.0, 2.0, 5.0]));
        sheet.keep_clear(Rect::new(a.x0, y - 1.0, a.x1, y + 1.0));
    }
    let mut last = f64::NEG_INFINITY;
    for x in lifts(picture, panel) {
        if x - last >= 1.0 {
            sheet.line(&[(x, a.y0), (x, a.y0 + LIFT)], LineLook::solid(look::COLOURS[1], 1.0));
            last = x;
        }
    }
}

/// Where the relief lifts, px.
fn lifts(picture: &NightPicture, panel: &Panel) -> Vec<f64> {
    picture.lifts.iter().filter(|t| panel.x.shows(**t)).map(|t| panel.x.px(*t)).collect()
}

/// Names of strengths and set on their lines and of the lifts by their ticks, off the curves where there is room.
fn limit_names(sheet: &mut Sheet, picture: &NightPicture, panel: &Panel) {
    let a = panel.area;
    let along = |y: f64| {
        let inner = [0.75, 0.5, 0.25].map(|share| (a.x0 + share * a.width(), y, Align::Center));
        [&[(a.x1 - 8.0, y, Align::Right)], &inner[..], &[(a.x0 + 8.0, y, Align::Left)]].concat()
    };
    for (value, text) in picture.limits.iter().filter(|l| l.0 > 0.0 && panel.y.shows(l.0.log10())) {
        let y = crisp(panel.y.px(value.log10()));
        let label = Text::new(text, look::TICK).bold().on(look::PAPER).within(0.6 * a.width());
        let places = [y - 12.0, y + 12.0].map(along).concat();
        sheet.text_at_one_of(label, &places);
    }
    let seen = lifts(picture, panel);
    if let (Some(first), Some(last)) = (seen.first(), seen.last()) {
        let text = Text::new("lifts of the relief", look::TICK).colour(look::INK).on(look::PAPER);
        let middle = 0.5 * (first + last);
        let y = a.y0 + 0.5 * LIFT;
        let beside = [(last + 8.0, y, Align::Left), (first - 8.0, y, Align::Right)];
        // Beside the ticks, below them, or above the panel at the right.
        let below = (middle, a.y0 + LIFT + 10.0, Align::Center);
        let places = [beside[0], beside[1], below].into_iter().filter(|p| within(&text, p, (a.x0, a.x1)));
        let above = (a.x1, a.y0 - 12.0, Align::Right);
        if sheet.clear_text(&text, &places.collect::<Vec<_>>()).is_none() {
            sheet.try_text(&text, &[above]);
        }
    }
}

/// Events: words above the first panel, a dotted line through all.
fn marks(sheet: &mut Sheet, picture: &NightPicture, panel: &Panel, areas: &[Rect]) {
    let top = panel.area.y0 - 32.0;
    for mark in picture.marks.iter().filter(|m| panel.x.shows(m.time)) {
        let x = crisp(panel.x.px(mark.time));
        let text = Text::new(&mark.text, look::TICK).within(420.0).on(look::PAPER);
        let places = [-8.0, -29.0, -50.0].map(|y| [(x + 5.0, top + y, Align::Left), (x - 5.0, top + y, Align::Right)]);
        let page = (MARGIN, WIDTH - MARGIN);
        let places: Vec<_> = places.into_iter().flatten().filter(|p| within(&text, p, page)).collect();
        let Some(words) = sheet.text_at_one_of(text, &places) else { continue };
        let look = LineLook::dashed(look::INK, 1.6, &[0.0, 4.0]);
        sheet.line(&[(x, words.y0 + 2.0), (x, panel.area.y0)], look);
        for area in areas {
            sheet.line(&[(x, area.y0), (x, area.y1)], look);
        }
    }
}
