//! What came in, what went out, and what is there: water and air by hand.

use super::layout::{Layout, ledger};
use super::{Feed, Rig};
use crate::parts::Zone;
use serde::Serialize;

/// Masses of one species over a run, kg.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SpeciesBalance {
    /// Came in.
    pub in_kg: f64,
    /// Went out other than under the canopy.
    pub out_kg: f64,
    /// Left under the canopy: through the air inlet or a torn diaphragm.
    pub spilled_kg: f64,
    /// Stored at the start.
    pub stored_start_kg: f64,
    /// Stored at the end.
    pub stored_end_kg: f64,
}

impl SpeciesBalance {
    /// `stored_end - stored_start - in + out + spilled` over the larger of throughput and content.
    pub fn closure(&self) -> f64 {
        let rest = self.stored_end_kg - self.stored_start_kg - self.in_kg + self.out_kg + self.spilled_kg;
        let size = (self.in_kg.abs() + self.out_kg.abs() + self.spilled_kg.abs())
            .max(self.stored_start_kg)
            .max(self.stored_end_kg)
            .max(f64::MIN_POSITIVE);
        (rest / size).abs()
    }
}

/// Both balances.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Balance {
    /// Water.
    pub water: SpeciesBalance,
    /// Air.
    pub air: SpeciesBalance,
}

/// The ledger's entries by name, kg.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ledger {
    /// Water passed forward through the check.
    pub check_forward: f64,
    /// Water spilled under the canopy.
    pub spilled: f64,
    /// Water let out by the relief.
    pub relieved: f64,
    /// Water passed back through the check.
    pub check_back: f64,
    /// Of it, water that came from the load side.
    pub load_back: f64,
    /// Water that went back into the supply.
    pub supply_back: f64,
    /// Water that came from the supply.
    pub supply_in: f64,
    /// Air that came in through the air inlet.
    pub admitted: f64,
    /// Air passed back through the check.
    pub air_back: f64,
}

impl Balance {
    /// From the entries of a ledger by their index, and the water and air stored at start and end, kg.
    pub(crate) fn new(entry: impl Fn(usize) -> f64, [(w0, a0), (w1, a1)]: [(f64, f64); 2]) -> Self {
        Balance {
            water: SpeciesBalance {
                in_kg: entry(ledger::WATER_IN),
                out_kg: entry(ledger::WATER_OUT),
                spilled_kg: entry(ledger::SPILLED),
                stored_start_kg: w0,
                stored_end_kg: w1,
            },
            air: SpeciesBalance {
                in_kg: entry(ledger::AIR_IN),
                out_kg: entry(ledger::AIR_OUT),
                spilled_kg: entry(ledger::AIR_VENTED),
                stored_start_kg: a0,
                stored_end_kg: a1,
            },
        }
    }
}

impl Rig {
    /// Ledger entries of a state.
    pub fn ledger_of(&self, y: &[f64]) -> Ledger {
        let d = Layout::of(self).dim();
        let entry = |k: usize| y[d + k];
        Ledger {
            check_forward: entry(ledger::CHECK_FORWARD),
            spilled: entry(ledger::SPILLED),
            relieved: entry(ledger::RELIEVED),
            check_back: entry(ledger::CHECK_BACK),
            load_back: entry(ledger::LOAD_BACK),
            supply_back: entry(ledger::SUPPLY_BACK),
            supply_in: entry(ledger::SUPPLY_IN),
            admitted: entry(ledger::ADMITTED),
            air_back: entry(ledger::AIR_BACK),
        }
    }

    /// Masses stored in the state `y`, kg: (water, air), recomputed from pressures and volumes by the equation of state.
    pub fn stored(&self, y: &[f64]) -> (f64, f64) {
        let layout = Layout::of(self);
        let fluid = &self.fluid;
        let (mut water, mut air) = (0.0, 0.0);
        let mut add = |zone: &Zone, w: f64, a: f64, displaced: f64| {
            let (w, a) = zone.weigh(fluid, w, a, displaced);
            water += w;
            air += a;
        };
        if let Feed::Line(line) = &self.feed {
            let cell = line.cell();
            let nuclei = line.nuclei(fluid);
            for i in 0..layout.cells {
                let a = if i + 1 == layout.cells { y[layout.line_air()] } else { nuclei };
                add(&cell, y[layout.line_water(i)], a, 0.0);
            }
        }
        if let Feed::Wave(end) = &self.feed {
            add(&end.cell, y[0], y[1], 0.0);
        }
        let [xc, xi] = self.travels(&layout, y);
        let displaced = self.displaced(xc, xi);
        for (k, d) in [(1, displaced[0]), (2, displaced[1]), (3, self.tube_displaced(&layout, y))] {
            add(&self.zones[k - 1], y[layout.water(k)], y[layout.air(k)], d);
        }
        if let (Some((_, pocket)), Some(i)) = (&self.inlet.lip, layout.lip()) {
            add(&pocket.zone, y[i], y[i + 1], xi.max(0.0) * pocket.area);
        }
        if let Some(i) = layout.tube() {
            water += y[i];
        }
        (water, air)
    }

    /// The balance of a run from its first and last state.
    pub fn balance(&self, start: &[f64], end: &[f64]) -> Balance {
        let d = Layout::of(self).dim();
        Balance::new(|k| end[d + k], [self.stored(start), self.stored(end)])
    }
}
