//! A study may record any value of any command's document: the real program's own JSON is the other witness.
#![allow(clippy::unwrap_used, clippy::panic)] // a test stops where it fails

mod cli;

use cli::{poppetry, stderr};
use serde_json::Value;
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
                // The study's grid is coarser.
                "relief" => 0.1,
                _ => 1e-12,
            };
            assert!((found / own - 1.0).abs() <= allowed, "{command} {set}: {found} against {own}");
        }
        assert!(found[0] != found[1], "{command}: {found:?}");
    }
}
