//! A run, sampled: its points, and what it took out of the supply and gave back.

use super::scene::Scene;
use crate::numerics::Solution;
use crate::rig::{Layout, Mode, Rig};
use serde::Serialize;

/// Points per solver step at which a run is sampled.
const SAMPLES_PER_STEP: usize = 4;

/// One point of a run, SI; pressures gauge; flows positive downstream (and out of the air inlet).
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Point {
    /// The scene it belongs to.
    pub scene: Scene,
    /// Time.
    pub t_s: f64,
    /// Before shutoff 1.
    pub line_pa_gauge: f64,
    /// Zone 1.
    pub zone1_pa_gauge: f64,
    /// Zone 2.
    pub zone2_pa_gauge: f64,
    /// Load side.
    pub load_side_pa_gauge: f64,
    /// Travel of the check.
    pub check_travel_m: f64,
    /// Travel of the air inlet.
    pub air_inlet_travel_m: f64,
    /// Water through the check.
    pub check_water_m3_s: f64,
    /// Air through the check.
    pub check_air_kg_s: f64,
    /// Water out of the air inlet.
    pub vent_water_m3_s: f64,
    /// Air out of the air inlet.
    pub vent_air_kg_s: f64,
    /// Water through shutoff 2.
    pub load_water_m3_s: f64,
    /// Water from the main into the line, or through shutoff 1 where there is no line.
    pub supply_water_m3_s: f64,
    /// Air from the main.
    pub supply_air_kg_s: f64,
    /// Water in zone 2.
    pub zone2_water_m3: f64,
    /// Rise in the tube; 0 where there is none.
    pub rise_m: f64,
    /// Water in the line; 0 where there is none.
    pub line_water_m3: f64,
}

/// Walks a run: its start, [`SAMPLES_PER_STEP`] points of every step, its end.
fn walk(mode: &Mode, y0: &[f64], s: &Solution<Mode>, mut visit: impl FnMut(&Mode, f64, &[f64])) {
    let mut y = y0.to_vec();
    visit(mode, 0.0, y0);
    for (step, &m) in s.steps.iter().zip(&s.step_mode) {
        let Some(mode) = s.modes.get(m) else { continue };
        for k in 1..=SAMPLES_PER_STEP {
            let t = step.t0 + (step.t1 - step.t0) * k as f64 / SAMPLES_PER_STEP as f64;
            step.at(t, &mut y);
            visit(mode, t, &y);
        }
    }
    visit(&s.mode_end, s.t_end, &s.y_end);
}

/// The points of a run.
pub(super) fn points(rig: &Rig, scene: Scene, mode: &Mode, y0: &[f64], s: &Solution<Mode>) -> Vec<Point> {
    let mut all = Vec::with_capacity(s.steps.len() * SAMPLES_PER_STEP + 2);
    walk(mode, y0, s, |mode, t, y| all.push(point(rig, scene, mode, t, y)));
    all
}

/// Water, m3, that went back into the supply: the most that it had gained on balance since any earlier moment. The sum of
/// all that flows back would count a column that swings to and fro again with every swing.
pub(super) fn supply_back(rig: &Rig, mode: &Mode, y0: &[f64], s: &Solution<Mode>) -> f64 {
    let (mut least, mut most) = (f64::INFINITY, 0.0_f64);
    walk(mode, y0, s, |_, _, y| {
        let ledger = rig.ledger_of(y);
        let gained = ledger.supply_back - ledger.supply_in;
        least = least.min(gained);
        most = most.max(gained - least);
    });
    most / rig.fluid.density
}

/// The most water, m3, that the load side had lost on balance.
pub(super) fn load_water_lost(rig: &Rig, mode: &Mode, y0: &[f64], s: &Solution<Mode>) -> f64 {
    let water = Layout::of(rig).water(3);
    let mut least = f64::INFINITY;
    walk(mode, y0, s, |_, _, y| least = least.min(y[water]));
    (y0[water] - least) / rig.fluid.density
}

fn point(rig: &Rig, scene: Scene, mode: &Mode, t: f64, y: &[f64]) -> Point {
    let layout = &Layout::of(rig);
    let p = rig.pressures(layout, t, y);
    let f = rig.flows(layout, mode, t, y, &p);
    let (pa, rho) = (rig.fluid.ambient, rig.fluid.density);
    let [check, inlet] = rig.travels(layout, y);
    let side = rig.side_flows(layout, mode, t, y, &p);
    let supply = rig.supply_flow(layout, t, y, &p, &f, side.as_ref());
    // Plus 0: no minus sign before a flow that is none.
    Point {
        scene,
        t_s: t,
        line_pa_gauge: p.line - pa,
        zone1_pa_gauge: p.zone[0] - pa,
        zone2_pa_gauge: p.zone[1] - pa,
        load_side_pa_gauge: p.zone[2] - pa,
        check_travel_m: check.max(0.0),
        air_inlet_travel_m: inlet.max(0.0),
        check_water_m3_s: f.check.water / rho + 0.0,
        check_air_kg_s: f.check.air + 0.0,
        vent_water_m3_s: f.vent.water / rho + 0.0,
        vent_air_kg_s: f.vent.air + 0.0,
        load_water_m3_s: f.shutoff2.water / rho + 0.0,
        supply_water_m3_s: supply.water / rho + 0.0,
        supply_air_kg_s: supply.air + 0.0,
        zone2_water_m3: y[layout.water(2)] / rho,
        rise_m: rig.tube.as_ref().zip(layout.tube()).map_or(0.0, |(tube, i)| tube.rise(&rig.fluid, y[i])),
        line_water_m3: if layout.cells == 1 { y[layout.line_water(0)] / rho } else { 0.0 },
    }
}
