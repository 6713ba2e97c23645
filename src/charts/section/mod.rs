//! A section through an assembly, drawn from its dimensions: a schematic of our own, no picture of any unit.
//!
//! [`section`] turns a plain description ([`SectionShape`]) and a state ([`SectionState`]) into a list of polygons in
//! metres ([`Drawing`]), which [`paint_section`] puts on a sheet. Nothing is exaggerated: seats, bores, lifts and
//! travels have one scale.
//!
//! Coordinates: x to the right along the flow, y upwards; the origin is the middle of the check's seat.
//!
//! ```text
//!                          canopy
//!                    [diaphragm chamber]
//!                       bridge, spring
//!               bonnet ---- vent ---- bonnet
//!                        air inlet
//!                  zone 2, bridge, spring    ->  shutoff 2 -> load side
//!                ------- check seat -------
//! supply -> shutoff 1 ->   zone 1
//! ```
//!
//! Solids never overlap; what touches in the unit touches in the drawing (`tests/section.rs`). Walls, discs and bridges,
//! for which an assembly has no field, take proportions of the seats and bores beside them. So do lips and springs: an
//! outer lip as long as it must be to stand upright at the open stop shows how it rolls; the fields of lips and springs
//! shape their loads, not their drawing. A relief in the air inlet's stem is drawn on its top, above a bore at most 0.09 of
//! the vent seat wide.

mod body;
mod check;
mod fittings;
mod fluid;
mod frame;
mod inlet;
mod paint;
mod valve;

pub use paint::{ArrowScale, Placement, SectionWords, draw_cup, paint_section, scale_arrow, swatch};
pub(crate) use paint::{LINE, colours};

use frame::Frame;

/// A point, m.
pub type Point = (f64, f64);

/// What loads the air inlet open.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum InletLoading {
    /// A helical spring.
    Spring,
    /// Two concentric lips; the outer one rolls outward as the air inlet shuts, the inner one seals.
    Elastomer,
}

/// What shuts the air inlet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum InletClosing {
    /// Zone 2 under its disc.
    Zone2,
    /// Zone 1 under a diaphragm.
    Diaphragm,
    /// A stem that seals the vent before it lifts the check.
    Stem,
}

/// Where a test cock stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CockPlace {
    /// In the body.
    Body,
    /// In the shutoff, between its ball and the body.
    ShutoffInner,
    /// In the shutoff, on the far side of its ball.
    ShutoffOuter,
    /// Not fitted.
    None,
}

/// Where a relief stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ReliefPlace {
    /// Not fitted.
    None,
    /// On the air inlet's stem; it moves with it.
    AirInletStem,
    /// In zone 1.
    Zone1,
    /// In zone 2.
    Zone2,
}

/// An assembly as far as a section shows it. Lengths in m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SectionShape {
    /// Bores of shutoffs 1 and 2.
    pub shutoff_bores: [f64; 2],
    /// Diameter of the check's seat.
    pub check_seat: f64,
    /// Bore of its port.
    pub check_port: f64,
    /// Its lift.
    pub check_lift: f64,
    /// Diameter of the vent's seat.
    pub inlet_seat: f64,
    /// Bore of the vent's port.
    pub inlet_port: f64,
    /// Lift of the air inlet.
    pub inlet_lift: f64,
    /// What loads the air inlet.
    pub loading: InletLoading,
    /// What shuts it.
    pub closing: InletClosing,
    /// Effective diameter of the diaphragm; used only where there is one.
    pub diaphragm: f64,
    /// Travel of the stem from sealing the vent to lifting the check, negative if the check comes first; used only with
    /// a stem.
    pub lap: f64,
    /// Whether the check's spring is conical.
    pub conical_spring: bool,
    /// Whether the check's seat is an insert.
    pub seat_insert: bool,
    /// Test cocks 1 and 2.
    pub cocks: [CockPlace; 2],
    /// Whether a bleed screw is fitted.
    pub bleed_screw: bool,
    /// Whether the canopy is on.
    pub canopy: bool,
    /// Where a relief stands.
    pub relief: ReliefPlace,
    /// Bore of the relief.
    pub relief_bore: f64,
}

/// What moves and flows at one instant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SectionState {
    /// Travel of the check from its seat, m.
    pub check_travel: f64,
    /// Travel of the air inlet from the sealed position, m.
    pub inlet_travel: f64,
    /// Travel of a stem from its open stop, m; with a stem it decides where both parts are.
    pub stem_travel: f64,
    /// How far the shutoffs are open, 0 to 1 of a quarter turn.
    pub shutoffs: [f64; 2],
    /// Share of water in the line, zones 1, 2 and the load side.
    pub liquid: [f64; 4],
    /// Whether test cocks 1 and 2 are open.
    pub cocks_open: [bool; 2],
    /// Whether the bleed screw is out.
    pub bleed_open: bool,
    /// How far the relief is open, 0 to 1.
    pub relief_open: f64,
    /// Water through shutoff 1, the check, shutoff 2 and out of the vent, m3/s, positive downstream and outward.
    pub water: [f64; 4],
    /// Air out of the vent, m3/s; negative when it is drawn in.
    pub vent_air: f64,
}

/// What a piece of the drawing is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Role {
    /// Walls, bridges, bonnet.
    Body,
    /// A shutoff's housing.
    Housing,
    /// A shutoff's ball.
    Ball,
    /// The check's seat when it is an insert.
    Insert,
    /// The check.
    Check,
    /// The air inlet with its stem.
    AirInlet,
    /// The stem that carries both.
    Stem,
    /// Rubber: facing, lips, diaphragm.
    Rubber,
    /// Cocks, screws, relief.
    Fitting,
    /// A moving part of a fitting.
    FittingPart,
    /// The canopy.
    Canopy,
    /// Water.
    Water,
    /// Air.
    Air,
}

/// One polygon.
#[derive(Debug, Clone, PartialEq)]
pub struct Piece {
    /// What it is.
    pub role: Role,
    /// Its name, for example "check".
    pub name: &'static str,
    /// Its corners, m.
    pub points: Vec<Point>,
}

/// A spring as a zigzag from one abutment to the other.
#[derive(Debug, Clone, PartialEq)]
pub struct Coil {
    /// Its name.
    pub name: &'static str,
    /// Its corners, m; the first and last lie on what it presses.
    pub points: Vec<Point>,
}

/// Places in the drawing to which words and arrows point, m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Anchors {
    /// On the check.
    pub check: Point,
    /// On the air inlet.
    pub inlet: Point,
    /// In zone 1.
    pub zone1: Point,
    /// In zone 2.
    pub zone2: Point,
    /// Middles of the shutoffs' balls.
    pub balls: [Point; 2],
    /// Tops of the shutoffs' housings.
    pub housings: [Point; 2],
    /// Where the arrow of the vent begins.
    pub vent: Point,
    /// Where the check's arrow ends.
    pub port: Point,
    /// Where the outlet's arrow begins.
    pub outlet: Point,
    /// Where the inlet's arrow begins.
    pub supply: Point,
    /// Lower edge of the canopy or of the bonnet on the right: where spilled water falls.
    pub eaves: Point,
    /// On the diaphragm, if there is one.
    pub diaphragm: Option<Point>,
    /// On the relief, if there is one.
    pub relief: Option<Point>,
}

/// A section as polygons.
#[derive(Debug, Clone, PartialEq)]
pub struct Drawing {
    /// Water and air, painted first; later ones lie over earlier ones, and solids over all of them.
    pub fluids: Vec<Piece>,
    /// Solids; no two overlap.
    pub solids: Vec<Piece>,
    /// Springs.
    pub coils: Vec<Coil>,
    /// Where words and arrows point.
    pub anchors: Anchors,
    /// Left, bottom, right and top of the drawing, m.
    pub bounds: (f64, f64, f64, f64),
}

impl Drawing {
    fn solid(&mut self, role: Role, name: &'static str, points: Vec<Point>) {
        self.solids.push(Piece { role, name, points });
    }

    /// A rectangle; nothing if it has no area.
    fn block(&mut self, role: Role, name: &'static str, x: (f64, f64), y: (f64, f64)) {
        if x.1 > x.0 && y.1 > y.0 {
            self.solid(role, name, vec![(x.0, y.0), (x.1, y.0), (x.1, y.1), (x.0, y.1)]);
        }
    }

    /// A horizontal strip with holes in it.
    fn strip(&mut self, role: Role, name: &'static str, x: (f64, f64), y: (f64, f64), holes: &[(f64, f64)]) {
        let mut holes: Vec<_> = holes.iter().copied().filter(|h| h.1 > x.0 && h.0 < x.1).collect();
        holes.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut from = x.0;
        for (a, b) in holes {
            self.block(role, name, (from, a), y);
            from = b;
        }
        self.block(role, name, (from, x.1), y);
    }

    /// All pieces of a name.
    pub fn named(&self, name: &str) -> impl Iterator<Item = &Piece> {
        let name = name.to_owned();
        self.solids.iter().filter(move |p| p.name == name)
    }
}

/// Draws a section. Numbers that make no sense are brought into range: a picture never fails.
pub fn section(shape: &SectionShape, state: &SectionState) -> Drawing {
    let frame = Frame::of(shape, state);
    let mut drawing = Drawing {
        fluids: Vec::new(),
        solids: Vec::new(),
        coils: Vec::new(),
        anchors: frame.anchors(),
        bounds: (0.0, 0.0, 0.0, 0.0),
    };
    fluid::draw(&frame, &mut drawing);
    body::draw(&frame, &mut drawing);
    valve::draw(&frame, &mut drawing);
    check::draw(&frame, &mut drawing);
    inlet::draw(&frame, &mut drawing);
    fittings::draw(&frame, &mut drawing);
    let all = || drawing.solids.iter().flat_map(|p| p.points.iter().copied());
    let least = |get: fn(Point) -> f64| all().map(get).fold(f64::INFINITY, f64::min);
    let most = |get: fn(Point) -> f64| all().map(get).fold(f64::NEG_INFINITY, f64::max);
    drawing.bounds = (least(|p| p.0), least(|p| p.1), most(|p| p.0), most(|p| p.1));
    drawing
}
