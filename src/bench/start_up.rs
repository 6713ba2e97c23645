//! How fast the line itself can start: a rigid column of water behind a valve that is open from the first moment.
//!
//! ```text
//! (rho L / A) dQ/dt = p - loss(Q) L - rho Q^2 / (2 A^2)
//! ```
//!
//! Opening shutoff 1 faster than the line starts up gains little; that is what the figure is for. The problem is smooth,
//! so the explicit family integrates it. With a constant friction factor the closed solution is the hyperbolic tangent of
//! [`crate::laws::pipe::rigid_column`]; here friction follows the flow.

use crate::numerics::{Failure, Method, Options, System, Variable, solve};
use crate::parts::Fluid;
use crate::real::Real;
use crate::rig::{Line, LineFriction};

/// A column of water in a rigid line, free at its end, at rest in the beginning; the line's static pressure drives it.
#[derive(Debug, Clone, Copy)]
pub struct RigidColumn<'a> {
    /// The line.
    pub line: &'a Line,
    /// The water.
    pub fluid: &'a Fluid,
    /// Its friction.
    pub friction: &'a LineFriction,
    /// Losses in velocity heads, that of the jet at its end included.
    pub losses: f64,
}

impl System for RigidColumn<'_> {
    type Mode = ();
    type Memory = ();
    fn dim(&self) -> usize {
        1
    }
    fn ledger(&self) -> usize {
        0
    }
    fn variables(&self) -> Vec<Variable> {
        vec![Variable { name: "line_flow_kg_s".into(), unit: "kg/s" }]
    }
    fn rates<T: Real>(&self, _mode: &(), _t: T, y: &[T], out: &mut [T]) {
        let (line, density, w) = (self.line, self.fluid.density, y[0]);
        let velocity = w / (density * line.area());
        let head = velocity * velocity.abs() * (0.5 * density);
        let wall = match self.friction {
            LineFriction::Constant(f) => head * (f * line.length / line.bore),
            LineFriction::Roughness => line.friction.loss_per_length(w) * line.length,
        };
        let limit = match line.flow_limit {
            Some(q) => w * w.abs() * (self.drive().max(1.0) / (density * q).powi(2)),
            None => T::constant(0.0),
        };
        out[0] = (-wall - head * self.losses - limit + self.drive()) * (line.area() / line.length);
    }
    fn scales(&self, _t: f64, y: &[f64], out: &mut [f64]) {
        out[0] = y[0].abs() + 0.1 * self.fluid.density * self.line.area();
    }
}

impl RigidColumn<'_> {
    fn drive(&self) -> f64 {
        self.line.static_pressure(self.fluid, 0.0)
    }

    /// Its velocity, m/s, `time` s after the start. Constant friction factor: `V0 tanh(t/T)`.
    ///
    /// # Errors
    /// [`Failure`] if the integration does not finish.
    pub fn velocity(&self, time: f64) -> Result<f64, Failure> {
        let options =
            Options { method: Method::DormandPrince, tolerance: 1e-9, max_steps: 1_000_000, ..Options::default() };
        let run = solve(self, (), vec![0.0], 0.0, time, &options)?;
        Ok(run.y_end[0] / (self.fluid.density * self.line.area()))
    }
}

/// Time, s, in which the flow of the line, opened at once and discharging freely, reaches 90 % of its final value; `None`
/// when nothing drives it or it takes longer than ten minutes.
///
/// # Errors
/// [`Failure`] if the integration does not finish.
pub fn line_start_up(line: &Line, fluid: &Fluid) -> Result<Option<f64>, Failure> {
    let drive = line.static_pressure(fluid, 0.0);
    if !(drive > 0.0) {
        return Ok(None);
    }
    let column = RigidColumn { line, fluid, friction: &LineFriction::Roughness, losses: 1.0 };
    let rates = |w: f64| {
        let mut out = [0.0];
        column.rates(&(), 0.0, &[w], &mut out);
        out[0]
    };
    // The final flow, by bisection: the rate falls steadily with the flow.
    let (mut low, mut high) = (0.0, fluid.density * line.area() * (2.0 * drive / fluid.density).sqrt());
    for _ in 0..100 {
        let mid = 0.5 * (low + high);
        if rates(mid) > 0.0 { low = mid } else { high = mid }
    }
    let goal = 0.9 * low;
    let options =
        Options { method: Method::DormandPrince, tolerance: 1e-7, max_steps: 1_000_000, ..Options::default() };
    // Step in units of the time that the undiminished drive would take.
    let span = goal / rates(0.0);
    let (mut t, mut w) = (0.0, 0.0);
    while t < 600.0 {
        let run = solve(&column, (), vec![w], t, t + span, &options)?;
        if run.y_end[0] >= goal {
            let mut y = [0.0];
            let (mut before, mut after) = (t, t + span);
            for _ in 0..60 {
                let mid = 0.5 * (before + after);
                run.at(mid, &mut y);
                if y[0] < goal { before = mid } else { after = mid }
            }
            return Ok(Some(after));
        }
        t += span;
        w = run.y_end[0];
    }
    Ok(None)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::laws::pipe;
    use crate::rig::MainPressure;

    /// Source: rigid-column theory, V = V0 tanh(t/T); with a friction factor that changes little, 90 % falls near
    /// atanh(0.9) T = 1.472 T (here within 2 %, friction factor of the final flow used throughout).
    #[test]
    fn analytic_start_up_is_near_the_hyperbolic_tangent() {
        let fluid = Fluid::new(293.15, 101_325.0);
        let line = Line {
            pressure: MainPressure::Steady(20.0 * 998.2 * 9.80665),
            flow_limit: None,
            elevation: 0.0,
            length: 30.0,
            bore: 0.02,
            friction: pipe::Friction::new(0.02, 5e-4, fluid.density, fluid.viscosity),
            wave_speed: 1200.0,
            cells: 1,
            wall_compliance: 0.0,
            drains: false,
        };
        let t90 = line_start_up(&line, &fluid).unwrap().unwrap();
        let f = pipe::friction_factor(3.0 * 0.02 / fluid.viscosity, 0.025);
        let column = pipe::rigid_column(20.0, 30.0, 0.02, f, 0.0, 1.0);
        let expected = 0.9_f64.atanh() * column.time_constant;
        assert!((t90 / expected - 1.0).abs() < 0.02, "{t90} against {expected}");
    }
}
