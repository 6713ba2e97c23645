//! The library of faults as a whole: where each applies, what it changes, which true quantity goes one way, what cures it.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // a test stops where it fails

mod common;

use common::PSI;
use poppetry::assembly::{Resolver, Settings, builtin::names, fields};
use poppetry::bench::{sequence, symptom_table};
use poppetry::error::Error;
use poppetry::faults::{self, Class, Repair, Truth, Way};
use poppetry::rig::{Rig, options};

fn built_in(name: &str, sets: &[&str]) -> Settings {
    sets.iter().fold(Resolver::new().assembly(name), |r, s| r.set(s)).resolve().unwrap()
}

/// Every built-in, and one with its cocks tapped into the shutoffs, which two faults need.
fn assemblies() -> Vec<Settings> {
    let mut all: Vec<Settings> = names().map(|(name, _)| built_in(name, &[])).collect();
    all.push(built_in("pvb-spring", &["cock1.place=shutoff-inner", "cock2.place=shutoff-inner"]));
    // The smallest and the largest.
    all.push(built_in("pvb-relief", &["size=3/8 in"]));
    all.push(built_in("svb-diaphragm", &["size=2 in"]));
    all
}

#[test]
fn analytic_every_fault_names_fields_that_exist_and_applies_somewhere() {
    let assemblies = assemblies();
    let mut names: Vec<&str> = faults::all().map(|f| f.name).collect();
    assert!(names.len() >= 50, "{}", names.len());
    names.sort_unstable();
    names.dedup();
    assert_eq!(names.len(), faults::all().count(), "a name stands twice");
    for fault in faults::all() {
        assert!(
            fault.name.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-'),
            "{}",
            fault.name
        );
        for path in fault.changes.iter().flat_map(|c| c.paths()) {
            assert!(fields::field(path).is_some(), "{}: {path}", fault.name);
        }
        if let Truth::Field(path, ..) = fault.truth {
            assert!(fields::field(path).is_some(), "{}: {path}", fault.name);
        }
        assert!(assemblies.iter().any(|s| fault.unmet(s).is_none()), "{} applies nowhere", fault.name);
        assert!(!fault.changes.is_empty(), "{}", fault.name);
    }
    for class in Class::ALL {
        assert!(faults::all().any(|f| f.class == class), "no fault of class {}", class.name());
    }
}

/// The named true quantity goes one way, strictly between the ends, on every assembly that can have the fault.
#[test]
fn analytic_the_named_true_quantity_is_monotone_in_severity() {
    let mut held = 0;
    for settings in assemblies() {
        for fault in faults::all().filter(|f| f.unmet(&settings).is_none()) {
            let Some(way) = fault.truth.way() else { continue };
            let values: Vec<f64> = (0..=8)
                .filter_map(|k| {
                    let changed = settings.with_fault(fault.name, f64::from(k) / 8.0).unwrap();
                    fault.truth.value(&changed, &Rig::from_settings(&changed).unwrap()).unwrap()
                })
                .collect();
            let named = format!("{} on {}: {values:?}", fault.name, settings.assembly());
            // A field that is "none" as new has no value there.
            assert!(values.len() >= 8, "{named}");
            let steps = || values.windows(2).map(|w| if way == Way::Rises { w[1] - w[0] } else { w[0] - w[1] });
            assert!(steps().all(|d| d >= 0.0), "{named}");
            assert!(steps().any(|d| d > 0.0), "{named}");
            held += 1;
        }
    }
    assert!(held > 150, "{held}");
}

#[test]
fn analytic_severity_nought_changes_nothing_and_one_is_what_no_severity_means() {
    for settings in assemblies() {
        let hash = settings.canonical_json();
        for fault in faults::all().filter(|f| f.unmet(&settings).is_none()) {
            assert_eq!(settings.with_fault(fault.name, 0.0).unwrap().canonical_json(), hash, "{}", fault.name);
            let worst = settings.with_fault(fault.name, 1.0).unwrap().canonical_json();
            assert_eq!(settings.with_fault_text(fault.name).unwrap().canonical_json(), worst);
            assert_ne!(worst, hash, "{} changes nothing on {}", fault.name, settings.assembly());
        }
    }
}

/// Ends of the ranges, typed from the trade's table: common practice, no source.
#[test]
fn practice_ranges_end_where_the_trade_sees_them_end() {
    let at_worst = |assembly: &str, fault: &str, path: &str| {
        built_in(assembly, &[]).with_fault(fault, 1.0).unwrap().number(path).unwrap()
    };
    let near = |found: f64, wanted: f64| assert!((found / wanted - 1.0).abs() < 1e-5, "{found} {wanted}");
    for (assembly, fault, path, worst) in [
        ("pvb-spring", "check-spring-weak", "check.load_factor", 0.4),
        ("pvb-spring", "check-spring-stiff", "check.load_factor", 2.5),
        ("pvb-spring", "inlet-spring-weak", "air_inlet.load_factor", 0.3),
        ("pvb-spring", "inlet-spring-stiff", "air_inlet.load_factor", 3.0),
        ("pvb-elastomer", "lip-soft", "air_inlet.load_factor", 0.4),
        ("pvb-elastomer", "lip-stiff", "air_inlet.load_factor", 2.0),
        ("svb-diaphragm", "diaphragm-unclamped", "air_inlet.zone1_share", 0.7),
        ("pvb-spring", "check-debris", "check.foul_area", 5e-6),
        ("svb-diaphragm", "diaphragm-torn", "air_inlet.diaphragm_tear_area", 5e-6),
        ("pvb-spring", "check-disc-set", "check.seat_wear", 0.6e-3),
        ("pvb-spring", "inlet-stuck", "air_inlet.adhesion", 5.0 * PSI),
        // On top of the clean part's 0.05 psi.
        ("pvb-spring", "check-guide-scaled", "check.friction", 2.05 * PSI),
        ("pvb-spring", "inlet-guide-scaled", "air_inlet.friction", 1.05 * PSI),
    ] {
        near(at_worst(assembly, fault, path), worst);
    }
    // A hundred-thousandth of five square millimetres at the small end, where severity is a tenth.
    let small = built_in("pvb-spring", &[]).with_fault("check-debris", 0.1).unwrap();
    near(small.number("check.foul_area").unwrap(), 0.0005e-6);
    // 1 gpm through the leaking shutoff at 60 psi: Q = 0.61 A sqrt(2 dp / rho), 999.1 kg/m3 at 15 degC.
    let area = at_worst("pvb-spring", "shutoff1-leaks", "shutoff1.leak_area");
    let flow = 0.61 * area * (2.0 * 60.0 * PSI / 999.1_f64).sqrt() / (3.785_411_784e-3 / 60.0);
    assert!((flow - 1.0).abs() < 0.01, "{flow} gpm");
}

/// Precedence: built-in, file, --set, --fault; faults add up in their order.
#[test]
fn analytic_faults_come_last_and_add_up() {
    let settings = Resolver::new()
        .fault("check-spring-weak=0.5")
        .set("check.load_factor=0.9")
        .text("mine.toml", "[check]\nload_factor = 0.8\n")
        .resolve()
        .unwrap()
        .with_fault("check-spring-weak", 0.5)
        .unwrap();
    // 0.9 x 0.7 x 0.7
    assert!((settings.number("check.load_factor").unwrap() - 0.441).abs() < 1e-9);
    assert_eq!(settings.faults().len(), 2);
    // A study varies what the faults then work on: 1.0 x 0.7 x 0.7.
    for study in [
        settings.with_number("check.load_factor", 1.0).unwrap(),
        settings.with_numbers(&[("check.load_factor", 1.0), ("check.friction", 100.0)]).unwrap(),
        settings.with_text("check.load_factor", "1").unwrap(),
    ] {
        assert!((study.number("check.load_factor").unwrap() - 0.49).abs() < 1e-9);
        assert_eq!(study.faults().len(), 2);
    }
}

#[test]
fn practice_unknown_faults_bad_severities_and_wrong_constructions_are_refused() {
    let base = built_in("pvb-spring", &[]);
    match base.with_fault_text("check-spring-waek") {
        Err(Error::UnknownName { nearest, .. }) => assert_eq!(nearest.as_deref(), Some("check-spring-weak")),
        other => panic!("{other:?}"),
    }
    for text in ["check-spring-weak=1.01", "check-spring-weak=-0.1", "check-spring-weak=nan", "check-spring-weak=inf"] {
        let refused = base.with_fault_text(text).unwrap_err();
        assert!(matches!(refused, Error::OutOfRange { .. } | Error::Quantity { .. }), "{text}: {refused}");
        assert_eq!(refused.exit_code(), 2);
    }
    for text in ["check-spring-weak=", "check-spring-weak=half", "check-spring-weak=0.5 psi", "", "=", "=0.5"] {
        assert!(base.with_fault_text(text).is_err(), "{text}");
    }
    for severity in [f64::NAN, f64::INFINITY, -1e-300] {
        assert!(base.with_fault("check-spring-weak", severity).is_err());
    }
    for (name, why) in [
        ("lip-soft", "no elastomer lip"),
        ("diaphragm-torn", "no diaphragm"),
        ("stem-ring-cut", "no stem"),
        ("check-spring-reversed", "straight"),
        ("relief-stuck-open", "no relief"),
        ("bleed-screw-plugged", "no bleed screw"),
        ("shutoff1-reversed", "tapped into the body"),
    ] {
        let refused = base.with_fault(name, 0.5).unwrap_err();
        assert!(matches!(&refused, Error::DoesNotApply { why: w, .. } if w.contains(why)), "{name}: {refused}");
        assert_eq!(refused.exit_code(), 2);
    }
    // A field driven out of its range by several faults names the fault.
    let stiff = base.with_fault("check-spring-stiff", 1.0).unwrap();
    let refused = stiff.with_fault("check-spring-stiff", 1.0).unwrap_err();
    assert!(refused.to_string().contains("--fault check-spring-stiff"), "{refused}");
}

/// The same fault asks for other parts on another construction (common practice, no source: an elastomer-loaded air inlet is
/// replaced whole, an integral seat cannot be replaced).
#[test]
fn practice_the_remedy_follows_from_the_construction() {
    let remedy = |assembly: &str, fault: &str| faults::named(fault).unwrap().component.remedy(&built_in(assembly, &[]));
    let spring = remedy("pvb-spring", "inlet-disc-set");
    let elastomer = remedy("pvb-elastomer", "inlet-disc-set");
    assert_eq!(spring.parts, ["air inlet disc"]);
    assert!(elastomer.parts[0].contains("poppet assembly") && elastomer.words.contains("whole"));
    let insert = remedy("pvb-spring", "check-seat-nicked");
    let integral = remedy("pvb-elastomer", "check-seat-nicked");
    assert!(insert.parts[0].contains("insert"));
    assert!(integral.words.contains("cannot be replaced") && integral.parts[0].contains("body"));
    assert!(!integral.parts.iter().any(|p| p.contains("insert")));
}

#[test]
fn practice_a_repair_cures_its_own_faults_and_leaves_the_rest() {
    let broken = Resolver::new()
        .set("check.friction=0.8 psi")
        .set("check.seat_leak_area=0.3 mm2")
        .fault("check-spring-weak=0.5")
        .fault("inlet-spring-weak=0.5")
        .fault("check-debris=0.5")
        .resolve()
        .unwrap();
    let spring = broken.repaired("check-spring").unwrap();
    assert_eq!(spring.number("check.load_factor").unwrap(), 1.0);
    assert!((spring.number("air_inlet.load_factor").unwrap() - 0.65).abs() < 1e-9);
    assert!((spring.number("check.foul_area").unwrap() - 0.3125e-6).abs() < 1e-15);
    // What was set by hand and belongs to another part stays.
    assert!((spring.number("check.friction").unwrap() / (0.8 * PSI) - 1.0).abs() < 1e-6);
    assert_eq!(spring.faults().iter().map(|f| f.fault.name).collect::<Vec<_>>(), ["inlet-spring-weak", "check-debris"]);
    // The whole check, its clean friction (0.05 psi as new) among it.
    let check = broken.repaired("check").unwrap();
    assert!((check.number("check.friction").unwrap() / (0.05 * PSI) - 1.0).abs() < 1e-6);
    assert_eq!(check.number("check.foul_area").unwrap(), 0.0);
    assert_eq!(check.number("check.seat_leak_area").unwrap(), 0.0);
    assert_eq!(check.faults().len(), 1);
    assert_eq!(broken.repaired("body").unwrap().faults().len(), 0);

    for (assembly, part, words) in [
        ("pvb-elastomer", "inlet-spring", "inlet-poppet"),
        ("pvb-elastomer", "check-seat", "one piece with the body"),
        ("pvb-spring", "diaphragm", "no diaphragm"),
        ("pvb-spring", "bleed-screw", "no bleed screw"),
        ("svb-diaphragm", "cock2", "no test cock 2"),
        ("pvb-spring", "relief", "no relief"),
    ] {
        let refused = built_in(assembly, &[]).repaired(part).unwrap_err();
        assert!(refused.to_string().contains(words), "{assembly} {part}: {refused}");
        assert_eq!(refused.exit_code(), 2);
    }
    assert!(matches!(broken.repaired("chek"), Err(Error::UnknownName { nearest: Some(n), .. }) if n == "check"));
    let lip = Resolver::new().assembly("pvb-elastomer").fault("lip-slot-blocked").resolve().unwrap();
    assert_eq!(lip.number("air_inlet.breathing_area").unwrap(), 0.0);
    // 2 mm2 as new.
    assert_eq!(lip.repaired("inlet-poppet").unwrap().number("air_inlet.breathing_area").unwrap(), 2e-6);
    for repair in Repair::ALL {
        for settings in assemblies() {
            if let Ok(s) = settings.repaired(repair.name) {
                assert_eq!(s.canonical_json(), settings.canonical_json(), "{} changes what is new", repair.name);
            }
        }
    }
}

/// One part as new cured two causes, and remedies named parts that their repair did not renew.
#[test]
fn bug_a_repair_renewed_more_or_less_than_its_remedy_says() {
    let with = |assembly: &str, faults: &[&str], sets: &[&str]| {
        let r = sets.iter().fold(Resolver::new().assembly(assembly), |r, s| r.set(s));
        faults.iter().fold(r, |r, f| r.fault(f)).resolve().unwrap()
    };
    // Spring x 1.8 and 2 psi of adhesion, each cured by its own part.
    let double = with("pvb-spring", &["inlet-stiff-and-sticking=0.8"], &[]);
    let of = |s: &Settings| ["air_inlet.load_factor", "air_inlet.adhesion"].map(|p| s.number(p).unwrap());
    let near = |a: f64, b: f64| (a - b).abs() < 1e-6 * b.max(1.0);
    let disc = double.repaired("inlet-disc").unwrap();
    assert!(near(of(&disc)[0], 1.8) && of(&disc)[1] == 0.0, "{:?}", of(&disc));
    let spring = double.repaired("inlet-spring").unwrap();
    assert!(near(of(&spring)[0], 1.0) && near(of(&spring)[1], 2.0 * PSI), "{:?}", of(&spring));
    // The one after the other, and both at once.
    for both in [disc.repaired("inlet-spring").unwrap(), double.repaired("air-inlet").unwrap()] {
        assert!(near(of(&both)[0], 1.0) && of(&both)[1] == 0.0 && both.faults().is_empty());
    }
    let remedy = faults::named("inlet-stiff-and-sticking").unwrap().remedy(&double);
    assert_eq!(remedy.parts, ["air inlet disc", "air inlet spring"]);
    // A sliding ring seals a stem's vent.
    let stem = built_in("svb-stem", &[]);
    assert!(faults::named("inlet-debris").unwrap().unmet(&stem).is_some());
    assert!(stem.repaired("inlet-disc").unwrap_err().to_string().contains("stem-ring"));
    let bonnet = faults::named("bonnet-split").unwrap().remedy(&stem);
    assert_eq!(bonnet.parts, ["bonnet", "ring on the stem", "bonnet ring"]);
    for (assembly, faults, sets, part) in [
        ("svb-stem", vec!["stem-ring-cut"], vec![], "stem-ring"),
        ("svb-stem", vec!["stem-ring-cut", "bonnet-split"], vec![], "bonnet"),
        ("pvb-spring", vec!["inlet-debris", "bonnet-split"], vec![], "bonnet"),
        ("pvb-elastomer", vec!["lip-soft", "bonnet-split"], vec![], "bonnet"),
        ("pvb-spring", vec!["check-debris", "check-seat-nicked"], vec![], "check-seat"),
        ("pvb-relief", vec!["relief-stuck-open"], vec![], "inlet-poppet"),
        ("pvb-spring", vec![], vec!["cock1.area=0.05 mm2"], "cock1"),
    ] {
        let repaired = with(assembly, &faults, &sets).repaired(part).unwrap();
        assert_eq!(repaired.canonical_json(), built_in(assembly, &[]).canonical_json(), "{assembly} {faults:?} {part}");
    }
}

/// Water and air close over every fault, and every run comes to an end.
#[test]
fn balance_every_fault_runs_on_every_assembly_and_closes() {
    for settings in assemblies() {
        for fault in faults::all().filter(|f| f.unmet(&settings).is_none()) {
            for severity in [0.3, 1.0] {
                let changed = settings.with_fault(fault.name, severity).unwrap();
                let rig = Rig::from_settings(&changed).unwrap();
                let named = format!("{}={severity} on {}", fault.name, settings.assembly());
                let run = sequence(&rig, &options(&changed).unwrap()).unwrap_or_else(|e| panic!("{named}: {e}"));
                let water = run.balance.water;
                let left = water.stored_start_kg + water.in_kg - water.out_kg - water.spilled_kg - water.stored_end_kg;
                // 1e-9 of what passed, the solver's promise, and a microgram.
                assert!(left.abs() < 1e-9 * water.in_kg.abs() + 1e-9, "{named}: {left} kg of {}", water.in_kg);
            }
        }
    }
}

/// A field test of every fault on every assembly ends with a result, and as new all pass.
#[test]
fn event_every_fault_can_be_tested_in_the_field() {
    for settings in assemblies() {
        let all: Vec<_> = faults::all().collect();
        for row in symptom_table(&settings, &all, &[0.0, 1.0], &|| ()).unwrap() {
            let named = format!("{}={} on {}", row.fault.name, row.severity, settings.assembly());
            assert!(row.symptoms.not_completed.is_empty(), "{named}: {:?}", row.symptoms.not_completed);
            let field = row.symptoms.field_test.as_ref().unwrap();
            if row.severity == 0.0 {
                assert_eq!(field.result, "pass", "{named}");
                assert!(
                    row.symptoms.unsound(settings.choice("air_inlet.closed_by") != Ok("zone2")).is_empty(),
                    "{named}"
                );
            }
        }
    }
}
