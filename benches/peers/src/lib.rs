//! Which method for this model? The same fills by poppetry's own two methods, by three of diffsol's, by SUNDIALS' BDF
//! and by three of SciPy's. How to run it all: `run.sh`; what came out: `RESULTS.md`.
//!
//! ```text
//! cd benches/peers
//! ./run.sh                            # everything, on one core; writes RESULTS.md
//! cargo run --release                 # poppetry and diffsol only: the sweep over tolerances as CSV on stdout
//! cargo run --release -- sweep 1e-5   # the same at one tolerance
//! cargo run --release -- reference    # how far the reference can be trusted
//! cargo run --release -- careless     # diffsol without what is done for it here
//! cargo run --release -- report a.csv b.csv ...   # tables in Markdown from sweeps
//! ```
//!
//! Own crate, own workspace: neither the normal build nor CI sees it. Cases: both built-ins with their defaults, outlet
//! open, to 3 s; and with shutoff 2 shut up to the check's first closing. Errors are against poppetry's stiff method
//! at 1e-9; how far that can be trusted is the table `reference` (other methods, of other libraries too, at tight
//! tolerances).
//!
//! Same for all: rates, guards, transitions, break times, exact Jacobian, first step after a transition at most 5 us,
//! states that cannot move left out, the tolerance relative to `System::scales`. A peer's states are scaled by these at
//! the start of each mode; its absolute tolerances follow them within it: diffsol's whenever one has moved by a factor
//! of two (the method keeps its history and order, and pays a Jacobian), the others' at every step.
//!
//! The ledger is outside every error control. diffsol integrates it as its output function and SUNDIALS as quadratures
//! (cheapest there: as further states it cost two thirds more), so their balances close to the accuracy of these; SciPy
//! has neither and takes it as further states, whose balances close to rounding (SUNDIALS' did so too when tried that
//! way). `rates` counts evaluations outside Jacobians, those for guards left out, as in poppetry; with diffsol and
//! SUNDIALS about one a step of them is for the ledger.
//!
//! Settings: diffsol's and SciPy's own (other tolerances and limits of Newton's iteration and, in diffsol, ages of the
//! Jacobian changed costs by less than a tenth); SUNDIALS' are tuned, which saved three tenths (see `cvode.c`).
//!
//! `frame`, `place` and `cases` are what every peer is given; `interface` (a crate of its own, the only unsafe code)
//! hands the same to C (`cvode.c`) and Python (`scipy_peer.py`).

#![forbid(unsafe_code)]

pub mod cases;
pub mod cost;
pub mod diffsol_equations;
pub mod diffsol_peer;
pub mod frame;
pub mod outcome;
pub mod place;
pub mod report;
pub mod sweep;
