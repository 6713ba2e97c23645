//! Two faults, one reading: a tired spring and a scaled guide let the air inlet of a pressure type open equally low. What
//! tells them apart is the water at start-up, and whether a new spring cures it.
//!
//! ```text
//! cargo run --release --example same_reading
//! ```

use poppetry::assembly::{Resolver, Settings};
use poppetry::bench::field::{FieldOptions, Procedure, field_test, headline};
use poppetry::bench::sequence;
use poppetry::error::Error;
use poppetry::rig::{Rig, options};
use poppetry::units::{Kind, System, format};

/// What the tester writes down.
fn tested(settings: &Settings) -> Result<String, Error> {
    let how = FieldOptions { repeats: 1, seed: 1, sticking: false };
    Ok(headline(&field_test(settings, &Procedure::usual_for(settings)?, &how)?, System::Us))
}

fn main() -> Result<(), Error> {
    println!("pvb-spring, 1 in, 60 psi; start-up with zone 2 brimful, shutoff 1 opened in 1 s");
    for fault in [None, Some("inlet-spring-weak=0.5"), Some("inlet-guide-scaled=0.5")] {
        let scene = Resolver::new().assembly("pvb-spring").set("zone2.initial = brimful");
        let settings = fault.map_or(scene.clone(), |f| scene.fault(f)).resolve()?;
        let fill = sequence(&Rig::from_settings(&settings)?, &options(&settings)?)?;
        println!("\n{}", fault.unwrap_or("as new"));
        println!("  field test       {}", tested(&settings)?);
        println!("  start-up         {} spills", format(Kind::Volume, fill.spill_m3, System::Us));
        if fault.is_some() {
            println!("  with new spring  {}", tested(&settings.repaired("inlet-spring")?)?);
        }
    }
    println!("\nA teaching and design aid, never a test result.");
    Ok(())
}
