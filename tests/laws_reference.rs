//! The laws against published or independently computed values.
//!
//! `tests/data/check-values.json`: topic → entries with inputs (the keys carry the units), value, unit, tolerance
//! (relative), source, verified. `verified: false` means from memory or a single source: those entries have tests of
//! their own, named so. Every entry of the file must be answered by a law, or its test fails.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // a test stops where it fails

use poppetry::laws::{orifice, pipe, spring, valve, water};
use serde_json::Value;
use std::f64::consts::FRAC_PI_4;

const DATA: &str = include_str!("data/check-values.json");

const INCH: f64 = 0.0254;
const POUND_FORCE: f64 = 4.448_221_615_260_5;
const PSI: f64 = 6_894.757_293_168_361;

struct Entry<'a>(&'a Value);

impl<'a> Entry<'a> {
    fn text(&self, key: &str) -> &'a str {
        self.0[key].as_str().unwrap_or_else(|| panic!("no text {key} in {}", self.0))
    }
    fn input(&self, key: &str) -> f64 {
        self.0["inputs"][key].as_f64().unwrap_or_else(|| panic!("no input {key} in {}", self.0))
    }
    fn word(&self, key: &str) -> &'a str {
        self.0["inputs"][key].as_str().unwrap_or_default()
    }
    /// The first number of the tolerance, as a fraction.
    fn tolerance(&self) -> f64 {
        let text = self.text("tolerance");
        let mut words = text.split([' ', ';', '(']).filter(|w| !w.is_empty()).peekable();
        while let Some(word) = words.next() {
            if let Ok(number) = word.parse::<f64>() {
                return if words.peek() == Some(&"%") { number / 100.0 } else { number };
            }
        }
        panic!("no number in tolerance {text:?}");
    }
}

/// Walks the entries of a topic that are (or are not) verified; `law` answers an entry in the entry's unit.
fn walk(topic: &str, verified: bool, law: impl Fn(&Entry) -> Option<f64>) {
    let data: Value = serde_json::from_str(DATA).unwrap();
    let entries = data[topic].as_array().unwrap();
    let mut failures = Vec::new();
    let mut count = 0;
    for entry in entries.iter().map(Entry).filter(|e| e.0["verified"].as_bool() == Some(verified)) {
        let want = entry.0["value"].as_f64().unwrap();
        let label = format!("{} {} ({})", entry.text("name"), entry.0["inputs"], entry.text("source"));
        match law(&entry) {
            None => failures.push(format!("no law answers {label}")),
            Some(got) => {
                let error = (got - want).abs() / want.abs();
                // Written so that NaN fails.
                if !(error <= entry.tolerance()) {
                    failures.push(format!("{label}: {got} against {want}, relative error {error:.2e}"));
                }
            }
        }
        count += 1;
    }
    let trust = if verified { "verified" } else { "unverified (from memory or one source)" };
    assert!(count > 0, "no {trust} entries in {topic}");
    assert!(
        failures.is_empty(),
        "{} of {count} {trust} entries of {topic} fail:\n{}",
        failures.len(),
        failures.join("\n")
    );
}

fn water_law(e: &Entry) -> Option<f64> {
    let t = e.input("T_K");
    let liquid = || water::WaterState::liquid(t, e.input("p_Pa"));
    Some(match e.text("name") {
        "IAPWS-95 check point: pressure" => water::pressure(t, e.input("rho_kg_m3")),
        "IAPWS-95 check point: speed of sound" => water::speed_of_sound(t, e.input("rho_kg_m3")),
        "IAPWS-95 check point: cv" => water::cv(t, e.input("rho_kg_m3")),
        "water density" => water::density(t, e.input("p_Pa")),
        "water isothermal bulk modulus" => liquid().isothermal_bulk_modulus,
        "water speed of sound" => liquid().speed_of_sound,
        "water dynamic viscosity" => water::dynamic_viscosity(t, liquid().density),
        "water saturation pressure" => water::saturation_pressure(t),
        _ => return None,
    })
}

fn textbook_spring(e: &Entry) -> spring::HelicalSpring {
    let total_coils = e.input("N_total");
    spring::HelicalSpring {
        wire: e.input("d_in") * INCH,
        mean_diameter: (e.input("OD_in") - e.input("d_in")) * INCH,
        active_coils: total_coils - 2.0,
        total_coils,
        shear_modulus: e.input("G_psi") * PSI,
    }
}

/// Load at the torsional yield 0.45 A/d^m of hard-drawn wire, with the constants of music wire.
fn textbook_yield_load(e: &Entry) -> f64 {
    let yield_stress = 0.45 * 201.0e3 / e.input("d_in").powf(0.145) * PSI;
    textbook_spring(e).load_at_stress(yield_stress, spring::StressFactor::Bergstrasser)
}

fn cone(e: &Entry) -> spring::ConicalSpring {
    spring::ConicalSpring {
        wire: e.input("d_m"),
        small_diameter: e.input("D_small_mean_m"),
        large_diameter: e.input("D_large_mean_m"),
        active_coils: e.input("n_active"),
        free_length: e.input("La_m"),
        shear_modulus: e.input("G_Pa"),
    }
}

fn spring_law(e: &Entry) -> Option<f64> {
    Some(match e.text("name") {
        "Wahl factor" => spring::wahl_factor(e.input("C")),
        "Bergstrasser factor" => spring::bergstrasser_factor(e.input("C")),
        "textbook spring rate (No. 16 music wire)" => textbook_spring(e).rate() * INCH / POUND_FORCE,
        "textbook static load at torsional yield" => textbook_yield_load(e) / POUND_FORCE,
        "textbook deflection at that load" => textbook_yield_load(e) / textbook_spring(e).rate() / INCH,
        "textbook wire diameter (Wahl)" => {
            spring::wire_for_stress(e.input("P_N"), e.input("C"), 0.5e6 * e.input("Sut_N_mm2")) * 1e3
        }
        "textbook active coils for d=7 mm" => {
            let (wire, g) = (7e-3, e.input("G_N_mm2") * 1e6);
            spring::active_coils_for_deflection(e.input("P_N"), e.input("delta_mm") * 1e-3, wire, 6.0 * wire, g)
        }
        "small spring rate" => spring::HelicalSpring {
            wire: e.input("d_m"),
            mean_diameter: e.input("D_m"),
            active_coils: e.input("Na"),
            total_coils: e.input("Na") + 2.0,
            shear_modulus: e.input("G_Pa"),
        }
        .rate(),
        "small spring Wahl shear stress at 5 N" => spring::HelicalSpring {
            wire: e.input("d_m"),
            mean_diameter: e.input("D_m"),
            active_coils: 8.0,
            total_coils: 10.0,
            shear_modulus: spring::CARBON_STEEL_SHEAR_MODULUS,
        }
        .shear_stress(e.input("F_N"), spring::StressFactor::Wahl),
        "conical spring initial rate" | "telescoping conical spring initial rate" => cone(e).initial_rate(),
        "conical: load at first bottoming" | "telescoping conical: load at first bottoming" => {
            cone(e).first_bottoming_load()
        }
        "conical: load at full bottoming" | "telescoping conical: load at full bottoming" => {
            cone(e).full_bottoming_load()
        }
        "conical spring deflection" | "telescoping conical spring deflection" => cone(e).deflection(e.input("F_N")),
        _ => return None,
    })
}

fn flow_law(e: &Entry) -> Option<f64> {
    let hole = || e.input("Cd") * FRAC_PI_4 * e.input("d_m").powi(2);
    Some(match e.text("name") {
        "liquid orifice flow (no approach-velocity term)" => {
            orifice::liquid(hole(), e.input("dp_Pa"), e.input("rho"), 0.0) / e.input("rho")
        }
        "Kv per Cv" => orifice::kv_from_cv(1.0),
        "Av per Kv" => orifice::av_from_kv(1.0),
        "loss coefficient from Kv" => orifice::loss_coefficient_from_kv(e.input("Kv"), e.input("D_m")),
        "flow from Kv" => {
            let density = 1000.0 * e.input("rel_density");
            3600.0 * orifice::volume_flow_from_kv(e.input("Kv"), 1e5 * e.input("dp_bar"), density)
        }
        "FF critical pressure ratio factor" => {
            valve::critical_pressure_ratio_factor(e.input("Pv_kPa"), e.input("Pc_kPa"))
        }
        "choked pressure drop" => {
            valve::choked_pressure_drop(e.input("FL"), e.input("P1_kPa"), e.input("Pv_kPa"), e.input("FF"))
        }
        "cock (plug/ball) loss coefficient vs closing angle" => {
            valve::ball_loss_coefficient(1.0 - e.input("angle_from_open_deg") / 90.0)
        }
        "ball valve loss coefficient" => valve::ball_loss_coefficient(match e.word("state") {
            "fully open" => 1.0,
            "1/3 closed" => 2.0 / 3.0,
            "2/3 closed" => 1.0 / 3.0,
            _ => return None,
        }),
        "equal-percentage inherent characteristic Kv/Kvs" => {
            valve::equal_percentage(e.input("opening"), e.input("rangeability"))
        }
        "critical pressure ratio" => orifice::critical_ratio(),
        "air inflow through orifice from atmosphere" => {
            orifice::gas(hole(), e.input("p1_Pa"), e.input("p2_Pa"), e.input("T1_K"))
        }
        _ => return None,
    })
}

fn column(e: &Entry) -> pipe::RigidColumn {
    pipe::rigid_column(
        e.input("H_m"),
        e.input("L_m"),
        e.input("D_m"),
        e.input("f"),
        e.input("K_sum"),
        e.input("exit_loss"),
    )
}

fn wave(e: &Entry) -> Option<f64> {
    let support = match e.word("support") {
        s if s.starts_with("c1=1") => pipe::PipeSupport::ExpansionJoints,
        s if s.starts_with("anchored throughout") => pipe::PipeSupport::Anchored,
        s if s.starts_with("anchored upstream") => pipe::PipeSupport::AnchoredUpstream,
        _ => return None,
    };
    // The entries do not print Poisson's ratio; these handbook values are the ones their numbers contain.
    let poisson = match e.text("name") {
        "wave speed copper thin-wall" => 0.34,
        "wave speed steel thin-wall" => 0.30,
        "wave speed PVC thin-wall" => 0.40,
        "wave speed rigid thin-wall" => 0.0,
        _ => return None,
    };
    let wall = pipe::PipeWall {
        bore: e.input("D_m"),
        thickness: e.input("e_m"),
        youngs_modulus: e.input("E_Pa"),
        poisson,
        support,
    };
    Some(pipe::wave_speed(e.input("K_Pa"), e.input("rho"), &wall))
}

fn pipe_law(e: &Entry) -> Option<f64> {
    Some(match e.text("name") {
        "Haaland Darcy friction factor" => pipe::haaland(e.input("Re"), e.input("rel_roughness")),
        "Colebrook Darcy friction factor" => pipe::colebrook(e.input("Re"), e.input("rel_roughness")),
        "Darcy-Weisbach pressure loss, drawn tube" => {
            let (d, v, rho) = (e.input("D_m"), e.input("V_m_s"), e.input("rho"));
            let f = pipe::colebrook(rho * v * d / e.input("mu"), e.input("roughness_m") / d);
            pipe::pressure_loss(f, e.input("L_m"), d, rho, v)
        }
        name if name.starts_with("Joukowsky rise") => {
            pipe::joukowsky(e.input("rho"), e.input("a_m_s"), e.input("dV_m_s"))
        }
        name if name.starts_with("wave speed") => wave(e)?,
        "rigid column steady velocity" => column(e).steady_velocity,
        "rigid column time constant" => column(e).time_constant,
        "rigid column velocity" => column(e).velocity(e.input("t_s")),
        _ => return None,
    })
}

#[test]
fn ref_water_iapws() {
    walk("01_water", true, water_law);
}

/// Water below the melting point and under pressure. The law is IAPWS-95 (extrapolated where the liquid is metastable): its
/// own numbers, as a second program gives them, to their digits; and how far it then stands from IAPWS G12-15, the guideline
/// for supercooled water, as `src/laws/water.rs` says.
#[test]
fn ref_cold_and_compressed_water() {
    let data: Value = serde_json::from_str(DATA).unwrap();
    let (mut own, mut ice, mut deep) = (0, 0, 0);
    for e in data["01_water_cold"].as_array().unwrap().iter().map(Entry) {
        let (t, p) = (e.input("T_K"), e.input("p_Pa"));
        if t < water::LOWEST_TEMPERATURE {
            assert!(water::density(t, p).is_nan());
            continue;
        }
        let state = water::WaterState::liquid(t, p);
        let name = e.text("name");
        let got = match name {
            n if n.contains("density") => state.density,
            n if n.contains("compressibility") => 1.0 / state.isothermal_bulk_modulus,
            n if n.contains("cp") => state.cp,
            _ => state.speed_of_sound,
        };
        if let Some((_, number)) = e.text("source").split_once("IAPWS-95 gives ") {
            let number: f64 = number.parse().unwrap();
            assert!((got / number - 1.0).abs() < 2e-6, "{name} {t} K {p} Pa: {got} against IAPWS-95's {number}");
            own += 1;
        }
        let apart = (got / e.0["value"].as_f64().unwrap() - 1.0).abs();
        // Where a night's water may be: to -10 degC at rest, along the melting curve to 60 MPa.
        let density = name.contains("density");
        let allowed = match t {
            263.0.. if p <= 60e6 => {
                if density {
                    1.1e-4
                } else {
                    5e-3
                }
            }
            253.0.. => {
                if density {
                    1.5e-3
                } else {
                    0.05
                }
            }
            _ => {
                if density {
                    4e-3
                } else if name.contains("cp") {
                    0.34
                } else {
                    0.07
                }
            }
        };
        assert!(apart <= allowed, "{name} {t} K {p} Pa: {got} is {apart:.1e} from G12-15");
        if t >= 263.0 && p <= 60e6 { ice += 1 } else { deep += 1 }
    }
    assert!(own == 28 && ice >= 9 && deep >= 25, "{own} {ice} {deep}");
}

#[test]
fn ref_springs() {
    walk("04_springs", true, spring_law);
}

#[test]
fn ref_springs_unverified_entries() {
    walk("04_springs", false, spring_law);
}

#[test]
fn ref_flow_and_valves() {
    walk("06_flow", true, flow_law);
}

#[test]
fn ref_flow_and_valves_unverified_entries() {
    walk("06_flow", false, flow_law);
}

#[test]
fn ref_pipes() {
    walk("07_pipe", true, pipe_law);
}

#[test]
fn ref_pipes_unverified_entries() {
    walk("07_pipe", false, pipe_law);
}
