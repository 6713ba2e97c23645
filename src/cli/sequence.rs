//! `sequence`: from the arguments to text, document, table and charts.

use super::args::Sequence as Args;
use super::caution::Caution;
use super::conditions::Conditions;
use super::frame::{self, Outputs};
use super::problem::Problem;
use super::warning::Notice;
use super::{compare, drawn, report, table, text, warning};
use crate::assembly::{Settings, Value};
use crate::bench::{DocumentContext, Sequence, SequenceDocument, headline, line_start_up, sequence};
use crate::error::{At, Error, Source, shown};
use crate::numerics::Options;
use crate::rig::{Feed, Rig, options};
use std::io::Write;
use std::path::PathBuf;
use std::time::Instant;

/// Charts there are.
const CHARTS: [&str; 4] = ["sequence", "strip", "movie", "frames"];

/// Most assemblies beside each other in a movie.
const MOST_MOVED: usize = 3;

/// Groups of fields that say what happens to an assembly, not what it is.
const SCENE: [&str; 5] = ["ambient", "water", "supply", "load_side", "run"];
/// Fields of other groups that do.
const SCENE_FIELDS: [&str; 9] = [
    "size",
    "mounting",
    "shutoff1.opening_time",
    "shutoff2.open",
    "zone1.initial",
    "zone2.initial",
    "zone1.initial_pressure",
    "zone2.initial_pressure",
    "canopy.fitted",
];

/// An assembly with its run.
pub(super) struct Done {
    /// What it is called in files, charts and words.
    pub name: String,
    pub settings: Settings,
    pub rig: Rig,
    pub run: Sequence,
    pub options: Options,
    wall_s: f64,
    start_up: Option<f64>,
}

impl Done {
    fn new(name: String, settings: Settings, rig: Rig, options: Options) -> Result<Done, Problem> {
        let start = Instant::now();
        let run = sequence(&rig, &options)?;
        let wall_s = start.elapsed().as_secs_f64();
        // A side figure: without it the run is still whole.
        let start_up = match &rig.feed {
            Feed::Line(line) => line_start_up(line, &rig.fluid).ok().flatten(),
            _ => None,
        };
        Ok(Done { name, settings, rig, run, options, wall_s, start_up })
    }

    /// Hash of the resolved input.
    pub fn hash(&self) -> String {
        self.settings.sha256(env!("CARGO_PKG_VERSION"))
    }

    fn document(&self, notices: &[Notice], cautions: &[Caution]) -> SequenceDocument {
        let context = DocumentContext {
            assembly: self.settings.assembly().to_owned(),
            inputs_sha256: self.hash(),
            options: self.options,
            wall_s: self.wall_s,
            line_start_up_s: self.start_up,
            warnings: notices.iter().map(|n| n.warning.id()).collect(),
            cautions: Caution::ids(cautions),
        };
        SequenceDocument::new(&self.run, context)
    }
}

pub(super) fn run(args: &Args, out: &mut dyn Write, err: &mut dyn Write, columns: usize) -> Result<(), Problem> {
    let (shared, quiet) = (&args.given.shared, args.given.every.quiet);
    let system = shared.units.into();
    let all = assemblies(args)?;
    let rigs = all.iter().map(Rig::from_settings).collect::<Result<Vec<_>, _>>()?;
    let options = all.iter().map(options).collect::<Result<Vec<_>, _>>()?;
    let names = names(&args.given.files, &all);
    let mut usual: Vec<_> = names.iter().map(|name| ("sequence", format!("sequence-{name}"))).collect();
    usual.push(("strip", format!("strip-{}", names.join("-"))));
    let charts = frame::charts(shared, &CHARTS, &usual)?;
    if all.len() > MOST_MOVED && charts.iter().any(|(name, _)| matches!(*name, "movie" | "frames")) {
        let message = format!("a movie shows up to {MOST_MOVED} assemblies side by side, not {}", all.len());
        return Err(Error::Syntax { at: At::whole(Source::Option("--chart")), message }.into());
    }
    let inputs = frame::inputs(&args.given.files, &all[0])?;
    let outputs = Outputs::new(drawn::files_of(&charts), shared.csv.as_ref(), &inputs)?;

    let mut done = Vec::with_capacity(all.len());
    for (((name, settings), rig), options) in names.into_iter().zip(all).zip(rigs).zip(options) {
        done.push(Done::new(name, settings, rig, options)?);
    }
    let first = &done[0];
    let files = frame::shown_names(&args.given.files);
    let conditions = |d: usize| Conditions {
        settings: &done[d].settings,
        rig: &done[d].rig,
        system,
        files: if d == 0 { files.clone() } else { Vec::new() },
    };
    let notices: Vec<Vec<Notice>> = done.iter().map(|d| warning::warnings(&d.rig, &d.run, system)).collect();
    let cautions: Vec<Vec<Caution>> = done.iter().map(|d| cautions(&d.run)).collect();

    let all_conditions: Vec<Conditions<'_>> = (0..done.len()).map(conditions).collect();
    let mut bytes = drawn::encode(&done, &all_conditions, &outputs.charts, system, quiet)?;
    if shared.csv.is_some() {
        bytes.push(table::rows(&first.run.samples)?);
    }
    outputs.write(bytes)?;

    // What holds for several is said once.
    let mut told: Vec<(&str, Vec<&str>)> = Vec::new();
    for (name, n) in done.iter().zip(&notices).flat_map(|(d, all)| all.iter().map(|n| (d.name.as_str(), n))) {
        match told.iter_mut().find(|(words, _)| *words == n.words) {
            Some((_, names)) => names.push(name),
            None => told.push((&n.words, vec![name])),
        }
    }
    for (words, names) in told.iter().filter(|_| !quiet) {
        let of = if names.len() < done.len() { format!("{}: ", names.join(", ")) } else { String::new() };
        text::warn(err, &format!("{of}{words}"), columns);
    }
    let text = match shared.json {
        true => {
            let mut all = done.iter().zip(&notices).zip(&cautions).map(|((d, n), c)| d.document(n, c));
            let document = all.next().map(|first| first.against(all.collect()));
            text::json(&document)?
        }
        false => {
            let (heading, beside) = match done.len() {
                1 => (text::wrapped(&headline(&first.run, system), columns, 0, 0), String::new()),
                _ => (compare::headlines(&done, system, columns), compare::runs(&done, system, columns)),
            };
            let all: Vec<Caution> =
                Caution::ALL.into_iter().filter(|c| cautions.iter().any(|cs| cs.contains(c))).collect();
            report::sequence(
                &first.run,
                &all_conditions[0],
                first.start_up,
                &heading,
                &beside,
                &outputs.paths,
                &all,
                columns,
            )?
        }
    };
    text::print(out, &text)
}

/// The assembly of the arguments, and those it is compared with, in the scene that was given for it.
fn assemblies(args: &Args) -> Result<Vec<Settings>, Problem> {
    let own = frame::resolve(&args.given.shared, &args.given.files)?;
    let scene = |path: &str| SCENE_FIELDS.contains(&path) || path.split('.').next().is_some_and(|g| SCENE.contains(&g));
    let mut all = vec![];
    for name in &args.against {
        let mut resolver = crate::assembly::Resolver::new().assembly(name);
        for (path, setting) in own.iter().filter(|(path, s)| scene(path) && s.at.is_user()) {
            let value = match &setting.value {
                Value::Path(file) => std::path::absolute(file).unwrap_or(file.clone()).to_string_lossy().into_owned(),
                _ => setting.text.clone(),
            };
            resolver = resolver.set(&format!("{path}={value}"));
        }
        // What was set on the command line holds for all; only beside its own built-in it is what was changed.
        if name != own.assembly() {
            resolver = args.given.shared.set.iter().fold(resolver, |r, set| r.set(set));
        }
        all.push(resolver.resolve()?);
    }
    all.insert(0, own);
    Ok(all)
}

/// What each run is called: the built-in it starts from. A changed one beside its own built-in is called after its file, or
/// "changed"; what would still be called the same has a number.
fn names(files: &[PathBuf], all: &[Settings]) -> Vec<String> {
    let hash = |s: &Settings| s.sha256(env!("CARGO_PKG_VERSION"));
    let built_in = |name: &str| all.iter().skip(1).find(|s| s.assembly() == name);
    let mut names: Vec<String> = Vec::with_capacity(all.len());
    for settings in all {
        let own = settings.assembly();
        let mut name = own.to_owned();
        if names.is_empty() && built_in(own).is_some_and(|s| hash(s) != hash(settings)) {
            let stem = files.last().and_then(|f| f.file_stem()).map(|s| shown(&s.to_string_lossy()));
            name = stem.filter(|s| built_in(s).is_none()).unwrap_or_else(|| format!("{own}-changed"));
        }
        let mut number = 2;
        while names.contains(&name) {
            name = format!("{own}-{number}");
            number += 1;
        }
        names.push(name);
    }
    names
}

/// Water that has spilled has been drinking water.
fn cautions(run: &Sequence) -> Vec<Caution> {
    let spilled = run.spill_m3 + run.rebound_spill_m3 > crate::bench::FIRST_VOLUME || run.spilling_at_end;
    Caution::ALL.into_iter().filter(|c| *c != Caution::PotableWater || spilled).collect()
}
