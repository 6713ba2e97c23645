//! The grid of a relief study: which sets and bores, and what each comes to.

use crate::freeze::Relief;
use serde::Serialize;

/// What a cell of the grid comes to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Holds with the safety factor, and nothing of everyday reaches its set.
    Good,
    /// Holds with the safety factor, but a slam lifts it for a moment.
    LiftsInSlams,
    /// Everyday pressure reaches its set.
    Weeps,
    /// Holds, with less than the safety factor.
    NoMargin,
    /// Something gives way.
    GivesWay,
}

/// One cell of the grid.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GridCell {
    /// Set, Pa gauge.
    pub set_pa_gauge: f64,
    /// Bore, m.
    pub bore_m: f64,
    /// Highest pressure of the night in any zone, Pa gauge; `None` if the run failed.
    pub peak_pa_gauge: Option<f64>,
    /// Whether everyday pressure reaches the set.
    pub weeps: bool,
    /// Verdict; `None` if the run failed.
    pub verdict: Option<Verdict>,
}

/// Sets from half of what must not lift it to a little above the strength, bores from a third of the critical one to a
/// little above the recommended one.
pub(super) fn axes(
    everyday: f64,
    upper: f64,
    strength: f64,
    critical: f64,
    bore: f64,
    steps: usize,
) -> (Vec<f64>, Vec<f64>) {
    let last = steps.max(2) - 1;
    let spaced = |low: f64, high: f64| (0..=last).map(|i| low + (high - low) * i as f64 / last as f64).collect();
    let top = (1.25 * strength).min(4.0 * upper);
    (
        spaced(0.5 * everyday.max(5e4), top.max(2.0 * everyday)),
        spaced(0.3 * critical, (1.25 * bore).max(3.0 * critical)),
    )
}

/// What the verdicts measure by.
pub(super) struct Limits {
    /// Highest everyday pressure, Pa gauge.
    pub everyday: f64,
    /// The same of slams, Pa gauge.
    pub slams: f64,
    /// The weakest part over its safety factor, Pa gauge.
    pub upper: f64,
    /// The weakest part, Pa gauge.
    pub strength: f64,
    /// Its name.
    pub weak: &'static str,
    /// Where zone 2 is.
    pub zone2: Option<usize>,
}

impl Limits {
    /// The cell that a night with these peaks, Pa gauge, comes to.
    pub fn cell(&self, set: f64, bore: f64, peaks: Option<Vec<f64>>) -> GridCell {
        // A bonnet stands over zone 2 alone.
        let stressed = peaks.as_ref().map(|p| match (self.weak, self.zone2) {
            ("bonnet", Some(i)) => p.get(i).copied().unwrap_or(f64::NAN),
            _ => p.iter().copied().fold(f64::NEG_INFINITY, f64::max),
        });
        let weeps = !(set > self.everyday);
        // The overpressure at which a held relief is wide open is not a want of margin.
        let allowed = self.upper * (1.0 + Relief::ACCUMULATION);
        let verdict = stressed.map(|p| match p {
            p if !(p < self.strength) => Verdict::GivesWay,
            _ if weeps => Verdict::Weeps,
            p if !(p <= allowed) => Verdict::NoMargin,
            _ if set <= self.slams => Verdict::LiftsInSlams,
            _ => Verdict::Good,
        });
        let peak_pa_gauge = peaks.map(|p| p.iter().copied().fold(f64::NEG_INFINITY, f64::max));
        GridCell { set_pa_gauge: set, bore_m: bore, peak_pa_gauge, weeps, verdict }
    }
}
