//! How long runs take: totals and the share of the slowest, in a fixed amount of memory.

use serde::Serialize;

/// Bins per factor of two.
const PER_OCTAVE: f64 = 32.0;
/// Shortest time told apart, s; shorter ones share a bin.
const SHORTEST: f64 = 1e-6;
/// 32 octaves from a microsecond reach an hour.
const BINS: usize = 32 * 32;

/// Time spent on a study.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Timing {
    /// Runs.
    pub runs: u64,
    /// Wall time, s.
    pub wall_s: f64,
    /// Sum of the runs' own times, s.
    pub busy_s: f64,
    /// Worker threads.
    pub threads: usize,
    /// Runs per second of wall time.
    pub runs_per_s: f64,
    /// Share of the threads' time spent inside runs.
    pub busy_share: f64,
    /// Share of all runs' time that the slowest hundredth of them took (to the width of a bin, 2 %).
    pub slowest_1_percent_share: f64,
    /// The longest run, s.
    pub longest_s: f64,
}

/// Gathers times.
#[derive(Debug, Clone)]
pub(super) struct Meter {
    counts: Vec<u64>,
    sums: Vec<f64>,
    count: u64,
    longest: f64,
}

impl Default for Meter {
    fn default() -> Self {
        Meter { counts: vec![0; BINS], sums: vec![0.0; BINS], count: 0, longest: 0.0 }
    }
}

impl Meter {
    pub fn add(&mut self, seconds: f64) {
        let bin = ((seconds / SHORTEST).max(1.0).log2() * PER_OCTAVE) as usize;
        let bin = bin.min(BINS - 1);
        if let (Some(count), Some(sum)) = (self.counts.get_mut(bin), self.sums.get_mut(bin)) {
            *count += 1;
            *sum += seconds;
        }
        self.count += 1;
        self.longest = self.longest.max(seconds);
    }

    pub fn count(&self) -> u64 {
        self.count
    }

    pub fn timing(&self, wall_s: f64, threads: usize) -> Timing {
        let busy_s: f64 = self.sums.iter().sum();
        // Of the bin in which the hundredth ends, the part that belongs to it counts at the bin's mean.
        let (mut left, mut slow) = (self.count as f64 / 100.0, 0.0);
        for (count, sum) in self.counts.iter().zip(&self.sums).rev().filter(|(count, _)| **count > 0) {
            let taken = left.min(*count as f64);
            slow += sum * taken / *count as f64;
            left -= taken;
        }
        let over = |x: f64, y: f64| if y > 0.0 { x / y } else { 0.0 };
        Timing {
            runs: self.count,
            wall_s,
            busy_s,
            threads,
            runs_per_s: over(self.count as f64, wall_s),
            busy_share: over(busy_s, wall_s * threads as f64),
            slowest_1_percent_share: over(slow, busy_s),
            longest_s: self.longest,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 990 runs of 1 ms and 10 of 100 ms: the slowest hundredth took 1 s of 1.99 s.
    #[test]
    fn analytic_the_share_of_the_slowest_hundredth() {
        let mut meter = Meter::default();
        for i in 0..1000 {
            meter.add(if i % 100 == 7 { 0.1 } else { 0.001 });
        }
        let timing = meter.timing(1.0, 2);
        approx::assert_relative_eq!(timing.slowest_1_percent_share, 1.0 / 1.99, max_relative = 1e-9);
        approx::assert_relative_eq!(timing.busy_share, 1.99 / 2.0, max_relative = 1e-9);
        assert_eq!((timing.runs, timing.longest_s), (1000, 0.1));
        assert_eq!(Meter::default().timing(0.0, 2).slowest_1_percent_share, 0.0);
    }
}
