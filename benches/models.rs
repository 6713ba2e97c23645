//! Time of the models that have no bench of their own: settings and hand sums, the elastomer's law, laws of water, ice and
//! freezing front, curves, the bare line's start-up, a relief that lifts in a slam, a fault's symptoms.

#![allow(clippy::expect_used)] // a bench that cannot set up has nothing to measure

use criterion::{Criterion, criterion_group, criterion_main};
use poppetry::assembly::{Resolver, Settings};
use poppetry::bench::surge::surge;
use poppetry::bench::{SEVERITIES, curves, line_start_up, symptom_table};
use poppetry::freeze::conduction::{Form, MovingFront};
use poppetry::freeze::table;
use poppetry::laws::ice::IceState;
use poppetry::laws::lip::{ElastomerLip, Root};
use poppetry::laws::lip_load::LipLoad;
use poppetry::laws::ring::ConicalRing;
use poppetry::laws::water::WaterState;
use poppetry::rig::{Feed, Rig, options};
use std::hint::black_box;

fn settings(assembly: &str, sets: &[&str]) -> Settings {
    sets.iter().fold(Resolver::new().assembly(assembly), |r, s| r.set(s)).resolve().expect("a built-in resolves")
}

/// One iteration reads a built-in, changes two numbers in it, builds its rig, or does the hand sums of that rig.
fn set_up(c: &mut Criterion) {
    let s = settings("svb-diaphragm", &[]);
    let rig = Rig::from_settings(&s).expect("a built-in builds");
    let numbers = [("check.load", 9_000.0), ("supply.pressure", 300_000.0)];
    c.bench_function("settings of a built-in, read", |b| b.iter(|| black_box(settings("svb-diaphragm", &[]))));
    c.bench_function("settings, two numbers changed", |b| {
        b.iter(|| black_box(s.with_numbers(black_box(&numbers)).expect("within their ranges")))
    });
    c.bench_function("rig from settings", |b| b.iter(|| black_box(Rig::from_settings(&s).expect("it builds"))));
    c.bench_function("hand sums of a rig", |b| b.iter(|| black_box(rig.statics())));
}

/// One iteration is the force of a lip at one roll (law, table, flat ring of the same size), or its table of 33 points.
fn lip(c: &mut Criterion) {
    let lip = ElastomerLip {
        outer_diameter: 44e-3,
        root_diameter: 28e-3,
        thickness: 2e-3,
        lip_angle: 0.7,
        youngs_modulus: 3e6,
        poisson: 0.5,
        root: Root::Floating,
        root_bending: 1.0,
    };
    let load = LipLoad { lip, lift: 4e-3, preload: 1e-3, loss_tangent: 0.1, factor: 1.0 };
    let curve = load.tabulate(0.0, 33).expect("a lip that does not snap");
    let ring = ConicalRing {
        outer_diameter: 44e-3,
        inner_diameter: 28e-3,
        thickness: 2e-3,
        cone_height: lip.cone_height(),
        youngs_modulus: 3e6,
        poisson: 0.5,
    };
    c.bench_function("lip, law at one travel", |b| b.iter(|| black_box(load.branches(black_box(2.3e-3)))));
    c.bench_function("lip, table at one travel", |b| b.iter(|| black_box(curve.opening().value(black_box(2.3e-3)))));
    c.bench_function("lip, 33 points tabulated", |b| b.iter(|| black_box(load.tabulate(0.0, 33).expect("a lip"))));
    c.bench_function("conical ring, force at one roll", |b| b.iter(|| black_box(ring.force(black_box(2.7e-3)))));
}

/// One iteration is one state of water or ice, by its exact law or from the table, or one front that freezes a tube through.
fn freezing(c: &mut Criterion) {
    let (t, p) = (270.0, 20e6);
    c.bench_function("water, exact law", |b| b.iter(|| black_box(WaterState::liquid(black_box(t), p))));
    c.bench_function("water, table", |b| b.iter(|| black_box(table::liquid(black_box(t), p))));
    c.bench_function("ice, exact law", |b| b.iter(|| black_box(IceState::new(black_box(t), p))));
    c.bench_function("ice, table", |b| b.iter(|| black_box(table::ice(black_box(t), p))));
    let front = MovingFront { form: Form::Cylinder, stefan: 0.063, cells: 40, heat_capacity: true };
    c.bench_function("front into a cylinder, 40 cells", |b| {
        b.iter(|| black_box(front.times(&[0.5, 0.03]).expect("the front arrives")))
    });
}

/// One iteration is all curves of one assembly: loads, losses, capacities, supply needed.
fn all_curves(c: &mut Criterion) {
    for assembly in ["pvb-spring", "pvb-elastomer", "pvb-relief", "svb-stem"] {
        let s = settings(assembly, &[]);
        let rig = Rig::from_settings(&s).expect("a built-in builds");
        c.bench_function(&format!("curves, {assembly}"), |b| b.iter(|| black_box(curves(&s, &rig).expect("curves"))));
    }
}

/// One iteration is the start-up of the bare line, to 90 % of its flow.
fn start_up(c: &mut Criterion) {
    let rig = Rig::from_settings(&settings("pvb-spring", &[])).expect("a built-in builds");
    let Feed::Line(line) = &rig.feed else { return };
    c.bench_function("line start-up", |b| b.iter(|| black_box(line_start_up(line, &rig.fluid).expect("it starts"))));
}

/// One iteration is 0.5 s in which a valve behind the assembly slams and lifts its relief, the line in 50 cells.
fn relief(c: &mut Criterion) {
    let sets = ["surge.scene=downstream-valve", "surge.closing_time=0 s", "surge.end_time=0.5 s", "surge.cells=50"];
    let s = settings("pvb-relief", &sets);
    let options = options(&s).expect("options");
    let run = surge(&s, &options).expect("the run finishes");
    assert!(run.coupled.is_some_and(|r| r.relieved_m3 > 0.0), "the relief is to lift");
    c.bench_function("slam that lifts the relief, 0.5 s", |b| {
        b.iter(|| black_box(surge(&s, &options).expect("the run finishes")))
    });
}

/// One iteration is the symptoms of one fault at five severities: a fill and a field test each, on all processors.
fn symptoms(c: &mut Criterion) {
    let s = settings("pvb-spring", &["run.tolerance=1e-4"]);
    let fault = poppetry::faults::named("check-spring-weak").expect("it is in the library");
    c.bench_function("symptoms of a fault, five severities", |b| {
        b.iter(|| black_box(symptom_table(&s, &[fault], &SEVERITIES, &|| ()).expect("a table")))
    });
}

criterion_group! {
    name = benches;
    config = Criterion::default().sample_size(10);
    targets = set_up, lip, freezing, all_curves, start_up, relief, symptoms
}
criterion_main!(benches);
