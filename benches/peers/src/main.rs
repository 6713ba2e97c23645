//! The commands; what they are for stands in the library's text.

use peers::cases::Case;
use peers::diffsol_peer::Manner;
use peers::frame::{Frame, Work};
use peers::outcome::{Errors, Outcome};
use peers::sweep::{METHODS, run, sweep};
use peers::{cost, report};
use poppetry::rig::Rig;
use std::rc::Rc;

fn errors(run: &Outcome, reference: &Outcome) -> String {
    let e = Errors::of(run, reference);
    let spill = 1e6 * e.spill;
    match e.events.is_nan() {
        true => format!("{} events, not {} | {spill:.2e}", run.fired.len(), reference.fired.len()),
        false => format!("{:.2e} | {spill:.2e}", e.events),
    }
}

/// The reference, and how far other methods at tight tolerances stand from it.
fn reference(cases: &[Case]) {
    println!("| case | events | spill, mL | end, s | against the reference | event time, s | spill, mL |");
    println!("|---|---:|---:|---:|---|---:|---:|");
    for case in cases {
        let r = &case.reference;
        for (method, tolerance) in [(0, 1e-8), (1, 1e-9), (4, 1e-8)] {
            let line =
                run(method, &case.rig, tolerance, Manner::CAREFUL).map_or_else(|e| format!("{e} |"), |o| errors(&o, r));
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
                match run(method, &case.rig, 1e-5, manner) {
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

/// Cost of the rates at the start, ns, as the peers of this crate call them; `cvode.c` prints its own.
fn rates(rig: &Rc<Rig>) -> f64 {
    let (mode, y) = rig.start();
    let frame = Frame::new(rig, mode, 0.0, y);
    let (z, mut dz) = (vec![0.0; frame.active.len()], vec![0.0; frame.active.len()]);
    let mut work = Work::new(rig);
    1e9 * cost::per_call(|| frame.rates(&mut work, 0.0, std::hint::black_box(&z), Some(&mut dz), None))
}

fn main() -> Result<(), String> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let what = arguments.first().map_or("sweep", String::as_str);
    if what == "report" {
        return report::print(&arguments[1..]);
    }
    let cases = Case::all()?;
    match what {
        "sweep" => sweep(&cases, arguments.get(1).and_then(|t| t.parse().ok())),
        "reference" => reference(&cases),
        "careless" => careless(&cases),
        "rates" => cases.iter().for_each(|c| println!("{}: {:.0} ns", c.name, rates(&c.rig))),
        other => return Err(format!("unknown: {other} (sweep, reference, careless, rates, report)")),
    }
    Ok(())
}
