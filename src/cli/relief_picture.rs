//! From a relief study to its charts.

use super::conditions::Conditions;
use super::frame::page;
use super::freeze::relief_place;
use super::relief::band_words;
use super::text::degrees;
use crate::bench::{ReliefStudy, Verdict};
use crate::charts::{Band, BandsPicture, MapPicture, PointMark, Series, banded, common_window};
use crate::error::Error;
use crate::freeze::{Relief, Scene};
use crate::units::{Kind, format, to_display, unit_symbol};

/// Names of the verdicts, in the order of the map's regions.
const REGIONS: [(Verdict, &str); 5] = [
    (Verdict::Good, "holds, does not weep"),
    (Verdict::LiftsInSlams, "holds, lifts in slams"),
    (Verdict::Weeps, "weeps in use"),
    (Verdict::NoMargin, "less than the safety factor"),
    (Verdict::GivesWay, "gives way"),
];

fn subtitle(scene: &Scene, found: &ReliefStudy, c: &Conditions<'_>) -> Result<String, Error> {
    let s = c.settings;
    Ok(format!(
        "Relief {}; air {}, first ice {} below the melting point within {}; filled at {} and {}; rubber {} at most, ports \
         clear of ice",
        relief_place(&found.place, s)?,
        format(Kind::Temperature, scene.body.weather.coldest(), c.system),
        degrees(s.number("night.supercooling")?, c.system),
        format(Kind::Time, s.number("night.release_time")?, c.system),
        format(Kind::Temperature, s.number("water.temperature")?, c.system),
        format(Kind::GaugePressure, scene.starts.first().map_or(0.0, |x| x.p - scene.body.ambient), c.system),
        format(Kind::Volume, scene.body.zones.iter().map(|z| z.wall.rubber.largest).sum(), c.system),
    ))
}

/// The window as bands: each says which sets meet it.
pub(super) fn window_picture(
    found: &ReliefStudy,
    scene: &Scene,
    title: &str,
    c: &Conditions<'_>,
    hash: &str,
) -> Result<BandsPicture, Error> {
    let shown = |si: f64| to_display(Kind::GaugePressure, si, c.system);
    let say = |si: f64| format(Kind::GaugePressure, si, c.system);
    let strong = ["weakest-part-over-safety-factor", "weakest-part"];
    let bands: Vec<Band> = found
        .window
        .iter()
        // Warming lifts any relief on a shut body: it asks nothing of the set.
        .filter(|b| b.name != "shut-in-and-warmed")
        .filter_map(|b| {
            let label = band_words(b.name, c.system);
            if strong.contains(&b.name) {
                let high = b.lower_pa_gauge?;
                let note = format!("below {} ({})", say(high), found.weakest.0);
                return Some(Band { label, low: f64::NEG_INFINITY, high: shown(high), note });
            }
            let low = b.upper_pa_gauge?;
            Some(Band { label, low: shown(low), high: f64::INFINITY, note: format!("above {}", say(low)) })
        })
        .collect();
    // Where no set clears the slams they are shown and not asked for.
    let slams = found.recommended.as_ref().is_some_and(|r| r.lifts_in_slams);
    let (aside, bands): (Vec<Band>, Vec<Band>) = bands.into_iter().partition(|b| slams && b.label.contains("slam"));
    let limits = aside.into_iter().map(|b| (b.low, b.label)).collect();
    Ok(BandsPicture {
        page: page(title.to_owned(), &subtitle(scene, found, c)?, c, hash)?,
        x_name: format!("Set of the relief, {} gauge", unit_symbol(Kind::GaugePressure, c.system)),
        window: common_window(&bands),
        bands,
        recommended: found.recommended.as_ref().map(|r| shown(r.set_pressure_pa_gauge)),
        limits,
    })
}

/// The grid: verdicts, or (`peaks`) bands of the highest pressure.
pub(super) fn grid_picture(
    found: &ReliefStudy,
    scene: &Scene,
    peaks: bool,
    c: &Conditions<'_>,
    hash: &str,
) -> Result<MapPicture, Error> {
    let pressure = |si: f64| to_display(Kind::GaugePressure, si, c.system);
    let length = |si: f64| to_display(Kind::Length, si, c.system);
    let say = |si: f64| format(Kind::GaugePressure, si, c.system);
    // Rows are bores, columns sets; the grid runs bore by bore for each set.
    let steps = found.bores.len();
    let cell = |set: usize, bore: usize| found.grid.get(set * steps + bore);
    let order: Vec<_> = (0..steps).flat_map(|b| (0..found.sets.len()).map(move |s| (s, b))).collect();
    let strength = found.weakest.1;
    let (cells, regions, title) = if peaks {
        let limits = [strength / found.weakest.2, strength, 3.0 * strength];
        let values: Vec<f64> =
            order.iter().map(|(s, b)| cell(*s, *b).and_then(|c| c.peak_pa_gauge).unwrap_or(f64::NAN)).collect();
        let [a, b, d] = limits.map(say);
        let regions = vec![format!("below {a}"), format!("{a} to {b}"), format!("{b} to {d}"), format!("{d} and more")];
        let least = found.grid.iter().filter_map(|c| c.peak_pa_gauge).fold(f64::INFINITY, f64::min);
        let title = match &found.recommended {
            Some(r) => {
                let bore = format(Kind::Length, r.bore_m, c.system);
                let (set, peak) = (say(r.set_pressure_pa_gauge), say(r.peak_pa_gauge));
                format!("Set {set} and bore {bore} keep the night's highest pressure to {peak}")
            }
            None => format!("Highest pressure of the night: from {} up", say(least)),
        };
        (banded(&values, &limits), regions, title)
    } else {
        let cells: Vec<Option<usize>> = order
            .iter()
            .map(|(s, b)| {
                let verdict = cell(*s, *b)?.verdict?;
                REGIONS.iter().position(|r| r.0 == verdict)
            })
            .collect();
        let regions = REGIONS.map(|r| r.1.to_owned()).to_vec();
        let title = match &found.recommended {
            Some(r) => format!(
                "Set {} and bore {} hold a freeze {}",
                say(r.set_pressure_pa_gauge),
                format(Kind::Length, r.bore_m, c.system),
                if r.lifts_in_slams {
                    "while the port is clear of ice, and do not weep, but slams lift the relief"
                } else {
                    "while the port is clear of ice, with room on all sides"
                }
            ),
            None => "No pair of set and bore meets all requirements".to_owned(),
        };
        (cells, regions, title)
    };
    let critical = found.pulse_rate.map(|rate| Series {
        label: "critical bore".to_owned(),
        points: found
            .sets
            .iter()
            .map(|set| {
                let cd = c.settings.number("relief.discharge_coefficient").unwrap_or(0.6);
                (pressure(*set), length(Relief::critical_bore(rate.max(0.0), *set, cd, 1000.0)))
            })
            .collect(),
    });
    Ok(MapPicture {
        page: page(title, &subtitle(scene, found, c)?, c, hash)?,
        x_name: format!("Set of the relief, {} gauge", unit_symbol(Kind::GaugePressure, c.system)),
        y_name: format!("Bore of the relief, {}", unit_symbol(Kind::Length, c.system)),
        xs: found.sets.iter().map(|s| pressure(*s)).collect(),
        ys: found.bores.iter().map(|b| length(*b)).collect(),
        cells,
        regions,
        lines: critical.into_iter().collect(),
        log: [false; 2],
        points: found
            .recommended
            .iter()
            .map(|r| PointMark {
                at: (pressure(r.set_pressure_pa_gauge), length(r.bore_m)),
                text: "recommended".to_owned(),
            })
            .collect(),
    })
}
