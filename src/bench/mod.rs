//! What one does to an assembly on the bench, and what one then sees: turning the water on.

mod document;
mod sequence;
mod words;

pub use document::{DocumentContext, SCHEMA_SEQUENCE, SequenceDocument};
pub use sequence::{Event, Forces, Order, Peak, Sample, Sequence, Stop, sequence};
pub use words::{headline, story};
