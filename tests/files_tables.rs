//! CSV tables: load curves and supply traces, good and bad.
// The helpers outside #[test] functions may stop a test as the tests themselves may.
#![allow(clippy::unwrap_used, clippy::panic)]

use approx::assert_relative_eq;
use poppetry::assembly::Resolver;
use poppetry::assembly::tables::{load_curve, supply_trace};
use poppetry::error::Error;
use std::fs;
use std::path::PathBuf;
use tempfile::TempDir;

fn file(text: &str) -> (TempDir, PathBuf) {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("table.csv");
    fs::write(&path, text).unwrap();
    (dir, path)
}

fn says(error: &Error, parts: &[&str]) {
    let message = error.to_string();
    for part in parts {
        assert!(message.contains(part), "{part:?} is not in {message:?}");
    }
    assert_eq!(error.exit_code(), 2);
}

/// 1 lbf = 4.448222 N (NIST SP 811, from memory), 1 in = 25.4 mm by definition.
#[test]
fn ref_a_load_curve_is_read_in_the_units_of_its_header() {
    let (_dir, path) = file("# invented demo data\ntravel [in],force [lbf]\n0,1.0\n0.1, 1.25\n\n0.2,1.5\n");
    let curve = load_curve(&path).unwrap();
    assert_relative_eq!(curve.opening.travel_m[1], 0.00254, max_relative = 1e-12);
    assert_relative_eq!(curve.opening.force_n[2], 1.5 * 4.448222, max_relative = 1e-6);
    assert_eq!(curve.closing, None);
    let (_dir, path) = file(
        "direction,force [N],travel [mm]\nopening,5,0\nclosing,4,0\nopening,6,4\nclosing,5,4\nopening,7,8\nclosing,6,8\n",
    );
    let curve = load_curve(&path).unwrap();
    assert_eq!(curve.opening.force_n, [5.0, 6.0, 7.0]);
    assert_eq!(curve.closing.unwrap().force_n, [4.0, 5.0, 6.0]);
}

/// 25 inHg at 3386.389 Pa each (NIST SP 811, from memory).
#[test]
fn ref_a_supply_trace_is_gauge_and_vacuum_is_negative() {
    let (_dir, path) = file("time [ms],pressure [inHg vac]\n0,0\n500,25\n");
    let trace = supply_trace(&path).unwrap();
    assert_eq!(trace.time_s, [0.0, 0.5]);
    assert_relative_eq!(trace.pressure_pa_gauge[1], -84_659.7, max_relative = 1e-6);
}

#[test]
fn practice_bad_load_curves_are_refused_with_line_and_column() {
    let cases: &[(&str, &[&str])] = &[
        (
            "travel,force\n0,1\n1,2\n2,3\n",
            &["table.csv:1", "the header \"travel\" has no unit", "write it like \"travel [mm]\""],
        ),
        ("travel [mm],force []\n0,1\n1,2\n2,3\n", &["the header \"force []\" has no unit", "force [N]"]),
        ("travel [psi],force [N]\n0,1\n1,2\n2,3\n", &["column \"travel\"", "unknown unit \"psi\""]),
        ("travel [mm],load [N]\n0,1\n1,2\n2,3\n", &["unknown column \"load\""]),
        ("travl [mm],force [N]\n0,1\n1,2\n2,3\n", &["unknown column \"travl\"", "did you mean \"travel\"?"]),
        ("travel [mm]\n0\n1\n2\n", &["the column \"force\" is missing", "travel [mm],force [N]"]),
        ("travel [mm],travel [mm],force [N]\n0,0,1\n", &["column \"travel\"", "twice"]),
        (
            "# note\ntravel [mm],force [N]\n0,1\n2,2\n1,3\n3,4\n",
            &["table.csv:5", "column \"travel\"", "\"1\" is not above the row before it (\"2\")", "double back"],
        ),
        ("travel [mm],force [N]\n0,1\n1,2\n1,3\n", &["table.csv:4", "double back"]),
        ("travel [mm],force [N]\n-1,1\n1,2\n2,3\n", &["table.csv:2", "\"-1\" is negative", "sealed position"]),
        ("travel [mm],force [N]\n0,1\n1,2\n", &["2 rows", "at least 3 are needed"]),
        ("travel [mm],force [N]\n", &["0 rows", "at least 3"]),
        (
            "travel [mm],force [N]\n0,1\n1,nan\n2,3\n",
            &["table.csv:3", "column \"force\"", "\"nan\": not a finite number"],
        ),
        ("travel [mm],force [N]\n0,1\n1,1e999\n2,3\n", &["not a finite number"]),
        ("travel [mm],force [N]\n0,1\n1,two\n2,3\n", &["table.csv:3", "\"two\": no number"]),
        ("travel [mm],force [N]\n0,1\n1,2 lbf\n2,3\n", &["without the unit \"lbf\""]),
        ("travel [mm],force [N]\n0,1\n1,\n2,3\n", &["table.csv:3", "the value is empty"]),
        ("travel [mm],force [N]\n0,1\n1,2,3\n2,3\n", &["table.csv:3", "3 cells where the header has 2"]),
        (
            "travel [mm],force [N],direction\n0,1,opening\n1,2,opning\n",
            &["column \"direction\"", "did you mean \"opening\"?"],
        ),
        (
            "travel [mm],force [N],direction\n0,1,opening\n1,2,opening\n2,3,opening\n0,1,closing\n",
            &["1 rows of direction closing"],
        ),
        ("travel [mm],force [N],direction\n0,1,closing\n1,2,closing\n2,3,closing\n", &["0 rows of direction opening"]),
    ];
    for (text, parts) in cases {
        let (_dir, path) = file(text);
        match load_curve(&path) {
            Ok(_) => panic!("accepted: {text}"),
            Err(error) => says(&error, parts),
        }
    }
}

#[test]
fn practice_bad_traces_are_refused() {
    let cases: &[(&str, &[&str])] = &[
        ("time [s],pressure [psia]\n0,1\n1,2\n", &["table.csv:1", "column \"pressure\"", "\"psia\" is absolute"]),
        ("time [s],pressure [psi]\n0,1\n0,2\n", &["table.csv:3", "time must rise"]),
        ("time [s],pressure [psi]\n0,1\n", &["1 rows", "at least 2"]),
        ("time [s],pressure [psi],direction\n0,1,opening\n", &["unknown column \"direction\""]),
        ("time [s],pressure [inHg vac]\n0,-1\n1,2\n", &["a minus sign and \"vac\""]),
    ];
    for (text, parts) in cases {
        let (_dir, path) = file(text);
        match supply_trace(&path) {
            Ok(_) => panic!("accepted: {text}"),
            Err(error) => says(&error, parts),
        }
    }
    let mut long = String::from("time [s],pressure [psi]\n");
    (0..100_001).for_each(|i| long.push_str(&format!("{i},1\n")));
    let (_dir, path) = file(&long);
    says(&supply_trace(&path).unwrap_err(), &["more than 100000 rows"]);
    let (dir, _) = file("x");
    says(&supply_trace(dir.path()).unwrap_err(), &["this is a directory"]);
}

#[test]
fn practice_a_curve_replaces_the_load_and_is_found_beside_its_file() {
    let (dir, _) = file("travel [in],force [lbf]\n0,1.3\n0.16,1.45\n0.32,1.6\n");
    let body = dir.path().join("body.toml");
    fs::write(&body, "check.load_curve = \"table.csv\"\n").unwrap();
    let settings = Resolver::new().file(&body).resolve().unwrap();
    assert_eq!(settings.optional_number("check.load").unwrap(), None);
    assert!(settings.number("check.load_rate").is_err());
    assert_eq!(settings.load_curve("check.load_curve").unwrap().opening.travel_m.len(), 3);
    assert_eq!(settings.path("check.load_curve").unwrap(), Some(dir.path().join("table.csv").as_path()));
    // The file's content identifies the run, not its name; a complete file finds the table from anywhere.
    let text = settings.to_toml();
    assert!(text.contains("# load: replaced by check.load_curve"));
    let again = Resolver::new().text("/elsewhere/complete.toml", &text).resolve().unwrap();
    assert_eq!(again.canonical_json(), settings.canonical_json());
    // "none" takes the curve away again and the built-in load is back.
    let without = settings.with_text("check.load_curve", "none").unwrap();
    assert!(without.number("check.load").is_ok());
    assert_ne!(without.sha256("1"), settings.sha256("1"));
    // A study that varies the load of an assembly with a curve is a contradiction.
    assert!(matches!(settings.with_number("check.load", 1e4), Err(Error::Conflict { name: "load-or-curve", .. })));
    // A curve that ends before the lift would have to be guessed beyond its end.
    let error = settings.with_text("check.lift", "0.4 in").unwrap_err();
    says(&error, &["[curve-covers-lift]", "check.lift = 0.4 in", "it covers 0.0 in to 0.32 in"]);
}

#[test]
fn practice_a_trace_below_absolute_zero_is_refused() {
    let (dir, _) = file("time [s],pressure [psi]\n0,60\n1,-15\n");
    let error =
        Resolver::new().text(dir.path().join("scene.toml"), "supply.trace = \"table.csv\"").resolve().unwrap_err();
    says(&error, &["[above-absolute-zero]", "supply.trace = table.csv"]);
}
