//! Modes of the two moving parts: when they change, and when all of them rest.

use super::Rig;
use super::layout::{Layout, Part, ledger};
use crate::numerics::Transition;
use crate::parts::{Poppet, Stand};

/// Where check and air inlet stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Mode {
    /// The check.
    pub check: Stand,
    /// The air inlet.
    pub inlet: Stand,
    /// The check has been open and is shut again.
    pub check_has_closed: bool,
}

/// What a part does at an event.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum What {
    /// Leaves its seat.
    StartsToOpen,
    /// Reaches its stop.
    FullyOpen,
    /// Leaves its stop, or turns back on the way.
    StartsToClose,
    /// Reaches its seat.
    Closed,
}

impl What {
    /// As printed in JSON and text.
    pub fn name(self) -> &'static str {
        match self {
            What::StartsToOpen => "starts-to-open",
            What::FullyOpen => "fully-open",
            What::StartsToClose => "starts-to-close",
            What::Closed => "closed",
        }
    }
}

const PARTS: [Part; 2] = [Part::Check, Part::AirInlet];
const WHATS: [What; 4] = [What::StartsToOpen, What::FullyOpen, What::StartsToClose, What::Closed];

/// Part and event behind a label of the solver.
pub(crate) fn label_meaning(label: usize) -> (Part, What) {
    (PARTS[(label / 4) % 2], WHATS[label % 4])
}

fn label(part: usize, what: What) -> usize {
    4 * part + WHATS.iter().position(|w| *w == what).unwrap_or(0)
}

fn guards_of(stand: Stand) -> usize {
    if stand == Stand::Moving { 2 } else { 1 }
}

impl Mode {
    pub(super) fn guard_count(&self) -> usize {
        guards_of(self.check) + guards_of(self.inlet)
    }
}

/// Guards of one part: positive while its stand is valid.
fn part_guards(poppet: &Poppet, stand: Stand, drive: f64, x: f64, out: &mut [f64]) {
    match stand {
        // Opening forces beat friction and adhesion.
        Stand::Sealed => out[0] = poppet.friction + poppet.adhesion - drive,
        Stand::Moving => {
            out[0] = x;
            out[1] = poppet.lift - x;
        }
        // Closing forces beat friction.
        Stand::AtStop => out[0] = poppet.friction + drive,
    }
}

impl Rig {
    /// Forces along opening travel without friction, N: (check, air inlet), flow counted.
    pub(super) fn drives(&self, mode: &Mode, t: f64, y: &[f64]) -> [f64; 2] {
        let layout = Layout::of(self);
        let p = self.pressures(&layout, t, y);
        let f = self.flows(&layout, mode, t, y, &p);
        let (c, i) = (layout.check(), layout.inlet());
        // A part that rests is judged on the branch of the motion it would start.
        let way = |stand: Stand, v: f64| match stand {
            Stand::Sealed => 1.0,
            Stand::AtStop => -1.0,
            Stand::Moving => v,
        };
        [
            self.check_drive(&p, y[c], way(mode.check, y[c + 1]))
                + self.check.flow_force(&self.fluid, f.check.water, f.check.air),
            self.inlet_drive(&p, y[i], way(mode.inlet, y[i + 1]))
                - self.inlet.poppet.flow_force(&self.fluid, f.vent.water, f.vent.air),
        ]
    }

    pub(super) fn mode_guards(&self, mode: &Mode, t: f64, y: &[f64], out: &mut [f64]) {
        let layout = Layout::of(self);
        let drives =
            if mode.check == Stand::Moving && mode.inlet == Stand::Moving { [0.0; 2] } else { self.drives(mode, t, y) };
        let (first, second) = out.split_at_mut(guards_of(mode.check));
        part_guards(&self.check, mode.check, drives[0], y[layout.check()], first);
        part_guards(&self.inlet.poppet, mode.inlet, drives[1], y[layout.inlet()], second);
    }

    pub(super) fn mode_transition(&self, mode: &Mode, y: &mut [f64], fired: usize) -> Transition<Mode> {
        let layout = Layout::of(self);
        let split = guards_of(mode.check);
        let (part, guard) = if fired < split { (0, fired) } else { (1, fired - split) };
        let (poppet, x, stand) = if part == 0 {
            (&self.check, layout.check(), mode.check)
        } else {
            (&self.inlet.poppet, layout.inlet(), mode.inlet)
        };
        let (next, what) = match (stand, guard) {
            (Stand::Sealed, _) => (Stand::Moving, What::StartsToOpen),
            (Stand::AtStop, _) => (Stand::Moving, What::StartsToClose),
            (Stand::Moving, 0) => (Stand::Sealed, What::Closed),
            (Stand::Moving, _) => (Stand::AtStop, What::FullyOpen),
        };
        // Elastomer on metal: the blow is swallowed.
        y[x + 1] = 0.0;
        match next {
            Stand::Sealed => y[x] = 0.0,
            Stand::AtStop => y[x] = poppet.lift,
            // It leaves from where it stood, to the last bit: an interpolant rounded past the stop would be a new event.
            Stand::Moving => y[x] = if stand == Stand::AtStop { poppet.lift } else { 0.0 },
        }
        let mut after = *mode;
        if part == 0 {
            after.check = next;
            after.check_has_closed |= next == Stand::Sealed;
        } else {
            after.inlet = next;
        }
        Transition { mode: after, label: Some(label(part, what)) }
    }
}

/// How long all parts must be still before a run ends, s: three or more swings of a 20 m line.
const DWELL: f64 = 0.3;
/// Speed below which a floating part counts as still, m/s.
const STILL: f64 = 1e-3;
/// Change of the water in a zone over the dwell below which it counts as steady, m3.
const STEADY: f64 = 0.05e-6;

/// Watches for rest: since when all parts have been still, and what the zones have done since.
#[derive(Debug, Clone, Default)]
pub struct RestWatch {
    since: Option<f64>,
    stands: Option<Mode>,
    /// First, lowest and highest water mass of zones 1 and 2 since then, kg.
    water: [[f64; 3]; 2],
}

impl Rig {
    pub(super) fn at_rest(&self, mode: &Mode, t: f64, y: &[f64], watch: &mut RestWatch) -> bool {
        if self.stop_at_check_closed && mode.check_has_closed {
            return true;
        }
        if !self.stop_at_rest {
            return false;
        }
        let layout = Layout::of(self);
        let acts_over = self
            .taps
            .iter()
            .map(|tap| &tap.opening)
            .chain([&self.shutoff1.opening, &self.shutoff2.opening])
            .all(|o| o.next_knot(t) == f64::INFINITY);
        let still = [layout.check(), layout.inlet()].iter().all(|&x| y[x + 1].abs() < STILL);
        if !acts_over || !still || watch.stands.is_some_and(|m| m != *mode) || watch.since.is_none() {
            watch.since = (acts_over && still).then_some(t);
            watch.stands = Some(*mode);
            watch.water = [1, 2].map(|k| [y[layout.water(k)]; 3]);
            return false;
        }
        for (k, w) in watch.water.iter_mut().enumerate() {
            let now = y[layout.water(k + 1)];
            w[1] = w[1].min(now);
            w[2] = w[2].max(now);
        }
        if !watch.since.is_some_and(|s| t - s >= DWELL) {
            return false;
        }
        // Steady, or swinging about a mean; a zone that only fills is waiting for something.
        let limit = STEADY * self.fluid.density;
        let quiet = watch.water.iter().enumerate().all(|(k, w)| {
            let (range, net) = (w[2] - w[1], (y[layout.water(k + 1)] - w[0]).abs());
            range < limit || net < 0.5 * range
        });
        if !quiet {
            watch.since = Some(t);
            watch.water = [1, 2].map(|k| [y[layout.water(k)]; 3]);
        }
        quiet
    }

    /// Whether water is leaving through the air inlet at `(t, y)`, and how fast, m3/s.
    pub fn spill_rate(&self, mode: &Mode, t: f64, y: &[f64]) -> f64 {
        let layout = Layout::of(self);
        let p = self.pressures(&layout, t, y);
        self.flows(&layout, mode, t, y, &p).vent.water.max(0.0) / self.fluid.density
    }

    /// Water, m3, that has left through the air inlet according to the ledger in `y`.
    pub fn spilled(&self, y: &[f64]) -> f64 {
        y[Layout::of(self).ledger(ledger::SPILLED)] / self.fluid.density
    }
}
