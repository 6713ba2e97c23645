//! prof
use poppetry::assembly::Resolver;
use poppetry::numerics::{Options, solve};
use poppetry::rig::{Rig, options};
fn main() {
    let s = Resolver::new().assembly("svb-diaphragm").set("run.end_time=3 s").resolve().unwrap();
    let r = Rig::from_settings(&s).unwrap();
    let o = Options { keep_steps: false, ..options(&s).unwrap() };
    let mut n = 0;
    let t = std::time::Instant::now();
    let reps: usize = std::env::var("REPS").map_or(400, |v| v.parse().unwrap());
    for _ in 0..reps {
        let (m, y) = r.start();
        let q = solve(&r, m, y, 0.0, r.end_time, &o).unwrap();
        n = q.stats.steps;
        if n == 0 {
            println!("x");
        }
        if std::env::var("V").is_ok() {
            println!("{:?}", q.stats);
            break;
        }
    }
    println!("{} steps {:.3} ms", n, t.elapsed().as_secs_f64() * 1e3 / reps as f64);
}
