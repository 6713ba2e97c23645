//! From an assembly and an instant of its run to what the section drawing needs.

use super::playback::Instant;
use crate::assembly::Settings;
use crate::charts::section::{CockPlace, InletClosing, InletLoading, ReliefPlace, SectionShape, SectionState};
use crate::error::Error;
use crate::parts::{self, CockKind};
use crate::rig::Rig;

/// An assembly as the section shows it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SectionView {
    /// Its dimensions.
    pub shape: SectionShape,
    cocks_open: [bool; 2],
    bleed_open: bool,
    relief_lift: f64,
}

impl SectionView {
    /// Reads the dimensions of an assembly. Lifts are those of the rig, in which wear counts.
    ///
    /// # Errors
    /// [`Error`] if a setting is missing.
    pub fn new(settings: &Settings, rig: &Rig) -> Result<SectionView, Error> {
        let s = settings;
        let cock = |group: &str| -> Result<(CockPlace, bool), Error> {
            let place = match s.choice(&format!("{group}.place"))? {
                "none" => CockPlace::None,
                "shutoff-inner" => CockPlace::ShutoffInner,
                "shutoff-outer" => CockPlace::ShutoffOuter,
                _ => CockPlace::Body,
            };
            let kind = match s.choice(&format!("{group}.type"))? {
                "needle" => CockKind::Needle,
                _ => CockKind::QuarterTurn,
            };
            Ok((place, kind.opening(s.number(&format!("{group}.turns"))?) > 0.0))
        };
        let cocks = [cock("cock1")?, cock("cock2")?];
        let relief = rig.relief.as_ref();
        let shape = SectionShape {
            shutoff_bores: [s.number("shutoff1.bore")?, s.number("shutoff2.bore")?],
            check_seat: rig.check.seat_diameter,
            check_port: s.number("check.port_diameter")?,
            check_lift: rig.check.lift,
            inlet_seat: rig.inlet.poppet.seat_diameter,
            inlet_port: s.number("air_inlet.port_diameter")?,
            inlet_lift: rig.inlet.poppet.lift,
            loading: match s.choice("air_inlet.loading")? {
                "elastomer" => InletLoading::Elastomer,
                _ => InletLoading::Spring,
            },
            closing: match s.choice("air_inlet.closed_by")? {
                "diaphragm" => InletClosing::Diaphragm,
                "stem" => InletClosing::Stem,
                _ => InletClosing::Zone2,
            },
            diaphragm: s.number("air_inlet.diaphragm_diameter")?,
            lap: rig.stem.map_or(0.0, |stem| stem.lap),
            conical_spring: s.choice("check.spring")? == "conical",
            seat_insert: s.choice("check.seat")? == "insert",
            cocks: cocks.map(|c| c.0),
            bleed_screw: s.number("bleed_screw.area")? > 0.0,
            canopy: s.switch("canopy.fitted")?,
            relief: match relief.map(|r| r.place) {
                Some(parts::ReliefPlace::Zone1) => ReliefPlace::Zone1,
                Some(parts::ReliefPlace::Zone2) => ReliefPlace::Zone2,
                Some(parts::ReliefPlace::AirInletStem) => ReliefPlace::AirInletStem,
                None => ReliefPlace::None,
            },
            relief_bore: s.number("relief.bore")?,
        };
        Ok(SectionView {
            shape,
            cocks_open: cocks.map(|c| c.1),
            bleed_open: shape.bleed_screw && s.number("bleed_screw.opening")? > 0.0,
            relief_lift: relief.map_or(1.0, |r| r.poppet.lift),
        })
    }

    /// The state at an instant.
    pub fn state(&self, at: &Instant) -> SectionState {
        SectionState {
            check_travel: at.check_travel_m,
            inlet_travel: at.air_inlet_travel_m,
            stem_travel: at.stem_travel_m,
            shutoffs: at.shutoffs,
            liquid: at.liquid,
            cocks_open: self.cocks_open,
            bleed_open: self.bleed_open,
            relief_open: at.relief_travel_m / self.relief_lift,
            water: at.water_m3_s,
            vent_air: at.vent_air_m3_s,
        }
    }
}
