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

pub(super) fn first_event<S: System>(system: &S, mode: &S::Mode, step: &Step) -> Found {
    let count = system.guard_count(mode);
    if count == 0 {
        return Found::Nothing;
    }
    let n = system.dim() + system.ledger();
    let mut y = vec![0.0; n];
    let mut g = vec![0.0; count];
    let mut guard_at = |s: f64, g: &mut [f64]| {
        let t = step.t0 + s * step.h;
        step.at(t, &mut y);
        system.guards(mode, t, &y, g);
    };
    let mut low = 0.0;
    for s in PROBES {
        guard_at(s, &mut g);
        if g.iter().all(|v| *v >= 0.0) {
            low = s;
            continue;
        }
        let mut best: Option<(f64, usize)> = None;
        for k in (0..count).filter(|&k| !(g[k] >= 0.0)).collect::<Vec<_>>() {
            let mut probe = vec![0.0; count];
            let mut value = |s: f64| {
                guard_at(s, &mut probe);
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
            let root = bracketed_root(&mut value, a, s);
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

/// Root of `f` between `a` (positive) and `b` (negative or not a number) by regula falsi with the Illinois rule,
/// falling back on bisection; returns the end on which `f` has just turned negative.
fn bracketed_root(f: &mut impl FnMut(f64) -> f64, mut a: f64, mut b: f64) -> f64 {
    let (mut fa, mut fb) = (f(a), f(b));
    if !fb.is_finite() {
        fb = -fa;
    }
    for i in 0..80 {
        if b - a <= RESOLUTION {
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
