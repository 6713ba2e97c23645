//! What a sample says about its population, with how far that can be relied on.

use serde::Serialize;
use statrs::distribution::{Beta, ContinuousCDF, StudentsT};

/// A share with its confidence interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Share {
    /// Cases that count.
    pub count: u64,
    /// Cases in all.
    pub of: u64,
    /// `count / of`.
    pub estimate: f64,
    /// Lower end of the interval.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// Confidence of all intervals.
pub const CONFIDENCE: f64 = 0.95;

/// A share with its exact (Clopper-Pearson) interval at [`CONFIDENCE`].
///
/// ```text
/// low  = B(alpha/2; k, n - k + 1)      high = B(1 - alpha/2; k + 1, n - k)
/// ```
/// `B` is the quantile of the beta distribution, `k` of `n` cases count. It covers at least as often as it says. Beyond
/// [`MOST_RUNS`](super::MOST_RUNS) cases the quantile cannot be had and both ends are NaN. Source:
/// C. J. Clopper, E. S. Pearson, Biometrika 26 (1934) 404.
pub fn share(count: u64, of: u64) -> Share {
    let (k, n) = (count.min(of) as f64, of as f64);
    let tail = 0.5 * (1.0 - CONFIDENCE);
    let beta = |p: f64, a: f64, b: f64| match of <= super::MOST_RUNS {
        true => Beta::new(a, b).map_or(f64::NAN, |d| d.inverse_cdf(p)),
        false => f64::NAN,
    };
    Share {
        count,
        of,
        estimate: if of > 0 { k / n } else { f64::NAN },
        low: if count == 0 { 0.0 } else { beta(tail, k, n - k + 1.0) },
        high: if count >= of { 1.0 } else { beta(1.0 - tail, k + 1.0, n - k) },
    }
}

/// Mean of independent replicates with its t-interval at [`CONFIDENCE`].
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Estimate {
    /// Mean of the replicates.
    pub mean: f64,
    /// Half the width of the interval; NaN with one replicate.
    pub half_width: f64,
}

/// Mean and t-interval: `mean +- t(0.975; r - 1) s / sqrt(r)`.
pub fn estimate(replicates: &[f64]) -> Estimate {
    let n = replicates.len() as f64;
    let mean = replicates.iter().sum::<f64>() / n;
    let squares: f64 = replicates.iter().map(|x| (x - mean) * (x - mean)).sum();
    let half_width = match replicates.len() {
        0 | 1 => f64::NAN,
        _ => {
            let t = StudentsT::new(0.0, 1.0, n - 1.0).map_or(f64::NAN, |d| d.inverse_cdf(0.5 + 0.5 * CONFIDENCE));
            t * (squares / (n - 1.0) / n).sqrt()
        }
    };
    Estimate { mean, half_width }
}

/// Values whose order is that of the numbers, NaN last.
fn ordered_bits(x: f64) -> u64 {
    let bits = (x + 0.0).to_bits();
    if bits >> 63 == 1 { !bits } else { bits | (1 << 63) }
}

fn from_ordered(bits: u64) -> f64 {
    f64::from_bits(if bits >> 63 == 1 { bits & !(1 << 63) } else { !bits })
}

/// Exact order statistics of several columns of values that are read several times rather than kept: for each column its
/// `ranks` from 0 in the order of size, worked out 16 bits at a time in four passes. Memory does not depend on how many
/// values there are. `pass` calls its argument with column and value, always the same ones.
///
/// # Errors
/// Those of `pass`.
pub fn order_statistics_of<E>(
    ranks: &[Vec<u64>],
    mut pass: impl FnMut(&mut dyn FnMut(usize, f64)) -> Result<(), E>,
) -> Result<Vec<Vec<f64>>, E> {
    // For each rank its column, the leading bits known so far, and the rank among the values that share them.
    let mut known: Vec<(usize, u64, u64)> =
        ranks.iter().enumerate().flat_map(|(column, of)| of.iter().map(move |rank| (column, 0, *rank))).collect();
    for round in 0..4_u32 {
        let shift = 48 - 16 * round;
        let mut prefixes: Vec<(usize, u64)> = known.iter().map(|(column, prefix, _)| (*column, *prefix)).collect();
        prefixes.sort_unstable();
        prefixes.dedup();
        let mut counts = vec![vec![0_u64; 1 << 16]; prefixes.len()];
        pass(&mut |column, x| {
            let bits = ordered_bits(x);
            let prefix = if round == 0 { 0 } else { bits >> (shift + 16) };
            if let Ok(place) = prefixes.binary_search(&(column, prefix))
                && let Some(count) = counts.get_mut(place).and_then(|c| c.get_mut((bits >> shift) as usize & 0xffff))
            {
                *count += 1;
            }
        })?;
        for (column, prefix, rank) in &mut known {
            let of = prefixes.binary_search(&(*column, *prefix)).ok().and_then(|place| counts.get(place));
            let mut left = *rank;
            let digit = of.into_iter().flatten().position(|count| match left < *count {
                true => true,
                false => {
                    left -= *count;
                    false
                }
            });
            // A rank beyond the last value ends at the largest bits: NaN.
            *prefix = (*prefix << 16) | digit.unwrap_or(0xffff) as u64;
            *rank = left;
        }
    }
    let mut all = vec![Vec::new(); ranks.len()];
    for (column, bits, _) in known {
        if let Some(list) = all.get_mut(column) {
            list.push(from_ordered(bits));
        }
    }
    Ok(all)
}

/// [`order_statistics_of`] one column.
///
/// # Errors
/// Those of `pass`.
pub fn order_statistics<E>(
    ranks: &[u64],
    mut pass: impl FnMut(&mut dyn FnMut(f64)) -> Result<(), E>,
) -> Result<Vec<f64>, E> {
    let all = order_statistics_of(&[ranks.to_vec()], |each| pass(&mut |x| each(0, x)))?;
    Ok(all.into_iter().next().unwrap_or_default())
}

/// Quantiles of several columns with `counts` values each, by straight lines between order statistics, as
/// [`super::distribution::sorted_quantile`]; NaN for a column without values.
///
/// # Errors
/// Those of `pass`; see [`order_statistics_of`].
pub fn quantiles_of<E>(
    shares: &[f64],
    counts: &[u64],
    pass: impl FnMut(&mut dyn FnMut(usize, f64)) -> Result<(), E>,
) -> Result<Vec<Vec<f64>>, E> {
    let place = |p: &f64, count: u64| p.clamp(0.0, 1.0) * count.saturating_sub(1) as f64;
    let ranks = |count: &u64| {
        shares.iter().flat_map(|p| [place(p, *count).floor() as u64, place(p, *count).ceil() as u64]).collect()
    };
    let values = order_statistics_of(&counts.iter().map(ranks).collect::<Vec<_>>(), pass)?;
    let between = |count: u64, p: &f64, pair: &[f64]| match pair {
        [a, b] => a + (place(p, count) - place(p, count).floor()) * (b - a),
        _ => f64::NAN,
    };
    let column = |(list, count): (&Vec<f64>, &u64)| {
        shares.iter().zip(list.chunks(2)).map(|(p, pair)| between(*count, p, pair)).collect()
    };
    Ok(values.iter().zip(counts).map(column).collect())
}

/// [`quantiles_of`] one column.
///
/// # Errors
/// Those of `pass`.
pub fn quantiles<E>(
    shares: &[f64],
    count: u64,
    mut pass: impl FnMut(&mut dyn FnMut(f64)) -> Result<(), E>,
) -> Result<Vec<f64>, E> {
    let all = quantiles_of(shares, &[count], |each| pass(&mut |x| each(0, x)))?;
    Ok(all.into_iter().next().unwrap_or_default())
}

/// One bar of a histogram.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Bin {
    /// Lower edge.
    pub from: f64,
    /// Upper edge.
    pub to: f64,
    /// Share of all values in it, with its interval.
    pub share: Share,
}

/// Most bins of a histogram: more than there are pixels to draw them.
pub const MOST_BINS: usize = 100_000;

/// Edges of about `bins` equal bins from `low` to `high` with one edge at each of the `marks` between them, so that no bin lies
/// on both sides of one: the bins are counted from the first mark, a whole number of them lies between the first two, and
/// any other divides the bin it falls into. One bin without width if all is one value.
pub fn edges(low: f64, high: f64, bins: usize, marks: &[f64]) -> Vec<f64> {
    if !(high > low) {
        return vec![low, high];
    }
    let bins = bins.clamp(1, MOST_BINS);
    let mut inside: Vec<f64> = marks.iter().copied().filter(|m| *m > low && *m <= high).collect();
    inside.sort_by(f64::total_cmp);
    inside.dedup();
    let mut width = (high - low) / bins as f64;
    let Some(first) = inside.first().copied() else {
        return (0..=bins).map(|i| if i == bins { high } else { low + width * i as f64 }).collect();
    };
    if let Some(second) = inside.get(1) {
        let between = (second - first) / ((second - first) / width).round().max(1.0);
        // Two marks close to each other are no measure of a bin.
        if between > 0.25 * width {
            width = between;
        }
    }
    let mut all: Vec<f64> = vec![first];
    let mut k = 0.0;
    while all.first().is_some_and(|e| *e > low) {
        k += 1.0;
        all.insert(0, first - k * width);
    }
    k = 0.0;
    // A value at the upper end belongs to the bin that begins there.
    while all.last().is_some_and(|e| *e < high || inside.last() == Some(e)) {
        k += 1.0;
        all.push(first + k * width);
    }
    for mark in inside {
        match all.iter_mut().find(|e| (**e - mark).abs() < 1e-6 * width) {
            Some(edge) => *edge = mark,
            None => {
                let place = all.partition_point(|e| *e < mark);
                all.insert(place, mark);
            }
        }
    }
    all
}

/// Counts in bins between rising edges; a value on an edge belongs to the bin above it, the last edge to the last bin. Values
/// outside belong to none.
#[derive(Debug, Clone, PartialEq)]
pub struct Histogram {
    edges: Vec<f64>,
    counts: Vec<u64>,
    of: u64,
}

impl Histogram {
    /// Empty.
    pub fn new(edges: Vec<f64>) -> Histogram {
        Histogram { counts: vec![0; edges.len().saturating_sub(1).max(1)], edges, of: 0 }
    }

    /// Counts one value.
    pub fn add(&mut self, x: f64) {
        self.of += 1;
        if !self.edges.last().is_some_and(|last| x <= *last) {
            return;
        }
        let above = self.edges.partition_point(|e| *e <= x);
        let last = self.counts.len() - 1;
        if let Some(count) = above.checked_sub(1).and_then(|bin| self.counts.get_mut(bin.min(last))) {
            *count += 1;
        }
    }

    /// The bars.
    pub fn bins(&self) -> Vec<Bin> {
        let bin = |(pair, count): (&[f64], &u64)| match pair {
            [from, to] => Some(Bin { from: *from, to: *to, share: share(*count, self.of) }),
            _ => None,
        };
        self.edges.windows(2).zip(&self.counts).filter_map(bin).collect()
    }
}
