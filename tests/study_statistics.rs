//! Sampling, distributions, intervals and variance shares against closed solutions and published values.
// The helpers outside #[test] functions may stop a test as the tests themselves may.
#![allow(clippy::unwrap_used, clippy::panic)]

use poppetry::error::{At, Source};
use poppetry::study::distribution::{Distribution, normal_quantile};
use poppetry::study::sampling::{Design, Sample};
use poppetry::study::sensitivity::{Gather, Scheme};
use poppetry::study::statistics::{Histogram, edges, estimate, order_statistics, quantiles, share};
use std::f64::consts::PI;

/// f = sin x1 + 7 sin^2 x2 + 0.1 x3^4 sin x1 on (-pi, pi)^3.
/// Source: T. Ishigami, T. Homma, ISUMA 1990; closed indices in A. Saltelli et al., Global Sensitivity Analysis (2008).
fn ishigami(u: &[f64]) -> f64 {
    let x: Vec<f64> = u.iter().map(|u| PI * (2.0 * u - 1.0)).collect();
    x[0].sin() + 7.0 * x[1].sin().powi(2) + 0.1 * x[2].powi(4) * x[0].sin()
}

/// First-order and total indices from the closed partial variances with a = 7, b = 0.1.
fn ishigami_indices() -> (Vec<f64>, Vec<f64>) {
    let (a, b) = (7.0_f64, 0.1_f64);
    let v1 = 0.5 * (1.0 + b * PI.powi(4) / 5.0).powi(2);
    let v2 = a * a / 8.0;
    let v13 = b * b * PI.powi(8) * (1.0 / 18.0 - 1.0 / 50.0);
    let v = v1 + v2 + v13;
    (vec![v1 / v, v2 / v, 0.0], vec![(v1 + v13) / v, v2 / v, v13 / v])
}

/// Coefficients of the g-function in the usual test case. Source: A. Saltelli, I. M. Sobol, 1995.
const A: [f64; 8] = [0.0, 1.0, 4.5, 9.0, 99.0, 99.0, 99.0, 99.0];

fn g_function(u: &[f64]) -> f64 {
    u.iter().zip(A).map(|(u, a)| ((4.0 * u - 2.0).abs() + a) / (1.0 + a)).product()
}

/// V_i = 1 / (3 (1 + a_i)^2), V = prod (1 + V_i) - 1, VT_i = V_i prod_(k != i) (1 + V_k).
fn g_indices() -> (Vec<f64>, Vec<f64>) {
    let single: Vec<f64> = A.iter().map(|a| 1.0 / (3.0 * (1.0 + a).powi(2))).collect();
    let all: f64 = single.iter().map(|v| 1.0 + v).product();
    let v = all - 1.0;
    (single.iter().map(|x| x / v).collect(), single.iter().map(|x| x * all / (1.0 + x) / v).collect())
}

type Case = (&'static str, fn(&[f64]) -> f64, (Vec<f64>, Vec<f64>));

fn cases() -> [Case; 2] {
    [("Ishigami", ishigami, ishigami_indices()), ("g", g_function, g_indices())]
}

fn gathered(f: fn(&[f64]) -> f64, base: u64, replicates: u64, inputs: usize, seed: u64) -> Gather {
    let scheme = Scheme::new(base, replicates, inputs, seed).unwrap();
    let mut gather = Gather::new(scheme);
    (0..scheme.len()).for_each(|i| gather.push(Some(f(&scheme.point(i)))));
    gather
}

/// The published figures to three digits, so that the closed forms above are not taken on trust.
#[test]
fn ref_closed_indices_are_the_published_ones() {
    let (first, total) = ishigami_indices();
    for (value, published) in first.iter().chain(&total).zip([0.3139, 0.4424, 0.0, 0.5576, 0.4424, 0.2437]) {
        assert!((value - published).abs() < 5e-5, "{value} {published}");
    }
    let (first, _) = g_indices();
    for (value, published) in first.iter().zip([0.716, 0.179, 0.0237, 0.0072]) {
        assert!((value - published).abs() < 5e-4, "{value} {published}");
    }
}

#[test]
fn ref_indices_within_0_005_for_one_scrambling_of_2_to_the_14() {
    for (name, f, (first, total)) in cases() {
        for seed in [1, 2, 3] {
            let indices = gathered(f, 1 << 14, 1, first.len(), seed).indices().unwrap();
            for (i, index) in indices.iter().enumerate() {
                let (d1, dt) = (index.first.mean - first[i], index.total.mean - total[i]);
                assert!(d1.abs() < 0.005 && dt.abs() < 0.005, "{name} seed {seed} input {i}: {d1} {dt}");
            }
        }
    }
}

/// 20 seeds, 16 replicates of 2^10: mean within 0.01, half-width at most 0.01, and the intervals cover the closed value in
/// 88 to 100 % of the cases (95 % nominal; the lower limit leaves room for the finite number of cases).
#[test]
fn ref_indices_of_16_replicates_of_2_to_the_10_and_their_intervals() {
    let (mut covered, mut all, mut worst, mut widest) = (0, 0, 0.0_f64, 0.0_f64);
    for (name, f, (first, total)) in cases() {
        for seed in 1..=20 {
            let indices = gathered(f, 1 << 10, 16, first.len(), seed).indices().unwrap();
            for (i, index) in indices.iter().enumerate() {
                for (e, exact) in [(index.first, first[i]), (index.total, total[i])] {
                    let error = (e.mean - exact).abs();
                    assert!(error < 0.01, "{name} seed {seed} input {i}: {error}");
                    assert!(e.half_width <= 0.01, "{name} seed {seed} input {i}: {}", e.half_width);
                    all += 1;
                    covered += i32::from(error <= e.half_width);
                    (worst, widest) = (worst.max(error), widest.max(e.half_width));
                }
            }
        }
    }
    let coverage = f64::from(covered) / f64::from(all);
    println!("largest error {worst:.4}, widest half-width {widest:.4}, coverage {:.1} % of {all}", 100.0 * coverage);
    assert!((0.88..=1.0).contains(&coverage), "{coverage}");
}

/// A failed run takes its base point with it and nothing else; an output that never varies has no indices.
#[test]
fn analytic_failed_runs_drop_their_base_point() {
    let scheme = Scheme::new(256, 4, 3, 5).unwrap();
    let mut gather = Gather::new(scheme);
    (0..scheme.len()).for_each(|i| gather.push((i % 500 != 7).then(|| ishigami(&scheme.point(i)))));
    assert_eq!(gather.dropped(), (0..scheme.len()).filter(|i| i % 500 == 7).count() as u64);
    let (first, _) = ishigami_indices();
    for (index, exact) in gather.indices().unwrap().iter().zip(first) {
        assert!((index.first.mean - exact).abs() < 0.05);
    }
    let mut flat = Gather::new(scheme);
    (0..scheme.len()).for_each(|_| flat.push(Some(3.0)));
    assert!(flat.indices().is_none());
}

/// Additive functions: the variance of the mean over a Latin hypercube falls as n^-3 (smooth terms), so the slope against
/// log n is -2 or steeper. Source: M. Stein, Technometrics 29 (1987) 143.
#[test]
fn ref_variance_of_a_latin_hypercube_mean_of_an_additive_function_falls_with_slope_2_or_steeper() {
    let f = |u: &[f64]| u[0].powi(2) + (3.0 * u[1]).sin() + u[2].exp() + u[3];
    let exact = 1.0 / 3.0 + (1.0 - 3.0_f64.cos()) / 3.0 + (1.0_f64.exp() - 1.0) + 0.5;
    let mut points = Vec::new();
    for n in [8_u64, 16, 32, 64, 128, 256] {
        let replicates = 200;
        let errors = (0..replicates).map(|seed| {
            let sample = Sample::new(Design::LatinHypercube, n, 4, 1000 + seed).unwrap();
            (0..n).map(|i| f(&sample.point(i))).sum::<f64>() / n as f64 - exact
        });
        let variance = errors.map(|e| e * e).sum::<f64>() / replicates as f64;
        points.push(((n as f64).ln(), variance.ln()));
    }
    let n = points.len() as f64;
    let (mx, my) = points.iter().fold((0.0, 0.0), |(a, b), (x, y)| (a + x / n, b + y / n));
    let slope = points.iter().map(|(x, y)| (x - mx) * (y - my)).sum::<f64>()
        / points.iter().map(|(x, _)| (x - mx).powi(2)).sum::<f64>();
    println!("slope {slope:.2}");
    assert!(slope <= -2.0, "{slope}");
}

/// Every slice of every coordinate holds exactly one point of a Latin hypercube; the first 2^m Sobol points hit each of the
/// 2^m elementary boxes of two coordinates once.
#[test]
fn analytic_latin_and_net_structure() {
    let sample = Sample::new(Design::LatinHypercube, 1000, 3, 9).unwrap();
    for j in 0..3 {
        let mut slices: Vec<usize> = (0..1000).map(|i| (sample.point(i)[j] * 1000.0) as usize).collect();
        slices.sort_unstable();
        assert!(slices.iter().copied().eq(0..1000));
    }
    let sample = Sample::new(Design::Sobol, 1 << 14, 16, 9).unwrap();
    for j in 0..16 {
        let mut cells: Vec<usize> = (0..1 << 14).map(|i| (sample.point(i)[j] * 16384.0) as usize).collect();
        cells.sort_unstable();
        assert!(cells.iter().copied().eq(0..1 << 14), "coordinate {j}");
    }
    let mut boxes: Vec<usize> = (0..256)
        .map(|i| {
            let p = sample.point(i);
            (p[0] * 16.0) as usize * 16 + (p[1] * 16.0) as usize
        })
        .collect();
    boxes.sort_unstable();
    assert!(boxes.iter().copied().eq(0..256));
}

/// Normal quantiles from a handbook table (M. Abramowitz, I. A. Stegun, table 26.5).
#[test]
fn ref_quantile_functions() {
    for (p, z) in [(0.975, 1.959_963_985), (0.9, 1.281_551_566), (0.5, 0.0), (0.001, -3.090_232_306)] {
        assert!((normal_quantile(p) - z).abs() < 5e-10, "{p}");
    }
    let at = At::whole(Source::Study);
    let check = |d: Distribution| d.checked("x", &at).unwrap();
    let normal = check(Distribution::Normal { mean: 10.0, sd: 2.0 });
    assert!((normal.quantile(0.975) - 13.919_927_97).abs() < 1e-8);
    let uniform = check(Distribution::Uniform { low: -1.0, high: 3.0 });
    assert_eq!(uniform.quantile(0.25), 0.0);
    // Triangular 0, 1, 4: F(1) = 1/4; F(x) = 1 - (4 - x)^2 / 12 above the mode, so F(2) = 2/3; F(0.5) = 1/16.
    let triangular = check(Distribution::Triangular { low: 0.0, mode: 1.0, high: 4.0 });
    for (p, x) in [(1.0 / 16.0, 0.5), (0.25, 1.0), (2.0 / 3.0, 2.0)] {
        assert!((triangular.quantile(p) - x).abs() < 1e-14);
    }
    let lognormal = check(Distribution::Lognormal { median: 5.0, factor: 1.5 });
    assert!((lognormal.quantile(0.5) - 5.0).abs() < 1e-12);
    // One standard deviation up, p = 0.841344746.
    assert!((lognormal.quantile(0.841_344_746_068_543) - 7.5).abs() < 1e-9);
    let sample = check(Distribution::Sample { values: vec![1.0, 2.0, 4.0, 8.0] });
    for (p, x) in [(0.0, 1.0), (1.0 / 3.0, 2.0), (0.5, 3.0), (1.0, 8.0)] {
        assert!((sample.quantile(p) - x).abs() < 1e-14);
    }
    for (bad, part) in [
        (Distribution::Normal { mean: 1.0, sd: -0.1 }, "cannot be negative"),
        (Distribution::Normal { mean: 1.0, sd: f64::NAN }, "cannot be negative"),
        (Distribution::Uniform { low: 2.0, high: 1.0 }, "low must not be above high"),
        (Distribution::Triangular { low: 0.0, mode: 5.0, high: 4.0 }, "in this order"),
        (Distribution::Lognormal { median: 0.0, factor: 2.0 }, "above zero"),
        (Distribution::Lognormal { median: 1.0, factor: 0.9 }, "cannot be below 1"),
        (Distribution::Sample { values: vec![1.0] }, "at least two"),
    ] {
        assert!(bad.checked("x", &at).unwrap_err().to_string().contains(part));
    }
}

/// Quantiles of a Latin hypercube of 1000 points of each distribution against its closed quantile. Slice k holds p between
/// k/n and (k+1)/n, so an order statistic is off by at most one slice and the straight line by another.
#[test]
fn analytic_quantiles_of_samples_agree_with_closed_forms() {
    let n = 1000_u64;
    let sample = Sample::new(Design::LatinHypercube, n, 4, 3).unwrap();
    let all = [
        Distribution::Normal { mean: 2.2, sd: 0.1 },
        Distribution::Uniform { low: 1.0, high: 3.0 },
        Distribution::Triangular { low: 0.0, mode: 1.0, high: 4.0 },
        Distribution::Lognormal { median: 5.0, factor: 1.5 },
    ];
    for (j, d) in all.iter().enumerate() {
        let shares = [0.01, 0.05, 0.25, 0.5, 0.75, 0.95, 0.99];
        let pass = |each: &mut dyn FnMut(f64)| {
            (0..n).for_each(|i| each(d.quantile(sample.point(i)[j])));
            Ok::<(), ()>(())
        };
        let found = quantiles(&shares, n, pass).unwrap();
        for (p, x) in shares.iter().zip(found) {
            let slack = 2.0 / n as f64;
            assert!(x >= d.quantile(p - slack) && x <= d.quantile(p + slack), "{d:?} {p}: {x}");
        }
    }
}

#[test]
fn analytic_order_statistics_in_four_passes_are_those_of_sorting() {
    let mut values: Vec<f64> = (0..5000).map(|i| ((f64::from(i) * 0.7312).sin() * 10.0).powi(3)).collect();
    values.extend([0.0, -0.0, 1e300, -1e300, 5e-324]);
    let ranks: Vec<u64> = (0..values.len() as u64).step_by(37).collect();
    let found = order_statistics(&ranks, |each| {
        values.iter().for_each(|v| each(*v));
        Ok::<(), ()>(())
    })
    .unwrap();
    let mut sorted = values.clone();
    sorted.sort_by(f64::total_cmp);
    for (rank, x) in ranks.iter().zip(found) {
        assert_eq!(x, sorted[*rank as usize]);
    }
}

/// Exact limits: for 0 of n the upper end is 1 - 0.025^(1/n), for n of n the lower end 0.025^(1/n). 8 of 10 from the tables
/// of Clopper and Pearson (1934): 0.444 to 0.975. t(0.975; 3) = 3.182446 from the handbook.
/// No bin lies on both sides of a limit: 42 of 200 below it were 35 in bars that lay wholly below. Value k of 0.01 k has k
/// values below it.
#[test]
fn bug_every_limit_lies_between_two_bins() {
    let values: Vec<f64> = (0..200).map(|k| 0.01 * f64::from(k)).collect();
    for marks in [vec![0.42], vec![0.42, 1.375], vec![0.42, 0.43, 1.375], vec![0.0, 1.99], vec![-1.0, 9.0], vec![]] {
        let all = edges(0.0, 1.99, 24, &marks);
        assert!(all.windows(2).all(|w| w[0] < w[1]) && all[0] <= 0.0 && *all.last().unwrap() >= 1.99, "{all:?}");
        let mut histogram = Histogram::new(all.clone());
        values.iter().for_each(|v| histogram.add(*v));
        let bins = histogram.bins();
        assert_eq!(bins.iter().map(|b| b.share.count).sum::<u64>(), 200);
        for mark in marks.iter().filter(|m| (0.0..=1.99).contains(*m)) {
            let below: u64 = bins.iter().filter(|b| b.to <= *mark).map(|b| b.share.count).sum();
            assert_eq!(below, values.iter().filter(|v| *v < mark).count() as u64, "{mark} {all:?}");
        }
        // With one or two limits all bins have one width.
        if marks.len() <= 2 {
            let width = all[1] - all[0];
            assert!(all.windows(2).all(|w| (w[1] - w[0] - width).abs() < 1e-9), "{all:?}");
        }
    }
    // A limit that its own value does not meet, or meets from below, has the value below it.
    let all = edges(0.0, 0.0, 24, &[0.0_f64.next_up()]);
    assert_eq!(all, [0.0, 0.0]);
    let mut histogram = Histogram::new(edges(0.0, 1.0, 10, &[0.5_f64.next_up()]));
    histogram.add(0.5);
    let bins = histogram.bins();
    assert!(bins.iter().any(|b| b.share.count == 1 && b.to <= 0.5_f64.next_up()), "{bins:?}");
}

#[test]
fn ref_intervals_of_shares_and_means() {
    for n in [1_u64, 10, 500] {
        let limit = 0.025_f64.powf(1.0 / n as f64);
        assert!((share(0, n).high - (1.0 - limit)).abs() < 1e-9 && share(0, n).low == 0.0);
        assert!((share(n, n).low - limit).abs() < 1e-9 && share(n, n).high == 1.0);
    }
    let eight = share(8, 10);
    assert!((eight.low - 0.4439).abs() < 5e-5 && (eight.high - 0.9748).abs() < 5e-5, "{eight:?}");
    let e = estimate(&[1.0, 2.0, 3.0, 4.0]);
    // s = sqrt(5/3), half-width t s / 2.
    assert!((e.mean - 2.5).abs() < 1e-15 && (e.half_width - 3.182_446 * (5.0_f64 / 3.0).sqrt() / 2.0).abs() < 1e-5);
    assert!(estimate(&[1.0]).half_width.is_nan());
}
