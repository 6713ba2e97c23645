//! Pipes: friction, wave speed, water hammer, start of a rigid column.
//!
//! ```text
//! Darcy–Weisbach   Δp = f (L/D) ρ V²/2
//! Churchill        f = 8 [ (8/Re)¹² + (A+B)^(−3/2) ]^(1/12)
//!                  A = { 2.457 ln 1/[(7/Re)^0.9 + 0.27 ε] }¹⁶,  B = (37530/Re)¹⁶
//! Colebrook        1/√f = −2 log₁₀( ε/3.7 + 2.51/(Re √f) )
//! Haaland          1/√f = −1.8 log₁₀[ (ε/3.7)^1.11 + 6.9/Re ]
//! wave speed       a = √( K/ρ / (1 + c₁ K D/(E e)) )
//! Joukowsky        Δp = ρ a ΔV                            closing time < 2L/a
//! rigid column     V = V₀ tanh(t/T),  V₀ = √(2gH/(1 + K + fL/D)),  T = L V₀/(gH)
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | f | Darcy friction factor (four times Fanning's) | 1 |
//! | ε | roughness over bore | 1 |
//! | D, e, L | bore, wall, length | m |
//! | K, E | bulk modulus of the liquid, Young's modulus of the wall | Pa |
//! | c₁ | factor of the pipe's supports | 1 |
//!
//! Sources: S. W. Churchill, Chem. Eng. 84 (1977) no. 24, 91; C. F. Colebrook, J. Inst. Civ. Eng. 11 (1939) 133;
//! S. E. Haaland, J. Fluids Eng. 105 (1983) 89; E. B. Wylie & V. L. Streeter, *Fluid Transients* (citations from memory).

use super::constants::STANDARD_GRAVITY;
use crate::real::{Dual, Real, through};
use std::cell::RefCell;
use std::sync::Arc;

/// Below this Reynolds number Churchill's equation equals 64/Re to the last digit of f64, and 64/Re is used.
const PURE_LAMINAR: f64 = 500.0;

/// Above this Reynolds number the laminar term and B of Churchill's equation change f by less than 1e-13 (at 2e4: 1.7e-41
/// against 5e-29, and 2e4 against 7e18), and `f = 8 A^(-1/8)` is used.
const FULLY_TURBULENT: f64 = 2e4;

/// Darcy friction factor in all regimes, by Churchill's equation.
///
/// `re` Reynolds number (not negative), `relative_roughness` roughness over bore. 64/Re below 500, smooth through the
/// transition (which no equation predicts well), within 4 % of Colebrook for Re ≥ 4000 and roughness up to 0.05.
/// Infinite at Re = 0: for a loss through rest use [`Friction`].
#[inline]
pub fn friction_factor<T: Real>(re: T, relative_roughness: f64) -> T {
    let inverse = T::constant(1.0) / re;
    if re.value() < PURE_LAMINAR {
        return inverse * 64.0;
    }
    let square = |x: T| x * x;
    if re.value() > FULLY_TURBULENT {
        let log = ((inverse * 7.0).powf(0.9) + 0.27 * relative_roughness).ln() * -2.457;
        return T::constant(8.0) / square(log);
    }
    let log = (((inverse * 7.0).powf(0.9) + 0.27 * relative_roughness).ln()) * -2.457;
    let a = square(square(square(square(log))));
    let b = square(square(square(square(inverse * 37_530.0))));
    let sum = a + b;
    let turbulent = T::constant(1.0) / (sum * sum.sqrt());
    let laminar = square(inverse * 8.0);
    let laminar = square(laminar * laminar * laminar);
    (laminar + turbulent).powf(1.0 / 12.0) * 8.0
}

/// Wall friction of a full pipe: Churchill's equation, tabulated once for a roughness.
///
/// Between Reynolds numbers of 4,096 and 8.4 million `f Re/64`, the loss over that of laminar flow, is a cubic on each
/// sixteenth of an octave that has the equation's values and slopes at both ends: it differs from the equation by at most
/// 5e-6 of itself below 8,192 and 1e-7 beyond (`ref_table_equals_churchill`). Elsewhere the equation itself is asked: the
/// transition below bends too sharply for a table worth having.
#[derive(Debug, Clone, PartialEq)]
pub struct Friction {
    relative_roughness: f64,
    /// Reynolds number per kg/s.
    reynolds: f64,
    /// Loss of laminar flow per kg/s, Pa/m.
    laminar: f64,
    table: Table,
}

/// The Reynolds numbers of the table are 2^12 to 2^23; each octave has 2^4 pieces.
const OCTAVES: [u64; 2] = [12, 23];
const PIECE_BITS: u32 = 4;
/// The bits of a number above those that tell the place within a piece, at the table's start.
const FIRST_PIECE: u64 = (1023 + OCTAVES[0]) << PIECE_BITS;
const PIECES: usize = ((OCTAVES[1] - OCTAVES[0]) << PIECE_BITS) as usize;

/// Cubics, piece by piece.
type Table = Arc<[[f64; 4]]>;

thread_local! {
    /// The last table made, with its relative roughness: the runs of a study share it.
    static LAST_TABLE: RefCell<Option<(f64, Table)>> = const { RefCell::new(None) };
}

impl Friction {
    /// Friction in a pipe of `bore` m and wall `roughness` m, full of a liquid of `density` kg/m³ and `kinematic_viscosity`
    /// m²/s.
    pub fn new(bore: f64, roughness: f64, density: f64, kinematic_viscosity: f64) -> Self {
        let (area, relative_roughness) = (bore_area(bore), roughness / bore);
        let table = LAST_TABLE.with_borrow_mut(|last| match last {
            Some((of, table)) if *of == relative_roughness => Arc::clone(table),
            _ => {
                let table: Table = (0..PIECES).map(|k| piece(k, relative_roughness)).collect();
                *last = Some((relative_roughness, Arc::clone(&table)));
                table
            }
        });
        Friction {
            relative_roughness,
            reynolds: bore / (density * area * kinematic_viscosity),
            laminar: 32.0 * kinematic_viscosity / (bore * bore * area),
            table,
        }
    }

    /// Pressure loss per metre, Pa/m, at `mass_flow` kg/s, with its sign; laminar through rest, hence smooth.
    #[inline]
    pub fn loss_per_length<T: Real>(&self, mass_flow: T) -> T {
        let w = mass_flow.value();
        let re = w.abs() * self.reynolds;
        let bits = re.to_bits();
        let k = (bits >> (52 - PIECE_BITS)).wrapping_sub(FIRST_PIECE);
        if re < PURE_LAMINAR {
            return mass_flow * self.laminar;
        }
        let Some([c0, c1, c2, c3]) = usize::try_from(k).ok().and_then(|k| self.table.get(k)) else {
            let [loss] = through!([mass_flow], |[w]| {
                let re = w.abs() * self.reynolds;
                [friction_factor(re, self.relative_roughness) * re * w * (self.laminar / 64.0)]
            });
            return loss;
        };
        // The bits behind those of the piece, as a number from 0 to 1.
        let below = (bits << PIECE_BITS) & ((1 << 52) - 1);
        let s = f64::from_bits(below | (1023 << 52)) - 1.0;
        let ratio = c0 + s * (c1 + s * (c2 + s * c3));
        let by_s = c1 + s * (2.0 * c2 + s * (3.0 * c3));
        // Re over the length of a piece: how many of them lie below it, at this one's length.
        let place = ((1 << PIECE_BITS) + (k & ((1 << PIECE_BITS) - 1))) as f64 + s;
        mass_flow.chain(w * self.laminar * ratio, self.laminar * (ratio + place * by_s))
    }
}

/// The cubic of a piece, in the share of its length: `f Re/64` and its slope at both ends.
fn piece(k: usize, relative_roughness: f64) -> [f64; 4] {
    let edge = |k: u64| f64::from_bits((FIRST_PIECE + k) << (52 - PIECE_BITS));
    let k = k as u64;
    let (from, to) = (edge(k), edge(k + 1));
    let at = |re: f64| {
        let re = Dual::<1>::variable(re, 0);
        let ratio = friction_factor(re, relative_roughness) * re * (1.0 / 64.0);
        (ratio.re, ratio.eps[0] * (to - from))
    };
    let ((v0, d0), (v1, d1)) = (at(from), at(to));
    let rise = v1 - v0;
    [v0, d0, 3.0 * rise - 2.0 * d0 - d1, d0 + d1 - 2.0 * rise]
}

/// Area of a round bore, m².
#[inline]
pub fn bore_area(bore: f64) -> f64 {
    std::f64::consts::FRAC_PI_4 * bore * bore
}

/// Darcy friction factor of Haaland's explicit equation; turbulent flow (Re > 4000), within 2 % of Colebrook.
pub fn haaland(re: f64, relative_roughness: f64) -> f64 {
    let root = -1.8 * ((relative_roughness / 3.7).powf(1.11) + 6.9 / re).log10();
    1.0 / (root * root)
}

/// Darcy friction factor of Colebrook's equation, iterated until 1/√f rests to 1e-13; turbulent flow (Re > 4000).
///
/// NaN when `re` is not above 0 or the equation has no root with f > 0 there.
pub fn colebrook(re: f64, relative_roughness: f64) -> f64 {
    if !(re > 0.0 && relative_roughness >= 0.0) {
        return f64::NAN;
    }
    let (a, b) = (relative_roughness / 3.7, 2.51 / re);
    // Newton on x = 1/√f: x + 2 log₁₀(a + b x) = 0, monotone and concave in x.
    let mut x = 1.0 / haaland(re.max(100.0), relative_roughness).sqrt();
    for _ in 0..50 {
        let inner = a + b * x;
        let step = (x + 2.0 * inner.log10()) / (1.0 + 2.0 * b / (inner * std::f64::consts::LN_10));
        x -= step;
        if step.abs() <= 1e-13 * x.abs() {
            return if x > 0.0 { 1.0 / (x * x) } else { f64::NAN };
        }
    }
    f64::NAN
}

/// Darcy–Weisbach pressure loss, Pa, of a straight pipe, positive for positive `velocity`.
///
/// `friction_factor` Darcy, `length` m, `bore` m, `density` kg/m³, `velocity` m/s.
pub fn pressure_loss(friction_factor: f64, length: f64, bore: f64, density: f64, velocity: f64) -> f64 {
    friction_factor * length / bore * density * velocity * velocity.abs() / 2.0
}

/// How a pipe is held along its length; sets the factor c₁ of the wave speed (thin wall).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PipeSupport {
    /// Expansion joints throughout: c₁ = 1.
    ExpansionJoints,
    /// Anchored throughout, no axial movement: c₁ = 1 − ν².
    Anchored,
    /// Anchored at the upstream end only: c₁ = 1 − ν/2 (another family of books uses 5/4 − ν).
    AnchoredUpstream,
}

impl PipeSupport {
    /// The factor c₁ for a wall of Poisson's ratio ν.
    pub fn factor(self, poisson: f64) -> f64 {
        match self {
            PipeSupport::ExpansionJoints => 1.0,
            PipeSupport::Anchored => 1.0 - poisson * poisson,
            PipeSupport::AnchoredUpstream => 1.0 - poisson / 2.0,
        }
    }
}

/// A pipe wall, for the speed of pressure waves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PipeWall {
    /// Bore, m.
    pub bore: f64,
    /// Wall thickness, m.
    pub thickness: f64,
    /// Young's modulus, Pa.
    pub youngs_modulus: f64,
    /// Poisson's ratio.
    pub poisson: f64,
    /// How the pipe is held.
    pub support: PipeSupport,
}

/// Speed of pressure waves, m/s, in a full pipe with a thin elastic wall (Korteweg–Joukowsky).
///
/// `bulk_modulus` Pa (isentropic), `density` kg/m³. For bore over wall below about 25 expect the speed 1 to 3 % off.
pub fn wave_speed(bulk_modulus: f64, density: f64, wall: &PipeWall) -> f64 {
    let stretch = wall.support.factor(wall.poisson) * bulk_modulus * wall.bore / (wall.youngs_modulus * wall.thickness);
    (bulk_modulus / density / (1.0 + stretch)).sqrt()
}

/// Joukowsky's pressure rise, Pa, when the velocity falls by `velocity_change` m/s within 2L/a.
pub fn joukowsky(density: f64, wave_speed: f64, velocity_change: f64) -> f64 {
    density * wave_speed * velocity_change
}

/// Start of a rigid liquid column under a constant head.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RigidColumn {
    /// Velocity after a long time, m/s.
    pub steady_velocity: f64,
    /// Time constant, s.
    pub time_constant: f64,
}

/// The start of a column of `length` m and `bore` m under `head` m of its own liquid.
///
/// `friction_factor` Darcy, constant; `loss_sum` the sum of loss coefficients without the exit; `exit_loss` 1 for a jet
/// into still surroundings.
pub fn rigid_column(
    head: f64,
    length: f64,
    bore: f64,
    friction_factor: f64,
    loss_sum: f64,
    exit_loss: f64,
) -> RigidColumn {
    let losses = exit_loss + loss_sum + friction_factor * length / bore;
    let steady_velocity = (2.0 * STANDARD_GRAVITY * head / losses).sqrt();
    RigidColumn { steady_velocity, time_constant: length * steady_velocity / (STANDARD_GRAVITY * head) }
}

impl RigidColumn {
    /// Velocity, m/s, at `time` s after the start from rest.
    pub fn velocity(&self, time: f64) -> f64 {
        self.steady_velocity * (time / self.time_constant).tanh()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn ref_churchill_stays_near_colebrook() {
        let mut worst: f64 = 0.0;
        for e in [0.0, 1e-6, 1e-5, 1e-4, 1e-3, 0.01, 0.05] {
            for i in 0..=50 {
                let re = 4000.0 * 10f64.powf(f64::from(i) / 50.0 * 4.4);
                worst = worst.max((friction_factor(re, e) / colebrook(re, e) - 1.0).abs());
            }
        }
        // Measured 3.4 %, near Re = 4000 on rough walls.
        assert!(worst < 0.04, "{worst}");
    }

    #[test]
    fn analytic_laminar_limit_is_exact_and_meets_churchill() {
        assert_relative_eq!(friction_factor(1e-30, 0.01), 64e30, max_relative = 1e-15);
        assert_relative_eq!(friction_factor(499.999_999, 0.01), 64.0 / 499.999_999, max_relative = 1e-15);
        assert_relative_eq!(friction_factor(500.000_001, 0.01), 64.0 / 500.000_001, max_relative = 1e-14);
    }

    #[test]
    fn analytic_loss_is_odd_smooth_and_rising_through_rest() {
        let friction = Friction::new(0.02, 1.5e-6, 998.2, 1.003e-6);
        let loss = |m: f64| friction.loss_per_length(m);
        let viscosity = 998.2 * 1.003e-6;
        // Hagen–Poiseuille.
        let slope = 128.0 * 1.003e-6 / (std::f64::consts::PI * 0.02_f64.powi(4));
        assert_relative_eq!(loss(1e-4), 1e-4 * slope, max_relative = 1e-13);
        assert_eq!(loss(0.0), 0.0);
        let mut last = f64::NEG_INFINITY;
        for i in -2000..=2000 {
            let m = f64::from(i) / 2000.0;
            assert_eq!(loss(m), -loss(-m));
            assert!(loss(m) > last);
            last = loss(m);
        }
        for re in [-3e4, -3000.0, -501.0, 0.0, 10.0, 499.0, 501.0, 2300.0, 2900.0, 1e5] {
            let m = re * viscosity * 0.02 * std::f64::consts::FRAC_PI_4;
            let d = friction.loss_per_length(Dual::<1>::variable(m, 0)).eps[0];
            assert_relative_eq!(d, (loss(m + 1e-7) - loss(m - 1e-7)) / 2e-7, max_relative = 1e-5);
        }
    }

    #[test]
    fn ref_table_equals_churchill() {
        // Source: S. W. Churchill (1977), the equation itself.
        for relative in [0.0, 7.5e-5, 1e-3, 0.02] {
            let friction = Friction::new(0.02, relative * 0.02, 998.2, 1.003e-6);
            let per_flow = 4.0 / (std::f64::consts::PI * 0.02 * 998.2 * 1.003e-6);
            let (mut early, mut late): (f64, f64) = (0.0, 0.0);
            for i in 0..16_000 {
                let re = 512.0 * 2f64.powf(14.5 * f64::from(i) / 16_000.0);
                let w = re / per_flow;
                let square = w * w / (2.0 * 998.2 * 0.02 * bore_area(0.02).powi(2));
                let off = (friction.loss_per_length(w) / (friction_factor(re, relative) * square) - 1.0).abs();
                if re < 8192.0 { early = early.max(off) } else { late = late.max(off) }
            }
            println!("{relative}: {early:e} {late:e}");
            assert!(early < 5e-6 && late < 1e-7, "{relative}: {early} {late}");
        }
    }

    #[test]
    fn analytic_colebrook_satisfies_its_equation_or_says_nan() {
        for (re, e) in [(4e3, 0.0), (1e5, 1e-3), (1e8, 0.05), (1e300, 0.0)] {
            let f = colebrook(re, e);
            let x = 1.0 / f.sqrt();
            assert_relative_eq!(x, -2.0 * (e / 3.7 + 2.51 * x / re).log10(), max_relative = 1e-12);
        }
        for (re, e) in [(0.0, 0.0), (-1.0, 0.0), (f64::NAN, 0.0), (1e5, f64::NAN), (1e5, 40.0)] {
            assert!(colebrook(re, e).is_nan());
        }
    }

    #[test]
    fn analytic_rigid_column_solves_its_equation_of_motion() {
        let c = rigid_column(20.0, 30.0, 0.02, 0.02, 1.5, 1.0);
        for t in [0.1, 0.5, 1.5] {
            let acceleration = (c.velocity(t + 1e-5) - c.velocity(t - 1e-5)) / 2e-5;
            let v = c.velocity(t);
            let net = STANDARD_GRAVITY * 20.0 - (2.5 + 0.02 * 30.0 / 0.02) * v * v / 2.0;
            assert_relative_eq!(30.0 * acceleration, net, max_relative = 1e-6);
        }
    }
}
