//! One look for all charts: sizes, colours, line styles, and the font with its measures.
//!
//! Colours are picked so that neighbours differ in lightness as well as in hue, and every line has its own dash and
//! width: a chart must be readable in greyscale and for colour-blind viewers. All text is dark on light, except the
//! numbers in the dark badges.

use std::sync::OnceLock;

use ab_glyph::{Font, FontRef, GlyphId, PxScale, ScaleFont};
use plotters::style::RGBColor;

/// Width of a chart, px.
pub const WIDTH: f64 = 1200.0;
/// Height of a chart, px.
pub const HEIGHT: f64 = 1000.0;
/// Space kept free along the edges, px.
pub const MARGIN: f64 = 22.0;

/// Title, px.
pub const TITLE: f64 = 26.0;
/// Subtitle, px.
pub const SUBTITLE: f64 = 17.0;
/// Panel heading, px.
pub const HEADING: f64 = 18.0;
/// Names of lanes and curves, px.
pub const LABEL: f64 = 18.0;
/// Tick labels and other small text in a panel, px.
pub const TICK: f64 = 16.0;
/// Foot of the chart, px: the smallest text there is.
pub const FOOT: f64 = 14.0;

/// Text.
pub const INK: RGBColor = RGBColor(27, 27, 27);
/// Text of less weight: foot, ticks.
pub const SOFT_INK: RGBColor = RGBColor(66, 66, 66);
/// Paper.
pub const PAPER: RGBColor = RGBColor(255, 255, 255);
/// Grid lines.
pub const GRID: RGBColor = RGBColor(222, 222, 222);
/// Axis lines and frames.
pub const FRAME: RGBColor = RGBColor(110, 110, 110);
/// Background of an inset.
pub const INSET: RGBColor = RGBColor(245, 245, 240);
/// Filled area below a curve.
pub const WASH: RGBColor = RGBColor(200, 222, 240);

/// Bar of a part that is sealed.
pub const SEALED: RGBColor = RGBColor(226, 226, 226);
/// Bar of a part that moves, between the hatch lines.
pub const MOVING: RGBColor = RGBColor(255, 243, 205);
/// Hatch lines of a part that moves.
pub const HATCH: RGBColor = RGBColor(150, 75, 0);
/// Bar of a part that is open.
pub const OPEN: RGBColor = RGBColor(116, 184, 230);

/// Line colours.
pub const COLOURS: [RGBColor; 6] = [
    RGBColor(10, 76, 139),
    RGBColor(196, 80, 10),
    RGBColor(40, 40, 40),
    RGBColor(107, 48, 116),
    RGBColor(20, 122, 100),
    RGBColor(128, 96, 0),
];

/// Widths (px) and dashes (px on, px off, …; empty is solid; 0 on is a round dot) that go with the colours.
const STROKES: [(f64, &[f64]); 6] = [
    (4.0, &[]),
    (3.4, &[15.0, 9.0]),
    (3.2, &[0.0, 7.0]),
    (1.8, &[]),
    (3.0, &[18.0, 8.0, 0.0, 8.0]),
    (2.0, &[7.0, 5.0]),
];

/// How a line is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LineLook {
    /// Colour.
    pub colour: RGBColor,
    /// Width, px.
    pub width: f64,
    /// Dash lengths (px on, px off, …); empty is a solid line; a length of 0 on is a round dot.
    pub dash: &'static [f64],
}

impl LineLook {
    /// Look of the `index`-th curve of a panel; repeats after six.
    pub fn of(index: usize) -> Self {
        Self::mixed(index, index)
    }

    /// Colour of one curve with the stroke of another, for a second family of curves on the same chart.
    pub fn mixed(colour: usize, stroke: usize) -> Self {
        let colour = COLOURS.get(colour % COLOURS.len()).copied().unwrap_or(INK);
        let (width, dash) = STROKES.get(stroke % STROKES.len()).copied().unwrap_or((2.0, &[]));
        Self { colour, width, dash }
    }

    /// A solid line.
    pub const fn solid(colour: RGBColor, width: f64) -> Self {
        Self { colour, width, dash: &[] }
    }

    /// A dashed line.
    pub const fn dashed(colour: RGBColor, width: f64, dash: &'static [f64]) -> Self {
        Self { colour, width, dash }
    }
}

/// Family named in an SVG: the measured font first, then one of nearly the same widths.
pub const SVG_FAMILY: &str = "DejaVu Sans, Bitstream Vera Sans, Verdana, sans-serif";

/// The embedded font, `None` only if the embedded bytes are no font.
pub(super) fn font(bold: bool) -> Option<&'static FontRef<'static>> {
    static REGULAR: OnceLock<Option<FontRef<'static>>> = OnceLock::new();
    static BOLD: OnceLock<Option<FontRef<'static>>> = OnceLock::new();
    let load = |bytes| FontRef::try_from_slice(bytes).ok();
    if bold {
        BOLD.get_or_init(|| load(dejavu::sans::bold())).as_ref()
    } else {
        REGULAR.get_or_init(|| load(dejavu::sans::regular())).as_ref()
    }
}

/// Scale at which one em of the font is `size` px, as in SVG and CSS.
///
/// `ab_glyph` scales by ascent + descent instead, which is 1.164 em for this font.
pub(super) fn scale(font: &FontRef<'static>, size: f64) -> PxScale {
    PxScale::from(size as f32 * font.height_unscaled() / font.units_per_em().unwrap_or(2048.0))
}

/// Calls `each` with every glyph of `text` and its distance from the start of the line, px; returns the width, px.
pub(super) fn walk(text: &str, size: f64, bold: bool, mut each: impl FnMut(GlyphId, f32)) -> f64 {
    let Some(font) = font(bold) else { return 0.6 * size * text.chars().count() as f64 };
    let scaled = font.as_scaled(scale(font, size));
    let mut x = 0.0;
    let mut last = None;
    for c in text.chars() {
        let id = font.glyph_id(c);
        if let Some(last) = last {
            x += scaled.kern(last, id);
        }
        each(id, x);
        x += scaled.h_advance(id);
        last = Some(id);
    }
    f64::from(x)
}

/// Width of one line of text in the embedded font, px.
pub fn text_width(text: &str, size: f64, bold: bool) -> f64 {
    walk(text, size, bold, |_, _| {})
}

/// `text` on one line, with control characters turned into spaces (they would break an SVG).
pub fn clean(text: &str) -> String {
    let allowed = |c: char| !c.is_control() && !matches!(c, '\u{fffe}' | '\u{ffff}' | '\u{2028}' | '\u{2029}');
    text.chars().map(|c| if allowed(c) { c } else { ' ' }).collect::<String>().trim().to_string()
}

/// `text`, or as much of it as fits `width` px followed by an ellipsis.
pub fn shortened(text: &str, size: f64, bold: bool, width: f64) -> String {
    if text_width(text, size, bold) <= width {
        return text.to_string();
    }
    let room = width - text_width("…", size, bold);
    let mut kept = String::new();
    // A line of any width holds fewer characters than px, so a text of any length is cut in bounded time.
    for c in text.chars().take(width.clamp(0.0, 4000.0) as usize) {
        kept.push(c);
        if text_width(&kept, size, bold) > room {
            kept.pop();
            break;
        }
    }
    format!("{}…", kept.trim_end())
}

/// `text` broken at spaces into at most `lines` lines of `width` px, and whether it had to be cut short.
pub fn wrapped(text: &str, size: f64, bold: bool, width: f64, lines: usize) -> (Vec<String>, bool) {
    let mut out: Vec<String> = Vec::new();
    let mut line = String::new();
    let mut words = text.split_whitespace().peekable();
    while let Some(word) = words.next() {
        let longer = if line.is_empty() { word.to_string() } else { format!("{line} {word}") };
        if text_width(&longer, size, bold) <= width || line.is_empty() {
            line = longer;
        } else if out.len() + 1 >= lines {
            // The last line takes one word too many, which puts the ellipsis where the cut is.
            line = longer;
            words = "".split_whitespace().peekable();
        } else {
            out.push(std::mem::replace(&mut line, word.to_string()));
        }
    }
    if !line.is_empty() {
        out.push(line);
    }
    let short: Vec<String> = out.iter().take(lines.max(1)).map(|l| shortened(l, size, bold, width)).collect();
    let cut = short != out;
    (short, cut)
}
