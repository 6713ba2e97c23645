//! Conduction in ice behind a moving front, with the ice's own heat: a half-space and a cylinder.
//!
//! ```text
//! cylinder   ξ = ln r/ln s (0 at the wall, 1 at the front), Λ = −ln s, time in R²/a_s
//!            ∂u/∂τ = e^{2Λξ} u_ξξ/Λ² + ξ (Λ'/Λ) u_ξ          (Λ²)' = 2 Ste u_ξ(1) e^{2Λ}
//! half-space ξ = x/X, time in seconds of a_s
//!            ∂u/∂τ = u_ξξ/X² + ξ (X'/X) u_ξ                   (X²)' = 2 Ste u_ξ(1)
//! u = (T − T_wall)/(T_m − T_wall):  u(0) = 0, u(1) = 1
//! ```
//!
//! The front stands still in ξ. In the cylinder ξ runs with the logarithm of the radius, in which the steady profile is
//! straight, so the axis needs no finer grid. Central differences, second order; the grid's equations are a [`System`] like any
//! other. A night uses the quasi-steady shell ([`crate::laws::front::shell_resistance`]), whose error this measures: the ice's
//! own heat lengthens freezing by 0.35 to 0.65 of the Stefan number, 1 to 2 % in air of −5 to −10 °C.

use crate::laws::front::{erf, neumann_root};
use crate::numerics::{Failure, Options, System, Transition, Variable, solve};
use crate::real::Real;

/// Form of the ice.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// From a flat wall into a half-space; places are thickness squared over a_s t.
    HalfSpace,
    /// From the wall of a cylinder inwards; places are front radius over R.
    Cylinder,
}

/// Ice that grows from a wall held below the melting point into water at the melting point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MovingFront {
    /// Form.
    pub form: Form,
    /// Stefan number c_s (T_m − T_wall)/L, above 0.
    pub stefan: f64,
    /// Cells of the grid, at least 4.
    pub cells: usize,
    /// Whether the ice's own heat counts.
    pub heat_capacity: bool,
}

/// Thickness, as a share of the radius, at which the run starts from the flat solution.
const FIRST: f64 = 1e-3;

struct Problem<'a> {
    front: &'a MovingFront,
    /// Squares of the front's coordinate at which times are wanted, rising.
    marks: &'a [f64],
}

impl Problem<'_> {
    fn inner(&self) -> usize {
        if self.front.heat_capacity { self.front.cells.max(4) - 1 } else { 0 }
    }
}

impl System for Problem<'_> {
    type Mode = usize;
    type Memory = ();

    fn dim(&self) -> usize {
        self.inner() + 1
    }
    fn ledger(&self) -> usize {
        0
    }
    fn variables(&self) -> Vec<Variable> {
        let names = std::iter::once("front_squared".to_owned()).chain((1..=self.inner()).map(|i| format!("u{i}")));
        names.map(|name| Variable { name, unit: "1" }).collect()
    }
    fn rates<T: Real>(&self, _mode: &usize, _t: T, y: &[T], out: &mut [T]) {
        let n = self.inner();
        let Some((&square, u)) = y.split_first() else { return };
        let reach = square.sqrt();
        let stretch = match self.front.form {
            Form::Cylinder => (reach * 2.0).exp(),
            Form::HalfSpace => T::constant(1.0),
        };
        let at = |i: usize| match i {
            0 => T::constant(0.0),
            i if i <= n => u[i - 1],
            _ => T::constant(1.0),
        };
        let step = 1.0 / (n + 1) as f64;
        let slope = match n {
            0 => T::constant(1.0),
            _ => (at(n + 1) * 3.0 - at(n) * 4.0 + at(n - 1)) * (0.5 / step),
        };
        let growth = slope * stretch * (2.0 * self.front.stefan);
        let Some((first, rest)) = out.split_first_mut() else { return };
        *first = growth;
        // Λ'/Λ = (Λ²)'/(2 Λ²)
        let drift = growth / square * 0.5;
        for (k, o) in rest.iter_mut().enumerate().take(n) {
            let (i, xi) = (k + 1, (k + 1) as f64 * step);
            let scale = match self.front.form {
                Form::Cylinder => (reach * (2.0 * xi)).exp(),
                Form::HalfSpace => T::constant(1.0),
            };
            let (low, mid, high) = (at(i - 1), at(i), at(i + 1));
            let curvature = (high - mid * 2.0 + low) * (1.0 / (step * step));
            *o = scale / square * curvature + drift * (high - low) * (xi * 0.5 / step);
        }
    }
    fn scales(&self, _t: f64, y: &[f64], out: &mut [f64]) {
        out.fill(1.0);
        if let (Some(o), Some(s)) = (out.first_mut(), y.first()) {
            *o = *s;
        }
    }
    fn guard_count(&self, mode: &usize) -> usize {
        usize::from(*mode < self.marks.len())
    }
    fn guards(&self, mode: &usize, _t: f64, y: &[f64], out: &mut [f64]) {
        if let (Some(o), Some(mark), Some(square)) = (out.first_mut(), self.marks.get(*mode), y.first()) {
            *o = mark - square;
        }
    }
    fn transition(&self, mode: &usize, _t: f64, _y: &mut [f64], _fired: usize) -> Transition<usize> {
        Transition { mode: mode + 1, label: Some(*mode) }
    }
    fn enough(&self, mode: &usize, _t: f64, _y: &[f64], _memory: &mut ()) -> bool {
        *mode >= self.marks.len()
    }
    fn restart_step(&self, _mode: &usize, before: f64) -> f64 {
        before
    }
}

impl MovingFront {
    /// Fourier times a_s t/R² at which the front stands at the radii `places` (shares of R, falling, between 1 and 0) of a
    /// cylinder, or a_s t at the thicknesses `places` (rising) of a half-space.
    ///
    /// # Errors
    /// [`Failure`] of the integration, also for a Stefan number or places out of range.
    pub fn times(&self, places: &[f64]) -> Result<Vec<f64>, Failure> {
        let marks: Vec<f64> = places
            .iter()
            .map(|p| match self.form {
                Form::Cylinder => p.ln() * p.ln(),
                Form::HalfSpace => p * p,
            })
            .collect();
        let problem = Problem { front: self, marks: &marks };
        let root = neumann_root(self.stefan);
        let profile = |xi: f64| if self.form == Form::Cylinder { erf(root * xi) / erf(root) } else { xi };
        let cells = problem.inner() + 1;
        let mut y = vec![FIRST * FIRST];
        y.extend((1..cells).map(|i| profile(i as f64 / cells as f64)));
        let t0 = if self.heat_capacity { (0.5 * FIRST / root).powi(2) } else { 0.5 * FIRST * FIRST / self.stefan };
        let options = Options { tolerance: 1e-8, keep_steps: false, ..Options::default() };
        let run = solve(&problem, 0, y, t0, 1e3 / self.stefan.max(1e-6), &options)?;
        Ok(run.fired.iter().map(|f| f.t).collect())
    }
}
