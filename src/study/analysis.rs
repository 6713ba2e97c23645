//! What the rows of a population study come to. Rows are read several times from where they stand, never kept.

use super::condition::{Condition, Op};
use super::judged::{Judge, Judged, Outcomes};
use super::output::{Cell, Output};
use super::plan::Plan;
use super::population_plan::PopulationPlan;
use super::run::{Row, Study};
use super::sensitivity::{Gather, Indices};
use super::statistics::{Bin, Histogram, edges, quantiles_of};
use crate::bench::FIRST_VOLUME;
use crate::error::{At, Error, Source};
use serde::Serialize;

/// Shares whose quantiles are given.
pub const QUANTILES: [f64; 7] = [0.01, 0.05, 0.25, 0.5, 0.75, 0.95, 0.99];
/// The output that says whether water spilled.
pub const SPILL: &str = "sequence.spill_m3";
/// The output whose zero parts the two orders of a slow opening.
pub const MARGIN: &str = "sequence.sequence_margin_pa";
/// Bars of a histogram, about.
const BINS: usize = 24;

/// One number over all units.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Quantity {
    /// Command and key.
    pub key: String,
    /// Units that have it.
    pub count: u64,
    /// Mean, SI.
    pub mean: f64,
    /// Standard deviation, SI.
    pub sd: f64,
    /// Least, SI.
    pub least: f64,
    /// Greatest, SI.
    pub greatest: f64,
    /// Quantiles at [`QUANTILES`], SI.
    pub quantiles: Vec<f64>,
    /// Shares in bins from least to greatest; every limit of a condition lies between two of them.
    pub histogram: Vec<Bin>,
}

/// Indices of all inputs for one output.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sensitivity {
    /// Command and key.
    pub key: String,
    /// One for each spread, in their order; `None` if the output does not vary.
    pub inputs: Option<Vec<Indices>>,
    /// Base points left out because one of their runs failed or had no such value.
    pub dropped: u64,
}

/// What a population comes to.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Analysis {
    /// Units sampled.
    pub units: u64,
    /// Units whose run failed; they belong to no share.
    pub failed: u64,
    /// Units that meet all conditions. One that is not met fails a unit whatever the others are.
    pub pass_rate: Outcomes,
    /// Units that meet each.
    pub conditions: Vec<Outcomes>,
    /// Units that spilled more than [`FIRST_VOLUME`]; `None` if the spill was not recorded.
    pub spill_probability: Option<Outcomes>,
    /// Every recorded number.
    pub quantities: Vec<Quantity>,
    /// Indices of every recorded number.
    pub sensitivity: Vec<Sensitivity>,
}

/// Hands every row of a study, in order, to its argument.
pub type ReadRows<'a> = dyn FnMut(&mut dyn FnMut(&Row)) -> Result<(), Error> + 'a;

/// Moments of one output, gathered one after another (B. P. Welford, Technometrics 4 (1962) 419).
#[derive(Debug, Clone, Copy)]
struct Moments {
    count: u64,
    mean: f64,
    squares: f64,
    low: f64,
    high: f64,
}

impl Moments {
    const NONE: Moments = Moments { count: 0, mean: 0.0, squares: 0.0, low: f64::INFINITY, high: f64::NEG_INFINITY };

    fn add(&mut self, x: f64) {
        self.count += 1;
        let d = x - self.mean;
        self.mean += d / self.count as f64;
        self.squares += d * (x - self.mean);
        (self.low, self.high) = (self.low.min(x), self.high.max(x));
    }
}

/// Where values of an output begin to meet, or to fail, the conditions on it. A value at the limit goes with those above it,
/// or, where it does not meet what they meet, with those below.
fn limits(output: &Output, conditions: &[Condition]) -> Vec<f64> {
    let limit = |c: &Condition| match (&c.value, c.op) {
        (Cell::Number(v), Op::AtLeast | Op::Below) => Some(*v),
        (Cell::Number(v), Op::AtMost | Op::Above) => Some(v.next_up()),
        _ => None,
    };
    let all: Vec<f64> = conditions.iter().filter(|c| c.output == *output).filter_map(limit).collect();
    if all.is_empty() && output.name() == MARGIN { vec![0.0] } else { all }
}

/// That a unit spills: more than [`FIRST_VOLUME`] leaves it. `output` is [`SPILL`].
pub fn spills(output: Output) -> Condition {
    let at = At::whole(Source::Study);
    Condition { text: format!("{SPILL}>{FIRST_VOLUME}"), op: Op::Above, value: Cell::Number(FIRST_VOLUME), output, at }
}

/// Works it out; `read` is called several times.
///
/// # Errors
/// Those of `read`; as [`Condition::judge`].
pub fn analyse(
    study: &Study,
    plan: &PopulationPlan,
    conditions: &[Condition],
    read: &mut ReadRows<'_>,
) -> Result<Analysis, Error> {
    let outputs = study.outputs.len();
    let spill = study.outputs.iter().find(|o| o.name() == SPILL).cloned().map(spills);
    let (judge, judge_spill) = (Judge::new(&study.outputs, conditions), Judge::new(&study.outputs, spill.as_slice()));
    let mut met = vec![Outcomes::default(); conditions.len()];
    let (mut passed, mut spilled) = (Outcomes::default(), Outcomes::default());
    let (mut failed, mut trouble) = (0, None);
    let mut moments = vec![Moments::NONE; outputs];
    let mut gather: Vec<Gather> = plan.scheme().map_or_else(Vec::new, |s| vec![Gather::new(s); outputs]);
    read(&mut |row| {
        let numbers = || row.cells.iter().map(Cell::number);
        if row.index >= plan.units() {
            gather.iter_mut().zip(numbers()).for_each(|(g, v)| g.push(v));
            return;
        }
        if row.failed.is_some() {
            failed += 1;
            return;
        }
        match (judge.each(row), judge_spill.each(row)) {
            (Ok(each), Ok(spill)) => {
                passed.add(Judged::all(&each));
                met.iter_mut().zip(each).for_each(|(count, judged)| count.add(judged));
                spill.into_iter().for_each(|judged| spilled.add(judged));
            }
            (Err(error), _) | (_, Err(error)) => trouble = trouble.take().or(Some(error)),
        }
        for (m, v) in moments.iter_mut().zip(numbers()) {
            if let Some(v) = v {
                m.add(v);
            }
        }
    })?;
    if let Some(error) = trouble {
        return Err(error);
    }
    let unit_numbers = |row: &Row, each: &mut dyn FnMut(usize, f64)| {
        if row.index < plan.units() && row.failed.is_none() {
            row.cells.iter().enumerate().filter_map(|(i, c)| Some((i, c.number()?))).for_each(|(i, v)| each(i, v));
        }
    };
    let counts: Vec<u64> = moments.iter().map(|m| m.count).collect();
    let quantiles = quantiles_of(&QUANTILES, &counts, |each| read(&mut |row| unit_numbers(row, each)))?;
    let histogram =
        |(m, output): (&Moments, &Output)| Histogram::new(edges(m.low, m.high, BINS, &limits(output, conditions)));
    let mut histograms: Vec<Histogram> = moments.iter().zip(&study.outputs).map(histogram).collect();
    read(&mut |row| {
        unit_numbers(row, &mut |i, v| {
            if let Some(h) = histograms.get_mut(i) {
                h.add(v);
            }
        });
    })?;
    let quantity = |(((output, m), quantiles), histogram): (((&Output, &Moments), Vec<f64>), &Histogram)| {
        (m.count > 0).then(|| Quantity {
            key: output.name(),
            count: m.count,
            mean: m.mean,
            sd: if m.count > 1 { (m.squares / (m.count - 1) as f64).sqrt() } else { f64::NAN },
            least: m.low,
            greatest: m.high,
            quantiles,
            histogram: histogram.bins(),
        })
    };
    let numeric = |i: usize| moments.get(i).is_some_and(|m| m.count > 0);
    let sensitivity = gather
        .iter()
        .zip(&study.outputs)
        .enumerate()
        .filter(|(i, _)| numeric(*i))
        .map(|(_, (g, output))| Sensitivity { key: output.name(), inputs: g.indices(), dropped: g.dropped() })
        .collect();
    Ok(Analysis {
        units: plan.units(),
        failed,
        pass_rate: passed,
        conditions: met,
        spill_probability: spill.map(|_| spilled),
        quantities: study.outputs.iter().zip(&moments).zip(quantiles).zip(&histograms).filter_map(quantity).collect(),
        sensitivity,
    })
}

/// Names of the spread values of a plan.
pub fn inputs(plan: &PopulationPlan) -> Vec<String> {
    plan.columns().iter().skip(1).map(|c| c.path.clone()).collect()
}
