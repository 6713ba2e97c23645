//! The line that feeds the assembly: its elastic cells, and what comes from the supply.

use super::flows::{Flows, LINE_NUCLEI, Pressures};
use super::layout::Layout;
use super::{Feed, Line, Rig};
use crate::laws::{constants::STANDARD_GRAVITY, pipe};
use crate::parts::{Fluid, Zone};
use crate::real::Real;

impl Line {
    /// One elastic cell.
    pub fn cell(&self) -> Zone {
        Zone { volume: self.area() * self.length / self.cells as f64, compliance: self.wall_compliance }
    }

    /// Air nuclei of one cell, kg.
    pub(super) fn nuclei(&self, fluid: &Fluid) -> f64 {
        LINE_NUCLEI * self.cell().volume * (fluid.ambient - fluid.vapour_pressure) / fluid.air_rt()
    }

    /// Pressure of the main, Pa absolute, at mass flow `w`, kg/s.
    #[inline]
    fn main_pressure<T: Real>(&self, fluid: &Fluid, t: T, w: T) -> T {
        let p = self.pressure.at(t);
        let drop = match self.flow_limit {
            Some(q) => w * w.abs() * (p.value().abs().max(1.0) / (fluid.density * q).powi(2)),
            None => T::constant(0.0),
        };
        p - drop + fluid.ambient
    }
}

impl Rig {
    /// Water and air, kg/s, that come from the supply into the rig.
    #[inline]
    pub(crate) fn supply_flow<T: Real>(
        &self,
        layout: &Layout,
        t: T,
        y: &[T],
        p: &Pressures<T>,
        f: &Flows<T>,
    ) -> (T, T) {
        match &self.feed {
            Feed::Line(line) if line.drains => {
                let main = line.main_pressure(&self.fluid, t, y[0]);
                let from = line.draining(self, main, p.line, y[0], y[layout.line_water(0)]).from_main;
                (from.water, from.air)
            }
            Feed::Line(_) => (y[layout.line_flow(0)], T::constant(0.0)),
            Feed::Wave(end) => ((end.at(t) - p.line) / end.impedance, T::constant(0.0)),
            // What a cock before shutoff 1 takes comes from the recording's own supply.
            Feed::Recorded(_) | Feed::Vessel(_) => (
                f.shutoff1.water + f.taps[0].water + f.outside[0].water,
                f.shutoff1.air + f.taps[0].air + f.outside[0].air,
            ),
        }
    }

    pub(super) fn line_rates<T: Real>(
        &self,
        line: &Line,
        t: T,
        y: &[T],
        p: &Pressures<T>,
        f: &Flows<T>,
        out: &mut [T],
    ) {
        let layout = Layout::of(self);
        let dx = line.length / line.cells as f64;
        let inertance = line.area() / dx;
        let head = self.fluid.density * STANDARD_GRAVITY * line.elevation / line.cells as f64;
        let cell = line.cell();
        let nuclei = T::constant(line.nuclei(&self.fluid));
        let mut upstream = line.main_pressure(&self.fluid, t, y[0]);
        if line.drains {
            let d = line.draining(self, upstream, p.line, y[0], y[layout.line_water(0)]);
            out[0] = d.acceleration;
            out[layout.line_water(0)] = d.from_main.water - f.shutoff1.water;
            out[layout.line_air()] = d.from_main.air - f.shutoff1.air;
            return;
        }
        for i in 0..line.cells {
            let w = y[layout.line_flow(i)];
            let last = i + 1 == line.cells;
            let pressure = if last {
                p.line
            } else {
                cell.contents(&self.fluid, y[layout.line_water(i)], nuclei, T::constant(0.0)).pressure
            };
            let loss = pipe::loss_per_length(
                w,
                line.bore,
                self.fluid.density,
                self.fluid.viscosity,
                line.roughness / line.bore,
            ) * dx;
            out[layout.line_flow(i)] = (upstream - pressure - loss + head) * inertance;
            let next = if last { f.shutoff1.water } else { y[layout.line_flow(i + 1)] };
            out[layout.line_water(i)] = w - next;
            upstream = pressure;
        }
        out[layout.line_air()] = -f.shutoff1.air;
    }
}
