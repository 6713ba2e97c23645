//! The moving picture: sections of one or more assemblies in slow motion, with a clock and a pressure trace, as an
//! animated GIF or as one sheet per frame.
//!
//! Choices, and why:
//! - Frames are equally far apart in time; how much slower than life they play stands beside the clock.
//! - All frames share one palette made of our own colours, so nothing is dithered, and each frame holds only the pixels
//!   that changed: hatches and text stay sharp and the file small.

use super::axis::{Panel, TAG_INDENT, Tag};
use super::look::{self, LineLook, MARGIN};
use super::moments::{MomentCell, arrow_scale, one, room_above};
use super::page::Page;
use super::plot::{self, AxisSpec};
use super::section::{ArrowScale, Drawing, Placement, SectionShape, scale_arrow, section};
use super::sequence::Trace;
use super::sheet::{Align, Rect, Sheet, Text};
use super::{ChartError, paint};

/// One frame.
#[derive(Debug, Clone, PartialEq)]
pub struct MovieFrame {
    /// Its instant, s.
    pub time: f64,
    /// The clock's words, for example "0.312 s".
    pub clock: String,
    /// One cell per assembly.
    pub cells: Vec<MomentCell>,
}

/// A moving picture.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MoviePicture {
    /// Title, conditions, foot; the conditions are not shown.
    pub page: Page,
    /// Names and dimensions of the assemblies.
    pub columns: Vec<(String, SectionShape)>,
    /// The frames.
    pub frames: Vec<MovieFrame>,
    /// Times of the traces, s.
    pub time: Vec<f64>,
    /// Gauge pressures against time.
    pub traces: Vec<Trace>,
    /// What the traces show, with their unit.
    pub y_name: String,
    /// The stretch of time shown, s.
    pub window: (f64, f64),
    /// How much slower than life, in words, for example "20 times slower than life".
    pub pace: String,
    /// Flow of the arrow in the key, m3/s, with its words.
    pub key_flow: (f64, String),
    /// What a full cup holds, m3, with its words.
    pub cup: (f64, String),
}

/// Width of a frame, px.
const WIDE: f64 = 1000.0;
/// Height of the pressure trace with its axis, px.
const TRACE: f64 = 190.0;
/// Frames per second.
const RATE: f64 = 12.0;

/// What all frames have in common.
struct Stage {
    above: f64,
    scale: f64,
    lowest: f64,
    highest: f64,
    width: f64,
    height: f64,
    arrows: ArrowScale,
}

fn stage(picture: &MoviePicture) -> Stage {
    let number = picture.columns.len().clamp(1, 3) as f64;
    let width = (WIDE - 2.0 * MARGIN - 14.0 * (number - 1.0)) / number;
    // A moving part moves inside the walls: two frames tell the bounds, but a screw or a stem may stick out between.
    let drawn: Vec<Drawing> = picture
        .frames
        .iter()
        .flat_map(|f| picture.columns.iter().zip(&f.cells).map(|((_, shape), cell)| section(shape, &cell.state)))
        .collect();
    let most = |get: fn(&Drawing) -> f64| drawn.iter().map(get).fold(1e-3, f64::max);
    let lowest = drawn.iter().map(|d| d.bounds.1).fold(-1e-3, f64::min);
    let (widest, highest) = (most(|d| d.bounds.2 - d.bounds.0), most(|d| d.bounds.3));
    let scale = ((width - 8.0) / widest).min(400.0 / (highest - lowest));
    let above = room_above(picture.columns.iter().map(|c| &c.1), width);
    Stage {
        above,
        scale,
        lowest,
        highest,
        width,
        height: above + scale * (highest - lowest) + 14.0,
        arrows: arrow_scale(picture.frames.iter().flat_map(|f| &f.cells), width.min(570.0)),
    }
}

/// Lays out every frame as a sheet of its own, calling `each` with its number; stops at the first error of `each`.
///
/// # Errors
/// What `each` returns.
pub fn each_frame<E>(picture: &MoviePicture, mut each: impl FnMut(usize, Sheet) -> Result<(), E>) -> Result<(), E> {
    let stage = stage(picture);
    for (i, frame) in picture.frames.iter().enumerate() {
        each(i, lay_out(picture, frame, &stage))?;
    }
    Ok(())
}

fn lay_out(picture: &MoviePicture, frame: &MovieFrame, stage: &Stage) -> Sheet {
    // In narrow columns what is the matter stands below the name.
    let stacked = picture.columns.len() > 2;
    let names = match picture.columns.len() {
        0 | 1 => 0.0,
        2 => 30.0,
        _ => 54.0,
    };
    let fit = WIDE - 2.0 * MARGIN;
    let title = look::clean(&picture.page.title);
    let (lines, cut) = look::wrapped(&title, 21.0, true, fit, 2);
    let head = 52.0 + 26.0 * lines.len().max(1) as f64;
    let mut foot: Vec<String> = Vec::new();
    for entry in &picture.page.foot {
        foot.extend(look::wrapped(&look::clean(entry), look::FOOT, false, fit, 2).0);
    }
    foot.truncate(6);
    let below = 20.0 * foot.len() as f64 + 8.0;
    let mut sheet = Sheet::sized(WIDE, head + names + stage.height + TRACE + below);
    if cut {
        sheet.note_dropped(&title);
    }
    for (i, line) in lines.iter().enumerate() {
        sheet.text(Text::new(line, 21.0).bold(), MARGIN, 19.0 + 26.0 * i as f64, Align::Left);
    }
    let row = head - 25.0;
    let clock = sheet.text(Text::new(&frame.clock, 26.0).bold(), MARGIN, row, Align::Left).map_or(MARGIN, |r| r.x1);
    let pace = sheet.text(Text::new(&picture.pace, look::TICK), clock + 16.0, row + 2.0, Align::Left);
    let x = pace.map_or(clock, |r| r.x1) + 26.0;
    let long = scale_arrow(&mut sheet, (x, row + 2.0), picture.key_flow.0, &stage.arrows, false);
    let key = format!("water, {} · full cup: {}", picture.key_flow.1, picture.cup.1);
    sheet.text(Text::new(&key, look::TICK).within(WIDE - x - long - 30.0), x + long + 9.0, row + 2.0, Align::Left);
    let top = head + names;
    for (i, ((name, shape), cell)) in picture.columns.iter().zip(&frame.cells).take(3).enumerate() {
        let x = MARGIN + i as f64 * (stage.width + 14.0);
        if names > 0.0 {
            let name = Text::new(name, 19.0).bold().within(stage.width);
            let end = sheet.text(name, x, head + 10.0, Align::Left).map_or(x, |r| r.x1) + 12.0;
            let (from, y) = if stacked { (x, head + 35.0) } else { (end, head + 11.0) };
            let note = Text::new(&cell.note, look::TICK).within((x + stage.width - from).max(0.0));
            sheet.text(note, from, y, Align::Left);
        }
        let drawing = section(shape, &cell.state);
        let bounds = (drawing.bounds.0, stage.lowest, drawing.bounds.2, stage.highest);
        let area = Rect::new(x, top, x + stage.width, top + stage.height);
        let at = Placement::centered(bounds, Rect { y0: top + stage.above, ..area }, stage.scale);
        one(&mut sheet, shape, cell, &drawing, &at, area, &stage.arrows, picture.cup.0);
    }
    let y = top + stage.height + 4.0;
    trace(&mut sheet, picture, frame.time, Rect::new(MARGIN, y, WIDE - MARGIN, y + TRACE - 6.0));
    for (i, line) in foot.iter().enumerate() {
        let text = Text::new(line, look::FOOT).colour(look::SOFT_INK);
        sheet.text(text, MARGIN, y + TRACE + 8.0 + 20.0 * i as f64, Align::Left);
    }
    sheet
}

/// The pressures with a line at this instant.
fn trace(sheet: &mut Sheet, picture: &MoviePicture, now: f64, outer: Rect) {
    let x = AxisSpec::new("time (s)", picture.window.0, picture.window.1);
    let seen = |t: &f64| *t >= picture.window.0 && *t <= picture.window.1;
    let shown = picture.traces.iter().flat_map(|trace| picture.time.iter().zip(&trace.values));
    let y = AxisSpec::around("", shown.filter(|(t, _)| seen(t)).map(|(_, v)| *v), true);
    let names = picture.traces.iter().map(|t| look::text_width(&look::clean(&t.label), look::LABEL, false));
    let tags = names.fold(0.0, f64::max).min(260.0) + TAG_INDENT + 4.0;
    let panel: Panel = plot::plot(sheet, outer, &picture.y_name, &x, &y, tags);
    let mut ends = Vec::new();
    for (i, trace) in picture.traces.iter().enumerate() {
        let look = LineLook::of(i);
        let end =
            panel.draw_curve(sheet, &picture.time, &trace.values, LineLook { width: 0.75 * look.width, ..look }, false);
        ends.push(Tag { text: trace.label.clone(), look, y: end });
    }
    panel.draw_tags_within(sheet, ends, outer.x1);
    let (a, at) = (panel.area, panel.x.px(now.max(picture.window.0).min(picture.window.1)));
    if at.is_finite() {
        sheet.line(&[(at, a.y0 - 4.0), (at, a.y1)], LineLook::solid(look::INK, 2.4));
        sheet.fill(vec![(at - 8.0, a.y0 - 14.0), (at + 8.0, a.y0 - 14.0), (at, a.y0 - 2.0)], look::INK);
    }
}

/// The moving picture as an animated GIF that plays without end; `progress` hears how many frames are done.
///
/// # Errors
/// [`ChartError::Encode`] if the encoder refuses, or if there is no frame.
pub fn encode_gif(picture: &MoviePicture, mut progress: impl FnMut(usize)) -> Result<Vec<u8>, ChartError> {
    let failed = |e: gif::EncodingError| ChartError::Encode(e.to_string());
    let stage = stage(picture);
    let palette = Palette::new();
    let mut out: Vec<u8> = Vec::with_capacity(1 << 21);
    let mut encoder: Option<gif::Encoder<&mut Vec<u8>>> = None;
    let mut writer = Some(&mut out);
    let mut before: Vec<u8> = Vec::new();
    let workers = std::thread::available_parallelism().map_or(1, |n| n.get().min(8));
    for (batch, frames) in picture.frames.chunks(2 * workers).enumerate() {
        for (i, painted) in paint_all(picture, frames, &stage, &palette, workers).into_iter().enumerate() {
            let (width, height, indices) = painted?;
            if let Some(writer) = writer.take() {
                let mut new = gif::Encoder::new(writer, width, height, &palette.bytes()).map_err(failed)?;
                new.set_repeat(gif::Repeat::Infinite).map_err(failed)?;
                encoder = Some(new);
            }
            let number = batch * 2 * workers + i;
            let last = number + 1 == picture.frames.len();
            let frame = gif::Frame {
                // Hundredths of a second; the last frame stays a while.
                delay: if last { 250 } else { (100.0 / RATE).round() as u16 },
                dispose: gif::DisposalMethod::Keep,
                transparent: Some(TRANSPARENT),
                width,
                height,
                buffer: std::borrow::Cow::Owned(changed(&before, &indices)),
                ..gif::Frame::default()
            };
            if let Some(encoder) = &mut encoder {
                encoder.write_frame(&frame).map_err(failed)?;
            }
            before = indices;
            progress(number + 1);
        }
    }
    if encoder.is_none() {
        return Err(ChartError::Encode("a moving picture without frames".into()));
    }
    drop(encoder);
    Ok(out)
}

/// A painted frame: width, height, and the palette's index of every pixel.
type Painted = Result<(u16, u16, Vec<u8>), ChartError>;

/// Paints frames side by side on as many threads as there are workers.
fn paint_all(
    picture: &MoviePicture,
    frames: &[MovieFrame],
    stage: &Stage,
    palette: &Palette,
    workers: usize,
) -> Vec<Painted> {
    let paint_one = |frame: &MovieFrame| -> Painted {
        let sheet = lay_out(picture, frame, stage);
        let rgb = paint::rgb(&sheet)?;
        let indices = rgb.chunks_exact(3).map(|p| palette.index(p)).collect();
        Ok((sheet.width() as u16, sheet.height() as u16, indices))
    };
    let share = frames.len().div_ceil(workers.max(1)).max(1);
    std::thread::scope(|scope| {
        let handles: Vec<_> =
            frames.chunks(share).map(|part| scope.spawn(|| part.iter().map(paint_one).collect::<Vec<_>>())).collect();
        let lost = || vec![Err(ChartError::Encode("a frame could not be painted".into()))];
        handles.into_iter().flat_map(|h| h.join().unwrap_or_else(|_| lost())).collect()
    })
}

/// Index of the palette that leaves a pixel as it was.
const TRANSPARENT: u8 = 255;

/// `now` with every pixel that is as it was `before` made transparent.
fn changed(before: &[u8], now: &[u8]) -> Vec<u8> {
    if before.len() != now.len() {
        return now.to_vec();
    }
    now.iter().zip(before).map(|(n, b)| if n == b { TRANSPARENT } else { *n }).collect()
}

/// 255 colours: a cube of 6 x 6 x 6 and 39 greys; each looked up by the upper five bits of every channel.
struct Palette {
    colours: Vec<[u8; 3]>,
    nearest: Vec<u8>,
}

impl Palette {
    fn new() -> Self {
        let steps = [0u8, 51, 102, 153, 204, 255];
        let mut colours: Vec<[u8; 3]> = Vec::with_capacity(255);
        for r in steps {
            for g in steps {
                colours.extend(steps.map(|b| [r, g, b]));
            }
        }
        colours.extend(super::section::colours().map(|c| [c.0, c.1, c.2]));
        let mut grey = 8u8;
        while colours.len() < 255 {
            colours.push([grey, grey, grey]);
            grey = grey.wrapping_add(9);
        }
        colours.truncate(255);
        let nearest = (0..32_768usize).map(|key| {
            // The middle of the bucket, with white and black kept whole.
            let channel = |shift: usize| {
                let v = (key >> shift) & 31;
                (v * 255 / 31) as i32
            };
            let wanted = [channel(10), channel(5), channel(0)];
            let far = |c: &[u8; 3]| -> i32 { c.iter().zip(wanted).map(|(a, b)| (i32::from(*a) - b).pow(2)).sum() };
            let best = colours.iter().enumerate().min_by_key(|(_, c)| far(c));
            best.map_or(0, |(i, _)| i as u8)
        });
        let mut nearest: Vec<u8> = nearest.collect();
        for (i, c) in colours.iter().enumerate().rev() {
            if let Some(slot) = nearest.get_mut(key(c)) {
                *slot = i as u8;
            }
        }
        // Paper is the most frequent of all.
        if let (Some(slot), Some(white)) = (nearest.get_mut(32_767), colours.iter().position(|c| *c == [255; 3])) {
            *slot = white as u8;
        }
        Self { colours, nearest }
    }

    fn bytes(&self) -> Vec<u8> {
        self.colours.iter().flatten().copied().chain([255, 0, 255]).collect()
    }

    fn index(&self, rgb: &[u8]) -> u8 {
        self.nearest.get(key(rgb)).copied().unwrap_or(0)
    }
}

fn key(rgb: &[u8]) -> usize {
    rgb.iter().fold(0, |key, c| (key << 5) | usize::from(c >> 3))
}
