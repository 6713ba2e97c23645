//! `field-test`: from the arguments to text, document, table and chart.

use super::args::{Every, Shared};
use super::caution::Caution;
use super::conditions::Conditions;
use super::problem::Problem;
use super::{field_report, files, frame, text};
use crate::bench::field::{
    FieldContext, FieldDocument, FieldOptions, FieldTest as Test, Point, Procedure, Setup, field_test, in_service,
};
use crate::charts::{encode_sheet, lay_out_needle};
use crate::rig::Rig;
use clap::Args;
use std::io::Write;
use std::path::PathBuf;
use std::time::Instant;

/// `field-test`.
#[derive(Debug, Args)]
#[command(after_help = "\
With no FILE and no --assembly it tests the built-in demo pvb-spring, by the procedure usual for it:
two-cock where zone 2 shuts the air inlet, one-cock where zone 1 does. Any procedure runs on any assembly;
what a reading then means is said. Gauge, hand and test are fields: --set \"gauge.height=-6 in\",
--set \"hand.bleed_rate=0.5 psi\" (per second), --set \"hand.eye_delay=0.3 s\".

Procedures: two-cock, one-cock, two-cock-tube, one-cock-tube, or a TOML file
Parts to repair: check, check-spring, air-inlet, inlet-poppet, diaphragm, shutoff1, gauge, hand and others; what
that renews follows from the construction, and --fault that sit elsewhere stay
Charts: needle")]
pub(super) struct FieldTest {
    /// Assembly files (TOML); a later one overrides
    #[arg(value_name = "FILE")]
    pub files: Vec<PathBuf>,
    /// Built-in procedure, or a file with one [default: the usual one]
    #[arg(long, value_name = "NAME|FILE")]
    pub procedure: Option<String>,
    /// How often the whole test is gone through
    #[arg(long, value_name = "N", default_value_t = 3, value_parser = clap::value_parser!(u64).range(1..=1000))]
    pub repeats: u64,
    /// Test again with this part as new
    #[arg(long, value_name = "PART")]
    pub repair: Option<String>,
    #[command(flatten)]
    pub shared: Shared,
    #[command(flatten)]
    pub every: Every,
}

pub(super) fn run(args: &FieldTest, out: &mut dyn Write, err: &mut dyn Write, columns: usize) -> Result<(), Problem> {
    let settings = frame::resolve(&args.shared, &args.files)?;
    let procedure = match &args.procedure {
        Some(named) => Procedure::named(named)?,
        None => Procedure::usual_for(&settings)?,
    };
    let mended = args.repair.as_deref().map(|part| settings.repaired(part)).transpose()?;
    let rig = in_service(&settings, &Rig::from_settings(&settings)?)?;
    let setup = Setup::from_settings(&settings)?;
    let stem = format!("field-test-{}", settings.assembly());
    let charts = frame::charts(&args.shared, &["needle"], &[("needle", stem)])?;
    let paths: Vec<PathBuf> = charts.iter().map(|(_, path)| path.clone()).chain(args.shared.csv.clone()).collect();
    let mut inputs = frame::inputs(&args.files, &settings)?;
    let script = args.procedure.as_deref().map(std::path::Path::new);
    inputs.extend(script);
    let places = files::check(&paths, &inputs)?;

    let how = FieldOptions { repeats: args.repeats as usize, seed: args.every.seed, sticking: true };
    let start = Instant::now();
    let test = field_test(&settings, &procedure, &how)?;
    let after = mended.map(|settings| field_test(&settings, &procedure, &how)).transpose()?;
    let wall_s = start.elapsed().as_secs_f64();

    let hash = settings.sha256(env!("CARGO_PKG_VERSION"));
    let system = args.shared.units.into();
    let names = args.files.iter().map(|f| crate::error::shown(&f.to_string_lossy())).collect();
    let conditions = Conditions { settings: &settings, rig: &rig, system, files: names };
    let told = field_report::Told { test: &test, procedure: &procedure, setup: &setup, conditions: &conditions, how };
    let mut bytes = Vec::with_capacity(paths.len());
    if !charts.is_empty() {
        let sheet = lay_out_needle(&told.picture(&hash)?);
        for (_, path) in &charts {
            bytes.push(encode_sheet(&sheet, path)?);
        }
    }
    if args.shared.csv.is_some() {
        bytes.push(table(test.tries.first().map_or(&[][..], |t| &t.trace[..]))?);
    }
    files::write(&places.iter().zip(bytes).collect::<Vec<_>>())?;
    if !args.every.quiet && args.shared.json {
        for lost in &test.lost {
            // A warning that cannot be shown is still in the document.
            let words = format!("warning: {}", lost.words(system));
            let _ = err.write_all(text::wrapped(&words, columns, 0, 9).as_bytes());
        }
    }
    let text = match args.shared.json {
        true => {
            let context = FieldContext {
                assembly: settings.assembly().to_owned(),
                inputs_sha256: hash,
                setup: &setup,
                how,
                instrument: procedure.instrument,
                start_pa_gauge: [rig.initial_pressure[0], rig.initial_pressure[1]],
                after: after.as_ref(),
                tolerance: test.tolerance,
                wall_s,
                warnings: warnings(&test),
                cautions: Caution::ALL.iter().map(|c| c.id()).collect(),
            };
            let document = FieldDocument::new(&test, context);
            serde_json::to_string_pretty(&document).map_err(|e| Problem::Encode(e.to_string()))? + "\n"
        }
        false => told.report(args.repair.as_deref().zip(after.as_ref()), &paths, columns)?,
    };
    text::print(out, &text)
}

/// Ids of what a reader should know before relying on the readings.
fn warnings(test: &Test) -> Vec<&'static str> {
    let mut all = Vec::new();
    if !test.lost.is_empty() {
        all.push("measurement-lost");
    }
    if test.readings.iter().any(|r| r.doubtful) {
        all.push("within-gauge-class");
    }
    all
}

/// The first try as a table.
fn table(trace: &[Point]) -> Result<Vec<u8>, Problem> {
    let mut writer = csv::Writer::from_writer(Vec::with_capacity(120 * trace.len()));
    for point in trace {
        writer.serialize(point).map_err(|e| Problem::Encode(e.to_string()))?;
    }
    writer.into_inner().map_err(|e| Problem::Encode(e.to_string()))
}
