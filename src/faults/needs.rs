//! What a construction must have for a fault.

use crate::assembly::Settings;

/// One requirement.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Needs {
    /// The air inlet is loaded by a metal spring.
    InletSpring,
    /// The air inlet is loaded by an elastomer.
    Elastomer,
    /// A diaphragm shuts the air inlet.
    Diaphragm,
    /// A stem shuts the air inlet.
    Stem,
    /// The air inlet has a disc that is pressed on a seat.
    FaceSeat,
    /// The check's seat is an insert.
    InsertSeat,
    /// The check's spring is conical.
    ConicalSpring,
    /// There is a relief.
    Relief,
    /// There is test cock 1.
    Cock1,
    /// There is test cock 2.
    Cock2,
    /// There is a bleed screw.
    BleedScrew,
    /// Test cock 1 is tapped into shutoff 1.
    Cock1InShutoff,
    /// Test cock 2 is tapped into shutoff 2.
    Cock2InShutoff,
    /// The check's load is stated, not measured.
    NoCheckCurve,
    /// The air inlet's load is stated, not measured.
    NoInletCurve,
}

impl Needs {
    /// Why it is not there, or `None` if it is.
    pub fn unmet(self, s: &Settings) -> Option<String> {
        let choice = |path: &str| s.choice(path).unwrap_or("");
        let positive = |path: &str| s.optional_number(path).ok().flatten().is_some_and(|v| v > 0.0);
        let closed_by = || match choice("air_inlet.closed_by") {
            "diaphragm" => "a diaphragm",
            "stem" => "a stem",
            _ => "zone 2 pressure",
        };
        let (met, why) = match self {
            Needs::InletSpring => (
                choice("air_inlet.loading") == "spring",
                "an elastomer lip loads this air inlet, there is no spring".to_string(),
            ),
            Needs::Elastomer => (
                choice("air_inlet.loading") == "elastomer",
                "a metal spring loads this air inlet, there is no elastomer lip".to_string(),
            ),
            Needs::Diaphragm => (
                choice("air_inlet.closed_by") == "diaphragm",
                format!("there is no diaphragm, {} shuts this air inlet", closed_by()),
            ),
            Needs::Stem => (
                choice("air_inlet.closed_by") == "stem",
                format!("no stem joins air inlet and check, {} shuts this air inlet", closed_by()),
            ),
            Needs::FaceSeat => (
                choice("air_inlet.closed_by") != "stem",
                "a ring on the stem seals this vent by sliding: there is no disc on a seat".to_string(),
            ),
            Needs::InsertSeat => (
                choice("check.seat") == "insert",
                "the check's seat is one piece with the body, there is no insert and no ring under it".to_string(),
            ),
            Needs::ConicalSpring => (
                choice("check.spring") == "conical",
                "the check's spring is straight: both ends are alike and no coil goes under a lip".to_string(),
            ),
            Needs::Relief => (choice("relief.place") != "none", "no relief is fitted".to_string()),
            Needs::Cock1 => (choice("cock1.place") != "none", "there is no test cock 1".to_string()),
            Needs::Cock2 => {
                (choice("cock2.place") != "none", "there is no test cock 2; a bleed screw opens zone 2".to_string())
            }
            Needs::BleedScrew => (
                positive("bleed_screw.area") || choice("cock2.place") == "none",
                "there is no bleed screw; test cock 2 opens zone 2".to_string(),
            ),
            Needs::Cock1InShutoff => {
                (choice("cock1.place") == "shutoff-inner", tapped_elsewhere("cock1", 1, choice("cock1.place")))
            }
            Needs::Cock2InShutoff => {
                (choice("cock2.place") == "shutoff-inner", tapped_elsewhere("cock2", 2, choice("cock2.place")))
            }
            Needs::NoCheckCurve => (
                s.load_curve("check.load_curve").is_none(),
                "the check's load is a measured curve, which stands for the spring as it is".to_string(),
            ),
            Needs::NoInletCurve => (
                s.load_curve("air_inlet.load_curve").is_none(),
                "the air inlet's load is a measured curve, which stands for the part as it is".to_string(),
            ),
        };
        (!met).then_some(why)
    }

    /// In words, for the list of what a fault needs.
    pub fn words(self) -> &'static str {
        match self {
            Needs::InletSpring => "an air inlet loaded by a spring",
            Needs::Elastomer => "an air inlet loaded by an elastomer",
            Needs::Diaphragm => "an air inlet shut by a diaphragm",
            Needs::Stem => "one stem for air inlet and check",
            Needs::FaceSeat => "an air inlet disc that is pressed on a seat",
            Needs::InsertSeat => "a check seat that is an insert",
            Needs::ConicalSpring => "a conical check spring",
            Needs::Relief => "a relief",
            Needs::Cock1 => "test cock 1",
            Needs::Cock2 => "test cock 2",
            Needs::BleedScrew => "a bleed screw",
            Needs::Cock1InShutoff => "test cock 1 tapped into shutoff 1",
            Needs::Cock2InShutoff => "test cock 2 tapped into shutoff 2",
            Needs::NoCheckCurve => "a check load that is not a measured curve",
            Needs::NoInletCurve => "an air inlet load that is not a measured curve",
        }
    }
}

fn tapped_elsewhere(cock: &str, number: usize, place: &str) -> String {
    match place {
        "body" => format!(
            "test cock {number} is tapped into the body, so turning shutoff {number} round loses nothing (try --set \
             {cock}.place=shutoff-inner)"
        ),
        "shutoff-outer" => format!("shutoff {number} already has its tap on the wrong side"),
        _ => format!("there is no test cock {number}"),
    }
}
