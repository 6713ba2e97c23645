//! Painting a sheet as SVG or as PNG.

use ab_glyph::{Font, Glyph, point};
use image::codecs::png::{CompressionType, FilterType, PngEncoder};
use image::{ColorType, ImageEncoder};
use plotters::backend::{BitMapBackend, DrawingBackend, SVGBackend};
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{Color, FontDesc, FontFamily, FontStyle, RGBColor, ShapeStyle, TextStyle};

use super::ChartError;
use super::look;
use super::sheet::{Rect, Shape, Sheet};

/// The SVG backend takes whole numbers only, so it is given tenths of a pixel; the header scales them back.
const GRID: f64 = 10.0;

fn grid(v: f64) -> i32 {
    (v * GRID).round() as i32
}

fn corners(r: &Rect) -> Vec<(f64, f64)> {
    vec![(r.x0, r.y0), (r.x1, r.y0), (r.x1, r.y1), (r.x0, r.y1)]
}

fn failed(what: impl std::fmt::Display) -> ChartError {
    ChartError::Encode(what.to_string())
}

/// The sheet as an SVG document.
pub(super) fn svg(sheet: &Sheet) -> Result<String, ChartError> {
    let mut out = String::new();
    let (width, height) = (sheet.width(), sheet.height());
    let (w, h) = (grid(width), grid(height));
    {
        let mut back = SVGBackend::with_string(&mut out, (w as u32, h as u32));
        back.draw_rect((0, 0), (w, h), &look::PAPER.filled(), true).map_err(failed)?;
        let polygon = |back: &mut SVGBackend, points: &[(f64, f64)], colour: &RGBColor| {
            back.fill_polygon(points.iter().map(|p| (grid(p.0), grid(p.1))), &colour.filled()).map_err(failed)
        };
        for shape in &sheet.shapes {
            match shape {
                Shape::Fill(points, colour) => polygon(&mut back, points, colour)?,
                Shape::Line(points, colour, width) => {
                    let style =
                        ShapeStyle { color: colour.to_rgba(), filled: false, stroke_width: grid(*width) as u32 };
                    back.draw_path(points.iter().map(|p| (grid(p.0), grid(p.1))), &style).map_err(failed)?;
                }
                Shape::Disc(c, radius, colour) => back
                    .draw_circle((grid(c.0), grid(c.1)), grid(*radius) as u32, &colour.filled(), true)
                    .map_err(failed)?,
            }
        }
        for label in &sheet.labels {
            if let Some(colour) = label.backing() {
                polygon(&mut back, &corners(&label.area), &colour)?;
            }
            // The backend divides sizes by 1.24 and puts the baseline of a top-anchored text 0.76 em below its point.
            let style = if label.is_bold() { FontStyle::Bold } else { FontStyle::Normal };
            let font = FontDesc::new(FontFamily::Name(look::SVG_FAMILY), label.size() * GRID * 1.24, style);
            let colour = label.colour();
            let style = TextStyle::from(font).color(&colour).pos(Pos::new(HPos::Left, VPos::Top));
            let at = (grid(label.x), grid(label.baseline - 0.76 * label.size()));
            back.draw_text(label.string(), &style, at).map_err(failed)?;
        }
        back.present().map_err(failed)?;
    }
    // Round ends and joins as in the PNG: set once at the root, inherited by every line.
    let plain = format!(r#"width="{w}" height="{h}""#);
    let scaled =
        format!(r#"width="{width}" height="{height}" stroke-linecap="round" stroke-linejoin="round" role="img""#);
    Ok(gathered(&out.replacen(&plain, &scaled, 1)))
}

/// Lines of the same look that follow one another become one path with relative steps, and what is the default anyway is
/// left out: a third of the size, the same picture.
fn gathered(svg: &str) -> String {
    const LINE: &str = "<polyline fill=\"none\" opacity=\"1\" ";
    let parts = |line: &str| {
        let (style, points) = line.strip_prefix(LINE)?.split_once(" points=\"")?;
        Some((style.to_owned(), path_data(points.strip_suffix("\"/>")?)?))
    };
    let mut out = String::with_capacity(svg.len());
    let mut open: Option<String> = None;
    for line in svg.lines() {
        let part = parts(line);
        if open.is_some() && open.as_ref() != part.as_ref().map(|p| &p.0) {
            out.push_str("\"/>\n");
            open = None;
        }
        match part {
            Some((style, data)) => {
                if open.is_none() {
                    out.push_str(&format!("<path fill=\"none\" {style} d=\""));
                    open = Some(style);
                }
                out.push_str(&data);
            }
            None => {
                out.push_str(&line.replacen(" opacity=\"1\"", "", 1));
                out.push('\n');
            }
        }
    }
    if open.is_some() {
        out.push_str("\"/>\n");
    }
    out
}

/// "x,y x,y …" as a path: one move, then steps across, up or down, or both.
fn path_data(points: &str) -> Option<String> {
    let pairs = points.split_whitespace().map(|pair| {
        let (x, y) = pair.split_once(',')?;
        Some((x.parse::<i64>().ok()?, y.parse::<i64>().ok()?))
    });
    let mut data = String::new();
    let mut last: Option<(i64, i64)> = None;
    for pair in pairs {
        let (x, y) = pair?;
        let step = match last {
            None => format!("M{x},{y}"),
            Some((a, b)) if b == y => format!("h{}", x - a),
            Some((a, b)) if a == x => format!("v{}", y - b),
            Some((a, b)) => format!("l{},{}", x - a, y - b),
        };
        data.push_str(&step);
        last = Some((x, y));
    }
    last.map(|_| data)
}

/// The sheet as a PNG file, 8-bit RGB.
pub(super) fn png(sheet: &Sheet) -> Result<Vec<u8>, ChartError> {
    let pixels = painted(sheet)?;
    let mut out = Vec::with_capacity(1 << 18);
    // Most pixels equal their left neighbour, so the fast compressor sees almost only zeros.
    PngEncoder::new_with_quality(&mut out, CompressionType::Fast, FilterType::Sub)
        .write_image(&pixels.rgb, pixels.width as u32, pixels.height as u32, ColorType::Rgb8)
        .map_err(failed)?;
    Ok(out)
}

/// The sheet as 8-bit RGB, row by row.
pub(super) fn rgb(sheet: &Sheet) -> Result<Vec<u8>, ChartError> {
    painted(sheet).map(|pixels| pixels.rgb)
}

/// The sheet as pixels.
fn painted(sheet: &Sheet) -> Result<Pixels, ChartError> {
    let mut pixels = Pixels::new(sheet.width() as usize, sheet.height() as usize);
    for shape in &sheet.shapes {
        match shape {
            Shape::Fill(points, colour) => pixels.polygon(points, *colour)?,
            Shape::Line(points, colour, width) => pixels.line(points, *colour, *width),
            Shape::Disc(center, radius, colour) => pixels.line(&[*center, *center], *colour, 2.0 * radius),
        }
    }
    for label in &sheet.labels {
        if let Some(colour) = label.backing() {
            pixels.polygon(&corners(&label.area), colour)?;
        }
        pixels.text(label.string(), (label.x, label.baseline), label.size(), label.is_bold(), label.colour());
    }
    Ok(pixels)
}

/// An image being painted, with a mask that collects the coverage of one line.
struct Pixels {
    width: usize,
    height: usize,
    rgb: Vec<u8>,
    mask: Vec<f32>,
}

impl Pixels {
    fn new(width: usize, height: usize) -> Self {
        Self { width, height, rgb: vec![255; 3 * width * height], mask: vec![0.0; width * height] }
    }

    fn polygon(&mut self, points: &[(f64, f64)], colour: RGBColor) -> Result<(), ChartError> {
        let mut back = BitMapBackend::with_buffer(&mut self.rgb, (self.width as u32, self.height as u32));
        let whole = |p: &(f64, f64)| (p.0.round() as i32, p.1.round() as i32);
        if let [a, b, c, d] = points {
            // A rectangle ends before the pixel its right and lower edge lie on.
            if a.1 == b.1 && b.0 == c.0 && c.1 == d.1 && d.0 == a.0 {
                return back.draw_rect(whole(a), whole(c), &colour.filled(), true).map_err(failed);
            }
        }
        back.fill_polygon(points.iter().map(whole), &colour.filled()).map_err(failed)
    }

    fn blend(&mut self, x: usize, y: usize, colour: RGBColor, coverage: f32) {
        let start = 3 * (y * self.width + x);
        if let Some(pixel) = self.rgb.get_mut(start..start + 3) {
            for (old, new) in pixel.iter_mut().zip([colour.0, colour.1, colour.2]) {
                *old = (f32::from(*old) + (f32::from(new) - f32::from(*old)) * coverage).round() as u8;
            }
        }
    }

    /// A line with round ends and joins. Coverage of a pixel is taken from its distance to the nearest segment, and
    /// the largest over all segments counts once, so that a line that turns back on itself stays one line.
    fn line(&mut self, points: &[(f64, f64)], colour: RGBColor, width: f64) {
        let r = width.max(1.0) / 2.0;
        let (mut low, mut high) = ((self.width, self.height), (0, 0));
        for pair in points.windows(2) {
            let &[(ax, ay), (bx, by)] = pair else { continue };
            let (dx, dy) = (bx - ax, by - ay);
            let square = dx * dx + dy * dy;
            let reach = r + 1.0;
            let top = (ay.min(by) - reach).floor().clamp(0.0, self.height as f64) as usize;
            let bottom = (ay.max(by) + reach).ceil().clamp(0.0, self.height as f64) as usize;
            for row in top..bottom {
                let y = row as f64 + 0.5;
                // Only the stretch of the segment that passes near this row can cover its pixels.
                let along = |y: f64| if dy.abs() > 1e-9 { ((y - ay) / dy).clamp(0.0, 1.0) } else { f64::NAN };
                let (s, t) = (along(y - reach), along(y + reach));
                let (s, t) = if s.is_nan() || t.is_nan() { (0.0, 1.0) } else { (s, t) };
                let (from, to) = (ax + s * dx, ax + t * dx);
                let left = (from.min(to) - reach).floor().clamp(0.0, self.width as f64) as usize;
                let right = (from.max(to) + reach).ceil().clamp(0.0, self.width as f64) as usize;
                for column in left..right {
                    let (px, py) = (column as f64 + 0.5 - ax, y - ay);
                    let f = if square > 0.0 { ((px * dx + py * dy) / square).clamp(0.0, 1.0) } else { 0.0 };
                    let (ex, ey) = (px - f * dx, py - f * dy);
                    let coverage = (r + 0.5 - (ex * ex + ey * ey).sqrt()).clamp(0.0, 1.0) as f32;
                    if let Some(cell) = self.mask.get_mut(row * self.width + column) {
                        *cell = cell.max(coverage);
                    }
                }
                low = (low.0.min(left), low.1.min(row));
                high = (high.0.max(right), high.1.max(row + 1));
            }
        }
        for row in low.1..high.1 {
            for column in low.0..high.0 {
                let Some(cell) = self.mask.get_mut(row * self.width + column) else { continue };
                let coverage = std::mem::take(cell);
                if coverage > 0.0 {
                    self.blend(column, row, colour, coverage);
                }
            }
        }
    }

    fn text(&mut self, text: &str, at: (f64, f64), size: f64, bold: bool, colour: RGBColor) {
        let Some(font) = look::font(bold) else { return };
        let scale = look::scale(font, size);
        look::walk(text, size, bold, |id, x| {
            let glyph: Glyph = id.with_scale_and_position(scale, point(at.0 as f32 + x, at.1 as f32));
            let Some(outline) = font.outline_glyph(glyph) else { return };
            let bounds = outline.px_bounds();
            outline.draw(|dx, dy, coverage| {
                let (x, y) = (bounds.min.x as i64 + i64::from(dx), bounds.min.y as i64 + i64::from(dy));
                if x >= 0 && y >= 0 && (x as usize) < self.width && (y as usize) < self.height {
                    self.blend(x as usize, y as usize, colour, coverage.clamp(0.0, 1.0));
                }
            });
        });
    }
}
