//! What one elastic line cell costs in accuracy: spill and peak with 1, 4 and 16 cells.
//!
//! ```text
//! cargo run --release --example line_cells
//! ```

use poppetry::assembly::Resolver;
use poppetry::bench::sequence;
use poppetry::error::Error;
use poppetry::rig::{Rig, options};
use poppetry::units::{Kind, System, format};

fn main() -> Result<(), Error> {
    for outlet in ["true", "false"] {
        println!("pvb-spring, 60 psi, 1 s, 20 m of line, zone 2 empty, shutoff 2 open: {outlet}");
        for cells in [1, 4, 16] {
            let settings = Resolver::new()
                .assembly("pvb-spring")
                .set(&format!("shutoff2.open = {outlet}"))
                .set(&format!("supply.line_cells = {cells}"))
                .resolve()?;
            let mut rig = Rig::from_settings(&settings)?;
            rig.stop_at_check_closed = true;
            let run = sequence(&rig, &options(&settings)?)?;
            println!(
                "  {cells:2} cells: spill {:>8}, peak in zone 2 {:>9}",
                format(Kind::Volume, run.spill_m3, System::Us),
                format(Kind::GaugePressure, run.peak.zone2_pa_gauge, System::Us)
            );
        }
    }
    println!("A teaching and design aid, never a test result.");
    Ok(())
}
