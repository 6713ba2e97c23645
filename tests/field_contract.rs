//! The outward contract of `field-test`: names, types, units and signs that scripts rely on.
#![allow(clippy::unwrap_used, clippy::panic)] // a test stops where it fails

mod cli;

use cli::{listing, poppetry, stderr, stdout};
use serde_json::Value;
use std::path::Path;
use tempfile::tempdir;

/// One psi in Pa: 6894.757 (NIST SP 811, appendix B).
const PSI: f64 = 6894.757;

fn document(dir: &Path, args: &[&str]) -> Value {
    let output = poppetry(dir, &[&["field-test", "--json", "--quiet"], args].concat());
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    assert_eq!(stderr(&output), "");
    serde_json::from_slice(&output.stdout).unwrap()
}

#[test]
fn practice_the_document_has_what_the_contract_says() {
    let dir = tempdir().unwrap();
    for (name, procedure, order) in
        [("pvb-spring", "two-cock", ["air-inlet", "check"]), ("svb-diaphragm", "one-cock", ["check", "air-inlet"])]
    {
        let d = document(dir.path(), &["--assembly", name]);
        assert_eq!(d["schema"], "poppetry/field-test/1");
        assert_eq!((&d["assembly"], &d["procedure"], &d["result"]), (&name.into(), &procedure.into(), &"pass".into()));
        assert_eq!(d["inputs_sha256"].as_str().unwrap().len(), 64);
        assert_eq!(d["air_inlet_fully_open"], true);
        assert!(d["lost"].as_array().unwrap().is_empty() && d["warnings"].is_array());
        assert!(d["cautions"].as_array().unwrap().contains(&"not-a-test-result".into()));
        let readings = d["readings"].as_array().unwrap();
        assert_eq!(readings.iter().map(|r| r["name"].as_str().unwrap()).collect::<Vec<_>>(), order);
        for r in readings {
            for key in ["true_pa", "reading_pa", "recorded_pa", "spread_pa"] {
                assert!(r[key].is_f64(), "{key}");
            }
            assert_eq!(r["band_pa"].as_array().unwrap().len(), 2);
            assert!(r["pass"].is_boolean() && r["notes"].is_array());
            assert_eq!(r["tries"].as_array().unwrap().len(), 3);
            // Gauge differences in Pa, rounded down to 0.1 psi.
            let (truth, recorded) = (r["true_pa"].as_f64().unwrap(), r["recorded_pa"].as_f64().unwrap());
            assert!(truth > PSI && truth < 3.0 * PSI);
            let tenths = recorded / (0.1 * PSI);
            assert!((tenths - tenths.round()).abs() < 1e-5, "{tenths}");
        }
        assert!(dir.path().read_dir().unwrap().next().is_none(), "no chart unless asked for");
    }
}

#[test]
fn practice_a_lost_measurement_is_named_with_its_reason() {
    let dir = tempdir().unwrap();
    let d = document(dir.path(), &["--set", "cock1.place=shutoff-outer"]);
    assert_eq!(d["result"], "not-testable");
    assert_eq!(d["lost"][0]["measurement"], "check");
    assert_eq!(d["lost"][0]["why"], "gauge-on-supply-line");
    let d = document(dir.path(), &["--set", "air_inlet.adhesion=3 psi", "--repeats", "1"]);
    let inlet = &d["readings"][0];
    assert!(inlet["true_pa"].is_null() && inlet["reading_pa"].is_null() && inlet["recorded_pa"].is_null());
    assert_eq!((&inlet["kind"], &d["result"]), (&"did-not-open".into(), &"fail".into()));
}

#[test]
fn practice_every_number_carries_its_unit_in_its_name() {
    let dir = tempdir().unwrap();
    let d = document(dir.path(), &["--set", "check.load_factor=0.5", "--repair", "check"]);
    assert_eq!((&d["result"], &d["after_repair"]["result"]), (&"fail".into(), &"pass".into()));
    const UNITS: [&str; 11] = ["_pa_gauge", "_pa_s", "_pa", "_m3_s", "_m3", "_m2", "_m", "_kg", "_n", "_s", "_share"];
    const PLAIN: [&str; 9] = [
        "tolerance",
        "steps",
        "rejected",
        "rhs_evaluations",
        "jacobians",
        "repeats",
        "seed",
        "span_error",
        "order_turning_share",
    ];
    fn walk(name: &str, value: &Value) {
        match value {
            Value::Number(_) => assert!(UNITS.iter().any(|u| name.ends_with(u)) || PLAIN.contains(&name), "{name}"),
            Value::Array(all) => all.iter().for_each(|v| walk(name, v)),
            Value::Object(all) => all.iter().for_each(|(k, v)| walk(k, v)),
            _ => {}
        }
    }
    walk("", &d);
}

#[test]
fn practice_text_says_the_result_first_the_record_and_the_caution_last() {
    let dir = tempdir().unwrap();
    let output = poppetry(dir.path(), &["field-test"]);
    let text = stdout(&output);
    assert!(text.starts_with("Passes: air inlet opened at 1."), "{text}");
    for part in ["For the record", "Conditions", "friction", "lag", "capsule", "trapped", "tries:", "Caution: Teaching"]
    {
        assert!(text.contains(part), "{part}");
    }
    assert!(!text.to_lowercase().contains("test report"));
    let files = ["output", "output/field-test-pvb-spring.png", "output/field-test-pvb-spring.svg"];
    assert_eq!(listing(dir.path()), files);
}

#[test]
fn practice_the_table_is_si_with_units_in_its_header() {
    let dir = tempdir().unwrap();
    let output = poppetry(dir.path(), &["field-test", "--json", "--quiet", "--csv", "needle.csv", "--repeats", "1"]);
    assert_eq!(output.status.code(), Some(0));
    let table = std::fs::read_to_string(dir.path().join("needle.csv")).unwrap();
    assert!(table.starts_with("t_s,shown_pa,needle_pa,gauge_pa_gauge,line_pa_gauge,zone1_pa_gauge,zone2_pa_gauge,"));
    assert!(table.lines().count() > 100);
}

/// Seed, repeats and procedure decide the readings, and the hash of the input did not know them.
#[test]
fn bug_the_hash_of_a_field_test_knows_its_seed_and_its_procedure() {
    let dir = tempdir().unwrap();
    let hash = |args: &[&str]| {
        let output = poppetry(dir.path(), &[&["field-test", "--json", "--quiet"], args].concat());
        let doc: Value = serde_json::from_str(&stdout(&output)).unwrap();
        doc["inputs_sha256"].as_str().unwrap().to_owned()
    };
    let all = [
        hash(&[]),
        hash(&["--seed", "2"]),
        hash(&["--repeats", "1"]),
        hash(&["--procedure", "two-cock-compensated"]),
        hash(&["--repair", "check"]),
        hash(&["--set", "gauge.height=1 in"]),
    ];
    for (i, one) in all.iter().enumerate() {
        assert!(!all[..i].contains(one), "{i}: {all:?}");
    }
    assert_eq!(all[0], hash(&["--seed", "1"]));
}
