//! What one does to an assembly on the bench, and what one then sees: turning the water on.

mod curves;
mod document;
mod sequence;
mod start_up;
mod words;

pub use curves::{
    Curves, CurvesDocument, Direction, LoadPoint, RATED_LOSS, RATED_SPEED, ReliefPoint, SCHEMA_CURVES, SizeLoss,
    SpringFacts, VentPoint, curves, rated_flow,
};
pub use document::{DocumentContext, SCHEMA_SEQUENCE, SequenceDocument};
pub use sequence::{Event, FIRST_VOLUME, Forces, Order, Peak, Sample, Sequence, Stop, sequence};
pub use start_up::line_start_up;
pub use words::{headline, story};

pub mod siphon;
pub mod surge;
