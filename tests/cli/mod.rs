//! Running the real program in an empty folder.
#![allow(dead_code, clippy::unwrap_used)] // each test file uses a part of it

use std::ffi::OsStr;
use std::path::Path;
use std::process::{Command, Output};

/// The program, to be run in `dir`.
pub fn program(dir: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_poppetry"));
    command.current_dir(dir).env_remove("COLUMNS");
    command
}

/// Runs it to the end.
pub fn poppetry<S: AsRef<OsStr>>(dir: &Path, args: &[S]) -> Output {
    program(dir).args(args).output().unwrap()
}

/// Standard output as text.
pub fn stdout(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).unwrap()
}

/// Standard error as text.
pub fn stderr(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).unwrap()
}

/// Names of everything in a folder and below, sorted.
pub fn listing(dir: &Path) -> Vec<String> {
    fn walk(top: &Path, dir: &Path, all: &mut Vec<String>) {
        for entry in std::fs::read_dir(dir).unwrap() {
            let path = entry.unwrap().path();
            all.push(path.strip_prefix(top).unwrap().to_string_lossy().into_owned());
            if path.is_dir() {
                walk(top, &path, all);
            }
        }
    }
    let mut all = Vec::new();
    walk(dir, dir, &mut all);
    all.sort();
    all
}
