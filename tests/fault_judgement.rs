//! Faults that a table must not pass over: unsound though the gauge is content, seen by what is not read, cured by what is not
//! worn. One try, friction and adhesion at their means; built-ins at 1 in.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // a test stops where it fails

mod cli;
mod common;

use cli::{poppetry, stdout};
use common::PSI;
use poppetry::assembly::{Resolver, Settings};
use poppetry::bench::{SymptomRow, symptom_row};
use poppetry::faults;
use serde_json::Value;

fn built_in(name: &str) -> Settings {
    Resolver::new().assembly(name).resolve().unwrap()
}

fn row(assembly: &str, fault: &str, severity: f64) -> SymptomRow {
    symptom_row(&built_in(assembly), faults::named(fault).unwrap(), severity).unwrap()
}

/// Common practice, no source: these pass every field test and are wrong all the same; a look at the place or a bench finds
/// them.
#[test]
fn practice_what_no_test_shows_is_called_unsound_all_the_same() {
    for (assembly, fault, found) in [
        ("pvb-relief", "relief-stuck-shut", "relief opens above what the body is proved to"),
        ("pvb-spring", "outlet-above", "an outlet stands above it"),
        ("svb-diaphragm", "installed-low", "less than 12 in above its highest outlet"),
        ("pvb-elastomer", "installed-tilted", "not upright"),
    ] {
        let resistant = assembly == "svb-diaphragm";
        for severity in [0.25, 1.0] {
            let s = row(assembly, fault, severity).symptoms;
            assert!(s.unsound(resistant).contains(&found), "{assembly} {fault}={severity}: {:?}", s.unsound(resistant));
            assert!(s.deceives(resistant), "{assembly} {fault}={severity}");
        }
        assert!(row(assembly, fault, 0.0).symptoms.unsound(resistant).is_empty(), "{assembly}");
    }
}

/// A check that leaks is not sound whatever it reads. At 1.0 psi 0.02 mm2 of Cd 0.7 (less what rubber under its load keeps
/// shut) pass no more than 0.7 x 0.02 mm2 x sqrt(2 x 6895 Pa / 999.1) = 0.052 mL/s.
#[test]
fn analytic_a_leaking_check_is_not_sound_and_its_leak_is_told() {
    for (assembly, resistant) in [("pvb-spring", false), ("svb-diaphragm", true), ("svb-stem", true)] {
        let s = row(assembly, "check-disc-set", 1.0).symptoms;
        let ceiling = 0.7 * 0.02e-6 * (2.0 * PSI / 999.1_f64).sqrt();
        assert!(s.check_leak_m3_s > 0.5 * ceiling && s.check_leak_m3_s < 1.01 * ceiling, "{}", s.check_leak_m3_s);
        assert!(s.unsound(resistant).contains(&"check leaks"), "{assembly}");
        assert_eq!(row(assembly, "check-disc-set", 0.0).symptoms.check_leak_m3_s, 0.0);
    }
}

/// Air in the hose read nothing, because it lay level. Half of it upright in a 3/16 in hose: 20 mL, at 1.45 psi and more 14.7
/// psi / (14.7 + p) of it, stand 0.5 V / 17.81 mm2 high and read rho g of that too high, by hand for 10 mL at severity 0.5.
#[test]
fn bug_air_left_in_the_hose_showed_nothing() {
    for severity in [0.25, 0.5, 1.0] {
        let s = row("pvb-spring", "hose-air", severity).symptoms;
        let check = s.field_test.unwrap().check;
        let (truth, reading) = (check.true_pa.unwrap(), check.reading_pa.unwrap());
        let volume = (20.0 * severity + 0.05) * 1e-6 * 101_325.0 / (101_325.0 + reading);
        let hose = std::f64::consts::FRAC_PI_4 * (0.1875 * 0.0254_f64).powi(2);
        let by_hand = 999.1 * 9.806_65 * 0.5 * volume / hose;
        println!("{severity}: {:.3} psi, by hand {:.3}", (reading - truth) / PSI, by_hand / PSI);
        assert!(((reading - truth) / by_hand - 1.0).abs() < 0.03, "{severity}");
    }
}

/// A leaking shutoff 2 showed nothing at any severity. With drained piping behind it zone 2 falls by itself, and the air inlet
/// opens before it is bled (common practice, no source).
#[test]
fn bug_a_leaking_shutoff_2_showed_nothing() {
    for assembly in ["pvb-spring", "pvb-elastomer"] {
        for severity in [0.25, 0.5, 1.0] {
            let s = row(assembly, "shutoff2-leaks", severity).symptoms;
            assert!(!s.signs().is_empty(), "{assembly} {severity}");
            assert_ne!(s.field_test.unwrap().result, "pass", "{assembly} {severity}");
        }
    }
}

/// A tapped shutoff the wrong way round is not worn: it is turned, not replaced.
#[test]
fn practice_a_reversed_shutoff_is_turned_round_and_a_leaking_one_repaired() {
    let s = Resolver::new().set("cock1.place=shutoff-inner").set("cock2.place=shutoff-inner").resolve().unwrap();
    for name in ["shutoff1-reversed", "shutoff2-reversed"] {
        let remedy = faults::named(name).unwrap().remedy(&s);
        assert!(remedy.parts.is_empty() && remedy.words.contains("turn the valve round"), "{name}: {remedy:?}");
    }
    let remedy = faults::named("shutoff1-leaks").unwrap().remedy(&s);
    assert!(!remedy.parts.is_empty() && remedy.words.contains("repair or replace"));
}

/// The table was worked out at a coarser tolerance than the page of one fault and failed what the page passed.
#[test]
fn bug_the_table_and_the_page_of_a_fault_differed() {
    let dir = tempfile::tempdir().unwrap();
    let rows = |args: &[&str]| -> Vec<Value> {
        let output = poppetry(dir.path(), args);
        assert_eq!(output.status.code(), Some(0));
        let document: Value = serde_json::from_str(&stdout(&output)).unwrap();
        document["symptoms"][0]["rows"].as_array().unwrap().clone()
    };
    let table = rows(&["faults", "--table", "--assembly", "pvb-spring", "--json"]);
    for fault in ["check-retainer-tilted", "check-disc-swollen"] {
        for page in rows(&["faults", fault, "--assembly", "pvb-spring", "--json"]) {
            let same = table.iter().find(|r| r["fault"] == fault && r["severity"] == page["severity"]);
            if let Some(same) = same {
                assert_eq!(same["field_test"], page["field_test"], "{fault} at {}", page["severity"]);
            }
        }
    }
}

/// What ran with a drop in 43 s was called a spill without end (hard rubber at 60 psi: dribbles when low, dry at working pressure,
/// common practice, no source); a fall of the check's reading with everything shut was not among the signs; values in kPa were
/// written in whole ones, 1.1 psi (7.58 kPa) as 8; a title named the first severity of several.
#[test]
fn bug_the_pages_of_faults_said_too_much_or_too_little() {
    let set = row("pvb-spring", "inlet-disc-set", 0.5).symptoms;
    assert_eq!(set.spilling_at_end, Some(false));
    assert!(!set.unsound(false).contains(&"spills without end"), "{:?}", set.unsound(false));
    assert_eq!(row("pvb-spring", "inlet-debris", 0.5).symptoms.spilling_at_end, Some(true));
    let debris = row("pvb-spring", "check-debris", 0.2).symptoms;
    assert!(debris.signs().contains(&"check reading falls"), "{:?}", debris.signs());
    assert!(!row("pvb-spring", "check-debris", 0.0).symptoms.signs().contains(&"check reading falls"));

    let dir = tempfile::tempdir().unwrap();
    let said = |args: &[&str]| {
        let output = poppetry(dir.path(), args);
        assert_eq!(output.status.code(), Some(0));
        stdout(&output)
    };
    let si = said(&["faults", "check-spring-weak", "--units", "si", "--chart", "severity=a.svg"]);
    // 1.45 psi recorded as 1.4: 9.65 kPa.
    assert!(si.lines().any(|l| l.trim_start().starts_with("check, recorded") && l.contains(" 9.7 ")), "{si}");
    said(&["faults", "inlet-debris", "--assembly", "pvb-spring", "--chart", "severity=b.svg"]);
    let drawn = std::fs::read_to_string(dir.path().join("b.svg")).unwrap();
    assert!(drawn.contains("passes at severity 0.125 to 0.375") && drawn.contains("spills without end from severity"));
    let zero = said(&["faults", "gauge-zero-low", "--chart", "severity=c.svg"]);
    assert!(zero.contains("as it is - 1 psi x s"), "{zero}");
}
