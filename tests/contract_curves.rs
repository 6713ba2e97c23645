//! What scripts rely on in `curves`, `sequence --against` and `assemblies --table`, asked of the real program.
#![allow(clippy::unwrap_used, clippy::panic)] // a test stops where it fails

mod cli;

use cli::{listing, poppetry, stderr, stdout};
use serde_json::Value;
use tempfile::tempdir;

/// One psi in Pa (NIST SP 811, appendix B).
const PSI: f64 = 6894.757;

fn json(dir: &std::path::Path, args: &[&str]) -> Value {
    let output = poppetry(dir, args);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    serde_json::from_slice(&output.stdout).unwrap()
}

#[test]
fn practice_curves_have_these_keys_units_and_signs() {
    let dir = tempdir().unwrap();
    for name in ["pvb-spring", "pvb-elastomer", "pvb-relief", "svb-diaphragm", "svb-stem"] {
        let d = json(dir.path(), &["curves", "--json", "--assembly", name]);
        assert_eq!(d["schema"], "poppetry/curves/1");
        assert_eq!(d["assembly"], name);
        assert_eq!(d["inputs_sha256"].as_str().unwrap().len(), 64);
        let load = d["load"].as_array().unwrap();
        for point in load {
            assert!(["check", "air-inlet", "relief"].contains(&point["part"].as_str().unwrap()));
            assert!(["opening", "closing"].contains(&point["direction"].as_str().unwrap()));
            assert!(point["travel_m"].as_f64().unwrap() >= 0.0 && point["force_n"].as_f64().unwrap() > 0.0);
        }
        let has_relief = load.iter().any(|p| p["part"] == "relief");
        assert_eq!(has_relief, name == "pvb-relief");
        assert_eq!(d["relief"].as_array().unwrap().is_empty(), !has_relief);
        let loss = d["loss"].as_array().unwrap();
        for pair in loss.windows(2) {
            assert!(pair[1]["q_m3_s"].as_f64() > pair[0]["q_m3_s"].as_f64());
            assert!(pair[1]["dp_pa"].as_f64().unwrap() > 0.0);
        }
        assert_eq!(d["sizes"].as_array().unwrap().len(), 7);
        assert!(d["supply_needed"]["pressure_pa_gauge"].as_f64().unwrap() > PSI);
        assert!(d["warnings"].is_array() && !d["cautions"].as_array().unwrap().is_empty());
    }
    // A load of 1.5 psi on a seat of 1.05 in: 0.8659 in2 give 1.2988 lbf, 5.778 N (NIST SP 811: 4.448222 N/lbf).
    let d = json(dir.path(), &["curves", "--json"]);
    let sealed = d["load"].as_array().unwrap().iter().find(|p| p["part"] == "check").unwrap();
    assert!((sealed["force_n"].as_f64().unwrap() - 5.778).abs() < 0.001);
    assert!(listing(dir.path()).is_empty(), "a document writes no files");
}

#[test]
fn practice_curves_write_chart_and_table_where_they_are_told() {
    let dir = tempdir().unwrap();
    let output = poppetry(dir.path(), &["curves", "--assembly", "pvb-relief", "--csv", "load.csv"]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let text = stdout(&output);
    for words in ["Loss at 7.5 ft/s", "limit 10 psi", "supply that shuts the air inlet", "relief opens at", "Caution: "]
    {
        assert!(text.contains(words), "{words}: {text}");
    }
    let si = stdout(&poppetry(dir.path(), &["curves", "--units", "si", "--out", "si"]));
    // 7.5 ft/s is 2.286 m/s, 10 psi are 68.95 kPa (NIST SP 811).
    assert!(si.contains("Loss at 2.29 m/s") && si.contains("limit 68.9 kPa") && !si.contains("ft/s"), "{si}");
    for file in ["output/curves-pvb-relief.svg", "output/curves-pvb-relief.png", "load.csv"] {
        assert!(dir.path().join(file).is_file(), "{file}");
    }
    let table = std::fs::read_to_string(dir.path().join("load.csv")).unwrap();
    assert!(table.starts_with("part,travel_m,force_n,direction,dp_pa,water_m3_s,air_m3_s\n"));
    // Loads, loss, vent and relief: as many rows as the document has points.
    let doc: serde_json::Value =
        serde_json::from_str(&stdout(&poppetry(dir.path(), &["curves", "--assembly", "pvb-relief", "--json"])))
            .unwrap();
    let count = |key: &str| doc[key].as_array().unwrap().len();
    assert!(["load", "loss", "vent", "relief"].iter().all(|key| count(key) > 5));
    let rows = |part: &str| table.lines().filter(|l| l.starts_with(part) && l.contains(",,,,")).count();
    assert_eq!([rows("assembly,"), rows("vent,"), rows("relief,")], [count("loss"), count("vent"), count("relief")]);
    assert_eq!(table.lines().count(), 1 + ["load", "loss", "vent", "relief"].map(count).iter().sum::<usize>());
    let wrong = poppetry(dir.path(), &["curves", "--chart", "sequence=a.svg"]);
    assert_eq!(wrong.status.code(), Some(2));
    assert!(
        stderr(&wrong).contains("no chart \"sequence\"") && stderr(&wrong).contains("curves"),
        "{}",
        stderr(&wrong)
    );
}

#[test]
fn practice_assemblies_run_beside_each_other_in_the_same_scene() {
    let dir = tempdir().unwrap();
    std::fs::write(dir.path().join("scene.toml"), "[supply]\npressure = \"40 psi\"\n[check]\nload = \"2 psi\"\n")
        .unwrap();
    let against = ["--against", "svb-stem", "--against", "svb-diaphragm"];
    let d = json(
        dir.path(),
        &[&["sequence", "scene.toml", "--json", "--quiet", "--set", "zone2.initial=brimful"], &against[..]].concat(),
    );
    let others = d["against"].as_array().unwrap();
    assert_eq!(others.len(), 2);
    assert_eq!(others[0]["assembly"], "svb-stem");
    // The scene goes with it, the body of the file does not: the same as that assembly in that scene by itself.
    let alone = json(
        dir.path(),
        &[
            "sequence",
            "--json",
            "--quiet",
            "--assembly",
            "svb-stem",
            "--set",
            "supply.pressure=40 psi",
            "--set",
            "zone2.initial=brimful",
        ],
    );
    assert_eq!(others[0]["events"], alone["events"]);
    assert_eq!(others[0]["inputs_sha256"], alone["inputs_sha256"]);
    assert!((d["statics"]["check_lifts_pa"].as_f64().unwrap() / PSI - 2.05).abs() < 1e-4);
    let text = stdout(&poppetry(dir.path(), &[&["sequence"], &against[..]].concat()));
    for words in ["Side by side", "pvb-spring", "svb-stem", "svb-diaphragm", "nothing spills"] {
        assert!(text.contains(words), "{words}");
    }
    // The answer of each comes first; it once stood at the end, and the first lines spoke of one.
    let first: Vec<&str> = text.lines().take(3).collect();
    let starts = ["pvb-spring: The check opens first", "svb-stem: The air inlet", "svb-diaphragm: The air inlet"];
    assert!(first.iter().zip(starts).all(|(line, start)| line.starts_with(start)), "{first:?}");
    // What holds for all is warned of once.
    let warned = stderr(&poppetry(dir.path(), &[&["sequence"], &against[..]].concat()));
    assert_eq!(warned.matches("one elastic line cell").count(), 1, "{warned}");
    let wrong = poppetry(dir.path(), &["sequence", "--against", "svb-stemm"]);
    assert_eq!(wrong.status.code(), Some(2));
    assert!(stderr(&wrong).contains("\"svb-stem\"?"), "{}", stderr(&wrong));
}

#[test]
fn practice_the_table_compares_all_constructions() {
    let dir = tempdir().unwrap();
    let text = stdout(&poppetry(dir.path(), &["assemblies", "--table"]));
    for words in
        ["air inlet loaded by", "elastomer", "conical", "integral", "stem", "air-inlet-stem", "lap ", "Caution: "]
    {
        assert!(text.contains(words), "{words}: {text}");
    }
}
