//! The section drawing as geometry: nothing overlaps, what touches in the unit touches in the drawing, and travels
//! measured in it are those of the state.

#![allow(clippy::expect_used, clippy::unwrap_used)]

#[path = "charts/polygons.rs"]
mod polygons;

use polygons::overlap;
use poppetry::charts::Rect;
use poppetry::charts::section::{
    CockPlace, Drawing, InletClosing, InletLoading, Placement, Point, ReliefPlace, Role, SectionShape, SectionState,
    section,
};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Size at which the strip shows a section, px.
const WIDE: f64 = 560.0;

fn px_per_m(d: &Drawing) -> f64 {
    Placement::fit(d.bounds, Rect::new(0.0, 0.0, WIDE, WIDE)).scale
}

fn to_segment(p: Point, a: Point, b: Point) -> f64 {
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    let square = dx * dx + dy * dy;
    let f = if square > 0.0 { (((p.0 - a.0) * dx + (p.1 - a.1) * dy) / square).clamp(0.0, 1.0) } else { 0.0 };
    (p.0 - a.0 - f * dx).hypot(p.1 - a.1 - f * dy)
}

fn to_edge(p: Point, polygon: &[Point]) -> f64 {
    (0..polygon.len()).map(|i| to_segment(p, polygon[i], polygon[(i + 1) % polygon.len()])).fold(f64::MAX, f64::min)
}

/// Smallest distance between two parts, m, if they do not overlap.
fn distance(d: &Drawing, a: &str, b: &str) -> f64 {
    assert!(d.named(a).next().is_some() && d.named(b).next().is_some(), "{a} and {b} are drawn");
    let mut least = f64::MAX;
    for p in d.named(a) {
        for q in d.named(b) {
            least = p.points.iter().map(|x| to_edge(*x, &q.points)).fold(least, f64::min);
            least = q.points.iter().map(|x| to_edge(*x, &p.points)).fold(least, f64::min);
        }
    }
    least
}

fn lowest(d: &Drawing, name: &str) -> f64 {
    d.named(name).flat_map(|p| &p.points).map(|p| p.1).fold(f64::MAX, f64::min)
}

fn highest(d: &Drawing, name: &str) -> f64 {
    d.named(name).flat_map(|p| &p.points).map(|p| p.1).fold(f64::MIN, f64::max)
}

fn one_of<T: Copy>(rng: &mut ChaCha8Rng, all: &[T]) -> T {
    all[rng.random_range(0..all.len())]
}

/// Any construction: all axes, seats and bores of any nominal size beside one another.
fn any_shape(rng: &mut ChaCha8Rng) -> SectionShape {
    let bore = rng.random_range(0.012..0.055);
    let mut near = |low: f64, high: f64| bore * rng.random_range(low..high);
    let (check_seat, inlet_seat) = (near(0.6, 1.5), near(0.6, 1.5));
    let (check_lift, inlet_lift, lap) = (near(0.15, 0.4), near(0.1, 0.35), near(-0.09, 0.15));
    let (diaphragm, relief_bore, other) = (near(0.6, 1.6), near(0.05, 0.2), near(0.8, 1.25));
    let places = [CockPlace::Body, CockPlace::ShutoffInner, CockPlace::ShutoffOuter, CockPlace::None];
    SectionShape {
        shutoff_bores: [bore, other],
        check_seat,
        check_port: 0.93 * check_seat,
        check_lift,
        inlet_seat,
        inlet_port: 0.93 * inlet_seat,
        inlet_lift,
        loading: one_of(rng, &[InletLoading::Spring, InletLoading::Elastomer]),
        closing: one_of(rng, &[InletClosing::Zone2, InletClosing::Diaphragm, InletClosing::Stem]),
        diaphragm,
        lap,
        conical_spring: rng.random(),
        seat_insert: rng.random(),
        cocks: [one_of(rng, &places), one_of(rng, &places)],
        bleed_screw: rng.random(),
        canopy: rng.random(),
        relief: one_of(rng, &[ReliefPlace::None, ReliefPlace::AirInletStem, ReliefPlace::Zone1, ReliefPlace::Zone2]),
        relief_bore,
    }
}

/// Any state the construction allows: a stem has both parts follow from its travel.
fn any_state(rng: &mut ChaCha8Rng, shape: &SectionShape) -> SectionState {
    let mut share = || one_of(rng, &[0.0, 1.0, -1.0]);
    let (check, inlet) = (share(), share());
    let mut some = |s: f64, most: f64| if s < 0.0 { most * rng.random_range(0.0..1.0) } else { s * most };
    let (mut check_travel, mut inlet_travel) = (some(check, shape.check_lift), some(inlet, shape.inlet_lift));
    let stem_travel = some(inlet, shape.inlet_lift + shape.lap + shape.check_lift);
    if shape.closing == InletClosing::Stem {
        inlet_travel = (shape.inlet_lift - stem_travel).max(0.0);
        check_travel = (stem_travel - shape.inlet_lift - shape.lap).max(0.0);
    }
    let shutoffs = [some(check, 1.0), some(-1.0, 1.0)];
    SectionState {
        check_travel,
        inlet_travel,
        stem_travel,
        shutoffs,
        liquid: [1.0, some(-1.0, 1.0), some(-1.0, 1.0), some(-1.0, 1.0)],
        cocks_open: [rng.random(), rng.random()],
        bleed_open: rng.random(),
        relief_open: rng.random_range(0.0..1.0),
        water: [1e-4; 4],
        vent_air: 1e-4,
    }
}

fn cases(number: usize) -> Vec<(SectionShape, SectionState)> {
    let mut rng = ChaCha8Rng::seed_from_u64(4);
    let case = |_| {
        let shape = any_shape(&mut rng);
        let state = any_state(&mut rng, &shape);
        (shape, state)
    };
    (0..number).map(case).collect()
}

#[test]
fn analytic_no_two_solids_overlap_in_three_hundred_random_constructions() {
    for (i, (shape, state)) in cases(300).into_iter().enumerate() {
        let d = section(&shape, &state);
        let scale = px_per_m(&d);
        for (k, a) in d.solids.iter().enumerate() {
            for b in d.solids.iter().skip(k + 1) {
                let px = overlap(&a.points, &b.points) * scale;
                assert!(px < 0.05, "case {i}: {} and {} overlap by {px} px: {shape:?} {state:?}", a.name, b.name);
            }
        }
    }
}

#[test]
fn analytic_travels_measured_in_the_drawing_are_those_of_the_state() {
    for (i, (shape, state)) in cases(300).into_iter().enumerate() {
        let d = section(&shape, &state);
        let pixel = 1.0 / px_per_m(&d);
        let check = lowest(&d, "check facing") - highest(&d, "check seat");
        assert!((check - state.check_travel).abs() < 0.01 * pixel, "case {i}: check {check} {state:?}");
        let inlet = match (shape.closing, shape.loading) {
            // A plug's upper edge against the bonnet's lower side; once inside, the vent is shut.
            (InletClosing::Stem, _) => {
                let vent = 0.5 * shape.inlet_seat;
                let plug = d.named("stem").flat_map(|p| &p.points).filter(|p| (p.0.abs() - vent).abs() < 1e-9);
                (lowest(&d, "bonnet") - plug.map(|p| p.1).fold(f64::MIN, f64::max)).max(0.0)
            }
            (_, InletLoading::Elastomer) => lowest(&d, "bonnet") - highest(&d, "inner lip"),
            (_, InletLoading::Spring) => lowest(&d, "vent seat") - highest(&d, "air inlet facing"),
        };
        assert!((inlet - state.inlet_travel).abs() < 0.01 * pixel, "case {i}: air inlet {inlet} {shape:?} {state:?}");
        // The ball's bore lies between the flat sides of its two halves: the longest edge of each.
        for (ball, open) in [("ball 1", state.shutoffs[0]), ("ball 2", state.shutoffs[1])] {
            let points = &d.named(ball).next().expect("a ball").points;
            let (a, b) = (points[0], points[points.len() - 1]);
            let angle = (a.1 - b.1).atan2(a.0 - b.0).to_degrees();
            assert!((angle - 90.0 * (1.0 - open)).abs() < 1e-6, "case {i}: {ball} at {angle} degrees, {open} open");
        }
    }
}

#[test]
fn analytic_parts_touch_where_they_touch() {
    let touch = 1e-9;
    for (i, (shape, state)) in cases(300).into_iter().enumerate() {
        let says = format!("case {i}: {shape:?} {state:?}");
        let near = |d: &Drawing, a: &str, b: &str| assert!(distance(d, a, b) < touch, "{a} and {b}: {says}");
        let moving = if shape.closing == InletClosing::Stem { "stem" } else { "air inlet" };
        let shut = SectionState { check_travel: 0.0, inlet_travel: 0.0, stem_travel: shape.inlet_lift, ..state };
        let d = section(&shape, &shut);
        if shape.lap >= 0.0 || shape.closing != InletClosing::Stem {
            near(&d, "check facing", "check seat");
        }
        match (shape.closing, shape.loading) {
            (InletClosing::Stem, _) => near(&d, "stem", "bonnet"),
            (_, InletLoading::Elastomer) => near(&d, "inner lip", "bonnet"),
            _ => near(&d, "air inlet facing", "vent seat"),
        }
        // Fully open: both parts stand on their stops.
        let open = SectionState { inlet_travel: shape.inlet_lift, check_travel: 0.0, stem_travel: 0.0, ..state };
        near(&section(&shape, &open), moving, "check bridge");
        let stroke = shape.inlet_lift + shape.lap + shape.check_lift;
        let lifted = SectionState { inlet_travel: 0.0, check_travel: shape.check_lift, stem_travel: stroke, ..state };
        let d = section(&shape, &lifted);
        near(&d, "check", "check bridge");
        if shape.closing == InletClosing::Stem {
            // The collar carries the check.
            near(&d, "stem", "check facing");
        }
        let d = section(&shape, &state);
        for (housing, ball) in [("shutoff 1", "ball 1"), ("shutoff 2", "ball 2")] {
            assert!(distance(&d, housing, ball) < 2e-3 * shape.shutoff_bores[0].max(shape.shutoff_bores[1]), "{says}");
        }
        if shape.loading == InletLoading::Elastomer {
            near(&d, "outer lip", "bonnet");
            near(&d, "outer lip", moving);
        }
        if shape.closing == InletClosing::Diaphragm {
            near(&d, "diaphragm", moving);
            near(&d, "diaphragm", "chamber");
        }
        for coil in &d.coils {
            for end in [coil.points[0], coil.points[coil.points.len() - 1]] {
                let rests = d.solids.iter().map(|p| to_edge(end, &p.points)).fold(f64::MAX, f64::min);
                assert!(rests < touch, "{} ends {rests} m from all parts: {says}", coil.name);
            }
        }
    }
}

/// It once stood on the disc beside the stem, where a way round the seat would be.
#[test]
fn bug_a_relief_in_the_stem_stands_on_top_of_it_above_a_free_bore() {
    let (mut drawn, mut rng) = (0, ChaCha8Rng::seed_from_u64(5));
    for (i, (shape, state)) in cases(300).into_iter().enumerate() {
        let shape =
            SectionShape { relief: ReliefPlace::AirInletStem, relief_bore: rng.random_range(1e-4..0.02), ..shape };
        let d = section(&shape, &state);
        let xs: Vec<f64> = d.named("relief").flat_map(|p| &p.points).map(|p| p.0).collect();
        assert!(xs.iter().sum::<f64>().abs() < 1e-12, "case {i}: it stands on the axis");
        let (seat, under) = (lowest(&d, "relief"), lowest(&d, "check bridge"));
        assert!(seat > highest(&d, "bonnet") && seat > highest(&d, "vent bore").max(f64::MIN), "case {i}: {shape:?}");
        let moving = if shape.closing == InletClosing::Stem { "stem" } else { "air inlet" };
        // Half of the pieces of the part that moves stand right of the axis only: the bore divides it.
        assert!(d.named(moving).any(|p| p.points.iter().all(|q| q.0 > 0.0)), "case {i}: no bore in {shape:?}");
        if shape.closing != InletClosing::Stem {
            let on_axis = |p: &Point| d.named(moving).any(|q| overlap(&q.points, &tiny(*p)) > 0.0);
            let rises = (0..=50).map(|k| (0.0, under + f64::from(k) / 50.0 * (seat - under)));
            assert!(!rises.into_iter().any(|p| on_axis(&p)), "case {i}: the bore is blocked in {shape:?}");
        }
        drawn += 1;
    }
    assert_eq!(drawn, 300);
}

/// A square of 2 um about a point.
fn tiny(p: Point) -> [Point; 4] {
    [(-1e-6, -1e-6), (1e-6, -1e-6), (1e-6, 1e-6), (-1e-6, 1e-6)].map(|q| (p.0 + q.0, p.1 + q.1))
}

/// The outer lip is a strut of fixed length between disc and bonnet, so it leans out as the disc nears the bonnet.
#[test]
fn analytic_the_outer_lip_keeps_its_length_and_rolls_outward() {
    let (shape, state) = cases(300).into_iter().find(|(s, _)| s.loading == InletLoading::Elastomer).expect("some lips");
    let shape = SectionShape { closing: InletClosing::Zone2, ..shape };
    let chord = |travel: f64| {
        let d = section(&shape, &SectionState { inlet_travel: travel, ..state });
        // The right one, cut by a slot: from its root to its tip.
        let [root, tip] = [1, 2].map(|i| d.named("outer lip").nth(i).expect("root and tip").points.clone());
        (tip[2].0 - root[0].0, tip[2].1 - root[0].1)
    };
    let upright = chord(shape.inlet_lift);
    assert!(upright.0.abs() < 1e-8, "at the open stop it stands upright");
    let mut last = -1.0;
    for share in [1.0, 0.8, 0.5, 0.2, 0.0] {
        let (lean, rise) = chord(share * shape.inlet_lift);
        assert!((lean.hypot(rise) - upright.0.hypot(upright.1)).abs() < 1e-12 && lean > last);
        last = lean;
    }
}

/// In the load side's pipe, a rectangle, the level stands at the share of water.
#[test]
fn analytic_water_fills_its_share_of_a_zone() {
    for (shape, state) in cases(40) {
        let d = section(&shape, &state);
        let middle = d.anchors.balls[1].0;
        let area = |role: Role| -> f64 {
            let inside = d.fluids.iter().filter(|p| p.role == role && p.points.iter().all(|q| q.0 >= middle - 1e-9));
            inside.map(|p| (p.points[1].0 - p.points[0].0) * (p.points[2].1 - p.points[1].1)).filter(|a| *a > 0.0).sum()
        };
        // Holes of a cock on the far side lie in the walls, beside the pipe.
        if shape.cocks[1] == CockPlace::ShutoffOuter {
            continue;
        }
        let (water, air) = (area(Role::Water), area(Role::Air));
        assert!((water / (water + air) - state.liquid[3]).abs() < 1e-6, "{water} {air} {state:?}");
    }
}

#[test]
fn regress_every_part_of_a_construction_is_drawn_and_no_other() {
    for (shape, state) in cases(300) {
        let d = section(&shape, &state);
        let has = |name: &str| d.named(name).next().is_some();
        assert_eq!(has("outer lip"), shape.loading == InletLoading::Elastomer);
        assert_eq!(d.coils.iter().any(|c| c.name == "air inlet spring"), shape.loading == InletLoading::Spring);
        assert_eq!(has("diaphragm"), shape.closing == InletClosing::Diaphragm);
        assert_eq!(has("stem"), shape.closing == InletClosing::Stem);
        assert_eq!(has("bleed screw"), shape.bleed_screw);
        assert_eq!(has("canopy"), shape.canopy);
        assert_eq!(has("relief"), shape.relief != ReliefPlace::None);
        assert_eq!([has("cock 1"), has("cock 2")], shape.cocks.map(|c| c != CockPlace::None));
        assert_eq!(d.solids.iter().any(|p| p.role == Role::Insert), shape.seat_insert);
        assert_eq!(has("plug 1"), shape.cocks[0] != CockPlace::None && !state.cocks_open[0]);
    }
}

#[test]
fn regress_senseless_numbers_still_give_a_finite_drawing() {
    let (shape, state) = cases(1)[0];
    for value in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, -1.0, 0.0, 1e300] {
        let shape = SectionShape {
            shutoff_bores: [value; 2],
            check_seat: value,
            check_lift: value,
            inlet_seat: value,
            inlet_lift: value,
            diaphragm: value,
            lap: value,
            relief_bore: value,
            ..shape
        };
        let state = SectionState {
            check_travel: value,
            inlet_travel: value,
            stem_travel: value,
            shutoffs: [value; 2],
            liquid: [value; 4],
            relief_open: value,
            ..state
        };
        let d = section(&shape, &state);
        let finite = |p: &Point| p.0.is_finite() && p.1.is_finite();
        assert!(d.solids.iter().chain(&d.fluids).all(|p| p.points.iter().all(finite)), "{value}");
        assert!(d.bounds.2 > d.bounds.0 && d.bounds.3 > d.bounds.1);
    }
}
