//! One stem with lost motion: it seals the vent in the first part of its stroke and lifts the check in the last.
//!
//! ```text
//! s = 0          open stop: the vent wide open            (air inlet at its stop, check sealed)
//! s = s_vent     the vent's seal slides into its bore     (air inlet closed; nothing stops the stem)
//! s = s_pick     = s_vent + lap: the stem meets the check, whose spring is compressed by its preload
//! s = s_end      = s_pick + lift of the check             (check fully open)
//! ```
//!
//! Until it is met the check's spring acts on the check's own seat; from there on the stem carries it. A preloaded spring is
//! a stop with give: below its preload the stem stands still against it. So the stem has five stands: at its open stop,
//! free, held at the check, carrying it, at its end. It is brought to rest where it meets the check, in either direction
//! (rubber on metal), and at both ends.
//!
//! With `lap <= 0` the check is lifted before the vent is sealed: the crossing of `s_vent` then falls into the last stage.

use super::Rig;
use super::flows::Pressures;
use super::layout::{Layout, Part};
use super::modes::{Mode, What};
use crate::parts::Stand;
use crate::real::Real;

/// The stem of an assembly.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stem {
    /// Travel between the sealing of the vent and the lifting of the check, m; negative: the check is lifted first.
    pub lap: f64,
}

/// Where the stem stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum StemStand {
    /// At its stop, the vent wide open.
    AtStop,
    /// Between the open stop and the check.
    Free,
    /// At rest against the check, which is still on its seat.
    Held,
    /// Carrying the check.
    Carrying,
    /// At its end, the check wide open.
    AtEnd,
}

impl Stem {
    /// Stem travel at which it meets the check, m.
    pub fn pick(&self, rig: &Rig) -> f64 {
        rig.inlet.poppet.lift + self.lap
    }

    /// Full stroke of the stem, m.
    pub fn stroke(&self, rig: &Rig) -> f64 {
        self.pick(rig) + rig.check.lift
    }
}

impl StemStand {
    /// Whether it moves.
    pub fn moves(self) -> bool {
        matches!(self, StemStand::Free | StemStand::Carrying)
    }

    pub(super) fn guard_count(self) -> usize {
        match self {
            StemStand::AtStop | StemStand::AtEnd => 1,
            StemStand::Held => 2,
            StemStand::Free | StemStand::Carrying => 3,
        }
    }
}

impl Rig {
    /// Friction of the stem, N: the air inlet's, and the check's while it is carried.
    pub(super) fn stem_friction(&self, stand: StemStand) -> f64 {
        let own = self.inlet.poppet.friction;
        if matches!(stand, StemStand::Carrying | StemStand::AtEnd) { own + self.check.friction } else { own }
    }

    /// Force of the check's spring on the stem that carries it, N, at check travel `x`; weight not counted.
    pub(super) fn carried_load(&self, x: f64, opening: bool) -> f64 {
        self.check.load_force(x, if opening { 1.0 } else { -1.0 })
    }

    pub(super) fn stem_guards(&self, stem: &Stem, stand: StemStand, mode: &Mode, t: f64, y: &[f64], out: &mut [f64]) {
        let layout = Layout::of(self);
        let s = y[layout.inlet()];
        let friction = self.stem_friction(stand);
        // Positive while the vent is on the side of its seal that the mode says.
        let crossing = || {
            let open = self.inlet.poppet.lift - s;
            if mode.inlet == Stand::Sealed { -open } else { open }
        };
        match stand {
            StemStand::AtStop => out[0] = friction - self.stem_force(mode, t, y, 1.0),
            StemStand::Free => {
                out[0] = s;
                out[1] = stem.pick(self) - s;
                out[2] = crossing();
            }
            StemStand::Held => {
                // Picked up, the check adds its friction and what glues it to its seat.
                let hold = friction + self.check.friction + self.check.adhesion - self.carried_load(0.0, true);
                out[0] = hold - self.stem_force(mode, t, y, 1.0);
                out[1] = friction + self.stem_force(mode, t, y, -1.0);
            }
            StemStand::Carrying => {
                out[0] = s - stem.pick(self);
                out[1] = stem.stroke(self) - s;
                out[2] = crossing();
            }
            StemStand::AtEnd => {
                out[0] = friction + self.stem_force(mode, t, y, -1.0) + self.carried_load(self.check.lift, false);
            }
        }
    }

    /// Force that lifts the check of a stem held at it, N, the check's spring taken off and flows left out.
    pub(crate) fn held_drive<T: Real>(&self, mode: &Mode, p: &Pressures<T>, y: &[T]) -> T {
        let layout = Layout::of(self);
        let x = self.travels(&layout, y)[1];
        let law = self.inlet.poppet.load_force(x, T::constant(-1.0));
        let up = (p.zone[0] - p.zone[1]) * self.check.seat_area() + self.check.weight
            - self.inlet_drive(&layout, mode, p, y, x, law);
        up + self.carried_load(0.0, true)
    }

    /// Whether the stem holds its check wide open with `gauge` Pa on both sides of it and no flow.
    pub(super) fn stem_holds_check_open(&self, stem: &Stem, gauge: f64) -> bool {
        let up = self.check.weight + gauge * (self.inlet.zone1_area + self.inlet.zone2_area);
        let travel = -(stem.lap + self.check.lift);
        up + self.carried_load(self.check.lift, false) > self.inlet.poppet.static_force(travel, true)
    }

    /// Force on a stem at rest that would start to move with the sign `way`, N, the check's spring not counted.
    fn stem_force(&self, mode: &Mode, t: f64, y: &[f64], way: f64) -> f64 {
        let layout = Layout::of(self);
        let p = self.pressures(&layout, t, y);
        let f = self.flows(&layout, mode, t, y, &p);
        let law = self.inlet.poppet.load_force(self.travels(&layout, y)[1], -way);
        self.stem_drive(&layout, mode, &p, &f, y, law)
    }

    /// What the stem does when its guard `fired` turns negative: the mode after it, and what is told of it.
    pub(super) fn stem_transition(
        &self,
        stem: &Stem,
        stand: StemStand,
        mode: &Mode,
        y: &mut [f64],
        fired: usize,
    ) -> (Mode, Option<(Part, What)>) {
        let i = Layout::of(self).inlet();
        let (pick, vent) = (stem.pick(self), self.inlet.poppet.lift);
        let mut after = *mode;
        // A stem that stops stands exactly where it stops, and one that leaves does so from there.
        let rest = |y: &mut [f64], s: f64| (y[i], y[i + 1]) = (s, 0.0);
        let told = match (stand, fired) {
            (StemStand::AtStop, _) => {
                rest(y, 0.0);
                (after.stem, after.inlet) = (Some(StemStand::Free), Stand::Moving);
                Some((Part::AirInlet, What::StartsToClose))
            }
            (StemStand::Free, 0) => {
                rest(y, 0.0);
                (after.stem, after.inlet) = (Some(StemStand::AtStop), Stand::AtStop);
                Some((Part::AirInlet, What::FullyOpen))
            }
            (StemStand::Free, 1) => {
                rest(y, pick);
                after.stem = Some(StemStand::Held);
                None
            }
            (StemStand::Held, 0) => {
                rest(y, pick);
                (after.stem, after.check) = (Some(StemStand::Carrying), Stand::Moving);
                Some((Part::Check, What::StartsToOpen))
            }
            (StemStand::Held, _) => {
                rest(y, pick);
                after.stem = Some(StemStand::Free);
                None
            }
            (StemStand::Carrying, 0) => {
                rest(y, pick);
                (after.stem, after.check) = (Some(StemStand::Held), Stand::Sealed);
                after.check_has_closed = true;
                Some((Part::Check, What::Closed))
            }
            (StemStand::Carrying, 1) => {
                rest(y, stem.stroke(self));
                (after.stem, after.check) = (Some(StemStand::AtEnd), Stand::AtStop);
                Some((Part::Check, What::FullyOpen))
            }
            (StemStand::AtEnd, _) => {
                rest(y, stem.stroke(self));
                (after.stem, after.check) = (Some(StemStand::Carrying), Stand::Moving);
                Some((Part::Check, What::StartsToClose))
            }
            // The vent's seal is crossed: the stem goes on.
            (StemStand::Free | StemStand::Carrying, _) => {
                y[i] = vent;
                let shut = mode.inlet != Stand::Sealed;
                after.inlet = if shut { Stand::Sealed } else { Stand::Moving };
                Some((Part::AirInlet, if shut { What::Closed } else { What::StartsToOpen }))
            }
        };
        (after, told)
    }
}
