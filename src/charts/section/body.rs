//! Walls, plate, bonnet and bridges: all that never moves.

use super::frame::Frame;
use super::{Drawing, InletClosing, ReliefPlace, Role};

/// From and to.
type Span = (f64, f64);

pub(super) fn draw(f: &Frame, d: &mut Drawing) {
    ducts(f, d);
    check_seat(f, d);
    check_bridge(f, d);
    bonnet(f, d);
    upper_bridge(f, d);
}

/// Holes of the cocks and of a relief in the lower walls, and of a relief in the upper wall of the outlet.
fn holes(f: &Frame) -> (Vec<Span>, Vec<Span>) {
    let bore = f.cock_bore();
    let mut low: Vec<_> = (0..2).filter_map(|i| f.cock(i)).map(|(x, _)| (x - bore, x + bore)).collect();
    let mut high = Vec::new();
    if let Some(x) = f.relief() {
        let hole = (x - f.relief_bore(), x + f.relief_bore());
        if f.shape.relief == ReliefPlace::Zone1 { low.push(hole) } else { high.push(hole) }
    }
    (low, high)
}

/// The walls of zones 1 and 2 and of the pipes at both ends.
fn ducts(f: &Frame, d: &mut Drawing) {
    let (w, left, right) = (f.wall, f.left(), f.inner + f.wall);
    let (h1, h2) = f.housings();
    let far = [f.centers[0].0 - f.balls[0] - 0.1 * w, f.centers[1].0 + f.balls[1] + 0.1 * w];
    let (low, high) = holes(f);
    // Pipes on the far sides of the shutoffs.
    for (x, y) in [((f.ends.0, far[0]), f.duct), ((far[1], f.ends.1), f.outlet)] {
        d.strip(Role::Body, "body", x, (y.0 - w, y.0), &low);
        d.block(Role::Body, "body", x, (y.1, y.1 + w));
    }
    // Zone 1: bottom, right wall, and the plate above it.
    if f.zone1.0 < f.duct.0 {
        d.strip(Role::Body, "body", (h1, -f.inner), (f.duct.0 - w, f.duct.0), &low);
        d.block(Role::Body, "body", (left, -f.inner), (f.zone1.0 - w, f.duct.0 - w));
        d.strip(Role::Body, "body", (-f.inner, right), (f.zone1.0 - w, f.zone1.0), &low);
    } else {
        d.strip(Role::Body, "body", (h1, right), (f.zone1.0 - w, f.zone1.0), &low);
    }
    d.block(Role::Body, "body", (f.inner, right), f.zone1_wall());
    let port = 0.5 * f.shape.check_port;
    let opening = if f.shape.seat_insert { 0.5 * f.shape.check_seat + 0.6 * f.rim } else { port };
    let plate = (f.duct.1, -f.rim);
    let pilot: &[(f64, f64)] = if f.passage > 0.0 { &[(left - f.passage, left)] } else { &[] };
    d.strip(Role::Body, "body", (h1, -opening), plate, pilot);
    d.strip(Role::Body, "body", (opening, h2), plate, &low);
    // Zone 2: walls and the upper wall of its outlet.
    d.block(Role::Body, "body", (left, -f.inner), (-f.rim, f.bonnet.0));
    d.block(Role::Body, "body", (f.inner, right), (f.outlet.1, f.bonnet.0));
    d.strip(Role::Body, "body", (right, h2), (f.outlet.1, f.outlet.1 + w), &high);
}

fn check_seat(f: &Frame, d: &mut Drawing) {
    let (seat, port, rim) = (0.5 * f.shape.check_seat, 0.5 * f.shape.check_port, f.rim);
    let foot = if f.shape.seat_insert { f.duct.1 } else { -rim };
    let role = if f.shape.seat_insert { Role::Insert } else { Role::Body };
    let tip = ((seat - 0.15 * rim).max(port), seat + 0.15 * rim);
    for side in [-1.0, 1.0] {
        let mut points = vec![(port, foot), (seat + 0.6 * rim, foot)];
        if f.shape.seat_insert {
            points.push((seat + 0.6 * rim, -rim));
        }
        points.extend([(tip.1, 0.0), (tip.0, 0.0), (port, -0.6 * rim)]);
        d.solid(role, "check seat", points.into_iter().map(|p| (side * p.0, p.1)).collect());
    }
}

/// The bridge that guides the check, bears its spring and is the stop of both parts.
fn check_bridge(f: &Frame, d: &mut Drawing) {
    let dk = f.shape.check_seat;
    d.block(Role::Body, "check bridge", (-f.inner, -0.14 * dk), f.bridge1);
    d.block(Role::Body, "check bridge", (0.14 * dk, 0.34 * dk), f.bridge1);
    d.block(Role::Body, "check bridge", (-0.14 * dk, -0.07 * dk), f.hub1);
    d.block(Role::Body, "check bridge", (0.07 * dk, 0.14 * dk), f.hub1);
}

fn bonnet(f: &Frame, d: &mut Drawing) {
    let bleed = f.bleed();
    let hole = [(bleed - f.cock_bore(), bleed + f.cock_bore())];
    d.strip(Role::Body, "bonnet", (f.left(), -f.vent), f.bonnet, if f.shape.bleed_screw { &hole } else { &[] });
    d.block(Role::Body, "bonnet", (f.vent, f.inner + f.wall), f.bonnet);
    let (seat, rim) = (0.5 * f.shape.inlet_seat, f.rim);
    for side in [-1.0, 1.0] {
        if f.bonnet.0 > f.seat2 {
            let tip = ((seat - 0.15 * rim).max(f.vent), seat + 0.15 * rim);
            let points = [(f.vent, f.bonnet.0), (seat + 0.6 * rim, f.bonnet.0), (tip.1, f.seat2), (tip.0, f.seat2)];
            d.solid(Role::Body, "vent seat", points.iter().map(|p| (side * p.0, p.1)).collect());
        }
        if f.over > 0.0 {
            // The bore in which a stem's plug goes on sealing.
            let x = [side * f.vent, side * (f.vent + 0.6 * f.wall)];
            d.block(Role::Body, "vent bore", (x[0].min(x[1]), x[0].max(x[1])), (f.bonnet.1, f.bonnet.1 + f.over));
        }
    }
}

/// The bridge above the vent: abutment of the air inlet's spring, guide of its stem, floor of a diaphragm's chamber.
fn upper_bridge(f: &Frame, d: &mut Drawing) {
    let (w, dv) = (f.wall, f.shape.inlet_seat);
    let bore = 0.08 * dv;
    let with_diaphragm = f.shape.closing == InletClosing::Diaphragm;
    d.block(Role::Body, "bridge", (f.left(), -f.inner), (f.bonnet.1, f.bridge2.0));
    d.block(Role::Body, "bridge", (f.left(), -bore), f.bridge2);
    d.block(Role::Body, "bridge", (bore, if with_diaphragm { f.chamber() + w } else { 0.3 * dv }), f.bridge2);
    if !with_diaphragm {
        return;
    }
    let (_, clamp) = f.plate();
    let (c, thick) = (f.chamber(), 0.15 * w);
    let roof = f.bridge2.1 + f.passage;
    let outer = f.left() - f.passage - w;
    d.block(Role::Body, "passage wall", (outer, f.left() - f.passage), (-f.rim, roof));
    d.block(Role::Body, "passage wall", (outer, -c - w), (roof, roof + w));
    d.block(Role::Body, "chamber", (-c - w, -c), (roof, clamp));
    d.block(Role::Body, "chamber", (c, c + w), (f.bridge2.1, clamp));
    for x in [(-c - w, -c), (c, c + w)] {
        d.block(Role::Body, "clamp", x, (clamp + thick, clamp + thick + 0.45 * w));
    }
}
