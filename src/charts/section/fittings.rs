//! Test cocks, bleed screw, relief in a wall, canopy.

use super::check::zigzag;
use super::frame::Frame;
use super::{Coil, Drawing, InletClosing, ReliefPlace, Role};

pub(super) fn draw(f: &Frame, d: &mut Drawing) {
    for i in 0..2 {
        cock(f, d, i);
    }
    if f.shape.bleed_screw {
        bleed_screw(f, d);
    }
    if let Some(x) = f.relief() {
        relief(f, d, x);
    }
    if f.shape.canopy {
        canopy(f, d);
    }
}

/// A tapped tube with a plug in it; the plug is gone when the cock is open.
fn cock(f: &Frame, d: &mut Drawing, index: usize) {
    let Some((x, wall)) = f.cock(index) else { return };
    let (b, w) = (f.cock_bore(), f.wall);
    let names = [["cock 1", "plug 1"], ["cock 2", "plug 2"]][index.min(1)];
    let end = wall - 1.4 * w;
    d.block(Role::Fitting, names[0], (x - b - 0.35 * w, x - b), (end, wall));
    d.block(Role::Fitting, names[0], (x + b, x + b + 0.35 * w), (end, wall));
    if !f.state.cocks_open.get(index).copied().unwrap_or(false) {
        d.block(Role::FittingPart, names[1], (x - b, x + b), (end + 0.3 * w, wall - 0.4 * w));
    }
}

fn bleed_screw(f: &Frame, d: &mut Drawing) {
    let (x, b, head) = (f.bleed(), f.cock_bore(), 0.4 * f.wall);
    // Out, it leaves its hole by half the room below the bridge.
    let room = (f.bridge2.0 - f.bonnet.1 - head).max(0.0);
    let out = if f.state.bleed_open { (0.7 * f.wall).min(0.5 * room) } else { 0.0 };
    let half = (2.2 * b).min(0.45 * (f.inner + x).abs());
    d.block(Role::FittingPart, "bleed screw", (x - b, x + b), (f.bonnet.0 + out, f.bonnet.1 + out));
    d.block(Role::FittingPart, "bleed screw", (x - half, x + half), (f.bonnet.1 + out, f.bonnet.1 + out + head));
}

/// A plate over a hole in the wall, its spring and its cage; upward out of zone 2, downward out of zone 1.
fn relief(f: &Frame, d: &mut Drawing, x: f64) {
    let (w, bore) = (f.wall, f.relief_bore());
    let up = f.shape.relief == ReliefPlace::Zone2;
    let (face, way) = if up { (f.outlet.1 + w, 1.0) } else { (f.zone1.0 - w, -1.0) };
    let span = |a: f64, b: f64| {
        let (a, b) = (face + way * a, face + way * b);
        (a.min(b), a.max(b))
    };
    let lift = 0.6 * bore * f.state.relief_open;
    let half = bore + 0.2 * w;
    d.block(Role::FittingPart, "relief", (x - half, x + half), span(lift, lift + 0.25 * w));
    let roof = 0.25 * w + 0.6 * bore + 0.9 * w;
    let side = half + 0.1 * w;
    d.block(Role::Fitting, "relief cage", (x - side - 0.2 * w, x - side), span(0.0, roof));
    d.block(Role::Fitting, "relief cage", (x + side, x + side + 0.2 * w), span(0.0, roof));
    d.block(Role::Fitting, "relief cage", (x - side - 0.2 * w, x + side + 0.2 * w), span(roof, roof + 0.2 * w));
    let (a, b) = (face + way * (lift + 0.25 * w), face + way * roof);
    let points = zigzag((0.6 * half, a), (0.6 * half, b), 7).into_iter().map(|p| (p.0 + x, p.1)).collect();
    d.coils.push(Coil { name: "relief spring", points });
}

fn canopy(f: &Frame, d: &mut Drawing) {
    let w = f.wall;
    let (left, right) = f.eaves();
    let thick = 0.4 * w;
    d.block(Role::Canopy, "canopy", (left - thick, right + thick), (f.roof, f.roof + thick));
    d.block(Role::Canopy, "canopy", (left - thick, left), (f.skirt(), f.roof));
    d.block(Role::Canopy, "canopy", (right, right + thick), (f.skirt(), f.roof));
    // It stands on the bridge, or on the clamp of the diaphragm.
    let (x, from) = match f.shape.closing {
        InletClosing::Diaphragm => {
            let (c, (_, clamp)) = (f.chamber(), f.plate());
            ((-c - w, -c - 0.5 * w), clamp + 0.6 * w)
        }
        _ => ((f.left(), f.left() + 0.5 * w), f.bridge2.1),
    };
    d.block(Role::Canopy, "canopy", x, (from, f.roof));
}
