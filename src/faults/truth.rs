//! The true quantity that a fault moves one way.

use crate::assembly::Settings;
use crate::error::Error;
use crate::parts::Stand;
use crate::rig::Rig;
use crate::units::Kind;

/// Which way it goes as severity rises.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Way {
    /// Up.
    Rises,
    /// Down.
    Falls,
}

/// A true quantity; readings of it need not go one way.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Truth {
    /// Pressure difference the check holds when it has shut, (F - R)/A.
    CheckHolds(Way),
    /// Pressure at which the air inlet starts to open, (F - R - adhesion)/A.
    InletOpens(Way),
    /// Pressure at which the relief opens.
    ReliefOpens(Way),
    /// Sequence margin: zone 1 where the check lifts less zone 1 where the air inlet has shut.
    Margin(Way),
    /// Effective leak area of the shut check under its own load.
    CheckLeak,
    /// Effective area of the shut air inlet under 10 psi.
    InletLeak,
    /// A field, by path, with its name.
    Field(&'static str, &'static str, Way),
    /// Nothing goes by degrees: a measurement is lost, or a thing is there or not.
    Whole(&'static str),
}

/// 10 psi, Pa: the pressure under which the leak of the shut air inlet is stated.
const UNDER: f64 = 68_947.57;

impl Truth {
    /// What it is, in words.
    pub fn words(self) -> &'static str {
        match self {
            Truth::CheckHolds(_) => "pressure difference the check holds",
            Truth::InletOpens(_) => "pressure at which the air inlet starts to open",
            Truth::ReliefOpens(_) => "pressure at which the relief opens",
            Truth::Margin(_) => "sequence margin",
            Truth::CheckLeak => "leak area of the shut check",
            Truth::InletLeak => "leak area of the shut air inlet under 10 psi",
            Truth::Field(_, words, _) => words,
            Truth::Whole(words) => words,
        }
    }

    /// Which way it goes, `None` if nothing goes by degrees.
    pub fn way(self) -> Option<Way> {
        match self {
            Truth::CheckHolds(way) | Truth::InletOpens(way) | Truth::ReliefOpens(way) | Truth::Margin(way) => Some(way),
            Truth::Field(_, _, way) => Some(way),
            Truth::CheckLeak | Truth::InletLeak => Some(Way::Rises),
            Truth::Whole(_) => None,
        }
    }

    /// What kind of quantity it is.
    pub fn kind(self) -> Kind {
        match self {
            Truth::CheckHolds(_) | Truth::Margin(_) => Kind::PressureDifference,
            Truth::InletOpens(_) | Truth::ReliefOpens(_) => Kind::GaugePressure,
            Truth::CheckLeak | Truth::InletLeak => Kind::Area,
            Truth::Field(path, ..) => {
                crate::assembly::fields::field(path).and_then(|f| f.number_kind()).unwrap_or(Kind::Number)
            }
            Truth::Whole(_) => Kind::Number,
        }
    }

    /// Its value, SI; `None` where this assembly has none.
    ///
    /// # Errors
    /// [`Error`] if a field is missing.
    pub fn value(self, settings: &Settings, rig: &Rig) -> Result<Option<f64>, Error> {
        let statics = rig.statics();
        Ok(match self {
            Truth::CheckHolds(_) => Some(statics.check_settles_pa),
            Truth::InletOpens(_) => statics.inlet_opens_pa_gauge,
            Truth::ReliefOpens(_) => statics.relief_opens_pa_gauge,
            Truth::Margin(_) => statics.sequence_margin_pa,
            Truth::CheckLeak => {
                let seating = (-rig.check.static_force(0.0, false)).max(0.0) / rig.check.seat_area();
                Some(rig.check.effective_area(Stand::Sealed, 0.0, seating))
            }
            Truth::InletLeak => {
                let inlet = &rig.inlet.poppet;
                let push = UNDER * (rig.inlet.zone1_area + rig.inlet.zone2_area) - inlet.static_force(0.0, true);
                Some(inlet.effective_area(Stand::Sealed, 0.0, push / inlet.seat_area()))
            }
            Truth::Field(path, ..) => settings.optional_number(path)?,
            Truth::Whole(_) => None,
        })
    }
}
