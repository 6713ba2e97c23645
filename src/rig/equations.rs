//! The rates: what [`super`] states, as a [`System`].

use super::flows::{Flows, LINE_NUCLEI, Pressures};
use super::layout::{Layout, ledger};
use super::modes::{Mode, RestWatch};
use super::{Feed, Line, Rig};
use crate::laws::{constants::STANDARD_GRAVITY, pipe};
use crate::numerics::{System, Transition, Variable};
use crate::parts::{Fluid, Poppet, Stand, Zone};
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
    /// Force along opening travel on the check, N, without friction: pressure, load, weight, flow.
    #[inline]
    pub(super) fn check_drive<T: Real>(&self, p: &Pressures<T>, x: T, v: T) -> T {
        (p.zone[0] - p.zone[1]) * self.check.seat_area() + self.check.load_force(x, v) + self.check.weight
    }

    /// Force along opening travel on the air inlet, N, without friction and flow.
    #[inline]
    pub(super) fn inlet_drive<T: Real>(&self, p: &Pressures<T>, x: T, v: T) -> T {
        let poppet = &self.inlet.poppet;
        let pa = self.fluid.ambient;
        poppet.load_force(x, v) + poppet.weight
            - (p.zone[0] - pa) * self.inlet.zone1_area
            - (p.zone[1] - pa) * self.inlet.zone2_area
    }

    /// Resistance of the passage to the diaphragm's chamber, N, against motion.
    #[inline]
    fn chamber_force<T: Real>(&self, v: T) -> T {
        let (area, passage) = (self.inlet.zone1_area, self.inlet.chamber_passage);
        if area == 0.0 || passage == 0.0 {
            return T::constant(0.0);
        }
        let ratio = area / (super::flows::SHARP_EDGE * passage);
        v * v.abs() * (0.5 * self.fluid.density * area * ratio * ratio)
    }

    #[inline]
    fn poppet_rates<T: Real>(poppet: &Poppet, stand: Stand, drive: T, x: usize, y: &[T], out: &mut [T]) {
        if stand == Stand::Moving {
            let v = y[x + 1];
            out[x] = v;
            out[x + 1] = (drive - poppet.friction_force(v)) / poppet.mass;
        } else {
            out[x] = T::constant(0.0);
            out[x + 1] = T::constant(0.0);
        }
    }

    fn line_rates<T: Real>(&self, line: &Line, t: T, y: &[T], p: &Pressures<T>, f: &Flows<T>, out: &mut [T]) {
        let layout = Layout::of(self);
        let dx = line.length / line.cells as f64;
        let inertance = line.area() / dx;
        let head = self.fluid.density * STANDARD_GRAVITY * line.elevation / line.cells as f64;
        let cell = line.cell();
        let nuclei = T::constant(line.nuclei(&self.fluid));
        let mut upstream = line.main_pressure(&self.fluid, t, y[0]);
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

/// The positive part of a rate.
#[inline]
fn outward<T: Real>(rate: T) -> T {
    rate.at_least(0.0)
}
/// The negative part of a rate, as a positive number; with the positive part it makes up the rate to the last bit, and so
/// do their derivatives (at zero as well).
#[inline]
fn inward<T: Real>(rate: T) -> T {
    outward(rate) - rate
}

impl System for Rig {
    type Mode = Mode;
    type Memory = RestWatch;

    fn dim(&self) -> usize {
        Layout::of(self).dim()
    }
    fn ledger(&self) -> usize {
        ledger::COUNT
    }
    fn variables(&self) -> Vec<Variable> {
        Layout::of(self).variables()
    }

    fn rates<T: Real>(&self, mode: &Mode, t: T, y: &[T], out: &mut [T]) {
        let layout = Layout::of(self);
        let p = self.pressures(&layout, t, y);
        let f = self.flows(&layout, mode, t, y, &p);
        if let Feed::Line(line) = &self.feed {
            self.line_rates(line, t, y, &p, &f, out);
        }
        out[layout.water(1)] = f.shutoff1.water - f.check.water - f.taps[0].water;
        out[layout.air(1)] = f.shutoff1.air - f.check.air - f.taps[0].air;
        out[layout.water(2)] = f.check.water - f.vent.water - f.shutoff2.water - f.taps[1].water;
        out[layout.air(2)] = f.check.air - f.vent.air - f.shutoff2.air - f.taps[1].air;
        out[layout.water(3)] = f.shutoff2.water - f.outlet.water;
        out[layout.air(3)] = f.shutoff2.air - f.outlet.air;

        let (c, i) = (layout.check(), layout.inlet());
        let check_drive = if mode.check == Stand::Moving {
            self.check_drive(&p, y[c], y[c + 1]) + self.check.flow_force(&self.fluid, f.check.water, f.check.air)
        } else {
            T::constant(0.0)
        };
        Self::poppet_rates(&self.check, mode.check, check_drive, c, y, out);
        let inlet_drive = if mode.inlet == Stand::Moving {
            self.inlet_drive(&p, y[i], y[i + 1])
                - self.inlet.poppet.flow_force(&self.fluid, f.vent.water, f.vent.air)
                - self.chamber_force(y[i + 1])
        } else {
            T::constant(0.0)
        };
        Self::poppet_rates(&self.inlet.poppet, mode.inlet, inlet_drive, i, y, out);

        // The ledger: every flow that crosses the boundary of the rig, each direction by itself.
        let d = layout.dim();
        let (supply_water, supply_air) = match &self.feed {
            Feed::Line(_) => (y[layout.line_flow(0)], T::constant(0.0)),
            Feed::Recorded(_) => (f.shutoff1.water, f.shutoff1.air),
        };
        let leaving = [f.outlet, f.taps[0], f.taps[1]];
        out[d + ledger::WATER_IN] = leaving.iter().fold(outward(supply_water), |s, l| s + inward(l.water));
        out[d + ledger::WATER_OUT] = leaving.iter().fold(inward(supply_water), |s, l| s + outward(l.water));
        out[d + ledger::SPILLED] = f.vent.water;
        out[d + ledger::AIR_IN] =
            leaving.iter().fold(outward(supply_air) + inward(f.vent.air), |s, l| s + inward(l.air));
        out[d + ledger::AIR_OUT] = leaving.iter().fold(inward(supply_air), |s, l| s + outward(l.air));
        out[d + ledger::AIR_VENTED] = outward(f.vent.air);
        out[d + ledger::CHECK_FORWARD] = outward(f.check.water);
    }

    fn frozen(&self, mode: &Mode, i: usize) -> bool {
        let layout = Layout::of(self);
        let (c, a) = (layout.check(), layout.inlet());
        (i == c || i == c + 1) && mode.check != Stand::Moving || (i == a || i == a + 1) && mode.inlet != Stand::Moving
    }

    fn scales(&self, t: f64, y: &[f64], out: &mut [f64]) {
        let layout = Layout::of(self);
        let p = self.pressures(&layout, t, y);
        let rho = self.fluid.density;
        // A mass of water weighs by the pressure it makes: rho (V_gas + C P), never by the mass itself.
        let water = |zone: &Zone, gas: f64, pressure: f64| {
            rho * (gas + pressure * (zone.compliance + zone.volume * self.fluid.compressibility))
        };
        let air_density = self.fluid.ambient / self.fluid.air_rt();
        if let Feed::Line(line) = &self.feed {
            let cell = line.cell();
            for i in 0..line.cells {
                // 0.1 m/s in the line
                out[layout.line_flow(i)] = y[layout.line_flow(i)].abs() + 0.1 * rho * line.area();
                out[layout.line_water(i)] = water(&cell, 0.0, p.line.max(self.fluid.ambient));
            }
            out[layout.line_air()] = y[layout.line_air()].abs() + line.nuclei(&self.fluid);
        }
        for k in 1..=3 {
            let zone = &self.zones[k - 1];
            let gas = (1.0 - p.liquid[k]) * zone.volume;
            out[layout.water(k)] = water(zone, gas, p.zone[k - 1].max(self.fluid.ambient));
            // A swept pocket counts down to a millionth of the zone, lest it undershoot nothing by more than the balance
            // allows.
            out[layout.air(k)] = y[layout.air(k)].abs() + 1e-6 * zone.volume * air_density;
        }
        for (x, lift) in [(layout.check(), self.check.lift), (layout.inlet(), self.inlet.poppet.lift)] {
            out[x] = y[x].abs() + 0.05 * lift;
            out[x + 1] = y[x + 1].abs() + 0.3;
        }
    }

    fn guard_count(&self, mode: &Mode) -> usize {
        mode.guard_count()
    }
    fn guards(&self, mode: &Mode, t: f64, y: &[f64], out: &mut [f64]) {
        self.mode_guards(mode, t, y, out);
    }
    fn transition(&self, mode: &Mode, _t: f64, y: &mut [f64], fired: usize) -> Transition<Mode> {
        self.mode_transition(mode, y, fired)
    }

    fn next_break(&self, t: f64) -> f64 {
        self.taps
            .iter()
            .map(|tap| &tap.opening)
            .chain([&self.shutoff1.opening, &self.shutoff2.opening])
            .map(|o| o.next_knot(t))
            .fold(f64::INFINITY, f64::min)
    }

    fn enough(&self, mode: &Mode, t: f64, y: &[f64], watch: &mut RestWatch) -> bool {
        self.at_rest(mode, t, y, watch)
    }
}
