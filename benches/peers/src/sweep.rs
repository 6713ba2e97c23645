//! poppetry's and diffsol's methods over the range of tolerances.

use crate::cases::{Case, own};
use crate::cost::timed;
use crate::diffsol_peer::{self, Manner};
use crate::outcome::{Outcome, Row};
use poppetry::numerics::Method;
use poppetry::rig::Rig;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::rc::Rc;

/// Names of the methods run from here.
pub const METHODS: [&str; 5] =
    ["poppetry Rosenbrock 4(3)", "poppetry Dormand-Prince", "diffsol BDF", "diffsol TR-BDF2", "diffsol ESDIRK34"];

/// The tolerances: half a decade apart, with its number of half decades below 1.
pub fn tolerances() -> impl Iterator<Item = (usize, f64)> {
    (4..=16).map(|k| (k, 10.0_f64.powf(-0.5 * k as f64)))
}

/// One run.
///
/// # Errors
/// Where and how it failed.
pub fn run(method: usize, rig: &Rc<Rig>, tolerance: f64, manner: Manner) -> Result<Outcome, String> {
    let attempt = || match method {
        0 => own(rig, Method::Rosenbrock, tolerance),
        1 => own(rig, Method::DormandPrince, tolerance),
        2 => diffsol_peer::run::<diffsol_peer::Bdf>(rig, tolerance, manner),
        3 => diffsol_peer::run::<diffsol_peer::TrBdf2>(rig, tolerance, manner),
        _ => diffsol_peer::run::<diffsol_peer::Esdirk34>(rig, tolerance, manner),
    };
    catch_unwind(AssertUnwindSafe(attempt)).unwrap_or_else(|_| Err("panicked".into()))
}

/// Every method at every tolerance (or one), as CSV on stdout. The explicit method, which takes seconds and whose cost
/// hardly depends on the tolerance, at whole decades only.
pub fn sweep(cases: &[Case], only: Option<f64>) {
    println!("{}", Row::HEADER);
    for case in cases {
        for (k, tolerance) in tolerances().filter(|t| only.is_none_or(|o| (o / t.1 - 1.0).abs() < 0.1)) {
            for (method, name) in METHODS.iter().enumerate() {
                if method == 1 && k % 2 == 1 {
                    continue;
                }
                let row = match timed(|| run(method, &case.rig, tolerance, Manner::CAREFUL)) {
                    Ok((o, times)) => Row::done(case.name, name, tolerance, &o, &case.reference, times),
                    Err(why) => Row::failed(case.name, name, tolerance, &case.reference, &why),
                };
                println!("{}", row.line());
            }
        }
    }
}
