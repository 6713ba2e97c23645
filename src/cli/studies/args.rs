//! Arguments of the studies.

use crate::charts::check_ending;
use crate::cli::args::Units;
use crate::cli::frame::OUT;
use crate::error::{At, Error, Source, nearest};
use crate::study::{Shard, Until};
use clap::Args;
use std::path::{Path, PathBuf};

/// Options that all studies share.
#[derive(Debug, Args)]
pub(in crate::cli) struct Common {
    /// Assembly files (TOML); a later one overrides
    #[arg(value_name = "FILE")]
    pub files: Vec<PathBuf>,
    /// Start from this built-in (poppetry assemblies lists them)
    #[arg(long, value_name = "NAME")]
    pub assembly: Option<String>,
    /// Change a field of all runs, for example --set "supply.pressure=40 psi"; repeatable
    #[arg(long, value_name = "PATH=VALUE")]
    pub set: Vec<String>,
    /// Put a fault into all runs (poppetry faults lists them), severity 0 to 1; works on the varied values; repeatable
    #[arg(long, value_name = "NAME[=SEVERITY]")]
    pub fault: Vec<String>,
    /// How far each run of sequence goes: rest, check-closed (the check's first closing) or order-known (which of the two
    /// came first; what spills, and whether the later one comes at all, is then not known) [default: rest;
    /// of the built-in sweep order-known]
    #[arg(long, value_name = "WHEN", value_parser = until)]
    pub until: Option<Until>,
    /// Units of text and charts (JSON and CSV are always SI)
    #[arg(long, value_enum, value_name = "us|si", default_value = "us", hide_possible_values = true)]
    pub units: Units,
    /// One JSON document on standard output and nothing else
    #[arg(long)]
    pub json: bool,
    /// Seed of random numbers, of which only populations take any [default: 1]
    #[arg(long, value_name = "N", allow_negative_numbers = true)]
    pub seed: Option<u64>,
    /// Worker threads [default: as many as the machine has]; results do not depend on it
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    pub threads: Option<u16>,
    /// No progress and no warnings on standard error
    #[arg(long)]
    pub quiet: bool,
}

impl Common {
    /// Seed of random numbers.
    pub fn seed(&self) -> u64 {
        self.seed.unwrap_or(1)
    }
}

/// Which files a study leaves.
#[derive(Debug, Args)]
pub(in crate::cli) struct Kept {
    /// Folder for table and charts [default: output]
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Write the table to this file, SI, units in the header
    #[arg(long, value_name = "FILE")]
    pub csv: Option<PathBuf>,
    /// Write this chart to this file (.svg or .png), repeatable
    #[arg(long, value_name = "NAME=FILE")]
    pub chart: Vec<String>,
}

impl Kept {
    /// Folder of what has no name of its own.
    pub fn folder(&self) -> &Path {
        self.out.as_deref().unwrap_or(Path::new(OUT))
    }

    /// The table, as `stem` in the folder unless named; none where only a document is asked for.
    pub fn table(&self, stem: &str, document: bool) -> Option<PathBuf> {
        let usual = || (self.out.is_some() || !document).then(|| self.folder().join(format!("{stem}.csv")));
        self.csv.clone().or_else(usual)
    }

    /// The charts asked for, of those `known`, and the `usual` ones of the folder unless only others, or a document, were
    /// asked for.
    pub(super) fn charts(
        &self,
        stem: &str,
        document: bool,
        (known, usual): (&[&'static str], &[&'static str]),
    ) -> Result<Vec<Chart>, Error> {
        let mut all = Vec::new();
        for text in &self.chart {
            let chart = chart(text, known)?;
            if !usual.contains(&chart.name) {
                return Err(no_chart(chart.name, usual));
            }
            all.push(chart);
        }
        if self.out.is_some() || (!document && all.is_empty()) {
            for name in usual {
                all.extend(["svg", "png"].map(|ending| {
                    let path = self.folder().join(format!("{stem}-{name}.{ending}"));
                    Chart { name, path, asked: false }
                }));
            }
        }
        Ok(all)
    }
}

/// How a study that takes long is divided and taken up again.
#[derive(Debug, Args)]
pub(in crate::cli) struct Long {
    /// Go on where an earlier study with the same input was stopped
    #[arg(long)]
    pub resume: bool,
    /// Do only part K of N, for a job array; writes NAME.K-of-N.shard for --merge
    #[arg(long, value_name = "K/N", value_parser = shard)]
    pub shard: Option<Shard>,
}

fn until(text: &str) -> Result<Until, String> {
    let known = || Until::ALL.into_iter().map(Until::word);
    Until::ALL
        .into_iter()
        .find(|u| u.word() == text)
        .ok_or_else(|| format!("one of {} is wanted", known().collect::<Vec<_>>().join(", ")))
}

fn shard(text: &str) -> Result<Shard, String> {
    let wanted = || "K/N is wanted, with K from 1 to N, for example 3/16".to_owned();
    let (part, of) = text.split_once('/').ok_or_else(wanted)?;
    let number = |t: &str| t.trim().parse::<u64>().map_err(|_| wanted());
    let shard = Shard { part: number(part)?, of: number(of)? };
    if (1..=shard.of).contains(&shard.part) && shard.of <= 1_000_000 { Ok(shard) } else { Err(wanted()) }
}

/// A chart that the command has, but not of this study.
fn no_chart(name: &str, usual: &[&str]) -> Error {
    let but = if usual.is_empty() { "none at all".to_owned() } else { usual.join(", ") };
    let message = format!("this study has no chart \"{name}\", but {but}; --help says what each needs");
    Error::Syntax { at: At::whole(Source::Option("--chart")), message }
}

/// A chart to write.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Chart {
    /// Its name.
    pub name: &'static str,
    /// The file to write.
    pub path: PathBuf,
    /// By name, not as one of the folder.
    pub asked: bool,
}

/// Reads NAME=FILE against the charts that a command has.
pub(super) fn chart(text: &str, names: &[&'static str]) -> Result<Chart, Error> {
    let at = At::whole(Source::Option("--chart"));
    let Some((name, file)) = text.split_once('=') else {
        let example = names.first().copied().unwrap_or("map");
        return Err(Error::Syntax { at, message: format!("NAME=FILE is wanted, for example {example}={example}.svg") });
    };
    let Some(known) = names.iter().copied().find(|n| *n == name) else {
        return Err(Error::UnknownName {
            at: Some(at),
            what: "chart",
            name: name.to_owned(),
            nearest: nearest(name, names.iter().copied()),
            known: names.iter().map(|n| (*n).to_owned()).collect(),
        });
    };
    let path = PathBuf::from(file);
    check_ending(&path, false).map_err(|e| Error::Syntax { at, message: e.to_string() })?;
    Ok(Chart { name: known, path, asked: true })
}
