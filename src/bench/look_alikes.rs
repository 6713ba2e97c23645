//! Look-alikes, shown by runs of sound assemblies.

use super::sequence::{Sequence, Stop, sequence};
use crate::assembly::{Resolver, Settings};
use crate::error::Error;
use crate::faults::look_alikes::LookAlike;
use crate::parts::Opening;
use crate::rig::{Part, Rig, What, options};
use crate::units::Kind;

/// One figure of such a run.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// What it is.
    pub what: &'static str,
    /// Value, SI.
    pub si: f64,
    /// Kind of quantity.
    pub kind: Kind,
}

/// A look-alike as the runs show it.
#[derive(Debug, Clone, PartialEq)]
pub struct Shown {
    /// Which.
    pub look_alike: &'static LookAlike,
    /// The assembly it is shown on.
    pub assembly: &'static str,
    /// What was run.
    pub run: &'static str,
    /// Figures.
    pub findings: Vec<Finding>,
    /// Whether they bear out that nothing is broken.
    pub borne_out: bool,
}

fn built_in(assembly: &str, sets: &[&str]) -> Result<Settings, Error> {
    sets.iter().fold(Resolver::new().assembly(assembly), |r, s| r.set(s)).resolve()
}

fn turned_on(settings: &Settings) -> Result<Sequence, Error> {
    Ok(sequence(&Rig::from_settings(settings)?, &options(settings)?)?)
}

/// Both shutoffs shut, both zones full and under pressure, test cock 2 open: the pressure falls and the air inlet opens.
fn drained(settings: &Settings) -> Result<Sequence, Error> {
    let sets = [
        ("shutoff2.open", "false"),
        ("zone1.initial", "brimful"),
        ("zone2.initial", "brimful"),
        ("zone1.initial_pressure", "12 psi"),
        ("zone2.initial_pressure", "10 psi"),
        ("cock2.turns", "0.25"),
        ("run.end_time", "5 s"),
    ];
    let settings = sets.iter().try_fold(settings.clone(), |s, (path, text)| s.with_text(path, text))?;
    let mut rig = Rig::from_settings(&settings)?;
    rig.shutoff1.opening = Opening::fixed(0.0);
    Ok(sequence(&rig, &options(&settings)?)?)
}

fn first(run: &Sequence, part: Part, what: What) -> Option<f64> {
    run.events.iter().find(|e| e.part == part && e.what == what).map(|e| e.t_s)
}

/// Runs a look-alike.
///
/// # Errors
/// [`Error`] if a run cannot be completed.
pub fn look_alike(which: &'static LookAlike) -> Result<Shown, Error> {
    let f = |what, kind, si| Finding { what, kind, si };
    let shown = |assembly, run, findings, borne_out| Shown { look_alike: which, assembly, run, findings, borne_out };
    Ok(match which.name {
        "slot-in-new-elastomer" => {
            let sound = built_in("pvb-elastomer", &[])?;
            let lift = sound.number("air_inlet.lift")?;
            let runs = [drained(&sound)?, drained(&sound.with_fault("lip-slot-blocked", 1.0)?)?];
            let [with, without] = runs.map(|r| r.last.air_inlet_travel_m / lift);
            shown(
                "pvb-elastomer",
                "both shutoffs shut, zone 2 let down through test cock 2, 5 s later",
                vec![
                    f("share of the lift reached with the slot", Kind::Number, with),
                    f("share of the lift reached without it", Kind::Number, without),
                ],
                with > 0.99 && without < 0.9,
            )
        }
        "inlet-shut-after-supply-loss" => {
            let sets = [
                "supply.pressure=25 inHg vac",
                "shutoff2.open=false",
                "zone1.initial=brimful",
                "zone2.initial=brimful",
                "zone1.initial_pressure=60 psi",
                "zone2.initial_pressure=58 psi",
                "run.end_time=5 s",
            ];
            let run = turned_on(&built_in("pvb-spring", &sets)?)?;
            let opened = first(&run, Part::AirInlet, What::StartsToOpen).is_some();
            let then = drained(&built_in("pvb-spring", &[])?)?;
            let opens = then.events.iter().find(|e| e.part == Part::AirInlet && e.what == What::StartsToOpen);
            let at = opens.map_or(f64::NAN, |e| e.gauge[2]);
            shown(
                "pvb-spring",
                "in service at 60 psi when the supply goes to 25 inHg of vacuum, 5 s later; then zone 2 let down",
                vec![
                    f("zone 1", Kind::GaugePressure, run.last.zone1_pa_gauge),
                    f("zone 2, behind the tight check", Kind::GaugePressure, run.last.zone2_pa_gauge),
                    f("travel of the air inlet", Kind::Length, run.last.air_inlet_travel_m),
                    f("zone 2 when it opens once it is let down", Kind::GaugePressure, at),
                ],
                !opened && run.last.zone1_pa_gauge < 0.0 && at > 6_894.757,
            )
        }
        "spill-on-start-up" => {
            let run = turned_on(&built_in("pvb-spring", &[])?)?;
            let brisk = turned_on(&built_in("pvb-spring", &["shutoff1.opening_time=0.3 s", "shutoff2.open=false"])?)?;
            shown(
                "pvb-spring",
                "a sound unit turned on in 1 s, shutoff 2 open; and in 0.3 s, shutoff 2 shut",
                vec![
                    f("spilled", Kind::Volume, run.spill_m3 + run.rebound_spill_m3),
                    f(
                        "air inlet shut after",
                        Kind::Time,
                        first(&run, Part::AirInlet, What::Closed).unwrap_or(f64::NAN),
                    ),
                    f("spilling at the end", Kind::VolumeFlow, run.spill_rate_m3_s),
                    f("spilled when opened briskly", Kind::Volume, brisk.spill_m3 + brisk.rebound_spill_m3),
                ],
                !run.spilling_at_end && brisk.spill_m3 < run.spill_m3 && run.stop == Stop::Settled,
            )
        }
        _ => {
            let run = turned_on(&built_in("pvb-spring", &[])?)?;
            let shut = first(&run, Part::AirInlet, What::Closed).unwrap_or(f64::NAN);
            let after = run.samples.iter().filter(|s| s.t_s > shut).map(|s| s.spill_m3_s).fold(0.0, f64::max);
            shown(
                "pvb-spring",
                "a sound unit turned on in 1 s",
                vec![
                    f("spilled until the air inlet shut, to drain from the canopy", Kind::Volume, run.spill_m3),
                    f("air inlet shut after", Kind::Time, shut),
                    f("largest flow out of the vent after that", Kind::VolumeFlow, after),
                ],
                run.spill_m3 > 1e-6 && after < 1e-9,
            )
        }
    })
}
