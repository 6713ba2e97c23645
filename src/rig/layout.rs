//! Where each state stands in the vector, and what it is called.

use super::{Feed, Rig};
use crate::numerics::Variable;
use crate::parts::TERMS;

/// The parts whose motion makes events.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Part {
    /// The check between zones 1 and 2.
    Check,
    /// The air inlet above zone 2.
    AirInlet,
    /// The relief, where one is fitted.
    Relief,
    /// The upstream shutoff.
    Shutoff1,
}

impl Part {
    /// Name in plain words.
    pub fn name(self) -> &'static str {
        match self {
            Part::Check => "check",
            Part::AirInlet => "air inlet",
            Part::Relief => "relief",
            Part::Shutoff1 => "shutoff 1",
        }
    }
}

/// Indices of the states. In the order of the vector: line, zones, check, air inlet or the one stem, relief, lip, tube.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Layout {
    /// Number of line cells; 0 when the pressure before shutoff 1 is recorded.
    pub cells: usize,
    /// Whether the line's end is met by waves.
    pub wave: bool,
    /// First index behind the line.
    base: usize,
    check: Option<usize>,
    inlet: usize,
    relief: Option<usize>,
    lip: Option<usize>,
    tube: Option<usize>,
    trace: Option<usize>,
    dim: usize,
}

/// Entries of the ledger behind the states.
pub mod ledger {
    /// Water that came in, kg.
    pub const WATER_IN: usize = 0;
    /// Water that went out other than under the canopy, kg.
    pub const WATER_OUT: usize = 1;
    /// Water that left under the canopy: through the air inlet or a torn diaphragm, kg.
    pub const SPILLED: usize = 2;
    /// Air that came in, kg.
    pub const AIR_IN: usize = 3;
    /// Air that went out other than under the canopy, kg.
    pub const AIR_OUT: usize = 4;
    /// Air that left under the canopy, kg.
    pub const AIR_VENTED: usize = 5;
    /// Water that passed the check forward, kg.
    pub const CHECK_FORWARD: usize = 6;
    /// Water that left through the relief (counted as going out, too), kg.
    pub const RELIEVED: usize = 7;
    /// Water that went back through the check, kg.
    pub const CHECK_BACK: usize = 8;
    /// Of it, water that came from the load side, kg (where it is told apart).
    pub const LOAD_BACK: usize = 9;
    /// Water that went back into the supply, kg.
    pub const SUPPLY_BACK: usize = 10;
    /// Air that came in through the air inlet, kg.
    pub const ADMITTED: usize = 11;
    /// Air that went back through the check, kg.
    pub const AIR_BACK: usize = 12;
    /// Water that came from the supply, kg.
    pub const SUPPLY_IN: usize = 13;
    /// Number of entries.
    pub const COUNT: usize = 14;
}

/// What a rig has that takes states.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Inventory {
    cells: usize,
    wave: bool,
    stem: bool,
    relief: bool,
    lip: bool,
    tube: bool,
    trace: bool,
}

impl Inventory {
    /// A line of one cell, check and air inlet apart, and nothing else.
    pub const PLAIN: Inventory =
        Inventory { cells: 1, wave: false, stem: false, relief: false, lip: false, tube: false, trace: false };
    /// The same with an elastomer's lip.
    pub const WITH_LIP: Inventory = Inventory { lip: true, ..Inventory::PLAIN };

    #[inline(always)]
    pub fn of(rig: &Rig) -> Self {
        let (cells, wave) = match &rig.feed {
            Feed::Line(line) => (line.cells.max(1), false),
            Feed::Recorded(_) | Feed::Vessel(_) => (0, false),
            Feed::Wave(_) => (0, true),
        };
        Inventory {
            cells,
            wave,
            stem: rig.stem.is_some(),
            relief: rig.relief.is_some(),
            lip: rig.inlet.lip.is_some(),
            tube: rig.tube.is_some(),
            trace: rig.traces_load_water,
        }
    }

    /// Where the states stand.
    #[inline(always)]
    pub const fn layout(self) -> Layout {
        let base = match (self.cells, self.wave) {
            (0, true) => 2,
            (0, false) => 0,
            _ => 2 * self.cells + 1,
        };
        let (check, at) = place(!self.stem, 2, base + 6);
        let (inlet, at) = (at, at + 2);
        let (relief, at) = place(self.relief, 2, at);
        let (lip, at) = place(self.lip, 2 + TERMS, at);
        let (tube, at) = place(self.tube, 2, at);
        let (trace, dim) = place(self.trace, 1, at);
        Layout { cells: self.cells, wave: self.wave, base, check, inlet, relief, lip, tube, trace, dim }
    }
}

/// Where `states` that may be `present` begin, and where the next ones do.
#[inline(always)]
const fn place(present: bool, states: usize, at: usize) -> (Option<usize>, usize) {
    if present { (Some(at), at + states) } else { (None, at) }
}

impl Layout {
    /// The layout of a rig.
    #[inline]
    pub fn of(rig: &Rig) -> Self {
        Inventory::of(rig).layout()
    }
    /// Mass flow into line cell `i`.
    #[inline(always)]
    pub fn line_flow(&self, i: usize) -> usize {
        i
    }
    /// Water in line cell `i`.
    #[inline(always)]
    pub fn line_water(&self, i: usize) -> usize {
        self.cells + i
    }
    /// Air in the last line cell.
    #[inline(always)]
    pub fn line_air(&self) -> usize {
        2 * self.cells
    }
    /// Water in zone `k` (1 to 3).
    #[inline(always)]
    pub fn water(&self, zone: usize) -> usize {
        self.base + 2 * (zone - 1)
    }
    /// Air in zone `k` (1 to 3).
    #[inline(always)]
    pub fn air(&self, zone: usize) -> usize {
        self.water(zone) + 1
    }
    /// Travel of the check, its speed behind it; `None` where a stem carries it.
    #[inline(always)]
    pub fn check(&self) -> Option<usize> {
        self.check
    }
    /// Travel of the air inlet from its seat, or of the stem from the open stop; its speed stands behind it.
    #[inline(always)]
    pub fn inlet(&self) -> usize {
        self.inlet
    }
    /// Travel of the relief, its speed behind it.
    #[inline(always)]
    pub fn relief(&self) -> Option<usize> {
        self.relief
    }
    /// First of the lip's states: water and air in the pocket, then the lagging forces.
    #[inline(always)]
    pub fn lip(&self) -> Option<usize> {
        self.lip
    }
    /// Water in the tube, its flow behind it.
    #[inline(always)]
    pub fn tube(&self) -> Option<usize> {
        self.tube
    }
    /// Load-side water in zone 2.
    #[inline(always)]
    pub fn trace(&self) -> Option<usize> {
        self.trace
    }
    /// Number of states.
    #[inline(always)]
    pub fn dim(&self) -> usize {
        self.dim
    }
    /// Index of a ledger entry.
    #[inline(always)]
    pub fn ledger(&self, entry: usize) -> usize {
        self.dim() + entry
    }

    /// Names and units of states and ledger.
    pub fn variables(&self) -> Vec<Variable> {
        let v = |name: String, unit: &'static str| Variable { name, unit };
        let mut all = Vec::new();
        for i in 1..=self.cells {
            all.push(v(format!("line{i}_flow_kg_s"), "kg/s"));
        }
        for i in 1..=self.cells {
            all.push(v(format!("line{i}_water_kg"), "kg"));
        }
        if self.cells > 0 {
            all.push(v("line_air_kg".into(), "kg"));
        }
        if self.wave {
            all.push(v("line_end_water_kg".into(), "kg"));
            all.push(v("line_end_air_kg".into(), "kg"));
        }
        for k in 1..=3 {
            all.push(v(format!("zone{k}_water_kg"), "kg"));
            all.push(v(format!("zone{k}_air_kg"), "kg"));
        }
        let parts: &[&str] = match (self.check.is_none(), self.relief.is_some()) {
            (false, false) => &["check", "air_inlet"],
            (false, true) => &["check", "air_inlet", "relief"],
            (true, false) => &["stem"],
            (true, true) => &["stem", "relief"],
        };
        for part in parts {
            all.push(v(format!("{part}_travel_m"), "m"));
            all.push(v(format!("{part}_speed_m_s"), "m/s"));
        }
        if self.lip.is_some() {
            all.push(v("pocket_water_kg".into(), "kg"));
            all.push(v("pocket_air_kg".into(), "kg"));
            for i in 1..=TERMS {
                all.push(v(format!("lip_lagging{i}_n"), "N"));
            }
        }
        if self.tube.is_some() {
            all.push(v("tube_water_kg".into(), "kg"));
            all.push(v("tube_flow_kg_s".into(), "kg/s"));
        }
        if self.trace.is_some() {
            all.push(v("zone2_load_water_kg".into(), "kg"));
        }
        for name in [
            "water_in_kg",
            "water_out_kg",
            "water_spilled_kg",
            "air_in_kg",
            "air_out_kg",
            "air_vented_kg",
            "check_forward_kg",
            "water_relieved_kg",
            "check_back_kg",
            "load_water_back_kg",
            "supply_back_kg",
            "air_admitted_kg",
            "air_back_kg",
            "supply_in_kg",
        ] {
            all.push(v(name.into(), "kg"));
        }
        all
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::assembly::Resolver;
    use crate::numerics::System;
    use crate::real::{Dual, Real};
    use std::hint::black_box;

    /// The usual rigs have the layouts written out for them, and the rates do not depend on whether the compiler knows.
    #[test]
    fn analytic_a_layout_known_to_the_compiler_is_that_of_the_rig() {
        let known = [
            ("svb-diaphragm", Some(Inventory::PLAIN)),
            ("pvb-spring", Some(Inventory::PLAIN)),
            ("pvb-elastomer", Some(Inventory::WITH_LIP)),
            ("svb-stem", None),
        ];
        for (assembly, expected) in known {
            let settings = Resolver::new().assembly(assembly).resolve().unwrap();
            let rig = Rig::from_settings(&settings).unwrap();
            let usual = [Inventory::PLAIN, Inventory::WITH_LIP].into_iter().find(|i| *i == Inventory::of(&rig));
            assert_eq!(usual, expected, "{assembly}");
            let layout = black_box(Layout::of(&rig));
            let (mode, y) = rig.start();
            let y: Vec<_> = y.iter().enumerate().map(|(i, y)| Dual::<12>::variable(*y, i)).collect();
            let mut out = vec![Dual::constant(f64::NAN); rig.dim() + rig.ledger()];
            let mut again = out.clone();
            for t in [0.0, 0.3] {
                rig.rates(&mode, Dual::constant(t), &y, &mut out);
                rig.rates_in(&layout, &mode, Dual::constant(t), &y, &mut again);
                assert_eq!(out, again, "{assembly}");
            }
        }
    }

    /// Every state has a place of its own, and a name.
    #[test]
    fn analytic_places_do_not_overlap() {
        for k in 0..64_usize {
            let is = |bit: usize| k >> bit & 1 == 1;
            let (cells, wave) = [(0, false), (0, true), (1, false), (3, false)][k % 4];
            let (relief, lip) = (is(2), is(3));
            let layout = Inventory { cells, wave, stem: is(4), relief, lip, tube: is(5), trace: is(2) }.layout();
            let mut taken = vec![0; layout.dim()];
            let mut take = |first: Option<usize>, states: usize| {
                first.into_iter().for_each(|i| taken[i..i + states].iter_mut().for_each(|n| *n += 1));
            };
            take((cells > 0).then(|| layout.line_flow(0)), 2 * cells + 1);
            take(wave.then_some(0), 2);
            take(Some(layout.water(1)), 6);
            take(layout.check(), 2);
            take(Some(layout.inlet()), 2);
            take(layout.relief(), 2);
            take(layout.lip(), 2 + TERMS);
            take(layout.tube(), 2);
            take(layout.trace(), 1);
            assert!(taken.iter().all(|n| *n == 1), "{layout:?}");
            assert_eq!(layout.variables().len(), layout.dim() + ledger::COUNT);
        }
    }
}
