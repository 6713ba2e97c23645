//! An assembly with a gauge on it: the rig's equations, joined by those of hose, needle and hand.
//!
//! States behind those of the rig: water and air in the hose (kg), needle (Pa), opening of the bleed valve (0 to 1).
//! Then the rig's ledger. The flow into the hose leaves the zone that its cock taps.
//!
//! ```text
//! needle     tau dn/dt = p_gauge - n                        p_gauge held between the stops
//! hand       T du/dt = (u + u0) (1 - u) e,  e > 0           opens
//!            T du/dt = u e,                 e < 0           shuts;   e = (wanted - seen) / wanted, within -1 and 1
//! ```
//!
//! | symbol | meaning |
//! |---|---|
//! | u, u0 | opening of the bleed valve, and the crack it starts from ([`CRACK`], estimate) |
//! | e | how far what the tester sees (fall of the needle, flow, a running cock) is off what is wanted |
//! | T | the hand's reaction time: in that time it opens or shuts the valve at most by a factor of e |
//!
//! **Weeping.** A bleed draws zone 1 of a pressure type down through its check, which friction holds on its seat after
//! pressure has taken the load off it. Such a disc is not pressed down: it weeps. Its gap grows to a micrometre
//! ([`WEEP_GAP`], estimate) over the last fifth of the friction, so that zone 1 follows within a hundredth of a psi of where
//! the check would lift, instead of in hundreds of lifts of a few micrometres.
//!
//! The law of the hand is ours (estimate): a valve is turned in proportion to how far it is open already, since a tester
//! feels for the first drop and then turns more boldly.

mod system;

use super::act::Part as TestPart;
use crate::laws::orifice;
use crate::numerics::System;
use crate::parts::{Gauge, Instrument, Opening, PEG, Stand};
use crate::real::Real;
use crate::rig::{Flows, Layout, Mode, Pressures, Rig, SHARP_EDGE, SOFT_DP, StemStand, Stream};

/// Opening, as a share, of a bleed valve that just begins to drip (estimate).
pub(super) const CRACK: f64 = 2e-4;
/// Gap under a disc that only friction holds on its seat, m (estimate: the roughness of a moulded face).
const WEEP_GAP: f64 = 1e-6;
/// Over which last share of friction and adhesion the gap grows, and the least pressure it takes, Pa (0.01 psi).
const WEEP_BAND: (f64, f64) = (0.2, 69.0);
/// States behind those of the rig.
pub(super) const STATES: usize = 4;
/// What zone 1 may lose and still count as at rest, m3/s: a drop in 25 s, which takes a usual gauge (0.1 mL/psi) down by about
/// as much as a needle that seems to stand may fall.
pub const LOSES: f64 = 0.002e-6;
/// Share of the hose that must be water for its openings to pass water only.
const WET: f64 = 0.2;

/// What the hand on the bleed valve is after.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Aim {
    /// Leaves it as it is.
    Still,
    /// Lets the needle fall at this rate, Pa/s.
    Fall(f64),
    /// Lets this flow out, m3/s.
    Flow(f64),
    /// Opens it until the open cock or screw on this zone runs with no more than this flow, m3/s.
    StopCock(usize, f64),
}

/// When an act ends, besides at its longest.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Until {
    /// The needle has fallen to this, Pa.
    pub needle: Option<f64>,
    /// The air inlet has left its seat.
    pub opens: bool,
    /// The air inlet stands at its stop.
    pub fully_open: bool,
    /// The needle moves by less than this band, Pa, within this time, s.
    pub steady: Option<(f64, f64)>,
    /// For that time zone 1 must have lost no more than [`LOSES`] as well.
    pub at_rest: bool,
    /// The cock of [`Aim::StopCock`] has stopped and stayed so for this time, s, or the valve is wide open.
    pub stopped: Option<f64>,
}

/// The cock that the hose is on.
#[derive(Debug, Clone, PartialEq)]
pub struct Hose {
    /// Which cock, 1 or 2.
    pub cock: usize,
    /// What it taps: 0 the line, 1 to 3 a zone.
    pub zone: usize,
    /// Effective area of the cock wide open, m2.
    pub area: f64,
    /// How far the cock is open.
    pub opening: Opening,
}

/// Mode of the joined system.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FieldMode {
    /// Of the assembly.
    pub rig: Mode,
    /// The needle has passed the mark of [`Until::needle`].
    pub reached: bool,
}

/// An assembly with a gauge on it.
#[derive(Debug, Clone)]
pub struct TestStand {
    /// The assembly.
    pub rig: Rig,
    /// The instrument.
    pub gauge: Gauge,
    /// Where the hose is.
    pub hose: Option<Hose>,
    /// Bleed valve on a tee at the cock instead of on the gauge.
    pub tee: bool,
    /// The part the gauge is levelled for.
    pub part: TestPart,
    /// What the hand is after.
    pub aim: Aim,
    /// Reaction time of the hand, s.
    pub reaction: f64,
    /// When the act ends.
    pub until: Until,
}

/// What the gauge and its flows come to at one instant.
#[derive(Debug, Clone, Copy)]
pub struct Seen<T> {
    /// Pressure in the gauge's high side, Pa absolute.
    pub gauge: T,
    /// Pressure of the tapped zone, Pa absolute; ambient without a hose.
    pub zone: T,
    /// Pressure outside the cock, where a tee would be, Pa absolute.
    pub node: T,
    /// Into the hose.
    pub hose: Stream<T>,
    /// Out of the bleed valve.
    pub bleed: Stream<T>,
    /// Out of the hose's leak or over the top of the tube.
    pub lost: Stream<T>,
    /// Air in the hose, m3.
    pub gas: T,
}

impl TestStand {
    /// Index of the first state of the gauge.
    pub fn base(&self) -> usize {
        Layout::of(&self.rig).dim()
    }

    /// What the gauge sees.
    #[inline]
    pub fn seen<T: Real>(&self, p: &Pressures<T>, t: T, y: &[T]) -> Seen<T> {
        let rig = &self.rig;
        let fluid = &rig.fluid;
        let (n, rho) = (self.base(), fluid.density);
        let pa = T::constant(fluid.ambient);
        let dry = T::constant(0.0);
        let c = self.gauge.zone.contents(fluid, y[n], y[n + 1], dry);
        let gas = self.gauge.zone.volumes(fluid, y[n], y[n + 1], dry).gas;
        let wet = (c.liquid_share * (1.0 / WET)).at_most(1.0);
        let valve = y[n + 3].at_least(0.0) * (SHARP_EDGE * self.gauge.bleed_area);
        let none = Stream { water: dry, air: dry };
        let leak = rig.fluid.stream(T::constant(SHARP_EDGE * self.gauge.leak_area), SOFT_DP, c.pressure, pa, wet, dry);
        let over = match self.gauge.instrument {
            Instrument::Tube => {
                let head = (c.pressure - pa - self.gauge.range).at_least(0.0);
                let top = T::constant(SHARP_EDGE * self.gauge.hose_area);
                Stream { water: orifice::liquid(top, head, rho, SOFT_DP), air: dry }
            }
            Instrument::Gauge => none,
        };
        let lost = Stream { water: leak.water + over.water, air: leak.air };
        let at_gauge = |valve: T| rig.fluid.stream(valve, SOFT_DP, c.pressure, pa, wet, dry);
        let Some(hose) = &self.hose else {
            let bleed = if self.tee { none } else { at_gauge(valve) };
            return Seen { gauge: c.pressure, zone: pa, node: pa, hose: none, bleed, lost, gas };
        };
        let k = hose.zone.min(3);
        let zone = if k == 0 { p.line } else { p.zone[k - 1] };
        let cock = hose.opening.at(t) * hose.area;
        let (bleed, node) = match self.tee {
            false => (at_gauge(valve), zone),
            true if cock.value() > 0.0 => {
                // Two orifices one behind the other: the gauge's share of the pressure stands between them.
                let out = rig.fluid.stream(orifice::series_area(cock, valve), SOFT_DP, zone, pa, p.liquid[k], dry);
                let square = cock * cock;
                (out, (zone - pa) * (square / (square + valve * valve)) + pa)
            }
            true => (none, zone),
        };
        let column = Gauge::column(fluid, self.gauge.above_part(self.part.index()));
        let below = c.pressure - self.gauge.slug(fluid, gas) + column;
        // The cock is low in the body: it gives water as long as there is some.
        let from = (p.liquid[k] * (1.0 / WET)).at_most(1.0);
        let hose = self.hose_stream(cock, node, below, from, wet);
        Seen { gauge: c.pressure, zone, node, hose, bleed, lost, gas }
    }

    /// Flow from the cock into the hose; as through any opening, but with the hose's resistance.
    #[inline]
    fn hose_stream<T: Real>(&self, cock: T, p_a: T, p_b: T, phi_a: T, phi_b: T) -> Stream<T> {
        let fluid = &self.rig.fluid;
        let (dp, way) = (p_a - p_b, self.gauge.way(cock));
        let water = Gauge::hose_flow(way, dp, fluid.density, self.gauge.resistance(fluid)) * fluid.density;
        let phi = if dp.value() >= 0.0 { phi_a } else { phi_b };
        let air = if phi.value() < 1.0 {
            let upstream = if dp.value() >= 0.0 { p_a } else { p_b };
            let slow = water * upstream * (1.0 / (fluid.density * fluid.air_rt()));
            let free = orifice::gas(way, p_a, p_b, fluid.temperature);
            let square = dp * dp;
            (-phi + 1.0) * (slow + (free - slow) * (square / (square + SOFT_DP * SOFT_DP)))
        } else {
            T::constant(0.0)
        };
        Stream { water: phi * water, air }
    }

    /// Water that weeps through a check that only friction holds on its seat, kg/s.
    #[inline]
    pub(super) fn weep<T: Real>(&self, p: &Pressures<T>, y: &[T], mode: &Mode) -> T {
        let check = &self.rig.check;
        let zero = T::constant(0.0);
        // A stem that does not press on the check leaves its whole spring on the seat.
        if mode.check != Stand::Sealed || mode.stem.is_some_and(|stand| stand != StemStand::Held) {
            return zero;
        }
        let area = check.seat_area();
        let stem = if mode.stem.is_some() { self.rig.inlet.poppet.friction } else { 0.0 };
        let held = check.friction + check.adhesion + stem;
        let band = (WEEP_BAND.0 * held).max(WEEP_BAND.1 * area);
        let drive = match mode.stem {
            None => (p.zone[0] - p.zone[1]) * area + check.static_force(0.0, true),
            Some(_) => self.rig.held_drive(mode, p, y),
        };
        let s = ((drive - (held - band)) / band).at_least(0.0).at_most(1.0);
        if s.value() <= 0.0 {
            return zero;
        }
        let gap = std::f64::consts::PI * check.seat_diameter * WEEP_GAP * check.discharge_coefficient;
        let open = s * s * (s * -2.0 + 3.0) * gap;
        orifice::liquid(open, p.zone[0] - p.zone[1], self.rig.fluid.density, SOFT_DP)
            * (p.liquid[1] * (1.0 / WET)).at_most(1.0)
    }

    /// What the needle makes for, Pa: the difference over the capsule, between the stops.
    #[inline]
    pub fn target<T: Real>(&self, gauge: T) -> T {
        let free = self.gauge.difference(&self.rig.fluid, gauge - self.rig.fluid.ambient);
        free.at_most((1.0 + PEG) * self.gauge.range).at_least(-PEG * self.gauge.range)
    }

    /// Rate of the bleed valve's opening, 1/s.
    #[inline]
    fn hand<T: Real>(&self, p: &Pressures<T>, t: T, y: &[T], mode: &Mode, seen: &Seen<T>) -> T {
        let n = self.base();
        let off = match self.aim {
            Aim::Still => return T::constant(0.0),
            Aim::Fall(wanted) => {
                let falling = (y[n + 2] - self.target(seen.gauge)) / self.gauge.lag;
                (-falling + wanted) / wanted
            }
            Aim::Flow(wanted) => (-(seen.bleed.water / self.rig.fluid.density) + wanted) / wanted,
            Aim::StopCock(zone, drip) => {
                // At twice a drip it still opens by half its speed, at a drip it stands.
                (self.running(p, t, y, mode, zone) / self.rig.fluid.density - drip) / drip
            }
        };
        let off = off.at_most(1.0).at_least(-1.0) / self.reaction;
        let u = y[n + 3];
        if off.value() > 0.0 { (u + CRACK) * (-u + 1.0) * off } else { u.at_least(0.0) * off }
    }

    /// Water that an open cock or screw on `zone` runs with, kg/s. On zone 2, which stands at atmosphere then, it is what
    /// check and shutoff 2 let in: by gravity all of that runs out, though zone 2 has no height here to press with.
    #[inline]
    fn running<T: Real>(&self, p: &Pressures<T>, t: T, y: &[T], mode: &Mode, zone: usize) -> T {
        let layout = Layout::of(&self.rig);
        if zone == 2 {
            let f = self.rig.flows(&layout, mode, t, y, p);
            return f.check.water + self.weep(p, y, mode) - f.shutoff2.water;
        }
        let side = self.rig.side_flows(&layout, mode, t, y, p);
        side.map_or(T::constant(0.0), |side| side.taps[zone.min(3)].water)
    }

    /// Water that an open cock or screw on `zone` runs with, m3/s.
    pub fn cock_flow(&self, mode: &FieldMode, t: f64, y: &[f64], zone: usize) -> f64 {
        let layout = Layout::of(&self.rig);
        let p = self.rig.pressures(&layout, t, y);
        self.running(&p, t, y, &mode.rig, zone) / self.rig.fluid.density
    }

    /// Water that zone 1 and the hose on it lose, m3/s, what the bleed valve lets out not counted: through the check, a tear
    /// or a fitting. A leaking shutoff makes up for it.
    pub fn loses(&self, mode: &FieldMode, t: f64, y: &[f64]) -> f64 {
        let mut rates = vec![0.0; y.len()];
        self.rates(mode, t, y, &mut rates);
        let layout = Layout::of(&self.rig);
        let gained = match self.hose.as_ref().map(|h| h.zone) {
            Some(1) => {
                let p = self.rig.pressures(&layout, t, y);
                rates[layout.water(1)] + rates[self.base()] + self.seen(&p, t, y).bleed.water
            }
            _ => rates[layout.water(1)],
        };
        -gained / self.rig.fluid.density
    }

    /// Flows of the assembly.
    pub fn flows(&self, mode: &FieldMode, t: f64, y: &[f64], p: &Pressures<f64>) -> Flows<f64> {
        self.rig.flows(&Layout::of(&self.rig), &mode.rig, t, y, p)
    }

    /// Whether the act has come to the end it waits for, as far as the mode tells.
    pub fn told(&self, mode: &FieldMode) -> bool {
        mode.reached
            || (self.until.opens && mode.rig.inlet != Stand::Sealed)
            || (self.until.fully_open && mode.rig.inlet == Stand::AtStop)
    }
}

/// What is watched for rest.
#[derive(Debug, Clone, Default)]
pub struct Watch {
    /// Since when the needle has stood within the band, and where.
    needle: Option<(f64, f64)>,
    /// Since when nothing has run.
    dry: Option<f64>,
}
