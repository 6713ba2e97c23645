//! Fields of freezing nights: the body's metal, what ice does to a relief, the weather.

use super::super::FieldKind::{Choice, Initial, Path, Quantity, QuantityOr, Switch};
use super::super::Rule::Any;
use super::super::{Field, Rule};
use super::{A_BORE, A_SHARE, f};
use crate::units::Kind::{
    Count, GaugePressure, Length, Mass, Number, PressureDifference, Temperature, Time, Velocity, Volume,
};

/// A relief in a freeze.
pub(super) const RELIEF_AND_ICE: &[Field] = &[
    f(
        "relief.plugged_at",
        Quantity(Number),
        Rule::within("0.01", "1"),
        "Share of ice in its zone, air counted as water, at which ice blocks the relief's port; a deeper port has a higher one.",
    ),
    f("relief.stuck", Switch, Any, "Whether the relief is stuck and never opens in a freeze."),
    f(
        "relief.drop_length",
        Quantity(Length),
        Rule::within("0 mm", "50 mm"),
        "Length of the drop that freezes in the relief's outlet after a lift; 0 where the outlet runs dry.",
    ),
    f(
        "relief.ice_shear",
        Quantity(PressureDifference),
        Rule::within("0 MPa", "10 MPa"),
        "Shear strength of ice on the relief's outlet: a frozen drop adds 4 times this times length over bore to its set.",
    ),
    f(
        "relief.set_drift",
        Quantity(Number),
        Rule::within("-0.5", "0.5"),
        "Change of the relief's set from one night to the next, as a share of it.",
    ),
    f(
        "relief.cold_stiffening",
        Quantity(Number),
        Rule::within("0", "0.1"),
        "Rise of the relief's set per kelvin below 20 degC, as a share of it: 0 for a spring, about 0.01 for an elastomer.",
    ),
];

/// The body as a tube of metal.
pub(super) const METAL: &[Field] = &[
    f("body.bore", Quantity(Length), A_BORE, "Inner diameter of the tube that stands for the body in a freeze."),
    f("body.wall", Quantity(Length), Rule::within("0.2 mm", "50 mm"), "Thickness of that tube's wall."),
    f(
        "body.modulus",
        Quantity(PressureDifference),
        Rule::within("10 MPa", "1e9 MPa"),
        "Modulus of elasticity of the body's metal; a huge one makes the body rigid.",
    ),
    f("body.poisson", Quantity(Number), Rule::within("0", "0.49"), "Poisson's ratio of the body's metal."),
    f(
        "body.yield_strength",
        Quantity(PressureDifference),
        Rule::within("1 MPa", "3000 MPa"),
        "Stress at which the body's metal starts to yield.",
    ),
    f(
        "body.tensile_strength",
        Quantity(PressureDifference),
        Rule::within("1 MPa", "3000 MPa"),
        "Stress at which it breaks; not below the yield strength.",
    ),
    f(
        "body.expansion",
        Quantity(Number),
        Rule::within("0", "2e-4"),
        "Linear thermal expansion of the metal, per kelvin; metals lie below 1e-4, plastics below 2e-4.",
    ),
    f(
        "body.mass",
        Quantity(Mass),
        Rule::within("0 g", "100 kg"),
        "Mass of metal that cools with the water, shared between the zones by their volumes.",
    ),
    f("body.emissivity", Quantity(Number), A_SHARE, "Emissivity of the body's surface."),
    f(
        "body.link_length",
        Quantity(Length),
        Rule::within("1 mm", "10 m"),
        "Length of metal from the middle of zone 1 to that of zone 2, through which they share heat.",
    ),
    f(
        "body.rubber_share",
        Quantity(Number),
        Rule::within("0", "0.5"),
        "Largest volume by which rubber gives way, as a share of a zone's volume.",
    ),
    f(
        "body.ball_volume",
        Quantity(Volume),
        Rule::within("0 mL", "2 L"),
        "Water trapped in the ball of each shut shutoff; 0 with the handles half open.",
    ),
    f(
        "body.bonnet_strength",
        QuantityOr(GaugePressure, "none"),
        Rule::within("10 psi", "400 MPa"),
        "Pressure at which the bonnet over zone 2 splits, or \"none\" where it is as strong as the body.",
    ),
    f(
        "body.safety_factor",
        Quantity(Number),
        Rule::within("1", "20"),
        "What the strength of the weakest part is divided by when a relief is sized.",
    ),
];

/// The night.
pub(super) const NIGHT: &[Field] = &[
    f(
        "night.air_temperature",
        Quantity(Temperature),
        Rule::within("-60 degC", "40 degC"),
        "Air temperature of the night.",
    ),
    f("night.duration", Quantity(Time), Rule::within("1 min", "60 d"), "Length of the night."),
    f("night.wind_speed", Quantity(Velocity), Rule::within("0 m/s", "60 m/s"), "Wind on the body; 0 is still air."),
    f("night.count", Quantity(Count), Rule::within("1", "400"), "Nights in a row, each after a thaw."),
    f(
        "night.weather",
        Path,
        Any,
        "CSV of the air temperature against time (hourly, say); replaces night.air_temperature.",
    ),
    f(
        "night.fill_pressure",
        QuantityOr(GaugePressure, "supply"),
        Rule::within("-100 kPa", "3 MPa"),
        "Pressure shut in in zone 1 when the night begins, or \"supply\"; zone 2 is shut in at the check's load below it.",
    ),
    f(
        "night.zone1_water",
        Initial,
        Rule::within("0 mL", "20 L"),
        "Water shut in in zone 1 when the night begins: \"empty\", \"brimful\" or a volume.",
    ),
    f(
        "night.zone2_water",
        Initial,
        Rule::within("0 mL", "20 L"),
        "Water shut in in zone 2 when the night begins: \"empty\", \"brimful\" or a volume.",
    ),
    f(
        "night.zone1_exposure",
        Quantity(Number),
        Rule::within("0", "20"),
        "Surface of zone 1 that gives off heat, as a multiple of its tube's.",
    ),
    f(
        "night.zone2_exposure",
        Quantity(Number),
        Rule::within("0", "20"),
        "Surface of zone 2 that gives off heat, as a multiple of its tube's.",
    ),
    f("night.insulation", Quantity(Length), Rule::within("0 mm", "200 mm"), "Thickness of foam around the body."),
    f(
        "night.supercooling",
        Quantity(Number),
        Rule::within("0", "15"),
        "Kelvin below the melting point at which the first ice appears.",
    ),
    f(
        "night.release_time",
        Quantity(Time),
        Rule::within("1 ms", "1 h"),
        "Time in which supercooled water turns its share to ice at once it has begun.",
    ),
    f(
        "night.ice",
        Choice(&["shell", "lumped"]),
        Any,
        "Whether ice grows as a shell from the wall, whose resistance counts, or everywhere alike.",
    ),
    f(
        "night.lifts",
        Choice(&["by-map", "resolved"]),
        Any,
        "Whether the relief's lifts are counted from what they let out, or each is followed in time.",
    ),
    f(
        "night.refill",
        Choice(&["tight", "weeping-purged", "weeping-air-kept"]),
        Any,
        "Between nights: shutoff 1 is tight, or weeps and refills the body with its air purged or kept.",
    ),
    f(
        "night.inlet_stays_shut",
        Switch,
        Any,
        "Whether an air inlet that has let air in is taken as shut the next night; otherwise it stands open.",
    ),
];

/// The check in a freeze.
pub(super) const CHECK: &[Field] = &[f(
    "check.plugged_at",
    Quantity(Number),
    Rule::within("0.01", "1"),
    "Share of ice in either zone, air counted as water, at which ice blocks the passage at the check.",
)];

/// Slams on the load side, for a relief's window.
pub(super) const LOAD_SIDE: &[Field] = &[
    f(
        "load_side.slam_velocity",
        Quantity(Velocity),
        Rule::within("0 m/s", "15 m/s"),
        "Flow velocity that a valve on the load side stops at once, for the relief's window.",
    ),
    f(
        "load_side.wave_speed",
        Quantity(Velocity),
        Rule::within("50 m/s", "1500 m/s"),
        "Speed of pressure waves in the load-side piping, for the relief's window.",
    ),
];
