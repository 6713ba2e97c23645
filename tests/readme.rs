//! A newcomer who types what the README shows, line by line in an empty folder, meets no error.
#![allow(clippy::unwrap_used)] // the helper stops the test as the test itself may

mod cli;

use cli::{poppetry, stderr};
use std::fs;
use tempfile::tempdir;

/// The commands of the README's `sh` blocks, without what begins with "#" and without a redirection.
fn commands() -> Vec<String> {
    let readme = fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/README.md")).unwrap();
    let blocks = readme.split("```sh\n").skip(1).filter_map(|b| b.split("```").next());
    let lines = blocks.flat_map(str::lines).filter(|l| l.starts_with("poppetry "));
    lines.map(|l| l.split("  #").next().unwrap().split(" > ").next().unwrap().trim().to_owned()).collect()
}

/// Words as a shell takes them: blanks part them unless they stand between double quotes.
fn words(line: &str) -> Vec<String> {
    let (mut all, mut quoted) = (vec![String::new()], false);
    for c in line.chars() {
        match c {
            '"' => quoted = !quoted,
            ' ' if !quoted => all.push(String::new()),
            c => all.last_mut().unwrap().push(c),
        }
    }
    all.retain(|w| !w.is_empty());
    all
}

/// Three of them once needed files that nothing had told how to write.
#[test]
fn bug_every_command_of_the_readme_runs_in_an_empty_folder() {
    let dir = tempdir().unwrap();
    let mine = poppetry(dir.path(), &["assemblies", "pvb-spring"]);
    fs::write(dir.path().join("mine.toml"), mine.stdout).unwrap();
    // The weather is the reader's own file, as the README says; these are its columns.
    let hours = (0..=72).map(|h| format!("{h},{}\n", 5 - h % 24));
    fs::write(dir.path().join("hourly.csv"), "time [h],air [degC]\n".to_owned() + &hours.collect::<String>()).unwrap();
    let all = commands();
    assert!(all.len() > 15, "{all:?}");
    for line in all {
        // The same command on a coarser grid.
        let args: Vec<String> = words(&line.replace("--grid 50", "--grid 6")).split_off(1);
        let output = poppetry(dir.path(), &args);
        assert_eq!(output.status.code(), Some(0), "{line}: {}", stderr(&output));
    }
}
