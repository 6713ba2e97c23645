//! `assemblies`: what is built in, and its complete files.

use super::args::Assemblies;
use super::caution::Caution;
use super::problem::Problem;
use super::text;
use crate::assembly::Resolver;
use crate::assembly::settings::names;
use std::io::Write;

pub(super) fn run(args: &Assemblies, out: &mut dyn Write) -> Result<(), Problem> {
    let Some(name) = &args.name else {
        return text::print(out, &list());
    };
    let resolver = args.set.iter().fold(Resolver::new().assembly(name), |r, set| r.set(set));
    let file = resolver.resolve()?.to_toml();
    let caution = text::wrapped(Caution::NotATestResult.words(), 100, 0, 0);
    let caution: String = caution.lines().map(|line| format!("# {line}\n")).collect();
    text::print(out, &format!("{file}\n{caution}"))
}

fn list() -> String {
    let widest = names().map(|(name, _)| name.len()).max().unwrap_or(0);
    let lines: String = names().map(|(name, summary)| format!("{name:widest$}  {summary}\n")).collect();
    format!(
        "{lines}\nAll are invented, generic units, not any product. `poppetry assemblies NAME > mine.toml` writes a complete \
         file\nto edit; `poppetry sequence mine.toml` runs it.\n"
    )
}
