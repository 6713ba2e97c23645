//! The line that feeds the assembly: its elastic cells, and what comes from the supply.

use super::flows::{Flows, LINE_NUCLEI, Pressures, SideFlows};
use super::layout::Layout;
use super::stream::Stream;
use super::{Feed, Line, Rig};
use crate::laws::constants::STANDARD_GRAVITY;
use crate::parts::{Fluid, Zone};
use crate::real::Real;

impl Line {
    /// One elastic cell.
    pub fn cell(&self) -> Zone {
        self.cell_of(self.cells.max(1))
    }

    /// The same by their number, where the compiler knows it.
    #[inline(always)]
    pub(super) fn cell_of(&self, cells: usize) -> Zone {
        Zone { volume: self.area() * self.length / cells as f64, compliance: self.wall_compliance }
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

/// A cell's water as it is accelerated.
struct Cell<'a> {
    line: &'a Line,
    /// m
    length: f64,
    /// What the line's fall gives over it, Pa.
    head: f64,
}

impl Cell<'_> {
    /// Rate of the mass flow `w` from `upstream` pressure into the cell's own, kg/s2.
    #[inline(always)]
    fn accelerated<T: Real>(&self, w: T, upstream: T, pressure: T) -> T {
        let loss = self.line.friction.loss_per_length(w) * self.length;
        (upstream - pressure - loss + self.head) * (self.line.area() / self.length)
    }
}

impl Rig {
    /// Water and air, kg/s, that come from the supply into the rig.
    #[inline(always)]
    pub(crate) fn supply_flow<T: Real>(
        &self,
        layout: &Layout,
        t: T,
        y: &[T],
        p: &Pressures<T>,
        f: &Flows<T>,
        side: Option<&SideFlows<T>>,
    ) -> Stream<T> {
        let air = T::constant(0.0);
        match &self.feed {
            Feed::Line(line) if line.drains => {
                let main = line.main_pressure(&self.fluid, t, y[0]);
                line.draining(self, main, p.line, y[0], y[layout.line_water(0)]).from_main
            }
            Feed::Line(_) => Stream { water: y[layout.line_flow(0)], air },
            Feed::Wave(end) => Stream { water: (end.at(t) - p.line) / end.impedance, air },
            // What a cock before shutoff 1 takes comes from the recording's own supply.
            Feed::Recorded(_) | Feed::Vessel(_) => match side {
                Some(side) => {
                    let (tap, leak) = (side.taps[0], side.outside[0]);
                    Stream {
                        water: f.shutoff1.water + tap.water + leak.water,
                        air: f.shutoff1.air + tap.air + leak.air,
                    }
                }
                None => f.shutoff1,
            },
        }
    }

    #[allow(clippy::too_many_arguments)] // what the caller has already computed
    #[inline(always)]
    pub(super) fn line_rates<T: Real>(
        &self,
        layout: &Layout,
        line: &Line,
        t: T,
        y: &[T],
        p: &Pressures<T>,
        f: &Flows<T>,
        out: &mut [T],
    ) {
        let mut upstream = line.main_pressure(&self.fluid, t, y[0]);
        if line.drains {
            let d = line.draining(self, upstream, p.line, y[0], y[layout.line_water(0)]);
            out[0] = d.acceleration;
            out[layout.line_water(0)] = d.from_main.water - f.shutoff1.water;
            out[layout.line_air()] = d.from_main.air - f.shutoff1.air;
            return;
        }
        let last = layout.cells - 1;
        let per_cell = 1.0 / layout.cells as f64;
        let cell = Cell {
            line,
            length: line.length * per_cell,
            head: self.fluid.density * STANDARD_GRAVITY * line.elevation * per_cell,
        };
        if last > 0 {
            let zone = line.cell_of(layout.cells);
            let nuclei = T::constant(line.nuclei(&self.fluid));
            for i in 0..last {
                let w = y[layout.line_flow(i)];
                let water = y[layout.line_water(i)];
                let pressure = zone.contents(&self.fluid, water, nuclei, T::constant(0.0)).pressure;
                out[layout.line_flow(i)] = cell.accelerated(w, upstream, pressure);
                out[layout.line_water(i)] = w - y[layout.line_flow(i + 1)];
                upstream = pressure;
            }
        }
        let w = y[layout.line_flow(last)];
        out[layout.line_flow(last)] = cell.accelerated(w, upstream, p.line);
        out[layout.line_water(last)] = w - f.shutoff1.water;
        out[layout.line_air()] = -f.shutoff1.air;
    }
}
