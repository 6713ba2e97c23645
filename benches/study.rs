//! Time of studies: a sweep of fills, the points of a sample, Sobol' indices, and a search. The runs are small, so that what a
//! study adds to them is seen.

#![allow(clippy::expect_used)] // a bench that cannot set up has nothing to measure

use criterion::{Criterion, criterion_group, criterion_main};
use poppetry::assembly::Resolver;
use poppetry::study::find::{Search, find};
use poppetry::study::sampling::{Design, Sample};
use poppetry::study::sensitivity::{Gather, Scheme};
use poppetry::study::{Axis, Cell, Control, Grid, Study, Until};
use std::f64::consts::PI;
use std::hint::black_box;

/// One iteration is a sweep of 8 by 8 fills to the check's first closing, or to the known order, or without a run (hand sums).
fn sweeps(c: &mut Criterion) {
    let base = Resolver::new().assembly("svb-diaphragm").set("shutoff2.open=false").resolve().expect("it resolves");
    let axes = ["check.load=1:2.4:8 psi", "supply.pressure=30:80:8 psi"];
    let axes = axes.map(|a| Axis::parse(a).expect("an axis")).to_vec();
    let study = Study::new(base, Grid::new(axes).expect("a grid"));
    for (name, key, until) in [
        ("to the check's closing", "sequence.spill_m3", Until::CheckClosed),
        ("until the order is known", "sequence.order", Until::OrderKnown),
        ("hand sums", "sequence.sequence_margin_pa", Until::Rest),
    ] {
        let study = Study { until, ..study.clone() }.record(key).expect("a key of the document");
        for threads in [1, 2] {
            c.bench_function(&format!("sweep of 64, {name}, {threads} threads"), |b| {
                b.iter(|| {
                    let mut control = Control { threads: Some(threads), cancel: &|| false, progress: &mut |_| {} };
                    let (rows, _) = study.rows(&mut control).expect("the sweep finishes");
                    assert!(rows.iter().all(|r| r.failed.is_none()));
                    black_box(rows)
                })
            });
        }
    }
}

/// One iteration is 1024 points of 8 coordinates, each from its number alone.
fn samples(c: &mut Criterion) {
    for design in [Design::LatinHypercube, Design::Sobol] {
        let sample = Sample::new(design, 1024, 8, 1).expect("a sample");
        c.bench_function(&format!("1024 points of 8 coordinates, {}", design.word()), |b| {
            b.iter(|| (0..1024).map(|i| sample.point(black_box(i))[0]).sum::<f64>())
        });
    }
}

/// f = sin x1 + 7 sin^2 x2 + 0.1 x3^4 sin x1 on (-pi, pi)^3 (Ishigami and Homma 1990).
fn ishigami(u: &[f64]) -> f64 {
    let x: [f64; 3] = std::array::from_fn(|i| PI * (2.0 * u[i] - 1.0));
    x[0].sin() + 7.0 * x[1].sin().powi(2) + 0.1 * x[2].powi(4) * x[0].sin()
}

/// One iteration is the indices of a function of three inputs that costs nothing: 8 replicates of 256 points, 10,240 values.
fn indices(c: &mut Criterion) {
    let scheme = Scheme::new(256, 8, 3, 1).expect("a scheme");
    c.bench_function("Sobol' indices, 10240 values of three inputs", |b| {
        b.iter(|| {
            let mut gather = Gather::new(scheme);
            (0..scheme.len()).for_each(|i| gather.push(Some(ishigami(&scheme.point(i)))));
            black_box(gather.indices().expect("it varies"))
        })
    });
}

/// One iteration is a search for the check load from which the air inlet shuts first, to 1e-5 of the range.
fn searches(c: &mut Criterion) {
    let base = Resolver::new().assembly("svb-diaphragm").resolve().expect("it resolves");
    let grid = Grid::new(vec![Axis::parse("check.load=0.8:3:2 psi").expect("an axis")]).expect("a grid");
    let mut study = Study::new(base.clone(), grid).record("sequence.order").expect("a key of the document");
    study.until = Until::OrderKnown;
    let inlet_first = Cell::Text("air-inlet-first".to_owned());
    let (low, high) = (5_500.0, 20_700.0);
    let holds = |x: f64| {
        let cells = study.ask(&base.with_numbers(&[("check.load", x)])?)?;
        Ok(Some(cells.first() == Some(&inlet_first)).into())
    };
    c.bench_function("search for the load that turns the order", |b| {
        b.iter(|| {
            let search = Search { low, high, tolerance: 1e-5 * (high - low), whole: false };
            let found = find(search, &holds, &|| false).expect("the runs finish").expect("not stopped");
            assert_eq!(found.changes.len(), 1);
            black_box(found)
        })
    });
}

criterion_group! {
    name = benches;
    config = Criterion::default().sample_size(10);
    targets = sweeps, samples, indices, searches
}
criterion_main!(benches);
