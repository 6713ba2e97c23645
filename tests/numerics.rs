//! The numerical core against published and closed solutions.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // a test stops where it fails

use approx::assert_relative_eq;
use poppetry::laws::friction;
use poppetry::numerics::{Method, Options, Reason, System, Transition, Variable, solve};
use poppetry::parts::FRICTION_SPEED;
use poppetry::real::Real;

/// A system given by a closure-like rule, without modes.
macro_rules! smooth {
    ($name:ident, $n:expr, |$t:ident, $y:ident, $out:ident| $body:block) => {
        struct $name;
        impl System for $name {
            type Mode = ();
            type Memory = ();
            fn dim(&self) -> usize {
                $n
            }
            fn ledger(&self) -> usize {
                0
            }
            fn variables(&self) -> Vec<Variable> {
                (0..$n).map(|i| Variable { name: format!("y{i}"), unit: "1" }).collect()
            }
            fn rates<T: Real>(&self, _m: &(), $t: T, $y: &[T], $out: &mut [T]) {
                let _ = $t;
                $body
            }
            fn scales(&self, _t: f64, y: &[f64], out: &mut [f64]) {
                for (o, v) in out.iter_mut().zip(y) {
                    *o = v.abs() + 1e-9;
                }
            }
        }
    };
}

smooth!(Robertson, 3, |_t, y, out| {
    let a = y[0] * 0.04;
    let b = y[1] * y[2] * 1e4;
    let c = y[1] * y[1] * 3e7;
    out[0] = -a + b;
    out[1] = a - b - c;
    out[2] = c;
});
smooth!(VanDerPol, 2, |_t, y, out| {
    out[0] = y[1];
    out[1] = (-(y[0] * y[0]) + 1.0) * y[1] * 1000.0 - y[0];
});
smooth!(Hires, 8, |_t, y, out| {
    out[0] = y[0] * -1.71 + y[1] * 0.43 + y[2] * 8.32 + 0.0007;
    out[1] = y[0] * 1.71 - y[1] * 8.75;
    out[2] = y[2] * -10.03 + y[3] * 0.43 + y[4] * 0.035;
    out[3] = y[1] * 8.32 + y[2] * 1.71 - y[3] * 1.12;
    out[4] = y[4] * -1.745 + y[5] * 0.43 + y[6] * 0.43;
    out[5] = y[5] * y[7] * -280.0 + y[3] * 0.69 + y[4] * 1.71 - y[5] * 0.43 + y[6] * 0.69;
    out[6] = y[5] * y[7] * 280.0 - y[6] * 1.81;
    out[7] = -(y[5] * y[7] * 280.0 - y[6] * 1.81);
});
smooth!(Forced, 2, |t, y, out| {
    // y' = -50 (y - cos t) and a rotation-like companion, with an explicit time dependence.
    out[0] = (y[0] - cosine(t)) * -50.0;
    out[1] = y[0] * y[1] * -1.0 + t;
});
smooth!(Oscillator, 2, |_t, y, out| {
    out[0] = y[1];
    out[1] = (y[0] * 800.0 + y[1] * 1.2) / -0.02;
});
smooth!(Duffing, 2, |_t, y, out| {
    out[0] = y[1];
    out[1] = -(y[0]) - y[0] * y[0] * y[0] * -0.5;
});

smooth!(HardDuffing, 2, |_t, y, out| {
    out[0] = y[1];
    out[1] = -(y[0]) - y[0] * y[0] * y[0];
});
smooth!(Overdamped, 2, |_t, y, out| {
    out[0] = y[1];
    out[1] = (y[0] * 800.0 + y[1] * 16.0) / -0.02;
});
smooth!(Rubbed, 2, |_t, y, out| {
    out[0] = y[1];
    out[1] = (y[0] * 800.0 + friction::coulomb(y[1], 0.5, FRICTION_SPEED)) / -0.02;
});

/// Cosine over `Real` by chain rule.
fn cosine<T: Real>(t: T) -> T {
    t.chain(t.value().cos(), -t.value().sin())
}

fn end<S: System<Mode = ()>>(s: &S, y0: &[f64], t: f64, tolerance: f64, method: Method) -> Vec<f64> {
    let options = Options { tolerance, method, keep_steps: false, ..Options::default() };
    solve(s, (), y0.to_vec(), 0.0, t, &options).unwrap().y_end
}

/// Source: Robertson's problem, Test Set for IVP Solvers (reference at 1e11 seen; earlier times recomputed with Radau).
#[test]
fn ref_robertson_to_six_digits() {
    for (t, y) in [
        (0.4, [9.851721138610e-01, 3.386395378975e-05, 1.479402218522e-02]),
        (40.0, [7.158270687194e-01, 9.185534764558e-06, 2.841637457458e-01]),
        (4000.0, [1.832022577767e-01, 8.942371252776e-07, 8.167968479862e-01]),
        (1e11, [0.2083340149701255e-7, 0.8333360770334713e-13, 0.999_999_979_166_505]),
    ] {
        let got = end(&Robertson, &[1.0, 0.0, 0.0], t, 1e-9, Method::Rosenbrock);
        for i in 0..3 {
            assert_relative_eq!(got[i], y[i], max_relative = 1e-6);
        }
        // A linear invariant of the equations is kept to rounding.
        assert_relative_eq!(got.iter().sum::<f64>(), 1.0, max_relative = 1e-12);
    }
}

/// Source: Test Set for IVP Solvers, problem van der Pol (mu = 1000), reference at t = 2000.
#[test]
fn ref_van_der_pol_to_six_digits() {
    let got = end(&VanDerPol, &[2.0, 0.0], 2000.0, 1e-9, Method::Rosenbrock);
    assert_relative_eq!(got[0], 1.706167732170469, max_relative = 1e-6);
    assert_relative_eq!(got[1], -0.8928097010248125e-3, max_relative = 1e-6);
}

/// Source: Test Set for IVP Solvers, problem HIRES, reference at t = 321.8122.
#[test]
fn ref_hires_to_six_digits() {
    let mut y0 = [0.0; 8];
    y0[0] = 1.0;
    y0[7] = 0.0057;
    let got = end(&Hires, &y0, 321.8122, 1e-10, Method::Rosenbrock);
    let want = [
        0.7371312573325668e-3,
        0.1442485726316185e-3,
        0.5888729740967575e-4,
        0.1175651343283149e-2,
        0.2386356198831331e-2,
        0.6238968252742796e-2,
        0.2849998395185769e-2,
        0.2850001604814231e-2,
    ];
    for i in 0..8 {
        assert_relative_eq!(got[i], want[i], max_relative = 1e-6);
    }
}

/// Source: closed solution of the damped oscillator, m 0.02 kg, k 800 N/m, c 1.2 N s/m.
#[test]
fn analytic_oscillator_for_both_families() {
    for (t, x) in [(0.005, 0.5822839107859449), (0.01, -0.18973674493056824), (0.02, -0.43763775592445584)] {
        for method in [Method::Rosenbrock, Method::DormandPrince] {
            let got = end(&Oscillator, &[1.0, 0.0], t, 1e-9, method);
            assert!((got[0] - x).abs() < 1e-6, "{method:?} at {t}: {} against {x}", got[0]);
        }
    }
}

/// Source: Duffing's equation solved by Jacobi's elliptic cosine (DLMF 22.19), alpha 1, beta -0.5, A 1.
#[test]
fn ref_duffing_for_both_families() {
    for method in [Method::Rosenbrock, Method::DormandPrince] {
        let got = end(&Duffing, &[1.0, 0.0], 1.0, 1e-10, method);
        assert_relative_eq!(got[0], 0.7425287172921059, max_relative = 1e-7);
        let period = end(&Duffing, &[1.0, 0.0], 8.00861904364885, 1e-10, method);
        assert_relative_eq!(period[0], 1.0, max_relative = 1e-6);
    }
}

/// Source: closed solutions (DLMF 22.19 for Duffing; undergraduate mechanics for the rest). A quarter of Duffing's period is
/// where x passes through zero, which tells a wrong period in the first order.
#[test]
fn analytic_periods_and_overdamped_return() {
    for method in [Method::Rosenbrock, Method::DormandPrince] {
        let quarter = end(&Duffing, &[1.0, 0.0], 8.00861904364885 / 4.0, 1e-10, method);
        assert!(quarter[0].abs() < 1e-8 && quarter[1] < 0.0, "{method:?}: {quarter:?}");
        let hard = end(&HardDuffing, &[1.0, 0.0], 4.768022029102461 / 4.0, 1e-10, method);
        assert!(hard[0].abs() < 1e-8 && hard[1] < 0.0, "{method:?}: {hard:?}");
        // m 0.02 kg, k 800 N/m, c 16 N s/m, from 1 (times 1 mm) at rest, after 10 ms.
        let slow = end(&Overdamped, &[1.0, 0.0], 0.01, 1e-10, method);
        assert_relative_eq!(slow[0], 0.6303600222780176, max_relative = 1e-8);
    }
}

/// Coulomb friction F on a spring k takes 4 F/k of amplitude a cycle (closed solution). The law used here is smooth through
/// rest (0.1 mm/s), which at 200 mm/s is felt in the fourth digit.
#[test]
fn analytic_coulomb_friction_takes_four_times_its_deflection_a_cycle() {
    // m 0.02 kg, k 800 N/m, F 0.5 N, from 10 mm: a cycle of 2 pi sqrt(m/k) = 31.4 ms.
    let cycle = std::f64::consts::TAU * (0.02_f64 / 800.0).sqrt();
    for cycles in [1.0, 2.0, 3.0] {
        let got = end(&Rubbed, &[0.01, 0.0], cycles * cycle, 1e-8, Method::Rosenbrock)[0];
        let want = 0.01 - cycles * 4.0 * 0.5 / 800.0;
        assert!((got - want).abs() < 2e-3 * 0.0025, "{cycles}: {got} against {want}");
    }
}

/// Measured order of the steps: the global error at the end of a non-autonomous problem falls with the fourth power of the mean step.
#[test]
fn order_four_of_the_rosenbrock_steps() {
    let run = |tolerance: f64| {
        let options = Options { tolerance, ..Options::default() };
        let s = solve(&Forced, (), vec![0.0, 1.0], 0.0, 2.0, &options).unwrap();
        (s.stats.steps as f64, s.y_end[0])
    };
    // y' = -50 (y - cos t), y(0) = 0: closed solution.
    let (l, t) = (50.0_f64, 2.0_f64);
    let exact = (l * l * t.cos() + l * t.sin() - l * l * (-l * t).exp()) / (l * l + 1.0);
    let (n1, y1) = run(1e-5);
    let (n2, y2) = run(1e-9);
    let order = ((y1 - exact).abs() / (y2 - exact).abs()).ln() / (n2 / n1).ln();
    assert!(order > 3.5, "order {order}: {n1} steps {:e}, {n2} steps {:e}", y1 - exact, y2 - exact);
}

/// The interpolant stays within a small factor of the tolerance between the ends of steps.
#[test]
fn order_interpolant_follows_the_solution() {
    let options = Options { tolerance: 1e-8, ..Options::default() };
    let s = solve(&Oscillator, (), vec![1.0, 0.0], 0.0, 0.02, &options).unwrap();
    let (zeta, wn) = (0.15_f64, 200.0_f64);
    let wd = wn * (1.0 - zeta * zeta).sqrt();
    let mut y = vec![0.0; 2];
    let mut worst: f64 = 0.0;
    for i in 0..2000 {
        let t = 0.02 * i as f64 / 1999.0;
        s.at(t, &mut y);
        let exact = (-zeta * wn * t).exp() * ((wd * t).cos() + zeta * wn / wd * (wd * t).sin());
        worst = worst.max((y[0] - exact).abs());
    }
    assert!(worst < 1e-6, "{worst:e}");
}

/// A ball that falls on a floor with restitution; optional second guard that fires at a set height.
struct Ball {
    restitution: f64,
    threshold: f64,
    marker: Option<f64>,
}
#[derive(Clone, Debug, PartialEq)]
enum Flight {
    Air { above_marker: bool },
    Rest,
}
impl System for Ball {
    type Mode = Flight;
    type Memory = ();
    fn dim(&self) -> usize {
        2
    }
    fn ledger(&self) -> usize {
        1
    }
    fn variables(&self) -> Vec<Variable> {
        ["height_m", "speed_m_s", "path_m"].iter().map(|n| Variable { name: (*n).into(), unit: "m" }).collect()
    }
    fn rates<T: Real>(&self, mode: &Flight, _t: T, y: &[T], out: &mut [T]) {
        match mode {
            Flight::Air { .. } => {
                out[0] = y[1];
                out[1] = T::constant(-9.81);
            }
            Flight::Rest => {
                out[0] = T::constant(0.0);
                out[1] = T::constant(0.0);
            }
        }
        out[2] = y[1].abs();
    }
    fn scales(&self, _t: f64, _y: &[f64], out: &mut [f64]) {
        out.fill(1.0);
    }
    fn guard_count(&self, mode: &Flight) -> usize {
        match mode {
            Flight::Air { .. } => 2,
            Flight::Rest => 0,
        }
    }
    fn guards(&self, mode: &Flight, _t: f64, y: &[f64], out: &mut [f64]) {
        if let Flight::Air { above_marker } = mode {
            out[0] = y[0];
            out[1] = match self.marker {
                Some(m) if *above_marker => y[0] - m,
                _ => 1.0,
            };
        }
    }
    fn transition(&self, mode: &Flight, _t: f64, y: &mut [f64], fired: usize) -> Transition<Flight> {
        if fired == 1 {
            return Transition { mode: Flight::Air { above_marker: false }, label: Some(1) };
        }
        y[0] = 0.0;
        y[1] *= -self.restitution;
        let next = if y[1].abs() < self.threshold { Flight::Rest } else { mode.clone() };
        if next == Flight::Rest {
            y[1] = 0.0;
        }
        Transition { mode: next, label: Some(0) }
    }
}

/// Source: bouncing ball, time to rest sqrt(2h/g)(1+e)/(1-e) (geometric series).
#[test]
fn event_bouncing_ball_comes_to_rest_on_time() {
    let ball = Ball { restitution: 0.5, threshold: 1e-5, marker: None };
    for method in [Method::Rosenbrock, Method::DormandPrince] {
        let options = Options { tolerance: 1e-8, method, ..Options::default() };
        let s = solve(&ball, Flight::Air { above_marker: true }, vec![1.0, 0.0, 0.0], 0.0, 3.0, &options).unwrap();
        let t1 = (2.0_f64 / 9.81).sqrt();
        assert!((s.fired[0].t - t1).abs() < 1e-7, "first bounce {} against {t1}", s.fired[0].t);
        assert_eq!(s.mode_end, Flight::Rest);
        assert!((s.fired.last().unwrap().t - 3.0 * t1).abs() < 1e-4);
    }
}

/// Without a seating rule a bouncing part accumulates events; the run ends in order and says so.
#[test]
fn event_endless_chatter_is_a_reason_not_a_hang() {
    let ball = Ball { restitution: 0.5, threshold: -1.0, marker: None };
    let s = solve(
        &ball,
        Flight::Air { above_marker: true },
        vec![1.0, 0.0, 0.0],
        0.0,
        3.0,
        &Options { max_transitions: 200, ..Options::default() },
    );
    match s {
        Ok(s) => assert_eq!(s.reason, Reason::Chatter),
        Err(e) => panic!("{e}"),
    }
}

/// Two guards a few units in the last place apart both fire, in order.
#[test]
fn event_two_guards_a_few_ulps_apart() {
    for gap in [0.0, 4.0 * f64::EPSILON, 1e-12] {
        let ball = Ball { restitution: 0.0, threshold: 1.0, marker: Some(gap) };
        let s = solve(&ball, Flight::Air { above_marker: true }, vec![1.0, 0.0, 0.0], 0.0, 1.0, &Options::default())
            .unwrap();
        let labels: Vec<usize> = s.fired.iter().map(|f| f.label).collect();
        assert!(labels.contains(&0) && s.mode_end == Flight::Rest, "gap {gap}: {labels:?}");
        let t1 = (2.0_f64 / 9.81).sqrt();
        assert!((s.fired[0].t - t1).abs() < 1e-5);
    }
}

/// A guard that is zero at the left end of the span (the ball starts on the floor, moving up) does not fire there.
#[test]
fn event_zero_at_the_left_end_does_not_fire() {
    let ball = Ball { restitution: 0.0, threshold: 1.0, marker: None };
    let s =
        solve(&ball, Flight::Air { above_marker: true }, vec![0.0, 2.0, 0.0], 0.0, 1.0, &Options::default()).unwrap();
    assert_eq!(s.fired.len(), 1);
    assert!((s.fired[0].t - 4.0 / 9.81).abs() < 1e-6);
}

smooth!(ColumnStart, 1, |_t, y, out| {
    // Rigid column: H = 20 m, L = 30 m, f = 0.02, D = 20 mm, loss sum 1.5, exit loss 1.
    let losses = 1.0 + 1.5 + 0.02 * 30.0 / 0.02;
    out[0] = -(y[0] * y[0]) * (losses / (2.0 * 30.0)) + 9.80665 * 20.0 / 30.0;
});

/// Source: rigid-column theory, V = V0 tanh(t/T), V0 = 3.474150698649 m/s, T = 0.531397169061 s (standard hydraulics).
#[test]
fn analytic_column_with_constant_friction_starts_as_the_hyperbolic_tangent() {
    for (t, v) in [(0.2656985845305708, 1.6054646447525354), (1.0627943381222833, 3.349177090837268)] {
        for method in [Method::Rosenbrock, Method::DormandPrince] {
            let got = end(&ColumnStart, &[0.0], t, 1e-9, method);
            assert_relative_eq!(got[0], v, max_relative = 1e-6);
            let law = poppetry::laws::pipe::rigid_column(20.0, 30.0, 0.02, 0.02, 1.5, 1.0);
            assert_relative_eq!(law.velocity(t), v, max_relative = 1e-9);
        }
    }
}

smooth!(Drain, 1, |_t, y, out| {
    // A standpipe of 10 cm2 with y kg of water over a 3 mm hole, discharge coefficient 0.61.
    let area = 0.61 * std::f64::consts::FRAC_PI_4 * 0.003 * 0.003;
    let head = y[0] * (9.80665 / 1e-3);
    out[0] = -poppetry::laws::orifice::liquid(T::constant(area), head, 998.2, 0.0);
});

/// Source: Torricelli. With p = m g / A the flow is k sqrt(m), so sqrt(m) falls linearly: sqrt(m0) - k t / 2.
#[test]
fn analytic_a_standpipe_drains_by_torricelli() {
    let area = 0.61 * std::f64::consts::FRAC_PI_4 * 0.003 * 0.003;
    let k = area * (2.0 * 998.2 * 9.80665 / 1e-3_f64).sqrt();
    for share in [0.25, 0.5, 0.9] {
        let t = share * 2.0 / k;
        for method in [Method::Rosenbrock, Method::DormandPrince] {
            let got = end(&Drain, &[1.0], t, 1e-9, method);
            assert_relative_eq!(got[0], (1.0 - share) * (1.0 - share), max_relative = 1e-6);
        }
    }
}

smooth!(Roots, 3, |_t, y, out| {
    // No numbers below zero; three of them, so that room is left behind them in an even number of rows.
    for k in 0..3 {
        out[k] = y[k].sqrt() * -(k as f64 + 1.0);
    }
});

/// A first try far beyond where the rates are numbers is taken back and leaves nothing behind. Source: separation of
/// variables, y = (1 - k t / 2)^2.
#[test]
fn bug_a_stage_that_is_no_number_leaves_nothing_behind() {
    let options = Options { tolerance: 1e-7, first_step: 10.0, keep_steps: false, ..Options::default() };
    let solution = solve(&Roots, (), vec![1.0; 3], 0.0, 0.64, &options).unwrap();
    assert!(solution.stats.rejected > 0);
    for (k, y) in solution.y_end.iter().enumerate() {
        assert_relative_eq!(*y, (1.0 - 0.32 * (k as f64 + 1.0)).powi(2), max_relative = 1e-5);
    }
}
