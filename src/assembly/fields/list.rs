//! The fields themselves. Ranges are wide: they keep out slips and nonsense, not unusual designs.

use super::FieldKind::{self, Choice, Initial, Opening, Path, Quantity, QuantityOr, Size, Switch};
use super::Rule::Any;
use super::{Field, Rule};
use crate::units::Kind::{
    AbsolutePressure, Angle, Area, Compliance, Count, Damping, GaugePressure, Length, Mass, Number, PressureDifference,
    Stiffness, Temperature, Time, Velocity, Volume, VolumeFlow,
};

mod scenes;
mod winter;

const fn f(path: &'static str, kind: FieldKind, rule: Rule, doc: &'static str) -> Field {
    Field { path, kind, rule, doc }
}

/// Leak areas, orifices and passages may be shut (0) and are never larger than a 4 in pipe.
const AN_AREA: Rule = Rule::within("0 mm2", "100 cm2");
const A_BORE: Rule = Rule::within("1 mm", "200 mm");
/// Word for a load or rate that follows from the spring's or lip's dimensions.
const BY_GEOMETRY: &str = "by-geometry";
const A_SHARE: Rule = Rule::within("0", "1");

/// What the check and the air inlet have in common.
macro_rules! poppet {
    ($group:literal, $part:literal, $area:literal, [$($own:expr),* $(,)?]) => {
        &[
            f(concat!($group, ".seat_diameter"), Quantity(Length), A_BORE,
                concat!("Diameter of the circle on which the ", $part, " seals.")),
            f(concat!($group, ".port_diameter"), Quantity(Length), A_BORE,
                concat!("Bore of the port through the ", $part, "'s seat; it limits the flow at large lift.")),
            f(concat!($group, ".lift"), Quantity(Length), Rule::within("0.1 mm", "100 mm"),
                concat!("Travel of the ", $part, " from the sealed position to its stop.")),
            f(concat!($group, ".mass"), Quantity(Mass), Rule::within("0.1 g", "5 kg"),
                concat!("Moving mass of the ", $part, " (poppet, disc, its share of the spring).")),
            f(concat!($group, ".load"), QuantityOr(PressureDifference, BY_GEOMETRY), Rule::within("0 psi", "100 psi"),
                concat!("Static load on the ", $part, " at the sealed position, as pressure on ", $area,
                    "; by-geometry: what spring or lip give.")),
            f(concat!($group, ".load_rate"), QuantityOr(Stiffness, BY_GEOMETRY), Rule::within("0 N/m", "1000 N/mm"),
                concat!("Change of the ", $part, "'s load with travel; by-geometry: from the wire. No effect on cone or lip.")),
            f(concat!($group, ".load_factor"), Quantity(Number), Rule::within("0", "5"),
                concat!("Factor on the force of the ", $part, "'s spring or lip: 1 as new, 0 when missing.")),
            f(concat!($group, ".load_curve"), Path, Any,
                concat!("CSV of the ", $part, "'s load (travel, force, optional direction); replaces load and rate.")),
            f(concat!($group, ".seat_wear"), Quantity(Length), Rule::within("0 mm", "20 mm"),
                concat!("Wear of the ", $part, "'s seat and disc; changes preload, sealing area and lift.")),
            f(concat!($group, ".seat_leak_area"), Quantity(Area), AN_AREA,
                concat!("Leak area left when the ", $part, " sits on its seat.")),
            f(concat!($group, ".foul_area"), Quantity(Area), AN_AREA,
                concat!("Area held open by dirt when the ", $part, " should be shut.")),
            f(concat!($group, ".friction"), Quantity(PressureDifference), Rule::within("0 psi", "50 psi"),
                concat!("Friction of the ", $part, " against either motion, as pressure on ", $area, ".")),
            f(concat!($group, ".adhesion"), Quantity(PressureDifference), Rule::within("0 psi", "50 psi"),
                concat!("Pull that glues the ", $part, " to its seat until it first moves, as pressure on ", $area, ".")),
            f(concat!($group, ".damping"), Quantity(Damping), Rule::within("0 N s/m", "1000 N s/m"),
                concat!("Viscous drag of the ", $part, "'s guide, force per velocity.")),
            f(concat!($group, ".discharge_coefficient"), Quantity(Number), Rule::within("0.1", "1"),
                concat!("Discharge coefficient of the open ", $part, ".")),
            f(concat!($group, ".air_coefficient"), QuantityOr(Number, "as-water"), Rule::within("0.1", "1"),
                concat!("Discharge coefficient of the open ", $part, " for air.")),
            f(concat!($group, ".foul_coefficient"), QuantityOr(Number, "as-opening"), Rule::within("0.1", "1"),
                concat!("Discharge coefficient of the ", $part, "'s foul_area.")),
            f(concat!($group, ".foul_air_coefficient"), QuantityOr(Number, "as-water"), Rule::within("0.1", "1"),
                concat!("Discharge coefficient of the ", $part, "'s foul_area for air; choked air has its own.")),
            f(concat!($group, ".drag_coefficient"), Quantity(Number), Rule::within("0", "5"),
                concat!("Coefficient of the flow's push on the open ", $part, ".")),
            f(concat!($group, ".spring_wire"), Quantity(Length), Rule::within("0.1 mm", "10 mm"),
                concat!("Wire diameter of the ", $part, "'s spring.")),
            f(concat!($group, ".spring_diameter"), Quantity(Length), A_BORE,
                concat!("Mean coil diameter of the ", $part, "'s spring; of its largest active coil when conical.")),
            f(concat!($group, ".spring_active_coils"), Quantity(Number), Rule::within("1", "40"),
                concat!("Active coils of the ", $part, "'s spring.")),
            f(concat!($group, ".spring_free_length"), Quantity(Length), Rule::within("1 mm", "500 mm"),
                concat!("Free length of the active coils of the ", $part, "'s spring.")),
            f(concat!($group, ".spring_installed_length"), Quantity(Length), Rule::within("0 mm", "500 mm"),
                concat!("Length of those coils with the ", $part, " sealed; used where the load is by-geometry.")),
            f(concat!($group, ".spring_shear_modulus"), Quantity(PressureDifference), Rule::within("10 GPa", "200 GPa"),
                concat!("Shear modulus of the wire of the ", $part, "'s spring.")),
            $($own),*
        ]
    };
}

macro_rules! zone {
    ($group:literal, $name:literal) => {
        &[
            f(
                concat!($group, ".volume"),
                Quantity(Volume),
                Rule::within("1 mL", "20 L"),
                concat!("Inner volume of ", $name, "."),
            ),
            f(
                concat!($group, ".compliance"),
                Quantity(Compliance),
                Rule::above("0 mL/psi", "100 mL/psi"),
                concat!("Yield of walls and rubber of ", $name, ", volume per pressure, without the water's own."),
            ),
            f(
                concat!($group, ".initial"),
                Initial,
                Rule::within("0 mL", "20 L"),
                concat!("Water in ", $name, " at the start: \"empty\", \"brimful\" or a volume."),
            ),
            f(
                concat!($group, ".initial_pressure"),
                Quantity(GaugePressure),
                Rule::within("-110 kPa", "3 MPa"),
                concat!("Gauge pressure in ", $name, " at the start."),
            ),
            f(
                concat!($group, ".residual_air"),
                Quantity(Number),
                Rule::between("0", "0.5"),
                concat!("Air left in ", $name, " when brimful, as a share of its volume at atmospheric pressure."),
            ),
        ]
    };
}

macro_rules! cock {
    ($group:literal, $name:literal) => {
        &[
            f(
                concat!($group, ".place"),
                Choice(&["body", "shutoff-inner", "shutoff-outer", "none"]),
                Any,
                concat!(
                    "Where test cock ",
                    $name,
                    " is tapped: body, inner or outer side of the shutoff's ball, or none."
                ),
            ),
            f(
                concat!($group, ".area"),
                Quantity(Area),
                AN_AREA,
                concat!("Flow area of test cock ", $name, " wide open."),
            ),
            f(
                concat!($group, ".type"),
                Choice(&["quarter-turn", "needle"]),
                Any,
                concat!("Kind of test cock ", $name, "; a needle passes nothing for its first half turn."),
            ),
            f(
                concat!($group, ".turns"),
                Quantity(Number),
                Rule::within("0", "20"),
                concat!(
                    "Turns of test cock ",
                    $name,
                    "'s handle from shut: open at 0.25 (quarter-turn) or 2 (needle)."
                ),
            ),
        ]
    };
}

const BODY: &[Field] = &[
    f("size", Size, Any, "Nominal size; picks the built-in values that are listed by size."),
    f("mounting", Choice(&["upright", "inverted", "horizontal"]), Any, "Which way gravity acts on the poppets."),
    f(
        "ambient.pressure_absolute",
        Quantity(AbsolutePressure),
        Rule::within("50 kPa abs", "110 kPa abs"),
        "Absolute pressure of the atmosphere at the site.",
    ),
    f("water.temperature", Quantity(Temperature), Rule::within("0 degC", "40 degC"), "Temperature of the water."),
];

const SUPPLY: &[Field] = &[
    f(
        "supply.pressure",
        Quantity(GaugePressure),
        Rule::within("-110 kPa", "3 MPa"),
        "Static gauge pressure of the main.",
    ),
    f(
        "supply.flow_limit",
        QuantityOr(VolumeFlow, "none"),
        Rule::above("0 gpm", "2000 gpm"),
        "Most flow the main can give, or \"none\".",
    ),
    f(
        "supply.trace",
        Path,
        Any,
        "CSV of the main's gauge pressure against time; replaces supply.pressure while it lasts.",
    ),
    f("supply.trace_at", Choice(&["shutoff1", "main"]), Any, "Where the trace was taken: at shutoff 1 or at the main."),
    f(
        "supply.elevation",
        Quantity(Length),
        Rule::within("-200 m", "200 m"),
        "Height of the main above the assembly; negative when the main lies below.",
    ),
    f(
        "supply.line_length",
        Quantity(Length),
        Rule::within("0.5 m", "1000 m"),
        "Length of pipe from the main to shutoff 1.",
    ),
    f("supply.line_bore", Quantity(Length), A_BORE, "Inner diameter of that pipe."),
    f("supply.line_roughness", Quantity(Length), Rule::within("0 mm", "5 mm"), "Wall roughness of that pipe."),
    f(
        "supply.line_wave_speed",
        Quantity(Velocity),
        Rule::within("50 m/s", "1500 m/s"),
        "Speed of pressure waves in that pipe, full of water.",
    ),
    f(
        "supply.line_cells",
        Quantity(Count),
        Rule::within("1", "64"),
        "Pieces the pipe is divided into for the calculation.",
    ),
    f(
        "supply.course",
        Quantity(Time),
        Rule::above("0 s", "600 s"),
        "Time in which a failing supply falls from supply.pressure (siphon).",
    ),
    f(
        "supply.failed_pressure",
        Quantity(GaugePressure),
        Rule::within("-110 kPa", "3 MPa"),
        "Pressure to which a failing supply falls; of the vessel in the vacuum test (siphon).",
    ),
];

const SHUTOFFS: &[Field] = &[
    f(
        "shutoff1.opening_time",
        Quantity(Time),
        Rule::within("0.01 s", "600 s"),
        "Time shutoff 1 takes from shut to open.",
    ),
    f("shutoff1.bore", Quantity(Length), A_BORE, "Bore of shutoff 1."),
    f("shutoff1.leak_area", Quantity(Area), AN_AREA, "Leak area of shutoff 1 when shut."),
    f(
        "shutoff1.leak_flow",
        QuantityOr(VolumeFlow, "none"),
        Rule::within("0 gpm", "100 gpm"),
        "Flow that shutoff 1 lets through when shut, measured at shutoff1.leak_pressure; adds to its leak area.",
    ),
    f(
        "shutoff1.leak_pressure",
        Quantity(PressureDifference),
        Rule::within("1 psi", "3 MPa"),
        "Pressure across shutoff 1 at which its leak flow was measured.",
    ),
    f("shutoff2.bore", Quantity(Length), A_BORE, "Bore of shutoff 2."),
    f("shutoff2.open", Opening, A_SHARE, "How far shutoff 2 is open: true, false or 0 to 1."),
    f("shutoff2.leak_area", Quantity(Area), AN_AREA, "Leak area of shutoff 2 when shut."),
    f(
        "shutoff2.leak_flow",
        QuantityOr(VolumeFlow, "none"),
        Rule::within("0 gpm", "100 gpm"),
        "Flow that shutoff 2 lets through when shut, measured at shutoff2.leak_pressure; adds to its leak area.",
    ),
    f(
        "shutoff2.leak_pressure",
        Quantity(PressureDifference),
        Rule::within("1 psi", "3 MPa"),
        "Pressure across shutoff 2 at which its leak flow was measured.",
    ),
];

const LOAD_SIDE: &[Field] = &[
    f(
        "load_side.outlet_area",
        Quantity(Area),
        AN_AREA,
        "Flow area of what is open on the load side; 0 when all is shut.",
    ),
    f(
        "load_side.height",
        Quantity(Length),
        Rule::within("-100 m", "100 m"),
        "Height of the load-side outlet above the assembly; negative when it lies below.",
    ),
    f("load_side.volume", Quantity(Volume), Rule::within("1 mL", "10000 L"), "Volume of the load-side piping."),
    f(
        "load_side.initial",
        Initial,
        Rule::within("0 mL", "10000 L"),
        "Water in the load-side piping at the start: \"empty\", \"brimful\" or a volume.",
    ),
    f(
        "load_side.backpressure",
        QuantityOr(GaugePressure, "none"),
        Rule::within("0 kPa", "3 MPa"),
        "Pressure of water that stands beyond the outlet, of a pump or a tank (siphon, scene backpressure).",
    ),
    f(
        "load_side.tube_bore",
        QuantityOr(Length, "as-body"),
        A_BORE,
        "Bore of the tube in the pan of the vacuum test; \"as-body\": that of shutoff 2.",
    ),
    f("load_side.tube_dip", Quantity(Length), Rule::within("1 mm", "2 m"), "How deep that tube stands in the pan."),
    f(
        "load_side.tube_length",
        Quantity(Length),
        Rule::within("10 mm", "30 m"),
        "Height of the assembly above the pan's water in the vacuum test.",
    ),
    f(
        "load_side.tube_entry_loss",
        Quantity(Number),
        Rule::within("0", "20"),
        "Loss at that tube's mouth, in velocity heads.",
    ),
];

const CHECK: &[Field] = poppet!(
    "check",
    "check",
    "the seat area",
    [
        f("check.spring", Choice(&["straight", "conical"]), Any, "Form of the check's spring."),
        f(
            "check.spring_small_diameter",
            Quantity(Length),
            A_BORE,
            "Mean diameter of the smallest active coil of a conical check spring."
        ),
        f(
            "check.seat",
            Choice(&["insert", "integral"]),
            Any,
            "Whether the check's seat is an insert or part of the body; a fill is the same with both."
        ),
    ]
);

const AIR_INLET: &[Field] = poppet!(
    "air_inlet",
    "air inlet",
    "the area that closes it (vent seat, or diaphragm)",
    [
        f("air_inlet.loading", Choice(&["spring", "elastomer"]), Any, "What loads the air inlet open."),
        f(
            "air_inlet.closed_by",
            Choice(&["zone2", "diaphragm", "stem"]),
            Any,
            "What shuts the air inlet against its load."
        ),
        f(
            "air_inlet.lap",
            Quantity(Length),
            Rule::within("-100 mm", "100 mm"),
            "Stem travel between the sealing of the vent and the lifting of the check (stem only); zero or less overlaps."
        ),
        f(
            "air_inlet.diaphragm_diameter",
            Quantity(Length),
            A_BORE,
            "Effective diameter of the diaphragm; without effect unless one shuts the air inlet."
        ),
        f("air_inlet.zone1_share", Quantity(Number), A_SHARE, "Share of the diaphragm area that zone 1 acts on."),
        f("air_inlet.zone2_share", Quantity(Number), A_SHARE, "Share of the vent area that zone 2 acts on."),
        f(
            "air_inlet.chamber_passage_area",
            Quantity(Area),
            Rule::above("0 mm2", "100 cm2"),
            "Area of the water passage to the diaphragm's chamber."
        ),
        f(
            "air_inlet.diaphragm_area_change",
            Quantity(Number),
            Rule::within("-0.5", "0.5"),
            "Change of the diaphragm's effective area from sealed to the open stop, as a share; 0 for a rolling one."
        ),
        f(
            "air_inlet.diaphragm_tear_area",
            Quantity(Area),
            AN_AREA,
            "Area of a tear in the diaphragm; zone 1 loses water through it to the canopy."
        ),
        f("air_inlet.lip_hardness", Quantity(Number), Rule::within("20", "80"), "Hardness of the elastomer, Shore A."),
        f("air_inlet.lip_thickness", Quantity(Length), Rule::within("0.2 mm", "20 mm"), "Thickness of the outer lip."),
        f("air_inlet.lip_outer_diameter", Quantity(Length), A_BORE, "Diameter of the outer lip's rim."),
        f(
            "air_inlet.lip_root_diameter",
            Quantity(Length),
            A_BORE,
            "Diameter of the root about which the outer lip turns."
        ),
        f(
            "air_inlet.lip_angle",
            Quantity(Angle),
            Rule::within("5 deg", "80 deg"),
            "Angle between the unloaded outer lip and the plane of the seat."
        ),
        f(
            "air_inlet.lip_root_bending",
            Quantity(Number),
            A_SHARE,
            "How firmly the lip's root holds it in bending: 0 like a hinge, 1 like a clamp."
        ),
        f(
            "air_inlet.lip_preload",
            Quantity(Length),
            Rule::within("0 mm", "50 mm"),
            "How far the outer lip's rim is bent at the open stop."
        ),
        f(
            "air_inlet.lip_set",
            Quantity(Number),
            Rule::within("0", "0.9"),
            "Compression set: share of the lip's bending at the sealed position that it no longer springs back from."
        ),
        f(
            "air_inlet.lip_temperature",
            QuantityOr(Temperature, "as-water"),
            Rule::within("-40 degC", "90 degC"),
            "Temperature of the elastomer."
        ),
        f(
            "air_inlet.lip_loss_tangent",
            Quantity(Number),
            Rule::within("0", "0.5"),
            "Loss tangent of the elastomer: it pushes harder while it is bent than while it gives back."
        ),
        f(
            "air_inlet.lip_relaxing_share",
            Quantity(Number),
            Rule::within("0", "2"),
            "Force that relaxes within seconds when the lip is bent quickly, over the lasting force."
        ),
        f(
            "air_inlet.lip_relaxing_time",
            Quantity(Time),
            Rule::within("0.01 s", "100 s"),
            "Time constant of that force."
        ),
        f(
            "air_inlet.lip_slow_share",
            Quantity(Number),
            Rule::within("0", "2"),
            "Force that relaxes slowly, over the lasting force."
        ),
        f("air_inlet.lip_slow_time", Quantity(Time), Rule::within("1 s", "1000000 s"), "Time constant of that force."),
        f(
            "air_inlet.breathing_area",
            Quantity(Area),
            AN_AREA,
            "Area of the slot through which the pocket between the lips breathes."
        ),
        f(
            "air_inlet.pocket_area",
            Quantity(Area),
            AN_AREA,
            "Area of the pocket between the lips, seen along the travel."
        ),
        f(
            "air_inlet.pocket_volume",
            Quantity(Volume),
            Rule::above("0 mL", "1 L"),
            "Volume of the pocket between the lips when the air inlet is sealed."
        ),
        f(
            "air_inlet.pocket_compliance",
            Quantity(Compliance),
            Rule::above("0 mL/psi", "1 mL/psi"),
            "Yield of the lips round the pocket, volume per pressure."
        ),
        f(
            "air_inlet.pocket_initial",
            Choice(&["atmosphere-shut", "atmosphere-open"]),
            Any,
            "Where the air inlet stood when the pocket was last at atmosphere; matters when it does not breathe."
        ),
        f("air_inlet.pocket_water", Quantity(Volume), Rule::within("0 mL", "1 L"), "Water trapped in the pocket."),
        f(
            "air_inlet.spill_band",
            Quantity(Number),
            Rule::above("0", "1"),
            "Share of zone 2's volume below which the air pocket lets water into the vent."
        ),
    ]
);

const FITTINGS: &[Field] = &[
    f("bleed_screw.area", Quantity(Area), AN_AREA, "Flow area of the bleed screw fully out; 0 where none is fitted."),
    f("bleed_screw.opening", Quantity(Number), A_SHARE, "How far the bleed screw is open, 0 to 1."),
    f("canopy.fitted", Switch, Any, "Whether the canopy is on."),
    f("canopy.area", Quantity(Area), Rule::above("0 mm2", "1000 cm2"), "Free area under the canopy."),
];

const RELIEF: &[Field] = &[
    f("relief.place", Choice(&["none", "air-inlet-stem", "zone1", "zone2"]), Any, "Where a relief is fitted."),
    f("relief.kind", Choice(&["resealing", "one-shot"]), Any, "Whether the relief shuts again or stays open."),
    f(
        "relief.set_pressure",
        Quantity(GaugePressure),
        Rule::within("1 psi", "20 MPa"),
        "Pressure at which the relief opens.",
    ),
    f("relief.bore", Quantity(Length), Rule::within("0.05 mm", "50 mm"), "Diameter on which the relief seals."),
    f(
        "relief.reseat_ratio",
        Quantity(Number),
        Rule::within("0.3", "1"),
        "Pressure at which it shuts over set pressure.",
    ),
    f(
        "relief.full_lift_ratio",
        Quantity(Number),
        Rule::within("1.001", "3"),
        "Pressure at which it stands at its stop over set pressure.",
    ),
    f("relief.lift", Quantity(Length), Rule::within("0.05 mm", "20 mm"), "Travel of the relief to its stop."),
    f("relief.mass", Quantity(Mass), Rule::within("0.05 g", "1 kg"), "Moving mass of the relief."),
    f(
        "relief.damping",
        Quantity(Damping),
        Rule::within("0 N s/m", "1000 N s/m"),
        "Viscous drag of the relief's guide.",
    ),
    f(
        "relief.discharge_coefficient",
        Quantity(Number),
        Rule::within("0.1", "1"),
        "Discharge coefficient of the open relief.",
    ),
    f("relief.seat_leak_area", Quantity(Area), AN_AREA, "Leak area left when the relief sits on its seat."),
    f("relief.foul_area", Quantity(Area), AN_AREA, "Area held open by dirt when the relief should be shut."),
];

/// Ways out that should not be there.
const OUTSIDE_LEAK: &[Field] = &[
    f(
        "outside_leak.line_area",
        Quantity(Area),
        AN_AREA,
        "Area of a leak to the outside before shutoff 1's ball: its cracked body or stem.",
    ),
    f("outside_leak.zone1_area", Quantity(Area), AN_AREA, "Area of a leak from zone 1 to the outside: a split body."),
    f(
        "outside_leak.zone2_area",
        Quantity(Area),
        AN_AREA,
        "Area of a leak from zone 2 to the outside: round the bonnet, or a split bonnet.",
    ),
];

const RUN: &[Field] = &[
    f(
        "run.end_time",
        QuantityOr(Time, "auto"),
        Rule::above("0 s", "1000000 s"),
        "When the run ends; \"auto\": when all parts rest, at most 3 s after shutoff 1 is open.",
    ),
    f("run.tolerance", Quantity(Number), Rule::within("1e-9", "1e-2"), "Relative tolerance of the integration."),
    f(
        "run.method",
        Choice(&["rosenbrock", "dormand-prince"]),
        Any,
        "Method of integration; dormand-prince is an independent second opinion, hundreds of times slower.",
    ),
];

/// All groups, in the order in which files list them.
pub(super) static GROUPS: [&[Field]; 23] = [
    BODY,
    SUPPLY,
    SHUTOFFS,
    zone!("zone1", "zone 1"),
    CHECK,
    winter::CHECK,
    zone!("zone2", "zone 2"),
    AIR_INLET,
    LOAD_SIDE,
    winter::LOAD_SIDE,
    cock!("cock1", "1"),
    cock!("cock2", "2"),
    FITTINGS,
    RELIEF,
    winter::RELIEF_AND_ICE,
    winter::METAL,
    winter::NIGHT,
    OUTSIDE_LEAK,
    RUN,
    scenes::GAUGE,
    scenes::HAND,
    scenes::SIPHON,
    scenes::SURGE,
];
