//! Assemblies as input: which fields there are, the built-in files, a user's files, tables.

pub mod builtin;
mod cross;
mod faulty;
pub mod fields;
mod layer;
pub mod read;
mod resolver;
pub mod settings;
pub mod tables;
mod write;

pub(crate) use cross::{conflict, given};
pub use faulty::InPlace;
pub use fields::{Initial, Value};
pub use layer::Provenance;
pub use resolver::{Reader, Resolver};
pub use settings::{Setting, Settings};
pub use tables::{LoadCurve, SupplyTrace};
