//! Reading a user's file as text, whatever it turns out to be.

use crate::error::{Error, FileProblem};
use std::fs::{self, File};
use std::io::{ErrorKind, Read};
use std::path::Path;

/// Largest file that is read, bytes.
pub const LIMIT: u64 = 10 * 1024 * 1024;

/// The text of a file, without a byte order mark.
///
/// # Errors
/// [`Error::File`]: missing, a directory, empty, above [`LIMIT`], not UTF-8, or the system's own reason.
pub fn text(path: &Path) -> Result<String, Error> {
    let fail = |problem| Error::File { path: path.to_path_buf(), named_by: None, problem };
    let io = |e: std::io::Error| {
        fail(match e.kind() {
            ErrorKind::NotFound => FileProblem::NotFound,
            ErrorKind::IsADirectory => FileProblem::IsDirectory,
            _ => FileProblem::Io(e.to_string()),
        })
    };
    let about = fs::metadata(path).map_err(io)?;
    if about.is_dir() {
        return Err(fail(FileProblem::IsDirectory));
    }
    if about.len() > LIMIT {
        return Err(fail(FileProblem::TooLarge { bytes: Some(about.len()), limit: LIMIT }));
    }
    let mut bytes = Vec::new();
    // A device or pipe has no length beforehand, so the reading itself is bounded too.
    let read = File::open(path).map_err(io)?.take(LIMIT + 1).read_to_end(&mut bytes).map_err(io)?;
    if read as u64 > LIMIT {
        return Err(fail(FileProblem::TooLarge { bytes: None, limit: LIMIT }));
    }
    let text = match String::from_utf8(bytes) {
        Ok(text) => text,
        Err(e) => return Err(fail(FileProblem::NotUtf8 { byte: e.utf8_error().valid_up_to() })),
    };
    if text.trim().is_empty() {
        return Err(fail(FileProblem::Empty));
    }
    Ok(match text.strip_prefix('\u{feff}') {
        Some(rest) => rest.to_string(),
        None => text,
    })
}
