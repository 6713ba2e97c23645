//! The state at t = 0.

use super::layout::{Layout, ledger};
use super::modes::Mode;
use super::stem::{Stem, StemStand};
use super::{Feed, LINE_NUCLEI, Rig};
use crate::laws::constants::STANDARD_GRAVITY;
use crate::parts::{Stand, TERMS};

/// What a zone holds at the start.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum InitialWater {
    /// Air only.
    Empty,
    /// Water, with this share of the volume left as air.
    Brimful {
        /// Share of the zone's volume.
        residual_air: f64,
    },
    /// This volume of water, m3, the rest air.
    Volume(f64),
}

impl Rig {
    /// State, empty ledger and mode at t = 0: parts where springs and initial pressures put them, line at rest under the
    /// main's pressure.
    pub fn start(&self) -> (Mode, Vec<f64>) {
        let layout = Layout::of(self);
        let mut y = vec![0.0; layout.dim() + ledger::COUNT];
        let gauge = self.initial_pressure;
        let mode = self.starting_mode(gauge);
        let lift = self.inlet.poppet.lift;
        y[layout.inlet()] = match (&self.stem, mode.stem) {
            (Some(stem), Some(StemStand::Held)) => stem.pick(self),
            (Some(stem), Some(StemStand::AtEnd)) => stem.stroke(self),
            (Some(_), _) => 0.0,
            _ if mode.inlet == Stand::Sealed => 0.0,
            _ => lift,
        };
        if let Feed::Line(line) = &self.feed {
            let cell = line.cell();
            let nuclei = line.nuclei(&self.fluid);
            let main = line.pressure.at(0.0) + self.fluid.ambient;
            for i in 0..layout.cells {
                let height = line.elevation * (i as f64 + 1.0) / layout.cells as f64;
                let p = (main + self.fluid.density * STANDARD_GRAVITY * height).max(1.01 * self.fluid.vapour_pressure);
                // The pocket of nuclei at this pressure.
                let gas = nuclei * self.fluid.air_rt() / (p - self.fluid.vapour_pressure);
                y[layout.line_water(i)] = cell.fill(&self.fluid, p, gas, 0.0).0;
            }
            y[layout.line_air()] = nuclei;
        }
        let [xc, xi] = self.travels(&layout, &y);
        let [d1, d2] = self.displaced(xc, xi);
        let displaced = [d1, d2, 0.0];
        for k in 1..=3 {
            let zone = &self.zones[k - 1];
            let volume = zone.volume + displaced[k - 1];
            let p = self.fluid.ambient + gauge[k - 1];
            let gas = match self.initial[k - 1] {
                InitialWater::Empty => volume,
                InitialWater::Brimful { residual_air } => residual_air * zone.volume,
                InitialWater::Volume(v) => (volume - v).max(1e-4 * zone.volume),
            };
            let gas = if matches!(self.initial[k - 1], InitialWater::Empty) {
                volume + zone.compliance * gauge[k - 1]
            } else {
                gas
            };
            let (water, air) = zone.fill(&self.fluid, p, gas, displaced[k - 1]);
            y[layout.water(k)] = water;
            y[layout.air(k)] = air;
        }
        if let (Some((_, pocket)), Some(i)) = (&self.inlet.lip, layout.lip()) {
            let grown = pocket.area * xi.max(0.0);
            // Filled where it was last at atmosphere; the trapped water fits it at its smallest.
            let then = if pocket.slot > 0.0 {
                grown
            } else if pocket.at_atmosphere_shut {
                0.0
            } else {
                pocket.area * lift
            };
            let gas = pocket.zone.volume + then - pocket.water;
            (y[i], y[i + 1]) = pocket.zone.fill(&self.fluid, self.fluid.ambient, gas, then);
            let law = self.inlet.poppet.load_force(xi, 0.0);
            for k in 0..TERMS {
                y[i + 2 + k] = law;
            }
        }
        if let Feed::Wave(end) = &self.feed {
            let p = (end.at(0.0)).max(1.01 * self.fluid.vapour_pressure);
            let nuclei =
                LINE_NUCLEI * end.cell.volume * (self.fluid.ambient - self.fluid.vapour_pressure) / self.fluid.air_rt();
            let gas = nuclei * self.fluid.air_rt() / (p - self.fluid.vapour_pressure);
            y[0] = end.cell.fill(&self.fluid, p, gas, 0.0).0;
            y[1] = nuclei;
        }
        if let (Some(tube), Some(i)) = (&self.tube, layout.tube()) {
            y[i] = tube.at_rest(&self.fluid);
        }
        (mode, y)
    }

    /// Whether zones 1 and 2 become equal at `gauge` Pa while nothing is drawn: through a check that leaks, or one that its
    /// stem holds open.
    pub fn equal_at_rest(&self, gauge: f64) -> bool {
        let leaks = self.check.leak_area + self.check.foul_area > 0.0;
        leaks || self.stem.as_ref().is_some_and(|stem| self.stem_holds_check_open(stem, gauge))
    }

    /// Where springs and the pressures at the start, Pa gauge, put the parts.
    fn starting_mode(&self, gauge: [f64; 3]) -> Mode {
        let inlet = &self.inlet.poppet;
        let shut = match &self.stem {
            None if self.starts_stuck => true,
            None => gauge[0] * self.inlet.zone1_area + gauge[1] * self.inlet.zone2_area > inlet.static_force(0.0, true),
            Some(stem) => {
                let up = (gauge[0] - gauge[1]) * self.check.seat_area()
                    + self.check.weight
                    + gauge[0] * self.inlet.zone1_area
                    + gauge[1] * self.inlet.zone2_area;
                up > inlet.static_force(-stem.lap, true)
            }
        };
        let carried = |stem: &Stem| gauge[0] == gauge[1] && self.stem_holds_check_open(stem, gauge[0]);
        if self.stem.as_ref().is_some_and(carried) {
            return Mode {
                check: Stand::AtStop,
                inlet: Stand::Sealed,
                relief: Stand::Sealed,
                stem: Some(StemStand::AtEnd),
                check_has_closed: false,
            };
        }
        Mode {
            check: Stand::Sealed,
            inlet: match (&self.stem, shut) {
                (Some(stem), true) if stem.lap < 0.0 => Stand::Moving,
                (_, true) => Stand::Sealed,
                (_, false) => Stand::AtStop,
            },
            relief: Stand::Sealed,
            stem: self.stem.as_ref().map(|_| if shut { StemStand::Held } else { StemStand::AtStop }),
            check_has_closed: false,
        }
    }
}
