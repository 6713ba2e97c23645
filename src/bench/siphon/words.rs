//! The finding in words.

use super::{Outcome, Scene, Siphon};
use crate::units::System;

/// One sentence.
pub fn siphon_headline(_run: &Siphon, _system: System) -> String {
    String::new()
}

/// What happens and why.
pub fn siphon_story(_run: &Siphon, _system: System) -> Vec<String> {
    let _: Option<(&Outcome, Scene)> = None;
    Vec::new()
}
