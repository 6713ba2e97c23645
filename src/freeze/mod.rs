//! A closed body on a night below freezing, as ordinary differential equations.
//!
//! [`zone`] gives temperature, pressure and ice of a zone from its energy and masses; [`wall`] is what encloses it;
//! [`body`] is the whole with check, relief, vent and weather; `equations` and `modes` are its equations and what ends each
//! of their modes. Energy and masses are the states, so they are conserved to rounding; while ice and water are both there,
//! the pressure is the melting pressure at any stiffness of the wall.

pub mod balance;
pub mod body;
mod build;
pub mod conduction;
pub mod curve;
mod equations;
mod guards;
mod lifts;
mod modes;
pub mod night;
pub mod nights;
pub mod peaks;
pub mod still;
pub mod table;
pub mod wall;
pub mod zone;

pub use balance::{Balance, Energies, Masses, Volumes};
pub use body::{Body, Check, DROP, HeatLoss, LEAST_AIR, Lifts, MOST_ZONES, Relief, Vent, Weather, Zone, ZoneStart};
pub use build::Scene;
pub use modes::{Beyond, Happening, Mode, ReliefMode, ZoneMode};
pub use night::{Night, NightEvent, NightSample, ZoneSample, as_far_as_it_goes, night};
pub use nights::{OneNight, Refill, nights};

/// Quantities counted behind the states: heat out (J), mass, enthalpy and volume out of the relief (kg, J, m³).
pub const LEDGER: usize = 4;
