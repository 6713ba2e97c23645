//! `freeze`: from the arguments to text, document, table and charts.

use super::args::Given;
use super::caution::Caution;
use super::conditions::Conditions;
use super::frame::{self, Findings, Frame, Notice};
use super::freeze_notes::notices;
use super::freeze_picture::{nights_picture, picture};
use super::problem::Problem;
use super::text::{Rows, degrees, wrapped};
use crate::assembly::Settings;
use crate::bench::{Freeze, FreezeDocument, blocking, freeze, freeze_headline, freeze_story};
use crate::charts::{lay_out_curves, lay_out_night};
use crate::error::Error;
use crate::freeze::Scene;
use crate::freeze::night::TOLERANCE;
use crate::rig::Rig;
use crate::units::{Kind, System, format};
use clap::Args;
use std::io::Write;
use std::time::Instant;

/// `freeze`.
#[derive(Debug, Args)]
#[command(after_help = "\
Both shutoffs are shut with water in the body, the air is cold. Change the night with, for example,
  --set \"night.air_temperature=20 degF\" --set relief.place=zone2 --set night.count=3
With no FILE and no --assembly it takes the built-in pvb-spring. Without --json and --chart it writes
DIR/freeze-ASSEMBLY.svg and .png (and freeze-nights-ASSEMBLY for several nights).

Charts: night, nights")]
pub(super) struct FreezeArgs {
    #[command(flatten)]
    pub given: Given,
}

pub(super) fn run(args: &FreezeArgs, out: &mut dyn Write, err: &mut dyn Write, columns: usize) -> Result<(), Problem> {
    let settings = frame::resolve(&args.given.shared, &args.given.files)?;
    let rig = Rig::from_settings(&settings)?;
    let scene = Scene::from_settings(&settings, &rig)?;
    let name = settings.assembly();
    let mut usual = vec![("night", format!("freeze-{name}"))];
    if scene.count > 1 {
        usual.push(("nights", format!("freeze-nights-{name}")));
    }
    let frame = Frame::new(&args.given, &settings, &["night", "nights"], &usual, None)?;

    let start = Instant::now();
    let mut found = freeze(&scene, TOLERANCE)?;
    found.blocking = blocking(&scene, &found, TOLERANCE);
    let wall_s = start.elapsed().as_secs_f64();

    let c = frame.conditions(&rig);
    let notices = notices(&found, &scene, c.system);
    let findings = Findings {
        draw: &|chart| {
            Ok(match chart {
                "nights" => lay_out_curves(&nights_picture(&found, &scene, &c, &frame.hash)?),
                _ => lay_out_night(&picture(&found, &scene, &c, &frame.hash)?),
            })
        },
        table: &|| table(&found, &scene),
        notices: &notices,
        said_in_text: true,
        cautions: &Caution::of_commands(["freeze"]),
        document: &|s| FreezeDocument::new(&found, s.assembly, s.inputs_sha256, wall_s, s.warnings, s.cautions),
        report: &|| report(&found, &scene, &c, &notices, columns),
    };
    frame.deliver(&findings, out, err, columns)
}

/// All nights as one table: SI, the unit in each column's name.
fn table(found: &Freeze, scene: &Scene) -> Result<Vec<u8>, Problem> {
    let fail = |e: &dyn std::fmt::Display| Problem::Encode(e.to_string());
    let mut writer = csv::Writer::from_writer(Vec::new());
    let mut header = vec!["night".to_owned(), "t_s".to_owned(), "air_k".to_owned()];
    for zone in &scene.body.zones {
        header.extend(
            ["t_k", "pa_gauge", "water_and_ice_kg", "ice_kg", "wall_growth_m3"].map(|c| format!("{}_{c}", zone.name)),
        );
    }
    header.extend(["heat_out_j", "relieved_kg", "relieved_m3"].map(str::to_owned));
    writer.write_record(&header).map_err(|e| fail(&e))?;
    for (k, one) in found.nights.iter().enumerate() {
        for s in &one.night.samples {
            let mut row = vec![(k + 1).to_string(), s.time.to_string(), s.air.to_string()];
            for z in &s.zones {
                let gauge = z.p - scene.body.ambient;
                row.extend([z.t, gauge, z.mass, z.ice, z.lasting].map(|v| v.to_string()));
            }
            row.extend([s.heat_out, s.relieved[0], s.relieved[1]].map(|v| v.to_string()));
            writer.write_record(&row).map_err(|e| fail(&e))?;
        }
    }
    writer.into_inner().map_err(|e| fail(&e))
}

fn report(
    found: &Freeze,
    scene: &Scene,
    c: &Conditions<'_>,
    notices: &[Notice],
    columns: usize,
) -> Result<String, Error> {
    let mut out = wrapped(&format!("{}.", freeze_headline(found, scene, c.system)), columns, 0, 0);
    let mut rows = conditions(scene, c)?;
    rows.add("relief", relief_words(scene, c)?);
    out.push_str(&format!("\n{}", rows.laid_out("Conditions", columns)));
    let first = if found.figures.len() > 1 { " (first night)" } else { "" };
    out.push_str(&format!("\nWhat happens{first}\n"));
    for sentence in freeze_story(found, scene, c.system) {
        out.push_str(&wrapped(&sentence, columns, 2, 4));
    }
    out.push_str(&format!("\n{}", figures(found, scene, c).laid_out("Figures (pressures gauge)", columns)));
    if found.figures.len() > 1 {
        out.push_str(&nights(found, c.system));
    }
    for (_, words) in notices {
        out.push_str(&format!("\n{}", wrapped(&format!("Note: {words}."), columns, 0, 6)));
    }
    Ok(out)
}

/// What the night is like, as rows, the relief left out.
pub(super) fn conditions(scene: &Scene, c: &Conditions<'_>) -> Result<Rows, Error> {
    let s = c.settings;
    let show = |path: &str, kind: Kind| Ok::<_, Error>(format(kind, s.number(path)?, c.system));
    let mut rows = Rows::default();
    rows.add("assembly", c.assembly()?);
    if let Some(changes) = c.changes()? {
        rows.add("changed", changes);
    }
    let wind = match s.number("night.wind_speed")? {
        w if w > 0.0 => format!("wind {}", format(Kind::Velocity, w, c.system)),
        _ => "still".to_owned(),
    };
    let air = match s.weather() {
        Some(_) => format!("as in {}", s.get("night.weather").map_or("", |x| x.text.trim())),
        None => show("night.air_temperature", Kind::Temperature)?,
    };
    let foam = s.number("night.insulation")?;
    let foam = if foam > 0.0 { format!(", {} of foam", format(Kind::Length, foam, c.system)) } else { String::new() };
    rows.add("air", format!("{air}, {wind}{foam}, for {}", show("night.duration", Kind::Time)?));
    if scene.count > 1 {
        let how = match scene.refill {
            crate::freeze::Refill::Tight => "shutoff 1 tight",
            crate::freeze::Refill::Purged => "refilled through shutoff 1, air purged",
            crate::freeze::Refill::AirKept => "refilled through shutoff 1, air kept",
        };
        rows.add("nights", format!("{} in a row, a thaw after each, {how}", scene.count));
    }
    let water: Vec<String> = scene
        .body
        .zones
        .iter()
        .zip(&scene.starts)
        .enumerate()
        .map(|(i, (z, start))| {
            let name = z.name.replace("zone", "zone ");
            if scene.body.dry_at(i, start) {
                return format!("none in {name}");
            }
            let mass = format(Kind::Mass, scene.body.water_at(i, start), c.system);
            let p = format(Kind::GaugePressure, start.p - scene.body.ambient, c.system);
            format!("{mass} in {name} at {p}")
        })
        .collect();
    let temperature = show("water.temperature", Kind::Temperature)?;
    let joined = if scene.body.joined_at(&scene.starts) { ", joined by the lifted stem" } else { "" };
    rows.add("water shut in", format!("{}{joined}, {temperature}, both shutoffs shut", water.join(", ")));
    let metal = format!(
        "metal tube, bore {}, wall {}, yield {}; {} of metal; rubber gives {} at most",
        show("body.bore", Kind::Length)?,
        show("body.wall", Kind::Length)?,
        show("body.yield_strength", Kind::PressureDifference)?,
        show("body.mass", Kind::Mass)?,
        format(Kind::Volume, scene.body.zones.iter().map(|z| z.wall.rubber.largest).sum(), c.system),
    );
    rows.add("body", metal);
    rows.add("first ice", format!("{} below the melting point", degrees(s.number("night.supercooling")?, c.system)));
    Ok(rows)
}

/// Where the relief stands.
///
/// # Errors
/// [`Error`] if the field is missing.
pub(super) fn relief_place(zone: &str, settings: &Settings) -> Result<String, Error> {
    let zone = zone.replace("zone", "zone ");
    Ok(match settings.choice("relief.place")? {
        "air-inlet-stem" => format!("in the air inlet's stem over {zone}"),
        _ => format!("in {zone}"),
    })
}

fn relief_words(scene: &Scene, c: &Conditions<'_>) -> Result<String, Error> {
    let Some(r) = scene.body.relief else { return Ok("none".to_owned()) };
    let place = relief_place(scene.body.zones.get(r.zone).map_or("", |z| z.name.as_str()), c.settings)?;
    Ok(format!(
        "{} {place}: set {}, shuts at {:.0} % of it, bore {}, port blocked at {:.0} % ice{}",
        if r.one_shot { "one-shot" } else { "resealing" },
        format(Kind::GaugePressure, r.set, c.system),
        100.0 * r.reseat_ratio,
        format(Kind::Length, r.bore, c.system),
        100.0 * r.plugged_at,
        if r.stuck { "; stuck" } else { "" }
    ))
}

fn figures(found: &Freeze, scene: &Scene, c: &Conditions<'_>) -> Rows {
    let show = |kind, si| format(kind, si, c.system);
    let mut rows = Rows::default();
    for z in &found.zones {
        let through = z.frozen_through_s.map_or_else(
            || format!("{:.1} % ice at most", 100.0 * z.ice_fraction_max),
            |t| format!("frozen through after {}", show(Kind::Time, t)),
        );
        let words = format!(
            "{} at most (after {}{}); {through}",
            show(Kind::GaugePressure, z.peak_pa_gauge),
            show(Kind::Time, z.t_peak_s),
            range(found, &z.zone, c.system).map_or(String::new(), |words| format!("; {words}"))
        );
        rows.add(&z.zone.replace("zone", "zone ").replace('-', " "), words);
    }
    rows.add("weakest part", format!("{} at {}", scene.weakest.0, show(Kind::GaugePressure, scene.weakest.1)));
    if let Some(first) = found.zones.first().and_then(|_| scene.body.zones.first()).and_then(|z| z.wall.strength) {
        rows.add(
            "the body's wall",
            format!(
                "first yields at {}, grows without end at {}",
                show(Kind::GaugePressure, first.first_yield()),
                show(Kind::GaugePressure, first.plateau())
            ),
        );
    }
    for p in &found.pulses {
        let bore = p
            .critical_bore_m
            .map_or(String::new(), |b| format!("; a bore below {} cannot pass it at the set", show(Kind::Length, b)));
        rows.add(
            &format!("first ice in {}", p.zone.replace("zone", "zone ")),
            format!(
                "{} gross, {} net in {}{bore}",
                show(Kind::Volume, p.gross_m3),
                show(Kind::Volume, p.net_m3),
                show(Kind::Time, p.lasts_s)
            ),
        );
    }
    if let Some(night) = found.nights.first() {
        balance_rows(&mut rows, &night.night.balance, c.system);
    }
    rows
}

/// Between what a zone's peak lies, where it rests on where ice blocks a port.
pub(super) fn range(found: &Freeze, zone: &str, system: System) -> Option<String> {
    let show = |si| format(Kind::GaugePressure, si, system);
    found.peak_range(zone).map(|(low, high)| format!("{} to {} by where ice blocks", show(low), show(high)))
}

fn balance_rows(rows: &mut Rows, b: &crate::freeze::Balance, system: System) {
    let ml = |si: f64| format(Kind::Volume, si, system);
    let v = &b.volume;
    rows.add("heat given off", format!("{:.1} kJ", b.energy.heat_out_j / 1e3));
    rows.add(
        "where the growth goes",
        format!(
            "freezing {}, water and ice by temperature {}, squeezed {}, walls {} (of it lasting {}), rubber {}, air {}; let out \
             {}",
            ml(v.freezing_m3),
            ml(v.liquid_thermal_m3 + v.ice_thermal_m3),
            ml(-(v.liquid_compression_m3 + v.ice_compression_m3)),
            ml(-(v.wall_elastic_m3 + v.wall_thermal_m3 + v.lasting_m3)),
            ml(-v.lasting_m3),
            ml(-v.rubber_m3),
            ml(-v.air_m3),
            ml(v.expelled_m3)
        ),
    );
    let share = ((b.water.end_kg + b.water.out_kg) / b.water.start_kg - 1.0).abs();
    rows.add("water balance", format!("closes to {share:.0e} of the water"));
}

fn nights(found: &Freeze, system: System) -> String {
    let show = |kind, si| format(kind, si, system);
    let mut out =
        "\nNight by night\n  night     let out      lifts   air at the start    highest pressure\n".to_owned();
    for f in &found.figures {
        let air: f64 = f.air_at_start_m3.iter().sum();
        let note = if f.inlet_open { "  air inlet open" } else { "" };
        out.push_str(&format!(
            "  {:>5}  {:>10}  {:>8.0}  {:>16}  {:>18}{note}\n",
            f.night,
            show(Kind::Volume, f.relieved_m3),
            f.lifts,
            show(Kind::Volume, air),
            show(Kind::GaugePressure, f.peak_pa_gauge)
        ));
    }
    out
}
