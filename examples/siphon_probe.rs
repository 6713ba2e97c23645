//! probe
use poppetry::assembly::Resolver;
use poppetry::bench::siphon::*;
use poppetry::rig::options;
fn main() {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let mut r = Resolver::new().assembly(&args[0]);
    for s in &args[1..] { r = r.set(s); }
    let s = r.resolve().unwrap();
    let o = options(&s).unwrap();
    let scene = Scene::of(&s).unwrap();
    let t = std::time::Instant::now();
    let x = match run_scene(&s, scene, &o) { Ok(x) => x, Err(e) => { println!("{e}"); return } };
    let w = t.elapsed().as_secs_f64()*1e3;
    let l = x.last().unwrap();
    println!("{:?} {w:.1} ms t_end {:.2} settled {} steps {}", scene, l.t_s, x.settled, x.stats.steps);
    println!("rise {:?}", x.rise);
    println!("back {:.3} load {:.3} supply {:.1} spit {:.2} mL; admitted {:.4} g", x.water_back_m3*1e6, x.load_water_back_m3*1e6, x.supply_back_m3*1e6, x.spit_m3*1e6, x.air_admitted_kg*1e3);
    println!("opens {:?} z1 {:?} z2min {:.0} rev {:.3e}", x.t_air_inlet_opens_s, x.zone1_at_opening_pa_gauge, x.zone2_min_pa_abs, x.reverse_flow_m3_s);
    println!("{:?}", l);
    println!("balance {:.1e} {:.1e}", x.balance.water.closure(), x.balance.air.closure());
    for e in x.events.iter().take(20) { println!("{:?}", e); }
    println!("closed form {:?}", rise_at_rest(&x.rig, x.rig.fluid.ambient - 84_660.0));
}
