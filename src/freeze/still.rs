//! A shut body whose water stays liquid while it cools or warms: the pressures of zones joined through the check.
//!
//! ```text
//! m_z v(T,p_z) + m_a,z R T/p_z = V_z(T,p_z)          each zone for itself while the check is shut
//! m_1 + m_2 = kept,   p_1 = p_2 + load               once zone 1 lifts it: it passes water one way
//! m_1 + m_2 = kept,   p_1 = p_2                      once a stem has lifted: both ways
//! ```

use super::body::{Body, ZoneStart, lasting};
use super::nights::pressure;

/// Temperatures at which the body is looked at on its way.
const STATIONS: u32 = 40;

/// Lowest and highest pressure, Pa gauge, of the zones that are closed, on the way to `to` K, all liquid and without a relief.
pub fn liquid_range(body: &Body, starts: &[ZoneStart], to: f64) -> (f64, f64) {
    let open = body.vent_open(starts) && !body.vent.is_some_and(|v| v.reseats);
    let mut joined = body.joined_at(starts);
    let mut masses: Vec<f64> = starts.iter().enumerate().map(|(i, s)| body.water_at(i, s)).collect();
    let mut range = (f64::INFINITY, f64::NEG_INFINITY);
    for k in 0..=STATIONS {
        let warmed = |s: &ZoneStart| s.t + (to - s.t) * f64::from(k) / f64::from(STATIONS);
        let mut now: Vec<ZoneStart> = starts.iter().map(|s| ZoneStart { t: warmed(s), ..*s }).collect();
        for ((zone, s), mass) in body.zones.iter().zip(&mut now).zip(&masses) {
            s.p = pressure(&zone.wall, *mass, s.air, s.t, lasting(s.stretch));
        }
        if let (true, Some(vented)) = (open, body.vent.and_then(|v| now.get_mut(v.zone))) {
            vented.p = body.ambient;
        }
        if let (Some(check), [one, two]) = (body.check, &mut now[..]) {
            let lifts = check.wants(one.p, two.p, body.ambient) < 0.0;
            joined |= lifts && check.stem.is_some() && !open;
            let load = if joined { 0.0 } else { check.load };
            if open {
                one.p = one.p.min(two.p + check.load);
            } else if lifts || joined {
                let kept: f64 = masses.iter().sum();
                let held = |p: f64| {
                    let at = |s: &ZoneStart, p: f64| ZoneStart { p, ..*s };
                    body.water_at(0, &at(one, p + load)) + body.water_at(1, &at(two, p))
                };
                let (mut low, mut high) = (two.p.min(one.p - load).max(1.0), two.p.max(one.p - load).max(1.0));
                for _ in 0..60 {
                    let mid = 0.5 * (low + high);
                    if held(mid) < kept { low = mid } else { high = mid }
                }
                (one.p, two.p) = (high + load, high);
            }
            masses = now.iter().enumerate().map(|(i, s)| body.water_at(i, s)).collect();
        }
        for (i, s) in now.iter().enumerate() {
            if !(open && body.vent.is_some_and(|v| v.zone == i)) {
                range = (range.0.min(s.p - body.ambient), range.1.max(s.p - body.ambient));
            }
        }
    }
    range
}
