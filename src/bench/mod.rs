//! What one does to an assembly on the bench, and what one then sees: turning the water on.

mod curves;
mod document;
pub mod field;
mod look_alikes;
mod playback;
mod sequence;
mod start_up;
mod symptoms;
mod view;
mod words;

pub use curves::{
    Curves, CurvesDocument, Direction, LoadPoint, RATED_LOSS, RATED_SPEED, ReliefPoint, SCHEMA_CURVES, SizeLoss,
    SpringFacts, VentPoint, curves, rated_flow,
};
pub use document::{DocumentContext, SCHEMA_SEQUENCE, SequenceDocument};
pub use look_alikes::{Finding, Shown, look_alike};
pub use playback::{Instant, KeyMoment, Playback, STILL, key_moments, moving_window};
pub use sequence::{Event, FIRST_VOLUME, Forces, Order, Peak, Sample, Sequence, Stop, sequence};
pub use start_up::line_start_up;
pub use symptoms::{
    Came, FieldFigures, ReadingFigures, SEVERITIES, SymptomRow, Symptoms, start_up_settings, symptom_row,
    symptom_table, symptoms,
};
pub use view::SectionView;
pub use words::{headline, story};
