//! tmp
/// t
pub fn density(_t: f64, _p: f64) -> f64 { 999.1 }
/// t
pub fn isothermal_bulk_modulus(_t: f64, _r: f64) -> f64 { 2.14e9 }
/// t
pub fn viscosity(_t: f64, _r: f64) -> f64 { 1.14e-3 }
/// t
pub fn saturation_pressure(_t: f64) -> f64 { 1706.0 }
