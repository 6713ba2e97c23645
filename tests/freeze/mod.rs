//! The reference zone: 150 mL of water in a bronze tube of 12.5 and 15.5 mm radius (E 97 GPa, ν 0.34, Y 97 MPa), metal
//! walls alone: no rubber, no air, no heat of the metal and no thermal contraction of it unless a test says so.
#![allow(dead_code, clippy::unwrap_used)] // each test file uses a part of it

use poppetry::freeze::wall::{Strength, Stretch, Wall};
use poppetry::freeze::{Body, HeatLoss, LEAST_AIR, Weather, Zone, ZoneStart};
use poppetry::laws::cylinder::Cylinder;

pub const PSI: f64 = 6_894.757_293_168_361;
pub const ATM: f64 = 101_325.0;
pub const ML: f64 = 1e-6;
pub const TUBE: Cylinder = Cylinder { inner: 0.0125, outer: 0.0155, modulus: 97e9, poisson: 0.34 };
pub const YIELD: f64 = 97e6;

#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Walls {
    /// No give at all.
    Rigid,
    /// Elastic, never yields.
    Elastic,
    /// Yields at 97 MPa.
    Bronze,
}

pub fn kelvin(celsius: f64) -> f64 {
    celsius + 273.15
}

pub fn wall(walls: Walls, fill: f64) -> Wall {
    match walls {
        Walls::Rigid => Wall::rigid(150.0 * ML, kelvin(fill), ATM),
        Walls::Elastic => Wall::tube(150.0 * ML, TUBE, None, kelvin(fill), ATM),
        Walls::Bronze => {
            Wall { strength: Some(Strength { tube: TUBE, yield_strength: YIELD }), ..wall(Walls::Elastic, fill) }
        }
    }
}

pub fn zone(name: &str, wall: Wall) -> Zone {
    // The tube that holds the volume: its outer surface is 0.0298 m2.
    let length = wall.volume / (std::f64::consts::PI * TUBE.inner * TUBE.inner);
    let area = 2.0 * std::f64::consts::PI * TUBE.outer * length;
    Zone { name: name.into(), wall, area, length, bonnet: None }
}

/// One zone in air of `air` °C, film coefficient 10 W/(m² K), filled at 4 °C.
pub fn reference(walls: Walls, air: f64) -> Body {
    let zones = vec![zone("zone1", wall(walls, 4.0))];
    Body::bare(zones, HeatLoss::Fixed(10.0), Weather::steady(kelvin(air), 0.0), ATM)
}

/// Liquid at `t` °C and `gauge` Pa with `air` m³ of air at one atmosphere.
pub fn start(t: f64, gauge: f64, air: f64) -> ZoneStart {
    let air = if air > 0.0 { Body::air_mass(air, kelvin(t), ATM) } else { LEAST_AIR };
    let until = f64::INFINITY;
    ZoneStart { t: kelvin(t), p: gauge + ATM, air, stretch: Stretch::Elastic { lasting: 0.0, until } }
}

/// The same on a wall that yields.
pub fn start_on(body: &Body, t: f64, gauge: f64, air: f64) -> ZoneStart {
    ZoneStart { stretch: body.zones[0].wall.fresh(), ..start(t, gauge, air) }
}
