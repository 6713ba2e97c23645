//! From resolved settings to a body on a night: the only place of this module that knows fields.

use super::body::{Body, Check, DROP, HeatLoss, LEAST_AIR, Lifts, Relief, Vent, Weather, Zone, ZoneStart};
use super::nights::Refill;
use super::wall::{Rubber, Strength, Wall};
use crate::assembly::{Initial, Settings, conflict};
use crate::error::{At, Error};
use crate::laws::cylinder::Cylinder;
use crate::laws::film::Film;
use crate::rig::Rig;
use crate::units::{Kind, System, format};
use std::f64::consts::PI;

/// Specific heat of cast bronze, J/(kg K) (handbooks, from memory: 376 to 380).
const BRONZE_HEAT: f64 = 376.0;
/// Conductivity of cast bronze, W/(m K) (handbooks, from memory: 72 for C83600).
const BRONZE_CONDUCTIVITY: f64 = 72.0;
/// Conductance of the check at the crawl of a freeze, kg/(s Pa): one litre a minute takes 0.02 bar over its load. It decides
/// only by how little zone 1 stands above load plus zone 2.
const CRAWL: f64 = 1e-6;
/// Temperature at which a relief's set is stated, and that at which it works in a freeze, K.
const SET_AT: (f64, f64) = (293.15, 273.15);

/// A body and the nights it is to go through.
#[derive(Debug, Clone)]
pub struct Scene {
    /// The body.
    pub body: Body,
    /// How its zones start.
    pub starts: Vec<ZoneStart>,
    /// Water trapped in the ball of a shut shutoff, with how it starts; it has no part in the rest.
    pub ball: Option<(Body, ZoneStart)>,
    /// Length of a night, s.
    pub duration: f64,
    /// Nights in a row.
    pub count: usize,
    /// What happens between them.
    pub refill: Refill,
    /// Change of the relief's set from night to night, as a share of it.
    pub drift: f64,
    /// Weakest part: name and the pressure it stands, Pa gauge.
    pub weakest: (&'static str, f64),
}

fn at(settings: &Settings, path: &str) -> At {
    settings.get(path).map_or_else(At::default_value, |s| s.at.clone())
}

impl Scene {
    /// The scene that settings describe; `rig` gives the loads of check and air inlet.
    ///
    /// # Errors
    /// [`Error::Conflict`] for a yield strength above the tensile strength, a relief set at or below the pressure shut in, or
    /// weather that does not cover the night; [`Error::OutOfRange`] where no zone has water.
    pub fn from_settings(s: &Settings, rig: &Rig) -> Result<Scene, Error> {
        let n = |path: &str| s.number(path);
        let ambient = n("ambient.pressure_absolute")?;
        let fill = s.optional_number("night.fill_pressure")?.unwrap_or_else(|| rig.feed.at_rest(&rig.fluid));
        let temperature = n("water.temperature")?;
        strong_enough(s)?;
        let duration = n("night.duration")?;
        let weather = weather(s, duration)?;

        let total = n("zone1.volume")? + n("zone2.volume")?;
        let load = rig.statics().check_lifts_pa;
        // A stem that the fill has lifted stays up, the check off its seat: nothing keeps the zones apart.
        let stem = rig.stem.map(|_| stem_share(rig));
        let apart = if stem.is_some() && fill > load { 0.0 } else { load };
        let water = [s.initial("night.zone1_water")?, s.initial("night.zone2_water")?];
        let dry = water.map(|w| match w {
            Initial::Empty => true,
            Initial::Brimful => false,
            Initial::Volume(v) => v < 1e-3 * DROP,
        });
        if dry == [true, true] {
            return Err(Error::OutOfRange {
                at: at(s, "night.zone2_water"),
                field: "night.zone2_water".to_owned(),
                value_text: "empty".to_owned(),
                rule:
                    "\"brimful\" or a volume above 0 mL, there or in night.zone1_water: without water nothing freezes"
                        .to_owned(),
            });
        }
        // A drained zone has the atmosphere's pressure; the check then lets out of zone 1 what is above its load.
        let gauges = match dry {
            [true, _] => [0.0, fill - apart],
            [_, true] => [fill.min(load), 0.0],
            _ => [fill, fill - apart],
        };
        let (mut zones, mut starts) = (Vec::new(), Vec::new());
        for (i, name) in ["zone1", "zone2"].into_iter().enumerate() {
            let volume = n(&format!("{name}.volume"))?;
            let p = (gauges[i] + ambient).max(0.02 * ambient);
            let pocket = match water[i] {
                _ if dry[i] => volume,
                // Air that stays under a cap, at the pressure it was caught at.
                Initial::Brimful => volume * n(&format!("{name}.residual_air"))? * ambient / p,
                Initial::Volume(water) if water <= volume => volume - water,
                _ => {
                    let paths = [format!("{name}.volume"), format!("night.{name}_water")];
                    let rule = "there cannot be more water than the volume holds".to_owned();
                    return Err(conflict(s, "water-fits", &[&paths[0], &paths[1]], rule));
                }
            };
            let mut zone = self::zone(s, name, volume, volume / total, temperature, ambient)?;
            if i == 1 {
                zone.bonnet = s.optional_number("body.bonnet_strength")?;
            }
            let air = Body::air_mass(pocket, temperature, p);
            starts.push(ZoneStart { t: temperature, p, air, stretch: zone.wall.fresh() });
            zones.push(zone);
        }
        let weakest = weakest(&zones);
        let film = Film {
            diameter: n("body.bore")? + 2.0 * n("body.wall")?,
            emissivity: n("body.emissivity")?,
            insulation: n("night.insulation")?,
        };
        let mut body = Body::bare(zones, HeatLoss::Air(film), weather, ambient);
        body.shell = s.choice("night.ice")? == "shell";
        body.lifts = if s.choice("night.lifts")? == "resolved" { Lifts::Resolved } else { Lifts::Held };
        body.supercooling = n("night.supercooling")?;
        body.release_time = n("night.release_time")?;
        let tube = tube(s)?;
        let section = PI * (tube.outer * tube.outer - tube.inner * tube.inner);
        body.link = BRONZE_CONDUCTIVITY * section / n("body.link_length")?;
        body.check = Some(Check { load, conductance: CRAWL, plugged_at: n("check.plugged_at")?, stem });
        body.relief = relief(s, fill)?;
        body.vent = vent(s, rig)?;
        Ok(Scene {
            ball: ball(s, &body, temperature, fill + ambient)?,
            body,
            starts,
            duration,
            count: n("night.count")? as usize,
            refill: match s.choice("night.refill")? {
                "weeping-purged" => Refill::Purged,
                "weeping-air-kept" => Refill::AirKept,
                _ => Refill::Tight,
            },
            drift: n("relief.set_drift")?,
            weakest,
        })
    }
}

fn strong_enough(s: &Settings) -> Result<(), Error> {
    if s.number("body.yield_strength")? <= s.number("body.tensile_strength")? {
        return Ok(());
    }
    let rule = "a metal yields before it breaks: the yield strength is at most the tensile strength".to_owned();
    Err(conflict(s, "yield-below-tensile", &["body.tensile_strength", "body.yield_strength"], rule))
}

fn weather(s: &Settings, duration: f64) -> Result<Weather, Error> {
    let wind = s.number("night.wind_speed")?;
    let Some(trace) = s.weather() else { return Ok(Weather::steady(s.number("night.air_temperature")?, wind)) };
    let (low, high) = (213.15, 333.15);
    if let Some(bad) = trace.air_k.iter().find(|t| !(**t >= low && **t <= high)) {
        let shown = format(Kind::Temperature, *bad, System::Si);
        let rule = format!("air temperatures lie between -60 degC and 60 degC; the file has {shown}");
        return Err(conflict(s, "weather-range", &["night.weather"], rule));
    }
    let covered =
        trace.time_s.first().is_some_and(|t| *t <= 0.0) && trace.time_s.last().is_some_and(|t| *t >= duration);
    if !covered {
        let rule = "the weather must cover the night, from time 0 to its end".to_owned();
        return Err(conflict(s, "weather-covers-night", &["night.duration", "night.weather"], rule));
    }
    Ok(Weather { wind: vec![wind; trace.time_s.len()], time: trace.time_s.clone(), air: trace.air_k.clone() })
}

fn tube(s: &Settings) -> Result<Cylinder, Error> {
    let inner = 0.5 * s.number("body.bore")?;
    let outer = inner + s.number("body.wall")?;
    Ok(Cylinder { inner, outer, modulus: s.number("body.modulus")?, poisson: s.number("body.poisson")? })
}

/// A zone as a tube of the body's bore that holds its volume.
fn zone(s: &Settings, name: &str, volume: f64, share: f64, reference: f64, ambient: f64) -> Result<Zone, Error> {
    let tube = tube(s)?;
    let length = volume / (PI * tube.inner * tube.inner);
    let compliance = s.number(&format!("{name}.compliance"))?;
    let rubber = Rubber {
        // What the file counts for walls and rubber together, less the metal.
        slope: (compliance - volume * tube.compliance()).max(0.0),
        largest: s.number("body.rubber_share")? * volume,
    };
    let strength = Strength { tube, yield_strength: s.number("body.yield_strength")? };
    let wall = Wall {
        volume,
        compliance: tube.compliance(),
        expansion: 3.0 * s.number("body.expansion")?,
        heat_capacity: BRONZE_HEAT * share * s.number("body.mass")?,
        reference,
        ambient,
        rubber,
        strength: Some(strength),
    };
    let exposure = s.number(&format!("night.{name}_exposure"))?;
    Ok(Zone { name: name.to_owned(), wall, area: 2.0 * PI * tube.outer * length * exposure, length, bonnet: None })
}

fn weakest(zones: &[Zone]) -> (&'static str, f64) {
    let body = zones.iter().filter_map(|z| z.wall.strength).map(|s| s.first_yield()).fold(f64::INFINITY, f64::min);
    let bonnet = zones.iter().filter_map(|z| z.bonnet).fold(f64::INFINITY, f64::min);
    if bonnet < body { ("bonnet", bonnet) } else { ("body", body) }
}

fn relief(s: &Settings, fill: f64) -> Result<Option<Relief>, Error> {
    let zone = match s.choice("relief.place")? {
        "none" => return Ok(None),
        "zone1" => 0,
        _ => 1,
    };
    let n = |path: &str| s.number(path);
    let set = n("relief.set_pressure")?;
    if !(set > fill) {
        let shut_in: &[&str] = match s.optional_number("night.fill_pressure")? {
            Some(_) => &["night.fill_pressure", "relief.set_pressure"],
            None if n("supply.elevation")? != 0.0 => &["supply.elevation", "supply.pressure", "relief.set_pressure"],
            None => &["supply.pressure", "relief.set_pressure"],
        };
        let shown = format(Kind::GaugePressure, fill, System::Us);
        let rule = format!("a relief set at or below the working pressure ({shown}) stands open all day");
        return Err(conflict(s, "set-above-working", shut_in, rule));
    }
    let bore = n("relief.bore")?;
    Ok(Some(Relief {
        zone,
        set: set * (1.0 + n("relief.cold_stiffening")? * (SET_AT.0 - SET_AT.1)),
        reseat_ratio: n("relief.reseat_ratio")?.min(0.99),
        bore,
        discharge: n("relief.discharge_coefficient")?,
        one_shot: s.choice("relief.kind")? == "one-shot",
        plugged_at: n("relief.plugged_at")?,
        stuck: s.switch("relief.stuck")?,
        frozen_drop: 4.0 * n("relief.ice_shear")? * n("relief.drop_length")? / bore,
    }))
}

/// Pressure of zone 1 that one of zone 2 is worth in lifting a stem: `(p1 - p2) Ac + p1 A1 + p2 A2` lifts it.
fn stem_share(rig: &Rig) -> f64 {
    let check = rig.check.seat_area();
    (rig.inlet.zone2_area - check) / (rig.inlet.zone1_area + check)
}

/// The air inlet opens zone 2 when what holds it shut has gone.
fn vent(s: &Settings, rig: &Rig) -> Result<Option<Vent>, Error> {
    let area = [rig.inlet.zone1_area, rig.inlet.zone2_area];
    let p = &rig.inlet.poppet;
    let holding = p.static_force(0.0, true) - p.friction - p.adhesion;
    let reseats = s.switch("night.inlet_stays_shut")?;
    Ok((area.iter().any(|a| *a > 0.0)).then_some(Vent { zone: 1, area, holding, reseats }))
}

/// Water shut in in the ball of a shutoff: a rigid corner of its own, as cold as the body.
fn ball(s: &Settings, body: &Body, temperature: f64, p: f64) -> Result<Option<(Body, ZoneStart)>, Error> {
    let volume = s.number("body.ball_volume")?;
    if !(volume > 0.0) {
        return Ok(None);
    }
    let tube = tube(s)?;
    let length = volume / (PI * tube.inner * tube.inner);
    let strength = s.number("body.yield_strength")?;
    let wall = Wall::tube(volume, tube, Some(strength), temperature, body.ambient);
    let wall = Wall { expansion: 3.0 * s.number("body.expansion")?, ..wall };
    let start = ZoneStart { t: temperature, p: p.max(0.02 * body.ambient), air: LEAST_AIR, stretch: wall.fresh() };
    let area = 2.0 * PI * tube.outer * length;
    let zones = vec![Zone { name: "shutoff-ball".to_owned(), wall, area, length, bonnet: None }];
    let mut alone = Body::bare(zones, body.loss, body.weather.clone(), body.ambient);
    alone.supercooling = body.supercooling;
    alone.release_time = body.release_time;
    Ok(Some((alone, start)))
}
