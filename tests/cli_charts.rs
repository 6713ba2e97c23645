//! Charts asked of the real program: what appears, what is refused, and that nothing is left half-written.
#![allow(clippy::unwrap_used, clippy::panic)] // the helpers outside #[test] functions may stop a test too

mod cli;

use cli::{listing, poppetry, stderr};
use std::fs;
use std::path::Path;
use tempfile::tempdir;

fn refused(dir: &Path, charts: &[&str], parts: &[&str]) {
    let before = listing(dir);
    let mut args = vec!["sequence"];
    args.extend(charts.iter().flat_map(|c| ["--chart", *c]));
    let output = poppetry(dir, &args);
    let message = stderr(&output);
    assert_eq!(output.status.code(), Some(2), "{charts:?}: {message}");
    assert!(message.starts_with("error: ") && output.stdout.is_empty(), "{charts:?}: {message}");
    for part in parts {
        assert!(message.contains(part), "{charts:?}: {part:?} is not in {message:?}");
    }
    assert_eq!(listing(dir), before, "{charts:?} wrote something");
}

#[test]
fn practice_a_chart_that_does_not_exist_or_an_ending_not_offered_is_refused_and_nothing_is_written() {
    let dir = tempdir().unwrap();
    let d = dir.path();
    refused(
        d,
        &["stripe=a.svg"],
        &["no chart \"stripe\"", "did you mean \"strip\"?", "sequence, strip, movie, frames"],
    );
    refused(d, &["strip=a.gif"], &["a.gif: a chart is written as .svg or .png, not as \".gif\""]);
    refused(d, &["strip="], &[".svg or .png"]);
    refused(d, &["movie=a.svg"], &["a.svg: a moving picture is written as .gif, not as \".svg\""]);
    refused(d, &["movie=a"], &["a moving picture is written as .gif, not as a file without an ending"]);
    refused(d, &["frames=a.gif"], &[".svg or .png"]);
    // A sound chart beside a bad one is not written either.
    refused(d, &["strip=a.svg", "movie=b.webm"], &["b.webm"]);
}

#[test]
fn practice_a_file_in_the_way_is_named_and_nothing_is_written() {
    let dir = tempdir().unwrap();
    let d = dir.path();
    for folder in ["strip.svg", "movie.gif", "fill-07.svg"] {
        fs::create_dir(d.join(folder)).unwrap();
    }
    fs::write(d.join("note"), "mine").unwrap();
    refused(d, &["strip=strip.svg"], &["strip.svg: cannot be written", "a folder has this name"]);
    refused(d, &["movie=movie.gif"], &["movie.gif: cannot be written", "a folder has this name"]);
    refused(d, &["frames=fill.svg"], &["fill-07.svg: cannot be written", "a folder has this name"]);
    refused(d, &["strip=note/a.svg"], &["note is a file, not a folder"]);
    refused(d, &["frames=x.svg", "strip=x-60.svg"], &["x-60.svg", "which this run writes too"]);
    refused(d, &["strip=a.svg", "sequence=a.svg"], &["which this run writes too"]);
    assert_eq!(fs::read_to_string(d.join("note")).unwrap(), "mine");
}

#[test]
fn regress_strip_movie_and_frames_appear_under_their_names_and_no_bar_without_a_terminal() {
    let dir = tempdir().unwrap();
    let charts = ["--chart", "strip=s.svg", "--chart", "movie=a/m.gif", "--chart", "frames=f/fill.svg"];
    let output = poppetry(dir.path(), &[&["sequence", "--against", "svb-diaphragm"][..], &charts[..]].concat());
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    assert!(!stderr(&output).contains("frame") && !stderr(&output).contains('\u{1b}'), "{}", stderr(&output));
    let found = listing(dir.path());
    assert_eq!(found.len(), 2 + 1 + 1 + 60, "{found:?}");
    assert!(found.contains(&"f/fill-01.svg".to_owned()) && found.contains(&"f/fill-60.svg".to_owned()));
    assert!(fs::read(dir.path().join("a/m.gif")).unwrap().starts_with(b"GIF89a"));
    let strip = fs::read_to_string(dir.path().join("s.svg")).unwrap();
    // Each assembly once as a name and once in the title or foot; what it comes to in words.
    for words in [">\npvb-spring\n<", ">\nsvb-diaphragm\n<", "stays dry: its air inlet shuts first", "most spill"] {
        assert!(strip.contains(words), "{words:?} is missing");
    }
}

#[test]
fn regress_the_folder_of_a_comparison_holds_one_sequence_chart_each_and_one_strip() {
    let dir = tempdir().unwrap();
    let output = poppetry(dir.path(), &["sequence", "--against", "svb-stem", "--out", "o"]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let expected: Vec<String> = ["o", "o/sequence-pvb-spring", "o/sequence-svb-stem", "o/strip-pvb-spring-svb-stem"]
        .into_iter()
        .flat_map(|n| if n == "o" { vec![n.to_owned()] } else { vec![format!("{n}.png"), format!("{n}.svg")] })
        .collect();
    assert_eq!(listing(dir.path()), expected);
    let said = |name: &str| fs::read_to_string(dir.path().join(format!("o/sequence-{name}.svg"))).unwrap();
    assert!(said("pvb-spring").contains("Assembly pvb-spring") && said("svb-stem").contains("Assembly svb-stem"));
}

/// Before and after: a file that starts from a built-in, or loads swapped on the command line, beside that built-in itself
/// ended with "it would overwrite", as both runs bore one name.
#[test]
fn bug_a_changed_assembly_stands_beside_its_own_built_in() {
    let dir = tempdir().unwrap();
    fs::write(dir.path().join("mine.toml"), "base = \"pvb-spring\"\n[air_inlet]\nload = \"2 psi\"\n").unwrap();
    let swapped = ["--assembly", "svb-diaphragm", "--set", "check.load=1.2 psi", "--set", "air_inlet.load=2.4 psi"];
    let cases: [(&[&str], &str, &str); 3] = [
        (&["mine.toml", "--against", "pvb-spring"], "mine", "pvb-spring"),
        (&[&swapped[..], &["--against", "svb-diaphragm"]].concat(), "svb-diaphragm-changed", "svb-diaphragm"),
        (&["--against", "pvb-spring"], "pvb-spring", "pvb-spring-2"),
    ];
    for (args, one, other) in cases {
        let out = format!("out-{one}");
        let output = poppetry(dir.path(), &[&["sequence"], args, &["--out", &out]].concat());
        assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
        let mut expected: Vec<String> = [format!("sequence-{one}"), format!("sequence-{other}")]
            .into_iter()
            .chain([format!("strip-{one}-{other}")])
            .flat_map(|name| ["png", "svg"].map(|ending| format!("{name}.{ending}")))
            .collect();
        expected.sort();
        assert_eq!(listing(&dir.path().join(&out)), expected);
        let strip = fs::read_to_string(dir.path().join(&out).join(format!("strip-{one}-{other}.svg"))).unwrap();
        for name in [one, other] {
            assert!(strip.contains(&format!(">\n{name}\n<")), "{name} is missing");
        }
    }
    // Beside its own built-in what was set is the difference: common practice has the swapped loads spill and the others not.
    let args = [&["sequence", "--json", "--quiet"], &swapped[..], &["--against", "svb-diaphragm"]].concat();
    let output = poppetry(dir.path(), &args);
    let d: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!((&d["order"], &d["against"][0]["order"]), (&"check-first".into(), &"air-inlet-first".into()));
}
