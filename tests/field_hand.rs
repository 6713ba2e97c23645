//! What the tester's own hand does to a reading: acts in another order or left out, no patience. Unless a test says otherwise:
//! size 1 in, 60 psi, friction 0.05 psi on both parts, patience 60 s.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // a test stops where it fails

mod field;

use field::{ONCE, PSI, check, inlet, lost, noted, once, psi, settings};
use poppetry::bench::field::{Act, FieldTest, Kind, Note, Outcome, Part, Procedure, field_test};

fn with_fault(assembly: &str, fault: &str) -> FieldTest {
    let s = settings(assembly, &[]).with_fault_text(fault).unwrap();
    field_test(&s, &Procedure::usual_for(&s).unwrap(), &ONCE).unwrap()
}

/// What the hand has done to zone 1 was read as what the check holds: bled down for the air inlet first, or taken by the hose
/// because shutoff 1 was not opened again. Load less friction is 2.15 and 1.45 psi throughout.
#[test]
fn bug_what_the_hand_took_from_zone_1_failed_sound_checks() {
    let swapped = |name: &str, out: fn(&Act) -> bool, before: fn(&Act) -> bool| {
        let mut p = Procedure::builtin(name).unwrap();
        let from = p.acts.iter().position(out).unwrap();
        let act = p.acts.remove(from);
        if let Some(to) = p.acts.iter().position(before) {
            p.acts.insert(to, act);
        }
        p
    };
    let check_read = |a: &Act| matches!(a, Act::Read { part: Part::Check, .. });
    let late = swapped("one-cock", check_read, |a| *a == Act::CloseBleed);
    let test = field_test(&settings("svb-diaphragm", &[]), &late, &ONCE).unwrap();
    assert!(psi(check(&test).reading_pa) < 1.0 && lost(&test, Part::Check, "bled-before-reading"), "{:?}", test.lost);
    let Some(Note::BledBefore(held)) = test.lost.first().map(|l| l.why) else { panic!("{:?}", test.lost) };
    assert!((held / PSI - 2.15).abs() < 0.02 && test.outcome == Outcome::NotTestable, "{held}");
    let reopens = |a: &Act| *a == Act::Shutoff { number: 1, to: 1.0 };
    let left_out = swapped("two-cock", reopens, |_| false);
    let test = field_test(&settings("pvb-spring", &[]), &left_out, &ONCE).unwrap();
    assert!(psi(check(&test).reading_pa) < 0.5 && lost(&test, Part::Check, "check-not-loaded"), "{:?}", test.lost);
    assert_eq!(test.outcome, Outcome::NotTestable);
    // A jet or tear that empties zone 1 before zone 2 is vented is no act of the hand.
    for fault in ["body-split=1", "diaphragm-torn=1"] {
        let test = with_fault("svb-diaphragm", fault);
        assert!(test.outcome == Outcome::Fail && !lost(&test, Part::Check, "check-not-loaded"), "{fault}");
        // Zone 2 then held the air inlet shut until it was vented.
        assert!(lost(&test, Part::AirInlet, "zone2-not-vented"), "{fault}: {:?}", test.lost);
    }
}

/// Shutoff 1 was blamed for a needle that was still falling, and a strong check for an air inlet that a leak had opened.
#[test]
fn bug_tight_parts_were_blamed_for_a_short_patience_and_for_leaks() {
    for set in ["hand.patience=5 s", "hand.bleed_rate=0.01 psi"] {
        let test = once("pvb-spring", "two-cock", &[set]);
        assert!(lost(&test, Part::AirInlet, "gave-up") && inlet(&test).kind == Kind::GaveUp, "{set}: {:?}", test.lost);
        assert_eq!(test.outcome, Outcome::NotTestable);
    }
    let leak = with_fault("svb-diaphragm", "hose-leak=0.2");
    assert!(noted(&leak, Part::AirInlet, "zone1-ran-down-in-check-step"), "{:?}", inlet(&leak).notes);
    let weak = once("svb-diaphragm", "one-cock", &["check.load=1.15 psi", "air_inlet.load=1.40 psi"]);
    assert!(noted(&weak, Part::AirInlet, "opened-in-check-step"));
}
