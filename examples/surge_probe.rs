//! probe
use poppetry::assembly::Resolver;
use poppetry::bench::surge::*;
use poppetry::rig::{options, Part};
fn main() {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let mut r = Resolver::new().assembly(&args[0]);
    for s in &args[1..] { r = r.set(s); }
    let s = r.resolve().unwrap();
    let o = options(&s).unwrap();
    let t = std::time::Instant::now();
    let x = match surge(&s, &o) { Ok(x) => x, Err(e) => { println!("{e}"); return } };
    let w = t.elapsed().as_secs_f64()*1e3;
    println!("{:?} {w:.1} ms converged {}", x.scene, x.converged);
    if let Some((c, r)) = &x.bare {
        println!("before {:?} peak {:?} closure {:.2e} sep {:?} joukowsky {:.1} rise {:.6}", r.before, r.peak, r.closure_kg, r.waves.separation, 999.1*c.line.wave_speed*c.velocity, r.peak.1 - r.before.0);
        println!("first {:?}", &r.at_valve[..3]);
    }
    if let Some(r) = &x.coupled {
        let l = r.points.last().unwrap();
        println!("line peak {:.1} psi at {:.4}, trough {:.0}, z1 {:.1} z2 {:.1} psi", (r.line_peak.0-101325.0)/6894.757, r.line_peak.1, r.line_trough,
          r.points.iter().map(|p| p.zone1_pa_gauge).fold(f64::MIN, f64::max)/6894.757, r.points.iter().map(|p| p.zone2_pa_gauge).fold(f64::MIN, f64::max)/6894.757);
        println!("final z2 {:.2} psi; spill {:.2} mL; slam check {:?} inlet {:?}", l.zone2_pa_gauge/6894.757, r.spill_m3*1e6, slam(r, Part::Check), slam(r, Part::AirInlet));
        println!("steps {} repeated {} sep {:?} bal {:.1e} {:.1e} points {}", r.steps, r.repeated, r.separation, r.balance.water.closure(), r.balance.air.closure(), r.points.len());
        println!("{:?}", r.balance.water);
        for e in r.events.iter().take(12) { println!("{:?}", e); }
    }
}
