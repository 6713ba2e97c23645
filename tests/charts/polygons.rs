//! Do two polygons overlap?

type Point = (f64, f64);

/// Where a horizontal line runs inside a polygon.
fn spans(points: &[Point], y: f64) -> Vec<(f64, f64)> {
    let mut cuts = Vec::new();
    for (i, a) in points.iter().enumerate() {
        let b = points[(i + 1) % points.len()];
        if (a.1 <= y) != (b.1 <= y) {
            cuts.push(a.0 + (y - a.1) / (b.1 - a.1) * (b.0 - a.0));
        }
    }
    cuts.sort_by(f64::total_cmp);
    cuts.chunks(2).map(|c| (c[0], c[1])).collect()
}

/// Widest horizontal or vertical stretch that two polygons share on a fine grid of lines, m.
pub fn overlap(a: &[Point], b: &[Point]) -> f64 {
    let turned = |p: &[Point]| p.iter().map(|p| (p.1, p.0)).collect::<Vec<_>>();
    along(a, b).min(along(&turned(a), &turned(b)))
}

fn along(a: &[Point], b: &[Point]) -> f64 {
    let range = |p: &[Point]| p.iter().fold((f64::MAX, f64::MIN), |(l, h), p| (l.min(p.1), h.max(p.1)));
    let ((a0, a1), (b0, b1)) = (range(a), range(b));
    let (low, high) = (a0.max(b0), a1.min(b1));
    let mut widest = 0.0f64;
    for i in 0..80 {
        let y = low + (high - low) * (f64::from(i) + 0.37) / 80.0;
        if high - low < 1e-9 {
            break;
        }
        for s in spans(a, y) {
            for t in spans(b, y) {
                widest = widest.max(s.1.min(t.1) - s.0.max(t.0));
            }
        }
    }
    widest
}
