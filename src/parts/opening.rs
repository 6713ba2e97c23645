//! A hand on a valve: how far it is open, against time.

use crate::real::Real;

/// A piecewise linear schedule of an opening from 0 (shut) to 1 (open); constant before the first and after the last act.
#[derive(Debug, Clone, PartialEq)]
pub struct Opening {
    knots: Vec<(f64, f64)>,
}

impl Opening {
    /// Held at `value` all the time.
    pub fn fixed(value: f64) -> Self {
        Opening { knots: vec![(0.0, value)] }
    }

    /// Turned from `from` to `to` between `start` and `start + duration`, s.
    pub fn turn(from: f64, to: f64, start: f64, duration: f64) -> Self {
        Opening { knots: vec![(start, from), (start + duration, to)] }
    }

    /// Adds a later turn to `to`, from where the schedule stands at `start`; acts that would begin later are dropped.
    #[must_use]
    pub fn then(mut self, to: f64, start: f64, duration: f64) -> Self {
        let now = self.at(start);
        self.knots.retain(|k| k.0 < start);
        self.knots.push((start, now));
        self.knots.push((start + duration.max(1e-6), to));
        self
    }

    /// Opening at time `t`.
    #[inline]
    pub fn at<T: Real>(&self, t: T) -> T {
        // Held before the first knot and from the last one on, where a hand spends its time.
        let (Some(first), Some(last)) = (self.knots.first(), self.knots.last()) else { return T::constant(0.0) };
        if t.value() >= last.0 {
            return T::constant(last.1);
        }
        let begun = self.knots.windows(2).rev().find(|pair| pair[0].0 <= t.value());
        match begun {
            Some(&[(t0, v0), (t1, v1)]) => (t - t0) * ((v1 - v0) / (t1 - t0)) + v0,
            _ => T::constant(first.1),
        }
    }

    /// The first time after `t` at which the schedule has a kink.
    pub fn next_knot(&self, t: f64) -> f64 {
        self.knots.iter().map(|k| k.0).find(|&k| k > t).unwrap_or(f64::INFINITY)
    }

    /// The first time after `t` at which the schedule passes through `value`.
    pub fn next_passing(&self, t: f64, value: f64) -> f64 {
        let times = self.knots.windows(2).filter_map(|w| {
            let ((t0, v0), (t1, v1)) = (w[0], w[1]);
            let share = (value - v0) / (v1 - v0);
            (share > 0.0 && share < 1.0).then_some(t0 + share * (t1 - t0))
        });
        times.filter(|&at| at > t).fold(f64::INFINITY, f64::min)
    }

    /// Time of the last act, s.
    pub fn rests_from(&self) -> f64 {
        self.knots.last().map_or(0.0, |k| k.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn analytic_a_turn_and_a_later_turn_back() {
        let o = Opening::turn(0.0, 1.0, 0.0, 2.0).then(0.0, 5.0, 1.0);
        for (t, v) in [(-1.0, 0.0), (0.0, 0.0), (1.0, 0.5), (2.0, 1.0), (4.0, 1.0), (5.5, 0.5), (9.0, 0.0)] {
            assert!((o.at(t) - v).abs() < 1e-12, "{t}");
        }
        assert_eq!(o.next_knot(0.0), 2.0);
        assert_eq!(o.next_knot(6.0), f64::INFINITY);
        assert_eq!(o.rests_from(), 6.0);
        assert_eq!([o.next_passing(0.0, 0.25), o.next_passing(0.5, 0.25)], [0.5, 5.75]);
        assert_eq!([o.next_passing(5.8, 0.25), o.next_passing(0.0, 1.5)], [f64::INFINITY; 2]);
    }
}
