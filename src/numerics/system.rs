//! What a problem is: rates, scales, guards and transitions of a system with modes.

use crate::real::Real;

/// One state or ledger entry, named once for error messages, CSV headers and axis labels.
#[derive(Debug, Clone, PartialEq)]
pub struct Variable {
    /// Name in snake_case with the SI unit at the end, as in CSV headers.
    pub name: String,
    /// SI unit.
    pub unit: &'static str,
}

/// A set of ordinary differential equations with discrete modes.
///
/// The state is `y`, of length [`System::dim`]; behind it in the same slice stand [`System::ledger`] quadratures that
/// nothing depends on (what has passed where). [`System::rates`] fills both.
pub trait System {
    /// The discrete mode (which parts are sealed, moving, at their stop).
    type Mode: Clone;

    /// Number of states.
    fn dim(&self) -> usize;
    /// Number of quadratures behind the states.
    fn ledger(&self) -> usize;
    /// Names of states and ledger entries, in order.
    fn variables(&self) -> Vec<Variable>;
    /// Time derivatives of states and ledger, `out.len() == dim + ledger`; `y.len() >= dim`.
    fn rates<T: Real>(&self, mode: &Self::Mode, t: T, y: &[T], out: &mut [T]);
    /// Whether state `i` cannot change in this mode (its rate is zero); the solver leaves it out of the linear algebra.
    fn frozen(&self, _mode: &Self::Mode, _i: usize) -> bool {
        false
    }
    /// States whose passage through zero bends the rates (the speeds of parts with friction), and how near to zero the bend
    /// begins: a step that would pass one is made to end there.
    fn bends(&self, _mode: &Self::Mode) -> [Option<(usize, f64)>; 3] {
        [None; 3]
    }
    /// A quantity at whose passage through zero the rates bend without any event: a step is made to end there.
    fn fold(&self, _mode: &Self::Mode, _t: f64, _y: &[f64]) -> f64 {
        1.0
    }
    /// The change of each state that counts as one unit of relative error (positive, `out.len() == dim`).
    fn scales(&self, t: f64, y: &[f64], out: &mut [f64]);
    /// How many guards the mode has.
    fn guard_count(&self, _mode: &Self::Mode) -> usize {
        0
    }
    /// Guard functions: positive while the mode is valid, an event where one turns negative.
    fn guards(&self, _mode: &Self::Mode, _t: f64, _y: &[f64], _out: &mut [f64]) {}
    /// What happens when guard `fired` turns negative at `(t, y)`; may change `y`.
    fn transition(&self, mode: &Self::Mode, _t: f64, _y: &mut [f64], _fired: usize) -> Transition<Self::Mode> {
        Transition { mode: mode.clone(), label: None }
    }
    /// The next time after `t` at which the rates have a kink the solver must step onto.
    fn next_break(&self, _t: f64) -> f64 {
        f64::INFINITY
    }
    /// First step after a transition, s, from the step before it. The default suits parts whose friction turns over within
    /// microseconds of leaving their rest: a longer step with the Jacobian of the first instant would pass over that
    /// unnoticed.
    fn restart_step(&self, _mode: &Self::Mode, before: f64) -> f64 {
        before.min(5e-6)
    }
    /// Called after every step and every transition; `true` ends the run with [`super::Reason::Asked`].
    fn enough(&self, _mode: &Self::Mode, _t: f64, _y: &[f64], _memory: &mut Self::Memory) -> bool {
        false
    }
    /// What [`System::enough`] remembers between calls.
    type Memory: Default;
}

/// The outcome of a fired guard: the new mode and the system's own label for it.
#[derive(Debug, Clone)]
pub struct Transition<M> {
    /// The mode that holds from now on.
    pub mode: M,
    /// Index by which the system knows the transition; `None` when nothing outwardly happened.
    pub label: Option<usize>,
}
