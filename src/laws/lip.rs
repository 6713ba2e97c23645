//! An elastomer lip: a conical ring that turns about its root by any angle. Its load against travel is in
//! [`crate::laws::lip_load`].
//!
//! ```text
//! place      r₀ = b + q cos α − y sin α,    r = b + u + q cos θ − y sin θ,    λ = r/r₀
//! roll       s = L(sin α − sin θ),          L = (De − Di)/(2 cos α)
//! energy     U = 2π ∫∫ r₀ W(λ) dq dy,       W = E′/8 (λ − 1/λ)²,              E′ = E/(1 − ν²)
//! force      F = dU/ds = 2π ∫∫ E′/4 (λ − λ⁻³)(q sin θ + y cos θ) dq dy / (L cos θ),   ∂U/∂u = 0 (floating) or u = 0 (held)
//! bending    U_b = k(α − θ)²/2,   F_b = k(α − θ)/(L cos θ),   k = β·3D/L·πDi,   D = E′t³/12
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | De, Di, t, α | outer and root diameter, thickness, lip angle to the plane of the seat, all unloaded | m, rad |
//! | q, y | place in the section: along the generator (0 to L from the root), across it (−t/2 to t/2) | m |
//! | θ, u | angle of the turned lip, radial shift of the root | rad, m |
//! | s, F | axial displacement of the outer edge against the root, flattening positive; force for it | m, N |
//! | β | share of a clamped root in bending: 0 a hinge, 1 a clamp | 1 |
//! | λ, W | hoop stretch, energy per undeformed volume | 1, J/m³ |
//!
//! **Derivation.** As in the disc-spring law the section stays a rigid rectangle in its plane, but here its turning is
//! exact, not sin φ ≈ φ, and the strain energy is that of rubber. A hoop element is stretched by λ = r/r₀, keeps its
//! length along the generator and, being incompressible, thins by 1/λ: neo-Hookean W = μ/2 (λ² + λ⁻² − 2), μ = E/3. That
//! is W with E′ = 4E/3 = E/(1 − ν²) at ν = ½; other ν keep their small-strain stiffness E′ with the same shape. The force
//! follows from U by differentiation at fixed u, because ∂U/∂u is 0 or u is fixed. A floating root is pressed by no radial
//! force and finds its radius (the disc-spring case); a held one is bonded to something stiff, pivots about b and is
//! several times stiffer. U is convex in u, so its minimum is unique and Newton's method finds it.
//!
//! **Bending.** A ring on a hinge is not the whole of a moulded lip: beyond the peak of its hoop force it would let the
//! inlet snap, and its wall bends at the root as well. β adds that as the turning of a cantilever strip of the lip's
//! length, whose chord turns by F·(arm)·L/(3D) per unit of width; the width is that at the root. β = 0 is the disc spring.
//!
//! **Accuracy.** The hoop integrals are Gauss sums of 8 × 3 points. Against the energy integrated adaptively and
//! differentiated numerically (`tests/data/ring_energy.py`) the hoop force is right to 2·10⁻⁸ up to 0.8 rad and to 10⁻⁵ up
//! to 2.2 rad for De/Di ≤ 2, to 10⁻⁵ at De/Di = 4. The bending law against the exact elastica of a strip
//! (`tests/data/lip_bending.py`; lip angles 0.3 to 1.1 rad): within 8.5 % up to 0.65 rad of turning, within 20 % up to
//! 1.1 rad. Both together against a shell of the same lip that may bend along its length (`tests/data/lip_shell.py`, a
//! clamped root, up to 0.8 rad): within 12 % if the root floats, within 45 % if it is held (too stiff at first, then too
//! soft: a held lip keeps its hoops by bending, which a rigid section cannot). Hardness gives E to ±25 %, so for a floating
//! root geometry is not what limits the law.
//!
//! **Limits.** For small α and s the floating hinged ring is Almen & Laszlo's ([`crate::laws::ring`], with M in the bending
//! term); the difference is of the order α², (t/De)². **Range:** De/Di from 1.1 to 4, t up to a third of L, |θ| < 90°
//! (outside NaN), stretch 0.6 to 1.6 (neo-Hookean; ask [`ElastomerLip::stretch`]). **Left out:** stretch of the wall
//! where it bends sharply, shear, the web below the root, friction on the face the lip rolls on, and contact that moves
//! along the lip as it rolls.

use crate::real::{Dual, Real};
use std::f64::consts::{FRAC_PI_2, FRAC_PI_4, PI};

/// How the root of the lip is held in the radial direction.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Root {
    /// No radial force: the root finds its own radius, as a disc spring's edge does.
    #[default]
    Floating,
    /// The root keeps its radius.
    Held,
}

/// A lip of rubber, a cone that stands on its root circle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ElastomerLip {
    /// Diameter of the free edge De, m.
    pub outer_diameter: f64,
    /// Diameter of the root Di, m.
    pub root_diameter: f64,
    /// Thickness t, m.
    pub thickness: f64,
    /// Angle α between the unloaded lip and the plane of the seat, rad, 0 to π/2.
    pub lip_angle: f64,
    /// Young's modulus, Pa.
    pub youngs_modulus: f64,
    /// Poisson's ratio, 0 to 0.5 (rubber: 0.5).
    pub poisson: f64,
    /// Radial hold of the root.
    pub root: Root,
    /// Share β of a clamped root in bending, 0 (hinge, as a disc spring) to 1 (moulded to something stiff).
    pub root_bending: f64,
}

/// Why the law does not hold for a lip.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum LipProblem {
    /// A length, the modulus or an angle is not a number within its bounds.
    #[error(
        "root diameter, thickness and modulus must be above 0, the lip angle 0 to 85 degrees, Poisson's ratio 0 to 0.5"
    )]
    OutOfBounds,
    /// De/Di outside 1.1 to 4.
    #[error("the lip's outer diameter must be 1.1 to 4 times that of its root, not {ratio:.2} times")]
    Diameters {
        /// De/Di.
        ratio: f64,
    },
    /// Thicker than a third of its length.
    #[error("a lip {:.2} mm long can be at most a third of that thick, not {:.2} mm", .length * 1e3, .thickness * 1e3)]
    TooThick {
        /// Thickness, m.
        thickness: f64,
        /// Length, m.
        length: f64,
    },
    /// Rolls past 90°.
    #[error("a lip {:.2} mm long cannot roll {:.2} mm: past {:.2} mm it stands upright behind its root", .length * 1e3, .roll * 1e3, .greatest * 1e3)]
    RollsTooFar {
        /// Roll asked for, m.
        roll: f64,
        /// Roll at which the law ends, m.
        greatest: f64,
        /// Length, m.
        length: f64,
    },
}

// Gauss–Legendre abscissae and weights on (−1, 1), positive halves (Abramowitz & Stegun, table 25.4).
const ALONG: [(f64, f64); 4] = [
    (0.183_434_642_495_650, 0.362_683_783_378_362),
    (0.525_532_409_916_329, 0.313_706_645_877_887),
    (0.796_666_477_413_627, 0.222_381_034_453_374),
    (0.960_289_856_497_536, 0.101_228_536_290_376),
];
const ACROSS: [(f64, f64); 3] =
    [(-0.774_596_669_241_483, 5.0 / 9.0), (0.0, 8.0 / 9.0), (0.774_596_669_241_483, 5.0 / 9.0)];

/// A point of the section: place along and across, undeformed radius, weight (area, m2).
#[derive(Clone, Copy)]
struct Point {
    q: f64,
    y: f64,
    r0: f64,
    area: f64,
}

type Section = [Point; 24];

/// λ and λ⁻³; their difference is the nominal hoop stress over E′/4.
#[inline]
fn stretches<T: Real>(stretch: T) -> (T, T) {
    let inverse = T::constant(1.0) / stretch;
    (stretch, inverse * inverse * inverse)
}

impl ElastomerLip {
    /// Length of the generator L, m.
    pub fn length(&self) -> f64 {
        0.5 * (self.outer_diameter - self.root_diameter) / self.lip_angle.cos()
    }

    /// Does the law hold for this lip up to roll `last` m?
    ///
    /// # Errors
    /// The first rule that is broken, in words. The other functions give a number or NaN for such a lip, no panic.
    pub fn check(&self, last: f64) -> Result<(), LipProblem> {
        let (ratio, length, greatest) = (self.outer_diameter / self.root_diameter, self.length(), self.greatest_roll());
        let positive = [self.root_diameter, self.thickness, self.youngs_modulus].iter().all(|v| *v > 0.0);
        let angle = self.lip_angle >= 0.0 && self.lip_angle <= 85f64.to_radians();
        if !(positive && angle && self.poisson >= 0.0 && self.poisson <= 0.5) {
            Err(LipProblem::OutOfBounds)
        } else if !(ratio >= 1.1 && ratio <= 4.0) {
            Err(LipProblem::Diameters { ratio })
        } else if !(self.thickness <= length / 3.0) {
            Err(LipProblem::TooThick { thickness: self.thickness, length })
        } else if !(last < greatest) {
            Err(LipProblem::RollsTooFar { roll: last, greatest, length })
        } else {
            Ok(())
        }
    }

    /// Height of the unloaded cone h₀ = L sin α, m.
    pub fn cone_height(&self) -> f64 {
        self.length() * self.lip_angle.sin()
    }

    /// Angle of the lip to the plane of the seat, rad, at roll `s` m; NaN where the lip would turn past 90°.
    pub fn angle(&self, s: f64) -> f64 {
        (self.lip_angle.sin() - s / self.length()).asin()
    }

    /// Roll, m, that lays the lip flat (θ = 0); the law goes on past it.
    pub fn flattening_roll(&self) -> f64 {
        self.cone_height()
    }

    /// Roll, m, at which the lip would stand at 90° behind the plane of its root and the law ends: L(1 + sin α).
    pub fn greatest_roll(&self) -> f64 {
        self.length() * (1.0 + self.lip_angle.sin())
    }

    fn points(&self) -> Section {
        let (half, thick, root) = (0.5 * self.length(), 0.5 * self.thickness, 0.5 * self.root_diameter);
        let (sin, cos) = self.lip_angle.sin_cos();
        std::array::from_fn(|i| {
            let (x, wx) = ALONG[i / 6];
            let (z, wz) = ACROSS[i % 3];
            let (q, y) = (half * if i % 6 < 3 { 1.0 + x } else { 1.0 - x }, thick * z);
            Point { q, y, r0: root + q * cos - y * sin, area: half * thick * wx * wz }
        })
    }

    fn modulus(&self) -> f64 {
        self.youngs_modulus / (1.0 - self.poisson * self.poisson)
    }

    /// Stiffness k of the root against turning, N m/rad.
    fn hinge(&self) -> f64 {
        let plate = self.modulus() * self.thickness.powi(3) / 12.0;
        self.root_bending * 3.0 * plate / self.length() * PI * self.root_diameter
    }

    /// Radial shift of the root, m, at (sin θ, cos θ): the root of ∂U/∂u, or 0 if held. NaN if there is none.
    fn shift(&self, points: &Section, sin: f64, cos: f64) -> f64 {
        if self.root == Root::Held {
            return 0.0;
        }
        let root = 0.5 * self.root_diameter;
        let place = |p: &Point| root + p.q * cos - p.y * sin;
        // No point may reach the axis.
        let least = -points.iter().map(place).fold(f64::INFINITY, f64::min);
        let (mut pull, mut give) = (0.0, 0.0);
        for p in points {
            pull += p.area * (place(p) / p.r0 - 1.0);
            give += p.area / p.r0;
        }
        let mut u = -pull / give;
        for _ in 0..60 {
            if !(u > least) {
                u = 0.5 * least;
            }
            (pull, give) = (0.0, 0.0);
            for p in points {
                let (stretch, cube) = stretches((place(p) + u) / p.r0);
                pull += p.area * (stretch - cube);
                give += p.area * (1.0 + 3.0 * cube / stretch) / p.r0;
            }
            let step = pull / give;
            u -= step;
            if step.abs() <= 1e-14 * root {
                return u;
            }
        }
        f64::NAN
    }

    /// Force and rate at roll `s`.
    fn force_and_rate(&self, s: f64) -> Dual<1> {
        let root = 0.5 * self.root_diameter;
        let sin = Dual::<1>::variable(s, 0) / -self.length() + self.lip_angle.sin();
        let square = -(sin * sin) + 1.0;
        if !(square.re > 0.0) {
            return Dual::constant(f64::NAN);
        }
        let cos = square.sqrt();
        let place = |p: &Point| cos * p.q - sin * p.y + root;
        let points = self.points();
        let mut u = Dual::<1>::constant(self.shift(&points, sin.re, cos.re));
        if self.root == Root::Floating {
            // One Newton step with derivatives: the value stays, du/ds comes out exactly.
            let (mut pull, mut give) = (Dual::<1>::constant(0.0), 0.0);
            for p in &points {
                let (stretch, cube) = stretches((place(p) + u) / p.r0);
                pull = pull + (stretch - cube) * p.area;
                give += p.area * (1.0 + 3.0 * cube.re / stretch.re) / p.r0;
            }
            u = u - pull / give;
        }
        let mut sum = Dual::<1>::constant(0.0);
        for p in &points {
            let (stretch, cube) = stretches((place(p) + u) / p.r0);
            sum = sum + (stretch - cube) * (sin * p.q + cos * p.y) * p.area;
        }
        let turned = -sin.chain(sin.re.asin(), 1.0 / cos.re) + self.lip_angle;
        (sum * (FRAC_PI_2 * self.modulus()) + turned * self.hinge()) / (cos * self.length())
    }

    /// Force, N, at roll `s` m; negative for negative roll (a lip in contact can only push: cut there). NaN past 90°.
    #[inline]
    pub fn force<T: Real>(&self, s: T) -> T {
        let f = self.force_and_rate(s.value());
        s.chain(f.re, f.eps[0])
    }

    /// Rate dF/ds, N/m, at roll `s` m; negative where the lip snaps.
    pub fn rate(&self, s: f64) -> f64 {
        self.force_and_rate(s).eps[0]
    }

    /// Energy stored at roll `s`, J.
    pub fn energy(&self, s: f64) -> f64 {
        let (sin, cos) = self.angle(s).sin_cos();
        let points = self.points();
        let (root, u) = (0.5 * self.root_diameter, self.shift(&points, sin, cos));
        let density = |p: &Point| {
            let stretch = (root + u + p.q * cos - p.y * sin) / p.r0;
            p.area * p.r0 * (stretch - 1.0 / stretch).powi(2)
        };
        let turned = self.lip_angle - self.angle(s);
        FRAC_PI_4 * self.modulus() * points.iter().map(density).sum::<f64>() + 0.5 * self.hinge() * turned * turned
    }

    /// Hoop stretch at the (root, free edge), middle of the thickness, at roll `s` m.
    pub fn stretch(&self, s: f64) -> (f64, f64) {
        let (sin, cos) = self.angle(s).sin_cos();
        let (root, free, u) =
            (0.5 * self.root_diameter, 0.5 * self.outer_diameter, self.shift(&self.points(), sin, cos));
        (1.0 + u / root, (root + u + self.length() * cos) / free)
    }

    /// Roll, m, of the first greatest force between rolls 0 and `up_to` m; `None` if the force rises all the way.
    pub fn peak_roll(&self, up_to: f64) -> Option<f64> {
        const STEPS: u32 = 128;
        let at = |i: u32| up_to * f64::from(i) / f64::from(STEPS);
        let first = (0..=STEPS).find(|&i| self.rate(at(i)) < 0.0)?;
        let (mut rising, mut falling) = (at(first.saturating_sub(1)), at(first));
        for _ in 0..60 {
            let middle = 0.5 * (rising + falling);
            if self.rate(middle) < 0.0 { falling = middle } else { rising = middle }
        }
        Some(falling)
    }

    /// Does the force fall anywhere between rolls 0 and `up_to` m?
    pub fn snaps_through(&self, up_to: f64) -> bool {
        self.peak_roll(up_to).is_some()
    }
}
