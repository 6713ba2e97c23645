//! One mode of the rig as diffsol's equations.
//!
//! diffsol sees only the states that can move in the mode, as `z = (y - y0) / scale` with the scales at the start of the
//! mode; frozen states stand still at `y0`. The ledger is diffsol's integral of the output function, outside its error
//! control, as it is outside poppetry's. The Jacobian is exact, by forward differentiation as wide as poppetry's own.

use diffsol::{
    ConstantOp, NalgebraContext, NalgebraMat, NalgebraVec, NonLinearOp, NonLinearOpJacobian, OdeEquations,
    OdeEquationsRef, Op, UnitCallable, Vector,
};
use poppetry::numerics::System;
use poppetry::real::{Dual, Real};
use poppetry::rig::{Mode, Rig};
use std::cell::{Cell, RefCell};
use std::rc::Rc;

pub type M = NalgebraMat<f64>;
pub type V = NalgebraVec<f64>;

/// Columns per pass of the Jacobian: as in poppetry.
const WIDTH: usize = 14;

/// Counts of evaluations, shared by all modes of a run.
#[derive(Debug, Default)]
pub struct Counts {
    /// Rates, for the states.
    pub rates: Cell<usize>,
    /// Rates, for the ledger.
    pub ledger: Cell<usize>,
    /// Jacobians.
    pub jacobians: Cell<usize>,
}

fn count(cell: &Cell<usize>) {
    cell.set(cell.get() + 1);
}

struct Work {
    y: Vec<f64>,
    out: Vec<f64>,
    dual_y: Vec<Dual<WIDTH>>,
    dual_out: Vec<Dual<WIDTH>>,
}

/// The fixed part of one mode.
pub struct Frame {
    pub rig: Rc<Rig>,
    pub mode: Mode,
    /// States and ledger at the start of the mode.
    pub base: Vec<f64>,
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

    /// States from diffsol's unknowns; the ledger is left as it was at the start of the mode.
    pub fn states(&self, z: &V, y: &mut [f64]) {
        y.copy_from_slice(&self.base);
        for (z, &i) in z.batch_as_slice(0).iter().zip(&self.active) {
            y[i] += self.scale[i] * z;
        }
    }

    /// States and ledger.
    pub fn all(&self, z: &V, g: &V, y: &mut [f64]) {
        self.states(z, y);
        for (y, g) in y[self.rig.dim()..].iter_mut().zip(g.batch_as_slice(0)) {
            *y += g;
        }
    }

    /// Absolute tolerances on `z` that make `tolerance` relative to the rig's scales at `(t, y)`; those scales as well.
    pub fn tolerances(&self, tolerance: f64, t: f64, y: &[f64], now: &mut [f64]) -> Vec<f64> {
        self.rig.scales(t, y, now);
        self.active.iter().map(|&i| tolerance * now[i] / self.scale[i]).collect()
    }
}

/// The equations of one mode.
pub struct Modal {
    pub frame: Rc<Frame>,
    counts: Rc<Counts>,
    work: RefCell<Work>,
    context: NalgebraContext,
}

impl Modal {
    pub fn new(frame: &Rc<Frame>, counts: &Rc<Counts>) -> Self {
        let (dim, all) = (frame.rig.dim(), frame.base.len());
        Modal {
            frame: frame.clone(),
            counts: counts.clone(),
            work: RefCell::new(Work {
                y: vec![0.0; all],
                out: vec![0.0; all],
                dual_y: vec![Dual::constant(0.0); dim],
                dual_out: vec![Dual::constant(0.0); all],
            }),
            context: NalgebraContext::default(),
        }
    }
}

macro_rules! operator {
    ($name:ident, $states:expr, $out:expr) => {
        pub struct $name<'a>(&'a Modal);
        impl Op for $name<'_> {
            type T = f64;
            type V = V;
            type M = M;
            type C = NalgebraContext;
            fn context(&self) -> &NalgebraContext {
                &self.0.context
            }
            fn nstates(&self) -> usize {
                $states(&*self.0.frame)
            }
            fn nout(&self) -> usize {
                $out(&*self.0.frame)
            }
            fn nparams(&self) -> usize {
                0
            }
        }
    };
}
fn moving(frame: &Frame) -> usize {
    frame.active.len()
}
operator!(Rates, moving, moving);
operator!(Guards, moving, |f: &Frame| f.rig.guard_count(&f.mode));
operator!(Start, moving, moving);
operator!(Ledger, moving, |f: &Frame| f.rig.ledger());

impl NonLinearOp for Rates<'_> {
    fn call_inplace(&self, z: &V, t: f64, dz: &mut V) {
        let (frame, mut work) = (&self.0.frame, self.0.work.borrow_mut());
        let Work { y, out, .. } = &mut *work;
        count(&self.0.counts.rates);
        frame.states(z, y);
        frame.rig.rates(&frame.mode, t, y, out);
        for (d, &i) in dz.batch_as_mut_slice(0).iter_mut().zip(&frame.active) {
            *d = out[i] / frame.scale[i];
        }
    }
}

impl NonLinearOpJacobian for Rates<'_> {
    fn jac_mul_inplace(&self, z: &V, t: f64, v: &V, jv: &mut V) {
        let frame = &self.0.frame;
        let mut y: Vec<Dual<1>> = frame.base[..frame.rig.dim()].iter().map(|&b| Dual::constant(b)).collect();
        let mut out = vec![Dual::<1>::constant(0.0); frame.base.len()];
        for ((z, v), &i) in z.batch_as_slice(0).iter().zip(v.batch_as_slice(0)).zip(&frame.active) {
            y[i] = Dual { re: frame.base[i] + frame.scale[i] * z, eps: [frame.scale[i] * v] };
        }
        frame.rig.rates(&frame.mode, Dual::constant(t), &y, &mut out);
        for (d, &i) in jv.batch_as_mut_slice(0).iter_mut().zip(&frame.active) {
            *d = out[i].eps[0] / frame.scale[i];
        }
    }

    fn jacobian_inplace(&self, z: &V, t: f64, jacobian: &mut M) {
        let (frame, mut work) = (&self.0.frame, self.0.work.borrow_mut());
        let Work { y, dual_y, dual_out, .. } = &mut *work;
        count(&self.0.counts.jacobians);
        frame.states(z, y);
        for (pass, columns) in frame.active.chunks(WIDTH).enumerate() {
            for (d, y) in dual_y.iter_mut().zip(y.iter()) {
                *d = Dual::constant(*y);
            }
            for (k, &i) in columns.iter().enumerate() {
                dual_y[i] = Dual::variable(y[i], k);
            }
            frame.rig.rates(&frame.mode, Dual::constant(t), dual_y, dual_out);
            for (k, &c) in columns.iter().enumerate() {
                for (r, &i) in frame.active.iter().enumerate() {
                    jacobian[(r, pass * WIDTH + k)] = dual_out[i].eps[k] * frame.scale[c] / frame.scale[i];
                }
            }
        }
    }
}

impl NonLinearOp for Guards<'_> {
    fn call_inplace(&self, z: &V, t: f64, g: &mut V) {
        let (frame, mut work) = (&self.0.frame, self.0.work.borrow_mut());
        frame.states(z, &mut work.y);
        frame.rig.guards(&frame.mode, t, &work.y, g.batch_as_mut_slice(0));
    }
}

impl NonLinearOp for Ledger<'_> {
    fn call_inplace(&self, z: &V, t: f64, rates: &mut V) {
        let (frame, mut work) = (&self.0.frame, self.0.work.borrow_mut());
        let Work { y, out, .. } = &mut *work;
        count(&self.0.counts.ledger);
        frame.states(z, y);
        frame.rig.rates(&frame.mode, t, y, out);
        rates.batch_as_mut_slice(0).copy_from_slice(&out[frame.rig.dim()..]);
    }
}

impl ConstantOp for Start<'_> {
    fn call_inplace(&self, _t: f64, z: &mut V) {
        z.fill(0.0);
    }
}

impl Op for Modal {
    type T = f64;
    type V = V;
    type M = M;
    type C = NalgebraContext;
    fn context(&self) -> &NalgebraContext {
        &self.context
    }
    fn nstates(&self) -> usize {
        moving(&self.frame)
    }
    fn nout(&self) -> usize {
        self.frame.rig.ledger()
    }
    fn nparams(&self) -> usize {
        0
    }
}

impl<'a> OdeEquationsRef<'a> for Modal {
    type Mass = UnitCallable<M>;
    type Rhs = Rates<'a>;
    type Root = Guards<'a>;
    type Init = Start<'a>;
    type Out = Ledger<'a>;
    type Reset = UnitCallable<M>;
}

impl OdeEquations for Modal {
    fn rhs(&self) -> Rates<'_> {
        Rates(self)
    }
    fn mass(&self) -> Option<UnitCallable<M>> {
        None
    }
    fn root(&self) -> Option<Guards<'_>> {
        Some(Guards(self))
    }
    fn init(&self) -> Start<'_> {
        Start(self)
    }
    fn out(&self) -> Option<Ledger<'_>> {
        Some(Ledger(self))
    }
    fn set_params(&mut self, _p: &V) {}
    fn get_params(&self, _p: &mut V) {}
}
