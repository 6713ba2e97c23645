//! The events of a run, each with its forces and pressures.

use super::{Event, Reading};
use crate::rig::{Mode, Part, What, label_meaning};

impl Reading<'_> {
    fn event(&self, t: f64, part: Part, what: What, mode: &Mode, y: &[f64]) -> Event {
        let p = self.rig.pressures(&self.layout, t, y);
        let pa = self.rig.fluid.ambient;
        let [check, inlet] = self.rig.travels(&self.layout, y);
        let relief = self.rig.relief.as_ref().zip(self.layout.relief());
        Event {
            t_s: t,
            part,
            what,
            forces: self.forces(part, what, mode, t, y, &p),
            gauge: [p.line - pa, p.zone[0] - pa, p.zone[1] - pa, p.zone[2] - pa],
            travel_share: match (part, relief) {
                (Part::AirInlet, _) => inlet.max(0.0) / self.rig.inlet.poppet.lift,
                (Part::Relief, Some((r, i))) => y[i] / r.poppet.lift,
                _ => check.max(0.0) / self.rig.check.lift,
            },
        }
    }

    /// Events of the solver, and between them the turns of parts that went back half-way.
    pub(super) fn events(&self) -> Vec<Event> {
        let mut all: Vec<Event> = Vec::new();
        for f in &self.solution.fired {
            let (part, what) = label_meaning(f.label);
            if what == What::Closed
                && let Some(open) = all.iter().rev().find(|e| e.part == part)
                && open.what == What::StartsToOpen
                && let Some(turn) = self.turn(part, open.t_s, f.t)
            {
                all.push(turn);
            }
            all.push(self.event(f.t, part, what, &f.before, &f.y));
        }
        all.sort_by(|a, b| a.t_s.total_cmp(&b.t_s));
        all
    }

    /// Where a part that did not reach its stop between `from` and `to` was furthest open.
    fn turn(&self, part: Part, from: f64, to: f64) -> Option<Event> {
        let s = &self.solution;
        // Travel and speed of the part in a state.
        let at = |y: &[f64]| {
            let (x, v) = (self.rig.travels(&self.layout, y), self.rig.speeds(&self.layout, y));
            match (part, self.layout.relief()) {
                (Part::AirInlet, _) => (x[1], v[1]),
                (Part::Relief, Some(i)) => (y[i], y[i + 1]),
                _ => (x[0], v[0]),
            }
        };
        let mut y = self.y0.clone();
        let mut best: Option<(f64, f64, usize)> = None;
        for (step, &m) in s.steps.iter().zip(&s.step_mode) {
            if step.t1 <= from || step.t0 >= to {
                continue;
            }
            for k in 0..=8 {
                let t = step.t0 + (step.t1 - step.t0) * f64::from(k) / 8.0;
                step.at(t, &mut y);
                let travel = at(&y).0;
                if best.is_none_or(|b| travel > b.1) {
                    best = Some((t, travel, m));
                }
            }
        }
        let (t, _, m) = best?;
        // There its speed goes through zero: sharper than the flat top of the travel.
        let reach = s.steps.iter().find(|step| step.t1 >= t).map_or(0.0, |step| step.t1 - step.t0);
        let (mut low, mut high) = ((t - reach).max(from), (t + reach).min(to));
        s.at(low, &mut y);
        let rising = at(&y).1 > 0.0;
        s.at(high, &mut y);
        let t = if rising && at(&y).1 < 0.0 {
            for _ in 0..50 {
                let mid = 0.5 * (low + high);
                s.at(mid, &mut y);
                if at(&y).1 > 0.0 { low = mid } else { high = mid }
            }
            low
        } else {
            t
        };
        let mode = s.modes.get(m)?;
        s.at(t, &mut y);
        Some(self.event(t, part, What::StartsToClose, mode, &y))
    }
}
