//! Time of one night of 24 h with a relief, lifts by map and resolved, and of a grid of sets and bores.

#![allow(clippy::expect_used)] // a bench that cannot set up has nothing to measure

use criterion::{Criterion, criterion_group, criterion_main};
use poppetry::assembly::{Resolver, Settings};
use poppetry::bench::relief_study;
use poppetry::freeze::night::TOLERANCE;
use poppetry::freeze::{Scene, night};
use poppetry::rig::Rig;
use std::hint::black_box;

fn scene(sets: &[&str]) -> (Settings, Scene) {
    let resolver = sets.iter().fold(Resolver::new().assembly("pvb-relief"), |r, s| r.set(s));
    let settings = resolver.resolve().expect("a built-in resolves");
    let rig = Rig::from_settings(&settings).expect("a built-in builds");
    let scene = Scene::from_settings(&settings, &rig).expect("a scene");
    (settings, scene)
}

fn nights(c: &mut Criterion) {
    for (name, lifts) in [("lifts by map", "night.lifts=by-map"), ("every lift resolved", "night.lifts=resolved")] {
        let (_, scene) = scene(&["night.duration=24 h", lifts]);
        c.bench_function(&format!("night of 24 h, {name}"), |b| {
            b.iter(|| black_box(night(&scene.body, &scene.starts, scene.duration, TOLERANCE).expect("a night")))
        });
    }
    let (settings, scene) = scene(&["night.duration=24 h"]);
    let mut group = c.benchmark_group("grid");
    group.sample_size(10);
    group.bench_function("12 x 12 nights of 24 h", |b| {
        b.iter(|| black_box(relief_study(&settings, &scene, 12, TOLERANCE).expect("a study")))
    });
    group.finish();
}

criterion_group!(benches, nights);
criterion_main!(benches);
