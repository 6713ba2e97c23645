//! Rubber and the conical ring against published values.
//!
//! Points of `tests/data/check-values.json`, topics `04_rings` and `05_elastomer`; `verified: false` means from memory or
//! one source. The elastomer lip has its own tests in `lip_reference.rs`.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // a test stops where it fails

use approx::assert_relative_eq;
use poppetry::laws::relaxation::{Prony, PronyTerm};
use poppetry::laws::ring::{ConicalRing, k1};
use poppetry::laws::rubber::{self, Ageing, Compound, HardnessLaw, MooneyRivlin, NeoHookean};
use serde_json::Value;

const DATA: &str = include_str!("data/check-values.json");

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

const FREEZING: f64 = 273.15;

/// Degrees Fahrenheit to kelvin.
fn fahrenheit(degrees: f64) -> f64 {
    (degrees - 32.0) / 1.8 + FREEZING
}

#[test]
fn practice_rubber_load_is_lower_on_a_hot_day_and_higher_on_a_cold_morning() {
    // The sign is common practice, no source: an elastomer-loaded inlet opens lower when warm, is stiff when cold.
    let (compound, bench) = (Compound::default(), fahrenheit(70.0));
    let (hot, cold) =
        (compound.temperature_factor(fahrenheit(90.0), bench), compound.temperature_factor(fahrenheit(35.0), bench));
    println!("temperature factor 90 F {hot:.4}, 35 F {cold:.4}");
    assert!(hot < 1.0 && cold > 1.0);
    // By hand: (305.372/294.261)·10^(0.04·(−17.44·57.2222/108.8222 + 17.44·46.1111/97.7111)).
    assert_relative_eq!(hot, 1.037_759 * 10f64.powf(0.04 * (-9.170_513 + 8.230_157)), max_relative = 1e-6);
    assert_eq!(compound.temperature_factor(bench, bench), 1.0);
    let falling: Vec<f64> = (0..=60).map(|c| compound.temperature_factor(FREEZING + f64::from(c), bench)).collect();
    assert!(falling.windows(2).all(|p| p[1] < p[0]));
}

#[test]
fn analytic_temperature_law_is_entropic_without_relaxation_and_turns_where_the_derivative_says() {
    let network = Compound { relaxation_exponent: 0.0, ..Compound::default() };
    assert_relative_eq!(network.temperature_factor(330.0, 300.0), 1.1, max_relative = 1e-14);
    // n ln 10 C1 C2/(C2 + x)² = 1/(Tg + x) at x = 114.75 K for Tg = 219.15 K, n = 0.04 (quadratic solved by hand).
    let propylene = Compound { glass_transition: 219.15, relaxation_exponent: 0.04 };
    let at = |t: f64| propylene.temperature_factor(t, 293.15);
    let least = (250..370).map(f64::from).min_by(|a, b| at(*a).total_cmp(&at(*b))).unwrap();
    assert!((least - (219.15 + 114.75)).abs() <= 1.0, "{least}");
    assert!(Compound::default().temperature_factor(f64::NAN, 293.15).is_nan());
    assert!(Compound::default().temperature_factor(150.0, 293.15).is_finite());
}

#[test]
fn analytic_power_law_series_has_the_loss_tangent_of_its_exponent() {
    // E' = E∞ + Σ E ω²τ²/(1 + ω²τ²), E'' = Σ E ωτ/(1 + ω²τ²), away from the ends of the series.
    let compound = Compound::default();
    let series = Prony::power_law(1.0 - 10f64.powf(-compound.relaxation_exponent), 1e-5, 12);
    // Terms a decade apart leave a ripple: average over one decade of frequency.
    let tangent = |w: f64| {
        let x = |t: &PronyTerm| w * t.time;
        let storage: f64 = series.terms.iter().map(|t| t.modulus * x(t).powi(2) / (1.0 + x(t).powi(2))).sum();
        let loss: f64 = series.terms.iter().map(|t| t.modulus * x(t) / (1.0 + x(t).powi(2))).sum();
        loss / (storage + series.equilibrium)
    };
    let mean: f64 = (0..20).map(|i| tangent(10f64.powf(f64::from(i) / 20.0))).sum::<f64>() / 20.0;
    assert_relative_eq!(mean, compound.loss_tangent(), max_relative = 0.02);
}

#[test]
fn analytic_ageing_follows_arrhenius() {
    let ageing = Ageing::default();
    // Ten kelvin at 23 °C and 72 kJ/mol: exp(72000/8.314463·(1/296.15 − 1/306.15)) = 2.59895.
    assert_relative_eq!(ageing.acceleration(306.15), 2.598_95, max_relative = 1e-6);
    assert_eq!(ageing.load_factor(0.0, 350.0), 1.0);
    let year = 365.25 * 86_400.0;
    // Warmer means earlier by the same factor, and ten years at 23 °C: e^(−1/3)·(1 + 0.5(1 − e^(−1/6))) = 0.771532.
    let later = ageing.load_factor(2.598_95 * year, 296.15);
    assert_relative_eq!(ageing.load_factor(year, 306.15), later, max_relative = 1e-5);
    assert_relative_eq!(ageing.load_factor(10.0 * year, 296.15), 0.771_532, max_relative = 1e-6);
}
