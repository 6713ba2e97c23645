//! From resolved settings to the load of a part: stated, measured, or from the dimensions of its spring or lip.

use super::Rig;
use super::build::disc;
use crate::assembly::{LoadCurve, Settings, conflict, given};
use crate::error::Error;
use crate::laws::constants::STANDARD_GRAVITY;
use crate::laws::curve::{BranchedCurve, CurveProblem, MonotoneCurve};
use crate::laws::lip::{ElastomerLip, Root};
use crate::laws::lip_load::LipLoad;
use crate::laws::rubber::{Compound, HardnessLaw};
use crate::laws::spring::{ConicalSpring, HelicalSpring};
use crate::parts::Load;
use crate::units::{Kind, System, format};
use std::cell::RefCell;

/// Points at which a law is tabulated over a part's travel.
const POINTS: usize = 65;

/// A curve that the tables' reader has already checked; what remains is named as a conflict with the field.
pub(super) fn curve(settings: &Settings, path: &str, x: &[f64], y: &[f64]) -> Result<MonotoneCurve, Error> {
    MonotoneCurve::new(x, y).map_err(|problem: CurveProblem| conflict(settings, "curve", &[path], problem.to_string()))
}

/// Nothing that is bent gives back more than it took: the load of a check is at least as large opening as closing, that
/// of an air inlet, which it opens, at most. A hundredth of the largest load is left to the measurement.
fn resists(s: &Settings, path: &str, load_sign: f64, pair: &BranchedCurve) -> Result<(), Error> {
    let largest = pair.opening().knots().chain(pair.closing().knots()).fold(0.0, |m: f64, (_, f)| m.max(f.abs()));
    let given = |x: f64| 2.0 * pair.half_width(x) * load_sign;
    let knots = pair.opening().knots().chain(pair.closing().knots());
    match knots.map(|(x, _)| x).find(|&x| given(x) > 0.01 * largest) {
        None => Ok(()),
        Some(x) => {
            let (more, less) = if load_sign < 0.0 { ("closing", "opening") } else { ("opening", "closing") };
            let rule = format!(
                "at {:.3} mm the load is larger {more} than {less}: the part would gain energy at every stroke. Are the two \
                 directions exchanged?",
                1e3 * x
            );
            Err(conflict(s, "load-loop", &[path], rule))
        }
    }
}

/// The load of `group` ("check", "air_inlet"), whose sign along opening is `load_sign`, stated on `area` m2; `weight` N of
/// the part belongs to it.
pub(super) fn load(s: &Settings, group: &str, load_sign: f64, area: f64, weight: f64) -> Result<Load, Error> {
    let path = format!("{group}.load_curve");
    if let Some(LoadCurve { opening, closing }) = s.load_curve(&path) {
        let opening = curve(s, &path, &opening.travel_m, &opening.force_n)?;
        return Ok(Load::Measured(match closing {
            Some(c) => {
                let pair = BranchedCurve::new(opening, curve(s, &path, &c.travel_m, &c.force_n)?);
                resists(s, &path, load_sign, &pair)?;
                pair
            }
            None => BranchedCurve::single(opening),
        }));
    }
    let stated = s.optional_number(&format!("{group}.load"))?.map(|p| p * area);
    if group == "air_inlet" && s.choice("air_inlet.loading")? == "elastomer" {
        return lip(s, stated, weight);
    }
    let conical = group == "check" && s.choice("check.spring")? == "conical";
    let rate = s.optional_number(&format!("{group}.load_rate"))?;
    match (stated, rate) {
        (Some(sealed), Some(rate)) if !conical => Ok(Load::Linear { sealed, rate: -load_sign * rate }),
        _ => spring(s, group, conical, -load_sign, stated, weight),
    }
}

/// The load of `group` ("check", "air_inlet") as new at the sealed position, and the part's weight in it, Pa on the area on
/// which the field states it.
///
/// # Errors
/// [`Error`] naming the field when values do not go together.
pub fn stated_load(settings: &Settings, group: &str) -> Result<[f64; 2], Error> {
    let rig = Rig::from_settings(settings)?;
    let (poppet, area) = match group {
        "check" => (&rig.check, disc(settings.number("check.seat_diameter")?)),
        _ => (&rig.inlet.poppet, rig.inlet.stated_area),
    };
    Ok([poppet.load.branches(0.0).0, poppet.mass * STANDARD_GRAVITY].map(|force| force / area))
}

/// What else decides whether a spring fits: its form, and what makes its rate and its load.
const DECIDES_SPRING: [&str; 10] = [
    "loading",
    "spring",
    "load",
    "load_rate",
    "seat_diameter",
    "spring_wire",
    "spring_diameter",
    "spring_small_diameter",
    "spring_active_coils",
    "spring_shear_modulus",
];

/// A spring by its dimensions. `way` is +1 where opening compresses it; `stated` is the force at the sealed position with
/// the part's weight, N, or the installed length decides.
fn spring(s: &Settings, group: &str, conical: bool, way: f64, stated: Option<f64>, weight: f64) -> Result<Load, Error> {
    let field = |name: &str| format!("{group}.{name}");
    let get = |name: &str| s.number(&field(name));
    let (wire, coils, free) = (get("spring_wire")?, get("spring_active_coils")?, get("spring_free_length")?);
    let (diameter, modulus, lift) = (get("spring_diameter")?, get("spring_shear_modulus")?, get("lift")?);
    let refuse = |name, fields: &[&str], rule: String| {
        let breaking: Vec<String> = fields.iter().map(|f| field(f)).collect();
        let deciding: Vec<String> = DECIDES_SPRING.iter().filter(|f| !fields.contains(f)).map(|f| field(f)).collect();
        let mut paths = given(s, &["size"]);
        paths.extend(given(s, &deciding.iter().map(String::as_str).collect::<Vec<_>>()));
        paths.extend(breaking.iter().map(String::as_str));
        conflict(s, name, &paths, rule)
    };
    let show = |m: f64| format(Kind::Length, m, System::Us);
    let straight = HelicalSpring {
        wire,
        mean_diameter: diameter,
        active_coils: coils,
        total_coils: coils,
        shear_modulus: modulus,
    };
    let cone = match conical {
        false => None,
        true => {
            let small_diameter = s.number("check.spring_small_diameter")?;
            if !(small_diameter < diameter) {
                let rule = "the smallest coil of a conical spring must be smaller than the largest".to_owned();
                return Err(refuse("coils-taper", &["spring_small_diameter", "spring_diameter"], rule));
            }
            Some(ConicalSpring {
                wire,
                small_diameter,
                large_diameter: diameter,
                active_coils: coils,
                free_length: free,
                shear_modulus: modulus,
            })
        }
    };
    let (solid, smallest) = match &cone {
        Some(c) => (c.solid_length(), c.small_diameter),
        None => (straight.solid_height(), diameter),
    };
    if !(smallest > 2.0 * wire) {
        let rule = "coils must be wider than twice their wire".to_owned();
        return Err(refuse("coils-fit", &["spring_wire", "spring_diameter"], rule));
    }
    let available = free - solid;
    // Force at a deflection, and the deflection at a force.
    let force = |d: f64| cone.as_ref().map_or(straight.rate() * d, |c| c.load(d));
    let sealed = match stated {
        Some(total) if total < weight => {
            let rule = "the load includes the part's weight and cannot be less than it".to_owned();
            return Err(refuse("load-carries-weight", &["load", "mass"], rule));
        }
        Some(total) => match &cone {
            Some(c) if total - weight >= c.full_bottoming_load() => f64::INFINITY,
            Some(c) => c.deflection(total - weight),
            None => (total - weight) / straight.rate(),
        },
        None => free - get("spring_installed_length")?,
    };
    let most = if way > 0.0 { sealed + lift } else { sealed };
    if !(most < available && sealed >= 0.0) {
        let rule = format!(
            "the coils do not fit: compressed by up to {}, but there are only {} from free to solid",
            show(most),
            show(available.max(0.0))
        );
        let fields: &[&str] = match stated {
            Some(_) => &["load", "spring_free_length", "lift"],
            None => &["spring_installed_length", "spring_free_length", "lift"],
        };
        return Err(refuse("coils-fit", fields, rule));
    }
    let Some(c) = &cone else {
        return Ok(Load::Linear { sealed: force(sealed) + weight, rate: way * straight.rate() });
    };
    // Travel from the deepest seat wear to the stop, with the kink where the largest coil lies down among the points.
    let wear = get("seat_wear")?;
    let kink = c.first_bottoming_load() / c.initial_rate();
    let mut deflections: Vec<f64> =
        (0..POINTS).map(|i| sealed - wear + (lift + wear) * i as f64 / (POINTS - 1) as f64).collect();
    if deflections[0] < kink && kink < deflections[POINTS - 1] && !deflections.contains(&kink) {
        deflections.push(kink);
        deflections.sort_by(f64::total_cmp);
    }
    let travel: Vec<f64> = deflections.iter().map(|d| d - sealed).collect();
    let forces: Vec<f64> = deflections.iter().map(|&d| force(d.max(0.0)) + weight).collect();
    Ok(Load::Measured(BranchedCurve::single(curve(s, &field("spring_free_length"), &travel, &forces)?)))
}

/// What else decides how far a lip rolls.
const DECIDES_LIP: [&str; 7] = [
    "size",
    "air_inlet.loading",
    "air_inlet.lift",
    "air_inlet.seat_wear",
    "air_inlet.lip_root_diameter",
    "air_inlet.lip_angle",
    "air_inlet.lip_set",
];

/// An elastomer lip by its dimensions; a `stated` load, N, scales its curve to that at the sealed position. A worn seat lets
/// the lip roll further; with a stem it slides on beyond the seal, its force unchanged.
fn lip(s: &Settings, stated: Option<f64>, weight: f64) -> Result<Load, Error> {
    let law = lip_law(s)?;
    let wear = s.number("air_inlet.seat_wear")?;
    let mut paths = given(s, &DECIDES_LIP);
    paths.extend(["air_inlet.lip_thickness", "air_inlet.lip_outer_diameter", "air_inlet.lip_preload"]);
    law.lip.check(law.lift + law.preload + wear).map_err(|p| conflict(s, "lip-rolls", &paths, p.to_string()))?;
    let at_sealed = law.branches(0.0).0;
    if !(at_sealed > 0.0) {
        return Err(conflict(
            s,
            "lip-rolls",
            &paths,
            "the outer lip does not push the air inlet open when sealed".into(),
        ));
    }
    let scale = stated.map_or(1.0, |total| (total - weight).max(0.0) / at_sealed);
    let table = table(law, wear).map_err(|p| conflict(s, "curve", &paths, p.to_string()))?;
    let branch = |curve: &MonotoneCurve| {
        let (x, y): (Vec<f64>, Vec<f64>) = curve.knots().map(|(x, y)| (x, y.max(0.0) * scale + weight)).unzip();
        self::curve(s, "air_inlet.lip_outer_diameter", &x, &y)
    };
    Ok(Load::Measured(BranchedCurve::new(branch(table.opening())?, branch(table.closing())?)))
}

thread_local! {
    /// The last lip that was tabulated, the wear allowed for, and its table: the runs of a study that vary the load share it.
    static LAST: RefCell<Option<(LipLoad, f64, BranchedCurve)>> = const { RefCell::new(None) };
}

/// The lip's table, a tenth of a millisecond's work if it is not the last one's.
fn table(law: LipLoad, wear: f64) -> Result<BranchedCurve, CurveProblem> {
    LAST.with_borrow_mut(|last| {
        if let Some((lip, worn, table)) = last
            && *lip == law
            && *worn == wear
        {
            return Ok(table.clone());
        }
        let table = law.tabulate(wear, POINTS)?;
        *last = Some((law, wear, table.clone()));
        Ok(table)
    })
}

/// The lip of the settings at the temperature of the run.
///
/// # Errors
/// [`Error`] naming the fields that do not go together.
pub fn lip_law(s: &Settings) -> Result<LipLoad, Error> {
    let get = |name: &str| s.number(&format!("air_inlet.{name}"));
    let (outer, root, thickness) = (get("lip_outer_diameter")?, get("lip_root_diameter")?, get("lip_thickness")?);
    if !(root < outer) {
        let rule = "the outer lip's root must lie inside its rim".to_owned();
        return Err(conflict(s, "lip-fits", &["air_inlet.lip_root_diameter", "air_inlet.lip_outer_diameter"], rule));
    }
    let gap = 0.5 * (outer - root);
    if !(thickness < gap) {
        let rule = format!(
            "the lip is thicker than its gap: from root to rim there are only {}",
            format(Kind::Length, gap, System::Us)
        );
        let paths = ["air_inlet.lip_root_diameter", "air_inlet.lip_outer_diameter", "air_inlet.lip_thickness"];
        return Err(conflict(s, "lip-fits", &paths, rule));
    }
    let temperature = match s.optional_number("air_inlet.lip_temperature")? {
        Some(kelvin) => kelvin,
        None => s.number("water.temperature")?,
    };
    let lift = get("lift")?;
    let preload = get("lip_preload")?;
    Ok(LipLoad {
        lip: ElastomerLip {
            outer_diameter: outer,
            root_diameter: root,
            thickness,
            lip_angle: get("lip_angle")?,
            youngs_modulus: HardnessLaw::Gent.youngs_modulus(get("lip_hardness")?),
            poisson: 0.5,
            root: Root::Floating,
            root_bending: get("lip_root_bending")?,
        },
        lift,
        // What has set is gone from the roll, at both ends alike.
        preload: preload - get("lip_set")? * (lift + preload),
        loss_tangent: get("lip_loss_tangent")?,
        factor: Compound::default().temperature_factor(temperature, REFERENCE_TEMPERATURE),
    })
}

/// Temperature at which hardness is stated, K: 23 degC, the standard laboratory of ISO 23529.
pub const REFERENCE_TEMPERATURE: f64 = 296.15;
