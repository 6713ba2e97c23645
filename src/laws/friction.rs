//! tmp
use crate::real::Real;
/// tmp
#[inline]
pub fn coulomb<T: Real>(v: T, magnitude: f64, transition: f64) -> T { v * magnitude / (v * v + transition * transition).sqrt() }
