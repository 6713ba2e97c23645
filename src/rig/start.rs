//! The state at t = 0.

use super::layout::{Layout, ledger};
use super::modes::Mode;
use super::{Feed, Rig};
use crate::laws::constants::STANDARD_GRAVITY;
use crate::parts::Stand;

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
        let pressed = gauge[0] * self.inlet.zone1_area + gauge[1] * self.inlet.zone2_area;
        let shut = pressed > self.inlet.poppet.static_force(0.0, true);
        let inlet = if shut { Stand::Sealed } else { Stand::AtStop };
        y[layout.inlet()] = if shut { 0.0 } else { self.inlet.poppet.lift };
        let mode = Mode { check: Stand::Sealed, inlet, check_has_closed: false };
        if let Feed::Line(line) = &self.feed {
            let cell = line.cell();
            let nuclei = line.nuclei(&self.fluid);
            let main = line.pressure.at(0.0) + self.fluid.ambient;
            for i in 0..line.cells {
                let height = line.elevation * (i as f64 + 1.0) / line.cells as f64;
                let p = (main + self.fluid.density * STANDARD_GRAVITY * height).max(1.01 * self.fluid.vapour_pressure);
                // The pocket of nuclei at this pressure.
                let gas = nuclei * self.fluid.air_rt() / (p - self.fluid.vapour_pressure);
                y[layout.line_water(i)] = cell.fill(&self.fluid, p, gas, 0.0).0;
            }
            y[layout.line_air()] = nuclei;
        }
        let closing = self.inlet.poppet.lift - y[layout.inlet()];
        let displaced = [closing * self.inlet.zone1_area, closing * self.inlet.zone2_area, 0.0];
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
        (mode, y)
    }
}
