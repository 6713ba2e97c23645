//! The chart of `sequence`: which part moved first, pressures, travels and spilled water on one time axis.
//!
//! Choices, and why:
//! - The order is the finding, so it stands at the top, as bars with numbered badges rather than as curves.
//! - First movements closer than a badge is wide are shown again, magnified, on an axis in milliseconds: in a
//!   spill-resistant unit they may lie less than 1 ms apart in a run of seconds.
//! - Curves are named at their right end, beside a sample of the line, not in a legend.
//! - Rate and amount of the water spilled have a panel each: two axes on one panel invite misreading. If nothing left
//!   the air inlet, a sentence says so instead.

use std::path::Path;

use super::axis::{Panel, TAG_INDENT, Tag};
use super::look::{self, LineLook, MARGIN, WIDTH};
use super::page;
use super::sheet::{Align, Rect, Sheet, Text, crisp};
use super::strip::{self, Strip};
use super::{ChartError, Drawn, write_sheet};

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
    let mut sheet = Sheet::new();
    let (from, to) = picture.window;
    let given = from.is_finite() && to.is_finite() && to > from;
    let window = if given { picture.window } else { action_window(picture) };
    let columns = columns(picture);
    let mut y = page::head(&mut sheet, &picture.title, &picture.subtitle);
    let floor = page::foot(&mut sheet, &picture.foot) - 36.0;

    let lanes = strip::draw(&mut sheet, &picture.lanes, window, (columns.left, columns.right), y);
    y = lanes.bottom + 4.0;

    // Only known zeros are "none"; an empty or broken trace gets its empty panel.
    let is_zero = |t: &Trace| !t.values.is_empty() && t.values.iter().all(|v| *v == 0.0);
    let dry = is_zero(&picture.vent_flow) && is_zero(&picture.vent_volume);
    let shares: &[f64] = if dry { &[0.62, 0.38] } else { &[0.42, 0.24, 0.17, 0.17] };
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
    let panels = panels(picture, window, &areas);
    for (heading, content) in &panels {
        content.panel.draw_frame(&mut sheet, heading);
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
    let tags = curves.map(|t| look::text_width(&look::clean(&t.label), look::LABEL, false));
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

/// One panel and what goes on it.
struct Content<'a> {
    panel: Panel,
    traces: &'a [Trace],
    unit: &'a str,
    colour: usize,
}

/// The panels from top to bottom, each with its heading.
fn panels<'a>(picture: &'a SequencePicture, window: (f64, f64), areas: &[Rect]) -> Vec<(String, Content<'a>)> {
    let one = std::slice::from_ref;
    let contents = [
        ("Gauge pressure", &picture.pressure_unit, &picture.pressures[..], 0),
        ("Travel, 0 = sealed", &picture.travel_unit, &picture.travels[..], 3),
        ("Water out of the air inlet, rate", &picture.flow_unit, one(&picture.vent_flow), 0),
        ("Water out of the air inlet, total", &picture.volume_unit, one(&picture.vent_volume), 0),
    ];
    let paired = contents.into_iter().zip(areas);
    let panel = |((heading, unit, traces, colour), area): ((&str, &'a String, &'a [Trace], usize), &Rect)| {
        let panel = Panel::over(*area, window, &picture.time, traces.iter().map(|t| &t.values[..]));
        (format!("{heading} ({unit})"), Content { panel, traces, unit, colour })
    };
    paired.map(panel).collect()
}

fn curves(sheet: &mut Sheet, picture: &SequencePicture, panels: &[(String, Content<'_>)]) {
    for (i, (_, Content { panel, traces, unit, colour })) in panels.iter().enumerate() {
        let mut tags = Vec::new();
        for (j, trace) in traces.iter().enumerate() {
            let look = LineLook::mixed(colour + j, j);
            // The third pressure is the line's: thin and solid reads better than dots where it shakes.
            let look = if i == 0 && j == 2 { LineLook::mixed(2, 3) } else { look };
            let y = panel.draw_curve(sheet, &picture.time, &trace.values, look, i == 2);
            tags.push(Tag { text: trace.label.clone(), look, y });
        }
        panel.draw_tags(sheet, tags);
        // Travels reach their stops, which the axis shows; elsewhere the largest value is what people ask for. A
        // pressure that begins or ends at its largest value has no peak.
        let shown = |t: &Trace| {
            let seen = || picture.time.iter().zip(&t.values).filter(|(t, v)| panel.x.shows(**t) && v.is_finite());
            let highest = seen().fold(f64::NEG_INFINITY, |high, (_, v)| high.max(*v));
            let ends = [seen().next(), seen().next_back()].map(|end| end.map_or(highest, |(_, v)| *v));
            (highest, ends[0].max(ends[1]))
        };
        let top = traces.iter().max_by(|a, b| shown(a).0.total_cmp(&shown(b).0));
        let has_peak = |t: &&Trace| i > 1 || (i == 0 && shown(t).0 > 1.1 * shown(t).1.max(0.0));
        if let Some(top) = top.filter(has_peak) {
            // The highest pressure need not be that of a zone, so it is named.
            let text = if i == 0 { format!("{} peak ", top.label) } else { String::new() };
            panel.draw_peak(sheet, &picture.time, &top.values, &text, unit);
        }
        if i + 1 == panels.len() {
            panel.draw_x_labels(sheet, "time (s)");
        }
    }
}
