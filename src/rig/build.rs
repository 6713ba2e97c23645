//! From resolved settings to a rig: the only place that knows which field becomes which number.

use super::build_load::{curve, load};
use super::{AirInlet, Feed, InitialWater, Line, MainPressure, Rig, Shutoff, Stem, Tap};
use crate::assembly::{Initial, Settings, conflict, given};
use crate::error::Error;
use crate::laws::constants::STANDARD_GRAVITY;
use crate::laws::pipe::Friction;
use crate::numerics::{Method, Options};
use crate::parts::{
    CockKind, Fluid, Load, Opening, Pocket, Poppet, Relaxation, Relief, ReliefPlace, WEAR_WIDENING, Zone,
};
use crate::rig::flows::SHARP_EDGE;

/// How long a run goes on at most after shutoff 1 is open, s, unless the file says otherwise.
pub const LONGEST_AFTER_OPENING: f64 = 3.0;

pub(super) fn disc(diameter: f64) -> f64 {
    std::f64::consts::FRAC_PI_4 * diameter * diameter
}

struct Reader<'a>(&'a Settings);

impl Reader<'_> {
    fn get(&self, group: &str, field: &str) -> Result<f64, Error> {
        self.0.number(&format!("{group}.{field}"))
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
            load: load(self.0, group, load_sign, area, mass * STANDARD_GRAVITY)?,
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
            foul_coefficient: self.foul_coefficient(group)?,
            air_ratio: self.air_ratio(group)?,
        })
    }

    fn foul_coefficient(&self, group: &str) -> Result<f64, Error> {
        match self.0.optional_number(&format!("{group}.foul_coefficient"))? {
            Some(own) => Ok(own),
            None => self.get(group, "discharge_coefficient"),
        }
    }

    /// Discharge coefficient of air over that of water: sealed (foul and leak), open.
    fn air_ratio(&self, group: &str) -> Result<[f64; 2], Error> {
        let ratio = |air: &str, water: f64| -> Result<f64, Error> {
            Ok(self.0.optional_number(&format!("{group}.{air}"))?.map_or(1.0, |own| own / water))
        };
        let open = self.get(group, "discharge_coefficient")?;
        Ok([ratio("foul_air_coefficient", self.foul_coefficient(group)?)?, ratio("air_coefficient", open)?])
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
        let bore = s.number("supply.line_bore")?;
        let mut line = Line {
            pressure,
            flow_limit: s.optional_number("supply.flow_limit")?,
            elevation: s.number("supply.elevation")?,
            length: s.number("supply.line_length")?,
            bore,
            friction: Friction::new(bore, s.number("supply.line_roughness")?, fluid.density, fluid.viscosity),
            wave_speed: s.number("supply.line_wave_speed")?,
            cells: s.number("supply.line_cells")? as usize,
            wall_compliance: 0.0,
            drains: false,
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
        // A cock beyond the ball taps the line, or the load side.
        for (group, inner, outer) in [("cock1", 1, 0), ("cock2", 2, 3)] {
            let zone = match s.choice(&format!("{group}.place"))? {
                "none" => continue,
                "shutoff-outer" => outer,
                _ => inner,
            };
            let kind = match s.choice(&format!("{group}.type"))? {
                "needle" => CockKind::Needle,
                _ => CockKind::QuarterTurn,
            };
            let opening = kind.opening(self.get(group, "turns")?);
            if opening > 0.0 {
                taps.push(Tap { zone, area: self.get(group, "area")?, opening: Opening::fixed(opening) });
            }
        }
        let (area, opening) = (s.number("bleed_screw.area")?, s.number("bleed_screw.opening")?);
        if area > 0.0 && opening > 0.0 {
            taps.push(Tap { zone: 2, area, opening: Opening::fixed(opening) });
        }
        Ok(taps)
    }

    fn relief(&self) -> Result<Option<Relief>, Error> {
        let s = self.0;
        let place = match s.choice("relief.place")? {
            "zone1" => ReliefPlace::Zone1,
            "zone2" => ReliefPlace::Zone2,
            "air-inlet-stem" => ReliefPlace::AirInletStem,
            _ => return Ok(None),
        };
        let get = |field: &str| self.get("relief", field);
        let (bore, lift, set) = (get("bore")?, get("lift")?, get("set_pressure")?);
        let seat = disc(bore);
        let disc_area = seat / get("reseat_ratio")?;
        let poppet = Poppet {
            seat_diameter: bore,
            port_area: seat,
            lift,
            mass: get("mass")?,
            load: Load::Linear {
                sealed: set * seat,
                rate: set * (get("full_lift_ratio")? * disc_area - seat).max(0.0) / lift,
            },
            load_sign: -1.0,
            load_factor: 1.0,
            // Its gram is a thousandth of its load.
            weight: 0.0,
            weight_upright: 0.0,
            wear: 0.0,
            friction: 0.0,
            adhesion: 0.0,
            damping: get("damping")?,
            discharge_coefficient: get("discharge_coefficient")?,
            drag_coefficient: 0.0,
            leak_area: get("seat_leak_area")?,
            foul_area: get("foul_area")?,
            foul_coefficient: get("discharge_coefficient")?,
            air_ratio: [1.0; 2],
        };
        Ok(Some(Relief { poppet, place, one_shot: s.choice("relief.kind")? == "one-shot", disc_area }))
    }

    /// Leak area of a shutoff, m2: as stated, and what a measured flow comes to, `Q / (Cd sqrt(2 dp / rho))`.
    fn leak(&self, group: &str, fluid: &Fluid) -> Result<f64, Error> {
        let flow = self.0.optional_number(&format!("{group}.leak_flow"))?.unwrap_or(0.0);
        let speed = (2.0 * self.get(group, "leak_pressure")? / fluid.density).sqrt();
        Ok(self.get(group, "leak_area")? + flow / (SHARP_EDGE * speed))
    }

    /// Relaxation and pocket of an elastomer load.
    fn lip(&self) -> Result<Option<(Relaxation, Pocket)>, Error> {
        let s = self.0;
        if s.choice("air_inlet.loading")? != "elastomer" {
            return Ok(None);
        }
        let get = |field: &str| self.get("air_inlet", field);
        let relaxation = Relaxation {
            share: [get("lip_relaxing_share")?, get("lip_slow_share")?],
            rate: [1.0 / get("lip_relaxing_time")?, 1.0 / get("lip_slow_time")?],
        };
        let pocket = Pocket {
            zone: Zone { volume: get("pocket_volume")?, compliance: get("pocket_compliance")? },
            area: get("pocket_area")?,
            slot: SHARP_EDGE * get("breathing_area")?,
            at_atmosphere_shut: s.choice("air_inlet.pocket_initial")? == "atmosphere-shut",
            water: get("pocket_water")?,
        };
        Ok(Some((relaxation, pocket)))
    }
}

/// The volume of zone 2 counts with the check shut and the vent open; a disc that lifts into it takes its place there.
fn holds_parts(s: &Settings, check: &Poppet, inlet: &AirInlet, stem: Option<Stem>) -> Result<(), Error> {
    let taken = match stem {
        // The stem's stroke takes the check's disc along and sweeps the vent's out of the zone.
        Some(stem) => (inlet.poppet.lift + stem.lap + check.lift) * (check.seat_area() - inlet.zone2_area),
        None => check.lift * check.seat_area(),
    };
    if s.number("zone2.volume")? > taken {
        return Ok(());
    }
    let rule = format!(
        "zone 2 must be larger than what the check's disc takes of it on its way to the stop, {:.2} mL",
        1e6 * taken
    );
    let mut paths = given(s, &["size", "check.seat_wear", "air_inlet.lap", "air_inlet.lift"]);
    paths.extend(["check.lift", "check.seat_diameter", "zone2.volume"]);
    Err(conflict(s, "zone-holds-parts", &paths, rule))
}

impl Rig {
    /// Builds the rig for turning the water on: shutoff 1 opens from t = 0 in `shutoff1.opening_time`.
    ///
    /// # Errors
    /// [`Error`] naming the field when values do not go together.
    pub fn from_settings(settings: &Settings) -> Result<Rig, Error> {
        let s = settings;
        let read = Reader(s);
        let fluid = Fluid::new(s.number("water.temperature")?, s.number("ambient.pressure_absolute")?);
        let feed = match (s.supply_trace(), s.choice("supply.trace_at")?) {
            (Some(t), "shutoff1") => Feed::Recorded(curve(s, "supply.trace", &t.time_s, &t.pressure_pa_gauge)?),
            _ => Feed::Line(read.line(&fluid)?),
        };
        let opening_time = s.number("shutoff1.opening_time")?;
        let check = read.poppet("check", -1.0, None)?;
        let diaphragm = disc(s.number("air_inlet.diaphragm_diameter")?);
        let vent = disc(s.number("air_inlet.seat_diameter")?);
        let zone1_area = s.number("air_inlet.zone1_share")? * diaphragm;
        // The area on which the load is stated: what zone 1 or zone 2 closes it by.
        let closed_by = s.choice("air_inlet.closed_by")?;
        let stated_area = match closed_by {
            "diaphragm" => diaphragm,
            "stem" => check.seat_area() + zone1_area,
            _ => vent,
        };
        let poppet = read.poppet("air_inlet", 1.0, Some(stated_area))?;
        let inlet = AirInlet {
            zone1_area,
            zone2_area: s.number("air_inlet.zone2_share")? * poppet.seat_area(),
            stated_area,
            chamber_passage: s.number("air_inlet.chamber_passage_area")?,
            canopy_area: s.switch("canopy.fitted")?.then_some(s.number("canopy.area")?),
            spill_band: s.number("air_inlet.spill_band")?,
            area_change: s.number("air_inlet.diaphragm_area_change")?,
            tear_area: s.number("air_inlet.diaphragm_tear_area")?,
            lip: read.lip()?,
            poppet,
        };
        let stem = (closed_by == "stem").then_some(Stem { lap: s.number("air_inlet.lap")? });
        holds_parts(s, &check, &inlet, stem)?;
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
                leak_area: read.leak("shutoff1", &fluid)?,
                opening: Opening::turn(0.0, 1.0, 0.0, opening_time),
            },
            shutoff2: Shutoff {
                bore_area: disc(s.number("shutoff2.bore")?),
                leak_area: read.leak("shutoff2", &fluid)?,
                opening: Opening::fixed(s.number("shutoff2.open")?),
            },
            zones: [zone1, zone2, zone3],
            initial: [initial1, initial2, initial3],
            initial_pressure: [p1, p2, 0.0],
            check,
            inlet,
            stem,
            relief: read.relief()?,
            outlet: (SHARP_EDGE * s.number("load_side.outlet_area")?, s.number("load_side.height")?),
            taps: read.taps()?,
            outside_leak: [
                s.number("outside_leak.line_area")?,
                s.number("outside_leak.zone1_area")?,
                s.number("outside_leak.zone2_area")?,
            ],
            end_time,
            stop_at_rest,
            stop_at_check_closed: false,
            tube: None,
            beyond_outlet: None,
            traces_load_water: false,
            starts_stuck: false,
            acts_until: 0.0,
            stop_at_equilibrium: false,
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
