//! Which unit symbols each kind of quantity takes. Factors are those of the `uom` crate, but where it rounds one that is
//! exact by definition: pound, pound-force and gallon, and what follows from them.

use super::Kind;
use uom::si::angle::{degree, radian};
use uom::si::area::{square_centimeter, square_inch, square_meter, square_millimeter};
use uom::si::f64::{
    Angle, Area, Force, Length, Mass, Pressure, ThermodynamicTemperature, Time, Velocity, Volume, VolumeRate,
};
use uom::si::force::{kilogram_force, kilonewton, newton};
use uom::si::length::{centimeter, foot, inch, kilometer, meter, micrometer, millimeter};
use uom::si::mass::{gram, kilogram, milligram};
use uom::si::pressure::{
    bar, foot_of_water, gigapascal, inch_of_mercury, inch_of_water, kilopascal, megapascal, millibar,
    millimeter_of_mercury, millimeter_of_water, pascal,
};
use uom::si::thermodynamic_temperature::{degree_celsius, degree_fahrenheit, kelvin};
use uom::si::time::{day, hour, millisecond, minute, second};
use uom::si::velocity::{centimeter_per_second, foot_per_second, meter_per_second, mile_per_hour};
use uom::si::volume::{cubic_centimeter, cubic_meter, cubic_millimeter, liter, milliliter};
use uom::si::volume_rate::{
    cubic_meter_per_hour, cubic_meter_per_second, liter_per_minute, liter_per_second, milliliter_per_second,
};

// Exact by definition (NIST SP 811, appendix B). Columns of water and mercury are conventional, and `uom` has them as it does.
const INCH: f64 = 0.0254;
const POUND: f64 = 0.453_592_37;
const POUND_FORCE: f64 = 4.448_221_615_260_5;
const PSI: f64 = POUND_FORCE / (INCH * INCH);
const GALLON: f64 = 3.785_411_784e-3;

/// One unit: its symbol, other spellings, and the SI value of a number in it.
pub(super) struct Unit {
    pub symbol: &'static str,
    pub others: &'static [&'static str],
    /// Whether upper and lower case may be mixed. Never for SI symbols, where M and m differ by 1e9.
    pub any_case: bool,
    pub to_si: fn(f64) -> f64,
}

/// A US customary unit.
const fn us(symbol: &'static str, others: &'static [&'static str], to_si: fn(f64) -> f64) -> Unit {
    Unit { symbol, others, any_case: true, to_si }
}

/// An SI unit.
const fn si(symbol: &'static str, others: &'static [&'static str], to_si: fn(f64) -> f64) -> Unit {
    Unit { symbol, others, any_case: false, to_si }
}

const PRESSURE: &[Unit] = &[
    us("psi", &["lbf/in2"], |v| v * PSI),
    si("bar", &[], |v| Pressure::new::<bar>(v).value),
    si("kPa", &[], |v| Pressure::new::<kilopascal>(v).value),
    si("MPa", &[], |v| Pressure::new::<megapascal>(v).value),
    si("GPa", &[], |v| Pressure::new::<gigapascal>(v).value),
    si("Pa", &[], |v| Pressure::new::<pascal>(v).value),
    si("mbar", &[], |v| Pressure::new::<millibar>(v).value),
    us("inHg", &["in Hg"], |v| Pressure::new::<inch_of_mercury>(v).value),
    us("mmHg", &["mm Hg"], |v| Pressure::new::<millimeter_of_mercury>(v).value),
    us("inH2O", &["in H2O"], |v| Pressure::new::<inch_of_water>(v).value),
    us("ftH2O", &["ft H2O"], |v| Pressure::new::<foot_of_water>(v).value),
    si("mH2O", &["m H2O"], |v| Pressure::new::<millimeter_of_water>(1000.0 * v).value),
    si("mmH2O", &["mm H2O"], |v| Pressure::new::<millimeter_of_water>(v).value),
];

const LENGTH: &[Unit] = &[
    us("in", &["inch", "inches"], |v| Length::new::<inch>(v).value),
    us("ft", &["foot", "feet"], |v| Length::new::<foot>(v).value),
    si("mm", &[], |v| Length::new::<millimeter>(v).value),
    si("cm", &[], |v| Length::new::<centimeter>(v).value),
    si("m", &[], |v| Length::new::<meter>(v).value),
    si("um", &[], |v| Length::new::<micrometer>(v).value),
    si("km", &[], |v| Length::new::<kilometer>(v).value),
];

const AREA: &[Unit] = &[
    us("in2", &["sq in"], |v| Area::new::<square_inch>(v).value),
    si("mm2", &[], |v| Area::new::<square_millimeter>(v).value),
    si("cm2", &[], |v| Area::new::<square_centimeter>(v).value),
    si("m2", &[], |v| Area::new::<square_meter>(v).value),
];

const VOLUME: &[Unit] = &[
    si("mL", &["ml", "cm3"], |v| Volume::new::<milliliter>(v).value),
    si("L", &["l", "dm3"], |v| Volume::new::<liter>(v).value),
    us("fl oz", &["floz"], |v| v * (GALLON / 128.0)),
    us("gal", &["gallon", "gallons"], |v| v * GALLON),
    us("in3", &["cu in"], |v| v * (INCH * INCH * INCH)),
    si("mm3", &[], |v| Volume::new::<cubic_millimeter>(v).value),
    si("m3", &[], |v| Volume::new::<cubic_meter>(v).value),
];

const VOLUME_FLOW: &[Unit] = &[
    us("gpm", &["gal/min"], |v| v * (GALLON / 60.0)),
    us("gph", &["gal/h"], |v| v * (GALLON / 3600.0)),
    si("L/min", &["l/min"], |v| VolumeRate::new::<liter_per_minute>(v).value),
    si("L/s", &["l/s"], |v| VolumeRate::new::<liter_per_second>(v).value),
    si("mL/s", &["ml/s"], |v| VolumeRate::new::<milliliter_per_second>(v).value),
    si("m3/h", &[], |v| VolumeRate::new::<cubic_meter_per_hour>(v).value),
    si("m3/s", &[], |v| VolumeRate::new::<cubic_meter_per_second>(v).value),
];

const MASS: &[Unit] = &[
    si("g", &[], |v| Mass::new::<gram>(v).value),
    si("kg", &[], |v| Mass::new::<kilogram>(v).value),
    si("mg", &[], |v| Mass::new::<milligram>(v).value),
    us("oz", &[], |v| v * (POUND / 16.0)),
    us("lb", &["lbm"], |v| v * POUND),
];

const TIME: &[Unit] = &[
    si("s", &["sec", "second", "seconds"], |v| Time::new::<second>(v).value),
    si("ms", &[], |v| Time::new::<millisecond>(v).value),
    si("min", &["minute", "minutes"], |v| Time::new::<minute>(v).value),
    si("h", &["hour", "hours"], |v| Time::new::<hour>(v).value),
    si("d", &["day", "days"], |v| Time::new::<day>(v).value),
];

const TEMPERATURE: &[Unit] = &[
    us("degC", &["C", "deg C"], |v| ThermodynamicTemperature::new::<degree_celsius>(v).value),
    us("degF", &["F", "deg F"], |v| ThermodynamicTemperature::new::<degree_fahrenheit>(v).value),
    si("K", &[], |v| ThermodynamicTemperature::new::<kelvin>(v).value),
];

const FORCE: &[Unit] = &[
    us("lbf", &[], |v| v * POUND_FORCE),
    si("N", &[], |v| Force::new::<newton>(v).value),
    si("kN", &[], |v| Force::new::<kilonewton>(v).value),
    si("kgf", &[], |v| Force::new::<kilogram_force>(v).value),
];

const STIFFNESS: &[Unit] = &[
    us("lbf/in", &["lb/in"], |v| v * (POUND_FORCE / INCH)),
    si("N/mm", &[], |v| (Force::new::<newton>(v) / Length::new::<millimeter>(1.0)).value),
    si("N/m", &[], |v| (Force::new::<newton>(v) / Length::new::<meter>(1.0)).value),
];

const DAMPING: &[Unit] = &[
    si("N s/m", &["N.s/m", "Ns/m"], |v| {
        (Force::new::<newton>(v) * Time::new::<second>(1.0) / Length::new::<meter>(1.0)).value
    }),
    us("lbf s/in", &["lbf.s/in"], |v| v * (POUND_FORCE / INCH)),
];

const COMPLIANCE: &[Unit] = &[
    si("mL/psi", &["ml/psi"], |v| v * (1e-6 / PSI)),
    si("mL/kPa", &["ml/kPa"], |v| (Volume::new::<milliliter>(v) / Pressure::new::<kilopascal>(1.0)).value),
    si("mL/bar", &["ml/bar"], |v| (Volume::new::<cubic_centimeter>(v) / Pressure::new::<bar>(1.0)).value),
    us("in3/psi", &[], |v| v * (INCH * INCH * INCH / PSI)),
    si("m3/Pa", &[], |v| (Volume::new::<cubic_meter>(v) / Pressure::new::<pascal>(1.0)).value),
];

const VELOCITY: &[Unit] = &[
    si("m/s", &[], |v| Velocity::new::<meter_per_second>(v).value),
    us("ft/s", &["fps"], |v| Velocity::new::<foot_per_second>(v).value),
    si("cm/s", &[], |v| Velocity::new::<centimeter_per_second>(v).value),
    us("mph", &[], |v| Velocity::new::<mile_per_hour>(v).value),
];

const ANGLE: &[Unit] = &[
    us("deg", &["degree", "degrees"], |v| Angle::new::<degree>(v).value),
    si("rad", &[], |v| Angle::new::<radian>(v).value),
];

/// The units of a kind, the most usual first; none for plain numbers.
pub(super) fn units(kind: Kind) -> &'static [Unit] {
    match kind {
        Kind::GaugePressure | Kind::AbsolutePressure | Kind::PressureDifference => PRESSURE,
        Kind::Length => LENGTH,
        Kind::Area => AREA,
        Kind::Volume => VOLUME,
        Kind::VolumeFlow => VOLUME_FLOW,
        Kind::Mass => MASS,
        Kind::Time => TIME,
        Kind::Temperature => TEMPERATURE,
        Kind::Force => FORCE,
        Kind::Stiffness => STIFFNESS,
        Kind::Damping => DAMPING,
        Kind::Compliance => COMPLIANCE,
        Kind::Velocity => VELOCITY,
        Kind::Angle => ANGLE,
        Kind::Number | Kind::Count => &[],
    }
}

/// The unit of the table with this symbol or spelling.
pub(super) fn find(kind: Kind, symbol: &str) -> Option<&'static Unit> {
    let table = units(kind);
    let spelled =
        |u: &&Unit, eq: fn(&str, &str) -> bool| eq(u.symbol, symbol) || u.others.iter().any(|o| eq(o, symbol));
    table
        .iter()
        .find(|u| spelled(u, |a, b| a == b))
        .or_else(|| table.iter().find(|u| u.any_case && spelled(u, str::eq_ignore_ascii_case)))
}
