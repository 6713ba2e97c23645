//! What the field-test files share.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // a test stops where it fails
#![allow(dead_code)] // each test file uses its own part

use poppetry::assembly::{Resolver, Settings};
use poppetry::bench::field::{FieldOptions, FieldTest, Part, Procedure, Reading, Single, field_test};
use poppetry::error::{At, Source};

/// One psi, Pa (NIST SP 811).
pub const PSI: f64 = 6_894.757_293_168_361;
/// One inch, m.
pub const INCH: f64 = 0.0254;
/// One millilitre, m3.
pub const ML: f64 = 1e-6;
/// Density of water at 15 degC, kg/m3 (CRC Handbook: 999.10).
pub const RHO: f64 = 999.1;

/// One try, friction and adhesion at their means.
pub const ONCE: FieldOptions = FieldOptions { repeats: 1, seed: 1, sticking: false };

pub fn settings(assembly: &str, sets: &[&str]) -> Settings {
    sets.iter().fold(Resolver::new().assembly(assembly), |r, set| r.set(set)).resolve().unwrap()
}

/// A built-in with fields set, tested once by a built-in procedure.
pub fn once(assembly: &str, procedure: &str, sets: &[&str]) -> FieldTest {
    field_test(&settings(assembly, sets), &Procedure::builtin(procedure).unwrap(), &ONCE).unwrap()
}

/// Whether a measurement is lost, for the reason with this id.
pub fn lost(test: &FieldTest, part: Part, id: &str) -> bool {
    test.lost.iter().any(|l| l.part == part && l.why.id() == id)
}

/// Whether a reading carries the note with this id.
pub fn noted(test: &FieldTest, part: Part, id: &str) -> bool {
    test.reading(part).unwrap().notes.iter().any(|n| n.id() == id)
}

/// A procedure written out.
pub fn script(text: &str) -> Procedure {
    Procedure::from_text(text, &At::whole(Source::File("test.toml".into()))).unwrap()
}

pub fn inlet(test: &FieldTest) -> &Reading {
    test.reading(Part::AirInlet).unwrap()
}

pub fn check(test: &FieldTest) -> &Reading {
    test.reading(Part::Check).unwrap()
}

/// A term of the first try's budget, psi; 0 where it is not listed.
pub fn term(reading: &Reading, what: &str) -> f64 {
    reading.tries[0].budget.iter().filter(|b| b.what == what).map(|b| b.pa / PSI).sum()
}

/// All terms before rounding, psi.
pub fn terms(single: &Single) -> f64 {
    single.budget.iter().filter(|b| b.what != "rounding down").map(|b| b.pa / PSI).sum()
}

pub fn psi(value: Option<f64>) -> f64 {
    value.map_or(f64::NAN, |v| v / PSI)
}

/// Area of a circle, m2.
pub fn disc(diameter: f64) -> f64 {
    std::f64::consts::FRAC_PI_4 * diameter * diameter
}

/// Flow, m3/s, of the bleed path by hand at `p` psi on the tapped zone: bleed orifice (1.5 mm, Cd 0.61), hose (5 ft of
/// 3/16 in, laminar, entry and exit 1.5) and cock (12 mm2, Cd 0.61) one behind the other. Water at 15 degC: 1.138 mPa s
/// (IAPWS). Solved by bisection.
pub fn bleed_path(p: f64) -> f64 {
    let (hose, length, mu) = (disc(0.1875 * INCH), 60.0 * INCH, 1.138e-3);
    let resistance = 8.0 * std::f64::consts::PI * mu * length / (hose * hose);
    let square = |a: f64| 1.0 / (a * a);
    let turbulent = 0.5 * RHO * (square(0.61 * disc(1.5e-3)) + 1.5 * square(hose) + square(0.61 * 12e-6));
    let (mut low, mut high) = (0.0, 1e-3);
    for _ in 0..100 {
        let q = 0.5 * (low + high);
        if resistance * q + turbulent * q * q < p * PSI { low = q } else { high = q }
    }
    low
}

/// Leak area of a shutoff, mm2, that lets `q` m3/s through at `dp` psi (Cd 0.61).
pub fn leak_mm2(q: f64, dp: f64) -> f64 {
    q / (0.61 * (2.0 * dp * PSI / RHO).sqrt()) * 1e6
}
