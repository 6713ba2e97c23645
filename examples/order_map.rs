//! The order of a spill-resistant assembly over the loads of its two parts, as letters: what `poppetry sweep` does, from the
//! library, with progress and a way to stop it.
//!
//! ```text
//! cargo run --release --example order_map
//! ```

use poppetry::assembly::Resolver;
use poppetry::error::Error;
use poppetry::study::{Axis, Cell, Control, Grid, Study, Until};
use std::sync::atomic::{AtomicBool, Ordering};

fn main() -> Result<(), Error> {
    let base = Resolver::new().assembly("svb-diaphragm").set("shutoff1.opening_time = 0.1 s").resolve()?;
    let grid = Grid::new(vec![Axis::parse("check.load=3:0.8:12 psi")?, Axis::parse("air_inlet.load=0.8:2:25 psi")?])?;
    let mut study = Study::new(base, grid).record("sequence.order")?;
    study.until = Until::OrderKnown;

    // Another thread, or a handler of Ctrl-C, may set this at any time.
    let stop = AtomicBool::new(false);
    let mut control = Control {
        threads: None,
        cancel: &|| stop.load(Ordering::Relaxed),
        progress: &mut |p| {
            if p.done % 100 == 0 {
                eprintln!("{} of {} runs, {:.0} a second, {:.0} s left", p.done, p.total, p.rate, p.left_s);
            }
        },
    };
    let (rows, outcome) = study.rows(&mut control)?;

    println!(
        "svb-diaphragm, shutoff 1 opened in 0.1 s. Up: check load, 0.8 to 3 psi; across: air inlet load, 0.8 to 2 psi."
    );
    println!("A: the air inlet is shut first. c: the check has passed more than 0.1 mL before.\n");
    for line in rows.chunks(25) {
        let letter = |cells: &[Cell]| match cells {
            [Cell::Text(order)] if order == "air-inlet-first" => 'A',
            [Cell::Text(_)] => 'c',
            _ => '?',
        };
        println!("  {}", line.iter().map(|row| letter(&row.cells)).collect::<String>());
    }
    println!("\n{} runs, {} failed. A teaching and design aid, never a test result.", outcome.done, outcome.failed);
    Ok(())
}
