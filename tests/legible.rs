//! Every chart the program draws of every built-in, read back from its file: words stand apart, inside the picture, large
//! enough and dark enough, and every picture says its finding, assembly and version.
#![allow(clippy::unwrap_used, clippy::panic)]

use poppetry::assembly::builtin::names;
use poppetry::charts::{Rect, look};
use std::fs;
use std::path::Path;

/// A text of an SVG with its box, in px.
#[derive(Debug)]
struct Word {
    text: String,
    area: Rect,
    size: f64,
    fill: String,
}

fn attribute<'a>(tag: &'a str, name: &str) -> Option<&'a str> {
    let start = tag.find(&format!(" {name}=\""))? + name.len() + 3;
    tag[start..].split('"').next()
}

/// All texts of an SVG as our charts write them: tenths of a pixel, baseline 0.76 em below y.
fn words(svg: &str) -> Vec<Word> {
    let number = |tag: &str, name: &str| attribute(tag, name).unwrap().parse::<f64>().unwrap() / 10.0;
    svg.split("<text")
        .skip(1)
        .map(|rest| {
            let (tag, rest) = rest.split_once('>').unwrap();
            let text = rest.split("</text>").next().unwrap().trim();
            let text = ["&lt;", "&gt;", "&quot;", "&apos;", "&amp;"]
                .iter()
                .zip(["<", ">", "\"", "'", "&"])
                .fold(text.to_owned(), |t, (e, c)| t.replace(e, c));
            let size = number(tag, "font-size");
            let (x, baseline) = (number(tag, "x"), number(tag, "y") + 0.76 * size);
            let wide = look::text_width(&text, size, tag.contains("bold"));
            // Letters reach 0.73 em up (capitals) and 0.24 em down.
            let area = Rect::new(x, baseline - 0.73 * size, x + wide, baseline + 0.23 * size);
            Word { text, area, size, fill: attribute(tag, "fill").unwrap().to_owned() }
        })
        .collect()
}

/// Relative luminance of WCAG 2.1.
fn luminance(colour: &str) -> f64 {
    let channel = |i: usize| {
        let c = f64::from(u8::from_str_radix(&colour[i..i + 2], 16).unwrap()) / 255.0;
        if c <= 0.03928 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
    };
    0.2126 * channel(1) + 0.7152 * channel(3) + 0.0722 * channel(5)
}

fn assert_legible(file: &Path) {
    let svg = fs::read_to_string(file).unwrap();
    let name = file.display();
    let head = svg.lines().next().unwrap();
    let size = |of: &str| attribute(head, of).unwrap().parse::<f64>().unwrap();
    let canvas = Rect::new(0.0, 0.0, size("width"), size("height"));
    let words = words(&svg);
    assert!(words.len() > 10, "{name}");
    for (i, a) in words.iter().enumerate() {
        assert!(canvas.holds(&a.area), "{name}: {a:?} leaves the picture");
        let badge = a.text.parse::<u32>().is_ok();
        // 10 pt is 13.3 px of a picture 1200 px wide.
        assert!(a.size >= 13.3 || badge, "{name}: {a:?} is too small");
        assert!(!a.text.ends_with('…'), "{name}: {a:?} is cut");
        assert!(
            badge || (luminance("#FFFFFF") + 0.05) / (luminance(&a.fill) + 0.05) >= 7.0,
            "{name}: {a:?} is too pale"
        );
        for b in &words[i + 1..] {
            assert!(!a.area.meets(&b.area), "{name}: {a:?} overlaps {b:?}");
        }
    }
    let says = |part: &str| words.iter().any(|w| w.text.contains(part));
    assert!(says("Assembly ") && says(&format!("poppetry {}", env!("CARGO_PKG_VERSION"))), "{name}");
    assert!(words[0].size > 20.0 && words[0].text.split(' ').count() > 3, "{name}: no finding at the top");
}

fn drawn(args: &[&str]) {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let status = poppetry::cli::run(std::iter::once("poppetry").chain(args.iter().copied()), &mut out, &mut err, 96);
    assert_eq!(status, 0, "{args:?}: {}", String::from_utf8_lossy(&err));
}

#[test]
fn practice_words_stand_apart_in_every_chart_of_every_built_in() {
    let dir = tempfile::tempdir().unwrap();
    let file = |name: &str| dir.path().join(name).to_string_lossy().into_owned();
    for (assembly, _) in names() {
        for (units, more) in [("us", "zone2.initial=empty"), ("si", "zone2.initial=brimful")] {
            let chart = |name: &str| format!("{name}={}", file(&format!("{assembly}-{units}-{name}.svg")));
            let (sequence, strip, frames) = (chart("sequence"), chart("strip"), chart("frames"));
            let own = ["--assembly", assembly, "--units", units, "--set", more, "--quiet"];
            let charts = ["--chart", &sequence, "--chart", &strip, "--chart", &frames];
            drawn(&[&["sequence"][..], &own, &charts].concat());
            drawn(&[&["curves"][..], &own, &["--chart", &chart("curves")]].concat());
        }
    }
    let two = ["sequence", "--against", "svb-diaphragm", "--quiet"];
    drawn(&[&two[..], &["--chart", &format!("strip={}", file("two.svg"))]].concat());
    drawn(&[&two[..], &["--chart", &format!("frames={}", file("two-frames.svg")), "--units", "si"]].concat());
    let all = ["--against", "pvb-relief", "--against", "svb-stem", "--against", "pvb-elastomer"];
    drawn(&[&two[..], &all, &["--chart", &format!("strip={}", file("all.svg"))]].concat());
    drawn(&[&two[..], &all[..2], &["--chart", &format!("frames={}", file("f.svg"))]].concat());
    let mut seen = 0;
    for entry in fs::read_dir(dir.path()).unwrap() {
        assert_legible(&entry.unwrap().path());
        seen += 1;
    }
    assert_eq!(seen, 10 * (1 + 1 + 60 + 1) + 1 + 60 + 1 + 60);
}

/// The charts of the other commands, on a pressure type and a spill-resistant one, in both systems of units.
#[test]
fn practice_words_stand_apart_in_the_charts_of_every_other_command() {
    let dir = tempfile::tempdir().unwrap();
    let file = |name: &str| dir.path().join(name).to_string_lossy().into_owned();
    let commands: [(&[&str], &[&str]); 6] = [
        (&["field-test"], &["needle"]),
        (&["freeze", "--set", "night.count=3", "--set", "relief.place=zone2"], &["night", "nights"]),
        (&["relief", "--grid", "6"], &["window", "grid", "peak"]),
        (&["siphon", "--set", "check.foul_area=20 mm2"], &["run", "back", "foul"]),
        (&["surge", "--set", "shutoff2.open=false"], &["time", "line"]),
        (&["faults", "check-spring-weak"], &["severity"]),
    ];
    let mut expected = 0;
    for (assembly, units) in [("pvb-spring", "us"), ("svb-diaphragm", "si")] {
        for (command, charts) in commands {
            let asked: Vec<String> = charts
                .iter()
                .map(|chart| format!("{chart}={}", file(&format!("{assembly}-{}-{chart}.svg", command[0]))))
                .collect();
            let mut args = [command, &["--assembly", assembly, "--units", units, "--quiet"]].concat();
            for chart in &asked {
                args.extend(["--chart", chart]);
            }
            drawn(&args);
            expected += charts.len();
        }
    }
    let study = ["sweep", "--vary", "check.load=0.9:2.4:9 psi", "--vary", "air_inlet.load=0.8:2.4:9 psi", "--quiet"];
    let table = tempfile::tempdir().unwrap();
    let table = table.path().join("t.csv").to_string_lossy().into_owned();
    let map = format!("map={}", file("sweep-map.svg"));
    drawn(&[&study[..], &["--record", "sequence.order", "--chart", &map, "--csv", &table]].concat());
    for entry in fs::read_dir(dir.path()).unwrap() {
        assert_legible(&entry.unwrap().path());
    }
    assert_eq!(fs::read_dir(dir.path()).unwrap().count(), expected + 1);
}
