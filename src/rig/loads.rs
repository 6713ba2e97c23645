//! Forces on the parts, without friction: what pressure, load, weight and lip do to check, air inlet, stem and relief.

use super::flows::{Flows, Pressures, SHARP_EDGE};
use super::layout::Layout;
use super::{AirInlet, Mode, Rig};
use crate::laws::orifice::curtain_area;
use crate::parts::{ReliefPlace, Stand};
use crate::real::{Real, through};

impl AirInlet {
    /// Area on which zone 1 presses the air inlet shut at travel `x` m, m2.
    #[inline]
    pub fn diaphragm_area<T: Real>(&self, x: T) -> T {
        x * (self.zone1_area * self.area_change / self.poppet.lift) + self.zone1_area
    }

    /// Volume that area has swept between the open stop and travel `x` m, m3.
    #[inline]
    pub(super) fn diaphragm_swept<T: Real>(&self, x: T) -> T {
        let lift = self.poppet.lift;
        let straight = -x + lift;
        if self.area_change == 0.0 {
            return straight * self.zone1_area;
        }
        (straight + (x * x * -1.0 + lift * lift) * (0.5 * self.area_change / lift)) * self.zone1_area
    }

    /// Resistance, N, of the passage to the diaphragm's chamber against a motion at `v` m/s.
    #[inline]
    pub(super) fn chamber_force<T: Real>(&self, density: f64, v: T) -> T {
        let (area, passage) = (self.zone1_area, self.chamber_passage);
        if area == 0.0 || passage == 0.0 {
            return T::constant(0.0);
        }
        let ratio = area / (SHARP_EDGE * passage);
        v * v.abs() * (0.5 * density * area * ratio * ratio)
    }
}

impl AirInlet {
    /// Share of zone 2's pressure that is lost in the vent at travel `x` m and so presses the air inlet shut: what the canopy
    /// holds back stands on its other side. Two openings in series, `Ac^2 / (Av^2 + Ac^2)`; 1 at the seat.
    #[inline]
    pub fn share_across_vent<T: Real>(&self, x: T) -> T {
        let Some(area) = self.canopy_area.filter(|_| x.value() > 0.0) else { return T::constant(1.0) };
        let [share] = through!([x], |[x]| {
            let curtain = curtain_area(self.poppet.seat_diameter, x, self.poppet.port_area);
            let ratio = curtain * (self.poppet.discharge_coefficient / (SHARP_EDGE * area));
            let square = ratio * ratio;
            [-(square / (square + 1.0)) + 1.0]
        });
        share
    }
}

impl Rig {
    /// Travels of check and air inlet, m. On a stem the check's is negative until it is picked up, and the air inlet's once
    /// it is shut and the stem goes on.
    #[inline(always)]
    pub fn travels<T: Real>(&self, layout: &Layout, y: &[T]) -> [T; 2] {
        let i = layout.inlet();
        match (layout.check(), &self.stem) {
            (Some(c), _) => [y[c], y[i]],
            (None, Some(stem)) => [y[i] - stem.pick(self), -y[i] + self.inlet.poppet.lift],
            (None, None) => [T::constant(0.0), y[i]],
        }
    }

    /// Their speeds, m/s, positive in the direction of opening.
    #[inline(always)]
    pub fn speeds<T: Real>(&self, layout: &Layout, y: &[T]) -> [T; 2] {
        let i = layout.inlet();
        match layout.check() {
            Some(c) => [y[c + 1], y[i + 1]],
            None => [y[i + 1], -y[i + 1]],
        }
    }

    /// Force along opening travel on the check, N, without friction and flow: pressure, load, weight.
    #[inline(always)]
    pub(super) fn check_drive<T: Real>(&self, p: &Pressures<T>, x: T, v: T) -> T {
        (p.zone[0] - p.zone[1]) * self.check.seat_area() + self.check.load_force(x, v) + self.check.weight
    }

    /// Force of the air inlet's loading element along opening travel, N: its `law`, what lags behind it, and the push of the
    /// pocket between the lips.
    #[inline(always)]
    pub fn inlet_element<T: Real>(&self, layout: &Layout, p: &Pressures<T>, y: &[T], law: T) -> T {
        match (&self.inlet.lip, layout.lip()) {
            (Some((relaxation, pocket)), Some(i)) => {
                let mut force = law + (p.lips[0] - self.fluid.ambient) * pocket.area;
                for (k, share) in relaxation.share.iter().enumerate() {
                    force = force + (law - y[i + 2 + k]) * *share;
                }
                force
            }
            _ => law,
        }
    }

    /// Force of the zone pressures along opening travel on the air inlet, N.
    #[inline(always)]
    pub fn inlet_pressure_force<T: Real>(&self, p: &Pressures<T>, x: T) -> T {
        let pa = self.fluid.ambient;
        let across = (p.zone[1] - pa) * self.inlet.share_across_vent(x);
        -(p.zone[0] - pa) * self.inlet.diaphragm_area(x) - across * self.inlet.zone2_area
    }

    /// Force along opening travel on the air inlet, N, without friction, flow and chamber, at travel `x` m where its load's
    /// law gives `law` N.
    #[inline(always)]
    pub(super) fn inlet_drive<T: Real>(
        &self,
        layout: &Layout,
        mode: &Mode,
        p: &Pressures<T>,
        y: &[T],
        x: T,
        law: T,
    ) -> T {
        let pa = self.fluid.ambient;
        let own = self.inlet_element(layout, p, y, law) + self.inlet.poppet.weight + self.inlet_pressure_force(p, x);
        match (&self.relief, layout.relief()) {
            // Off its seat in the stem, the relief no longer passes the pressure under it to the stem, but its spring's
            // push and its friction.
            (Some(relief), Some(i)) if relief.place == ReliefPlace::AirInletStem && mode.relief != Stand::Sealed => {
                own + relief.drive(mode.relief, p.zone[1] - pa, y[i], y[i + 1]) - relief.poppet.friction_force(y[i + 1])
            }
            _ => own,
        }
    }

    /// Force on the stem along its travel, towards shutting the vent and lifting the check, N, without friction and
    /// chamber; the check's spring not counted. `law`: force of the air inlet's load there, N.
    #[inline]
    pub(super) fn stem_drive<T: Real>(
        &self,
        layout: &Layout,
        mode: &Mode,
        p: &Pressures<T>,
        f: &Flows<T>,
        y: &[T],
        law: T,
    ) -> T {
        let [_, x] = self.travels(layout, y);
        (p.zone[0] - p.zone[1]) * self.check.seat_area() + self.check.weight
            - self.inlet_drive(layout, mode, p, y, x, law)
            + self.check.flow_force(&self.fluid, f.check.water, f.check.air)
            + self.inlet.poppet.flow_force(&self.fluid, f.vent.water, f.vent.air)
    }
}
