//! Putting a section on a sheet: fills, hatches, arrows, words.

use super::{Anchors, Coil, Drawing, Piece, Point, Role, SectionState};
use crate::charts::look::{self, LineLook};
use crate::charts::sheet::{Align, Rect, Sheet, Text};
use plotters::style::RGBColor;

/// Where a drawing stands on a sheet and how large: px of its origin, and px per metre.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Placement {
    /// Pixel of the origin, from the left.
    pub x: f64,
    /// Pixel of the origin, from the top.
    pub y: f64,
    /// Pixels per metre.
    pub scale: f64,
}

impl Placement {
    /// The largest placement that keeps `bounds` (left, bottom, right, top in m) inside an area, in its middle.
    pub fn fit(bounds: (f64, f64, f64, f64), area: Rect) -> Placement {
        let (w, h) = ((bounds.2 - bounds.0).max(1e-6), (bounds.3 - bounds.1).max(1e-6));
        Self::centered(bounds, area, (area.width() / w).min(area.height() / h))
    }

    /// A placement of a given scale, in the middle of an area.
    pub fn centered(bounds: (f64, f64, f64, f64), area: Rect, scale: f64) -> Placement {
        let middle = (0.5 * (bounds.0 + bounds.2), 0.5 * (bounds.1 + bounds.3));
        Placement {
            x: 0.5 * (area.x0 + area.x1) - scale * middle.0,
            y: 0.5 * (area.y0 + area.y1) + scale * middle.1,
            scale,
        }
    }

    /// Pixel of a point.
    pub fn px(&self, p: Point) -> (f64, f64) {
        (self.x + self.scale * p.0, self.y - self.scale * p.1)
    }
}

/// Length of an arrow for a flow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ArrowScale {
    /// Pixels per m3/s.
    pub px_per_m3_s: f64,
    /// Longest arrow, px; a longer one is cut there and marked by a double head.
    pub longest: f64,
}

/// Words around a section.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SectionWords {
    /// Lines at the upper left, each with the place it speaks of.
    pub left: Vec<(String, Option<Point>)>,
    /// Lines at the lower right.
    pub right: Vec<(String, Option<Point>)>,
    /// Above the shutoffs.
    pub shutoffs: [String; 2],
}

/// Height of a line of words, in sizes.
pub(crate) const LINE: f64 = 1.28;

const WATER: RGBColor = RGBColor(196, 223, 243);
const WATER_LINES: RGBColor = RGBColor(70, 130, 185);
const AIR_DOTS: RGBColor = RGBColor(150, 150, 150);
const WATER_ARROW: RGBColor = RGBColor(10, 60, 120);

/// Distance of the lines in water and of the dots in air, px.
const HATCH: f64 = 9.0;
const DOTS: f64 = 16.0;

/// Fill and whether there is an outline.
fn look_of(role: Role) -> (RGBColor, bool) {
    match role {
        Role::Body => (RGBColor(166, 166, 166), false),
        Role::Housing => (RGBColor(186, 186, 186), true),
        Role::Ball => (RGBColor(112, 112, 112), true),
        Role::Insert => (RGBColor(226, 208, 160), true),
        Role::Check => (RGBColor(214, 96, 20), true),
        Role::AirInlet => (RGBColor(122, 58, 132), true),
        Role::Stem => (RGBColor(122, 58, 132), true),
        Role::Rubber => (RGBColor(35, 35, 35), false),
        Role::Fitting => (RGBColor(200, 200, 200), true),
        Role::FittingPart => (RGBColor(90, 90, 90), true),
        Role::Canopy => (RGBColor(205, 205, 205), true),
        Role::Water => (WATER, false),
        Role::Air => (look::PAPER, false),
    }
}

/// Colours of all roles, for a palette.
pub(crate) fn colours() -> [RGBColor; 12] {
    let of = |role| look_of(role).0;
    [
        of(Role::Body),
        of(Role::Housing),
        of(Role::Ball),
        of(Role::Insert),
        of(Role::Check),
        of(Role::AirInlet),
        of(Role::Rubber),
        of(Role::Fitting),
        of(Role::Canopy),
        WATER,
        WATER_LINES,
        WATER_ARROW,
    ]
}

/// Paints a section with its arrows.
pub fn paint_section(sheet: &mut Sheet, drawing: &Drawing, state: &SectionState, at: &Placement, arrows: &ArrowScale) {
    for piece in &drawing.fluids {
        fluid(sheet, piece, at);
    }
    for piece in &drawing.solids {
        solid(sheet, piece, at);
    }
    for coil in &drawing.coils {
        spring(sheet, coil, at);
    }
    flows(sheet, &drawing.anchors, state, at, arrows);
}

fn fluid(sheet: &mut Sheet, piece: &Piece, at: &Placement) {
    let points: Vec<_> = piece.points.iter().map(|p| at.px(*p)).collect();
    sheet.fill(points.clone(), look_of(piece.role).0);
    let (low, high) = points.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), p| (l.min(p.1), h.max(p.1)));
    if piece.role == Role::Water {
        each_row(low, high, HATCH, |_, y| {
            for (a, b) in spans(&points, y) {
                if b - a > 3.0 {
                    sheet.line(&[(a + 1.0, y), (b - 1.0, y)], LineLook::solid(WATER_LINES, 1.3));
                }
            }
        });
    } else {
        each_row(low, high, DOTS, |row, y| {
            for (a, b) in spans(&points, y) {
                let shift = if row % 2 == 0 { 0.0 } else { 0.5 * DOTS };
                let mut x = ((a + 2.0 - shift) / DOTS).ceil() * DOTS + shift;
                while x < b - 2.0 {
                    sheet.line(&[(x, y), (x + 0.5, y)], LineLook::solid(AIR_DOTS, 2.4));
                    x += DOTS;
                }
            }
        });
    }
}

/// Calls `each` with the number and height of every row of a grid of the whole sheet between two heights.
fn each_row(low: f64, high: f64, step: f64, mut each: impl FnMut(i64, f64)) {
    if !(high - low < 1e4) {
        return;
    }
    let first = ((low + 1.0) / step).ceil() as i64;
    let last = ((high - 1.0) / step).floor() as i64;
    for row in first..=last {
        each(row, row as f64 * step);
    }
}

/// Where a horizontal line runs inside a polygon.
fn spans(points: &[(f64, f64)], y: f64) -> Vec<(f64, f64)> {
    let mut cuts: Vec<f64> = Vec::new();
    for (i, a) in points.iter().enumerate() {
        let Some(b) = points.get((i + 1) % points.len()) else { continue };
        if (a.1 <= y) != (b.1 <= y) {
            cuts.push(a.0 + (y - a.1) / (b.1 - a.1) * (b.0 - a.0));
        }
    }
    cuts.sort_by(f64::total_cmp);
    cuts.chunks_exact(2).filter_map(|c| Some((*c.first()?, *c.last()?))).collect()
}

fn solid(sheet: &mut Sheet, piece: &Piece, at: &Placement) {
    let mut points: Vec<_> = piece.points.iter().map(|p| at.px(*p)).collect();
    let (fill, outlined) = look_of(piece.role);
    sheet.fill(points.clone(), fill);
    points.extend(points.first().copied());
    // A thin edge of the piece's own colour closes the seams between neighbours.
    let look = if outlined { LineLook::solid(look::INK, 1.3) } else { LineLook::solid(fill, 1.0) };
    sheet.line(&points, look);
}

fn spring(sheet: &mut Sheet, coil: &Coil, at: &Placement) {
    let points: Vec<_> = coil.points.iter().map(|p| at.px(*p)).collect();
    sheet.line(&points, LineLook::solid(look::PAPER, 4.6));
    sheet.line(&points, LineLook::solid(look::INK, 2.4));
}

/// Arrows of the flows: water solid, air hollow.
fn flows(sheet: &mut Sheet, anchors: &Anchors, state: &SectionState, at: &Placement, scale: &ArrowScale) {
    let [inflow, check, outflow, spill] = state.water;
    let mut water = |from: Point, way: (f64, f64), flow: f64| {
        let (flow, way) = if flow < 0.0 { (-flow, (-way.0, -way.1)) } else { (flow, way) };
        arrow(sheet, at.px(from), way, flow, scale, false);
    };
    water(anchors.supply, (1.0, 0.0), inflow);
    water(anchors.outlet, (1.0, 0.0), outflow);
    // The check's arrow ends in its port, however long it is.
    let long = (check.abs() * scale.px_per_m3_s).min(scale.longest);
    let port = at.px(anchors.port);
    let foot = if check > 0.0 { (port.0, port.1 + long) } else { port };
    let way = if check < 0.0 { (0.0, 1.0) } else { (0.0, -1.0) };
    arrow(sheet, foot, way, check.abs(), scale, false);
    let vent = at.px(anchors.vent);
    arrow(sheet, vent, (1.0, 0.0), spill.max(0.0), scale, false);
    let air = state.vent_air;
    let above = (vent.0, vent.1 - 13.0);
    if air >= 0.0 {
        arrow(sheet, above, (1.0, 0.0), air, scale, true);
    } else {
        let long = (-air * scale.px_per_m3_s).min(scale.longest);
        arrow(sheet, (above.0 + long, above.1), (-1.0, 0.0), -air, scale, true);
    }
}

/// An arrow from `foot` (px) whose whole length is the flow; less than 3 px is not drawn.
fn arrow(sheet: &mut Sheet, foot: (f64, f64), way: (f64, f64), flow: f64, scale: &ArrowScale, hollow: bool) {
    let full = flow * scale.px_per_m3_s;
    let long = full.min(scale.longest);
    if !(long >= 3.0) {
        return;
    }
    let head = long.min(17.0);
    let (wide, thick) = (head * 0.55, if long > 17.0 { 3.6 } else { 0.0 });
    let at =
        |along: f64, across: f64| (foot.0 + way.0 * along - way.1 * across, foot.1 + way.1 * along + way.0 * across);
    let mut points = Vec::new();
    if thick > 0.0 {
        points.extend([at(0.0, -thick), at(long - head, -thick)]);
    }
    points.extend([at(long - head, -wide), at(long, 0.0), at(long - head, wide)]);
    if thick > 0.0 {
        points.extend([at(long - head, thick), at(0.0, thick)]);
    }
    let fill = if hollow { look::PAPER } else { WATER_ARROW };
    let mut outline = points.clone();
    outline.extend(points.first().copied());
    if !hollow {
        sheet.line(&outline, LineLook::solid(look::PAPER, 4.0));
    }
    sheet.fill(points, fill);
    sheet.line(&outline, LineLook::solid(if hollow { look::INK } else { WATER_ARROW }, 1.5));
    if full > scale.longest * (1.0 + 1e-9) {
        // Cut: a second head says that the flow is larger than the arrow.
        let second = [at(long - 1.7 * head, -wide), at(long - 0.7 * head, 0.0), at(long - 1.7 * head, wide)];
        sheet.fill(second.to_vec(), fill);
        sheet.line(&[second[0], second[1], second[2]], LineLook::solid(look::INK, 1.5));
    }
}

/// An arrow of a stated flow for the key, from `foot` to the right; returns its length, px.
pub fn scale_arrow(sheet: &mut Sheet, foot: (f64, f64), flow: f64, scale: &ArrowScale, hollow: bool) -> f64 {
    arrow(sheet, foot, (1.0, 0.0), flow, scale, hollow);
    (flow * scale.px_per_m3_s).min(scale.longest)
}

impl SectionWords {
    /// Writes the words into the free corners of the cell `area` around a drawing.
    pub fn write(&self, sheet: &mut Sheet, drawing: &Drawing, at: &Placement, area: Rect, size: f64) {
        let step = LINE * size;
        let thin = LineLook::solid(look::INK, 1.2);
        for (i, (line, anchor)) in self.left.iter().enumerate() {
            let y = area.y0 + 0.6 * size + step * i as f64;
            let text = Text::new(line, size).bold().on(look::PAPER);
            let Some(placed) = sheet.text_at_one_of(text, &[(area.x0 + 2.0, y, Align::Left)]) else { continue };
            if let Some(to) = anchor.map(|p| at.px(p)) {
                leader(sheet, (placed.x1 + 3.0, y), to, thin);
            }
        }
        let lines = self.right.len() as f64;
        for (i, (line, anchor)) in self.right.iter().enumerate() {
            let y = area.y1 - 0.6 * size - step * (lines - 1.0 - i as f64);
            let text = Text::new(line, size).bold().on(look::PAPER);
            let Some(placed) = sheet.text_at_one_of(text, &[(area.x1 - 2.0, y, Align::Right)]) else { continue };
            if let Some(to) = anchor.map(|p| at.px(p)) {
                leader(sheet, (placed.x0 - 3.0, y), to, thin);
            }
        }
        // The first above its housing, the second below: there is room, and the cup stands above the second.
        for (i, (words, (top, center))) in
            self.shutoffs.iter().zip(drawing.anchors.housings.iter().zip(drawing.anchors.balls)).enumerate()
        {
            let (top, center) = (at.px(*top), at.px(center));
            let small = (0.8 * size).max(look::FOOT);
            let half = 0.5 * look::text_width(words, small, false) + 4.0;
            let x = top.0.clamp(area.x0 + half, (area.x1 - half).max(area.x0 + half));
            let y = if i == 0 { top.1 - 0.75 * small } else { 2.0 * center.1 - top.1 + 0.8 * small };
            sheet.text(Text::new(words, small).on(look::PAPER), x, y, Align::Center);
        }
    }
}

/// A thin line with a dot at its end.
fn leader(sheet: &mut Sheet, from: (f64, f64), to: (f64, f64), look: LineLook) {
    sheet.line(&[from, to], LineLook { colour: look::PAPER, width: look.width + 2.2, ..look });
    sheet.line(&[from, to], look);
    sheet.disc(to, 4.2, look::PAPER);
    sheet.disc(to, 3.0, look::INK);
}

/// A measuring cup that catches what spills, filled to `share`, with words under it; water above its rim is shown by a
/// heap.
pub fn draw_cup(sheet: &mut Sheet, area: Rect, share: f64, words: &str, size: f64) {
    let share = if share.is_finite() { share.clamp(0.0, 1.0) } else { 0.0 };
    let cup = Rect::new(area.x0, area.y0, area.x1, area.y1 - 1.5 * size);
    let level = cup.y1 - share * (cup.height() - 6.0);
    if share > 0.0 && cup.y1 - level >= 0.5 {
        let water = vec![(cup.x0, level), (cup.x1, level), (cup.x1, cup.y1), (cup.x0, cup.y1)];
        sheet.fill(water, WATER);
        each_row(level, cup.y1, HATCH, |_, y| {
            sheet.line(&[(cup.x0 + 2.0, y), (cup.x1 - 2.0, y)], LineLook::solid(WATER_LINES, 1.3));
        });
        sheet.line(&[(cup.x0, level), (cup.x1, level)], LineLook::solid(WATER_ARROW, 2.0));
    }
    for i in 1..5 {
        let y = cup.y1 - f64::from(i) * 0.25 * (cup.height() - 6.0);
        sheet.line(&[(cup.x1 - 9.0, y), (cup.x1, y)], LineLook::solid(look::FRAME, 1.2));
    }
    let wall = [(cup.x0, cup.y0), (cup.x0, cup.y1), (cup.x1, cup.y1), (cup.x1, cup.y0)];
    sheet.line(&wall, LineLook::solid(look::INK, 2.2));
    let text = Text::new(words, size).bold().on(look::PAPER);
    // Words wider than the cup reach further to the right than to the left, where the unit stands.
    let middle = (0.5 * (cup.x0 + cup.x1)).max(cup.x0 - 16.0 + 0.5 * text.width());
    sheet.text(text, middle, cup.y1 + 0.85 * size, Align::Center);
}

/// A sample of water (or air) for a key.
pub fn swatch(sheet: &mut Sheet, r: Rect, wet: bool) {
    let role = if wet { Role::Water } else { Role::Air };
    let points = vec![(r.x0, -r.y0), (r.x1, -r.y0), (r.x1, -r.y1), (r.x0, -r.y1)];
    fluid(sheet, &Piece { role, name: "sample", points }, &Placement { x: 0.0, y: 0.0, scale: 1.0 });
    sheet.frame(r, LineLook::solid(look::FRAME, 1.0));
}
