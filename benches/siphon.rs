//! Time of a siphon and of a surge. Goals on one core: siphon of 5 s with the load side shut or in the vacuum test 5 ms, with an
//! open tube 10 ms; surge of 20 m at 1250 m/s in 200 cells over 2 s 50 ms.

#![allow(clippy::expect_used)] // a bench that cannot set up has nothing to measure

use criterion::{Criterion, criterion_group, criterion_main};
use poppetry::assembly::{Resolver, Settings};
use poppetry::bench::siphon::{Scene, scene_rig};
use poppetry::bench::surge::surge;
use poppetry::numerics::{Options, solve};
use poppetry::rig::options;
use std::hint::black_box;

fn settings(assembly: &str, sets: &[&str]) -> Settings {
    sets.iter().fold(Resolver::new().assembly(assembly), |r, s| r.set(s)).resolve().expect("a built-in resolves")
}

fn siphons(c: &mut Criterion) {
    const SHUT: &str = "load_side.outlet_area=0 mm2";
    for (name, assembly, scene, sets) in [
        ("pvb-spring, load side shut", "pvb-spring", Scene::Service, vec![SHUT]),
        ("pvb-spring, load side shut, fouled", "pvb-spring", Scene::Service, vec![SHUT, "check.foul_area=5 mm2"]),
        ("svb-diaphragm, load side shut", "svb-diaphragm", Scene::Service, vec![SHUT]),
        ("pvb-spring, vacuum test, tight", "pvb-spring", Scene::VacuumTest, vec![]),
        ("pvb-spring, vacuum test, fouled", "pvb-spring", Scene::VacuumTest, vec!["check.foul_area=20 mm2"]),
        (
            "pvb-spring, open tube swinging",
            "pvb-spring",
            Scene::VacuumTest,
            vec!["check.foul_area=80 mm2", "supply.course=0.1 s"],
        ),
    ] {
        let s = settings(assembly, &sets);
        let mut rig = scene_rig(&s, scene).expect("a scene builds");
        rig.stop_at_equilibrium = false;
        rig.end_time = 5.0;
        let options = Options { keep_steps: false, ..options(&s).expect("options") };
        c.bench_function(&format!("siphon 5 s, {name}"), |b| {
            b.iter(|| {
                let (mode, y) = rig.start();
                black_box(solve(&rig, mode, y, 0.0, rig.end_time, &options).expect("the run finishes"))
            })
        });
    }
}

fn surges(c: &mut Criterion) {
    let wave = "supply.line_wave_speed=1250 m/s";
    for (name, sets) in [
        ("bare pipe", vec![wave, "surge.scene=pipe", "supply.pressure=300 psi"]),
        ("bare pipe with cavities", vec![wave, "surge.scene=pipe", "surge.closing_time=0 s"]),
        ("fill with an outlet open", vec![wave]),
        ("fill, shutoff 2 shut, first 0.3 s", vec![wave, "shutoff2.open=false", "surge.end_time=0.3 s"]),
    ] {
        let s = settings("pvb-spring", &sets);
        let options = options(&s).expect("options");
        c.bench_function(&format!("surge 2 s, 200 cells, {name}"), |b| {
            b.iter(|| black_box(surge(&s, &options).expect("the run finishes")))
        });
    }
}

criterion_group! { name = benches; config = Criterion::default().sample_size(10); targets = siphons, surges }
criterion_main!(benches);
