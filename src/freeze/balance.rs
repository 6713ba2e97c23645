//! Where mass, volume and energy went.
//!
//! ```text
//! mass     kg at the start = kg inside at the end (volume over specific volume, exact laws) + kg out
//! volume   out = freezing + thermal + compression of water and of ice + air − growth of wall (elastic, thermal, lasting), rubber
//! energy   heat out + enthalpy out + change of U (water, metal, stretch) + work on the atmosphere = 0
//! ```
//!
//! Between two samples every product is split exactly: Δ(m v) = m̄ Δv + v̄ Δm, and Δv into its part by temperature and the rest,
//! by pressure. So the terms add up to the volume out but for rounding.

use super::body::{Body, DROP};
use super::modes::Mode;
use super::night::{NightSample, ZoneSample};
use crate::laws::constants::AIR_GAS_CONSTANT;
use crate::laws::ice::IceState;
use crate::laws::water::WaterState;
use crate::numerics::Solution;
use serde::Serialize;

/// What pushed water out (positive) or made room for it (negative), m³.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct Volumes {
    /// Water that became ice.
    pub freezing_m3: f64,
    /// Expansion of the liquid by temperature.
    pub liquid_thermal_m3: f64,
    /// Expansion of the ice by temperature.
    pub ice_thermal_m3: f64,
    /// Expansion of the liquid by falling pressure (negative: compression).
    pub liquid_compression_m3: f64,
    /// The same of the ice.
    pub ice_compression_m3: f64,
    /// Growth of the air pockets.
    pub air_m3: f64,
    /// Elastic growth of the walls, as room: negative.
    pub wall_elastic_m3: f64,
    /// Thermal growth of the walls, as room (contraction is positive).
    pub wall_thermal_m3: f64,
    /// Rubber giving way, as room.
    pub rubber_m3: f64,
    /// Lasting growth of the walls and what an open zone overflows by, as room.
    pub lasting_m3: f64,
    /// Difference of specific volume of what passed from zone 1 to zone 2.
    pub between_zones_m3: f64,
    /// Sum of all of these.
    pub sum_m3: f64,
    /// Water out: specific volume times mass, summed.
    pub expelled_m3: f64,
    /// Water out: the relief's flow integrated by the solver.
    pub orifice_m3: f64,
}

/// Energies of the whole night, J.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct Energies {
    /// Heat given off to the air.
    pub heat_out_j: f64,
    /// Enthalpy of what left.
    pub enthalpy_out_j: f64,
    /// Change of internal energy of water, ice and air.
    pub contents_j: f64,
    /// Change of the metal's heat.
    pub metal_j: f64,
    /// Work stored in walls and rubber.
    pub wall_work_j: f64,
    /// Work of lasting growth; it has become heat of the metal and is part of `metal_j`.
    pub of_which_lasting_j: f64,
    /// Work against the atmosphere.
    pub atmosphere_j: f64,
    /// Sum, which should be 0 (without `of_which_lasting_j`).
    pub sum_j: f64,
}

/// Masses, kg.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct Masses {
    /// Water at the start.
    pub start_kg: f64,
    /// Water and ice at the end, from volumes by the exact equations of state.
    pub end_kg: f64,
    /// Water out.
    pub out_kg: f64,
    /// Air in all zones.
    pub air_kg: f64,
}

/// All three.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct Balance {
    /// Water.
    pub water: Masses,
    /// Volumes.
    pub volume: Volumes,
    /// Energies.
    pub energy: Energies,
}

/// Change of a specific volume between two states, by temperature (mean slope times difference) and by pressure (the rest),
/// and its mean. `k`: 0 liquid, 1 ice. Where the phase is absent at one end it is what it is at the other.
fn split(k: usize, a: &ZoneSample, b: &ZoneSample) -> [f64; 3] {
    let ([va, sa], [vb, sb]) = (a.v[k], b.v[k]);
    if !(va > 0.0 && vb > 0.0) {
        return [0.0, 0.0, va.max(vb)];
    }
    let by_t = 0.5 * (sa + sb) * (b.t - a.t);
    [by_t, vb - va - by_t, 0.5 * (va + vb)]
}

impl Volumes {
    /// The terms between all samples.
    pub fn of(body: &Body, mode: &Mode, samples: &[NightSample]) -> Volumes {
        let mut all = Volumes::default();
        for pair in samples.windows(2) {
            let [a, b] = pair else { continue };
            let relieved = b.relieved[0] - a.relieved[0];
            let outlet = body.relief.map_or(0, |r| r.zone);
            let mut net = 0.0;
            for (i, (za, zb)) in a.zones.iter().zip(&b.zones).enumerate() {
                let air = mode.zones.get(i).map_or(0.0, |m| m.air);
                let out = all.zone(body, i, air, za, zb);
                net += out;
                if i == outlet && relieved > 0.0 {
                    let mean = split(0, za, zb)[2];
                    all.expelled_m3 += mean * relieved;
                    net -= mean * relieved;
                }
            }
            // What is left over passed the check: out of one zone at its volume, into the other at that one's.
            all.between_zones_m3 -= net;
        }
        all.orifice_m3 = match (samples.first(), samples.last()) {
            (Some(a), Some(b)) => b.relieved[1] - a.relieved[1],
            _ => 0.0,
        };
        all.sum_m3 = all.freezing_m3
            + all.liquid_thermal_m3
            + all.ice_thermal_m3
            + all.liquid_compression_m3
            + all.ice_compression_m3
            + all.air_m3
            + all.wall_elastic_m3
            + all.wall_thermal_m3
            + all.rubber_m3
            + all.lasting_m3
            + all.between_zones_m3;
        all
    }

    /// Adds one zone's terms between two samples; returns what it sent out, mean specific volume times mass.
    fn zone(&mut self, body: &Body, i: usize, air: f64, a: &ZoneSample, b: &ZoneSample) -> f64 {
        let Some(wall) = body.zones.get(i).map(|z| &z.wall) else { return 0.0 };
        let (water_a, water_b) = (a.mass - a.ice, b.mass - b.ice);
        let mut out = 0.0;
        let mut freezing = 0.0;
        if a.ice > 0.0 || b.ice > 0.0 {
            let [by_t, by_p, v] = split(1, a, b);
            let mean = 0.5 * (a.ice + b.ice);
            self.ice_thermal_m3 += mean * by_t;
            self.ice_compression_m3 += mean * by_p;
            freezing += v * (b.ice - a.ice);
        }
        // Freezing through is found a hair late: a little less than none.
        if water_a != 0.0 || water_b != 0.0 {
            let [by_t, by_p, v] = split(0, a, b);
            let mean = 0.5 * (water_a + water_b);
            self.liquid_thermal_m3 += mean * by_t;
            self.liquid_compression_m3 += mean * by_p;
            freezing -= v * (b.ice - a.ice);
            out = -v * (b.mass - a.mass);
        }
        self.freezing_m3 += freezing;
        let pocket = |z: &ZoneSample| air * AIR_GAS_CONSTANT * z.t / z.p;
        self.air_m3 += pocket(b) - pocket(a);
        let gauge = |z: &ZoneSample| z.p - wall.ambient;
        self.wall_elastic_m3 -= wall.volume * wall.compliance * (gauge(b) - gauge(a));
        self.wall_thermal_m3 -= wall.volume * wall.expansion * (b.t - a.t);
        self.rubber_m3 -= wall.rubber.at(gauge(b)).0 - wall.rubber.at(gauge(a)).0;
        self.lasting_m3 -= b.lasting - a.lasting;
        out
    }
}

impl Balance {
    /// All three balances of a run.
    pub(super) fn of(body: &Body, solution: &Solution<Mode>, samples: &[NightSample], volume: Volumes) -> Balance {
        let (Some(first), Some(last)) = (samples.first(), samples.last()) else { return Balance::default() };
        let mut water = Masses { out_kg: last.relieved[0] - first.relieved[0], ..Masses::default() };
        let mut energy = Energies {
            heat_out_j: last.heat_out - first.heat_out,
            enthalpy_out_j: last.relieved[2] - first.relieved[2],
            ..Energies::default()
        };
        for (i, zone) in body.zones.iter().enumerate() {
            let (Some(a), Some(b)) = (first.zones.get(i), last.zones.get(i)) else { continue };
            let wall = &zone.wall;
            let air = solution.mode_end.zones.get(i).map_or(0.0, |m| m.air);
            water.start_kg += a.mass;
            water.air_kg += air;
            water.end_kg += mass_by_volume(wall, b, air);
            energy.contents_j += contents(b, air) - contents(a, air);
            energy.metal_j += wall.heat_capacity * (b.t - a.t);
            let stretch = |z: &ZoneSample| wall.stretch_energy(z.t, z.p - wall.ambient);
            energy.wall_work_j += stretch(b) - stretch(a);
            let inner = |z: &ZoneSample| wall.volume_at(z.t, z.p) + z.lasting;
            energy.atmosphere_j += wall.ambient * (inner(b) - inner(a));
            energy.of_which_lasting_j += samples
                .windows(2)
                .filter_map(|w| match w {
                    [x, y] => Some((x.zones.get(i)?, y.zones.get(i)?)),
                    _ => None,
                })
                .map(|(x, y)| (0.5 * (x.p + y.p) - wall.ambient) * (y.lasting - x.lasting))
                .sum::<f64>();
        }
        energy.sum_j = energy.heat_out_j
            + energy.enthalpy_out_j
            + energy.contents_j
            + energy.metal_j
            + energy.wall_work_j
            + energy.atmosphere_j;
        Balance { water, volume, energy }
    }
}

/// Water and ice of a zone from its volume, by the exact equations of state; what a dry zone has is lost in its air.
fn mass_by_volume(wall: &super::wall::Wall, z: &ZoneSample, air: f64) -> f64 {
    let room = wall.volume_at(z.t, z.p) + z.lasting - air * AIR_GAS_CONSTANT * z.t / z.p;
    let ice = if z.ice > 0.0 { IceState::new(z.t, z.p).volume } else { 0.0 };
    if z.mass < DROP {
        return z.mass;
    }
    if z.v[0][0] == 0.0 {
        return room / ice;
    }
    z.ice + (room - z.ice * ice) * WaterState::liquid(z.t, z.p).density
}

/// Internal energy of water, ice and air, J, by the exact equations of state.
fn contents(z: &ZoneSample, air: f64) -> f64 {
    let mut sum = 2.5 * AIR_GAS_CONSTANT * air * z.t;
    if z.v[0][0] != 0.0 {
        let s = WaterState::liquid(z.t, z.p);
        sum += (z.mass - z.ice) * (s.enthalpy - z.p / s.density);
    }
    if z.ice > 0.0 {
        let s = IceState::new(z.t, z.p);
        sum += z.ice * (s.enthalpy - z.p * s.volume);
    }
    sum
}
