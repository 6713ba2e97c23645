//! A map over two quantities: regions filled and named where they lie, with the boundaries between them.
//!
//! Choices, and why:
//! - Regions are few and named in the map itself. Each has its own hatch as well as its own tint, so that the map reads
//!   in greyscale.
//! - A cell whose run failed is crossed out, never coloured as its neighbours are.

use super::axis::Panel;
use super::curves::{PointMark, Series, draw_series, point};
use super::look::{self, LineLook};
use super::page::Page;
use super::plot::{self, AxisSpec};
use super::sheet::{Align, Rect, Sheet, Text};
use plotters::style::RGBColor;

/// A map. Values of the axes are in display units.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MapPicture {
    /// Title, conditions, foot.
    pub page: Page,
    /// What the horizontal axis shows, with its unit.
    pub x_name: String,
    /// What the vertical axis shows, with its unit.
    pub y_name: String,
    /// Columns of the map: values of the horizontal axis, rising.
    pub xs: Vec<f64>,
    /// Rows of the map: values of the vertical axis, rising.
    pub ys: Vec<f64>,
    /// Region of each cell, row by row from the lowest; `None` where the run failed.
    pub cells: Vec<Option<usize>>,
    /// Names of the regions.
    pub regions: Vec<String>,
    /// Lines to draw on the map, each named at a point of its own.
    pub lines: Vec<Series>,
    /// Named points.
    pub points: Vec<PointMark>,
    /// Whether equal distances of the horizontal and the vertical axis are equal ratios; values are then above zero.
    pub log: [bool; 2],
}

/// Sorts values into the regions between rising `limits`: region 0 is below the first, region n at or above the last.
/// A value that is not finite has no region.
pub fn banded(values: &[f64], limits: &[f64]) -> Vec<Option<usize>> {
    values.iter().map(|v| v.is_finite().then(|| limits.iter().filter(|l| *v >= **l).count())).collect()
}

/// Tints of the regions, from light to dark, and the directions of their hatches: (step px, rise per px, cross).
const TINTS: [RGBColor; 6] = [
    RGBColor(240, 246, 251),
    RGBColor(255, 226, 178),
    RGBColor(188, 214, 236),
    RGBColor(232, 196, 214),
    RGBColor(244, 178, 160),
    RGBColor(216, 206, 240),
];

/// Lays the map out.
pub fn lay_out_map(picture: &MapPicture) -> Sheet {
    let mut sheet = Sheet::new();
    let mut page = picture.page.clone();
    if picture.cells.contains(&None) {
        page.foot.insert(0, "A cross: that run failed, or has no such value.".to_owned());
    }
    let area = page.draw(&mut sheet);
    let [x_log, y_log] = picture.log;
    let (xs, ys) = (edges(&picture.xs, x_log), edges(&picture.ys, y_log));
    let x = AxisSpec { log: x_log, ..AxisSpec::new(&picture.x_name, ends(&xs).0, ends(&xs).1) };
    let y = AxisSpec { log: y_log, ..AxisSpec::new(&picture.y_name, ends(&ys).0, ends(&ys).1) };
    // The frame is drawn last so that the fill does not cover it: here only the places are wanted.
    let panel = plot::plot(&mut sheet, area, &picture.y_name, &x, &y, 14.0);
    let grid = Grid { picture, xs: &xs, ys: &ys, panel: &panel };
    grid.fill(&mut sheet);
    grid.boundaries(&mut sheet);
    plot::frame(&mut sheet, &panel);
    for (i, line) in picture.lines.iter().enumerate() {
        let clipped = Series { label: String::new(), points: line.points.iter().map(|p| grid.inside(*p)).collect() };
        draw_series(&mut sheet, &panel, &clipped, LineLook { colour: look::INK, ..LineLook::of(1 + i) });
    }
    for mark in &picture.points {
        point(&mut sheet, &panel, mark);
    }
    for line in &picture.lines {
        grid.name_line(&mut sheet, line);
    }
    grid.names(&mut sheet);
    sheet
}

fn ends(edges: &[f64]) -> (f64, f64) {
    (edges.first().copied().unwrap_or(0.0), edges.last().copied().unwrap_or(1.0))
}

/// Edges of cells whose middles are given: half-way between neighbours, the outer ones on the outer middles, so that
/// the map shows no value that was not asked for. Half-way is by ratio where the axis is.
fn edges(middles: &[f64], log: bool) -> Vec<f64> {
    let mut all = Vec::with_capacity(middles.len() + 1);
    let half_way = |w: &[f64]| if log { w.iter().product::<f64>().sqrt() } else { 0.5 * w.iter().sum::<f64>() };
    all.extend(middles.first().copied());
    all.extend(middles.windows(2).map(half_way));
    all.extend(middles.last().copied());
    all
}

struct Grid<'a> {
    picture: &'a MapPicture,
    xs: &'a [f64],
    ys: &'a [f64],
    panel: &'a Panel,
}

impl Grid<'_> {
    fn columns(&self) -> usize {
        self.picture.xs.len()
    }

    fn rows(&self) -> usize {
        self.picture.ys.len()
    }

    /// Region of a cell; the outer option is `None` outside the map, the inner one where the run failed.
    fn cell(&self, column: usize, row: usize) -> Option<Option<usize>> {
        if column >= self.columns() { None } else { self.picture.cells.get(row * self.columns() + column).copied() }
    }

    fn rect(&self, column: usize, row: usize, wide: usize) -> Option<Rect> {
        let (a, b) = (self.xs.get(column)?, self.xs.get(column + wide)?);
        let (c, d) = (self.ys.get(row)?, self.ys.get(row + 1)?);
        let r = Rect::new(self.panel.x.px(*a), self.panel.y.px(*d), self.panel.x.px(*b), self.panel.y.px(*c));
        (r.x1 > r.x0 && r.y1 > r.y0).then_some(r)
    }

    fn inside(&self, p: (f64, f64)) -> (f64, f64) {
        if self.panel.x.shows(p.0) && self.panel.y.shows(p.1) { p } else { (f64::NAN, f64::NAN) }
    }

    /// Stretches of equal cells, row by row: (column, row, how many, region).
    fn stretches(&self) -> Vec<(usize, usize, usize, Option<usize>)> {
        let mut all = Vec::new();
        for row in 0..self.rows() {
            let mut column = 0;
            while let Some(region) = self.cell(column, row) {
                let long = (column..self.columns()).take_while(|c| self.cell(*c, row) == Some(region)).count().max(1);
                all.push((column, row, long, region));
                column += long;
            }
        }
        all
    }

    fn fill(&self, sheet: &mut Sheet) {
        for (column, row, long, region) in self.stretches() {
            let Some(r) = self.rect(column, row, long) else { continue };
            match region {
                Some(region) => {
                    sheet.fill_rect(r, TINTS.get(region % TINTS.len()).copied().unwrap_or(look::PAPER));
                    hatch(sheet, r, region);
                }
                None => {
                    sheet.fill_rect(r, look::PAPER);
                    let (cross, look) = (r.height().min(9.0) / 2.0, LineLook::solid(look::INK, 1.2));
                    for i in 0..long {
                        let Some(c) = self.rect(column + i, row, 1) else { continue };
                        let (x, y) = (0.5 * (c.x0 + c.x1), 0.5 * (c.y0 + c.y1));
                        sheet.line(&[(x - cross, y - cross), (x + cross, y + cross)], look);
                        sheet.line(&[(x - cross, y + cross), (x + cross, y - cross)], look);
                    }
                }
            }
        }
    }

    fn boundaries(&self, sheet: &mut Sheet) {
        let look = LineLook::solid(look::INK, 2.6);
        let mut segment = |a: (f64, f64), b: (f64, f64)| {
            sheet.line(&[a, b], look);
            plot::guard_line(sheet, &[a, b], look.width);
        };
        let (px, py) = (&self.panel.x, &self.panel.y);
        // Stretches in one line are joined, so that a straight boundary is one line.
        for column in 1..self.columns() {
            let Some(x) = self.xs.get(column).map(|v| px.px(*v)) else { continue };
            let apart = |row: usize| row < self.rows() && self.cell(column - 1, row) != self.cell(column, row);
            runs(self.rows(), apart, |from, to| {
                if let (Some(a), Some(b)) = (self.ys.get(from), self.ys.get(to)) {
                    segment((x, py.px(*a)), (x, py.px(*b)));
                }
            });
        }
        for row in 1..self.rows() {
            let Some(y) = self.ys.get(row).map(|v| py.px(*v)) else { continue };
            let apart = |column: usize| column < self.columns() && self.cell(column, row - 1) != self.cell(column, row);
            runs(self.columns(), apart, |from, to| {
                if let (Some(a), Some(b)) = (self.xs.get(from), self.xs.get(to)) {
                    segment((px.px(*a), y), (px.px(*b), y));
                }
            });
        }
    }

    /// Names each region where it is widest; one too small for its name gets it beside a leader.
    fn names(&self, sheet: &mut Sheet) {
        for (region, name) in self.picture.regions.iter().enumerate() {
            let mut spots: Vec<(f64, f64, f64, f64)> = Vec::new();
            for (column, row, long, at) in self.stretches() {
                if at == Some(region)
                    && let Some(r) = self.rect(column, row, long)
                {
                    let (x, y) = (0.5 * (r.x0 + r.x1), 0.5 * (r.y0 + r.y1));
                    let up = (row + 1..self.rows()).take_while(|i| self.at_px(x, *i) == Some(region)).count();
                    let down = (0..row).rev().take_while(|i| self.at_px(x, *i) == Some(region)).count();
                    let deep = (up.min(down) as f64 + 0.5) * r.height();
                    spots.push((x, y, (0.25 * r.width()).min(deep), r.width()));
                }
            }
            spots.sort_by(|a, b| b.2.total_cmp(&a.2));
            if spots.is_empty() {
                continue;
            }
            let a = self.panel.area;
            let label = Text::new(name, look::LABEL).bold().on(look::PAPER).within(0.8 * a.width());
            let half = 0.5 * label.width() + 4.0;
            let fits = |x: f64, y: f64| x - half > a.x0 && x + half < a.x1 && y - 12.0 > a.y0 && y + 12.0 < a.y1;
            // In the middle; to one side where a line or a mark stands there.
            let places: Vec<_> = [0.0, 0.22, -0.22]
                .iter()
                .flat_map(|aside| spots.iter().take(60).map(move |s| (s.0 + aside * s.3, s.1)))
                .filter(|s| fits(s.0, s.1))
                .map(|s| (s.0, s.1, Align::Center))
                .collect();
            if sheet.clear_text(&label, &places).is_some() {
                continue;
            }
            let Some(&(x, y, ..)) = spots.first() else { continue };
            let mut near = Vec::new();
            for distance in [40.0, 70.0, 110.0, 160.0, 230.0] {
                for (dx, dy) in [(1.0, 0.4), (-1.0, 0.4), (1.0, -0.4), (-1.0, -0.4), (0.0, 1.0), (0.0, -1.0)] {
                    let at = (x + dx * (distance + half), y + dy * distance);
                    near.extend(fits(at.0, at.1).then_some((at.0, at.1, Align::Center)));
                }
            }
            if let Some(placed) = sheet.text_at_one_of(label, &near) {
                let to = (x.clamp(placed.x0, placed.x1), y.clamp(placed.y0, placed.y1));
                sheet.line(&[(x, y), to], LineLook::solid(look::INK, 1.4));
                sheet.disc((x, y), 4.0, look::INK);
            }
        }
    }

    /// Region of the cell of `row` that lies at the horizontal position `x`, px.
    fn at_px(&self, x: f64, row: usize) -> Option<usize> {
        let column = (0..self.columns()).find(|c| self.rect(*c, row, 1).is_some_and(|r| x >= r.x0 && x <= r.x1))?;
        self.cell(column, row).flatten()
    }

    fn name_line(&self, sheet: &mut Sheet, line: &Series) {
        let label = Text::new(&line.label, look::TICK).on(look::PAPER);
        let a = self.panel.area;
        let spots = line.points.iter().map(|p| self.inside(*p)).filter(|p| p.0.is_finite());
        let spots: Vec<_> = spots.map(|p| (self.panel.x.px(p.0), self.panel.y.px(p.1))).collect();
        let mut places = Vec::new();
        for f in [0.5, 0.7, 0.3, 0.85, 0.15] {
            let Some(&(x, y)) = spots.get((f * spots.len() as f64) as usize) else { continue };
            for (dx, dy, align) in [(10.0, 0.0, Align::Left), (-10.0, 0.0, Align::Right), (0.0, -18.0, Align::Center)] {
                let left = match align {
                    Align::Left => x + dx,
                    Align::Center => x - 0.5 * label.width(),
                    Align::Right => x + dx - label.width(),
                };
                if left > a.x0 && left + label.width() < a.x1 && y + dy > a.y0 + 8.0 {
                    places.push((x + dx, y + dy, align));
                }
            }
        }
        sheet.text_at_one_of(label, &places);
    }
}

/// Calls `each` with the ends of every run of true in `0..n`.
fn runs(n: usize, is: impl Fn(usize) -> bool, mut each: impl FnMut(usize, usize)) {
    let mut from = None;
    for i in 0..=n {
        match (from, i < n && is(i)) {
            (None, true) => from = Some(i),
            (Some(start), false) => {
                each(start, i);
                from = None;
            }
            _ => {}
        }
    }
}

/// Hatch of a region inside a rectangle: lines on a grid of the whole sheet, so that neighbouring cells join.
fn hatch(sheet: &mut Sheet, r: Rect, region: usize) {
    let look = LineLook::solid(RGBColor(120, 120, 120), 1.0);
    let mut along = |step: f64, slope: f64| {
        // Lines y + slope x = k step.
        let (low, high) =
            ((r.y0 + slope * r.x0).min(r.y0 + slope * r.x1), (r.y1 + slope * r.x0).max(r.y1 + slope * r.x1));
        let (first, last) = ((low / step).ceil() as i64, (high / step).floor() as i64);
        for k in first..=last.min(first + 4000) {
            let c = k as f64 * step;
            let x_at = |y: f64| (c - y) / slope;
            let (a, b) = (x_at(r.y0).clamp(r.x0, r.x1), x_at(r.y1).clamp(r.x0, r.x1));
            if (a - b).abs() > 0.5 {
                sheet.line(&[(a, c - slope * a), (b, c - slope * b)], look);
            }
        }
    };
    match region % 6 {
        1 => along(16.0, 1.0),
        2 => along(16.0, -1.0),
        3 => {
            along(20.0, 1.0);
            along(20.0, -1.0);
        }
        4 => along(16.0, 0.25),
        5 => along(40.0, 4.0),
        _ => {}
    }
}
