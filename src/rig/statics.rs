//! Hand sums: the pressures at which parts move when everything else stands still.
//!
//! ```text
//! check lifts            p1 - p2 = (F + R) / A            settles   (F - R) / A
//! air inlet has shut     p1 A1 + p2 A2 = F + R            starts to open when it falls to F - R
//! slow fill, zone 2 at atmosphere:  p1 = (F + R) / A1; where zone 1 does not reach it at all (A1 = 0), zone 2 must
//!                        follow through the check: p1 = p_check + (F + R) / A2
//! sequence margin        M = p1(check lifts) - p1(air inlet has shut)
//! critical flow          the greatest, over the travel x, Q with  p1 A1 + p(Q) A2 s(x) + drag(Q) = F(x) + R,
//!                        p(Q) = rho/2 (Q / A_vent(x))^2,   p1 = p(Q) + what the check takes,   s(x) what the canopy leaves
//! ```
//!
//! stem                   (p1 - p2) Ac + p1 A1 + p2 A2 against the air inlet's load there, and the check's once carried;
//!                        its check shuts at p1 (Ac + A1) = F - R - p2 (A2 - Ac): least where p2 = p1 until then
//!
//! F static load (weight counted; to shut, the greatest on the way: a lip that snaps is hardest half-way), R Coulomb friction and, to leave a seat, adhesion; both at the sealed position unless
//! stated otherwise. Source: equilibrium of forces, derived here.

use super::Rig;
use crate::parts::WEAR_WIDENING;
use serde::Serialize;

/// Static pressures and what follows from them.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Statics {
    /// Zone 1 above zone 2 at which the check lifts, Pa.
    pub check_lifts_pa: f64,
    /// Zone 1 above zone 2 at which a check that shuts comes to rest, Pa; a stem's with zone 2 at atmosphere.
    pub check_settles_pa: f64,
    /// As before, with zone 2 falling along with zone 1 until the check shuts, and to atmosphere then: what pressure left in
    /// zone 2 keeps a stem's check open to, Pa. The same where there is no stem.
    pub check_settles_least_pa: f64,
    /// Zone 1 pressure at which the air inlet has shut on a slow fill, Pa gauge: with zone 2 at atmosphere where zone 1 acts
    /// on it, else with zone 2 following through the check; `None` if no pressure shuts it.
    pub inlet_shut_pa_gauge: Option<f64>,
    /// Pressure at which the air inlet starts to open as it falls: of zone 1 with zone 2 at atmosphere where zone 1
    /// acts on it, else of zone 2, Pa gauge.
    pub inlet_opens_pa_gauge: Option<f64>,
    /// Sequence margin, Pa; negative means the check lifts first. `None` if the air inlet never shuts, or where a stem
    /// makes the order a matter of travel.
    pub sequence_margin_pa: Option<f64>,
    /// Stem travel between the sealing of the vent and the lifting of the check, m: the margin of a stem.
    pub lap_margin_m: Option<f64>,
    /// Share of zone 1 on the diaphragm at which the order turns on a slow fill; `None` where there is none from 0 to 1.
    pub order_turning_share: Option<f64>,
    /// Pressure at which the relief opens, Pa gauge.
    pub relief_opens_pa_gauge: Option<f64>,
    /// Flow out of the open vent below which the air inlet never shuts, m3/s; `None` where any flow shuts it.
    pub critical_flow_m3_s: Option<f64>,
    /// Depth of check seat wear that turns the order, m; `None` if none up to the lift does.
    pub order_turning_wear_m: Option<f64>,
    /// Sealing area of the check, m2, wear counted.
    pub check_seat_area_m2: f64,
    /// Area on which the air inlet's load is stated, m2.
    pub air_inlet_stated_area_m2: f64,
}

impl Rig {
    /// Zone 1 above zone 2 at which the check lifts with the seat worn `more` m deeper than it is, Pa.
    fn check_lifts(&self, more: f64) -> f64 {
        let c = &self.check;
        let worn = crate::parts::Poppet {
            wear: c.wear + more,
            seat_diameter: c.seat_diameter + 2.0 * WEAR_WIDENING * more,
            ..c.clone()
        };
        (c.friction + c.adhesion - worn.static_force(0.0, true)) / worn.seat_area()
    }

    /// Zone 1 pressure, Pa gauge with zone 2 at atmosphere, that balances the stem with the air inlet at travel `x` m from
    /// sealed against friction (`way` +1 rising, -1 falling) and `extra` N of the check's load.
    fn stem_balance(&self, x: f64, way: f64, extra: f64) -> f64 {
        let load = self.inlet.poppet.static_force(x, way < 0.0) + extra - self.check.weight;
        let stuck = if way < 0.0 && x == 0.0 { self.inlet.poppet.adhesion } else { 0.0 };
        (load + way * (self.inlet.poppet.friction + stuck)) / self.stem_area(x)
    }

    /// Area by which zone 1 alone lifts the stem, m2.
    fn stem_area(&self, x: f64) -> f64 {
        self.inlet.diaphragm_area(x) + self.check.seat_area()
    }

    /// The hand sums for this rig.
    pub fn statics(&self) -> Statics {
        let relief_opens = self.relief.as_ref().map(|r| -r.poppet.static_force(0.0, true) / r.poppet.seat_area());
        if let Some(stem) = &self.stem {
            return self.stem_statics(stem.lap, relief_opens);
        }
        let check = &self.check;
        let inlet = &self.inlet.poppet;
        let lifts = self.check_lifts(0.0);
        let needed = inlet.hardest_closing() + inlet.friction;
        let holding = inlet.static_force(0.0, true) - inlet.friction - inlet.adhesion;
        let (a1, a2) = (self.inlet.zone1_area, self.inlet.zone2_area);
        let (shut, opens) = match (a1 > 0.0, a2 > 0.0) {
            (true, _) => (Some(needed / a1), Some(holding / a1)),
            (false, true) => (Some(lifts + needed / a2), Some(holding / a2)),
            (false, false) => (None, None),
        };
        // The share at which zone 1 at the check's lifting pressure just shuts the air inlet.
        let turning = needed / (self.inlet.stated_area * lifts);
        let settles = (-check.static_force(0.0, false) - check.friction) / check.seat_area();
        Statics {
            check_lifts_pa: lifts,
            check_settles_pa: settles,
            check_settles_least_pa: settles,
            inlet_shut_pa_gauge: shut,
            inlet_opens_pa_gauge: opens,
            sequence_margin_pa: shut.map(|s| lifts - s),
            lap_margin_m: None,
            order_turning_share: (a1 > 0.0 && (0.0..=1.0).contains(&turning)).then_some(turning),
            relief_opens_pa_gauge: relief_opens,
            critical_flow_m3_s: self.critical_flow(),
            order_turning_wear_m: self.order_turning_wear(),
            check_seat_area_m2: check.seat_area(),
            air_inlet_stated_area_m2: self.inlet.stated_area,
        }
    }

    fn stem_statics(&self, lap: f64, relief_opens: Option<f64>) -> Statics {
        let check = &self.check;
        let carried = |way: f64| -self.carried_load(0.0, way > 0.0) + way * check.friction;
        let settles = self.stem_balance(-lap, -1.0, carried(-1.0));
        let (alone, helped) = (self.stem_area(-lap), (self.inlet.zone2_area - check.seat_area()).max(0.0));
        Statics {
            check_lifts_pa: self.stem_balance(-lap, 1.0, carried(1.0) + check.adhesion),
            check_settles_pa: settles,
            check_settles_least_pa: settles * alone / (alone + helped),
            inlet_shut_pa_gauge: Some(if lap >= 0.0 {
                self.stem_balance(0.0, 1.0, 0.0)
            } else {
                let spring = -self.carried_load(-lap, true) + check.friction;
                self.stem_balance(0.0, 1.0, spring)
            }),
            inlet_opens_pa_gauge: Some(self.stem_balance(0.0, -1.0, 0.0)),
            sequence_margin_pa: None,
            lap_margin_m: Some(lap),
            order_turning_share: None,
            relief_opens_pa_gauge: relief_opens,
            critical_flow_m3_s: None,
            order_turning_wear_m: None,
            check_seat_area_m2: check.seat_area(),
            air_inlet_stated_area_m2: self.inlet.stated_area,
        }
    }

    /// Travel, m, at which an air inlet that opens without momentum comes to rest when all pressure has gone: where friction
    /// first outweighs what is left of load and weight; its lift where nothing holds it.
    pub fn inlet_rests(&self) -> f64 {
        /// Places looked at: a load curve may dip between its ends.
        const PLACES: usize = 256;
        let inlet = &self.inlet.poppet;
        let carried = if self.stem.is_some() { self.check.weight } else { 0.0 };
        let left = |x: f64| inlet.static_force(x, true) - carried - inlet.friction;
        let at = |i: usize| inlet.lift * i as f64 / PLACES as f64;
        let Some(i) = (0..=PLACES).find(|&i| !(left(at(i)) > 0.0)) else { return inlet.lift };
        let (mut low, mut high) = (at(i.saturating_sub(1)), at(i));
        for _ in 0..40 {
            let mid = 0.5 * (low + high);
            if left(mid) > 0.0 { low = mid } else { high = mid }
        }
        low
    }

    /// Flow, m3/s, out of the vent below which the air inlet does not shut; `None` where any flow shuts it.
    pub fn critical_flow(&self) -> Option<f64> {
        self.hardest_flow().map(|hardest| hardest.0)
    }

    /// The critical flow, m3/s, and the pressure of zone 2 it takes, Pa gauge, at the travel that asks most of both: where
    /// the load rises faster than the flow's push as the air inlet shuts, it hangs half-way below that.
    pub(super) fn hardest_flow(&self) -> Option<(f64, f64)> {
        // A stem is lifted by zone 1 before the check passes anything.
        if self.stem.is_some() {
            return None;
        }
        // Zone 1 stands at the check's lifting pressure before zone 2 has any, and above it by what more the check takes.
        let lifts = self.check_lifts(0.0).max(0.0);
        let first = self.hardest_travel(lifts)?;
        if self.inlet.zone1_area == 0.0 {
            return Some(first);
        }
        let least = self.steady_loss(1e-9, 0.0).check_pa;
        let more = |q: f64| (self.steady_loss(q, 0.0).check_pa - least).max(0.0);
        let (mut low, mut high) = ((0.0, 0.0), first);
        for _ in 0..8 {
            let mid = 0.5 * (low.0 + high.0);
            match self.hardest_travel(lifts + more(mid)) {
                Some(found) if found.0 > mid => low = (mid, found.1),
                found => high = (mid, found.map_or(0.0, |f| f.1)),
            }
        }
        Some(high)
    }

    /// The same with `check` Pa across the check.
    fn hardest_travel(&self, check: f64) -> Option<(f64, f64)> {
        const TRAVELS: i32 = 32;
        let (inlet, rho) = (&self.inlet.poppet, self.fluid.density);
        let by_flow = 0.5 * inlet.drag_coefficient * rho / inlet.seat_area();
        let mut hardest: Option<(f64, f64)> = None;
        for i in 1..=TRAVELS {
            let x = inlet.lift * f64::from(i) / f64::from(TRAVELS);
            let zone1 = self.inlet.diaphragm_area(x);
            let rest = inlet.static_force(x, false) + inlet.friction - zone1 * check;
            if rest > 0.0 {
                let vent = self.inlet.effective_area(crate::parts::Stand::AtStop, x, 0.0);
                // Zone 2 rises to rho/2 (Q/A)^2, zone 1 with it; the flow pushes with half its momentum flux.
                let per_square = 0.5 * rho / (vent * vent);
                let by_pressure = (zone1 + self.inlet.zone2_area * self.inlet.share_across_vent(x)) * per_square;
                let q = (rest / (by_pressure + by_flow)).sqrt();
                if hardest.is_none_or(|(most, _)| q > most) {
                    hardest = Some((q, per_square * q * q));
                }
            }
        }
        hardest
    }

    /// Depth of further check seat wear at which the sequence margin changes sign.
    fn order_turning_wear(&self) -> Option<f64> {
        let needed = self.inlet.poppet.hardest_closing() + self.inlet.poppet.friction;
        // The order turns where zone 1 at the check's lifting pressure just shuts the air inlet.
        let surplus = |more: f64| self.inlet.zone1_area * self.check_lifts(more) - needed;
        let (mut low, mut high) = (0.0, self.check.lift);
        if !(surplus(low) > 0.0 && surplus(high) < 0.0) {
            return None;
        }
        for _ in 0..60 {
            let mid = 0.5 * (low + high);
            if surplus(mid) > 0.0 { low = mid } else { high = mid }
        }
        Some(self.check.wear + high)
    }
}
