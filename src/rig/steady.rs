//! Steady flow and standing pressures: what an assembly costs, passes and needs when nothing accelerates.
//!
//! ```text
//! check under flow   dp A + flow force(Q) = F(x),   dp = rho/2 (Q / (Cd A(x)))^2          F includes weight; no friction
//! whole assembly     shutoff 1 + check + shutoff 2, each rho/2 (Q / A_eff)^2
//! vent, outward      Q = A_eff sqrt(2 p2 / rho)       inward: isentropic air, at ambient density
//! relief             p A(x) = F(x),   Q = Cd A_curtain(x) sqrt(2 p / rho)
//! supply needed      what the critical flow costs in the line, shutoff 1 and check, over zone 2's pressure then
//! ```
//!
//! Source: equilibrium of forces and the laws of [`crate::laws::orifice`], [`crate::laws::valve`] and
//! [`crate::laws::pipe`], put together here.

use super::{Feed, Rig, SHARP_EDGE};
use crate::laws::orifice;
use crate::parts::Stand;

/// What a steady flow costs, Pa.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct Loss {
    /// Flow, m3/s.
    pub q_m3_s: f64,
    /// From before shutoff 1 to behind shutoff 2, both open.
    pub dp_pa: f64,
    /// Of the check alone.
    pub check_pa: f64,
    /// Travel of the check, m.
    pub check_travel_m: f64,
}

/// Supply that shuts the air inlet.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct SupplyNeeded {
    /// Least static pressure of the main, shutoff 1 wide open, Pa gauge.
    pub pressure_pa_gauge: f64,
    /// Least flow, m3/s; `None` where any flow does.
    pub flow_m3_s: Option<f64>,
}

impl Rig {
    fn drop_at(&self, q: f64, area: f64) -> f64 {
        0.5 * self.fluid.density * (q / area).powi(2)
    }

    /// Force along opening travel on the check, N, at travel `x` m with `dp` Pa across it, flow `q` m3/s and zone 2 at
    /// `zone2` Pa gauge; friction not counted.
    fn check_net(&self, x: f64, dp: f64, q: f64, zone2: f64) -> f64 {
        let flow = self.check.flow_force(&self.fluid, q * self.fluid.density, 0.0);
        let push = dp * self.check.seat_area() + flow;
        match &self.stem {
            None => push + self.check.static_force(x, true),
            Some(stem) => {
                let inlet = -stem.lap - x;
                push + self.check.static_force(x, true)
                    + (zone2 + dp) * self.inlet.diaphragm_area(inlet)
                    + zone2 * self.inlet.zone2_area
                    - self.inlet.poppet.static_force(inlet, false)
            }
        }
    }

    /// The loss at a steady flow `q` m3/s (above 0) with zone 2 at `zone2` Pa gauge (counts only with a stem).
    pub fn steady_loss(&self, q: f64, zone2: f64) -> Loss {
        let drop = |x: f64| self.drop_at(q, self.check.effective_area(Stand::AtStop, x, 0.0));
        let net = |x: f64| self.check_net(x, drop(x), q, zone2);
        let (mut low, mut high) = (0.0, self.check.lift);
        let x = if net(high) >= 0.0 {
            high
        } else {
            for _ in 0..80 {
                let mid = 0.5 * (low + high);
                if net(mid) > 0.0 { low = mid } else { high = mid }
            }
            high
        };
        // A sealed disc passes nothing: at the smallest lift the pressure is that which holds it there.
        let check_pa = drop(x.max(1e-9));
        let shutoffs = [&self.shutoff1, &self.shutoff2].map(|s| self.drop_at(q, s.wide_open()));
        Loss { q_m3_s: q, dp_pa: check_pa + shutoffs[0] + shutoffs[1], check_pa, check_travel_m: x }
    }

    /// Flow of water out of the wide open vent, m3/s, with zone 2 at `gauge` Pa above atmosphere.
    pub fn vent_water(&self, gauge: f64) -> f64 {
        self.vent_area() * (2.0 * gauge.max(0.0) / self.fluid.density).sqrt()
    }

    /// Air drawn in through the wide open vent, kg/s, with zone 2 at `vacuum` Pa below atmosphere.
    pub fn vent_air(&self, vacuum: f64) -> f64 {
        let pa = self.fluid.ambient;
        orifice::gas(self.vent_area(), pa, (pa - vacuum).max(0.0), self.fluid.temperature)
    }

    fn vent_area(&self) -> f64 {
        self.inlet.effective_area(Stand::AtStop, self.inlet.poppet.lift, 0.0)
    }

    /// Steady flow of water through the relief, m3/s, at `gauge` Pa in its zone, once it has opened; 0 below its reseat
    /// pressure, `None` where there is no relief.
    pub fn relief_water(&self, gauge: f64) -> Option<f64> {
        let relief = self.relief.as_ref()?;
        let lift = relief.poppet.lift;
        let net = |x: f64| relief.drive(Stand::Moving, gauge, x, 0.0);
        let x = if relief.one_shot || net(lift) >= 0.0 {
            lift
        } else {
            // The greatest travel at which it still balances: from the stop down.
            let steps = 400;
            let at = |i: i32| lift * f64::from(i) / f64::from(steps);
            let Some(i) = (0..steps).rev().find(|&i| net(at(i)) > 0.0) else { return Some(0.0) };
            let (mut low, mut high) = (at(i), at(i + 1));
            for _ in 0..60 {
                let mid = 0.5 * (low + high);
                if net(mid) > 0.0 { low = mid } else { high = mid }
            }
            low
        };
        let area = relief.poppet.effective_area(Stand::AtStop, x, 0.0);
        Some(area * (2.0 * gauge.max(0.0) / self.fluid.density).sqrt())
    }

    /// The least supply that shuts the air inlet with shutoff 1 wide open and shutoff 2 shut; `None` where nothing does or
    /// the feed is a recording.
    pub fn supply_needed(&self) -> Option<SupplyNeeded> {
        let Feed::Line(line) = &self.feed else { return None };
        let head = self.fluid.density * crate::laws::constants::STANDARD_GRAVITY * line.elevation;
        let Some((q, zone2)) = self.hardest_flow() else {
            let pressure_pa_gauge = self.statics().inlet_shut_pa_gauge? - head;
            return Some(SupplyNeeded { pressure_pa_gauge, flow_m3_s: None });
        };
        let w = q * self.fluid.density;
        let friction = line.length * line.friction.loss_per_length(w);
        let check = self.steady_loss(q, zone2).check_pa;
        let pressure = zone2 + check + self.drop_at(q, self.shutoff1.wide_open()) + friction - head;
        // A main that gives no more than its limit at free discharge loses pressure with the square of the flow.
        let share = line.flow_limit.map_or(0.0, |most| (q / most).powi(2));
        (share < 1.0).then(|| SupplyNeeded { pressure_pa_gauge: pressure / (1.0 - share), flow_m3_s: Some(q) })
    }
}

impl super::Shutoff {
    /// Effective area wide open, m2.
    pub fn wide_open(&self) -> f64 {
        crate::laws::valve::ball_effective_area(1.0) * self.bore_area + SHARP_EDGE * self.leak_area
    }
}
