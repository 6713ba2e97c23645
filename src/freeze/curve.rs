//! Water and ice along the melting curve, for the inner loop: everything as polynomials of temperature.
//!
//! Most of a night is spent at equilibrium, where temperature alone decides all. The curve is cut into ten pieces; on each the
//! exact laws (R14-08, IAPWS-95, R10-06) are interpolated at nine Chebyshev nodes when it is first asked for. Error against the
//! exact laws: pressure and volumes 1e-9 relative, enthalpies 1e-4 J/kg (held by a test below).

use super::table::{self, PhasePoint};
use crate::laws::ice::{IceState, TRIPLE_PRESSURE, TRIPLE_TEMPERATURE};
use crate::laws::melting;
use crate::laws::water::WaterState;
use std::sync::OnceLock;

const PIECES: usize = 10;
/// A little beyond the cold end of the curve, K.
const LOW: f64 = 250.9;
const STEP: f64 = (TRIPLE_TEMPERATURE - LOW) / PIECES as f64;
/// Quantities: pressure; volume and enthalpy of liquid and of ice; slope of both volumes by temperature at fixed pressure.
const QUANTITIES: usize = 7;

type Piece = [[f64; table::N]; QUANTITIES];

static CURVE: [OnceLock<Piece>; PIECES] = [const { OnceLock::new() }; PIECES];

/// Liquid and ice at equilibrium.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CurvePoint {
    /// Melting pressure, Pa absolute.
    pub p: f64,
    /// Its slope, Pa/K.
    pub slope: f64,
    /// Liquid; slopes by temperature run along the curve, those by pressure are 0.
    pub liquid: PhasePoint,
    /// Ice, likewise.
    pub ice: PhasePoint,
    /// Slope of the liquid's volume by temperature at fixed pressure, m³/(kg K).
    pub liquid_v_t: f64,
    /// The same of ice.
    pub ice_v_t: f64,
}

/// Equilibrium at `t` K (250.9 to 273.16, a hair beyond either end); NaN for what is no number.
pub fn at(t: f64) -> CurvePoint {
    let k = ((t - LOW) / STEP).clamp(0.0, PIECES as f64 - 1.0) as usize;
    let (half, mid) = (0.5 * STEP, LOW + STEP * (k as f64 + 0.5));
    let s = (t - mid) / half;
    let n = f64::NAN;
    let mut q = [[n; 2]; QUANTITIES];
    if let Some(piece) = CURVE.get(k).filter(|_| s.abs() < 1.2) {
        for (out, c) in q.iter_mut().zip(piece.get_or_init(|| filled(mid, half))) {
            let (mut f, mut f_s) = (0.0, 0.0);
            for x in c.iter().rev() {
                f_s = f_s * s + f;
                f = f * s + x;
            }
            *out = [f, f_s / half];
        }
    }
    // Beyond the triple point straight on, down to no pressure at all: the pieces' error would be as large there.
    let beyond = t - TRIPLE_TEMPERATURE;
    let p = if beyond > 0.0 { TRIPLE_PRESSURE + q[0][1] * beyond } else { q[0][0] };
    let phase =
        |v: usize, h: usize| PhasePoint { v: q[v][0], v_t: q[v][1], v_p: 0.0, h: q[h][0], h_t: q[h][1], h_p: 0.0 };
    CurvePoint { p, slope: q[0][1], liquid: phase(1, 2), ice: phase(3, 4), liquid_v_t: q[5][0], ice_v_t: q[6][0] }
}

fn exact(t: f64) -> [f64; QUANTITIES] {
    let p = melting::pressure_and_slope(t).0;
    let (l, i) = (WaterState::liquid(t, p), IceState::new(t, p));
    let v = 1.0 / l.density;
    [p, v, l.enthalpy, i.volume, i.enthalpy, v * l.thermal_expansion, i.volume * i.thermal_expansion]
}

fn filled(mid: f64, half: f64) -> Piece {
    let mut nodes = [[0.0; table::N]; QUANTITIES];
    for i in 0..table::N {
        for (row, x) in nodes.iter_mut().zip(exact(mid + half * table::node(i))) {
            row[i] = x;
        }
    }
    nodes.map(|row| table::powers_of(&row))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ref_curve_keeps_its_stated_error_against_the_exact_laws() {
        let (mut worst, mut worst_h) = (0.0f64, 0.0f64);
        for i in 0..=2000 {
            let t = 251.165 + (273.1595 - 251.165) * f64::from(i) / 2000.0;
            let (got, want) = (at(t), exact(t));
            worst = worst.max((got.p - want[0]).abs() / (want[0] + 1e6));
            worst = worst.max((got.liquid.v / want[1] - 1.0).abs()).max((got.ice.v / want[3] - 1.0).abs());
            worst_h = worst_h.max((got.liquid.h - want[2]).abs()).max((got.ice.h - want[4]).abs());
        }
        assert!(worst < 1e-9 && worst_h < 1e-4, "{worst:e} {worst_h:e}");
    }
}
