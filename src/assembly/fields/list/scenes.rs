//! Fields of what is done to an assembly beside a fill: a failing supply, a slam, a field test.

use super::super::FieldKind::{Choice, Quantity, QuantityOr};
use super::super::Rule::Any;
use super::super::{Field, Rule};
use super::{AN_AREA, f};
use crate::units::Kind::{
    Area, Compliance, Count, GaugePressure, Length, Number, PressureDifference, Time, Velocity, Volume, VolumeFlow,
};

pub(super) const SIPHON: &[Field] = &[
    f(
        "siphon.scene",
        Choice(&["vacuum-test", "service", "backpressure"]),
        Any,
        "Scene of siphon: vacuum with a tube in a pan, a failing supply, or pressure from the load side.",
    ),
    f(
        "siphon.rise_limit",
        Quantity(Length),
        Rule::within("0 mm", "10 m"),
        "Height of the assembly above its highest outlet, which the rise in the tube must not reach; load_side.height, once \
         given, decides instead.",
    ),
    f("siphon.test_limit", Quantity(Length), Rule::within("1 mm", "10 m"), "Rise in the tube that a test allows."),
];

pub(super) const SURGE: &[Field] = &[
    f(
        "surge.scene",
        Choice(&["fill", "downstream-valve", "pipe"]),
        Any,
        "Scene of surge: shutoff 1 thrown open, a valve beyond the assembly slams, or a valve at the bare pipe's end.",
    ),
    f("surge.cells", Quantity(Count), Rule::within("4", "2000"), "Pieces the line is divided into for its waves."),
    f("surge.opening_time", Quantity(Time), Rule::within("0.01 s", "60 s"), "Time in which shutoff 1 is thrown open."),
    f("surge.closing_time", Quantity(Time), Rule::within("0 s", "60 s"), "Time in which the valve shuts; 0: at once."),
    f(
        "surge.closing",
        Choice(&["flow", "area"]),
        Any,
        "What falls in a straight line as the valve shuts: its flow (bare pipe only) or its area.",
    ),
    f(
        "surge.velocity",
        Quantity(Velocity),
        Rule::within("0 m/s", "10 m/s"),
        "Velocity in the bare pipe before its valve shuts (scene pipe only).",
    ),
    f(
        "surge.friction_factor",
        QuantityOr(Number, "by-roughness"),
        Rule::within("0", "0.2"),
        "Constant Darcy friction factor of the line; 0: none; \"by-roughness\": from the roughness.",
    ),
    f("surge.end_time", Quantity(Time), Rule::above("0 s", "600 s"), "How long after the act surge looks."),
];

/// The gauge of a field test and the tube that may stand in for it.
pub(super) const GAUGE: &[Field] = &[
    f("gauge.height", Quantity(Length), Rule::within("-10 m", "10 m"), "Height of the gauge above its reference."),
    f(
        "gauge.reference",
        Choice(&["part", "cock"]),
        Any,
        "What the gauge is levelled with: the part under test (air inlet's seat, check) or the cock its hose is on.",
    ),
    f(
        "gauge.inlet_above_cock",
        Quantity(Length),
        Rule::within("-1 m", "1 m"),
        "Height of the air inlet's seat above the cock it is tested by.",
    ),
    f(
        "gauge.check_above_cock",
        Quantity(Length),
        Rule::within("-1 m", "1 m"),
        "Height of the check test's level (way out of zone 2) above the cock it is tested by.",
    ),
    f(
        "gauge.capsule_compliance",
        Quantity(Compliance),
        Rule::above("0 mL/psi", "20 mL/psi"),
        "Yield of the gauge's capsule, volume per pressure.",
    ),
    f("gauge.hose_length", Quantity(Length), Rule::within("0.1 m", "20 m"), "Length of the high hose."),
    f("gauge.hose_bore", Quantity(Length), Rule::within("1 mm", "30 mm"), "Bore of the high hose."),
    f(
        "gauge.trapped_air",
        Quantity(Volume),
        Rule::within("0 mL", "50 mL"),
        "Air left in the high hose after it has been bled, at atmospheric pressure.",
    ),
    f(
        "gauge.air_upright",
        Quantity(Number),
        Rule::within("-1", "1"),
        "Share of that air which stands upright: 1 in the leg that rises to the gauge, -1 in the leg that falls from the cock.",
    ),
    f("gauge.leak_area", Quantity(Area), AN_AREA, "Leak area of the high hose and its fittings."),
    f("gauge.lag", Quantity(Time), Rule::within("0.001 s", "60 s"), "Lag of the needle."),
    f(
        "gauge.zero_error",
        Quantity(PressureDifference),
        Rule::within("-15 psi", "15 psi"),
        "What the needle shows at no pressure.",
    ),
    f(
        "gauge.span_error",
        Quantity(Number),
        Rule::within("-0.9", "2"),
        "Error in proportion to the reading, as a share.",
    ),
    f(
        "gauge.resolution",
        Quantity(PressureDifference),
        Rule::within("0.001 psi", "5 psi"),
        "Step to which readings are recorded, rounded down.",
    ),
    f(
        "gauge.class",
        Quantity(PressureDifference),
        Rule::within("0 psi", "5 psi"),
        "How far a reading may be off by the gauge's class.",
    ),
    f("gauge.range", Quantity(PressureDifference), Rule::within("1 psi", "1000 psi"), "Full scale of the gauge."),
    f(
        "gauge.overload",
        Quantity(PressureDifference),
        Rule::within("1 psi", "100 MPa"),
        "Pressure in the gauge above which it is damaged; a test that would exceed it is refused.",
    ),
    f("gauge.bleed_bore", Quantity(Length), Rule::within("0.1 mm", "20 mm"), "Bore of the bleed valve wide open."),
    f("gauge.low_side", Choice(&["open", "capped"]), Any, "Whether the low side is open to air, or capped."),
    f(
        "gauge.low_side_head",
        Quantity(Length),
        Rule::within("0 m", "5 m"),
        "Water standing in the low hose above the gauge.",
    ),
    f(
        "tube.bore",
        Quantity(Length),
        Rule::within("2 mm", "100 mm"),
        "Bore of a sight tube used in place of the gauge.",
    ),
    f("tube.height", Quantity(Length), Rule::within("0.1 m", "20 m"), "Height of the sight tube above its zero."),
    f(
        "tube.resolution",
        Quantity(Length),
        Rule::within("0.1 mm", "100 mm"),
        "Step to which the level in a tube is read.",
    ),
];

/// The tester's hand and the conditions of a field test.
pub(super) const HAND: &[Field] = &[
    f(
        "hand.bleed_rate",
        Quantity(PressureDifference),
        Rule::within("0.001 psi", "50 psi"),
        "Fall of the needle per second that the tester aims at when bleeding slowly.",
    ),
    f(
        "hand.quick_rate",
        Quantity(PressureDifference),
        Rule::within("0.001 psi", "100 psi"),
        "Fall of the needle per second while it is far from where anything happens.",
    ),
    f(
        "hand.vent_flow",
        Quantity(VolumeFlow),
        Rule::within("0.01 mL/s", "100 mL/s"),
        "Stream from the bleed valve while the needle is off the scale.",
    ),
    f(
        "hand.lift_flow",
        Quantity(VolumeFlow),
        Rule::within("0.01 mL/s", "100 mL/s"),
        "Stream from the bleed valve while a diaphragm's air inlet is let up.",
    ),
    f(
        "hand.eye_delay",
        Quantity(Time),
        Rule::within("0 s", "10 s"),
        "How late the eye reads the needle after the air inlet opens.",
    ),
    f(
        "hand.reaction",
        Quantity(Time),
        Rule::within("0.05 s", "20 s"),
        "Time in which the hand opens or shuts the bleed valve by a factor of 2.7 at most.",
    ),
    f(
        "hand.patience",
        Quantity(Time),
        Rule::within("1 s", "3600 s"),
        "How long the tester waits for something to happen.",
    ),
    f(
        "hand.steady_band",
        Quantity(PressureDifference),
        Rule::within("0.001 psi", "5 psi"),
        "Movement of the needle that the eye takes for none.",
    ),
    f(
        "hand.steady_time",
        Quantity(Time),
        Rule::within("0.1 s", "600 s"),
        "Time for which the needle must not move to count as steady.",
    ),
    f("hand.turn_time", Quantity(Time), Rule::within("0.05 s", "60 s"), "Time to turn a cock, screw or shutoff."),
    f(
        "hand.bleed_at",
        Choice(&["gauge", "tee"]),
        Any,
        "Where the bleed valve is: on the gauge, or on a tee between cock and hose.",
    ),
    f(
        "test.trapped_pressure",
        QuantityOr(GaugePressure, "as-service"),
        Rule::within("-100 kPa", "3 MPa"),
        "Pressure that stands in zone 2 when the test begins; \"as-service\": zone 1 less the check's load.",
    ),
    f(
        "test.load_side",
        Choice(&["under-pressure", "drained"]),
        Any,
        "What is beyond shutoff 2: piping under pressure from which nobody draws, or piping that has been drained.",
    ),
    f(
        "test.missing_cock",
        Choice(&["screw", "nothing", "only-cock"]),
        Any,
        "What a tester opens where the procedure wants a cock that is not there: the bleed screw, nothing, or the only cock.",
    ),
    f("test.pause", Quantity(Time), Rule::within("0 s", "1000000 s"), "Time the parts stand shut between two tries."),
    f(
        "test.friction_variation",
        Quantity(Number),
        Rule::within("0", "3"),
        "Scatter of friction from try to try, standard deviation over mean (lognormal).",
    ),
    f(
        "test.adhesion_variation",
        Quantity(Number),
        Rule::within("0", "3"),
        "Scatter of adhesion from try to try, standard deviation over mean (lognormal).",
    ),
    f(
        "test.adhesion_time",
        Quantity(Time),
        Rule::within("0.1 s", "10000000 s"),
        "Time constant with which adhesion grows while a part stands shut.",
    ),
];
