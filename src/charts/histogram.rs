//! A histogram with limit lines, and how much lies on either side of them.

use super::look::{self, LineLook};
use super::page::Page;
use super::plot::{self, AxisSpec};
use super::sheet::{Rect, Sheet};
use plotters::style::RGBColor;

/// A limit to be marked.
#[derive(Debug, Clone, PartialEq)]
pub struct Limit {
    /// Its value, display units.
    pub value: f64,
    /// Its name; may say how many lie beyond it.
    pub text: String,
    /// Whether values below it are bad; `None`: neither side is.
    pub bad_below: Option<bool>,
}

/// A histogram, in display units.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct HistogramPicture {
    /// Title, conditions, foot.
    pub page: Page,
    /// What the horizontal axis shows, with its unit.
    pub x_name: String,
    /// What is counted, for example "units out of 1000".
    pub y_name: String,
    /// Edges of the bins, rising; one more than counts.
    pub edges: Vec<f64>,
    /// Number in each bin.
    pub counts: Vec<f64>,
    /// Limits to mark.
    pub limits: Vec<Limit>,
}

/// Bins of equal width for `values` by the rule of Freedman and Diaconis (width `2 IQR / n^(1/3)`, 1981), 5 to 60 of
/// them; values that are not finite are left out. Returns edges and counts; both empty without a finite value.
pub fn bins(values: &[f64]) -> (Vec<f64>, Vec<f64>) {
    let mut sorted: Vec<f64> = values.iter().copied().filter(|v| v.is_finite()).collect();
    sorted.sort_by(f64::total_cmp);
    let (Some(&low), Some(&high)) = (sorted.first(), sorted.last()) else { return (Vec::new(), Vec::new()) };
    let quantile = |f: f64| sorted.get((f * (sorted.len() - 1) as f64).round() as usize).copied().unwrap_or(low);
    let width = 2.0 * (quantile(0.75) - quantile(0.25)) / (sorted.len() as f64).cbrt();
    let span = if high > low { high - low } else { low.abs().max(1.0) };
    let low = if high > low { low } else { low - 0.5 * span };
    let number = if width > 0.0 { (span / width).ceil().clamp(5.0, 60.0) } else { 5.0 };
    let mut counts = vec![0.0; number as usize];
    for v in &sorted {
        let bin = (((v - low) / span * number) as usize).min(counts.len() - 1);
        if let Some(count) = counts.get_mut(bin) {
            *count += 1.0;
        }
    }
    ((0..=counts.len()).map(|i| low + span * i as f64 / number).collect(), counts)
}

/// Bars that lie wholly on the bad side of a limit, and their hatch.
const BAD: RGBColor = RGBColor(255, 226, 178);

/// Bins without width, of values that are all the same, as one bar about that value, on the value's side of every limit.
fn widened(picture: &HistogramPicture) -> (Vec<f64>, Vec<f64>) {
    let HistogramPicture { edges, counts, limits, .. } = picture;
    match (edges.first(), edges.last()) {
        (Some(&low), Some(&high)) if low == high => {
            let usual = if low == 0.0 { 0.1 } else { 0.02 * low.abs() };
            let apart = limits.iter().map(|l| 0.5 * (l.value - low).abs()).filter(|d| *d > 0.0);
            let half = apart.fold(usual, f64::min);
            (vec![low - half, low + half], vec![counts.iter().sum()])
        }
        _ => (edges.clone(), counts.clone()),
    }
}

/// Lays the histogram out.
pub fn lay_out_histogram(picture: &HistogramPicture) -> Sheet {
    let mut sheet = Sheet::sized(look::WIDTH, 720.0);
    let area = picture.page.draw(&mut sheet);
    let (edges, counts) = widened(picture);
    // One bar alone has room on both sides.
    let room = match edges.as_slice() {
        [low, high] => vec![3.0 * low - 2.0 * high, 3.0 * high - 2.0 * low],
        _ => Vec::new(),
    };
    let xs = edges.iter().copied().chain(room).chain(picture.limits.iter().map(|l| l.value));
    let x = AxisSpec::around(&picture.x_name, xs, false);
    let y = AxisSpec::around("", counts.iter().copied(), true);
    let panel = plot::plot(&mut sheet, area, &picture.y_name, &x, &AxisSpec::new("", 0.0, 1.12 * y.high), 14.0);
    for (pair, count) in edges.windows(2).zip(&counts) {
        let &[low, high] = pair else { continue };
        // An edge and a limit that are one value may differ by rounding in the unit shown.
        let near = 1e-9 * (high - low);
        let r = Rect::new(panel.x.px(low), panel.y.px(*count), panel.x.px(high), panel.y.px(0.0));
        if !(r.x1 > r.x0 && r.y1 > r.y0) {
            continue;
        }
        let bad = picture.limits.iter().any(|l| match l.bad_below {
            Some(true) => high <= l.value + near,
            Some(false) => low >= l.value - near,
            None => false,
        });
        sheet.fill_rect(r, if bad { BAD } else { look::OPEN });
        if bad {
            slashes(&mut sheet, r);
        }
        sheet.frame(r, LineLook::solid(look::INK, 1.0));
    }
    plot::frame(&mut sheet, &panel);
    let limits: Vec<_> = picture.limits.iter().map(|l| (l.value, l.text.as_str())).collect();
    plot::limit_lines(&mut sheet, &panel, &limits);
    sheet
}

/// Slanted lines in a bar.
fn slashes(sheet: &mut Sheet, r: Rect) {
    let look = LineLook::solid(look::HATCH, 1.6);
    let mut c = ((r.x0 + r.y0) / 9.0).ceil() * 9.0;
    let mut most = 400;
    while c < r.x1 + r.y1 && most > 0 {
        let (xa, xb) = ((c - r.y1).clamp(r.x0, r.x1), (c - r.y0).clamp(r.x0, r.x1));
        if xb - xa > 1.0 {
            sheet.line(&[(xa, c - xa), (xb, c - xb)], look);
        }
        c += 9.0;
        most -= 1;
    }
}
