//! From symptoms to charts.

use super::symptoms_text::{condition_words, fully, reading, result, spill};
use super::{Faults, Tested, spill_resistant};
use crate::bench::field::PASS;
use crate::bench::{Came, FieldFigures, ReadingFigures, SymptomRow};
use crate::charts::{
    CellMark, CurvePanel, CurvesPicture, MarkedCell, MarkedRow, MarkedTablePicture, Page, PointMark, Series, Sheet,
    lay_out_curves, lay_out_marked_table,
};
use crate::cli::caution::Caution;
use crate::cli::frame::typeset;
use crate::error::Error;
use crate::faults::Fault;
use crate::units::{Kind, System, format, to_display, unit_symbol};

/// Severity at which the table of symptoms is drawn.
const DRAWN_AT: f64 = 0.5;

fn page(title: String, subtitle: &str, tested: &Tested) -> Result<Page, Error> {
    let s = &tested.settings;
    let hash: String = s.sha256(env!("CARGO_PKG_VERSION")).chars().take(8).collect();
    Ok(Page {
        title,
        subtitle: typeset(subtitle),
        foot: vec![
            format!(
                "Assembly {}, {} (generic) · poppetry {} · inputs {hash}",
                s.assembly(),
                s.choice("size")?,
                env!("CARGO_PKG_VERSION")
            ),
            Caution::short().to_owned(),
        ],
    })
}

/// Readings against severity with the line of 1.0 psi, and spill below them.
pub(super) fn severity(fault: &Fault, tested: &Tested, args: &Faults) -> Result<Sheet, Error> {
    let system: System = args.shared.units.into();
    let show = |p: f64| to_display(Kind::PressureDifference, p, system);
    let series = |label: &str, get: &dyn Fn(&FieldFigures) -> Option<f64>| Series {
        label: label.to_owned(),
        points: tested
            .rows
            .iter()
            .map(|r| (r.severity, r.symptoms.field_test.as_ref().and_then(get).map_or(f64::NAN, show)))
            .collect(),
    };
    let all = vec![
        series("check, read", &|f| meant(&f.check)),
        series("air inlet, read", &|f| meant(&f.air_inlet)),
        series("check, true", &|f| f.check.true_pa),
        series("air inlet, true", &|f| f.air_inlet.true_pa),
    ];
    let unit = unit_symbol(Kind::PressureDifference, system);
    let spill = Series {
        label: "spill at start-up".to_owned(),
        points: tested
            .rows
            .iter()
            .map(|r| {
                // What goes on without end has no volume.
                let whole = r.symptoms.spill_m3.filter(|_| r.symptoms.spilling_at_end != Some(true));
                (r.severity, whole.map_or(f64::NAN, |v| to_display(Kind::Volume, seen_spill(v), system)))
            })
            .collect(),
    };
    // Drawn no lower than what has an end.
    let most = spill.points.iter().map(|p| p.1).filter(|v| v.is_finite()).fold(0.0, f64::max);
    let most = if most > 0.0 { most } else { 1.0 };
    let endless = severities(&tested.rows, |r| r.symptoms.spilling_at_end == Some(true));
    let pass = format!("{} passes", format(Kind::PressureDifference, PASS, system));
    let x_name = "severity, 0 as new to 1 the worst".to_owned();
    let picture = CurvesPicture {
        page: page(finding(fault, tested), &condition_words(&tested.settings, system)?, tested)?,
        panels: vec![
            CurvePanel {
                y_name: format!("reading, {unit} gauge"),
                x_name: x_name.clone(),
                series: all,
                points: silent(&tested.rows),
                horizontals: vec![(show(PASS), pass)],
                dots: true,
                ..CurvePanel::default()
            },
            CurvePanel {
                y_name: format!("spill, {}", unit_symbol(Kind::Volume, system)),
                x_name,
                series: vec![spill],
                points: endless
                    .into_iter()
                    .map(|(first, words)| PointMark { at: (first, most), text: format!("spills without end {words}") })
                    .collect(),
                horizontals: vec![(0.0, "nothing spills".to_owned())],
                dots: true,
                ..CurvePanel::default()
            },
        ],
    };
    Ok(lay_out_curves(&picture))
}

/// A reading that means what it should.
fn meant(r: &ReadingFigures) -> Option<f64> {
    r.reading_pa.filter(|_| r.came == Came::Read)
}

/// A fifth of a drop or less is no spill.
fn seen_spill(v: f64) -> f64 {
    if v < 1e-8 { 0.0 } else { v }
}

/// Where a part first gives no reading, or none that means anything, marked at the bottom of the chart.
fn silent(rows: &[SymptomRow]) -> Vec<PointMark> {
    let part = |name: &str, height: f64, get: &dyn Fn(&FieldFigures) -> &ReadingFigures| {
        let is = |r: &SymptomRow| r.symptoms.field_test.as_ref().is_some_and(|f| meant(get(f)).is_none());
        let (first, at) = (rows.iter().find(|r| is(r))?, severities(rows, is)?.1);
        let words = first.symptoms.field_test.as_ref().map(|f| match get(f).came {
            Came::ReadButLost => "what is read means nothing".to_owned(),
            _ => reading(get(f), System::Us),
        })?;
        Some(PointMark { at: (first.severity, height), text: format!("{name} {at}: {words}") })
    };
    [part("air inlet", 0.0, &|f| &f.air_inlet), part("check", 0.0, &|f| &f.check)].into_iter().flatten().collect()
}

/// The first severity at which something is so, and all of them in words; `None` if it nowhere is.
fn severities(rows: &[SymptomRow], is: impl Fn(&SymptomRow) -> bool) -> Option<(f64, String)> {
    let hits: Vec<usize> = (0..rows.len()).filter(|&k| rows.get(k).is_some_and(&is)).collect();
    let at = |k: usize| rows.get(k).map_or(f64::NAN, |r| r.severity);
    let (&first, &last) = (hits.first()?, hits.last()?);
    let words = match last - first + 1 == hits.len() {
        true if last + 1 == rows.len() && first < last => format!("from severity {} on", at(first)),
        true if first == last => format!("at severity {}", at(first)),
        true => format!("at severity {} to {}", at(first), at(last)),
        false => {
            let all: Vec<String> = hits.into_iter().map(|k| at(k).to_string()).collect();
            format!("at severity {}", all.join(", "))
        }
    };
    Some((at(first), words))
}

/// The finding as a sentence.
fn finding(fault: &Fault, tested: &Tested) -> String {
    let resistant = spill_resistant(&tested.settings);
    let at = |word: &str| severities(&tested.rows, |r| result(r, resistant) == word).map(|at| at.1);
    let on = format!("{} on {}", fault.name, tested.settings.assembly());
    let deceives = at("passes, not sound").map(|s| format!("passes {s} and is not sound"));
    let fails = at("fail").map(|s| format!("fails {s}"));
    let lost = at("not testable").map(|s| format!("cannot be tested {s}"));
    let parts: Vec<String> = [deceives, fails, lost].into_iter().flatten().collect();
    match parts.is_empty() {
        true => format!("{on}: passes at every severity"),
        false => format!("{on}: {}", parts.join(", ")),
    }
}

/// All faults that apply, what is seen across.
pub(super) fn symptoms(tested: &Tested, args: &Faults) -> Result<Sheet, Error> {
    let system: System = args.shared.units.into();
    let resistant = spill_resistant(&tested.settings);
    let as_new = tested.rows.first();
    let mut rows = Vec::new();
    if let Some(r) = as_new {
        rows.push(MarkedRow {
            name: "as new".to_owned(),
            cells: cells(r, r, resistant, system, "p p p p p"),
            ruled: false,
        });
    }
    let mut class = None;
    for group in tested.rows.chunk_by(|a, b| a.fault.name == b.fault.name) {
        let Some(row) = group.iter().find(|r| r.severity == DRAWN_AT).or(group.last()) else { continue };
        let letters: Vec<String> = group
            .iter()
            .map(|r| match result(r, resistant) {
                "pass" => "p",
                "fail" => "F",
                "not testable" => "n",
                "passes, not sound" => "D",
                _ => "?",
            })
            .map(str::to_owned)
            .collect();
        let ruled = class != Some(row.fault.class);
        class = Some(row.fault.class);
        let cells = cells(row, as_new.unwrap_or(row), resistant, system, &letters.join(" "));
        rows.push(MarkedRow { name: row.fault.name.to_owned(), cells, ruled });
    }
    let unit = unit_symbol(Kind::PressureDifference, system);
    let deceiving = rows.iter().filter(|r| r.cells.iter().any(|c| c.mark == CellMark::Deceiving)).count();
    let title = match deceiving {
        0 => format!("What each fault looks like on {} at severity {DRAWN_AT}", tested.settings.assembly()),
        n => format!(
            "On {} {n} of {} faults pass the field test at severity {DRAWN_AT} and are not sound",
            tested.settings.assembly(),
            rows.len().saturating_sub(1)
        ),
    };
    let column = |name: &str, share: f64| (name.to_owned(), share);
    let picture = MarkedTablePicture {
        page: page(title, &condition_words(&tested.settings, system)?, tested)?,
        columns: vec![
            column(&format!("check, {unit}"), 0.75),
            column(&format!("air inlet, {unit}"), 1.15),
            column("fully open", 0.6),
            column("field test", 1.6),
            column("severity 0 to 1", 0.95),
            column("spill at start", 0.85),
            column("seen besides (+ more)", 2.5),
        ],
        rows,
        key: [
            "differs from as new".to_owned(),
            "does not pass (F fail, n not testable, * means nothing)".to_owned(),
            "passes and is not sound (D)".to_owned(),
        ],
    };
    Ok(lay_out_marked_table(&picture))
}

fn cells(row: &SymptomRow, as_new: &SymptomRow, resistant: bool, system: System, letters: &str) -> Vec<MarkedCell> {
    let of = |r: &SymptomRow| -> Vec<String> {
        let field = |get: &dyn Fn(&FieldFigures) -> String| r.symptoms.field_test.as_ref().map_or("-".to_owned(), get);
        vec![
            field(&|f| reading(&f.check, system)),
            field(&|f| reading(&f.air_inlet, system)),
            fully(r).to_owned(),
            result(r, resistant).to_owned(),
            letters.to_owned(),
            spill(r),
            r.symptoms.signs().first().map_or(String::new(), |s| {
                let more = r.symptoms.signs().len() - 1;
                if more > 0 { format!("{s} +{more}") } else { (*s).to_owned() }
            }),
        ]
    };
    let bad = |k: usize| {
        row.symptoms.field_test.as_ref().is_some_and(|f| match k {
            0 => !f.check.pass || f.check.came == Came::ReadButLost,
            1 => !f.air_inlet.pass || f.air_inlet.came == Came::ReadButLost,
            2 => f.air_inlet_fully_open == Some(false),
            3 => f.result != "pass",
            _ => false,
        })
    };
    let deceives = row.symptoms.deceives(resistant);
    // A spill that differs by less than a twentieth is the same.
    let same_spill = match (row.symptoms.spill_m3, as_new.symptoms.spill_m3) {
        (Some(a), Some(b)) => {
            row.symptoms.spilling_at_end == as_new.symptoms.spilling_at_end && (a - b).abs() <= 0.05 * b.max(1e-7)
        }
        _ => false,
    };
    of(row)
        .into_iter()
        .zip(of(as_new))
        .enumerate()
        .map(|(k, (text, new))| MarkedCell {
            mark: match k {
                3 if deceives => CellMark::Deceiving,
                _ if bad(k) => CellMark::Bad,
                5 if same_spill => CellMark::Plain,
                _ if text != new => CellMark::Changed,
                _ => CellMark::Plain,
            },
            text,
        })
        .collect()
}
