//! The bare pipe against published closed laws: Joukowsky, Allievi's chain, the first cavity, the rigid column. Formulas
//! are typed here; the pipe is 20 m of 20 mm bore in 200 cells unless a test says otherwise.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // a test stops where it fails

use poppetry::assembly::Resolver;
use poppetry::bench::RigidColumn;
use poppetry::bench::surge::{Closing, PipeCase, PipeRun, pipe};
use poppetry::laws::pipe::Friction;
use poppetry::numerics::{Options, solve};
use poppetry::parts::{Fluid, Opening};
use poppetry::rig::{End, Feed, Layout, Line, LineFriction, MainPressure, Rig, Waves};

const RHO: f64 = 998.2;
const PA: f64 = 101_325.0;
const PV: f64 = 2_339.0;

fn fluid() -> Fluid {
    Fluid::with_properties(293.15, PA, RHO, 4.6e-10, 1.0034e-6, PV)
}

fn line(gauge: f64, wave_speed: f64) -> Line {
    Line {
        pressure: MainPressure::Steady(gauge),
        flow_limit: None,
        elevation: 0.0,
        length: 20.0,
        bore: 0.02,
        friction: Friction::new(0.02, 1.5e-6, RHO, 1.0034e-6),
        wave_speed,
        cells: 1,
        wall_compliance: 0.0,
        drains: false,
    }
}

fn case(gauge: f64, friction: f64, velocity: f64, closing: Closing, closing_time: f64) -> PipeCase {
    PipeCase {
        line: line(gauge, 1250.0),
        cells: 200,
        friction: LineFriction::Constant(friction),
        velocity,
        closing,
        closing_time,
        end_time: 1.0,
    }
}

fn rise(run: &PipeRun) -> f64 {
    run.peak.1 - run.before.0
}

/// Check value "Joukowsky rise per 1 m/s, copper": a = 1285.937464649524 m/s, rho = 998.2 -> 1283622.7772131548 Pa.
/// Any closing within 2L/a gives the same (N. Joukowsky, from memory).
#[test]
fn ref_a_closing_within_a_wave_period_gives_joukowskys_rise() {
    let a = 1_285.937_464_649_524;
    for share in [0.0, 0.3, 0.5, 1.0] {
        let time = share * 2.0 * 20.0 / a;
        let mut case = case(4e6, 0.0, 1.0, Closing::Flow, time);
        case.line.wave_speed = a;
        let run = pipe(&case, &fluid()).unwrap();
        let found = rise(&run);
        assert!((found / 1_283_622.777_213_154_8 - 1.0).abs() < 1e-6, "{share}: {found}");
        assert!(run.converged && run.waves.separation.first.is_none());
    }
    // By area, at once: the same.
    let run = pipe(&case(4e6, 0.0, 1.0, Closing::Area, 0.0), &fluid()).unwrap();
    assert!((rise(&run) / (RHO * 1250.0) - 1.0).abs() < 1e-6);
}

/// With friction the pressure goes on to rise while the line behind comes to rest, by no more than the friction there was.
#[test]
fn analytic_with_friction_the_peak_lies_between_joukowsky_and_that_plus_the_friction() {
    for (friction, velocity) in [(0.02, 1.0), (0.03, 2.5), (0.05, 4.0)] {
        let run = pipe(&case(8e6, friction, velocity, Closing::Flow, 0.0), &fluid()).unwrap();
        let joukowsky = RHO * 1250.0 * velocity;
        let loss = friction * 20.0 / 0.02 * RHO * velocity * velocity / 2.0;
        assert!((run.before.1 / loss - 1.0).abs() < 1e-9);
        let first = run.at_valve[1] - run.at_valve[0];
        assert!((first / joukowsky - 1.0).abs() < 0.01, "{first} against {joukowsky}");
        assert!(rise(&run) > joukowsky && rise(&run) < joukowsky + loss, "{} {joukowsky} {loss}", rise(&run));
    }
}

/// A flow that falls in a straight line over Tc > 2L/a: rise rho a V (2L/a)/Tc (Michaud, from memory).
#[test]
fn ref_a_slow_closing_by_flow_gives_michauds_rise() {
    let period = 2.0 * 20.0 / 1250.0;
    for times in [2.0, 3.0, 5.5, 8.0] {
        let run = pipe(&case(2e6, 0.0, 1.5, Closing::Flow, times * period), &fluid()).unwrap();
        let expected = RHO * 1250.0 * 1.5 / times;
        assert!((rise(&run) / expected - 1.0).abs() < 1e-3, "{times}: {} {expected}", rise(&run));
    }
}

/// Area falling in a straight line: Allievi's chain at the ends of the phases,
/// z_i^2 + z_(i-1)^2 - 2 = 2 A (n_(i-1) z_(i-1) - n_i z_i), A = rho a V0/(2 p0), z = sqrt(p/p0), n the open area
/// (L. Allievi, from memory).
#[test]
fn ref_a_closing_by_area_follows_allievis_chain() {
    let period = 2.0 * 20.0 / 1250.0;
    for (gauge, velocity, phases) in [(4e5, 0.3, 4.0), (1e6, 2.0, 6.5), (2e6, 1.0, 3.0)] {
        let run = pipe(&case(gauge, 0.0, velocity, Closing::Area, phases * period), &fluid()).unwrap();
        let allievi = RHO * 1250.0 * velocity / (2.0 * gauge);
        let (mut z, mut n) = (1.0_f64, 1.0_f64);
        for i in 1..=(phases.ceil() as usize + 2) {
            let open = (1.0 - i as f64 / phases).max(0.0);
            let c = z * z - 2.0 - 2.0 * allievi * n * z;
            let next = -allievi * open + ((allievi * open).powi(2) - c).max(0.0).sqrt();
            let found = ((run.at_valve[400 * i] - PA) / gauge).max(0.0).sqrt();
            if run.waves.separation.first.is_some_and(|f| f.0 < i as f64 * period) {
                break;
            }
            assert!((found - next).abs() < 1e-3, "phase {i}: {found} against {next}");
            (z, n) = (next, open);
        }
    }
}

/// A flow that falls as a squared cosine, with much friction: the error at fixed times falls with the square of the cells.
#[test]
fn order_two_on_a_smooth_closing_with_friction() {
    let run = |cells: usize| {
        let w0 = 2.0 * RHO * std::f64::consts::FRAC_PI_4 * 0.02 * 0.02;
        let mut waves = Waves::steady(&line(3e6, 1250.0), &fluid(), cells, &LineFriction::Constant(0.06), w0);
        let end = 0.2;
        let mut at = Vec::new();
        let steps = (end / waves.dt).round() as usize;
        for k in 1..=steps {
            let phase = (k as f64 * waves.dt / 0.1).min(1.0);
            let left = (std::f64::consts::FRAC_PI_2 * phase).cos().powi(2);
            waves.step(End::Flow(w0 * left));
            // Every 20 ms.
            if (10 * k) % steps == 0 {
                at.push(waves.pressure[cells]);
            }
        }
        at
    };
    let finest = run(1600);
    let error = |cells: usize| run(cells).iter().zip(&finest).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
    let errors: Vec<f64> = [20, 40, 80, 160].map(error).to_vec();
    println!("{errors:?}");
    for pair in errors.windows(2) {
        let order = (pair[0] / pair[1]).log2();
        assert!(order > 1.8 && order < 2.3, "{order} {errors:?}");
    }
}

/// Check values of "rigid column": H = 20 m, L = 30 m, f = 0.02, D = 20 mm, K = 1.5, exit 1, g = 9.80665:
/// V0 = 3.4741506986489625 m/s, T = 0.5313971690611416 s.
#[test]
fn ref_a_rigid_column_starts_as_the_hyperbolic_tangent() {
    let gauge = RHO * 9.80665 * 20.0;
    let (line, fluid) = (Line { length: 30.0, ..line(gauge, 1250.0) }, fluid());
    let column = RigidColumn { line: &line, fluid: &fluid, friction: &LineFriction::Constant(0.02), losses: 2.5 };
    let (v0, time) = (3.474_150_698_648_962_5, 0.531_397_169_061_141_6);
    for t in [0.1, 0.265_698_584_530_570_8, 0.6, 1.062_794_338_122_283_3, 3.0] {
        let v = column.velocity(t).unwrap();
        let expected = v0 * f64::tanh(t / time);
        assert!((v / expected - 1.0).abs() < 1e-6, "{t}: {v} against {expected}");
    }
}

/// The first cavity at a valve that shuts at once, without friction: the column leaves the valve with
/// u_k = V0 - (2k - 1)(p0 - pv)/(rho a) during the k-th 2L/a; the largest volume is A (2L/a) sum of the positive u_k
/// (rigid reflection at main and cavity; Wylie & Streeter, from memory).
#[test]
fn ref_the_first_cavity_at_the_valve_grows_to_its_closed_volume() {
    for velocity in [0.7, 1.0, 2.0, 3.3] {
        let gauge = 413_685.0;
        let w0 = velocity * RHO * std::f64::consts::FRAC_PI_4 * 0.02 * 0.02;
        let mut waves = Waves::steady(&line(gauge, 1250.0), &fluid(), 200, &LineFriction::Constant(0.0), w0);
        let mut opened = false;
        for _ in 0..20_000 {
            waves.step(End::Flow(0.0));
            let m = waves.cavity[200];
            if opened && m <= 0.0 {
                break;
            }
            opened |= m > 0.0;
        }
        let largest = waves.separation.largest / RHO;
        let fall = (gauge + PA - PV) / (RHO * 1250.0);
        let area = std::f64::consts::FRAC_PI_4 * 0.02 * 0.02;
        let speeds = (1..100).map(|k| velocity - f64::from(2 * k - 1) * fall).take_while(|u| *u > 0.0);
        let expected = area * 2.0 * 20.0 / 1250.0 * speeds.sum::<f64>();
        assert!((largest / expected - 1.0).abs() < 1e-3, "{velocity}: {largest} against {expected}");
    }
}

#[test]
fn balance_pressure_stays_above_the_vapours_and_water_closes_through_cavities() {
    for (gauge, friction, velocity) in
        [(413_685.0, 0.0, 1.0), (413_685.0, 0.03, 3.0), (2e5, 0.02, 2.0), (1e5, 0.04, 1.0)]
    {
        for closing in [Closing::Flow, Closing::Area] {
            let mut case = case(gauge, friction, velocity, closing, 0.01);
            case.end_time = 2.0;
            let run = pipe(&case, &fluid()).unwrap();
            if closing == Closing::Area && run.before.0 <= PA {
                continue;
            }
            let lowest = run.waves.extremes[1].iter().copied().fold(f64::INFINITY, f64::min);
            assert!(lowest >= PV, "{lowest}");
            let seen = run.waves.separation;
            assert!(seen.first.is_some() && seen.collapse.is_some() && seen.largest > 0.0);
            assert!(run.closure_kg < 1e-4 * seen.largest, "{} of {}", run.closure_kg, seen.largest);
        }
    }
}

/// After a cavity has closed the spikes depend on the number of cells (physics of the discrete cavity; from memory).
#[test]
fn practice_a_peak_after_a_collapse_is_called_not_converged() {
    let run = pipe(&case(413_685.0, 0.0, 1.0, Closing::Flow, 0.0), &fluid()).unwrap();
    let collapse = run.waves.separation.collapse.unwrap();
    assert_eq!(run.converged, run.peak.0 as f64 * run.waves.dt <= collapse);
    assert!(!run.converged && rise(&run) > RHO * 1250.0);
    // A gentle closing never parts the column.
    let run = pipe(&case(413_685.0, 0.0, 0.3, Closing::Flow, 0.0), &fluid()).unwrap();
    assert!(run.converged && run.waves.separation.first.is_none());
}

/// Highest pressure before shutoff 1 in the first half period after it shuts at once on a steady flow, above that before, over
/// Joukowsky's `rho a v`: the line a ladder of `cells` elastic cells.
fn ladder(cells: usize) -> f64 {
    let set = format!("supply.line_cells={cells}");
    let settings = Resolver::new().set(&set).set("supply.pressure=100 psi").resolve().unwrap();
    let mut rig = Rig::from_settings(&settings).unwrap();
    let Feed::Line(line) = rig.feed.clone() else { panic!("no line") };
    rig.stop_at_rest = false;
    let options = Options { tolerance: 1e-6, ..Options::default() };
    let (mode, y) = rig.start();
    let before = solve(&rig, mode, y, 0.0, 8.0, &options).unwrap();
    let layout = Layout::of(&rig);
    let pressure = |rig: &Rig, t: f64, y: &[f64]| rig.pressures(&layout, t, y).line;
    let (flow, start) = (before.y_end[layout.line_flow(cells - 1)], pressure(&rig, 8.0, &before.y_end));
    rig.shutoff1.opening = Opening::fixed(0.0);
    let period = 2.0 * line.length / line.wave_speed;
    let run = solve(&rig, before.mode_end, before.y_end, 0.0, period, &options).unwrap();
    let mut y = run.y_end.clone();
    let at = |k: usize| {
        let t = period * k as f64 / 4000.0;
        run.at(t, &mut y);
        pressure(&rig, t, &y)
    };
    ((0..=4000).map(at).fold(0.0, f64::max) - start) / (flow * line.wave_speed / line.area())
}

/// Why a surge has characteristics. Where the flow into the end of a ladder stops at once, the pressure there follows
/// `rho a v` times the integral of J1(x)/x from 0 to 2 t sqrt(1/LC), at most 1.0922 (at J1's first zero, 3.8317), however many
/// cells: the Laplace transform of J1(at)/t is (sqrt(s^2 + a^2) - s)/a, the impedance of an endless ladder. One cell swings
/// by `rho a v` itself. What friction the flow had comes to a hundredth.
#[test]
fn analytic_a_ladder_overshoots_joukowsky_however_many_cells_it_has() {
    for (cells, want) in [(1, 1.0), (4, 1.0922), (8, 1.0922), (16, 1.0922), (32, 1.0922)] {
        let found = ladder(cells);
        println!("{cells} cells: {found:.4} of Joukowsky");
        assert!((found / want - 1.0).abs() < 0.015, "{cells}: {found}");
    }
}
