//! The parts an assembly and its surroundings are made of. A part knows its geometry and its laws; what moves it and
//! what it is joined to is the business of [`crate::rig`].

mod fluid;
mod load;
mod opening;
mod poppet;
mod zone;

pub use fluid::Fluid;
pub use load::Load;
pub use opening::Opening;
pub use poppet::{FRICTION_SPEED, Poppet, Stand, WEAR_WIDENING};
pub use zone::Zone;
