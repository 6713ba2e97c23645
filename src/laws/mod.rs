//! Laws: pure functions with an equation, a source and a range. No law owns state.

pub mod constants;
pub mod curve;
pub mod friction;
pub mod orifice;
pub mod pipe;
pub mod seal;
pub mod valve;
pub mod water;
