//! Time of a field test: a PVB by two cocks and an SVB by one, three tries each.

#![allow(clippy::expect_used)] // a bench that cannot set up has nothing to measure

use criterion::{Criterion, criterion_group, criterion_main};
use poppetry::assembly::Resolver;
use poppetry::bench::field::{FieldOptions, Procedure, field_test};
use std::hint::black_box;

fn tests(c: &mut Criterion) {
    for (assembly, procedure) in [("pvb-spring", "two-cock"), ("svb-diaphragm", "one-cock")] {
        let settings = Resolver::new().assembly(assembly).resolve().expect("a built-in resolves");
        let procedure = Procedure::builtin(procedure).expect("a built-in procedure");
        c.bench_function(&format!("{assembly}, {}, three tries", procedure.name), |b| {
            b.iter(|| {
                black_box(field_test(&settings, &procedure, &FieldOptions::default()).expect("the test finishes"))
            })
        });
    }
}

criterion_group!(benches, tests);
criterion_main!(benches);
