//! `curves`: what an assembly's parts do at every travel and every flow, standing still.

use crate::assembly::Settings;
use crate::error::Error;
use crate::laws::spring::{ConicalSpring, HelicalSpring, StressFactor};
use crate::parts::Poppet;
use crate::rig::{Loss, Rig, Statics, SupplyNeeded};
use serde::Serialize;

/// Schema of the document.
pub const SCHEMA_CURVES: &str = "poppetry/curves/1";
/// Speed in the shutoff's bore that stands for the rated flow, m/s: 7.5 ft/s, the design speed of published pages; the
/// rating tables of the standards were not seen.
pub const RATED_SPEED: f64 = 2.286;
/// Largest loss at rated flow, Pa: 10 psi (common practice, no source seen).
pub const RATED_LOSS: f64 = 68_947.572_931_683_61;

const POINTS: usize = 101;

/// Which way a part moves.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Direction {
    /// Off its seat.
    Opening,
    /// Towards its seat.
    Closing,
}

/// One point of a load curve.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LoadPoint {
    /// "check", "air-inlet" or "relief".
    pub part: &'static str,
    /// From the sealed position, m.
    pub travel_m: f64,
    /// Static load with the part's weight, N: what shuts a check or relief, what opens an air inlet. Friction not counted.
    pub force_n: f64,
    /// Which branch.
    pub direction: Direction,
}

/// Capacity of the vent at one pressure.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct VentPoint {
    /// Zone 2 above (water out) or below (air in) atmosphere, Pa.
    pub dp_pa: f64,
    /// Water out, m3/s.
    pub water_m3_s: f64,
    /// Air in, m3/s at ambient conditions.
    pub air_m3_s: f64,
}

/// Capacity of the relief at one pressure.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ReliefPoint {
    /// Pressure in its zone, Pa gauge.
    pub zone_pa_gauge: f64,
    /// Water out, m3/s.
    pub q_m3_s: f64,
}

/// The loss at the rated flow of one nominal size.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SizeLoss {
    /// Nominal size.
    pub size: &'static str,
    /// Rated flow, m3/s: [`RATED_SPEED`] in the bore of shutoff 1.
    pub q_m3_s: f64,
    /// Loss, Pa.
    pub dp_pa: f64,
    /// Whether it is at most [`RATED_LOSS`].
    pub within_limit: bool,
}

/// A metal spring given by its dimensions.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SpringFacts {
    /// "check" or "air-inlet".
    pub part: &'static str,
    /// Rate before any coil lies down, N/m.
    pub rate_n_m: f64,
    /// Spring index of the coil that is stressed most.
    pub index: f64,
    /// Largest shear stress over the travel (Wahl), Pa.
    pub shear_stress_pa: f64,
    /// Deflection left from the most compressed position to solid, m.
    pub left_to_solid_m: f64,
    /// Travel at which the largest coil lies down, m; `None` for a straight spring or if it never does.
    pub first_coil_down_m: Option<f64>,
}

/// All of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Curves {
    /// Loads.
    pub load: Vec<LoadPoint>,
    /// Loss against flow.
    pub loss: Vec<Loss>,
    /// Capacity of the vent.
    pub vent: Vec<VentPoint>,
    /// Capacity of the relief; empty without one.
    pub relief: Vec<ReliefPoint>,
    /// Loss at the rated flow of each size that the settings allow.
    pub sizes: Vec<SizeLoss>,
    /// Springs given by their dimensions.
    pub springs: Vec<SpringFacts>,
    /// Least supply that shuts the air inlet.
    pub supply_needed: Option<SupplyNeeded>,
    /// Hand sums.
    pub statics: Statics,
    /// Lift of check, air inlet and relief (0 without), m.
    pub lifts: [f64; 3],
}

/// The rated flow of a rig, m3/s.
pub fn rated_flow(rig: &Rig) -> f64 {
    RATED_SPEED * rig.shutoff1.bore_area
}

fn load_of(part: &'static str, poppet: &Poppet, sign: f64, out: &mut Vec<LoadPoint>) {
    for direction in [Direction::Opening, Direction::Closing] {
        for i in 0..POINTS {
            let travel_m = poppet.lift * i as f64 / (POINTS - 1) as f64;
            let force_n = sign * poppet.static_force(travel_m, direction == Direction::Opening);
            out.push(LoadPoint { part, travel_m, force_n, direction });
        }
    }
}

/// The curves of an assembly.
///
/// # Errors
/// [`Error`] when the settings of this assembly do not go together; sizes that do not are left out.
pub fn curves(settings: &Settings, rig: &Rig) -> Result<Curves, Error> {
    let mut load = Vec::new();
    load_of("check", &rig.check, -1.0, &mut load);
    load_of("air-inlet", &rig.inlet.poppet, 1.0, &mut load);
    if let Some(relief) = &rig.relief {
        load_of("relief", &relief.poppet, -1.0, &mut load);
    }
    let supply = settings.optional_number("supply.pressure")?.unwrap_or(0.0).max(0.0);
    let rated = rated_flow(rig);
    let loss = (1..=60).map(|i| rig.steady_loss(1.5 * rated * f64::from(i) / 60.0, supply)).collect();
    let vent = (0..=60)
        .map(|i| {
            // To 25 inHg of vacuum, and as far above atmosphere.
            let dp = 84_659.7 * f64::from(i) / 60.0;
            let air_density = rig.fluid.ambient / rig.fluid.air_rt();
            VentPoint { dp_pa: dp, water_m3_s: rig.vent_water(dp), air_m3_s: rig.vent_air(dp) / air_density }
        })
        .collect();
    let mut relief = Vec::new();
    if let Some(opens) = rig.statics().relief_opens_pa_gauge {
        for i in 0..=80 {
            let zone_pa_gauge = opens * (0.7 + 0.9 * f64::from(i) / 80.0);
            if let Some(q_m3_s) = rig.relief_water(zone_pa_gauge) {
                relief.push(ReliefPoint { zone_pa_gauge, q_m3_s });
            }
        }
    }
    let sizes = crate::assembly::fields::SIZES.into_iter().filter_map(|size| {
        let rig = Rig::from_settings(&settings.with_text("size", size).ok()?).ok()?;
        let loss = rig.steady_loss(rated_flow(&rig), supply);
        Some(SizeLoss { size, q_m3_s: loss.q_m3_s, dp_pa: loss.dp_pa, within_limit: loss.dp_pa <= RATED_LOSS })
    });
    Ok(Curves {
        load,
        loss,
        vent,
        relief,
        sizes: sizes.collect(),
        springs: springs(settings, rig)?,
        supply_needed: rig.supply_needed(),
        statics: rig.statics(),
        lifts: [rig.check.lift, rig.inlet.poppet.lift, rig.relief.as_ref().map_or(0.0, |r| r.poppet.lift)],
    })
}

/// Springs whose rate follows from their dimensions.
fn springs(s: &Settings, rig: &Rig) -> Result<Vec<SpringFacts>, Error> {
    let mut all = Vec::new();
    for (part, group, poppet, way) in
        [("check", "check", &rig.check, 1.0), ("air-inlet", "air_inlet", &rig.inlet.poppet, -1.0)]
    {
        let conical = group == "check" && s.choice("check.spring")? == "conical";
        let by_geometry = s.optional_number(&format!("{group}.load_rate"))?.is_none();
        let elastomer = group == "air_inlet" && s.choice("air_inlet.loading")? == "elastomer";
        if elastomer || !(conical || by_geometry) || s.load_curve(&format!("{group}.load_curve")).is_some() {
            continue;
        }
        let get = |field: &str| s.number(&format!("{group}.{field}"));
        let (wire, coils, free, modulus) = (
            get("spring_wire")?,
            get("spring_active_coils")?,
            get("spring_free_length")?,
            get("spring_shear_modulus")?,
        );
        let large = get("spring_diameter")?;
        let straight = |diameter: f64| HelicalSpring {
            wire,
            mean_diameter: diameter,
            active_coils: coils,
            total_coils: coils,
            shear_modulus: modulus,
        };
        let own = |x: f64| (poppet.static_force(x, true) - poppet.weight).abs() / poppet.load_factor;
        let most = own(if way > 0.0 { poppet.lift } else { 0.0 });
        all.push(if conical {
            let cone = ConicalSpring {
                wire,
                small_diameter: s.number("check.spring_small_diameter")?,
                large_diameter: large,
                active_coils: coils,
                free_length: free,
                shear_modulus: modulus,
            };
            // The largest coil that is still free carries the largest moment.
            let worst = (0..=100)
                .map(|i| {
                    let force = own(poppet.lift * f64::from(i) / 100.0);
                    let cube = large.powi(3) * (cone.first_bottoming_load() / force).min(1.0);
                    let coil = straight(cube.cbrt());
                    (coil.shear_stress(force, StressFactor::Wahl), coil.index())
                })
                .fold((0.0, large / wire), |a, b| if b.0 > a.0 { b } else { a });
            let sealed = cone.deflection(own(0.0));
            let down = cone.first_bottoming_load() / cone.initial_rate() - sealed;
            SpringFacts {
                part,
                rate_n_m: cone.initial_rate(),
                index: worst.1,
                shear_stress_pa: worst.0,
                left_to_solid_m: cone.available_deflection() - sealed - poppet.lift,
                first_coil_down_m: (down > 0.0 && down < poppet.lift).then_some(down),
            }
        } else {
            let spring = straight(large);
            SpringFacts {
                part,
                rate_n_m: spring.rate(),
                index: spring.index(),
                shear_stress_pa: spring.shear_stress(most, StressFactor::Wahl),
                left_to_solid_m: free - spring.solid_height() - most / spring.rate(),
                first_coil_down_m: None,
            }
        });
    }
    Ok(all)
}

/// What `curves --json` prints.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CurvesDocument {
    schema: &'static str,
    assembly: String,
    inputs_sha256: String,
    load: Vec<LoadPoint>,
    loss: Vec<Loss>,
    vent: Vec<VentPoint>,
    relief: Vec<ReliefPoint>,
    sizes: Vec<SizeLoss>,
    springs: Vec<SpringFacts>,
    supply_needed: Option<SupplyNeeded>,
    statics: Statics,
    warnings: Vec<&'static str>,
    cautions: Vec<&'static str>,
}

impl CurvesDocument {
    /// The document of one assembly.
    pub fn new(
        found: Curves,
        assembly: String,
        inputs_sha256: String,
        warnings: Vec<&'static str>,
        cautions: Vec<&'static str>,
    ) -> Self {
        CurvesDocument {
            schema: SCHEMA_CURVES,
            assembly,
            inputs_sha256,
            load: found.load,
            loss: found.loss,
            vent: found.vent,
            relief: found.relief,
            sizes: found.sizes,
            springs: found.springs,
            supply_needed: found.supply_needed,
            statics: found.statics,
            warnings,
            cautions,
        }
    }
}
