//! What is kept of line and assembly while they run, and what it comes to.

use super::coupled::CoupledRun;
use crate::numerics::{Reason, Solution};
use crate::rig::{Balance, Feed, Layout, Mode, Part, Rig, Separation, SpeciesBalance, Waves, What, label_meaning};
use serde::Serialize;

/// Points per solver step at which a run is sampled.
const SAMPLES: usize = 2;

/// One point of a run; pressures gauge.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SurgePoint {
    /// Time, s.
    pub t_s: f64,
    /// End of the line.
    pub line_pa_gauge: f64,
    /// Zone 1.
    pub zone1_pa_gauge: f64,
    /// Zone 2.
    pub zone2_pa_gauge: f64,
    /// Flow into zone 1.
    pub inflow_m3_s: f64,
    /// Travel of the check.
    pub check_travel_m: f64,
    /// Travel of the air inlet.
    pub air_inlet_travel_m: f64,
    /// Water out of the air inlet.
    pub spill_m3_s: f64,
}

/// Gathers a run while it goes on.
pub(super) struct Recorder {
    layout: Layout,
    points: Vec<SurgePoint>,
    before: Vec<f64>,
    events: Vec<(f64, Part, What, f64)>,
    line_peak: (f64, f64),
    line_trough: f64,
    end_cavity: Separation,
    pub(super) chatter: bool,
    steps: usize,
    pub(super) repeated: usize,
}

impl Recorder {
    pub(super) fn new(layout: Layout, waves: &Waves) -> Self {
        let start = waves.pressure.iter().copied();
        Recorder {
            layout,
            points: Vec::new(),
            before: waves.pressure.clone(),
            events: Vec::new(),
            line_peak: (start.clone().fold(f64::NEG_INFINITY, f64::max), 0.0),
            line_trough: start.fold(f64::INFINITY, f64::min),
            end_cavity: Separation::default(),
            chatter: false,
            steps: 0,
            repeated: 0,
        }
    }

    pub(super) fn point(&mut self, rig: &Rig, mode: &Mode, t: f64, y: &[f64]) {
        let p = rig.pressures(&self.layout, t, y);
        let f = rig.flows(&self.layout, mode, t, y, &p);
        let (pa, rho) = (rig.fluid.ambient, rig.fluid.density);
        let [check, inlet] = rig.travels(&self.layout, y);
        if p.line > self.line_peak.0 {
            self.line_peak = (p.line, t);
        }
        self.line_trough = self.line_trough.min(p.line);
        // A cavity at the line's end stands in the end piece.
        if let Feed::Wave(end) = &rig.feed {
            let c = end.cell.contents(&rig.fluid, y[0], y[1], 0.0);
            let at_vapour = c.pressure < rig.fluid.vapour_pressure + 0.01 * pa;
            let seen = &mut self.end_cavity;
            if at_vapour {
                seen.first = seen.first.or(Some((t, usize::MAX)));
                let cavity = end.cell.volumes(&rig.fluid, y[0], y[1], 0.0).gas;
                seen.largest = seen.largest.max(cavity * rho);
            } else if seen.first.is_some() && seen.collapse.is_none() {
                seen.collapse = Some(t);
            }
        }
        self.points.push(SurgePoint {
            t_s: t,
            line_pa_gauge: p.line - pa,
            zone1_pa_gauge: p.zone[0] - pa,
            zone2_pa_gauge: p.zone[1] - pa,
            inflow_m3_s: f.shutoff1.water / rho,
            check_travel_m: check.max(0.0),
            air_inlet_travel_m: inlet.max(0.0),
            spill_m3_s: f.vent.water.max(0.0) / rho,
        });
    }

    pub(super) fn stretch(&mut self, rig: &Rig, solution: &Solution<Mode>, waves: &Waves) {
        let mut y = solution.y_end.clone();
        for (step, &m) in solution.steps.iter().zip(&solution.step_mode) {
            let Some(mode) = solution.modes.get(m) else { continue };
            for k in 1..=SAMPLES {
                let t = step.t0 + (step.t1 - step.t0) * k as f64 / SAMPLES as f64;
                step.at(t, &mut y);
                self.point(rig, mode, t, &y);
            }
        }
        for f in &solution.fired {
            let (part, what) = label_meaning(f.label);
            let v = rig.speeds(&self.layout, &f.y);
            let speed = match (part, self.layout.relief()) {
                (Part::AirInlet, _) => v[1],
                (Part::Relief, Some(i)) => f.y.get(i + 1).copied().unwrap_or(0.0),
                _ => v[0],
            };
            self.events.push((f.t, part, what, speed));
        }
        let now = waves.time();
        let (mut high, mut low) = (f64::NEG_INFINITY, f64::INFINITY);
        for p in &waves.pressure {
            high = high.max(*p);
            low = low.min(*p);
        }
        if high > self.line_peak.0 {
            self.line_peak = (high, now);
        }
        self.line_trough = self.line_trough.min(low);
        self.steps += solution.stats.steps;
        self.chatter |= solution.reason == Reason::Chatter;
    }

    pub(super) fn finish(
        self,
        rig: Rig,
        waves: Waves,
        y0: &[f64],
        y: &[f64],
        stored_line: f64,
        empty: f64,
    ) -> CoupledRun {
        let own = rig.balance(y0, y);
        let ledger = rig.ledger_of(y);
        let main = waves.passed[0];
        let seam_kg = ledger.supply_in - ledger.supply_back - waves.passed[1];
        let water = SpeciesBalance {
            in_kg: own.water.in_kg - ledger.supply_in + main.max(0.0),
            out_kg: own.water.out_kg - ledger.supply_back + (-main).max(0.0),
            spilled_kg: own.water.spilled_kg,
            stored_start_kg: own.water.stored_start_kg + empty + stored_line,
            stored_end_kg: own.water.stored_end_kg + empty + waves.stored() - seam_kg,
        };
        let (line, at_end) = (waves.separation, self.end_cavity);
        let earlier = |a: Option<f64>, b: Option<f64>| match (a, b) {
            (Some(a), Some(b)) => Some(a.min(b)),
            (a, b) => a.or(b),
        };
        let first = match (line.first, at_end.first) {
            (Some(a), Some(b)) => Some(if b.0 < a.0 { (b.0, waves.cells) } else { a }),
            (a, b) => a.or(b.map(|b| (b.0, waves.cells))),
        };
        let separation = Separation {
            first,
            collapse: earlier(line.collapse, at_end.collapse),
            largest: line.largest.max(at_end.largest),
        };
        let rho = rig.fluid.density;
        // Nodes between stretches, too.
        let inner = |all: &[f64], pick: fn(f64, f64) -> f64, start: f64| all.iter().copied().fold(start, pick);
        let peak = inner(&waves.extremes[0], f64::max, self.line_peak.0);
        let trough = inner(&waves.extremes[1], f64::min, self.line_trough);
        CoupledRun {
            points: self.points,
            before: self.before,
            events: self.events,
            separation,
            line_peak: (peak, self.line_peak.1),
            line_trough: trough,
            relieved_m3: ledger.relieved / rho,
            spill_m3: (ledger.spilled / rho).max(0.0),
            chatter: self.chatter,
            balance: Balance { water, air: own.air },
            seam_kg,
            steps: self.steps,
            repeated: self.repeated,
            waves,
            rig,
        }
    }
}
