//! `curves`: from the arguments to text, document, table and chart.

use super::args::Curves as Args;
use super::caution::Caution;
use super::conditions::Conditions;
use super::frame::{self, Findings, Frame};
use super::problem::Problem;
use super::table;
use super::text::{Rows, wrapped};
use super::warning::{Warning, snaps_through};
use crate::bench::{Curves, CurvesDocument, Direction, RATED_LOSS, RATED_SPEED, curves, rated_flow};
use crate::charts::{CurvePanel, CurvesPicture, PointMark, Series, lay_out_curves};
use crate::error::Error;
use crate::rig::Rig;
use crate::units::{Kind, format, to_display, unit_symbol};
use serde::Serialize;
use std::io::Write;

pub(super) fn run(args: &Args, out: &mut dyn Write, err: &mut dyn Write, columns: usize) -> Result<(), Problem> {
    let settings = frame::resolve(&args.given.shared, &args.given.files)?;
    let rig = Rig::from_settings(&settings)?;
    let usual = [("curves", format!("curves-{}", settings.assembly()))];
    let frame = Frame::new(&args.given, &settings, &["curves"], &usual, None)?;
    let found = curves(&settings, &rig)?;
    let c = frame.conditions(&rig);
    let snaps = snaps_through(&rig).map(|words| (Warning::SnapsThrough.id(), words));
    let findings = Findings {
        draw: &|_| Ok(lay_out_curves(&picture(&found, &c, &frame.hash)?)),
        table: &|| table::rows(rows(&found)),
        notices: snaps.as_slice(),
        said_in_text: false,
        cautions: &[Caution::NotATestResult, Caution::LicensedTestersAndLocalCode],
        document: &|s| CurvesDocument::new(found.clone(), s.assembly, s.inputs_sha256, s.warnings, s.cautions),
        report: &|| report(&found, &c, columns),
    };
    frame.deliver(&findings, out, err, columns)
}

/// A row of the table: of a load its travel, force and direction, of a capacity or loss its flow and pressure difference.
#[derive(Serialize)]
struct Row {
    part: &'static str,
    travel_m: Option<f64>,
    force_n: Option<f64>,
    direction: Option<Direction>,
    /// From before shutoff 1 to behind shutoff 2 ("assembly"); of zone 2 ("vent") or the relief's zone to atmosphere.
    dp_pa: Option<f64>,
    water_m3_s: Option<f64>,
    /// In, at ambient conditions.
    air_m3_s: Option<f64>,
}

fn rows(found: &Curves) -> Vec<Row> {
    let row = |part| Row {
        part,
        travel_m: None,
        force_n: None,
        direction: None,
        dp_pa: None,
        water_m3_s: None,
        air_m3_s: None,
    };
    let load = found.load.iter().map(|p| Row {
        travel_m: Some(p.travel_m),
        force_n: Some(p.force_n),
        direction: Some(p.direction),
        ..row(p.part)
    });
    let loss = found.loss.iter().map(|l| Row { dp_pa: Some(l.dp_pa), water_m3_s: Some(l.q_m3_s), ..row("assembly") });
    let vent = found.vent.iter().map(|v| Row {
        dp_pa: Some(v.dp_pa),
        water_m3_s: Some(v.water_m3_s),
        air_m3_s: Some(v.air_m3_s),
        ..row("vent")
    });
    let relief =
        found.relief.iter().map(|r| Row { dp_pa: Some(r.zone_pa_gauge), water_m3_s: Some(r.q_m3_s), ..row("relief") });
    load.chain(loss).chain(vent).chain(relief).collect()
}

fn report(found: &Curves, c: &Conditions<'_>, columns: usize) -> Result<String, Error> {
    let show = |kind: Kind, si: f64| format(kind, si, c.system);
    let mut out = wrapped(&headline(found, c), columns, 0, 0);
    let mut rows = Rows::default();
    rows.add("assembly", c.assembly()?);
    for (part, name, lift) in [
        ("check", "check load", found.lifts[0]),
        ("air-inlet", "air inlet load", found.lifts[1]),
        ("relief", "relief load", found.lifts[2]),
    ] {
        let at = |travel: f64, direction: Direction| {
            found
                .load
                .iter()
                .filter(|p| p.part == part && p.direction == direction)
                .min_by(|a, b| (a.travel_m - travel).abs().total_cmp(&(b.travel_m - travel).abs()))
                .map(|p| show(Kind::Force, p.force_n))
        };
        let ends = |direction| Some((at(0.0, direction)?, at(lift, direction)?));
        let Some((sealed, stop)) = ends(Direction::Opening) else { continue };
        let mut words = format!("{sealed} sealed, {stop} at the stop ({})", show(Kind::Length, lift));
        if let Some((s, e)) = ends(Direction::Closing).filter(|e| *e != (sealed, stop)) {
            words.push_str(&format!(" while opening; {s} and {e} while closing"));
        }
        rows.add(name, words);
    }
    for spring in &found.springs {
        let kind = if spring.first_coil_down_m.is_some() { "; its largest coil lies down at " } else { "" };
        let down = spring.first_coil_down_m.map_or(String::new(), |x| show(Kind::Length, x));
        let words = format!(
            "{} at first{kind}{down}; {:.0} MPa shear at most (index {:.1}); {} left to solid",
            show(Kind::Stiffness, spring.rate_n_m),
            spring.shear_stress_pa / 1e6,
            spring.index,
            show(Kind::Length, spring.left_to_solid_m)
        );
        rows.add(&format!("{} spring", spring.part.replace('-', " ")), words);
    }
    rows.add(
        "check lifts at",
        format!("{} of zone 1 over zone 2", show(Kind::PressureDifference, found.statics.check_lifts_pa)),
    );
    if let Some(p) = found.statics.inlet_opens_pa_gauge {
        rows.add(
            "air inlet starts to open at",
            format!("{} in zone {}, falling", show(Kind::GaugePressure, p), c.rig.shutting_zone()),
        );
    }
    rows.add(
        "supply that shuts the air inlet",
        match found.supply_needed {
            Some(s) => {
                let flow =
                    s.flow_m3_s.map_or("any flow".to_owned(), |q| format!("{} or more", show(Kind::VolumeFlow, q)));
                format!(
                    "{} at the main or more, and {flow}, shutoff 1 wide open",
                    show(Kind::GaugePressure, s.pressure_pa_gauge)
                )
            }
            None => "cannot be said for this feed".to_owned(),
        },
    );
    if let Some(p) = found.statics.relief_opens_pa_gauge {
        let most = found.relief.last().map_or(String::new(), |r| {
            format!("; passes {} at {}", show(Kind::VolumeFlow, r.q_m3_s), show(Kind::GaugePressure, r.zone_pa_gauge))
        });
        rows.add("relief opens at", format!("{}{most}", show(Kind::GaugePressure, p)));
    }
    out.push_str(&format!("\n{}", rows.laid_out("Figures", columns)));
    out.push_str(&format!(
        "\nLoss at {} in the bore, by size (limit {}: common practice; rating tables not seen)\n",
        round(Kind::Velocity, RATED_SPEED, c),
        round(Kind::PressureDifference, RATED_LOSS, c)
    ));
    for s in &found.sizes {
        let verdict = if s.within_limit { "" } else { "  above the limit" };
        out.push_str(&format!(
            "  {:<8} {:>10}  {:>9}{verdict}\n",
            s.size,
            show(Kind::VolumeFlow, s.q_m3_s),
            show(Kind::PressureDifference, s.dp_pa)
        ));
    }
    Ok(out)
}

/// A figure that is round by its nature, without zeros behind its point: "10 psi".
fn round(kind: Kind, si: f64, c: &Conditions<'_>) -> String {
    let text = format(kind, si, c.system);
    match text.split_once(' ') {
        Some((number, unit)) if number.contains('.') => {
            format!("{} {unit}", number.trim_end_matches('0').trim_end_matches('.'))
        }
        _ => text,
    }
}

/// What it comes to in one line.
fn headline(found: &Curves, c: &Conditions<'_>) -> String {
    let rated = rated_flow(c.rig);
    let loss = c.rig.steady_loss(rated, c.settings.optional_number("supply.pressure").ok().flatten().unwrap_or(0.0));
    let share = format!(
        "{} at {} costs {}",
        c.settings.assembly(),
        format(Kind::VolumeFlow, rated, c.system),
        format(Kind::PressureDifference, loss.dp_pa, c.system)
    );
    let limit = round(Kind::PressureDifference, RATED_LOSS, c);
    let within = if loss.dp_pa <= RATED_LOSS { "within" } else { "above" };
    match found.supply_needed.and_then(|s| Some((s.pressure_pa_gauge, s.flow_m3_s?))) {
        Some((p, q)) => format!(
            "{share}, {within} {limit}; its air inlet needs {} and {} to shut",
            format(Kind::GaugePressure, p, c.system),
            format(Kind::VolumeFlow, q, c.system)
        ),
        None => format!("{share}, {within} {limit}; any flow shuts its air inlet"),
    }
}

fn picture(found: &Curves, c: &Conditions<'_>, hash: &str) -> Result<CurvesPicture, Error> {
    let unit = |kind| unit_symbol(kind, c.system).to_owned();
    let show = |kind: Kind, si: f64| to_display(kind, si, c.system);
    let branch = |part: &str, direction: Direction| -> Vec<(f64, f64)> {
        let of = found.load.iter().filter(|p| p.part == part && p.direction == direction);
        of.map(|p| (show(Kind::Length, p.travel_m), show(Kind::Force, p.force_n))).collect()
    };
    let panel = |part: &str, name: &str, lift: f64| {
        let (opening, closing) = (branch(part, Direction::Opening), branch(part, Direction::Closing));
        let series = match opening == closing {
            true => vec![Series { label: "both ways".to_owned(), points: opening }],
            false => vec![
                Series { label: "opening".to_owned(), points: opening },
                Series { label: "closing".to_owned(), points: closing },
            ],
        };
        CurvePanel {
            y_name: format!("Load of the {name}, {}", unit(Kind::Force)),
            x_name: format!("Travel, {}", unit(Kind::Length)),
            series,
            verticals: vec![(0.0, "sealed".to_owned()), (show(Kind::Length, lift), "stop".to_owned())],
            ..CurvePanel::default()
        }
    };
    let flow = |q: f64| show(Kind::VolumeFlow, q);
    let loss = |get: fn(&crate::rig::Loss) -> f64| -> Vec<(f64, f64)> {
        found.loss.iter().map(|l| (flow(l.q_m3_s), show(Kind::PressureDifference, get(l)))).collect()
    };
    let rated = rated_flow(c.rig);
    let loss_panel = CurvePanel {
        y_name: format!("Loss, {}", unit(Kind::PressureDifference)),
        x_name: format!("Flow, {}", unit(Kind::VolumeFlow)),
        series: vec![
            Series { label: "assembly".to_owned(), points: loss(|l| l.dp_pa) },
            Series { label: "check alone".to_owned(), points: loss(|l| l.check_pa) },
        ],
        verticals: vec![(flow(rated), round(Kind::Velocity, RATED_SPEED, c))],
        horizontals: vec![(
            show(Kind::PressureDifference, RATED_LOSS),
            format!("limit {}", round(Kind::PressureDifference, RATED_LOSS, c)),
        )],
        ..CurvePanel::default()
    };
    let vent = |get: fn(&crate::bench::VentPoint) -> f64| -> Vec<(f64, f64)> {
        found.vent.iter().map(|v| (show(Kind::PressureDifference, v.dp_pa), flow(get(v)))).collect()
    };
    let capacity = match found.relief.is_empty() {
        true => CurvePanel {
            y_name: format!("Through the open vent, {}", unit(Kind::VolumeFlow)),
            x_name: format!("Zone 2 against atmosphere, {}", unit(Kind::PressureDifference)),
            series: vec![
                Series { label: "air in, free".to_owned(), points: vent(|v| v.air_m3_s) },
                Series { label: "water out".to_owned(), points: vent(|v| v.water_m3_s) },
            ],
            ..CurvePanel::default()
        },
        false => CurvePanel {
            y_name: format!("Through the relief, {}", unit(Kind::VolumeFlow)),
            x_name: format!("Pressure in its zone, {} gauge", unit(Kind::GaugePressure)),
            series: vec![Series {
                label: "once open".to_owned(),
                points: found
                    .relief
                    .iter()
                    .map(|r| (show(Kind::GaugePressure, r.zone_pa_gauge), flow(r.q_m3_s)))
                    .collect(),
            }],
            points: found
                .statics
                .relief_opens_pa_gauge
                .map(|p| PointMark { at: (show(Kind::GaugePressure, p), 0.0), text: "set".to_owned() })
                .into_iter()
                .collect(),
            ..CurvePanel::default()
        },
    };
    let subtitle = format!(
        "Static loads with the parts' weight, friction not counted; steady flow of water at {}; canopy {}",
        format(Kind::Temperature, c.rig.fluid.temperature, c.system),
        if c.rig.inlet.canopy_area.is_some() { "fitted" } else { "off" }
    );
    Ok(CurvesPicture {
        page: frame::page(headline(found, c), &subtitle, c, hash)?,
        panels: vec![
            panel("air-inlet", "air inlet", found.lifts[1]),
            panel("check", "check", found.lifts[0]),
            loss_panel,
            capacity,
        ],
    })
}
