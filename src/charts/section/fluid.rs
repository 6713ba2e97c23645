//! Water and air: what each zone holds, up to its level.

use super::frame::Frame;
use super::valve::{angle, arc, turned};
use super::{Drawing, InletClosing, Piece, Point, ReliefPlace, Role};
use std::f64::consts::PI;

/// Left, right, bottom and top.
type Cell = (f64, f64, f64, f64);

/// Flow, m3/s, from which on the vent shows water: a drop in a second.
const A_DROP: f64 = 0.05e-6;

pub(super) fn draw(f: &Frame, d: &mut Drawing) {
    let s = &f.shape;
    let [line, zone1, zone2, load] = f.state.liquid;
    let port = 0.5 * s.check_port;
    levelled(d, &[(f.ends.0, f.centers[0].0, f.duct.0, f.duct.1)], line);
    levelled(
        d,
        &[
            (f.centers[0].0, f.inner, f.duct.0, f.duct.1),
            (-f.inner, f.inner, f.zone1.0, f.duct.0),
            (-port, port, f.duct.1, 0.0),
        ],
        zone1,
    );
    levelled(d, &[(-f.inner, f.inner, -f.rim, f.bonnet.0), (f.inner, f.centers[1].0, f.outlet.0, f.outlet.1)], zone2);
    // The port opens into zone 2 above the plate: what stands there is zone 1's.
    levelled(d, &[(-port, port, -f.rim, 0.0)], if zone1 > 0.5 { 1.0 } else { 0.0 });
    levelled(d, &[(f.centers[1].0, f.ends.1, f.outlet.0, f.outlet.1)], load);
    let spills = f.state.water[3] > A_DROP;
    levelled(d, &[(-f.vent, f.vent, f.bonnet.0, f.bonnet.1 + f.over)], if spills { 1.0 } else { 0.0 });
    channel(f, d, 0, line > 0.5);
    channel(f, d, 1, load > 0.5 || (zone2 > 0.5 && f.state.shutoffs[1] > 0.0));
    holes(f, d);
    if s.closing == InletClosing::Diaphragm {
        chamber(f, d, if zone1 > 0.5 { Role::Water } else { Role::Air });
    }
}

fn rectangle((x0, x1, y0, y1): Cell) -> Vec<Point> {
    vec![(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
}

fn push(d: &mut Drawing, role: Role, points: Vec<Point>) {
    let name = if role == Role::Water { "water" } else { "air" };
    d.fluids.push(Piece { role, name, points });
}

/// Cells with one level, so high that water takes `share` of their area.
fn levelled(d: &mut Drawing, cells: &[Cell], share: f64) {
    let area =
        |level: f64| -> f64 { cells.iter().map(|c| (c.1 - c.0).max(0.0) * (level.min(c.3) - c.2).max(0.0)).sum() };
    let mut low = cells.iter().map(|c| c.2).fold(f64::INFINITY, f64::min);
    let mut high = cells.iter().map(|c| c.3).fold(f64::NEG_INFINITY, f64::max);
    let wanted = share * area(high);
    let level = if share >= 1.0 {
        high
    } else {
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if area(middle) < wanted { low = middle } else { high = middle }
        }
        low
    };
    for &(x0, x1, y0, y1) in cells {
        let surface = level.clamp(y0.min(y1), y1);
        for (role, from, to) in [(Role::Water, y0, surface), (Role::Air, surface, y1)] {
            if to > from + 1e-9 && x1 > x0 {
                push(d, role, rectangle((x0, x1, from, to)));
            }
        }
    }
}

/// The bore of a ball.
fn channel(f: &Frame, d: &mut Drawing, shutoff: usize, wet: bool) {
    let (center, radius, half) = (f.centers[shutoff], f.balls[shutoff], 0.5 * f.shape.shutoff_bores[shutoff]);
    let a = (half / radius).asin();
    let points = arc(radius, -a, a).chain(arc(radius, PI - a, PI + a));
    let role = if wet { Role::Water } else { Role::Air };
    push(d, role, points.map(|p| turned(p, center, angle(f, shutoff))).collect());
}

/// Holes of cocks, bleed screw and relief.
fn holes(f: &Frame, d: &mut Drawing) {
    let wet = |share: f64| if share > 0.5 { Role::Water } else { Role::Air };
    let (b, w) = (f.cock_bore(), f.wall);
    let [line, zone1, zone2, load] = f.state.liquid;
    let outer = [line, load];
    for i in 0..2 {
        if let Some((x, wall)) = f.cock(i) {
            let inner = [zone1, zone2][i];
            let share = if f.shape.cocks[i] == super::CockPlace::ShutoffOuter { outer[i] } else { inner };
            let end = if f.state.cocks_open[i] { wall - 1.4 * w } else { wall - 0.4 * w };
            push(d, wet(share), rectangle((x - b, x + b, end, wall + w)));
        }
    }
    if f.shape.bleed_screw {
        push(d, wet(zone2), rectangle((f.bleed() - b, f.bleed() + b, f.bonnet.0, f.bonnet.1)));
    }
    if let Some(b) = f.stem_bore() {
        let bottom = f.edge - f.sink - f.inlet_disc;
        push(d, wet(zone2), rectangle((-b, b, bottom, f.stem_head().1.1)));
    }
    if let Some(x) = f.relief() {
        let (r, in_zone2) = (f.relief_bore(), f.shape.relief == ReliefPlace::Zone2);
        let y = if in_zone2 { (f.outlet.1, f.outlet.1 + w) } else { (f.zone1.0 - w, f.zone1.0) };
        push(d, wet(if in_zone2 { zone2 } else { zone1 }), rectangle((x - r, x + r, y.0, y.1)));
    }
}

/// The passage from zone 1 and the chamber under the diaphragm.
fn chamber(f: &Frame, d: &mut Drawing, role: Role) {
    let (c, (plate, clamp), left) = (f.chamber(), f.plate(), f.left());
    let floor = f.bridge2.1;
    let from = 0.43 * f.shape.diaphragm;
    push(d, role, rectangle((left - f.passage, left, f.duct.1, floor + f.passage)));
    push(d, role, rectangle((left, -c, floor, floor + f.passage)));
    push(d, role, rectangle((-from, from, floor, plate)));
    for side in [-1.0, 1.0] {
        let middle = 0.5 * (plate + clamp) + 0.2 * (c - from);
        let points = [(from, floor), (c, floor), (c, clamp), (0.5 * (from + c), middle), (from, plate)];
        push(d, role, points.iter().map(|p| (side * p.0, p.1)).collect());
    }
}
