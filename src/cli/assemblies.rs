//! `assemblies`: what is built in, and its complete files.

use super::args::Assemblies;
use super::caution::Caution;
use super::compare;
use super::problem::Problem;
use super::{frame, text};
use crate::assembly::builtin::names;
use std::io::Write;

pub(super) fn run(args: &Assemblies, out: &mut dyn Write, columns: usize) -> Result<(), Problem> {
    if args.table {
        let caution = Caution::paragraph(&[Caution::NotATestResult], columns);
        let note = "Invented, generic units at 1 in, 60 psi, shutoff 1 opened in 1 s, zone 1 brimful, zone 2 empty.";
        let table = compare::constructions(columns)?;
        return text::print(out, &format!("{table}\n{}\n{caution}", text::wrapped(note, columns, 0, 0)));
    }
    let Some(name) = &args.name else {
        return text::print(out, &list());
    };
    let file = frame::resolver(Some(name), &[], &args.set, &args.fault).resolve()?.to_toml();
    let caution = text::wrapped(Caution::NotATestResult.words(), 100, 0, 0);
    let caution: String = caution.lines().map(|line| format!("# {line}\n")).collect();
    text::print(out, &format!("{file}\n{caution}"))
}

fn list() -> String {
    let widest = names().map(|(name, _)| name.len()).max().unwrap_or(0);
    let lines: String = names().map(|(name, summary)| format!("{name:widest$}  {summary}\n")).collect();
    format!(
        "{lines}\nAll are invented, generic units, not any product. `poppetry assemblies NAME > mine.toml` writes a complete \
         file\nto edit; `poppetry sequence mine.toml` runs it. `poppetry assemblies --table` compares constructions.\n"
    )
}
