//! Studies by the real program: the same bytes whatever the threads, the shards and the kills; nothing lost when it stops.
// The helpers outside #[test] functions may stop a test as the tests themselves may.
#![allow(clippy::unwrap_used, clippy::panic)]

mod cli;

use cli::{listing, poppetry, program, stderr, stdout};
use std::fs;
use std::path::Path;
use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};
use tempfile::tempdir;

/// 24 x 15 runs to the check's first closing that record a word and a number. Both ends of the second axis lie outside what
/// the field takes, so that 48 rows say why they failed.
const STUDY: [&str; 15] = [
    "sweep",
    "--assembly",
    "svb-diaphragm",
    "--set",
    "shutoff2.open=false",
    "--vary",
    "check.load=0.9:2.4:24 psi",
    "--vary",
    "zone1.residual_air=0:0.52:15",
    "--until",
    "check-closed",
    "--record",
    "sequence.order",
    "--record",
    "sequence.spill_m3",
];

fn study(dir: &Path, more: &[&str]) -> Output {
    poppetry(dir, &[&STUDY[..], more].concat())
}

fn table(dir: &Path, name: &str, more: &[&str]) -> Vec<u8> {
    let output = study(dir, &[more, &["--csv", name]].concat());
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    fs::read(dir.join(name)).unwrap()
}

#[test]
fn practice_one_and_many_threads_give_the_same_bytes() {
    let dir = tempdir().unwrap();
    let one = table(dir.path(), "one.csv", &["--threads", "1"]);
    let text = String::from_utf8(one.clone()).unwrap();
    assert_eq!(text.lines().count(), 1 + 24 * 15);
    assert!(text.starts_with("run,check.load [Pa],zone1.residual_air,sequence.order,sequence.spill_m3,failed\n"));
    assert!(text.lines().nth(1).unwrap().starts_with("1,"));
    // Rows outside the range say why.
    let failed = text.lines().skip(1).filter(|l| l.contains("out of range")).count();
    assert_eq!(failed, 48);
    for threads in ["2", "5"] {
        assert_eq!(one, table(dir.path(), "many.csv", &["--threads", threads]), "{threads}");
    }
    // Nothing is left beside the tables and charts.
    assert!(
        listing(dir.path()).iter().all(|f| !f.contains("journal") && !f.starts_with('.')),
        "{:?}",
        listing(dir.path())
    );
}

#[test]
fn practice_sixteen_shards_merge_to_the_bytes_of_one_study() {
    let dir = tempdir().unwrap();
    let d = dir.path();
    let whole = table(d, "whole.csv", &[]);
    let mut shards = Vec::new();
    for part in (1..=16).rev() {
        let output = study(d, &["--shard", &format!("{part}/16"), "--csv", "part.csv"]);
        assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
        shards.push(format!("part.{part}-of-16.shard"));
    }
    let merge = |shards: &[String]| {
        let mut args = vec!["sweep", "--csv", "merged.csv", "--merge"];
        args.extend(shards.iter().map(String::as_str));
        poppetry(d, &args)
    };
    let output = merge(&shards);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    assert_eq!(whole, fs::read(d.join("merged.csv")).unwrap());
    fs::remove_file(d.join("merged.csv")).unwrap();
    let refused = |shards: &[String], parts: &[&str]| {
        let output = merge(shards);
        assert_eq!(output.status.code(), Some(2));
        for part in parts {
            assert!(stderr(&output).contains(part), "{part:?} is not in {}", stderr(&output));
        }
        assert!(!d.join("merged.csv").exists());
    };
    // Missing, twice, of another study, cut short, no shard at all.
    refused(&shards[1..], &["16/16", "missing"]);
    refused(&[&shards[..], &shards[3..4]].concat(), &["given twice"]);
    let other = poppetry(
        d,
        &[&STUDY[..], &["--set", "supply.pressure=50 psi", "--shard", "1/16", "--csv", "other.csv"]].concat(),
    );
    assert_eq!(other.status.code(), Some(0), "{}", stderr(&other));
    let wrong = [&shards[..15], &["other.1-of-16.shard".to_owned()]].concat();
    refused(&wrong, &["another study", "settings supply.pressure: 413685", "344737"]);
    let text = fs::read_to_string(d.join(&shards[0])).unwrap();
    let short: Vec<&str> = text.lines().take(5).collect();
    fs::write(d.join("short.shard"), short.join("\n") + "\n").unwrap();
    refused(&[&shards[1..], &["short.shard".to_owned()]].concat(), &["short.shard", "not complete", "is missing"]);
    refused(&["whole.csv".to_owned()], &["whole.csv", "no journal"]);
    refused(&["none.shard".to_owned()], &["none.shard", "no such file"]);
}

/// A linear congruential generator (Knuth, MMIX), so that the kills fall at other moments in each round.
fn random(state: &mut u64) -> u64 {
    *state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
    *state >> 33
}

#[test]
fn practice_killed_ten_times_and_resumed_gives_the_bytes_of_one_go() {
    let dir = tempdir().unwrap();
    let d = dir.path();
    let study = long_study();
    assert_eq!(poppetry(d, &[&study[..], &["--csv", "whole.csv"]].concat()).status.code(), Some(0));
    let whole = fs::read(d.join("whole.csv")).unwrap();
    let journal = d.join("killed.csv.journal");
    let start = || {
        let mut command = program(d);
        command.args(&study).args(["--csv", "killed.csv", "--resume"]).stdout(Stdio::null()).stderr(Stdio::null());
        command.spawn().unwrap()
    };
    let mut state = 2026;
    let mut before = 0;
    for round in 0..10 {
        let mut child = start();
        // By what is done, not by the clock: on its way whatever the machine's speed, and within a millisecond at random.
        wait_for(&journal, before + (random(&mut state) % 60) as usize);
        std::thread::sleep(Duration::from_micros(random(&mut state) % 1000));
        // SIGKILL: no handler sees it.
        child.kill().unwrap();
        assert!(!child.wait().unwrap().success(), "round {round}: the study was over before it was killed");
        // Never under its final name, and never fewer runs than before.
        assert!(!d.join("killed.csv").exists(), "round {round}");
        let kept = lines(&journal);
        assert!(kept >= before, "round {round}: {kept} {before}");
        before = kept;
    }
    assert!(start().wait().unwrap().success());
    assert_eq!(whole, fs::read(d.join("killed.csv")).unwrap());
    assert!(!journal.exists());
}

#[test]
fn practice_resume_refuses_another_study_and_names_the_difference() {
    let dir = tempdir().unwrap();
    let d = dir.path();
    fs::write(d.join("unit.toml"), "base = \"svb-diaphragm\"\n[check]\nload = \"2.2 psi\"\n").unwrap();
    let args = ["sweep", "unit.toml", "--vary", "supply.pressure=20:100:400 psi", "--csv", "t.csv"];
    let mut child = program(d).args(args).stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap();
    wait_for(&d.join("t.csv.journal"), 5);
    child.kill().unwrap();
    child.wait().unwrap();
    let kept = fs::read(d.join("t.csv.journal")).unwrap();
    let refused = |more: &[&str], parts: &[&str]| {
        let output = poppetry(d, &[&args[..], more].concat());
        assert_eq!(output.status.code(), Some(2), "{}", stderr(&output));
        for part in parts {
            assert!(stderr(&output).contains(part), "{part:?} is not in {}", stderr(&output));
        }
        // Nothing is lost.
        assert_eq!(kept, fs::read(d.join("t.csv.journal")).unwrap());
    };
    refused(&[], &["t.csv.journal", "unfinished", "--resume"]);
    refused(
        &["--resume", "--set", "zone2.volume=100 mL"],
        &["another study", "settings zone2.volume: 0.00011999", "0.000099999"],
    );
    refused(&["--resume", "--record", "sequence.order"], &["another study", "record"]);
    fs::write(d.join("unit.toml"), "base = \"svb-diaphragm\"\n[check]\nload = \"2.0 psi\"\n").unwrap();
    refused(&["--resume"], &["another study", "settings check.load: 15168", "13789"]);
    // The first file again: it goes on. A half-written last line, as a full disk leaves it, is dropped.
    fs::write(d.join("unit.toml"), "base = \"svb-diaphragm\"\n[check]\nload = \"2.2 psi\"\n").unwrap();
    let mut torn = kept.clone();
    torn.extend_from_slice(b"39,538,air-in");
    fs::write(d.join("t.csv.journal"), torn).unwrap();
    let output = poppetry(d, &[&args[..], &["--resume"]].concat());
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let resumed = fs::read(d.join("t.csv")).unwrap();
    assert_eq!(poppetry(d, &[&args[..5], &["u.csv"]].concat()).status.code(), Some(0));
    assert_eq!(resumed, fs::read(d.join("u.csv")).unwrap());
    // A journal with a line that is none is refused, by its number.
    let mut bad = kept.clone();
    bad.extend_from_slice(b"what is this\n");
    fs::write(d.join("t.csv.journal"), &bad).unwrap();
    let output = poppetry(d, &[&args[..], &["--resume"]].concat());
    assert!(output.status.code() == Some(2) && stderr(&output).contains("is no row"), "{}", stderr(&output));
}

/// Waits until a file has this many lines.
fn wait_for(path: &Path, count: usize) {
    let start = Instant::now();
    while lines(path) < count {
        assert!(start.elapsed() < Duration::from_secs(30), "{} does not grow", path.display());
        std::thread::sleep(Duration::from_millis(1));
    }
}

fn lines(path: &Path) -> usize {
    fs::read(path).map_or(0, |b| b.iter().filter(|c| **c == b'\n').count())
}

#[cfg(unix)]
#[test]
fn practice_ctrl_c_leaves_a_valid_table_and_status_130() {
    let dir = tempdir().unwrap();
    let d = dir.path();
    let args = [&long_study()[..], &["--csv", "t.csv"]].concat();
    let child = program(d).args(&args).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    wait_for(&d.join("t.csv.journal"), 20);
    let sent = Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap();
    assert!(sent.success());
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(130), "{}", stderr(&output));
    assert!(output.stdout.is_empty());
    for part in ["interrupted", "of 2400 runs", "t.csv.journal", "t.partial.csv", "--resume"] {
        assert!(stderr(&output).contains(part), "{}", stderr(&output));
    }
    assert!(!d.join("t.csv").exists());
    let mut reader = csv::Reader::from_path(d.join("t.partial.csv")).unwrap();
    assert_eq!(reader.headers().unwrap().len(), 6);
    let runs: Vec<u64> = reader.records().map(|r| r.unwrap()[0].parse().unwrap()).collect();
    assert!(runs.len() >= 19 && runs.is_sorted(), "{runs:?}");
    let output = poppetry(d, &[&args[..], &["--resume"]].concat());
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    assert_eq!(poppetry(d, &[&long_study()[..], &["--csv", "whole.csv"]].concat()).status.code(), Some(0));
    assert_eq!(fs::read(d.join("t.csv")).unwrap(), fs::read(d.join("whole.csv")).unwrap());
    assert!(!d.join("t.partial.csv").exists() && !d.join("t.csv.journal").exists());
}

/// Six times as many runs as `STUDY`, for tests that stop one on its way: it must outlast them on a fast machine, too.
fn long_study() -> Vec<&'static str> {
    STUDY.iter().map(|a| if a.starts_with("check.load=") { "check.load=0.9:2.4:160 psi" } else { a }).collect()
}

/// A limit on the size of files stands for a full disk: the system refuses the write in the same way.
#[cfg(unix)]
#[test]
fn practice_a_full_disk_loses_nothing() {
    let dir = tempdir().unwrap();
    let d = dir.path();
    let limited = |blocks: u32, more: &str| {
        let quoted: Vec<String> = STUDY.iter().map(|a| format!("'{a}'")).collect();
        let line = format!(
            "trap '' XFSZ; ulimit -f {blocks}; exec '{}' {} --csv t.csv {more}",
            env!("CARGO_BIN_EXE_poppetry"),
            quoted.join(" ")
        );
        Command::new("sh").args(["-c", &line]).current_dir(d).output().unwrap()
    };
    // sh counts blocks of 512 bytes; bash, where it is sh, of 1024. Both hold the 8 kB of its header, and not the 33 kB of this study.
    let output = limited(24, "");
    assert_eq!(output.status.code(), Some(1), "{}", stderr(&output));
    for part in ["t.csv.journal", "could not be written", "--resume"] {
        assert!(stderr(&output).contains(part), "{}", stderr(&output));
    }
    assert!(!d.join("t.csv").exists());
    let kept = fs::read_to_string(d.join("t.csv.journal")).unwrap();
    assert!(kept.lines().count() > 10);
    let output = poppetry(d, &[&STUDY[..], &["--csv", "t.csv", "--resume"]].concat());
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    assert_eq!(fs::read(d.join("t.csv")).unwrap(), table(d, "whole.csv", &[]));
}

#[test]
fn practice_a_table_of_points_with_words_and_units() {
    let dir = tempdir().unwrap();
    let d = dir.path();
    fs::write(
        d.join("points.csv"),
        "# invented\ncheck.load [psi],size,zone2.initial\n2.2,1 in,empty\n1.0,3/4 in,brimful\n2.2,1 in,9 L\n2.2,9 in,empty\n",
    )
    .unwrap();
    let args = ["sweep", "--assembly", "svb-diaphragm", "--vary-from", "points.csv", "--json"];
    let output = poppetry(d, &args);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let document: serde_json::Value = serde_json::from_str(&stdout(&output)).unwrap();
    let rows = document["rows"].as_array().unwrap();
    assert_eq!(rows.len(), 4);
    assert_eq!(rows[0][4], "air-inlet-first");
    assert_eq!(rows[1][4], "check-first");
    for (row, part) in [(2, "water-fits"), (3, "size")] {
        assert!(rows[row][4].is_null() && rows[row][7].as_str().unwrap().contains(part), "{}", rows[row]);
    }
    assert_eq!(document["failed"], 2);
    // A row alone is the same run as `sequence` with its values.
    let alone = poppetry(
        d,
        &[
            "sequence",
            "--json",
            "--assembly",
            "svb-diaphragm",
            "--set",
            "check.load=1.0 psi",
            "--set",
            "size=3/4 in",
            "--set",
            "zone2.initial=brimful",
        ],
    );
    let alone: serde_json::Value = serde_json::from_str(&stdout(&alone)).unwrap();
    assert_eq!(rows[1][5], alone["sequence_margin_pa"]);
    assert_eq!(rows[1][6], alone["spill_m3"]);
}

/// A line put in by hand stood so in the joined table, a smaller number of runs cut it short, and a point that was changed was
/// taken up.
#[test]
fn bug_rows_that_the_study_does_not_have_are_refused() {
    let dir = tempdir().unwrap();
    let d = dir.path();
    let args =
        ["sweep", "--vary", "check.load=1:3:40 psi", "--record", "sequence.sequence_margin_pa", "--csv", "s.csv"];
    let (one, two) = ("s.1-of-2.shard", "s.2-of-2.shard");
    for part in ["1/2", "2/2"] {
        assert_eq!(poppetry(d, &[&args[..], &["--shard", part]].concat()).status.code(), Some(0));
    }
    let kept = [one, two].map(|name| fs::read_to_string(d.join(name)).unwrap());
    let merge = || poppetry(d, &["sweep", "--merge", one, two, "--csv", "whole.csv", "--chart", "curves=c.svg"]);
    let refused = |output: &Output, parts: &[&str]| {
        assert_eq!(output.status.code(), Some(2), "{}", stdout(output));
        for part in parts {
            assert!(stderr(output).contains(part), "{part:?} is not in {}", stderr(output));
        }
        assert!(!d.join("whole.csv").exists());
    };
    let changed = |from: &str, to: &str| {
        let lines = |text: &String| {
            text.lines().map(|l| if l.starts_with(from) { to } else { l }.to_owned() + "\n").collect::<String>()
        };
        fs::write(d.join(two), lines(&kept[1])).unwrap();
    };
    for garbage in ["4,garbage,here", "4,garbage,here,", "4,99999,1,", "4,garbage,1,"] {
        changed("4,", garbage);
        refused(&merge(), &[two, "run 4 is no row"]);
    }
    for (name, text) in [one, two].iter().zip(&kept) {
        fs::write(d.join(name), text.replace("\"total\":40", "\"total\":37")).unwrap();
    }
    refused(&merge(), &["header", "changed"]);
    // The parts as they were: the whole, and its chart, which no part can have.
    for (name, text) in [one, two].iter().zip(&kept) {
        fs::write(d.join(name), text).unwrap();
    }
    assert_eq!(merge().status.code(), Some(0), "{}", stderr(&merge()));
    assert_eq!(fs::read_to_string(d.join("whole.csv")).unwrap().lines().count(), 41);
    let svg = fs::read_to_string(d.join("c.svg")).unwrap();
    assert!(svg.contains("check load (psi)") && svg.contains("supply 60"), "{svg}");
    // Going on, too.
    let journal = d.join("s.2-of-2.shard.journal");
    fs::rename(d.join(two), &journal).unwrap();
    let text = kept[1]
        .lines()
        .take(9)
        .map(|l| if l.starts_with("8,") { "8,99999,1," } else { l }.to_owned() + "\n")
        .collect::<String>();
    fs::write(&journal, text).unwrap();
    let output = poppetry(d, &[&args[..], &["--shard", "2/2", "--resume"]].concat());
    assert!(output.status.code() == Some(2) && stderr(&output).contains("is no row"), "{}", stderr(&output));
}

/// A job that is queued again did its part, or its study, anew.
#[test]
fn bug_what_is_complete_is_left_as_it_is() {
    let dir = tempdir().unwrap();
    let d = dir.path();
    let args =
        ["sweep", "--vary", "check.load=1:3:40 psi", "--set", "supply.pressure=50 psi", "--csv", "s.csv", "--quiet"];
    for (file, more) in [("s.csv", &[][..]), ("s.2-of-3.shard", &["--shard", "2/3"])] {
        assert_eq!(poppetry(d, &[&args[..], more].concat()).status.code(), Some(0));
        let kept = fs::read(d.join(file)).unwrap();
        let output = poppetry(d, &[&args[..], more, &["--resume"]].concat());
        assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
        assert!(stdout(&output).contains("Nothing was left to do"), "{}", stdout(&output));
        assert_eq!(kept, fs::read(d.join(file)).unwrap());
        // Of another study it is not.
        let other: Vec<&str> =
            args.iter().map(|a| if *a == "supply.pressure=50 psi" { "supply.pressure=20 psi" } else { a }).collect();
        let output = poppetry(d, &[&other[..], more, &["--resume"]].concat());
        assert_eq!(output.status.code(), Some(2), "{}", stdout(&output));
        assert!(stderr(&output).contains("another study"), "{}", stderr(&output));
        let shorter: Vec<&str> =
            args.iter().map(|a| if a.starts_with("check.load") { "check.load=1:3:20 psi" } else { a }).collect();
        assert_eq!(poppetry(d, &[&shorter[..], more, &["--resume"]].concat()).status.code(), Some(2));
        assert_eq!(kept, fs::read(d.join(file)).unwrap());
        assert!(listing(d).iter().all(|f| !f.ends_with(".journal")), "{:?}", listing(d));
    }
}

/// All interrupted parts in a folder left their runs under one name.
#[cfg(unix)]
#[test]
fn bug_an_interrupted_part_has_its_number_in_its_name() {
    let dir = tempdir().unwrap();
    let d = dir.path();
    let args = [&long_study()[..], &["--csv", "t.csv", "--shard", "1/2"]].concat();
    let child = program(d).args(&args).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    wait_for(&d.join("t.1-of-2.shard.journal"), 20);
    assert!(Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap().success());
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(130), "{}", stderr(&output));
    assert!(stderr(&output).contains("t.1-of-2.partial.csv"), "{}", stderr(&output));
    assert!(d.join("t.1-of-2.partial.csv").exists() && !d.join("t.partial.csv").exists());
    assert_eq!(poppetry(d, &[&args[..], &["--resume"]].concat()).status.code(), Some(0));
    assert!(!d.join("t.1-of-2.partial.csv").exists());
}
