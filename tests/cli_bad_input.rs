//! Wrong command lines and files, given to the real program: each ends with status 2, says what is wrong, and writes nothing.
// The helpers outside #[test] functions may stop a test as the tests themselves may.
#![allow(clippy::unwrap_used, clippy::panic)]

mod cli;

use cli::{listing, poppetry, stderr};
use std::ffi::{OsStr, OsString};
use std::fs;
use std::path::Path;
use tempfile::tempdir;

/// Runs in `dir` and asserts status 2, parts of the message, silence on standard output, and that nothing was written.
fn refused<S: AsRef<OsStr>>(dir: &Path, args: &[S], parts: &[&str]) {
    let before = listing(dir);
    let output = poppetry(dir, args);
    let message = stderr(&output);
    let shown: Vec<_> = args.iter().map(|a| a.as_ref().to_string_lossy()).collect();
    assert_eq!(output.status.code(), Some(2), "{shown:?}: {message}");
    assert!(message.starts_with("error: "), "{shown:?}: {message}");
    for part in parts {
        assert!(message.contains(part), "{shown:?}: {part:?} is not in {message:?}");
    }
    assert!(output.stdout.is_empty(), "{shown:?}");
    assert_eq!(listing(dir), before, "{shown:?} wrote something");
    assert!(!message.contains('\u{1b}'), "{shown:?}");
}

#[test]
fn practice_bad_values_are_refused_with_place_value_and_rule() {
    let dir = tempdir().unwrap();
    let cases: &[(&str, &[&str])] = &[
        ("check.load=2 m", &["--set: check.load = \"2 m\"", "unknown unit \"m\"", "psi"]),
        ("check.load=2", &["the unit is missing"]),
        ("supply.pressure=60 psia", &["\"psia\" is absolute and this field is gauge"]),
        ("ambient.pressure_absolute=14.7 psi", &["gauge and this field is absolute"]),
        ("zone1.volume=-60 mL", &["out of range", "at least 1 mL"]),
        ("check.lift=-1 mm", &["out of range"]),
        ("size=-1 in", &["size = \"-1 in\"", "3/4 in"]),
        ("check.load=nan psi", &["not a finite number"]),
        ("check.load=NaN", &["check.load"]),
        ("supply.pressure=inf psi", &["not a finite number"]),
        ("check.load_factor=1e999", &["not a finite number"]),
        ("check.seat_diameter=4 in", &["seat-within-body", "twice the bore"]),
        ("zone2.compliance=0 mL/psi", &["out of range", "above 0 mL/psi"]),
        ("supply.pressure=-20 psi", &["supply.pressure"]),
        ("zone2.initial=2 L", &["water-fits"]),
        ("run.end_time=0 s", &["above 0 s"]),
        ("supply.line_wave_speed=1490 m/s", &["speed of sound"]),
        ("check.lod=2 psi", &["no field \"check.lod\"", "did you mean \"check.load\"?"]),
        ("check.load", &["PATH=VALUE is wanted"]),
        ("=2 psi", &["no field \"\""]),
        ("", &["PATH=VALUE is wanted"]),
        ("check.load=", &["the value is empty"]),
        ("check.load==2 psi", &["no number"]),
        ("check=2 psi", &["\"check\""]),
        ("check.load=\u{1b}[31mred", &["\\u{1b}"]),
        ("base=svb-diaphragm", &["base"]),
    ];
    for (set, parts) in cases {
        refused(dir.path(), &["sequence", "--set", set], parts);
        // The wall of the line is worked out when a run is set up, not when the file is read.
        if !set.contains("wave_speed") {
            refused(dir.path(), &["assemblies", "pvb-spring", "--set", set], parts);
        }
    }
}

/// Constructions whose parts do not go together, by their dimensions.
#[test]
fn practice_parts_that_do_not_fit_are_refused_with_field_and_rule() {
    let dir = tempdir().unwrap();
    let elastomer: &[&str] = &["--assembly", "pvb-elastomer", "--set"];
    let stem: &[&str] = &["--assembly", "svb-stem", "--set"];
    let relief: &[&str] = &["--assembly", "pvb-relief", "--set"];
    for (assembly, set, parts) in [
        (elastomer, "air_inlet.lip_thickness=12 mm", ["[lip-fits]", "thicker than its gap"]),
        (elastomer, "air_inlet.lip_outer_diameter=20 mm", ["[lip-fits]", "root must lie inside"]),
        (elastomer, "air_inlet.lip_preload=20 mm", ["[lip-rolls]", "roll"]),
        (elastomer, "air_inlet.pocket_water=5 mL", ["[pocket-holds]", "air_inlet.pocket_water = 5 mL"]),
        (stem, "air_inlet.lap=0.6 in", ["[lap-within-stroke]", "0.54 in"]),
        (stem, "air_inlet.lap=-0.3 in", ["[lap-within-stroke]", "-0.22 in"]),
        (stem, "air_inlet.zone1_share=1.2", ["air_inlet.zone1_share", "at least 0 and at most 1"]),
        (relief, "check.load=9 psi", ["[coils-fit]", "the coils do not fit"]),
        (relief, "check.spring_small_diameter=30 mm", ["[coils-taper]", "smaller than the largest"]),
        (relief, "check.spring_wire=9.9 mm", ["[coils-fit]", "twice their wire"]),
        (relief, "relief.bore=0 mm", ["relief.bore", "at least"]),
    ] {
        let args: Vec<&str> = ["sequence"].iter().chain(assembly).copied().chain([set]).collect();
        refused(dir.path(), &args, &parts);
    }
    // A spring by its dimensions must carry the part's weight and not go solid.
    let by_wire = ["sequence", "--set", "check.load_rate=by-geometry", "--set"];
    for (set, part) in
        [("check.load=0.001 psi", "[load-carries-weight]"), ("check.spring_free_length=20 mm", "[coils-fit]")]
    {
        let args: Vec<&str> = by_wire.iter().copied().chain([set]).collect();
        refused(dir.path(), &args, &[part, "check."]);
    }
}

/// The place named was one in a built-in that nobody had touched, and the field that decided was not named.
#[test]
fn bug_a_refusal_names_what_the_user_wrote() {
    let dir = tempdir().unwrap();
    for (args, parts) in [
        (
            &["sequence", "--set", "air_inlet.loading=elastomer", "--set", "air_inlet.lip_root_diameter=45.7677 mm"][..],
            &["--set: air_inlet.lip_root_diameter = 45.7677 mm", "[lip-fits]", "air_inlet.lip_thickness"][..],
        ),
        (
            &["sequence", "--assembly", "pvb-elastomer", "--set", "air_inlet.lift=20 mm"],
            &["--set: air_inlet.lift = 20 mm", "[lip-rolls]"],
        ),
        (
            &["sequence", "--set", "check.spring=conical", "--set", "check.spring_active_coils=40"],
            &["--set: check.spring = conical and check.spring_active_coils = 40", "[coils-fit]"],
        ),
        (
            &["siphon", "--set", "siphon.scene=backpressure"],
            &["--set: siphon.scene = backpressure and load_side.height", "[backpressure-from]"],
        ),
        (&["tolerance", "--base", "100000"], &["--base: variance shares need 1 to 65536 base points, not 100000"]),
        (&["tolerance", "--replicates", "100000"], &["--replicates", "10000"]),
    ] {
        refused(dir.path(), args, parts);
    }
}

/// Zone 2 is measured with the check shut; its disc, opening, takes its place there. By hand at 1 in: pi/4 (1.05 in)2 x
/// 0.32 in = 4.54 mL. A zone below that ran out of volume in mid-stroke, and the run out of steps.
#[test]
fn bug_a_zone_that_the_check_fills_is_refused() {
    let dir = tempdir().unwrap();
    for command in ["sequence", "siphon", "field-test", "freeze"] {
        for volume in ["1 mL", "2 mL", "4.5 mL"] {
            let set = format!("zone2.volume={volume}");
            let place =
                format!("--set: check.lift = 0.32 in and check.seat_diameter = 1.05 in and zone2.volume = {volume}");
            let parts = [place.as_str(), "[zone-holds-parts]", "4.54 mL"];
            refused(dir.path(), &[command, "--set", &set], &parts);
        }
    }
    for (set, size) in [("zone2.volume=4.6 mL", "size=1 in"), ("zone2.volume=1 mL", "size=3/8 in")] {
        for command in ["sequence", "siphon", "field-test"] {
            let output = poppetry(dir.path(), &[command, "--set", set, "--set", size, "--json", "--quiet"]);
            assert_eq!(output.status.code(), Some(0), "{command} {set}: {}", stderr(&output));
        }
    }
}

#[test]
fn practice_bad_command_lines_are_refused() {
    let dir = tempdir().unwrap();
    fs::write(dir.path().join("in the way"), "a file").unwrap();
    fs::create_dir(dir.path().join("folder.svg")).unwrap();
    fs::write(dir.path().join("mine.toml"), "[supply]\npressure = \"50 psi\"\n").unwrap();
    let cases: &[(&[&str], &[&str])] = &[
        (&["sequence", "--units", "metric"], &["metric", "us, si"]),
        (&["sequence", "--seed", "-1"], &["--seed"]),
        (&["sequence", "--seed", "99999999999999999999"], &["--seed"]),
        (&["sequence", "--assembly", "pvb-sprung"], &["no built-in assembly \"pvb-sprung\"", "\"pvb-spring\"?"]),
        (
            &["assemblies", "pvb"],
            &["no built-in assembly \"pvb\"", "known: pvb-spring, pvb-elastomer, pvb-relief, svb-diaphragm, svb-stem"],
        ),
        (&["assemblies", "--set", "size=1 in"], &["NAME"]),
        (&["sequence", "--set"], &["--set"]),
        (&["sequence", "--frobnicate"], &["--frobnicate"]),
        (&["sequnce"], &["sequnce", "sequence"]),
        (&["sequence", "--chart", "sequence"], &["NAME=FILE is wanted"]),
        (
            &["sequence", "--chart", "sequenze=a.svg"],
            &["no chart \"sequenze\"", "did you mean \"sequence\"?", "known: sequence"],
        ),
        (&["sequence", "--chart", "curves=a.svg"], &["no chart \"curves\"", "known: sequence"]),
        (&["sequence", "--chart", "sequence=a.pdf"], &["a.pdf", ".svg or .png"]),
        (
            &[
                "sequence",
                "--against",
                "svb-stem",
                "--against",
                "pvb-relief",
                "--against",
                "svb-diaphragm",
                "--chart",
                "movie=a.gif",
            ],
            &["--chart", "up to 3", "not 4"],
        ),
        (&["sequence", "--chart", "sequence=a"], &[".svg or .png"]),
        (&["sequence", "--chart", "sequence="], &[".svg or .png"]),
        (&["sequence", "--chart", "sequence=folder.svg"], &["folder.svg: cannot be written", "a folder has this name"]),
        (&["sequence", "--out", "in the way"], &["in the way is a file, not a folder"]),
        (&["sequence", "--out", "in the way/below"], &["in the way is a file, not a folder"]),
        (&["sequence", "--csv", "in the way/run.csv"], &["in the way is a file, not a folder"]),
        (&["sequence", "--csv", "."], &["a folder, not a file"]),
        (&["sequence", "--csv", "new/"], &["a folder, not a file"]),
        (&["sequence", "--csv", ""], &["--csv"]),
        (&["sequence", "--csv", "-"], &["name a file"]),
        (&["sequence", "--csv", "x.svg", "--chart", "sequence=./x.svg"], &["which this run writes too"]),
        (&["sequence", "--csv", "x.svg/a.csv", "--chart", "sequence=x.svg"], &["which this run writes too"]),
        (&["sequence", "mine.toml", "--csv", "mine.toml"], &["would overwrite mine.toml, which this run reads"]),
        // Nothing is written although the first two destinations are sound.
        (&["sequence", "--csv", "in the way/run.csv", "--out", "fine"], &["in the way"]),
    ];
    for (args, parts) in cases {
        refused(dir.path(), args, parts);
    }
    refused(dir.path(), &["sequence", "--csv", &"a".repeat(300)], &["cannot be written", "name too long"]);
    refused(dir.path(), &["sequence", &"b".repeat(5000)], &["cannot be read"]);
}

#[test]
fn practice_bad_files_are_refused() {
    let dir = tempdir().unwrap();
    let d = dir.path();
    let write = |name: &str, bytes: &[u8]| fs::write(d.join(name), bytes).unwrap();
    fs::create_dir(d.join("folder")).unwrap();
    write("empty.toml", b"");
    write("blank.toml", b" \n\t\n");
    write("latin.toml", b"# caf\xe9\n");
    write("deep.toml", format!("check.load = {}", "[".repeat(20_000)).as_bytes());
    write("tables.toml", "[a".repeat(20_000).as_bytes());
    write("absolute.toml", b"[supply]\npressure = \"60 psia\"\n");
    write("both.toml", b"[check]\nload = \"1.5 psi\"\nload_curve = \"good.csv\"\n");
    write("good.csv", b"travel [mm],force [N]\n0,6\n5,7\n9,8\n");
    write("back.toml", b"check.load_curve = \"back.csv\"\n");
    write("back.csv", b"travel [mm],force [N]\n0,6\n5,7\n4,7\n9,8\n");
    write("bare.toml", b"check.load_curve = \"bare.csv\"\n");
    write("bare.csv", b"travel,force\n0,6\n5,7\n9,8\n");
    write("short.toml", b"check.load_curve = \"short.csv\"\n");
    write("short.csv", b"travel [mm],force [N]\n0,6\n1,7\n2,8\n");
    write("gone.toml", b"check.load_curve = \"gone.csv\"\n");
    let sparse = fs::File::create(d.join("sparse.toml")).unwrap();
    sparse.set_len(1 << 30).unwrap();
    let cases: &[(&str, &[&str])] = &[
        ("missing.toml", &["missing.toml: no such file"]),
        ("folder", &["folder: this is a directory"]),
        ("empty.toml", &["empty.toml: the file is empty"]),
        ("blank.toml", &["the file is empty"]),
        ("latin.toml", &["latin.toml: not UTF-8 text (first bad byte at offset 5)"]),
        ("sparse.toml", &["1073741824 bytes"]),
        ("deep.toml", &["deep.toml"]),
        ("tables.toml", &["tables.toml"]),
        ("absolute.toml", &["absolute.toml:2: supply.pressure", "absolute and this field is gauge"]),
        ("both.toml", &["both.toml", "load-or-curve"]),
        ("back.toml", &["back.csv:4", "double back"]),
        ("bare.toml", &["bare.csv:1", "\"travel\" has no unit"]),
        ("short.toml", &["curve-covers-lift"]),
        ("gone.toml", &["gone.csv: no such file", "named by check.load_curve at gone.toml:1"]),
    ];
    for (file, parts) in cases {
        refused(d, &["sequence", file], parts);
    }
    refused(d, &["sequence", "--set", "check.load_curve=good.csv", "--csv", "good.csv"], &["which this run reads"]);
}

#[cfg(unix)]
#[test]
fn practice_arguments_that_are_no_text_are_refused() {
    use std::os::unix::ffi::OsStringExt;
    let dir = tempdir().unwrap();
    let broken = OsString::from_vec(b"bad\xff\xfe".to_vec());
    let word = OsString::from;
    refused(dir.path(), std::slice::from_ref(&broken), &[]);
    refused(dir.path(), &[word("sequence"), word("--set"), broken.clone()], &[]);
    refused(dir.path(), &[word("sequence"), word("--chart"), broken.clone()], &[]);
    refused(dir.path(), &[word("sequence"), broken], &["no such file"]);
}

#[cfg(unix)]
#[test]
fn practice_devices_and_pipes_are_not_replaced() {
    use std::os::unix::fs::FileTypeExt;
    let dir = tempdir().unwrap();
    refused(dir.path(), &["sequence", "--csv", "/dev/null"], &["device or pipe"]);
    assert!(fs::metadata("/dev/null").unwrap().file_type().is_char_device());
    // A link to a file is followed, not replaced.
    fs::write(dir.path().join("real.csv"), "old").unwrap();
    std::os::unix::fs::symlink("real.csv", dir.path().join("link.csv")).unwrap();
    assert_eq!(poppetry(dir.path(), &["sequence", "--json", "--csv", "link.csv"]).status.code(), Some(0));
    assert!(fs::symlink_metadata(dir.path().join("link.csv")).unwrap().is_symlink());
    assert!(fs::read_to_string(dir.path().join("real.csv")).unwrap().starts_with("t_s,"));
}

/// A table named as standard output took the document's place when that was a file.
#[cfg(unix)]
#[test]
fn bug_a_file_that_is_standard_output_is_refused() {
    let dir = tempdir().unwrap();
    let out = fs::File::create(dir.path().join("said.json")).unwrap();
    let output = std::process::Command::new(env!("CARGO_BIN_EXE_poppetry"))
        .args(["curves", "--json", "--csv", "/dev/stdout"])
        .current_dir(dir.path())
        .stdout(out)
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert!(stderr(&output).contains("where standard output goes"), "{}", stderr(&output));
}

/// Right input and a disk that takes no more: that is no wrong input.
#[cfg(unix)]
#[test]
fn bug_a_table_that_does_not_fit_the_disk_ends_with_one() {
    let dir = tempdir().unwrap();
    let line =
        format!("trap '' XFSZ; ulimit -f 8; exec '{}' curves --csv t.csv --json", env!("CARGO_BIN_EXE_poppetry"));
    let output = std::process::Command::new("sh").args(["-c", &line]).current_dir(dir.path()).output().unwrap();
    assert_eq!(output.status.code(), Some(1), "{}", stderr(&output));
    assert!(stderr(&output).contains("could not be written") && listing(dir.path()).is_empty(), "{}", stderr(&output));
}

/// Arguments put together at random from words that are nearly right: no status but 0, 1 and 2, and no panic.
#[test]
fn practice_random_arguments_never_panic() {
    const WORDS: [&str; 34] = [
        "sequence",
        "assemblies",
        "pvb-spring",
        "--assembly",
        "svb-diaphragm",
        "--set",
        "--set=",
        "--units",
        "si",
        "--quiet",
        "--seed",
        "0",
        "-1",
        "",
        "=",
        "--",
        "-",
        "--help",
        "--json",
        "--chart",
        "sequence=",
        "sequence=x.svg/",
        "--version",
        "check.load=2 psi",
        "check.load=-0 psi",
        "size=3/8 in",
        "supply.pressure=-14 psi",
        "zone1.initial=\u{0}",
        "\u{202e}",
        "check.load=1e300 psi",
        "air_inlet.zone2_share=0",
        "run.end_time=1e-3 s",
        "check.load=1/0 psi",
        "..",
    ];
    let mut state: u64 = 1;
    let mut random = |below: usize| {
        // Constants of a 64-bit linear congruential generator (Knuth, MMIX).
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) as usize % below
    };
    let mut statuses = [0; 3];
    for _ in 0..3000 {
        let mut args = vec!["poppetry"];
        // Half of them begin soundly, so that more than the first word is tried; documents write no charts.
        if random(2) == 0 {
            args.extend(["sequence", "--json"]);
        } else if random(2) == 0 {
            args.extend(["assemblies"]);
        }
        args.extend((0..random(5)).map(|_| WORDS[random(WORDS.len())]));
        if args.contains(&"sequence") && !args.contains(&"--json") {
            continue;
        }
        let (mut out, mut err) = (Vec::new(), Vec::new());
        let status = poppetry::cli::run(&args, &mut out, &mut err, 96);
        assert!(status <= 2, "{args:?}");
        assert!(status == 0 || out.is_empty(), "{args:?}");
        assert!(status == 0 || !err.is_empty(), "{args:?}");
        statuses[usize::from(status)] += 1;
    }
    assert!(statuses[0] > 50 && statuses[2] > 500, "{statuses:?}");
}

/// Every field with values that no field takes.
#[test]
fn practice_no_field_takes_nonsense() {
    for field in poppetry::assembly::fields::fields() {
        for value in
            ["nan", "inf", "-inf psi", "1e400 m", "psi", "1 furlong", "\u{1b}[2J", "99999999999999999999999 kg", "0/0"]
        {
            let set = format!("{}={value}", field.path);
            let (mut out, mut err) = (Vec::new(), Vec::new());
            let status = poppetry::cli::run(["poppetry", "sequence", "--json", "--set", &set], &mut out, &mut err, 96);
            assert_eq!(status, 2, "{set}: {}", String::from_utf8_lossy(&err));
        }
    }
}
