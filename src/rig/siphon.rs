//! What stands round an assembly when the supply fails: a vessel under vacuum, a line that runs empty, the end of a line
//! that carries waves, a tube in a pan on the load side, and a watch for rest.
//!
//! ```text
//! line that drains   one column of length L_w = m/(rho A) at the main's end, the pocket of air behind it
//!                    (L_w/A) dw/dt = P_main - P - w abs(w)/(2 rho A^2) [w < 0] - friction L_w + rho g z L_w/L
//!                    out: s w of water, s = smooth step of m over the last DRAINED of the line; air through (1 - s) A_line
//! end of waves       dm/dt = (C(t) - P)/B - outflow          C = P + B w arriving along the line, B = a/A
//! tube in a pan      (l/A) dw/dt = Pa + rho g dip - (1 + K) w^2/(2 rho A^2) [w > 0] - P3 - rho g l - friction l
//!                    dm/dt = w - over the top
//! ```
//!
//! | symbol | meaning |
//! |---|---|
//! | w, m | mass flow and water of the column, kg/s and kg |
//! | l, dip | length of the column in the tube, and what of it stands below the pan's surface, m |
//! | K | loss at the tube's mouth in velocity heads, besides the one that sets the water moving |
//! | B, a | characteristic impedance, Pa s/kg, and wave speed, m/s |
//!
//! The tube's column is a rigid one of changing length (its control volume moves with the surface). Friction of a swing is
//! the steady one and that of the layer the swing itself drags along, `4/D sqrt(nu omega/2) v` at the column's own
//! `omega = sqrt(g/l)` (Stokes' second problem, H. Schlichting, *Boundary-Layer Theory*, from memory): without it a tube
//! would swing for minutes. Water and air in a draining line do not slip past each other: the column stays whole
//! (a 1 in tube; in wide level pipes some water would stay behind, which is left out).

use super::flows::SHARP_EDGE;
use super::stream::{SOFT_DP, SOFT_DP_WIDE, Stream};
use super::{Layout, Line, Rig, ledger};
use crate::assembly::Settings;
use crate::error::Error;
use crate::laws::constants::STANDARD_GRAVITY;
use crate::laws::orifice;
use crate::laws::pipe::{self, Friction};
use crate::parts::{Fluid, Stand, Zone};
use crate::real::Real;

/// Share of a line's water below which its column counts as running out (the hand-over from water to air).
pub const DRAINED: f64 = 0.02;
/// Loss of an empty line for air: entrance and exit, and a friction factor of 0.025 (smooth tube at Re 3e4, Moody chart).
const AIR_LOSS: (f64, f64) = (1.5, 0.025);

/// A smooth step from 0 to 1 as `x` goes from 0 to 1.
#[inline]
pub(super) fn step<T: Real>(x: T) -> T {
    let s = x.at_least(0.0).at_most(1.0);
    s * s * (s * -2.0 + 3.0)
}

/// What a draining line does: flow of water and air into its cell from the main, and the rate of its column.
pub(super) struct Draining<T> {
    pub from_main: Stream<T>,
    pub acceleration: T,
}

impl Line {
    /// Effective area of the empty line for air, m2.
    pub fn air_area(&self) -> f64 {
        self.area() / (AIR_LOSS.0 + AIR_LOSS.1 * self.length / self.bore).sqrt()
    }

    /// The column of a line that drains: `main` and `pressure` at its two ends, Pa absolute, flow `w` kg/s, water `m` kg.
    pub(super) fn draining<T: Real>(&self, rig: &Rig, main: T, pressure: T, w: T, m: T) -> Draining<T> {
        let fluid = &rig.fluid;
        let area = self.area();
        let full = fluid.density * area * self.length;
        let share = step(m / (DRAINED * full));
        let water = if w.value() < 0.0 { w * share } else { w };
        // Never without inertia: half the share that counts as run out.
        let x = m * (self.length / full);
        let least = 0.5 * DRAINED * self.length;
        let length = (x + (x * x + 4.0 * least * least).sqrt()) * 0.5;
        let leaving =
            if w.value() < 0.0 { w * w.abs() / (2.0 * fluid.density * area * area) } else { T::constant(0.0) };
        let loss = self.friction.loss_per_length(w);
        let head = x * (fluid.density * STANDARD_GRAVITY * self.elevation / self.length);
        let acceleration = (main - pressure - leaving - loss * length + head) * area / length;
        let open = (-share + 1.0) * self.air_area();
        let dry = T::constant(0.0);
        let air = rig.fluid.stream(open, SOFT_DP_WIDE, main, pressure, dry, dry).air;
        Draining { from_main: Stream { water, air }, acceleration }
    }
}

/// The end of a line that carries waves: what arrives along it, against what the assembly takes.
#[derive(Debug, Clone, PartialEq)]
pub struct WaveEnd {
    /// Start of the values, s.
    pub t0: f64,
    /// Their spacing, s.
    pub dt: f64,
    /// `P + B w` as it arrives, Pa absolute, linear between.
    pub incoming: Vec<f64>,
    /// Characteristic impedance, Pa s/kg.
    pub impedance: f64,
    /// The last bit of pipe.
    pub cell: Zone,
    /// Pressure of the main, Pa gauge, height of the main above, m: for the static pressure.
    pub static_gauge: f64,
}

impl WaveEnd {
    /// What arrives at time `t`, Pa absolute.
    #[inline]
    pub fn at<T: Real>(&self, t: T) -> T {
        let place = (t - self.t0) / self.dt;
        let last = self.incoming.len().saturating_sub(2);
        let i = (place.value().max(0.0) as usize).min(last);
        match (self.incoming.get(i), self.incoming.get(i + 1)) {
            (Some(&a), Some(&b)) => (place - i as f64).at_least(0.0).at_most(1.0) * (b - a) + a,
            (Some(&a), None) => T::constant(a),
            _ => T::constant(f64::NAN),
        }
    }
}

/// A tube that hangs from the load side into an open pan.
#[derive(Debug, Clone, PartialEq)]
pub struct Tube {
    /// Bore, m.
    pub bore: f64,
    /// Height of its upper end above the pan's surface, m.
    pub length: f64,
    /// How deep its mouth stands in the pan, m.
    pub dip: f64,
    /// Loss at its mouth in velocity heads.
    pub entry_loss: f64,
    /// Wall friction.
    pub friction: Friction,
}

/// What a tube does: rates of its water and its flow, water over its top, water and air through its mouth (inward).
pub(super) struct TubeRates<T> {
    pub water: T,
    pub flow: T,
    pub over: T,
    pub mouth: Stream<T>,
}

impl Tube {
    /// Flow area, m2.
    pub fn area(&self) -> f64 {
        pipe::bore_area(self.bore)
    }

    /// Height of the water above the pan's surface, m, with `water` kg in the tube.
    #[inline]
    pub fn rise<T: Real>(&self, fluid: &Fluid, water: T) -> T {
        water / (fluid.density * self.area()) - self.dip
    }

    /// Water in the tube at rest under atmosphere, kg.
    pub fn at_rest(&self, fluid: &Fluid) -> f64 {
        fluid.density * self.area() * self.dip
    }

    /// Rates with the load side at `p3` Pa absolute, `water` kg and flow `w` kg/s.
    pub(super) fn rates<T: Real>(&self, rig: &Rig, p3: T, water: T, w: T) -> TubeRates<T> {
        let fluid = &rig.fluid;
        let (rho, area) = (fluid.density, self.area());
        let long = water / (rho * area);
        let least = 0.1 * self.dip;
        let length = (long + (long * long + 4.0 * least * least).sqrt()) * 0.5;
        let entering = w.at_least(0.0);
        let entry = entering * entering * ((1.0 + self.entry_loss) / (2.0 * rho * area * area));
        let steady = self.friction.loss_per_length(w);
        let omega = (T::constant(STANDARD_GRAVITY) / length).sqrt();
        let layer = w * (omega * (0.5 * fluid.viscosity)).sqrt() * (4.0 / (self.bore * area));
        let below = fluid.ambient + rho * STANDARD_GRAVITY * self.dip;
        let push = -entry - p3 - long * (rho * STANDARD_GRAVITY) - (steady + layer) * length + below;
        // At the mouth air bubbles out and no more water leaves.
        let bared = step((-long + 2.0 * least) / (2.0 * least));
        let mouth = if w.value() < 0.0 { w * (-bared + 1.0) } else { w };
        let dry = T::constant(0.0);
        let out = match p3.value() > below && bared.value() > 0.0 {
            true => rig.fluid.stream(bared * (SHARP_EDGE * area), SOFT_DP, p3, T::constant(below), dry, dry).air,
            false => dry,
        };
        let band = (0.01 * self.length).max(1e-3);
        let over = entering * step((long - (self.dip + self.length - band)) / band);
        TubeRates { water: mouth - over, flow: push * area / length, over, mouth: Stream { water: mouth, air: -out } }
    }
}

/// Effective area of a foul that lets in so much air that the vent brings zone 2 to `p2`, over that of the vent:
/// both as isentropic orifices between ambient, `p2` and `vacuum`, Pa absolute (at the same temperature).
pub fn foul_to_vent_ratio(ambient: f64, p2: f64, vacuum: f64, temperature: f64) -> f64 {
    orifice::gas(1.0, ambient, p2, temperature) / orifice::gas(1.0, p2, vacuum, temperature)
}

/// Height of the assembly above its highest outlet, m, negative below it: `siphon.rise_limit`, or what `load_side.height`
/// says once it is given.
///
/// # Errors
/// [`Error`] if a field is missing.
pub fn installed_height(settings: &Settings) -> Result<f64, Error> {
    match settings.get("load_side.height").is_some_and(|v| v.at.is_user()) {
        true => Ok(-settings.number("load_side.height")?),
        false => settings.number("siphon.rise_limit"),
    }
}

/// How long everything must be still, s; longer where the tube swings more slowly.
const DWELL: f64 = 0.5;
/// Speed below which a floating part counts as still, m/s.
const STILL: f64 = 1e-3;
/// Range of zone 2's pressure, Pa (2 mm of water); of the water in a zone, m3; of the line's water, as a share.
const QUIET: (f64, f64, f64) = (20.0, 0.02e-6, 2e-4);
/// Range of the tube's level, m, and as a share of its rise, that counts as at rest.
const LEVEL: (f64, f64) = (1e-3, 2e-3);

/// Since when all has been still, and the ranges of what must be quiet since.
#[derive(Debug, Clone, Default)]
pub struct Equilibrium {
    since: Option<f64>,
    stands: Option<super::Mode>,
    first: Vec<f64>,
    low: Vec<f64>,
    high: Vec<f64>,
}

impl Rig {
    fn quiet_values(&self, t: f64, y: &[f64]) -> Vec<f64> {
        let layout = Layout::of(self);
        let p = self.pressures(&layout, t, y);
        // What still runs down to a low outlet comes back no more: there only what passes the check counts.
        let [second, third] = match self.falls() {
            true => [layout.ledger(ledger::CHECK_BACK); 2],
            false => [layout.water(2), layout.water(3)],
        };
        let mut all = vec![p.zone[1], y[layout.water(1)], y[second], y[third]];
        all.push(if layout.cells == 1 { y[layout.line_water(0)] } else { 0.0 });
        all.push(match (&self.tube, layout.tube()) {
            (Some(tube), Some(i)) => tube.rise(&self.fluid, y[i]),
            _ => 0.0,
        });
        all
    }

    /// Whether zone 2, the parts, the line's column and the tube have come to rest.
    pub(super) fn at_equilibrium(&self, mode: &super::Mode, t: f64, y: &[f64], watch: &mut Equilibrium) -> bool {
        let layout = Layout::of(self);
        let still = |parts: &[Option<usize>]| parts.iter().flatten().all(|&x| y[x + 1].abs() < STILL);
        let inlet_still = still(&[Some(layout.inlet())]);
        // Before a shut check a line may ring for a minute and rattle the air inlet by zone 1: what that does to zone 2 counts.
        let (stands, quiet_parts) = match mode.check {
            Stand::Sealed => (super::Mode { inlet: Stand::Sealed, stem: None, ..*mode }, still(&[layout.relief()])),
            _ => (*mode, inlet_still && still(&[layout.check(), layout.relief()])),
        };
        let values = self.quiet_values(t, y);
        if !(t > self.acts_until && quiet_parts) || watch.stands != Some(stands) || watch.since.is_none() {
            watch.since = (t > self.acts_until && quiet_parts).then_some(t);
            watch.stands = Some(stands);
            (watch.low, watch.high, watch.first) = (values.clone(), values.clone(), values);
            return false;
        }
        for ((low, high), v) in watch.low.iter_mut().zip(&mut watch.high).zip(&values) {
            *low = low.min(*v);
            *high = high.max(*v);
        }
        let dwell = match (&self.tube, values.get(5)) {
            (Some(tube), Some(rise)) => {
                let length = (tube.dip + rise).max(tube.dip);
                DWELL.max(std::f64::consts::TAU * (length / STANDARD_GRAVITY).sqrt())
            }
            _ => DWELL,
        };
        if !(inlet_still && watch.since.is_some_and(|s| t - s >= dwell)) {
            return false;
        }
        let range = |i: usize| watch.high.get(i).zip(watch.low.get(i)).map_or(f64::NAN, |(h, l)| h - l);
        // A line that rings is quiet when its water stays; only what moves on counts.
        let net = |i: usize| values.get(i).zip(watch.first.get(i)).map_or(f64::NAN, |(v, f)| (v - f).abs());
        let line = match &self.feed {
            super::Feed::Line(line) => QUIET.2 * self.fluid.density * line.area() * line.length,
            _ => f64::INFINITY,
        };
        let water = QUIET.1 * self.fluid.density;
        let level = LEVEL.0 + LEVEL.1 * values.get(5).copied().unwrap_or(0.0).abs();
        // A tube that overflows has its water moving on for good.
        let quiet = range(0) < QUIET.0
            && net(1) < water.max(0.5 * range(1))
            && [2, 3].into_iter().all(|i| net(i) < water.max(0.5 * range(i)) && range(i) < 20.0 * water)
            && net(4) < line.max(0.5 * range(4))
            && range(5) < level;
        if !quiet {
            watch.since = Some(t);
            (watch.low, watch.high, watch.first) = (values.clone(), values.clone(), values);
        }
        quiet
    }
}
