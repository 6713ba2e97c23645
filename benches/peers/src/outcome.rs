//! What a run gave, how far it is from the reference, and the row of the table of both.

use poppetry::rig::Rig;

/// What a run gave and what it took, apart from time.
#[derive(Debug, Default, Clone)]
pub struct Outcome {
    pub steps: usize,
    pub rejected: usize,
    pub newton_failures: usize,
    pub rates: usize,
    pub jacobians: usize,
    /// Times a guard went negative without the root finder's notice.
    pub unseen: usize,
    /// Times the tolerances followed the scales.
    pub refreshes: usize,
    /// Label and time of each transition.
    pub fired: Vec<(usize, f64)>,
    /// Water spilled, m3.
    pub spill: f64,
    /// Worse of the relative closures of the balances of water and air.
    pub closure: f64,
    pub t_end: f64,
}

/// How well the balances of water and air close between the rig's start and `end`, from the states alone.
pub fn closure(rig: &Rig, end: &[f64]) -> f64 {
    let balance = rig.balance(&rig.start().1, end);
    balance.water.closure().max(balance.air.closure())
}

/// Errors of a run against the reference.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Errors {
    /// Largest difference of event times, s, each event against the same occurrence of the same label; not a number
    /// when the runs do not have the same events.
    pub events: f64,
    /// Whether the labels came in the same order.
    pub in_order: bool,
    /// Difference of the spilled volume, m3.
    pub spill: f64,
}

impl Errors {
    /// Of `run` against `reference`.
    pub fn of(run: &Outcome, reference: &Outcome) -> Self {
        let sorted = |o: &Outcome| {
            let mut f = o.fired.clone();
            f.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
            f
        };
        let (a, b) = (sorted(run), sorted(reference));
        let same = a.len() == b.len() && a.iter().zip(&b).all(|(a, b)| a.0 == b.0);
        let largest = a.iter().zip(&b).map(|(a, b)| (a.1 - b.1).abs()).fold(0.0, f64::max);
        Errors {
            events: if same { largest } else { f64::NAN },
            in_order: run.fired.iter().map(|f| f.0).eq(reference.fired.iter().map(|f| f.0)),
            spill: (run.spill - reference.spill).abs(),
        }
    }
}

/// One method at one tolerance in one case: a line of the CSV files that every peer writes.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    pub case: String,
    pub method: String,
    pub tolerance: f64,
    pub steps: usize,
    pub rejected: usize,
    pub newton_failures: usize,
    pub rates: usize,
    pub jacobians: usize,
    /// CPU and wall time of one run, ms.
    pub cpu: f64,
    pub wall: f64,
    /// Number of events, and how many the reference has.
    pub events: (usize, usize),
    pub errors: Errors,
    pub closure: f64,
    /// Why it failed, if it did; the numbers then mean nothing.
    pub failure: String,
}

impl Row {
    /// Names of the columns.
    pub const HEADER: &str = "case,method,tolerance,steps,rejected,newton_failures,rates,jacobians,cpu_ms,wall_ms,events,\
                              reference_events,event_error_s,in_order,spill_error_ml,balance,failure";

    /// A row of a run that came to its end.
    pub fn done(case: &str, method: &str, tolerance: f64, run: &Outcome, reference: &Outcome, times: [f64; 2]) -> Self {
        Row {
            case: case.into(),
            method: method.into(),
            tolerance,
            steps: run.steps,
            rejected: run.rejected,
            newton_failures: run.newton_failures,
            rates: run.rates,
            jacobians: run.jacobians,
            cpu: 1e3 * times[0],
            wall: 1e3 * times[1],
            events: (run.fired.len(), reference.fired.len()),
            errors: Errors::of(run, reference),
            closure: run.closure,
            failure: String::new(),
        }
    }

    /// A row of a run that did not.
    pub fn failed(case: &str, method: &str, tolerance: f64, reference: &Outcome, why: &str) -> Self {
        let nothing = Outcome { closure: f64::NAN, ..Outcome::default() };
        let why = why.replace([',', '\n', '|'], ";");
        let row = Row::done(case, method, tolerance, &nothing, reference, [f64::NAN; 2]);
        Row { errors: Errors { events: f64::NAN, in_order: false, spill: f64::NAN }, failure: why, ..row }
    }

    /// As a line of CSV.
    pub fn line(&self) -> String {
        let e = &self.errors;
        format!(
            "{},{},{:.2e},{},{},{},{},{},{:.4},{:.4},{},{},{:.3e},{},{:.3e},{:.1e},{}",
            self.case,
            self.method,
            self.tolerance,
            self.steps,
            self.rejected,
            self.newton_failures,
            self.rates,
            self.jacobians,
            self.cpu,
            self.wall,
            self.events.0,
            self.events.1,
            e.events,
            e.in_order,
            1e6 * e.spill,
            self.closure,
            self.failure
        )
    }

    /// From a line of CSV.
    pub fn read(line: &str) -> Option<Self> {
        let fields: Vec<&str> = line.split(',').collect();
        let text = |i: usize| fields.get(i).map(|s| (*s).to_owned());
        let number = |i: usize| fields.get(i)?.parse::<f64>().ok();
        let whole = |i: usize| fields.get(i)?.parse::<usize>().ok();
        Some(Row {
            case: text(0)?,
            method: text(1)?,
            tolerance: number(2)?,
            steps: whole(3)?,
            rejected: whole(4)?,
            newton_failures: whole(5)?,
            rates: whole(6)?,
            jacobians: whole(7)?,
            cpu: number(8)?,
            wall: number(9)?,
            events: (whole(10)?, whole(11)?),
            errors: Errors { events: number(12)?, in_order: fields.get(13)?.parse().ok()?, spill: 1e-6 * number(14)? },
            closure: number(15)?,
            failure: text(16)?,
        })
    }
}
