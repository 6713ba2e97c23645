//! `surge`: a valve slams, or shutoff 1 is thrown open. Peaks and troughs along the line and in the zones, how hard the parts
//! strike, whether a relief weeps.

mod coupled;
mod pipe;
mod rigid;
mod scene;

pub use coupled::{AGREES, Beginning, CoupledRun, SurgePoint, coupled};
pub use pipe::{Closing, PipeCase, PipeRun, pipe};
pub use rigid::rigid_start_up;
pub use scene::{Surge, SurgeScene, slam, surge};
