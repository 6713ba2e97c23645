//! Errors of assembly, worked out from the dimensions of the parts.
//!
//! **Bending of a spring.** A wire that carries a moment M across its axis is bent and twisted in turn along each coil;
//! averaged over a turn, half of each:
//!
//! ```text
//! angle per wire length  M/2 (1/(E I) + 1/(G J)),  J = 2 I,  length  2 pi r n
//! M / angle  =  2 E I G / (pi n r (2 G + E)),      I = pi d^4/64,   r mean over the coils for a cone
//! ```
//!
//! (derived here; it is the flexural rigidity of a helical spring of strength-of-materials textbooks, from memory)
//!
//! **Retainer not flat**, standing up by h on one side of its diameter D:
//!
//! ```text
//! tilt            a = h / D
//! preload         the spring's end stands back by h/2 in the middle:  F -> F - k h/2
//! spring          its ends are not parallel: moment M_s = (M/angle) a, thrust along the chord: side force F a/2
//! stem            runs in the retainer's bore (length B, clearance c), free up to c/B, then forced by b = a - c/B
//! disc            its rubber ring, pressed in by t under F, resists: M_d = F r/2 (b r/t) while it touches all round
//!                 (b r < t), then M_d = F r (1 - t/(2 b r)), up to F r on one point, and a gap r b - t opens on the far side
//! friction        the bore carries both moments as a couple over B: R = mu (2 (M_s + M_d)/B + F a/2)
//! leak            the gap, a cosine over half the rim: 2 r (r b - t)
//! ```
//!
//! The join of the two branches of M_d is smooth; the second is an interpolation towards the known end, not derived.
//!
//! **Largest coil on its lip and not under it**, at severity 1 half of it lifted by a wire: the end is raised by d/2 in the
//! middle and tilted by d/D2; load up by k d/2, friction as above without the disc.
//!
//! **Conical spring upside down**: each end sits where the other one fits, with the play (D2 - D1)/2; when both go the same
//! way the thrust is off the axis by that much, e: the bore carries F e, friction `2 mu F e / B`. (It jams for e > B/(2 mu).)
//!
//! **Diaphragm folded the wrong way**: the effective diameter of a rolling diaphragm is the mean of bore and piston, because
//! its fold stands between them. Without a fold the sheet lies on the piston when the air inlet is sealed and against the bore at
//! the open stop: diameters D - w and D + w with w the fold's width, so the area is smaller where it matters and grows with
//! travel.
//!
//! **Ring of a stem with a cut**: water passes through the clearance it left open, `pi d c` times the share of the rim.
//!
//! Tested by hand sums and a sum over the wire in `tests/fault_geometry.rs`. What the assembly's fields leave open is a
//! constant here, an estimate each.

use crate::assembly::Settings;
use crate::error::Error;
use crate::rig::Rig;
use std::f64::consts::PI;

/// Poisson's ratio of spring steel (handbook value).
pub const POISSON: f64 = 0.3;
/// Friction coefficient of a wet stem in its bore (estimate).
pub const STEM_FRICTION: f64 = 0.2;
/// Length of the retainer's bore over the check's seat diameter (estimate).
pub const BORE_LENGTH: f64 = 0.35;
/// Clearance of the stem in it over the seat diameter (estimate).
pub const BORE_CLEARANCE: f64 = 0.012;
/// How far the rim presses into the check's disc under its load, m (estimate).
pub const DISC_INDENTATION: f64 = 0.15e-3;
/// How far the retainer stands up on one side at severity 1, over the seat diameter (estimate: the disc is just about to
/// lose touch on the far side).
pub const RETAINER_GAP: f64 = 0.045;
/// Width of a rolling diaphragm's fold over its effective diameter (estimate).
pub const FOLD_WIDTH: f64 = 0.08;
/// Radial clearance of a stem in the bore its ring seals, m (estimate).
pub const STEM_CLEARANCE: f64 = 0.05e-3;

/// Moment per angle, N m/rad, with which a round wire spring resists a tilt of its ends: wire `d` m, mean coil radius `r` m,
/// `n` active coils, moduli `e` and `g` Pa.
pub fn bending_stiffness(d: f64, r: f64, n: f64, e: f64, g: f64) -> f64 {
    let i = PI * d.powi(4) / 64.0;
    2.0 * e * i * g / (PI * n * r * (2.0 * g + e))
}

/// What an error of assembly does to a part.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Effect {
    /// Change of the spring's force at the sealed position, N.
    pub preload: f64,
    /// Friction added, N.
    pub friction: f64,
    /// Area left open, m2.
    pub gap: f64,
}

/// A check with its spring, as far as errors of assembly need them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CheckSpring {
    /// Force of the spring at the sealed position, N.
    pub force: f64,
    /// Rate there, N/m.
    pub rate: f64,
    /// Moment per angle, N m/rad.
    pub bending: f64,
    /// Seat diameter, m.
    pub seat: f64,
    /// Wire, m.
    pub wire: f64,
    /// Mean diameter of the largest and of the smallest active coil, m.
    pub coils: [f64; 2],
}

impl CheckSpring {
    /// From the settings.
    ///
    /// # Errors
    /// [`Error`] if they make no rig.
    pub fn of(s: &Settings, rig: &Rig) -> Result<CheckSpring, Error> {
        let get = |name: &str| s.number(&format!("check.{name}"));
        let (wire, large, g) = (get("spring_wire")?, get("spring_diameter")?, get("spring_shear_modulus")?);
        let conical = s.choice("check.spring")? == "conical";
        let small = if conical { get("spring_small_diameter")? } else { large };
        let e = 2.0 * g * (1.0 + POISSON);
        // Over the first tenth of the lift: a conical spring stiffens later.
        let step = 0.1 * rig.check.lift;
        let force = |x: f64| -rig.check.load_force(x, 1.0);
        Ok(CheckSpring {
            force: force(0.0),
            rate: (force(step) - force(0.0)) / step,
            bending: bending_stiffness(wire, 0.25 * (large + small), get("spring_active_coils")?, e, g),
            seat: rig.check.seat_diameter,
            wire,
            coils: [large, small],
        })
    }

    fn bore(&self) -> f64 {
        BORE_LENGTH * self.seat
    }

    /// Retainer standing up by `h` m on one side.
    pub fn retainer_tilted(&self, h: f64) -> Effect {
        let (tilt, r, f) = (h / self.seat, 0.5 * self.seat, self.force);
        let forced = (tilt - BORE_CLEARANCE / BORE_LENGTH).max(0.0) * r;
        let t = DISC_INDENTATION;
        let disc = if forced <= t { 0.5 * f * r * forced / t } else { f * r * (1.0 - 0.5 * t / forced) };
        let moment = self.bending * tilt + disc;
        Effect {
            preload: -0.5 * self.rate * h,
            friction: STEM_FRICTION * (2.0 * moment / self.bore() + 0.5 * f * tilt),
            gap: 2.0 * r * (forced - t).max(0.0),
        }
    }

    /// Largest coil lifted by `h` m on one side by the lip it should be under.
    pub fn coil_on_lip(&self, h: f64) -> Effect {
        let tilt = h / self.coils[0];
        Effect {
            preload: 0.5 * self.rate * h,
            friction: STEM_FRICTION * (2.0 * self.bending * tilt / self.bore() + 0.5 * self.force * tilt),
            gap: 0.0,
        }
    }

    /// Conical spring upside down, off the axis by `share` of its play.
    pub fn reversed(&self, share: f64) -> Effect {
        let off = share * 0.5 * (self.coils[0] - self.coils[1]);
        Effect { preload: 0.0, friction: STEM_FRICTION * 2.0 * self.force * off / self.bore(), gap: 0.0 }
    }
}

type Changed = Result<Vec<(&'static str, f64)>, Error>;

/// Fields that an effect on the check changes.
fn on_check(s: &Settings, effect: impl Fn(&CheckSpring) -> Effect) -> Changed {
    let rig = Rig::from_settings(s)?;
    let spring = CheckSpring::of(s, &rig)?;
    let e = effect(&spring);
    // A missing spring has no force to be changed.
    let factor = if spring.force > 0.0 { (1.0 + e.preload / spring.force).max(0.0) } else { 1.0 };
    Ok(vec![
        ("check.load_factor", s.number("check.load_factor")? * factor),
        ("check.friction", s.number("check.friction")? + e.friction / rig.check.seat_area()),
        ("check.foul_area", s.number("check.foul_area")? + e.gap),
    ])
}

pub(super) const ON_CHECK: &[&str] = &["check.load_factor", "check.friction", "check.foul_area"];

/// A retainer that stands up by less than the stem's play takes next to nothing from the check: the range begins there.
pub(super) fn retainer_tilted(s: &Settings, severity: f64) -> Changed {
    let play = BORE_CLEARANCE / BORE_LENGTH;
    on_check(s, |c| c.retainer_tilted((play + (RETAINER_GAP - play) * severity) * c.seat))
}

pub(super) fn coil_on_lip(s: &Settings, severity: f64) -> Changed {
    on_check(s, |c| c.coil_on_lip(severity * c.wire))
}

pub(super) fn spring_reversed(s: &Settings, severity: f64) -> Changed {
    on_check(s, |c| c.reversed(severity))
}

pub(super) fn diaphragm_folded(s: &Settings, severity: f64) -> Changed {
    let w = severity * FOLD_WIDTH;
    let as_is = s.number("air_inlet.diaphragm_area_change")?;
    Ok(vec![
        ("air_inlet.zone1_share", s.number("air_inlet.zone1_share")? * (1.0 - w).powi(2)),
        ("air_inlet.diaphragm_area_change", (1.0 + as_is) * ((1.0 + w) / (1.0 - w)).powi(2) - 1.0),
    ])
}

pub(super) fn stem_ring_cut(s: &Settings, severity: f64) -> Changed {
    let rim = PI * s.number("air_inlet.seat_diameter")?;
    Ok(vec![("air_inlet.foul_area", s.number("air_inlet.foul_area")? + severity * rim * STEM_CLEARANCE)])
}
