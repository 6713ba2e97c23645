//! A run as a CSV table: SI, the unit in each column's name.

use super::problem::Problem;
use crate::bench::Sample;

/// The samples of a run; the header is the names of [`Sample`]'s fields.
///
/// # Errors
/// [`Problem::Encode`] if the table cannot be formed.
pub(super) fn samples(samples: &[Sample]) -> Result<Vec<u8>, Problem> {
    let mut writer = csv::Writer::from_writer(Vec::with_capacity(200 * samples.len()));
    for sample in samples {
        writer.serialize(sample).map_err(|e| Problem::Encode(e.to_string()))?;
    }
    writer.into_inner().map_err(|e| Problem::Encode(e.to_string()))
}
