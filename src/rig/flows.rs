//! Pressures and flows at one instant: the only place where zones, parts and openings are put together.

use super::layout::Layout;
use super::stream::{Openings, SOFT_DP, SOFT_DP_WIDE, Stream};
use super::{AirInlet, Feed, Mode, Rig, Shutoff};
use crate::laws::{constants::STANDARD_GRAVITY, valve};
use crate::parts::{Pocket, ReliefPlace, Stand, contents_of_four};
use crate::real::{Real, through};

/// Air nuclei in a line cell as a share of its volume at ambient pressure, saturated: `1e-6 V (Pa - Pv)/(R T)` kg. They keep
/// a cell's pressure smooth at the vapour limit
/// (estimate; adds 1.5 % to the compliance at ambient pressure and nothing at 60 psi).
pub const LINE_NUCLEI: f64 = 1e-6;
/// Discharge coefficient of outlets, cocks, screws and leaks (sharp-edged orifice, handbook value 0.6 to 0.62).
pub const SHARP_EDGE: f64 = 0.61;

/// Pressures at one instant, Pa absolute.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pressures<T> {
    /// At the end of the line, before shutoff 1.
    pub line: T,
    /// Zones 1, 2, 3.
    pub zone: [T; 3],
    /// Liquid share of the last line cell and of zones 1 to 3.
    pub liquid: [T; 4],
    /// Share of zone 2 that is air.
    pub pocket_share: T,
    /// Pressure in the pocket between the lips (ambient where there is none), and the liquid share of it.
    pub lips: [T; 2],
}

/// Flows along the assembly at one instant, positive downstream (or outward).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Flows<T> {
    /// Through shutoff 1 into zone 1.
    pub shutoff1: Stream<T>,
    /// Through the check into zone 2.
    pub check: Stream<T>,
    /// Out of zone 2 through the air inlet.
    pub vent: Stream<T>,
    /// Through shutoff 2 into zone 3.
    pub shutoff2: Stream<T>,
    /// Out of the load side.
    pub outlet: Stream<T>,
    /// Out of the pocket between the lips through its slot.
    pub slot: Stream<T>,
}

/// Flows at one instant through the openings that most rigs do not have, positive outward.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SideFlows<T> {
    /// Out through cocks and screw, summed by what they tap: the line before shutoff 1, zones 1, 2, 3.
    pub taps: [Stream<T>; 4],
    /// Out through the relief.
    pub relief: Stream<T>,
    /// Out of zone 1 through a tear in the diaphragm, under the canopy.
    pub tear: Stream<T>,
    /// Out to the open through cracks and torn rings: from the line before shutoff 1, from zones 1 and 2.
    pub outside: [Stream<T>; 3],
}

/// Air has a discharge coefficient of its own: `ratio` times that of water.
#[inline]
fn with_air_ratio<T: Real>(s: Stream<T>, ratio: f64) -> Stream<T> {
    if ratio == 1.0 { s } else { Stream { water: s.water, air: s.air * ratio } }
}

impl Shutoff {
    /// Effective area at time `t`, m2.
    #[inline]
    pub fn effective_area<T: Real>(&self, t: T) -> T {
        valve::ball_effective_area(self.opening.at(t)) * self.bore_area + SHARP_EDGE * self.leak_area
    }
}

impl AirInlet {
    /// Effective area from zone 2 to atmosphere, m2.
    #[inline]
    pub fn effective_area<T: Real>(&self, stand: Stand, x: T, seating: T) -> T {
        let [area] = through!([x, seating], |[x, seating]| {
            let canopy = self.canopy_area.filter(|_| stand != Stand::Sealed).map(|area| SHARP_EDGE * area);
            [match canopy {
                Some(canopy) => self.poppet.effective_area_behind(canopy, stand, x, seating),
                None => self.poppet.effective_area(stand, x, seating),
            }]
        });
        area
    }

    /// Share of the vent's area that water takes when air makes up `pocket_share` of zone 2.
    #[inline]
    pub fn water_share<T: Real>(&self, pocket_share: T) -> T {
        let [share] = through!([pocket_share], |[pocket_share]| {
            let s = (-(pocket_share / self.spill_band) + 1.0).at_least(0.0).at_most(1.0);
            [s * s * (s * -2.0 + 3.0)]
        });
        share
    }
}

impl Rig {
    /// Volume by which each zone has grown through the position of the parts, m3.
    #[inline(always)]
    pub(super) fn displaced<T: Real>(&self, check: T, inlet: T) -> [T; 2] {
        // A stem carries the check's disc with it from the start.
        let closing = -inlet + self.inlet.poppet.lift;
        let swept = if self.stem.is_some() { closing } else { check } * self.check.seat_area();
        [swept + self.inlet.diaphragm_swept(inlet), closing * self.inlet.zone2_area - swept]
    }

    /// Volume the tube's column has taken from the load side, m3, negative.
    #[inline(always)]
    pub(super) fn tube_displaced<T: Real>(&self, layout: &Layout, y: &[T]) -> T {
        match (&self.tube, layout.tube()) {
            (Some(tube), Some(i)) => -tube.rise(&self.fluid, y[i]) * tube.area(),
            _ => T::constant(0.0),
        }
    }

    /// Pressures from the state. Where it is called the compiler leaves out those that are not asked for.
    #[inline(always)]
    pub fn pressures<T: Real>(&self, layout: &Layout, t: T, y: &[T]) -> Pressures<T> {
        let [xc, xi] = self.travels(layout, y);
        let [first, second] = self.displaced(xc, xi);
        let third = self.tube_displaced(layout, y);
        let zero = T::constant(0.0);
        // The line's end and the three zones, side by side.
        let (cell, line_water, line_air) = match &self.feed {
            Feed::Line(line) => {
                (line.cell_of(layout.cells), &y[layout.line_water(layout.cells - 1)], &y[layout.line_air()])
            }
            Feed::Wave(end) => (end.cell, &y[0], &y[1]),
            // Its pressure is known; the place stays empty.
            Feed::Recorded(_) | Feed::Vessel(_) => (self.zones[0], &zero, &zero),
        };
        let [z1, z2, z3] = &self.zones;
        let water = [line_water, &y[layout.water(1)], &y[layout.water(2)], &y[layout.water(3)]];
        let air = [line_air, &y[layout.air(1)], &y[layout.air(2)], &y[layout.air(3)]];
        let displaced = [&zero, &first, &second, &third];
        let [c, z1, z2, z3] = contents_of_four([&cell, z1, z2, z3], &self.fluid, [water, air, displaced]);
        let (line, line_liquid) = match &self.feed {
            Feed::Line(_) | Feed::Wave(_) => (c.pressure, c.liquid_share),
            Feed::Recorded(curve) => (curve.value(t) + self.fluid.ambient, T::constant(1.0)),
            Feed::Vessel(curve) => (curve.value(t) + self.fluid.ambient, zero),
        };
        let lips = match (&self.inlet.lip, layout.lip()) {
            (Some((_, pocket)), Some(i)) => {
                let c = pocket.zone.contents(&self.fluid, y[i], y[i + 1], xi.at_least(0.0) * pocket.area);
                [c.pressure, c.liquid_share]
            }
            _ => [T::constant(self.fluid.ambient), T::constant(0.0)],
        };
        Pressures {
            lips,
            line,
            zone: [z1.pressure, z2.pressure, z3.pressure],
            liquid: [line_liquid, z1.liquid_share, z2.liquid_share, z3.liquid_share],
            pocket_share: -z2.liquid_share + 1.0,
        }
    }

    /// Pressure, Pa, with which the part is pressed on its seat when sealed.
    #[inline(always)]
    fn seating<T: Real>(&self, layout: &Layout, mode: &Mode, y: &[T], p: &Pressures<T>) -> [T; 2] {
        let zero = T::constant(0.0);
        if self.stem.is_some() {
            // Its seals slide: nothing presses them.
            return [zero, zero];
        }
        let check = if mode.check == Stand::Sealed && self.check.leak_area > 0.0 {
            -self.check_drive(p, zero, zero) / self.check.seat_area()
        } else {
            zero
        };
        let inlet = if mode.inlet == Stand::Sealed && self.inlet.poppet.leak_area > 0.0 {
            let law = self.inlet.poppet.load_force(zero, zero);
            -self.inlet_drive(layout, mode, p, y, zero, law) / self.inlet.poppet.seat_area()
        } else {
            zero
        };
        [check, inlet]
    }

    /// Flow out through the air inlet's effective `area`.
    #[inline(always)]
    fn vent_flow<T: Real>(&self, mode: &Mode, p: &Pressures<T>, area: T) -> Stream<T> {
        if area.value() <= 0.0 {
            return Stream::none();
        }
        let share = self.inlet.water_share(p.pocket_share);
        let pa = T::constant(self.fluid.ambient);
        let s = self.fluid.stream(area, SOFT_DP, p.zone[1], pa, share, T::constant(0.0));
        with_air_ratio(s, self.inlet.poppet.air_ratio[usize::from(mode.inlet != Stand::Sealed)])
    }

    /// The check's air has a discharge coefficient of its own.
    #[inline(always)]
    fn check_flow<T: Real>(&self, mode: &Mode, s: Stream<T>) -> Stream<T> {
        with_air_ratio(s, self.check.air_ratio[usize::from(mode.check != Stand::Sealed)])
    }

    /// Force of the flow through the check along its opening travel, N.
    pub(super) fn check_flow_force(&self, layout: &Layout, mode: &Mode, y: &[f64], p: &Pressures<f64>) -> f64 {
        let area =
            self.check.effective_area(mode.check, self.travels(layout, y)[0], self.seating(layout, mode, y, p)[0]);
        let s = self.fluid.stream(area, SOFT_DP, p.zone[0], p.zone[1], p.liquid[1], p.liquid[2]);
        let s = self.check_flow(mode, s);
        self.check.flow_force(&self.fluid, s.water, s.air)
    }

    /// Force of the flow out through the air inlet, along that flow, N.
    pub(super) fn vent_flow_force(&self, layout: &Layout, mode: &Mode, y: &[f64], p: &Pressures<f64>) -> f64 {
        let seating = self.seating(layout, mode, y, p)[1];
        let area = self.inlet.effective_area(mode.inlet, self.travels(layout, y)[1], seating);
        let s = self.vent_flow(mode, p, area);
        self.inlet.poppet.flow_force(&self.fluid, s.water, s.air)
    }

    /// Flows along the assembly, from the state. Built where they are needed: with derivatives they are a kilobyte.
    #[inline(always)]
    pub fn flows<T: Real>(&self, layout: &Layout, mode: &Mode, t: T, y: &[T], p: &Pressures<T>) -> Flows<T> {
        let seating = self.seating(layout, mode, y, p);
        let [xc, xi] = self.travels(layout, y);
        let check_area = self.check.effective_area(mode.check, xc, seating[0]);
        let vent_area = self.inlet.effective_area(mode.inlet, xi, seating[1]);
        let ([z1, z2, z3], [l0, l1, l2, l3]) = (&p.zone, &p.liquid);
        let head = self.fluid.density * STANDARD_GRAVITY * self.outlet.1;
        let (back, beyond) = match self.beyond_outlet {
            // Water that stands beyond the outlet comes back as water, and stands in the riser whatever the piping holds.
            Some(gauge) => (T::constant(gauge + head + self.fluid.ambient), T::constant(1.0)),
            // A rising pipe holds as much as it is filled.
            None => (*l3 * head + self.fluid.ambient, T::constant(0.0)),
        };
        let (shutoff1_area, shutoff2_area) = (self.shutoff1.effective_area(t), self.shutoff2.effective_area(t));
        let outlet_area = T::constant(self.outlet.0);
        let [shutoff1, check, mut shutoff2, mut outlet] = self.fluid.four_streams(&Openings {
            area: [&shutoff1_area, &check_area, &shutoff2_area, &outlet_area],
            soft: [SOFT_DP_WIDE, SOFT_DP, SOFT_DP_WIDE, SOFT_DP],
            from: [&p.line, z1, z2, z3],
            to: [z1, z2, z3, &back],
            liquid_from: [l0, l1, l2, l3],
            liquid_to: [l1, l2, l3, &beyond],
        });
        if self.falls() {
            [shutoff2, outlet] = self.falling_streams(shutoff2_area, p);
        }
        let check = self.check_flow(mode, check);
        let [vent, slot] = match &self.inlet.lip {
            Some((_, pocket)) => self.vent_and_slot_flows(mode, p, vent_area, pocket),
            None => [self.vent_flow(mode, p, vent_area), Stream::none()],
        };
        Flows { shutoff1, check, vent, shutoff2, outlet, slot }
    }

    /// Out of zone 2 through the air inlet's effective `area`, as [`Rig::vent_flow`] has it, and out of the pocket between
    /// the lips, side by side.
    #[inline(always)]
    fn vent_and_slot_flows<T: Real>(&self, mode: &Mode, p: &Pressures<T>, area: T, pocket: &Pocket) -> [Stream<T>; 2] {
        let share = self.inlet.water_share(p.pocket_share);
        let (slot, pa, dry) = (T::constant(pocket.slot), T::constant(self.fluid.ambient), T::constant(0.0));
        let [vent, slot, _, _] = self.fluid.four_streams(&Openings {
            area: [&area, &slot, &slot, &slot],
            soft: [SOFT_DP; 4],
            from: [&p.zone[1], &p.lips[0], &p.lips[0], &p.lips[0]],
            to: [&pa; 4],
            liquid_from: [&share, &p.lips[1], &p.lips[1], &p.lips[1]],
            liquid_to: [&dry; 4],
        });
        [with_air_ratio(vent, self.inlet.poppet.air_ratio[usize::from(mode.inlet != Stand::Sealed)]), slot]
    }

    /// Flows through the side openings, from the state; `None` where there are none.
    #[inline]
    pub fn side_flows<T: Real>(
        &self,
        layout: &Layout,
        mode: &Mode,
        t: T,
        y: &[T],
        p: &Pressures<T>,
    ) -> Option<SideFlows<T>> {
        let tight = self.inlet.tear_area == 0.0 && self.outside_leak == [0.0; 3];
        if tight && self.taps.is_empty() && self.relief.is_none() {
            return None;
        }
        Some(self.flows_aside(layout, mode, t, y, p))
    }

    fn flows_aside<T: Real>(&self, layout: &Layout, mode: &Mode, t: T, y: &[T], p: &Pressures<T>) -> SideFlows<T> {
        let (pa, dry) = (T::constant(self.fluid.ambient), T::constant(0.0));
        let [z1, z2, _] = p.zone;
        let [line_liquid, l1, l2, _] = p.liquid;
        let mut taps = [Stream::none(); 4];
        for tap in &self.taps {
            let k = tap.zone.min(3);
            let area = tap.opening.at(t) * (SHARP_EDGE * tap.area);
            let from = if k == 0 { p.line } else { p.zone[k - 1] };
            let s = self.fluid.stream(area, SOFT_DP, from, pa, p.liquid[k], dry);
            taps[k] = Stream { water: taps[k].water + s.water, air: taps[k].air + s.air };
        }
        let relief = match (&self.relief, layout.relief()) {
            (Some(relief), Some(i)) => {
                let k = relief.place.zone();
                let seating = -relief.drive(mode.relief, p.zone[k - 1] - self.fluid.ambient, dry, dry)
                    / relief.poppet.seat_area();
                // No gap at touch: a weep of a micrometre would keep it simmering where a real one pops.
                let stand = if mode.relief == Stand::Sealed { Stand::Sealed } else { Stand::AtStop };
                let area = relief.poppet.effective_area(stand, y[i].at_least(0.0), seating);
                let share = match relief.place {
                    ReliefPlace::AirInletStem => self.inlet.water_share(p.pocket_share),
                    _ => p.liquid[k],
                };
                self.fluid.stream(area, SOFT_DP, p.zone[k - 1], pa, share, dry)
            }
            _ => Stream::none(),
        };
        let hole = |area: f64, from: T, phi: T| match area > 0.0 {
            true => self.fluid.stream(T::constant(SHARP_EDGE * area), SOFT_DP, from, pa, phi, dry),
            false => Stream::none(),
        };
        let tear = hole(self.inlet.tear_area, z1, l1);
        let [c0, c1, c2] = self.outside_leak;
        let outside = [hole(c0, p.line, line_liquid), hole(c1, z1, l1), hole(c2, z2, l2)];
        SideFlows { taps, relief, tear, outside }
    }
}
