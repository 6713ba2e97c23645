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
                root_bending: 0.0,
                root: if cells[4] == "held" { Root::Held } else { Root::Floating },
            };
            (lip, number(5), number(6), number(7))
        })
        .collect()
}

#[test]
fn ref_hoop_force_equals_the_numerically_differentiated_energy() {
    let rows = rows();
    assert!(rows.len() > 30);
    for (lip, turn, roll, want) in rows {
        let stated = if turn <= 0.8 && lip.outer_diameter < 2.1 * lip.root_diameter { 2e-8 } else { 1e-5 };
        assert_relative_eq!(lip.force(roll), want, max_relative = stated);
        assert_relative_eq!(lip.lip_angle - lip.angle(roll), turn, max_relative = 1e-9);
    }
}

#[test]
fn ref_root_bending_follows_the_elastica_as_stated() {
    let mut worst: f64 = 0.0;
    for line in include_str!("data/lip_bending.csv").lines().skip(2) {
        let cells: Vec<f64> = line.split(',').map(|c| c.parse().unwrap()).collect();
        let (angle, force, roll) = (cells[0], cells[1], cells[2]);
        // A wide thin ring: what the hinge adds to the hoop force is the strip's, per unit of circumference.
        let mut lip = lip();
        lip.lip_angle = angle;
        let length = lip.length();
        let strip = 4e6 * lip.thickness.powi(3) / 12.0 / (length * length) * std::f64::consts::PI * lip.root_diameter;
        let clamped = lip.force(roll * length);
        lip.root_bending = 0.0;
        let bending = (clamped - lip.force(roll * length)) / strip;
        let turn = angle - lip.angle(roll * length);
        let error = bending / force - 1.0;
        let stated = if turn <= 0.65 { 0.085 } else { 0.2 };
        assert!(turn < 1.1 && error.abs() <= stated, "{angle} {turn}: {error:.3}");
        worst = worst.max(error.abs());
    }
    // The bound is not idle.
    assert!(worst > 0.1);
}

/// A lip of 3 MPa with a clamped root.
fn lip() -> ElastomerLip {
    ElastomerLip {
        outer_diameter: 44e-3,
        root_diameter: 28e-3,
        thickness: 2e-3,
        lip_angle: 0.7,
        youngs_modulus: 3e6,
        poisson: 0.5,
        root: Root::Floating,
        root_bending: 1.0,
    }
}

/// Almen & Laszlo with each of their two terms carrying the coefficient of its own energy: K1 for the membrane term, M
/// for the bending term.
fn two_coefficients(ring: &ConicalRing, s: f64) -> f64 {
    let delta = ring.outer_diameter / ring.inner_diameter;
    let m = 6.0 / std::f64::consts::PI / delta.ln() * ((delta - 1.0) / delta).powi(2);
    let plate = 4.0 * ring.youngs_modulus / (1.0 - ring.poisson.powi(2)) / ring.outer_diameter.powi(2);
    let linear = plate * ring.thickness.powi(3) * s;
    ring.force(s) + linear * (1.0 / m - 1.0 / k1(delta))
}

#[test]
fn order_small_turning_is_almen_laszlo_with_an_error_of_second_order() {
    // Everything but the diameters shrinks with the angle, so h0/t and s/t stay.
    for (cone_over_thickness, part) in [(0.6, 0.5), (1.5, 0.8), (2.2, 0.3)] {
        let error = |size: f64| {
            let ring = ConicalRing {
                outer_diameter: 0.04,
                inner_diameter: 0.02,
                thickness: 0.01 * size / cone_over_thickness,
                cone_height: 0.01 * size,
                youngs_modulus: 3e6,
                poisson: 0.5,
            };
            let lip = ElastomerLip {
                outer_diameter: ring.outer_diameter,
                root_diameter: ring.inner_diameter,
                thickness: ring.thickness,
                lip_angle: size.atan(),
                root_bending: 0.0,
                ..lip()
            };
            let s = part * ring.cone_height;
            lip.force(s) / two_coefficients(&ring, s) - 1.0
        };
        let errors = [error(0.04), error(0.02), error(0.01)];
        for pair in errors.windows(2) {
            let order = (pair[0] / pair[1]).abs().log2();
            assert!((order - 2.0).abs() < 0.1, "{errors:?}: order {order}");
        }
        assert!(errors[2].abs() < 1e-3, "{errors:?}");
    }
}

#[test]
fn analytic_held_root_at_small_turning_has_its_closed_energy() {
    // Strain [(r − b)φ(α − φ/2) − yφ]/r, integrated over the section by hand.
    let lip = ElastomerLip { root: Root::Held, root_bending: 0.0, lip_angle: 1e-3, thickness: 1e-5, ..lip() };
    let (a, b, alpha, t) = (0.022, 0.014, 1e-3, 1e-5);
    let log = f64::ln(a / b);
    let membrane = t * ((a * a - b * b) / 2.0 - 2.0 * b * (a - b) + b * b * log);
    let bending = t * t * t / 12.0 * log;
    for phi in [2e-4, 7e-4, 1.5e-3] {
        let s = lip.length() * (f64::sin(alpha) - f64::sin(alpha - phi));
        let slope = 2.0 * phi * (alpha - phi / 2.0) * (alpha - phi) * membrane + 2.0 * phi * bending;
        // Neglected: α² and (t/b)·α, both below 1e-5 of the terms.
        assert_relative_eq!(lip.force(s), std::f64::consts::PI * 4e6 * slope / (a - b), max_relative = 1e-3);
    }
}

#[test]
fn balance_force_is_the_derivative_of_the_stored_energy() {
    for root in [Root::Floating, Root::Held] {
        let lip = ElastomerLip { root, ..lip() };
        for s in [0.5e-3, 3e-3, 7e-3, 10e-3] {
            let h = 1e-5;
            let slope =
                |f: &dyn Fn(f64) -> f64| (8.0 * (f(s + h) - f(s - h)) - (f(s + 2.0 * h) - f(s - 2.0 * h))) / (12.0 * h);
            assert_relative_eq!(lip.force(s), slope(&|s| lip.energy(s)), max_relative = 1e-8);
            assert_relative_eq!(lip.rate(s), slope(&|s| lip.force(s)), max_relative = 1e-7);
            assert_eq!(lip.force(Dual::<1>::variable(s, 0)).eps[0], lip.rate(s));
        }
    }
    assert!(lip().force(0.0).abs() < 1e-12);
}

#[test]
fn analytic_force_rises_with_hardness_thickness_and_roll() {
    let mut seen = 0;
    for root in [Root::Floating, Root::Held] {
        for root_diameter in [20e-3, 28e-3, 36e-3] {
            for lip_angle in [0.3, 0.7, 1.1] {
                for root_bending in [0.0, 0.5, 1.0] {
                    let at = |shore_a: f64, thickness: f64, roll: f64| {
                        let youngs_modulus = HardnessLaw::Gent.youngs_modulus(shore_a);
                        let part = ElastomerLip {
                            root,
                            root_diameter,
                            lip_angle,
                            root_bending,
                            thickness,
                            youngs_modulus,
                            ..lip()
                        };
                        // Stated range of the claim: up to the first peak, or half of flat.
                        let last = 0.5 * part.flattening_roll();
                        part.force(roll * part.peak_roll(last).unwrap_or(last))
                    };
                    let rising = |f: &dyn Fn(f64) -> f64, from: f64, to: f64| {
                        let forces: Vec<_> = (0..=12).map(|i| f(from + (to - from) * f64::from(i) / 12.0)).collect();
                        assert!(forces.windows(2).all(|p| p[1] > p[0]), "{forces:?}");
                    };
                    rising(&|shore| at(shore, 1.5e-3, 0.6), 25.0, 80.0);
                    rising(&|t| at(60.0, t, 0.6), 0.4e-3, 1.3e-3);
                    rising(&|roll| at(60.0, 1.5e-3, roll), 0.0, 1.0);
                    seen += 1;
                }
            }
        }
    }
    assert_eq!(seen, 54);
}

#[test]
fn event_a_thin_hinged_lip_snaps_and_a_clamped_one_does_not() {
    let thin = ElastomerLip { root_bending: 0.0, thickness: 1e-3, ..lip() };
    let peak = thin.peak_roll(thin.flattening_roll()).unwrap();
    assert!(thin.rate(0.99 * peak) > 0.0 && thin.rate(1.01 * peak) < 0.0);
    assert!(thin.snaps_through(1.1 * peak) && !thin.snaps_through(0.9 * peak));
    let load = |lip| LipLoad { lip, lift: 5.6e-3, preload: 2e-3, loss_tangent: 0.1, factor: 1.0 };
    assert!(load(thin).snaps_through() && !load(lip()).snaps_through());
    // The measured table of the same lip is told apart in the same way.
    for (lip, snaps) in [(thin, true), (lip(), false)] {
        let curve = load(lip).tabulate(20).unwrap();
        let force: Vec<f64> = curve.opening().knots().map(|(_, f)| f).collect();
        assert_eq!(is_non_monotone(&force, 1e-3), snaps);
    }
    assert!(!is_non_monotone(&[5.0, 4.95, 4.97, 4.0], 0.05) && !is_non_monotone(&[1.0, f64::NAN], 0.0));
}

#[test]
fn analytic_loop_loses_what_a_linear_solid_of_that_loss_tangent_loses() {
    // A flat ring at small roll is linear: F = K s. Ellipse of half axis (lift/2): area π tan δ K (lift/2)².
    let flat = ElastomerLip { lip_angle: 0.0, ..lip() };
    let load = LipLoad { lip: flat, lift: 1e-5, preload: 1e-5, loss_tangent: 0.1, factor: 0.8 };
    let n = 1000;
    let step = load.lift / f64::from(n);
    let area: f64 = (0..n).map(|i| -2.0 * load.branches((f64::from(i) + 0.5) * step).1 * step).sum();
    let ellipse = std::f64::consts::PI * 0.1 * 0.8 * flat.rate(0.0) * (0.5 * load.lift).powi(2);
    assert_relative_eq!(area, ellipse, max_relative = 1e-5);
    // No loop at the stop; opening below closing elsewhere.
    assert_eq!(load.branches(load.lift).1, 0.0);
    assert!(load.branches(0.0).1 < 0.0);
}

#[test]
fn order_table_converges_to_the_law() {
    let load = LipLoad { lip: lip(), lift: 5.6e-3, preload: 2e-3, loss_tangent: 0.1, factor: 1.0 };
    let error = |points| {
        let curve = load.tabulate(points).unwrap();
        let at = |i: u32| load.lift * f64::from(i) / 997.0;
        (0..=997).map(|i| (curve.mean(at(i)) - load.branches(at(i)).0).abs()).fold(0.0, f64::max) / load.branches(0.0).0
    };
    println!("table errors {:.1e} {:.1e} {:.1e}", error(17), error(33), error(65));
    assert!(error(33) < error(17) / 3.5 && error(65) < error(33) / 3.5);
    assert!(error(33) < 1e-4);
    assert!(load.tabulate(0).is_err() && load.tabulate(1).is_err());
    assert!(
        LipLoad { lift: 0.1, ..load }.tabulate(9).is_err() && LipLoad { lift: f64::NAN, ..load }.tabulate(9).is_err()
    );
    assert!(lip().force(1.0).is_nan() && lip().force(f64::NAN).is_nan());
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
