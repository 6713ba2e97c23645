//! Which opens first, and what does it spill? Turns the water on for a spill-resistant assembly over a row of check loads,
//! from the library.
//!
//! ```text
//! cargo run --release --example loading_order
//! ```

use poppetry::assembly::Resolver;
use poppetry::bench::{headline, sequence};
use poppetry::error::Error;
use poppetry::rig::{Rig, options};
use poppetry::units::{Kind, System, format};

fn main() -> Result<(), Error> {
    println!("svb-diaphragm, 1 in, zone 2 brimful, 60 psi, shutoff 1 opened in 0.3 s\n");
    for load in ["0.9 psi", "1.1 psi", "1.2 psi", "1.3 psi", "1.5 psi", "2.2 psi"] {
        let settings = Resolver::new()
            .assembly("svb-diaphragm")
            .set("zone2.initial = brimful")
            .set("shutoff1.opening_time = 0.3 s")
            .set(&format!("check.load = {load}"))
            .resolve()?;
        let rig = Rig::from_settings(&settings)?;
        let run = sequence(&rig, &options(&settings)?)?;
        let margin = run.statics.sequence_margin_pa.unwrap_or(f64::NAN);
        println!(
            "check load {load}: margin {:>9}  {}",
            format(Kind::PressureDifference, margin, System::Us),
            headline(&run, System::Us)
        );
    }
    println!("\nA teaching and design aid, never a test result.");
    Ok(())
}
