//! The chart of `sequence`: which part moved first, pressures, travels and spilled water on one time axis.
//!
//! Choices, and why:
//! - The order is the finding, so it stands at the top, as bars with numbered badges rather than as curves.
//! - First movements closer than a badge is wide are shown again, magnified, on an axis in milliseconds: in a
//!   spill-resistant unit they may lie less than 1 ms apart in a run of seconds.
//! - Curves are named at their right end, beside a sample of the line, not in a legend.
//! - Rate and amount of the water spilled have a panel each: two axes on one panel invite misreading. If nothing left
//!   the air inlet, a sentence says so instead.
//! - What decides the order happens within a few psi of nothing, which the surge after it would flatten: those pressures
//!   have a panel of their own, with the two at which check and air inlet move.

use std::path::Path;

use super::axis::{Axis, Panel, TAG_INDENT, Tag};
use super::look::{self, LineLook, MARGIN, WIDTH};
use super::page;
use super::sheet::{Align, Rect, Sheet, Text, crisp};
use super::strip::{self, Strip};
use super::thinned::cut;
use super::{ChartError, Drawn, write_sheet};

/// Height that the magnified panel adds to the sheet, px.
const MAGNIFIED: f64 = 210.0;

/// State of a part during a span of time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Phase {
    /// On its seat (for a shutoff: closed).
    Sealed,
    /// Between its seat and its stop.
    Moving,
    /// Against its stop, or at rest off its seat (for a shutoff: open).
    Open,
}

/// What one part did.
#[derive(Debug, Clone, PartialEq)]
pub struct Lane {
    /// Name of the part.
    pub part: String,
    /// Start (s), end (s) and state, in order.
    pub spans: Vec<(f64, f64, Phase)>,
    /// When it first moved, s; `None` if it never did.
    pub first_move: Option<f64>,
}

/// One curve, one value per entry of [`SequencePicture::time`], in display units.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Trace {
    /// Its name.
    pub label: String,
    /// Its values; a NaN is a gap.
    pub values: Vec<f64>,
}

/// An event to be marked across all panels.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    /// When, s.
    pub time: f64,
    /// A few words.
    pub text: String,
}

/// All that the chart of `sequence` shows. Values are in display units already; times are in seconds.
#[derive(Debug, Clone, PartialEq)]
pub struct SequencePicture {
    /// The finding, as a sentence.
    pub title: String,
    /// The conditions.
    pub subtitle: String,
    /// Assembly, file, version, caution: one entry per line.
    pub foot: Vec<String>,
    /// Times of the samples, s, rising.
    pub time: Vec<f64>,
    /// One lane per part, from top to bottom.
    pub lanes: Vec<Lane>,
    /// Gauge pressures.
    pub pressures: Vec<Trace>,
    /// Their unit, for example "psi".
    pub pressure_unit: String,
    /// Pressures of zone 1 that decide, each with its name; shown magnified if the others dwarf them.
    pub levels: Vec<(f64, String)>,
    /// Travels from the sealed position.
    pub travels: Vec<Trace>,
    /// Their unit, for example "% of lift".
    pub travel_unit: String,
    /// Rate at which water leaves through the air inlet.
    pub vent_flow: Trace,
    /// Its unit.
    pub flow_unit: String,
    /// Water that has left through the air inlet so far.
    pub vent_volume: Trace,
    /// Its unit.
    pub volume_unit: String,
    /// Events to mark.
    pub marks: Vec<Mark>,
    /// Part of the time axis to show, s. Unless both are finite and the second is larger, [`action_window`] is shown.
    pub window: (f64, f64),
}

/// The part of the run in which something happens, s: from the first sample until every pressure, travel and flow
/// stays within 2 % of its range of where it ends and every lane and mark has been passed, plus a little rest.
pub fn action_window(picture: &SequencePicture) -> (f64, f64) {
    let finite = || picture.time.iter().copied().filter(|t| t.is_finite());
    let first = finite().fold(f64::INFINITY, f64::min);
    let last = finite().fold(f64::NEG_INFINITY, f64::max);
    let (first, last) = if last > first { (first, last) } else { (0.0, 1.0) };
    let mut settled = first;
    let curves = picture.pressures.iter().chain(&picture.travels).chain([&picture.vent_flow]);
    for values in curves.map(|c| &c.values) {
        let known = || picture.time.iter().zip(values).filter(|(t, v)| t.is_finite() && v.is_finite());
        let (low, high) = known().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), (_, v)| (l.min(*v), h.max(*v)));
        let end = known().next_back().map_or(0.0, |(_, v)| *v);
        let away = known().rfind(|(_, v)| (*v - end).abs() > 0.02 * (high - low));
        settled = settled.max(away.map_or(first, |(t, _)| *t));
    }
    let passed = picture.lanes.iter().flat_map(|l| l.spans.iter().map(|s| s.0).chain(l.first_move));
    for t in passed.chain(picture.marks.iter().map(|m| m.time)) {
        settled = if t.is_finite() { settled.max(t) } else { settled };
    }
    let span = (settled.min(last) - first).max(1e-3 * (last - first));
    (first, (first + 1.12 * span).min(last))
}

/// Draws the chart and writes it to `path`, as SVG or PNG by its ending.
///
/// # Errors
/// [`ChartError`] if the ending is neither, or the file cannot be written. No data makes it fail or panic.
pub fn draw_sequence(picture: &SequencePicture, path: &Path) -> Result<Drawn, ChartError> {
    let (sheet, window, zoom) = lay_out_sequence(picture);
    write_sheet(&sheet, path)?;
    Ok(Drawn { path: path.into(), labels: sheet.label_boxes(), dropped: sheet.dropped().to_vec(), window, zoom })
}

/// Where the panels go.
struct Columns {
    left: f64,
    right: f64,
}

/// Lays the chart out without writing it: the sheet, the window shown (s) and the part magnified (s), if any.
pub fn lay_out_sequence(picture: &SequencePicture) -> (Sheet, (f64, f64), Option<(f64, f64)>) {
    let (from, to) = picture.window;
    let given = from.is_finite() && to.is_finite() && to > from;
    let window = if given { picture.window } else { action_window(picture) };
    let decisive = decisive(picture, window);
    let mut sheet = Sheet::sized(WIDTH, look::HEIGHT + if decisive.is_some() { MAGNIFIED } else { 0.0 });
    let columns = columns(picture);
    let mut y = page::head(&mut sheet, &picture.title, &picture.subtitle);
    let floor = page::foot(&mut sheet, &picture.foot) - 36.0;

    let lanes = strip::draw(&mut sheet, &picture.lanes, window, (columns.left, columns.right), y);
    y = lanes.bottom + 4.0;

    // Only known zeros are "none"; an empty or broken trace gets its empty panel.
    let is_zero = |t: &Trace| !t.values.is_empty() && t.values.iter().all(|v| *v == 0.0);
    let dry = is_zero(&picture.vent_flow) && is_zero(&picture.vent_volume);
    let shares: &[f64] = match (dry, decisive.is_some()) {
        (true, false) => &[0.62, 0.38],
        (true, true) => &[0.39, 0.36, 0.25],
        (false, false) => &[0.42, 0.24, 0.17, 0.17],
        (false, true) => &[0.3, 0.27, 0.17, 0.13, 0.13],
    };
    let rows = if picture.marks.is_empty() { 0.0 } else { 20.0 };
    let gap = 44.0;
    let note = if dry { 34.0 } else { 0.0 };
    let height = (floor - y - rows - note - gap * shares.len() as f64).max(40.0);
    let mut area = |share: f64, above: f64| {
        let top = y + gap - 8.0 + above;
        y = top + height * share + 8.0;
        Rect::new(columns.left, top.round(), columns.right, (top + height * share).round())
    };
    let areas: Vec<Rect> = shares.iter().enumerate().map(|(i, s)| area(*s, if i == 0 { rows } else { 0.0 })).collect();
    // Frames, then marks, then curves: a curve is never hidden by a mark.
    let panels = panels(picture, window, decisive, &areas);
    for content in &panels {
        content.panel.draw_frame(&mut sheet, &content.heading);
    }
    if let Some(first) = areas.first() {
        marks(&mut sheet, picture, &lanes, &areas, first.y0);
    }
    curves(&mut sheet, picture, &panels);
    if dry {
        sheet.text(
            Text::new("Water out of the air inlet: none", look::HEADING).bold(),
            MARGIN,
            floor + 16.0,
            Align::Left,
        );
    }
    (sheet, window, lanes.zoom)
}

/// Left and right edge of all panels: room for the longest lane name or tick, and for the longest curve name.
fn columns(picture: &SequencePicture) -> Columns {
    let names = picture.lanes.iter().map(|l| look::text_width(&look::clean(&l.part), look::LABEL, true));
    let left = names.fold(84.0, f64::max).min(190.0) + MARGIN + 12.0;
    let curves = picture.pressures.iter().chain(&picture.travels).chain([&picture.vent_flow, &picture.vent_volume]);
    let names = curves.map(|t| &t.label).chain(picture.levels.iter().map(|l| &l.1));
    let tags = names.map(|name| look::text_width(&look::clean(name), look::LABEL, false));
    let right = tags.fold(70.0, f64::max).min(210.0) + TAG_INDENT + MARGIN + 2.0;
    Columns { left: left.round(), right: (WIDTH - right).round() }
}

/// Event marks: words in up to two rows above the pressures, each with a line through all panels; first movements get
/// a fainter line.
fn marks(sheet: &mut Sheet, picture: &SequencePicture, strip: &Strip, areas: &[Rect], top: f64) {
    let axis = &strip.axis;
    for t in strip.moves.iter().filter(|t| axis.shows(**t)) {
        let x = crisp(axis.px(*t));
        for area in areas {
            sheet.line(&[(x, area.y0), (x, area.y1)], LineLook::dashed(look::FRAME, 1.2, &[7.0, 6.0]));
        }
    }
    let mut marks: Vec<_> = picture.marks.iter().filter(|m| axis.shows(m.time)).collect();
    marks.sort_by(|a, b| a.time.total_cmp(&b.time));
    let lines: Vec<f64> = marks.iter().map(|m| crisp(axis.px(m.time))).collect();
    for (mark, &x) in marks.iter().zip(&lines) {
        let text = Text::new(&mark.text, look::TICK).within(360.0).on(look::PAPER);
        let width = text.width();
        let mut places =
            [-19.0, -40.0].map(|y| [(x + 5.0, top + y, Align::Left), (x - 5.0, top + y, Align::Right)]).concat();
        // Words that the line of another mark would cross come last.
        places.sort_by_key(|p| {
            let left = if p.2 == Align::Left { p.0 } else { p.0 - width };
            lines.iter().any(|l| *l != x && *l > left - 3.0 && *l < left + width + 3.0)
        });
        let Some(words) = sheet.text_at_one_of(text, &places) else { continue };
        let look = LineLook::dashed(look::INK, 1.6, &[0.0, 4.0]);
        sheet.line(&[(x, words.y0 + 2.0), (x, top)], look);
        for area in areas {
            sheet.line(&[(x, area.y0), (x, area.y1)], look);
        }
    }
}

/// The highest pressure of the magnified panel: twice the highest that decides. `None` where the others do not dwarf it.
fn decisive(picture: &SequencePicture, window: (f64, f64)) -> Option<f64> {
    let high = 2.0 * picture.levels.iter().map(|l| l.0).filter(|v| v.is_finite()).fold(0.0, f64::max);
    let seen = |t: f64| t >= window.0 && t <= window.1;
    let shown = picture.pressures.iter().flat_map(|c| picture.time.iter().zip(&c.values).filter(|(t, _)| seen(**t)));
    let most = shown.map(|(_, v)| *v).filter(|v| v.is_finite()).fold(0.0, f64::max);
    (high > 0.0 && most > 2.0 * high).then_some(high)
}

/// What a panel shows.
#[derive(Clone, Copy, PartialEq)]
enum Shows {
    Pressures,
    Decisive,
    Travels,
    Rate,
    Total,
}

/// One panel and what goes on it.
struct Content<'a> {
    heading: String,
    shows: Shows,
    panel: Panel,
    traces: &'a [Trace],
    unit: &'a str,
}

/// The panels from top to bottom.
fn panels<'a>(
    picture: &'a SequencePicture,
    window: (f64, f64),
    decisive: Option<f64>,
    areas: &[Rect],
) -> Vec<Content<'a>> {
    let one = std::slice::from_ref;
    let (pressures, unit) = (&picture.pressures[..], &picture.pressure_unit);
    let contents = [
        (Shows::Pressures, "Gauge pressure", unit, pressures),
        (Shows::Decisive, "Gauge pressure, magnified: what decides the order", unit, pressures),
        (Shows::Travels, "Travel, 0 = sealed", &picture.travel_unit, &picture.travels[..]),
        (Shows::Rate, "Water out of the air inlet, rate", &picture.flow_unit, one(&picture.vent_flow)),
        (Shows::Total, "Water out of the air inlet, total", &picture.volume_unit, one(&picture.vent_volume)),
    ];
    let shown = contents.into_iter().filter(|c| c.0 != Shows::Decisive || decisive.is_some());
    let panel = |((shows, heading, unit, traces), area): ((Shows, &str, &'a String, &'a [Trace]), &Rect)| {
        let mut panel = Panel::over(*area, window, &picture.time, traces.iter().map(|t| &t.values[..]));
        if let Some(high) = decisive.filter(|_| shows == Shows::Decisive) {
            panel.y = Axis::new(-0.06 * high, high, area.y1, area.y0);
        }
        Content { heading: format!("{heading} ({unit})"), shows, panel, traces, unit }
    };
    shown.zip(areas).map(panel).collect()
}

fn curves(sheet: &mut Sheet, picture: &SequencePicture, panels: &[Content<'_>]) {
    for (i, content) in panels.iter().enumerate() {
        let Content { panel, traces, .. } = content;
        let mut tags = Vec::new();
        if content.shows == Shows::Decisive {
            // The curves have their names in the panel above.
            for (value, name) in picture.levels.iter().filter(|l| panel.y.shows(l.0)) {
                let (look, y) = (LineLook::dashed(look::INK, 1.6, &[14.0, 5.0, 3.0, 5.0]), crisp(panel.y.px(*value)));
                sheet.line(&[(panel.area.x0, y), (panel.area.x1, y)], look);
                tags.push(Tag { text: name.clone(), look, y });
            }
        }
        for (j, trace) in traces.iter().enumerate() {
            // The third pressure is the line's: thin and solid reads better than dots where it shakes.
            let look = match content.shows {
                Shows::Pressures | Shows::Decisive if j == 2 => LineLook::mixed(2, 3),
                Shows::Travels => LineLook::mixed(3 + j, j),
                _ => LineLook::of(j),
            };
            if content.shows == Shows::Decisive {
                let (time, values) = cut(&picture.time, &trace.values, panel.y.low, panel.y.high);
                panel.draw_curve(sheet, &time, &values, look, false);
                continue;
            }
            let y = panel.draw_curve(sheet, &picture.time, &trace.values, look, content.shows == Shows::Rate);
            tags.push(Tag { text: trace.label.clone(), look, y });
        }
        panel.draw_tags(sheet, tags);
        peak(sheet, picture, content);
        if i + 1 == panels.len() {
            panel.draw_x_labels(sheet, "time (s)");
        }
    }
}

/// The largest value of a panel, where people ask for it. Travels reach their stops, which the axis shows; a pressure that
/// begins or ends at its largest value has no peak.
fn peak(sheet: &mut Sheet, picture: &SequencePicture, content: &Content<'_>) {
    let Content { shows, panel, traces, unit, .. } = content;
    let shown = |t: &Trace| {
        let seen = || picture.time.iter().zip(&t.values).filter(|(t, v)| panel.x.shows(**t) && v.is_finite());
        let highest = seen().fold(f64::NEG_INFINITY, |high, (_, v)| high.max(*v));
        let ends = [seen().next(), seen().next_back()].map(|end| end.map_or(highest, |(_, v)| *v));
        (highest, ends[0].max(ends[1]))
    };
    let Some(top) = traces.iter().max_by(|a, b| shown(a).0.total_cmp(&shown(b).0)) else { return };
    // The highest pressure need not be that of a zone, so it is named.
    let text = match shows {
        Shows::Rate | Shows::Total => String::new(),
        Shows::Pressures if shown(top).0 > 1.1 * shown(top).1.max(0.0) => format!("{} peak ", top.label),
        _ => return,
    };
    panel.draw_peak(sheet, &picture.time, &top.values, &text, unit);
}
