//! Symptoms as text and as a CSV table.

use super::{Faults, Tested, spill_resistant};
use crate::assembly::{Initial, Settings};
use crate::bench::{Came, Order, ReadingFigures, SymptomRow};
use crate::cli::problem::Problem;
use crate::cli::text::{end, wrapped};
use crate::error::Error;
use crate::units::{Kind, System, format, to_display, unit_symbol};
use std::path::PathBuf;

/// A reading in at most five characters: the recorded value, with a star where it does not mean what it should.
fn short(r: &ReadingFigures, system: System) -> String {
    let value = || {
        r.recorded_pa.map_or("-".to_owned(), |p| {
            let v = to_display(Kind::PressureDifference, p, system);
            // A step of the scale, 0.1 psi, is 0.7 kPa.
            if v < 99.95 { format!("{v:.1}") } else { format!("{v:.0}") }
        })
    };
    match r.came {
        Came::Read => value(),
        Came::ReadButLost => format!("{}*", value()),
        Came::DidNotOpen => "shut".to_owned(),
        Came::StoodOpen => "open".to_owned(),
        Came::Stalled => "stal".to_owned(),
        Came::GaveUp => "late".to_owned(),
        Came::NoSignal => "dead".to_owned(),
        Came::OverRange => "over".to_owned(),
        Came::NotRead => "-".to_owned(),
    }
}

/// The reading in words.
pub(super) fn reading(r: &ReadingFigures, system: System) -> String {
    match r.came {
        Came::DidNotOpen => "did not open".to_owned(),
        Came::StoodOpen => "stood open".to_owned(),
        Came::Stalled => "stalled".to_owned(),
        Came::GaveUp => "not bled down".to_owned(),
        Came::NoSignal => "no signal".to_owned(),
        Came::OverRange => "over range".to_owned(),
        _ => short(r, system),
    }
}

/// The result in one letter.
fn letter(row: &SymptomRow, resistant: bool) -> char {
    match row.symptoms.field_test.as_ref().map(|f| f.result) {
        Some("pass") if row.symptoms.deceives(resistant) => 'D',
        Some("pass") => 'p',
        Some("fail") => 'F',
        Some(_) => 'n',
        None => '?',
    }
}

/// The result in words.
pub(super) fn result(row: &SymptomRow, resistant: bool) -> &'static str {
    match letter(row, resistant) {
        'D' => "passes, not sound",
        'p' => "pass",
        'F' => "fail",
        'n' => "not testable",
        _ => "no result",
    }
}

pub(super) fn spill(row: &SymptomRow) -> String {
    match (row.symptoms.spill_m3, row.symptoms.spilling_at_end) {
        (_, Some(true)) => "no end".to_owned(),
        (Some(v), _) if v < 1e-8 => "none".to_owned(),
        (Some(v), _) => format(Kind::Volume, v, System::Us),
        _ => "-".to_owned(),
    }
}

fn order(row: &SymptomRow) -> &'static str {
    match row.symptoms.order {
        Some(Order::CheckFirst) => "check",
        Some(Order::AirInletFirst) => "air inlet",
        Some(Order::AirInletNeverClosed) => "vent open",
        Some(Order::CheckNeverOpened) => "check shut",
        None => "-",
    }
}

pub(super) fn fully(row: &SymptomRow) -> &'static str {
    match row.symptoms.field_test.as_ref().map(|f| f.air_inlet_fully_open) {
        Some(Some(true)) => "yes",
        Some(Some(false)) => "no",
        _ => "-",
    }
}

/// One fault: what is seen down, severities across.
pub(super) fn one(rows: &[SymptomRow], settings: &Settings, system: System) -> String {
    let resistant = spill_resistant(settings);
    let shown: Vec<&SymptomRow> = rows.iter().filter(|r| (4.0 * r.severity).fract() == 0.0).collect();
    // A hundredth of a pascal is nothing.
    let plain = |p: f64| format(Kind::PressureDifference, if p.abs() < 1.0 { 0.0 } else { p }, system);
    let pressure = |si: Option<f64>| si.map_or("-".to_owned(), plain);
    let mut grid: Vec<(&str, Vec<String>)> = Vec::new();
    let mut add = |name, cell: &dyn Fn(&SymptomRow) -> String| {
        grid.push((name, shown.iter().map(|r| cell(r)).collect()));
    };
    let field = |r: &SymptomRow, get: &dyn Fn(&crate::bench::FieldFigures) -> String| {
        r.symptoms.field_test.as_ref().map_or("-".to_owned(), get)
    };
    add("severity", &|r| format!("{}", r.severity));
    add("check, true", &|r| field(r, &|f| pressure(f.check.true_pa)));
    add("check, recorded", &|r| field(r, &|f| reading(&f.check, system)));
    add("air inlet, true", &|r| field(r, &|f| pressure(f.air_inlet.true_pa)));
    add("air inlet, recorded", &|r| field(r, &|f| reading(&f.air_inlet, system)));
    add("fully open", &|r| fully(r).to_owned());
    add("field test", &|r| result(r, resistant).to_owned());
    add("first at start-up", &|r| order(r).to_owned());
    add("spill at start-up", &spill);
    if shown.iter().any(|r| r.symptoms.sequence_margin_pa.is_some()) {
        add("sequence margin", &|r| pressure(r.symptoms.sequence_margin_pa));
    }
    let name = grid.iter().map(|(n, _)| n.chars().count()).max().unwrap_or(0);
    let width =
        |c: usize| grid.iter().filter_map(|(_, cells)| cells.get(c)).map(|s| s.chars().count()).max().unwrap_or(0);
    let mut out = String::new();
    for (title, cells) in &grid {
        let mut line = format!("  {title:name$}");
        for (c, cell) in cells.iter().enumerate() {
            line.push_str(&format!("  {cell:>w$}", w = width(c)));
        }
        out.push_str(line.trim_end());
        out.push('\n');
    }
    for row in &shown {
        let signs = signs(row);
        if !signs.is_empty() {
            out.push_str(&wrapped(&format!("seen at {}: {signs}", row.severity), 96, 2, 4));
        }
    }
    out
}

/// Everything else that is seen, and runs that came to no end.
fn signs(row: &SymptomRow) -> String {
    let mut all: Vec<String> = row.symptoms.signs().into_iter().map(str::to_owned).collect();
    if let Some(f) = &row.symptoms.field_test
        && !f.lost.is_empty()
    {
        let mut lost = f.lost.clone();
        lost.dedup();
        all.push(format!("reading without meaning ({})", lost.join(", ")));
    }
    all.extend(row.symptoms.not_completed.iter().cloned());
    all.join("; ")
}

/// Under which conditions the symptoms were worked out.
pub(super) fn condition_words(s: &Settings, system: System) -> Result<String, Error> {
    let show = |path: &str, kind: Kind| s.number(path).map(|v| format(kind, v, system));
    let s = &crate::bench::start_up_settings(s)?;
    let water = |space: &str| {
        s.initial(&format!("{space}.initial")).map(|i| match i {
            Initial::Empty => "empty".to_owned(),
            Initial::Brimful => "brimful".to_owned(),
            Initial::Volume(v) => format(Kind::Volume, v, system),
        })
    };
    let trapped = match s.optional_number("test.trapped_pressure")? {
        Some(p) => format(Kind::GaugePressure, p, system),
        None => "what service leaves".to_owned(),
    };
    Ok(format!(
        "friction {} check, {} air inlet; supply {}; start-up: zone 1 {}, zone 2 {}, shutoff 1 opened in {}; field test: one \
         try, sticking at its mean, bled at {} a second, lag {}, capsule {}, trapped pressure {trapped}",
        show("check.friction", Kind::PressureDifference)?,
        show("air_inlet.friction", Kind::PressureDifference)?,
        show("supply.pressure", Kind::GaugePressure)?,
        water("zone1")?,
        water("zone2")?,
        show("shutoff1.opening_time", Kind::Time)?,
        show("hand.bleed_rate", Kind::PressureDifference)?,
        show("gauge.lag", Kind::Time)?,
        show("gauge.capsule_compliance", Kind::Compliance)?,
    ))
}

pub(super) fn conditions(s: &Settings, system: System, columns: usize) -> Result<String, Error> {
    Ok(wrapped(&format!("As new: {}.", condition_words(s, system)?), columns, 2, 2))
}

/// All assemblies: a line a fault.
pub(super) fn tables(tested: &[Tested], args: &Faults, written: &[PathBuf], columns: usize) -> Result<String, Problem> {
    let system: System = args.shared.units.into();
    let unit = unit_symbol(Kind::PressureDifference, system);
    let mut out = format!(
        "Symptoms at severities 1/4, 1/2, 3/4 and 1 (computed). Readings as recorded, {unit}; *: what is read does not\n\
         mean what it should; shut: did not open; open: was never shut; stal: the needle stalled; late: not bled\n\
         down in time; dead: no signal; over: over range.\n\
         Result: p pass, F fail, n not testable, D passes and is not sound. Spill at start-up, severity 1.\n"
    );
    for t in tested {
        let resistant = spill_resistant(&t.settings);
        let name = t.rows.iter().map(|r| r.fault.name.len()).max().unwrap_or(0);
        out.push_str(&format!(
            "\n{}, {}\n  {:name$}  {:<23}  {:<23}  result  spill\n",
            t.settings.assembly(),
            t.settings.choice("size")?,
            "",
            "check",
            "air inlet"
        ));
        if let Some((new, f)) = t.rows.first().and_then(|r| Some((r, r.symptoms.field_test.as_ref()?))) {
            out.push_str(&format!(
                "  {:name$}  {:>5}{:<18}  {:>5}{:<18}  {}       {}\n",
                "as new",
                short(&f.check, system),
                "",
                short(&f.air_inlet, system),
                "",
                letter(new, resistant),
                spill(new)
            ));
        }
        for rows in t.rows.chunk_by(|a, b| a.fault.name == b.fault.name) {
            let Some(last) = rows.last() else { continue };
            let cells = |get: &dyn Fn(&crate::bench::FieldFigures) -> String| {
                rows.iter()
                    .filter(|r| r.severity > 0.0)
                    .map(|r| format!("{:>5}", r.symptoms.field_test.as_ref().map_or("-".to_owned(), get)))
                    .collect::<Vec<_>>()
                    .join(" ")
            };
            let letters: String = rows.iter().filter(|r| r.severity > 0.0).map(|r| letter(r, resistant)).collect();
            out.push_str(&format!(
                "  {:name$}  {:<23}  {:<23}  {letters}    {}\n",
                last.fault.name,
                cells(&|f| short(&f.check, system)),
                cells(&|f| short(&f.air_inlet, system)),
                spill(last)
            ));
        }
        out.push_str(&conditions(&t.settings, system, columns)?);
    }
    out.push_str(&end(written, &super::cautions(true), columns));
    Ok(out)
}

/// All rows as a table, SI, units in the header.
pub(super) fn csv(tested: &[Tested]) -> Result<Vec<u8>, Problem> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let encode = |e: csv::Error| Problem::Encode(e.to_string());
    writer
        .write_record([
            "assembly",
            "fault",
            "severity",
            "truth",
            "truth_si",
            "truth_unit",
            "check_true_pa",
            "check_recorded_pa",
            "air_inlet_true_pa",
            "air_inlet_recorded_pa",
            "air_inlet_fully_open",
            "result",
            "spill_m3",
            "spilling_at_end",
            "sequence_margin_pa",
        ])
        .map_err(encode)?;
    for (row, assembly) in tested.iter().flat_map(|t| t.rows.iter().map(|r| (r, t.settings.assembly()))) {
        let number = |v: Option<f64>| v.map_or(String::new(), |v| v.to_string());
        let truth = |v: Option<bool>| v.map_or(String::new(), |v| v.to_string());
        let (s, f) = (&row.symptoms, row.symptoms.field_test.as_ref());
        writer
            .write_record([
                assembly.to_owned(),
                row.fault.name.to_owned(),
                row.severity.to_string(),
                row.fault.truth.words().to_owned(),
                number(row.truth),
                row.truth.map_or(String::new(), |_| crate::study::si_symbol(row.fault.truth.kind())),
                number(f.and_then(|f| f.check.true_pa)),
                number(f.and_then(|f| f.check.recorded_pa)),
                number(f.and_then(|f| f.air_inlet.true_pa)),
                number(f.and_then(|f| f.air_inlet.recorded_pa)),
                truth(f.and_then(|f| f.air_inlet_fully_open)),
                f.map_or("", |f| f.result).to_owned(),
                number(s.spill_m3),
                truth(s.spilling_at_end),
                number(s.sequence_margin_pa),
            ])
            .map_err(encode)?;
    }
    writer.into_inner().map_err(|e| Problem::Encode(e.to_string()))
}
