//! The sheet a chart is laid out on: shapes in painting order, and labels that never overlap.

use plotters::style::RGBColor;

use super::look::{self, LineLook};

/// A rectangle, px from the upper left corner of the chart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rect {
    /// Left.
    pub x0: f64,
    /// Top.
    pub y0: f64,
    /// Right.
    pub x1: f64,
    /// Bottom.
    pub y1: f64,
}

impl Rect {
    /// Rectangle from its left, top, right and bottom.
    pub const fn new(x0: f64, y0: f64, x1: f64, y1: f64) -> Self {
        Self { x0, y0, x1, y1 }
    }

    /// Whether two rectangles share any area.
    pub fn meets(&self, other: &Rect) -> bool {
        self.x0 < other.x1 && other.x0 < self.x1 && self.y0 < other.y1 && other.y0 < self.y1
    }

    /// Whether `other` lies inside, edges included. False for a NaN.
    pub fn holds(&self, other: &Rect) -> bool {
        self.x0 <= other.x0 && other.x1 <= self.x1 && self.y0 <= other.y0 && other.y1 <= self.y1
    }

    /// Width, px.
    pub fn width(&self) -> f64 {
        self.x1 - self.x0
    }

    /// Height, px.
    pub fn height(&self) -> f64 {
        self.y1 - self.y0
    }
}

/// A text on the chart and the box it occupies.
#[derive(Debug, Clone, PartialEq)]
pub struct LabelBox {
    /// The text.
    pub text: String,
    /// Box around it, from the top of tall letters to the bottom of hanging ones.
    pub area: Rect,
    /// Font size, px per em.
    pub size: f64,
}

/// Side of a text that its position names.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Align {
    /// The position is at the left end.
    Left,
    /// The position is in the middle.
    Center,
    /// The position is at the right end.
    Right,
}

/// A text to be placed.
#[derive(Debug, Clone)]
pub struct Text {
    text: String,
    size: f64,
    bold: bool,
    colour: RGBColor,
    backing: Option<RGBColor>,
}

impl Text {
    /// A text of the given size (px per em), regular weight, in [`look::INK`].
    pub fn new(text: &str, size: f64) -> Self {
        Self { text: look::clean(text), size, bold: false, colour: look::INK, backing: None }
    }

    /// The same in bold.
    pub fn bold(mut self) -> Self {
        self.bold = true;
        self
    }

    /// The same in another colour.
    pub fn colour(mut self, colour: RGBColor) -> Self {
        self.colour = colour;
        self
    }

    /// The same on a patch of `colour` that hides the lines below it.
    pub fn on(mut self, colour: RGBColor) -> Self {
        self.backing = Some(colour);
        self
    }

    /// The same cut to a width, px.
    pub fn within(mut self, width: f64) -> Self {
        self.text = look::shortened(&self.text, self.size, self.bold, width);
        self
    }

    /// Width, px.
    pub fn width(&self) -> f64 {
        look::text_width(&self.text, self.size, self.bold)
    }
}

/// A label that has found its place.
#[derive(Debug, Clone)]
pub(super) struct Label {
    pub text: Text,
    pub x: f64,
    pub baseline: f64,
    pub area: Rect,
}

impl Label {
    pub fn string(&self) -> &str {
        &self.text.text
    }
    pub fn size(&self) -> f64 {
        self.text.size
    }
    pub fn is_bold(&self) -> bool {
        self.text.bold
    }
    pub fn colour(&self) -> RGBColor {
        self.text.colour
    }
    pub fn backing(&self) -> Option<RGBColor> {
        self.text.backing
    }
}

/// One thing to paint.
#[derive(Debug, Clone)]
pub(super) enum Shape {
    /// A filled polygon.
    Fill(Vec<(f64, f64)>, RGBColor),
    /// A line through points, dashes already cut.
    Line(Vec<(f64, f64)>, RGBColor, f64),
    /// A filled circle.
    Disc((f64, f64), f64, RGBColor),
}

/// A chart being laid out. Positions are px from the upper left corner.
#[derive(Debug, Clone)]
pub struct Sheet {
    width: f64,
    height: f64,
    pub(super) shapes: Vec<Shape>,
    pub(super) labels: Vec<Label>,
    dropped: Vec<String>,
    avoid: Vec<Rect>,
}

impl Default for Sheet {
    fn default() -> Self {
        Self::sized(look::WIDTH, look::HEIGHT)
    }
}

impl Sheet {
    /// An empty sheet of the usual size, [`look::WIDTH`] by [`look::HEIGHT`].
    pub fn new() -> Self {
        Self::default()
    }

    /// An empty sheet of another size, px; it is kept between 64 and 8000 px, and whole.
    pub fn sized(width: f64, height: f64) -> Self {
        let fit = |v: f64, otherwise: f64| if v.is_finite() { v.clamp(64.0, 8000.0).round() } else { otherwise };
        Self {
            width: fit(width, look::WIDTH),
            height: fit(height, look::HEIGHT),
            shapes: Vec::new(),
            labels: Vec::new(),
            dropped: Vec::new(),
            avoid: Vec::new(),
        }
    }

    /// Width, px.
    pub fn width(&self) -> f64 {
        self.width
    }

    /// Height, px.
    pub fn height(&self) -> f64 {
        self.height
    }

    /// Every label placed so far.
    pub fn label_boxes(&self) -> Vec<LabelBox> {
        let boxed = |l: &Label| LabelBox { text: l.text.text.clone(), area: l.area, size: l.text.size };
        self.labels.iter().map(boxed).collect()
    }

    /// Texts that found no room or were cut.
    pub fn dropped(&self) -> &[String] {
        &self.dropped
    }

    /// Notes a text that could not be shown whole.
    pub fn note_dropped(&mut self, text: &str) {
        self.dropped.push(text.to_string());
    }

    /// Asks later labels to stay off an area if they can.
    pub fn keep_clear(&mut self, area: Rect) {
        self.avoid.push(area);
    }

    /// Places a text at a point: `y` is the middle of its capitals. Returns its box, `None` if there is no room.
    pub fn text(&mut self, text: Text, x: f64, y: f64, align: Align) -> Option<Rect> {
        self.text_at_one_of(text, &[(x, y, align)])
    }

    /// Places a text at the first of several points where it meets no other text and, if possible, no area to keep
    /// clear. Without room it is dropped and noted.
    pub fn text_at_one_of(&mut self, text: Text, places: &[(f64, f64, Align)]) -> Option<Rect> {
        let placed = self.try_text(&text, places);
        if placed.is_none() && !text.text.is_empty() {
            self.dropped.push(text.text);
        }
        placed
    }

    /// As [`Sheet::text_at_one_of`], for a text that repeats what is said elsewhere: no note if there is no room.
    pub fn try_text(&mut self, text: &Text, places: &[(f64, f64, Align)]) -> Option<Rect> {
        self.place(text, places, false)
    }

    /// As [`Sheet::try_text`], but only where it meets no area to keep clear.
    pub fn clear_text(&mut self, text: &Text, places: &[(f64, f64, Align)]) -> Option<Rect> {
        self.place(text, places, true)
    }

    fn place(&mut self, text: &Text, places: &[(f64, f64, Align)], only_clear: bool) -> Option<Rect> {
        if text.text.is_empty() {
            return None;
        }
        let width = text.width();
        let canvas = Rect::new(2.0, 2.0, self.width - 2.0, self.height - 2.0);
        let boxes = places.iter().map(|&(x, y, align)| {
            let left = match align {
                Align::Left => x,
                Align::Center => x - width / 2.0,
                Align::Right => x - width,
            };
            // Capitals of the font are 0.73 em tall; letters reach 0.78 em above and 0.24 em below the baseline.
            let baseline = (y + 0.365 * text.size).round();
            let area =
                Rect::new(left - 2.0, baseline - 0.78 * text.size, left + width + 2.0, baseline + 0.24 * text.size);
            (left, baseline, area)
        });
        let free: Vec<_> = boxes
            .filter(|(_, _, area)| canvas.holds(area) && !self.labels.iter().any(|l| l.area.meets(area)))
            .collect();
        let clear = free.iter().find(|(_, _, area)| !self.avoid.iter().any(|a| a.meets(area)));
        let &(x, baseline, area) = if only_clear { clear? } else { clear.or(free.first())? };
        self.labels.push(Label { text: text.clone(), x, baseline, area });
        Some(area)
    }

    /// Fills a polygon.
    pub fn fill(&mut self, points: Vec<(f64, f64)>, colour: RGBColor) {
        if points.len() > 2 && points.iter().all(|p| drawable(*p)) {
            self.shapes.push(Shape::Fill(points, colour));
        }
    }

    /// Fills a rectangle; its edges go to whole pixels.
    pub fn fill_rect(&mut self, r: Rect, colour: RGBColor) {
        let (x0, y0, x1, y1) = (r.x0.round(), r.y0.round(), r.x1.round(), r.y1.round());
        if x1 > x0 && y1 > y0 {
            self.fill(vec![(x0, y0), (x1, y0), (x1, y1), (x0, y1)], colour);
        }
    }

    /// Draws the outline of a rectangle.
    pub fn frame(&mut self, r: Rect, look: LineLook) {
        let (x0, y0, x1, y1) = (crisp(r.x0), crisp(r.y0), crisp(r.x1), crisp(r.y1));
        self.line(&[(x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0)], look);
    }

    /// Fills a circle.
    pub fn disc(&mut self, center: (f64, f64), radius: f64, colour: RGBColor) {
        if drawable(center) {
            self.shapes.push(Shape::Disc(center, radius, colour));
        }
    }

    /// Draws a line through points in a look; a point that is not finite ends the line.
    pub fn line(&mut self, points: &[(f64, f64)], look: LineLook) {
        for run in points.split(|p| !drawable(*p)) {
            if look.dash.is_empty() {
                if run.len() > 1 {
                    self.shapes.push(Shape::Line(run.to_vec(), look.colour, look.width));
                }
            } else {
                for dash in dashes(run, look.dash, look.width) {
                    self.shapes.push(Shape::Line(dash, look.colour, look.width));
                }
            }
        }
    }
}

fn drawable(p: (f64, f64)) -> bool {
    p.0.abs() < 1e5 && p.1.abs() < 1e5
}

/// Middle of the pixel a coordinate falls in: a thin straight line there stays sharp.
pub(super) fn crisp(v: f64) -> f64 {
    v.floor() + 0.5
}

/// Cuts a line into dashes. Ends are round, so a dash is shortened by the width of the line; a dot is a short stub.
fn dashes(points: &[(f64, f64)], pattern: &[f64], width: f64) -> Vec<Vec<(f64, f64)>> {
    let mut out = Vec::new();
    let total: f64 = pattern.iter().sum();
    if total.is_nan() || total < 1.0 || points.len() < 2 {
        return out;
    }
    let (mut part, mut on, mut current) = (0, true, Vec::new());
    let length = |part: usize| {
        let length = pattern.get(part % pattern.len()).copied().unwrap_or(total);
        let cap = if length > 0.0 { width.min(length - 0.5) } else { -0.2 };
        if part.is_multiple_of(2) { length - cap } else { length + cap.max(0.0) }
    };
    let mut left = length(0);
    for pair in points.windows(2) {
        let &[(ax, ay), (bx, by)] = pair else { continue };
        let span = (bx - ax).hypot(by - ay);
        let mut done = 0.0;
        if on && current.is_empty() {
            current.push((ax, ay));
        }
        while span - done > left {
            done += left;
            let at = (ax + (bx - ax) * done / span, ay + (by - ay) * done / span);
            if on {
                current.push(at);
                out.push(std::mem::take(&mut current));
            } else {
                current.push(at);
            }
            on = !on;
            part += 1;
            left = length(part);
        }
        left -= span - done;
        if on {
            current.push((bx, by));
        }
    }
    if on && current.len() > 1 {
        out.push(current);
    }
    out
}
