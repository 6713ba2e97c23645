use poppetry::assembly::Resolver;
use poppetry::numerics::{Options, System, solve};
use poppetry::rig::{Rig, options};
fn main() {
    let a: Vec<String> = std::env::args().collect();
    let closing = a[2] == "shut";
    let tol: f64 = a[3].parse().unwrap();
    let n: usize = a[4].parse().unwrap();
    let mut r = Resolver::new().assembly(&a[1]);
    if closing {
        r = r.set("shutoff2.open=false");
    } else {
        r = r.set("run.end_time=3 s");
    }
    let s = r.resolve().unwrap();
    let mut rig = Rig::from_settings(&s).unwrap();
    rig.stop_at_check_closed = closing;
    let o = Options { keep_steps: n == 1, tolerance: tol, ..options(&s).unwrap() };
    if a.len() > 5 {
        let (m, y) = rig.start();
        let l = solve(&rig, m, y, 0.0, 0.7, &o).unwrap();
        let mut out = vec![0.0; l.y_end.len()];
        let t = std::time::Instant::now();
        for _ in 0..n {
            rig.rates(&l.mode_end, std::hint::black_box(0.7), std::hint::black_box(&l.y_end), &mut out);
            std::hint::black_box(&out);
        }
        use poppetry::real::{Dual, Real};
        let mut yd: Vec<Dual<12>> = l.y_end.iter().map(|v| Dual::constant(*v)).collect();
        for (k, i) in (0..rig.dim()).filter(|&i| !rig.frozen(&l.mode_end, i)).enumerate() {
            yd[i] = Dual::variable(l.y_end[i], k);
        }
        let mut od = yd.clone();
        let t2 = std::time::Instant::now();
        if a.len() > 6 {
            for _ in 0..n {
                rig.rates(
                    &l.mode_end,
                    std::hint::black_box(Dual::variable(0.7, 11)),
                    std::hint::black_box(&yd),
                    &mut od,
                );
                std::hint::black_box(&od);
            }
        }
        println!("dual {:.1} ns", t2.elapsed().as_secs_f64() * 1e9 / n as f64);
        println!("eval {:.1} ns {:?}", t.elapsed().as_secs_f64() * 1e9 / n as f64, l.mode_end);
        return;
    }
    let t = std::time::Instant::now();
    let mut last = None;
    for _ in 0..n {
        let (m, y) = rig.start();
        last = Some(solve(&rig, m, y, 0.0, rig.end_time, &o).unwrap());
    }
    let l = last.unwrap();
    println!(
        "{} {} tol {tol:e}: {:.3} ms  {:?} dim {}",
        a[1],
        a[2],
        t.elapsed().as_secs_f64() * 1e3 / n as f64,
        l.stats,
        rig.dim()
    );
    if n == 1 {
        let names = rig.variables();
        println!("{:?}", names.iter().map(|v| &v.name).collect::<Vec<_>>());
        for f in &l.fired {
            println!("fired {:.6} {}", f.t, f.label);
        }
        for (s, m) in l.steps.iter().zip(&l.step_mode) {
            println!("{:.6} {:.3e} {}", s.t0, s.h, m);
        }
    }
}
