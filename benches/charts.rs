//! What pictures cost: `cargo bench --bench charts`.
#![allow(missing_docs, clippy::unwrap_used)] // a benchmark that cannot set itself up has nothing to measure

use criterion::{Criterion, criterion_group, criterion_main};
use poppetry::cli;

/// Runs one command line and returns its exit status.
fn run(args: &[&str]) -> u8 {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    cli::run(std::iter::once("poppetry").chain(args.iter().copied()), &mut out, &mut err, 96)
}

fn charts(c: &mut Criterion) {
    let dir = tempfile::tempdir().unwrap();
    let file = |name: &str| dir.path().join(name).to_string_lossy().into_owned();
    // Each with the runs it needs: what a user waits for.
    let cases = [
        ("strip of one, SVG", vec![format!("strip={}", file("a.svg"))], false),
        ("strip of two, SVG", vec![format!("strip={}", file("b.svg"))], true),
        ("strip of two, PNG", vec![format!("strip={}", file("c.png"))], true),
        ("GIF of 60 frames", vec![format!("movie={}", file("d.gif"))], false),
        ("GIF of 60 frames, two side by side", vec![format!("movie={}", file("e.gif"))], true),
        ("60 frames as SVG", vec![format!("frames={}", file("f.svg"))], false),
    ];
    let mut group = c.benchmark_group("charts");
    group.sample_size(10);
    for (name, charts, two) in &cases {
        let mut args = vec!["sequence"];
        args.extend(if *two { &["--against", "svb-diaphragm"][..] } else { &[] });
        args.extend(charts.iter().flat_map(|c| ["--chart", c.as_str()]));
        group.bench_function(*name, |b| b.iter(|| assert_eq!(run(&args), 0)));
    }
    group.finish();
}

criterion_group!(benches, charts);
criterion_main!(benches);
