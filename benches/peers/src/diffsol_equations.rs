//! One mode of the rig as diffsol's equations.
//!
//! diffsol's unknowns are those of [`Frame`]. The ledger is diffsol's integral of the output function, outside its
//! error control, as it is outside poppetry's.

use crate::frame::{Frame, Work};
use diffsol::{
    ConstantOp, NalgebraContext, NalgebraMat, NalgebraVec, NonLinearOp, NonLinearOpJacobian, OdeEquations,
    OdeEquationsRef, Op, UnitCallable, Vector,
};
use poppetry::numerics::System;
use std::cell::{Cell, RefCell};
use std::rc::Rc;

pub type M = NalgebraMat<f64>;
pub type V = NalgebraVec<f64>;

/// Counts of evaluations, shared by all modes of a run, and the guards as last computed.
#[derive(Debug, Default)]
pub struct Counts {
    /// The guards as last computed: after a step without a root, those at its end.
    pub guards: RefCell<Vec<f64>>,
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

/// The equations of one mode.
pub struct Modal {
    pub frame: Rc<Frame>,
    counts: Rc<Counts>,
    work: RefCell<Work>,
    context: NalgebraContext,
}

impl Modal {
    pub fn new(frame: &Rc<Frame>, counts: &Rc<Counts>) -> Self {
        Modal {
            frame: frame.clone(),
            counts: counts.clone(),
            work: RefCell::new(Work::new(&frame.rig)),
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
        count(&self.0.counts.rates);
        let work = &mut self.0.work.borrow_mut();
        self.0.frame.rates(work, t, z.batch_as_slice(0), Some(dz.batch_as_mut_slice(0)), None);
    }
}

impl NonLinearOpJacobian for Rates<'_> {
    fn jac_mul_inplace(&self, z: &V, t: f64, v: &V, jv: &mut V) {
        self.0.frame.along(t, z.batch_as_slice(0), v.batch_as_slice(0), jv.batch_as_mut_slice(0));
    }

    fn jacobian_inplace(&self, z: &V, t: f64, jacobian: &mut M) {
        count(&self.0.counts.jacobians);
        let work = &mut self.0.work.borrow_mut();
        self.0.frame.jacobian(work, t, z.batch_as_slice(0), false, |r, c, value| jacobian[(r, c)] = value);
    }
}

impl NonLinearOp for Guards<'_> {
    fn call_inplace(&self, z: &V, t: f64, g: &mut V) {
        self.0.frame.guards(&mut self.0.work.borrow_mut(), t, z.batch_as_slice(0), g.batch_as_mut_slice(0));
        let mut last = self.0.counts.guards.borrow_mut();
        last.clear();
        last.extend_from_slice(g.batch_as_slice(0));
    }
}

impl NonLinearOp for Ledger<'_> {
    fn call_inplace(&self, z: &V, t: f64, rates: &mut V) {
        count(&self.0.counts.ledger);
        let work = &mut self.0.work.borrow_mut();
        self.0.frame.rates(work, t, z.batch_as_slice(0), None, Some(rates.batch_as_mut_slice(0)));
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
