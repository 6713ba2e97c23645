//! What a rigid column would do: the slow frame in which a surge happens.

use crate::numerics::{Failure, Method, Options, System, Variable, solve};
use crate::parts::Fluid;
use crate::real::Real;
use crate::rig::{Line, LineFriction};

struct Column<'a> {
    line: &'a Line,
    fluid: &'a Fluid,
    friction: &'a LineFriction,
    drive: f64,
    losses: f64,
}

impl System for Column<'_> {
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
        let (line, rho) = (self.line, self.fluid.density);
        let velocity = y[0] / (rho * line.area());
        let head = velocity * velocity.abs() * (0.5 * rho);
        let wall = match self.friction {
            LineFriction::Constant(f) => head * (f * line.length / line.bore),
            LineFriction::Roughness => line.friction.loss_per_length(y[0]) * line.length,
        };
        out[0] = (-wall - head * self.losses + self.drive) * (line.area() / line.length);
    }
    fn scales(&self, _t: f64, y: &[f64], out: &mut [f64]) {
        out[0] = y[0].abs() + 0.1 * self.fluid.density * self.line.area();
    }
}

/// Velocity, m/s, of a rigid column `time` s after it starts from rest under the line's static pressure, free at its end;
/// `losses` in velocity heads, that of the jet at its end included.
///
/// Constant friction factor: `V0 tanh(t/T)`, [`crate::laws::pipe::rigid_column`].
///
/// # Errors
/// [`Failure`] when the integration cannot go on.
pub fn rigid_start_up(
    line: &Line,
    fluid: &Fluid,
    friction: &LineFriction,
    losses: f64,
    time: f64,
) -> Result<f64, Failure> {
    let column = Column { line, fluid, friction, drive: line.static_pressure(fluid, 0.0), losses };
    let options =
        Options { method: Method::DormandPrince, tolerance: 1e-9, max_steps: 1_000_000, ..Options::default() };
    let run = solve(&column, (), vec![0.0], 0.0, time, &options)?;
    Ok(run.y_end.first().copied().unwrap_or(f64::NAN) / (fluid.density * line.area()))
}
