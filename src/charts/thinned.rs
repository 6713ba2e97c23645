//! Curves cut to what a panel and its pixels can show.

use super::axis::Axis;

/// A curve cut to a range of values: where it leaves the range it ends on its edge, and a gap follows.
pub(super) fn cut(time: &[f64], values: &[f64], low: f64, high: f64) -> (Vec<f64>, Vec<f64>) {
    let (mut times, mut kept) = (Vec::with_capacity(time.len()), Vec::with_capacity(time.len()));
    let mut last: Option<(f64, f64)> = None;
    for (&t, &v) in time.iter().zip(values) {
        if let Some((before, from)) = last {
            for edge in if v > from { [low, high] } else { [high, low] } {
                if (from - edge) * (v - edge) < 0.0 {
                    times.push(before + (edge - from) / (v - from) * (t - before));
                    kept.push(edge);
                }
            }
        }
        times.push(t);
        kept.push(if v >= low && v <= high { v } else { f64::NAN });
        last = v.is_finite().then_some((t, v));
    }
    (times, kept)
}

/// A curve in pixels, cut to the horizontal axis and thinned: where several samples fall into one pixel column, the
/// first, lowest, highest and last of them stay. Broken where a time or value is not finite.
pub fn decimated(time: &[f64], values: &[f64], x: &Axis, y: &Axis) -> Vec<Vec<(f64, f64)>> {
    let mut runs = Vec::new();
    let mut run = Thinned::default();
    let mut last: Option<(f64, f64)> = None;
    for (t, v) in time.iter().zip(values) {
        let here = (x.px(*t), y.px(*v));
        if here.0.is_nan() || here.1.is_nan() {
            runs.push(std::mem::take(&mut run));
            last = None;
            continue;
        }
        let inside = x.shows(*t);
        if let Some(before) = last {
            let (left, right) = (x.from, x.to);
            let outside = |p: (f64, f64)| p.0 < left || p.0 > right;
            // The piece of the segment between the edges of the window; its ends are where it crosses them.
            for edge in if here.0 >= before.0 { [left, right] } else { [right, left] } {
                let crosses = (before.0 - edge) * (here.0 - edge) < 0.0;
                if crosses && (outside(before) || outside(here)) {
                    let f = (edge - before.0) / (here.0 - before.0);
                    run.push((edge, before.1 + f * (here.1 - before.1)));
                }
            }
        }
        if inside {
            run.push(here);
        } else if last.is_some() {
            runs.push(std::mem::take(&mut run));
        }
        last = Some(here);
    }
    runs.push(run);
    runs.into_iter().map(Thinned::done).filter(|r| !r.is_empty()).collect()
}

/// Points of one run; those of the current pixel column are held back until it is complete.
#[derive(Default)]
struct Thinned {
    points: Vec<(f64, f64)>,
    column: Vec<(f64, f64)>,
}

impl Thinned {
    fn push(&mut self, p: (f64, f64)) {
        if self.column.first().is_some_and(|first| first.0.floor() != p.0.floor()) {
            self.flush();
        }
        self.column.push(p);
        if self.column.len() > 4096 {
            self.flush();
        }
    }

    fn flush(&mut self) {
        let held = std::mem::take(&mut self.column);
        if held.len() <= 4 {
            self.points.extend(held);
            return;
        }
        let pick = |best: fn(f64, f64) -> bool| {
            held.iter()
                .enumerate()
                .fold(0, |at, (i, p)| if held.get(at).is_some_and(|b| best(p.1, b.1)) { i } else { at })
        };
        let mut keep = [0, pick(|a, b| a < b), pick(|a, b| a > b), held.len() - 1];
        keep.sort_unstable();
        let mut last = None;
        for i in keep {
            if last != Some(i) {
                self.points.extend(held.get(i));
            }
            last = Some(i);
        }
    }

    fn done(mut self) -> Vec<(f64, f64)> {
        self.flush();
        self.points
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A straight line from 0 to 10 leaves the range at its edge; one that jumps over the range crosses it whole.
    #[test]
    fn analytic_a_cut_curve_ends_on_the_edges_of_its_range() {
        let (time, values) = cut(&[0.0, 1.0, 2.0], &[0.0, 10.0, -10.0], -1.0, 2.0);
        let known: Vec<_> = time.iter().zip(&values).filter(|p| p.1.is_finite()).map(|(t, v)| (*t, *v)).collect();
        assert_eq!(known, [(0.0, 0.0), (0.2, 2.0), (1.4, 2.0), (1.55, -1.0)]);
        assert_eq!(values.iter().filter(|v| v.is_nan()).count(), 2);
    }
}
