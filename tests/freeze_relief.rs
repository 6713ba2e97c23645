//! A relief through a night.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // a test stops where it fails

mod freeze;

use freeze::*;
use poppetry::freeze::{Body, Check, Happening, HeatLoss, Lifts, Relief, Weather, night};

const SET: f64 = 200.0 * PSI;

fn relief(zone: usize) -> Relief {
    Relief {
        zone,
        set: SET,
        reseat_ratio: 0.8,
        bore: 3e-3,
        discharge: 0.6,
        one_shot: false,
        plugged_at: 0.9,
        stuck: false,
        frozen_drop: 0.0,
    }
}

#[test]
fn explore() {
    for lifts in [Lifts::Held, Lifts::Resolved] {
        for plug in [0.9, 0.95] {
        let mut body = reference(Walls::Elastic, -5.0);
        body.relief = Some(Relief { plugged_at: plug, ..relief(0) });
        body.lifts = lifts;
        let now = std::time::Instant::now();
        let run = night(&body, &[start(4.0, 0.0, 0.0)], 60.0 * 3600.0, 1e-5).unwrap();
        println!("{lifts:?} {plug} {:?} lifts {} {:?}", now.elapsed(), run.lifts, run.stats);
        
        println!("{:?}", run.balance);
        for e in run.events.iter().filter(|e| !matches!(e.what, Happening::ReliefOpens | Happening::ReliefCloses)) { println!("  {e:?}"); }
        }
        let mut body = Body::bare(vec![zone("zone1", { let mut w = wall(Walls::Bronze, 15.0); w.volume = 60.0 * ML; w.heat_capacity = 150.0; w.expansion=54e-6; w }),
            zone("zone2", { let mut w = wall(Walls::Bronze, 15.0); w.volume = 120.0 * ML; w.heat_capacity = 300.0;w.expansion=54e-6; w })],
            HeatLoss::Fixed(10.0), Weather::steady(kelvin(-10.0), 0.0), ATM);
        body.relief = Some(relief(1));
        body.supercooling = 3.0;
        body.link = 0.37;
        body.lifts = lifts;
        body.check = Some(Check { load: 1.5 * PSI, conductance: 1e-6, plugged_at: 0.95 });
        for _ in 0..2 {
        let now = std::time::Instant::now();
        let run = night(&body, &[start(15.0, 60.0 * PSI, 0.05 * ML), start(15.0, 58.5 * PSI, 0.1 * ML)], 24.0*3600., 1e-5).unwrap();
        println!("TWO {lifts:?} {:?} lifts {} {:?} samples {}", now.elapsed(), run.lifts, run.stats, run.samples.len());
        println!("{:?}", run.balance);
        for e in run.events.iter().filter(|e| !matches!(e.what, Happening::ReliefOpens | Happening::ReliefCloses)).take(14) { println!("  {e:?}"); }
        }
    }
}
