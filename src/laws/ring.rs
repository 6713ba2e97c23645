//! The conical elastic ring (disc spring): load, rate, snap-through and stress.
//!
//! ```text
//! F  = 4E/(1−ν²) · t⁴/(K₁De²) · (s/t)[(h₀/t − s/t)(h₀/t − s/(2t)) + 1]
//! dF/ds = 4E/(1−ν²) · t³/(K₁De²) · [(h₀/t)² − 3(h₀/t)(s/t) + 3/2 (s/t)² + 1]
//! K₁ = (1/π)[(δ−1)/δ]²/[(δ+1)/(δ−1) − 2/ln δ],   δ = De/Di
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | De, Di | outer and inner diameter | m |
//! | t, h₀ | thickness, height of the unloaded cone (inner edge over outer edge) | m |
//! | s, F | axial displacement of one edge against the other, flattening positive; force for it | m, N |
//! | E, ν | Young's modulus, Poisson's ratio | Pa, 1 |
//!
//! The section turns as a rigid rectangle by a small angle φ about the circle on which no hoop strain arises, of radius
//! c = (De − Di)/(2 ln δ); the hoop strain of a point at radius r, y above the middle plane, is
//! [(r − c)φ(α − φ/2) − yφ]/r with α = 2h₀/(De − Di), and the generator keeps its length, hence E/(1 − ν²).
//!
//! The energy of these strains gives K₁ in the membrane term (the one with h₀) exactly; in the bending term (the + 1) it
//! gives M = 6/(π ln δ)·[(δ−1)/δ]² in the place of K₁. The original paper writes M for both, the standard K₁ for both;
//! they differ by 0.8 % at δ = 2 and by 2.0 % at δ = 3. Stresses here follow from the strains, so they contain M.
//!
//! Source: Almen & Laszlo, Trans. ASME 58 (1936) 305, the law of DIN 2092 and EN 16984 for discs without contact flats
//! (read as quoted on disc-spring pages, standards not opened). Range: small angles (α and φ below about 0.2), 16 < De/t,
//! 1.75 < δ < 2.5 in the standard. For large angles and rubber see [`crate::laws::lip`].
//!
//! For h₀/t > √2 the force falls over a part of its way (load maximum, snap-through under a dead load); for h₀/t > 2√2
//! it goes below zero and the ring can stay turned over.

use crate::real::Real;
use std::f64::consts::PI;

/// Factor K₁ for the diameter ratio δ = De/Di above 1.
pub fn k1(ratio: f64) -> f64 {
    let part = (ratio - 1.0) / ratio;
    part * part / PI / ((ratio + 1.0) / (ratio - 1.0) - 2.0 / ratio.ln())
}

/// An edge of the section; the inner edge lies above the outer one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Edge {
    /// Inner circle, upper side (I): compressed most.
    InnerUpper,
    /// Inner circle, lower side (II).
    InnerLower,
    /// Outer circle, lower side (III): stretched most, or second to II.
    OuterLower,
    /// Outer circle, upper side (IV).
    OuterUpper,
}

/// A conical ring.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ConicalRing {
    /// Outer diameter De, m.
    pub outer_diameter: f64,
    /// Inner diameter Di, m.
    pub inner_diameter: f64,
    /// Thickness t, m.
    pub thickness: f64,
    /// Height of the unloaded cone h₀, m.
    pub cone_height: f64,
    /// Young's modulus, Pa.
    pub youngs_modulus: f64,
    /// Poisson's ratio, 0 to 0.5.
    pub poisson: f64,
}

impl ConicalRing {
    /// 4E/(1−ν²) · t³/(K₁De²), N/m.
    fn scale(&self) -> f64 {
        let plate = self.youngs_modulus / (1.0 - self.poisson * self.poisson);
        let k1 = k1(self.outer_diameter / self.inner_diameter);
        4.0 * plate * self.thickness.powi(3) / (k1 * self.outer_diameter * self.outer_diameter)
    }

    /// Force, N, at displacement `s` m.
    #[inline]
    pub fn force<T: Real>(&self, s: T) -> T {
        let (t, h) = (self.thickness, self.cone_height);
        let bracket = (-s + h) * (s * -0.5 + h) / (t * t) + 1.0;
        s * bracket * self.scale()
    }

    /// Rate dF/ds, N/m, at displacement `s` m; negative where the ring snaps.
    pub fn rate(&self, s: f64) -> f64 {
        let (h, x) = (self.cone_height / self.thickness, s / self.thickness);
        self.scale() * (h * h - 3.0 * h * x + 1.5 * x * x + 1.0)
    }

    /// Does the force fall somewhere on the way? True for h₀/t above √2.
    pub fn snaps_through(&self) -> bool {
        self.cone_height.abs() > std::f64::consts::SQRT_2 * self.thickness
    }

    /// Does the force go below zero, so that the ring stays turned over without load? True for h₀/t above 2√2.
    pub fn stays_turned_over(&self) -> bool {
        self.cone_height.abs() > 2.0 * std::f64::consts::SQRT_2 * self.thickness
    }

    /// Displacements, m, of the greatest force and of the least force after it; `None` if the force never falls.
    pub fn force_extrema(&self) -> Option<(f64, f64)> {
        let h = self.cone_height;
        let reach = ((h * h - 2.0 * self.thickness * self.thickness) / 3.0).sqrt();
        // NaN below the limit.
        if reach > 0.0 { Some((h - reach, h + reach)) } else { None }
    }

    /// Hoop stress, Pa (tension positive), at displacement `s` m.
    pub fn hoop_stress(&self, s: f64, edge: Edge) -> f64 {
        let (outer, inner) = (0.5 * self.outer_diameter, 0.5 * self.inner_diameter);
        let width = outer - inner;
        let neutral = width / (outer / inner).ln();
        let (turn, cone) = (s / width, self.cone_height / width);
        let (radius, above) = match edge {
            Edge::InnerUpper => (inner, 0.5),
            Edge::InnerLower => (inner, -0.5),
            Edge::OuterLower => (outer, -0.5),
            Edge::OuterUpper => (outer, 0.5),
        };
        let shift = (radius - neutral) * turn * (cone - 0.5 * turn) - above * self.thickness * turn;
        self.youngs_modulus / (1.0 - self.poisson * self.poisson) * shift / radius
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::real::Dual;
    use approx::assert_relative_eq;

    fn disc(cone_over_thickness: f64) -> ConicalRing {
        ConicalRing {
            outer_diameter: 0.05,
            inner_diameter: 0.0254,
            thickness: 0.002,
            cone_height: 0.002 * cone_over_thickness,
            youngs_modulus: 206e9,
            poisson: 0.3,
        }
    }

    #[test]
    fn ref_edge_stresses_equal_the_published_form() {
        // Almen & Laszlo and DIN 2092 (from memory): σ = ∓4E/(1−ν²)·t²/(M De²)·(s/t)·[K₂(h₀/t − s/(2t)) ± K₃], outer edges
        // divided by δ, with Almen & Laszlo's own M = 6/(π ln δ)·[(δ−1)/δ]².
        let disc = disc(1.1);
        let delta = disc.outer_diameter / disc.inner_diameter;
        let m = 6.0 / PI / delta.ln() * ((delta - 1.0) / delta).powi(2);
        let plate = disc.youngs_modulus / (1.0 - disc.poisson * disc.poisson);
        let unit = 4.0 * plate * (disc.thickness / disc.outer_diameter).powi(2) / m;
        // The standard's K₁ is near it, not equal.
        assert_relative_eq!(k1(delta), m, max_relative = 8e-3);
        let k2 = 6.0 / PI * ((delta - 1.0) / delta.ln() - 1.0) / delta.ln();
        let k3 = 3.0 / PI * (delta - 1.0) / delta.ln();
        for part in [0.2, 0.75, 1.0] {
            let x = part * 1.1;
            let s = x * disc.thickness;
            let front = unit * x;
            let high = 1.1 - 0.5 * x;
            assert_relative_eq!(disc.hoop_stress(s, Edge::InnerUpper), -front * (k2 * high + k3), max_relative = 1e-12);
            assert_relative_eq!(disc.hoop_stress(s, Edge::InnerLower), -front * (k2 * high - k3), max_relative = 1e-12);
            let outer = front / delta;
            assert_relative_eq!(
                disc.hoop_stress(s, Edge::OuterLower),
                outer * ((2.0 * k3 - k2) * high + k3),
                max_relative = 1e-12
            );
            assert_relative_eq!(
                disc.hoop_stress(s, Edge::OuterUpper),
                outer * ((2.0 * k3 - k2) * high - k3),
                max_relative = 1e-12
            );
        }
    }

    #[test]
    fn analytic_rate_is_the_derivative_of_the_force() {
        for h in [0.0, 0.7, 2.0] {
            for s in [-0.001, 0.0, 0.0013, 0.004] {
                let force = disc(h).force(Dual::<1>::variable(s, 0));
                assert_relative_eq!(force.eps[0], disc(h).rate(s), max_relative = 1e-12);
            }
        }
    }

    #[test]
    fn analytic_force_falls_exactly_beyond_root_two() {
        let falls = |d: &ConicalRing| (0..4000).any(|i| d.rate(d.cone_height * f64::from(i) / 2000.0) < 0.0);
        for h in [0.5, 1.0, 1.41, 1.42, 1.7, 2.5, 2.82, 2.83, 4.0] {
            let disc = disc(h);
            assert_eq!(disc.snaps_through(), falls(&disc), "h0/t = {h}");
            assert_eq!(disc.snaps_through(), disc.force_extrema().is_some());
            if let Some((high, low)) = disc.force_extrema() {
                let stiff = disc.rate(0.0);
                assert!(disc.rate(high).abs() < 1e-12 * stiff && disc.rate(low).abs() < 1e-12 * stiff);
                assert_eq!(disc.stays_turned_over(), disc.force(low) < 0.0, "h0/t = {h}");
            }
        }
        assert!(!disc(f64::NAN).snaps_through() && disc(f64::NAN).force_extrema().is_none());
    }
}
