//! Physics-based simulation of pressure vacuum breakers and spill-resistant vacuum breakers.

pub mod assembly;
pub mod bench;
pub mod charts;
pub mod cli;
pub mod error;
pub mod laws;
pub mod numerics;
pub mod parts;
pub mod real;
pub mod rig;
pub mod units;
