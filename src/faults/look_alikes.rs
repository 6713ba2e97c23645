//! Look-alikes: what people take for damage and is not. Each is shown by runs ([`crate::bench::look_alike`]).

use crate::error::{Error, nearest};

/// What is to be done about every one of them.
pub const VERDICT: &str = "leave it";

/// Something that looks like damage.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LookAlike {
    /// Stable name.
    pub name: &'static str,
    /// What is seen.
    pub seen: &'static str,
    /// What it is taken for.
    pub taken_for: &'static str,
    /// Why it is none.
    pub why: &'static str,
    /// How to tell it from the real thing.
    pub tell: &'static str,
    /// The faults it is taken for.
    pub faults: &'static [&'static str],
}

/// All of them.
pub const ALL: &[LookAlike] = &[
    LookAlike {
        name: "slot-in-new-elastomer",
        seen: "a slot or notch in the lip of a new elastomer",
        taken_for: "a tear",
        why: "The pocket between the lips must breathe: the slot lets air in as the air inlet opens. Without it the pocket's \
              vacuum holds the air inlet part-way.",
        tell: "It is clean-edged, in the part's drawing, and the same on the next new one.",
        faults: &["lip-slot-blocked", "lip-water-trapped"],
    },
    LookAlike {
        name: "spill-on-start-up",
        seen: "a pressure type spits water when it is turned on",
        taken_for: "a leaking air inlet",
        why: "Its air inlet is shut by zone 2, which has pressure only after the check has let water through: some leaves \
              before it shuts.",
        tell: "It stops by itself at once. It spills less when shutoff 1 is opened briskly with shutoff 2 shut.",
        faults: &["inlet-debris", "inlet-disc-set", "inlet-spring-stiff"],
    },
    LookAlike {
        name: "inlet-shut-after-supply-loss",
        seen: "the supply is gone and the air inlet stays shut",
        taken_for: "a sticking air inlet",
        why: "A tight check keeps zone 2 under pressure, and that holds a pressure type's air inlet shut. The check alone \
              protects until zone 2 is drawn down.",
        tell: "Open an outlet or test cock 2: it opens at its usual pressure.",
        faults: &["inlet-stuck", "inlet-guide-scaled"],
    },
    LookAlike {
        name: "canopy-draining",
        seen: "water drips from the canopy for a while after it has been turned on",
        taken_for: "a leaking air inlet",
        why: "What has been spilled stands under the canopy and drains; nothing more comes out of the vent once it is shut.",
        tell: "Dry it and wait: what comes back is a leak, what does not was the canopy.",
        faults: &["inlet-debris", "inlet-disc-set", "stem-ring-cut"],
    },
];

/// The look-alike with this name, if there is one.
pub fn named(name: &str) -> Option<&'static LookAlike> {
    ALL.iter().find(|l| l.name == name)
}

/// The look-alikes that a fault is to be told from.
pub fn of_fault(fault: &str) -> impl Iterator<Item = &'static LookAlike> {
    ALL.iter().filter(move |l| l.faults.contains(&fault))
}

/// The error for a name that is neither fault nor look-alike.
pub fn unknown(name: &str) -> Error {
    let known = || super::all().map(|f| f.name).chain(ALL.iter().map(|l| l.name));
    Error::UnknownName {
        at: None,
        what: "fault",
        name: name.to_string(),
        nearest: nearest(name, known()),
        known: vec!["`poppetry faults` lists them".to_string()],
    }
}
