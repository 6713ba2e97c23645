//! A study may record any value of any command's document: the real program's own JSON is the other witness.
#![allow(clippy::unwrap_used, clippy::panic)] // a test stops where it fails

mod cli;

use cli::{poppetry, stderr, stdout};
use poppetry::study::{Axis, Cell, Grid, Study, kind_of, si_symbol};
use poppetry::units::Kind;
use serde_json::Value;
use std::collections::BTreeSet;
use tempfile::tempdir;

/// Command, a number in its document as a JSON pointer, and a field that moves it with two values.
const ASKED: [(&str, &str, &str, [&str; 2]); 7] = [
    ("sequence", "/peak/zone2_pa_gauge", "supply.pressure", ["40 psi", "60 psi"]),
    ("curves", "/supply_needed/pressure_pa_gauge", "air_inlet.load", ["1.2 psi", "1.5 psi"]),
    ("field-test", "/readings/0/true_pa", "air_inlet.load", ["1.2 psi", "1.5 psi"]),
    ("freeze", "/zones/0/peak_pa_gauge", "night.air_temperature", ["-5 degC", "-10 degC"]),
    ("relief", "/recommended/set_pressure_pa_gauge", "supply.pressure", ["40 psi", "60 psi"]),
    ("siphon", "/rise_m/max", "check.foul_area", ["10 mm2", "20 mm2"]),
    ("surge", "/peak_pa_gauge/zone2", "supply.pressure", ["40 psi", "60 psi"]),
];

#[test]
fn practice_every_command_can_be_asked_by_a_study() {
    for (command, pointer, field, values) in ASKED {
        let dir = tempdir().unwrap();
        let key = format!("{command}.{}", pointer[1..].replace('/', "."));
        let points = format!("{field}\n{}\n{}\n", values[0], values[1]);
        std::fs::write(dir.path().join("points.csv"), points).unwrap();
        let output = poppetry(
            dir.path(),
            &["sweep", "--vary-from", "points.csv", "--record", &key, "--csv", "t.csv", "--quiet", "--json"],
        );
        assert_eq!(output.status.code(), Some(0), "{command}: {}", stderr(&output));
        let table = std::fs::read_to_string(dir.path().join("t.csv")).unwrap();
        let mut rows = csv::Reader::from_reader(table.as_bytes());
        let column =
            rows.headers().unwrap().iter().position(|h| h.starts_with(&key)).unwrap_or_else(|| panic!("{table}"));
        let found: Vec<f64> = rows.records().map(|r| r.unwrap()[column].parse().unwrap()).collect();
        for (value, found) in values.iter().zip(&found) {
            let set = format!("{field}={value}");
            // A field test draws friction for each try; a study asks without chance.
            let own = poppetry(dir.path(), &[command, "--json", "--quiet", "--set", &set]);
            let own: Value = serde_json::from_slice(&own.stdout).unwrap();
            let own = own.pointer(pointer).and_then(Value::as_f64).unwrap_or_else(|| panic!("{command} {pointer}"));
            let allowed = match command {
                "field-test" => 0.03,
                _ => 1e-12,
            };
            assert!((found / own - 1.0).abs() <= allowed, "{command} {set}: {found} against {own}");
        }
        assert!(found[0] != found[1], "{command}: {found:?}");
    }
}

/// Keys whose numbers are counts, shares and the like.
const PLAIN: [&str; 18] = [
    "air_inlet_lift_share",
    "cells",
    "ice_fraction",
    "ice_fraction_max",
    "index",
    "jacobians",
    "lifts",
    "night",
    "order_turning_share",
    "ratio_at_rest",
    "rejected",
    "repeats",
    "rhs_evaluations",
    "safety_factor",
    "seed",
    "span_error",
    "steps",
    "tolerance",
];
/// Units that no kind stands for: their numbers stay SI, and the key says so.
const WITHOUT_KIND: [&str; 3] = ["_pa_s", "_kg_s", "_j"];
/// Words that units in keys are made of.
const UNIT_WORDS: [&str; 11] = ["pa", "gauge", "abs", "m", "m2", "m3", "kg", "k", "n", "s", "j"];

fn numbers(path: &[&str], json: &Value, each: &mut dyn FnMut(&[&str])) {
    match json {
        Value::Object(map) => map.iter().for_each(|(k, v)| numbers(&[path, &[k.as_str()]].concat(), v, each)),
        Value::Array(list) => list.iter().for_each(|v| numbers(&[path, &["0"]].concat(), v, each)),
        Value::Number(_) => each(path),
        _ => {}
    }
}

/// A fall in Pa/s was shown as a time and compared with seconds, a gauge pressure under the bare key "pa_gauge" was a plain
/// number, a spring's rate a length. The contract: the unit stands in the key, SI, with "_s" for "/s"; a group may carry it
/// for what lies below.
#[test]
fn bug_every_number_has_the_kind_of_the_whole_unit_in_its_key() {
    let dir = tempdir().unwrap();
    let mut seen = BTreeSet::new();
    for (command, more) in [
        ("sequence", &[] as &[&str]),
        ("curves", &["--assembly", "pvb-relief"]),
        ("curves", &["--assembly", "svb-stem"]),
        ("field-test", &[]),
        ("freeze", &["--assembly", "pvb-relief", "--set", "night.air_temperature=-15 degC"]),
        ("relief", &["--grid", "2"]),
        ("siphon", &[]),
        ("surge", &["--set", "surge.scene=downstream-valve", "--set", "load_side.outlet_area=100 mm2"]),
    ] {
        let output = poppetry(dir.path(), &[&[command, "--json", "--quiet"], more].concat());
        assert_eq!(output.status.code(), Some(0), "{command}: {}", stderr(&output));
        let document: Value = serde_json::from_slice(&output.stdout).unwrap();
        numbers(&[], &document, &mut |path| {
            let names: Vec<&str> = path.iter().copied().filter(|p| *p != "0").collect();
            let kind = kind_of(&path.join("."));
            // "m3/s" is "m3_s" in a key, "Pa abs" is "pa_abs".
            let symbol = match kind {
                Kind::GaugePressure => "pa_gauge".to_owned(),
                _ => si_symbol(kind).to_lowercase().replace(['/', ' '], "_"),
            };
            let is_unit = |word: &str| UNIT_WORDS.contains(&word);
            let has_unit = |name: &&str| name.rsplit('_').next().is_some_and(is_unit);
            let last = names.last().copied().unwrap_or_default();
            let name = names.iter().rev().take(2).copied().find(has_unit).unwrap_or(last);
            seen.insert(last.to_owned());
            if kind == Kind::Number {
                let without = WITHOUT_KIND.iter().any(|unit| name.ends_with(unit));
                assert!(PLAIN.contains(&last) || without, "{command} {path:?} has no unit");
                return;
            }
            // The whole of the unit: nothing of one is left before it.
            let before = name.strip_suffix(symbol.as_str()).map(|rest| rest.trim_end_matches('_'));
            let whole = before.is_some_and(|rest| !rest.rsplit('_').next().is_some_and(is_unit));
            assert!(whole, "{command} {path:?}: {kind:?}");
        });
    }
    for key in ["fall_pa_s", "pa_gauge", "rate_n_m"] {
        assert!(seen.contains(key), "{key}");
    }
}

/// What a study recorded of these was not what the command prints, and nothing said so: limits of the foul were always
/// missing, a relief's grid was a coarser one.
#[test]
fn bug_a_study_records_what_the_command_prints() {
    let dir = tempdir().unwrap();
    let d = dir.path();
    let document = |args: &[&str]| -> Value {
        let output = poppetry(d, args);
        assert_eq!(output.status.code(), Some(0), "{args:?}: {}", stderr(&output));
        serde_json::from_slice(&output.stdout).unwrap()
    };
    for (command, key, set) in [
        ("siphon", "foul_limits.1.sudden_m2", "check.foul_area=10:10:1 mm2"),
        ("siphon", "foul_limits.0.decides", "check.foul_area=10:10:1 mm2"),
        ("relief", "grid.sets_pa_gauge.23", "supply.pressure=50:50:1 psi"),
    ] {
        let own = document(&[command, "--json", "--quiet", "--set", &set.replace(":10:1", "").replace(":50:1", "")]);
        let record = format!("{command}.{key}");
        let study = document(&["sweep", "--json", "--quiet", "--vary", set, "--record", &record]);
        let own = own.pointer(&format!("/{}", key.replace('.', "/"))).unwrap();
        assert_eq!(&study["rows"][0][2], own, "{record}");
        assert_eq!(study["asked_as"], serde_json::json!({}));
    }
    // Of a field test it is one try, and that is said.
    let args = ["sweep", "--vary", "check.load=1.5:2:2 psi", "--record", "field-test.result"];
    let study = document(&[&args[..], &["--json", "--quiet"]].concat());
    assert!(study["asked_as"]["field-test"].as_str().unwrap().contains("one try"));
    assert!(stdout(&poppetry(d, &args)).contains("Asked of field-test: one try"));
    let find = ["find", "check.load=0.5:2 psi", "--so-that", "field-test.result==pass"];
    assert!(stdout(&poppetry(d, &find)).contains("Asked of field-test: one try"));
}

/// A key that exists nowhere was taken where it would lie below a null or beyond the end of a list, and gave empty cells.
#[test]
fn bug_a_key_that_exists_nowhere_is_refused_below_a_null_too() {
    let dir = tempdir().unwrap();
    let sweep = |assembly: &str, key: &str| {
        let args = ["sweep", "--assembly", assembly, "--vary", "supply.pressure=60:70:2 psi", "--quiet", "--json"];
        let mild = ["--set", "night.air_temperature=5 degC", "--record", key];
        poppetry(dir.path(), &[&args[..], &mild].concat())
    };
    for (key, part) in [
        ("freeze.first_yield.bogus", "no value"),
        ("freeze.first_yield.part.bogus", "no value"),
        ("freeze.first_yield", "freeze.first_yield.part"),
        ("sequence.events.99.bogus", "no value"),
        ("sequence.lap_margin_m.bogus", "no value"),
        ("field-test.after_repair.result", "no value"),
        ("field-test.lost", "field-test.lost.0.measurement"),
    ] {
        let output = sweep("pvb-spring", key);
        let message = stderr(&output);
        assert_eq!(output.status.code(), Some(2), "{key}: {message}");
        assert!(message.contains(part), "{key}: {message}");
    }
    for key in ["freeze.first_yield.pa_gauge", "freeze.relief.lift_times_s.3", "sequence.events.99.forces_n.load"] {
        let output = sweep("pvb-spring", key);
        assert_eq!(output.status.code(), Some(0), "{key}: {}", stderr(&output));
        let document: Value = serde_json::from_slice(&output.stdout).unwrap();
        assert!(document["rows"][0][2].is_null() && document["failed"] == 0, "{key}");
    }
}

/// Values of whole numbers far apart are asked as they are.
#[test]
fn bug_whole_numbers_are_varied_and_searched_as_such() {
    let dir = tempdir().unwrap();
    let d = dir.path();
    let sweep = ["sweep", "--vary", "supply.line_cells=1:4:9", "--record", "sequence.spill_m3", "--json", "--quiet"];
    let output = poppetry(d, &sweep);
    let document: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!((&document["runs"], &document["failed"]), (&Value::from(4), &Value::from(0)));
    assert_eq!(document["axes"][0]["values"], serde_json::json!([1.0, 2.0, 3.0, 4.0]));
    let find = ["find", "supply.line_cells=1:4", "--so-that", "sequence.spill_m3>0", "--json", "--quiet"];
    let output = poppetry(d, &find);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let document: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!((&document["runs"], &document["value_is"]), (&Value::from(4), &Value::from("everywhere")));
    // From the library, with its own grid.
    let base = poppetry::assembly::Resolver::new().assembly("pvb-spring").resolve().unwrap();
    let grid = Grid::new(vec![Axis::new("supply.line_cells", 1.0, 3.0, 8, false).unwrap()]).unwrap();
    let study = Study::new(base, grid).record("sequence.spill_m3").unwrap();
    assert!((0..3).all(|i| matches!(study.row(i).cells[0], Cell::Number(_))));
}
