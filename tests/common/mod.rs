//! What several test files share: building a rig from field assignments, and running it.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // a test stops where it fails
#![allow(dead_code)] // each test file uses its own part

use poppetry::assembly::Resolver;
use poppetry::bench::{Sequence, sequence};
use poppetry::rig::{Rig, options};

/// One psi, Pa (NIST SP 811).
pub const PSI: f64 = 6_894.757_293_168_361;
/// One US gallon per minute, m3/s.
pub const GPM: f64 = 3.785_411_784e-3 / 60.0;
/// One millilitre, m3.
pub const ML: f64 = 1e-6;

/// A built-in with fields set, as a rig.
pub fn rig(assembly: &str, sets: &[&str]) -> Rig {
    let mut resolver = Resolver::new().assembly(assembly);
    for set in sets {
        resolver = resolver.set(set);
    }
    Rig::from_settings(&resolver.resolve().unwrap()).unwrap()
}

/// A built-in with fields set, run.
pub fn run(assembly: &str, sets: &[&str]) -> Sequence {
    let mut resolver = Resolver::new().assembly(assembly);
    for set in sets {
        resolver = resolver.set(set);
    }
    let settings = resolver.resolve().unwrap();
    let rig = Rig::from_settings(&settings).unwrap();
    sequence(&rig, &options(&settings).unwrap()).unwrap()
}

/// Time of the first event of a part, s.
pub fn first(run: &Sequence, part: poppetry::rig::Part, what: poppetry::rig::What) -> Option<f64> {
    run.events.iter().find(|e| e.part == part && e.what == what).map(|e| e.t_s)
}
