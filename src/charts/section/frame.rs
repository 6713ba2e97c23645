//! The lines everything is built on: widths and heights that follow from the dimensions of the assembly.

use super::{Anchors, InletClosing, InletLoading, Point, ReliefPlace, SectionShape, SectionState};

/// Widths and heights, m. Names say which line they are; see the sketch in the module above.
#[derive(Debug, Clone)]
pub(super) struct Frame {
    pub shape: SectionShape,
    pub state: SectionState,
    /// Thickness of walls.
    pub wall: f64,
    /// Height of seat rims.
    pub rim: f64,
    /// Half the inner width of the body.
    pub inner: f64,
    /// Width of the passage to the diaphragm's chamber and of its outer wall, 0 without one.
    pub passage: f64,
    /// Bottom and top of the duct to zone 1.
    pub duct: (f64, f64),
    /// Bottom and top of zone 1.
    pub zone1: (f64, f64),
    /// Bottom and top of zone 2's outlet.
    pub outlet: (f64, f64),
    /// Thickness of the check with its facing.
    pub check_disc: f64,
    /// Lower and upper side of the check's bridge, and the ends of its hub.
    pub bridge1: (f64, f64),
    pub hub1: (f64, f64),
    /// Thickness of the air inlet's disc.
    pub inlet_disc: f64,
    /// From the sealing edge of the air inlet down to the top of its disc.
    pub sink: f64,
    /// Most that a stem goes on after it has sealed the vent.
    pub over: f64,
    /// Vent seat: where the air inlet seals.
    pub seat2: f64,
    /// Lower and upper side of the bonnet.
    pub bonnet: (f64, f64),
    /// Half the vent's bore.
    pub vent: f64,
    /// Lower and upper side of the upper bridge (the floor of the diaphragm's chamber).
    pub bridge2: (f64, f64),
    /// Lower side of the canopy's roof.
    pub roof: f64,
    /// Radii of the balls.
    pub balls: [f64; 2],
    /// Middles of the balls.
    pub centers: [Point; 2],
    /// Length of the necks beside each ball.
    pub neck: f64,
    /// Left and right end of the drawing's pipes.
    pub ends: (f64, f64),
    /// Height of the air inlet's sealing edge now.
    pub edge: f64,
    /// Travel of the stem (or of the air inlet from its open stop) now.
    pub stem: f64,
}

fn length(v: f64, otherwise: f64) -> f64 {
    if v.is_finite() { v.clamp(1e-4, 0.5) } else { otherwise }
}

impl Frame {
    pub fn of(shape: &SectionShape, state: &SectionState) -> Frame {
        let shortest = length(shape.check_lift, 0.008).min(length(shape.inlet_lift, 0.006));
        let s = &SectionShape {
            shutoff_bores: shape.shutoff_bores.map(|b| length(b, 0.025)),
            check_seat: length(shape.check_seat, 0.025),
            check_port: length(shape.check_port, 0.023).min(0.98 * length(shape.check_seat, 0.025)),
            check_lift: length(shape.check_lift, 0.008),
            inlet_seat: length(shape.inlet_seat, 0.025),
            inlet_port: length(shape.inlet_port, 0.023).min(0.98 * length(shape.inlet_seat, 0.025)),
            inlet_lift: length(shape.inlet_lift, 0.006),
            diaphragm: length(shape.diaphragm, 0.025),
            lap: if shape.lap.is_finite() { shape.lap.clamp(-0.9 * shortest, 0.1) } else { 0.0 },
            relief_bore: length(shape.relief_bore, 0.003),
            ..*shape
        };
        let with_stem = s.closing == InletClosing::Stem;
        let with_diaphragm = s.closing == InletClosing::Diaphragm;
        let lips = s.loading == InletLoading::Elastomer;
        let widest = s.shutoff_bores.iter().copied().fold(s.check_seat.max(s.inlet_seat), f64::max);
        let wall = 0.14 * widest;
        let rim = 0.5 * wall;
        let (dk, dv) = (s.check_seat, s.inlet_seat);
        let over = if with_stem { s.lap + s.check_lift } else { 0.0 };
        let sink = match (with_stem, lips) {
            (true, _) => over + rim,
            (false, true) => rim,
            (false, false) => 0.0,
        };
        // The lip lies flattest when the vent is shut.
        let lip = rim + s.inlet_lift + over;
        let rolled = if lips { lip + 0.13 * dv } else { 0.18 * dv };
        let mut inner = (0.58 * dk + 0.22 * dk).max(0.5 * dv + rolled + 0.06 * dv);
        if with_diaphragm {
            inner = inner.max(0.57 * s.diaphragm + 0.3 * wall);
        }
        let passage = if with_diaphragm { 0.45 * wall } else { 0.0 };
        // The duct has the bore of shutoff 1; a sump below it holds a stem's collar that hangs lower.
        let duct = (-rim - wall - s.shutoff_bores[0], -rim - wall);
        let hangs = if with_stem { -(s.inlet_lift + s.lap.max(0.0) + 0.12 * dk + 0.4 * wall) } else { 0.0 };
        let zone1 = (duct.0.min(hangs), duct.1);
        let outlet = (-rim, -rim + s.shutoff_bores[1]);
        let check_disc = 0.17 * dk;
        let spring = (0.22 * dk).max(0.45 * s.check_lift);
        let under = check_disc + s.check_lift + spring;
        let bridge1 = (under, under + 0.6 * wall);
        let inlet_disc = 0.14 * dv;
        // The outlet must fit below the bonnet.
        let least = bridge1.1 + 0.25 * wall;
        let needed = outlet.1 + wall - (s.inlet_lift + sink + inlet_disc);
        let hub1 = (check_disc + s.check_lift, least.max(needed));
        let seat2 = hub1.1 + inlet_disc + sink + s.inlet_lift;
        let rimmed = !lips && !with_stem;
        let bonnet = (seat2 + if rimmed { rim } else { 0.0 }, seat2 + if rimmed { rim } else { 0.0 } + wall);
        let floor = bonnet.1 + over + 0.3 * dv;
        let bridge2 = (floor, floor + 0.6 * wall);
        let top = if with_diaphragm {
            bridge2.1 + passage + 1.2 * wall + s.inlet_lift + 0.5 * wall
        } else {
            bridge2.1 + s.inlet_lift + over
        };
        // A relief on top of the stem needs room for its cage.
        let cage = if s.relief == ReliefPlace::AirInletStem { 0.3 * dv } else { 0.0 };
        let roof = top + 0.6 * wall + cage;
        let balls = s.shutoff_bores.map(|b| 0.78 * b);
        let neck = 1.7 * wall;
        let nipple = if s.relief == ReliefPlace::Zone2 { 2.6 * wall + s.relief_bore } else { 2.2 * wall };
        let left = if with_diaphragm { inner + 2.0 * wall + passage + 0.2 * wall } else { inner + wall + 0.2 * wall };
        let right = inner + wall + nipple;
        let centers = [
            (-(left + neck + balls[0] + 0.1 * wall), 0.5 * (duct.0 + duct.1)),
            (right + neck + balls[1] + 0.1 * wall, 0.5 * (outlet.0 + outlet.1)),
        ];
        let ends = (centers[0].0 - balls[0] - 0.1 * wall - neck, centers[1].0 + balls[1] + 0.1 * wall + neck);
        let clamp = |v: f64, most: f64| if v.is_finite() { v.clamp(0.0, most) } else { 0.0 };
        // A stem decides where both parts are.
        let stem = match with_stem {
            true => clamp(state.stem_travel, s.inlet_lift + over),
            false => s.inlet_lift - clamp(state.inlet_travel, s.inlet_lift),
        };
        let check_travel = match with_stem {
            true => (stem - s.inlet_lift - s.lap).max(0.0),
            false => clamp(state.check_travel, s.check_lift),
        };
        let inlet_travel = (s.inlet_lift - stem).max(0.0);
        let state = SectionState {
            check_travel,
            inlet_travel,
            stem_travel: stem,
            shutoffs: state.shutoffs.map(|v| clamp(v, 1.0)),
            liquid: state.liquid.map(|v| clamp(v, 1.0)),
            relief_open: clamp(state.relief_open, 1.0),
            ..*state
        };
        Frame {
            shape: *s,
            state,
            wall,
            rim,
            inner,
            passage,
            duct,
            zone1,
            outlet,
            check_disc,
            bridge1,
            hub1,
            inlet_disc,
            sink,
            over,
            seat2,
            bonnet,
            vent: 0.5 * if with_stem { dv } else { s.inlet_port },
            bridge2,
            roof,
            balls,
            centers,
            neck,
            ends,
            edge: seat2 - s.inlet_lift + stem,
            stem,
        }
    }

    /// Middle of cock `index` (0 or 1) along the flow, and the height of the outer face of the wall it stands in.
    pub fn cock(&self, index: usize) -> Option<Point> {
        use super::CockPlace;
        let place = self.shape.cocks.get(index).copied().unwrap_or(CockPlace::None);
        let (center, ball) = (self.centers.get(index)?, self.balls.get(index)?);
        let bore = self.shape.shutoff_bores.get(index)?;
        let neck = center.1 - 0.5 * bore - self.wall;
        let wall = if index == 0 && place == CockPlace::Body { self.zone1.0 - self.wall } else { neck };
        let beside = ball + 0.1 * self.wall + 0.5 * self.neck;
        // Inner is towards the body.
        let inward = if index == 0 { 1.0 } else { -1.0 };
        let body = if index == 0 { 0.5 * self.inner } else { self.inner + 1.95 * self.wall };
        match place {
            CockPlace::Body => Some((body, wall)),
            CockPlace::ShutoffInner => Some((center.0 + inward * beside, wall)),
            CockPlace::ShutoffOuter => Some((center.0 - inward * beside, wall)),
            CockPlace::None => None,
        }
    }

    /// Half the bore of a cock.
    pub fn cock_bore(&self) -> f64 {
        0.22 * self.wall
    }

    /// Middle of the relief along the flow where it stands in a wall.
    pub fn relief(&self) -> Option<f64> {
        match self.shape.relief {
            ReliefPlace::Zone1 => Some(-0.45 * self.inner),
            ReliefPlace::Zone2 => Some(self.inner + self.wall + 0.5 * (2.6 * self.wall + self.shape.relief_bore)),
            _ => None,
        }
    }

    /// Bleed screw: its middle along the flow.
    pub fn bleed(&self) -> f64 {
        let sleeve = if self.over > 0.0 { self.vent + 0.6 * self.wall } else { self.vent };
        -0.5 * (sleeve.max(0.5 * self.shape.inlet_seat + 0.6 * self.rim) + self.inner)
    }

    /// Inner sides of the housings, towards the body: right of shutoff 1, left of shutoff 2.
    pub fn housings(&self) -> (f64, f64) {
        let side = |i: usize| self.balls.get(i).copied().unwrap_or(0.0) + 0.1 * self.wall;
        (self.centers[0].0 + side(0), self.centers[1].0 - side(1))
    }

    /// Lower and upper end of zone 1's right wall.
    pub fn zone1_wall(&self) -> (f64, f64) {
        (self.zone1.0, self.duct.1)
    }

    /// Half the bore of the diaphragm's chamber.
    pub fn chamber(&self) -> f64 {
        0.57 * self.shape.diaphragm
    }

    /// Lower side of the diaphragm's plate, and the height at which the diaphragm is clamped.
    pub fn plate(&self) -> (f64, f64) {
        let base = self.bridge2.1 + self.passage + 0.4 * self.wall;
        (base + self.stem, base + 0.5 * self.shape.inlet_lift)
    }

    /// Half the width of the air inlet's stem; one with a relief in it is wider.
    pub fn stem_half(&self) -> f64 {
        let share = if self.shape.relief == ReliefPlace::AirInletStem { 0.07 } else { 0.05 };
        share * self.shape.inlet_seat
    }

    /// Half the bore up through the stem to a relief on its top.
    pub fn stem_bore(&self) -> Option<f64> {
        let most = 0.045 * self.shape.inlet_seat;
        (self.shape.relief == ReliefPlace::AirInletStem).then(|| most.min(0.5 * self.shape.relief_bore))
    }

    /// What the stem ends in, above the bridge: half its width, and its lower and upper side.
    pub fn stem_head(&self) -> (f64, (f64, f64)) {
        let (s, end) = (&self.shape, self.edge + self.bridge2.1 - self.seat2 + self.shape.inlet_lift);
        match (s.closing, s.relief) {
            (InletClosing::Diaphragm, _) => {
                let plate = self.plate().0;
                (0.43 * s.diaphragm, (plate, plate + 0.4 * self.wall))
            }
            (_, ReliefPlace::AirInletStem) => (0.13 * s.inlet_seat, (end, end + 0.04 * s.inlet_seat)),
            _ => (self.stem_half(), (end, end)),
        }
    }

    /// Half the bore of the relief as drawn.
    pub fn relief_bore(&self) -> f64 {
        0.5 * self.shape.relief_bore.min(0.5 * self.inner)
    }

    /// Lower edge of the canopy's skirt.
    pub fn skirt(&self) -> f64 {
        let over_relief = self.outlet.1 + 2.8 * self.wall + 0.6 * self.relief_bore();
        let low = self.bonnet.1 - 0.2 * self.wall;
        if self.shape.relief == ReliefPlace::Zone2 { low.max(over_relief) } else { low }
    }

    /// Left edge of the body's left wall.
    pub fn left(&self) -> f64 {
        -self.inner - self.wall
    }

    /// Half the width under the canopy, to the left and to the right.
    pub fn eaves(&self) -> (f64, f64) {
        let passage = if self.passage > 0.0 { self.passage + self.wall } else { 0.0 };
        let gap = 0.2 * self.shape.inlet_seat;
        (self.left() - passage - 0.3 * self.wall, self.inner + self.wall + gap)
    }

    pub fn anchors(&self) -> Anchors {
        let s = &self.shape;
        let housing = |i: usize| {
            let (c, r) = (self.centers.get(i).copied().unwrap_or_default(), self.balls.get(i).copied().unwrap_or(0.0));
            (c.0, c.1 + r + self.wall)
        };
        let disc_top = self.edge - self.sink;
        let skirt = if s.canopy { self.eaves().1 + 0.4 * self.wall } else { self.inner + self.wall };
        Anchors {
            check: (0.46 * s.check_seat, self.state.check_travel + 0.6 * self.check_disc),
            inlet: match s.closing {
                InletClosing::Stem => (0.3 * s.inlet_seat, self.edge - 0.3 * self.sink),
                _ => (-0.45 * s.inlet_seat, disc_top - 0.5 * self.inlet_disc),
            },
            zone1: (0.72 * self.inner, self.duct.0 + 0.3 * s.shutoff_bores[0]),
            zone2: (-0.9 * self.inner, 0.5 * (self.outlet.0 + self.bridge1.0)),
            balls: self.centers,
            housings: [housing(0), housing(1)],
            vent: (0.12 * s.inlet_seat, self.bonnet.1 + self.over + 0.14 * s.inlet_seat),
            port: (if s.closing == InletClosing::Stem { -0.3 * s.check_port } else { 0.0 }, -0.6 * self.rim),
            outlet: (self.inner + 0.3 * self.wall, self.centers[1].1),
            supply: (self.ends.0 + 0.3 * self.wall, self.centers[0].1),
            eaves: (skirt, self.bonnet.1 - 0.2 * self.wall),
            diaphragm: (s.closing == InletClosing::Diaphragm)
                .then(|| (-0.3 * s.diaphragm, self.plate().0 + 0.2 * self.wall)),
            relief: match s.relief {
                ReliefPlace::None => None,
                ReliefPlace::AirInletStem => {
                    Some((-self.stem_half() - 0.025 * s.inlet_seat, self.stem_head().1.1 + 0.19 * s.inlet_seat))
                }
                ReliefPlace::Zone1 => self.relief().map(|x| (x, self.zone1.0 - 1.6 * self.wall)),
                ReliefPlace::Zone2 => self.relief().map(|x| (x, self.outlet.1 + 1.6 * self.wall)),
            },
        }
    }
}
