//! Liquid water and ice Ih for the inner loop: volume and enthalpy with their slopes, from tables filled on first use.
//!
//! The range is cut into patches; on each the exact laws (IAPWS-95 and R10-06) are interpolated at 9 × 9 Chebyshev nodes.
//! A patch is filled (81 exact states, about 1 ms) when it is first asked for, so a night pays for the few it visits. Error
//! against the exact laws: volume 2e-10 relative, enthalpy 2e-4 J/kg (held by a test below).

use crate::laws::ice::IceState;
use crate::laws::water::WaterState;
use std::sync::OnceLock;

/// Nodes of a patch along temperature and along pressure.
pub(super) const N: usize = 9;
/// Patches along pressure, all tables.
const ROWS: usize = 4;
/// Highest pressure served, Pa absolute: a little beyond the end of the melting curve.
const TOP: f64 = 212e6;
/// How far beyond its patch a polynomial may be followed, in half widths.
const BEYOND: f64 = 1.1;

/// Volume and enthalpy of one phase with their slopes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PhasePoint {
    /// Specific volume, m³/kg.
    pub v: f64,
    /// Its slope by temperature, m³/(kg K).
    pub v_t: f64,
    /// Its slope by pressure, m³/(kg Pa).
    pub v_p: f64,
    /// Specific enthalpy, J/kg.
    pub h: f64,
    /// Its slope by temperature, J/(kg K).
    pub h_t: f64,
    /// Its slope by pressure, J/(kg Pa).
    pub h_p: f64,
}

/// Coefficients of powers: `c[i][j] s^i r^j` with `s` along temperature, `r` along pressure.
type Powers = [[f64; N]; N];

/// Coefficients by powers of `r`: of every power of `s` that of volume and of enthalpy, so that all of these go through one
/// pass side by side.
struct Patch([[f64; 2 * N]; N]);

/// A phase over its range.
struct Table {
    /// Lower end and width of a patch along temperature, K.
    low: f64,
    step: f64,
    columns: usize,
    exact: fn(f64, f64) -> (f64, f64),
    patches: &'static [OnceLock<Patch>],
}

static LIQUID_PATCHES: [OnceLock<Patch>; 6 * ROWS] = [const { OnceLock::new() }; 6 * ROWS];
static ICE_PATCHES: [OnceLock<Patch>; 4 * ROWS] = [const { OnceLock::new() }; 4 * ROWS];

static LIQUID: Table = Table {
    low: 250.0,
    step: 11.0,
    columns: 6,
    exact: |t, p| {
        let state = WaterState::liquid(t, p);
        (1.0 / state.density, state.enthalpy)
    },
    patches: &LIQUID_PATCHES,
};

static ICE: Table = Table {
    low: 193.2,
    step: 20.01,
    columns: 4,
    exact: |t, p| {
        let state = IceState::new(t, p);
        (state.volume, state.enthalpy)
    },
    patches: &ICE_PATCHES,
};

/// Coldest and warmest liquid served, K.
pub const LIQUID_RANGE: (f64, f64) = (250.0, 316.0);
/// Coldest ice served, K.
pub const COLDEST_ICE: f64 = 193.2;

/// Liquid water at `t` K (250 to 316) and `p` Pa absolute (0 to 212 MPa), metastable below the melting point; NaN outside.
pub fn liquid(t: f64, p: f64) -> PhasePoint {
    LIQUID.at(t, p)
}

/// Ice Ih at `t` K (193.2 to 273.24) and `p` Pa absolute (0 to 212 MPa); NaN outside.
pub fn ice(t: f64, p: f64) -> PhasePoint {
    ICE.at(t, p)
}

impl Table {
    fn at(&self, t: f64, p: f64) -> PhasePoint {
        let column = ((t - self.low) / self.step).clamp(0.0, self.columns as f64 - 1.0) as usize;
        let height = TOP / ROWS as f64;
        let row = (p / height).clamp(0.0, ROWS as f64 - 1.0) as usize;
        let (half_t, half_p) = (0.5 * self.step, 0.5 * height);
        let (mid_t, mid_p) = (self.low + half_t * (2 * column + 1) as f64, half_p * (2 * row + 1) as f64);
        let (s, r) = ((t - mid_t) / half_t, (p - mid_p) / half_p);
        let patch = self.patches.get(column * ROWS + row);
        let (Some(patch), true) = (patch, s.abs() <= BEYOND && r.abs() <= BEYOND) else {
            let n = f64::NAN;
            return PhasePoint { v: n, v_t: n, v_p: n, h: n, h_t: n, h_p: n };
        };
        let patch = patch.get_or_init(|| Patch::filled(self.exact, (mid_t, half_t), (mid_p, half_p)));
        let [[v, h], [v_s, h_s], [v_r, h_r]] = value(&patch.0, s, r);
        PhasePoint { v, v_t: v_s / half_t, v_p: v_r / half_p, h, h_t: h_s / half_t, h_p: h_r / half_p }
    }
}

/// Values and both slopes of a pair of polynomials by Horner's rule.
#[inline]
fn value(c: &[[f64; 2 * N]; N], s: f64, r: f64) -> [[f64; 2]; 3] {
    let (mut g, mut g_r) = ([0.0; 2 * N], [0.0; 2 * N]);
    for row in c.iter().rev() {
        for ((g, g_r), x) in g.iter_mut().zip(&mut g_r).zip(row) {
            *g_r = *g_r * r + *g;
            *g = *g * r + x;
        }
    }
    let step = |sum: [f64; 2], more: [f64; 2]| [sum[0] * s + more[0], sum[1] * s + more[1]];
    let (mut f, mut f_s, mut f_r) = ([0.0; 2], [0.0; 2], [0.0; 2]);
    for i in (0..N).rev() {
        let at = |of: &[f64; 2 * N]| [of[2 * i], of[2 * i + 1]];
        f_s = step(f_s, f);
        f = step(f, at(&g));
        f_r = step(f_r, at(&g_r));
    }
    [f, f_s, f_r]
}

impl Patch {
    fn filled(exact: fn(f64, f64) -> (f64, f64), (mid_t, half_t): (f64, f64), (mid_p, half_p): (f64, f64)) -> Patch {
        let (mut v, mut h) = ([[0.0; N]; N], [[0.0; N]; N]);
        for i in 0..N {
            for j in 0..N {
                (v[i][j], h[i][j]) = exact(mid_t + half_t * node(i), mid_p + half_p * node(j));
            }
        }
        let (v, h) = (powers(&v), powers(&h));
        Patch(std::array::from_fn(|j| std::array::from_fn(|k| if k % 2 == 0 { v[k / 2][j] } else { h[k / 2][j] })))
    }
}

/// Place of node `k` between −1 and 1.
pub(super) fn node(k: usize) -> f64 {
    ((2 * k + 1) as f64 * std::f64::consts::PI / (2 * N) as f64).cos()
}

/// From values at the nodes to coefficients of powers: Chebyshev coefficients by the discrete cosine sum, then powers by
/// `T_{k+1} = 2 x T_k − T_{k−1}`.
pub(super) fn powers_of(values: &[f64; N]) -> [f64; N] {
    let mut out = [0.0; N];
    let (mut before, mut now) = ([0.0; N], [0.0; N]);
    before[0] = 1.0;
    now[1] = 1.0;
    for k in 0..N {
        let c: f64 = (0..N)
            .map(|i| values[i] * ((2 * i + 1) as f64 * k as f64 * std::f64::consts::PI / (2 * N) as f64).cos())
            .sum();
        let c = c * if k == 0 { 1.0 } else { 2.0 } / N as f64;
        for (o, x) in out.iter_mut().zip(&before) {
            *o += c * x;
        }
        let mut next = [0.0; N];
        for i in 0..N {
            next[i] = if i > 0 { 2.0 * now[i - 1] } else { 0.0 } - before[i];
        }
        (before, now) = (now, next);
    }
    out
}

/// The same along one direction and then the other.
fn powers(nodes: &Powers) -> Powers {
    let half: Vec<[f64; N]> = nodes.iter().map(powers_of).collect();
    let mut out = [[0.0; N]; N];
    for j in 0..N {
        let mut column = [0.0; N];
        for (c, row) in column.iter_mut().zip(&half) {
            *c = row[j];
        }
        for (row, c) in out.iter_mut().zip(powers_of(&column)) {
            row[j] = c;
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Deterministic points in the unit square (additive recurrence).
    fn scattered(n: usize) -> impl Iterator<Item = (f64, f64)> {
        (1..=n).map(|i| ((0.754_877_666 * i as f64).fract(), (0.569_840_29 * i as f64).fract()))
    }

    #[test]
    fn ref_tables_keep_their_stated_error_against_the_exact_laws() {
        let (mut worst_v, mut worst_h) = (0.0f64, 0.0f64);
        for (a, b) in scattered(3000) {
            let (t, p) = (250.0 + 66.0 * a, 212e6 * b * b);
            let (got, (v, h)) = (liquid(t, p), (LIQUID.exact)(t, p));
            worst_v = worst_v.max((got.v / v - 1.0).abs());
            worst_h = worst_h.max((got.h - h).abs());
            let (t, p) = (193.3 + 79.9 * a, 212e6 * b);
            let (got, (v, h)) = (ice(t, p), (ICE.exact)(t, p));
            worst_v = worst_v.max((got.v / v - 1.0).abs());
            worst_h = worst_h.max((got.h - h).abs());
        }
        assert!(worst_v < 2e-10 && worst_h < 2e-4, "{worst_v:e} {worst_h:e}");
    }

    #[test]
    fn ref_slopes_agree_with_the_exact_laws() {
        for (a, b) in scattered(300) {
            let (t, p) = (251.0 + 64.0 * a, 1e5 + 208e6 * b);
            let (got, exact) = (liquid(t, p), WaterState::liquid(t, p));
            assert!((got.h_t / exact.cp - 1.0).abs() < 1e-6);
            assert!((-got.v / got.v_p / exact.isothermal_bulk_modulus - 1.0).abs() < 1e-6);
            assert!((got.v_t / got.v - exact.thermal_expansion).abs() < 1e-9);
            let t = 200.0 + 73.0 * a;
            let (got, exact) = (ice(t, p), IceState::new(t, p));
            assert!((got.h_t / exact.cp - 1.0).abs() < 1e-6);
            assert!((-got.v_p / got.v / exact.compressibility - 1.0).abs() < 1e-6);
            assert!((got.v_t / got.v / exact.thermal_expansion - 1.0).abs() < 1e-5);
        }
    }

    #[test]
    fn analytic_out_of_range_is_nan() {
        assert!(liquid(240.0, 1e5).v.is_nan() && liquid(280.0, 3e8).h.is_nan() && ice(280.0, 1e5).v.is_nan());
        assert!(liquid(f64::NAN, 1e5).v.is_nan() && ice(260.0, f64::NAN).v.is_nan());
    }
}
