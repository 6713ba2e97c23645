//! A hand on a valve: how far it is open, against time.

use crate::real::Real;

/// A piecewise linear schedule of an opening from 0 (shut) to 1 (open); constant before the first and after the last act.
#[derive(Debug, Clone, PartialEq)]
pub struct Opening {
    knots: Vec<Knot>,
}

/// Where the schedule bends.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Knot {
    t: f64,
    opening: f64,
    /// Rate from here to the next knot, 1/s; 0 from the last one on.
    rate: f64,
}

impl Opening {
    /// Held at `value` all the time.
    pub fn fixed(value: f64) -> Self {
        Opening::through(&[(0.0, value)])
    }

    /// Through openings at times, in order.
    fn through(points: &[(f64, f64)]) -> Self {
        let rate = |k: usize| points.get(k + 1).map_or(0.0, |to| (to.1 - points[k].1) / (to.0 - points[k].0));
        let knot = |(k, &(t, opening)): (usize, &(f64, f64))| Knot { t, opening, rate: rate(k) };
        Opening { knots: points.iter().enumerate().map(knot).collect() }
    }

    /// Turned from `from` to `to` between `start` and `start + duration`, s.
    pub fn turn(from: f64, to: f64, start: f64, duration: f64) -> Self {
        Opening::through(&[(start, from), (start + duration, to)])
    }

    /// Adds a later turn to `to`, from where the schedule stands at `start`; acts that would begin later are dropped.
    #[must_use]
    pub fn then(self, to: f64, start: f64, duration: f64) -> Self {
        let before = self.knots.iter().map(|k| (k.t, k.opening)).filter(|k| k.0 < start);
        let act = [(start, self.at(start)), (start + duration.max(1e-6), to)];
        Opening::through(&before.chain(act).collect::<Vec<_>>())
    }

    /// Opening at time `t`.
    #[inline]
    pub fn at<T: Real>(&self, t: T) -> T {
        // Held before the first knot and from the last one on, where a hand spends its time.
        let (Some(first), Some(last)) = (self.knots.first(), self.knots.last()) else { return T::constant(0.0) };
        if t.value() >= last.t {
            return T::constant(last.opening);
        }
        match self.knots.iter().rev().find(|k| k.t <= t.value()) {
            Some(k) => (t - k.t) * k.rate + k.opening,
            None => T::constant(first.opening),
        }
    }

    /// The first time after `t` at which the schedule has a kink.
    pub fn next_knot(&self, t: f64) -> f64 {
        self.knots.iter().map(|k| k.t).find(|&k| k > t).unwrap_or(f64::INFINITY)
    }

    /// The first time after `t` at which the schedule passes through `value`.
    pub fn next_passing(&self, t: f64, value: f64) -> f64 {
        let times = self.knots.windows(2).filter_map(|w| {
            let (from, to) = (w[0], w[1]);
            let share = (value - from.opening) / (to.opening - from.opening);
            (share > 0.0 && share < 1.0).then_some(from.t + share * (to.t - from.t))
        });
        times.filter(|&at| at > t).fold(f64::INFINITY, f64::min)
    }

    /// Time of the last act, s.
    pub fn rests_from(&self) -> f64 {
        self.knots.last().map_or(0.0, |k| k.t)
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
