//! The parts an assembly and its surroundings are made of. A part knows its geometry and its laws; what moves it and
//! what it is joined to is the business of [`crate::rig`].

mod cock;
mod fluid;
mod gauge;
mod lip;
mod load;
mod opening;
mod poppet;
mod relief;
mod zone;

pub use cock::{CockKind, NEEDLE_DEAD_TURNS, NEEDLE_OPEN_TURNS};
pub use fluid::Fluid;
pub use gauge::{Gauge, Instrument, PEG, Reference};
pub use lip::{Pocket, Relaxation, TERMS};
pub use load::Load;
pub use opening::Opening;
pub use poppet::{FRICTION_SPEED, Poppet, Stand, WEAR_WIDENING};
pub use relief::{GROWTH, Relief, ReliefPlace};
pub use zone::Zone;
pub(crate) use zone::contents_of_four;
