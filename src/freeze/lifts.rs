//! Lifts of a relief that is held at its set: how many there would be, and what each lets out.

use super::body::{Body, Lifts};
use super::modes::{Mode, ReliefMode};
use super::night::NightSample;
use super::zone::{self, Contents, Phase};

/// Lifts listed one by one at most.
const MOST_LIFTS: usize = 10_000;

/// Counts lifts along a run in which the relief holds its set: each lift lets out what zone and water give between set and
/// reseat while the ice stays as it is, then the ice comes to equilibrium again and the pressure rises back to the set.
#[derive(Default)]
pub(super) struct Lifter {
    pub count: f64,
    pub times: Vec<f64>,
    last: Option<(f64, f64)>,
    /// Lifts per kilogram at the sample before.
    per_kg: Option<f64>,
}

impl Lifter {
    pub fn add(&mut self, time: f64) {
        self.count += 1.0;
        if self.times.len() < MOST_LIFTS {
            self.times.push(time);
        }
    }

    pub fn pass(&mut self, body: &Body, mode: &Mode, y: &[f64], now: &NightSample) {
        let out = now.relieved[0];
        let before = self.last.replace((now.time, out));
        let (Some((t0, out0)), Some(relief), Lifts::Held) = (before, body.relief, body.lifts) else { return };
        let open = mode.relief == ReliefMode::Open && !relief.one_shot;
        let now_per_kg = open.then(|| lift_mass(body, mode, y)).flatten().map(|m| 1.0 / m);
        let was_per_kg = std::mem::replace(&mut self.per_kg, now_per_kg);
        let Some(now_per_kg) = now_per_kg.filter(|_| out > out0) else { return };
        let from = self.count;
        self.count += (out - out0) * 0.5 * (now_per_kg + was_per_kg.unwrap_or(now_per_kg));
        let mut k = from.floor() + if from == 0.0 && self.times.is_empty() { 0.0 } else { 1.0 };
        while k <= self.count && self.times.len() < MOST_LIFTS {
            let share = if self.count > from { (k - from) / (self.count - from) } else { 0.0 };
            self.times.push(t0 + share * (now.time - t0));
            k += 1.0;
        }
    }
}

/// Water, kg, that one lift lets out: what the relief's zone gives from opening to reseat with its ice held, and what the
/// other gives likewise while the check stands open towards it.
pub fn lift_mass(body: &Body, mode: &Mode, y: &[f64]) -> Option<f64> {
    let relief = body.relief?;
    // A drop frozen in the outlet raises the opening, not the reseat.
    let drop = mode.opens_at - relief.reseat_ratio * relief.set;
    let own = given(body, mode, y, relief.zone, drop)?;
    let flows_in = relief.zone == 1 || body.check.is_some_and(|c| c.stem.is_some());
    let other = (flows_in && mode.check_open).then(|| given(body, mode, y, 1 - relief.zone, drop)).flatten();
    Some(own + other.unwrap_or(0.0)).filter(|out| *out > 0.0)
}

/// Water, kg, that a zone gives when its pressure falls by `drop` Pa while its ice stays as it is, by Newton's method to a
/// thousandth of the drop: rubber gives the more the lower the pressure.
fn given(body: &Body, mode: &Mode, y: &[f64], i: usize, drop: f64) -> Option<f64> {
    let (zone, m) = (body.zones.get(i)?, mode.zones.get(i)?);
    let point = body.point(mode, y, i)?;
    if !(point.liquid.v > 0.0) {
        return None;
    }
    let phase = if m.phase == Phase::Liquid { Phase::Liquid } else { Phase::Growing(0.0) };
    let energy = *y.get(3 * i)?;
    let (mut out, mut near) = (0.0, [point.t, point.p]);
    for _ in 0..12 {
        let contents =
            Contents { energy: energy - out * point.liquid.h, mass: point.mass - out, ice: point.ice, air: m.air };
        let there = zone::solve(&zone.wall, phase, m.stretch, &contents, near);
        near = [there.t, there.p];
        let left = there.p - (point.p - drop);
        if left.abs() < 1e-3 * drop {
            return Some(out);
        }
        out += left / (there.slopes[1][1] + there.slopes[1][0] * point.liquid.h);
    }
    None
}
