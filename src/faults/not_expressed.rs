//! What a field test or a service call brings up and these equations cannot show, with the reason.

/// Something that is not in the library, or only in part.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
pub struct NotExpressed {
    /// What.
    pub what: &'static str,
    /// Why not, and what comes nearest.
    pub why: &'static str,
}

/// All of them.
pub const ALL: &[NotExpressed] = &[
    NotExpressed {
        what: "a poppet that tilts or spins",
        why: "poppets move along their axis only; a cracked poppet is shown by its mass, a tilted retainer by load, friction and gap",
    },
    NotExpressed {
        what: "a check that recovers for a while after slamming",
        why: "rubber of a disc has no memory here; its set is a depth",
    },
    NotExpressed {
        what: "a disc that swells unevenly and reads differently each time by itself",
        why: "geometry is the same in each try; scatter comes from friction and adhesion drawn anew",
    },
    NotExpressed {
        what: "a check that hangs half open until it is tapped",
        why: "friction is regularised, a held part creeps at 0.1 mm/s: what it holds is right, that it hangs and waits for a tap is not shown; how far an air inlet opens is judged by its forces and not by the creep",
    },
    NotExpressed {
        what: "a step left out or done in the wrong order, the canopy left on",
        why: "that is a procedure and no fault: field-test --print-procedure writes one, change its acts and give it to --procedure",
    },
    NotExpressed {
        what: "a leaking shutoff 2 that feeds zone 2 from long piping under pressure, so that test cock 2 runs on",
        why: "the load side is one zone as stiff as zone 2: what it holds under pressure is gone at once; drained it takes from zone 2, and that is shown",
    },
    NotExpressed {
        what: "a bonnet that blows off, a jet that moves the body",
        why: "openings are fixed areas; strength is the business of freezing",
    },
    NotExpressed { what: "mud, insects and corrosion as they grow", why: "a fault is a state, not a history" },
    NotExpressed {
        what: "water standing under the canopy",
        why: "what has passed the vent has left; the canopy counts as a resistance to the way out, and with what it holds back on the air inlet",
    },
];
