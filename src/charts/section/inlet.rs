//! The air inlet: disc or plug, lips or spring, diaphragm, and the stem that carries the check in one construction.

use super::check::zigzag;
use super::frame::Frame;
use super::{Coil, Drawing, InletClosing, InletLoading, Piece, Point, ReliefPlace, Role};

/// Where a relief on the stem has its hole, as shares of the vent seat: from, and the widest it is drawn.
const RELIEF_HOLE: (f64, f64) = (0.25, 0.12);

pub(super) fn draw(f: &Frame, d: &mut Drawing) {
    let dv = f.shape.inlet_seat;
    let lips = f.shape.loading == InletLoading::Elastomer;
    let with_stem = f.shape.closing == InletClosing::Stem;
    let name = if with_stem { "stem" } else { "air inlet" };
    let role = if with_stem { Role::Stem } else { Role::AirInlet };
    let half = if lips { 0.63 * dv } else { 0.59 * dv };
    let (top, bottom) = (f.edge - f.sink, f.edge - f.sink - f.inlet_disc);
    let faced = !lips && !with_stem;
    let disc_top = if faced { f.edge - 0.05 * dv } else { top };
    let hole = relief_hole(f);
    let cut = |reach: f64| hole.map_or(reach, |h: (f64, f64)| reach.min(h.0));

    // Right side from the bottom up; the left side mirrors it, but for the hole of a relief.
    let mut right: Vec<Point> = Vec::new();
    let mut left: Vec<Point> = Vec::new();
    let mut both = |x: f64, y: f64| {
        right.push((cut(x), y));
        left.push((-x, y));
    };
    if with_stem {
        let (g, collar) = (0.055 * f.shape.check_seat, 0.36 * f.shape.check_seat);
        let upper = f.stem - f.shape.inlet_lift - f.shape.lap;
        let lower = upper - 0.12 * f.shape.check_seat;
        for (x, y) in [(collar, lower), (collar, upper), (g, upper), (g, bottom)] {
            both(x, y);
        }
    }
    both(half, bottom);
    both(half, disc_top);
    if with_stem {
        both(f.vent, top);
        both(f.vent, f.edge);
    }
    let g = 0.05 * dv;
    let body = if with_stem { f.edge } else { disc_top };
    match f.shape.closing {
        InletClosing::Diaphragm => {
            let ((plate, _), reach) = (f.plate(), 0.43 * f.shape.diaphragm);
            both(g, body);
            both(g, plate);
            // The plate is wider than the hole of a relief and far above it.
            right.extend([(reach, plate), (reach, plate + 0.4 * f.wall)]);
            left.extend([(-reach, plate), (-reach, plate + 0.4 * f.wall)]);
        }
        _ => {
            both(g, body);
            both(g, f.edge + f.bridge2.1 - f.seat2 + f.shape.inlet_lift);
        }
    }
    left.reverse();
    d.solid(role, name, right.into_iter().chain(left).collect());
    if let Some(hole) = hole {
        d.block(role, name, (hole.1, half), (bottom, disc_top));
        if with_stem {
            d.block(role, name, (hole.1, f.vent), (top, f.edge));
        }
    }
    if faced {
        d.strip(Role::Rubber, "air inlet facing", (g, half), (disc_top, f.edge), hole.as_slice());
        d.block(Role::Rubber, "air inlet facing", (-half, -g), (disc_top, f.edge));
    }
    if lips {
        draw_lips(f, d, top);
    } else {
        let points = zigzag((0.2 * dv, f.edge), (0.2 * dv, f.bridge2.0), 9);
        d.coils.push(Coil { name: "air inlet spring", points });
    }
    if f.shape.closing == InletClosing::Diaphragm {
        membrane(f, d);
    }
    if let Some(hole) = hole {
        relief(f, d, hole);
    }
}

/// The two lips: the inner one seals, the outer one is bent outward between disc and bonnet. Its chord keeps its length,
/// so that it lies the flatter the further the air inlet has shut. It stands on the bonnet all the time, so water and air
/// pass it by slots.
fn draw_lips(f: &Frame, d: &mut Drawing, root: f64) {
    let dv = f.shape.inlet_seat;
    let length = f.rim + f.shape.inlet_lift + f.over;
    let gap = f.bonnet.0 - root;
    let lean = (length * length - gap * gap).max(0.0).sqrt();
    for side in [-1.0, 1.0] {
        let point = |i: i32, shift: f64| {
            let s = f64::from(i) / 8.0;
            (side * (0.56 * dv + shift + lean * s.powf(1.6)), root + gap * s)
        };
        // On the right the section goes through a slot: the way out of the outer lip.
        let pieces: &[(i32, i32)] = if side > 0.0 { &[(0, 2), (6, 8)] } else { &[(0, 8)] };
        for &(from, to) in pieces {
            let inner = (from..=to).map(|i| point(i, 0.0));
            let outer = (from..=to).rev().map(|i| point(i, 0.05 * dv));
            d.solids.push(Piece { role: Role::Rubber, name: "outer lip", points: inner.chain(outer).collect() });
        }
        if f.shape.closing != InletClosing::Stem {
            let x = [side * 0.46 * dv, side * 0.54 * dv];
            d.block(Role::Rubber, "inner lip", (x[0].min(x[1]), x[0].max(x[1])), (root, f.edge));
        }
    }
}

/// The diaphragm between the plate and the wall of its chamber.
fn membrane(f: &Frame, d: &mut Drawing) {
    let ((plate, clamp), c, thick) = (f.plate(), f.chamber(), 0.15 * f.wall);
    let from = 0.43 * f.shape.diaphragm;
    for side in [-1.0, 1.0] {
        // Pressure below bulges it upward.
        let point = |i: i32, up: f64| {
            let s = f64::from(i) / 10.0;
            let y = plate + s * (clamp - plate) + 0.5 * (c - from) * 4.0 * s * (1.0 - s) * 0.5;
            (side * (from + s * (c - from)), y + up)
        };
        let mut points: Vec<Point> = (0..=10).map(|i| point(i, 0.0)).collect();
        points.extend([(side * (c + f.wall), clamp), (side * (c + f.wall), clamp + thick)]);
        points.extend((0..=10).rev().map(|i| point(i, thick)));
        d.solid(Role::Rubber, "diaphragm", points);
    }
}

/// The hole of a relief on the stem, from and to.
pub(super) fn relief_hole(f: &Frame) -> Option<(f64, f64)> {
    let dv = f.shape.inlet_seat;
    let from = RELIEF_HOLE.0 * dv;
    (f.shape.relief == ReliefPlace::AirInletStem).then(|| (from, from + f.shape.relief_bore.min(RELIEF_HOLE.1 * dv)))
}

/// The relief on the stem: a plate over its hole, its spring, and the cage that holds the spring.
fn relief(f: &Frame, d: &mut Drawing, hole: (f64, f64)) {
    let dv = f.shape.inlet_seat;
    let seat = f.edge;
    let lift = 0.04 * dv * f.state.relief_open;
    d.block(
        Role::FittingPart,
        "relief",
        (hole.0 - 0.02 * dv, hole.1 + 0.015 * dv),
        (seat + lift, seat + lift + 0.03 * dv),
    );
    let post = (hole.1 + 0.025 * dv, hole.1 + 0.055 * dv);
    let (low, high) = (seat + 0.17 * dv, seat + 0.2 * dv);
    d.block(Role::Fitting, "relief cage", post, (seat, high));
    d.block(Role::Fitting, "relief cage", (hole.0 - 0.02 * dv, post.0), (low, high));
    let middle = 0.5 * (hole.0 + hole.1);
    let r = 0.35 * (hole.1 - hole.0);
    let points = zigzag((r, seat + lift + 0.03 * dv), (r, low), 6).into_iter().map(|p| (p.0 + middle, p.1)).collect();
    d.coils.push(Coil { name: "relief spring", points });
}
