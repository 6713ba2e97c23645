//! The forces behind an event.

use super::{Forces, Reading};
use crate::parts::FRICTION_SPEED;
use crate::rig::{Mode, Part, Pressures, StemStand, What};

impl Reading<'_> {
    pub(super) fn forces(&self, part: Part, what: What, mode: &Mode, t: f64, y: &[f64], p: &Pressures<f64>) -> Forces {
        match mode.stem {
            Some(stand) if part != Part::Relief => self.stem_forces(part, what, mode, stand, t, y, p),
            _ => self.poppet_forces(part, what, mode, t, y, p),
        }
    }

    fn poppet_forces(&self, part: Part, what: What, mode: &Mode, t: f64, y: &[f64], p: &Pressures<f64>) -> Forces {
        let rig = self.rig;
        let f = rig.flows(&self.layout, mode, t, y, p);
        let opening = matches!(what, What::StartsToOpen | What::FullyOpen);
        let way = if opening { 1.0 } else { -1.0 };
        let ([xc, xi], [vc, vi]) = (rig.travels(&self.layout, y), rig.speeds(&self.layout, y));
        let relief = rig.relief.as_ref().zip(self.layout.relief());
        let (poppet, v, pressure, flow, load) = match (part, relief) {
            (Part::AirInlet, _) => {
                let poppet = &rig.inlet.poppet;
                let load = rig.inlet_element(&self.layout, p, y, poppet.load_force(xi, way));
                (
                    poppet,
                    vi,
                    rig.inlet_pressure_force(p, xi),
                    -poppet.flow_force(&rig.fluid, f.vent.water, f.vent.air),
                    load,
                )
            }
            (Part::Relief, Some((r, i))) => {
                let gauge = p.zone[r.place.zone() - 1] - rig.fluid.ambient;
                let push = gauge * r.pressure_area(mode.relief, y[i]);
                (&r.poppet, y[i + 1], push, 0.0, r.poppet.load_force(y[i], way))
            }
            _ => {
                let push = (p.zone[0] - p.zone[1]) * rig.check.seat_area();
                let flow = rig.check.flow_force(&rig.fluid, f.check.water, f.check.air);
                (&rig.check, vc, push, flow, rig.check.load_force(xc.max(0.0), way))
            }
        };
        let stuck = if what == What::StartsToOpen { poppet.adhesion } else { 0.0 };
        // Leaving a rest, friction stands at its full value; at the end of a motion it has that of the speed.
        let friction = match what {
            What::StartsToOpen | What::StartsToClose => -way * (poppet.friction + stuck),
            _ => -poppet.friction_force(if v == 0.0 { way * FRICTION_SPEED } else { v }),
        };
        Forces { pressure, load, friction, weight: poppet.weight, flow }
    }

    /// Of a stem, which joins check and air inlet: reckoned along the travel that shuts the vent and lifts the check, then
    /// given in the direction in which `part` opens.
    #[allow(clippy::too_many_arguments)] // an instant with all that is known of it
    fn stem_forces(
        &self,
        part: Part,
        what: What,
        mode: &Mode,
        stand: StemStand,
        t: f64,
        y: &[f64],
        p: &Pressures<f64>,
    ) -> Forces {
        let rig = self.rig;
        let (check, inlet) = (&rig.check, &rig.inlet.poppet);
        let f = rig.flows(&self.layout, mode, t, y, p);
        let ([xc, xi], v) = (rig.travels(&self.layout, y), y[self.layout.inlet() + 1]);
        let opening = matches!(what, What::StartsToOpen | What::FullyOpen);
        let way = if opening == (part == Part::Check) { 1.0 } else { -1.0 };
        // The check's spring and friction count from where the stem picks it up.
        let picks_up = stand == StemStand::Held && part == Part::Check;
        let carries = picks_up || matches!(stand, StemStand::Carrying | StemStand::AtEnd);
        let of_check = |force: f64| if carries { force } else { 0.0 };
        let stuck = if picks_up { check.adhesion } else { 0.0 };
        let v = if v == 0.0 { way * FRICTION_SPEED } else { v };
        let friction = match stand.moves() {
            true => -inlet.friction_force(v) - of_check(check.friction_force(v)),
            false => -way * (inlet.friction + of_check(check.friction) + stuck),
        };
        let element = rig.inlet_element(&self.layout, p, y, inlet.load_force(xi, -way));
        let sign = if part == Part::Check { 1.0 } else { -1.0 };
        // Zero is added lest a zero be a negative one.
        let along = |force: f64| sign * force + 0.0;
        Forces {
            pressure: along((p.zone[0] - p.zone[1]) * check.seat_area() - rig.inlet_pressure_force(p, xi)),
            load: along(of_check(check.load_force(xc.max(0.0), way)) - element),
            friction: along(friction),
            weight: along(check.weight - inlet.weight),
            flow: along(
                check.flow_force(&rig.fluid, f.check.water, f.check.air)
                    + inlet.flow_force(&rig.fluid, f.vent.water, f.vent.air),
            ),
        }
    }
}
