//! `surge`: a valve slams, or shutoff 1 is thrown open. Peaks and troughs along the line and in the zones, how hard the parts
//! strike, whether a relief weeps.

mod coupled;
mod document;
mod pipe;
mod recorder;
mod scene;
mod words;

pub use coupled::{AGREES, Beginning, CoupledRun, coupled};
pub use document::{ColumnSeparation, Places, SCHEMA_SURGE, SurgeContext, SurgeDocument};
pub use pipe::{Closing, PipeCase, PipeRun, pipe};
pub use recorder::SurgePoint;
pub use scene::{COARSEST, Surge, SurgeScene, slam, surge, trapped_excess};
pub use words::{surge_headline, surge_story};
