//! The rig: an assembly between its supply and its load side, as one system of equations with modes.
//!
//! Zones in the order of flow: line cells, zone 1, zone 2 (air inlet above it), zone 3 (load side).
//! States: mass flow and mass of water in each line cell, air in the last one; masses of water and air in zones 1 to 3;
//! travel and speed of check and air inlet. Pressures follow from the masses ([`crate::parts::Zone`]).
//!
//! ```text
//! line cell i    (dx/A) dw_i/dt = P_(i-1) - P_i - friction(w_i) dx + rho g dz,      dm_i/dt = w_i - w_(i+1)
//! zone k         dm_w/dt = sum of water in - out,    dm_a/dt = sum of air in - out
//! check          m x'' = (P1 - P2) A + flow force - element - weight - friction
//! air inlet      m x'' = element + weight - (P1 - Pa) A1 - (P2 - Pa) s A2 - flow force - chamber - friction
//! opening        water: phi A sqrt(2 rho dP),   air: (1 - phi) A isentropic,   phi = liquid share upstream
//! ```
//!
//! | symbol | meaning |
//! |---|---|
//! | element | force of the loading element alone: the stated static load less the weight it contains |
//! | friction | `R v / sqrt(v^2 + v0^2) + c v`, Coulomb with [`crate::parts::FRICTION_SPEED`] and viscous |
//! | flow force | `c/2 (m_w abs(m_w)/rho_w + m_a abs(m_a)/rho_a) / A_seat`, along the flow; rho_a at ambient pressure |
//! | chamber | `rho/2 A1 v abs(v) (A1 / (Cd A_passage))^2`: the water that enters or leaves the diaphragm's chamber |
//! | s | what is lost across the vent of what is lost across vent and canopy, `Ac^2 / (Av^2 + Ac^2)`: the rest stands on the air inlet's back |
//! | D | displaced volumes: zone 1 `x_c A + (lift - x_i) A1`, zone 2 `(lift - x_i) A2 - x_c A` |
//!
//! Constructions. An **elastomer** adds to the element's force the lagging and the pocket's ([`crate::parts::Relaxation`],
//! [`crate::parts::Pocket`]). A **stem** ([`Stem`]) makes check and air inlet one body whose only coordinate is the stem's
//! travel `s` from the open stop: air inlet at `s_vent - s`, check at `s - s_vent - lap`; both seats' forces act on it, the
//! check's spring only once it is picked up. A **relief** ([`crate::parts::Relief`]) is a third poppet; in the air inlet's
//! stem its spring pushes on the air inlet while it is open. The inertia of the relief against the moving stem (1 g at
//! 1000 m/s2: 1 N against 17 N of set force on a 4 mm bore) is left out. A **diaphragm**'s area may change with travel,
//! `A1(x) = A1 (1 + b x / lift)`, and it sweeps the integral of that; a tear in it lets zone 1 out under the canopy.
//!
//! The reference position of the parts, in which zone volumes are stated, is: check sealed, air inlet at its open stop.
//! The load side (zone 3) has the compliance of zone 2. Sharp-edged openings (outlet, cocks, screw, leaks, canopy,
//! diaphragm passage) have the discharge coefficient [`SHARP_EDGE`].
//!
//! Flow through an opening is separated: liquid takes the share `phi` of the area, air the rest, each by its own law at
//! the same pressure difference. In line with the flow `phi` is the zone's liquid share. At the air inlet, which stands on
//! top of zone 2, water is reached only when the air pocket has shrunk below `spill_band` of the zone:
//! `phi = s^2 (3 - 2 s)` with `s = 1 - pocket / spill_band`, the pocket as a share of the zone's volume at that moment.
//! The hand-over from air to water is therefore smooth, and the last of a pocket never leaves.
//!
//! Near rest all flow is linear in the pressure difference, and air moves no more *volume* than water would: with `m_free`
//! the isentropic flow and `m_slow` the water's volume flow times the density of the air upstream, air flows at
//! `m_slow + (m_free - m_slow) dP^2 / (dP^2 + s^2)`, `s` = [`SOFT_DP`] or, at the shutoffs, [`SOFT_DP_WIDE`]. So the stiff
//! quantity, the volume that leaves a zone, keeps its slope where the flow turns round and changes its fluid; a plain
//! switch there made a brimful zone over an empty one cost hundreds of times as many steps.
//!
//! Events. A sealed part starts to move when pressure, element, weight and flow force together exceed friction and
//! adhesion; a part at its stop when they exceed friction the other way (damping and chamber need speed and play no role).
//! A part that reaches its seat or its stop loses its speed. A part that turns back half-way is reported as
//! `starts-to-close` where it was furthest open.

mod balance;
mod build;
mod build_load;
mod equations;
mod falling;
mod flows;
mod layout;
mod line;
mod loads;
mod modes;
mod siphon;
mod start;
mod statics;
mod steady;
mod stem;
mod stream;
mod waves;

pub use balance::{Balance, Ledger, SpeciesBalance};
pub use build::{LONGEST_AFTER_OPENING, options};
pub use build_load::stated_load;
pub use flows::{Flows, LINE_NUCLEI, Pressures, SHARP_EDGE, SideFlows};
pub use layout::{Layout, Part, ledger};
pub(crate) use modes::label_meaning;
pub use modes::{Mode, What};
pub use siphon::{DRAINED, Tube, WaveEnd, foul_to_vent_ratio, installed_height};
pub use start::InitialWater;
pub use statics::Statics;
pub use steady::{Loss, SupplyNeeded};
pub use stem::{Stem, StemStand};
pub use stream::{SOFT_DP, SOFT_DP_WIDE, Stream};
pub use waves::{End, LineFriction, Separation, Waves};

use crate::laws::curve::MonotoneCurve;
use crate::laws::pipe::Friction;
use crate::parts::{Fluid, Opening, Pocket, Poppet, Relaxation, Relief, Zone};

/// What feeds the assembly.
#[derive(Debug, Clone)]
pub enum Feed {
    /// A main at the far end of a line.
    Line(Line),
    /// A recorded pressure just before shutoff 1, Pa gauge against s.
    Recorded(MonotoneCurve),
    /// A large vessel of air before shutoff 1 whose pressure follows this curve, Pa gauge against s.
    Vessel(MonotoneCurve),
    /// The end of a line whose waves are computed elsewhere.
    Wave(WaveEnd),
}

impl Feed {
    /// Pressure before shutoff 1 when nothing flows, Pa gauge, at time 0.
    pub fn at_rest(&self, fluid: &Fluid) -> f64 {
        match self {
            Feed::Line(line) => line.static_pressure(fluid, 0.0),
            Feed::Recorded(curve) | Feed::Vessel(curve) => curve.value(0.0),
            Feed::Wave(end) => end.static_gauge,
        }
    }
}

/// A supply line with its main.
#[derive(Debug, Clone)]
pub struct Line {
    /// Pressure of the main at no flow, Pa gauge.
    pub pressure: MainPressure,
    /// Flow the main gives at free discharge, m3/s; its pressure falls with the square of the flow. `None`: no limit.
    pub flow_limit: Option<f64>,
    /// Height of the main above the assembly, m.
    pub elevation: f64,
    /// Length, m.
    pub length: f64,
    /// Bore, m.
    pub bore: f64,
    /// Wall friction.
    pub friction: Friction,
    /// Speed of pressure waves, m/s.
    pub wave_speed: f64,
    /// Number of elastic cells; 0 counts as 1.
    pub cells: usize,
    /// Compliance of the walls of one cell, m3/Pa (see [`Line::walls`]).
    pub wall_compliance: f64,
    /// Whether its water can run back into the main and leave it full of air (one cell only).
    pub drains: bool,
}

impl Line {
    /// Pressure at the assembly when nothing flows, Pa gauge, at time `t`.
    pub fn static_pressure(&self, fluid: &Fluid, t: f64) -> f64 {
        self.pressure.at(t) + fluid.density * crate::laws::constants::STANDARD_GRAVITY * self.elevation
    }

    /// Wall compliance of one cell, m3/Pa, that gives `wave_speed` together with the water's own compressibility:
    /// `V (1/(rho a^2) - kappa)`; negative when no wall could be that stiff.
    pub fn walls(&self, fluid: &Fluid) -> f64 {
        let volume = self.area() * self.length / self.cells.max(1) as f64;
        volume * (1.0 / (fluid.density * self.wave_speed * self.wave_speed) - fluid.compressibility)
    }

    /// Flow area, m2.
    pub fn area(&self) -> f64 {
        std::f64::consts::FRAC_PI_4 * self.bore * self.bore
    }
}

/// Pressure of the main against time.
#[derive(Debug, Clone)]
pub enum MainPressure {
    /// Steady, Pa gauge.
    Steady(f64),
    /// Recorded at the main, Pa gauge against s.
    Recorded(MonotoneCurve),
}

impl MainPressure {
    /// Pressure at time `t`, Pa gauge.
    #[inline]
    pub fn at<T: crate::real::Real>(&self, t: T) -> T {
        match self {
            MainPressure::Steady(p) => T::constant(*p),
            MainPressure::Recorded(curve) => curve.value(t),
        }
    }
}

/// A quarter-turn shutoff valve.
#[derive(Debug, Clone)]
pub struct Shutoff {
    /// Area of the bore, m2.
    pub bore_area: f64,
    /// Leak area when shut, m2.
    pub leak_area: f64,
    /// How far it is open against time.
    pub opening: Opening,
}

/// A small opening to atmosphere: test cock or bleed screw.
#[derive(Debug, Clone)]
pub struct Tap {
    /// What it taps: zone 1, 2 or 3 (load side), or 0 for the line before shutoff 1.
    pub zone: usize,
    /// Open area, m2.
    pub area: f64,
    /// How far it is open against time.
    pub opening: Opening,
}

/// The air inlet: a poppet over zone 2, pressed shut by zone 1 and zone 2 in the shares of the construction.
#[derive(Debug, Clone)]
pub struct AirInlet {
    /// The moving part; its seat is the vent.
    pub poppet: Poppet,
    /// Area on which zone 1 presses it shut, m2.
    pub zone1_area: f64,
    /// Area on which zone 2 presses it shut, m2.
    pub zone2_area: f64,
    /// Area on which load and friction are stated as pressures (diaphragm or vent seat), m2.
    pub stated_area: f64,
    /// Water passage to the diaphragm's chamber, m2; slows a quick motion. 0 when zone 1 does not act.
    pub chamber_passage: f64,
    /// Open area of the canopy in series with the vent, m2; `None` when it is off.
    pub canopy_area: Option<f64>,
    /// Share of zone 2 below which the air pocket lets water reach the vent.
    pub spill_band: f64,
    /// Change of the diaphragm's area from sealed to the open stop, as a share.
    pub area_change: f64,
    /// Area of a tear in the diaphragm, m2.
    pub tear_area: f64,
    /// The lip's relaxation and pocket, where an elastomer loads it.
    pub lip: Option<(Relaxation, Pocket)>,
}

impl Rig {
    /// The zone whose pressure shuts the air inlet: 1 with a diaphragm or a stem, else 2.
    pub fn shutting_zone(&self) -> usize {
        if self.inlet.zone1_area > 0.0 || self.stem.is_some() { 1 } else { 2 }
    }
}

/// The assembly with everything around it.
#[derive(Debug, Clone)]
pub struct Rig {
    /// Water and air.
    pub fluid: Fluid,
    /// What feeds it.
    pub feed: Feed,
    /// Shutoff 1, upstream.
    pub shutoff1: Shutoff,
    /// Shutoff 2, downstream.
    pub shutoff2: Shutoff,
    /// Zones 1, 2 and 3.
    pub zones: [Zone; 3],
    /// What the zones hold at the start.
    pub initial: [InitialWater; 3],
    /// Pressures at the start, Pa gauge.
    pub initial_pressure: [f64; 3],
    /// The check.
    pub check: Poppet,
    /// The air inlet.
    pub inlet: AirInlet,
    /// The stem that moves both, where there is one.
    pub stem: Option<Stem>,
    /// The relief.
    pub relief: Option<Relief>,
    /// Outlet of the load side, effective area m2, and its height above the assembly, m.
    pub outlet: (f64, f64),
    /// Test cocks and bleed screw.
    pub taps: Vec<Tap>,
    /// Areas of leaks to the outside, m2: from the line before shutoff 1, from zones 1 and 2.
    pub outside_leak: [f64; 3],
    /// When the run ends at the latest, s.
    pub end_time: f64,
    /// Whether the run ends when all parts rest.
    pub stop_at_rest: bool,
    /// Whether the run ends when the check first closes again (studies).
    pub stop_at_check_closed: bool,
    /// A tube from the load side into a pan.
    pub tube: Option<Tube>,
    /// What stands beyond the load side's outlet: water at this pressure, Pa gauge; `None`: the atmosphere.
    pub beyond_outlet: Option<f64>,
    /// Whether the load side's water is told apart from the supply's in zone 2.
    pub traces_load_water: bool,
    /// Whether the air inlet starts on its seat whatever the pressures (stuck there).
    pub starts_stuck: bool,
    /// When the last act of the supply is over, s; the solver steps onto that time.
    pub acts_until: f64,
    /// Whether the run ends when zone 2, parts, line and tube are at rest.
    pub stop_at_equilibrium: bool,
}
