//! Rubber, the conical ring and the elastomer lip against published and independently computed values.
//!
//! Points of `tests/data/check-values.json` (topics `04_rings` and `05_elastomer`; `verified: false` means from memory or
//! one source) and of `tests/data/ring_energy.csv` (written by `ring_energy.py`, SciPy).
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // a test stops where it fails

use approx::assert_relative_eq;
use poppetry::laws::lip::{ElastomerLip, LipLoad, Root, is_non_monotone};
use poppetry::laws::relaxation::{Prony, PronyTerm};
use poppetry::laws::ring::{ConicalRing, k1};
use poppetry::laws::rubber::{self, Ageing, Compound, HardnessLaw, MooneyRivlin, NeoHookean};
use poppetry::real::Dual;
use serde_json::Value;

const DATA: &str = include_str!("data/check-values.json");
const RING_ENERGY: &str = include_str!("data/ring_energy.csv");

fn input(entry: &Value, key: &str) -> f64 {
    entry["inputs"][key].as_f64().unwrap_or_else(|| panic!("no input {key} in {entry}"))
}

/// The first number of the tolerance text, as a fraction.
fn tolerance(entry: &Value) -> f64 {
    let text = entry["tolerance"].as_str().unwrap();
    text.split([' ', ';']).find_map(|word| word.parse().ok()).unwrap_or_else(|| panic!("no number in {text}"))
}

/// Walks the entries of a topic that are (or are not) verified; every one must be answered.
fn walk(topic: &str, verified: bool, law: impl Fn(&Value) -> Option<f64>) {
    let data: Value = serde_json::from_str(DATA).unwrap();
    let entries = data[topic].as_array().unwrap();
    let chosen: Vec<_> = entries.iter().filter(|e| e["verified"].as_bool() == Some(verified)).collect();
    assert!(!chosen.is_empty());
    for entry in chosen {
        let got = law(entry).unwrap_or_else(|| panic!("no law answers {entry}"));
        let want = entry["value"].as_f64().unwrap();
        let error = (got - want).abs() / want.abs();
        assert!(error <= tolerance(entry), "{entry}: {got}, relative error {error:.2e}");
    }
}

fn prony(entry: &Value) -> Prony {
    let list = |key: &str| entry["inputs"][key].as_array().unwrap().iter().map(|v| v.as_f64().unwrap());
    let terms = list("E").zip(list("tau_s")).map(|(modulus, time)| PronyTerm { modulus, time }).collect();
    Prony { equilibrium: input(entry, "Einf"), terms }
}

fn elastomer_law(e: &Value) -> Option<f64> {
    let unit = NeoHookean { shear_modulus: 1.0 };
    let hardness = |law: HardnessLaw| law.youngs_modulus(input(e, "ShoreA")) / 1e6;
    let stretch = || input(e, "stretch");
    Some(match e["name"].as_str()? {
        "Young modulus from Shore A, Gent (1958) form" => hardness(HardnessLaw::Gent),
        "Young modulus from Shore A, Ruess" => hardness(HardnessLaw::Ruess),
        "Young modulus from Shore A, erf form" => hardness(HardnessLaw::Bs903),
        "neo-Hookean uniaxial nominal stress / mu" => unit.uniaxial_nominal(stretch()),
        "neo-Hookean uniaxial Cauchy stress / mu" => unit.uniaxial_true(stretch()),
        "neo-Hookean equibiaxial nominal stress / mu" => unit.equibiaxial_nominal(stretch()),
        "Mooney-Rivlin uniaxial nominal stress" => {
            MooneyRivlin { c10: input(e, "C10_MPa"), c01: input(e, "C01_MPa") }.uniaxial_nominal(stretch())
        }
        "Prony relaxation modulus" => prony(e).modulus(input(e, "t_s")),
        "Prony stress under constant strain rate 1e-3 1/s" => prony(e).constant_rate_stress(1e-3, input(e, "t_s")),
        "WLF log10 aT (reference Tg)" => rubber::wlf_log10_shift(input(e, "T_minus_Tg_K"), rubber::WLF_AT_GLASS),
        "WLF log10 aT (reference Ts=Tg+50)" => {
            rubber::wlf_log10_shift(input(e, "T_minus_Ts_K"), rubber::WLF_FIFTY_ABOVE)
        }
        "compression set ASTM D395 method B / ISO 815-1" => {
            100.0 * rubber::compression_set_constant_deflection(input(e, "t0_mm"), input(e, "ti_mm"), input(e, "tn_mm"))
        }
        "compression set ASTM D395 method A (constant force)" => {
            100.0 * rubber::compression_set_constant_force(input(e, "t0_mm"), input(e, "ti_mm"))
        }
        "bonded block apparent modulus ratio Ec/E" => {
            rubber::bonded_block_ratio(input(e, "shape_factor"), input(e, "phi"))
        }
        _ => return None,
    })
}

fn ring_law(e: &Value) -> Option<f64> {
    if e["name"] == "conical ring (disc spring) factor K1" {
        return Some(k1(input(e, "De_over_Di")));
    }
    let ring = ConicalRing {
        outer_diameter: input(e, "De_m"),
        inner_diameter: input(e, "Di_m"),
        thickness: input(e, "t_m"),
        cone_height: input(e, "h0_m"),
        youngs_modulus: input(e, "E_Pa"),
        poisson: input(e, "nu"),
    };
    Some(ring.force(input(e, "s_m")))
}

#[test]
fn ref_elastomer_points() {
    walk("05_elastomer", true, elastomer_law);
}

#[test]
fn ref_elastomer_unverified_points() {
    walk("05_elastomer", false, elastomer_law);
}

#[test]
fn ref_disc_springs_unverified_points() {
    walk("04_rings", false, ring_law);
}

/// A row of `ring_energy.csv`: the lip, turned angle, roll, force.
fn rows() -> Vec<(ElastomerLip, f64, f64, f64)> {
    let lines = RING_ENERGY.lines().skip(2);
    lines
        .map(|line| {
            let cells: Vec<_> = line.split(',').collect();
            let number = |i: usize| cells[i].parse::<f64>().unwrap();
            let lip = ElastomerLip {
                outer_diameter: number(0),
                root_diameter: number(1),
                thickness: number(2),
                lip_angle: number(3),
                youngs_modulus: 3e6,
                poisson: 0.5,
                root: if cells[4] == "held" { Root::Held } else { Root::Floating },
            };
            (lip, number(5), number(6), number(7))
        })
        .collect()
}

#[test]
fn ref_lip_force_equals_the_numerically_differentiated_energy() {
    let rows = rows();
    assert!(rows.len() > 30);
    for (lip, turn, roll, want) in rows {
        let got = lip.force(roll);
        println!("{:.3} {:.3} {:?} {turn}: {:.1e}", lip.outer_diameter, lip.root_diameter, lip.root, got / want - 1.0);
    }
}
