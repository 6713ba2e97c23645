//! The chart of `sequence`: layout, formats, and data nobody should feed it.

// The lint spares test functions only; a helper that expects in vain is a failed test all the same.
#![allow(clippy::expect_used)]

#[path = "charts/pictures.rs"]
mod pictures;

use std::path::Path;

use plotters::style::RGBColor;
use poppetry::charts::{
    Axis, ChartError, LabelBox, Lane, Mark, Phase, Rect, SequencePicture, Trace, action_window, decimated,
    draw_sequence, lay_out_sequence, look,
};

const CANVAS: Rect = Rect::new(0.0, 0.0, look::WIDTH, look::HEIGHT);

fn assert_legible(labels: &[LabelBox], name: &str) {
    for (i, a) in labels.iter().enumerate() {
        assert!(CANVAS.holds(&a.area), "{name}: {a:?} leaves the canvas");
        assert!(a.size >= 14.0 || a.text.parse::<u32>().is_ok(), "{name}: {a:?} is too small");
        for b in labels.iter().skip(i + 1) {
            assert!(!a.area.meets(&b.area), "{name}: {a:?} overlaps {b:?}");
        }
    }
}

/// A fixed sequence of numbers (multiplier and increment from Knuth's MMIX generator, from memory).
struct Numbers(u64);

impl Numbers {
    fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }
    fn below(&mut self, n: usize) -> usize {
        (self.unit() * n as f64) as usize
    }
    fn words(&mut self, most: usize) -> String {
        let words =
            ["zone", "check", "inlet", "Wg&<>", "0", "backpressure", "über", "Δp", "\"quoted\"", "mmmmmmmmmmmm"];
        (0..=self.below(most)).map(|_| words[self.below(words.len())]).collect::<Vec<_>>().join(" ")
    }
    fn trace(&mut self, samples: usize) -> Trace {
        let (size, rate) = (10f64.powf(8.0 * self.unit() - 4.0), 30.0 * self.unit());
        let shift = self.unit() - 0.3;
        let wave = |i: usize| size * ((rate * i as f64 / samples as f64).sin() + shift);
        Trace { label: self.words(3), values: (0..samples).map(wave).collect() }
    }
    fn picture(&mut self) -> SequencePicture {
        let (samples, span) = (2 + self.below(900), 10f64.powf(6.0 * self.unit() - 3.0));
        let lanes = (0..self.below(9)).map(|_| {
            let start = span * self.unit().powi(6);
            let end = start + (span - start) * self.unit();
            let spans = vec![(0.0, start, Phase::Sealed), (start, end, Phase::Moving), (end, span, Phase::Open)];
            Lane { part: self.words(2), spans, first_move: (self.unit() > 0.2).then_some(start) }
        });
        let lanes = lanes.collect();
        let given = self.unit() > 0.7;
        SequencePicture {
            title: self.words(40),
            subtitle: self.words(60),
            foot: (0..self.below(6)).map(|_| self.words(30)).collect(),
            time: (0..samples).map(|i| span * i as f64 / samples as f64).collect(),
            lanes,
            pressures: (0..self.below(8)).map(|_| self.trace(samples)).collect(),
            pressure_unit: "kPa".into(),
            levels: Vec::new(),
            travels: (0..self.below(6)).map(|_| self.trace(samples)).collect(),
            travel_unit: self.words(20),
            vent_flow: self.trace(samples),
            flow_unit: "L/s".into(),
            vent_volume: self.trace(samples),
            volume_unit: "mL".into(),
            marks: (0..self.below(9)).map(|_| Mark { time: span * self.unit(), text: self.words(5) }).collect(),
            window: if given { (0.1 * span, 0.4 * span) } else { (0.0, 0.0) },
        }
    }
}

fn labels(picture: &SequencePicture) -> Vec<LabelBox> {
    lay_out_sequence(picture).0.label_boxes()
}

/// Reads an SVG as tags and text; fails where a tag is not closed or a character is not escaped.
fn texts_of_well_formed(svg: &str) -> Vec<String> {
    let (mut open, mut texts) = (Vec::new(), Vec::new());
    let mut rest = svg.trim();
    while let Some(after) = rest.strip_prefix('<') {
        let end = after.find('>').expect("a tag ends");
        let (tag, next) = (&after[..end], &after[end + 1..]);
        assert!(!tag.contains('<') && tag.matches('"').count() % 2 == 0, "tag {tag:?}");
        if let Some(name) = tag.strip_prefix('/') {
            assert_eq!(open.pop(), Some(name.to_string()));
        } else if !tag.ends_with('/') {
            open.push(tag.split_whitespace().next().expect("a tag has a name").to_string());
        }
        let stop = next.find('<').unwrap_or(next.len());
        let text = next[..stop].trim();
        for (at, _) in text.match_indices('&') {
            assert!(["&lt;", "&gt;", "&amp;", "&quot;", "&apos;"].iter().any(|e| text[at..].starts_with(e)), "{text}");
        }
        assert!(!text.contains(|c: char| c.is_control() || c == '>'), "{text:?}");
        if !text.is_empty() {
            let plain = text.replace("&lt;", "<").replace("&gt;", ">").replace("&quot;", "\"").replace("&apos;", "'");
            texts.push(plain.replace("&amp;", "&"));
        }
        rest = &next[stop..];
    }
    assert!(open.is_empty() && rest.is_empty(), "left over: {open:?} {rest:?}");
    texts
}

#[test]
fn regress_no_label_overlaps_or_leaves_the_canvas() {
    for (name, picture) in
        [("pvb", pictures::pvb(3000)), ("svb", pictures::svb(3000, false)), ("svb-spill", pictures::svb(3000, true))]
    {
        let (sheet, ..) = lay_out_sequence(&picture);
        assert_legible(&sheet.label_boxes(), name);
        assert!(sheet.dropped().is_empty(), "{name}: {:?}", sheet.dropped());
    }
}

#[test]
fn regress_no_label_overlaps_in_thirty_arbitrary_pictures() {
    let mut numbers = Numbers(20);
    for i in 0..30 {
        let picture = numbers.picture();
        assert_legible(&labels(&picture), &format!("picture {i}"));
    }
}

#[test]
fn regress_svg_is_well_formed_and_says_all_labels() {
    let dir = tempfile::tempdir().unwrap();
    let mut numbers = Numbers(7);
    let all = [pictures::pvb(3000), pictures::svb(3000, true)].into_iter().chain((0..10).map(|_| numbers.picture()));
    for picture in all {
        let path = dir.path().join("a.svg");
        let drawn = draw_sequence(&picture, &path).unwrap();
        let texts = texts_of_well_formed(&std::fs::read_to_string(&path).unwrap());
        let expected: Vec<_> = drawn.label_boxes().iter().map(|l| l.text.clone()).collect();
        assert_eq!(texts, expected);
    }
    let said = labels(&pictures::svb(3000, true)).into_iter().map(|l| l.text).collect::<Vec<_>>();
    for part in
        ["shutoff 1", "check", "air inlet", "zone 1", "zone 2", "supply line", "0.1006 s", "100.6 ms", "time (s)"]
    {
        assert!(said.iter().any(|s| s == part), "{part} is missing from {said:?}");
    }
}

#[test]
fn regress_png_paints_each_text_inside_its_measured_box() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("a.png");
    let drawn = draw_sequence(&pictures::pvb(3000), &path).unwrap();
    let image = image::open(&path).unwrap().to_luma8();
    assert_eq!((image.width(), image.height()), (1200, 1000));
    let darkest = |x0: f64, y0: f64, x1: f64, y1: f64| {
        let (xs, ys) = (x0.ceil() as u32..x1 as u32, y0.ceil() as u32..y1 as u32);
        xs.flat_map(|x| ys.clone().map(move |y| (x, y))).map(|(x, y)| image.get_pixel(x, y).0[0]).min().unwrap_or(255)
    };
    let mut free = 0;
    for LabelBox { text, area: a, size } in drawn.label_boxes() {
        assert!(darkest(a.x0, a.y0, a.x1, a.y1) < 110, "{text}: nothing painted");
        // Title, subtitle and foot stand on bare paper: around their boxes there must be none of them.
        if *size == look::FOOT || *size == look::TITLE || *size == look::SUBTITLE {
            free += 1;
            assert_eq!(darkest(a.x1, a.y0, a.x1 + 8.0, a.y1), 255, "{text}: runs out of its box");
            assert_eq!(darkest(a.x0 - 8.0, a.y0, a.x0, a.y1), 255, "{text}: starts before its box");
        }
    }
    assert!(free >= 4);
}

/// Advance widths of DejaVu Sans 2.37, `hmtx` table (2048 units per em): digits 1303, space 651 (from memory).
#[test]
fn ref_text_width_follows_the_advance_widths_of_the_font() {
    assert!((look::text_width("0123456789", 16.0, false) - 16.0 * 13030.0 / 2048.0).abs() < 0.01);
    assert!((look::text_width("0 0", 20.0, false) - 20.0 * (2.0 * 1303.0 + 651.0) / 2048.0).abs() < 0.01);
}

/// Contrast ratio of WCAG 2.1 (relative luminance of sRGB): 7 for text (level AAA), 3 for graphics (1.4.11).
#[test]
fn ref_text_and_lines_have_the_contrast_wcag_asks_for() {
    let linear = |c: u8| {
        let c = f64::from(c) / 255.0;
        if c <= 0.03928 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
    };
    let luminance = |c: RGBColor| 0.2126 * linear(c.0) + 0.7152 * linear(c.1) + 0.0722 * linear(c.2);
    let contrast = |a: RGBColor, b: RGBColor| {
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    };
    // The definition gives 21 for black on white.
    assert!((contrast(RGBColor(0, 0, 0), RGBColor(255, 255, 255)) - 21.0).abs() < 1e-9);
    for ground in [look::PAPER, look::INSET, look::SEALED, look::OPEN, look::WASH] {
        assert!(contrast(look::INK, ground) >= 7.0, "{ground:?}");
    }
    assert!(contrast(look::SOFT_INK, look::PAPER) >= 7.0 && contrast(look::SOFT_INK, look::INSET) >= 7.0);
    for colour in look::COLOURS {
        assert!(contrast(colour, look::PAPER) >= 3.0, "{colour:?}");
    }
    assert!(contrast(look::HATCH, look::MOVING) >= 3.0);
}

#[test]
fn regress_close_first_movements_are_magnified() {
    let (_, _, zoom) = lay_out_sequence(&pictures::svb(3000, false));
    let (from, to) = zoom.unwrap();
    assert!(from < 0.0995 && to > 0.1006 && to - from < 0.01, "{from} to {to}");
    assert_eq!(lay_out_sequence(&pictures::pvb(3000)).2, None);
}

#[test]
fn regress_only_known_zeros_are_called_none() {
    let says_none = |p: &SequencePicture| labels(p).iter().any(|l| l.text.ends_with(": none"));
    let mut picture = pictures::svb(300, false);
    assert!(says_none(&picture));
    picture.vent_volume.values[299] = 1e-9;
    assert!(!says_none(&picture));
    picture.vent_volume.values[299] = f64::NAN;
    assert!(!says_none(&picture));
    (picture.vent_flow.values, picture.vent_volume.values) = (vec![], vec![]);
    assert!(!says_none(&picture));
}

#[test]
fn analytic_window_ends_soon_after_the_last_change() {
    let mut picture = pictures::pvb(3000);
    picture.marks.clear();
    picture.lanes.clear();
    for trace in picture.pressures.iter_mut().chain(&mut picture.travels) {
        trace.values = picture.time.iter().map(|t| if *t < 0.5 { 0.0 } else { 1.0 }).collect();
    }
    // The step ends at 0.5 s and the flow before it; 12 % of rest follow, and samples are 1 ms apart.
    let (from, to) = action_window(&picture);
    assert!(from == 0.0 && (to - 0.56).abs() < 0.002, "{to}");
    picture.window = (0.2, 0.3);
    assert_eq!(lay_out_sequence(&picture).1, (0.2, 0.3));
}

#[test]
fn analytic_thinned_curve_keeps_spikes_and_is_short() {
    let time: Vec<f64> = (0..100_000).map(|i| i as f64 * 1e-5).collect();
    let mut values = vec![1.0; time.len()];
    (values[31_415], values[62_831]) = (9.0, -9.0);
    let (x, y) = (Axis::new(0.0, 1.0, 100.0, 1000.0), Axis::new(-10.0, 10.0, 500.0, 100.0));
    let runs = decimated(&time, &values, &x, &y);
    let points = runs.concat();
    assert!(runs.len() == 1 && points.len() <= 4 * 901, "{} points", points.len());
    assert!(points.contains(&(x.px(time[31_415]), y.px(9.0))) && points.contains(&(x.px(time[62_831]), y.px(-9.0))));
    // A straight line across the whole window is cut where it crosses the window's edges.
    let (x, y) = (Axis::new(1.0, 3.0, 0.0, 200.0), Axis::new(0.0, 4.0, 400.0, 0.0));
    assert_eq!(decimated(&[0.0, 4.0], &[0.0, 4.0], &x, &y), vec![vec![(0.0, 300.0), (200.0, 100.0)]]);
}

#[test]
fn regress_nasty_data_does_not_panic() {
    let dir = tempfile::tempdir().unwrap();
    let odd = [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, f64::MAX, f64::MIN, f64::MIN_POSITIVE, 0.0, -0.0, 1e-300];
    let mut cases = vec![pictures::pvb(2)];
    for value in odd {
        for n in [0, 1, 2, 50] {
            let mut p = pictures::svb(60, true);
            p.time.truncate(n);
            cases.push(p.clone());
            p.time.iter_mut().step_by(2).for_each(|t| *t = value);
            cases.push(p);
        }
        let mut p = pictures::pvb(60);
        for values in p.pressures.iter_mut().chain(&mut p.travels).map(|t| &mut t.values) {
            values.iter_mut().step_by(3).for_each(|v| *v = value);
        }
        p.vent_flow.values = vec![value; 60];
        p.vent_volume.values.truncate(7);
        cases.push(p.clone());
        p.lanes[0].first_move = Some(value);
        p.lanes[1].spans = vec![(value, 0.2, Phase::Moving), (0.3, value, Phase::Open), (0.5, 0.1, Phase::Sealed)];
        p.lanes[2].spans.clear();
        p.marks[0].time = value;
        p.window = (value, -value);
        cases.push(p.clone());
        p.window = (0.0, value);
        cases.push(p.clone());
        p.window = (1.0, 1.0 + f64::EPSILON);
        cases.push(p);
    }
    let mut p = pictures::pvb(60);
    p.title = "\u{0}\u{7}<b>&\n".repeat(400);
    p.foot = vec!["x".repeat(100_000); 40];
    p.lanes = vec![p.lanes[1].clone(); 60];
    p.pressures = vec![p.pressures[0].clone(); 40];
    p.marks = vec![p.marks[0].clone(); 200];
    cases.push(p);
    let empty = Trace { label: String::new(), values: vec![] };
    let mut p = pictures::pvb(60);
    (p.lanes, p.pressures, p.travels, p.marks, p.foot) = (vec![], vec![], vec![], vec![], vec![]);
    (p.vent_flow, p.vent_volume, p.title, p.subtitle) = (empty.clone(), empty, String::new(), String::new());
    p.time.reverse();
    cases.push(p);
    for (i, picture) in cases.iter().enumerate() {
        assert_legible(&labels(picture), &format!("case {i}"));
        let drawn = draw_sequence(picture, &dir.path().join("a.svg")).unwrap();
        texts_of_well_formed(&std::fs::read_to_string(&drawn.path).unwrap());
        draw_sequence(picture, &dir.path().join("a.png")).unwrap();
    }
}

#[test]
fn regress_other_endings_are_refused_with_those_offered() {
    let dir = tempfile::tempdir().unwrap();
    for name in ["a.pdf", "a", "a.jpeg", "svg"] {
        let error = draw_sequence(&pictures::pvb(60), &dir.path().join(name)).unwrap_err();
        assert!(matches!(error, ChartError::Format { .. }), "{error:?}");
        let says = error.to_string();
        assert!(says.contains(name) && says.contains(".svg") && says.contains(".png"), "{says}");
    }
    assert_eq!(std::fs::read_dir(dir.path()).unwrap().count(), 0);
    draw_sequence(&pictures::pvb(60), &dir.path().join("A.SVG")).unwrap();
}

#[test]
fn regress_a_refused_write_leaves_nothing_behind() {
    let dir = tempfile::tempdir().unwrap();
    let picture = pictures::pvb(60);
    std::fs::create_dir(dir.path().join("taken.png")).unwrap();
    let taken = draw_sequence(&picture, &dir.path().join("taken.png")).unwrap_err();
    assert!(matches!(taken, ChartError::IsDirectory { .. }) && taken.to_string().contains("taken.png"), "{taken}");
    let lost = draw_sequence(&picture, &dir.path().join("no/such/a.png")).unwrap_err();
    assert!(matches!(lost, ChartError::NoParent { .. }) && lost.to_string().contains("no/such"), "{lost}");
    std::fs::write(dir.path().join("file"), "x").unwrap();
    assert!(draw_sequence(&picture, &dir.path().join("file/a.svg")).is_err());
    let mut left: Vec<_> = std::fs::read_dir(dir.path()).unwrap().map(|e| e.unwrap().file_name()).collect();
    left.sort();
    assert_eq!(left, ["file", "taken.png"]);
    assert!(draw_sequence(&picture, Path::new("")).is_err() && draw_sequence(&picture, Path::new("..")).is_err());
}

#[test]
fn regress_a_second_chart_replaces_the_first() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("a.svg");
    std::fs::write(&path, "old ".repeat(1_000_000)).unwrap();
    draw_sequence(&pictures::pvb(60), &path).unwrap();
    texts_of_well_formed(&std::fs::read_to_string(&path).unwrap());
    assert_eq!(std::fs::read_dir(dir.path()).unwrap().count(), 1);
}

/// Pressures that decide are a few psi in a chart whose surge goes far beyond: they have a panel of their own, and only then.
#[test]
fn regress_pressures_that_decide_are_magnified_where_the_surge_dwarfs_them() {
    let mut picture = pictures::pvb(3000);
    let heading = "Gauge pressure, magnified: what decides the order (psi)";
    let says = |p: &SequencePicture, text: &str| labels(p).iter().any(|l| l.text == text);
    picture.pressure_unit = "psi".to_owned();
    assert!(!says(&picture, heading));
    picture.levels = vec![(1.55, "check lifts: 1.55 psi".to_owned()), (3.1, "inlet shut: 3.10 psi".to_owned())];
    assert!(
        says(&picture, heading) && says(&picture, "check lifts: 1.55 psi") && says(&picture, "inlet shut: 3.10 psi")
    );
    assert!(lay_out_sequence(&picture).0.dropped().is_empty());
    picture.levels[1].0 = 1e4;
    assert!(!says(&picture, heading));
}
