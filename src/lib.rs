//! Physics-based simulation of pressure vacuum breakers and spill-resistant vacuum breakers.

pub mod assembly;
pub mod error;
pub mod laws;
pub mod real;
pub mod units;
