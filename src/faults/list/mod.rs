//! The faults themselves.

use super::Fault;

mod air_inlet;
mod check;
mod elastomer;
mod fittings;
mod instrument;
mod site;
mod spill_resistant;

/// All, part by part.
pub(super) static ALL: [&[Fault]; 7] = [
    check::FAULTS,
    air_inlet::FAULTS,
    elastomer::FAULTS,
    spill_resistant::FAULTS,
    fittings::FAULTS,
    site::FAULTS,
    instrument::FAULTS,
];
