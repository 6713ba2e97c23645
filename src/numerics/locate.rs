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

/// Fractions of the step at which guards are probed, from the start.
const PROBES: [f64; 2] = [0.5, 1.0];

/// Times are located to this fraction of the step (and never finer than the clock).
const RESOLUTION: f64 = 1e-7;

/// Room to search in, kept from step to step.
pub(super) struct Search {
    y: Vec<f64>,
    guards: Vec<f64>,
    probe: Vec<f64>,
}

impl Search {
    pub fn new<S: System>(system: &S) -> Self {
        Search { y: vec![0.0; system.dim()], guards: Vec::new(), probe: Vec::new() }
    }

    /// Share of the step after which [`System::fold`] changes its sign from that of `before`; `None` if it does not.
    pub fn fold<S: System>(&mut self, system: &S, mode: &S::Mode, step: &Step, before: f64) -> Option<f64> {
        let states = self.y.len();
        let ahead = system.fold(mode, step.t0 + step.h, &step.end()[..states]);
        if !(before * ahead < 0.0) {
            return None;
        }
        let mut value = |s: f64| {
            let t = step.t0 + s * step.h;
            step.at(t, &mut self.y);
            before.signum() * system.fold(mode, t, &self.y)
        };
        Some(bracketed_root(&mut value, 0.0, 1.0, 1e-3))
    }

    /// The first guard that turns negative in a step.
    pub fn first_event<S: System>(&mut self, system: &S, mode: &S::Mode, step: &Step) -> Found {
        let count = system.guard_count(mode);
        if count == 0 {
            return Found::Nothing;
        }
        self.guards.resize(count, 0.0);
        self.probe.resize(count, 0.0);
        let Search { y, guards, probe } = self;
        let states = y.len();
        let mut guards_at = |s: f64, out: &mut [f64]| {
            let t = step.t0 + s * step.h;
            if s == 1.0 {
                system.guards(mode, t, &step.end()[..states], out);
            } else {
                step.at(t, y);
                system.guards(mode, t, y, out);
            }
        };
        let mut low = 0.0;
        for s in PROBES {
            guards_at(s, guards);
            if guards.iter().all(|v| *v >= 0.0) {
                low = s;
                continue;
            }
            let mut best: Option<(f64, usize)> = None;
            for k in 0..count {
                if guards[k] >= 0.0 {
                    continue;
                }
                let mut value = |s: f64| {
                    guards_at(s, probe);
                    probe[k]
                };
                // A guard that is exactly zero at the start (a part that has just left its seat) needs a positive point
                // first.
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
            return match best {
                Some((s, guard)) => Found::At { t: step.t0 + s * step.h, guard },
                None => Found::Nothing,
            };
        }
        Found::Nothing
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
