//! The rates, guards and events of [`TestStand`], as a [`System`].

use super::{Aim, CRACK, FieldMode, LOSES, STATES, TestStand, Watch};
use crate::numerics::{System, Transition, Variable};
use crate::real::Real;
use crate::rig::{Layout, Stream, ledger};

#[inline]
fn outward<T: Real>(rate: T) -> T {
    rate.at_least(0.0)
}

impl System for TestStand {
    type Mode = FieldMode;
    type Memory = Watch;

    fn dim(&self) -> usize {
        self.base() + STATES
    }
    fn ledger(&self) -> usize {
        ledger::COUNT
    }
    fn variables(&self) -> Vec<Variable> {
        let mut all = self.rig.variables();
        let own = [("hose_water_kg", "kg"), ("hose_air_kg", "kg"), ("needle_pa", "Pa"), ("bleed_opening", "1")];
        let own = own.map(|(name, unit)| Variable { name: name.to_owned(), unit });
        all.splice(self.base()..self.base(), own);
        all
    }

    fn rates<T: Real>(&self, mode: &FieldMode, t: T, y: &[T], out: &mut [T]) {
        let n = self.base();
        // The rig writes its ledger right behind its states, where ours stand.
        self.rig.rates(&mode.rig, t, y, out);
        for i in (0..ledger::COUNT).rev() {
            out[n + STATES + i] = out[n + i];
        }
        let layout = Layout::of(&self.rig);
        let p = self.rig.pressures(&layout, t, y);
        let seen = self.seen(&p, t, y);
        let (hose, bleed, lost) = (seen.hose, seen.bleed, seen.lost);
        let d = n + STATES;
        let at_tee = self.tee && self.hose.is_some();
        let weep = self.weep(&p, y, &mode.rig);
        out[layout.water(1)] = out[layout.water(1)] - weep;
        out[layout.water(2)] = out[layout.water(2)] + weep;
        out[d + ledger::CHECK_FORWARD] = out[d + ledger::CHECK_FORWARD] + outward(weep);
        if let Some(on) = &self.hose {
            let mut taken = hose;
            if at_tee {
                taken = Stream { water: taken.water + bleed.water, air: taken.air + bleed.air };
            }
            match (on.zone, layout.cells) {
                (0, 0) => {
                    // The recording's own supply gives what the hose takes.
                    out[d + ledger::WATER_IN] = out[d + ledger::WATER_IN] + outward(taken.water);
                    out[d + ledger::WATER_OUT] = out[d + ledger::WATER_OUT] + outward(taken.water) - taken.water;
                    out[d + ledger::AIR_IN] = out[d + ledger::AIR_IN] + outward(taken.air);
                    out[d + ledger::AIR_OUT] = out[d + ledger::AIR_OUT] + outward(taken.air) - taken.air;
                }
                (0, cells) => {
                    let i = layout.line_water(cells - 1);
                    out[i] = out[i] - taken.water;
                    out[layout.line_air()] = out[layout.line_air()] - taken.air;
                }
                (k, _) => {
                    let k = k.min(3);
                    out[layout.water(k)] = out[layout.water(k)] - taken.water;
                    out[layout.air(k)] = out[layout.air(k)] - taken.air;
                }
            }
        }
        let by_gauge = if at_tee { Stream { water: T::constant(0.0), air: T::constant(0.0) } } else { bleed };
        out[n] = hose.water - by_gauge.water - lost.water;
        out[n + 1] = hose.air - by_gauge.air - lost.air;
        out[n + 2] = (self.target(seen.gauge) - y[n + 2]) / self.gauge.lag;
        out[n + 3] = self.hand(&p, t, y, &mode.rig, &seen);
        for s in [bleed, lost] {
            out[d + ledger::WATER_OUT] = out[d + ledger::WATER_OUT] + outward(s.water);
            out[d + ledger::WATER_IN] = out[d + ledger::WATER_IN] + outward(s.water) - s.water;
            out[d + ledger::AIR_OUT] = out[d + ledger::AIR_OUT] + outward(s.air);
            out[d + ledger::AIR_IN] = out[d + ledger::AIR_IN] + outward(s.air) - s.air;
        }
    }

    fn frozen(&self, mode: &FieldMode, i: usize) -> bool {
        let n = self.base();
        if i < n { self.rig.frozen(&mode.rig, i) } else { i == n + 3 && self.aim == Aim::Still }
    }

    fn bends(&self, mode: &FieldMode) -> [Option<(usize, f64)>; 3] {
        self.rig.bends(&mode.rig)
    }

    fn fold(&self, mode: &FieldMode, t: f64, y: &[f64]) -> f64 {
        self.rig.fold(&mode.rig, t, y)
    }

    fn scales(&self, t: f64, y: &[f64], out: &mut [f64]) {
        self.rig.scales(t, y, out);
        let (n, fluid) = (self.base(), &self.rig.fluid);
        let zone = &self.gauge.zone;
        let pressure = zone.contents(fluid, y[n], y[n + 1], 0.0).pressure;
        let gas = zone.volumes(fluid, y[n], y[n + 1], 0.0).gas;
        let give = zone.compliance + zone.volume * fluid.compressibility;
        out[n] = fluid.density * (gas + pressure.max(fluid.ambient) * give);
        out[n + 1] = y[n + 1].abs() + 1e-4 * zone.volume * fluid.ambient / fluid.air_rt();
        // A third of a psi; at the tolerances in use a needle is then good to a fraction of a pascal.
        out[n + 2] = y[n + 2].abs() + 2e3;
        out[n + 3] = y[n + 3].abs() + 10.0 * CRACK;
    }

    fn guard_count(&self, mode: &FieldMode) -> usize {
        self.rig.guard_count(&mode.rig) + 1
    }
    fn guards(&self, mode: &FieldMode, t: f64, y: &[f64], out: &mut [f64]) {
        let last = self.rig.guard_count(&mode.rig);
        self.rig.guards(&mode.rig, t, y, &mut out[..last]);
        out[last] = match self.until.needle {
            Some(mark) if !mode.reached => y[self.base() + 2] - mark,
            _ => 1.0,
        };
    }
    fn transition(&self, mode: &FieldMode, t: f64, y: &mut [f64], fired: usize) -> Transition<FieldMode> {
        if fired >= self.rig.guard_count(&mode.rig) {
            return Transition { mode: FieldMode { reached: true, ..*mode }, label: None };
        }
        let change = self.rig.transition(&mode.rig, t, y, fired);
        Transition { mode: FieldMode { rig: change.mode, ..*mode }, label: change.label }
    }

    fn next_break(&self, t: f64) -> f64 {
        let hose = self.hose.as_ref().map_or(f64::INFINITY, |h| h.opening.next_knot(t));
        self.rig.next_break(t).min(hose)
    }

    fn enough(&self, mode: &FieldMode, t: f64, y: &[f64], watch: &mut Watch) -> bool {
        if self.told(mode) {
            return true;
        }
        let n = self.base();
        let dry = match self.aim {
            Aim::StopCock(zone, drip) => self.cock_flow(mode, t, y, zone) < 1.2 * drip,
            _ if self.until.at_rest => self.loses(mode, t, y) < LOSES,
            _ => true,
        };
        watch.dry = if dry { watch.dry.or(Some(t)) } else { None };
        let dry_for = watch.dry.map_or(0.0, |since| t - since);
        // A check that shuts stops the cock for a moment, until what leaks in has raised zone 1 by its friction.
        if self.until.stopped.is_some_and(|time| dry_for >= time || y[n + 3] > 0.999) {
            return true;
        }
        let Some((band, time)) = self.until.steady else { return false };
        let needle = y[n + 2];
        match watch.needle {
            Some((since, there)) if (needle - there).abs() <= band => t - since >= time && dry_for >= time,
            _ => {
                watch.needle = Some((t, needle));
                false
            }
        }
    }
}
