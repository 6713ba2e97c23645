//! What a run leaves behind: steps with their interpolant, transitions, counts, and why it ended.

/// A transition that took place.
#[derive(Debug, Clone, PartialEq)]
pub struct Fired<M> {
    /// When.
    pub t: f64,
    /// The system's label.
    pub label: usize,
    /// Mode before.
    pub before: M,
    /// State and ledger at that moment, before any jump.
    pub y: Vec<f64>,
}

/// Why an integration ended in good order.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reason {
    /// The end of the span was reached.
    End,
    /// [`super::System::enough`] said so.
    Asked,
    /// More transitions than allowed: a part opens and shuts without end.
    Chatter,
}

/// Why an integration could not go on.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum Failure {
    /// An option or a start with which no run means anything.
    #[error("{what} is {value}\n  rule: {what} must be {rule}")]
    Meaningless {
        /// The option, or what of the start.
        what: &'static str,
        /// Its value, SI.
        value: f64,
        /// What it must be.
        rule: &'static str,
    },
    /// The step fell below what the clock can resolve.
    #[error("the time step fell below {h_s:.1e} s at t = {t_s:.6} s; the variable that resisted is {variable}")]
    StepTooSmall {
        /// When, s.
        t_s: f64,
        /// Last step tried, s.
        h_s: f64,
        /// Name of the state with the largest error.
        variable: String,
    },
    /// The step budget is used up.
    #[error("{steps} steps were not enough; the run stands at t = {t_s:.6} s")]
    TooManySteps {
        /// When, s.
        t_s: f64,
        /// Steps attempted.
        steps: usize,
    },
    /// A state left the range in which the laws hold.
    #[error("{what} at t = {t_s:.1} s")]
    LeftRange {
        /// When, s.
        t_s: f64,
        /// What left which range.
        what: String,
    },
    /// Waves were asked of a rig whose feed is not a line.
    #[error("no supply line feeds the rig, and waves run in one")]
    NoLine,
    /// A rate is not finite at the start or after a transition.
    #[error("{variable} is not finite at t = {t_s:.6} s")]
    NotFinite {
        /// When, s.
        t_s: f64,
        /// Name of the first such variable.
        variable: String,
    },
}

/// Counts of work done.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Stats {
    /// Accepted steps.
    pub steps: usize,
    /// Rejected steps.
    pub rejected: usize,
    /// Evaluations of the rates (without those inside Jacobians).
    pub rhs_evaluations: usize,
    /// Jacobians.
    pub jacobians: usize,
    /// Transitions.
    pub transitions: usize,
}

/// One accepted step with its interpolant `y0 + s (y1 - y0 + (1-s) (c3 + s c4))`, `s = (t - t0) / h`.
#[derive(Debug, Clone)]
pub struct Step {
    /// Start of the step, s.
    pub t0: f64,
    /// Length over which the interpolant is defined, s.
    pub h: f64,
    /// End of the part that counts (an event may cut the step short), s.
    pub t1: f64,
    /// Number of states and ledger entries.
    n: usize,
    /// `y0, y1, c3, c4` one behind the other.
    data: Vec<f64>,
}

impl Step {
    /// Room for a step of `n` states and ledger entries.
    pub(super) fn room(n: usize) -> Self {
        Step { t0: 0.0, h: 0.0, t1: 0.0, n, data: vec![0.0; 4 * n] }
    }

    /// The parts `y0, y1, c3, c4` of a step of length `h` from `t0`, to be filled in.
    pub(super) fn begin(&mut self, t0: f64, h: f64) -> [&mut [f64]; 4] {
        (self.t0, self.h, self.t1) = (t0, h, t0 + h);
        self.parts_mut()
    }

    /// The parts `y0, y1, c3, c4`.
    pub(super) fn parts_mut(&mut self) -> [&mut [f64]; 4] {
        let (y0, rest) = self.data.split_at_mut(self.n);
        let (y1, rest) = rest.split_at_mut(self.n);
        let (c3, c4) = rest.split_at_mut(self.n);
        [y0, y1, c3, c4]
    }

    /// State and ledger at the end of the whole step.
    pub(super) fn end(&self) -> &[f64] {
        &self.data[self.n..2 * self.n]
    }

    /// State and ledger at time `t` inside the step; as many as `out` has room for.
    pub fn at(&self, t: f64, out: &mut [f64]) {
        let s = (t - self.t0) / self.h;
        let (y0, rest) = self.data.split_at(self.n);
        let (y1, rest) = rest.split_at(self.n);
        let (c3, c4) = rest.split_at(self.n);
        for ((((o, y0), y1), c3), c4) in out.iter_mut().zip(y0).zip(y1).zip(c3).zip(c4) {
            // What does not change keeps its value to the last bit.
            *o = y0 + s * ((y1 - y0) + (1.0 - s) * (c3 + s * c4));
        }
    }
}

/// What a run leaves behind.
#[derive(Debug, Clone)]
pub struct Solution<M> {
    /// Accepted steps in order of time (empty if [`super::Options::keep_steps`] is off).
    pub steps: Vec<Step>,
    /// For each step the mode that held during it, as an index into `modes`.
    pub step_mode: Vec<usize>,
    /// Modes in order of appearance.
    pub modes: Vec<M>,
    /// Transitions in order of time.
    pub fired: Vec<Fired<M>>,
    /// End time, s.
    pub t_end: f64,
    /// State and ledger at the end.
    pub y_end: Vec<f64>,
    /// Mode at the end.
    pub mode_end: M,
    /// Why it ended.
    pub reason: Reason,
    /// Work done.
    pub stats: Stats,
}

impl<M> Solution<M> {
    /// State and ledger at time `t` (clamped to the run), as many as `out` has room for, with the index of the mode that
    /// held.
    pub fn at(&self, t: f64, out: &mut [f64]) -> usize {
        let k = self.steps.partition_point(|s| s.t1 < t).min(self.steps.len().saturating_sub(1));
        match self.steps.get(k) {
            Some(step) => {
                step.at(t.clamp(step.t0, step.t1), out);
                self.step_mode.get(k).copied().unwrap_or(0)
            }
            None => {
                out.iter_mut().zip(&self.y_end).for_each(|(o, y)| *o = *y);
                self.modes.len().saturating_sub(1)
            }
        }
    }
}
