//! Pictures of invented data for the charts other than that of `sequence`.

use poppetry::charts::{
    Band, BandsPicture, Bar, BarsPicture, CurvePanel, CurvesPicture, HistogramPicture, Limit, MapPicture, Multiple,
    MultiplesPicture, Page, PointMark, Series, banded, bins, common_window,
};

pub fn page(title: &str) -> Page {
    Page {
        title: title.into(),
        subtitle: "pvb-spring, 1 in: supply 60 psi, shutoff 1 opens in 1 s, 1000 runs, seed 7".into(),
        foot: vec![
            "Assembly pvb-spring, 1 in, built in (invented, generic) · poppetry 0.1.0 · inputs 3f9a0c71".into(),
            "Teaching and design aid: not a test result.".into(),
        ],
    }
}

fn series(label: &str, from: f64, to: f64, f: impl Fn(f64) -> f64) -> Series {
    let at = |i: i32| from + (to - from) * f64::from(i) / 80.0;
    Series { label: label.into(), points: (0..=80).map(|i| (at(i), f(at(i)))).collect() }
}

pub fn map() -> MapPicture {
    let at = |from: f64, to: f64, n: usize| (0..n).map(|i| from + (to - from) * i as f64 / (n - 1) as f64).collect();
    let (xs, ys): (Vec<f64>, Vec<f64>) = (at(0.8, 3.0, 45), at(0.05, 3.0, 33));
    let spill = |x: f64, y: f64| if x > 1.5 + 0.4 / (y + 0.3) { 0.0 } else { 60.0 * (2.2 - x).max(0.0) * (0.4 + y) };
    let values: Vec<f64> = ys.iter().flat_map(|y| xs.iter().map(move |x| spill(*x, *y))).collect();
    let mut cells = banded(&values, &[0.5, 50.0, 150.0]);
    cells[20 * 45 + 3] = None;
    MapPicture {
        page: page("A check load of 2.0 psi or more keeps the floor dry at any opening time above 0.5 s"),
        x_name: "check load (psi)".into(),
        y_name: "opening time of shutoff 1 (s)".into(),
        xs,
        ys,
        cells,
        regions: ["dry", "up to 50 mL", "up to 150 mL", "more"].map(str::to_owned).to_vec(),
        lines: vec![series("margin = 0", 0.05, 3.0, |y| y)]
            .into_iter()
            .map(|mut s| {
                s.label = "sequence margin 0".into();
                s.points = s.points.iter().map(|p| (1.5, p.0)).collect();
                s
            })
            .collect(),
        points: vec![PointMark { at: (2.2, 1.0), text: "as built".into() }],
        log: [false; 2],
    }
}

pub fn bands() -> BandsPicture {
    let band =
        |label: &str, low: f64, high: f64, note: &str| Band { label: label.into(), low, high, note: note.into() };
    let bands = vec![
        band("body stays whole", f64::NEG_INFINITY, 2100.0, "first yield of the bonnet at 2400 psi, less an eighth"),
        band("no weeping in service", 195.0, f64::INFINITY, "static 150 psi and reseat at 0.77"),
        band("no lift on a surge", 160.0, f64::INFINITY, "a valve slams at 5 ft/s"),
        band("spring fits the stem", 60.0, 800.0, "solid height"),
    ];
    BandsPicture {
        page: page("A relief set from 195 to 800 psi keeps the body whole and does not weep"),
        x_name: "set pressure of the relief (psi)".into(),
        window: common_window(&bands),
        bands,
        recommended: Some(300.0),
        limits: vec![(150.0, "working pressure".into())],
    }
}

pub fn histogram() -> HistogramPicture {
    // Sums of three sines of a running number: bell-shaped enough, and the same on every machine.
    let wave = |i: f64| (i * 12.9898).sin() + (i * 78.233).sin() + (i * 37.719).sin();
    let values: Vec<f64> = (0..1000).map(|i| 1.5 + 0.25 * wave(f64::from(i))).collect();
    let (edges, counts) = bins(&values);
    let below = values.iter().filter(|v| **v < 1.0).count();
    HistogramPicture {
        page: page("One unit in twenty reads below 1.0 psi when new"),
        x_name: "reading of the air inlet (psi)".into(),
        y_name: "units out of 1000".into(),
        edges,
        counts,
        limits: vec![
            Limit { value: 1.0, text: format!("must be 1.0 or more: {below} fail"), bad_below: Some(true) },
            Limit { value: 1.5, text: "nominal".into(), bad_below: None },
        ],
    }
}

pub fn bars() -> BarsPicture {
    let bar = |label: &str, value: f64, spread: f64| Bar {
        label: label.into(),
        value,
        range: (spread > 0.0).then_some((value - spread, value + spread)),
    };
    BarsPicture {
        page: page("The load of the air inlet decides how much spills; its seat diameter comes second"),
        x_name: "change of spill per standard deviation (mL)".into(),
        bars: vec![
            bar("air_inlet.load", 21.4, 2.0),
            bar("air_inlet.seat_diameter", 12.5, 1.4),
            bar("check.load", -3.2, 0.8),
            bar("shutoff1.opening_time", 9.1, 0.0),
            bar("supply.pressure", -7.7, 1.1),
            bar("check.friction", 0.12, 0.0),
            bar("zone2.compliance", f64::NAN, 0.0),
        ],
    }
}

pub fn multiples() -> MultiplesPicture {
    let panel = |supply: f64| Multiple {
        title: format!("supply {supply} psi"),
        series: vec![
            series("zone 1", 0.0, 2.0, |t| supply * (1.0 - (-4.0 * t).exp())),
            series("zone 2", 0.0, 2.0, |t| (supply * (1.0 - (-3.0 * t).exp()) - 2.0).max(0.0)),
        ],
        note: format!("spills {:.0} mL", 2400.0 / supply),
    };
    MultiplesPicture {
        page: page("The higher the supply, the less spills"),
        x_name: "time (s)".into(),
        y_name: "gauge pressure (psi)".into(),
        panels: [15.0, 30.0, 45.0, 60.0, 80.0, 150.0].map(panel).to_vec(),
        holds: vec![],
        log: [false; 2],
    }
}

pub fn curves() -> CurvesPicture {
    let load = CurvePanel {
        y_name: "load of the air inlet (lbf)".into(),
        x_name: "travel from the seat (in)".into(),
        series: vec![
            series("closing", 0.0, 0.22, |x| 1.30 - 1.3 * x),
            series("opening", 0.0, 0.22, |x| 1.22 - 1.3 * x),
        ],
        points: vec![],
        verticals: vec![(0.0, "sealed".into()), (0.22, "stop".into())],
        horizontals: vec![],
        ..CurvePanel::default()
    };
    let loss = CurvePanel {
        y_name: "pressure loss (psi)".into(),
        x_name: "flow (gpm)".into(),
        series: vec![series("supply to load side", 0.0, 25.0, |q| 1.5 + 0.006 * q * q)],
        points: vec![PointMark { at: (13.5, 1.5 + 0.006 * 13.5 * 13.5), text: "5 ft/s in the pipe".into() }],
        verticals: vec![],
        horizontals: vec![(10.0, "most allowed at rated flow".into())],
        ..CurvePanel::default()
    };
    let vent = CurvePanel {
        y_name: "air through the air inlet (L/s)".into(),
        x_name: "vacuum in zone 2 (inHg)".into(),
        series: vec![series("in", 0.0, 25.0, |p| 18.0 * (p / 25.0).min(0.47).sqrt())],
        ..CurvePanel::default()
    };
    CurvesPicture {
        page: page("The air inlet closes at 1.55 psi and opens at 1.45 psi"),
        panels: vec![load, loss, vent],
    }
}
