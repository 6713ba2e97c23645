//! `field-test`: from the arguments to text, document, table and chart.

use super::args::Given;
use super::caution::Caution;
use super::frame::{self, Findings, Frame, Notice};
use super::problem::Problem;
use super::{field_report, table, text};
use crate::bench::field::{
    FieldContext, FieldDocument, FieldOptions, FieldTest as Test, Procedure, Setup, field_test, in_service,
};
use crate::charts::lay_out_needle;
use crate::rig::Rig;
use clap::Args;
use std::io::Write;
use std::path::Path;
use std::time::Instant;

/// `field-test`.
#[derive(Debug, Args)]
#[command(after_help = "\
With no FILE and no --assembly it tests the built-in demo pvb-spring, by the procedure usual for it:
two-cock where zone 2 shuts the air inlet, one-cock where zone 1 does. Any procedure runs on any assembly;
what a reading then means is said. Gauge, hand and test are fields: --set \"gauge.height=-6 in\",
--set \"hand.bleed_rate=0.5 psi\" (a second), --set \"hand.eye_delay=0.3 s\".

Procedures: two-cock, one-cock; for a leaking shutoff 1 two-cock-compensated, one-cock-compensated; by a sight
tube two-cock-tube, one-cock-tube; or a TOML file of your own: --print-procedure > own.toml writes one to edit.
Parts to repair: check, check-spring, check-disc, air-inlet, inlet-spring, diaphragm, shutoff1, gauge, hand and
others (a wrong name lists all); what that renews follows from the construction, faults elsewhere stay.

Charts: needle")]
pub(super) struct FieldTest {
    /// Built-in procedure, or a file with one [default: the usual one]
    #[arg(long, value_name = "NAME|FILE")]
    pub procedure: Option<String>,
    /// Print the built-in procedure as a file ready to edit, and test nothing
    #[arg(long)]
    pub print_procedure: bool,
    /// How often the whole test is gone through, 1 to 1000
    #[arg(long, value_name = "N", default_value_t = 3, value_parser = clap::value_parser!(u64).range(1..=1000))]
    pub repeats: u64,
    /// Test again with this part as new (named below)
    #[arg(long, value_name = "PART")]
    pub repair: Option<String>,
    #[command(flatten)]
    pub given: Given,
}

pub(super) fn run(args: &FieldTest, out: &mut dyn Write, err: &mut dyn Write, columns: usize) -> Result<(), Problem> {
    let settings = frame::resolve(&args.given.shared, &args.given.files)?;
    if args.print_procedure {
        let name = match &args.procedure {
            Some(name) => name.clone(),
            None => Procedure::usual_for(&settings)?.name,
        };
        let caution = text::wrapped(Caution::LicensedTestersAndLocalCode.words(), 100, 0, 0);
        let caution: String = caution.lines().map(|line| format!("# {line}\n")).collect();
        return text::print(out, &format!("{}\n{caution}", Procedure::builtin_file(&name)?));
    }
    let procedure = match &args.procedure {
        Some(named) => Procedure::named(named)?,
        None => Procedure::usual_for(&settings)?,
    };
    let mended = args.repair.as_deref().map(|part| settings.repaired(part)).transpose()?;
    let rig = in_service(&settings, &Rig::from_settings(&settings)?)?;
    let setup = Setup::from_settings(&settings)?;
    let usual = [("needle", format!("field-test-{}", settings.assembly()))];
    let script = args.procedure.as_deref().map(Path::new);
    let how = FieldOptions { repeats: args.repeats as usize, seed: args.given.every.seed, sticking: true };
    let beside = format!("{how:?} {:?} {:?}", procedure.acts, args.repair);
    let frame = Frame::new(&args.given, &settings, &["needle"], &usual, script)?.beside(&beside);

    let start = Instant::now();
    let test = field_test(&settings, &procedure, &how)?;
    let after = mended.map(|settings| field_test(&settings, &procedure, &how)).transpose()?;
    let wall_s = start.elapsed().as_secs_f64();

    let c = frame.conditions(&rig);
    let told = field_report::Told { test: &test, procedure: &procedure, setup: &setup, conditions: &c, how };
    let lost: Vec<Notice> = test.lost.iter().map(|l| ("measurement-lost", l.words(c.system))).collect();
    let findings = Findings {
        draw: &|_| Ok(lay_out_needle(&told.picture(&frame.hash)?)),
        table: &|| table::rows(test.tries.first().map_or(&[][..], |t| &t.trace[..])),
        notices: &lost,
        said_in_text: true,
        cautions: &Caution::ALL,
        document: &|stamp| {
            let context = FieldContext {
                assembly: stamp.assembly,
                inputs_sha256: stamp.inputs_sha256,
                setup: &setup,
                how,
                instrument: procedure.instrument,
                start_pa_gauge: [rig.initial_pressure[0], rig.initial_pressure[1]],
                after: after.as_ref(),
                tolerance: test.tolerance,
                wall_s,
                warnings: warnings(&test),
                cautions: stamp.cautions,
            };
            FieldDocument::new(&test, context)
        },
        report: &|| told.report(args.repair.as_deref().zip(after.as_ref()), columns),
    };
    frame.deliver(&findings, out, err, columns)
}

/// Ids of what a reader should know before relying on the readings.
fn warnings(test: &Test) -> Vec<&'static str> {
    let mut all = Vec::new();
    if !test.lost.is_empty() {
        all.push("measurement-lost");
    }
    if test.observed.outside_leak_m3_s > 0.0 {
        all.push("leaks-outside");
    }
    if test.readings.iter().any(|r| r.doubtful) {
        all.push("within-gauge-class");
    }
    all
}
