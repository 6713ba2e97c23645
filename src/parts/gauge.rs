//! The instrument of a field test: a differential gauge with its hose, or a sight tube.
//!
//! ```text
//! hose and capsule   a zone of volume V and compliance C, one hose to a cock, the other side open to atmosphere
//! hose and cock      dp = r Q + rho Q abs(Q) / (2 A^2),   1/A^2 = 1/(Cd A_cock)^2 + K/A_hose^2,   r = 128 mu L / (pi d^4)
//! column             p_gauge = p_part - rho g z + rho g u l      z gauge above part, l air slug in the hose, u upright share
//! needle             tau dn/dt = p_gauge - n,      shown = n (1 + span) + zero, between its stops
//! sight tube         C = A_tube / (rho g), no needle; it runs over at its top
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | Q | flow from the body into the hose | m3/s |
//! | r | laminar resistance of the hose (Hagen-Poiseuille; above Re 2300, about 9 mL/s here, it is too small) | Pa s/m3 |
//! | K | entry and exit of the hose, 1.5 (handbook value, from memory) | |
//! | tau | lag of the needle | s |
//!
//! The pressure of a zone is that at its part (air inlet's seat, check), so a column of water from there to the gauge counts.

use super::{Fluid, Zone};
use crate::laws::constants::STANDARD_GRAVITY;
use crate::real::Real;

/// Loss coefficient of entry and exit of a hose (handbook value, from memory).
const HOSE_ENDS: f64 = 1.5;
/// Pressure difference, Pa, below which the orifice part of hose and cock turns linear; the hose itself is linear anyway.
const SOFT: f64 = 1.0;
/// How far beyond full scale the needle's stop stands, as a share of the scale (estimate).
pub const PEG: f64 = 0.03;

/// What the level of the gauge is counted from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Reference {
    /// The part under test: the air inlet's seat, the check.
    Part,
    /// The cock that the hose is on.
    Cock,
}

/// What shows the pressure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Instrument {
    /// A differential gauge, high side on the hose, low side open and dry.
    Gauge,
    /// A clear vertical tube.
    Tube,
}

/// A gauge or a tube with its hose.
#[derive(Debug, Clone, PartialEq)]
pub struct Gauge {
    /// Which.
    pub instrument: Instrument,
    /// Hose and capsule (or tube).
    pub zone: Zone,
    /// Bore area of the hose, m2.
    pub hose_area: f64,
    /// Length of the hose, m.
    pub hose_length: f64,
    /// Lag of the needle, s.
    pub lag: f64,
    /// Zero error, Pa.
    pub zero_error: f64,
    /// Span error, as a share of the reading.
    pub span_error: f64,
    /// Smallest step that is recorded, Pa; recorded values are rounded down to it.
    pub resolution: f64,
    /// How far the reading may be off by the instrument's class, Pa.
    pub class: f64,
    /// Full scale, Pa; height of the tube as a pressure.
    pub range: f64,
    /// Area of the bleed valve wide open, m2.
    pub bleed_area: f64,
    /// Height above the reference, m.
    pub height: f64,
    /// What the height is counted from.
    pub reference: Reference,
    /// Height of check and air inlet above the cock that the hose is on for their test, m.
    pub part_above_cock: [f64; 2],
    /// Air left in the hose after it has been bled, m3 at atmospheric pressure.
    pub trapped_air: f64,
    /// Share of that slug which stands upright: +1 in the leg that rises to the gauge, -1 in the leg that falls from the cock.
    pub air_upright: f64,
    /// Leak area of hose and fittings, m2.
    pub leak_area: f64,
    /// Water standing in the low hose above the gauge, m.
    pub low_side_head: f64,
    /// Whether the low side is capped instead of open: the capsule then compresses the air in its hose.
    pub low_side_capped: bool,
}

impl Gauge {
    /// Laminar resistance of the hose, Pa s/m3.
    pub fn resistance(&self, fluid: &Fluid) -> f64 {
        // 128 mu L / (pi d^4) with A = pi d^2 / 4.
        8.0 * std::f64::consts::PI * fluid.viscosity * fluid.density * self.hose_length
            / (self.hose_area * self.hose_area)
    }

    /// Effective area of the turbulent part of the way through a cock of effective area `cock` m2 and the hose, m2.
    #[inline]
    pub fn way<T: Real>(&self, cock: T) -> T {
        crate::laws::orifice::series_area(cock, T::constant(self.hose_area / HOSE_ENDS.sqrt()))
    }

    /// Volume flow of water, m3/s, at `dp` Pa over the way of effective area `area` m2 and the hose's `resistance`.
    #[inline]
    pub fn hose_flow<T: Real>(area: T, dp: T, density: f64, resistance: f64) -> T {
        if area.value() <= 0.0 {
            return T::constant(0.0);
        }
        let laminar = area * resistance;
        let size = (dp * dp + SOFT * SOFT).sqrt();
        area * dp * 2.0 / (laminar + (laminar * laminar + size * (2.0 * density)).sqrt())
    }

    /// Pressure lost in hose and cock at a flow of `q` m3/s, Pa.
    pub fn loss(&self, fluid: &Fluid, cock: f64, q: f64) -> f64 {
        let area = self.way(cock);
        if q == 0.0 || !(area > 0.0) {
            return 0.0;
        }
        self.resistance(fluid) * q + 0.5 * fluid.density * q * q.abs() / (area * area)
    }

    /// Height of the gauge above the part of the test (0 check, 1 air inlet), m.
    pub fn above_part(&self, part: usize) -> f64 {
        match self.reference {
            Reference::Part => self.height,
            Reference::Cock => self.height - self.part_above_cock.get(part).copied().unwrap_or(0.0),
        }
    }

    /// Pressure by which a column of water `height` m high lowers what the gauge sees, Pa.
    pub fn column(fluid: &Fluid, height: f64) -> f64 {
        fluid.density * STANDARD_GRAVITY * height
    }

    /// Pressure by which a slug of `gas` m3 of air raises what the gauge sees, Pa.
    #[inline]
    pub fn slug<T: Real>(&self, fluid: &Fluid, gas: T) -> T {
        let length = (gas / self.hose_area).at_most(self.hose_length);
        length * (self.air_upright * fluid.density * STANDARD_GRAVITY)
    }

    /// Pressure difference over the capsule, Pa, with `gauge` Pa in its high side.
    #[inline]
    pub fn difference<T: Real>(&self, fluid: &Fluid, gauge: T) -> T {
        (gauge - Self::column(fluid, self.low_side_head)) * self.low_side_share(fluid)
    }

    /// Share of the pressure that is left when the low side is capped: 1 / (1 + pa C / V), V a hose full of air.
    pub fn low_side_share(&self, fluid: &Fluid) -> f64 {
        match self.low_side_capped {
            true => 1.0 / (1.0 + fluid.ambient * self.zone.compliance / (self.hose_area * self.hose_length)),
            false => 1.0,
        }
    }

    /// What the needle shows, Pa, when it would stand at `needle` without zero, span and stops.
    pub fn shown(&self, needle: f64) -> f64 {
        let free = needle * (1.0 + self.span_error) + self.zero_error;
        if self.instrument == Instrument::Tube {
            free.clamp(0.0, self.range)
        } else {
            free.clamp(-PEG * self.range, self.range)
        }
    }

    /// The reading rounded down to the resolution, Pa.
    pub fn rounded(&self, reading: f64) -> f64 {
        // A reading of exactly 1.0 must not fall to 0.9 by the last bit.
        (reading / self.resolution + 1e-9).floor() * self.resolution
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    fn gauge() -> Gauge {
        let d: f64 = 4.8e-3;
        Gauge {
            instrument: Instrument::Gauge,
            zone: Zone { volume: 27e-6, compliance: 1.45e-11 },
            hose_area: std::f64::consts::FRAC_PI_4 * d * d,
            hose_length: 1.5,
            lag: 0.3,
            zero_error: 0.0,
            span_error: 0.0,
            resolution: 689.475_729,
            class: 1379.0,
            range: 103_421.0,
            bleed_area: 3.1e-6,
            height: 0.0,
            reference: Reference::Part,
            part_above_cock: [0.0, 0.05],
            trapped_air: 0.0,
            air_upright: 1.0,
            leak_area: 0.0,
            low_side_head: 0.0,
            low_side_capped: false,
        }
    }

    fn fluid() -> Fluid {
        Fluid::with_properties(293.15, 101_325.0, 998.2, 4.6e-10, 1.004e-6, 2339.0)
    }

    /// Hagen-Poiseuille: 128 mu L Q / (pi d^4) for 0.3 mL/s of water in 1.5 m of 4.8 mm hose = 34.7 Pa.
    #[test]
    fn ref_a_slow_flow_meets_the_hose_of_hagen_and_poiseuille() {
        let (g, f) = (gauge(), fluid());
        let by_hand = 128.0 * 1.004e-6 * 998.2 * 1.5 * 0.3e-6 / (std::f64::consts::PI * 4.8e-3_f64.powi(4));
        assert_relative_eq!(g.resistance(&f) * 0.3e-6, by_hand, max_relative = 1e-12);
        assert_relative_eq!(by_hand, 34.6, max_relative = 0.01);
    }

    #[test]
    fn analytic_flow_and_loss_are_inverse() {
        let (g, f) = (gauge(), fluid());
        for dp in [50.0, 3e3, 2e5] {
            for cock in [0.02e-6, 0.61 * 12e-6] {
                let q = Gauge::hose_flow(g.way(cock), dp, f.density, g.resistance(&f));
                // The smoothing of the orifice part costs at most its share at dp: (SOFT/dp)^2 / 4.
                assert_relative_eq!(g.loss(&f, cock, q), dp, max_relative = 3e-4);
                assert_relative_eq!(Gauge::hose_flow(g.way(cock), -dp, f.density, g.resistance(&f)), -q);
            }
        }
    }

    #[test]
    fn analytic_rounding_goes_down_and_keeps_whole_steps() {
        let g = Gauge { resolution: 0.1, ..gauge() };
        for (reading, recorded) in [(1.0, 1.0), (0.999_99, 0.9), (1.099, 1.0), (0.3, 0.3), (-0.05, -0.1), (0.0, 0.0)] {
            assert!((g.rounded(reading) - recorded).abs() < 1e-9, "{reading}");
        }
    }
}
