//! What an elastomer load has beside its force-travel law: relaxation, and the pocket between its two lips.
//!
//! ```text
//! relaxation    F = F_law + sum r_i (F_law - q_i),      tau_i dq_i/dt = F_law - q_i
//! pocket        a zone of volume V0 + A x, open to atmosphere through the slot; its pressure pushes the air inlet open
//!               with (p - p_a) A
//! ```
//!
//! | symbol | meaning |
//! |---|---|
//! | F_law | lasting (relaxed) force of the lip at the present travel, N |
//! | q_i, r_i, tau_i | lagging force, N; its share of the lasting force; its time constant, s |
//! | V0, A | volume of the pocket when sealed, m3; its area seen along the travel, m2 |
//!
//! Relaxation: generalised Maxwell (Prony) model with the strain replaced by the law's force, which is exact for a lip that
//! is bent in proportion (Ferry, *Viscoelastic Properties of Polymers*, from memory). At rest the stated load remains.

use super::Zone;

/// Terms of the relaxation.
pub const TERMS: usize = 2;

/// Prony terms over the lasting force.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Relaxation {
    /// Share of the lasting force, each term.
    pub share: [f64; TERMS],
    /// Reciprocal of the time constant, 1/s, each term.
    pub rate: [f64; TERMS],
}

/// The pocket between outer and sealing lip.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pocket {
    /// Volume when the air inlet is sealed, and the lips' compliance.
    pub zone: Zone,
    /// Area seen along the travel, m2.
    pub area: f64,
    /// Effective area of the breathing slot, m2 (discharge coefficient counted).
    pub slot: f64,
    /// Whether it was last at atmosphere with the air inlet shut (or open).
    pub at_atmosphere_shut: bool,
    /// Water trapped in it, m3.
    pub water: f64,
}
