//! Which part a fault sits in, and what curing it takes in this construction.

use crate::assembly::Settings;

/// A part, as far as repairs tell parts apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Component {
    /// Spring of the check.
    CheckSpring,
    /// Disc of the check, and what lies on it.
    CheckDisc,
    /// Seat of the check.
    CheckSeat,
    /// Ring under an insert seat.
    CheckSeatRing,
    /// Guide of the check.
    CheckGuide,
    /// Retainer of the check, and how spring and retainer were fitted.
    CheckRetainer,
    /// What loads the air inlet: spring, or lip of the poppet.
    InletLoad,
    /// Disc or sealing lip of the air inlet, and what lies on it.
    InletDisc,
    /// Guide of the air inlet.
    InletGuide,
    /// Poppet of the air inlet.
    InletPoppet,
    /// Diaphragm.
    Diaphragm,
    /// Ring with which a stem seals the vent.
    StemRing,
    /// Ring under the bonnet.
    BonnetRing,
    /// Bonnet.
    Bonnet,
    /// Body.
    Body,
    /// Shutoff 1.
    Shutoff1,
    /// Shutoff 2.
    Shutoff2,
    /// Test cock 1.
    Cock1,
    /// Test cock 2.
    Cock2,
    /// Bleed screw.
    BleedScrew,
    /// Relief.
    Relief,
    /// Canopy.
    Canopy,
    /// What feeds the assembly.
    Supply,
    /// What it feeds.
    LoadSide,
    /// Where and how it hangs.
    Site,
    /// The gauge.
    Gauge,
    /// Its hoses.
    Hoses,
    /// The tester's hand.
    Hand,
}

use Component as C;

impl Component {
    /// All that belong to the assembly itself.
    pub const OF_THE_ASSEMBLY: [Component; 22] = [
        C::CheckSpring,
        C::CheckDisc,
        C::CheckSeat,
        C::CheckSeatRing,
        C::CheckGuide,
        C::CheckRetainer,
        C::InletLoad,
        C::InletDisc,
        C::InletGuide,
        C::InletPoppet,
        C::Diaphragm,
        C::StemRing,
        C::BonnetRing,
        C::Bonnet,
        C::Body,
        C::Shutoff1,
        C::Shutoff2,
        C::Cock1,
        C::Cock2,
        C::BleedScrew,
        C::Relief,
        C::Canopy,
    ];

    /// Its name in a list.
    pub fn words(self) -> &'static str {
        match self {
            C::CheckSpring => "check spring",
            C::CheckDisc => "check disc",
            C::CheckSeat => "check seat",
            C::CheckSeatRing => "check seat ring",
            C::CheckGuide => "check guide",
            C::CheckRetainer => "check retainer",
            C::InletLoad => "air inlet load",
            C::InletDisc => "air inlet disc",
            C::InletGuide => "air inlet guide",
            C::InletPoppet => "air inlet poppet",
            C::Diaphragm => "diaphragm",
            C::StemRing => "stem ring",
            C::BonnetRing => "bonnet ring",
            C::Bonnet => "bonnet",
            C::Body => "body",
            C::Shutoff1 => "shutoff 1",
            C::Shutoff2 => "shutoff 2",
            C::Cock1 => "test cock 1",
            C::Cock2 => "test cock 2",
            C::BleedScrew => "bleed screw",
            C::Relief => "relief",
            C::Canopy => "canopy",
            C::Supply => "supply",
            C::LoadSide => "load side",
            C::Site => "installation",
            C::Gauge => "gauge",
            C::Hoses => "hoses",
            C::Hand => "hand",
        }
    }

    /// Fields that say in which condition it is; a new part has those of the built-in.
    pub fn condition_fields(self) -> &'static [&'static str] {
        match self {
            C::CheckSpring => &["check.load_factor"],
            C::CheckDisc => &["check.seat_leak_area", "check.foul_area", "check.adhesion"],
            C::CheckSeat => &["check.seat_wear", "check.seat_leak_area", "check.foul_area"],
            C::CheckGuide => &["check.friction"],
            C::InletLoad => &[
                "air_inlet.load_factor",
                "air_inlet.lip_set",
                "air_inlet.lip_hardness",
                "air_inlet.breathing_area",
                "air_inlet.pocket_volume",
                "air_inlet.pocket_water",
                "air_inlet.pocket_initial",
            ],
            C::InletDisc => &["air_inlet.seat_leak_area", "air_inlet.foul_area", "air_inlet.adhesion"],
            C::InletGuide => &["air_inlet.friction"],
            C::InletPoppet => &["air_inlet.seat_wear"],
            C::Diaphragm => &["air_inlet.diaphragm_tear_area"],
            C::StemRing => &["air_inlet.foul_area"],
            C::BonnetRing | C::Bonnet => &["outside_leak.zone2_area"],
            C::Body => &["outside_leak.zone1_area"],
            C::Shutoff1 => &["shutoff1.leak_area", "shutoff1.leak_flow", "outside_leak.line_area"],
            C::Shutoff2 => &["shutoff2.leak_area", "shutoff2.leak_flow"],
            C::Cock1 => &["cock1.area"],
            C::Cock2 => &["cock2.area"],
            C::BleedScrew => &["bleed_screw.area"],
            C::Relief => &["relief.seat_leak_area", "relief.foul_area"],
            C::Canopy => &["canopy.fitted"],
            C::Gauge => &["gauge.zero_error", "gauge.span_error", "gauge.lag"],
            C::Hoses => &["gauge.trapped_air", "gauge.air_upright", "gauge.leak_area"],
            C::Hand => &[
                "gauge.height",
                "gauge.low_side",
                "gauge.low_side_head",
                "hand.bleed_rate",
                "hand.quick_rate",
                "hand.eye_delay",
                "hand.reaction",
            ],
            _ => &[],
        }
    }

    /// What it takes to cure a fault in it: the parts, and how.
    pub fn remedy(self, s: &Settings) -> Remedy {
        let elastomer = s.choice("air_inlet.loading") == Ok("elastomer");
        let insert = s.choice("check.seat") == Ok("insert");
        let conical = s.choice("check.spring") == Ok("conical");
        let diaphragm = s.choice("air_inlet.closed_by") == Ok("diaphragm");
        let stem = s.choice("air_inlet.closed_by") == Ok("stem");
        let whole_poppet: &[&str] = &["air inlet poppet assembly with its lip", "bonnet ring"];
        let (parts, words): (&[&str], &str) = match self {
            C::CheckSpring if conical => {
                (&["conical check spring"], "replace the spring; large coil to the retainer, under its lip all round")
            }
            C::CheckSpring => (&["check spring"], "replace the spring"),
            C::CheckDisc => (&["check disc"], "flush, look at the disc on both faces, turn it or replace it"),
            C::CheckSeat if insert => (
                &["check seat insert", "ring under the insert"],
                "replace the insert with the ring under it, new disc as well",
            ),
            C::CheckSeat => (
                &["body, or the whole assembly"],
                "the seat is one piece with the body and cannot be replaced: dress it if that is allowed, else replace the body",
            ),
            C::CheckSeatRing => (
                &["ring under the seat insert"],
                "take the insert out and replace the ring under it; a new disc changes nothing",
            ),
            C::CheckGuide => (&[], "take out, clean guide and stem, no lubricant that is not for drinking water"),
            C::CheckRetainer if conical => (
                &[],
                "nothing is worn: take apart, large coil to the retainer and under its lip all round, press the retainer home flat",
            ),
            C::CheckRetainer => {
                (&[], "nothing is worn: take apart and seat the retainer flat all round, then test again")
            }
            C::InletLoad if elastomer => (
                whole_poppet,
                "replace the poppet assembly whole: the lip is the load and a part of it, there is no spring to change",
            ),
            C::InletLoad if stem => (&["air inlet spring on the stem"], "replace the spring on the stem"),
            C::InletLoad => (&["air inlet spring"], "replace the spring"),
            C::InletDisc if elastomer => (
                whole_poppet,
                "flush first; if that does not cure it replace the poppet assembly whole: its sealing lip is no part of its own",
            ),
            C::InletDisc => (&["air inlet disc"], "flush, clean the seat, turn or replace the disc"),
            C::InletGuide => (&[], "take out, clean guide and stem, no lubricant that is not for drinking water"),
            C::InletPoppet if elastomer => (whole_poppet, "replace the poppet assembly whole"),
            C::InletPoppet => (&["air inlet poppet", "bonnet ring"], "replace the poppet; the spring may stay"),
            C::Diaphragm => (
                &["diaphragm", "bonnet ring"],
                "replace or refit the diaphragm, its fold the right way, bead all round in its groove",
            ),
            C::StemRing => (&["ring on the stem"], "replace the ring on the stem; look at the bore it slides in"),
            C::BonnetRing if diaphragm => (
                &["bonnet ring"],
                "new ring, greased for drinking water; the diaphragm's bead may be what leaks, look at both",
            ),
            C::BonnetRing => (&["bonnet ring"], "new ring, greased for drinking water, bonnet down by hand"),
            C::Bonnet if elastomer => (
                &["bonnet", "air inlet poppet assembly with its lip", "bonnet ring"],
                "replace the bonnet with poppet assembly and ring",
            ),
            C::Bonnet if stem => (
                &["bonnet", "ring on the stem", "bonnet ring"],
                "replace the bonnet with both rings; look at the bore the stem slides in",
            ),
            C::Bonnet => (&["bonnet", "air inlet disc", "bonnet ring"], "replace the bonnet, disc and ring"),
            C::Body => (&["the whole assembly"], "shut down at once and replace the assembly"),
            C::Shutoff1 => (
                &["shutoff 1, or its seats"],
                "repair or replace shutoff 1; a cracked ball means frozen: look at the body as well",
            ),
            C::Shutoff2 => {
                (&["shutoff 2, or its seats"], "close a valve further down to test today; repair or replace shutoff 2")
            }
            C::Cock1 => (&["test cock 1"], "clear it by flushing, or replace it"),
            C::Cock2 => (&["test cock 2"], "clear it by flushing, or replace it"),
            C::BleedScrew => (&["bleed screw"], "clear it, or replace it with its ring"),
            C::Relief => (&["relief"], "clean or replace it and check its set pressure on a bench"),
            C::Canopy => (&["canopy"], "clean the vent and fit a canopy"),
            C::Supply => (&[], "cure the supply; until then open shutoff 1 quickly and with all outlets shut"),
            C::LoadSide => (&[], "shut shutoff 2, let the air inlet shut, then open slowly; mend the pipe"),
            C::Site => {
                (&[], "install it as it should be; where there is backpressure another type of assembly is needed")
            }
            C::Gauge => (&[], "set its zero, have it calibrated, hold it level with the reference of the test"),
            C::Hoses => (&[], "tighten and bleed the hoses, low side open and dry"),
            C::Hand => (&[], "repeat the test as it should be done"),
        };
        Remedy { parts: parts.to_vec(), words: words.to_string() }
    }
}

/// What cures a fault.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Remedy {
    /// Parts to have at hand; empty if it takes none.
    pub parts: Vec<&'static str>,
    /// What to do.
    pub words: String,
}
