//! From nights to their charts.

use super::conditions::Conditions;
use super::frame::page;
use super::freeze::relief_place;
use crate::bench::{Freeze, freeze_headline};
use crate::charts::{CurvePanel, CurvesPicture, Mark, NightPicture, Series, Trace};
use crate::error::Error;
use crate::freeze::{Happening, Scene, ZoneSample};
use crate::units::{Kind, format, to_display, unit_symbol};

/// The subtitle: what every figure depends on.
fn subtitle(scene: &Scene, c: &Conditions<'_>) -> Result<String, Error> {
    let s = c.settings;
    let show = |path: &str, kind: Kind| Ok::<_, Error>(format(kind, s.number(path)?, c.system));
    let air = match s.weather() {
        Some(_) => "recorded air".to_owned(),
        None => format!("air {}", show("night.air_temperature", Kind::Temperature)?),
    };
    let wind = format(Kind::Velocity, s.number("night.wind_speed")?, c.system);
    let relief = match scene.body.relief {
        None => "no relief".to_owned(),
        Some(r) => format!(
            "relief {}, set {}, bore {}",
            relief_place(scene.body.zones.get(r.zone).map_or("", |z| z.name.as_str()), s)?,
            format(Kind::GaugePressure, r.set, c.system),
            format(Kind::Length, r.bore, c.system)
        ),
    };
    let fill = scene.starts.first().map_or(0.0, |x| x.p - scene.body.ambient);
    Ok(format!(
        "Both shutoffs shut, {air}, wind {wind}; filled at {} and {}; wall {}, rubber {} at most, air pockets {}; {relief}",
        show("water.temperature", Kind::Temperature)?,
        format(Kind::GaugePressure, fill, c.system),
        show("body.wall", Kind::Length)?,
        format(Kind::Volume, scene.body.zones.iter().map(|z| z.wall.rubber.largest).sum(), c.system),
        format(
            Kind::Volume,
            scene.starts.iter().map(|x| x.air * crate::laws::constants::AIR_GAS_CONSTANT * x.t / x.p).sum(),
            c.system
        ),
    ))
}

/// The first night against time.
pub(super) fn picture(found: &Freeze, scene: &Scene, c: &Conditions<'_>, hash: &str) -> Result<NightPicture, Error> {
    let system = c.system;
    let Some(first) = found.nights.first() else { return Ok(NightPicture::default()) };
    let samples = &first.night.samples;
    let trace = |i: usize, kind: Option<Kind>, get: &dyn Fn(&ZoneSample) -> f64| Trace {
        label: scene.body.zones.get(i).map_or_else(String::new, |z| z.name.replace("zone", "zone ")),
        values: samples
            .iter()
            .map(|s| s.zones.get(i).map_or(f64::NAN, get))
            .map(|v| kind.map_or(v, |k| to_display(k, v, system)))
            .collect(),
    };
    let n = scene.body.zones.len();
    let ambient = scene.body.ambient;
    let mut temperatures: Vec<Trace> = (0..n).map(|i| trace(i, Some(Kind::Temperature), &|z| z.t)).collect();
    temperatures.push(Trace {
        label: "air".to_owned(),
        values: samples.iter().map(|s| to_display(Kind::Temperature, s.air, system)).collect(),
    });
    let pressure = |si: f64| to_display(Kind::GaugePressure, si, system);
    let mut limits = Vec::new();
    if let Some(s) = scene.body.zones.first().and_then(|z| z.wall.strength) {
        let words = format!("wall first yields, {}", format(Kind::GaugePressure, s.first_yield(), system));
        limits.push((pressure(s.first_yield()), words));
    }
    if let Some(b) = scene.body.zones.iter().find_map(|z| z.bonnet) {
        limits.push((pressure(b), format!("bonnet splits, {}", format(Kind::GaugePressure, b, system))));
    }
    if let Some(r) = scene.body.relief {
        limits.push((pressure(r.set), format!("set of the relief, {}", format(Kind::GaugePressure, r.set, system))));
    }
    let unit = |kind| unit_symbol(kind, system).replace("deg", "°");
    Ok(NightPicture {
        page: page(freeze_headline(found, scene, system), &subtitle(scene, c)?, c, hash)?,
        time: samples.iter().map(|s| s.time / 3600.0).collect(),
        pressures: (0..n).map(|i| trace(i, Some(Kind::GaugePressure), &|z| z.p - ambient)).collect(),
        pressure_unit: unit(Kind::GaugePressure),
        limits,
        lifts: first.night.lift_times.iter().map(|t| t / 3600.0).collect(),
        temperatures,
        temperature_unit: unit(Kind::Temperature),
        ice: (0..n).map(|i| trace(i, None, &|z| 100.0 * z.ice_share())).collect(),
        relieved: Trace {
            label: "total".to_owned(),
            values: samples.iter().map(|s| to_display(Kind::Volume, s.relieved[1], system)).collect(),
        },
        volume_unit: unit(Kind::Volume),
        marks: marks(found, scene),
    })
}

/// The turning points of the night, each named once.
fn marks(found: &Freeze, scene: &Scene) -> Vec<Mark> {
    let Some(first) = found.nights.first() else { return vec![] };
    let mut all: Vec<Mark> = Vec::new();
    let name = |i: usize| scene.body.zones.get(i).map_or_else(String::new, |z| z.name.replace("zone", "zone "));
    let mut told: Vec<(Happening, usize)> = Vec::new();
    for e in &first.night.events {
        let words = match e.what {
            Happening::IceAppears => format!("first ice, {}", name(e.zone)),
            Happening::FrozenThrough => format!("{} frozen through", name(e.zone)),
            Happening::Yields => format!("wall of {} yields", name(e.zone)),
            Happening::ReliefPlugged => "relief plugged by ice".to_owned(),
            Happening::VentOpens => "air inlet opens".to_owned(),
            Happening::BonnetSplits => "bonnet splits".to_owned(),
            _ => continue,
        };
        if told.contains(&(e.what, e.zone)) {
            continue;
        }
        told.push((e.what, e.zone));
        all.push(Mark { time: e.time / 3600.0, text: words });
    }
    all
}

/// Many nights: water let out and air at the start, by night.
pub(super) fn nights_picture(
    found: &Freeze,
    scene: &Scene,
    c: &Conditions<'_>,
    hash: &str,
) -> Result<CurvesPicture, Error> {
    let system = c.system;
    let unit = |kind| unit_symbol(kind, system);
    let by_night = |get: &dyn Fn(&crate::bench::NightFigures) -> f64| -> Vec<(f64, f64)> {
        found.figures.iter().map(|f| (f.night as f64, get(f))).collect()
    };
    let series = |label: &str, points| Series { label: label.to_owned(), points };
    let nightly = || CurvePanel { x_name: "night".to_owned(), counted: true, dots: true, ..CurvePanel::default() };
    let zones = scene.body.zones.iter().enumerate().map(|(i, z)| {
        let air = |f: &crate::bench::NightFigures| {
            to_display(Kind::Volume, f.air_at_start_m3.get(i).copied().unwrap_or(f64::NAN), system)
        };
        series(&z.name.replace("zone", "zone "), by_night(&air))
    });
    let last = found.figures.last();
    let title = match (found.figures.first(), last) {
        (Some(a), Some(b)) if a.relieved_m3 > 0.0 => format!(
            "Night 1 lets out {}, night {} {}",
            format(Kind::Volume, a.relieved_m3, system),
            b.night,
            if b.relieved_m3 > 0.0 { format(Kind::Volume, b.relieved_m3, system) } else { "nothing".to_owned() }
        ),
        _ => freeze_headline(found, scene, system),
    };
    Ok(CurvesPicture {
        page: page(title, &subtitle(scene, c)?, c, hash)?,
        panels: vec![
            CurvePanel {
                y_name: format!("Water let out, {}", unit(Kind::Volume)),
                series: vec![series("let out", by_night(&|f| to_display(Kind::Volume, f.relieved_m3, system)))],
                ..nightly()
            },
            CurvePanel {
                y_name: format!("Air at the start, at atmosphere, {}", unit(Kind::Volume)),
                series: zones.collect(),
                ..nightly()
            },
            CurvePanel {
                y_name: format!("Highest pressure, {}", unit(Kind::GaugePressure)),
                series: vec![series(
                    "highest",
                    by_night(&|f| to_display(Kind::GaugePressure, f.peak_pa_gauge, system)),
                )],
                ..nightly()
            },
        ],
    })
}
