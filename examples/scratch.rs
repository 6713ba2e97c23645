//! scratch
use poppetry::laws::curve::*;
use poppetry::numerics::*;
use poppetry::parts::*;
use poppetry::rig::*;
use std::time::Instant;
pub const PSI: f64 = 6894.757293168361;
#[derive(Clone)]
pub struct P { svb: bool, supply: f64, open: f64, check: f64, inlet: f64, share2: f64, brim: bool, s2: f64, outlet: f64, limit: Option<f64>, cells: usize, tol: f64, method: Method, z2: f64, rest: bool, closed: bool, end: f64 }
impl Default for P { fn default() -> P { P { svb: false, supply: 60.0, open: 1.0, check: 1.5, inlet: 1.5, share2: 1.0, brim: false, s2: 1.0, outlet: 40e-6, limit: None, cells: 1, tol: 1e-4, method: Method::Rosenbrock, z2: 120e-6, rest: true, closed: false, end: 3.0 } } }
pub fn svb() -> P { P { svb: true, check: 2.4, inlet: 1.2, share2: 0.3, ..P::default() } }
pub fn area(d: f64) -> f64 { std::f64::consts::FRAC_PI_4*d*d }
pub fn rig(p: &P) -> Rig {
    let fluid = Fluid::new(288.15, 101325.0);
    let inch = 0.0254;
    let dck = 1.05*inch; let dv = 1.0*inch; let dd = std::env::var("DD").map(|v| v.parse::<f64>().unwrap()).unwrap_or(1.35)*inch;
    let ack = area(dck); let av = area(dv); let ad = area(dd);
    let lc = 0.32*inch; let li = 0.22*inch;
    let stated = if p.svb { ad } else { av };
    let m = 0.012; let w = m*9.80665;
    let mut line = Line { pressure: MainPressure::Steady(p.supply*PSI), flow_limit: p.limit, elevation: 0.0, length: 20.0, bore: 0.026, roughness: 1.5e-6, wave_speed: 1280.0, cells: p.cells, wall_compliance: 0.0 };
    line.wall_compliance = line.walls(&fluid);
    let c = 0.01e-6/PSI;
    let bore = area(1.05*inch);
    Rig { fluid, feed: Feed::Line(line), shutoff1: Shutoff { bore_area: bore, leak_area: 0.0, opening: Opening::turn(0.0,1.0,0.0,p.open) }, shutoff2: Shutoff { bore_area: bore, leak_area: 0.0, opening: Opening::fixed(p.s2) },
        zones: [Zone{volume:60e-6,compliance:c},Zone{volume:p.z2,compliance:c},Zone{volume:60e-6,compliance:c}],
        initial: [InitialWater::Brimful{residual_air:0.002}, if p.brim {InitialWater::Brimful{residual_air:0.002}} else {InitialWater::Empty}, InitialWater::Empty],
        initial_pressure: [0.0;3],
        check: Poppet { seat_diameter: dck, port_area: ack, lift: lc, mass: m, load: Load::Linear{sealed: p.check*PSI*ack, rate: 0.25*p.check*PSI*ack/lc}, load_sign: -1.0, load_factor: 1.0, weight: -w, weight_upright: -w, wear: 0.0, friction: 0.05*PSI*ack, adhesion: 0.0, damping: 2.0, discharge_coefficient: 0.7, drag_coefficient: 1.0, leak_area: 0.0, foul_area: 0.0 },
        inlet: AirInlet { poppet: Poppet { seat_diameter: dv, port_area: av, lift: li, mass: m, load: Load::Linear{sealed: p.inlet*PSI*stated, rate: -0.25*p.inlet*PSI*stated/li}, load_sign: 1.0, load_factor: 1.0, weight: w, weight_upright: w, wear: 0.0, friction: 0.05*PSI*stated, adhesion: 0.0, damping: 2.0, discharge_coefficient: 0.6, drag_coefficient: 1.0, leak_area: 0.0, foul_area: 0.0 },
            zone1_area: if p.svb {ad} else {0.0}, zone2_area: p.share2*av, stated_area: stated, chamber_passage: 0.8e-4, canopy_area: Some(2.5*av), spill_band: 0.1 },
        outlet: (0.61*p.outlet, 0.0), taps: vec![], end_time: p.open+p.end, stop_at_rest: p.rest, stop_at_check_closed: p.closed }
}
pub fn go(name: &str, p: &P, verbose: bool) {
    let r = rig(p);
    let (mode, y) = r.start();
    let t0 = Instant::now();
    let s = solve(&r, mode, y.clone(), 0.0, r.end_time, &Options{tolerance:p.tol, method: p.method, max_steps: 20_000_000, ..Default::default()});
    let dt = t0.elapsed().as_secs_f64();
    match s { Err(e) => println!("{name}: FAIL {e}"), Ok(s) => {
        let b = r.balance(&y, s.t_end, &s.y_end);
        let l = Layout::of(&r);
        let mut first_closed = None; let mut check01 = None;
        for f in &s.fired { if f.label == 7 && first_closed.is_none() { first_closed = Some(r.spilled(&f.y)*1e6); check01 = Some(r.ledger_of(&f.y).check_forward); } }
        let pr = r.pressures(&l, s.t_end, &s.y_end);
        let mut peak: f64 = 0.0; let mut pk1: f64=0.0; let mut yy = vec![0.0; l.dim()+7];
        for st in &s.steps { st.at(st.t1, &mut yy); let q = r.pressures(&l, st.t1, &yy); peak = peak.max(q.zone[1]); pk1=pk1.max(q.zone[0]); }
        println!("{name}: {:?} {:.3} spill {:.3?} tot {:.3} {:?} p1 {:.1} p2 {:.1} pk2 {:.0} pk1 {:.0} ev {} st {} rej {} rhs {} j {} {:.2} ms bal {:.1e} {:.1e}", s.reason, s.t_end, first_closed, r.spilled(&s.y_end)*1e6, check01.map(|c| if c/r.fluid.density>0.1e-6 {"check"} else {"inlet"}), (pr.zone[0]-101325.0)/PSI, (pr.zone[1]-101325.0)/PSI, (peak-101325.0)/PSI, (pk1-101325.0)/PSI, s.fired.len(), s.stats.steps, s.stats.rejected, s.stats.rhs_evaluations, s.stats.jacobians, dt*1e3, b.water.closure(), b.air.closure());
        if verbose { for f in s.fired.iter().take(8) { println!("   {:.6} {}", f.t, ["check opens","check full","check starts to close","check CLOSED","inlet opens","inlet full","inlet starts to close","inlet CLOSED"][f.label]); } 
          println!("{:?}", r.statics()); }
    } }
}
fn main() {
    let _ = MonotoneCurve::new(&[0.0],&[0.0]);
    if std::env::var("ALL").is_ok() {
    go("pvb", &P::default(), true);
    go("svb", &svb(), true);
    for o in [0.05,0.5,1.0,2.0,5.0,10.0] { go(&format!("pvb open {o}"), &P{open:o,..P::default()}, false); }
    for o in [0.05,1.0,10.0] { go(&format!("pvb s2 closed open {o}"), &P{open:o,s2:0.0,..P::default()}, false); }
    for o in [0.05,0.3,1.0,10.0] { go(&format!("pvb brim s2 closed open {o}"), &P{open:o,s2:0.0,brim:true,..P::default()}, false); }
    for brim in [false,true] { for s2 in [0.0,1.0] { for sup in [20.0,60.0,100.0] { for o in [0.3,1.0,3.0] { go(&format!("svb brim {brim} s2 {s2} sup {sup} open {o}"), &P{open:o,s2,brim,supply:sup,..svb()}, false); }}}}
    for sup in [20.0,60.0,100.0] { for o in [0.05,0.3,1.0,3.0] { go(&format!("svb share2=0 closed sup {sup} open {o}"), &P{open:o,s2:0.0,share2:0.0,supply:sup,..svb()}, false); }}
    for brim in [false,true] { go(&format!("svb swapped brim {brim}"), &P{check:1.2,inlet:2.4,brim,..svb()}, false); }
    for o in [0.02,0.05,0.1,1.0] { go(&format!("svb M=+0.1 brim open {o}"), &P{check:1.4,inlet:1.2,brim:true,open:o,..svb()}, false); }
    }
}
