//! Charts of `siphon`.

use super::conditions::Conditions;
use super::frame;
use crate::bench::siphon::{FoulLimit, Outcome, Point, Scene, Siphon, rise_at_rest};
use crate::charts::{
    CurvePanel, CurvesPicture, MapPicture, PointMark, Series, Sheet, banded, lay_out_curves, lay_out_map,
};
use crate::error::Error;
use crate::rig::{Feed, MainPressure};
use crate::units::{Kind, to_display, unit_symbol};

/// Charts there are.
pub(super) const NAMES: [&str; 3] = ["run", "back", "foul"];

/// Columns and rows of the map.
const GRID: usize = 48;

/// Draws one of [`NAMES`].
///
/// # Errors
/// [`Error`] if a setting that the words need is missing.
pub(super) fn draw(
    name: &str,
    run: &Siphon,
    limits: &[FoulLimit],
    c: &Conditions<'_>,
    headline: &str,
    hash: &str,
) -> Result<Sheet, Error> {
    Ok(match name {
        "foul" => map(run, limits, c, hash)?,
        "back" => back(run, c, hash)?,
        _ => pressures(run, c, headline, hash)?,
    })
}

struct Axes<'a> {
    c: &'a Conditions<'a>,
}

impl Axes<'_> {
    fn of(&self, kind: Kind, si: f64) -> f64 {
        to_display(kind, si, self.c.system)
    }
    fn unit(&self, kind: Kind) -> String {
        frame::typeset(&format!(" {}", unit_symbol(kind, self.c.system))).trim().to_owned()
    }
    fn series(&self, label: &str, points: &[Point], kind: Kind, get: fn(&Point) -> f64) -> Series {
        Series { label: label.to_owned(), points: points.iter().map(|p| (p.t_s, self.of(kind, get(p)))).collect() }
    }
}

fn course(o: &Outcome) -> String {
    match (&o.rig.feed, o.scene) {
        (Feed::Line(line), _) if matches!(line.pressure, MainPressure::Recorded(_)) => {
            let flow = o.flow_before().map_or("", |_| " on a steady flow");
            format!("{}: the main falls in {:.2} s{flow}, line full of water", o.scene.name(), o.rig.acts_until)
        }
        (_, Scene::VacuumTest) => {
            format!("vacuum test: vessel falls in {:.2} s, tube in a pan on the load side", o.rig.acts_until)
        }
        _ => o.scene.name().to_owned(),
    }
}

/// The stretch of a run in which something happens: until pressures and flows stay near where they end.
fn shown(o: &Outcome) -> &[Point] {
    let Some(last) = o.last() else { return &o.points };
    let spread = |get: fn(&Point) -> f64| {
        let (low, high) =
            o.points.iter().map(get).fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
        0.01 * (high - low)
    };
    let gets: [fn(&Point) -> f64; 4] = [|p| p.zone2_pa_gauge, |p| p.rise_m, |p| p.line_water_m3, |p| p.check_air_kg_s];
    let limits = gets.map(|get| (get, spread(get)));
    let moving = |p: &Point| limits.iter().any(|(get, limit)| (get(p) - get(last)).abs() > *limit);
    let end = o.points.iter().rposition(moving).map_or(0.0, |i| o.points.get(i).map_or(0.0, |p| p.t_s));
    let end = (1.15 * end.max(1.2 * o.rig.acts_until)).min(last.t_s);
    let count = o.points.iter().take_while(|p| p.t_s <= end).count();
    o.points.get(..count.max(2).min(o.points.len())).unwrap_or(&o.points)
}

/// Pressures, and flows with their direction.
fn pressures(run: &Siphon, c: &Conditions<'_>, headline: &str, hash: &str) -> Result<Sheet, Error> {
    let axes = Axes { c };
    let o = &run.asked;
    let points = shown(o);
    let gauge = Kind::GaugePressure;
    let mut panels = vec![CurvePanel {
        y_name: format!("Gauge pressure, {}", axes.unit(gauge)),
        x_name: "Time, s".to_owned(),
        series: vec![
            axes.series("zone 1", points, gauge, |p| p.zone1_pa_gauge),
            axes.series("zone 2", points, gauge, |p| p.zone2_pa_gauge),
            axes.series("load side", points, gauge, |p| p.load_side_pa_gauge),
        ],
        ..CurvePanel::default()
    }];
    let flow = Kind::VolumeFlow;
    panels.push(CurvePanel {
        y_name: format!("Water, {} (below 0: back)", axes.unit(flow)),
        x_name: "Time, s".to_owned(),
        series: vec![
            axes.series("through the check", points, flow, |p| p.check_water_m3_s),
            axes.series("from the supply", points, flow, |p| p.supply_water_m3_s),
            axes.series("out of the air inlet", points, flow, |p| p.vent_water_m3_s),
            axes.series("to the load side", points, flow, |p| p.load_water_m3_s),
        ],
        ..CurvePanel::default()
    });
    if o.rise.is_some() {
        panels.push(CurvePanel {
            y_name: format!("Rise in the tube, {}", axes.unit(Kind::Length)),
            x_name: "Time, s".to_owned(),
            series: vec![axes.series("rise", points, Kind::Length, |p| p.rise_m)],
            horizontals: vec![
                (axes.of(Kind::Length, run.rise_limit_m), "limit of the installation".to_owned()),
                (axes.of(Kind::Length, run.test_limit_m), "limit of a test".to_owned()),
            ],
            ..CurvePanel::default()
        });
    }
    let page = frame::page(headline.to_owned(), &course(o), c, hash)?;
    Ok(lay_out_curves(&CurvesPicture { page, panels }))
}

/// Water and air that go back up the line.
fn back(run: &Siphon, c: &Conditions<'_>, hash: &str) -> Result<Sheet, Error> {
    let axes = Axes { c };
    let o = run.outcome(Scene::Service).unwrap_or(&run.asked);
    let points = shown(o);
    let rho = o.rig.fluid.ambient / o.rig.fluid.air_rt();
    let flow = Kind::VolumeFlow;
    let litres = |get: &dyn Fn(&Point) -> f64| -> Vec<(f64, f64)> {
        points.iter().map(|p| (p.t_s, axes.of(flow, get(p)))).collect()
    };
    let panels = vec![
        CurvePanel {
            y_name: format!("Back into the main, {} (air: free)", axes.unit(flow)),
            x_name: "Time, s".to_owned(),
            series: vec![
                Series { label: "water".to_owned(), points: litres(&|p| (-p.supply_water_m3_s).max(0.0)) },
                Series { label: "air".to_owned(), points: litres(&|p| (-p.supply_air_kg_s / rho).max(0.0)) },
            ],
            ..CurvePanel::default()
        },
        CurvePanel {
            y_name: format!("Back through the check, {} (air: free)", axes.unit(flow)),
            x_name: "Time, s".to_owned(),
            series: vec![
                Series { label: "water".to_owned(), points: litres(&|p| (-p.check_water_m3_s).max(0.0)) },
                Series { label: "air".to_owned(), points: litres(&|p| (-p.check_air_kg_s / rho).max(0.0)) },
            ],
            ..CurvePanel::default()
        },
    ];
    let title = match (o.supply_back_m3 > 1e-6, o.air_back_kg > 1e-6) {
        (_, true) => "What goes back up the line: water first, then air",
        (true, false) => "What goes back up the line: water only, no air passes the check",
        _ => "Nothing goes back up the line",
    };
    let page = frame::page(title.to_owned(), &course(o), c, hash)?;
    Ok(lay_out_curves(&CurvesPicture { page, panels }))
}

/// Rise at rest against foul and vent area, with the two limits.
fn map(run: &Siphon, limits: &[FoulLimit], c: &Conditions<'_>, hash: &str) -> Result<Sheet, Error> {
    let axes = Axes { c };
    let Some(test) = run.outcome(Scene::VacuumTest) else { return back(run, c, hash) };
    let mut rig = test.rig.clone();
    let vacuum = match &rig.feed {
        Feed::Vessel(curve) => curve.knots().last().map_or(f64::NAN, |k| k.1) + rig.fluid.ambient,
        _ => f64::NAN,
    };
    let largest = limits.iter().map(|l| l.at_rest_m2).fold(rig.check.foul_area, f64::max) * 1.6;
    let at = |i: usize, most: f64| most * (i as f64 + 1.0) / GRID as f64;
    let (mut values, mut cells) = (Vec::new(), Vec::new());
    let own = (rig.check.foul_area, rig.inlet.effective_area(crate::parts::Stand::AtStop, rig.inlet.poppet.lift, 0.0));
    let lift = rig.inlet.poppet.lift;
    let lifts = |i: usize| 1.5 * lift * (i as f64 + 1.0) / GRID as f64;
    for row in 0..GRID {
        rig.inlet.poppet.lift = lifts(row);
        for column in 0..GRID {
            rig.check.foul_area = at(column, largest);
            values.push(rise_at_rest(&rig, vacuum).unwrap_or(f64::NAN));
        }
    }
    let (low, high) = (run.test_limit_m.min(run.rise_limit_m), run.test_limit_m.max(run.rise_limit_m));
    cells.extend(banded(&values, &[low, high]));
    let show = |m: f64| crate::units::format(Kind::Length, m, c.system);
    let xs = (0..GRID).map(|i| axes.of(Kind::Area, at(i, largest))).collect();
    let ys: Vec<f64> = (0..GRID)
        .map(|i| {
            rig.inlet.poppet.lift = lifts(i);
            axes.of(Kind::Area, rig.inlet.effective_area(crate::parts::Stand::AtStop, lifts(i), 0.0))
        })
        .collect();
    let here = (axes.of(Kind::Area, own.0), axes.of(Kind::Area, own.1));
    let (bottom, top) = (ys.get(2).copied().unwrap_or(0.0), ys.last().copied().unwrap_or(0.0));
    let sudden: Vec<PointMark> = limits
        .iter()
        .map(|l| PointMark {
            at: (axes.of(Kind::Area, l.sudden_m2), here.1),
            text: format!("{} if sudden", show(l.limit_m)),
        })
        .collect();
    let title = match limits.iter().find(|l| l.limit_m == run.rise_limit_m) {
        Some(l) => format!(
            "The water stays under {} in the tube with the check held open by up to {}",
            show(l.limit_m),
            crate::units::format(Kind::Area, l.at_rest_m2.min(l.sudden_m2), c.system)
        ),
        None => "Where the water comes to rest in the tube, by foul and by vent".to_owned(),
    };
    let page = frame::page(
        title,
        "vacuum test at rest, closed form; the marks are what a vacuum within 0.1 s allows at this vent",
        c,
        hash,
    )?;
    Ok(lay_out_map(&MapPicture {
        page,
        x_name: format!("Foul of the check, {}", axes.unit(Kind::Area)),
        y_name: format!("Vent, effective, {}", axes.unit(Kind::Area)),
        xs,
        ys,
        cells,
        regions: vec![
            format!("under {}", show(low)),
            format!("{} to {}", show(low), show(high)),
            format!("over {}", show(high)),
        ],
        lines: match own.0 > 0.0 {
            true => vec![Series { label: "this check".to_owned(), points: vec![(here.0, bottom), (here.0, top)] }],
            false => Vec::new(),
        },
        points: sudden,
        log: [false; 2],
    }))
}
