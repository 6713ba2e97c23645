//! Laws: pure functions with an equation, a source and a range. No law owns state.
//!
//! Laws of the solver's inner loop are generic over [`crate::real::Real`], so that the same function gives exact
//! derivatives. Units are SI; pressures are absolute where a law depends on their level.

pub mod air;
pub mod constants;
pub mod curve;
pub mod cylinder;
pub mod film;
pub mod friction;
pub mod front;
pub mod ice;
pub mod lip;
pub mod lip_load;
pub mod melting;
pub mod orifice;
pub mod pipe;
pub mod relaxation;
pub mod ring;
pub mod rubber;
pub mod seal;
pub mod spring;
pub mod valve;
pub mod water;
