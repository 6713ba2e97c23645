//! The cases behind a C interface; `peers.h` says the same in C.
//!
//! A run is an opaque pointer. The caller integrates one mode at a time: unknowns `z` (`peers_states` of them) and
//! ledger `q` (`peers_ledger` of them) start at zero, and when a guard has turned negative, or the mode is to be begun
//! anew from where it stands, it calls `peers_event`, after which all sizes may have changed. This file holds all the
//! unsafe code of the comparison; every pointer must be valid for as many numbers as its function says, and not be
//! shared by threads.

use peers::cases::{COUNT, Case};
use peers::frame::{Frame, Work};
use peers::outcome::{Outcome, Row, closure};
use peers::place::Place;
use poppetry::numerics::System;
use std::ffi::{CStr, c_char, c_double, c_int, c_long};

/// A new mode has begun.
const GO: c_int = 0;
/// The run is at its end.
const DONE: c_int = 1;
/// Transitions without end.
const CHATTER: c_int = -1;

/// A run of one case.
pub struct Run {
    case: Case,
    place: Place,
    frame: Frame,
    work: Work,
    rates: usize,
    jacobians: usize,
}

impl Run {
    /// After a change of place: settles it and begins the mode.
    fn begin(&mut self) -> c_int {
        if self.place.settle().is_err() {
            return CHATTER;
        }
        let Place { rig, mode, t, y, .. } = &self.place;
        self.frame = Frame::new(rig, *mode, *t, y.clone());
        let done = rig.enough(mode, *t, y, &mut Default::default()) || !(*t < rig.end_time);
        if done { DONE } else { GO }
    }

    fn outcome(&self, counts: [usize; 3]) -> Outcome {
        let Place { rig, t, y, fired, .. } = &self.place;
        Outcome {
            steps: counts[0],
            rejected: counts[1],
            newton_failures: counts[2],
            rates: self.rates,
            jacobians: self.jacobians,
            fired: fired.clone(),
            spill: rig.spilled(y),
            closure: closure(rig, y),
            t_end: *t,
            ..Outcome::default()
        }
    }
}

/// Number of cases.
#[unsafe(no_mangle)]
pub extern "C" fn peers_cases() -> c_int {
    COUNT as c_int
}

/// Case `number` from 0 with its reference (poppetry's stiff method at 1e-9), at its start; null when there is none.
#[unsafe(no_mangle)]
pub extern "C" fn peers_open(number: c_int) -> *mut Run {
    let Some(case) = usize::try_from(number).ok().and_then(|n| Case::new(n).ok()) else {
        return std::ptr::null_mut();
    };
    let place = Place::new(&case.rig);
    let frame = Frame::new(&case.rig, place.mode, place.t, place.y.clone());
    let work = Work::new(&case.rig);
    Box::into_raw(Box::new(Run { case, place, frame, work, rates: 0, jacobians: 0 }))
}

/// Frees a run.
///
/// # Safety
/// `run` is from `peers_open` and not used afterwards.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn peers_close(run: *mut Run) {
    drop(unsafe { Box::from_raw(run) });
}

/// Back to the start; 0 when a mode has begun, negative on chatter.
///
/// # Safety
/// `run` is from `peers_open`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn peers_reset(run: *mut Run) -> c_int {
    let run = unsafe { &mut *run };
    run.place = Place::new(&run.case.rig);
    (run.rates, run.jacobians) = (0, 0);
    run.begin()
}

/// Unknowns of the present mode.
///
/// # Safety
/// `run` is from `peers_open`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn peers_states(run: *const Run) -> c_int {
    unsafe { &*run }.frame.active.len() as c_int
}

/// Entries of the ledger.
///
/// # Safety
/// `run` is from `peers_open`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn peers_ledger(run: *const Run) -> c_int {
    unsafe { &*run }.case.rig.ledger() as c_int
}

/// Guards of the present mode.
///
/// # Safety
/// `run` is from `peers_open`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn peers_guard_count(run: *const Run) -> c_int {
    let run = unsafe { &*run };
    run.case.rig.guard_count(&run.frame.mode) as c_int
}

/// When the present mode began, s.
///
/// # Safety
/// `run` is from `peers_open`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn peers_time(run: *const Run) -> c_double {
    unsafe { &*run }.place.t
}

/// The next time after `t`, s, that must be stepped onto: a kink in the rates, or the end.
///
/// # Safety
/// `run` is from `peers_open`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn peers_limit(run: *const Run, t: c_double) -> c_double {
    let rig = &unsafe { &*run }.case.rig;
    rig.next_break(t).min(rig.end_time)
}

/// When the run ends at the latest, s.
///
/// # Safety
/// `run` is from `peers_open`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn peers_end(run: *const Run) -> c_double {
    unsafe { &*run }.case.rig.end_time
}

/// Rates at `(t, z)` of the unknowns into `dz` and of the ledger into `dq`; either may be null. 0, or 1 when one is not
/// finite.
///
/// # Safety
/// `run` is from `peers_open`; `z` and `dz` hold `peers_states` numbers, `dq` holds `peers_ledger`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn peers_rates(
    run: *mut Run,
    t: c_double,
    z: *const c_double,
    dz: *mut c_double,
    dq: *mut c_double,
) -> c_int {
    let Run { case, frame, work, rates, .. } = unsafe { &mut *run };
    let n = frame.active.len();
    *rates += 1;
    let z = unsafe { std::slice::from_raw_parts(z, n) };
    let mut dz = (!dz.is_null()).then(|| unsafe { std::slice::from_raw_parts_mut(dz, n) });
    let mut dq = (!dq.is_null()).then(|| unsafe { std::slice::from_raw_parts_mut(dq, case.rig.ledger()) });
    frame.rates(work, t, z, dz.as_deref_mut(), dq.as_deref_mut());
    let finite = |out: &Option<&mut [f64]>| out.iter().flat_map(|o| o.iter()).all(|v| v.is_finite());
    c_int::from(!(finite(&dz) && finite(&dq)))
}

/// Derivatives of the rates by the unknowns at `(t, z)`, column after column of `rows` numbers; `rows` is
/// `peers_states`, or that and `peers_ledger`, when the derivatives of the ledger's rates stand below.
///
/// # Safety
/// `run` is from `peers_open`; `z` holds `peers_states` numbers, `out` that many times `rows`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn peers_jacobian(
    run: *mut Run,
    t: c_double,
    z: *const c_double,
    rows: c_int,
    out: *mut c_double,
) -> c_int {
    let Run { frame, work, jacobians, .. } = unsafe { &mut *run };
    let (n, rows) = (frame.active.len(), rows as usize);
    *jacobians += 1;
    let z = unsafe { std::slice::from_raw_parts(z, n) };
    let out = unsafe { std::slice::from_raw_parts_mut(out, n * rows) };
    frame.jacobian(work, t, z, rows > n, |r, c, value| out[c * rows + r] = value);
    c_int::from(!out.iter().all(|v| v.is_finite()))
}

/// The guards at `(t, z)`: positive while the mode is valid.
///
/// # Safety
/// `run` is from `peers_open`; `z` holds `peers_states` numbers, `g` holds `peers_guard_count`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn peers_guards(run: *mut Run, t: c_double, z: *const c_double, g: *mut c_double) {
    let Run { case, frame, work, .. } = unsafe { &mut *run };
    let z = unsafe { std::slice::from_raw_parts(z, frame.active.len()) };
    let g = unsafe { std::slice::from_raw_parts_mut(g, case.rig.guard_count(&frame.mode)) };
    frame.guards(work, t, z, g);
}

/// The change of each unknown that counts as one unit of relative error at `(t, z)`: an absolute tolerance on it is the
/// relative one times this.
///
/// # Safety
/// `run` is from `peers_open`; `z` and `units` hold `peers_states` numbers.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn peers_units(run: *mut Run, t: c_double, z: *const c_double, units: *mut c_double) {
    let Run { frame, work, .. } = unsafe { &mut *run };
    let z = unsafe { std::slice::from_raw_parts(z, frame.active.len()) };
    frame.units(work, t, z, unsafe { std::slice::from_raw_parts_mut(units, frame.active.len()) });
}

/// Guard `guard` has turned negative at `(t, z, q)`: fires its transition (none when negative: the mode is begun anew
/// from there, or the end is reached), then those whose guards are negative already. 0 when a mode has begun, 1 at the
/// end, negative on chatter.
///
/// # Safety
/// `run` is from `peers_open`; `z` holds `peers_states` numbers, `q` holds `peers_ledger`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn peers_event(
    run: *mut Run,
    t: c_double,
    z: *const c_double,
    q: *const c_double,
    guard: c_int,
) -> c_int {
    let run = unsafe { &mut *run };
    let z = unsafe { std::slice::from_raw_parts(z, run.frame.active.len()) };
    let q = unsafe { std::slice::from_raw_parts(q, run.case.rig.ledger()) };
    run.place.t = t;
    run.frame.all(z, q, &mut run.place.y);
    if let Ok(guard) = usize::try_from(guard) {
        run.place.fire(guard);
    }
    run.begin()
}

/// Writes the row of the table for the run that has just ended into `text` (at most `size` bytes, the closing zero
/// among them). `counts`: steps, rejected steps, failures of Newton's iteration; times in s; `failure` null when there
/// was none.
///
/// # Safety
/// `run` is from `peers_open`; `method` and `failure` end with a zero, `counts` holds three numbers, `text` holds
/// `size`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn peers_row(
    run: *const Run,
    method: *const c_char,
    tolerance: c_double,
    counts: *const c_long,
    cpu: c_double,
    wall: c_double,
    failure: *const c_char,
    text: *mut c_char,
    size: usize,
) {
    let run = unsafe { &*run };
    let words = |p: *const c_char| unsafe { CStr::from_ptr(p) }.to_string_lossy().into_owned();
    let counts = unsafe { std::slice::from_raw_parts(counts, 3) };
    let counts = std::array::from_fn(|i| usize::try_from(counts[i]).unwrap_or(0));
    let (name, method, reference) = (run.case.name, words(method), &run.case.reference);
    let row = if failure.is_null() {
        Row::done(name, &method, tolerance, &run.outcome(counts), reference, [cpu, wall])
    } else {
        Row::failed(name, &method, tolerance, reference, &words(failure))
    };
    let line = row.line();
    let text = unsafe { std::slice::from_raw_parts_mut(text.cast::<u8>(), size) };
    for (to, from) in text.iter_mut().zip(line.bytes().chain([0])) {
        *to = from;
    }
    if let Some(last) = text.last_mut() {
        *last = 0;
    }
}
