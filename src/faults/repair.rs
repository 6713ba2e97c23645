//! Repairs: what is renewed when a part is, in this construction.

use super::component::Component as C;
use crate::assembly::Settings;
use crate::error::{Error, nearest};

/// A repair, by the part that is renewed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Repair {
    /// Name of the part, kebab-case.
    pub name: &'static str,
    /// What is renewed with it.
    renewed: &'static [C],
}

const fn r(name: &'static str, renewed: &'static [C]) -> Repair {
    Repair { name, renewed }
}

const CHECK: &[C] = &[C::CheckSpring, C::CheckDisc, C::CheckGuide, C::CheckRetainer];
const CHECK_WITH_SEAT: &[C] =
    &[C::CheckSpring, C::CheckDisc, C::CheckGuide, C::CheckRetainer, C::CheckSeat, C::CheckSeatRing];
const INLET: &[C] = &[C::InletLoad, C::InletDisc, C::InletGuide, C::InletPoppet, C::StemRing, C::BonnetRing];
const POPPET: &[C] = &[C::InletPoppet, C::InletDisc, C::InletGuide, C::BonnetRing];

impl Repair {
    /// All repairs.
    pub const ALL: [Repair; 26] = [
        r("check", CHECK),
        r("check-spring", &[C::CheckSpring]),
        r("check-disc", &[C::CheckDisc]),
        r("check-seat", &[C::CheckSeat, C::CheckSeatRing, C::CheckDisc]),
        r("check-seat-ring", &[C::CheckSeatRing]),
        r("check-guide", &[C::CheckGuide]),
        r("check-retainer", &[C::CheckRetainer]),
        r("air-inlet", INLET),
        r("inlet-spring", &[C::InletLoad]),
        r("inlet-disc", &[C::InletDisc]),
        r("inlet-guide", &[C::InletGuide]),
        r("inlet-poppet", POPPET),
        r("diaphragm", &[C::Diaphragm, C::BonnetRing]),
        r("stem-ring", &[C::StemRing]),
        r("bonnet", &[C::Bonnet, C::BonnetRing]),
        r("body", &C::OF_THE_ASSEMBLY),
        r("shutoff1", &[C::Shutoff1]),
        r("shutoff2", &[C::Shutoff2]),
        r("cock1", &[C::Cock1]),
        r("cock2", &[C::Cock2]),
        r("bleed-screw", &[C::BleedScrew]),
        r("relief", &[C::Relief]),
        r("canopy", &[C::Canopy]),
        r("site", &[C::Site, C::Supply, C::LoadSide]),
        r("gauge", &[C::Gauge, C::Hoses]),
        r("hand", &[C::Hand]),
    ];

    /// The repair of this part.
    ///
    /// # Errors
    /// [`Error::UnknownName`] with the nearest known part.
    pub fn named(name: &str) -> Result<&'static Repair, Error> {
        static ALL: [Repair; 26] = Repair::ALL;
        ALL.iter().find(|r| r.name == name).ok_or_else(|| Error::UnknownName {
            at: None,
            what: "part to repair",
            name: name.to_string(),
            nearest: nearest(name, ALL.iter().map(|r| r.name)),
            known: ALL.iter().map(|r| r.name.to_string()).collect(),
        })
    }

    /// The components that are new afterwards.
    ///
    /// # Errors
    /// [`Error::DoesNotApply`] where this construction does not have the part, or it cannot be had by itself.
    pub fn renews(&self, s: &Settings) -> Result<Vec<C>, Error> {
        let choice = |path: &str| s.choice(path).unwrap_or("");
        let elastomer = choice("air_inlet.loading") == "elastomer";
        let stem = choice("air_inlet.closed_by") == "stem";
        let refuse = |why: &str, rule: &str| {
            Err(Error::DoesNotApply {
                name: format!("--repair {}", self.name),
                why: why.to_string(),
                rule: rule.to_string(),
            })
        };
        match self.name {
            "inlet-spring" | "inlet-disc" if elastomer => refuse(
                "an elastomer lip loads and seals this air inlet and is one piece with its poppet",
                "name inlet-poppet: the poppet assembly is replaced whole",
            ),
            "inlet-disc" if stem => {
                refuse("a ring on the stem seals this vent by sliding, there is no disc on a seat", "name stem-ring")
            }
            "check-seat" if choice("check.seat") == "integral" => refuse(
                "the check's seat is one piece with the body and cannot be replaced",
                "name body: the whole assembly is replaced",
            ),
            "check-seat-ring" if choice("check.seat") == "integral" => refuse(
                "the check's seat is one piece with the body, there is no ring under it",
                "a leak that stays with a new disc is the seat's: name body",
            ),
            "diaphragm" if choice("air_inlet.closed_by") != "diaphragm" => {
                refuse("there is no diaphragm", "name air-inlet or inlet-poppet")
            }
            "stem-ring" if !stem => refuse("no stem joins air inlet and check", "name inlet-disc or inlet-poppet"),
            "relief" if choice("relief.place") == "none" => refuse("no relief is fitted", "nothing is to be repaired"),
            "cock1" if choice("cock1.place") == "none" => refuse("there is no test cock 1", "name cock2"),
            "cock2" if choice("cock2.place") == "none" => refuse("there is no test cock 2", "name bleed-screw"),
            "bleed-screw" if choice("cock2.place") != "none" && s.number("bleed_screw.area")? <= 0.0 => {
                refuse("there is no bleed screw", "name cock2")
            }
            "inlet-poppet" | "air-inlet" | "bonnet" => {
                let mut all = self.renewed.to_vec();
                match self.name {
                    // What a split bonnet takes with it.
                    "bonnet" if stem => all.push(C::StemRing),
                    "bonnet" if elastomer => all.extend(POPPET),
                    "bonnet" => all.push(C::InletDisc),
                    _ => {}
                }
                // Lip, and relief in the stem, come with the poppet.
                let poppet = all.contains(&C::InletPoppet);
                all.extend((poppet && elastomer).then_some(C::InletLoad));
                all.extend((poppet && choice("relief.place") == "air-inlet-stem").then_some(C::Relief));
                Ok(all)
            }
            // An insert seat is part of the kit, an integral one is not.
            "check" if choice("check.seat") == "insert" => Ok(CHECK_WITH_SEAT.to_vec()),
            _ => Ok(self.renewed.to_vec()),
        }
    }
}
