//! Which method for this model? The same fills by poppetry's own two methods and by three of diffsol's.
//!
//! ```text
//! cd benches/peers
//! cargo run --release                 # all tables in Markdown on stdout, some ten minutes
//! cargo run --release -- 1e-5         # cost and errors at one tolerance, all methods
//! cargo run --release -- tolerance    # the same at 1e-4, 1e-5 and 1e-6
//! cargo run --release -- accuracy     # cost at equal accuracy
//! cargo run --release -- reference    # how far the reference can be trusted
//! cargo run --release -- careless     # diffsol without what is done for it here
//! ```
//!
//! Own crate, own workspace: neither the normal build nor CI sees it. Cases: both built-ins with their defaults, outlet
//! open, to 0.6 s; and with shutoff 2 shut up to the check's first closing. Errors are against poppetry's stiff method at
//! 1e-9; how far that can be trusted is the table `reference` (other methods, of another library too, at tight tolerances).
//!
//! Same for all: rates, guards, transitions, break times, exact Jacobian, first step after a transition at most 5 us,
//! states that cannot move left out, the tolerance relative to `System::scales`. diffsol's states are scaled by these at
//! the start of each mode; its absolute tolerances follow them whenever one has moved by a factor of two (the method keeps
//! its history and order, and pays a Jacobian). `rates` counts evaluations outside Jacobians, those for guards left out,
//! as in poppetry; diffsol's contain those for the ledger, which it integrates as a separate output function.

mod equations;
mod peer;

use peer::Manner;
use poppetry::assembly::Resolver;
use poppetry::numerics::{Method, Options, solve};
use poppetry::rig::Rig;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::rc::Rc;
use std::time::Instant;

/// Batches of repeats per timed run, and how long one should take, s.
const BATCHES: usize = 5;
const BATCH: f64 = 0.1;

/// What a run gave and what it cost.
#[derive(Debug, Default, Clone)]
pub struct Outcome {
    steps: usize,
    rejected: usize,
    newton_failures: usize,
    rates: usize,
    jacobians: usize,
    /// Times a guard went negative without the root finder's notice.
    unseen: usize,
    /// Times the tolerances followed the scales.
    refreshes: usize,
    /// Label and time of each transition.
    fired: Vec<(usize, f64)>,
    spill: f64,
    /// Worse of the relative closures of the balances of water and air.
    closure: f64,
    t_end: f64,
}

/// How well the balances of water and air close, from the states alone.
fn closure(rig: &Rig, start: &[f64], t_end: f64, end: &[f64]) -> f64 {
    let balance = rig.balance(start, t_end, end);
    balance.water.closure().max(balance.air.closure())
}

impl Outcome {
    fn add(&mut self, s: &diffsol::ode_solver::OdeSolverStatistics) {
        self.steps += s.number_of_steps;
        self.rejected += s.number_of_error_test_failures;
        self.newton_failures += s.number_of_nonlinear_solver_fails;
    }
}

fn own(rig: &Rig, method: Method, tolerance: f64) -> Result<Outcome, String> {
    let max_steps = if method == Method::DormandPrince { 20_000_000 } else { 4_000_000 };
    let options = Options { tolerance, method, max_steps, keep_steps: false, ..Options::default() };
    let (mode, y) = rig.start();
    let run = solve(rig, mode, y.clone(), 0.0, rig.end_time, &options).map_err(|e| e.to_string())?;
    if run.reason == poppetry::numerics::Reason::Chatter {
        return Err(format!("chatter at t = {:.6} s", run.t_end));
    }
    Ok(Outcome {
        steps: run.stats.steps,
        rejected: run.stats.rejected,
        rates: run.stats.rhs_evaluations,
        jacobians: run.stats.jacobians,
        fired: run.fired.iter().map(|f| (f.label, f.t)).collect(),
        spill: rig.spilled(&run.y_end),
        closure: closure(rig, &y, run.t_end, &run.y_end),
        t_end: run.t_end,
        ..Outcome::default()
    })
}

const METHODS: [&str; 5] =
    ["poppetry Rosenbrock 4(3)", "poppetry Dormand-Prince", "diffsol BDF", "diffsol TR-BDF2", "diffsol ESDIRK34"];

fn run(method: usize, rig: &Rc<Rig>, tolerance: f64) -> Result<Outcome, String> {
    run_as(method, rig, tolerance, Manner::CAREFUL)
}

fn run_as(method: usize, rig: &Rc<Rig>, tolerance: f64, manner: Manner) -> Result<Outcome, String> {
    let attempt = || match method {
        0 => own(rig, Method::Rosenbrock, tolerance),
        1 => own(rig, Method::DormandPrince, tolerance),
        2 => peer::run::<peer::Bdf>(rig, tolerance, manner),
        3 => peer::run::<peer::TrBdf2>(rig, tolerance, manner),
        _ => peer::run::<peer::Esdirk34>(rig, tolerance, manner),
    };
    catch_unwind(AssertUnwindSafe(attempt)).unwrap_or_else(|_| Err("panicked".into()))
}

/// CPU time of this thread, s, as the kernel counts it (to the last tick); `None` where there is no `/proc`.
fn cpu_time() -> Option<f64> {
    let text = std::fs::read_to_string("/proc/thread-self/schedstat").ok()?;
    text.split_whitespace().next()?.parse::<f64>().ok().map(|ns| 1e-9 * ns)
}

/// Wall and CPU time of one run, s: medians over batches, each long enough for the clock of the CPU time.
struct Cost {
    wall: f64,
    cpu: f64,
}

fn timed(method: usize, rig: &Rc<Rig>, tolerance: f64) -> Result<(Outcome, Cost), String> {
    let start = Instant::now();
    let outcome = run(method, rig, tolerance)?;
    let per_batch = (BATCH / start.elapsed().as_secs_f64()).ceil().max(1.0) as usize;
    let (mut walls, mut cpus) = (Vec::new(), Vec::new());
    for _ in 0..BATCHES {
        let (start, cpu) = (Instant::now(), cpu_time());
        let mut each = Vec::new();
        for _ in 0..per_batch {
            let one = Instant::now();
            run(method, rig, tolerance)?;
            each.push(one.elapsed().as_secs_f64());
        }
        let mean = start.elapsed().as_secs_f64() / per_batch as f64;
        cpus.push(cpu.zip(cpu_time()).map_or(mean, |(a, b)| (b - a) / per_batch as f64));
        walls.append(&mut each);
    }
    Ok((outcome, Cost { wall: median(&mut walls), cpu: median(&mut cpus) }))
}

fn median(values: &mut [f64]) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

/// Largest difference of event times, s, each event against the same occurrence of the same label; `None` when the runs
/// do not have the same events.
fn event_error(run: &Outcome, reference: &Outcome) -> Option<f64> {
    let sorted = |o: &Outcome| {
        let mut f = o.fired.clone();
        f.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
        f
    };
    let (a, b) = (sorted(run), sorted(reference));
    let same = a.len() == b.len() && a.iter().zip(&b).all(|(a, b)| a.0 == b.0);
    same.then(|| a.iter().zip(&b).map(|(a, b)| (a.1 - b.1).abs()).fold(0.0, f64::max))
}

fn errors(run: &Outcome, reference: &Outcome) -> String {
    let events = match event_error(run, reference) {
        Some(e) => format!("{:.2e}", e),
        None => format!("{} events, not {}", run.fired.len(), reference.fired.len()),
    };
    format!("{events} | {:.2e}", (run.spill - reference.spill).abs() * 1e6)
}

fn rig(assembly: &str, set: &str, closing: bool) -> Rc<Rig> {
    let settings = Resolver::new().assembly(assembly).set(set).resolve().expect("a built-in resolves");
    let mut rig = Rig::from_settings(&settings).expect("a built-in builds");
    rig.stop_at_check_closed = closing;
    Rc::new(rig)
}

fn load() -> String {
    std::fs::read_to_string("/proc/loadavg").map_or("unknown".into(), |s| s.trim().to_owned())
}

struct Case {
    name: String,
    rig: Rc<Rig>,
    reference: Outcome,
}

fn cases() -> Vec<Case> {
    let mut all = Vec::new();
    for assembly in ["pvb-spring", "svb-diaphragm"] {
        for (name, set, closing) in
            [("open, 0.6 s", "run.end_time=0.6 s", false), ("shut, to closing", "shutoff2.open=false", true)]
        {
            let rig = rig(assembly, set, closing);
            let reference = run(0, &rig, 1e-9).expect("the reference runs");
            all.push(Case { name: format!("{assembly}, {name}"), rig, reference });
        }
    }
    all
}

/// The reference, and how far other methods at tight tolerances stand from it.
fn reference(cases: &[Case]) {
    println!("| case | events | spill, mL | end, s | against the reference | event time, s | spill, mL |");
    println!("|---|---:|---:|---:|---|---:|---:|");
    for case in cases {
        let r = &case.reference;
        for (method, tolerance) in [(0, 1e-8), (1, 1e-9), (4, 1e-8)] {
            let line = run(method, &case.rig, tolerance).map_or_else(|e| format!("{e} |"), |o| errors(&o, r));
            println!(
                "| {} | {} | {:.6} | {:.6} | {} at {tolerance:.0e} | {line} |",
                case.name,
                r.fired.len(),
                1e6 * r.spill,
                r.t_end,
                METHODS[method]
            );
        }
    }
    println!();
}

/// Every method at the same tolerances.
fn same_tolerance(cases: &[Case], only: Option<f64>) {
    println!(
        "| case | method | tolerance | steps (rejected, Newton failures) | rates | Jacobians | wall, ms | CPU, ms | \
         CPU ratio | event time error, s | spill error, mL | balance |"
    );
    println!("|---|---|---:|---:|---:|---:|---:|---:|---:|---:|---:|---:|");
    for case in cases {
        for tolerance in [1e-4, 1e-5, 1e-6].into_iter().filter(|t| only.is_none_or(|o| o == *t)) {
            let mut ours = f64::NAN;
            for (method, label) in METHODS.iter().enumerate() {
                let head = format!("| {} | {label} | {tolerance:.0e} |", case.name);
                let (o, cost) = match timed(method, &case.rig, tolerance) {
                    Ok(done) => done,
                    Err(e) => {
                        println!("{head} failed: {e} | | | | | | | | |");
                        continue;
                    }
                };
                if method == 0 {
                    ours = cost.cpu;
                }
                println!(
                    "{head} {} ({}, {}) | {} | {} | {:.2} | {:.2} | {:.2} | {} | {:.0e} |",
                    o.steps,
                    o.rejected,
                    o.newton_failures,
                    o.rates,
                    o.jacobians,
                    1e3 * cost.wall,
                    1e3 * cost.cpu,
                    cost.cpu / ours,
                    errors(&o, &case.reference),
                    o.closure
                );
            }
        }
    }
    println!();
}

/// Every method at the loosest tolerance from which on it stays within the stated errors.
fn same_accuracy(cases: &[Case]) {
    println!(
        "| case | event times within, s | spill within, mL | method | tolerance | rates | Jacobians | CPU, ms | ratio |"
    );
    println!("|---|---:|---:|---|---:|---:|---:|---:|---:|");
    let tolerances: Vec<f64> = (6..=16).map(|k| 10.0_f64.powf(-0.5 * k as f64)).collect();
    for case in cases {
        let found: Vec<Vec<_>> = (0..METHODS.len())
            .map(|method| {
                let error = |t: &f64| {
                    let o = run(method, &case.rig, *t).ok()?;
                    Some((event_error(&o, &case.reference)?, (o.spill - case.reference.spill).abs() * 1e6))
                };
                tolerances.iter().map(error).collect()
            })
            .collect();
        for (events, spill) in [(1e-5, 1e-2), (1e-6, 1e-3)] {
            let mut ours = f64::NAN;
            for (method, label) in METHODS.iter().enumerate() {
                let head = format!("| {} | {events:.0e} | {spill:.0e} | {label} |", case.name);
                let good = |e: &Option<(f64, f64)>| e.is_some_and(|(a, b)| a <= events && b <= spill);
                let first = found[method].iter().rposition(|e| !good(e)).map_or(0, |k| k + 1);
                match tolerances.get(first).map(|t| (t, timed(method, &case.rig, *t))) {
                    Some((t, Ok((o, cost)))) => {
                        if method == 0 {
                            ours = cost.cpu;
                        }
                        let (cpu, ratio) = (1e3 * cost.cpu, cost.cpu / ours);
                        println!("{head} {t:.1e} | {} | {} | {cpu:.2} | {ratio:.2} |", o.rates, o.jacobians);
                    }
                    _ => println!("{head} not down to 1e-8 | | | | |"),
                }
            }
        }
    }
    println!();
}

/// diffsol at 1e-5 without the care: each part of [`Manner::CAREFUL`] left out in turn.
fn careless(cases: &[Case]) {
    println!(
        "| case | method | left out | steps (rejected, Newton failures) | rates | event time error, s | spill error, mL |"
    );
    println!("|---|---|---|---:|---:|---:|---:|");
    let care = Manner::CAREFUL;
    for case in cases {
        for (left_out, manner) in [
            ("nothing", care),
            ("short first step", Manner { first_step: f64::INFINITY, ..care }),
            ("tolerances that follow", Manner { follow: f64::INFINITY, ..care }),
            ("raised limits", Manner { limits: true, ..care }),
            ("all three", Manner { first_step: f64::INFINITY, follow: f64::INFINITY, limits: true }),
        ] {
            for (method, label) in METHODS.iter().enumerate().skip(2) {
                let head = format!("| {} | {label} | {left_out} |", case.name);
                match run_as(method, &case.rig, 1e-5, manner) {
                    Ok(o) => println!(
                        "{head} {} ({}, {}) | {} | {} |",
                        o.steps,
                        o.rejected,
                        o.newton_failures,
                        o.rates,
                        errors(&o, &case.reference)
                    ),
                    Err(e) => println!("{head} failed: {e} | | | |"),
                }
            }
        }
    }
    println!();
}

fn main() {
    let what = std::env::args().nth(1).unwrap_or_default();
    let only = what.parse().ok();
    let wanted = |name: &str| what.is_empty() || what == name;
    println!("load before: {}\n", load());
    let cases = cases();
    if wanted("reference") {
        reference(&cases);
    }
    if wanted("tolerance") || only.is_some() {
        same_tolerance(&cases, only);
    }
    if wanted("accuracy") {
        same_accuracy(&cases);
    }
    if wanted("careless") {
        careless(&cases);
    }
    println!("load after: {}", load());
}
