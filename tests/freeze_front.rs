//! Laws and equations of ice against the bank of reference values (topics 2, 3 and 8 of `tests/data/check-freeze.json`), and the
//! moving front against closed solutions.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // a test stops where it fails

use approx::assert_relative_eq;
use poppetry::assembly::Resolver;
use poppetry::freeze::conduction::{Form, MovingFront};
use poppetry::laws::cylinder::Cylinder;
use poppetry::laws::front::{FreezingCylinder, HalfSpace, neumann_root};
use poppetry::laws::ice::{IceState, conductivity};
use poppetry::laws::melting;
use poppetry::laws::water::WaterState;
use serde_json::Value;

const DATA: &str = include_str!("data/check-freeze.json");

fn input(entry: &Value, key: &str) -> f64 {
    entry["inputs"][key].as_f64().unwrap_or_else(|| panic!("no input {key} in {entry}"))
}

/// First number of the tolerance: relative, or absolute where the text begins with "abs".
fn allowed(entry: &Value, want: f64) -> f64 {
    let text = entry["tolerance"].as_str().unwrap();
    let mut words = text.split([' ', ';']).filter(|w| !w.is_empty()).peekable();
    while let Some(word) = words.next() {
        if let Ok(number) = word.parse::<f64>() {
            let number = if words.peek() == Some(&"%") { number / 100.0 } else { number };
            return if text.starts_with("abs") { number } else { number * want.abs() };
        }
    }
    // "as stated": to the digits given.
    1e-12 * want.abs()
}

/// Answers one entry, `None` if it is about a whole zone (tests/freeze_closed.rs) or a metal, which is data, not law.
fn answer(entry: &Value) -> Option<f64> {
    let get = |key: &str| input(entry, key);
    let name = entry["name"].as_str().unwrap();
    let p = || entry["inputs"].get("p_Pa").and_then(Value::as_f64).unwrap_or(101_325.0);
    let kelvin = || match entry["inputs"].get("t_C") {
        Some(t) => t.as_f64().unwrap() + 273.15,
        None => get("T_K"),
    };
    let ice = || IceState::new(kelvin(), p());
    let tube = || Cylinder {
        inner: get("ri_m"),
        outer: get("ro_m"),
        modulus: entry["inputs"].get("E_Pa").and_then(Value::as_f64).unwrap_or(1e11),
        poisson: entry["inputs"].get("nu").and_then(Value::as_f64).unwrap_or(0.3),
    };
    let freezing = || FreezingCylinder {
        radius: get("R_m"),
        conductivity: get("k_ice"),
        density: get("rho"),
        latent_heat: get("L"),
        below: get("dT_K"),
    };
    Some(match name {
        n if n.starts_with("ice Ih Gibbs") => ice().gibbs_energy,
        n if n.starts_with("ice Ih density") || n.starts_with("ice density") => ice().density(),
        n if n.starts_with("ice Ih entropy") => ice().entropy,
        n if n.starts_with("ice Ih enthalpy") => ice().enthalpy,
        n if n.starts_with("ice Ih cp") || n.starts_with("ice cp") => ice().cp,
        n if n.starts_with("ice Ih isothermal") => ice().compressibility,
        n if n.starts_with("ice Ih cubic") => ice().thermal_expansion,
        n if n.starts_with("ice thermal conductivity") => conductivity(kelvin()),
        n if n.starts_with("supercooled water density (CRC") => WaterState::liquid(kelvin(), p()).density,
        n if n.starts_with("melting pressure") => melting::pressure(kelvin()),
        n if n.starts_with("liquid density on melting") => WaterState::liquid(kelvin(), p()).density,
        n if n.starts_with("latent heat on melting") => melting::latent_heat(kelvin()),
        n if n.starts_with("melting temperature at relief") => melting::temperature(p()),
        n if n.starts_with("latent heat of fusion at constant") => melting::latent_heat(melting::temperature(p())),
        n if n.starts_with("volume growth on freezing") => {
            let t = melting::temperature(p());
            IceState::new(t, p()).volume * WaterState::liquid(t, p()).density - 1.0
        }
        n if n.starts_with("Clapeyron slope") => melting::clapeyron_slope(kelvin()),
        n if n.starts_with("ice fraction formed at once") => melting::nucleation_fraction(kelvin(), p()),
        "one-phase Neumann root" => neumann_root(get("Ste")),
        n if n.starts_with("ice thickness after") => HalfSpace {
            conductivity: [get("k_ice"), get("k_liq")],
            specific_heat: [get("cp_ice"), get("cp_liq")],
            density: get("rho_both"),
            latent_heat: get("L"),
            below: -get("T_surface_C"),
            above: get("T_initial_C"),
        }
        .thickness(3600.0),
        n if n.starts_with("quasi-steady inward") => freezing().quasi_steady_time(get("r_over_R") * get("R_m")),
        n if n.starts_with("Plank") => freezing().plank_time(get("h_W_m2K")),
        n if n.starts_with("inward freezing in cylinder, full") => {
            let times = |cells| {
                let front = MovingFront { form: Form::Cylinder, stefan: get("Ste"), cells, heat_capacity: true };
                front.times(&[get("r_over_R")]).unwrap()[0]
            };
            // Order 2: two grids, extrapolated.
            let (coarse, fine) = (times(30), times(60));
            fine + (fine - coarse) / 3.0
        }
        n if n.starts_with("hoop stress at bore") => tube().hoop_inside(get("p_Pa")),
        n if n.starts_with("hoop stress at outside") => tube().hoop_outside(get("p_Pa")),
        n if n.starts_with("axial stress") => tube().axial(get("p_Pa")),
        n if n.starts_with("bore radial displacement") => tube().bore_displacement(get("p_Pa")),
        n if n.starts_with("von Mises") => tube().von_mises_inside(get("p_Pa")),
        n if n.starts_with("volume compliance") => tube().compliance(),
        n if n.starts_with("pressure at first yield") => tube().first_yield(get("yield_Pa")),
        n if n.starts_with("fully plastic") => tube().collapse(get("yield_Pa")),
        n if n.starts_with("ice density on melting") => ice().density(),
        _ => return None,
    })
}

/// The built-ins' metal where an entry is about it, in the entry's unit; `None` for an elongation or the other alloy, of which
/// we have nothing.
fn metal(name: &str) -> Option<f64> {
    let settings = Resolver::new().resolve().unwrap();
    let field = |path: &str| settings.number(path).unwrap();
    Some(match name {
        "min tensile strength C83600 sand cast" => field("body.tensile_strength") / 1e6,
        "min yield strength C83600 sand cast (0.5 % extension)" => field("body.yield_strength") / 1e6,
        // To its three figures. 1 psi is 6894.757 Pa.
        n if n.starts_with("elastic modulus") => (field("body.modulus") / 6894.757 / 1e5).round() * 1e5,
        _ => return None,
    })
}

#[test]
fn ref_bank_of_ice_fronts_and_cylinders() {
    let data: Value = serde_json::from_str(DATA).unwrap();
    let mut failures = Vec::new();
    let (mut answered, mut zones, mut others) = (0, 0, 0);
    for (topic, entries) in data.as_object().unwrap() {
        for entry in entries.as_array().unwrap() {
            let name = entry["name"].as_str().unwrap();
            let Some(got) = answer(entry).or_else(|| metal(name)) else {
                match name {
                    n if n.starts_with("frozen-in-place") || n.starts_with("heat removed") => zones += 1,
                    n if n.starts_with("wall compliance at which") => zones += 1,
                    n if n.starts_with("min elongation") || n.contains("C84400") => others += 1,
                    _ => failures.push(format!("no law answers {topic}: {name}")),
                }
                continue;
            };
            let want = entry["value"].as_f64().unwrap();
            if !((got - want).abs() <= allowed(entry, want)) {
                failures.push(format!("{topic} {name} {}: {got} against {want}", entry["inputs"]));
            }
            answered += 1;
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
    println!("{answered} answered, {zones} about zones, {others} of metals that we do not have");
    assert!(answered > 54 && zones > 30 && others == 4);
}

#[test]
fn ref_half_space_follows_neumann() {
    // From a straight profile at a thousandth of the thickness looked at, which is forgotten by then.
    for stefan in [0.0315, 0.063, 0.126, 1.0] {
        let front = MovingFront { form: Form::HalfSpace, stefan, cells: 40, heat_capacity: true };
        let t = front.times(&[1.0]).unwrap()[0];
        let root = neumann_root(stefan);
        assert_relative_eq!(2.0 * root * t.sqrt(), 1.0, max_relative = 5e-3);
    }
}

#[test]
fn ref_cylinder_without_the_heat_of_the_ice_is_quasi_steady() {
    let stefan = 0.063;
    let front = MovingFront { form: Form::Cylinder, stefan, cells: 40, heat_capacity: false };
    let places = [0.9, 0.75, 0.5, 0.25, 0.1, 0.03];
    for (place, time) in places.iter().zip(front.times(&places).unwrap()) {
        // In Fourier numbers: t a/R² = [ (1−r²)/4 − r²/2 ln(1/r) ]/Ste.
        let steady = ((1.0 - place * place) / 4.0 - place * place / 2.0 * (1.0 / place).ln()) / stefan;
        assert_relative_eq!(time, steady, max_relative = 5e-3);
    }
}

#[test]
fn order_of_the_moving_front_is_two() {
    let time = |cells| {
        let front = MovingFront { form: Form::Cylinder, stefan: 0.1256, cells, heat_capacity: true };
        front.times(&[0.25]).unwrap()[0]
    };
    let best = {
        let (a, b) = (time(64), time(128));
        b + (b - a) / 3.0
    };
    let errors = [8, 16, 32].map(|n| (time(n) - best).abs());
    for pair in errors.windows(2) {
        let order = (pair[0] / pair[1]).log2();
        assert!(order > 1.7 && order < 2.4, "{order} {errors:?}");
    }
}
