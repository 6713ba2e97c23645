//! Ten thousand random valid cases over the field ranges: every one ends with a result or a typed reason, masses close,
//! and a tighter run agrees up to the check's first closing.

#![allow(clippy::unwrap_used, clippy::panic)] // a test stops where it fails

mod common;

use common::{ML, PSI};
use poppetry::assembly::{Resolver, Settings};
use poppetry::bench::{Sequence, sequence};
use poppetry::numerics::Options;
use poppetry::rig::{Part, Rig, What, options};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

const SEED: u64 = 20_261_125;
const CASES: u64 = 10_000;
const TIGHTER: u64 = 200;

/// Field assignments of case `index`: drawn from its own stream, so that a case can be looked at alone.
fn case(index: u64) -> (&'static str, Vec<String>) {
    let mut rng = ChaCha8Rng::seed_from_u64(SEED);
    rng.set_stream(index);
    let mut sets = Vec::new();
    let assembly = if rng.random_bool(0.5) { "pvb-spring" } else { "svb-diaphragm" };
    let sizes = ["3/8 in", "1/2 in", "3/4 in", "1 in", "1-1/4 in", "1-1/2 in", "2 in"];
    sets.push(format!("size={}", sizes[rng.random_range(0..sizes.len())]));
    let log = |rng: &mut ChaCha8Rng, low: f64, high: f64| (rng.random_range(low.ln()..high.ln())).exp();
    sets.push(format!("supply.pressure={} psi", log(&mut rng, 3.0, 150.0)));
    sets.push(format!("shutoff1.opening_time={} s", log(&mut rng, 0.05, 10.0)));
    for part in ["check", "air_inlet"] {
        sets.push(format!("{part}.load_factor={}", log(&mut rng, 0.4, 2.5)));
        for leak in ["seat_leak_area", "foul_area"] {
            if rng.random_bool(0.3) {
                sets.push(format!("{part}.{leak}={} mm2", log(&mut rng, 5e-4, 5.0)));
            }
        }
        if rng.random_bool(0.3) {
            sets.push(format!("{part}.friction={} psi", rng.random_range(0.0..0.5)));
        }
        if rng.random_bool(0.2) {
            sets.push(format!("{part}.seat_wear={} mm", rng.random_range(0.0..0.6)));
        }
        if rng.random_bool(0.1) {
            sets.push(format!("{part}.adhesion={} psi", rng.random_range(0.0..5.0)));
        }
    }
    for zone in ["zone1", "zone2"] {
        let initial = if rng.random_bool(0.5) { "empty" } else { "brimful" };
        sets.push(format!("{zone}.initial={initial}"));
        if rng.random_bool(0.5) {
            sets.push(format!("{zone}.compliance={} mL/psi", log(&mut rng, 0.002, 0.05)));
        }
    }
    match rng.random_range(0..3) {
        0 => sets.push("shutoff2.open=false".into()),
        1 => sets.push(format!("shutoff2.open={}", rng.random_range(0.0..1.0))),
        _ => {}
    }
    for shutoff in ["shutoff1", "shutoff2"] {
        if rng.random_bool(0.2) {
            sets.push(format!("{shutoff}.leak_area={} mm2", rng.random_range(0.0..5.0)));
        }
    }
    if rng.random_bool(0.3) {
        sets.push(format!("supply.flow_limit={} gpm", log(&mut rng, 0.05, 50.0)));
    }
    if rng.random_bool(0.4) {
        sets.push(format!("supply.line_length={} m", log(&mut rng, 1.0, 100.0)));
        sets.push(format!("supply.line_wave_speed={} m/s", rng.random_range(300.0..1350.0)));
        sets.push(format!("supply.line_cells={}", rng.random_range(1..4)));
        sets.push(format!("supply.elevation={} m", rng.random_range(-1.5..10.0)));
    }
    if rng.random_bool(0.3) {
        sets.push(format!("air_inlet.zone2_share={}", rng.random_range(0.0..1.0)));
    }
    if rng.random_bool(0.3) {
        sets.push(format!("load_side.outlet_area={} mm2", rng.random_range(0.0..300.0)));
        sets.push(format!("load_side.volume={} mL", log(&mut rng, 10.0, 3000.0)));
        sets.push(format!("load_side.height={} m", rng.random_range(-3.0..3.0)));
    }
    if rng.random_bool(0.3) {
        sets.push(format!("ambient.pressure_absolute={} kPa abs", rng.random_range(60.0..105.0)));
        sets.push(format!("water.temperature={} degC", rng.random_range(1.0..40.0)));
        sets.push(format!("mounting={}", ["upright", "inverted", "horizontal"][rng.random_range(0..3)]));
    }
    if rng.random_bool(0.2) {
        sets.push(format!("cock1.turns={}", rng.random_range(0.0..0.25)));
        sets.push(format!("bleed_screw.opening={}", rng.random_range(0.0..1.0)));
    }
    (assembly, sets)
}

fn settings(assembly: &str, sets: &[String]) -> Settings {
    let mut resolver = Resolver::new().assembly(assembly);
    for set in sets {
        resolver = resolver.set(set);
    }
    resolver.resolve().unwrap_or_else(|e| panic!("{assembly} {sets:?}: {e}"))
}

/// Runs `work` for every index on all cores, results in order of index.
fn on_all_cores<R: Send>(count: u64, work: impl Fn(u64) -> R + Sync) -> Vec<R> {
    let threads = std::thread::available_parallelism().map_or(1, usize::from) as u64;
    let mut parts: Vec<(u64, R)> = std::thread::scope(|scope| {
        let work = &work;
        let handles: Vec<_> = (0..threads)
            .map(|k| {
                scope.spawn(move || (k..count).step_by(threads as usize).map(|i| (i, work(i))).collect::<Vec<_>>())
            })
            .collect();
        handles.into_iter().flat_map(|h| h.join().unwrap()).collect()
    });
    parts.sort_by_key(|p| p.0);
    parts.into_iter().map(|p| p.1).collect()
}

/// Every number a run reports, for the check that all are finite.
fn numbers(run: &Sequence) -> Vec<f64> {
    let b = &run.balance;
    let mut all = vec![
        run.spill_m3,
        run.rebound_spill_m3,
        run.spill_rate_m3_s,
        run.trapped_excess_pa,
        run.peak.zone1_pa_gauge,
        run.peak.zone2_pa_gauge,
    ];
    for s in [&b.water, &b.air] {
        all.extend([s.in_kg, s.out_kg, s.spilled_kg, s.stored_start_kg, s.stored_end_kg]);
    }
    for e in &run.events {
        let f = &e.forces;
        all.extend([e.t_s, f.pressure, f.load, f.friction, f.weight, f.flow]);
    }
    for s in &run.samples {
        all.extend([s.t_s, s.line_pa_gauge, s.zone1_pa_gauge, s.zone2_pa_gauge, s.load_side_pa_gauge]);
        all.extend([s.check_travel_m, s.air_inlet_travel_m, s.inflow_m3_s, s.spill_m3_s, s.spilled_m3]);
    }
    all
}

#[test]
fn balance_ten_thousand_random_cases_end_with_a_result() {
    struct Outcome {
        failed: Option<String>,
        closure: f64,
        finite: bool,
        steps: usize,
        stop: Option<poppetry::bench::Stop>,
    }
    let outcomes = on_all_cores(CASES, |i| {
        let (assembly, sets) = case(i);
        let s = settings(assembly, &sets);
        let rig = Rig::from_settings(&s).unwrap_or_else(|e| panic!("case {i}: {e}"));
        match sequence(&rig, &options(&s).unwrap()) {
            Ok(run) => Outcome {
                failed: None,
                closure: run.balance.water.closure().max(run.balance.air.closure()),
                finite: numbers(&run).iter().all(|v| v.is_finite()),
                steps: run.stats.steps,
                stop: Some(run.stop),
            },
            Err(e) => Outcome { failed: Some(e.to_string()), closure: 0.0, finite: true, steps: 0, stop: None },
        }
    });
    let failed: Vec<_> = outcomes.iter().enumerate().filter(|(_, o)| o.failed.is_some()).collect();
    for (i, o) in &failed {
        println!("case {i}: {:?} {:?}", o.failed, case(*i as u64));
    }
    let worst = outcomes.iter().enumerate().max_by(|a, b| a.1.closure.total_cmp(&b.1.closure)).unwrap();
    let mut by_stop = std::collections::BTreeMap::new();
    for o in &outcomes {
        *by_stop.entry(format!("{:?}", o.stop)).or_insert(0) += 1;
    }
    let mut steps: Vec<_> = outcomes.iter().enumerate().map(|(i, o)| (o.steps, i)).collect();
    steps.sort();
    println!(
        "{CASES} cases, seed {SEED}: {} without a result; stops {by_stop:?}; worst closure {:.1e} (case {}); steps median {}, 99 % {:?}, most {:?}",
        failed.len(),
        worst.1.closure,
        worst.0,
        steps[steps.len() / 2].0,
        steps[steps.len() * 99 / 100],
        &steps[steps.len() - 5..]
    );
    assert!(failed.len() <= 10, "{} cases without a result", failed.len());
    assert!(outcomes.iter().all(|o| o.finite));
    assert!(worst.1.closure <= 1e-9, "case {}: {:.2e}", worst.0, worst.1.closure);
}

/// Water spilled by time `t`, m3, between samples.
fn spilled_at(run: &Sequence, t: f64) -> f64 {
    let k = run.samples.partition_point(|s| s.t_s < t).clamp(1, run.samples.len() - 1);
    let (p, q) = (&run.samples[k - 1], &run.samples[k]);
    let share = if q.t_s > p.t_s { ((t - p.t_s) / (q.t_s - p.t_s)).clamp(0.0, 1.0) } else { 0.0 };
    p.spilled_m3 + share * (q.spilled_m3 - p.spilled_m3)
}

#[test]
fn order_a_ten_times_tighter_run_agrees_up_to_the_first_closing() {
    let gaps = on_all_cores(TIGHTER, |i| {
        let (assembly, sets) = case(i);
        let s = settings(assembly, &sets);
        let mut rig = Rig::from_settings(&s).unwrap();
        rig.stop_at_check_closed = true;
        let o = options(&s).unwrap();
        let a = sequence(&rig, &o).ok()?;
        let b = sequence(&rig, &Options { tolerance: 0.1 * o.tolerance, ..o }).ok()?;
        let key = |r: &Sequence, part, what| common::first(r, part, what);
        let mut gap: (f64, Option<(Part, What)>) = (0.0, None);
        for (part, what) in [
            (Part::AirInlet, What::StartsToClose),
            (Part::AirInlet, What::Closed),
            (Part::Check, What::StartsToOpen),
            (Part::Check, What::Closed),
        ] {
            let d = match (key(&a, part, what), key(&b, part, what)) {
                (Some(x), Some(y)) => (x - y).abs(),
                (None, None) => 0.0,
                _ => f64::INFINITY,
            };
            if d > gap.0 {
                gap = (d, Some((part, what)));
            }
        }
        // An air inlet that stays open spills to the end, and two runs do not rest at the same moment.
        let (x, y) = if key(&b, Part::AirInlet, What::Closed).is_some() {
            (a.spill_m3, b.spill_m3)
        } else {
            let t = a.last.t_s.min(b.last.t_s);
            (spilled_at(&a, t), spilled_at(&b, t))
        };
        Some((gap, (x - y).abs() / y.max(0.1 * ML), a.order == b.order))
    });
    let mut bad = 0;
    for (i, g) in gaps.iter().enumerate() {
        if let Some((gap, spill, same)) = g
            && !(gap.0 < 1e-4 && *spill < 1e-3 && *same)
        {
            bad += 1;
            println!("case {i}: events {gap:?} s, spill {spill:.2e}, same order {same} {:?}", case(i as u64));
        }
    }
    println!("{bad} of {} differ; one psi is {PSI} Pa", gaps.len());
    assert_eq!(bad, 0);
}

/// Looks at one case: set CASE=n and run with `--ignored --nocapture`.
#[test]
#[ignore = "a tool for looking at one case, not a check"]
fn one_case() {
    let Some(i) = std::env::var("CASE").ok().and_then(|v| v.parse().ok()) else { return };
    let (assembly, sets) = case(i);
    println!("{assembly} {sets:#?}");
    let s = settings(assembly, &sets);
    let mut rig = Rig::from_settings(&s).unwrap();
    rig.stop_at_check_closed = std::env::var("WHOLE").is_err();
    for tolerance in [1e-4, 1e-5, 1e-6, 1e-7, 1e-8] {
        match sequence(&rig, &Options { tolerance, ..options(&s).unwrap() }) {
            Ok(r) => {
                println!("{tolerance:e}: {:?} steps {} spill {:.6} mL", r.stop, r.stats.steps, r.spill_m3 / ML);
                for e in r.events.iter().take(12) {
                    println!("   {:.7} {:?} {:?}", e.t_s, e.part, e.what);
                }
            }
            Err(e) => println!("{tolerance:e}: {e}"),
        }
    }
}
