//! The first fill of a PVB and an SVB against an independent computation with SciPy: `tests/data/fill_reference.py`, which
//! wrote the CSV files beside it. Its own uncertainty, from a second and a third integration with tighter tolerances and
//! another method (`--check`), is below 1e-7 of each column's largest value and 0.01 microseconds of each event.
// The helpers outside #[test] functions may stop a test as the tests themselves may.
#![allow(clippy::unwrap_used)]

use poppetry::assembly::Resolver;
use poppetry::bench::sequence;
use poppetry::numerics::{Options, solve};
use poppetry::rig::{Layout, Rig, options};

/// What both assemblies of the script have in common: every value it uses, and every effect it leaves out switched off.
const COMMON: &[&str] = &[
    "size=1 in",
    "mounting=upright",
    "ambient.pressure_absolute=101325 Pa abs",
    "water.temperature=15 degC",
    "supply.pressure=60 psi",
    "supply.flow_limit=none",
    "supply.trace=none",
    "supply.elevation=0 m",
    "supply.line_length=20 m",
    "supply.line_bore=26 mm",
    "supply.line_roughness=1.5 um",
    "supply.line_wave_speed=1280 m/s",
    "supply.line_cells=1",
    "shutoff1.opening_time=1 s",
    "shutoff1.bore=1.049 in",
    "shutoff1.leak_area=0 mm2",
    "shutoff2.bore=1.049 in",
    "shutoff2.open=true",
    "shutoff2.leak_area=0 mm2",
    "zone1.volume=60 mL",
    "zone1.compliance=0.01 mL/psi",
    "zone1.initial=brimful",
    "zone1.initial_pressure=0 psi",
    "zone1.residual_air=0.002",
    "zone2.volume=120 mL",
    "zone2.compliance=0.01 mL/psi",
    "zone2.initial=empty",
    "zone2.initial_pressure=0 psi",
    "load_side.volume=60 mL",
    "load_side.initial=empty",
    "load_side.outlet_area=0.069 in2",
    "load_side.height=0 m",
    "check.seat_diameter=1.05 in",
    "check.port_diameter=0.98 in",
    "check.lift=0.32 in",
    "check.mass=12 g",
    "check.load_factor=1",
    "check.seat_wear=0 mm",
    "check.seat_leak_area=0 mm2",
    "check.foul_area=0 mm2",
    "check.friction=0.05 psi",
    "check.adhesion=0 psi",
    "check.damping=2 N s/m",
    "check.discharge_coefficient=0.7",
    "check.drag_coefficient=1",
    "check.spring=straight",
    "check.seat=insert",
    "air_inlet.seat_diameter=1 in",
    "air_inlet.port_diameter=0.93 in",
    "air_inlet.lift=0.22 in",
    "air_inlet.mass=12 g",
    "air_inlet.load_factor=1",
    "air_inlet.seat_wear=0 mm",
    "air_inlet.seat_leak_area=0 mm2",
    "air_inlet.foul_area=0 mm2",
    "air_inlet.friction=0.05 psi",
    "air_inlet.adhesion=0 psi",
    "air_inlet.damping=1 N s/m",
    "air_inlet.discharge_coefficient=0.6",
    "air_inlet.drag_coefficient=1",
    "air_inlet.loading=spring",
    "air_inlet.diaphragm_diameter=1 in",
    "air_inlet.chamber_passage_area=2.03 cm2",
    "air_inlet.spill_band=0.1",
    "cock1.turns=0",
    "cock2.turns=0",
    "bleed_screw.opening=0",
    "canopy.fitted=true",
    "canopy.area=1.96 in2",
    "run.end_time=0.6 s",
    "run.method=rosenbrock",
];

const PVB: &[&str] = &[
    "check.load=1.5 psi",
    "check.load_rate=1.01 lbf/in",
    "air_inlet.load=1.5 psi",
    "air_inlet.load_rate=1.34 lbf/in",
    "air_inlet.closed_by=zone2",
    "air_inlet.zone1_share=0",
    "air_inlet.zone2_share=1",
];

const SVB: &[&str] = &[
    "check.load=2.4 psi",
    "check.load_rate=1.62 lbf/in",
    "air_inlet.load=1.2 psi",
    "air_inlet.load_rate=1.07 lbf/in",
    "air_inlet.closed_by=diaphragm",
    "air_inlet.zone1_share=1",
    "air_inlet.zone2_share=0.3",
];

const COLUMNS: &str =
    "time_s,line_pa_gauge,zone1_pa_gauge,zone2_pa_gauge,check_travel_m,air_inlet_travel_m,spilled_m3,inflow_m3_s";

/// A share of each column's largest value.
const BOUND: f64 = 1e-4;
/// How far an event may be off, s.
const EVENT_BOUND: f64 = 1e-4;
/// The integration's tolerance for the comparison: small enough that what is left is the equations.
const TIGHT: f64 = 1e-7;

struct Reference {
    /// (time, part, what)
    events: Vec<(f64, String, String)>,
    rows: Vec<Vec<f64>>,
}

fn read(text: &str) -> Reference {
    let mut reference = Reference { events: Vec::new(), rows: Vec::new() };
    let mut header = false;
    for line in text.lines() {
        if let Some(event) = line.strip_prefix("# event ") {
            let words: Vec<&str> = event.split_whitespace().collect();
            reference.events.push((words[0].parse().unwrap(), words[1].to_owned(), words[2].to_owned()));
        } else if !line.starts_with('#') && !header {
            assert_eq!(line, COLUMNS);
            header = true;
        } else if !line.starts_with('#') {
            reference.rows.push(line.split(',').map(|v| v.parse().unwrap()).collect());
        }
    }
    reference
}

fn rig(assembly: &str, own: &[&str], tolerance: f64) -> (Rig, Options) {
    let resolver = COMMON.iter().chain(own).fold(Resolver::new().assembly(assembly), |r, s| r.set(s));
    let settings = resolver.set(&format!("run.tolerance={tolerance}")).resolve().unwrap();
    (Rig::from_settings(&settings).unwrap(), options(&settings).unwrap())
}

/// The columns of the reference, behind the time, at its times.
fn run(rig: &Rig, options: &Options, times: impl Iterator<Item = f64>) -> Vec<[f64; 7]> {
    let layout = Layout::of(rig);
    let (mode, mut y) = rig.start();
    let solution = solve(rig, mode, y.clone(), 0.0, rig.end_time, options).unwrap();
    times
        .map(|t| {
            let mode = &solution.modes[solution.at(t, &mut y)];
            let p = rig.pressures(&layout, t, &y);
            let inflow = rig.flows(&layout, mode, t, &y, &p).shutoff1.water / rig.fluid.density;
            let gauge = [p.line, p.zone[0], p.zone[1]].map(|p| p - rig.fluid.ambient);
            [gauge[0], gauge[1], gauge[2], y[layout.check().unwrap()], y[layout.inlet()], rig.spilled(&y), inflow]
        })
        .collect()
}

/// Largest difference of each column over its largest value, and where; a column of zeros must be zeros.
fn differences(reference: &Reference, rows: &[[f64; 7]]) -> [(f64, f64); 7] {
    let mut worst = [(0.0, 0.0); 7];
    for (k, worst) in worst.iter_mut().enumerate() {
        let peak = reference.rows.iter().map(|r| r[k + 1].abs()).fold(0.0, f64::max);
        for (expected, got) in reference.rows.iter().zip(rows) {
            let off = (expected[k + 1] - got[k]).abs() / if peak > 0.0 { peak } else { f64::MIN_POSITIVE };
            if off > worst.0 || off.is_nan() {
                *worst = (off, expected[0]);
            }
        }
    }
    worst
}

/// (event of the reference, how much later poppetry's is, s); stops when kinds or order differ.
fn event_shifts(reference: &Reference, rig: &Rig, options: &Options) -> Vec<(String, f64)> {
    let events = sequence(rig, options).unwrap().events;
    let name = |part: &str, what: &str| format!("{part} {what}");
    let got: Vec<String> = events.iter().map(|e| name(&e.part.name().replace(' ', "-"), e.what.name())).collect();
    let expected: Vec<String> = reference.events.iter().map(|(_, part, what)| name(part, what)).collect();
    assert_eq!(got, expected, "events of poppetry (left) and of the reference at tolerance {}", options.tolerance);
    got.into_iter().zip(events.iter().zip(&reference.events)).map(|(n, (e, r))| (n, e.t_s - r.0)).collect()
}

fn compare(assembly: &str, own: &[&str], text: &str) {
    let reference = read(text);
    assert!(reference.rows.len() > 250 && reference.events.len() > 3);
    for row in &reference.rows {
        // At an impact a microsecond shows in travel and pressure: the bound is for the smooth stretches between.
        assert!(reference.events.iter().all(|e| (row[0] - e.0).abs() > 19e-6), "{} s is at an event", row[0]);
    }
    let (rig_tight, options) = rig(assembly, own, TIGHT);
    let rows = run(&rig_tight, &options, reference.rows.iter().map(|r| r[0]));
    let worst = differences(&reference, &rows);
    for ((off, at), name) in worst.iter().zip(COLUMNS.split(',').skip(1)) {
        println!("{assembly} {name}: {off:.2e} at {at:.6} s");
    }
    for (name, shift) in event_shifts(&reference, &rig_tight, &options) {
        println!("{assembly} {name}: {:+.4} us", shift * 1e6);
        assert!(shift.abs() <= EVENT_BOUND, "{assembly} {name}: {shift} s");
    }
    for ((off, at), name) in worst.iter().zip(COLUMNS.split(',').skip(1)) {
        assert!(*off <= BOUND, "{assembly} {name}: {off:.2e} of its largest value at {at} s");
    }
}

#[test]
fn ref_fill_of_a_pvb_agrees_with_scipy() {
    compare("pvb-spring", PVB, include_str!("data/fill_pvb.csv"));
}

#[test]
fn ref_fill_of_an_svb_agrees_with_scipy() {
    compare("svb-diaphragm", SVB, include_str!("data/fill_svb.csv"));
}
