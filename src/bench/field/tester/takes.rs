//! What the tester reads, and what the readings leave behind.

use super::super::act::{Moment, Part};
use super::super::log::{Happening, Point, Take};
use super::super::stand::{STATES, Until};
use super::Tester;
use crate::numerics::Failure;
use crate::parts::Stand;
use crate::rig::{Part as RigPart, What, ledger};

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
        });
        (self.last_read, self.passed) = (self.t, passed);
        Ok(())
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
