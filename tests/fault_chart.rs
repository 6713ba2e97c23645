//! The marked table: layout, and data nobody should feed it.
#![allow(clippy::unwrap_used)] // a test stops where it fails

use poppetry::charts::{
    CellMark, MarkedCell, MarkedRow, MarkedTablePicture, Page, Rect, Sheet, encode_sheet, lay_out_marked_table, look,
};
use std::path::Path;

fn cell(text: &str, mark: CellMark) -> MarkedCell {
    MarkedCell { text: text.into(), mark }
}

fn picture(rows: usize) -> MarkedTablePicture {
    let row = |k: usize| MarkedRow {
        name: format!("inlet-stiff-and-sticking-{k}"),
        cells: vec![
            cell("0.9", CellMark::Bad),
            cell("did not open", CellMark::Bad),
            cell("no", CellMark::Changed),
            cell("passes, not sound", CellMark::Deceiving),
            cell("p p F F D", CellMark::Plain),
            cell("57.8 mL", CellMark::Plain),
            cell("needle falls faster than bled +2", CellMark::Changed),
        ],
        ruled: k % 10 == 3,
    };
    MarkedTablePicture {
        page: Page {
            title: "On pvb-spring 5 of 45 faults pass the field test at severity 0.5 and are not sound".into(),
            subtitle: "friction 0.05 psi; supply 60 psi; bled at 0.15 psi a second".into(),
            foot: vec!["Assembly pvb-spring · poppetry".into(), "Caution: not a test result.".into()],
        },
        columns: [
            ("check, psi", 0.75),
            ("air inlet, psi", 1.15),
            ("fully open", 0.6),
            ("field test", 1.6),
            ("severity 0 to 1", 0.95),
            ("spill at start", 0.85),
            ("seen besides (+ more)", 2.5),
        ]
        .map(|(name, share)| (name.to_owned(), share))
        .to_vec(),
        rows: (0..rows).map(row).collect(),
        key: ["differs from as new", "does not pass", "passes and is not sound"].map(str::to_owned),
    }
}

fn legible(sheet: &Sheet) {
    let canvas = Rect::new(0.0, 0.0, sheet.width(), sheet.height());
    let labels = sheet.label_boxes();
    for (i, a) in labels.iter().enumerate() {
        assert!(canvas.holds(&a.area), "{a:?} leaves the canvas");
        assert!(a.size >= look::FOOT, "{a:?} is too small");
        for b in labels.iter().skip(i + 1) {
            assert!(!a.area.meets(&b.area), "{a:?} overlaps {b:?}");
        }
    }
}

#[test]
fn regress_every_cell_stands_in_its_place_and_none_is_dropped_or_cut() {
    let sheet = lay_out_marked_table(&picture(45));
    legible(&sheet);
    assert!(sheet.dropped().is_empty(), "{:?}", sheet.dropped());
    let labels = sheet.label_boxes();
    assert!(!labels.iter().any(|l| l.text.ends_with('…')));
    // 45 rows of a name and seven cells.
    assert_eq!(labels.iter().filter(|l| l.text == "passes, not sound").count(), 45);
    assert_eq!(labels.iter().filter(|l| l.text == "p p F F D").count(), 45);
}

#[test]
fn regress_odd_data_is_laid_out_without_a_panic() {
    for (rows, shares) in [(0, 1.0), (1, f64::NAN), (3, 0.0), (500, -1.0), (2, f64::INFINITY)] {
        let mut p = picture(rows);
        p.columns.iter_mut().for_each(|c| c.1 *= shares);
        if let Some(row) = p.rows.first_mut() {
            row.name = "x".repeat(5000);
            row.cells.push(cell(&"\u{1b}long ".repeat(300), CellMark::Bad));
        }
        let sheet = lay_out_marked_table(&p);
        for ending in ["a.svg", "a.png"] {
            assert!(!encode_sheet(&sheet, Path::new(ending)).unwrap().is_empty());
        }
    }
    assert!(lay_out_marked_table(&picture(500)).dropped().len() >= 420);
    assert!(
        !encode_sheet(&lay_out_marked_table(&MarkedTablePicture::default()), Path::new("a.svg")).unwrap().is_empty()
    );
}
