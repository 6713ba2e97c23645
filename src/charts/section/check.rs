//! The check with its facing, guide and spring.

use super::frame::Frame;
use super::{Coil, Drawing, InletClosing, Point, Role};

pub(super) fn draw(f: &Frame, d: &mut Drawing) {
    let (dk, t) = (f.shape.check_seat, f.state.check_travel);
    let half = 0.58 * dk;
    let (facing, top) = (t + 0.05 * dk, t + f.check_disc);
    if f.shape.closing == InletClosing::Stem {
        // The stem goes through it.
        let bore = 0.07 * dk;
        for side in [-1.0, 1.0] {
            let span = |a: f64, b: f64| ((side * a).min(side * b), (side * a).max(side * b));
            d.block(Role::Rubber, "check facing", span(bore, half), (t, facing));
            d.block(Role::Check, "check", span(bore, half), (facing, top));
        }
    } else {
        let guide = top + 0.9 * (f.hub1.1 - f.hub1.0);
        let g = 0.05 * dk;
        d.block(Role::Rubber, "check facing", (-half, half), (t, facing));
        let right = [(half, facing), (half, top), (g, top), (g, guide)];
        let left = right.iter().rev().map(|p| (-p.0, p.1));
        d.solid(Role::Check, "check", right.iter().copied().chain(left).collect());
    }
    let (low, high) = if f.shape.conical_spring { (0.44 * dk, 0.22 * dk) } else { (0.27 * dk, 0.27 * dk) };
    d.coils.push(Coil { name: "check spring", points: zigzag((low, top), (high, f.bridge1.0), 9) });
}

/// A spring seen from the side, from radius and height to radius and height, with so many half turns.
pub(super) fn zigzag((r0, y0): Point, (r1, y1): Point, turns: usize) -> Vec<Point> {
    let at = |i: usize| {
        let f = i as f64 / turns as f64;
        let side = if i.is_multiple_of(2) { -1.0 } else { 1.0 };
        (side * (r0 + f * (r1 - r0)), y0 + f * (y1 - y0))
    };
    (0..=turns).map(at).collect()
}
