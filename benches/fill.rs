//! Time of one fill, for three built-ins: 3 s with an outlet open, and shutoff 2 closed up to the check's first closing.

#![allow(clippy::expect_used)] // a bench that cannot set up has nothing to measure

use criterion::{Criterion, criterion_group, criterion_main};
use poppetry::assembly::Resolver;
use poppetry::numerics::{Options, System, solve};
use poppetry::rig::{Rig, options};
use std::hint::black_box;

fn rig(assembly: &str, sets: &[&str]) -> (Rig, Options) {
    let mut resolver = Resolver::new().assembly(assembly);
    for set in sets {
        resolver = resolver.set(set);
    }
    let settings = resolver.resolve().expect("a built-in resolves");
    (Rig::from_settings(&settings).expect("a built-in builds"), options(&settings).expect("options"))
}

fn fills(c: &mut Criterion) {
    for assembly in ["svb-diaphragm", "pvb-spring", "pvb-elastomer"] {
        // The loosest tolerances at which drawn fills hold events to 0.1 ms and spill to 0.1 % (tests/efficiency.rs).
        let (open, shut) = if assembly == "svb-diaphragm" { (2e-3, 1e-3) } else { (2e-3, 1e-4) };
        for (name, sets, closing, loose) in [
            ("outlet open, 3 s", vec!["run.end_time=3 s"], false, open),
            ("shutoff 2 shut, to the check's closing", vec!["shutoff2.open=false"], true, shut),
        ] {
            let (mut rig, options) = rig(assembly, &sets);
            rig.stop_at_check_closed = closing;
            for (label, tolerance) in [("default tolerance", options.tolerance), ("0.1 ms and 0.1 %", loose)] {
                let options = Options { keep_steps: false, tolerance, ..options };
                c.bench_function(&format!("{assembly}, {name}, {label}"), |b| {
                    b.iter(|| {
                        let (mode, y) = rig.start();
                        black_box(solve(&rig, mode, y, 0.0, rig.end_time, &options).expect("the run finishes"))
                    })
                });
            }
        }
        let (rig, _) = rig(assembly, &[]);
        let (mode, y) = rig.start();
        let mut out = vec![0.0; rig.dim() + rig.ledger()];
        c.bench_function(&format!("{assembly}, one evaluation"), |b| {
            b.iter(|| {
                rig.rates(&mode, black_box(0.3), black_box(&y), &mut out);
                black_box(out[0])
            })
        });
    }
}

criterion_group!(benches, fills);
criterion_main!(benches);
