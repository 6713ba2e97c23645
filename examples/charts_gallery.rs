//! Draws invented pictures in both formats into a directory and prints how long each took.
//!
//! `cargo run --release --example charts_gallery -- [DIR]` (default `output`)

#[path = "../tests/charts/pictures.rs"]
mod pictures;

use std::time::Instant;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let dir = std::env::args().nth(1).unwrap_or_else(|| "output".to_owned());
    let dir = std::path::Path::new(&dir);
    std::fs::create_dir_all(dir)?;
    let all = [
        ("pvb", pictures::pvb(3000)),
        ("svb", pictures::svb(3000, false)),
        ("svb-spill", pictures::svb(3000, true)),
        ("pvb-long", pictures::pvb(100_000)),
    ];
    for (name, picture) in &all {
        for ending in ["svg", "png"] {
            let path = dir.join(format!("{name}.{ending}"));
            let start = Instant::now();
            let drawn = poppetry::charts::draw_sequence(picture, &path)?;
            let took = start.elapsed().as_secs_f64() * 1e3;
            let size = std::fs::metadata(&path)?.len() / 1000;
            println!(
                "{name}.{ending}: {took:.1} ms, {size} kB, {} labels, dropped {:?}",
                drawn.labels.len(),
                drawn.dropped
            );
        }
    }
    Ok(())
}
