//! `surge`: from the arguments to text, document, table and charts.

use super::args::Surge as Args;
use super::caution::Caution;
use super::conditions::Conditions;
use super::frame::{self, Findings, Frame, Notice};
use super::problem::Problem;
use super::surge_charts;
use super::text::{Rows, at_height, wrapped};
use super::warning::start_not_steady;
use crate::bench::surge::{
    Closing, Surge, SurgeContext, SurgeDocument, SurgeScene, slam, surge, surge_headline, surge_story, trapped_excess,
};
use crate::error::Error;
use crate::laws::pipe::bore_area;
use crate::rig::{LineFriction, Part, Rig, options};
use crate::units::{Kind, format};
use std::io::Write;
use std::time::Instant;

pub(super) fn run(args: &Args, out: &mut dyn Write, err: &mut dyn Write, columns: usize) -> Result<(), Problem> {
    let settings = frame::resolve(&args.given.shared, &args.given.files)?;
    let options = options(&settings)?;
    let name = settings.assembly();
    let usual = surge_charts::NAMES.map(|chart| (chart, format!("surge-{chart}-{name}")));
    let frame = Frame::new(&args.given, &settings, &surge_charts::NAMES, &usual, None)?;
    let rig = Rig::from_settings(&settings)?;
    let start = Instant::now();
    let found = surge(&settings, &options)?;
    let wall_s = start.elapsed().as_secs_f64();
    let c = frame.conditions(&rig);
    let headline = surge_headline(name, &found, c.system);
    let findings = Findings {
        draw: &|chart| surge_charts::draw(chart, &found, &c, &headline, &frame.hash),
        table: &|| table(&found),
        notices: &notices(&found),
        said_in_text: false,
        cautions: &Caution::ALL,
        document: &|stamp| {
            let context = SurgeContext {
                assembly: stamp.assembly,
                inputs_sha256: stamp.inputs_sha256,
                wall_s,
                warnings: stamp.warnings,
                cautions: stamp.cautions,
            };
            SurgeDocument::new(&found, context)
        },
        report: &|| report(&headline, &found, &c, columns),
    };
    frame.deliver(&findings, out, err, columns)
}

/// Warnings: id and words.
fn notices(run: &Surge) -> Vec<Notice> {
    let mut all: Vec<Notice> = start_not_steady(run.before, "downstream valve").into_iter().collect();
    if run.column_separation().is_some() {
        all.push((
            "line-below-vapour",
            "the line is down to the vapour pressure of water: the column parts".to_owned(),
        ));
    }
    if !run.converged {
        let words = "a peak comes after a cavity has closed: it depends on the number of cells and is not converged";
        all.push(("not-converged", words.to_owned()));
    }
    if run.coupled.as_ref().is_some_and(|r| r.chatter) {
        all.push(("chatter", "a part opens and shuts without end, and the run was stopped there".to_owned()));
    }
    all
}

fn table(run: &Surge) -> Result<Vec<u8>, Problem> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let done = match (&run.coupled, &run.bare) {
        (Some(r), _) => r.points.iter().try_for_each(|p| writer.serialize(p)),
        (_, Some((_, r))) => writer.write_record(["t_s", "line_pa_gauge"]).and_then(|()| {
            r.at_valve.iter().enumerate().try_for_each(|(k, p)| {
                writer.write_record([(k as f64 * r.waves.dt).to_string(), (p - run.ambient).to_string()])
            })
        }),
        _ => Ok(()),
    };
    done.map_err(|e| Problem::Encode(e.to_string()))?;
    writer.into_inner().map_err(|e| Problem::Encode(e.to_string()))
}

fn report(headline: &str, run: &Surge, c: &Conditions<'_>, columns: usize) -> Result<String, Error> {
    let mut out = wrapped(&format!("{headline}."), columns, 0, 0);
    out.push_str("\nWhat happens and why\n");
    for sentence in surge_story(run, c.system) {
        out.push_str(&wrapped(&sentence, columns, 2, 4));
    }
    out.push('\n');
    out.push_str(&conditions(run, c)?.laid_out("Conditions", columns));
    out.push('\n');
    out.push_str(&figures(run, c).laid_out("Figures (peaks gauge, troughs absolute)", columns));
    Ok(out)
}

fn conditions(run: &Surge, c: &Conditions<'_>) -> Result<Rows, Error> {
    let show = |kind: Kind, si: f64| format(kind, si, c.system);
    let s = c.settings;
    let mut rows = Rows::default();
    rows.add("assembly", c.assembly()?);
    let waves = run.coupled.as_ref().map(|r| &r.waves).or(run.bare.as_ref().map(|b| &b.1.waves));
    let cells = waves.map_or(0, |w| w.cells);
    let friction = match &run.friction {
        LineFriction::Constant(f) if *f == 0.0 => "no friction".to_owned(),
        LineFriction::Constant(f) => format!("friction factor {f}"),
        LineFriction::Roughness => "steady friction from its roughness".to_owned(),
    };
    rows.add(
        "line",
        format!(
            "{} of bore {}, waves at {}, {cells} cells (time step {:.4} ms), {friction}; main at {}, {}",
            show(Kind::Length, s.number("supply.line_length")?),
            show(Kind::Length, s.number("supply.line_bore")?),
            show(Kind::Velocity, s.number("supply.line_wave_speed")?),
            1e3 * waves.map_or(f64::NAN, |w| w.dt),
            show(Kind::GaugePressure, s.number("supply.pressure")?),
            at_height(s.number("supply.elevation")?, "the assembly", c.system)
        ),
    );
    let act = match (run.scene, &run.bare) {
        (SurgeScene::Fill, _) => {
            format!(
                "shutoff 1 is thrown open in {} on a line at rest",
                show(Kind::Time, s.number("surge.opening_time")?)
            )
        }
        (SurgeScene::DownstreamValve, _) => format!(
            "a valve of {} at the load side's outlet shuts its area in {} on a steady flow of {} in the line",
            show(Kind::Area, s.number("load_side.outlet_area")?),
            show(Kind::Time, s.number("surge.closing_time")?),
            show(Kind::Velocity, before(run, bore_area(s.number("supply.line_bore")?)))
        ),
        (_, Some((case, _))) => format!(
            "the valve at the pipe's end shuts its {} in {} on {}",
            if case.closing == Closing::Flow { "flow" } else { "area" },
            show(Kind::Time, case.closing_time),
            show(Kind::Velocity, case.velocity)
        ),
        _ => String::new(),
    };
    rows.add("act", act);
    // A slam starts from a flow that has filled everything.
    if run.scene == SurgeScene::Fill {
        rows.add("load side", c.load_side()?);
        rows.add("water at the start", format!("zone 1 {}, zone 2 {}", c.initial("zone1")?, c.initial("zone2")?));
    }
    rows.add("water temperature", show(Kind::Temperature, s.number("water.temperature")?));
    rows.add("ambient", show(Kind::AbsolutePressure, run.ambient));
    Ok(rows)
}

/// Velocity in the line before the act, m/s.
fn before(run: &Surge, area: f64) -> f64 {
    run.coupled.as_ref().map_or(f64::NAN, |r| r.waves.flow_at_start / (run.density * area))
}

fn figures(run: &Surge, c: &Conditions<'_>) -> Rows {
    let show = |kind: Kind, si: f64| format(kind, si, c.system);
    let (peak, trough) = (run.peaks(), run.troughs());
    let mut rows = Rows::default();
    let rough = if run.converged { "" } else { ", not converged" };
    let places = |kind: Kind, line: f64, zones: [Option<f64>; 2]| {
        let mut words = format!("line {}", show(kind, line));
        for (k, p) in zones.into_iter().enumerate() {
            words.push_str(&p.map_or(String::new(), |p| format!(", zone {} {}", k + 1, show(kind, p))));
        }
        words
    };
    rows.add("peak", format!("{}{rough}", places(Kind::GaugePressure, peak.line, [peak.zone1, peak.zone2])));
    rows.add("trough", places(Kind::AbsolutePressure, trough.line, [trough.zone1, trough.zone2]));
    if let Some(r) = &run.coupled {
        let speed = |part| slam(r, part).map_or("does not shut".to_owned(), |v| show(Kind::Velocity, v));
        rows.add("slam", format!("check {}, air inlet {}", speed(Part::Check), speed(Part::AirInlet)));
        rows.add(
            "trapped excess",
            format!("{}: zone 2 above supply less check load", show(Kind::PressureDifference, trapped_excess(r))),
        );
        rows.add("spill", show(Kind::Volume, r.spill_m3));
        if r.rig.relief.is_some() {
            rows.add("relieved", show(Kind::Volume, r.relieved_m3));
        }
    }
    rows
}
