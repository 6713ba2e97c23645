//! The command `faults` and the option `--fault`, given to the real program.
// The helpers outside #[test] functions may stop a test as the tests themselves may.
#![allow(clippy::unwrap_used, clippy::panic)]

mod cli;

use cli::{listing, poppetry, stderr, stdout};
use serde_json::Value;
use std::fs;
use std::path::Path;
use tempfile::tempdir;

fn document(dir: &Path, args: &[&str]) -> Value {
    let output = poppetry(dir, args);
    assert_eq!(output.status.code(), Some(0), "{args:?}: {}", stderr(&output));
    serde_json::from_slice(&output.stdout).unwrap()
}

fn said(dir: &Path, args: &[&str]) -> String {
    let output = poppetry(dir, args);
    assert_eq!(output.status.code(), Some(0), "{args:?}: {}", stderr(&output));
    stdout(&output)
}

fn refused(args: &[&str], parts: &[&str]) {
    let dir = tempdir().unwrap();
    let output = poppetry(dir.path(), args);
    let message = stderr(&output);
    assert_eq!(output.status.code(), Some(2), "{args:?}: {message}");
    assert!(message.starts_with("error: "), "{message}");
    for part in parts {
        assert!(message.contains(part), "{args:?}: {part:?} is not in {message:?}");
    }
    assert!(output.stdout.is_empty() && listing(dir.path()).is_empty(), "{args:?} left something behind");
}

#[test]
fn practice_bad_faults_are_refused_and_nothing_is_written() {
    for command in ["sequence", "field-test", "curves"] {
        refused(&[command, "--fault", "check-sprung-weak"], &["no fault", "did you mean \"check-spring-weak\"?"]);
        refused(&[command, "--fault", "check-spring-weak=1.5"], &["severity", "from 0 (as new) to 1"]);
        refused(&[command, "--fault", "check-spring-weak=-0.1"], &["severity", "out of range"]);
        refused(&[command, "--fault", "check-spring-weak=half"], &["severity", "no number"]);
        refused(&[command, "--fault", "check-spring-weak=0.5 psi"], &["severity", "--set"]);
        refused(&[command, "--fault", "check-spring-weak=nan"], &["severity"]);
        refused(&[command, "--fault", "lip-soft"], &["does not apply", "no elastomer lip"]);
        refused(&[command, "--fault", ""], &["no fault \"\""]);
        let wild = format!("check-spring-weak={}", "9".repeat(5000));
        refused(&[command, "--fault", &wild], &["severity"]);
    }
    refused(&["assemblies", "pvb-spring", "--fault", "diaphragm-torn"], &["does not apply", "no diaphragm"]);
    refused(&["faults", "chek-debris"], &["did you mean \"check-debris\"?"]);
    refused(&["faults", "slot-in-new-elastomr"], &["did you mean \"slot-in-new-elastomer\"?"]);
    // By letters alone "check-weak" lies nearest to "check-debris", which is another fault.
    refused(&["sequence", "--fault", "check-weak"], &["did you mean \"check-spring-weak\"?"]);
    refused(&["field-test", "--repair", "spring"], &["did you mean \"check-spring\"?"]);
    refused(&["faults", "lip-soft", "--assembly", "pvb-spring"], &["does not apply", "pvb-elastomer"]);
    refused(&["faults", "check-debris", "--chart", "symptom=a.svg"], &["no chart \"symptom\"", "severity"]);
    refused(&["faults", "--out", "here"], &["nothing to draw"]);
    refused(&["faults", "check-debris", "--csv", "/dev/null"], &["device"]);
    refused(&["faults", "check-debris", "--table"], &["cannot be used with"]);
    refused(&["field-test", "--repair", "inlet-spring", "--assembly", "pvb-elastomer"], &["inlet-poppet"]);
}

#[test]
fn practice_the_list_has_every_class_the_look_alikes_and_what_cannot_be_shown() {
    let dir = tempdir().unwrap();
    let text = said(dir.path(), &["faults"]);
    for part in ["Part:", "Site:", "Instrument:", "Hand:", "Look-alikes", "leave it", "Not shown by these equations"] {
        assert!(text.contains(part), "{part}");
    }
    assert!(text.contains("check-spring-weak") && text.trim_end().contains("Caution:"));
    assert!(!text.contains("not on this construction"));
    let marked = said(dir.path(), &["faults", "--assembly", "pvb-spring"]);
    assert!(marked.contains("elastomer lip aged soft (not on this construction)"));
    assert!(listing(dir.path()).is_empty(), "a list writes nothing");

    let d = document(dir.path(), &["faults", "--json"]);
    assert_eq!(d["schema"], "poppetry/faults/1");
    let keys =
        ["assembly", "inputs_sha256", "faults", "symptoms", "look_alikes", "not_expressed", "warnings", "cautions"];
    assert!(keys.iter().all(|k| !d[k].is_null()), "{d}");
    let faults = d["faults"].as_array().unwrap();
    assert!(faults.len() >= 50);
    for f in faults {
        for key in ["name", "class", "component", "what", "physics", "range_from", "look"] {
            assert!(f[key].is_string(), "{key}: {f}");
        }
        assert!(f["mapping"].is_array() && f["needs"].is_array() && f["remedy"]["parts"].is_array());
        assert_eq!(f["applies"].as_bool().unwrap(), f["why_not"].is_null());
    }
    let classes: Vec<&str> = faults.iter().map(|f| f["class"].as_str().unwrap()).collect();
    assert!(["part", "site", "instrument", "hand"].iter().all(|c| classes.contains(c)));
    assert!(d["cautions"].as_array().unwrap().contains(&"not-a-test-result".into()));
}

#[test]
fn practice_a_fault_is_explained_shown_and_cured_by_construction() {
    let dir = tempdir().unwrap();
    let spring = said(dir.path(), &["faults", "inlet-disc-set", "--assembly", "pvb-spring", "--out", "a"]);
    for part in ["physics", "severity s", "What it looks like on pvb-spring", "fully open", "field test", "Caution:"] {
        assert!(spring.contains(part), "{part}");
    }
    assert!(spring.contains("friction 0.05 psi check") && spring.contains("bled at 0.15 psi a second"));
    let lip = said(dir.path(), &["faults", "inlet-disc-set", "--assembly", "pvb-elastomer", "--out", "b"]);
    let parts = |text: &str| text.lines().find(|l| l.trim_start().starts_with("parts ")).unwrap().trim().to_owned();
    assert!(parts(&spring).ends_with("air inlet disc"), "{}", parts(&spring));
    assert!(parts(&lip).contains("poppet assembly with its lip"), "{}", parts(&lip));
    let written = ["a", "b"].map(|f| listing(&dir.path().join(f)));
    assert_eq!(written[0], ["severity-inlet-disc-set-pvb-spring.png", "severity-inlet-disc-set-pvb-spring.svg"]);
    // A fault that the default assembly cannot have is shown on the first that can.
    let soft = said(dir.path(), &["faults", "lip-soft", "--out", "c"]);
    assert!(soft.contains("What it looks like on pvb-elastomer"));
    let reversed = said(dir.path(), &["faults", "shutoff1-reversed", "--out", "d"]);
    assert!(reversed.contains("not testable"));
}

#[test]
fn practice_look_alikes_are_told_with_their_run_and_left_alone() {
    let dir = tempdir().unwrap();
    for name in ["slot-in-new-elastomer", "spill-on-start-up", "inlet-shut-after-supply-loss", "canopy-draining"] {
        let text = said(dir.path(), &["faults", name]);
        assert!(text.contains("Verdict: leave it."), "{text}");
        let d = document(dir.path(), &["faults", name, "--json"]);
        assert_eq!((&d["borne_out"], &d["look_alike"]["verdict"]), (&true.into(), &"leave it".into()));
    }
    assert!(listing(dir.path()).is_empty());
}

/// Every row that applies at five severities; charts and table are written whole.
#[test]
fn practice_the_symptom_table_of_an_assembly_is_complete() {
    let dir = tempdir().unwrap();
    let args =
        ["faults", "--table", "--assembly", "svb-stem", "--json", "--csv", "rows.csv", "--chart", "symptoms=t.svg"];
    let d = document(dir.path(), &args);
    let rows = d["symptoms"][0]["rows"].as_array().unwrap();
    let applying = d["faults"].as_array().unwrap().iter().filter(|f| f["applies"] == true).count();
    assert_eq!(rows.len(), 5 * applying);
    for row in rows {
        assert!(row["field_test"].is_object(), "{row}");
        assert_eq!(row["not_completed"].as_array().unwrap().len(), 0, "{row}");
        assert!(row["deceives"].is_boolean() && row["unsound"].is_array());
    }
    // As new it passes, whatever fault stands beside severity 0.
    assert!(rows.iter().filter(|r| r["severity"] == 0.0).all(|r| r["field_test"]["result"] == "pass"));
    let csv = fs::read_to_string(dir.path().join("rows.csv")).unwrap();
    assert_eq!(csv.lines().count(), rows.len() + 1);
    assert!(csv.starts_with("assembly,fault,severity,truth,truth_si,truth_unit,"));
    // Every true quantity has its own unit, and says it where there is a number.
    for row in csv::Reader::from_reader(csv.as_bytes()).records() {
        let row = row.unwrap();
        let units = ["", "Pa", "m2", "m3", "m", "m3/s", "s", "kg"];
        assert!(!row[3].is_empty() && (row[4].is_empty() <= row[5].is_empty()) && units.contains(&&row[5]), "{row:?}");
    }
    assert!(csv.contains(",Pa,") && csv.contains(",m2,"), "{csv}");
    assert!(fs::read_to_string(dir.path().join("t.svg")).unwrap().contains("check-spring-weak"));
    assert_eq!(listing(dir.path()), ["rows.csv", "t.svg"]);
}

/// --fault works on --set's value, every command takes it, and the file it prints gives the same input.
#[test]
fn practice_a_fault_is_put_in_after_set_and_can_be_printed_as_a_file() {
    let dir = tempdir().unwrap();
    let faulty = ["--set", "check.load_factor=0.9", "--fault", "check-spring-weak=0.5"];
    let d = document(dir.path(), &[&["sequence", "--json", "--quiet"], &faulty[..]].concat());
    // By hand 1.5 psi: element (1.5 psi less 12 g on 1.05 in) x 0.63, and the weight; plus friction 0.05 psi.
    let weight = 0.012 * 9.80665 / (std::f64::consts::FRAC_PI_4 * (1.05 * 0.0254_f64).powi(2)) / 6_894.757;
    let by_hand = (1.5 - weight) * 0.63 + weight + 0.05;
    let lifts = d["statics"]["check_lifts_pa"].as_f64().unwrap() / 6_894.757;
    assert!((lifts - by_hand).abs() < 1e-4, "{lifts} {by_hand}");
    let file = said(dir.path(), &[&["assemblies", "pvb-spring"], &faulty[..]].concat());
    fs::write(dir.path().join("faulty.toml"), &file).unwrap();
    let again = document(dir.path(), &["sequence", "faulty.toml", "--json", "--quiet"]);
    assert_eq!(again["inputs_sha256"], d["inputs_sha256"]);
    let text = said(dir.path(), &["sequence", "--fault", "check-spring-weak=0.5", "--out", "x", "--quiet"]);
    assert!(text.contains("faults put in") && text.contains("check-spring-weak at severity 0.5"));
    assert!(
        said(dir.path(), &["curves", "--fault", "check-spring-weak=0.5", "--out", "x", "--quiet"])
            .contains("check lifts at")
    );
}

#[test]
fn practice_a_repair_takes_its_fault_out_and_leaves_the_other() {
    let dir = tempdir().unwrap();
    let args = [
        "field-test",
        "--json",
        "--quiet",
        "--repeats",
        "1",
        "--fault",
        "check-spring-weak",
        "--fault",
        "gauge-zero-low=0.6",
        "--repair",
        "check-spring",
    ];
    let d = document(dir.path(), &args);
    assert_eq!((&d["result"], &d["after_repair"]["result"]), (&"fail".into(), &"fail".into()));
    let check = |d: &Value| {
        let all = d["readings"].as_array().unwrap();
        all.iter().find(|r| r["name"] == "check").unwrap()["reading_pa"].as_f64().unwrap() / 6_894.757
    };
    // 1.45 psi less the gauge's 0.6 psi, sticking drawn with a scatter of 15 % of 0.05 psi.
    assert!((check(&d["after_repair"]) - 0.85).abs() < 0.04, "{}", check(&d["after_repair"]));
}

/// What the repair did stood below forty lines of acts.
#[test]
fn bug_a_repair_tells_both_results_in_its_first_lines() {
    let dir = tempdir().unwrap();
    let args = ["field-test", "--fault", "check-debris=0.3", "--repair", "check-disc", "--quiet", "--units", "us"];
    let text = said(dir.path(), &args);
    let mut lines = text.lines();
    assert!(lines.next().unwrap().starts_with("Fails: "), "{text}");
    assert!(lines.next().unwrap().starts_with("With check-disc as new: Passes: "), "{text}");
}
