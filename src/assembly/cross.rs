//! Rules that join several fields. Each has a name that stays the same, so that notes and scripts can refer to it.

use super::fields::{Initial, Value};
use super::settings::Settings;
use crate::error::Error;
use crate::units::{Kind, System, format};
use std::sync::LazyLock;

/// Checks all rules.
///
/// # Errors
/// [`Error::Conflict`] for the first one broken.
pub(super) fn check(s: &Settings) -> Result<(), Error> {
    curve_covers_lift(s)?;
    seats_fit(s)?;
    water_fits(s)?;
    lap_fits(s)?;
    pocket_holds(s)?;
    above_absolute_zero(s)
}

/// The place reported is that of the field the user gave, the last named one first.
pub(crate) fn conflict(s: &Settings, name: &'static str, paths: &[&str], rule: String) -> Error {
    let settings = || paths.iter().rev().filter_map(|p| s.get(p));
    let at = settings().find(|x| x.at.is_user()).or_else(|| settings().next()).map(|x| x.at.clone());
    let fields = paths.iter().map(|p| format!("{p} = {}", s.get(p).map_or("", |x| x.text.as_str()))).collect();
    Error::Conflict { at: at.unwrap_or_else(crate::error::At::default_value), name, fields, rule }
}

/// Those of the fields that the user gave: what decided that a rule applies, to stand before the fields that break it.
pub(crate) fn given<'a>(s: &Settings, paths: &[&'a str]) -> Vec<&'a str> {
    paths.iter().copied().filter(|p| s.get(p).is_some_and(|x| x.at.is_user())).collect()
}

/// Load and load curve both given by the user: which of them counts would be a guess.
pub(super) fn load_or_curve(s: &Settings, part: &str) -> Result<(), Error> {
    let curve = format!("{part}.load_curve");
    for field in ["load", "load_rate"] {
        let path = format!("{part}.{field}");
        if s.get(&path).is_some_and(|x| x.at.is_user()) {
            let rule = format!("give either {part}.load and {part}.load_rate, or {curve}");
            return Err(conflict(s, "load-or-curve", &[&path, &curve], rule));
        }
    }
    Ok(())
}

fn curve_covers_lift(s: &Settings) -> Result<(), Error> {
    for part in ["check", "air_inlet"] {
        let (curve, lift) = (format!("{part}.load_curve"), format!("{part}.lift"));
        let Some(table) = s.load_curve(&curve) else { continue };
        let lift_m = s.number(&lift)?;
        for branch in [Some(&table.opening), table.closing.as_ref()].into_iter().flatten() {
            let (Some(first), Some(last)) = (branch.travel_m.first(), branch.travel_m.last()) else { continue };
            // A thousandth of the lift allows for the figures of a file in other units.
            let covers = *first <= 1e-3 * lift_m && *last >= (1.0 - 1e-3) * lift_m;
            if !covers {
                let show = |m: f64| format(Kind::Length, m, System::Us);
                let rule = format!(
                    "the curve must cover all travel from 0 to {lift}; it covers {} to {}",
                    show(*first),
                    show(*last)
                );
                return Err(conflict(s, "curve-covers-lift", &[&curve, &lift], rule));
            }
        }
    }
    Ok(())
}

fn seats_fit(s: &Settings) -> Result<(), Error> {
    let bore = s.number("shutoff1.bore")?;
    for part in ["check", "air_inlet"] {
        let (seat, port) = (format!("{part}.seat_diameter"), format!("{part}.port_diameter"));
        let seat_m = s.number(&seat)?;
        let fits = seat_m < 2.0 * bore;
        if !fits {
            let rule = "a seat must be smaller than twice the bore of the body (shutoff1.bore)".to_string();
            return Err(conflict(s, "seat-within-body", &[&seat, "shutoff1.bore"], rule));
        }
        let passes = s.number(&port)? <= seat_m;
        if !passes {
            let rule = "the port through a seat cannot be wider than the seat".to_string();
            return Err(conflict(s, "port-within-seat", &[&seat, &port], rule));
        }
    }
    Ok(())
}

fn water_fits(s: &Settings) -> Result<(), Error> {
    for space in ["zone1", "zone2", "load_side"] {
        let (initial, volume) = (format!("{space}.initial"), format!("{space}.volume"));
        let Initial::Volume(water) = s.initial(&initial)? else { continue };
        let air = s.optional_number(&format!("{space}.residual_air")).unwrap_or(None).unwrap_or(0.0);
        let fits = water <= s.number(&volume)? * (1.0 - air);
        if !fits {
            let rule = match air > 0.0 {
                true => "there cannot be more water than brimful: the volume less the residual air".to_string(),
                false => "there cannot be more water than the volume holds".to_string(),
            };
            return Err(conflict(s, "water-fits", &[&volume, &initial], rule));
        }
    }
    Ok(())
}

/// A lap longer than the stroke would leave the check on its seat, or the vent open, for good.
fn lap_fits(s: &Settings) -> Result<(), Error> {
    if s.choice("air_inlet.closed_by")? != "stem" {
        return Ok(());
    }
    let (lap, vent, check) = (s.number("air_inlet.lap")?, s.number("air_inlet.lift")?, s.number("check.lift")?);
    let fits = lap < vent + check && lap > -vent.min(check);
    if !fits {
        let show = |m: f64| format(Kind::Length, m, System::Us);
        let rule = format!(
            "the lap must be shorter than the stroke: between {} (the smaller lift, overlapping) and {} (both lifts)",
            show(-vent.min(check)),
            show(vent + check)
        );
        return Err(conflict(s, "lap-within-stroke", &["check.lift", "air_inlet.lift", "air_inlet.lap"], rule));
    }
    Ok(())
}

/// Trapped water must leave the pocket room when the air inlet is sealed and the pocket smallest.
fn pocket_holds(s: &Settings) -> Result<(), Error> {
    let (water, volume) = (s.number("air_inlet.pocket_water")?, s.number("air_inlet.pocket_volume")?);
    let fits = s.choice("air_inlet.loading")? != "elastomer" || water <= volume;
    if !fits {
        let rule = "the pocket between the lips cannot hold more water than its volume".to_string();
        return Err(conflict(s, "pocket-holds", &["air_inlet.pocket_volume", "air_inlet.pocket_water"], rule));
    }
    Ok(())
}

/// Fields that hold a gauge pressure, by path; a study checks them with every run.
static GAUGE: LazyLock<Vec<&'static str>> = LazyLock::new(|| {
    let gauge = |f: &&super::fields::Field| f.number_kind() == Some(Kind::GaugePressure);
    let mut paths: Vec<&str> = super::fields::fields().filter(gauge).map(|f| f.path).collect();
    paths.sort_unstable();
    paths
});

fn above_absolute_zero(s: &Settings) -> Result<(), Error> {
    let ambient = s.number("ambient.pressure_absolute")?;
    let refuse = |path: &str| {
        let show = format(Kind::AbsolutePressure, ambient, System::Us);
        let rule = format!("no vacuum goes below absolute zero, which is the ambient's {show} below atmosphere");
        conflict(s, "above-absolute-zero", &["ambient.pressure_absolute", path], rule)
    };
    // The failed supply's is checked where a supply fails: its default must not stop a fill at a high site.
    for path in GAUGE.iter().filter(|path| **path != "supply.failed_pressure") {
        if let Some(Value::Number(gauge)) = s.get(path).map(|setting| &setting.value) {
            let above = gauge + ambient > 0.0;
            if !above {
                return Err(refuse(path));
            }
        }
    }
    match s.supply_trace() {
        Some(trace) if !trace.pressure_pa_gauge.iter().all(|p| p + ambient > 0.0) => Err(refuse("supply.trace")),
        _ => Ok(()),
    }
}
