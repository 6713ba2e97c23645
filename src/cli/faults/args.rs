//! The arguments of `faults`.

use crate::cli::args::{Every, Shared};
use clap::Args;
use std::path::PathBuf;

/// `faults`.
#[derive(Debug, Args)]
#[command(after_help = "\
Without NAME it lists all. With NAME it explains one and shows on an assembly what it looks like: on the one
named by --assembly, else on the first built-in that can have it. --table does so for all faults that apply, on
the assembly named, else on every built-in. A fault is put into a run of any command with --fault NAME=SEVERITY.

Charts: severity (with NAME), symptoms (with --table)")]
pub(in crate::cli) struct Faults {
    /// Explain this fault or look-alike
    pub name: Option<String>,
    /// Symptoms of all faults that apply, at five severities
    #[arg(long, conflicts_with = "name")]
    pub table: bool,
    /// Assembly files (TOML); a later one overrides, repeatable
    #[arg(long, value_name = "FILE")]
    pub file: Vec<PathBuf>,
    #[command(flatten)]
    pub shared: Shared,
    #[command(flatten)]
    pub every: Every,
}
