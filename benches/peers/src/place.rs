//! Where a run stands, in the rig's own terms, and what happens there at a transition.

use poppetry::numerics::System;
use poppetry::rig::{Mode, Rig};
use std::rc::Rc;

/// As poppetry's options.
const MAX_TRANSITIONS: usize = 4_000;

/// Where a run stands.
pub struct Place {
    pub rig: Rc<Rig>,
    pub mode: Mode,
    pub t: f64,
    /// States and ledger.
    pub y: Vec<f64>,
    /// Label and time of each transition so far.
    pub fired: Vec<(usize, f64)>,
}

impl Place {
    /// At the rig's start.
    pub fn new(rig: &Rc<Rig>) -> Self {
        let (mode, y) = rig.start();
        Place { rig: rig.clone(), mode, t: 0.0, y, fired: Vec::new() }
    }

    /// The transition of a guard.
    pub fn fire(&mut self, guard: usize) {
        let change = self.rig.transition(&self.mode, self.t, &mut self.y, guard);
        self.mode = change.mode;
        if let Some(label) = change.label {
            self.fired.push((label, self.t));
        }
    }

    /// The first guard that is negative at `(t, y)` in the present mode.
    pub fn negative_guard(&self, y: &[f64], t: f64, work: &mut Vec<f64>) -> Option<usize> {
        work.resize(self.rig.guard_count(&self.mode), 1.0);
        self.rig.guards(&self.mode, t, y, work);
        work.iter().position(|g| *g < 0.0)
    }

    /// As poppetry does: transitions whose guard is negative already, in order of their index.
    pub fn settle(&mut self) -> Result<(), String> {
        let mut work = Vec::new();
        for _ in 0..32 {
            if self.fired.len() > MAX_TRANSITIONS {
                break;
            }
            match self.negative_guard(&self.y, self.t, &mut work) {
                Some(guard) => self.fire(guard),
                None => return Ok(()),
            }
        }
        Err(format!("chatter at t = {:.6} s", self.t))
    }
}
