//! The numerical core: one interface, two families of methods behind it.
//!
//! [`System`] says what a problem is, [`solve`] takes (system, start, span, options) and returns a [`Solution`]:
//! steps with an interpolant, transitions at located events, statistics and the reason to stop.
//! Nothing outside this module knows which method ran; nothing inside it knows what a check valve is.

mod dense;
mod explicit;
mod jacobian;
mod linear;
mod locate;
mod rosenbrock;
mod solution;
mod solve;
mod sparse;
mod system;

pub use solution::{Failure, Fired, Reason, Solution, Stats, Step};
pub use solve::{Method, Options, solve};
pub use system::{System, Transition, Variable};
