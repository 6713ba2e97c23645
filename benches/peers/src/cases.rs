//! The cases, poppetry's own runs of them, and the reference.

use crate::outcome::{Outcome, closure};
use poppetry::assembly::Resolver;
use poppetry::numerics::{Method, Options, Reason, solve};
use poppetry::rig::Rig;
use std::rc::Rc;

/// Tolerance of the reference.
pub const REFERENCE: f64 = 1e-9;

/// Assembly, what is set, whether the run ends with the check's first closing, name in files, name in tables.
const CASES: [(&str, &str, bool, &str, &str); 4] = [
    ("pvb-spring", "run.end_time=3 s", false, "pvb-spring/open", "pvb-spring, outlet open, 3 s"),
    ("pvb-spring", "shutoff2.open=false", true, "pvb-spring/shut", "pvb-spring, shut, to the check's closing"),
    ("svb-diaphragm", "run.end_time=3 s", false, "svb-diaphragm/open", "svb-diaphragm, outlet open, 3 s"),
    ("svb-diaphragm", "shutoff2.open=false", true, "svb-diaphragm/shut", "svb-diaphragm, shut, to the check's closing"),
];

/// How many cases there are.
pub const COUNT: usize = CASES.len();

/// One fill with its reference.
pub struct Case {
    /// Name in files.
    pub name: &'static str,
    pub rig: Rc<Rig>,
    pub reference: Outcome,
}

impl Case {
    /// Case `number` from 0.
    ///
    /// # Errors
    /// No such case, or its reference cannot be run.
    pub fn new(number: usize) -> Result<Self, String> {
        let (assembly, set, closing, name, _) = CASES.get(number).ok_or_else(|| format!("no case {number}"))?;
        let settings = Resolver::new().assembly(assembly).set(set).resolve().map_err(|e| format!("{e:?}"))?;
        let mut rig = Rig::from_settings(&settings).map_err(|e| format!("{e:?}"))?;
        rig.stop_at_check_closed = *closing;
        // The end is the same for all methods, whatever their steps: a run that stops at rest ends with one of them.
        rig.stop_at_rest = false;
        let reference = own(&rig, Method::Rosenbrock, REFERENCE)?;
        Ok(Case { name, rig: Rc::new(rig), reference })
    }

    /// All of them.
    ///
    /// # Errors
    /// As [`Case::new`].
    pub fn all() -> Result<Vec<Self>, String> {
        (0..COUNT).map(Case::new).collect()
    }
}

/// Names in files and in tables, in order.
pub fn names() -> impl Iterator<Item = (&'static str, &'static str)> {
    CASES.iter().map(|c| (c.3, c.4))
}

/// A run by poppetry itself.
///
/// # Errors
/// What its solver says, or chatter.
pub fn own(rig: &Rig, method: Method, tolerance: f64) -> Result<Outcome, String> {
    let max_steps = if method == Method::DormandPrince { 20_000_000 } else { 4_000_000 };
    let options = Options { tolerance, method, max_steps, keep_steps: false, ..Options::default() };
    let (mode, y) = rig.start();
    let run = solve(rig, mode, y, 0.0, rig.end_time, &options).map_err(|e| e.to_string())?;
    if run.reason == Reason::Chatter {
        return Err(format!("chatter at t = {:.6} s", run.t_end));
    }
    Ok(Outcome {
        steps: run.stats.steps,
        rejected: run.stats.rejected,
        rates: run.stats.rhs_evaluations,
        jacobians: run.stats.jacobians,
        fired: run.fired.iter().map(|f| (f.label, f.t)).collect(),
        spill: rig.spilled(&run.y_end),
        closure: closure(rig, &run.y_end),
        t_end: run.t_end,
        ..Outcome::default()
    })
}
