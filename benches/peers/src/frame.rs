//! One mode of the rig as plain equations in scaled unknowns: what every peer integrates.
//!
//! A peer sees only the states that can move in the mode, as `z = (y - y0) / scale` with the scales at the start of the
//! mode; frozen states stand still at `y0`. The ledger is a vector `q` beside them that starts at zero in each mode.
//! The Jacobian is exact, by forward differentiation as wide as poppetry's own.

use poppetry::numerics::System;
use poppetry::real::{Dual, Real};
use poppetry::rig::{Mode, Rig};
use std::rc::Rc;

/// Columns per pass of the Jacobian: as in poppetry.
const WIDTH: usize = 14;

/// Room for evaluations.
#[derive(Debug, Default)]
pub struct Work {
    y: Vec<f64>,
    out: Vec<f64>,
    dual_y: Vec<Dual<WIDTH>>,
    dual_out: Vec<Dual<WIDTH>>,
}

impl Work {
    /// For one rig.
    pub fn new(rig: &Rig) -> Self {
        let (dim, all) = (rig.dim(), rig.dim() + rig.ledger());
        Work {
            y: vec![0.0; all],
            out: vec![0.0; all],
            dual_y: vec![Dual::constant(0.0); dim],
            dual_out: vec![Dual::constant(0.0); all],
        }
    }
}

/// The fixed part of one mode.
pub struct Frame {
    pub rig: Rc<Rig>,
    pub mode: Mode,
    /// States and ledger at the start of the mode.
    pub base: Vec<f64>,
    /// The rig's scales at the start of the mode.
    pub scale: Vec<f64>,
    /// Indices of the states that can move.
    pub active: Vec<usize>,
}

impl Frame {
    pub fn new(rig: &Rc<Rig>, mode: Mode, t: f64, base: Vec<f64>) -> Self {
        let mut scale = vec![1.0; rig.dim()];
        rig.scales(t, &base, &mut scale);
        let active = (0..rig.dim()).filter(|&i| !rig.frozen(&mode, i)).collect();
        Frame { rig: rig.clone(), mode, base, scale, active }
    }

    /// The rig's states from a peer's unknowns; the ledger is left as it was at the start of the mode.
    pub fn states(&self, z: &[f64], y: &mut [f64]) {
        y.copy_from_slice(&self.base);
        for (z, &i) in z.iter().zip(&self.active) {
            y[i] += self.scale[i] * z;
        }
    }

    /// States and ledger.
    pub fn all(&self, z: &[f64], q: &[f64], y: &mut [f64]) {
        self.states(z, y);
        for (y, q) in y[self.rig.dim()..].iter_mut().zip(q) {
            *y += q;
        }
    }

    /// Absolute tolerances on `z` that make `tolerance` relative to the rig's scales at `(t, y)`; those scales as well.
    pub fn tolerances(&self, tolerance: f64, t: f64, y: &[f64], now: &mut [f64]) -> Vec<f64> {
        self.rig.scales(t, y, now);
        self.active.iter().map(|&i| tolerance * now[i] / self.scale[i]).collect()
    }

    /// The rig's scales at `(t, z)` over those at the start of the mode.
    pub fn units(&self, work: &mut Work, t: f64, z: &[f64], units: &mut [f64]) {
        self.states(z, &mut work.y);
        self.rig.scales(t, &work.y, &mut work.out[..self.rig.dim()]);
        for (unit, &i) in units.iter_mut().zip(&self.active) {
            *unit = work.out[i] / self.scale[i];
        }
    }

    /// Rates of the unknowns and of the ledger, whichever are asked for.
    pub fn rates(&self, work: &mut Work, t: f64, z: &[f64], dz: Option<&mut [f64]>, dq: Option<&mut [f64]>) {
        self.states(z, &mut work.y);
        self.rig.rates(&self.mode, t, &work.y, &mut work.out);
        if let Some(dz) = dz {
            for (d, &i) in dz.iter_mut().zip(&self.active) {
                *d = work.out[i] / self.scale[i];
            }
        }
        if let Some(dq) = dq {
            dq.copy_from_slice(&work.out[self.rig.dim()..]);
        }
    }

    /// Derivatives of the rates by the unknowns, entry by entry (row, column, value); below them, if asked for, those
    /// of the ledger's rates.
    pub fn jacobian(&self, work: &mut Work, t: f64, z: &[f64], ledger: bool, mut put: impl FnMut(usize, usize, f64)) {
        let Work { y, dual_y, dual_out, .. } = work;
        self.states(z, y);
        let n = self.active.len();
        for (pass, columns) in self.active.chunks(WIDTH).enumerate() {
            for (d, y) in dual_y.iter_mut().zip(y.iter()) {
                *d = Dual::constant(*y);
            }
            for (k, &i) in columns.iter().enumerate() {
                dual_y[i] = Dual::variable(y[i], k);
            }
            self.rig.rates(&self.mode, Dual::constant(t), dual_y, dual_out);
            for (k, &c) in columns.iter().enumerate() {
                let column = pass * WIDTH + k;
                for (r, &i) in self.active.iter().enumerate() {
                    put(r, column, dual_out[i].eps[k] * self.scale[c] / self.scale[i]);
                }
                if ledger {
                    for (r, d) in dual_out[self.rig.dim()..].iter().enumerate() {
                        put(n + r, column, d.eps[k] * self.scale[c]);
                    }
                }
            }
        }
    }

    /// Derivative of the rates along `v`.
    pub fn along(&self, t: f64, z: &[f64], v: &[f64], jv: &mut [f64]) {
        let mut y: Vec<Dual<1>> = self.base[..self.rig.dim()].iter().map(|&b| Dual::constant(b)).collect();
        let mut out = vec![Dual::<1>::constant(0.0); self.base.len()];
        for ((z, v), &i) in z.iter().zip(v).zip(&self.active) {
            y[i] = Dual { re: self.base[i] + self.scale[i] * z, eps: [self.scale[i] * v] };
        }
        self.rig.rates(&self.mode, Dual::constant(t), &y, &mut out);
        for (d, &i) in jv.iter_mut().zip(&self.active) {
            *d = out[i].eps[0] / self.scale[i];
        }
    }

    /// The mode's guards.
    pub fn guards(&self, work: &mut Work, t: f64, z: &[f64], g: &mut [f64]) {
        self.states(z, &mut work.y);
        self.rig.guards(&self.mode, t, &work.y, g);
    }
}
