//! Studies by the real program: documents that scripts rely on, wrong input, and what a newcomer sees.
// The helpers outside #[test] functions may stop a test as the tests themselves may.
#![allow(clippy::unwrap_used, clippy::panic)]

mod cli;

use cli::{listing, poppetry, stderr, stdout};
use serde_json::Value;
use std::ffi::OsStr;
use std::fs;
use std::path::Path;
use tempfile::tempdir;

/// 1 psi in Pa (NIST SP 811).
const PSI: f64 = 6_894.757;

fn refused<S: AsRef<OsStr>>(dir: &Path, args: &[S], parts: &[&str]) {
    let before = listing(dir);
    let output = poppetry(dir, args);
    let message = stderr(&output);
    let shown: Vec<_> = args.iter().map(|a| a.as_ref().to_string_lossy()).collect();
    assert_eq!(output.status.code(), Some(2), "{shown:?}: {message}");
    for part in parts {
        assert!(message.contains(part), "{shown:?}: {part:?} is not in {message:?}");
    }
    assert!(message.starts_with("error: ") && output.stdout.is_empty(), "{shown:?}: {message}");
    assert_eq!(listing(dir), before, "{shown:?} wrote something");
}

fn document(dir: &Path, args: &[&str]) -> Value {
    let output = poppetry(dir, args);
    assert_eq!(output.status.code(), Some(0), "{args:?}: {}", stderr(&output));
    serde_json::from_str(&stdout(&output)).unwrap()
}

/// Three axes.
const THREE: [&str; 6] =
    ["--vary", "check.load=1:2:2 psi", "--vary", "air_inlet.load=1:2:2 psi", "--vary", "supply.pressure=20:60:2 psi"];

#[test]
fn practice_wrong_command_lines_of_studies_are_refused() {
    let dir = tempdir().unwrap();
    let d = dir.path();
    fs::write(d.join("unit.toml"), "base = \"svb-diaphragm\"\n").unwrap();
    fs::write(d.join("no-unit.csv"), "check.load\n2 psi\n2\n").unwrap();
    fs::write(d.join("bad.csv"), "check.lod [psi]\n2\n").unwrap();
    fs::write(d.join("cell.csv"), "check.load [psi]\n2\nx\n").unwrap();
    fs::write(d.join("head.csv"), "check.load [m]\n2\n").unwrap();
    fs::write(d.join("ragged.csv"), "check.load [psi],size\n2\n").unwrap();
    let vary = "check.load=1:2:3 psi";
    let cases: &[(&[&str], &[&str])] = &[
        (&["sweep", "--vary", "check.lod=1:2:3 psi"], &["--vary: there is no field \"check.lod\"", "check.load"]),
        (&["sweep", "--vary", "check.load=1:2:3"], &["--vary: check.load", "unit is missing"]),
        (&["sweep", "--vary", "check.load=1:2"], &["PATH=LOW:HIGH:COUNT"]),
        (&["sweep", "--vary", "check.load=1:2:0 psi"], &["COUNT"]),
        (&["sweep", "--vary", "mounting=1:2:3"], &["no number that could be varied"]),
        (&["sweep", "--vary", vary, "--vary", vary], &["varied twice"]),
        (&["sweep", "--vary", vary, "--vary", "a", "--vary", "b", "--vary", "c"], &["one to three fields"]),
        (&["sweep", "unit.toml"], &["nothing to vary", "--vary"]),
        (&["sweep", "--vary", vary, "--record", "sequence.ordr"], &["--record", "did you mean \"sequence.order\"?"]),
        (&["sweep", "--vary", vary, "--record", "sequnce.order"], &["did you mean \"sequence\"?"]),
        (&["sweep", "--vary", vary, "--record", "sequence"], &["COMMAND.KEY"]),
        (
            &["sweep", "--vary", vary, "--record", "sequence.final"],
            &["no single value", "sequence.final.zone2_pa_gauge"],
        ),
        (&["sweep", "--vary", vary, "--record", "sequence.events"], &["no single value", "sequence.events.0.t_s"]),
        (&["sweep", "--vary", vary, "--until", "tomorrow"], &["--until", "check-closed"]),
        (&["sweep", "--vary", vary, "--shard", "0/4"], &["--shard", "K/N"]),
        (&["sweep", "--vary", vary, "--shard", "5/4"], &["--shard", "K/N"]),
        (&["sweep", "--vary", vary, "--threads", "0"], &["--threads"]),
        (&["sweep", "--vary", vary, "--chart", "mape=x.svg"], &["no chart \"mape\"", "did you mean \"map\"?"]),
        (&["sweep", "--vary", vary, "--chart", "map=x.pdf"], &[".svg or .png"]),
        (&["sweep", "--vary", vary, "--csv", "unit.toml/x.csv"], &["unit.toml is a file"]),
        (&["sweep", "--vary-from", "none.csv"], &["none.csv: no such file"]),
        (&["sweep", "--vary-from", "bad.csv"], &["no field \"check.lod\""]),
        (&["sweep", "--vary-from", "cell.csv"], &["cell.csv:3", "check.load", "no number"]),
        (&["sweep", "--vary-from", "head.csv"], &["head.csv:1", "unknown unit \"m\""]),
        (&["sweep", "--vary-from", "ragged.csv"], &["ragged.csv", "header has 2"]),
        (&["sweep", "--vary-from", "cell.csv", "--vary", vary], &["--vary"]),
        (&["sweep", "--merge"], &["--merge"]),
        (&["sweep", "--merge", "unit.toml"], &["unit.toml", "no journal"]),
        (&["sweep", "--json", "--vary", "check.load=1:2:30000 psi"], &["30000 rows", "--csv"]),
        (&["find", "check.load=1:2 psi"], &["--so-that"]),
        (&["find", "check.load=1:2:3 psi", "--so-that", "sequence.order==x"], &["PATH=LOW:HIGH"]),
        (&["find", "check.load=2:2 psi", "--so-that", "sequence.order==x"], &["the same"]),
        (&["find", "check.load=1:2 psi", "--so-that", "sequence.spill_m3"], &["KEY<op>VALUE"]),
        (&["find", "check.load=1:2 psi", "--so-that", "sequence.spill_m3<3"], &["unit is missing"]),
        (&["find", "check.load=1:2 psi", "--so-that", "sequence.ordr==x"], &["did you mean \"sequence.order\"?"]),
        (
            &["find", "check.load=-1:2 psi", "--so-that", "sequence.sequence_margin_pa>0"],
            &["out of range", "check.load"],
        ),
        (
            &["find", "check.load=1:2 psi", "--so-that", "tolerance.pass>0.9"],
            &["did you mean \"tolerance.pass_rate\"?"],
        ),
        (&["find", "check.load=1:2 psi", "--so-that", "tolerance.pass_rate>3"], &["from 0 to 1"]),
        (&["find", "check.load=1:2 psi", "--so-that", "tolerance.pass_rate==1"], &["compared with"]),
        (&["find", "water.temperature=160:180 degF", "--so-that", "sequence.spill_m3<1 mL"], &["find", "160 degF"]),
        (&["find", "check.load=1:2 psi", "--so-that", "siphon.protects==maybe"], &["--so-that", "true or false"]),
        (&["find", "check.load=1:2 psi", "--so-that", "sequence.order==3"], &["--so-that", "is a word"]),
        (&["sweep", "--vary", "check.load=1:2:1 psi"], &["COUNT is 1"]),
        (&["tolerance", "unit.toml"], &["unit.toml: nothing is spread"]),
        (&["tolerance", "--years", "-1"], &["--years"]),
        (&["tolerance", "--runs", "0"], &["--runs"]),
        (&["tolerance", "--design", "grid"], &["latin-hypercube or sobol"]),
        (&["tolerance", "--design", "sobol", "--runs", "100000"], &["65536"]),
        (&["tolerance", "--pass", "sequence.spill_m3<1 psi"], &["--pass", "unknown unit"]),
        // Options that would be passed over in silence.
        (
            &["find", "check.load=1:2 psi", "--years", "10", "--so-that", "sequence.spill_m3<1 mL"],
            &["--years", "population"],
        ),
        (&["find", "check.load=1:2 psi", "--runs", "9", "--so-that", "sequence.spill_m3<1 mL"], &["--runs"]),
        (&["sweep", "--merge", "a.shard", "--set", "check.load=1 psi"], &["--set", "--merge"]),
        // A number has no boundary of words to draw; without the margin there is no static one.
        (
            &[&["sweep", "--chart", "multiples=m.svg", "--record", "sequence.spill_m3"][..], &THREE].concat(),
            &["no chart \"multiples\"", "--help"],
        ),
        (
            &[&["sweep", "--chart", "multiples=m.svg", "--record", "sequence.order"][..], &THREE].concat(),
            &["no chart \"multiples\"", "map"],
        ),
        (&["sweep", "--vary", vary, "--shard", "1/3", "--chart", "curves=m.svg"], &["--chart", "of the whole"]),
        (&["sweep", "--vary", vary, "--chart", "map=m.svg"], &["no chart \"map\"", "curves"]),
        (&["tolerance", "--shard", "1/3", "--chart", "bars=m.svg"], &["--chart", "of the whole"]),
        (&["tolerance", "--base", "0", "--chart", "bars=b.svg"], &["no chart \"bars\"", "histogram"]),
        // Values that the field never takes, and words that the key never says.
        (&["sweep", "--vary", "check.load=1000:2000:3 psi"], &["check.load", "out of range"]),
        (&["sweep", "--vary-from", "no-unit.csv"], &["no-unit.csv:3", "check.load", "unit is missing"]),
        (
            &["find", "check.load=1:2 psi", "--so-that", "sequence.order==air-inlet-frist"],
            &["did you mean \"air-inlet-first\"?"],
        ),
        (&["tolerance", "--pass", "field-test.result==passes"], &["--pass", "did you mean \"pass\"?"]),
    ];
    for (args, parts) in cases {
        refused(d, args, parts);
    }
}

/// Studies had a list of their own of the fields that name a file, and the weather was not on it: the table replaced it.
#[test]
fn bug_a_study_does_not_write_over_the_weather_that_it_reads() {
    let dir = tempdir().unwrap();
    fs::write(dir.path().join("night.csv"), "time [h],air [degF]\n0,28\n2,20\n4,24\n").unwrap();
    let vary = "night.insulation=0:1:2 in";
    let sets = ["--set", "night.weather=night.csv", "--set", "night.duration=4 h"];
    let record = ["--record", "freeze.zones.0.peak_pa_gauge", "--csv", "night.csv"];
    let args: Vec<&str> = ["sweep", "--vary", vary].into_iter().chain(sets).chain(record).collect();
    refused(dir.path(), &args, &["would overwrite night.csv, which this run reads"]);
}

#[test]
fn practice_wrong_populations_are_refused_with_their_line() {
    let dir = tempdir().unwrap();
    let d = dir.path();
    let head = "base = \"svb-diaphragm\"\n";
    let load = "[spread.\"check.load\"]\n";
    let good = "[spread.\"check.load\"]\nkind = \"normal\"\nsd = \"0.1 psi\"\n[spread.\"air_inlet.load\"]\nkind = \"normal\"\nsd = \"0.1 psi\"\n";
    let cases: &[(String, &[&str])] = &[
        (format!("{load}kind = \"normal\"\nsd = \"-0.1 psi\"\n"), &["unit.toml:4", "cannot be negative"]),
        (format!("{load}kind = \"normal\"\nsd = \"0.1 m\"\n"), &["unit.toml:4", "unknown unit \"m\""]),
        (format!("{load}kind = \"normal\"\n"), &["unit.toml:2", "needs sd"]),
        (format!("{load}kind = \"norml\"\nsd = \"0.1 psi\"\n"), &["unit.toml:3", "did you mean \"normal\"?"]),
        (format!("{load}sd = \"0.1 psi\"\n"), &["unit.toml:2", "needs a kind"]),
        (format!("{load}kind = \"normal\"\nsd = \"0.1 psi\"\nmode = 3\n"), &["unit.toml:5", "mode"]),
        (format!("{load}kind = \"uniform\"\nlow = \"3 psi\"\nhigh = \"2 psi\"\n"), &["low must not be above high"]),
        (format!("{load}kind = \"uniform\"\nlow = \"3 psi\"\n"), &["needs low and high"]),
        (
            format!("{load}kind = \"triangular\"\nlow = \"1 psi\"\nmode = \"3 psi\"\nhigh = \"2 psi\"\n"),
            &["in this order"],
        ),
        (format!("{load}kind = \"lognormal\"\nfactor = 0.5\n"), &["cannot be below 1"]),
        (format!("{load}kind = \"sample\"\nvalues = [\"1 psi\"]\n"), &["at least two"]),
        (format!("{load}kind = \"sample\"\nfile = \"gone.csv\"\n"), &["gone.csv: no such file"]),
        ("[spread.\"check.lod\"]\nkind = \"normal\"\nsd = 1\n".to_owned(), &["unit.toml:2", "check.load"]),
        ("[spread.check.load]\nkind = \"normal\"\nsd = 1\n".to_owned(), &["unit.toml:2", "in quotes"]),
        ("[spread.\"mounting\"]\nkind = \"normal\"\nsd = 1\n".to_owned(), &["unit.toml:2", "no number"]),
        ("spread = 3\n".to_owned(), &["unit.toml:2", "[spread.\"PATH\"]"]),
        (format!("{good}[ageing]\nyears = -3\n"), &["unit.toml:9", "cannot be negative"]),
        (format!("{good}[ageing]\nyear = 3\n"), &["unit.toml:9", "ageing.year", "did you mean \"years\"?"]),
        (
            format!("{good}[[correlation]]\nbetween = [\"check.load\", \"air_inlet.load\"]\ncoefficient = 1.5\n"),
            &["unit.toml:10", "above -1 and below 1"],
        ),
        (
            format!("{good}[[correlation]]\nbetween = [\"check.load\", \"air_inlet.lod\"]\ncoefficient = 0.5\n"),
            &["unit.toml:9", "air_inlet.load"],
        ),
        (
            format!("{good}[[correlation]]\nbetween = [\"check.load\", \"check.load\"]\ncoefficient = 0.5\n"),
            &["unit.toml:8", "once"],
        ),
        (format!("{good}[correlation]\nbetween = 3\n"), &["unit.toml:8", "two brackets"]),
    ];
    for (text, parts) in cases {
        fs::write(d.join("unit.toml"), format!("{head}{text}")).unwrap();
        refused(d, &["tolerance", "unit.toml", "--runs", "10"], parts);
    }
    let three = format!("{good}[spread.\"supply.pressure\"]\nkind = \"uniform\"\nhalf_width = \"5 psi\"\n");
    let pair =
        |a: &str, b: &str, c: &str| format!("[[correlation]]\nbetween = [\"{a}\", \"{b}\"]\ncoefficient = {c}\n");
    let text = format!(
        "{head}{three}{}{}{}",
        pair("check.load", "air_inlet.load", "0.9"),
        pair("check.load", "supply.pressure", "0.9"),
        pair("air_inlet.load", "supply.pressure", "-0.9")
    );
    fs::write(d.join("unit.toml"), text).unwrap();
    refused(d, &["tolerance", "unit.toml"], &["unit.toml:11", "not positive definite"]);
    let fixed = format!("{head}{load}kind = \"normal\"\nmean = \"2 psi\"\nsd = \"0.1 psi\"\n");
    fs::write(d.join("unit.toml"), fixed).unwrap();
    refused(
        d,
        &["find", "check.load=1:3 psi", "unit.toml", "--so-that", "tolerance.pass_rate>=0.9"],
        &["unit.toml:2", "must follow it"],
    );
}

/// A spread that leaves what the field takes: those units are rows that say why, and no share counts them.
#[test]
fn practice_units_outside_their_range_are_rows_with_a_reason() {
    let dir = tempdir().unwrap();
    let d = dir.path();
    let text = "base = \"svb-diaphragm\"\n[spread.\"check.friction\"]\nkind = \"uniform\"\nlow = \"-0.05 psi\"\nhigh = \"0.05 psi\"\n";
    fs::write(d.join("unit.toml"), text).unwrap();
    let args = ["tolerance", "unit.toml", "--runs", "100", "--base", "0", "--record", "sequence.sequence_margin_pa"];
    let doc = document(d, &[&args[..], &["--json", "--csv", "t.csv"]].concat());
    assert_eq!((&doc["units"], &doc["units_failed"]), (&Value::from(100), &Value::from(50)));
    assert_eq!(doc["pass_rate"]["of"], 50);
    assert_eq!(doc["warnings"][0], "failed-runs");
    let rows = fs::read_to_string(d.join("t.csv")).unwrap();
    assert_eq!(rows.lines().filter(|l| l.contains("out of range")).count(), 50);
    // Fifty of fifty: the lower end of the exact interval is 0.025^(1/50).
    assert!((doc["pass_rate"]["low"].as_f64().unwrap() - 0.025_f64.powf(0.02)).abs() < 1e-9);
}

/// The rows of a weather file were no part of the input's hash: a study went on, or was joined, with another weather.
#[test]
fn bug_the_weather_is_part_of_what_a_study_is() {
    let dir = tempdir().unwrap();
    let d = dir.path();
    let weather =
        |last: &str| fs::write(d.join("night.csv"), format!("time [h],air [degF]\n0,28\n1,{last}\n")).unwrap();
    let sets = ["--set", "night.weather=night.csv", "--set", "night.duration=1 h"];
    let hash = |last: &str| {
        weather(last);
        document(d, &[&["freeze", "--json"], &sets[..]].concat())["inputs_sha256"].as_str().unwrap().to_owned()
    };
    let (mild, hard) = (hash("20"), hash("2"));
    assert_ne!(mild, hard);
    assert_eq!(mild, hash("20"));
    let args =
        ["sweep", "--json", "--vary", "night.insulation=0:1:2 in", "--record", "freeze.balance.energy.heat_out_j"];
    let part = |k: &str| poppetry(d, &[&args[..], &sets, &["--csv", "t.csv", "--shard", k]].concat());
    assert_eq!(part("1/2").status.code(), Some(0));
    weather("2");
    assert_eq!(part("2/2").status.code(), Some(0));
    refused(d, &["sweep", "--merge", "t.1-of-2.shard", "t.2-of-2.shard", "--csv", "all.csv"], &["another study"]);
}

#[test]
fn practice_the_document_of_a_sweep() {
    let dir = tempdir().unwrap();
    let args = [
        "sweep",
        "--json",
        "--assembly",
        "svb-diaphragm",
        "--vary",
        "air_inlet.load=1:2:3 psi",
        "--vary",
        "check.load=0.9:2.2:14 psi",
        "--until",
        "order-known",
    ];
    let doc = document(dir.path(), &args);
    assert_eq!(doc["schema"], "poppetry/sweep/1");
    assert_eq!(doc["assembly"], "svb-diaphragm");
    assert_eq!(doc["inputs_sha256"].as_str().unwrap().len(), 64);
    assert_eq!(doc["runs"], 42);
    assert_eq!(doc["failed"], 0);
    assert_eq!(doc["order_rule_m3"], 1e-7);
    let columns: Vec<&str> = doc["columns"].as_array().unwrap().iter().map(|c| c.as_str().unwrap()).collect();
    assert_eq!(
        columns,
        ["run", "air_inlet.load [Pa]", "check.load [Pa]", "sequence.order", "sequence.sequence_margin_pa", "failed"]
    );
    assert_eq!(doc["axes"][1]["path"], "check.load");
    assert_eq!(doc["axes"][1]["unit"], "Pa");
    assert!((doc["axes"][1]["values"][0].as_f64().unwrap() - 0.9 * PSI).abs() < 0.01);
    let rows = doc["rows"].as_array().unwrap();
    assert_eq!(rows.len(), 42);
    assert_eq!(rows[41][0], 42);
    // The margin is the difference of the loads where it is positive (equal frictions).
    let last = |k: usize| rows[41][k].as_f64().unwrap();
    assert!((last(4) - (last(2) - last(1))).abs() < 1e-6 * PSI);
    let above = &doc["boundaries"][0]["above_static"];
    assert!(above["low"].as_f64().unwrap() <= above["high"].as_f64().unwrap());
    // Rows 0.1 psi apart do not say more than half of that.
    assert!((doc["boundaries"][0]["within"].as_f64().unwrap() / PSI - 0.05).abs() < 1e-6);
    for key in ["wall_s", "runs_per_s", "busy_share", "slowest_1_percent_share", "longest_s"] {
        assert!(doc["timing"][key].is_number(), "{key}");
    }
    assert_eq!(doc["cautions"].as_array().unwrap().len(), 4);
    assert!(listing(dir.path()).is_empty());
    // With a file the rows stand there.
    let doc = document(dir.path(), &[&args[..], &["--csv", "rows.csv"]].concat());
    assert_eq!(doc["file"], "rows.csv");
    assert!(doc.get("rows").is_none());
    assert_eq!(listing(dir.path()), ["rows.csv"]);
    // In parts and joined it says the same of itself.
    let d = dir.path();
    for part in ["1/2", "2/2"] {
        let output = poppetry(d, &[&args[..], &["--csv", "p.csv", "--shard", part]].concat());
        assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    }
    let shards = ["p.1-of-2.shard", "p.2-of-2.shard"];
    let merged = document(d, &[&["sweep", "--json", "--csv", "all.csv", "--merge"], &shards[..]].concat());
    for key in ["assembly", "inputs_sha256", "axes", "columns", "runs", "failed", "warnings", "cautions"] {
        assert_eq!(merged[key], doc[key], "{key}");
    }
    assert_eq!(fs::read(d.join("all.csv")).unwrap(), fs::read(d.join("rows.csv")).unwrap());
}

#[test]
fn practice_the_document_of_a_population() {
    let dir = tempdir().unwrap();
    let args = [
        "tolerance",
        "--json",
        "--runs",
        "64",
        "--base",
        "4",
        "--replicates",
        "2",
        "--record",
        "sequence.sequence_margin_pa",
        "--pass",
        "sequence.sequence_margin_pa>0",
        "--seed",
        "5",
    ];
    let doc = document(dir.path(), &args);
    assert_eq!(doc["schema"], "poppetry/tolerance/1");
    assert_eq!(doc["seed"], 5);
    assert_eq!(doc["units"], 64);
    // 64 units and 2 replicates of 4 points with 6 inputs and two more.
    assert_eq!(doc["runs"], 64 + 2 * 4 * 8);
    let share = &doc["pass_rate"];
    assert!(
        share["low"].as_f64() <= share["estimate"].as_f64() && share["estimate"].as_f64() <= share["high"].as_f64()
    );
    assert_eq!(doc["conditions"][0]["condition"], "sequence.sequence_margin_pa>0");
    let q = &doc["quantities"][0];
    assert_eq!(q["key"], "sequence.sequence_margin_pa");
    assert_eq!(q["quantiles"].as_array().unwrap().len(), doc["quantile_shares"].as_array().unwrap().len());
    assert!(q["histogram"][0]["share"]["high"].is_number());
    let inputs = doc["sensitivity"][0]["inputs"].as_array().unwrap();
    assert_eq!(inputs.len(), 6);
    assert!(inputs[0]["total"]["half_width"].is_number());
    assert!(listing(dir.path()).is_empty());
    // The seed decides the units; the same one gives the same figures.
    let again = document(dir.path(), &args);
    let other = document(dir.path(), &[&args[..args.len() - 1], &["6"]].concat());
    assert_eq!(q, &again["quantities"][0]);
    assert_ne!(q, &other["quantities"][0]);
}

/// M = 0 where the loads are equal (equal frictions), so a margin of at least 0.5 psi begins at 1.7 psi.
#[test]
fn analytic_find_on_single_runs_and_on_populations() {
    let dir = tempdir().unwrap();
    let d = dir.path();
    let doc = document(
        d,
        &[
            "find",
            "check.load=1:3 psi",
            "--assembly",
            "svb-diaphragm",
            "--json",
            "--so-that",
            "sequence.sequence_margin_pa>=0.5 psi",
        ],
    );
    assert_eq!(doc["schema"], "poppetry/find/1");
    assert!((doc["value"].as_f64().unwrap() / PSI - 1.7).abs() < 1e-4);
    let end = |k: usize| doc["interval"][k].as_f64().unwrap() / PSI;
    assert!(end(0) <= 1.7 + 1e-6 && end(1) >= 1.7 - 1e-6 && end(1) - end(0) < 1e-4);
    assert_eq!((&doc["holds_at_low"], &doc["holds_at_high"]), (&Value::from(false), &Value::from(true)));
    // Of a population whose loads have standard deviations 0.1 and 0.08 psi, P(M > 0.5 psi) = 0.9 where the mean of M is
    // 0.5 + 1.2816 sqrt(0.01 + 0.0064), so at a check load of 1.7 + 0.1641 psi.
    let text = "base = \"svb-diaphragm\"\n[spread.\"check.load\"]\nkind = \"normal\"\nsd = \"0.1 psi\"\n[spread.\"air_inlet.load\"]\nkind = \"normal\"\nsd = \"0.08 psi\"\n";
    fs::write(d.join("unit.toml"), text).unwrap();
    let args = [
        "find",
        "check.load=1:3 psi",
        "unit.toml",
        "--json",
        "--runs",
        "2000",
        "--pass",
        "sequence.sequence_margin_pa>0.5 psi",
        "--so-that",
    ];
    let doc = document(d, &[&args[..], &["tolerance.pass_rate>=90 %"]].concat());
    let end = |k: usize| doc["interval"][k].as_f64().unwrap() / PSI;
    let value = doc["value"].as_f64().unwrap() / PSI;
    assert!(end(0) < 1.8641 && 1.8641 < end(1), "{} {}", end(0), end(1));
    // Standard error of the share 0.0067 at most, over the density 1.37 per psi at the quantile: 0.005 psi.
    assert!((value - 1.8641).abs() < 0.015, "{value}");
    assert_eq!(doc["share"]["of"], 2000);
    // Nothing to find is a result.
    let doc = document(d, &[&args[..], &["tolerance.pass_rate<=0"]].concat());
    assert_eq!(doc["holds_at_low"], true);
    let nowhere = poppetry(
        d,
        &[
            "find",
            "check.load=1:2 psi",
            "--assembly",
            "svb-diaphragm",
            "--so-that",
            "sequence.sequence_margin_pa>9 psi",
        ],
    );
    assert!(
        nowhere.status.success() && stdout(&nowhere).starts_with("Nowhere from 1 psi to 2 psi"),
        "{}",
        stdout(&nowhere)
    );
}

/// A vacuum breaker of the pressure type lets the check go first and spills; a run that ends when 0.1 mL has passed the check
/// has seen nothing of that, and said that nothing spills.
#[test]
fn bug_a_run_that_ends_with_the_order_does_not_tell_the_spill() {
    let dir = tempdir().unwrap();
    let d = dir.path();
    let text = "base = \"pvb-spring\"\n[spread.\"check.load\"]\nkind = \"normal\"\nsd = \"0.1 psi\"\n";
    fs::write(d.join("unit.toml"), text).unwrap();
    let until = ["--until", "order-known"];
    for args in [
        &["tolerance", "unit.toml", "--runs", "20", "--base", "0"] as &[&str],
        &["find", "check.load=0.8:3 psi", "--so-that", "sequence.spill_m3<1 mL"],
        &["find", "check.load=0.8:3 psi", "unit.toml", "--so-that", "tolerance.spill_probability<=5 %"],
        &["sweep", "--vary", "check.load=1:2:2 psi", "--record", "sequence.spill_m3"],
        &["sweep", "--vary", "check.load=1:2:2 psi", "--record", "sequence.final.zone2_pa_gauge"],
    ] {
        refused(d, &[args, &until].concat(), &["--until: ", "does not know", "sequence.order"]);
    }
    let record = ["--record", "sequence.order", "--json", "--quiet"];
    let args = ["tolerance", "unit.toml", "--runs", "20", "--base", "0"];
    let doc = document(d, &[&args[..], &record, &until].concat());
    assert!(doc["spill_probability"].is_null() && doc["units_failed"] == 0);
}

/// What a search says is what runs at the ends of its brackets give: a condition that begins and ceases again, and one that
/// holds at LOW and ceases once (the largest value that still passes), were told as if they held from there on.
#[test]
fn bug_a_search_tells_where_the_condition_ceases() {
    let dir = tempdir().unwrap();
    let d = dir.path();
    let sets = ["--assembly", "svb-diaphragm", "--set", "shutoff1.opening_time=0.1 s", "--set", "check.load=1.5 psi"];
    let find = ["find", "supply.pressure=0:150 psi", "--so-that", "sequence.order==air-inlet-first"];
    let args = [&find[..], &sets].concat();
    let doc = document(d, &[&args[..], &["--json"]].concat());
    let holds = doc["holds"].as_array().unwrap();
    assert_eq!(holds.len(), 1);
    let changes = doc["changes"].as_array().unwrap();
    for change in changes {
        for (end, expected) in [("before", change["from"] == "holds"), ("after", change["to"] == "holds")] {
            let set = format!("supply.pressure={} Pa", change[end]);
            let run = document(d, &[&["sequence", "--json", "--quiet"], &sets[..], &["--set", &set]].concat());
            assert_eq!(run["order"] == "air-inlet-first", expected, "{set}");
        }
    }
    assert_eq!((&doc["value"], &doc["value_is"]), (&holds[0][0], &Value::from("first")));
    let text = stdout(&poppetry(d, &args));
    let psi = |si: &Value| format!("{:.3}", si.as_f64().unwrap() / PSI);
    let [from, to] = [psi(&holds[0][0]), psi(&holds[0][1])];
    assert!(text.contains(&format!("holds from supply.pressure = {from}")), "{text}");
    assert!(text.lines().take(2).any(|l| l.contains(&to)) && text.contains("ceases at"), "{text}");

    let args = ["find", "shutoff1.opening_time=0.05:3 s", "--so-that", "sequence.spill_m3<31 mL"];
    let doc = document(d, &[&args[..], &["--json"]].concat());
    let spill = |time: &Value| {
        let set = format!("shutoff1.opening_time={time} s");
        document(d, &["sequence", "--json", "--quiet", "--set", &set])["spill_m3"].as_f64().unwrap()
    };
    assert!(spill(&doc["value"]) < 31e-6 && spill(&doc["interval"][1]) >= 31e-6);
    assert_eq!((&doc["interval"][0], &doc["value_is"]), (&doc["value"], &Value::from("last")));
    assert!(doc["interval"][1].as_f64().unwrap() - doc["value"].as_f64().unwrap() <= 3e-5);
    let text = stdout(&poppetry(d, &args));
    let value = format!("up to shutoff1.opening_time = {:.4}", doc["value"].as_f64().unwrap());
    assert!(text.contains(&value), "{text}");
}

/// "Nowhere" was said, as a result, where every run failed and where no run had the value that was asked for.
#[test]
fn bug_what_cannot_be_judged_is_not_told_as_does_not_hold() {
    let dir = tempdir().unwrap();
    let d = dir.path();
    // Any flow shuts this air inlet: there is no least one.
    let find = ["find", "check.load=2:3 psi", "--assembly", "svb-diaphragm", "--so-that"];
    let args = [&find[..], &["sequence.critical_flow_m3_s<12 gpm"]].concat();
    let doc = document(d, &[&args[..], &["--json"]].concat());
    assert!(doc["value"].is_null() && doc["holds"].as_array().unwrap().is_empty() && doc["at_low"] == "unknown");
    assert_eq!((&doc["missing"], &doc["warnings"][0]), (&doc["runs"], &Value::from("missing-values")));
    let text = stdout(&poppetry(d, &args));
    assert!(text.starts_with("Whether ") && text.contains("cannot be judged") && text.contains("17 of 17"), "{text}");
    // Friction below nothing: no unit is one.
    let text = "base = \"svb-diaphragm\"\n[spread.\"check.friction\"]\nkind = \"uniform\"\nlow = \"-0.05 psi\"\nhigh = \"HIGH\"\n";
    let unit = |high: &str| fs::write(d.join("unit.toml"), text.replace("HIGH", high)).unwrap();
    let find = ["find", "check.load=1:3 psi", "unit.toml", "--runs", "20", "--so-that", "tolerance.pass_rate>=90 %"];
    unit("-0.01 psi");
    let output = poppetry(d, &find);
    assert_eq!(output.status.code(), Some(1));
    assert!(output.stdout.is_empty() && stderr(&output).contains("runs failed"), "{}", stderr(&output));
    assert!(stderr(&output).contains("check.friction") && stderr(&output).contains("out of range"));
    // Half of them: the others are judged, and the failed ones counted.
    unit("0.05 psi");
    let doc = document(d, &[&find[..], &["--json", "--quiet"]].concat());
    assert_eq!(doc["failed"].as_u64().unwrap() * 2, doc["runs"].as_u64().unwrap());
    assert!(doc["value"].is_number() && doc["failures"][0].as_str().unwrap().contains("check.friction"));
}

/// Four decimals whatever the size: "holds from 0.0000 in2 on". M = 0.2 psi where the loads differ by that.
#[test]
fn bug_an_answer_has_the_digits_that_its_bracket_has() {
    let dir = tempdir().unwrap();
    let range = "check.load=1.39999:1.40003 psi";
    let args = ["find", range, "--assembly", "svb-diaphragm", "--so-that", "sequence.sequence_margin_pa>=0.2 psi"];
    let output = poppetry(dir.path(), &[&args[..], &["--csv", "looked.csv"]].concat());
    let text = stdout(&output);
    let words: Vec<&str> = text.lines().next().unwrap().split_whitespace().collect();
    let value: f64 = words.iter().find_map(|w| w.parse().ok()).unwrap_or_else(|| panic!("{text}"));
    // The bracket is no wider than 1e-5 of the range.
    assert!((value - 1.4).abs() < 2e-9, "{text}");
    assert!(text.contains("from 1.39999 psi to 1.40003 psi"), "{text}");
    let table = fs::read_to_string(dir.path().join("looked.csv")).unwrap();
    assert!(table.starts_with("check.load [Pa],holds,sequence.sequence_margin_pa,failed\n"), "{table}");
    let runs: usize = text.lines().find_map(|l| l.trim().strip_prefix("runs ")).unwrap().trim().parse().unwrap();
    assert_eq!(table.lines().count(), 1 + runs);
}

/// A map of pass and fail that records the margin too had the title and the table of a boundary of the order.
#[test]
fn bug_only_a_map_of_the_order_has_a_boundary_of_the_order() {
    let dir = tempdir().unwrap();
    let axes = ["--vary", "air_inlet.load=0.8:2.2:3 psi", "--vary", "check.load=0.8:2.5:3 psi"];
    let base = [&["sweep", "--assembly", "svb-diaphragm"], &axes[..], &["--quiet"]].concat();
    let margin = ["--record", "sequence.sequence_margin_pa"];
    let result = [&base[..], &["--record", "field-test.result"], &margin].concat();
    let text = stdout(&poppetry(dir.path(), &result));
    assert!(text.contains("field-test.result") && !text.contains("oundary of the order"), "{text}");
    let map = fs::read_to_string(dir.path().join("output/sweep-svb-diaphragm-map.svg")).unwrap();
    assert!(!map.contains("The order turns"));
    let doc = document(dir.path(), &[&result[..], &["--json"]].concat());
    assert!(doc["boundaries"].as_array().unwrap().is_empty());
    let order = [&base[..], &["--record", "sequence.order"], &margin].concat();
    assert!(stdout(&poppetry(dir.path(), &order)).contains("Boundary of the order"));
}

/// What a newcomer sees: the demo's report has conditions, the rule of the order, the boundary, files and cautions; its
/// charts exist in both formats.
#[test]
fn practice_the_built_in_demo_draws_the_order_map() {
    let dir = tempdir().unwrap();
    let output = poppetry(dir.path(), &["sweep"]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let text = stdout(&output);
    for part in [
        "air-inlet-first in",
        "passed more than 0.1 mL",
        "margin 0",
        "seat wear 0.020 in",
        "within 0.025 psi",
        "Files written",
        "Caution: ",
    ] {
        assert!(text.contains(part), "{part}: {text}");
    }
    assert!(text.lines().all(|l| l.chars().count() <= 96));
    // Nothing on standard error: it is no terminal, and nothing is wrong.
    assert!(output.stderr.is_empty(), "{}", stderr(&output));
    let names =
        ["map.png", "map.svg", "multiples.png", "multiples.svg"].map(|n| format!("output/sweep-svb-diaphragm-{n}"));
    let mut expected = vec!["output".to_owned()];
    expected.extend(names);
    expected.push("output/sweep-svb-diaphragm.csv".to_owned());
    expected.sort();
    assert_eq!(listing(dir.path()), expected);
}

/// A population divided among three jobs and put together says what one job says.
#[test]
fn practice_a_population_in_shards_is_analysed_as_a_whole() {
    let dir = tempdir().unwrap();
    let d = dir.path();
    let args = [
        "tolerance",
        "--json",
        "--runs",
        "40",
        "--base",
        "4",
        "--replicates",
        "2",
        "--record",
        "sequence.sequence_margin_pa",
    ];
    let whole = document(d, &args);
    assert_eq!(whole["rows"].as_array().unwrap().len(), 40 + 64);
    for part in ["1/3", "2/3", "3/3"] {
        let said = document(d, &[&args[..], &["--csv", "p.csv", "--shard", part]].concat());
        // What a reader should know of the population is known of the whole.
        for key in ["assembly", "inputs_sha256", "cautions"] {
            assert_eq!(said[key], whole[key], "{key}");
        }
    }
    let shards = ["p.1-of-3.shard", "p.2-of-3.shard", "p.3-of-3.shard"];
    let merged = document(d, &[&args[..], &["--csv", "all.csv", "--merge"], &shards].concat());
    for key in ["inputs_sha256", "quantities", "pass_rate", "sensitivity", "spill_probability", "runs"] {
        assert_eq!(whole[key], merged[key], "{key}");
    }
    assert_eq!(fs::read_to_string(d.join("all.csv")).unwrap().lines().count(), 1 + 40 + 64);
    refused(
        d,
        &[&args[..], &["--csv", "no.csv", "--seed", "2", "--merge"], &shards].concat(),
        &["another study", "seed"],
    );
    refused(d, &[&args[..], &["--csv", "no.csv", "--merge"], &shards[..2]].concat(), &["3/3", "missing"]);
}

/// A file with tolerances was for `tolerance` alone: every other command found no field "spread" in it.
#[test]
fn bug_one_file_with_spreads_serves_every_command() {
    let dir = tempdir().unwrap();
    let body = "base = \"pvb-spring\"\n[check]\nload = \"2 psi\"\n";
    let spread = "[spread.\"check.load\"]\nkind = \"normal\"\nsd = \"0.1 psi\"\n[ageing]\nyears = 5\n";
    let tie = "[[correlation]]\nbetween = [\"check.load\", \"air_inlet.load\"]\ncoefficient = 0.5\n";
    fs::write(dir.path().join("body.toml"), body).unwrap();
    fs::write(dir.path().join("unit.toml"), format!("{body}{spread}")).unwrap();
    for command in ["sequence", "field-test", "curves"] {
        let of = |file: &str| document(dir.path(), &[command, file, "--json", "--quiet"]);
        assert_eq!(of("unit.toml")["inputs_sha256"], of("body.toml")["inputs_sha256"], "{command}");
    }
    document(dir.path(), &["tolerance", "unit.toml", "--runs", "10", "--base", "0", "--json", "--quiet"]);
    // What is wrong with them is said wherever the file is read.
    fs::write(dir.path().join("kind.toml"), format!("{body}{}", spread.replace("normal", "norml"))).unwrap();
    fs::write(dir.path().join("tie.toml"), format!("{body}{spread}{tie}")).unwrap();
    for command in ["sequence", "field-test", "curves"] {
        refused(dir.path(), &[command, "kind.toml"], &["kind.toml:5", "norml", "normal"]);
        refused(dir.path(), &[command, "tie.toml"], &["tie.toml:10", "air_inlet.load"]);
    }
}

fn spread(sd: &str) -> String {
    format!("base = \"svb-diaphragm\"\n[spread.\"air_inlet.load\"]\nkind = \"normal\"\nsd = \"{sd}\"\n")
}

/// Spreads, conditions, years and the end of a run were no part of the hash: two different answers had one identity.
#[test]
fn bug_all_that_decides_a_result_is_in_its_hash() {
    let dir = tempdir().unwrap();
    let d = dir.path();
    fs::write(d.join("a.toml"), spread("0.1 psi")).unwrap();
    fs::write(d.join("b.toml"), spread("0.3 psi")).unwrap();
    let hash = |args: &[&str]| document(d, args)["inputs_sha256"].as_str().unwrap().to_owned();
    let all_differ = |list: &[String]| {
        for (i, a) in list.iter().enumerate() {
            assert!(list.iter().skip(i + 1).all(|b| a != b), "{i}: {list:?}");
        }
    };
    let margin = "sequence.sequence_margin_pa>0.4 psi";
    let find = |more: &[&str]| {
        let so = ["--json", "--runs", "20", "--so-that", "tolerance.pass_rate>=0.5"];
        hash(&[&["find", "check.load=1:3 psi"], &so[..], more].concat())
    };
    let as_it_is = find(&["a.toml", "--pass", margin]);
    all_differ(&[
        as_it_is.clone(),
        find(&["b.toml", "--pass", margin]),
        find(&["a.toml", "--pass", "sequence.sequence_margin_pa>0.5 psi"]),
        find(&["a.toml", "--pass", margin, "--years", "30"]),
        find(&["a.toml", "--pass", margin, "--until", "check-closed"]),
        find(&["a.toml", "--pass", margin, "--seed", "2"]),
    ]);
    // What changes nothing but how it is done or told is left out; so is how a condition is written.
    for more in [&["--threads", "1"][..], &["--units", "si"], &["--until", "rest"]] {
        assert_eq!(as_it_is, find(&[&["a.toml", "--pass", margin], more].concat()), "{more:?}");
    }
    assert_eq!(as_it_is, find(&["a.toml", "--pass", "sequence.sequence_margin_pa > 0.40 psi"]));
    let one = |more: &[&str]| {
        let so = ["--json", "--assembly", "svb-diaphragm", "--so-that"];
        hash(&[&["find", "check.load=1:3 psi"], &so[..], more].concat())
    };
    all_differ(&[
        one(&[margin]),
        one(&["sequence.sequence_margin_pa>0.5 psi"]),
        one(&[margin, "--until", "check-closed"]),
    ]);
    let people = |more: &[&str]| hash(&[&["tolerance", "--json", "--runs", "9", "--base", "0"], more].concat());
    all_differ(&[people(&[]), people(&["--pass", margin]), people(&["--pass", "sequence.sequence_margin_pa>0.5 psi"])]);
}

/// Friction even from -0.05 to -0.01 psi: no unit can be built. Shares of none were "NaN %", and the status was 0.
#[test]
fn bug_a_population_of_which_no_unit_runs_is_no_result() {
    let dir = tempdir().unwrap();
    let d = dir.path();
    let text = "base = \"svb-diaphragm\"\n[spread.\"check.friction\"]\nkind = \"uniform\"\nlow = \"-0.05 psi\"\nhigh = \"-0.01 psi\"\n";
    fs::write(d.join("unit.toml"), text).unwrap();
    let output = poppetry(d, &["tolerance", "unit.toml", "--runs", "20", "--base", "0", "--csv", "t.csv"]);
    assert_eq!(output.status.code(), Some(1), "{}", stdout(&output));
    for part in ["all runs failed", "20 x", "check.friction", "out of range", "t.csv"] {
        assert!(stderr(&output).contains(part), "{part}: {}", stderr(&output));
    }
    assert!(output.stdout.is_empty());
    assert_eq!(listing(d), ["t.csv", "unit.toml"]);
}

/// Half of the units cannot be built, so all figures are of the other half: that was said by one count. Of 2 x 8 base points
/// each loses a run (A or B) unless both draw above zero.
#[test]
fn bug_a_population_cut_by_failures_says_so_everywhere() {
    let dir = tempdir().unwrap();
    let d = dir.path();
    let text = "base = \"svb-diaphragm\"\n[spread.\"check.friction\"]\nkind = \"uniform\"\nlow = \"-0.05 psi\"\nhigh = \"0.05 psi\"\n[spread.\"check.load\"]\nkind = \"normal\"\nsd = \"0.1 psi\"\n";
    fs::write(d.join("unit.toml"), text).unwrap();
    let args = ["tolerance", "unit.toml", "--runs", "100", "--base", "8", "--replicates", "2"];
    let output =
        poppetry(d, &[&args[..], &["--csv", "t.csv", "--chart", "histogram=h.svg", "--chart", "bars=b.svg"]].concat());
    let text = stdout(&output);
    for part in ["50 of 100 units failed", "check.friction", "out of range", "of 16 base points"] {
        assert!(text.contains(part), "{part}: {text}");
    }
    // Alike but for the number, they are one reason.
    assert!(text.contains("x like") && !text.contains("other reasons"), "{text}");
    assert!(stderr(&output).contains("50 of 100 units failed"), "{}", stderr(&output));
    let words = |file: &str| fs::read_to_string(d.join(file)).unwrap();
    assert!(words("h.svg").contains("50 of 100 units failed") && words("b.svg").contains("of 16 base points"));
    let doc = document(d, &[&args[..], &["--json"]].concat());
    let warnings: Vec<&str> = doc["warnings"].as_array().unwrap().iter().map(|w| w.as_str().unwrap()).collect();
    assert!(warnings.contains(&"failed-runs") && warnings.contains(&"population-cut"), "{warnings:?}");
    let doc = document(
        d,
        &[
            "find",
            "check.load=1:3 psi",
            "unit.toml",
            "--json",
            "--runs",
            "100",
            "--so-that",
            "tolerance.pass_rate>=0.9",
        ],
    );
    let warnings = doc["warnings"].as_array().unwrap();
    assert!(doc["share"]["of"] == 50 && warnings.contains(&Value::from("population-cut")), "{warnings:?}");
}

/// Where the intervals overlap, or the totals come to less than 1, nothing is known to decide most.
#[test]
fn bug_bars_name_the_first_input_only_where_it_is_known() {
    let dir = tempdir().unwrap();
    let d = dir.path();
    let text = |load: &str| {
        let one = |path: &str, sd: &str| format!("[spread.\"{path}\"]\nkind = \"normal\"\nsd = \"{sd}\"\n");
        format!("base = \"svb-diaphragm\"\n{}{}", one("air_inlet.load", "0.1 psi"), one("check.load", load))
    };
    let told = |load: &str, more: &[&str]| {
        fs::write(d.join("unit.toml"), text(load)).unwrap();
        let args = ["tolerance", "unit.toml", "--runs", "10", "--csv", "t.csv", "--chart", "bars=b.svg"];
        let output = poppetry(d, &[&args[..], more].concat());
        assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
        (fs::read_to_string(d.join("b.svg")).unwrap(), stderr(&output))
    };
    // Shares 0.9 and 0.1 of the variance, and 0.5 each.
    let (svg, said) = told("0.3 psi", &["--base", "64"]);
    assert!(svg.contains("check.load decides most") && said.is_empty(), "{said}");
    let (svg, said) = told("0.1 psi", &["--base", "64"]);
    assert!(svg.contains("Which input decides") && said.contains("overlap"), "{said}");
    let (svg, said) = told("0.3 psi", &["--base", "4", "--replicates", "1"]);
    assert!(svg.contains("Which input decides") && said.contains("--base"), "{said}");
    let doc = document(d, &["tolerance", "unit.toml", "--runs", "10", "--base", "4", "--replicates", "1", "--json"]);
    assert_eq!(doc["warnings"][0], "variance-shares-uncertain");
}

/// After the mix of a correlation only the first of two spreads has one unit in each slice.
#[test]
fn bug_a_correlated_sample_is_not_called_even() {
    let dir = tempdir().unwrap();
    let d = dir.path();
    let tie = "[spread.\"check.load\"]\nkind = \"normal\"\nsd = \"0.1 psi\"\n[[correlation]]\nbetween = [\"check.load\", \"air_inlet.load\"]\ncoefficient = 0.5\n";
    fs::write(d.join("unit.toml"), format!("{}{tie}", spread("0.1 psi"))).unwrap();
    let doc = document(d, &["tolerance", "unit.toml", "--runs", "10", "--json", "--quiet"]);
    assert_eq!(
        doc["sample"],
        "10 units, latin-hypercube before correlation (check.load then not in even slices), seed 1"
    );
}

/// A part that was taken up again told the runs of its last session for its own.
#[test]
fn bug_a_part_counts_all_its_runs() {
    let dir = tempdir().unwrap();
    let args = ["tolerance", "--json", "--runs", "40", "--base", "0", "--csv", "t.csv", "--shard", "1/2"];
    let first = document(dir.path(), &args);
    assert_eq!((&first["runs"], &first["failed"]), (&Value::from(20), &Value::from(0)));
    assert_eq!(first, document(dir.path(), &[&args[..], &["--resume"]].concat()));
}

/// A sweep over a command says what the command says of the dangers; `freeze` warns of ice.
#[test]
fn bug_a_study_carries_the_cautions_of_what_it_asks() {
    let dir = tempdir().unwrap();
    let record = |key: &str| {
        let args =
            ["sweep", "--json", "--vary", "night.insulation=0:1:2 in", "--set", "night.duration=1 h", "--record"];
        document(dir.path(), &[&args[..], &[key]].concat())["cautions"].as_array().unwrap().clone()
    };
    assert!(record("freeze.balance.energy.heat_out_j").contains(&Value::from("freezing")));
    assert_eq!(record("sequence.sequence_margin_pa").len(), 4);
}

/// Of one axis, words alone left the page blank; what was alike was called alike; a fifth value vanished.
#[test]
fn bug_curves_show_words_and_say_what_they_leave_out() {
    let dir = tempdir().unwrap();
    let d = dir.path();
    let drawn = |keys: &[&str]| {
        let args = ["sweep", "--assembly", "svb-diaphragm", "--vary", "check.load=0.9:2.2:5 psi", "--csv", "t.csv"];
        let records = keys.iter().flat_map(|k| ["--record", k]);
        let all: Vec<&str> = args.into_iter().chain(["--chart", "curves=c.svg"]).chain(records).collect();
        let output = poppetry(d, &all);
        assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
        fs::read_to_string(d.join("c.svg")).unwrap()
    };
    let svg = drawn(&["sequence.order"]);
    assert!(svg.contains("check-first") && svg.contains("air-inlet-first"), "{svg}");
    let two = ["sequence.final.zone2_pa_gauge", "sequence.peak.zone2_pa_gauge"];
    let more = ["sequence.spill_m3", "sequence.sequence_margin_pa", "sequence.order"];
    let svg = drawn(&[&two[..], &more].concat());
    for part in ["final zone2, gauge (psi)", "peak zone2, gauge (psi)", "in the table only: order"] {
        assert!(svg.contains(part), "{part}: {svg}");
    }
}

/// Twenty-one depths of wear in inches read alike; five panels of 21 vanished; panels without a boundary had no axes.
#[test]
fn bug_multiples_tell_their_panels_apart() {
    let dir = tempdir().unwrap();
    let d = dir.path();
    let args = ["sweep", "--assembly", "pvb-spring", "--until", "order-known", "--csv", "t.csv"];
    let axes = ["check.load=1:3:3 psi", "supply.pressure=20:100:3 psi", "check.seat_wear=0:1:21 mm"];
    let vary = axes.iter().flat_map(|a| ["--vary", a]);
    let all: Vec<&str> = args.into_iter().chain(vary).chain(["--chart", "multiples=m.svg"]).collect();
    let output = poppetry(d, &all);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let svg = fs::read_to_string(d.join("m.svg")).unwrap();
    // 0.05 mm is 0.0020 in.
    for part in ["16 of 21 panels", "check-first everywhere", "seat wear 0.0020 in", "\n100\n"] {
        assert!(svg.contains(part), "{part}: {svg}");
    }
    assert_eq!(svg.matches("seat wear 0.0020 in").count(), 1);
}

/// An air inlet of 1.50 psi with 0.05 psi of friction, glued by an amount drawn evenly from 0 to 2.9 psi, opens at 1.45 psi
/// less that amount; glued harder it does not open and there is no reading. Those counted as not meeting the condition. Of
/// 58 even slices 29 lie below 1.45 psi and 9 below 0.45 psi, so 9 of 29 read 1 psi or more. Clopper-Pearson interval of 9 of
/// 29: 0.152846 to 0.508323 (scipy.stats.binomtest, 1.17.1).
#[test]
fn bug_a_unit_without_a_value_neither_meets_a_condition_nor_fails_it() {
    let dir = tempdir().unwrap();
    let d = dir.path();
    let text = "base = \"pvb-spring\"\n[spread.\"air_inlet.adhesion\"]\nkind = \"uniform\"\nlow = \"0 psi\"\nhigh = \"2.9 psi\"\n";
    fs::write(d.join("glued.toml"), text).unwrap();
    let reads = "field-test.readings.0.true_pa>=1 psi";
    let args = ["tolerance", "glued.toml", "--runs", "58", "--base", "0", "--record", "field-test.readings.0.true_pa"];
    let args = [&args[..], &["--pass", reads]].concat();
    let doc = document(d, &[&args[..], &["--json", "--quiet"]].concat());
    let three = |share: &Value| ["count", "of", "not_met", "not_judged"].map(|key| share[key].as_u64().unwrap());
    assert_eq!(three(&doc["pass_rate"]), [9, 29, 20, 29]);
    assert_eq!(three(&doc["conditions"][0]["share"]), [9, 29, 20, 29]);
    let end = |key: &str| doc["pass_rate"][key].as_f64().unwrap();
    assert!((end("low") - 0.152846).abs() < 1e-6 && (end("high") - 0.508323).abs() < 1e-6, "{}", doc["pass_rate"]);
    assert!(
        doc["shares_of"] == "units-judged" && doc["warnings"].as_array().unwrap().contains(&"missing-values".into())
    );
    let output = poppetry(d, &[&args[..], &["--csv", "t.csv", "--chart", "histogram=h.svg"]].concat());
    let text = stdout(&output);
    assert!(text.contains("of the 29 units judged: 9 met,") && text.contains("29 could not be judged"), "{text}");
    assert!(stderr(&output).contains("29 of 58"), "{}", stderr(&output));
    let svg = fs::read_to_string(d.join("h.svg")).unwrap();
    assert!(svg.contains("29 units that can be judged") && svg.contains("29 cannot be"), "{svg}");
    // One condition that is not met decides: the result fails where the air inlet reads below 1 psi, and where it does not open.
    let both = document(d, &[&args[..], &["--pass", "field-test.result==pass", "--json", "--quiet"]].concat());
    assert_eq!(three(&both["pass_rate"]), [9, 58, 49, 0]);
    // A search judges the same: 9 of 29 pass, whatever the supply.
    let find =
        ["find", "supply.pressure=40:60 psi", "glued.toml", "--runs", "58", "--pass", reads, "--json", "--quiet"];
    let doc = document(d, &[&find[..], &["--so-that", "tolerance.pass_rate>=0.3"]].concat());
    assert_eq!((three(&doc["share"]), &doc["value_is"]), ([9, 29, 20, 29], &Value::from("everywhere")));
    assert_eq!(doc["missing"].as_u64().unwrap() * 2, doc["runs"].as_u64().unwrap());
    // Where no unit has the value nothing is said of the yield.
    let none = ["tolerance", "--runs", "9", "--base", "0", "--json", "--quiet", "--pass"];
    let doc = document(d, &[&none[..], &["sequence.critical_flow_m3_s<12 gpm"]].concat());
    assert_eq!(three(&doc["pass_rate"]), [0, 0, 0, 9]);
    assert!(doc["pass_rate"]["estimate"].is_null());
}

/// A flag compared with a word, a word with a number: nothing met that, and the yield was 0 % (or, with "!=", too).
#[test]
fn bug_a_value_is_compared_with_its_own_kind() {
    let dir = tempdir().unwrap();
    for (condition, rule) in [
        ("sequence.spilling_at_end==maybe", "sequence.spilling_at_end is true or false"),
        ("sequence.spilling_at_end>0", "sequence.spilling_at_end is true or false"),
        ("sequence.order==3", "sequence.order is a word"),
        ("sequence.order!=true", "sequence.order is a word"),
        ("sequence.solver.steps==many", "sequence.solver.steps is a number"),
        ("sequence.spill_m3==false", "takes a volume"),
        ("sequence.sequence_margin_pa>0.5", "unit is missing"),
        ("sequence.order==", "KEY<op>VALUE"),
    ] {
        let value = condition.split(['=', '>']).next_back().unwrap();
        refused(dir.path(), &["tolerance", "--runs", "9", "--pass", condition], &["--pass: ", rule, value]);
        let find = ["find", "check.load=1:2 psi", "--runs", "9", "--so-that", "tolerance.pass_rate>0.5", "--pass"];
        refused(dir.path(), &[&find[..], &[condition]].concat(), &["--pass: ", rule]);
        let find = ["find", "check.load=1:2 psi", "--assembly", "svb-diaphragm", "--so-that", condition];
        refused(dir.path(), &find, &["--so-that: ", rule]);
    }
}

/// A run that ends when the order is known does not tell a late part from one that never moves. Without pressure nothing
/// moves, and all is at rest: never. Shutoff 1 opened in 60 s and watched for 0.2 s: not yet.
#[test]
fn bug_never_and_not_yet_are_told_apart() {
    let dir = tempdir().unwrap();
    let d = dir.path();
    let until = ["--until", "order-known"];
    for word in ["air-inlet-never-closed", "check-never-opened"] {
        let so_that = format!("sequence.order=={word}");
        let find = ["find", "check.load=1:2 psi", "--assembly", "pvb-spring", "--so-that", &so_that];
        refused(d, &[&find[..], &until].concat(), &["--so-that: ", word, "let the runs go on"]);
        let tolerance = ["tolerance", "--runs", "9", "--base", "0", "--record", "sequence.order", "--pass", &so_that];
        refused(d, &[&tolerance[..], &until].concat(), &["--pass: ", word, "let the runs go on"]);
    }
    let record = ["--record", "sequence.order", "--record", "sequence.stop"];
    let told = |sets: &[&str]| {
        let sweep = ["sweep", "--assembly", "svb-diaphragm", "--vary", "check.load=2:2.2:2 psi", "--quiet"];
        let args = [&sweep[..], sets, &record, &until].concat();
        let doc = document(d, &[&args[..], &["--json"]].concat());
        assert!(doc["leaves_open"].as_str().unwrap().contains("not awaited"));
        ([doc["rows"][0][2].clone(), doc["rows"][0][3].clone()], stdout(&poppetry(d, &args)))
    };
    let (known, text) = told(&[]);
    assert_eq!(known, ["air-inlet-first", "order-known"]);
    assert!(text.contains("not awaited") && !text.contains("Never"), "{text}");
    let (never, text) = told(&["--set", "supply.pressure=0 psi"]);
    assert_eq!(never, ["check-never-opened", "settled"]);
    assert!(text.contains("\"Never\" means"), "{text}");
    let (not_yet, _) = told(&["--set", "shutoff1.opening_time=60 s", "--set", "run.end_time=0.2 s"]);
    assert_eq!(not_yet, ["check-never-opened", "end-time"]);
}

/// `find` had no folder for what it writes. Its chart shows the places looked at, the limit and where the condition begins.
#[test]
fn bug_find_leaves_its_files_where_the_other_studies_do() {
    let dir = tempdir().unwrap();
    let d = dir.path();
    let args = ["find", "check.load=1:3 psi", "--assembly", "svb-diaphragm", "--so-that"];
    let margin = [&args[..], &["sequence.sequence_margin_pa>=0.5 psi"]].concat();
    // A document alone leaves no file.
    let doc = document(d, &[&margin[..], &["--json"]].concat());
    assert!(doc["file"].is_null() && listing(d).is_empty());
    let doc = document(d, &[&margin[..], &["--json", "--out", "kept"]].concat());
    assert_eq!(doc["file"], "kept/find-svb-diaphragm.csv");
    let names = ["-curves.png", "-curves.svg", ".csv"].map(|end| format!("kept/find-svb-diaphragm{end}"));
    assert_eq!(listing(d), [&["kept".to_owned()], &names[..]].concat());
    let svg = fs::read_to_string(d.join(&names[1])).unwrap();
    for part in ["sequence margin (psi)", "check load (psi)", "begins", "0.5 psi", "holds from check.load = 1.7000"] {
        assert!(svg.contains(part), "{part}: {svg}");
    }
    // Words, shares of a population, and what cannot be judged anywhere.
    for (so_that, more, part) in [
        ("sequence.order==air-inlet-first", &[] as &[&str], "check-first"),
        ("tolerance.pass_rate>=0.5", &["--runs", "20"], "pass rate of the units judged (%)"),
        ("sequence.critical_flow_m3_s<12 gpm", &["--set", "air_inlet.load=1 psi"], "cannot be judged"),
    ] {
        let output = poppetry(d, &[&args[..], &[so_that, "--chart", "curves=c.svg"], more].concat());
        assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
        let svg = fs::read_to_string(d.join("c.svg")).unwrap();
        assert!(svg.contains(part), "{part}: {svg}");
    }
    refused(d, &[&margin[..], &["--chart", "map=m.svg"]].concat(), &["no chart \"map\"", "curves"]);
}

/// "Nowhere" left open by how much. By hand: a check settles at its load less its friction (0.05 psi).
#[test]
fn bug_a_search_that_ends_nowhere_says_how_near_it_came() {
    let dir = tempdir().unwrap();
    let args = ["find", "check.load=1:2 psi", "--so-that", "sequence.statics.check_settles_pa>=3 psi"];
    let settled = ["--assembly", "pvb-spring", "--set", "check.friction=0.05 psi"];
    let doc = document(dir.path(), &[&args[..], &settled, &["--json"]].concat());
    assert!(doc["value"].is_null());
    for (end, load) in [(0, 1.0), (1, 2.0)] {
        let seen = &doc["seen"][end];
        assert!((seen["at"].as_f64().unwrap() / PSI - load).abs() < 1e-6, "{seen}");
        assert!((seen["value"].as_f64().unwrap() / PSI - (load - 0.05)).abs() < 1e-3, "{seen}");
    }
    let text = stdout(&poppetry(dir.path(), &[&args[..], &settled].concat()));
    assert!(text.contains("lowest 0.95 psi at 1.0000 psi, highest 1.95 psi at 2.0000 psi"), "{text}");
}

/// A misspelt word is met by nothing, and "nowhere" was all that was said. Of the events of a fill the first is of the air inlet or
/// the check; all words that runs gave are told.
#[test]
fn bug_a_word_that_no_run_gives_is_told() {
    let dir = tempdir().unwrap();
    let find = ["find", "check.load=1:2 psi", "--assembly", "svb-diaphragm", "--json", "--quiet", "--so-that"];
    let warned = |so_that: &str| document(dir.path(), &[&find[..], &[so_that]].concat())["warnings"].clone();
    assert_eq!(warned("sequence.events.0.part==air-inlett"), Value::from(vec!["word-not-seen"]));
    assert_eq!(warned("sequence.events.0.part==air-inlet"), Value::Array(Vec::new()));
    let args = ["tolerance", "--runs", "9", "--base", "0", "--csv", "t.csv", "--pass", "sequence.events.0.part==chek"];
    let output = poppetry(dir.path(), &args);
    assert!(stderr(&output).contains("\"chek\"; there were air-inlet"), "{}", stderr(&output));
}
