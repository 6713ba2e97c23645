//! Physical constants that more than one law uses.

/// Standard acceleration of free fall, m/s² (3rd CGPM 1901; exact by definition).
pub const STANDARD_GRAVITY: f64 = 9.80665;

/// Specific gas constant of dry air, J/(kg K): molar gas constant over the molar mass 28.9645 g/mol, rounded as in
/// handbooks (ISO 2533 standard atmosphere: 287.05287).
pub const AIR_GAS_CONSTANT: f64 = 287.05;

/// Ratio of specific heats of air as an ideal diatomic gas (ISO 2533 standard atmosphere: 1.4).
pub const AIR_GAMMA: f64 = 1.4;

/// Standard atmosphere, Pa absolute (10th CGPM 1954; exact by definition).
pub const STANDARD_ATMOSPHERE: f64 = 101_325.0;
