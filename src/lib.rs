#![doc = include_str!("../README.md")]
//!
//! # Where to start
//! [`assembly::Resolver`] reads what an assembly is, [`rig::Rig`] puts it between supply and load side (its module text has
//! the equations), [`bench::sequence`] turns the water on, [`charts`] draws. [`laws`] hold the physics, [`numerics`] the solver.

pub mod assembly;
pub mod bench;
pub mod charts;
pub mod cli;
pub mod error;
pub mod faults;
pub mod freeze;
mod lanes;
pub mod laws;
pub mod numerics;
pub mod parts;
pub mod real;
pub mod rig;
pub mod study;
pub mod units;
