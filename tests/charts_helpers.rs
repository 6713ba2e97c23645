//! The charts of curves, maps, windows, histograms, ranked bars and small multiples: layout, and data nobody should
//! feed them.

// The lint spares test functions only; a helper that expects in vain is a failed test all the same.
#![allow(clippy::expect_used, clippy::unwrap_used)]

#[path = "charts/helpers.rs"]
mod helpers;

use poppetry::charts::{
    Axis, Band, Bar, CurvePanel, CurvesPicture, Limit, Mark, NightPicture, PointMark, Rect, Series, Sheet, Trace,
    banded, bins, common_window, encode_sheet, lay_out_bands, lay_out_bars, lay_out_curves, lay_out_histogram,
    lay_out_map, lay_out_multiples, lay_out_night, look,
};
use std::path::Path;

fn assert_legible(sheet: &Sheet, name: &str) {
    let canvas = Rect::new(0.0, 0.0, sheet.width(), sheet.height());
    let labels = sheet.label_boxes();
    for (i, a) in labels.iter().enumerate() {
        assert!(canvas.holds(&a.area), "{name}: {a:?} leaves the canvas");
        assert!(a.size >= look::FOOT, "{name}: {a:?} is too small");
        for b in labels.iter().skip(i + 1) {
            assert!(!a.area.meets(&b.area), "{name}: {a:?} overlaps {b:?}");
        }
    }
}

fn all() -> [(&'static str, Sheet); 6] {
    [
        ("map", lay_out_map(&helpers::map())),
        ("bands", lay_out_bands(&helpers::bands())),
        ("histogram", lay_out_histogram(&helpers::histogram())),
        ("bars", lay_out_bars(&helpers::bars())),
        ("multiples", lay_out_multiples(&helpers::multiples())),
        ("curves", lay_out_curves(&helpers::curves())),
    ]
}

fn says(sheet: &Sheet, text: &str) -> bool {
    sheet.label_boxes().iter().any(|l| l.text == text)
}

#[test]
fn regress_all_labels_stand_apart_and_none_is_dropped_or_cut() {
    for (name, sheet) in all() {
        assert_legible(&sheet, name);
        assert!(sheet.dropped().is_empty(), "{name}: {:?}", sheet.dropped());
        assert!(!sheet.label_boxes().iter().any(|l| l.text.ends_with('…')), "{name}");
        for ending in ["svg", "png"] {
            assert!(!encode_sheet(&sheet, Path::new(&format!("a.{ending}"))).unwrap().is_empty());
        }
    }
}

#[test]
fn regress_each_chart_has_its_title_axes_with_units_and_foot() {
    let page = helpers::page("");
    for (name, sheet) in all() {
        let labels = sheet.label_boxes();
        assert!(labels[0].size == look::TITLE, "{name}");
        assert!(page.foot.iter().all(|line| says(&sheet, line)), "{name}");
        assert!(labels.iter().any(|l| l.text.ends_with(')') && l.text.contains(" (") && l.size >= 16.0), "{name}");
    }
    let sheet = lay_out_map(&helpers::map());
    for text in ["dry", "up to 50 mL", "up to 150 mL", "more", "sequence margin 0", "as built"] {
        assert!(says(&sheet, text), "{text}");
    }
    assert!(says(&lay_out_bands(&helpers::bands()), "All are met from 195 to 800; recommended: 300"));
}

#[test]
fn analytic_values_fall_into_the_regions_between_the_limits() {
    assert_eq!(
        banded(&[-1.0, 0.0, 0.9, 1.0, 7.0, f64::NAN, f64::INFINITY], &[0.0, 1.0]),
        [Some(0), Some(1), Some(1), Some(2), Some(2), None, None]
    );
}

#[test]
fn analytic_the_common_window_is_the_intersection_of_the_bands() {
    let band = |low, high| Band { label: String::new(), low, high, note: String::new() };
    let inf = f64::INFINITY;
    assert_eq!(common_window(&[band(-inf, 5.0), band(1.0, inf), band(2.0, 9.0)]), Some((2.0, 5.0)));
    assert_eq!(common_window(&[band(0.0, 1.0), band(2.0, 3.0)]), None);
    assert_eq!(common_window(&[band(1.0, f64::NAN)]), None);
}

/// 64 values 0 to 63: the quartiles are 16 and 47 (nearest rank), so the width is 2 * 31 / 4 = 15.5 and 63 / 15.5 asks for
/// five bins.
#[test]
fn analytic_bins_follow_freedman_and_diaconis_and_hold_every_value() {
    let values: Vec<f64> = (0..64).map(f64::from).collect();
    let (edges, counts) = bins(&values);
    assert_eq!((edges.len(), counts.len()), (6, 5));
    assert_eq!((edges[0], edges[5]), (0.0, 63.0));
    assert_eq!(counts.iter().sum::<f64>(), 64.0);
    for (i, count) in counts.iter().enumerate() {
        let last = i == 4;
        let inside = values.iter().filter(|v| **v >= edges[i] && (**v < edges[i + 1] || last)).count();
        assert_eq!(*count, inside as f64, "bin {i}");
    }
    let (edges, counts) = bins(&[f64::NAN, 2.0, 2.0]);
    assert_eq!(counts.iter().sum::<f64>(), 2.0);
    assert!(edges.first().unwrap() < &2.0 && edges.last().unwrap() > &2.0);
    assert_eq!(bins(&[f64::INFINITY]), (vec![], vec![]));
}

/// Boxes of an SVG that are filled in the colour of good bars: (left, width, height), px.
fn bars_of(svg: &str) -> Vec<(f64, f64, f64)> {
    let boxes = svg.split("<polygon fill=\"#").skip(1).filter(|t| !t.starts_with("FFFFFF") && !t.starts_with("FFE2B2"));
    // Coordinates are in tenths of a pixel.
    let numbers = |t: &str| -> Vec<f64> {
        let points = t.split("points=\"").nth(1).and_then(|p| p.split('"').next()).unwrap();
        points.split([',', ' ']).filter_map(|n| n.parse::<f64>().ok()).map(|n| 0.1 * n).collect()
    };
    boxes.map(numbers).filter(|p| p.len() == 8).map(|p| (p[0], (p[2] - p[0]).abs(), (p[5] - p[1]).abs())).collect()
}

/// Sixty units that all spill nothing are one bar; bins without width were passed over, and the axes stood empty.
#[test]
fn bug_values_that_are_all_the_same_are_one_bar() {
    let mut picture = helpers::histogram();
    (picture.edges, picture.counts) = (vec![0.0, 0.0], vec![60.0]);
    picture.limits.clear();
    for value in [0.0, 2.5] {
        picture.edges = vec![value; 2];
        let sheet = lay_out_histogram(&picture);
        assert_legible(&sheet, "constant");
        let svg = String::from_utf8(encode_sheet(&sheet, Path::new("a.svg")).unwrap()).unwrap();
        assert!(bars_of(&svg).iter().any(|(_, w, h)| *w > 40.0 && *h > 200.0), "{value}: {svg}");
    }
}

/// Two limits close to each other, each with a long name: no name lies across the other's line.
#[test]
fn bug_names_of_two_limits_stand_beside_their_own_lines() {
    let mut picture = helpers::histogram();
    picture.limits = [
        (1.3, "at least 1.30 psi: 79.0 % (72.7 to 84.4 %) meet it"),
        (1.6, "at most 1.60 psi: 84.0 % (78.2 to 88.8 %) meet it"),
    ]
    .map(|(value, text)| Limit { value, text: text.into(), bad_below: Some(value < 1.5) })
    .to_vec();
    let sheet = lay_out_histogram(&picture);
    assert_legible(&sheet, "two limits");
    assert!(sheet.dropped().is_empty(), "{:?}", sheet.dropped());
    let svg = String::from_utf8(encode_sheet(&sheet, Path::new("a.svg")).unwrap()).unwrap();
    // The lines of limits are the ones that are 2.4 px wide.
    let lines: Vec<f64> = svg
        .split("stroke-width=\"24\" d=\"M")
        .skip(1)
        .flat_map(|t| t.split('"').next().unwrap_or("").split('M'))
        .filter_map(|t| t.split(',').next()?.parse::<f64>().ok())
        .map(|x| 0.1 * x)
        .collect();
    assert!(lines.iter().any(|x| (x - lines[0]).abs() > 20.0), "{svg}");
    for label in sheet.label_boxes().iter().filter(|l| l.text.contains("meet") || l.text.contains("psi:")) {
        for x in &lines {
            assert!(*x < label.area.x0 || *x > label.area.x1, "{} {x}", label.text);
        }
    }
}

#[test]
fn bug_crosses_of_a_map_are_explained_where_there_are_any() {
    let words = "A cross: that run failed, or has no such value.";
    let mut map = helpers::map();
    assert!(says(&lay_out_map(&map), words));
    map.cells.iter_mut().for_each(|c| *c = c.or(Some(0)));
    assert!(!says(&lay_out_map(&map), words));
}

#[test]
fn analytic_bars_stand_in_the_order_of_their_size() {
    let sheet = lay_out_bars(&helpers::bars());
    let row = |text: &str| sheet.label_boxes().iter().find(|l| l.text == text).expect("is there").area.y0;
    let order = ["air_inlet.load", "air_inlet.seat_diameter", "shutoff1.opening_time", "supply.pressure", "check.load"];
    assert!(order.windows(2).all(|w| row(w[0]) < row(w[1])));
}

#[test]
fn regress_nasty_data_neither_panics_nor_overlaps() {
    for value in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, f64::MAX, f64::MIN, 1e-300, 0.0] {
        let mut map = helpers::map();
        map.xs[3] = value;
        map.points[0].at.1 = value;
        map.cells.truncate(100);
        map.cells[5] = Some(usize::MAX);
        map.regions.push("x".repeat(5000));
        let mut bands = helpers::bands();
        bands.bands[0].high = value;
        bands.recommended = Some(value);
        bands.limits[0].0 = value;
        bands.window = Some((value, 5.0));
        bands.bands.extend(vec![bands.bands[1].clone(); 40]);
        let mut histogram = helpers::histogram();
        histogram.edges[2] = value;
        histogram.counts[3] = value;
        histogram.limits[0].value = value;
        let mut bars = helpers::bars();
        bars.bars[0].value = value;
        bars.bars[1].range = Some((value, -value));
        bars.bars.extend(vec![Bar { label: "y".repeat(300), value: 1e-3, range: None }; 50]);
        let mut multiples = helpers::multiples();
        multiples.panels[0].series[0].points[4] = (value, value);
        multiples.panels.extend(vec![multiples.panels[1].clone(); 30]);
        let mut curves = helpers::curves();
        curves.panels[0].series[0].points[1].0 = value;
        curves.panels[0].verticals[0].0 = value;
        curves.panels[1].horizontals[0].0 = value;
        curves.panels[2].series = vec![Series { label: "z".into(), points: vec![(value, 1.0)] }; 12];
        curves.panels[2].points = vec![PointMark { at: (1.0, 1.0), text: "w".repeat(90) }; 30];
        curves.panels.extend(curves.panels.clone());
        for (name, sheet) in [
            ("map", lay_out_map(&map)),
            ("bands", lay_out_bands(&bands)),
            ("histogram", lay_out_histogram(&histogram)),
            ("bars", lay_out_bars(&bars)),
            ("multiples", lay_out_multiples(&multiples)),
            ("curves", lay_out_curves(&curves)),
        ] {
            assert_legible(&sheet, &format!("{name} with {value}"));
            encode_sheet(&sheet, Path::new("a.svg")).unwrap();
            encode_sheet(&sheet, Path::new("a.png")).unwrap();
        }
    }
    for sheet in [
        lay_out_map(&Default::default()),
        lay_out_bands(&Default::default()),
        lay_out_histogram(&Default::default()),
        lay_out_bars(&Default::default()),
        lay_out_multiples(&Default::default()),
        lay_out_curves(&Default::default()),
    ] {
        assert_legible(&sheet, "empty");
        encode_sheet(&sheet, Path::new("a.png")).unwrap();
    }
}

/// A zone open to the air has 0 psi gauge, which the logarithmic axis used to show as its lowest decade; the name of the lifts
/// lay on a curve, and a mark near the start ran over the left edge.
#[test]
fn bug_a_night_shows_zero_as_zero_and_keeps_its_labels_in_place() {
    let hours: Vec<f64> = (0..=120).map(|i| f64::from(i) / 10.0).collect();
    let trace = |label: &str, f: &dyn Fn(f64) -> f64| Trace {
        label: label.to_owned(),
        values: hours.iter().map(|t| f(*t)).collect(),
    };
    let night = |least: f64| NightPicture {
        page: helpers::page("A night"),
        time: hours.clone(),
        pressures: vec![
            trace("zone 1", &|t| if t < 6.0 { 200.0 } else { 2800.0 }),
            trace("zone 2", &|t| if t < 8.0 { 200.0 } else { least }),
        ],
        pressure_unit: "psi".to_owned(),
        limits: vec![
            (2839.9, "wall first yields, 2839.9 psi".to_owned()),
            (450.0, "bonnet splits, 450.0 psi".to_owned()),
        ],
        lifts: (0..80).map(|i| 4.0 + 0.05 * f64::from(i)).collect(),
        temperatures: vec![trace("zone 1", &|t| 60.0 - 4.0 * t)],
        temperature_unit: "°F".to_owned(),
        ice: vec![trace("zone 1", &|t| 8.0 * t)],
        relieved: trace("total", &|t| t),
        volume_unit: "mL".to_owned(),
        marks: [0.1, 0.12, 0.14, 0.16, 0.18]
            .map(|time| Mark { time, text: "relief plugged by ice".to_owned() })
            .to_vec(),
    };
    assert!(says(&lay_out_night(&night(0.0)), "0 or below"));
    let sheet = lay_out_night(&night(30.0));
    assert!(!says(&sheet, "0 or below"));
    assert_legible(&sheet, "night");
    for l in sheet.label_boxes() {
        assert!(l.area.x0 >= look::MARGIN - 4.0 && l.area.x1 <= look::WIDTH - look::MARGIN + 4.0, "{l:?}");
    }
    // The highest curve stands between 2000 and 5000 psi: the name of the lifts stays above it.
    let middle = |text: &str| {
        let all = sheet.label_boxes();
        let found = all.iter().find(|l| l.text == text);
        found.map(|l| 0.5 * (l.area.y0 + l.area.y1)).expect("it is on the chart")
    };
    assert!(middle("lifts of the relief") < middle("2000"));
}

/// Equal ratios lie equally far apart: 1 half-way between 0.1 and 10, and round values at 1, 2, 5 of each decade.
#[test]
fn analytic_an_axis_by_ratio_puts_equal_ratios_equally_far_apart() {
    let axis = Axis::new(0.1, 10.0, 0.0, 200.0).by_ratio(true);
    assert!((axis.px(1.0) - 100.0).abs() < 1e-9 && (axis.px(5.0) - axis.px(0.5) - 100.0).abs() < 1e-9);
    let ticks = axis.ticks(7);
    let labels: Vec<String> = ticks.values.iter().map(|v| ticks.label(*v)).collect();
    assert_eq!(labels, ["0.1", "0.2", "0.5", "1", "2", "5", "10"]);
    assert!(axis.px(0.0).is_nan() && axis.px(-1.0).is_nan());
    // Less than a decade has ticks too; what is not above zero stays linear.
    assert!(Axis::new(2.1, 2.9, 0.0, 200.0).by_ratio(true).ticks(6).values.len() >= 2);
    assert!(!Axis::new(-1.0, 10.0, 0.0, 200.0).by_ratio(true).log);
}

#[test]
fn regress_charts_by_ratio_are_legible_and_a_share_of_nothing_is_0() {
    let mut map = helpers::map();
    map.ys = (0..map.ys.len()).map(|i| 0.05 * 1.2f64.powi(i as i32)).collect();
    map.log = [false, true];
    let mut multiples = helpers::multiples();
    multiples.log = [true, false];
    multiples.panels.iter_mut().flat_map(|p| &mut p.series).flat_map(|s| &mut s.points).for_each(|p| p.0 += 0.01);
    let mut curves = helpers::curves();
    for panel in &mut curves.panels {
        (panel.x_log, panel.dots) = (true, true);
        panel.verticals.clear();
        panel.series.iter_mut().flat_map(|s| &mut s.points).for_each(|p| p.0 += 0.01);
    }
    assert_legible(&lay_out_map(&map), "map");
    assert_legible(&lay_out_multiples(&multiples), "multiples");
    assert_legible(&lay_out_curves(&curves), "curves");
    let mut bars = helpers::bars();
    bars.bars[0].value = 0.0;
    bars.bars[0].range = None;
    assert!(says(&lay_out_bars(&bars), "0") && !says(&lay_out_bars(&bars), "0.00e0"));
}

/// Nights are counted: the axis had marks at half a night and at night 0.
#[test]
fn bug_an_axis_that_counts_is_marked_at_whole_numbers_only() {
    for nights in [1, 2, 3, 12, 40] {
        let points = (1..=nights).map(|n| (f64::from(n), 1.0)).collect();
        let series = vec![Series { label: "let out".to_owned(), points }];
        let panel = CurvePanel { x_name: "night".to_owned(), series, counted: true, ..CurvePanel::default() };
        let sheet = lay_out_curves(&CurvesPicture { panels: vec![panel], ..CurvesPicture::default() });
        // What stands below the plot, left of its foot, are the marks of the nights.
        let boxes = sheet.label_boxes();
        let name = boxes.iter().find(|l| l.text == "night").expect("a name").area;
        let marks: Vec<_> = boxes.iter().filter(|l| l.area.y1 < name.y0 + 4.0 && l.area.y1 > name.y0 - 24.0).collect();
        let marks: Vec<f64> = marks.iter().filter_map(|l| l.text.parse().ok()).collect();
        assert!(!marks.is_empty(), "{nights}");
        assert!(marks.iter().all(|m| m.fract() == 0.0 && *m >= 1.0 && *m <= f64::from(nights)), "{nights}: {marks:?}");
    }
}
