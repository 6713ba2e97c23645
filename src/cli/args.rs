//! The arguments. Help lines are written short: they are printed as they stand.

use super::picture::Chart;
use crate::units::System;
use clap::{Args, Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

const ABOUT: &str = "Simulates pressure vacuum breakers (PVB) and spill-resistant vacuum breakers (SVB) from physics.";

const AFTER: &str = "\
Start here:
  poppetry sequence                                    the built-in demo, with its charts in output/
  poppetry sequence --against svb-diaphragm            which one spills, and why
  poppetry assemblies pvb-spring > mine.toml           a complete file to edit
  poppetry sequence mine.toml --set \"supply.pressure=40 psi\"

Exit status: 0 done, 1 the run could not be completed, 2 the input is wrong, 130 interrupted.
Teaching and design aid only: nothing it prints is a test result.";

/// Help for the files of commands whose scenes have fields of their own.
const BODY_AND_SCENE: &str = "Files (TOML): body, scene; a later one overrides";

/// The whole command line.
#[derive(Debug, Parser)]
#[command(name = "poppetry", version, about = ABOUT, after_help = AFTER, arg_required_else_help = true)]
#[command(disable_help_subcommand = true)]
pub(super) struct Line {
    #[command(subcommand)]
    pub command: Command,
}

/// What to do.
#[derive(Debug, Subcommand)]
pub(super) enum Command {
    /// Built-in assemblies; with NAME the complete file, ready to edit
    Assemblies(Assemblies),
    /// Water is turned on: what moves, in which order and why, what spills, what pressures
    Sequence(Sequence),
    /// Load against travel, loss against flow, capacity of vent and relief, supply needed
    Curves(Curves),
    /// The readings a tester would get, act by act, against 1.0 psi
    FieldTest(super::field::FieldTest),
    /// The library of faults: physics, symptoms, remedy by construction; look-alikes that are no fault
    Faults(super::faults::Faults),
    /// Many runs over a range of one to three fields: a table and a map
    Sweep(super::studies::SweepArgs),
    /// A population with tolerances: how many pass, how many spill, which input decides
    Tolerance(super::studies::ToleranceArgs),
    /// One unknown solved for: the value from which a condition holds
    Find(super::studies::FindArgs),
    /// Nights below freezing: pressure, ice, relief, first yield
    Freeze(super::freeze::FreezeArgs),
    /// Which set pressure and bore of a relief keep the body whole in a freeze and do not weep
    Relief(super::relief::ReliefArgs),
    /// Supply fails or goes to vacuum: air in, water back, rise in a tube at the outlet
    Siphon(Siphon),
    /// A valve slams, or shutoff 1 is thrown open: peak, trough, slam speed, does the relief weep
    Surge(Surge),
}

/// Options every command takes.
#[derive(Debug, Args)]
pub(super) struct Every {
    /// Seed of random numbers; a command that draws none is not changed by it
    #[arg(long, value_name = "N", default_value_t = 1, allow_negative_numbers = true)]
    pub seed: u64,
    /// No progress and no warnings on standard error
    #[arg(long)]
    pub quiet: bool,
}

/// `assemblies`.
#[derive(Debug, Args)]
pub(super) struct Assemblies {
    /// Print this one's complete file
    pub name: Option<String>,
    /// Compare the constructions side by side
    #[arg(long, conflicts_with = "name")]
    pub table: bool,
    /// Change a field in it, for example --set "size=3/4 in"
    #[arg(long, value_name = "PATH=VALUE", requires = "name")]
    pub set: Vec<String>,
    /// Put a fault in, for example --fault check-spring-weak=0.5
    #[arg(long, value_name = "NAME[=SEVERITY]", requires = "name")]
    pub fault: Vec<String>,
    /// Units of the table
    #[arg(long, value_enum, value_name = "us|si", default_value = "us", hide_possible_values = true)]
    pub units: Units,
    /// The same as one JSON document: names, every field with its value in SI, or the table's figures
    #[arg(long)]
    pub json: bool,
    #[command(flatten)]
    pub every: Every,
}

/// `sequence`.
#[derive(Debug, Args)]
#[command(after_help = "\
With no FILE and no --assembly it runs the built-in demo pvb-spring. Without --json and --chart it writes
DIR/sequence-ASSEMBLY and DIR/strip-ASSEMBLIES as .svg and .png. `poppetry assemblies NAME` prints every
field with its meaning.

Charts: sequence  travels, pressures and spill against time
        strip     sections at the key moments, --against side by side on one clock
        movie     the fill in slow motion, up to three side by side; its file ends in .gif
        frames    the same, one file a frame: frames=fill.svg writes fill-01.svg to fill-60.svg")]
pub(super) struct Sequence {
    /// Run this built-in through the same scene beside it, repeatable
    #[arg(long, value_name = "NAME")]
    pub against: Vec<String>,
    #[command(flatten)]
    pub given: Given,
}

/// `curves`.
#[derive(Debug, Args)]
#[command(after_help = "\
With no FILE and no --assembly it takes the built-in pvb-spring. Without --json and --chart it writes
DIR/curves-ASSEMBLY.svg and .png.

Charts: curves")]
pub(super) struct Curves {
    #[command(flatten)]
    pub given: Given,
}

/// `siphon`.
#[derive(Debug, Args)]
#[command(after_help = "\
Scenes (--set siphon.scene=NAME): vacuum-test (a vessel under vacuum, a tube in a pan on the load side), service (the
main fails, the line is full of water), backpressure (a pump or a higher outlet presses back). The first two are both
run: protection takes both. In the last two the main begins to fall at 0 s: where shutoff 2 and the outlet are open, on
the steady flow, which has washed out what the zones held at first; else on a service at rest.
Without --json and --chart it writes DIR/siphon-CHART-ASSEMBLY.svg and .png.

Charts: run, back, foul")]
#[command(mut_arg("files", |files| files.help(BODY_AND_SCENE)))]
pub(super) struct Siphon {
    #[command(flatten)]
    pub given: Given,
}

/// `surge`.
#[derive(Debug, Args)]
#[command(after_help = "\
Scenes (--set surge.scene=NAME): fill (shutoff 1 is thrown open), downstream-valve (a valve beyond the assembly slams on
a steady flow), pipe (a valve at the end of the bare line). Without --json and --chart it writes
DIR/surge-CHART-ASSEMBLY.svg and .png.

Charts: time, line")]
#[command(mut_arg("files", |files| files.help(BODY_AND_SCENE)))]
pub(super) struct Surge {
    #[command(flatten)]
    pub given: Given,
}

/// What every command that runs an assembly is given.
#[derive(Debug, Args)]
pub(super) struct Given {
    /// Assembly files (TOML); a later one overrides
    #[arg(value_name = "FILE")]
    pub files: Vec<PathBuf>,
    #[command(flatten)]
    pub shared: Shared,
    #[command(flatten)]
    pub every: Every,
}

/// Options of all commands that run an assembly.
#[derive(Debug, Args)]
pub(super) struct Shared {
    /// Start from this built-in (poppetry assemblies lists them)
    #[arg(long, value_name = "NAME")]
    pub assembly: Option<String>,
    /// Change a field, for example --set "supply.pressure=40 psi"; overrides files, repeatable
    #[arg(long, value_name = "PATH=VALUE")]
    pub set: Vec<String>,
    /// Put in a fault (poppetry faults lists them), severity 0 to 1, 1 if left out; after --set, repeatable
    #[arg(long, value_name = "NAME[=SEVERITY]")]
    pub fault: Vec<String>,
    /// Units of text and charts (JSON and CSV are always SI)
    #[arg(long, value_enum, value_name = "us|si", default_value = "us", hide_possible_values = true)]
    pub units: Units,
    /// Folder for the charts [default: output]
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// One JSON document on standard output and nothing else; charts only if --out or --chart asks
    #[arg(long)]
    pub json: bool,
    /// Write the run as a table, SI, units in the header
    #[arg(long, value_name = "FILE")]
    pub csv: Option<PathBuf>,
    /// Write this chart to this file (.svg or .png; a movie .gif), repeatable
    #[arg(long, value_name = "NAME=FILE", value_parser = Chart::parse)]
    pub chart: Vec<Chart>,
}

/// Units of text and charts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum Units {
    /// US customary.
    Us,
    /// SI.
    Si,
}

impl From<Units> for System {
    fn from(units: Units) -> System {
        match units {
            Units::Us => System::Us,
            Units::Si => System::Si,
        }
    }
}
