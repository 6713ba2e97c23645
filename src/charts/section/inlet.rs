//! The air inlet: disc or plug, lips or spring, diaphragm, and the stem that carries the check in one construction.

use super::check::zigzag;
use super::frame::Frame;
use super::{Coil, Drawing, InletClosing, InletLoading, Piece, Point, Role};

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

    // Right side from the bottom up; the left side mirrors it.
    let mut lower: Vec<Point> = Vec::new();
    if with_stem {
        let (g, collar) = (0.055 * f.shape.check_seat, 0.36 * f.shape.check_seat);
        let upper = f.stem - f.shape.inlet_lift - f.shape.lap;
        lower.extend([(collar, upper - 0.12 * f.shape.check_seat), (collar, upper), (g, upper), (g, bottom)]);
    }
    lower.push((half, bottom));
    let mut above = vec![(half, disc_top)];
    if with_stem {
        above.extend([(f.vent, top), (f.vent, f.edge)]);
    }
    let g = f.stem_half();
    let head = f.stem_head();
    above.extend([(g, if with_stem { f.edge } else { disc_top }), (g, head.1.0)]);
    if head.0 > g {
        above.extend([(head.0, head.1.0), (head.0, head.1.1)]);
    }
    let right = [&lower[..], &above].concat();
    let left: Vec<Point> = right.iter().rev().map(|p| (-p.0, p.1)).collect();
    match f.stem_bore() {
        None => d.solid(role, name, [right, left].concat()),
        Some(b) if with_stem => {
            // The rod below is solid: the bore begins at a cross hole in the disc.
            let cross = (bottom + 0.04 * dv, bottom + 0.1 * dv);
            let floor = [(half, cross.0), (-b, cross.0), (-b, head.1.1)];
            d.solid(role, name, [&lower[..], &floor, &left].concat());
            d.solid(role, name, [&[(b, cross.1), (half, cross.1)], &above[..], &[(b, head.1.1)]].concat());
        }
        Some(b) => {
            d.solid(role, name, [&[(b, bottom)], &right[..], &[(b, head.1.1)]].concat());
            d.solid(role, name, [&[(-b, head.1.1)], &left[..], &[(-b, bottom)]].concat());
        }
    }
    if faced {
        d.block(Role::Rubber, "air inlet facing", (g, half), (disc_top, f.edge));
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
    if f.stem_bore().is_some() {
        relief(f, d);
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

/// The relief on top of the stem: a plate over its bore, its spring, and the cage that holds the spring.
fn relief(f: &Frame, d: &mut Drawing) {
    let (dv, g, seat) = (f.shape.inlet_seat, f.stem_half(), f.stem_head().1.1);
    let lift = 0.04 * dv * f.state.relief_open;
    let plate = (seat + lift, seat + lift + 0.03 * dv);
    d.block(Role::FittingPart, "relief", (-g, g), plate);
    let (post, low, high) = ((g + 0.01 * dv, g + 0.04 * dv), seat + 0.2 * dv, seat + 0.23 * dv);
    d.block(Role::Fitting, "relief cage", post, (seat, low));
    d.block(Role::Fitting, "relief cage", (-post.1, -post.0), (seat, low));
    d.block(Role::Fitting, "relief cage", (-post.1, post.1), (low, high));
    let points = zigzag((0.6 * g, plate.1), (0.6 * g, low), 6);
    d.coils.push(Coil { name: "relief spring", points });
}
