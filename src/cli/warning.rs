//! Warnings: what a reader should know before relying on a run. The run itself is valid.

use crate::bench::{Before, Sequence, Stop};
use crate::rig::{Feed, Rig};
use crate::units::{Kind, System, format};

/// The load that the trade tests for, 1.0 psi in Pa. Source: state manual of field tests (check and air inlet each at
/// least 1.0 psi).
const TESTED_FOR: f64 = 6_894.757;
/// Trapped excess above which to warn: 20 psi in Pa.
const TRAPPED: f64 = 137_895.1;
/// How near to the vapour pressure counts as being there, as a share of the ambient pressure. A pocket always holds a little
/// air beside the vapour, so its pressure never comes all the way down.
const VAPOUR_BAND: f64 = 0.01;

/// Where one cell of line is good enough: a wave takes at most this long along the line, s, and shutoff 1 opens in this many
/// times as long at least. Found against waves followed along the line (`surge`), 5 to 44 m, 400 and 1,280 m/s, 0.1 to 1 s:
/// within both the spill is good to 3 %, and to 0.6 % with 16 cells; in 100 m thrown open it doubles, and the order may turn.
const SHORT_LINE: f64 = 0.035;
const SLOW_OPENING: f64 = 14.0;

/// How far back the last moments of a run go, s, and how far apart pressures must lie then to count as swinging, Pa (5 psi).
const LATE: f64 = 0.3;
const SWING: f64 = 34_473.8;

/// A warning with a stable id.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum Warning {
    /// The line is a single elastic cell, which makes the peak low.
    OneLineCell,
    /// The line is a single elastic cell, though waves run in it longer than shutoff 1 takes.
    WavesInOneLineCell,
    /// The line or a zone came down to the vapour pressure of water.
    LineBelowVapour,
    /// The run was cut off with parts still in motion.
    EndTimeReached,
    /// A part opened and shut without end, and the run was stopped there.
    Chatter,
    /// Zone 2 is left well above what the supply gives.
    SettledWithTrappedPressure,
    /// Pressure still swings with the line at the end, so that what it is there is a phase.
    StillSwinging,
    /// The check or the air inlet is loaded below what the trade tests for.
    LowLoad,
    /// A load rises and falls along the travel: the part snaps.
    SnapsThrough,
}

impl Warning {
    /// All, in the order in which they are given.
    pub const ALL: [Warning; 9] = [
        Warning::OneLineCell,
        Warning::WavesInOneLineCell,
        Warning::LineBelowVapour,
        Warning::EndTimeReached,
        Warning::Chatter,
        Warning::SettledWithTrappedPressure,
        Warning::StillSwinging,
        Warning::LowLoad,
        Warning::SnapsThrough,
    ];

    /// The id in JSON; it stays the same.
    pub fn id(self) -> &'static str {
        match self {
            Warning::OneLineCell => "one-line-cell",
            Warning::WavesInOneLineCell => "waves-in-one-line-cell",
            Warning::LineBelowVapour => "line-below-vapour",
            Warning::EndTimeReached => "end-time-reached",
            Warning::Chatter => "chatter",
            Warning::SettledWithTrappedPressure => "settled-with-trapped-pressure",
            Warning::StillSwinging => "still-swinging",
            Warning::LowLoad => "low-load",
            Warning::SnapsThrough => "snaps-through",
        }
    }
}

/// A warning about one run, in words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Notice {
    /// Which.
    pub warning: Warning,
    /// What it means here.
    pub words: String,
}

/// How long a wave takes along a line of one cell, s.
fn one_cell(rig: &Rig) -> Option<f64> {
    match &rig.feed {
        Feed::Line(line) if line.cells == 1 => Some(line.length / line.wave_speed),
        _ => None,
    }
}

fn waves_matter(rig: &Rig, wave: f64) -> bool {
    wave > SHORT_LINE || rig.shutoff1.opening.rests_from() < SLOW_OPENING * wave
}

/// The warnings about a run, in the order of [`Warning::ALL`], each at most once.
pub fn warnings(rig: &Rig, run: &Sequence, system: System) -> Vec<Notice> {
    let words = |warning| {
        match warning {
        Warning::OneLineCell => one_cell(rig).filter(|wave| !waves_matter(rig, *wave)).map(|_| {
            "one elastic line cell: the spill is good to 3 % (what a rebound spills is not), the peak stands up to 30 % low; \
             --set supply.line_cells=16 resolves the line"
                .to_owned()
        }),
        Warning::WavesInOneLineCell => one_cell(rig).filter(|wave| waves_matter(rig, *wave)).map(|wave| {
            format!(
                "one elastic line cell, and a wave takes {} along this line while shutoff 1 opens in {}: the spill may be out, \
                 in a long line by half or more, and even the order wrong; `poppetry surge` follows the waves, --set \
                 supply.line_cells=16 comes nearer",
                format(Kind::Time, wave, system),
                format(Kind::Time, rig.shutoff1.opening.rests_from(), system)
            )
        }),
        Warning::LineBelowVapour => below_vapour(rig, run),
        Warning::EndTimeReached => (run.stop == Stop::EndTime && rig.stop_at_rest).then(|| {
            let what = if run.spilling_at_end { "the flows settled" } else { "all had come to rest" };
            format!(
                "the run ended at {} before {what}; --set run.end_time=\"60 s\" looks further",
                format(Kind::Time, run.last.t_s, system)
            )
        }),
        Warning::Chatter => (run.stop == Stop::Chatter).then(|| {
            format!(
                "at {} a part opens and shuts without end; the run was stopped there and figures at its end mean little",
                format(Kind::Time, run.last.t_s, system)
            )
        }),
        Warning::SettledWithTrappedPressure => (run.trapped_excess_pa.min(run.last.zone2_pa_gauge) > TRAPPED).then(|| {
            format!(
                "zone 2 is left at {}, {} above what supply less check load would give: bleed it before opening the body",
                format(Kind::GaugePressure, run.last.zone2_pa_gauge, system),
                format(Kind::PressureDifference, run.trapped_excess_pa, system)
            )
        }),
        Warning::StillSwinging => swing(run).map(|(low, high)| {
            let places = if run.last.check_travel_m > 0.0 { "zones 1 and 2" } else { "zone 1" };
            format!(
                "pressure in zone 1 still swings with the line at the end, between {} and {}: what {places} then have is one \
                 phase of that",
                format(Kind::GaugePressure, low, system),
                format(Kind::GaugePressure, high, system)
            )
        }),
        Warning::LowLoad => low_load(rig, run, system),
        Warning::SnapsThrough => snaps_through(rig),
    }
    };
    let notice = |warning| Some(Notice { warning, words: words(warning)? });
    Warning::ALL.into_iter().filter_map(notice).collect()
}

/// Id and words on a scene that did not begin steadily.
pub(super) fn start_not_steady(before: Before, scene: &str) -> Option<(&'static str, String)> {
    match before {
        Before::Steady => None,
        Before::Changing => {
            Some(("start-not-steady", format!("{scene}: flow and pressures had not become steady when it began")))
        }
        Before::Chatter => Some((
            "start-chatters",
            format!(
                "{scene}: before it began a part opens and shuts without end, and it starts from one moment of that"
            ),
        )),
    }
}

/// Lowest and highest pressure in zone 1 over the last moments, Pa gauge, if they lie well apart.
fn swing(run: &Sequence) -> Option<(f64, f64)> {
    let late = run.samples.iter().filter(|s| s.t_s > run.last.t_s - LATE).map(|s| s.zone1_pa_gauge);
    let (low, high) = late.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), p| (l.min(p), h.max(p)));
    (high - low > SWING).then_some((low, high))
}

pub(super) fn snaps_through(rig: &Rig) -> Option<String> {
    let parts = [("check", &rig.check), ("air inlet", &rig.inlet.poppet)];
    let snapping: Vec<&str> = parts.iter().filter(|(_, p)| p.load.snaps()).map(|(name, _)| *name).collect();
    (!snapping.is_empty()).then(|| {
        format!(
            "the load on the {} rises and falls along its travel: it snaps from one position to another and may stay where \
             it was not meant to",
            snapping.join(" and the ")
        )
    })
}

fn below_vapour(rig: &Rig, run: &Sequence) -> Option<String> {
    let limit = rig.fluid.vapour_pressure - (1.0 - VAPOUR_BAND) * rig.fluid.ambient;
    let first = run.samples.iter().find_map(|s| {
        let places = [("the line", s.line_pa_gauge), ("zone 1", s.zone1_pa_gauge), ("zone 2", s.zone2_pa_gauge)];
        places.into_iter().find(|(_, p)| *p <= limit).map(|(name, _)| (name, s.t_s))
    });
    first.map(|(name, t)| {
        format!("at {t:.4} s {name} is down to the vapour pressure of water: the column parts, and peaks after that are rough")
    })
}

fn low_load(rig: &Rig, run: &Sequence, system: System) -> Option<String> {
    let s = &run.statics;
    let mut low = Vec::new();
    // A value that is no number warns too.
    if s.check_settles_pa < TESTED_FOR || s.check_settles_pa.is_nan() {
        low.push(format!("the check holds {}", format(Kind::PressureDifference, s.check_settles_pa, system)));
    }
    if !s.inlet_opens_pa_gauge.is_some_and(|p| p >= TESTED_FOR) {
        let zone = rig.shutting_zone();
        low.push(match s.inlet_opens_pa_gauge {
            Some(p) => {
                let at = format(Kind::GaugePressure, p, system);
                format!("the air inlet starts to open only when zone {zone} is down to {at}")
            }
            None => "no pressure acts on the air inlet".to_owned(),
        });
    }
    let wanted = format(Kind::PressureDifference, TESTED_FOR, system);
    (!low.is_empty()).then(|| format!("{}; the trade tests for {wanted} or more", low.join(", and ")))
}
