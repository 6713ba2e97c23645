//! Rows as a CSV table: SI, the unit in each column's name.

use super::problem::Problem;
use serde::Serialize;

/// One row each; the header is the names of the rows' fields.
///
/// # Errors
/// [`Problem::Encode`] if the table cannot be formed.
pub(super) fn rows<T: Serialize>(rows: impl IntoIterator<Item = T>) -> Result<Vec<u8>, Problem> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    for row in rows {
        writer.serialize(row).map_err(|e| Problem::Encode(e.to_string()))?;
    }
    writer.into_inner().map_err(|e| Problem::Encode(e.to_string()))
}
