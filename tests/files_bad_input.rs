//! Wrong files and values: each is refused with its place, its value and its rule, and none makes the reader panic.
// The helpers outside #[test] functions may stop a test as the tests themselves may.
#![allow(clippy::unwrap_used, clippy::panic)]

use poppetry::assembly::Resolver;
use poppetry::error::{At, Error, FileProblem, Source, nearest, shown};
use poppetry::numerics::Failure;
use std::fs;
use std::path::PathBuf;

fn refused(text: &str) -> Error {
    match Resolver::new().text("body.toml", text).resolve() {
        Ok(_) => panic!("accepted: {text}"),
        Err(error) => error,
    }
}

/// Asserts each part of the message.
fn says(error: &Error, parts: &[&str]) {
    let message = error.to_string();
    for part in parts {
        assert!(message.contains(part), "{part:?} is not in {message:?}");
    }
    assert_eq!(error.exit_code(), 2);
}

#[test]
fn practice_wrong_values_are_refused_with_file_line_field_value_unit_and_rule() {
    let cases: &[(&str, &[&str])] = &[
        ("\ncheck.lod = \"1 psi\"", &["body.toml:2", "no field \"check.lod\"", "did you mean \"check.load\"?"]),
        ("load = \"1 psi\"", &["no field \"load\"", "did you mean \"check.load\"?"]),
        ("[chek]\nload = \"1 psi\"", &["body.toml:1", "no field \"chek\""]),
        ("bas = \"pvb-spring\"", &["did you mean \"base\"?"]),
        (
            "[check]\nload = 2",
            &[
                "body.toml:2: check.load = \"2\"",
                "the unit is missing",
                "psi, bar, kPa",
                "rule: check.load takes a pressure difference such as \"1.5 psi\"",
            ],
        ),
        ("check.load = \"2 psy\"", &["unknown unit \"psy\"", "did you mean \"psi\"?", "accepted: psi, bar"]),
        // A unit of another quantity is not taken for a slip.
        ("check.load = \"3 gpm\"", &["unknown unit \"gpm\"; accepted: psi, bar"]),
        (
            "check.load = \"500 psi\"",
            &["check.load = \"500 psi\": out of range", "rule: check.load must be at least 0 psi and at most 100 psi"],
        ),
        ("check.load = nan", &["check.load = \"nan\": not a finite number"]),
        ("check.load_factor = inf", &["check.load_factor = \"inf\": not a finite number"]),
        ("check.load_factor = 1e400", &["not a finite number"]),
        ("check.load_factor = 6", &["out of range", "at least 0 and at most 5"]),
        ("check.load_factor = \"1 psi\"", &["a plain number is wanted, without the unit \"psi\""]),
        ("check.load = [\"1 psi\"]", &["body.toml:1", "a list where one value belongs"]),
        ("check.load = { valu = \"1 psi\" }", &["no field \"check.load.valu\"", "check.load.value"]),
        ("check.load = { note = \"x\" }", &["a table without a value"]),
        ("check.load = { by_size = [\"1 psi\"] }", &["not a list of 7 values"]),
        ("check.load = { value = \"1 psi\", from = \"guess\" }", &["check.load.from = \"guess\"", "estimate"]),
        ("water.temperature = 1979-05-27", &["a date or time of day where one value belongs"]),
        ("water.temperature = \"50 degC\"", &["out of range", "at most 40 degC"]),
        ("supply.pressure = \"60 psia\"", &["supply.pressure", "\"psia\" is absolute and this field is gauge"]),
        ("supply.pressure = \"100 kPa abs\"", &["\"kPa abs\" is absolute and this field is gauge"]),
        ("ambient.pressure_absolute = \"14.7 psi\"", &["\"psi\" is gauge and this field is absolute", "psia"]),
        (
            "mounting = \"uprihgt\"",
            &["not one of the choices upright, inverted, horizontal", "did you mean \"upright\"?"],
        ),
        ("size = \"5 in\"", &["size = \"5 in\"", "3/8 in, 1/2 in, 3/4 in, 1 in, 1-1/4 in, 1-1/2 in, 2 in"]),
        ("canopy.fitted = \"yes\"", &["not one of the choices true, false"]),
        ("shutoff2.open = 1.5", &["out of range", "at least 0 and at most 1"]),
        ("supply.line_cells = 1.5", &["a whole number is wanted"]),
        ("zone1.compliance = \"0 mL/psi\"", &["out of range", "above 0 mL/psi"]),
        ("zone1.residual_air = 0", &["out of range", "above 0 and below 0.5"]),
        ("zone1.residual_air = 0.5", &["out of range"]),
        ("run.end_time = \"soon\"", &["run.end_time = \"soon\"", "or \"auto\""]),
        ("zone1.initial = \"full\"", &["\"empty\", \"brimful\" or a volume of water"]),
        (
            "base = \"pvb-sprung\"",
            &[
                "body.toml:1: there is no built-in assembly \"pvb-sprung\"",
                "did you mean \"pvb-spring\"?",
                "known: pvb-spring, pvb-elastomer, pvb-relief, svb-diaphragm, svb-stem",
            ],
        ),
        ("base = 3", &["base = \"3\"", "a text in quotes"]),
    ];
    for (text, parts) in cases {
        says(&refused(text), parts);
    }
}

#[test]
fn practice_values_that_do_not_go_together_are_refused_by_a_named_rule() {
    let cases: &[(&str, &[&str])] = &[
        (
            "\n\nzone1.initial = \"100 mL\"",
            &["body.toml:3", "zone1.initial = 100 mL", "zone1.volume = 60 mL", "[water-fits]", "brimful"],
        ),
        ("load_side.initial = \"61 mL\"", &["[water-fits]", "load_side.volume = 60 mL"]),
        ("supply.pressure = \"-14.7 psi\"", &["[above-absolute-zero]", "supply.pressure = -14.7 psi", "14.7 psia"]),
        (
            "ambient.pressure_absolute = \"60 kPa abs\"\nzone2.initial_pressure = \"20 inHg vac\"",
            &["[above-absolute-zero]", "zone2.initial_pressure = 20 inHg vac"],
        ),
        (
            "check.seat_diameter = \"3 in\"",
            &["[seat-within-body]", "check.seat_diameter = 3 in", "shutoff1.bore = 1.049 in"],
        ),
        ("check.port_diameter = \"1.2 in\"", &["[port-within-seat]", "check.seat_diameter = 1.05 in"]),
        (
            "check.load = \"2 psi\"\ncheck.load_curve = \"curve.csv\"",
            &[
                "[load-or-curve]",
                "check.load = 2 psi",
                "check.load_curve = curve.csv",
                "give either check.load and check.load_rate, or check.load_curve",
            ],
        ),
        ("check.load_rate = \"2 N/mm\"\ncheck.load_curve = \"curve.csv\"", &["[load-or-curve]"]),
    ];
    for (text, parts) in cases {
        says(&refused(text), parts);
    }
    let error =
        Resolver::new().assembly("pvb-spring").text("a.toml", "base = \"svb-diaphragm\"").resolve().unwrap_err();
    says(&error, &["a.toml:1", "[one-base]", "base = svb-diaphragm", "--assembly pvb-spring"]);
}

#[test]
fn practice_text_that_is_not_toml_is_refused_with_its_line() {
    let cases: &[(&str, &[&str])] = &[
        ("\n[check\nload = 1", &["body.toml:2", "not TOML"]),
        ("check.load = ", &["body.toml:1", "not TOML"]),
        ("check.load = \"1 psi\"\ncheck.load = \"2 psi\"", &["body.toml:2", "duplicate key", "load"]),
        ("\"check.load\" = \"1 psi\"\ncheck.load = \"2 psi\"", &["duplicate key", "check.load"]),
        ("[check]\n[check]\n", &["body.toml:2", "duplicate key"]),
        ("check = 3", &["check is a group of fields"]),
        ("[[check]]\nload = \"1 psi\"", &["check is a group of fields"]),
        (
            "check.load = { value = \"1 psi\", by_size = [\"1\",\"1\",\"1\",\"1\",\"1\",\"1\",\"1\"] }",
            &["exclude each other"],
        ),
        ("\u{7}x = 1", &["body.toml:1", "not TOML"]),
    ];
    for (text, parts) in cases {
        says(&refused(text), parts);
    }
}

#[test]
fn bug_twenty_thousand_brackets_or_dots_do_not_overflow_the_stack() {
    let deep = 20_000;
    let cases = [
        format!("x = {}1{}", "[".repeat(deep), "]".repeat(deep)),
        format!("x = {}", "[".repeat(deep)),
        format!("x = {}", "{a=".repeat(deep)),
        format!("x = {}", "[{a=".repeat(deep)),
        format!("{} = 1", vec!["a"; deep].join(".")),
        format!("[{}]", vec!["a"; deep].join(" . ")),
        format!("[{}]", vec!["\"a\""; deep].join(".")),
        format!("x = \"\\\"\" \ny = {}", "[".repeat(deep)),
        format!("x = '''\n''' \ny = {}", "[".repeat(deep)),
        format!("x = \"unclosed\ny = {}", "[".repeat(deep)),
    ];
    for text in cases {
        let error = refused(&text);
        assert!(matches!(error, Error::Syntax { .. }), "{error}");
        says(&error, &["nested deeper than 16"]);
    }
    // Brackets inside strings and comments are not nesting.
    let fine = format!("# {0}\ncheck.load = {{ value = \"1 psi\", note = \"{0}\" }}\n", "[".repeat(100));
    assert!(Resolver::new().text("a.toml", &fine).resolve().is_ok());
}

#[test]
fn practice_sets_are_refused_like_files() {
    let refused = |set: &str| Resolver::new().set(set).resolve().unwrap_err();
    says(&refused("check.load"), &["--set", "PATH=VALUE is wanted, not \"check.load\""]);
    says(&refused("check.lode=1 psi"), &["--set: there is no field \"check.lode\"", "did you mean \"check.load\"?"]);
    says(&refused("check.load=1"), &["--set: check.load = \"1\"", "the unit is missing"]);
    says(&refused("check.load="), &["--set: check.load", "the value is empty"]);
    says(&refused("=1 psi"), &["--set: there is no field \"\""]);
    says(&refused(&format!("check.load={}", "9".repeat(100_000))), &["too long", "more characters"]);
    assert!(refused(&"x".repeat(1_000_000)).to_string().len() < 1000);
    assert!(Resolver::new().set("check.load=\"2 psi\"").resolve().is_ok());
}

/// Both were told only that no such file exists, which says nothing of what was meant.
#[test]
fn bug_a_built_in_given_as_a_file_and_a_set_without_its_sign_are_told_apart_from_a_missing_file() {
    let refused = |resolver: Resolver| resolver.resolve().unwrap_err();
    says(&refused(Resolver::new().file("pvb-spring")), &["pvb-spring: no such file", "--assembly pvb-spring"]);
    says(&refused(Resolver::new().file("40psi").set("supply.pressure")), &["PATH=VALUE is wanted"]);
    let missing = refused(Resolver::new().file("nothing.toml")).to_string();
    assert!(missing.ends_with("nothing.toml: no such file"), "{missing}");
}

/// Put in twice it went beyond the worst end of its range.
#[test]
fn bug_a_fault_is_put_in_once() {
    let twice = Resolver::new().fault("check-debris=0.5").fault("check-spring-weak=0.1").fault("check-debris");
    says(&twice.resolve().unwrap_err(), &["--fault check-debris", "put in once"]);
}

/// A complete file fixes all dimensions, so that a size of the moment changed the label and nothing else.
#[test]
fn bug_a_size_that_changes_nothing_but_its_name_is_refused() {
    let complete = Resolver::new().assembly("pvb-spring").resolve().unwrap().to_toml();
    let sized = |text: &str| Resolver::new().text("mine.toml", text).set("size=2 in").resolve();
    says(&sized(&complete).unwrap_err(), &["--set", "size", "every dimension"]);
    assert!(sized("base = \"pvb-spring\"\ncheck.load = \"2 psi\"\n").is_ok());
}

#[test]
fn practice_files_that_cannot_be_read_are_refused_with_the_reason() {
    let dir = tempfile::tempdir().unwrap();
    let at = |name: &str| dir.path().join(name);
    let read = |path: PathBuf| Resolver::new().file(path).resolve().unwrap_err();
    says(&read(dir.path().to_path_buf()), &["this is a directory"]);
    says(&read(at("none.toml")), &["none.toml", "no such file"]);
    fs::write(at("empty.toml"), "").unwrap();
    says(&read(at("empty.toml")), &["empty.toml: the file is empty"]);
    fs::write(at("blank.toml"), " \n\n").unwrap();
    says(&read(at("blank.toml")), &["the file is empty"]);
    fs::write(at("bytes.toml"), b"size = \"1 in\"\n\xff\xfe").unwrap();
    says(&read(at("bytes.toml")), &["not UTF-8 text (first bad byte at offset 14)"]);
    fs::File::create(at("huge.toml")).unwrap().set_len(11 * 1024 * 1024).unwrap();
    let error = read(at("huge.toml"));
    says(&error, &["the file has 11534336 bytes; the limit is 10485760"]);
    assert!(matches!(error, Error::File { problem: FileProblem::TooLarge { .. }, .. }));
    fs::write(at("mark.toml"), "\u{feff}check.load = \"2 psi\"\r\n").unwrap();
    let settings = Resolver::new().file(at("mark.toml")).resolve().unwrap();
    assert_eq!(settings.get("check.load").unwrap().at.line, Some(1));
    fs::write(at("scene.toml"), "\ncheck.load_curve = \"gone.csv\"\n").unwrap();
    says(&read(at("scene.toml")), &["gone.csv: no such file", "named by check.load_curve at", "scene.toml:2"]);
}

#[cfg(unix)]
#[test]
fn bug_an_endless_device_is_refused_by_its_length() {
    let error = Resolver::new().file("/dev/zero").resolve().unwrap_err();
    assert!(matches!(error, Error::File { problem: FileProblem::TooLarge { bytes: None, .. }, .. }), "{error}");
    // It has no size that could be told.
    says(&error, &["/dev/zero: the file has too many bytes; the limit is 10485760"]);
}

#[test]
fn practice_messages_show_no_control_characters_and_stay_short() {
    let nasty = format!("\u{1b}[31m\u{202e}\n{}", "x".repeat(10_000));
    let message = refused(&format!("mounting = {}", toml::Value::String(nasty.clone()))).to_string();
    assert!(message.len() < 600, "{}", message.len());
    assert!(!message.contains('\u{1b}') && !message.contains('\u{202e}'));
    assert!(message.contains("\\u{1b}[31m\\u{202e}\\n"));
    assert!(shown(&nasty).ends_with("more characters)"));
    let path = At::whole(Source::File(PathBuf::from("a\nb\u{1b}.toml"))).line(3);
    assert_eq!(path.to_string(), "a\\nb\\u{1b}.toml:3");
    assert_eq!(nearest("supply.presure", ["supply.pressure", "size"]).as_deref(), Some("supply.pressure"));
    assert_eq!(nearest("quite another thing", ["size"]), None);
    assert_eq!(nearest(&"x".repeat(1_000_000), ["size"]), None);
}

#[test]
fn practice_only_a_run_that_fails_exits_with_one() {
    let run = Error::Run(Failure::NotFinite { t_s: 0.25, variable: "zone1_water_kg".to_string() });
    assert_eq!(run.exit_code(), 1);
    assert_eq!(run.to_string(), "the run could not be completed: zone1_water_kg is not finite at t = 0.250000 s");
}

#[test]
fn bug_no_file_text_makes_the_reader_panic() {
    let pieces = [
        "check",
        "load",
        ".",
        "=",
        "\"1 psi\"",
        "[",
        "]",
        "{",
        "}",
        "\n",
        ",",
        "#",
        "'",
        "\"\"\"",
        "'''",
        "\\",
        "1e9",
        "nan",
        "value",
        "by_size",
        "base",
        "size",
        "\u{0}",
        "\u{1f4a7}",
        "zone1",
        "initial",
        "true",
        "1979-05-27",
        " ",
        "\r",
    ];
    let mut state = 99_u64;
    let mut next = || {
        state = state.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
        (state >> 33) as usize
    };
    for _ in 0..20_000 {
        let length = next() % 16;
        let text: String = (0..length).map(|_| pieces[next() % pieces.len()]).collect();
        if let Err(error) = Resolver::new().text("fuzz.toml", &text).resolve() {
            assert!(error.to_string().len() < 2000);
        }
    }
}
