//! What is wrong is said with file, line, value and rule, and nothing is written.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // a test stops where it fails

mod cli;

use cli::{listing, poppetry, stderr, stdout};
use std::fs;
use tempfile::tempdir;

const GOOD: &str = "[[act]]\ndo = \"attach-hose\"\ncock = 2\n[[act]]\ndo = \"read\"\npart = \"air-inlet\"\n";

/// Runs with this procedure; it must be refused with all these words.
fn refused(script: &str, words: &[&str]) {
    let dir = tempdir().unwrap();
    fs::write(dir.path().join("own.toml"), script).unwrap();
    let output = poppetry(dir.path(), &["field-test", "--procedure", "own.toml"]);
    let said = stderr(&output);
    assert_eq!(output.status.code(), Some(2), "{script}: {said}");
    for word in words {
        assert!(said.contains(word), "{script:?}: {word:?} is not in {said}");
    }
    assert_eq!(stdout(&output), "");
    assert_eq!(listing(dir.path()), ["own.toml"]);
}

#[test]
fn practice_a_user_procedure_runs() {
    let dir = tempdir().unwrap();
    fs::write(dir.path().join("own.toml"), GOOD).unwrap();
    let output = poppetry(dir.path(), &["field-test", "--procedure", "own.toml", "--json", "--quiet"]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
}

#[test]
fn practice_parts_that_no_assembly_has_are_named_with_their_line() {
    refused("[[act]]\ndo = \"attach-hose\"\ncock = 3\n", &["own.toml:3", "test cock", "3", "known: 1, 2"]);
    refused("[[act]]\ndo = \"close-shutoff\"\nshutoff = 0\n", &["own.toml:3", "shutoff"]);
    refused(&GOOD.replace("air-inlet", "air-inlt"), &["own.toml:6", "air-inlt", "air-inlet"]);
    refused(&GOOD.replace("attach-hose", "atach-hose"), &["own.toml:2", "atach-hose", "attach-hose"]);
    refused(&format!("{GOOD}depth = 3\n"), &["own.toml:7", "depth"]);
    refused(&format!("colour = 3\n{GOOD}"), &["own.toml:1", "colour"]);
    refused(&format!("instrument = \"tubes\"\n{GOOD}"), &["own.toml:1", "tubes", "tube"]);
}

#[test]
fn practice_an_impossible_order_is_refused() {
    refused("[[act]]\ndo = \"bleed\"\n", &["own.toml:1", "before any attach-hose"]);
    refused("[[act]]\ndo = \"read\"\npart = \"check\"\n", &["own.toml:1", "before any attach-hose"]);
    refused("name = \"nothing\"\n", &["no acts"]);
    refused("act = []\n", &["empty"]);
    refused("act = 3\n", &["own.toml:1", "[[act]]"]);
}

#[test]
fn practice_values_are_checked_with_their_units() {
    let bleed = |line: &str| format!("{GOOD}[[act]]\ndo = \"bleed\"\n{line}\n");
    refused(&bleed("flow = \"0.3\""), &["own.toml:9", "flow", "unit"]);
    refused(&bleed("flow = \"3 psi\""), &["own.toml:9", "psi"]);
    refused(&bleed("flow = \"-1 mL/s\""), &["own.toml:9", "flow"]);
    refused(&bleed("until = [\"neddle\"]"), &["own.toml:9", "neddle", "needle"]);
    refused(&bleed("until = [\"needle\"]"), &["own.toml:9", "needle ="]);
    refused(&bleed("pace = \"slow\"\nflow = \"1 mL/s\""), &["one of pace"]);
    refused(&bleed("at_most = \"2 parsec\""), &["own.toml:9", "parsec"]);
    refused("do = [[[", &["own.toml:1", "not TOML"]);
    refused("\u{0}", &["own.toml"]);
    refused(&format!("name = {}{}\n", "[".repeat(5000), "]".repeat(5000)), &["own.toml:1"]);
}

#[test]
fn practice_names_that_do_not_exist_come_with_the_nearest() {
    let dir = tempdir().unwrap();
    for (args, words) in [
        (&["--procedure", "two-cok"][..], &["procedure", "two-cok", "two-cock"][..]),
        (&["--procedure", "missing.toml"], &["missing.toml", "no such file"]),
        (&["--repair", "chek"], &["part to repair", "chek", "check"]),
        (&["--repeats", "0"], &["--repeats"]),
        (&["--chart", "needel=x.svg"], &["needel", "needle"]),
        (&["--set", "gauge.hieght=1 in"], &["gauge.hieght", "gauge.height"]),
        (&["--set", "hand.eye_delay=-1 s"], &["hand.eye_delay", "at least 0 s"]),
    ] {
        let output = poppetry(dir.path(), &[&["field-test"], args].concat());
        assert_eq!(output.status.code(), Some(2), "{args:?}: {}", stderr(&output));
        for word in words {
            assert!(stderr(&output).contains(word), "{args:?}: {word:?} is not in {}", stderr(&output));
        }
        assert!(listing(dir.path()).is_empty());
    }
}

/// A gauge that stands 50 psi is put on 60: refused, with the act that would have done it.
#[test]
fn practice_a_gauge_driven_past_what_it_stands_is_refused() {
    let dir = tempdir().unwrap();
    let output = poppetry(dir.path(), &["field-test", "--set", "gauge.overload=50 psi"]);
    assert_eq!(output.status.code(), Some(2));
    for word in ["--set: gauge.overload = 50.0 psi", "open cock 2", "at most 50.0 psi"] {
        assert!(stderr(&output).contains(word), "{word:?} is not in {}", stderr(&output));
    }
    assert!(listing(dir.path()).is_empty() && stdout(&output).is_empty());
}
