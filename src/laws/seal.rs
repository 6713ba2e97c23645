//! tmp
use crate::real::Real;
/// tmp
#[inline]
pub fn leak_area<T: Real>(a: f64, p: T) -> T { (-(p.at_least(0.0)) / 103e3).exp() * a }
