//! Finds the first guard that turns negative inside a step, on the step's interpolant.

use super::solution::Step;
use super::system::System;

/// The outcome of a search.
pub(super) enum Found {
    /// Every guard stays positive.
    Nothing,
    /// Guard `guard` turns negative at `t`.
    At { t: f64, guard: usize },
    /// A guard that starts at zero is negative at every probe: the step is too coarse to tell.
    TooCoarse,
}

/// Guards are probed at the end of each half of a step.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Half {
    First,
    Second,
}

impl Half {
    /// Where it ends, as a share of the step.
    fn end(self) -> f64 {
        if self == Half::First { 0.5 } else { 1.0 }
    }
}

/// Times are located to this fraction of the step (and never finer than the clock).
const RESOLUTION: f64 = 1e-7;

/// Room to search in, kept from step to step.
pub(super) struct Search {
    y: Vec<f64>,
    /// Guards at the end of the step last looked at.
    guards: Vec<f64>,
    probe: Vec<f64>,
}

impl Search {
    pub fn new<S: System>(system: &S) -> Self {
        Search { y: vec![0.0; system.dim()], guards: Vec::new(), probe: Vec::new() }
    }

    /// Share of a step that can be interpolated after which [`System::fold`] changes its sign from that of `before`.
    pub fn fold<S: System>(&mut self, system: &S, mode: &S::Mode, step: &Step, before: f64) -> f64 {
        let mut value = |s: f64| {
            let t = step.t0 + s * step.h;
            step.at(t, &mut self.y);
            before.signum() * system.fold(mode, t, &self.y)
        };
        bracketed_root(&mut value, 0.0, 1.0, 1e-3)
    }

    /// The end of the half of the step in which a guard turns negative first; `middle` gives the states half-way through.
    ///
    /// Guards are looked at there unless each of them has the same size at both ends, to a tenth: within a step
    /// whose error is small none then falls to nothing and comes back.
    pub fn crossed<S: System>(
        &mut self,
        system: &S,
        mode: &S::Mode,
        step: &Step,
        middle: impl FnOnce(&mut [f64]),
    ) -> Option<Half> {
        let count = system.guard_count(mode);
        if count == 0 {
            return None;
        }
        let Search { y, guards, probe } = self;
        let fresh = guards.len() == count;
        std::mem::swap(guards, probe);
        guards.resize(count, 0.0);
        system.guards(mode, step.t0 + step.h, &step.end()[..y.len()], guards);
        if fresh && guards.iter().zip(&*probe).all(|(now, before)| *now > 0.9 * before && *before > 0.9 * now) {
            return None;
        }
        middle(y);
        probe.resize(count, 0.0);
        system.guards(mode, step.t0 + 0.5 * step.h, y, probe);
        if probe.iter().all(|v| *v >= 0.0) {
            return guards.iter().any(|v| !(*v >= 0.0)).then_some(Half::Second);
        }
        std::mem::swap(guards, probe);
        Some(Half::First)
    }

    /// Forgets the guards: the next step begins elsewhere than the last one ended, or in another mode.
    pub fn restart(&mut self) {
        self.guards.clear();
    }

    /// The first guard that turns negative in a step that can be interpolated, when the first to be seen to is in `half`.
    pub fn first_event<S: System>(&mut self, system: &S, mode: &S::Mode, step: &Step, half: Half) -> Found {
        let Search { y, guards, probe } = self;
        probe.resize(guards.len(), 0.0);
        let s = half.end();
        let low = s - 0.5;
        let mut best: Option<(f64, usize)> = None;
        for k in (0..guards.len()).filter(|&k| !(guards[k] >= 0.0)) {
            let mut value = |s: f64| {
                let t = step.t0 + s * step.h;
                step.at(t, y);
                system.guards(mode, t, y, probe);
                probe[k]
            };
            // A guard that is exactly zero at the start (a part that has just left its seat) needs a positive point first.
            let mut a = low;
            if low == 0.0 && !(value(0.0) > 0.0) {
                a = s;
                for _ in 0..12 {
                    a *= 0.25;
                    if value(a) > 0.0 {
                        break;
                    }
                }
                if !(value(a) > 0.0) {
                    return Found::TooCoarse;
                }
            }
            let root = bracketed_root(&mut value, a, s, RESOLUTION);
            if best.is_none_or(|(b, _)| root < b) {
                best = Some((root, k));
            }
        }
        match best {
            Some((s, guard)) => Found::At { t: step.t0 + s * step.h, guard },
            None => Found::Nothing,
        }
    }
}

/// Root of `f` between `a` (positive) and `b` (negative or not a number) by regula falsi with the Illinois rule,
/// falling back on bisection, to `resolution`; returns the end on which `f` has just turned negative.
fn bracketed_root(f: &mut impl FnMut(f64) -> f64, mut a: f64, mut b: f64, resolution: f64) -> f64 {
    let (mut fa, mut fb) = (f(a), f(b));
    if !fb.is_finite() {
        fb = -fa;
    }
    for i in 0..80 {
        if b - a <= resolution {
            break;
        }
        let mut m = if i % 3 == 2 { 0.5 * (a + b) } else { (a * fb - b * fa) / (fb - fa) };
        if !(m > a && m < b) {
            m = 0.5 * (a + b);
        }
        let fm = f(m);
        if fm > 0.0 {
            a = m;
            fa = fm;
            fb *= 0.5;
        } else {
            b = m;
            fb = if fm.is_finite() && fm < 0.0 { fm } else { -fa.abs() };
            fa *= 0.5;
        }
        if fm == 0.0 {
            break;
        }
    }
    b
}
