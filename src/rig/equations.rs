//! The rates: what [`super`] states, as a [`System`].

use super::flows::{Flows, LINE_NUCLEI, Pressures, SideFlows};
use super::layout::{Inventory, Layout, ledger};
use super::modes::{Mode, RestWatch};
use super::stem::StemStand;
use super::stream::Stream;
use super::{Feed, Rig};
use crate::laws::valve::FIRST_OPENING;
use crate::numerics::{System, Transition, Variable};
use crate::parts::{FRICTION_SPEED, Poppet, Stand, TERMS, Zone};
use crate::real::Real;

impl Rig {
    #[inline(always)]
    fn poppet_rates<T: Real>(poppet: &Poppet, moves: bool, drive: T, x: usize, y: &[T], out: &mut [T]) {
        if moves {
            let v = y[x + 1];
            out[x] = v;
            out[x + 1] = (drive - poppet.friction_force(v)) * (1.0 / poppet.mass);
        } else {
            out[x] = T::constant(0.0);
            out[x + 1] = T::constant(0.0);
        }
    }

    #[allow(clippy::too_many_arguments)] // what the caller has already computed
    #[inline(always)]
    fn separate_rates<T: Real>(
        &self,
        layout: &Layout,
        mode: &Mode,
        p: &Pressures<T>,
        f: &Flows<T>,
        y: &[T],
        law: T,
        c: usize,
        out: &mut [T],
    ) {
        let i = layout.inlet();
        let zero = T::constant(0.0);
        let (check_moves, inlet_moves) = (mode.check == Stand::Moving, mode.inlet == Stand::Moving);
        let check_drive = match check_moves {
            true => {
                self.check_drive(p, y[c], y[c + 1]) + self.check.flow_force(&self.fluid, f.check.water, f.check.air)
            }
            false => zero,
        };
        Self::poppet_rates(&self.check, check_moves, check_drive, c, y, out);
        let inlet_drive = match inlet_moves {
            true => {
                self.inlet_drive(layout, mode, p, y, y[i], law)
                    - self.inlet.poppet.flow_force(&self.fluid, f.vent.water, f.vent.air)
                    - self.inlet.chamber_force(self.fluid.density, y[i + 1])
            }
            false => zero,
        };
        Self::poppet_rates(&self.inlet.poppet, inlet_moves, inlet_drive, i, y, out);
    }

    #[allow(clippy::too_many_arguments)] // what the caller has already computed
    #[inline]
    fn stem_rates<T: Real>(
        &self,
        layout: &Layout,
        mode: &Mode,
        stand: StemStand,
        p: &Pressures<T>,
        f: &Flows<T>,
        y: &[T],
        law: T,
        out: &mut [T],
    ) {
        let i = layout.inlet();
        if !stand.moves() {
            out[i] = T::constant(0.0);
            out[i + 1] = T::constant(0.0);
            return;
        }
        let v = y[i + 1];
        let inlet = &self.inlet.poppet;
        let mut force = self.stem_drive(layout, mode, p, f, y, law)
            - self.inlet.chamber_force(self.fluid.density, v)
            - inlet.friction_force(v);
        if stand == StemStand::Carrying {
            let [x, _] = self.travels(layout, y);
            force = force + self.check.load_force(x, v) - self.check.friction_force(v);
        }
        out[i] = v;
        out[i + 1] = force / (inlet.mass + self.check.mass);
    }
}

/// The ledger of the flows along the assembly: every flow that crosses the boundary of the rig, and the check's, each
/// direction by itself.
#[inline]
fn count<T: Real>(supply: Stream<T>, f: &Flows<T>, counts: &mut [T]) {
    let (supplied, taken) = (outward(supply.water), outward(f.outlet.water));
    let [blown_in, blown_out] = [outward(supply.air), outward(f.outlet.air)];
    let (vented, forward) = (outward(f.vent.air), outward(f.check.water));
    let (returned, admitted) = (supplied - supply.water, vented - f.vent.air);
    counts[ledger::WATER_IN] = supplied + (taken - f.outlet.water);
    counts[ledger::WATER_OUT] = returned + taken;
    counts[ledger::SPILLED] = f.vent.water;
    counts[ledger::AIR_IN] = blown_in + (blown_out - f.outlet.air) + admitted;
    counts[ledger::AIR_OUT] = blown_in - supply.air + blown_out;
    counts[ledger::AIR_VENTED] = vented;
    counts[ledger::CHECK_FORWARD] = forward;
    counts[ledger::RELIEVED] = T::constant(0.0);
    counts[ledger::CHECK_BACK] = forward - f.check.water;
    counts[ledger::LOAD_BACK] = T::constant(0.0);
    counts[ledger::SUPPLY_BACK] = returned;
    counts[ledger::ADMITTED] = admitted;
    counts[ledger::AIR_BACK] = inward(f.check.air);
    counts[ledger::SUPPLY_IN] = supplied;
}

impl Rig {
    /// What the side openings take, out of zones and into the ledger.
    fn side_rates<T: Real>(&self, layout: &Layout, side: &SideFlows<T>, out: &mut [T], counts: &mut [T]) {
        let mut take = |k: usize, s: Stream<T>| {
            let place = match k {
                0 if layout.cells > 0 => Some((layout.line_water(layout.cells - 1), layout.line_air())),
                0 if layout.wave => Some((0, 1)),
                0 => None,
                k => Some((layout.water(k), layout.air(k))),
            };
            // From elsewhere it comes from the recording's own supply.
            if let Some((water, air)) = place {
                out[water] = out[water] - s.water;
                out[air] = out[air] - s.air;
            }
            leave(counts, s);
        };
        for (k, s) in side.taps.into_iter().enumerate() {
            take(k, s);
        }
        for (k, s) in side.outside.into_iter().enumerate() {
            take(k, s);
        }
        if let Some(relief) = &self.relief {
            take(relief.place.zone(), side.relief);
            counts[ledger::RELIEVED] = side.relief.water;
        }
        let (tear, vented) = (side.tear, outward(side.tear.air));
        out[layout.water(1)] = out[layout.water(1)] - tear.water;
        out[layout.air(1)] = out[layout.air(1)] - tear.air;
        counts[ledger::SPILLED] = counts[ledger::SPILLED] + tear.water;
        counts[ledger::AIR_VENTED] = counts[ledger::AIR_VENTED] + vented;
        counts[ledger::AIR_IN] = counts[ledger::AIR_IN] + (vented - tear.air);
    }

    #[inline(always)]
    pub(super) fn rates_in<T: Real>(&self, layout: &Layout, mode: &Mode, t: T, y: &[T], out: &mut [T]) {
        let (out, counts) = out.split_at_mut(layout.dim());
        // As many as there are: the compiler should know.
        let (y, counts) = (&y[..layout.dim()], &mut counts[..ledger::COUNT]);
        let p = self.pressures(layout, t, y);
        let f = self.flows(layout, mode, t, y, &p);
        if let Feed::Line(line) = &self.feed {
            self.line_rates(layout, line, t, y, &p, &f, out);
        }
        if let Feed::Wave(end) = &self.feed {
            out[0] = (end.at(t) - p.line) / end.impedance - f.shutoff1.water;
            out[1] = -f.shutoff1.air;
        }
        out[layout.water(1)] = f.shutoff1.water - f.check.water;
        out[layout.air(1)] = f.shutoff1.air - f.check.air;
        out[layout.water(2)] = f.check.water - f.vent.water - f.shutoff2.water;
        out[layout.air(2)] = f.check.air - f.vent.air - f.shutoff2.air;
        out[layout.water(3)] = f.shutoff2.water - f.outlet.water;
        out[layout.air(3)] = f.shutoff2.air - f.outlet.air;
        let side = self.side_flows(layout, mode, t, y, &p);
        let supply = self.supply_flow(layout, t, y, &p, &f, side.as_ref());
        count(supply, &f, counts);
        if let Some(side) = &side {
            self.side_rates(layout, side, out, counts);
        }
        if let Some((tube, i)) = self.tube.as_ref().zip(layout.tube()) {
            let r = tube.rates(self, p.zone[2], y[i], y[i + 1]);
            out[i] = r.water;
            out[i + 1] = r.flow;
            out[layout.water(3)] = out[layout.water(3)] + r.over;
            out[layout.air(3)] = out[layout.air(3)] + r.mouth.air;
            leave(counts, Stream { water: -r.mouth.water, air: -r.mouth.air });
        }
        if let Some(i) = layout.trace() {
            // Zone 2's water is stirred: what leaves it carries the load side's share.
            let share = (y[i] / y[layout.water(2)].at_least(1e-9)).at_least(0.0).at_most(1.0);
            let mut gone = outward(f.shutoff2.water) + inward(f.check.water) + outward(f.vent.water);
            if let Some(side) = &side {
                gone = gone + side.taps[2].water + side.outside[2].water;
            }
            out[i] = inward(f.shutoff2.water) - share * gone;
            counts[ledger::LOAD_BACK] = share * inward(f.check.water);
        }

        // The air inlet's load is needed where it moves, and by what lags behind it.
        let (xi, vi) = (self.travels(layout, y)[1], self.speeds(layout, y)[1]);
        let moves = mode.stem.map_or(mode.inlet == Stand::Moving, StemStand::moves);
        let law = match moves || layout.lip().is_some() {
            true => self.inlet.poppet.load_force(xi, vi),
            false => T::constant(0.0),
        };
        match (layout.check(), mode.stem) {
            (Some(c), _) => self.separate_rates(layout, mode, &p, &f, y, law, c, out),
            (None, stand) => self.stem_rates(layout, mode, stand.unwrap_or(StemStand::AtStop), &p, &f, y, law, out),
        }
        if let (Some(relief), Some(i)) = (&self.relief, layout.relief()) {
            let gauge = p.zone[relief.place.zone() - 1] - self.fluid.ambient;
            let drive = relief.drive(mode.relief, gauge, y[i], y[i + 1]);
            Self::poppet_rates(&relief.poppet, mode.relief == Stand::Moving, drive, i, y, out);
        }
        if let (Some((relaxation, _)), Some(i)) = (&self.inlet.lip, layout.lip()) {
            out[i] = -f.slot.water;
            out[i + 1] = -f.slot.air;
            leave(counts, f.slot);
            for (k, rate) in relaxation.rate.iter().enumerate() {
                out[i + 2 + k] = (law - y[i + 2 + k]) * *rate;
            }
        }
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

/// Counts a stream that leaves the rig otherwise than under the canopy, each direction by itself; `ledger` are the rates of
/// the ledger.
#[inline]
fn leave<T: Real>(ledger: &mut [T], s: Stream<T>) {
    let (water, air) = (outward(s.water), outward(s.air));
    ledger[ledger::WATER_OUT] = ledger[ledger::WATER_OUT] + water;
    ledger[ledger::WATER_IN] = ledger[ledger::WATER_IN] + (water - s.water);
    ledger[ledger::AIR_OUT] = ledger[ledger::AIR_OUT] + air;
    ledger[ledger::AIR_IN] = ledger[ledger::AIR_IN] + (air - s.air);
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
        // The usual layouts by themselves: the compiler then knows where each state stands, which spares a fifth of an
        // evaluation's instructions.
        match Inventory::of(self) {
            Inventory::PLAIN => self.rates_in(const { &Inventory::PLAIN.layout() }, mode, t, y, out),
            Inventory::WITH_LIP => self.rates_in(const { &Inventory::WITH_LIP.layout() }, mode, t, y, out),
            other => self.rates_in(&other.layout(), mode, t, y, out),
        }
    }

    fn frozen(&self, mode: &Mode, i: usize) -> bool {
        let layout = Layout::of(self);
        let at = |x: usize| i == x || i == x + 1;
        if layout.check().is_some_and(at) {
            mode.check != Stand::Moving
        } else if at(layout.inlet()) {
            !mode.stem.map_or(mode.inlet == Stand::Moving, StemStand::moves)
        } else {
            layout.relief().is_some_and(at) && mode.relief != Stand::Moving
        }
    }

    fn bends(&self, mode: &Mode) -> [Option<(usize, f64)>; 3] {
        let layout = Layout::of(self);
        let near = 5.0 * FRICTION_SPEED;
        let check = layout.check().filter(|_| mode.check == Stand::Moving && self.check.friction > 0.0);
        let inlet_moves = mode.stem.map_or(mode.inlet == Stand::Moving, StemStand::moves);
        let inlet = Some(layout.inlet()).filter(|_| inlet_moves && self.inlet.poppet.friction > 0.0);
        [check, inlet, None].map(|travel| travel.map(|i| (i + 1, near)))
    }

    /// Where water begins to reach the open air inlet.
    fn fold(&self, mode: &Mode, t: f64, y: &[f64]) -> f64 {
        match mode.inlet {
            Stand::Sealed => 1.0,
            _ => self.pressures(&Layout::of(self), t, y).pocket_share / self.inlet.spill_band - 1.0,
        }
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
            let gas = if line.drains { (1.0 - p.liquid[0]) * cell.volume } else { 0.0 };
            for i in 0..layout.cells {
                // 0.1 m/s in the line
                out[layout.line_flow(i)] = y[layout.line_flow(i)].abs() + 0.1 * rho * line.area();
                out[layout.line_water(i)] = water(&cell, gas, p.line.max(self.fluid.ambient));
            }
            out[layout.line_air()] = y[layout.line_air()].abs() + line.nuclei(&self.fluid);
            if line.drains {
                // What is asked of a draining line is where its litres go, not how its last swings ring.
                let whole = cell.volume;
                out[layout.line_water(0)] = out[layout.line_water(0)].max(1e-3 * whole * rho);
                out[layout.line_air()] = out[layout.line_air()].max(1e-4 * whole * air_density);
            }
        }
        if let Feed::Wave(end) = &self.feed {
            let volume = end.cell.volume;
            out[0] = water(&end.cell, (1.0 - p.liquid[0]) * volume, p.line.max(self.fluid.ambient));
            out[1] = y[1].abs() + LINE_NUCLEI * volume * air_density;
        }
        if let (Some(tube), Some(i)) = (&self.tube, layout.tube()) {
            // A decimetre of level and of speed.
            out[i] = rho * tube.area() * 0.1;
            out[i + 1] = y[i + 1].abs() + rho * tube.area() * 0.1;
        }
        if let Some(i) = layout.trace() {
            out[i] = y[i].abs() + 0.1 * rho * self.zones[1].volume;
        }
        for k in 1..=3 {
            let zone = &self.zones[k - 1];
            let gas = (1.0 - p.liquid[k]) * zone.volume;
            out[layout.water(k)] = water(zone, gas, p.zone[k - 1].max(self.fluid.ambient));
            // A swept pocket counts down to a millionth of the zone, lest it undershoot nothing by more than the balance
            // allows.
            out[layout.air(k)] = y[layout.air(k)].abs() + 1e-6 * zone.volume * air_density;
        }
        let relief = self.relief.as_ref().map_or(0.0, |r| r.poppet.lift);
        let parts = [
            (layout.check(), self.check.lift),
            (Some(layout.inlet()), self.inlet.poppet.lift),
            (layout.relief(), relief),
        ];
        for (x, lift) in parts.into_iter().filter_map(|(x, lift)| Some((x?, lift))) {
            out[x] = y[x].abs() + 0.05 * lift;
            out[x + 1] = y[x + 1].abs() + 0.3;
        }
        if let (Some((_, pocket)), Some(i)) = (&self.inlet.lip, layout.lip()) {
            let volume = pocket.zone.volume;
            out[i] = water(&pocket.zone, (1.0 - p.lips[1]) * volume, p.lips[0].max(self.fluid.ambient));
            out[i + 1] = y[i + 1].abs() + 1e-3 * volume * air_density;
            let force = self.inlet.poppet.load_force(0.0, 0.0).abs();
            for k in 0..TERMS {
                out[i + 2 + k] = y[i + 2 + k].abs() + 0.1 * force + 1e-3;
            }
        }
    }

    fn guard_count(&self, mode: &Mode) -> usize {
        self.mode_guard_count(mode)
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
            .chain([&self.shutoff1, &self.shutoff2].map(|s| s.opening.next_passing(t, FIRST_OPENING)))
            .chain((self.acts_until > t).then_some(self.acts_until))
            .fold(f64::INFINITY, f64::min)
    }

    fn enough(&self, mode: &Mode, t: f64, y: &[f64], watch: &mut RestWatch) -> bool {
        self.at_rest(mode, t, y, watch)
    }
}
