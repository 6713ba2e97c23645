//! A row as a line of a table or journal, and back.

use super::output::{Cell, number_text};
use super::plan::Level;
use super::run::Row;

/// Cells as a line of a CSV, without its end.
pub(super) fn csv_line<'a>(cells: impl Iterator<Item = &'a str>) -> String {
    let mut writer = csv::WriterBuilder::new().from_writer(Vec::new());
    // Writing to memory does not fail, and the text is ours.
    let _ = writer.write_record(cells);
    let bytes = writer.into_inner().unwrap_or_default();
    String::from_utf8(bytes).unwrap_or_default().trim_end_matches('\n').to_owned()
}

/// Number and point, as a row's line begins.
pub(super) fn begin(index: u64, point: &[Level]) -> String {
    let cells: Vec<String> = std::iter::once((index + 1).to_string()).chain(point.iter().map(level_text)).collect();
    csv_line(cells.iter().map(String::as_str))
}

fn level_text(level: &Level) -> String {
    match level {
        Level::Number(si) => number_text(*si),
        Level::Text(text) => text.split_whitespace().collect::<Vec<_>>().join(" "),
    }
}

/// A row as a line of the table, without its end.
pub fn row_line(row: &Row) -> String {
    let run = (row.index + 1).to_string();
    let cells: Vec<String> = std::iter::once(run)
        .chain(row.point.iter().map(level_text))
        .chain(row.cells.iter().map(Cell::text))
        .chain([row.failed.clone().unwrap_or_default()])
        .collect();
    csv_line(cells.iter().map(String::as_str))
}

/// Reads what [`row_line`] wrote; `None` if it is no such line.
pub fn read_row(line: &str, points: usize, columns: usize) -> Option<Row> {
    // Most lines hold nothing quoted; a reader made for one line costs more than all the rest of it.
    let record = match line.contains('"') {
        true => csv::ReaderBuilder::new().has_headers(false).from_reader(line.as_bytes()).records().next()?.ok()?,
        false => line.split(',').collect::<csv::StringRecord>(),
    };
    if record.len() != columns || columns < points + 2 {
        return None;
    }
    let mut cells = record.iter();
    let index = cells.next()?.parse::<u64>().ok()?.checked_sub(1)?;
    let point = cells
        .by_ref()
        .take(points)
        .map(|text| text.parse::<f64>().map_or_else(|_| Level::Text(text.to_owned()), Level::Number))
        .collect();
    let outputs = columns - points - 2;
    let values = cells.by_ref().take(outputs).map(Cell::read).collect();
    let failed = cells.next().filter(|reason| !reason.is_empty()).map(str::to_owned);
    Some(Row { index, point, cells: values, failed })
}

/// Number of the run that a line begins with.
pub(super) fn index_of(line: &str) -> Option<u64> {
    line.split(',').next()?.parse::<u64>().ok()?.checked_sub(1)
}
