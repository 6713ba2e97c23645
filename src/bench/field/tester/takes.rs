//! What the tester reads, and what the readings leave behind.

use super::super::act::{Moment, Part};
use super::super::log::{Happening, Point, Take};
use super::super::stand::{STATES, Until};
use super::Tester;
use crate::numerics::Failure;
use crate::parts::{FRICTION_SPEED, Stand};
use crate::rig::{Layout, Part as RigPart, What, ledger};

impl Tester<'_> {
    pub(super) fn read(&mut self, index: usize, part: Part, at: Moment) -> Result<(), Failure> {
        let now = (self.t, self.y.clone(), self.mode);
        let opened = |h: &&Happening| h.part == RigPart::AirInlet && h.what == What::StartsToOpen;
        let since = self.last_read;
        let happening = match at {
            Moment::Opening => {
                // The last one: a weak supply may have let it flutter while the hose went on.
                let fresh = self.work.happenings.iter().filter(opened).rfind(|h| h.t_s >= since);
                // One that stands open already opened before: then that is what there is to tell.
                let earlier = || self.work.happenings.iter().rfind(opened);
                let open = self.mode.rig.inlet != Stand::Sealed;
                fresh.or_else(|| if open { earlier() } else { None }).cloned()
            }
            Moment::Held => None,
        };
        let (moment, stand) = match (&happening, at) {
            (Some(h), _) => (Some((h.t_s, h.y.clone(), h.mode)), self.stand.clone()),
            (None, Moment::Held) => (Some(now.clone()), self.stand.clone()),
            (None, Moment::Opening) => (None, self.stand.clone()),
        };
        let read = match &moment {
            // It opened before this step: all there is to read is where the needle stands now.
            Some((t, ..)) if at == Moment::Opening && *t < since => now,
            // The eye is late: the test runs on meanwhile, as it stands.
            Some((t, ..)) if at == Moment::Opening && self.setup.hand.eye_delay > 0.0 => {
                let late = t + self.setup.hand.eye_delay;
                if late > self.t {
                    self.advance(index, late - self.t, Until::default())?;
                }
                (self.t, self.y.clone(), self.mode)
            }
            Some(moment) => moment.clone(),
            None => now,
        };
        let steady = self.steady;
        let late = moment.as_ref().is_some_and(|m| m.0 >= since) && self.setup.hand.eye_delay > 0.0;
        let passed = self.y[self.stand.base() + STATES + ledger::CHECK_FORWARD];
        let (crept_up_pa, held_before_pa) = (self.crept_up(), self.held_before());
        self.work.takes.push(Take {
            part,
            at,
            stand,
            moment,
            happening,
            read,
            steady,
            late,
            stood_open: self.stood_open,
            passed_before: self.passed,
            crept_up_pa,
            held_before_pa,
            opened_late: self.opened_late,
        });
        (self.last_read, self.passed) = (self.t, passed);
        Ok(())
    }

    /// How far zone 1 has risen from its lowest since shutoff 1 was shut, Pa.
    fn crept_up(&self) -> f64 {
        let since = self.work.trace.iter().filter(|p| p.t_s >= self.shut_at).map(|p| p.zone1_pa_gauge);
        let lowest = since.fold(f64::INFINITY, f64::min);
        self.work.trace.last().map_or(0.0, |now| (now.zone1_pa_gauge - lowest).max(0.0))
    }

    /// What the check held when it last shut, Pa, if zone 1 has been bled to less since.
    fn held_before(&self) -> Option<f64> {
        /// Least fall, Pa (0.1 psi), and least water, m3 (a fiftieth of a drop), that tell.
        const FELL: f64 = 689.0;
        const BLED: f64 = 1e-9;
        let shut = self.work.happenings.iter().rfind(|h| h.part == RigPart::Check && h.what == What::Closed)?;
        let p = self.stand.rig.pressures(&Layout::of(&self.stand.rig), shut.t_s, &shut.y);
        let (held, now) = (p.zone[0] - p.zone[1], self.work.trace.last()?);
        let since: Vec<&Point> = self.work.trace.iter().filter(|p| p.t_s >= shut.t_s).collect();
        let bled: f64 = since.windows(2).map(|w| w[0].bleed_m3_s * (w[1].t_s - w[0].t_s)).sum();
        (bled > BLED && now.zone1_pa_gauge - now.zone2_pa_gauge < held - FELL).then_some(held)
    }

    /// A held part creeps at up to ten times the speed at which friction is fully developed; what is faster really moves.
    pub(super) fn notice_carried(&mut self, y: &[f64]) {
        let (rig, layout) = (&self.stand.rig, Layout::of(&self.stand.rig));
        if rig.speeds(&layout, y)[1] > 10.0 * FRICTION_SPEED {
            self.carried = self.carried.max(rig.travels(&layout, y)[1]);
        }
    }

    /// How far the air inlet opens by its forces, m.
    pub(super) fn reaches(&self) -> f64 {
        self.rests.max(self.carried)
    }

    pub(super) fn notice_vent(&mut self, point: &Point) {
        /// Zone 2 counts as at atmosphere within this, Pa (0.02 psi).
        const AT_ATMOSPHERE: f64 = 138.0;
        /// A needle that falls from the end of its scale has come within a hundredth of a psi in so many lags.
        const FOLLOWS: f64 = 7.5;
        if let Some(opened) = self.vent_opened
            && self.work.vented_s.is_none()
            && point.zone2_pa_gauge.abs() < AT_ATMOSPHERE
        {
            self.work.vented_s = Some(point.t_s - opened);
        }
        if let (Some(opened), Some(vented), None) = (self.vent_opened, self.work.vented_s, self.work.settled_pa)
            && point.t_s > opened + vented + FOLLOWS * self.stand.gauge.lag
        {
            self.work.settled_pa = Some(point.needle_pa);
        }
    }

    pub(super) fn finish(&mut self) {
        let air_inlet = |what: What| move |h: &&Happening| h.part == RigPart::AirInlet && h.what == what;
        let opened = self.work.happenings.iter().find(air_inlet(What::StartsToOpen));
        if let Some(opened) = opened
            && let Some(full) =
                self.work.happenings.iter().filter(|h| h.t_s >= opened.t_s).find(air_inlet(What::FullyOpen))
        {
            let meanwhile: Vec<&Point> =
                self.work.trace.iter().filter(|p| p.t_s >= opened.t_s && p.t_s <= full.t_s).collect();
            let bled = |w: &[&Point]| match w {
                [a, b] => 0.5 * (a.bleed_m3_s + b.bleed_m3_s) * (b.t_s - a.t_s),
                _ => 0.0,
            };
            let volume = meanwhile.windows(2).map(bled).sum();
            self.work.lifted = Some((volume, full.t_s - opened.t_s));
        }
        self.work.end = self.y.clone();
        self.work.stand = self.stand.clone();
    }
}
