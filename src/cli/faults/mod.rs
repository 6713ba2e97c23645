//! `faults`: the library of faults, explained and shown on an assembly.

mod args;
mod document;
mod picture;
mod report;
mod symptoms_text;

pub(super) use args::Faults;
pub(super) use report::put_in;

use super::caution::Caution;
use super::frame::Outputs;
use super::problem::Problem;
use super::{frame, text};
use crate::assembly::{Resolver, Settings, builtin::names};
use crate::bench::{SEVERITIES, SymptomRow, look_alike, symptom_table};
use crate::charts::{Sheet, encode_sheet};
use crate::error::Error;
use crate::faults::{self, Fault, look_alikes};
use indicatif::{ProgressBar, ProgressStyle};
use std::io::Write;
use std::path::PathBuf;

/// Severities of a single fault's table and chart.
const FINE: [f64; 9] = [0.0, 0.125, 0.25, 0.375, 0.5, 0.625, 0.75, 0.875, 1.0];

/// An assembly with its rows.
struct Tested {
    settings: Settings,
    rows: Vec<SymptomRow>,
}

pub(super) fn run(args: &Faults, out: &mut dyn Write, columns: usize) -> Result<(), Problem> {
    match &args.name {
        Some(name) => match look_alikes::named(name) {
            Some(which) => look_alike_of(args, which, out, columns),
            None => one(args, name, out, columns),
        },
        None if args.table => table(args, out, columns),
        None => list(args, out, columns),
    }
}

/// Whether zone 1 shuts the air inlet, so that it should not spill.
fn spill_resistant(settings: &Settings) -> bool {
    settings.choice("air_inlet.closed_by") != Ok("zone2")
}

/// Whether the user said which assembly is meant.
fn assembly_given(args: &Faults) -> bool {
    args.shared.assembly.is_some() || !args.file.is_empty()
}

fn cautions(rows_shown: bool) -> Vec<Caution> {
    match rows_shown {
        true => Caution::ALL.to_vec(),
        false => vec![Caution::NotATestResult, Caution::LicensedTestersAndLocalCode, Caution::PressureCanStayTrapped],
    }
}

fn refuse_charts(args: &Faults, rule: &str) -> Result<(), Problem> {
    if args.shared.chart.is_empty() && args.shared.csv.is_none() && args.shared.out.is_none() {
        return Ok(());
    }
    Err(Problem::Usage(format!("error: there is nothing to draw or tabulate here: {rule}\n")))
}

fn list(args: &Faults, out: &mut dyn Write, columns: usize) -> Result<(), Problem> {
    refuse_charts(args, "name a fault, or ask for --table")?;
    let settings = frame::resolve(&args.shared, &args.file)?;
    let text = match args.shared.json {
        true => document::library(&settings, None, &[], &cautions(false))?,
        false => report::list(&settings, assembly_given(args), columns),
    };
    text::print(out, &text)
}

fn look_alike_of(
    args: &Faults,
    which: &'static look_alikes::LookAlike,
    out: &mut dyn Write,
    columns: usize,
) -> Result<(), Problem> {
    refuse_charts(args, "a look-alike is told by a few figures")?;
    let shown = look_alike(which)?;
    let text = match args.shared.json {
        true => document::look_alike(&shown, &cautions(true))?,
        false => report::look_alike(&shown, args.shared.units.into(), columns),
    };
    text::print(out, &text)
}

/// The assembly a fault is shown on.
fn shown_on(args: &Faults, fault: &Fault) -> Result<Settings, Problem> {
    let own = frame::resolve(&args.shared, &args.file)?;
    match fault.unmet(&own) {
        None => return Ok(own),
        Some(why) if assembly_given(args) || !args.shared.set.is_empty() => {
            let fit = having(fault)?;
            let rule = match fit.is_empty() {
                true => format!("it needs {}", report::needs(fault)),
                false => format!("it needs {}; of the built-ins {} can have it", report::needs(fault), fit.join(", ")),
            };
            return Err(Error::DoesNotApply { name: fault.name.to_owned(), why, rule }.into());
        }
        Some(_) => {}
    }
    for (name, _) in names() {
        let settings = with_own_faults(Resolver::new().assembly(name), args).resolve()?;
        if fault.unmet(&settings).is_none() {
            return Ok(settings);
        }
    }
    // Cocks tapped into the shutoffs are a choice that no built-in makes.
    let sets = ["cock1.place=shutoff-inner", "cock2.place=shutoff-inner"];
    let resolver = sets.iter().fold(Resolver::new(), |r, set| r.set(set));
    Ok(with_own_faults(resolver, args).resolve()?)
}

fn with_own_faults(resolver: Resolver, args: &Faults) -> Resolver {
    args.shared.fault.iter().fold(resolver, |r, f| r.fault(f))
}

fn having(fault: &Fault) -> Result<Vec<&'static str>, Error> {
    let mut all = Vec::new();
    for (name, _) in names() {
        if fault.unmet(&Resolver::new().assembly(name).resolve()?).is_none() {
            all.push(name);
        }
    }
    Ok(all)
}

fn one(args: &Faults, name: &str, out: &mut dyn Write, columns: usize) -> Result<(), Problem> {
    let fault = faults::named(name).map_err(|_| look_alikes::unknown(name))?;
    let settings = shown_on(args, fault)?;
    let usual = [("severity", format!("severity-{}-{}", fault.name, settings.assembly()))];
    let charts = frame::charts(&args.shared, &["severity"], &usual)?;
    let outputs = Outputs::new(charts, args.shared.csv.as_ref(), &frame::inputs(&args.file, &settings)?)?;
    let rows = symptom_table(&settings, &[fault], &FINE, &|| ())?;
    let tested = Tested { settings, rows };
    let sheet = (!outputs.charts.is_empty()).then(|| picture::severity(fault, &tested, args)).transpose()?;
    let bytes = encoded(
        outputs.charts.iter().filter_map(|(_, path)| Some((path, sheet.as_ref()?))),
        args,
        std::slice::from_ref(&tested),
    )?;
    outputs.write(bytes)?;
    let text = match args.shared.json {
        true => document::library(&tested.settings, Some(fault), &[&tested], &cautions(true))?,
        false => report::one(fault, &tested, args, &outputs.paths, columns)?,
    };
    text::print(out, &text)
}

fn table(args: &Faults, out: &mut dyn Write, columns: usize) -> Result<(), Problem> {
    let assemblies: Vec<Settings> = match assembly_given(args) {
        true => vec![frame::resolve(&args.shared, &args.file)?],
        false => names()
            .map(|(name, _)| {
                let resolver = Resolver::new().assembly(name);
                let resolver = args.shared.set.iter().fold(resolver, |r, set| r.set(set));
                with_own_faults(resolver, args).resolve()
            })
            .collect::<Result<_, _>>()?,
    };
    let usual: Vec<_> = assemblies.iter().map(|s| ("symptoms", format!("symptoms-{}", s.assembly()))).collect();
    let charts = frame::charts(&args.shared, &["symptoms"], &usual)?;
    let Some(first) = assemblies.first() else { return Ok(()) };
    let outputs = Outputs::new(charts, args.shared.csv.as_ref(), &frame::inputs(&args.file, first)?)?;

    let all: Vec<&'static Fault> = faults::all().collect();
    let count: usize = assemblies.iter().map(|s| all.iter().filter(|f| f.unmet(s).is_none()).count()).sum();
    let bar = progress(count * SEVERITIES.len(), args.every.quiet);
    let mut tested = Vec::with_capacity(assemblies.len());
    for settings in assemblies {
        let rows = symptom_table(&settings, &all, &SEVERITIES, &|| bar.inc(1))?;
        tested.push(Tested { settings, rows });
    }
    bar.finish_and_clear();

    let sheets = match outputs.charts.is_empty() {
        true => Vec::new(),
        false => tested.iter().map(|t| picture::symptoms(t, args)).collect::<Result<Vec<Sheet>, _>>()?,
    };
    // Charts asked for by name show the first assembly, those of the folder come by assembly.
    let sheet = |k: usize| sheets.get(k.checked_sub(args.shared.chart.len()).map_or(0, |k| k / 2));
    let drawn = outputs.charts.iter().enumerate().filter_map(|(k, (_, path))| Some((path, sheet(k)?)));
    let bytes = encoded(drawn, args, &tested)?;
    outputs.write(bytes)?;
    let text = match args.shared.json {
        true => {
            let all: Vec<&Tested> = tested.iter().collect();
            document::library(&all[0].settings, None, &all, &cautions(true))?
        }
        false => symptoms_text::tables(&tested, args, &outputs.paths, columns)?,
    };
    text::print(out, &text)
}

/// The files in the order of their paths: charts, then the table.
fn encoded<'a>(
    charts: impl Iterator<Item = (&'a PathBuf, &'a Sheet)>,
    args: &Faults,
    tested: &[Tested],
) -> Result<Vec<Vec<u8>>, Problem> {
    let mut bytes = Vec::new();
    for (path, sheet) in charts {
        bytes.push(encode_sheet(sheet, path)?);
    }
    if args.shared.csv.is_some() {
        bytes.push(symptoms_text::csv(tested)?);
    }
    Ok(bytes)
}

/// A bar on a terminal, nothing elsewhere.
fn progress(length: usize, quiet: bool) -> ProgressBar {
    if quiet {
        return ProgressBar::hidden();
    }
    let bar = ProgressBar::new(length as u64);
    if let Ok(style) = ProgressStyle::with_template("{bar:40} {pos}/{len} faults and severities") {
        bar.set_style(style);
    }
    bar
}
