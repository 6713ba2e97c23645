//! Charts of `surge`.

use super::conditions::Conditions;
use super::frame;
use crate::bench::surge::{Surge, SurgePoint};
use crate::charts::{CurvePanel, CurvesPicture, Series, Sheet, lay_out_curves};
use crate::error::Error;
use crate::units::{Kind, System, to_display, unit_symbol};

/// Charts there are.
pub(super) const NAMES: [&str; 2] = ["time", "line"];

/// Draws one of [`NAMES`].
///
/// # Errors
/// [`Error`] if a setting that the words need is missing.
pub(super) fn draw(name: &str, run: &Surge, c: &Conditions<'_>, headline: &str, hash: &str) -> Result<Sheet, Error> {
    let rough = if run.converged { "" } else { "; peaks after a cavity has closed are not converged" };
    let waves = run.coupled.as_ref().map(|r| &r.waves).or(run.bare.as_ref().map(|b| &b.1.waves));
    let subtitle = format!("line of {} cells{rough}", waves.map_or(0, |w| w.cells));
    let page = frame::page(headline.to_owned(), &subtitle, c, hash)?;
    let panels = if name == "line" { along(run, c) } else { time(run, c) };
    Ok(lay_out_curves(&CurvesPicture { page, panels }))
}

fn time(run: &Surge, c: &Conditions<'_>) -> Vec<CurvePanel> {
    let unit = |kind| unit_symbol(kind, c.system).to_owned();
    let gauge = |p: f64| to_display(Kind::GaugePressure, p, c.system);
    let pressure = format!("Gauge pressure, {}", unit(Kind::GaugePressure));
    if let Some((_, r)) = &run.bare {
        let points =
            r.at_valve.iter().enumerate().map(|(k, p)| (k as f64 * r.waves.dt, gauge(p - run.ambient))).collect();
        return vec![CurvePanel {
            y_name: pressure,
            x_name: "Time, s".to_owned(),
            series: vec![Series { label: "at the valve".to_owned(), points }],
            ..CurvePanel::default()
        }];
    }
    let Some(r) = &run.coupled else { return Vec::new() };
    let series = |label: &str, kind: Kind, get: fn(&SurgePoint) -> f64| Series {
        label: label.to_owned(),
        points: r.points.iter().map(|p| (p.t_s, to_display(kind, get(p), c.system))).collect(),
    };
    let share = |label: &str, lift: f64, get: fn(&SurgePoint) -> f64| Series {
        label: label.to_owned(),
        points: r.points.iter().map(|p| (p.t_s, 100.0 * get(p) / lift)).collect(),
    };
    vec![
        CurvePanel {
            y_name: pressure,
            x_name: "Time, s".to_owned(),
            series: vec![
                series("end of the line", Kind::GaugePressure, |p| p.line_pa_gauge),
                series("zone 1", Kind::GaugePressure, |p| p.zone1_pa_gauge),
                series("zone 2", Kind::GaugePressure, |p| p.zone2_pa_gauge),
            ],
            ..CurvePanel::default()
        },
        CurvePanel {
            y_name: "Travel, % of lift".to_owned(),
            x_name: "Time, s".to_owned(),
            series: vec![
                share("check", r.rig.check.lift, |p| p.check_travel_m),
                share("air inlet", r.rig.inlet.poppet.lift, |p| p.air_inlet_travel_m),
            ],
            ..CurvePanel::default()
        },
    ]
}

fn along(run: &Surge, c: &Conditions<'_>) -> Vec<CurvePanel> {
    let unit = |kind| unit_symbol(kind, c.system).to_owned();
    let Some(waves) = run.coupled.as_ref().map(|r| &r.waves).or(run.bare.as_ref().map(|b| &b.1.waves)) else {
        return Vec::new();
    };
    // A line is measured in feet, not inches.
    let (per, name) = match c.system {
        System::Us => (0.3048, "ft"),
        System::Si => (1.0, "m"),
    };
    let place = |i: usize| i as f64 * waves.dx / per;
    let before = match &run.coupled {
        Some(r) => &r.before,
        None => run.bare.as_ref().map_or(&waves.pressure, |b| &b.1.start),
    };
    let line = |label: &str, values: &[f64], shift: f64| Series {
        label: label.to_owned(),
        points: values
            .iter()
            .enumerate()
            .map(|(i, p)| (place(i), to_display(Kind::GaugePressure, p - shift, c.system)))
            .collect(),
    };
    let vapour = run.vapour_pressure - run.ambient;
    vec![CurvePanel {
        y_name: format!("Gauge pressure, {}", unit(Kind::GaugePressure)),
        x_name: format!("Along the line from the main, {name}"),
        series: vec![
            line("highest", &waves.extremes[0], run.ambient),
            line("at the start", before, run.ambient),
            line("lowest", &waves.extremes[1], run.ambient),
        ],
        horizontals: vec![(to_display(Kind::GaugePressure, vapour, c.system), "vapour pressure".to_owned())],
        ..CurvePanel::default()
    }]
}
