//! Modes of the two moving parts: when they change, and when all of them rest.

use super::Rig;
use super::layout::{Layout, Part, ledger};
use super::stem::StemStand;
use crate::numerics::Transition;
use crate::parts::{Poppet, Stand};

/// Where the parts stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Mode {
    /// The check.
    pub check: Stand,
    /// The air inlet.
    pub inlet: Stand,
    /// The relief (sealed where there is none).
    pub relief: Stand,
    /// The stem, where there is one; check and air inlet then stand as it lets them.
    pub stem: Option<StemStand>,
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

const PARTS: [Part; 3] = [Part::Check, Part::AirInlet, Part::Relief];
const WHATS: [What; 4] = [What::StartsToOpen, What::FullyOpen, What::StartsToClose, What::Closed];

/// Part and event behind a label of the solver.
pub(crate) fn label_meaning(label: usize) -> (Part, What) {
    (PARTS[(label / 4) % 3], WHATS[label % 4])
}

fn label(part: Part, what: What) -> usize {
    4 * PARTS.iter().position(|p| *p == part).unwrap_or(0) + WHATS.iter().position(|w| *w == what).unwrap_or(0)
}

fn guards_of(stand: Stand) -> usize {
    if stand == Stand::Moving { 2 } else { 1 }
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

/// A part that rests is judged on the branch of the motion it would start.
fn way(stand: Stand, v: f64) -> f64 {
    match stand {
        Stand::Sealed => 1.0,
        Stand::AtStop => -1.0,
        Stand::Moving => v,
    }
}

impl Rig {
    pub(super) fn mode_guard_count(&self, mode: &Mode) -> usize {
        self.own_guards(mode) + if self.relief.is_some() { guards_of(mode.relief) } else { 0 }
    }

    /// Guards of check and air inlet, or of the stem.
    fn own_guards(&self, mode: &Mode) -> usize {
        match mode.stem {
            Some(stand) => stand.guard_count(),
            None => guards_of(mode.check) + guards_of(mode.inlet),
        }
    }

    /// Forces along opening travel without friction, N: (check, air inlet), flow counted; 0 for a part that moves.
    fn drives(&self, mode: &Mode, t: f64, y: &[f64]) -> [f64; 2] {
        if mode.check == Stand::Moving && mode.inlet == Stand::Moving {
            return [0.0; 2];
        }
        let layout = Layout::of(self);
        let p = self.pressures(&layout, t, y);
        let [xc, xi] = self.travels(&layout, y);
        let check = match mode.check {
            Stand::Moving => 0.0,
            stand => self.check_drive(&p, xc, way(stand, 0.0)) + self.check_flow_force(&layout, mode, y, &p),
        };
        let inlet = match mode.inlet {
            Stand::Moving => 0.0,
            stand => {
                let law = self.inlet.poppet.load_force(xi, way(stand, 0.0));
                self.inlet_drive(&layout, mode, &p, y, xi, law) - self.vent_flow_force(&layout, mode, y, &p)
            }
        };
        [check, inlet]
    }

    pub(super) fn mode_guards(&self, mode: &Mode, t: f64, y: &[f64], out: &mut [f64]) {
        let layout = Layout::of(self);
        let (own, relief) = out.split_at_mut(self.own_guards(mode));
        match (&self.stem, mode.stem) {
            (Some(stem), Some(stand)) => self.stem_guards(stem, stand, mode, t, y, own),
            _ => {
                let drives = self.drives(mode, t, y);
                let [xc, xi] = self.travels(&layout, y);
                let (first, second) = own.split_at_mut(guards_of(mode.check));
                part_guards(&self.check, mode.check, drives[0], xc, first);
                part_guards(&self.inlet.poppet, mode.inlet, drives[1], xi, second);
            }
        }
        if let (Some(part), Some(i)) = (&self.relief, layout.relief()) {
            if part.one_shot && mode.relief == Stand::AtStop {
                relief[0] = 1.0;
                return;
            }
            let zone = part.place.zone();
            let gauge = match mode.relief {
                Stand::Moving => 0.0,
                _ => self.pressures(&layout, t, y).zone[zone - 1] - self.fluid.ambient,
            };
            let drive = part.drive(mode.relief, gauge, y[i], way(mode.relief, y[i + 1]));
            part_guards(&part.poppet, mode.relief, drive, y[i], relief);
        }
    }

    pub(super) fn mode_transition(&self, mode: &Mode, y: &mut [f64], fired: usize) -> Transition<Mode> {
        let layout = Layout::of(self);
        let own = self.own_guards(mode);
        let split = guards_of(mode.check);
        let mut after = *mode;
        let told = match (&self.stem, mode.stem, layout.relief()) {
            (_, _, Some(i)) if fired >= own => {
                let lift = self.relief.as_ref().map_or(0.0, |r| r.poppet.lift);
                let (next, what) = step(mode.relief, fired - own, lift, i, y);
                // Blown out, it stays where it is.
                after.relief = match &self.relief {
                    Some(r) if r.one_shot && mode.relief == Stand::Sealed => {
                        y[i] = r.poppet.lift;
                        Stand::AtStop
                    }
                    _ => next,
                };
                Some((Part::Relief, what))
            }
            (Some(stem), Some(stand), _) => {
                let (next, told) = self.stem_transition(stem, stand, mode, y, fired);
                after = next;
                told
            }
            _ => match layout.check() {
                Some(c) if fired < split => {
                    let (next, what) = step(mode.check, fired, self.check.lift, c, y);
                    after.check = next;
                    after.check_has_closed |= next == Stand::Sealed;
                    Some((Part::Check, what))
                }
                _ => {
                    let lift = self.inlet.poppet.lift;
                    let (next, what) = step(mode.inlet, fired - split, lift, layout.inlet(), y);
                    after.inlet = next;
                    Some((Part::AirInlet, what))
                }
            },
        };
        Transition { mode: after, label: told.map(|(part, what)| label(part, what)) }
    }
}

/// A part between seat and stop (travel at `y[x]`, speed behind it) when its guard `guard` turns negative.
fn step(stand: Stand, guard: usize, lift: f64, x: usize, y: &mut [f64]) -> (Stand, What) {
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
        Stand::AtStop => y[x] = lift,
        // It leaves from where it stood, to the last bit: an interpolant rounded past the stop would be a new event.
        Stand::Moving => y[x] = if stand == Stand::AtStop { lift } else { 0.0 },
    }
    (next, what)
}

/// How long all parts must be still before a run ends, s: three or more swings of a 20 m line.
const DWELL: f64 = 0.3;
/// Speed below which a floating part counts as still, m/s.
const STILL: f64 = 1e-3;
/// Change of the water in a zone over the dwell below which it counts as steady, m3.
const STEADY: f64 = 0.05e-6;

/// The same for the load side, m3: less than any filling, more than what its walls and air take while a line speeds up.
const STEADY_LOAD_SIDE: f64 = 1e-6;

/// Change of a flow over the dwell below which it counts as steady, as a share of it: a line that starts up with a time
/// constant of 2 s is then within a third of a per cent of its end.
const STEADY_SHARE: f64 = 5e-4;

/// Watches for rest: since when all parts have been still, and what zones and flows have done since.
#[derive(Debug, Clone, Default)]
pub struct RestWatch {
    since: Option<f64>,
    stands: Option<Mode>,
    /// First, lowest and highest of the water in zones 1 to 3, kg, and of spill and inflow, kg/s, since then.
    seen: [[f64; 3]; 5],
    equilibrium: super::siphon::Equilibrium,
}

impl Rig {
    pub(super) fn at_rest(&self, mode: &Mode, t: f64, y: &[f64], watch: &mut RestWatch) -> bool {
        if self.stop_at_check_closed && mode.check_has_closed {
            return true;
        }
        if self.stop_at_equilibrium {
            return self.at_equilibrium(mode, t, y, &mut watch.equilibrium);
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
        let still = [layout.check(), Some(layout.inlet()), layout.relief()]
            .into_iter()
            .flatten()
            .all(|x| y[x + 1].abs() < STILL);
        if !acts_over || !still || watch.stands.is_some_and(|m| m != *mode) || watch.since.is_none() {
            watch.since = (acts_over && still).then_some(t);
            watch.stands = Some(*mode);
            watch.seen = self.watched(&layout, mode, t, y).map(|now| [now; 3]);
            return false;
        }
        let now = self.watched(&layout, mode, t, y);
        for (w, now) in watch.seen.iter_mut().zip(now) {
            w[1] = w[1].min(now);
            w[2] = w[2].max(now);
        }
        if !watch.since.is_some_and(|s| t - s >= DWELL) {
            return false;
        }
        // Steady, or swinging about a mean; a zone that only fills is waiting for something.
        let share = |flow: f64| STEADY_SHARE * flow.abs();
        let [water, load_side] = [STEADY, STEADY_LOAD_SIDE].map(|volume| volume * self.fluid.density);
        let limits = [water, water, load_side, share(now[3]), share(now[4])];
        let quiet = watch.seen.iter().zip(now).zip(limits).all(|((w, now), limit)| {
            let (range, net) = (w[2] - w[1], (now - w[0]).abs());
            range <= limit || net < 0.5 * range
        });
        if !quiet {
            watch.since = Some(t);
            watch.seen = now.map(|now| [now; 3]);
        }
        quiet
    }

    /// What must be steady for a run to end: the water in zones 1, 2 and 3, kg (a load side that has filled stops the line's
    /// water); and where more than a dribble leaves through the air inlet, that and the flow into zone 1, kg/s.
    fn watched(&self, layout: &Layout, mode: &Mode, t: f64, y: &[f64]) -> [f64; 5] {
        let [first, second, third] = [1, 2, 3].map(|k| y[layout.water(k)]);
        if mode.inlet == Stand::Sealed {
            return [first, second, third, 0.0, 0.0];
        }
        let p = self.pressures(layout, t, y);
        let f = self.flows(layout, mode, t, y, &p);
        let spills = f.vent.water * DWELL > STEADY * self.fluid.density;
        let [spill, inflow] = if spills { [f.vent.water, f.shutoff1.water] } else { [0.0; 2] };
        [first, second, third, spill, inflow]
    }

    /// Water, m3, that has left through the air inlet according to the ledger in `y`.
    pub fn spilled(&self, y: &[f64]) -> f64 {
        y[Layout::of(self).ledger(ledger::SPILLED)] / self.fluid.density
    }
}
