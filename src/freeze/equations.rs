//! The equations of a night. States of each zone: energy, mass, ice mass; behind them what has left the body.
//!
//! ```text
//! dE_z/dt = −(T_z − T_air) / [1/(h A) + R_shell] ± G (T_1 − T_2) − h_l ṁ_out ± h_l ṁ_check
//! dm_z/dt = −ṁ_out ± ṁ_check          dm_i/dt = pulse + heat lost/(h_l − h_i) while the first ice grows, else from E and m
//! ```

use super::body::{Body, HeatLoss, Lifts, Relief};
use super::guards::Guard;
use super::modes::{Mode, ReliefMode};
use super::wall::Stretch;
use super::zone::{self, Contents, Phase, Point};
use super::{LEDGER, MOST_ZONES};
use crate::laws::{front, ice, orifice};
use crate::numerics::{System, Transition, Variable};
use crate::real::Real;

/// Pressure above the check's load, Pa (0.1 psi), below which it only cracks open: its flow falls with the cube.
const CRACK: f64 = 690.0;
/// Pressure, Pa (0.5 psi), by which what the tolerance leaves, inside of a step too, may let a check fall shut that passes
/// water steadily.
const SHORT: f64 = 3450.0;
/// Liquid, kg, below which it no longer covers a port.
const FILM: f64 = 1e-5;
/// Pressure, Pa, below which a relief that stands open passes water in proportion to it.
const LAMINAR: f64 = 200.0;

impl Body {
    /// The states of the zones.
    pub fn points(&self, mode: &Mode, y: &[f64]) -> [Option<Point>; MOST_ZONES] {
        std::array::from_fn(|i| self.point(mode, y, i))
    }

    /// The state of one zone.
    pub fn point(&self, mode: &Mode, y: &[f64], i: usize) -> Option<Point> {
        let (zone, m, near) = (self.zones.get(i)?, mode.zones.get(i)?, self.near.get(i)?);
        let &[energy, mass, ice] = y.get(3 * i..3 * i + 3)? else { return None };
        let contents = Contents { energy, mass, ice, air: m.air };
        let mut found = zone::solve(&zone.wall, m.phase, m.stretch, &contents, near.get());
        if !found.p.is_finite() {
            // From afar: near the melting point at ambient pressure.
            found = zone::solve(&zone.wall, m.phase, m.stretch, &contents, [273.0, self.ambient]);
        }
        if found.p.is_finite() {
            near.set([found.t, found.p]);
        }
        Some(found)
    }

    /// Heat given off by zone `i` in state `point`, W.
    fn heat_out<T: Real>(&self, i: usize, point: &Point, states: &[T; 3], t: T, air: T, wind: T) -> T {
        let Some(zone) = self.zones.get(i) else { return T::constant(0.0) };
        let h = match self.loss {
            HeatLoss::Fixed(h) => T::constant(h),
            HeatLoss::Air(film) => film.overall(t, air, wind),
        };
        let conductance = h * zone.area;
        if !(self.shell && point.ice > 0.0) {
            return conductance * (t - air);
        }
        let ice_mass = point.lift(2, states);
        let share = (ice_mass * point.solid.v / zone.wall.volume).value();
        let k = ice::conductivity(point.t.min(273.2));
        let resistance = front::shell_resistance(share, k, zone.length);
        // Slope of −ln(1−s)/(4π k L) by the share.
        let slope = if share < 0.999 { 0.25 / (std::f64::consts::PI * k * zone.length * (1.0 - share)) } else { 0.0 };
        let shell = (ice_mass - point.ice) * (slope * point.solid.v / zone.wall.volume) + resistance;
        conductance / (conductance * shell + 1.0) * (t - air)
    }

    /// Water through the check from the first zone to the second, kg/s, at these pressures and masses of liquid.
    fn check_flow<T: Real>(&self, mode: &Mode, [one, two]: [T; MOST_ZONES], liquid: [T; MOST_ZONES]) -> T {
        let Some(check) = self.check.filter(|_| mode.check_open) else { return T::constant(0.0) };
        let over = match check.stem.is_some() && mode.zones.get(1).is_some_and(|z| !is_open(z.stretch)) {
            true => one - two,
            false => (one - two - check.load).at_least(0.0),
        };
        let from = usize::from(over.value() < 0.0);
        if mode.zones[from].phase == Phase::Solid {
            return T::constant(0.0);
        }
        let square = over * over;
        square * over / (square + CRACK * CRACK) * check.conductance * wet(liquid[from])
    }

    /// Changes the rates so that the check passes just what keeps the pressures apart as they are. It comes to that within
    /// milliseconds; the errors of the states that the tolerance leaves make pressures through it that are small, but rates
    /// of pressure far above a night's.
    fn settle(&self, mode: &Mode, points: &[Option<Point>; MOST_ZONES], rates: &mut [f64]) {
        let (Some(check), [Some(a), Some(b)]) = (self.check, points) else { return };
        let flow = self.check_flow(mode, [a.p, b.p], [a.mass - a.ice, b.mass - b.ice]);
        let &mut [e1, m1, i1, e2, m2, i2, ..] = rates else { return };
        // Just short of lifting is lifting, too: the tolerance does not tell them apart.
        let lifting = mode.check_open && mode.zones[0].phase != Phase::Solid && a.p - b.p > check.load - SHORT;
        if flow == 0.0 && !lifting {
            return;
        }
        let h = if flow < 0.0 { b.liquid.h } else { a.liquid.h };
        let by_flow = |p: &Point| p.rate(1, [h, 1.0, 0.0]);
        let more = (a.rate(1, [e1, m1, i1]) - b.rate(1, [e2, m2, i2])) / (by_flow(a) + by_flow(b));
        let more = if check.stem.is_some() { more } else { more.max(-flow) };
        if let (true, [e1, m1, _, e2, m2, ..]) = (more.is_finite(), rates) {
            (*e1, *m1) = (*e1 - more * h, *m1 - more);
            (*e2, *m2) = (*e2 + more * h, *m2 + more);
        }
    }

    /// Water out of the relief, kg/s.
    fn relief_flow<T: Real>(&self, mode: &Mode, p: T, density: f64) -> T {
        let (Some(relief), true) = (self.relief, matches!(mode.relief, ReliefMode::Open | ReliefMode::Spent)) else {
            return T::constant(0.0);
        };
        let gauge = p - self.ambient;
        let wide = T::constant(relief.discharge * relief.area());
        let area = match (mode.relief, self.lifts) {
            (ReliefMode::Open, Lifts::Held) => {
                let x = (gauge - mode.opens_at) * (1.0 / (Relief::ACCUMULATION * mode.opens_at));
                let x = x.at_least(0.0).at_most(1.0);
                // Flat at both ends: a night's trickle does not sit on a kink.
                wide * (x * x * x * (x * (x * 6.0 - 15.0) + 10.0))
            }
            _ => wide,
        };
        orifice::liquid(area, gauge, density, LAMINAR)
    }
}

impl Body {
    /// About how long a lift takes, s: what zones of water and metal store over the drop, through the open bore.
    fn lift_time(&self) -> f64 {
        let Some(relief) = self.relief else { return 1e-3 };
        let volume: f64 = self.zones.iter().map(|z| z.wall.volume).sum();
        let stored = 6e-10 * volume * (1.0 - relief.reseat_ratio) * relief.set;
        stored / (relief.discharge * relief.area() * (2e-3 * relief.set).sqrt())
    }
}

impl System for Body {
    type Mode = Mode;
    type Memory = ();

    fn dim(&self) -> usize {
        3 * self.zones.len()
    }

    fn ledger(&self) -> usize {
        LEDGER
    }

    fn variables(&self) -> Vec<Variable> {
        let own = self.zones.iter().flat_map(|z| {
            [("energy_j", "J"), ("water_kg", "kg"), ("ice_kg", "kg")]
                .map(|(name, unit)| Variable { name: format!("{}_{name}", z.name), unit })
        });
        let ledger = [("heat_out_j", "J"), ("relieved_kg", "kg"), ("enthalpy_out_j", "J"), ("relieved_m3", "m3")]
            .map(|(name, unit)| Variable { name: name.to_owned(), unit });
        own.chain(ledger).collect()
    }

    fn rates<T: Real>(&self, mode: &Mode, t: T, y: &[T], out: &mut [T]) {
        let zero = T::constant(0.0);
        out.fill(zero);
        let n = self.zones.len();
        let mut values = [0.0; 3 * MOST_ZONES];
        for (v, x) in values.iter_mut().zip(y.iter().take(3 * n)) {
            *v = x.value();
        }
        let (air, wind) = self.weather.at(t);
        let points = self.points(mode, &values);
        let mut temperature = [zero; MOST_ZONES];
        let mut pressure = [zero; MOST_ZONES];
        let mut liquid = [zero; MOST_ZONES];
        let mut heat = zero;
        for i in 0..n {
            let (Some(Some(point)), Some(&[e, m, ice])) = (points.get(i), y.get(3 * i..3 * i + 3)) else { continue };
            let states = [e, m, ice];
            temperature[i] = point.lift(0, &states);
            pressure[i] = point.lift(1, &states);
            liquid[i] = m - point.lift(2, &states);
            let q = self.heat_out(i, point, &states, temperature[i], air, wind);
            out[3 * i] = out[3 * i] - q;
            heat = heat + q;
        }
        // Enthalpy of the liquid with its derivatives.
        let enthalpy = |i: usize| match points.get(i) {
            Some(Some(p)) => (temperature[i] - p.t) * p.liquid.h_t + (pressure[i] - p.p) * p.liquid.h_p + p.liquid.h,
            _ => zero,
        };
        if n > 1 {
            let q = (temperature[0] - temperature[1]) * self.link;
            out[0] = out[0] - q;
            out[3] = out[3] + q;
        }
        for i in 0..n {
            let (Some(Some(point)), Phase::Growing(pace)) = (points.get(i), mode.zones[i].phase) else { continue };
            // What heat leaves meanwhile freezes on top of the pulse: ice grows the faster the colder the water, so water
            // that has ice in it does not go on cooling.
            if pace > 0.0 {
                out[3 * i + 2] = (out[3 * i] * (-1.0 / (point.liquid.h - point.solid.h))).at_least(0.0) + pace;
            }
        }
        if n > 1 {
            let flow = self.check_flow(mode, pressure, liquid);
            let carried = flow * enthalpy(usize::from(flow.value() < 0.0));
            out[0] = out[0] - carried;
            out[3] = out[3] + carried;
            out[1] = out[1] - flow;
            out[4] = out[4] + flow;
        }
        let mut gone = [zero; 3];
        if let Some(relief) = self.relief.filter(|r| r.zone < n)
            && let Some(Some(point)) = points.get(relief.zone)
            && point.liquid.v > 0.0
        {
            let z = relief.zone;
            let flow = self.relief_flow(mode, pressure[z], 1.0 / point.liquid.v) * wet(liquid[z]);
            let carried = flow * enthalpy(z);
            out[3 * z] = out[3 * z] - carried;
            out[3 * z + 1] = out[3 * z + 1] - flow;
            gone = [flow, carried, flow * point.liquid.v];
        }
        for (o, x) in out.iter_mut().skip(3 * n).zip([heat, gone[0], gone[1], gone[2]]) {
            *o = x;
        }
    }

    fn frozen(&self, mode: &Mode, i: usize) -> bool {
        let Some(m) = mode.zones.get(i / 3) else { return true };
        match i % 3 {
            0 => false,
            1 => {
                let relieved = self.relief.is_some_and(|r| r.zone == i / 3)
                    && matches!(mode.relief, ReliefMode::Open | ReliefMode::Spent);
                !(mode.check_open || relieved)
            }
            _ => !matches!(m.phase, Phase::Growing(rate) if rate != 0.0),
        }
    }

    fn scales(&self, _t: f64, y: &[f64], out: &mut [f64]) {
        for (i, z) in self.zones.iter().enumerate() {
            let Some(&mass) = y.get(3 * i + 1) else { continue };
            let mass = mass.max(1e-6);
            if let Some([e, m, ice]) = out.get_mut(3 * i..3 * i + 3) {
                // One kelvin of everything that is warm; a hundredth of the water (at the default tolerance 200 Pa of a
                // full zone).
                (*e, *m, *ice) = (4200.0 * mass + z.wall.heat_capacity, 1e-2 * mass, 1e-2 * mass);
            }
        }
    }

    fn guard_count(&self, mode: &Mode) -> usize {
        self.guard_list(mode).len()
    }

    fn guards(&self, mode: &Mode, t: f64, y: &[f64], out: &mut [f64]) {
        let points = self.points(mode, y);
        let list = self.guard_list(mode);
        let mut rates = [f64::NAN; 3 * MOST_ZONES + LEDGER];
        if list.iter().any(|g| matches!(g, Guard::Unloads(_))) {
            let all = self.dim() + LEDGER;
            if let Some(rates) = rates.get_mut(..all) {
                self.rates(mode, t, y, rates);
                self.settle(mode, &points, rates);
            }
        }
        for (o, guard) in out.iter_mut().zip(list.iter()) {
            *o = self.guard(mode, guard, &points, &rates);
        }
    }

    fn transition(&self, mode: &Mode, t: f64, y: &mut [f64], fired: usize) -> Transition<Mode> {
        self.turned(mode, t, y, fired)
    }

    fn next_break(&self, t: f64) -> f64 {
        self.weather.next_break(t)
    }

    fn enough(&self, mode: &Mode, _t: f64, _y: &[f64], _memory: &mut ()) -> bool {
        mode.beyond.is_some()
    }

    fn restart_step(&self, mode: &Mode, _before: f64) -> f64 {
        let growing = |z: &super::modes::ZoneMode| matches!(z.phase, Phase::Growing(_));
        match mode.zones.iter().take(self.zones.len()).any(growing) {
            true if self.lifts == Lifts::Resolved && mode.relief == ReliefMode::Open => 0.3 * self.lift_time(),
            true => 1e-3 * self.release_time,
            // What melts in zone 1 runs off into an open zone 2 within milliseconds.
            false if mode.check_open && is_open(mode.zones[1].stretch) => 1e-4,
            false => 5.0,
        }
    }
}

/// Share of a port that liquid covers: a zone gives no more than it holds, or than melts.
fn wet<T: Real>(liquid: T) -> T {
    (liquid * (1.0 / FILM)).at_least(0.0).at_most(1.0)
}

/// Whether a wall is open to the atmosphere.
pub(super) fn is_open(stretch: Stretch) -> bool {
    matches!(stretch, Stretch::Held { open: true, .. })
}
