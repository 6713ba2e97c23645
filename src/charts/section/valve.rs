//! The shutoffs: a ball with a straight bore that turns a quarter turn in its housing.

use super::frame::Frame;
use super::{Drawing, Point, Role};
use std::f64::consts::{FRAC_PI_2, PI};

/// Edges along a half circle.
const STEPS: i32 = 24;

pub(super) fn draw(f: &Frame, d: &mut Drawing) {
    for i in 0..2 {
        let (center, radius, bore) = (f.centers[i], f.balls[i], f.shape.shutoff_bores[i]);
        let names = [["shutoff 1", "ball 1"], ["shutoff 2", "ball 2"]][i];
        for side in [-1.0, 1.0] {
            d.solid(Role::Housing, names[0], housing(center, radius, bore, f.wall, side));
            let cap = cap(radius, 0.5 * bore, side);
            d.solid(Role::Ball, names[1], cap.into_iter().map(|p| turned(p, center, angle(f, i))).collect());
        }
    }
}

/// How far the ball's bore stands across the flow, rad: 0 open, a quarter turn shut.
pub(super) fn angle(f: &Frame, shutoff: usize) -> f64 {
    (1.0 - f.state.shutoffs[shutoff]) * FRAC_PI_2
}

/// A point of the ball in place.
pub(super) fn turned(p: Point, center: Point, angle: f64) -> Point {
    let (sin, cos) = angle.sin_cos();
    (center.0 + p.0 * cos - p.1 * sin, center.1 + p.0 * sin + p.1 * cos)
}

/// Points of a circle from one angle to another.
pub(super) fn arc(radius: f64, from: f64, to: f64) -> impl Iterator<Item = Point> {
    (0..=STEPS).map(move |i| {
        let a = from + (to - from) * f64::from(i) / f64::from(STEPS);
        (radius * a.cos(), radius * a.sin())
    })
}

/// The part of the ball above (1) or below (-1) its bore.
fn cap(radius: f64, half: f64, side: f64) -> Vec<Point> {
    let a = (half / radius).asin();
    arc(radius, a, PI - a).map(|p| (p.0, side * p.1)).collect()
}

fn housing((cx, cy): Point, radius: f64, bore: f64, wall: f64, side: f64) -> Vec<Point> {
    let half = 0.5 * bore;
    // Edges of the polygon touch the ball's circle from outside.
    let a = (half / radius).asin();
    let r = radius / ((PI - 2.0 * a) / f64::from(STEPS) / 2.0).cos();
    let a = (half / r).asin();
    let reach = radius + 0.1 * wall;
    let mut points = vec![(reach, half)];
    points.extend(arc(r, a, PI - a));
    points.extend([(-reach, half), (-reach, radius + wall), (reach, radius + wall)]);
    points.into_iter().map(|p| (cx + p.0, cy + side * p.1)).collect()
}
