//! What the tester's hands do to hose, cocks and screw, and what they take when a procedure wants one that is not there.

use super::super::act::Act;
use super::super::setup::MissingCock;
use super::super::stand::{Hose, STATES};
use super::{Tester, turned};
use crate::parts::{CockKind, Instrument, Opening};
use crate::rig::{SHARP_EDGE, Tap, ledger};

impl Tester<'_> {
    /// The hose as a tester leaves it after bleeding: full of water (a tube: to its top) but for the air that stays.
    pub(super) fn fill_hose(&mut self) {
        let (n, gauge) = (self.stand.base(), &self.stand.gauge);
        let fluid = &self.stand.rig.fluid;
        let p = if gauge.instrument == Instrument::Tube { gauge.range } else { 0.0 };
        let (water, air) = gauge.zone.fill(fluid, fluid.ambient + p, gauge.trapped_air, 0.0);
        let d = n + STATES;
        // What is poured out and filled in passes the hand.
        for (state, content, into, out) in
            [(n, water, ledger::WATER_IN, ledger::WATER_OUT), (n + 1, air, ledger::AIR_IN, ledger::AIR_OUT)]
        {
            self.y[d + out] += self.y[state];
            self.y[d + into] += content;
            self.y[state] = content;
        }
        self.y[n + 2] = p;
        self.y[n + 3] = 0.0;
    }

    pub(super) fn attach(&mut self, wanted: usize) {
        let other = 3 - wanted;
        let found = [wanted, other].into_iter().find_map(|number| Some((number, self.setup.cocks[number - 1]?)));
        let Some((number, cock)) = found else {
            self.remark("There is no test cock to put the hose on.");
            self.stand.hose = None;
            self.fit_taps();
            return;
        };
        if number != wanted {
            self.remark(format!("There is no test cock {wanted}: the hose goes on test cock {number}, the only one."));
        }
        self.fill_hose();
        let opening = self.cocks[number - 1].clone();
        self.stand.hose = Some(Hose { cock: number, zone: cock.zone, area: cock.area, opening });
        self.fit_taps();
    }

    pub(super) fn cock(&mut self, number: usize, turns: Option<f64>) {
        // With the hose on a stand-in, the cock of the procedure is the one under the hose while it is being tested.
        let number = match (&self.setup.cocks[number - 1], &self.stand.hose) {
            (None, Some(hose)) if self.hose_stands_in(number) => hose.cock,
            _ => number,
        };
        let Some(cock) = self.setup.cocks[number - 1] else {
            let to = if turns == Some(0.0) { 0.0 } else { 1.0 };
            self.stand_in(number, to);
            return;
        };
        let full = if cock.kind == CockKind::Needle { 2.0 } else { 0.25 };
        let to = cock.kind.opening(turns.unwrap_or(full));
        let time = self.setup.hand.turn_time;
        self.cocks[number - 1] = turned(&self.cocks[number - 1], to, self.t, time);
        let on_hose = self.stand.hose.as_ref().is_some_and(|h| h.cock == number);
        if on_hose && to > 0.0 {
            self.passed = self.y[self.stand.base() + STATES + ledger::CHECK_FORWARD];
            self.opened_late = self.stand.rig.shutoff1.opening.at(self.t) <= 0.0;
        }
        if !on_hose && cock.zone == 2 {
            self.watch_vent(to > 0.0);
        }
        self.fit_taps();
    }

    /// Whether the last hose put on was meant for the missing cock `number`.
    fn hose_stands_in(&self, number: usize) -> bool {
        let wanted = self.procedure.acts.iter().take(self.work.marks.len()).rev().find_map(|a| match a {
            Act::Attach { cock } => Some(*cock),
            _ => None,
        });
        wanted == Some(number)
    }

    /// What is opened in place of a cock that is not there.
    fn stand_in(&mut self, number: usize, to: f64) {
        let time = self.setup.hand.turn_time;
        match self.setup.missing_cock {
            MissingCock::Screw if self.setup.screw_area > 0.0 => {
                self.remark(format!("There is no test cock {number}: the bleed screw stands for it."));
                self.screw = turned(&self.screw, to, self.t, time);
                self.watch_vent(to > 0.0);
            }
            MissingCock::OnlyCock => {
                self.remark(format!("There is no test cock {number}: the only cock is opened to air instead."));
                self.drained = turned(&self.drained, to, self.t, time);
            }
            _ => self.remark(format!("There is no test cock {number}, and nothing is opened instead.")),
        }
        self.fit_taps();
    }

    /// A screw that is not there: cock 2 vents zone 2 just as well, where there is one.
    pub(super) fn other_vent(&mut self, to: f64) {
        let on_hose = self.stand.hose.as_ref().is_some_and(|h| h.cock == 2);
        match self.setup.cocks[1] {
            Some(_) if !on_hose => {
                self.remark("There is no bleed screw: test cock 2 is opened instead.");
                self.cock(2, if to > 0.0 { None } else { Some(0.0) });
            }
            _ => self.remark("There is no bleed screw, and nothing is opened instead."),
        }
    }

    pub(super) fn watch_vent(&mut self, open: bool) {
        if open && self.vent_opened.is_none() {
            self.vent_opened = Some(self.t);
        }
    }

    /// Puts cocks and screw where they stand: the one under the hose feeds the gauge, the others run to air.
    pub(super) fn fit_taps(&mut self) {
        let mut taps = Vec::new();
        let used = |o: &Opening| o.rests_from() > 0.0 || o.at(0.0) > 0.0;
        for (i, cock) in self.setup.cocks.iter().enumerate() {
            let Some(cock) = cock else { continue };
            let opening = self.cocks[i].clone();
            match &mut self.stand.hose {
                Some(hose) if hose.cock == i + 1 => hose.opening = opening,
                _ if used(&opening) => {
                    taps.push(Tap { zone: cock.zone, area: cock.area / SHARP_EDGE, opening });
                }
                _ => {}
            }
        }
        if used(&self.screw) {
            taps.push(Tap { zone: 2, area: self.setup.screw_area, opening: self.screw.clone() });
        }
        if let (true, Some(cock)) = (used(&self.drained), self.setup.cocks.iter().flatten().next()) {
            let area = cock.area / SHARP_EDGE;
            taps.push(Tap { zone: cock.zone, area, opening: self.drained.clone() });
        }
        self.stand.rig.taps = taps;
    }
}
