//! From a run to its chart.

use super::conditions::Conditions;
use super::frame::page;
use crate::bench::{FIRST_VOLUME, Sample, Sequence, headline};
use crate::charts::{Lane, Mark, Phase, SequencePicture, Trace, check_ending};
use crate::error::Error;
use crate::parts::Stand;
use crate::rig::{Part, What};
use crate::units::{Kind, System, format, to_display, unit_symbol};
use std::path::PathBuf;

/// Flow, m3/s, below which water out of the air inlet is noise of the solver.
const NOISE: f64 = 1e-9;
/// Volume, m3, below which no water has left: less than a fifth of a drop.
const DRY: f64 = 1e-8;

/// A chart asked for by name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Chart {
    /// Which one; the command knows its own.
    pub name: String,
    /// The file to write.
    pub path: PathBuf,
}

impl Chart {
    /// Reads NAME=FILE.
    pub fn parse(text: &str) -> Result<Chart, String> {
        let Some((name, file)) = text.split_once('=') else {
            return Err("NAME=FILE is wanted, for example sequence=order.svg".to_owned());
        };
        let path = PathBuf::from(file);
        check_ending(&path, name == "movie").map_err(|e| e.to_string())?;
        Ok(Chart { name: name.to_owned(), path })
    }
}

/// The chart of a run.
///
/// # Errors
/// [`Error`] if a setting that the words need is missing.
pub(super) fn sequence(run: &Sequence, conditions: &Conditions<'_>, hash: &str) -> Result<SequencePicture, Error> {
    let system = conditions.system;
    let rig = conditions.rig;
    let trace = |label: &str, kind: Kind, get: fn(&Sample) -> f64| Trace {
        label: label.to_owned(),
        values: run.samples.iter().map(|s| to_display(kind, get(s), system)).collect(),
    };
    let travel = |label: &str, lift: f64, get: fn(&Sample) -> f64| Trace {
        label: label.to_owned(),
        values: run.samples.iter().map(|s| 100.0 * get(s) / lift).collect(),
    };
    // A run that stays dry has no trace of a spray that lasts a millisecond.
    let dry = run.spill_m3 + run.rebound_spill_m3 < DRY;
    let quiet = |v: f64| if dry || v < NOISE { 0.0 } else { v };
    let vent = |label: &str, kind: Kind, get: fn(&Sample) -> f64| Trace {
        label: label.to_owned(),
        values: run.samples.iter().map(|s| to_display(kind, quiet(get(s)), system)).collect(),
    };
    let unit = |kind| unit_symbol(kind, system).to_owned();
    let page = page(headline(run, system), &conditions.line()?, conditions, hash)?;
    Ok(SequencePicture {
        title: page.title,
        subtitle: page.subtitle,
        foot: page.foot,
        time: run.samples.iter().map(|s| s.t_s).collect(),
        lanes: lanes(run, rig.shutoff1.opening.rests_from()),
        pressures: vec![
            trace("zone 1", Kind::GaugePressure, |s| s.zone1_pa_gauge),
            trace("zone 2", Kind::GaugePressure, |s| s.zone2_pa_gauge),
            trace("supply line", Kind::GaugePressure, |s| s.line_pa_gauge),
        ],
        pressure_unit: unit(Kind::GaugePressure),
        levels: levels(run, system),
        travels: vec![
            travel("check", rig.check.lift, |s| s.check_travel_m),
            travel("air inlet", rig.inlet.poppet.lift, |s| s.air_inlet_travel_m),
        ],
        travel_unit: "% of lift".to_owned(),
        vent_flow: vent("rate", Kind::VolumeFlow, |s| s.spill_m3_s),
        flow_unit: unit(Kind::VolumeFlow),
        vent_volume: vent("total", Kind::Volume, |s| s.spilled_m3),
        volume_unit: unit(Kind::Volume),
        marks: marks(run),
        window: (f64::NAN, f64::NAN),
    })
}

/// Where by the hand sums the check lifts and the air inlet has shut.
fn levels(run: &Sequence, system: System) -> Vec<(f64, String)> {
    let s = &run.statics;
    [("check lifts", Some(s.check_lifts_pa)), ("inlet shut", s.inlet_shut_pa_gauge)]
        .into_iter()
        .filter_map(|(name, si)| {
            let words = format!("{name}: {}", format(Kind::GaugePressure, si?, system));
            Some((to_display(Kind::GaugePressure, si?, system), words))
        })
        .collect()
}

/// Shutoff 1, check and air inlet; the hand's movement has no place in the order of the parts.
fn lanes(run: &Sequence, opened: f64) -> Vec<Lane> {
    let end = run.last.t_s;
    let mut hand = vec![(0.0, opened.min(end), Phase::Moving)];
    if opened < end {
        hand.push((opened, end, Phase::Open));
    }
    let mut all = vec![Lane { part: "shutoff 1".to_owned(), spans: hand, first_move: None }];
    let parts = [Part::Check, Part::AirInlet].into_iter().zip(run.stands_at_start).zip(run.first_move_s);
    all.extend(parts.map(|((part, stand), first_move)| Lane {
        part: part.name().to_owned(),
        spans: spans(run, part, stand),
        first_move,
    }));
    all
}

fn spans(run: &Sequence, part: Part, start: Stand) -> Vec<(f64, f64, Phase)> {
    let mut spans = Vec::new();
    let (mut since, mut phase) = (0.0, phase_of(start));
    for event in run.events.iter().filter(|e| e.part == part) {
        let next = match event.what {
            What::StartsToOpen | What::StartsToClose => Phase::Moving,
            What::FullyOpen => Phase::Open,
            What::Closed => Phase::Sealed,
        };
        if next != phase {
            spans.push((since, event.t_s, phase));
            (since, phase) = (event.t_s, next);
        }
    }
    spans.push((since, run.last.t_s, phase));
    spans
}

fn phase_of(stand: Stand) -> Phase {
    match stand {
        Stand::Sealed => Phase::Sealed,
        Stand::Moving => Phase::Moving,
        Stand::AtStop => Phase::Open,
    }
}

/// What people look for: when water first leaves, when the air inlet shuts and whether it opens again.
fn marks(run: &Sequence) -> Vec<Mark> {
    let mut marks = Vec::new();
    let mut mark = |time: Option<f64>, text: &str| marks.extend(time.map(|time| Mark { time, text: text.to_owned() }));
    mark(run.samples.iter().find(|s| s.spilled_m3 > FIRST_VOLUME).map(|s| s.t_s), "water spills");
    let when = |what: What| run.events.iter().find(|e| e.part == Part::AirInlet && e.what == what).map(|e| e.t_s);
    mark(when(What::Closed), "air inlet shut");
    // A bounce that lets nothing out is told in the text.
    mark(when(What::StartsToOpen).filter(|_| run.rebound_spill_m3 > FIRST_VOLUME), "air inlet reopens");
    marks
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::assembly::Resolver;
    use crate::rig::{Rig, options};

    /// The lanes come from the events; the travels of the samples are the other witness.
    #[test]
    fn event_lanes_join_without_gaps_and_agree_with_the_travels() {
        for (name, set) in [
            ("pvb-spring", "shutoff2.open=false"),
            ("pvb-spring", "shutoff2.open=true"),
            ("svb-diaphragm", "zone2.initial=brimful"),
        ] {
            let settings = Resolver::new().assembly(name).set(set).resolve().unwrap();
            let rig = Rig::from_settings(&settings).unwrap();
            let run = crate::bench::sequence(&rig, &options(&settings).unwrap()).unwrap();
            let lanes = lanes(&run, 1.0);
            assert_eq!(lanes[0].first_move, None);
            let lifts = [rig.check.lift, rig.inlet.poppet.lift];
            let travels: [fn(&Sample) -> f64; 2] = [|s| s.check_travel_m, |s| s.air_inlet_travel_m];
            for ((lane, lift), travel) in lanes[1..].iter().zip(lifts).zip(travels) {
                assert_eq!(lane.spans[0].0, 0.0);
                assert_eq!(lane.spans[lane.spans.len() - 1].1, run.last.t_s);
                assert!(lane.spans.windows(2).all(|w| w[0].1 == w[1].0 && w[0].2 != w[1].2), "{:?}", lane.spans);
                for (from, to, phase) in &lane.spans {
                    for s in run.samples.iter().filter(|s| s.t_s > *from && s.t_s < *to) {
                        let share = travel(s) / lift;
                        match phase {
                            Phase::Sealed => assert!(share.abs() < 1e-9, "{} {}: {share}", lane.part, s.t_s),
                            Phase::Open => assert!((share - 1.0).abs() < 1e-9, "{} {}: {share}", lane.part, s.t_s),
                            // The interpolant may leave the range by the tolerance of the run.
                            Phase::Moving => {
                                assert!(share > -1e-3 && share < 1.001, "{} {}: {share}", lane.part, s.t_s)
                            }
                        }
                    }
                }
            }
        }
    }

    #[test]
    fn practice_a_dry_run_has_zero_traces() {
        let settings = Resolver::new().assembly("svb-diaphragm").set("zone2.initial=brimful").resolve().unwrap();
        let rig = Rig::from_settings(&settings).unwrap();
        let run = crate::bench::sequence(&rig, &options(&settings).unwrap()).unwrap();
        assert!(run.spill_m3 + run.rebound_spill_m3 < DRY);
        let conditions = Conditions { settings: &settings, rig: &rig, system: crate::units::System::Us, files: vec![] };
        let picture = sequence(&run, &conditions, "0123456789").unwrap();
        assert!(picture.vent_flow.values.iter().chain(&picture.vent_volume.values).all(|v| *v == 0.0));
        assert_eq!(picture.title, headline(&run, crate::units::System::Us));
    }
}
