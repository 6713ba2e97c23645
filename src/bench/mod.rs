//! What one does to an assembly on the bench, and what one then sees: turning the water on.

mod curves;
mod document;
pub mod field;
mod freeze;
mod freeze_blocking;
mod freeze_document;
mod freeze_words;
mod look_alikes;
mod playback;
mod relief;
mod relief_document;
mod relief_grid;
mod sequence;
mod service;
mod start_up;
mod symptom_table;
mod symptoms;
mod view;
mod words;

pub use curves::{
    Curves, CurvesDocument, Direction, LoadPoint, RATED_LOSS, RATED_SPEED, ReliefPoint, SCHEMA_CURVES, SizeLoss,
    SpringFacts, VentPoint, curves, rated_flow,
};
pub use document::{DocumentContext, SCHEMA_SEQUENCE, SequenceDocument};
pub use freeze::{FirstYield, Freeze, NightFigures, Pulse, ReliefNights, ZoneNights, freeze};
pub use freeze_blocking::{BLOCKED, BlockedAt, Blocking, ZonePeak, blocking};
pub use freeze_document::{FreezeDocument, SCHEMA_FREEZE, happening};
pub use freeze_words::{freeze_headline, freeze_story, part_name, zone_name};
pub use look_alikes::{Finding, Shown, look_alike};
pub use playback::{Instant, KeyMoment, Playback, STILL, key_moments, moving_window};
pub use relief::{
    BORE_MARGIN, QUICK, RELIEF_GRID, Recommended, ReliefBand, ReliefStudy, WARM_DAY, gives_way, relief_study,
};
pub use relief_document::{ReliefDocument, SCHEMA_RELIEF, relief_document};
pub use relief_grid::{GridCell, Verdict};
pub use sequence::{DRIPS, Event, FIRST_VOLUME, Forces, Order, Peak, Sample, Sequence, Stop, sequence};
pub use service::Before;
pub use start_up::{RigidColumn, line_start_up};
pub use symptom_table::{SEVERITIES, SymptomRow, symptom_row, symptom_table};
pub use symptoms::{Came, FieldFigures, ReadingFigures, Symptoms, start_up_settings, symptoms};
pub use view::SectionView;
pub use words::{headline, story};

pub mod siphon;
pub mod surge;
