//! What a run costs.

use crate::outcome::Outcome;
use rustix::time::{ClockId, clock_gettime};
use std::time::Instant;

/// Batches of repeats, and how long one should take, s. `cvode.c` does the same.
const BATCHES: usize = 5;
const BATCH: f64 = 0.04;
/// A run longer than this is not repeated, s.
const LONG: f64 = 0.5;

/// CPU time of this thread, s.
fn cpu_time() -> f64 {
    let t = clock_gettime(ClockId::ThreadCPUTime);
    t.tv_sec as f64 + 1e-9 * t.tv_nsec as f64
}

/// CPU and wall time of one run, s: medians over batches of runs.
///
/// # Errors
/// The run's own.
pub fn timed(run: impl Fn() -> Result<Outcome, String>) -> Result<(Outcome, [f64; 2]), String> {
    let batch = |runs: usize| {
        let (cpu, wall) = (cpu_time(), Instant::now());
        let mut last = Outcome::default();
        for _ in 0..runs {
            last = run()?;
        }
        let per = 1.0 / runs as f64;
        Ok::<_, String>((last, [(cpu_time() - cpu) * per, wall.elapsed().as_secs_f64() * per]))
    };
    let (outcome, first) = batch(1)?;
    if first[0] > LONG {
        return Ok((outcome, first));
    }
    let runs = (BATCH / first[1]).ceil().max(1.0) as usize;
    let (mut cpu, mut wall) = (Vec::new(), Vec::new());
    for _ in 0..BATCHES {
        let (_, [c, w]) = batch(runs)?;
        cpu.push(c);
        wall.push(w);
    }
    Ok((outcome, [median(&mut cpu), median(&mut wall)]))
}

fn median(values: &mut [f64]) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

/// Median cost of one evaluation of the rates, s, so that it can be seen that all peers are given the same.
pub fn per_call(mut call: impl FnMut()) -> f64 {
    let mut each: Vec<f64> = (0..BATCHES)
        .map(|_| {
            let start = cpu_time();
            (0..50_000).for_each(|_| call());
            (cpu_time() - start) / 50_000.0
        })
        .collect();
    median(&mut each)
}
