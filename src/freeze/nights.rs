//! Nights in a row: each thaws to the water's first temperature, loses or takes in what it must, and freezes again.
//!
//! The day between is not followed in time: all is liquid again at the temperature at which the first night began. A zone
//! whose vent opens takes in air up to the atmosphere; a zone that cannot breathe is left with its void. A weeping shutoff 1
//! fills both zones up to their first pressures, with the air purged or kept.

use super::body::{Body, ZoneStart, lasting};
use super::night::{Night, night};
use super::table;
use super::wall::Wall;
use crate::laws::constants::AIR_GAS_CONSTANT;
use crate::numerics::Failure;

/// What happens between two nights.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Refill {
    /// Shutoff 1 is tight.
    Tight,
    /// Shutoff 1 weeps, and the air is let out.
    Purged,
    /// Shutoff 1 weeps, the air stays and is compressed.
    AirKept,
}

/// One of many nights.
#[derive(Debug, Clone)]
pub struct OneNight {
    /// The body that night (its relief's set may have drifted).
    pub body: Body,
    /// The night.
    pub night: Night,
    /// How each zone started.
    pub starts: Vec<ZoneStart>,
    /// Air in each zone at the start, m³ at ambient pressure and the fill temperature.
    pub air_at_start: Vec<f64>,
    /// Whether the vent stood open at the start.
    pub open_at_start: bool,
}

/// Runs `count` nights of `duration` s; `drift` is the relative change of the relief's set from one night to the next.
///
/// # Errors
/// [`Failure`] of the first night that cannot be completed.
pub fn nights(
    body: &Body,
    first: &[ZoneStart],
    duration: f64,
    count: usize,
    refill: Refill,
    drift: f64,
    tolerance: f64,
) -> Result<Vec<OneNight>, Failure> {
    let mut all: Vec<OneNight> = Vec::with_capacity(count);
    let mut body = body.clone();
    let mut starts = first.to_vec();
    for k in 0..count {
        if let Some(before) = all.last() {
            starts = after_thaw(&body, before, first, refill);
            if let Some(relief) = body.relief.as_mut() {
                relief.set *= 1.0 + drift;
            }
        }
        let without_pressure = body.vent_open(&starts);
        if without_pressure {
            open(&body, &mut starts);
        }
        let mut tonight = body.clone();
        let open_at_start = without_pressure && !body.vent.is_some_and(|v| v.reseats);
        if without_pressure && !open_at_start {
            tonight.vent = None;
        }
        let air_at_start = starts.iter().map(|s| s.air * AIR_GAS_CONSTANT * s.t / body.ambient).collect();
        let night = night(&tonight, &starts, duration, tolerance).map_err(|e| in_night(e, k, count))?;
        all.push(OneNight { body: tonight, night, starts: starts.clone(), air_at_start, open_at_start });
    }
    Ok(all)
}

fn in_night(failure: Failure, k: usize, count: usize) -> Failure {
    match failure {
        Failure::LeftRange { t_s, what } if count > 1 => {
            Failure::LeftRange { t_s, what: format!("night {}: {what}", k + 1) }
        }
        other => other,
    }
}

/// Pressure, Pa absolute, of liquid zones: `mass` kg of water and `air` kg of air at `t` K in a wall: the volume balance, by bisection on
/// its logarithm.
pub fn pressure(wall: &Wall, mass: f64, air: f64, t: f64, lasting: f64) -> f64 {
    let excess =
        |p: f64| mass * table::liquid(t, p).v + air * AIR_GAS_CONSTANT * t / p - wall.volume_at(t, p) - lasting;
    let (mut low, mut high) = (1e-2f64, 2e8f64);
    if !(excess(high) < 0.0) {
        return high;
    }
    for _ in 0..100 {
        let mid = (low * high).sqrt();
        if excess(mid) > 0.0 { low = mid } else { high = mid }
    }
    (low * high).sqrt()
}

fn after_thaw(body: &Body, before: &OneNight, first: &[ZoneStart], refill: Refill) -> Vec<ZoneStart> {
    let last = before.night.samples.last();
    let thawed = body.zones.iter().enumerate().zip(first).map(|((i, zone), start)| {
        let stretch = before.night.stretch_at_end(body, i);
        let air = before.starts.get(i).map_or(start.air, |s| s.air);
        let mass = last.and_then(|s| s.zones.get(i)).map_or(f64::NAN, |z| z.mass);
        // What an open zone overflowed by has left it.
        let room =
            (zone.wall.volume_at(start.t, body.ambient) + lasting(stretch)) / table::liquid(start.t, body.ambient).v;
        let open = last.and_then(|s| s.zones.get(i)).is_some_and(|z| z.open);
        let mass = if open { mass.min(room) } else { mass };
        let p = pressure(&zone.wall, mass, air, start.t, lasting(stretch));
        ZoneStart { t: start.t, p, air, stretch }
    });
    let mut starts: Vec<ZoneStart> = thawed.collect();
    if body.vent_open(&starts) {
        open(body, &mut starts);
    }
    if refill != Refill::Tight {
        for (start, first) in starts.iter_mut().zip(first) {
            let air = if refill == Refill::Purged { first.air } else { start.air.max(first.air) };
            *start = ZoneStart { p: first.p, air, ..*start };
        }
    }
    starts
}

/// Opens the vented zone to the atmosphere: air fills what water does not.
fn open(body: &Body, starts: &mut [ZoneStart]) {
    let Some(i) = body.vent.map(|v| v.zone) else { return };
    let water = starts.get(i).map(|s| body.water_at(i, s));
    let (Some(start), Some(zone), Some(water)) = (starts.get_mut(i), body.zones.get(i), water) else { return };
    let room = zone.wall.volume_at(start.t, body.ambient) + lasting(start.stretch);
    let pocket = (room - water * table::liquid(start.t, body.ambient).v).max(0.0);
    start.p = body.ambient;
    start.air = Body::air_mass(pocket, start.t, body.ambient);
}

impl Body {
    /// Whether the air inlet stands open at these pressures.
    pub fn vent_open(&self, starts: &[ZoneStart]) -> bool {
        let Some(vent) = self.vent else { return false };
        let force: f64 = starts.iter().zip(vent.area).map(|(s, a)| a * (s.p - self.ambient)).sum();
        !(force >= vent.holding)
    }
}
