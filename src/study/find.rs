//! One unknown solved for: where along a range a condition begins or ceases to hold.

use crate::error::Error;
use rayon::prelude::*;
use serde::Serialize;

/// Points at which a range is looked at before it is halved.
pub const SCAN: usize = 17;

/// A place where a condition changes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Change {
    /// Last value, SI, at which the answer is still the old one.
    pub before: f64,
    /// First value, SI, at which it is the new one.
    pub after: f64,
    /// Whether the condition holds from there on.
    pub begins: bool,
}

impl Change {
    /// The end of the bracket at which the condition holds.
    pub fn holding(&self) -> f64 {
        if self.begins { self.after } else { self.before }
    }
}

/// What a search found.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Found {
    /// Every change that the scan saw, from LOW to HIGH, narrowed to the tolerance.
    pub changes: Vec<Change>,
    /// Whether the condition holds at LOW.
    pub holds_at_low: bool,
    /// Whether it holds at HIGH.
    pub holds_at_high: bool,
    /// Times that the condition was worked out.
    pub evaluations: usize,
}

impl Found {
    /// The lowest value (nearest to LOW) at which the condition holds: LOW itself, or the first place where it begins.
    pub fn first_holding(&self, low: f64) -> Option<f64> {
        if self.holds_at_low { Some(low) } else { self.changes.iter().find(|c| c.begins).map(|c| c.after) }
    }
}

/// How a search is done.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Search {
    /// One end, SI.
    pub low: f64,
    /// The other; may be the smaller one.
    pub high: f64,
    /// Largest width of a bracket in the end.
    pub tolerance: f64,
}

/// Looks at [`SCAN`] evenly spaced values at once, then halves every interval over which the answer changes until it is no
/// wider than the tolerance. Changes closer together than the scan can be missed in pairs.
///
/// # Errors
/// The first error of `holds`, in the order of the values.
pub fn find(
    search: Search,
    holds: &(dyn Fn(f64) -> Result<bool, Error> + Sync),
    stop: &(dyn Fn() -> bool + Sync),
) -> Result<Option<Found>, Error> {
    let Search { low, high, tolerance } = search;
    let last = (SCAN - 1) as f64;
    let places: Vec<f64> =
        (0..SCAN).map(|i| if i + 1 == SCAN { high } else { low + (high - low) * (i as f64 / last) }).collect();
    let answers: Vec<Result<bool, Error>> =
        places.par_iter().map(|x| if stop() { Ok(false) } else { holds(*x) }).collect();
    let answers = answers.into_iter().collect::<Result<Vec<bool>, Error>>()?;
    let pairs = places.windows(2).zip(answers.windows(2)).filter_map(|(x, a)| match (x, a) {
        ([x0, x1], [a0, a1]) if a0 != a1 => Some((*x0, *x1, *a1)),
        _ => None,
    });
    let brackets: Vec<(f64, f64, bool)> = pairs.collect();
    let narrowed: Vec<Result<(Change, usize), Error>> = brackets
        .into_par_iter()
        .map(|(mut before, mut after, begins)| {
            let mut count = 0;
            while (after - before).abs() > tolerance && !stop() {
                let middle = 0.5 * (before + after);
                if middle == before || middle == after {
                    break;
                }
                count += 1;
                if holds(middle)? == begins { after = middle } else { before = middle }
            }
            Ok((Change { before, after, begins }, count))
        })
        .collect();
    let narrowed = narrowed.into_iter().collect::<Result<Vec<_>, Error>>()?;
    if stop() {
        return Ok(None);
    }
    Ok(Some(Found {
        evaluations: SCAN + narrowed.iter().map(|(_, n)| n).sum::<usize>(),
        changes: narrowed.into_iter().map(|(c, _)| c).collect(),
        holds_at_low: answers.first().copied().unwrap_or(false),
        holds_at_high: answers.last().copied().unwrap_or(false),
    }))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// x^2 > 2 begins at sqrt(2); sin x > 0 on (1, 8) ceases at pi, begins at 2 pi.
    #[test]
    fn analytic_changes_are_bracketed_to_the_tolerance() {
        let run = |low, high, f: &(dyn Fn(f64) -> bool + Sync)| {
            find(Search { low, high, tolerance: 1e-9 }, &|x| Ok(f(x)), &|| false).unwrap().unwrap()
        };
        let found = run(0.0, 10.0, &|x| x * x > 2.0);
        assert_eq!(found.changes.len(), 1);
        let c = found.changes[0];
        let root = 2.0_f64.sqrt();
        assert!(c.begins && c.before <= root && c.after >= root && c.after - c.before <= 1e-9);
        assert!((found.first_holding(0.0).unwrap() - root).abs() < 1e-9);
        let waves = run(1.0, 8.0, &|x| x.sin() > 0.0);
        assert_eq!(waves.changes.iter().map(|c| c.begins).collect::<Vec<_>>(), [false, true]);
        assert!((waves.changes[0].holding() - std::f64::consts::PI).abs() < 1e-9);
        assert_eq!(waves.first_holding(1.0), Some(1.0));
        // Downwards, and with nothing to find.
        let down = run(10.0, 0.0, &|x| x * x > 2.0);
        assert!(!down.changes[0].begins && down.holds_at_low);
        assert_eq!(run(0.0, 1.0, &|x| x > 5.0).first_holding(0.0), None);
        assert!(run(0.0, 1.0, &|x| x < 5.0).changes.is_empty());
    }
}
