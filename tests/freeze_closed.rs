//! A closed zone on a night below freezing, without a relief: pressures, ice, yield.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // a test stops where it fails

mod freeze;

use freeze::*;
use poppetry::freeze::{Happening, night};

#[test]
fn ref_rigid_zone_at_minus_5_and_minus_10() {
    for (air, p, x) in [(-5.0, 59.98e6, 0.2535), (-10.0, 110.0e6, 0.3918)] {
        let body = reference(Walls::Rigid, air);
        let run = night(&body, &[start(4.0, 0.0, 0.0)], 30.0 * 3600.0, 1e-5).unwrap();
        let z = run.samples.last().unwrap().zones[0];
        println!("{} {} {} steps {:?}", z.t - 273.15, z.p, z.ice / z.mass, run.stats);
        println!("{:?}", run.balance);
        assert!((z.p / p - 1.0).abs() < 5e-3 && (z.ice / z.mass - x).abs() < 5e-3);
    }
}
#[test]
fn ref_bronze() {
        let body = reference(Walls::Bronze, -5.0);
        let run = night(&body, &[start(4.0, 0.0, 0.0)], 30.0 * 3600.0, 1e-5).unwrap();
        for e in &run.events { println!("{e:?}"); }
        println!("{:?}", run.samples.last());
        println!("{:#?}", run.balance);
        println!("{:?}", run.stats);
        let _ = Happening::Yields;
}
