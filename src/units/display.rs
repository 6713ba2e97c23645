//! SI values back to text: in the units people read, or exactly.

use super::{Kind, number, table};

/// Which units text and charts use.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum System {
    /// US customary (psi, gpm, in).
    #[default]
    Us,
    /// SI and its usual multiples (kPa, L/min, mm).
    Si,
}

/// How a kind is shown: unit, most and fewest decimals.
struct Shown {
    symbol: &'static str,
    most: usize,
    fewest: usize,
}

const fn show(symbol: &'static str, most: usize, fewest: usize) -> Shown {
    Shown { symbol, most, fewest }
}

fn shown(kind: Kind, system: System) -> Shown {
    match (kind, system) {
        (Kind::GaugePressure | Kind::PressureDifference, System::Us) => show("psi", 2, 1),
        (Kind::GaugePressure | Kind::PressureDifference, System::Si) => show("kPa", 2, 1),
        (Kind::AbsolutePressure, System::Us) => show("psia", 2, 1),
        (Kind::AbsolutePressure, System::Si) => show("kPa abs", 2, 1),
        (Kind::Length, System::Us) => show("in", 2, 1),
        (Kind::Length, System::Si) => show("mm", 1, 1),
        (Kind::Area, System::Us) => show("in2", 3, 1),
        (Kind::Area, System::Si) => show("mm2", 2, 0),
        (Kind::Volume, _) => show("mL", 1, 0),
        (Kind::VolumeFlow, System::Us) => show("gpm", 2, 1),
        (Kind::VolumeFlow, System::Si) => show("L/min", 2, 1),
        (Kind::Mass, System::Us) => show("lb", 3, 1),
        (Kind::Mass, System::Si) => show("g", 1, 0),
        (Kind::Time, _) => show("s", 3, 1),
        (Kind::Temperature, System::Us) => show("degF", 1, 0),
        (Kind::Temperature, System::Si) => show("degC", 1, 0),
        (Kind::Force, System::Us) => show("lbf", 3, 1),
        (Kind::Force, System::Si) => show("N", 2, 1),
        (Kind::Stiffness, System::Us) => show("lbf/in", 2, 1),
        (Kind::Stiffness, System::Si) => show("N/mm", 3, 1),
        (Kind::Damping, System::Us) => show("lbf s/in", 4, 1),
        (Kind::Damping, System::Si) => show("N s/m", 2, 1),
        (Kind::Compliance, System::Us) => show("mL/psi", 4, 1),
        (Kind::Compliance, System::Si) => show("mL/kPa", 4, 1),
        (Kind::Velocity, System::Us) => show("ft/s", 2, 1),
        (Kind::Velocity, System::Si) => show("m/s", 2, 1),
        (Kind::Angle, _) => show("deg", 1, 0),
        (Kind::Number, _) => show("", 3, 0),
        (Kind::Count, _) => show("", 0, 0),
    }
}

/// The unit a kind is shown in, for axis labels and table heads; empty for plain numbers.
pub fn unit_symbol(kind: Kind, system: System) -> &'static str {
    shown(kind, system).symbol
}

/// The SI value as a number in the unit of [`unit_symbol`].
pub fn to_display(kind: Kind, si: f64, system: System) -> f64 {
    in_unit(kind, si, shown(kind, system).symbol)
}

fn in_unit(kind: Kind, si: f64, symbol: &str) -> f64 {
    let bare = symbol.strip_suffix(" abs").unwrap_or(if symbol == "psia" { "psi" } else { symbol });
    match table::find(kind, bare) {
        // All units are linear, temperature with an offset: two values give the inverse.
        Some(unit) => {
            let zero = (unit.to_si)(0.0);
            (si - zero) / ((unit.to_si)(1.0) - zero)
        }
        None => si,
    }
}

/// The value with its unit and about three figures: "60.0 psi", "9.1 mL", "0.22 in".
///
/// Large lengths, volumes, times and pressures change to the next unit (ft or m, gal or L, min or h, MPa), short
/// times to ms. NaN reads "unknown".
pub fn format(kind: Kind, si: f64, system: System) -> String {
    if si.is_nan() {
        return "unknown".to_string();
    }
    let Shown { mut symbol, mut most, mut fewest } = shown(kind, system);
    let size = si.abs();
    match kind {
        Kind::Length if system == System::Us && size >= 1.0 => symbol = "ft",
        Kind::Length if size >= 1.0 => (symbol, most) = ("m", 2),
        // A bore of 0.039 in is not one of 0.04.
        Kind::Length if system == System::Us && (2.54e-4..2.54e-3).contains(&size) => most = 3,
        Kind::Volume if system == System::Us && size >= 3.785e-3 => (symbol, most, fewest) = ("gal", 2, 1),
        Kind::Volume if system == System::Si && size >= 1e-3 => (symbol, most, fewest) = ("L", 2, 1),
        Kind::Time if size >= 3600.0 => symbol = "h",
        Kind::Time if size >= 120.0 => symbol = "min",
        Kind::Time if size < 0.1 && size > 0.0 => (symbol, most) = ("ms", 2),
        Kind::Time => most = 2,
        Kind::GaugePressure | Kind::PressureDifference if system == System::Si && size >= 1e7 => symbol = "MPa",
        _ => {}
    }
    let value = match (kind, in_unit(kind, si, symbol)) {
        // No gauge tells a ten-thousandth of a psi from nothing.
        (Kind::GaugePressure | Kind::PressureDifference, value) if value.abs() < 1e-4 => 0.0,
        (_, value) => value,
    };
    let number = figures(value, most, fewest);
    if symbol.is_empty() { number } else { format!("{number} {symbol}") }
}

/// Three figures within the limits on decimals; small values get the decimals they need for two figures.
fn figures(value: f64, most: usize, fewest: usize) -> String {
    if !value.is_finite() {
        return if value < 0.0 { "-infinite".to_string() } else { "infinite".to_string() };
    }
    let size = value.abs();
    if size >= 1e9 {
        return format!("{value:.3e}");
    }
    // Below a millionth of the unit a reading is zero for a reader.
    if size < 1e-6 {
        return format!("{:.fewest$}", 0.0);
    }
    let leading = size.log10().floor() as i32;
    let wanted = usize::try_from(2 - leading).unwrap_or(0);
    // A thousand units and more are known no closer than to one.
    let fewest_here = if size >= 1e3 { 0 } else { fewest };
    let decimals = match wanted.clamp(fewest_here, most) {
        limited if size * 10f64.powi(limited as i32) < 1.0 => usize::try_from(1 - leading).unwrap_or(most),
        limited => limited,
    };
    let text = format!("{value:.decimals$}");
    // Plain numbers and whole-figure units drop the zeros that say nothing.
    if fewest == 0 && text.contains('.') {
        return text.trim_end_matches('0').trim_end_matches('.').to_string();
    }
    text
}

/// The value in its SI base unit with every figure: [`parse`](super::parse) gives the same f64 back. Less than 1e-30, which
/// it takes for a slip, is written as 0: no quantity of ours is that small.
pub fn exact_text(kind: Kind, si: f64) -> String {
    let si = if si.abs() < number::SMALLEST { 0.0 } else { si };
    let symbol = match kind {
        Kind::GaugePressure | Kind::PressureDifference => "Pa",
        Kind::AbsolutePressure => "Pa abs",
        Kind::Length => "m",
        Kind::Area => "m2",
        Kind::Volume => "m3",
        Kind::VolumeFlow => "m3/s",
        Kind::Mass => "kg",
        Kind::Time => "s",
        Kind::Temperature => "K",
        Kind::Force => "N",
        Kind::Stiffness => "N/m",
        Kind::Damping => "N s/m",
        Kind::Compliance => "m3/Pa",
        Kind::Velocity => "m/s",
        Kind::Angle => "rad",
        Kind::Number | Kind::Count => "",
    };
    // Decimal notation of a tiny number would be a row of zeros; an exponent keeps it readable and exact.
    let number = if si != 0.0 && !(1e-4..1e7).contains(&si.abs()) { format!("{si:e}") } else { format!("{si}") };
    if symbol.is_empty() { number } else { format!("{number} {symbol}") }
}
