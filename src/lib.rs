//! Physics-based simulation of pressure vacuum breakers and spill-resistant vacuum breakers.

pub mod charts;
pub mod laws;
pub mod real;
