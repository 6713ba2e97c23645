//! What is read and does not mean what a form asks: a supply too low for the test, a check that leaks unseen, a needle that
//! cannot follow, a leak that is bled off, a stem's check. Unless a test says otherwise: size 1 in, 60 psi, friction 0.05 psi
//! on both parts, water at 15 degC, patience 60 s, needle lag 0.3 s.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // a test stops where it fails

mod field;

use field::{INCH, ML, ONCE, PSI, RHO, bleed_path, check, inlet, once, psi, settings};
use poppetry::bench::field::{FieldTest, Kind, Note, Outcome, Part, Procedure, field_test, headline};
use poppetry::rig::Rig;
use poppetry::units::System;

fn with_fault(assembly: &str, fault: &str, sets: &[&str]) -> FieldTest {
    let s = settings(assembly, sets).with_fault_text(fault).unwrap();
    field_test(&s, &Procedure::usual_for(&s).unwrap(), &ONCE).unwrap()
}

fn lost(test: &FieldTest, part: Part, id: &str) -> bool {
    test.lost.iter().any(|l| l.part == part && l.why.id() == id)
}

fn noted(test: &FieldTest, part: Part, id: &str) -> bool {
    test.reading(part).unwrap().notes.iter().any(|n| n.id() == id)
}

/// On a low supply a sound unit was failed for an air inlet that was never shut and a check that never lifted. By hand the
/// check lifts at load + friction, 1.55 (PVB) and 2.25 psi (SVB), and the air inlet shuts at 1.55 and 1.25 psi: below that
/// what is read is the supply.
#[test]
fn bug_a_supply_too_low_for_the_test_failed_sound_units() {
    let pvb = once("pvb-spring", "two-cock", &["supply.pressure=1 psi"]);
    assert!(lost(&pvb, Part::Check, "check-never-lifted") && lost(&pvb, Part::AirInlet, "stood-open"));
    assert_eq!((pvb.outcome, inlet(&pvb).kind), (Outcome::NotTestable, Kind::StoodOpen));
    // The number that was read is the supply's and is not said to be what the check held at.
    let said = headline(&pvb, System::Us);
    assert!(said.contains("air inlet stood open") && said.contains("(lost)") && !said.contains("held"), "{said}");
    let svb = once("svb-diaphragm", "one-cock", &["supply.pressure=2 psi"]);
    assert!(lost(&svb, Part::Check, "check-never-lifted") && svb.lost.len() == 1, "{:?}", svb.lost);
    assert!((psi(inlet(&svb).true_pa) - 1.15).abs() < 0.02);
    assert_eq!(svb.outcome, Outcome::NotTestable);
    let svb = once("svb-diaphragm", "one-cock", &["supply.pressure=1 psi"]);
    assert!(lost(&svb, Part::Check, "check-never-lifted") && lost(&svb, Part::AirInlet, "stood-open"));
    // Above that all is read as ever: (F - R)/A. At 3 psi the air inlet flutters while the hose goes on; the opening that
    // counts is the one bled for.
    for (assembly, procedure, held, opens) in
        [("pvb-spring", "two-cock", 1.45, 1.45), ("svb-diaphragm", "one-cock", 2.15, 1.15)]
    {
        let test = once(assembly, procedure, &["supply.pressure=3 psi"]);
        assert!((psi(check(&test).true_pa) - held).abs() < 0.02 && (psi(inlet(&test).true_pa) - opens).abs() < 0.02);
        assert!((psi(inlet(&test).reading_pa) - opens).abs() < 0.06, "{}", psi(inlet(&test).reading_pa));
        assert_eq!(test.outcome, Outcome::Pass, "{assembly}: {:?}", test.lost);
    }
}

/// A leak back under the check's disc takes zone 1 down to the air inlet's opening, and there the diaphragm (or stem) on its
/// way holds the needle up: it stood still at 1.1 psi and passed, with the screw still dripping. By hand 0.0041 mm2 (Cd 0.7)
/// at 1.15 psi passes 0.7 x 0.0041 mm2 x sqrt(2 x 7929 Pa / 999.1) = 0.0114 mL/s, and the 2.8 mL under the diaphragm last
/// four minutes of it.
#[test]
fn bug_a_leaking_check_passed_while_the_air_inlet_held_the_needle_up() {
    let sets = ["check.seat_leak_area=0.0041 mm2", "check.foul_area=0 mm2"];
    let slow = once("svb-diaphragm", "one-cock", &sets);
    let held = psi(check(&slow).true_pa);
    // Rubber closes the leak a little under the load that is left: exp(-p / 50 kPa) of it, nothing at the check's load.
    let by_hand = 0.7 * 0.0041e-6 * (2.0 * held * PSI / RHO).sqrt();
    let share = check(&slow).tries[0].loses_m3_s / by_hand;
    println!("held {held:.3} psi, loses {share:.3} of the hand sum");
    assert!((1.0..1.17).contains(&held) && (0.7..1.02).contains(&share));
    assert!(noted(&slow, Part::Check, "still-loses") && !check(&slow).pass && slow.outcome == Outcome::Fail);
    for assembly in ["svb-diaphragm", "svb-stem"] {
        for fault in
            ["check-debris=0.15", "check-debris=0.25", "check-disc-set=0.25", "check-disc-set=1", "hose-leak=0.25"]
        {
            let test = with_fault(assembly, fault, &[]);
            assert!(
                !check(&test).pass && test.outcome == Outcome::Fail,
                "{assembly} {fault}: {:?}",
                check(&test).notes
            );
        }
        let new = once(assembly, "one-cock", &[]);
        assert!(check(&new).pass && check(&new).tries[0].loses_m3_s.abs() < 1e-10, "{assembly}");
    }
    // A patient tester sees it run out.
    let patient = with_fault("svb-diaphragm", "check-debris=0.25", &["hand.patience=200 s"]);
    assert!(psi(check(&patient).reading_pa) < 0.05, "{}", psi(check(&patient).reading_pa));
    // A weak check that is tight comes to rest and is read, though the air inlet opens in its step.
    let weak = once("svb-diaphragm", "one-cock", &["check.load=1.15 psi", "air_inlet.load=1.40 psi"]);
    assert!(weak.observed.opened_in_check_step && check(&weak).pass && !noted(&weak, Part::Check, "still-loses"));
}

/// A hole in zone 2 empties it faster than the needle follows (tau dn/dt = p - n): the needle stood at 13.9 psi when an air
/// inlet of 1.45 psi opened, and passed. Where it stands 1.0 psi and more behind, it shows a pass whatever the part does.
#[test]
fn bug_a_needle_left_behind_by_the_pressure_passed_any_air_inlet() {
    for fault in ["inlet-debris=1", "bonnet-split=0.5", "bonnet-ring-torn=1"] {
        let test = with_fault("pvb-spring", fault, &[]);
        assert!((psi(inlet(&test).true_pa) - 1.45).abs() < 0.02, "{fault}");
        assert!(psi(inlet(&test).reading_pa) > 2.45, "{fault}");
        assert!(lost(&test, Part::AirInlet, "too-fast-to-read"), "{fault}: {:?}", test.lost);
        assert_eq!(test.outcome, Outcome::NotTestable, "{fault}");
    }
    // Bled ten times too fast it stands 0.3 s x rate high and is read, wrongly (common practice, no source).
    assert_eq!(with_fault("pvb-spring", "bleed-too-fast", &[]).outcome, Outcome::Pass);
}

/// Bleed compensation stopped at the instant at which the check shut, before what leaks in had raised zone 1 by twice its
/// friction again; the cock then ran with 0.2 to 0.3 mL/s and the reading was lost. It must end with a drip (0.05 mL/s) and the
/// check anywhere within its friction, as long as the leak is no more than the bleed path's flow at that pressure.
#[test]
fn bug_compensation_ended_before_the_cock_had_stopped_for_good() {
    for (assembly, procedure, load) in
        [("pvb-spring", "two-cock-compensated", 1.5), ("svb-diaphragm", "one-cock-compensated", 2.2)]
    {
        let path = bleed_path(load - 0.05);
        for share in [0.04, 0.13, 0.26, 0.65, 0.9] {
            let area = field::leak_mm2(share * path, 60.0 - load);
            let test = once(assembly, procedure, &[&format!("shutoff1.leak_area={area} mm2")]);
            let single = &check(&test).tries[0];
            println!("{assembly} {share}: {:.3} psi, {:.3} mL/s", psi(single.true_pa), single.cock_flow_m3_s / ML);
            assert!(single.cock_flow_m3_s < 0.06 * ML, "{assembly} {share}");
            assert!((psi(single.true_pa) - load).abs() < 0.05 + 0.01, "{assembly} {share}");
            assert!(check(&test).pass && !test.lost.iter().any(|l| l.part == Part::Check), "{:?}", test.lost);
        }
        let area = field::leak_mm2(1.3 * path, 60.0 - load);
        let test = once(assembly, procedure, &[&format!("shutoff1.leak_area={area} mm2")]);
        assert!(lost(&test, Part::Check, "flow-through-check"), "{assembly}: {:?}", test.lost);
    }
    // Nothing to compensate: the reading is as it is without.
    let plain = once("pvb-spring", "two-cock", &[]);
    let idle = once("pvb-spring", "two-cock-compensated", &[]);
    assert!((psi(check(&plain).true_pa) - psi(check(&idle).true_pa)).abs() < 0.002);
}

/// Balance of a stem by hand, 1 in: check seat 0.88 in, Ac = 0.6082 in2; vent seat 0.97 in, A2 = 0.7390 in2, all of it under zone
/// 2; load 1.3 psi and 1.04 lbf/in over the lap of 0.05 in (0.0855 psi), check 1.0 psi, friction 0.05 psi each:
/// (p1 - p2) Ac + p2 A2 = F - R. With zone 2 at atmosphere p1 = 1.3 + 0.0855 + 1.0 - 0.1 = 2.2855 psi; with zone 2 falling along
/// (p1 = p2) Ac/A2 of it, 1.881 psi. A test vents zone 2 at a finite pace, so its reading lies between.
#[test]
fn analytic_a_stems_check_holds_between_zone_2_at_atmosphere_and_zone_2_falling_along() {
    let (atmosphere, along) = (2.2855, 2.2855 * (0.88_f64 / 0.97).powi(2));
    let rig = Rig::from_settings(&settings("svb-stem", &[])).unwrap();
    let statics = rig.statics();
    assert!((statics.check_settles_pa / PSI - atmosphere).abs() < 0.01, "{}", statics.check_settles_pa / PSI);
    assert!((statics.check_settles_least_pa / PSI - along).abs() < 0.01, "{}", statics.check_settles_least_pa / PSI);
    let held = ["12 mm2", "3 mm2", "0.3 mm2"].map(|area| {
        let test = once("svb-stem", "one-cock", &[&format!("bleed_screw.area={area}")]);
        assert!(noted(&test, Part::Check, "check-kept-open-by-zone2"), "{area}: {:?}", check(&test).notes);
        psi(check(&test).true_pa)
    });
    println!("{held:?} within {along:.3} and {atmosphere:.3}");
    assert!(held.iter().all(|p| *p > along - 0.02 && *p < atmosphere + 0.02));
    // The smaller the screw, the longer zone 2 falls along.
    assert!(held[0] > held[1] && held[1] > held[2] && held[2] - along < 0.05);
    // Where zone 2 acts on no more than the check's own area it keeps nothing open: 0.5 x 0.7390 < 0.6082 in2.
    let half = once("svb-stem", "one-cock", &["air_inlet.zone2_share=0.5"]);
    assert!((psi(check(&half).true_pa) - atmosphere).abs() < 0.02, "{}", psi(check(&half).true_pa));
    assert!(!noted(&half, Part::Check, "check-kept-open-by-zone2"));
    // No stem, one figure: load less friction, 2.20 - 0.05.
    let other = Rig::from_settings(&settings("svb-diaphragm", &[])).unwrap().statics();
    assert_eq!(other.check_settles_pa, other.check_settles_least_pa);
}

/// Common practice, no source: a test ends with all shut, the hose off and the water on again, shutoff 1 first.
#[test]
fn practice_every_built_in_procedure_puts_the_unit_back_into_service() {
    for (assembly, procedure) in [
        ("pvb-spring", "two-cock"),
        ("pvb-spring", "two-cock-compensated"),
        ("pvb-spring", "two-cock-tube"),
        ("svb-diaphragm", "one-cock"),
        ("svb-diaphragm", "one-cock-compensated"),
        ("svb-stem", "one-cock-tube"),
    ] {
        let test = once(assembly, procedure, &[]);
        let end = test.tries[0].trace.last().unwrap();
        assert!(end.zone1_pa_gauge > 55.0 * PSI && end.zone2_pa_gauge > 50.0 * PSI, "{assembly} {procedure}: {end:?}");
        assert!(end.air_inlet_travel_m < 1e-3 * INCH && end.bleed_opening == 0.0, "{assembly} {procedure}: {end:?}");
        // The hose is off before the water comes back: the needle stays where it was.
        let words: Vec<&str> = test.tries[0].marks.iter().rev().take(4).map(|m| m.words.as_str()).collect();
        assert_eq!(words, ["canopy on", "open shutoff 2", "open shutoff 1", "hose off"], "{procedure}");
        let off = test.tries[0].marks.iter().rev().nth(3).unwrap().t_s;
        assert!(test.tries[0].trace.iter().filter(|p| p.t_s > off).all(|p| p.shown_pa < 3.0 * PSI), "{procedure}");
    }
}

/// What is printed as a file is the built-in itself, and says all that may be written.
#[test]
fn practice_a_printed_procedure_reads_back_and_names_every_act() {
    for name in Procedure::names() {
        let text = Procedure::builtin_file(name).unwrap();
        assert_eq!(field::script(&text), Procedure::builtin(name).unwrap());
        for act in [
            "canopy-off",
            "canopy-on",
            "close-shutoff",
            "open-shutoff",
            "attach-hose",
            "remove-hose",
            "open-cock",
            "close-cock",
            "open-screw",
            "close-screw",
            "bleed",
            "wait",
            "close-bleed",
            "compensate",
            "read",
        ] {
            let named = text.lines().filter(|l| l.starts_with('#')).any(|l| l.contains(act));
            assert!(named, "{name}: {act} is not explained");
        }
    }
    assert!(Procedure::builtin_file("three-cock").is_err());
}

/// A reading that counts says nothing of what would lose it.
#[test]
fn practice_sound_units_have_none_of_these_notes() {
    for (assembly, procedure) in
        [("pvb-spring", "two-cock"), ("pvb-elastomer", "two-cock"), ("svb-diaphragm", "one-cock")]
    {
        let test = once(assembly, procedure, &[]);
        let bad =
            |n: &Note| matches!(n, Note::StillLoses(_) | Note::NeverLifted(_) | Note::StoodOpen | Note::TooFast(..));
        assert!(!test.readings.iter().flat_map(|r| &r.notes).any(bad), "{assembly}");
    }
}
