//! `siphon`: from the arguments to text, document, table and charts.

use super::args::Siphon as Args;
use super::caution::Caution;
use super::conditions::Conditions;
use super::frame::{self, Findings, Frame, Notice};
use super::problem::Problem;
use super::text::{Rows, at_height, wrapped};
use super::warning::start_not_steady;
use super::{siphon_charts, table};
use crate::assembly::Settings;
use crate::bench::siphon::{
    FoulLimit, LEAST_HEIGHT, Outcome, Scene, Siphon, SiphonContext, SiphonDocument, foul_limits, scene_headline,
    siphon, siphon_headline, siphon_story,
};
use crate::error::Error;
use crate::laws::curve::MonotoneCurve;
use crate::rig::{Feed, MainPressure, options};
use crate::units::{Kind, System, format};
use std::io::Write;
use std::time::Instant;

pub(super) fn run(args: &Args, out: &mut dyn Write, err: &mut dyn Write, columns: usize) -> Result<(), Problem> {
    let settings = frame::resolve(&args.given.shared, &args.given.files)?;
    let options = options(&settings)?;
    let name = settings.assembly();
    let usual = siphon_charts::NAMES.map(|chart| (chart, format!("siphon-{chart}-{name}")));
    let frame = Frame::new(&args.given, &settings, &siphon_charts::NAMES, &usual, None)?;

    let start = Instant::now();
    let found = siphon(&settings, &options)?;
    let limits = match found.scene {
        Scene::Backpressure => Vec::new(),
        _ => foul_limits(&settings, &[found.rise_limit_m, found.test_limit_m], &options)?,
    };
    let wall_s = start.elapsed().as_secs_f64();

    let c = frame.conditions(&found.asked.rig);
    let headline = siphon_headline(name, &found, c.system);
    let findings = Findings {
        draw: &|chart| {
            siphon_charts::draw(chart, &found, &limits, &c, &scene_headline(name, &found, c.system), &frame.hash)
        },
        table: &|| table::rows(scenes(&found).flat_map(|o| &o.points)),
        notices: &notices(&found, c.system),
        said_in_text: false,
        cautions: &Caution::of_commands(["siphon"]),
        document: &|stamp| {
            let context = SiphonContext {
                assembly: stamp.assembly,
                inputs_sha256: stamp.inputs_sha256,
                foul_limits: limits.clone(),
                wall_s,
                warnings: stamp.warnings,
                cautions: stamp.cautions,
            };
            SiphonDocument::new(&found, context)
        },
        report: &|| report(&headline, &found, &limits, &c, columns),
    };
    frame.deliver(&findings, out, err, columns)
}

/// The scene that was asked for, and the other one where there is one.
fn scenes(run: &Siphon) -> impl Iterator<Item = &Outcome> {
    [Some(&run.asked), run.other.as_ref()].into_iter().flatten()
}

/// Warnings: id and words.
fn notices(run: &Siphon, system: System) -> Vec<Notice> {
    let mut all = Vec::new();
    if run.scene != Scene::Backpressure && run.installed_height_m < LEAST_HEIGHT * (1.0 - 1e-9) {
        let words = format!(
            "the assembly stands {}, and the rule is {} above at least: it fails by eye, whatever it does here",
            at_height(run.installed_height_m, "its highest outlet", system),
            format(Kind::Length, LEAST_HEIGHT, system)
        );
        all.push(("installed-low", words));
    }
    for o in scenes(run) {
        let name = o.scene.name();
        all.extend(start_not_steady(o.before, name));
        if let Some(chatter) = o.chatter {
            let ended = o.last().map_or(f64::NAN, |p| p.t_s);
            let alike = if chatter.alike { "all alike" } else { "no two alike" };
            let words = format!(
                "{name}: parts open and shut without end, a round in {}, {alike}; the run was stopped at {}, the flow back is \
                 the mean of the last rounds, and other figures at the end are one moment of them",
                format(Kind::Time, chatter.round_s, system),
                format(Kind::Time, ended, system)
            );
            all.push(("chatter", words));
            continue;
        }
        if !o.settled && all.iter().all(|n: &Notice| n.0 != "end-time-reached") {
            let words = format!("the {} had not come to rest when the run ended", o.scene.name());
            all.push(("end-time-reached", words));
        }
    }
    all
}

fn report(
    headline: &str,
    run: &Siphon,
    limits: &[FoulLimit],
    c: &Conditions<'_>,
    columns: usize,
) -> Result<String, Error> {
    let mut out = wrapped(&format!("{headline}."), columns, 0, 0);
    out.push_str("\nWhat happens and why\n");
    for sentence in siphon_story(run, limits, c.system) {
        out.push_str(&wrapped(&sentence, columns, 2, 4));
    }
    out.push('\n');
    out.push_str(&conditions(run, c)?.laid_out("Conditions", columns));
    for o in scenes(run) {
        let heading = format!("Figures: {} (pressures gauge)", o.scene.name());
        out.push_str(&format!("\n{}", figures(o, c).laid_out(&heading, columns)));
    }
    Ok(out)
}

fn ends(curve: &MonotoneCurve) -> Option<(f64, f64)> {
    let mut knots = curve.knots();
    let first = knots.next()?.1;
    Some((first, knots.last().map_or(first, |k| k.1)))
}

/// How the supply falls, in words.
fn supply(o: &Outcome, settings: &Settings, c: &Conditions<'_>) -> Result<String, Error> {
    let show = |kind, si| format(kind, si, c.system);
    let gauge = |p| show(Kind::GaugePressure, p);
    let time = show(Kind::Time, o.rig.acts_until);
    let flow =
        o.flow_before().map_or_else(String::new, |q| format!(" on a steady flow of {}", show(Kind::VolumeFlow, q)));
    Ok(match &o.rig.feed {
        Feed::Vessel(curve) => match ends(curve) {
            Some((a, b)) => format!("air vessel at shutoff 1, from {} to {} in {time}; no line", gauge(a), gauge(b)),
            None => "air vessel at shutoff 1".to_owned(),
        },
        Feed::Line(line) => {
            let course = match &line.pressure {
                MainPressure::Recorded(curve) => ends(curve).map_or_else(String::new, |(a, b)| {
                    format!("main falls from {} to {} in {time}{flow}", gauge(a), gauge(b))
                }),
                MainPressure::Steady(p) => format!("main at {}", gauge(*p)),
            };
            format!(
                "{course}; line of {}, bore {}, full of water; main {}",
                show(Kind::Length, line.length),
                show(Kind::Length, line.bore),
                at_height(line.elevation, "the assembly", c.system)
            )
        }
        _ => {
            let file = settings.get("supply.trace").map_or("", |s| &s.text);
            format!("pressure before shutoff 1 as recorded in {file}{flow}")
        }
    })
}

fn load_side(o: &Outcome, c: &Conditions<'_>) -> Result<String, Error> {
    let show = |kind, si| format(kind, si, c.system);
    let length = |m| show(Kind::Length, m);
    if let Some(t) = &o.rig.tube {
        return Ok(format!(
            "tube of bore {} into an open pan {} below, mouth {} deep, entry loss {}; piping of {} above it, empty",
            length(t.bore),
            length(t.length),
            length(t.dip),
            t.entry_loss,
            show(Kind::Volume, c.settings.number("load_side.volume")?)
        ));
    }
    let outlet = match (o.rig.beyond_outlet, o.rig.outlet.0 > 0.0) {
        (Some(p), true) => format!("water at {} beyond the outlet", show(Kind::GaugePressure, p)),
        (_, true) => "outlet open to the air".to_owned(),
        (_, false) => "outlets shut".to_owned(),
    };
    Ok(format!(
        "piping of {}, {outlet}, {}; starts at {}",
        show(Kind::Volume, o.rig.zones[2].volume),
        at_height(o.rig.outlet.1, "the assembly", c.system),
        o.first().map_or("-".to_owned(), |p| show(Kind::GaugePressure, p.load_side_pa_gauge))
    ))
}

fn conditions(run: &Siphon, c: &Conditions<'_>) -> Result<Rows, Error> {
    let show = |kind, si| format(kind, si, c.system);
    let s = c.settings;
    let mut rows = Rows::default();
    rows.add("assembly", c.assembly()?);
    rows.add("scene", run.scene.name());
    for o in [Some(&run.asked), run.other.as_ref()].into_iter().flatten() {
        let name = o.scene.name();
        rows.add(&format!("{name}: supply"), supply(o, s, c)?);
        rows.add(
            &format!("{name}: zone 2"),
            o.first().map_or("-".to_owned(), |p| format!("starts at {}", show(Kind::GaugePressure, p.zone2_pa_gauge))),
        );
        rows.add(&format!("{name}: load side"), load_side(o, c)?);
    }
    let check = &run.asked.rig.check;
    let foul = check.foul_area;
    rows.add(
        "check",
        match foul + check.leak_area > 0.0 {
            true => format!(
                "held open by {} of dirt, leaks by {}",
                show(Kind::Area, foul),
                show(Kind::Area, check.leak_area)
            ),
            false => "tight".to_owned(),
        },
    );
    let inlet = &run.asked.rig.inlet.poppet;
    let cd = |water: f64, ratio: f64| format!("{water:.2} for water, {:.2} for air", water * ratio);
    rows.add(
        "discharge coefficients",
        format!(
            "check {}, its foul {}, vent {}, sharp-edged openings {:.2}",
            cd(check.discharge_coefficient, check.air_ratio[1]),
            cd(check.foul_coefficient, check.air_ratio[0]),
            cd(inlet.discharge_coefficient, inlet.air_ratio[1]),
            crate::rig::SHARP_EDGE
        ),
    );
    let fluid = &run.asked.rig.fluid;
    rows.add(
        "ambient",
        format!(
            "{}, water and air at {}",
            show(Kind::AbsolutePressure, fluid.ambient),
            show(Kind::Temperature, fluid.temperature)
        ),
    );
    Ok(rows)
}

fn figures(o: &Outcome, c: &Conditions<'_>) -> Rows {
    let show = |kind: Kind, si: f64| format(kind, si, c.system);
    let mut rows = Rows::default();
    if let Some(r) = o.rise {
        rows.add("rise at rest", show(Kind::Length, r.at_rest_m));
        rows.add("highest rise", show(Kind::Length, r.max_m));
    }
    rows.add("water back through the check", show(Kind::Volume, o.water_back_m3.max(0.0)));
    if o.rig.traces_load_water {
        rows.add("of it from the load side", show(Kind::Volume, o.load_water_back_m3.max(0.0)));
    }
    rows.add("water back into the supply", show(Kind::Volume, o.supply_back_m3.max(0.0)));
    rows.add("water out of the air inlet", show(Kind::Volume, o.spit_m3));
    rows.add("air in through the air inlet", show(Kind::Mass, o.air_admitted_kg));
    rows.add(
        "air inlet starts to open",
        match (o.t_air_inlet_opens_s, o.zone1_at_opening_pa_gauge) {
            (Some(t), Some(p)) => format!("{}, zone 1 at {}", show(Kind::Time, t), show(Kind::GaugePressure, p)),
            _ => "never".to_owned(),
        },
    );
    rows.add(
        "lowest pressure in zone 2",
        format!("{}, no measure of protection", show(Kind::AbsolutePressure, o.zone2_min_pa_abs)),
    );
    let reverse = match o.chatter {
        Some(_) => "reverse flow of water, mean of the last rounds",
        None => "reverse flow of water at the end",
    };
    rows.add(reverse, show(Kind::VolumeFlow, o.reverse_flow_m3_s));
    if let Some(last) = o.last() {
        let settled = if o.settled { "at rest" } else { "not yet at rest" };
        rows.add(
            "at the end",
            format!(
                "{} ({settled}): zone 1 {}, zone 2 {}",
                show(Kind::Time, last.t_s),
                show(Kind::GaugePressure, last.zone1_pa_gauge),
                show(Kind::GaugePressure, last.zone2_pa_gauge)
            ),
        );
    }
    rows
}
