//! From resolved settings to a rig: the only place that knows which field becomes which number.

use super::{AirInlet, Feed, InitialWater, Line, MainPressure, Rig, Shutoff, Tap};
use crate::assembly::{Initial, LoadCurve, Settings};
use crate::error::Error;
use crate::laws::constants::STANDARD_GRAVITY;
use crate::laws::curve::{BranchedCurve, CurveProblem, MonotoneCurve};
use crate::numerics::{Method, Options};
use crate::parts::{Fluid, Load, Opening, Poppet, WEAR_WIDENING, Zone};
use crate::rig::flows::SHARP_EDGE;

/// How long a run goes on at most after shutoff 1 is open, s, unless the file says otherwise.
pub const LONGEST_AFTER_OPENING: f64 = 3.0;

fn disc(diameter: f64) -> f64 {
    std::f64::consts::FRAC_PI_4 * diameter * diameter
}

/// A curve that the tables' reader has already checked; what remains is named as a conflict with the field.
fn curve(settings: &Settings, path: &str, x: &[f64], y: &[f64]) -> Result<MonotoneCurve, Error> {
    MonotoneCurve::new(x, y).map_err(|problem: CurveProblem| Error::Conflict {
        at: settings.get(path).map_or_else(crate::error::At::default_value, |s| s.at.clone()),
        name: "curve",
        fields: vec![path.to_owned()],
        rule: problem.to_string(),
    })
}

/// Constructions that files may name and this version does not compute: (field, value, what it does compute).
const NOT_COMPUTED: [(&str, &str, &str); 5] = [
    ("air_inlet.loading", "elastomer", "\"spring\": this version does not compute an elastomer load yet"),
    ("air_inlet.closed_by", "stem", "\"zone2\" or \"diaphragm\": this version does not compute a stem yet"),
    ("check.spring", "conical", "\"straight\": this version does not compute a conical spring yet"),
    (
        "cock1.place",
        "shutoff-outer",
        "\"body\", \"shutoff-inner\" or \"none\": a cock outside the ball is not computed yet",
    ),
    (
        "cock2.place",
        "shutoff-outer",
        "\"body\", \"shutoff-inner\" or \"none\": a cock outside the ball is not computed yet",
    ),
];

/// Refuses what would otherwise be computed as something else.
fn refuse_what_is_not_computed(settings: &Settings) -> Result<(), Error> {
    for (field, value, rule) in NOT_COMPUTED {
        if settings.choice(field)? == value {
            return Err(Error::OutOfRange {
                at: settings.get(field).map_or_else(crate::error::At::default_value, |s| s.at.clone()),
                field: field.to_owned(),
                value_text: value.to_owned(),
                rule: rule.to_owned(),
            });
        }
    }
    Ok(())
}

struct Reader<'a>(&'a Settings);

impl Reader<'_> {
    fn get(&self, group: &str, field: &str) -> Result<f64, Error> {
        self.0.number(&format!("{group}.{field}"))
    }

    fn load(&self, group: &str, stated_area: f64, rate_sign: f64) -> Result<Load, Error> {
        let path = format!("{group}.load_curve");
        if let Some(LoadCurve { opening, closing }) = self.0.load_curve(&path) {
            let opening = curve(self.0, &path, &opening.travel_m, &opening.force_n)?;
            return Ok(Load::Measured(match closing {
                Some(c) => BranchedCurve::new(opening, curve(self.0, &path, &c.travel_m, &c.force_n)?),
                None => BranchedCurve::single(opening),
            }));
        }
        Ok(Load::Linear {
            sealed: self.get(group, "load")? * stated_area,
            rate: rate_sign * self.get(group, "load_rate")?,
        })
    }

    /// `stated_area`: the area to which load, friction and adhesion refer, m2, or the seat as new if `None`.
    fn poppet(&self, group: &str, load_sign: f64, stated_area: Option<f64>) -> Result<Poppet, Error> {
        let seat = self.get(group, "seat_diameter")?;
        let wear = self.get(group, "seat_wear")?;
        let area = stated_area.unwrap_or(disc(seat));
        let mass = self.get(group, "mass")?;
        // Upright, the check's weight shuts it and the air inlet's opens it: in the direction of the load.
        let upright = load_sign * mass * STANDARD_GRAVITY;
        let weight = match self.0.choice("mounting")? {
            "upright" => upright,
            "inverted" => -upright,
            _ => 0.0,
        };
        Ok(Poppet {
            seat_diameter: seat + 2.0 * WEAR_WIDENING * wear,
            port_area: disc(self.get(group, "port_diameter")?),
            lift: self.get(group, "lift")? + wear,
            mass,
            load: self.load(group, area, -load_sign)?,
            load_sign,
            load_factor: self.get(group, "load_factor")?,
            weight,
            weight_upright: upright,
            wear,
            friction: self.get(group, "friction")? * area,
            adhesion: self.get(group, "adhesion")? * area,
            damping: self.get(group, "damping")?,
            discharge_coefficient: self.get(group, "discharge_coefficient")?,
            drag_coefficient: self.get(group, "drag_coefficient")?,
            leak_area: self.get(group, "seat_leak_area")?,
            foul_area: self.get(group, "foul_area")?,
        })
    }

    fn zone(&self, group: &str) -> Result<(Zone, InitialWater, f64), Error> {
        let zone = Zone { volume: self.get(group, "volume")?, compliance: self.get(group, "compliance")? };
        let initial = match self.0.initial(&format!("{group}.initial"))? {
            Initial::Empty => InitialWater::Empty,
            Initial::Brimful => InitialWater::Brimful { residual_air: self.get(group, "residual_air")? },
            Initial::Volume(v) => InitialWater::Volume(v),
        };
        Ok((zone, initial, self.get(group, "initial_pressure")?))
    }

    fn line(&self, fluid: &Fluid) -> Result<Line, Error> {
        let s = self.0;
        let pressure = match s.supply_trace() {
            Some(t) => MainPressure::Recorded(curve(s, "supply.trace", &t.time_s, &t.pressure_pa_gauge)?),
            None => MainPressure::Steady(s.number("supply.pressure")?),
        };
        let mut line = Line {
            pressure,
            flow_limit: s.optional_number("supply.flow_limit")?,
            elevation: s.number("supply.elevation")?,
            length: s.number("supply.line_length")?,
            bore: s.number("supply.line_bore")?,
            roughness: s.number("supply.line_roughness")?,
            wave_speed: s.number("supply.line_wave_speed")?,
            cells: s.number("supply.line_cells")? as usize,
            wall_compliance: 0.0,
        };
        line.wall_compliance = line.walls(fluid);
        if !(line.wall_compliance >= 0.0) {
            let fastest = 1.0 / (fluid.density * fluid.compressibility).sqrt();
            let setting = s.get("supply.line_wave_speed");
            return Err(Error::OutOfRange {
                at: setting.map_or_else(crate::error::At::default_value, |v| v.at.clone()),
                field: "supply.line_wave_speed".into(),
                value_text: format!("{} m/s", line.wave_speed),
                rule: format!("at most {fastest:.0} m/s, the speed of sound in the water itself (rigid walls)"),
            });
        }
        Ok(line)
    }

    fn taps(&self) -> Result<Vec<Tap>, Error> {
        let s = self.0;
        let mut taps = Vec::new();
        for (group, zone, fitted) in [
            ("cock1", 1, s.choice("cock1.place")? != "none"),
            ("cock2", 2, s.choice("cock2.place")? != "none"),
            ("bleed_screw", 2, s.number("bleed_screw.area")? > 0.0),
        ] {
            let opening = self.get(group, "opening")?;
            if fitted && opening > 0.0 {
                taps.push(Tap { zone, area: self.get(group, "area")?, opening: Opening::fixed(opening) });
            }
        }
        Ok(taps)
    }
}

impl Rig {
    /// Builds the rig for turning the water on: shutoff 1 opens from t = 0 in `shutoff1.opening_time`.
    ///
    /// # Errors
    /// [`Error`] naming the field when values do not go together.
    pub fn from_settings(settings: &Settings) -> Result<Rig, Error> {
        let s = settings;
        refuse_what_is_not_computed(s)?;
        let read = Reader(s);
        let fluid = Fluid::new(s.number("water.temperature")?, s.number("ambient.pressure_absolute")?);
        let feed = match (s.supply_trace(), s.choice("supply.trace_at")?) {
            (Some(t), "shutoff1") => Feed::Recorded(curve(s, "supply.trace", &t.time_s, &t.pressure_pa_gauge)?),
            _ => Feed::Line(read.line(&fluid)?),
        };
        let opening_time = s.number("shutoff1.opening_time")?;
        let check = read.poppet("check", -1.0, None)?;
        let by_diaphragm = s.choice("air_inlet.closed_by")? == "diaphragm";
        let diaphragm = disc(s.number("air_inlet.diaphragm_diameter")?);
        let stated = by_diaphragm.then_some(diaphragm);
        let poppet = read.poppet("air_inlet", 1.0, stated)?;
        let vent = disc(s.number("air_inlet.seat_diameter")?);
        let inlet = AirInlet {
            zone1_area: s.number("air_inlet.zone1_share")? * diaphragm,
            zone2_area: s.number("air_inlet.zone2_share")? * poppet.seat_area(),
            stated_area: stated.unwrap_or(vent),
            chamber_passage: s.number("air_inlet.chamber_passage_area")?,
            canopy_area: s.switch("canopy.fitted")?.then_some(s.number("canopy.area")?),
            spill_band: s.number("air_inlet.spill_band")?,
            poppet,
        };
        let (zone1, initial1, p1) = read.zone("zone1")?;
        let (zone2, initial2, p2) = read.zone("zone2")?;
        let zone3 = Zone { volume: s.number("load_side.volume")?, compliance: zone2.compliance };
        let initial3 = match s.initial("load_side.initial")? {
            Initial::Empty => InitialWater::Empty,
            Initial::Brimful => InitialWater::Brimful { residual_air: s.number("zone2.residual_air")? },
            Initial::Volume(v) => InitialWater::Volume(v),
        };
        let (end_time, stop_at_rest) = match s.optional_number("run.end_time")? {
            Some(end) => (end, false),
            None => (opening_time + LONGEST_AFTER_OPENING, true),
        };
        Ok(Rig {
            fluid,
            feed,
            shutoff1: Shutoff {
                bore_area: disc(s.number("shutoff1.bore")?),
                leak_area: s.number("shutoff1.leak_area")?,
                opening: Opening::turn(0.0, 1.0, 0.0, opening_time),
            },
            shutoff2: Shutoff {
                bore_area: disc(s.number("shutoff2.bore")?),
                leak_area: s.number("shutoff2.leak_area")?,
                opening: Opening::fixed(s.number("shutoff2.open")?),
            },
            zones: [zone1, zone2, zone3],
            initial: [initial1, initial2, initial3],
            initial_pressure: [p1, p2, 0.0],
            check,
            inlet,
            outlet: (SHARP_EDGE * s.number("load_side.outlet_area")?, s.number("load_side.height")?),
            taps: read.taps()?,
            end_time,
            stop_at_rest,
            stop_at_check_closed: false,
        })
    }
}

/// Loosest tolerance for the explicit method: at 1e-4 it was seen to lose 21 mL of a spill, at
/// 1e-6 it agrees to 0.1 % (`tests/sequence.rs`).
pub const LOOSEST_EXPLICIT: f64 = 1e-6;

/// Solver options from the settings' `run` fields.
///
/// # Errors
/// [`Error`] if a field is missing.
pub fn options(settings: &Settings) -> Result<Options, Error> {
    let method = match settings.choice("run.method")? {
        "dormand-prince" => Method::DormandPrince,
        _ => Method::Rosenbrock,
    };
    let tolerance = settings.number("run.tolerance")?;
    let plain = Options { tolerance, method, ..Options::default() };
    Ok(match method {
        Method::Rosenbrock => plain,
        // Explicit steps are held by stability; at a loose tolerance they drift off the stiff pockets of air unnoticed.
        Method::DormandPrince => Options { tolerance: tolerance.min(LOOSEST_EXPLICIT), max_steps: 20_000_000, ..plain },
    })
}
