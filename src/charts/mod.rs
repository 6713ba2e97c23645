//! Charts: plain data in, one picture out, as SVG or PNG from the same drawing.
//!
//! A chart is laid out once on a [`Sheet`] (a list of shapes and of measured labels) and then painted in the format
//! the file name asks for, so both formats show the same thing. No chart knows the simulator: callers hand over
//! numbers that are already in display units.
//!
//! Choices, and why:
//! - Every text is measured before it is drawn, and is drawn only where no other text is and inside the canvas; a
//!   label with no room is dropped and listed in [`Drawn::dropped`], never printed over another.
//! - `plotters` writes the SVG and fills areas. Lines and text of the PNG are painted here: the text of its bitmap
//!   backend rounds every glyph to a whole pixel and has another size than its SVG, and its thick lines tear at the
//!   spikes of a pressure trace.
//! - The font (DejaVu Sans) is in the binary; nothing has to be installed.

mod axis;
mod bands;
mod bars;
mod curves;
mod histogram;
pub mod look;
mod map;
mod marked_table;
mod moments;
mod movie;
mod multiples;
mod needle;
mod night;
mod page;
mod paint;
mod plot;
pub mod section;
mod sequence;
mod sheet;
mod strip;
mod thinned;

use std::io::Write;
use std::path::{Path, PathBuf};

pub use axis::{Axis, Panel, Tag, Ticks};
pub use bands::{Band, BandsPicture, common_window, lay_out_bands};
pub use bars::{Bar, BarsPicture, lay_out_bars};
pub use curves::{CurvePanel, CurvesPicture, PointMark, Series, lay_out_curves};
pub use histogram::{HistogramPicture, Limit, bins, lay_out_histogram};
pub use map::{MapPicture, banded, lay_out_map};
pub use marked_table::{Mark as CellMark, MarkedCell, MarkedRow, MarkedTablePicture, lay_out_marked_table};
pub use moments::{MomentCell, MomentColumn, MomentsPicture, lay_out_moments, section_words};
pub use movie::{MovieFrame, MoviePicture, each_frame, encode_gif};
pub use multiples::{Multiple, MultiplesPicture, lay_out_multiples};
pub use needle::{ActLabel, NeedlePicture, ReadPoint, lay_out_needle};
pub use night::{NightPicture, lay_out_night};
pub use page::Page;
pub use plot::AxisSpec;
pub use sequence::{Lane, Mark, Phase, SequencePicture, Trace, action_window, draw_sequence, lay_out_sequence};
pub use sheet::{Align, LabelBox, Rect, Sheet, Text};
pub use thinned::decimated;

/// File extensions a chart can be written as.
pub const FORMATS: [&str; 2] = ["svg", "png"];

/// Why a chart was not written.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ChartError {
    /// The file name ends in something no chart is written as.
    #[error("{}: a {} is written as {offered}, not as {found}", path.display(), if *offered == MOVING { "moving picture" } else { "chart" })]
    Format {
        /// The endings there are.
        offered: &'static str,
        /// The file asked for.
        path: PathBuf,
        /// Its ending, in quotes, or "a file without an ending".
        found: String,
    },
    /// A directory has the name of the chart.
    #[error("{}: is a directory, so no chart can be written under this name", path.display())]
    IsDirectory {
        /// The file asked for.
        path: PathBuf,
    },
    /// The directory for the chart does not exist.
    #[error("{}: the directory {} does not exist", path.display(), parent.display())]
    NoParent {
        /// The file asked for.
        path: PathBuf,
        /// The directory that is missing.
        parent: PathBuf,
    },
    /// The system refused to write the file.
    #[error("{}: cannot be written: {source}", path.display())]
    Write {
        /// The file asked for.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// The drawing could not be turned into a file of this format.
    #[error("the drawing could not be encoded: {0}")]
    Encode(String),
}

/// What was drawn: for the caller's message, and for tests of the layout.
#[derive(Debug, Clone)]
pub struct Drawn {
    /// The file written.
    pub path: PathBuf,
    /// Every text on the picture with the box it occupies, in pixels.
    pub labels: Vec<LabelBox>,
    /// Texts for which there was no room, and those that were cut short.
    pub dropped: Vec<String>,
    /// Part of the time axis that is shown, s.
    pub window: (f64, f64),
    /// Part of the time axis shown again magnified, s, when first movements lie too close together to tell apart.
    pub zoom: Option<(f64, f64)>,
}

impl Drawn {
    /// Boxes of all texts on the picture, pixels from the upper left corner.
    pub fn label_boxes(&self) -> &[LabelBox] {
        &self.labels
    }
}

/// Format of a chart file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Format {
    Svg,
    Png,
}

fn format_of(path: &Path) -> Result<Format, ChartError> {
    let extension = path.extension().map(|e| e.to_string_lossy().to_ascii_lowercase());
    match extension.as_deref() {
        Some("svg") => Ok(Format::Svg),
        Some("png") => Ok(Format::Png),
        other => Err(wrong_ending(path, other, STILL)),
    }
}

/// Endings of charts and of moving pictures, in words.
const STILL: &str = ".svg or .png";
const MOVING: &str = ".gif";

fn wrong_ending(path: &Path, extension: Option<&str>, offered: &'static str) -> ChartError {
    let found = extension.map_or("a file without an ending".to_owned(), |e| format!("\".{e}\""));
    ChartError::Format { path: path.into(), offered, found }
}

/// The bytes of a sheet in the format that the ending of `path` names; nothing is written.
///
/// # Errors
/// [`ChartError`] for an ending not in [`FORMATS`], or a drawing that cannot be encoded.
pub fn encode_sheet(sheet: &Sheet, path: &Path) -> Result<Vec<u8>, ChartError> {
    painted(sheet, format_of(path)?)
}

fn painted(sheet: &Sheet, format: Format) -> Result<Vec<u8>, ChartError> {
    match format {
        Format::Svg => paint::svg(sheet).map(String::into_bytes),
        Format::Png => paint::png(sheet),
    }
}

/// Refuses a file name that no chart (or, if `moving`, no moving picture) can be written under because of its ending.
///
/// # Errors
/// [`ChartError::Format`].
pub fn check_ending(path: &Path, moving: bool) -> Result<(), ChartError> {
    if !moving {
        return format_of(path).map(|_| ());
    }
    let extension = path.extension().map(|e| e.to_string_lossy().to_ascii_lowercase());
    match extension.as_deref() {
        Some("gif") => Ok(()),
        other => Err(wrong_ending(path, other, MOVING)),
    }
}

/// Writes a sheet to `path` as the format its ending names.
///
/// The file appears complete or not at all: it is written under a temporary name in the same directory and renamed.
///
/// # Errors
/// [`ChartError`] for an ending not in [`FORMATS`], a missing directory, a directory in the way, or a refused write.
pub fn write_sheet(sheet: &Sheet, path: &Path) -> Result<(), ChartError> {
    let format = format_of(path)?;
    if path.is_dir() {
        return Err(ChartError::IsDirectory { path: path.into() });
    }
    let parent = match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    if !parent.is_dir() {
        return Err(ChartError::NoParent { path: path.into(), parent: parent.into() });
    }
    let bytes = painted(sheet, format)?;
    let refused = |source| ChartError::Write { path: path.into(), source };
    let mut builder = tempfile::Builder::new();
    builder.prefix(".chart-");
    // A temporary file is private by default; a chart is to be as readable as any other file the user makes.
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    let mut file = builder.tempfile_in(parent).map_err(refused)?;
    file.write_all(&bytes).map_err(refused)?;
    file.persist(path).map_err(|e| refused(e.error))?;
    Ok(())
}
