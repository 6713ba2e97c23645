//! The strip of lanes: what each part did, who moved first, and the magnified copy when that is too close to see.

use super::axis::Axis;
use super::look::{self, LineLook, MARGIN};
use super::sequence::{Lane, Phase};
use super::sheet::{Align, Rect, Sheet, Text, crisp};

/// Radius of a badge, px.
const BADGE: f64 = 14.0;
/// First movements closer than this, px, are magnified.
const APART: f64 = 2.6 * BADGE;
/// Height that all lanes of one strip may take, px.
const TALLEST: f64 = 200.0;

/// What the strip used.
pub(super) struct Strip {
    /// Lower end of the main strip, px.
    pub strip_bottom: f64,
    /// Lower end of all of it, px.
    pub bottom: f64,
    /// Time axis, s.
    pub axis: Axis,
    /// Times of first movement, s.
    pub moves: Vec<f64>,
    /// Part magnified, s.
    pub zoom: Option<(f64, f64)>,
}

/// A lane with its place in the order of first movement, from 1.
struct Ranked<'a> {
    lane: &'a Lane,
    rank: Option<(usize, f64)>,
}

/// Numbers the lanes in the order of first movement; parts that move at the same instant share a number.
fn ranked(lanes: &[Lane]) -> Vec<Ranked<'_>> {
    let mut times: Vec<f64> = lanes.iter().filter_map(|l| l.first_move).filter(|t| t.is_finite()).collect();
    times.sort_by(f64::total_cmp);
    let rank = |t: f64| (1 + times.iter().filter(|other| **other < t).count(), t);
    lanes.iter().map(|lane| Ranked { lane, rank: lane.first_move.filter(|t| t.is_finite()).map(rank) }).collect()
}

/// The stretch of time to magnify: the tightest pair of distinct first movements if it is too close on `axis`, and its
/// neighbours as long as the pair stays apart.
fn zoom_window(times: &[f64], axis: &Axis) -> Option<(f64, f64)> {
    let mut times: Vec<f64> = times.iter().copied().filter(|t| axis.shows(*t)).collect();
    times.sort_by(f64::total_cmp);
    times.dedup();
    let gap = |i: usize| Some(times.get(i + 1)? - times.get(i)?);
    let tightest = (0..times.len()).filter_map(|i| Some((i, gap(i)?))).min_by(|a, b| a.1.total_cmp(&b.1))?;
    let (at, least) = tightest;
    let width = axis.to - axis.from;
    let px = |span: f64| least / span * width;
    if px(axis.high - axis.low) >= APART {
        return None;
    }
    let (mut a, mut b) = (at, at + 1);
    let span = |a: usize, b: usize| Some(2.0 * (times.get(b)? - times.get(a)?));
    while a > 0 && span(a - 1, b).is_some_and(|s| px(s) >= 2.0 * APART) {
        a -= 1;
    }
    while span(a, b + 1).is_some_and(|s| px(s) >= 2.0 * APART) {
        b += 1;
    }
    let (first, last) = (*times.get(a)?, *times.get(b)?);
    let rest = 0.5 * (last - first);
    // A pair that rounding would merge cannot be magnified.
    (rest > 1e-9 * first.abs().max(1e-3)).then_some((first - rest, last + rest))
}

/// Decimals that keep the first movements apart when printed in seconds, 3 to 7.
fn decimals(times: &[f64]) -> usize {
    let mut sorted = times.to_vec();
    sorted.sort_by(f64::total_cmp);
    let gap = sorted.windows(2).map(|w| w.iter().fold(0.0, |last, t| t - last)).filter(|g| *g > 0.0);
    let tightest = gap.fold(1.0, f64::min);
    (1.0 - tightest.log10().floor()).clamp(3.0, 7.0) as usize
}

/// Draws strip, key and, if needed, the magnified copy from `top` down.
pub(super) fn draw(
    sheet: &mut Sheet,
    lanes: &[Lane],
    window: (f64, f64),
    (left, right): (f64, f64),
    top: f64,
) -> Strip {
    let axis = Axis::new(window.0, window.1, left, right);
    let all = ranked(lanes);
    let moves: Vec<f64> = all.iter().filter_map(|r| r.rank.map(|(_, t)| t)).collect();
    let places = decimals(&moves);
    let heading = "Which part moved first: numbers give the order, times are in seconds";
    sheet.text(Text::new(heading, look::HEADING).bold(), MARGIN, top + 13.0, Align::Left);
    let zoom = zoom_window(&moves, &axis);

    let y0 = top + 28.0;
    let height = (TALLEST / all.len().max(1) as f64).clamp(24.0, 37.0);
    let most = (TALLEST / height) as usize;
    for r in all.iter().skip(most) {
        sheet.note_dropped(&r.lane.part);
    }
    let y1 = y0 + height * all.len().min(most) as f64;
    let label = |t: f64| if t == 0.0 { "0 s".into() } else { format!("{t:.places$} s") };
    for (i, r) in all.iter().take(most).enumerate() {
        let y = y0 + height * i as f64;
        draw_lane(sheet, r, &axis, Rect::new(left, y + 2.0, right, y + height - 2.0), label);
    }
    key(sheet, right, y0);
    let mut strip = Strip { strip_bottom: y1, bottom: y1.max(y0 + 72.0), axis, moves, zoom };
    if let Some(zoom) = zoom {
        let shown: Vec<_> = all.iter().filter(|r| r.rank.is_some_and(|(_, t)| t >= zoom.0 && t <= zoom.1)).collect();
        strip.bottom = magnified(sheet, &shown, zoom, &strip, (left, right), places);
    }
    strip
}

/// The magnified strip, joined to the stretch it shows by two guide lines; returns its lower end.
fn magnified(
    sheet: &mut Sheet,
    shown: &[&Ranked<'_>],
    zoom: (f64, f64),
    strip: &Strip,
    (left, right): (f64, f64),
    places: usize,
) -> f64 {
    let shown = shown.get(..shown.len().min(4)).unwrap_or(shown);
    let height = 32.0;
    let y0 = strip.bottom + 16.0;
    let lanes_top = y0 + 28.0;
    let lanes_bottom = lanes_top + height * shown.len() as f64;
    let bottom = lanes_bottom + 25.0;
    let guide = LineLook::solid(look::FRAME, 1.4);
    let (from, to) = (strip.axis.px(zoom.0).max(left), strip.axis.px(zoom.1).min(right));
    sheet.fill(
        vec![(from, strip.strip_bottom), (to.max(from + 1.0), strip.strip_bottom), (right, y0), (left, y0)],
        look::INSET,
    );
    sheet.line(&[(from, strip.strip_bottom), (left, y0)], guide);
    sheet.line(&[(to, strip.strip_bottom), (right, y0)], guide);
    let frame = Rect::new(left, y0, right, bottom);
    sheet.fill_rect(frame, look::INSET);
    sheet.frame(frame, guide);

    let axis = Axis::new(zoom.0, zoom.1, left, right);
    let ms = Axis::new(1e3 * zoom.0, 1e3 * zoom.1, left, right);
    let mut order: Vec<_> = shown.iter().filter_map(|r| r.rank.map(|(n, t)| (t, n, r.lane))).collect();
    order.sort_by(|a, b| a.0.total_cmp(&b.0));
    let says = match &order[..] {
        [(a, _, first), .., (b, _, last)] => {
            let gap = 1e3 * (b - a);
            let digits = (2.0 - gap.log10().floor()).clamp(0.0, 6.0) as usize;
            format!("Magnified: {} starts to move {gap:.digits$} ms before {}", first.part, last.part)
        }
        _ => "Magnified".into(),
    };
    let says = Text::new(&says, look::HEADING).bold().within(right - left - 24.0);
    sheet.text(says, left + 12.0, y0 + 15.0, Align::Left);
    let label = |t: f64| format!("{:.*} ms", places.saturating_sub(3), 1e3 * t);
    for (i, r) in shown.iter().enumerate() {
        let y = lanes_top + height * i as f64;
        draw_lane(sheet, r, &axis, Rect::new(left, y + 2.0, right, y + height - 2.0), label);
    }
    let ticks = ms.ticks(8);
    for value in &ticks.values {
        let x = crisp(ms.px(*value));
        let text = Text::new(&ticks.label(*value), look::TICK).colour(look::SOFT_INK);
        if x > left + 0.5 * text.width() + 4.0 && x < right - 0.5 * text.width() - 4.0 {
            sheet.line(&[(x, lanes_bottom), (x, lanes_bottom + 5.0)], guide);
            sheet.try_text(&text, &[(x, lanes_bottom + 14.0, Align::Center)]);
        }
    }
    sheet.try_text(&Text::new("time (ms)", look::TICK).bold(), &[(right + 12.0, lanes_bottom + 14.0, Align::Left)]);
    bottom
}

fn draw_lane(sheet: &mut Sheet, r: &Ranked<'_>, axis: &Axis, bar: Rect, label: impl Fn(f64) -> String) {
    let middle = 0.5 * (bar.y0 + bar.y1);
    let room = bar.x0 - MARGIN - 8.0;
    sheet.text(Text::new(&r.lane.part, look::LABEL).bold().within(room), bar.x0 - 10.0, middle, Align::Right);
    for (start, end, phase) in &r.lane.spans {
        if !(start.is_finite() && end.is_finite() && *end >= axis.low && *start <= axis.high) {
            continue;
        }
        let (x0, x1) = (axis.px(start.max(axis.low)), axis.px(end.min(axis.high)));
        // A movement too short for a pixel is drawn one pixel wide: it did happen.
        span(sheet, Rect::new(x0, bar.y0, x1.max(x0 + 1.0).min(bar.x1), bar.y1), *phase);
    }
    if let Some((rank, t)) = r.rank.filter(|(_, t)| axis.shows(*t)) {
        let x = axis.px(t);
        sheet.line(&[(x, bar.y0 - 2.0), (x, bar.y1 + 2.0)], LineLook::solid(look::INK, 2.5));
        let radius = BADGE.min(0.5 * bar.height());
        // The badge hangs on the line of its instant, on the side where the part had not moved yet if there is room.
        let left = x - bar.x0 > 2.0 * radius + 2.0;
        let center = if left { x - radius - 1.0 } else { x + radius + 1.0 };
        sheet.disc((center, middle), radius, look::INK);
        sheet.keep_clear(Rect::new(center - radius - 3.0, bar.y0, center + radius + 3.0, bar.y1));
        let number = Text::new(&rank.to_string(), 1.3 * radius).bold().colour(look::PAPER);
        sheet.text(number, center, middle, Align::Center);
        let after = x + if left { 7.0 } else { 2.0 * radius + 8.0 };
        let before = x - if left { 2.0 * radius + 8.0 } else { 7.0 };
        let time = Text::new(&label(t), look::TICK).on(look::PAPER);
        let width = time.width() + 4.0;
        let mut places = Vec::new();
        if after + width < bar.x1 {
            places.push((after, middle, Align::Left));
        }
        if before - width > bar.x0 {
            places.push((before, middle, Align::Right));
        }
        sheet.text_at_one_of(time, &places);
    }
    for (start, end, phase) in &r.lane.spans {
        let (x0, x1) = (axis.px(start.max(axis.low)), axis.px(end.min(axis.high)));
        let word = Text::new(word(*phase), look::TICK);
        let word = if *phase == Phase::Moving { word.on(look::PAPER) } else { word };
        let width = word.width() + 16.0;
        if x1 - x0 > width {
            let at = |f: f64| (x0 + f * (x1 - x0 - width) + 0.5 * width, middle, Align::Center);
            sheet.clear_text(&word, &[at(0.5), at(0.75), at(0.25), at(1.0)]);
        }
    }
}

fn word(phase: Phase) -> &'static str {
    match phase {
        Phase::Sealed => "sealed",
        Phase::Moving => "part-way",
        Phase::Open => "open",
    }
}

/// One span of a lane. The phases differ in lightness, hatch and height, not in hue alone: a sealed part is a thin
/// bar, an open one a full bar.
fn span(sheet: &mut Sheet, area: Rect, phase: Phase) {
    let thin = Rect { y0: area.y0 + 5.0, y1: area.y1 - 5.0, ..area };
    match phase {
        Phase::Sealed => sheet.fill_rect(thin, look::SEALED),
        Phase::Open => sheet.fill_rect(area, look::OPEN),
        Phase::Moving => {
            sheet.fill_rect(area, look::MOVING);
            let (height, mut x) = (area.height(), area.x0 - area.height());
            let (from, to) = (area.x0 + 1.5, area.x1 - 1.5);
            while x < area.x1 {
                let (a, b) = ((x + 1.5).max(from), (x + height - 1.5).min(to));
                if b > a {
                    sheet.line(&[(a, area.y1 - (a - x)), (b, area.y1 - (b - x))], LineLook::solid(look::HATCH, 2.2));
                }
                x += 10.0;
            }
        }
    }
    let edge = if phase == Phase::Sealed { thin } else { area };
    if edge.width() > 3.0 {
        sheet.frame(Rect { x1: edge.x1 - 1.0, y1: edge.y1 - 1.0, ..edge }, LineLook::solid(look::FRAME, 1.0));
    }
}

/// What the bars mean, beside the strip.
fn key(sheet: &mut Sheet, right: f64, top: f64) {
    for (i, phase) in [Phase::Sealed, Phase::Moving, Phase::Open].into_iter().enumerate() {
        let y = top + 12.0 + 26.0 * i as f64;
        let placed = sheet.try_text(&Text::new(word(phase), look::TICK), &[(right + 64.0, y, Align::Left)]);
        if placed.is_some() {
            span(sheet, Rect::new(right + 19.0, y - 10.0, right + 57.0, y + 10.0), phase);
        }
    }
}
