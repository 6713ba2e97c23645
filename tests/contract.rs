//! The outward contract of `sequence`: names, types, units and signs that scripts rely on.
// The helpers outside #[test] functions may stop a test as the tests themselves may.
#![allow(clippy::unwrap_used, clippy::panic)]

mod cli;

use cli::{listing, poppetry, program, stderr, stdout};
use serde_json::Value;
use std::fs;
use std::path::Path;
use tempfile::tempdir;

/// One psi in Pa: 6894.757 (NIST SP 811, appendix B).
const PSI: f64 = 6894.757;

fn document(dir: &Path, args: &[&str]) -> Value {
    let output = poppetry(dir, &[&["sequence", "--json", "--quiet"], args].concat());
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    assert_eq!(stderr(&output), "");
    serde_json::from_slice(&output.stdout).unwrap()
}

fn number(document: &Value, pointer: &str) -> f64 {
    document.pointer(pointer).and_then(Value::as_f64).unwrap_or_else(|| panic!("{pointer} is no number"))
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Type {
    Text,
    Number,
    NumberOrNull,
    Null,
    Count,
    Truth,
    List,
    Object,
}
use Type::{Count, List, Null, Number, NumberOrNull, Object, Text, Truth};

fn has(value: &Value, kind: Type) -> bool {
    match kind {
        Text => value.is_string(),
        Number => value.is_f64(),
        NumberOrNull => value.is_f64() || value.is_null(),
        Null => value.is_null(),
        Count => value.is_u64(),
        Truth => value.is_boolean(),
        List => value.is_array(),
        Object => value.is_object(),
    }
}

/// Exactly these keys, each of its type.
fn keys(value: &Value, expected: &[(&str, Type)]) {
    let object = value.as_object().unwrap();
    let names: Vec<&str> = object.keys().map(String::as_str).collect();
    let mut wanted: Vec<&str> = expected.iter().map(|e| e.0).collect();
    let mut found = names.clone();
    wanted.sort_unstable();
    found.sort_unstable();
    assert_eq!(found, wanted);
    for (name, kind) in expected {
        assert!(has(&object[*name], *kind), "{name} is {} and should be {kind:?}", object[*name]);
    }
}

#[test]
fn practice_the_document_has_these_keys_and_types() {
    let dir = tempdir().unwrap();
    for (name, critical, margin, lap) in [
        ("pvb-spring", Number, Number, Null),
        ("pvb-elastomer", Number, Number, Null),
        ("pvb-relief", Number, Number, Null),
        ("svb-diaphragm", Null, Number, Null),
        ("svb-stem", Null, Null, Number),
    ] {
        let d = document(dir.path(), &["--assembly", name]);
        keys(
            &d,
            &[
                ("schema", Text),
                ("assembly", Text),
                ("inputs_sha256", Text),
                ("order", Text),
                ("sequence_margin_pa", margin),
                ("lap_margin_m", lap),
                ("spill_m3", Number),
                ("rebound_spill_m3", Number),
                ("relieved_m3", Number),
                ("spilling_at_end", Truth),
                ("spill_rate_m3_s", Number),
                ("critical_flow_m3_s", critical),
                ("trapped_excess_pa", Number),
                ("line_start_up_s", Number),
                ("stop", Text),
                ("events", List),
                ("peak", Object),
                ("final", Object),
                ("statics", Object),
                ("balance", Object),
                ("solver", Object),
                ("warnings", List),
                ("cautions", List),
            ],
        );
        assert_eq!(d["schema"], "poppetry/sequence/1");
        assert_eq!(d["assembly"], name);
        let hash = d["inputs_sha256"].as_str().unwrap();
        assert!(hash.len() == 64 && hash.bytes().all(|b| b.is_ascii_hexdigit()));
        keys(&d["peak"], &[("zone1_pa_gauge", Number), ("zone2_pa_gauge", Number)]);
        let last = d["final"].as_object().unwrap();
        for key in ["t_s", "line_pa_gauge", "zone1_pa_gauge", "zone2_pa_gauge", "load_side_pa_gauge"] {
            assert!(last[key].is_f64(), "{key}");
        }
        keys(&d["balance"], &[("water", Object), ("air", Object)]);
        for species in ["water", "air"] {
            let entries = ["in_kg", "out_kg", "spilled_kg", "stored_start_kg", "stored_end_kg"];
            keys(&d["balance"][species], &entries.map(|e| (e, Number)));
        }
        let solver = &d["solver"];
        for key in ["steps", "rhs_evaluations", "jacobians"] {
            assert!(has(&solver[key], Count), "{key}");
        }
        assert!(solver["wall_s"].as_f64().unwrap() > 0.0);
        for event in d["events"].as_array().unwrap() {
            keys(event, &[("t_s", Number), ("part", Text), ("what", Text), ("forces_n", Object)]);
            keys(&event["forces_n"], &["pressure", "load", "friction", "weight", "flow"].map(|f| (f, Number)));
            assert!(["check", "air-inlet"].contains(&event["part"].as_str().unwrap()));
            let what = event["what"].as_str().unwrap();
            assert!(["starts-to-open", "fully-open", "starts-to-close", "closed"].contains(&what), "{what}");
        }
        assert!(has(&d["statics"]["order_turning_wear_m"], NumberOrNull));
    }
}

#[test]
fn practice_every_number_carries_its_unit_in_its_name() {
    let dir = tempdir().unwrap();
    let d = document(dir.path(), &[]);
    const UNITS: [&str; 10] = ["_pa_gauge", "_pa_abs", "_pa", "_m3_s", "_m3", "_m2", "_m", "_kg", "_n", "_s"];
    const PLAIN: [&str; 5] = ["tolerance", "steps", "rejected", "rhs_evaluations", "jacobians"];
    fn walk(name: &str, value: &Value, seen: &mut usize) {
        match value {
            Value::Number(_) => {
                *seen += 1;
                assert!(UNITS.iter().any(|u| name.ends_with(u)) || PLAIN.contains(&name), "{name} has no unit");
            }
            Value::Array(all) => all.iter().for_each(|v| walk(name, v, seen)),
            // The unit stands on the group.
            Value::Object(_) if name.ends_with("_n") => {}
            Value::Object(all) => all.iter().for_each(|(k, v)| walk(k, v, seen)),
            _ => {}
        }
    }
    let mut seen = 0;
    walk("", &d, &mut seen);
    assert!(seen > 30);
    let output = poppetry(dir.path(), &["sequence", "--json", "--quiet", "--csv", "run.csv"]);
    assert_eq!(output.status.code(), Some(0));
    let table = fs::read_to_string(dir.path().join("run.csv")).unwrap();
    let header = table.lines().next().unwrap();
    assert!(header.starts_with("t_s,line_pa_gauge,zone1_pa_gauge,zone2_pa_gauge,"), "{header}");
    assert!(header.split(',').all(|column| UNITS.iter().any(|u| column.ends_with(u))), "{header}");
    let columns = header.split(',').count();
    let rows: Vec<Vec<f64>> =
        table.lines().skip(1).map(|l| l.split(',').map(|cell| cell.parse().unwrap()).collect()).collect();
    assert!(rows.len() > 100 && rows.iter().all(|r| r.len() == columns));
    assert_eq!(rows[0][0], 0.0);
    assert!(rows.windows(2).all(|w| w[0][0] <= w[1][0]));
}

/// Hand sums with friction 0.05 psi on both parts. PVB: margin = -(load + friction) of the air inlet, whatever the
/// check's load. SVB: where the check lifts less where the air inlet is shut.
#[test]
fn analytic_the_margin_is_negative_for_a_pvb_and_that_of_the_loads_for_an_svb() {
    let dir = tempdir().unwrap();
    let margin = |name, check: &str, inlet: &str| {
        let sets = [check, inlet, "check.friction=0.05 psi", "air_inlet.friction=0.05 psi"];
        let sets = sets.into_iter().flat_map(|s| ["--set", s]);
        let args: Vec<&str> = ["--assembly", name].into_iter().chain(sets).collect();
        number(&document(dir.path(), &args), "/sequence_margin_pa")
    };
    for check in ["check.load=1.5 psi", "check.load=4 psi"] {
        assert!((margin("pvb-spring", check, "air_inlet.load=1.5 psi") + 1.55 * PSI).abs() < 1.0);
    }
    let svb = margin("svb-diaphragm", "check.load=2.4 psi", "air_inlet.load=1.2 psi");
    assert!((svb - (2.45 - 1.25) * PSI).abs() < 1.0, "{svb}");
}

#[test]
fn event_signs_follow_the_opening_direction_and_forces_balance_where_a_part_leaves_its_seat() {
    let dir = tempdir().unwrap();
    let d = document(dir.path(), &[]);
    let events = d["events"].as_array().unwrap();
    assert!(events.windows(2).all(|w| w[0]["t_s"].as_f64() <= w[1]["t_s"].as_f64()));
    let first = |part: &str, what: &str| {
        events.iter().find(|e| e["part"] == part && e["what"] == what).unwrap_or_else(|| panic!("{part} {what}"))
    };
    let opens = first("check", "starts-to-open");
    let force = |name: &str| number(opens, &format!("/forces_n/{name}"));
    assert!(force("pressure") > 0.0 && force("load") < 0.0 && force("friction") < 0.0 && force("weight") < 0.0);
    let sum: f64 = ["pressure", "load", "friction", "weight", "flow"].map(force).iter().sum();
    // It lifts when the sum turns from shutting to opening: zero, within the tolerance of the run.
    assert!(sum.abs() < 1e-3 * force("pressure"), "{sum}");
    let closes = first("air-inlet", "starts-to-close");
    assert!(number(closes, "/forces_n/pressure") < 0.0 && number(closes, "/forces_n/load") > 0.0);
    assert!(number(closes, "/forces_n/friction") > 0.0, "friction is against the motion that begins");
    assert!(number(&d, "/final/air_inlet_travel_m") == 0.0 && number(&d, "/final/check_travel_m") > 0.0);
    assert!(first("air-inlet", "closed")["t_s"].as_f64() > closes["t_s"].as_f64());
}

#[test]
fn balance_closes_from_the_printed_numbers() {
    let dir = tempdir().unwrap();
    for args in [&[][..], &["--assembly", "svb-diaphragm"], &["--set", "supply.pressure=3 psi"]] {
        let d = document(dir.path(), args);
        for species in ["water", "air"] {
            let get = |entry: &str| number(&d, &format!("/balance/{species}/{entry}"));
            let change = get("stored_end_kg") - get("stored_start_kg");
            let through = get("in_kg") - get("out_kg") - get("spilled_kg");
            let size = get("stored_start_kg").max(get("in_kg"));
            assert!((change - through).abs() < 1e-9 * size, "{species}: {change} against {through}");
        }
        // Water at 15 degC: 999.10 kg/m3 (IAPWS-95, table of saturated water, from memory).
        let spilled = number(&d, "/spill_m3") + number(&d, "/rebound_spill_m3");
        assert!((999.1 * spilled - number(&d, "/balance/water/spilled_kg")).abs() < 1e-4 * spilled * 999.1 + 1e-9);
    }
}

/// Names of the four orders, from cases whose order is plain: a main at 1 psi cannot lift a check loaded with 1.5 psi,
/// one at 3 psi cannot give the flow that shuts the air inlet.
#[test]
fn practice_orders_and_stops_have_these_names() {
    let dir = tempdir().unwrap();
    let cases: [(&[&str], &str); 4] = [
        (&[], "check-first"),
        (&["--assembly", "svb-diaphragm"], "air-inlet-first"),
        (&["--set", "supply.pressure=3 psi"], "air-inlet-never-closed"),
        (&["--set", "supply.pressure=1 psi"], "check-never-opened"),
    ];
    for (args, order) in cases {
        let d = document(dir.path(), args);
        assert_eq!(d["order"], order);
        assert_eq!(d["spilling_at_end"], order == "air-inlet-never-closed");
        assert!(["settled", "end-time"].contains(&d["stop"].as_str().unwrap()));
    }
    assert_eq!(document(dir.path(), &["--set", "run.end_time=0.2 s"])["stop"], "end-time");
}

#[test]
fn practice_warnings_and_cautions_are_known_ids() {
    let dir = tempdir().unwrap();
    let ids = |d: &Value, list: &str| -> Vec<String> {
        d[list].as_array().unwrap().iter().map(|v| v.as_str().unwrap().to_owned()).collect()
    };
    let demo = document(dir.path(), &[]);
    assert_eq!(ids(&demo, "warnings"), ["one-line-cell"]);
    let all = ["not-a-test-result", "licensed-testers-and-local-code", "pressure-can-stay-trapped", "potable-water"];
    assert_eq!(ids(&demo, "cautions"), all);
    let dry = document(dir.path(), &["--assembly", "svb-diaphragm", "--set", "supply.line_cells=4"]);
    assert!(ids(&dry, "warnings").is_empty());
    assert_eq!(ids(&dry, "cautions"), all[..3]);
    // Nothing open downstream and the water stopped short: the blow is trapped, the line swings down to vapour.
    let shut = ids(&document(dir.path(), &["--set", "shutoff2.open=false"]), "warnings");
    assert!(shut.contains(&"settled-with-trapped-pressure".to_owned()), "{shut:?}");
    assert!(shut.contains(&"line-below-vapour".to_owned()), "{shut:?}");
    // The line rings on behind the shut check: what zone 1 has at the end is one phase of that.
    assert!(shut.contains(&"still-swinging".to_owned()), "{shut:?}");
    let worn = ids(&document(dir.path(), &["--set", "check.load=0.9 psi"]), "warnings");
    assert!(worn.contains(&"low-load".to_owned()), "{worn:?}");
    // Words for people, ids for scripts.
    let output = poppetry(dir.path(), &["sequence", "--set", "shutoff2.open=false"]);
    assert!(stderr(&output).contains("bleed it before opening the body"));
    assert_eq!(stderr(&poppetry(dir.path(), &["sequence", "--quiet", "--set", "shutoff2.open=false"])), "");
    // What is to be known of the line stood in the report, where --quiet did not reach it.
    let plain = poppetry(dir.path(), &["sequence"]);
    assert!(stderr(&plain).contains("one elastic line cell") && !stdout(&plain).contains("one elastic line cell"));
}

#[test]
fn practice_set_overrides_the_last_file_which_overrides_the_first() {
    let dir = tempdir().unwrap();
    fs::write(dir.path().join("body.toml"), "[check]\nload = \"2 psi\"\n").unwrap();
    fs::write(dir.path().join("scene.toml"), "[check]\nload = \"3 psi\"\n").unwrap();
    // The check lifts at its load and friction, 0.05 psi.
    let lifts = |args: &[&str]| number(&document(dir.path(), args), "/statics/check_lifts_pa") / PSI;
    assert!((lifts(&["body.toml"]) - 2.05).abs() < 1e-4);
    assert!((lifts(&["body.toml", "scene.toml"]) - 3.05).abs() < 1e-4);
    assert!((lifts(&["scene.toml", "body.toml"]) - 2.05).abs() < 1e-4);
    let set = ["body.toml", "scene.toml", "--set", "check.load=4 psi"];
    assert!((lifts(&set) - 4.05).abs() < 1e-4);
    assert!((lifts(&["--set", "check.load=4 psi", "--set", "check.load=5 psi", "body.toml"]) - 5.05).abs() < 1e-4);
}

#[test]
fn practice_a_newcomers_walk_gives_what_the_built_in_gives() {
    let dir = tempdir().unwrap();
    let list = stdout(&poppetry(dir.path(), &["assemblies"]));
    for name in ["pvb-spring", "svb-diaphragm"] {
        assert!(list.lines().any(|l| l.starts_with(name)));
        let file = stdout(&poppetry(dir.path(), &["assemblies", name]));
        fs::write(dir.path().join("mine.toml"), file).unwrap();
        let [mut from_file, mut built_in] =
            [&["mine.toml"][..], &["--assembly", name]].map(|args| document(dir.path(), args));
        for d in [&mut from_file, &mut built_in] {
            d["solver"].as_object_mut().unwrap().remove("wall_s").unwrap();
        }
        assert_eq!(from_file, built_in);
    }
    let sized = stdout(&poppetry(dir.path(), &["assemblies", "pvb-spring", "--set", "size=2 in"]));
    assert!(sized.contains("size = \"2 in\"") && sized.contains("# "));
}

/// Names, every field in SI, the comparing figures: what a script needs without reading text.
#[test]
fn practice_assemblies_as_documents() {
    let dir = tempdir().unwrap();
    let document = |args: &[&str]| -> Value {
        let output = poppetry(dir.path(), &[&["assemblies", "--json"], args].concat());
        assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
        serde_json::from_slice(&output.stdout).unwrap()
    };
    let list = document(&[]);
    assert_eq!(list["schema"], "poppetry/assemblies/1");
    assert!(list["assembly"].is_null() && list["warnings"].is_array() && list["cautions"][0] == "not-a-test-result");
    let names: Vec<_> = list["assemblies"].as_array().unwrap().iter().map(|a| a["name"].clone()).collect();
    assert_eq!(names, ["pvb-spring", "pvb-elastomer", "pvb-relief", "svb-diaphragm", "svb-stem"]);

    let one = document(&["svb-diaphragm", "--set", "check.load=2 psi"]);
    let field = |path: &str| one["fields"].as_array().unwrap().iter().find(|f| f["path"] == path).unwrap();
    let load = field("check.load");
    assert!((load["value"].as_f64().unwrap() - 2.0 * 6_894.757).abs() < 0.01);
    assert!(load["unit"] == "Pa" && load["text"] == "2 psi" && load["provenance"] == "given");
    assert!(field("air_inlet.closed_by")["value"] == "diaphragm" && field("supply.trace")["value"].is_null());
    let run = poppetry(dir.path(), &["sequence", "--json", "--assembly", "svb-diaphragm", "--set", "check.load=2 psi"]);
    let run: Value = serde_json::from_slice(&run.stdout).unwrap();
    assert_eq!(run["inputs_sha256"], one["inputs_sha256"]);

    let table = document(&["--table"]);
    let demo: Value = serde_json::from_slice(&poppetry(dir.path(), &["sequence", "--json"]).stdout).unwrap();
    assert_eq!(table["figures"][0]["spill_m3"], demo["spill_m3"]);
    assert!(table["figures"][0]["sequence_margin_pa"].as_f64().unwrap() < 0.0);
    assert!(table["figures"][3]["sequence_margin_pa"].as_f64().unwrap() > 0.0);
    assert!(table["figures"][4]["lap_margin_m"].as_f64().unwrap() > 0.0);
    let si = stdout(&poppetry(dir.path(), &["assemblies", "--table", "--units", "si"]));
    assert!(si.contains("kPa") && !si.contains("15.5 psi") && si.contains("m/s"));
}

#[test]
fn practice_files_are_written_where_asked_and_only_there() {
    let dir = tempdir().unwrap();
    let d = dir.path();
    assert_eq!(poppetry(d, &["sequence", "--json"]).status.code(), Some(0));
    assert!(listing(d).is_empty());
    assert_eq!(poppetry(d, &["sequence"]).status.code(), Some(0));
    let charts = ["sequence-pvb-spring.png", "sequence-pvb-spring.svg", "strip-pvb-spring.png", "strip-pvb-spring.svg"];
    assert_eq!(listing(d), [vec!["output".to_owned()], charts.map(|c| format!("output/{c}")).to_vec()].concat());
    fs::remove_dir_all(d.join("output")).unwrap();
    let asked = ["sequence", "--chart", "sequence=a/order.svg", "--csv", "b/run.csv", "--seed", "7"];
    assert_eq!(poppetry(d, &asked).status.code(), Some(0));
    assert_eq!(listing(d), ["a", "a/order.svg", "b", "b/run.csv"]);
    assert!(fs::read(d.join("a/order.svg")).unwrap().starts_with(b"<svg"));
    let output = poppetry(d, &["sequence", "--json", "--out", "c", "--assembly", "svb-diaphragm"]);
    assert!(serde_json::from_slice::<Value>(&output.stdout).is_ok());
    assert!(fs::read(d.join("c/sequence-svb-diaphragm.png")).unwrap().starts_with(b"\x89PNG"));
    assert!(d.join("c/sequence-svb-diaphragm.svg").is_file());
}

#[test]
fn practice_text_begins_with_the_finding_ends_with_the_caution_and_keeps_to_its_units() {
    let dir = tempdir().unwrap();
    for (units, own, other) in [
        ("us", [" psi", " gpm", " lbf"], [" kPa", " L/min", " N "]),
        ("si", [" kPa", " L/min", " N "], [" psi", " gpm", " lbf"]),
    ] {
        let output = program(dir.path()).args(["sequence", "--units", units]).env("COLUMNS", "80").output().unwrap();
        let text = stdout(&output);
        assert!(text.starts_with("The check opens first: "), "{text}");
        let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(words.ends_with("keep water away from controllers and outlets."), "{words}");
        let caution = text.rfind("\nCaution: ").unwrap();
        assert!(!text[caution + 1..].contains("\n\n"), "something follows the caution");
        assert!(text.lines().all(|l| l.chars().count() <= 80));
        for unit in own {
            assert!(text.contains(unit), "{unit} is missing");
        }
        let chart = fs::read_to_string(dir.path().join("output/sequence-pvb-spring.svg")).unwrap();
        for unit in other {
            assert!(!text.contains(unit), "{unit} in {units} text");
            assert!(!chart.contains(unit), "{unit} in {units} chart");
        }
    }
}

#[test]
fn practice_exit_statuses() {
    let dir = tempdir().unwrap();
    let status = |args: &[&str]| poppetry(dir.path(), args).status.code();
    for args in [&["--help"][..], &["--version"], &["sequence", "--help"], &["assemblies"], &["sequence", "--json"]] {
        assert_eq!(status(args), Some(0), "{args:?}");
    }
    for args in
        [&[][..], &["sequnce"], &["sequence", "--nonsense"], &["sequence", "missing.toml"], &["assemblies", "x"]]
    {
        assert_eq!(status(args), Some(2), "{args:?}");
    }
}

/// A shut-off line swings for minutes; a million seconds of that is beyond any budget of steps.
#[test]
fn practice_a_run_that_cannot_be_completed_is_status_1_and_says_where_it_stands() {
    let dir = tempdir().unwrap();
    let sets = ["run.end_time=1000000 s", "run.tolerance=1e-9", "shutoff2.open=false"];
    let args = ["sequence"].into_iter().chain(sets.into_iter().flat_map(|s| ["--set", s]));
    let output = poppetry(dir.path(), &args.collect::<Vec<_>>());
    assert_eq!(output.status.code(), Some(1));
    let message = stderr(&output);
    assert!(
        message.contains("the run could not be completed") && message.contains("the run stands at t = "),
        "{message}"
    );
    assert!(output.stdout.is_empty() && listing(dir.path()).is_empty());
}

/// `/dev/full` refuses every byte.
#[cfg(target_os = "linux")]
#[test]
fn practice_a_full_standard_output_is_status_1_and_a_closed_one_is_none() {
    use std::process::Stdio;
    let dir = tempdir().unwrap();
    let full = fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
    let output = program(dir.path()).args(["sequence", "--json"]).stdout(full).output().unwrap();
    assert_eq!(output.status.code(), Some(1));
    assert!(stderr(&output).contains("standard output cannot be written"));
    let mut child =
        program(dir.path()).args(["sequence"]).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    drop(child.stdout.take());
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(0));
    assert!(!stderr(&output).contains("panic"), "{}", stderr(&output));
}

#[cfg(unix)]
#[test]
fn practice_an_interrupt_ends_with_130_and_leaves_nothing_half_written() {
    let dir = tempdir().unwrap();
    // The explicit method on a stiff problem: half a minute.
    let long = ["sequence", "--set", "run.method=dormand-prince"];
    let mut child = program(dir.path()).args(long).spawn().unwrap();
    std::thread::sleep(std::time::Duration::from_millis(700));
    assert!(child.try_wait().unwrap().is_none(), "the run was over before it could be interrupted");
    let sent = std::process::Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap();
    assert!(sent.success());
    assert_eq!(child.wait().unwrap().code(), Some(130));
    assert!(listing(dir.path()).is_empty());
}
