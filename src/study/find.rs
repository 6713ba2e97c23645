//! One unknown solved for: where along a range a condition begins or ceases to hold.

use super::judged::Judged;
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
    /// The old answer.
    pub from: Judged,
    /// The new one.
    pub to: Judged,
}

/// What a search found.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Found {
    /// Every change that the scan saw, from LOW to HIGH, narrowed to the tolerance.
    pub changes: Vec<Change>,
    /// What is known of the condition at LOW.
    pub at_low: Judged,
    /// What is known of it at HIGH.
    pub at_high: Judged,
    /// Times that the condition was worked out.
    pub evaluations: usize,
}

impl Found {
    /// The lowest value (nearest to LOW) at which the condition holds: LOW itself, or the first place where it begins.
    pub fn first_holding(&self, low: f64) -> Option<f64> {
        let begins = || self.changes.iter().find(|c| c.begins).map(|c| c.after);
        if self.at_low == Judged::Holds { Some(low) } else { begins() }
    }

    /// Where the condition holds, from LOW to HIGH: first and last value of each stretch.
    pub fn stretches(&self, low: f64, high: f64) -> Vec<[f64; 2]> {
        let mut all = Vec::new();
        let mut start = (self.at_low == Judged::Holds).then_some(low);
        for change in &self.changes {
            all.extend(start.take().map(|first| [first, change.before]));
            start = change.begins.then_some(change.after);
        }
        all.extend(start.map(|first| [first, high]));
        all
    }

    /// The end, nearest to LOW, of where the condition holds, and the change it lies in: where it begins, or, if it holds at
    /// LOW, where it ceases.
    pub fn edge(&self) -> Option<(f64, &Change)> {
        match self.at_low {
            Judged::Holds => self.changes.first().map(|c| (c.before, c)),
            _ => self.changes.iter().find(|c| c.begins).map(|c| (c.after, c)),
        }
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
    /// Whether there are only whole numbers between them; brackets then end at neighbours.
    pub whole: bool,
}

impl Search {
    fn places(&self) -> Vec<f64> {
        let last = (SCAN - 1) as f64;
        let place = |i: usize| match i + 1 == SCAN {
            true => self.high,
            false => self.low + (self.high - self.low) * (i as f64 / last),
        };
        let mut all: Vec<f64> = (0..SCAN).map(place).map(|x| if self.whole { x.round() } else { x }).collect();
        all.dedup();
        all
    }

    /// Half-way between two places; `None` once they are close enough.
    fn between(&self, a: f64, b: f64) -> Option<f64> {
        let middle = 0.5 * (a + b);
        let middle = if self.whole { middle.round() } else { middle };
        let wide = self.whole || (b - a).abs() > self.tolerance;
        (wide && middle != a && middle != b).then_some(middle)
    }
}

/// Looks at [`SCAN`] evenly spaced values at once, then halves every interval over which the answer changes until it is no
/// wider than the tolerance. Changes closer together than the scan can be missed in pairs.
///
/// # Errors
/// The first error of `judge`, in the order of the values.
pub fn find(
    search: Search,
    judge: &(dyn Fn(f64) -> Result<Judged, Error> + Sync),
    stop: &(dyn Fn() -> bool + Sync),
) -> Result<Option<Found>, Error> {
    let places = search.places();
    let answers: Vec<Result<Judged, Error>> =
        places.par_iter().map(|x| if stop() { Ok(Judged::Unknown) } else { judge(*x) }).collect();
    let answers = answers.into_iter().collect::<Result<Vec<Judged>, Error>>()?;
    let pairs: Vec<(&[f64], &[Judged])> = places.windows(2).zip(answers.windows(2)).collect();
    // From one answer to the other there may be the third between them, so there may be two changes.
    let narrow = |(x, a): (&[f64], &[Judged])| -> Result<(Vec<Change>, usize), Error> {
        let ([x0, x1], [a0, a1]) = (x, a) else { return Ok((Vec::new(), 0)) };
        let (mut start, mut from) = (*x0, *a0);
        let (mut changes, mut count) = (Vec::new(), 0);
        while from != *a1 && !stop() {
            let (mut before, mut after, mut to) = (start, *x1, *a1);
            while let Some(middle) = search.between(before, after).filter(|_| !stop()) {
                count += 1;
                match judge(middle)? {
                    answer if answer == from => before = middle,
                    answer => (after, to) = (middle, answer),
                }
            }
            changes.push(Change { before, after, begins: to == Judged::Holds, from, to });
            (start, from) = (after, to);
        }
        Ok((changes, count))
    };
    let narrowed: Vec<Result<(Vec<Change>, usize), Error>> = pairs.into_par_iter().map(narrow).collect();
    let narrowed = narrowed.into_iter().collect::<Result<Vec<_>, Error>>()?;
    if stop() {
        return Ok(None);
    }
    Ok(Some(Found {
        evaluations: places.len() + narrowed.iter().map(|(_, n)| n).sum::<usize>(),
        changes: narrowed.into_iter().flat_map(|(changes, _)| changes).collect(),
        at_low: answers.first().copied().unwrap_or(Judged::Unknown),
        at_high: answers.last().copied().unwrap_or(Judged::Unknown),
    }))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn run(low: f64, high: f64, whole: bool, f: &(dyn Fn(f64) -> Option<bool> + Sync)) -> Found {
        find(Search { low, high, tolerance: 1e-9, whole }, &|x| Ok(f(x).into()), &|| false).unwrap().unwrap()
    }

    /// x^2 > 2 begins at sqrt(2); sin x > 0 on (1, 8) ceases at pi, begins at 2 pi.
    #[test]
    fn analytic_changes_are_bracketed_to_the_tolerance() {
        let found = run(0.0, 10.0, false, &|x| Some(x * x > 2.0));
        assert_eq!(found.changes.len(), 1);
        let c = found.changes[0];
        let root = 2.0_f64.sqrt();
        assert!(c.begins && c.before <= root && c.after >= root && c.after - c.before <= 1e-9);
        assert!((found.first_holding(0.0).unwrap() - root).abs() < 1e-9);
        assert_eq!(found.stretches(0.0, 10.0), [[c.after, 10.0]]);
        let waves = run(1.0, 8.0, false, &|x| Some(x.sin() > 0.0));
        assert_eq!(waves.changes.iter().map(|c| c.begins).collect::<Vec<_>>(), [false, true]);
        let pi = std::f64::consts::PI;
        let [[a, b], [c, d]] = waves.stretches(1.0, 8.0)[..] else { panic!("{waves:?}") };
        assert!(a == 1.0 && (b - pi).abs() < 1e-9 && (c - 2.0 * pi).abs() < 1e-9 && d == 8.0);
        assert!((waves.edge().unwrap().0 - pi).abs() < 1e-9);
        assert_eq!(waves.first_holding(1.0), Some(1.0));
        // Downwards, and with nothing to find.
        let down = run(10.0, 0.0, false, &|x| Some(x * x > 2.0));
        assert!(!down.changes[0].begins && down.at_low == Judged::Holds);
        assert!((down.edge().unwrap().0 - root).abs() < 1e-9);
        assert_eq!(run(0.0, 1.0, false, &|x| Some(x > 5.0)).first_holding(0.0), None);
        let everywhere = run(0.0, 1.0, false, &|x| Some(x < 5.0));
        assert!(everywhere.changes.is_empty() && everywhere.edge().is_none());
        assert_eq!(everywhere.stretches(0.0, 1.0), [[0.0, 1.0]]);
    }

    /// ln x > 0 can be judged above 0 only and begins at 1; both within one interval of the scan.
    #[test]
    fn analytic_what_cannot_be_judged_is_neither_yes_nor_no() {
        let found = run(-80.3, 79.7, false, &|x| (x > 0.0).then(|| x.ln() > 0.0));
        let seen: Vec<(Judged, Judged)> = found.changes.iter().map(|c| (c.from, c.to)).collect();
        assert_eq!(seen, [(Judged::Unknown, Judged::DoesNot), (Judged::DoesNot, Judged::Holds)]);
        assert!(found.changes[0].after.abs() < 1e-8 && (found.edge().unwrap().0 - 1.0).abs() < 1e-8);
        let never = run(-2.0, -1.0, false, &|x| (x > 0.0).then_some(true));
        assert!(never.changes.is_empty() && never.at_low == Judged::Unknown && never.stretches(-2.0, -1.0).is_empty());
    }

    /// n^2 > 50 begins at 8 on the whole numbers; nothing is asked between them, and none twice in the scan.
    #[test]
    fn analytic_whole_numbers_are_halved_to_neighbours() {
        for high in [9.0, 16.0, 1000.0] {
            let found = run(1.0, high, true, &|x| {
                assert_eq!(x.fract(), 0.0);
                Some(x * x > 50.0)
            });
            let c = found.changes[0];
            assert_eq!((c.before, c.after, found.changes.len()), (7.0, 8.0, 1));
        }
        assert_eq!(run(1.0, 4.0, true, &|_| Some(true)).evaluations, 4);
    }
}
