//! The strip of key moments: sections of one or more assemblies at the same instants, one below the other.
//!
//! Choices, and why:
//! - Assemblies stand side by side and time runs down, so that one row is one instant: a difference is a difference
//!   between units. A single assembly fills rows of two.
//! - What has spilled stands in a measuring cup beside each unit, on one scale: the finding without a number.
//! - One scale for all sections and one for all arrows, both stated.

use super::look::{self, LineLook, MARGIN, WIDTH};
use super::page::{self, Page};
use super::section::{
    ArrowScale, Drawing, InletClosing, InletLoading, LINE, Placement, ReliefPlace, SectionShape, SectionState,
    SectionWords, draw_cup, paint_section, scale_arrow, section,
};
use super::sheet::{Align, Rect, Sheet, Text, crisp};

/// One assembly at one instant.
#[derive(Debug, Clone, PartialEq)]
pub struct MomentCell {
    /// What moves and flows.
    pub state: SectionState,
    /// Pressures of zones 1 and 2 with their unit.
    pub pressures: [String; 2],
    /// What has spilled so far, m3.
    pub spilled: f64,
    /// The same in words.
    pub spilled_text: String,
    /// What is the matter at this instant, in a few words.
    pub note: String,
}

/// One assembly through all moments.
#[derive(Debug, Clone, PartialEq)]
pub struct MomentColumn {
    /// Its name.
    pub name: String,
    /// What came of it, in a few words.
    pub verdict: String,
    /// Its dimensions.
    pub shape: SectionShape,
    /// One cell per moment.
    pub cells: Vec<MomentCell>,
}

/// A strip of moments.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MomentsPicture {
    /// Title, conditions, foot.
    pub page: Page,
    /// The moments: their instants with unit, and what they are ("at rest").
    pub moments: Vec<(String, String)>,
    /// The assemblies.
    pub columns: Vec<MomentColumn>,
    /// Flow of the arrow in the key, m3/s, with its words, for example "10 gpm".
    pub key_flow: (f64, String),
    /// What a full cup holds, m3, with its words.
    pub cup: (f64, String),
}

/// Gap between cells, px.
const GAP: f64 = 16.0;
/// Size of the words under a name, px.
const VERDICT: f64 = 20.0;
/// Height of the line above a row, px, and of a second one where the columns are narrow.
const CLOCK: f64 = 40.0;
const NOTES: f64 = 27.0;
/// Cells narrower than this, px, have short words.
const NARROW: f64 = 450.0;
/// Longest arrow as a share of the width of a cell: it fits into zone 1.
const LONGEST: f64 = 0.165;

/// Sections of one row of the strip.
struct Row<'a> {
    clock: Vec<(usize, &'a MomentColumn, &'a MomentCell)>,
}

/// Scale of the arrows such that the largest flow of all cells has the longest arrow that fits a cell of a width, px.
pub(super) fn arrow_scale<'a>(cells: impl Iterator<Item = &'a MomentCell>, width: f64) -> ArrowScale {
    let most = cells
        .flat_map(|c| c.state.water.into_iter().chain([c.state.vent_air]))
        .filter(|f| f.is_finite())
        .fold(1e-9, |most: f64, f| most.max(f.abs()));
    let longest = (LONGEST * width).max(24.0);
    ArrowScale { px_per_m3_s: longest / most, longest }
}

/// Lays the strip out: up to three assemblies side by side, more in blocks below one another. The sheet is as high as it
/// must be.
pub fn lay_out_moments(picture: &MomentsPicture) -> Sheet {
    let across = match picture.columns.len() {
        0 | 1 => 2,
        n => n.min(3),
    };
    let width = (WIDTH - 2.0 * MARGIN - GAP * (across as f64 - 1.0)) / across as f64;
    // Every column is drawn once to find the scale that fits all of them, in all states.
    let drawn: Vec<Vec<Drawing>> =
        picture.columns.iter().map(|c| c.cells.iter().map(|cell| section(&c.shape, &cell.state)).collect()).collect();
    let all = || drawn.iter().flatten().map(|d| d.bounds);
    let widest = all().map(|b| b.2 - b.0).fold(1e-3, f64::max);
    let highest = all().map(|b| b.3).fold(1e-3, f64::max);
    let lowest = all().map(|b| b.1).fold(-1e-3, f64::min);
    let scale = ((width - 8.0) / widest).min(520.0 / (highest - lowest));
    let above = room_above(picture.columns.iter().map(|c| &c.shape), width);
    let cell_height = above + scale * (highest - lowest) + 14.0;

    let blocks = rows(picture, across);
    let lines = |c: &MomentColumn| look::wrapped(&look::clean(&c.verdict), VERDICT, false, width - 8.0, 2).0.len();
    let heads = 40.0 + 26.0 * picture.columns.iter().map(lines).max().unwrap_or(0) as f64;
    let count: usize = blocks.iter().map(Vec::len).sum();
    let head_rows = if picture.columns.len() > 1 { blocks.len() } else { 0 };
    let clock = CLOCK + if width < NARROW { NOTES } else { 0.0 };
    let body = count as f64 * (cell_height + clock) + head_rows as f64 * heads;
    let mut probe = Sheet::new();
    let top = page::head(&mut probe, &picture.page.title, &picture.page.subtitle);
    let bottom = look::HEIGHT - page::foot(&mut probe, &picture.page.foot);
    let mut sheet = Sheet::sized(WIDTH, top + 44.0 + body + bottom + 8.0);
    let area = picture.page.draw(&mut sheet);
    let arrows = arrow_scale(picture.columns.iter().flat_map(|c| &c.cells), width);
    key(&mut sheet, picture, &arrows, area.y0 + 14.0);
    let mut y = area.y0 + 40.0;
    for block in &blocks {
        if let (true, Some(first)) = (picture.columns.len() > 1, block.first()) {
            for (i, (_, column, _)) in first.clock.iter().enumerate() {
                let x = MARGIN + i as f64 * (width + GAP);
                sheet.text(Text::new(&column.name, 25.0).bold().within(width - 8.0), x + 2.0, y + 12.0, Align::Left);
                let (lines, cut) = look::wrapped(&look::clean(&column.verdict), VERDICT, false, width - 8.0, 2);
                if cut {
                    sheet.note_dropped(&column.verdict);
                }
                for (k, line) in lines.iter().enumerate() {
                    sheet.text(Text::new(line, VERDICT), x + 2.0, y + 42.0 + 26.0 * k as f64, Align::Left);
                }
            }
            y += heads;
        }
        for row in block {
            clocks(&mut sheet, picture, row, width, y);
            y += clock;
            for (i, (moment, column, cell)) in row.clock.iter().enumerate() {
                let x = MARGIN + i as f64 * (width + GAP);
                let index = picture.columns.iter().position(|c| std::ptr::eq(c, *column)).unwrap_or(0);
                let Some(drawing) = drawn.get(index).and_then(|d| d.get(*moment)) else { continue };
                let bounds = (drawing.bounds.0, lowest, drawing.bounds.2, highest);
                let frame = Rect::new(x, y, x + width, y + cell_height);
                let at = Placement::centered(bounds, Rect { y0: y + above, ..frame }, scale);
                one(&mut sheet, &column.shape, cell, drawing, &at, frame, &arrows, picture.cup.0);
            }
            y += cell_height;
        }
    }
    sheet
}

/// Cells by block and row.
fn rows(picture: &MomentsPicture, across: usize) -> Vec<Vec<Row<'_>>> {
    if let [only] = &picture.columns[..] {
        let cells: Vec<_> = only.cells.iter().enumerate().map(|(i, cell)| (i, only, cell)).collect();
        return vec![cells.chunks(across).map(|c| Row { clock: c.to_vec() }).collect()];
    }
    let block = |columns: &'_ [MomentColumn]| -> Vec<Vec<(usize, usize)>> {
        (0..picture.moments.len()).map(|m| (0..columns.len()).map(|c| (m, c)).collect()).collect()
    };
    let mut all = Vec::new();
    for columns in picture.columns.chunks(across.max(1)) {
        let row = |places: Vec<(usize, usize)>| Row {
            clock: places
                .into_iter()
                .filter_map(|(m, c)| columns.get(c).and_then(|column| Some((m, column, column.cells.get(m)?))))
                .collect(),
        };
        all.push(block(columns).into_iter().map(row).filter(|r| !r.clock.is_empty()).collect());
    }
    all
}

/// The line above a row: clock, name of the moment, and what is the matter with each.
fn clocks(sheet: &mut Sheet, picture: &MomentsPicture, row: &Row<'_>, width: f64, y: f64) {
    sheet.line(&[(MARGIN, crisp(y + 3.0)), (WIDTH - MARGIN, crisp(y + 3.0))], LineLook::solid(look::FRAME, 1.2));
    let (shared, narrow) = (picture.columns.len() > 1, width < NARROW);
    for (i, (moment, _, cell)) in row.clock.iter().enumerate() {
        let x = MARGIN + i as f64 * (width + GAP) + 2.0;
        let mut from = x;
        if let Some((time, name)) = picture.moments.get(*moment).filter(|_| i == 0 || !shared) {
            let room = if narrow { WIDTH - x - MARGIN } else { 0.68 * width };
            let clock = Text::new(&format!("{time}  {name}"), 23.0).bold().within(room);
            let end = sheet.text(clock, x, y + 22.0, Align::Left).map_or(x, |r| r.x1);
            from = if narrow { x } else { end + 12.0 };
        }
        let note = Text::new(&cell.note, if narrow { 18.0 } else { 20.0 }).within((x + width - from).max(0.0));
        sheet.text(note, from, y + if narrow { 20.0 + NOTES } else { 22.0 }, Align::Left);
    }
}

/// Scale of the arrows and the meaning of the hatches, on one line.
fn key(sheet: &mut Sheet, picture: &MomentsPicture, arrows: &ArrowScale, y: f64) {
    let mut x = MARGIN + 2.0;
    let long = scale_arrow(sheet, (x, y), picture.key_flow.0, arrows, false);
    let write = |sheet: &mut Sheet, x: f64, words: &str| {
        let text = Text::new(words, look::TICK);
        let width = text.width();
        sheet.text(text, x, y, Align::Left);
        x + width + 26.0
    };
    x = write(sheet, x + long + 8.0, &format!("water, {}", picture.key_flow.1));
    let long = scale_arrow(sheet, (x, y), picture.key_flow.0, arrows, true);
    x = write(sheet, x + long + 8.0, &format!("air, {}", picture.key_flow.1));
    let state = [("water", true), ("air", false)];
    for (words, wet) in state {
        let r = Rect::new(x, y - 12.0, x + 46.0, y + 12.0);
        super::section::swatch(sheet, r, wet);
        x = write(sheet, x + 54.0, words);
    }
    write(sheet, x, &format!("full cup: {}", picture.cup.1));
}

/// Words about a part's place between its seat and its stop.
fn stands(travel: f64, lift: f64) -> String {
    if travel <= 0.002 * lift {
        "shut".into()
    } else if travel >= 0.999 * lift {
        "open".into()
    } else {
        format!("{:.0} % open", (100.0 * travel / lift).clamp(1.0, 99.0))
    }
}

/// The words that go with a section; `narrow`: the shutoffs are not named.
pub fn section_words(
    shape: &SectionShape,
    state: &SectionState,
    drawing: &Drawing,
    pressures: &[String; 2],
    narrow: bool,
) -> SectionWords {
    let a = &drawing.anchors;
    let mut left = Vec::new();
    if let Some(at) = a.diaphragm {
        left.push(("diaphragm over zone 1".to_owned(), Some(at)));
    }
    let inlet = match (shape.closing, shape.loading) {
        (InletClosing::Stem, _) => "air inlet, on the stem:",
        (_, InletLoading::Elastomer) => "air inlet, on lips:",
        _ => "air inlet",
    };
    left.push((format!("{inlet} {}", stands(state.inlet_travel, shape.inlet_lift)), Some(a.inlet)));
    left.push((format!("zone 2: {}", pressures[1]), Some(a.zone2)));
    if let Some(at) = a.relief {
        let words = if state.relief_open > 0.0 { "relief: open" } else { "relief: shut" };
        left.push((words.to_owned(), Some(at)));
    }
    let right = vec![
        (format!("check {}", stands(state.check_travel, shape.check_lift)), Some(a.check)),
        (format!("zone 1: {}", pressures[0]), Some(a.zone1)),
    ];
    let shutoff = |i: usize| {
        let words = stands(state.shutoffs[i], 1.0);
        if narrow { words } else { format!("shutoff {}: {words}", i + 1) }
    };
    SectionWords { left, right, shutoffs: [shutoff(0), shutoff(1)] }
}

/// Size of the words around a section in a cell of a width, px.
fn word_size(width: f64) -> f64 {
    (21.0 * width / 570.0).clamp(look::FOOT, 21.0)
}

/// Room above sections for the words at their upper left and for the cup, px.
pub(super) fn room_above<'a>(shapes: impl Iterator<Item = &'a SectionShape>, width: f64) -> f64 {
    let lines = |s: &SectionShape| {
        2 + usize::from(s.closing == InletClosing::Diaphragm) + usize::from(s.relief != ReliefPlace::None)
    };
    LINE * word_size(width) * shapes.map(lines).max().unwrap_or(2) as f64
}

/// One section with its words and its cup.
#[allow(clippy::too_many_arguments)] // one cell with all that it is drawn from
pub(super) fn one(
    sheet: &mut Sheet,
    shape: &SectionShape,
    cell: &MomentCell,
    drawing: &Drawing,
    at: &Placement,
    frame: Rect,
    arrows: &ArrowScale,
    cup: f64,
) {
    paint_section(sheet, drawing, &cell.state, at, arrows);
    let size = word_size(frame.width());
    let words = section_words(shape, &cell.state, drawing, &cell.pressures, frame.width() < NARROW);
    words.write(sheet, drawing, at, frame, size);
    // The cup stands beside the vent, above shutoff 2.
    let (left, floor) = (at.px(drawing.anchors.eaves).0 + 26.0, at.px(drawing.anchors.housings[1]).1 - 0.4 * size);
    let cup_area = Rect::new(left, frame.y0 + 8.0, (left + 0.17 * frame.width()).min(frame.x1 - 26.0), floor);
    if cup_area.height() > 30.0 && cup_area.width() > 20.0 {
        draw_cup(sheet, cup_area, cell.spilled / cup, &cell.spilled_text, size);
    }
}
