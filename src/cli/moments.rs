//! From runs to the strip of key moments and to the moving picture.

use super::problem::Problem;
use super::sequence::Done;
use crate::bench::{
    FIRST_VOLUME, Instant, Order, Playback, STILL, SectionView, Sequence, headline, key_moments, moving_window,
};
use crate::charts::{MomentCell, MomentColumn, MomentsPicture, MovieFrame, MoviePicture, Page, Trace};
use crate::units::{Kind, System, format, to_display, unit_symbol};

/// Frames of a moving picture.
pub(super) const FRAMES: usize = 60;
/// Frames a second, for the words about its pace.
const RATE: f64 = 12.0;

/// Flow of air, m3/s, worth a word: a part that moves displaces less.
const BREATH: f64 = 5e-5;

/// The strip: every assembly at the key moments of all of them.
///
/// # Errors
/// [`Problem`] if a setting is missing or a run cannot be repeated.
pub(super) fn strip(done: &[Done], page: Page, system: System) -> Result<MomentsPicture, Problem> {
    let runs: Vec<&Sequence> = done.iter().map(|d| &d.run).collect();
    let moments = key_moments(&runs);
    let mut columns = Vec::with_capacity(done.len());
    for d in done {
        let (view, playback) = (SectionView::new(&d.settings, &d.rig)?, Playback::new(&d.rig, &d.options)?);
        columns.push(MomentColumn {
            name: d.name.clone(),
            verdict: headline(&d.run, system),
            shape: view.shape,
            cells: moments.iter().map(|m| cell(&view, &playback.at(m.t_s), system)).collect(),
        });
    }
    let cells = || columns.iter().flat_map(|c: &MomentColumn| &c.cells);
    let (key_flow, cup) = (key_flow(cells(), system), cup(cells(), system));
    let time = |t: f64| if t == 0.0 { "0 s".to_owned() } else { format!("{t:.3} s") };
    let moments = moments.iter().map(|m| (time(m.t_s), m.name.to_owned())).collect();
    let bar = match system {
        System::Us => (0.0254, "1 in".to_owned()),
        System::Si => (0.02, "20 mm".to_owned()),
    };
    Ok(MomentsPicture { page: Page { title: finding(done, system), ..page }, moments, columns, key_flow, cup, bar })
}

/// The moving picture of up to three runs on one clock.
///
/// # Errors
/// [`Problem`] if a setting is missing or a run cannot be repeated.
pub(super) fn movie(done: &[Done], page: Page, system: System) -> Result<MoviePicture, Problem> {
    let done = done.get(..3).unwrap_or(done);
    let runs: Vec<&Sequence> = done.iter().map(|d| &d.run).collect();
    let window = moving_window(&runs);
    let time_of = |i: usize| window.0 + (window.1 - window.0) * i as f64 / (FRAMES - 1) as f64;
    let (mut columns, mut all) = (Vec::new(), Vec::new());
    for d in done {
        let (view, playback) = (SectionView::new(&d.settings, &d.rig)?, Playback::new(&d.rig, &d.options)?);
        columns.push((d.name.clone(), view.shape));
        all.push((0..FRAMES).map(|i| cell(&view, &playback.at(time_of(i)), system)).collect::<Vec<_>>());
    }
    let frames: Vec<MovieFrame> = (0..FRAMES)
        .map(|i| MovieFrame {
            time: time_of(i),
            clock: format!("{:.3} s", time_of(i)),
            cells: all.iter().filter_map(|cells| cells.get(i).cloned()).collect(),
        })
        .collect();
    let pressure = |v: f64| to_display(Kind::GaugePressure, v, system);
    // One clock for all: the samples of the first run, and those of the others at the same instants.
    let time: Vec<f64> = (0..=600).map(|i| window.0 + (window.1 - window.0) * f64::from(i) / 600.0).collect();
    let mut traces = Vec::new();
    for d in done {
        let beside = if done.len() > 1 { format!(" {}", d.name) } else { String::new() };
        let at = |get: fn(&crate::bench::Sample) -> f64| -> Vec<f64> {
            time.iter().map(|t| pressure(interpolated(&d.run, *t, get))).collect()
        };
        if done.len() == 1 {
            traces.push(Trace { label: "zone 1".to_owned(), values: at(|s| s.zone1_pa_gauge) });
        }
        traces.push(Trace { label: format!("zone 2{beside}"), values: at(|s| s.zone2_pa_gauge) });
    }
    let slower = FRAMES as f64 / RATE / (window.1 - window.0).max(1e-9);
    let pace = match slower >= 1.5 {
        true => format!("{slower:.0} times slower than life"),
        false => format!("{:.1} times as fast as life", 1.0 / slower),
    };
    let cells = || frames.iter().flat_map(|f| &f.cells);
    Ok(MoviePicture {
        page: Page { title: finding(done, system), ..page },
        key_flow: key_flow(cells(), system),
        cup: cup(cells(), system),
        columns,
        frames,
        time,
        traces,
        y_name: format!("gauge pressure ({})", unit_symbol(Kind::GaugePressure, system)),
        window,
        pace,
    })
}

/// A quantity of a run between its samples.
fn interpolated(run: &Sequence, t: f64, get: fn(&crate::bench::Sample) -> f64) -> f64 {
    let k = run.samples.partition_point(|s| s.t_s < t);
    match (k.checked_sub(1).and_then(|i| run.samples.get(i)), run.samples.get(k)) {
        (Some(a), Some(b)) if b.t_s > a.t_s => get(a) + (t - a.t_s) / (b.t_s - a.t_s) * (get(b) - get(a)),
        (_, Some(b)) => get(b),
        (Some(a), None) => get(a),
        (None, None) => f64::NAN,
    }
}

fn cell(view: &SectionView, at: &Instant, system: System) -> MomentCell {
    let pressure = |pa: f64| {
        // A hundredth of a psi is no pressure, and its sign no vacuum.
        let pa = if pa.abs() < 70.0 { 0.0 } else { pa };
        format(Kind::GaugePressure, pa, system)
    };
    MomentCell {
        state: view.state(at),
        pressures: [pressure(at.gauge[1]), pressure(at.gauge[2])],
        spilled: at.spilled_m3,
        spilled_text: match at.spilled_m3 > FIRST_VOLUME {
            true => format!("{} spilled", format(Kind::Volume, at.spilled_m3, system)),
            false => "dry".to_owned(),
        },
        note: note(at, system),
    }
}

/// What is the matter at an instant.
fn note(at: &Instant, system: System) -> String {
    let (vent_open, check_open) = (at.air_inlet_travel_m > 0.0, at.check_travel_m > 0.0);
    let spill = at.water_m3_s[3];
    match (vent_open, check_open) {
        _ if spill > STILL => format!("spilling {}", format(Kind::VolumeFlow, spill, system)),
        (true, _) if at.vent_air_m3_s > BREATH => "air leaves by the vent".to_owned(),
        (true, _) if at.vent_air_m3_s < -BREATH => "air comes in by the vent".to_owned(),
        (true, true) => "vent and check open".to_owned(),
        (true, false) => "vent open, check shut".to_owned(),
        (false, true) => "vent shut: no way out".to_owned(),
        (false, false) => "vent and check shut".to_owned(),
    }
}

/// What came of all runs, with the reason, as a title.
fn finding(done: &[Done], system: System) -> String {
    if let [only] = done {
        return headline(&only.run, system);
    }
    let clause = |d: &Done| {
        let (name, run) = (d.name.as_str(), &d.run);
        let total = run.spill_m3 + run.rebound_spill_m3;
        let why = match run.order {
            _ if done.len() > 2 => "",
            Order::CheckFirst => ": its check opens while the air inlet is open",
            Order::AirInletFirst if run.rebound_spill_m3 > FIRST_VOLUME => ": its air inlet reopens",
            Order::AirInletFirst => ": its air inlet shuts first",
            Order::AirInletNeverClosed => ": its air inlet never shuts",
            Order::CheckNeverOpened => ": its check never opens",
        };
        match total > FIRST_VOLUME {
            true => format!("{name} spills {}{why}", format(Kind::Volume, total, system)),
            false => format!("{name} stays dry{why}"),
        }
    };
    done.iter().map(clause).collect::<Vec<_>>().join("; ")
}

/// The number of the row 1, 2, 5, 10, … that is at most `value`, or at least it if `up`.
fn round_number(value: f64, up: bool) -> f64 {
    if !(value > 1e-12 && value < 1e12) {
        return 1.0;
    }
    let power = 10f64.powf(value.log10().floor());
    let row = [1.0, 2.0, 5.0, 10.0].map(|m| m * power);
    let fits = |m: &f64| if up { *m >= value * (1.0 - 1e-9) } else { *m <= value * (1.0 + 1e-9) };
    if up { row.into_iter().find(fits) } else { row.into_iter().rev().find(fits) }.unwrap_or(value)
}

/// A round value in the unit of display, SI and in words.
fn rounded(kind: Kind, si: f64, up: bool, system: System) -> (f64, String) {
    let one = 1.0 / to_display(kind, 1.0, system);
    let si = one * round_number(si / one, up);
    (si, format(kind, si, system))
}

fn key_flow<'a>(cells: impl Iterator<Item = &'a MomentCell>, system: System) -> (f64, String) {
    let flows = cells.flat_map(|c| c.state.water.into_iter().chain([c.state.vent_air]));
    let most = flows.filter(|f| f.is_finite()).fold(0.0, |most: f64, f| most.max(f.abs()));
    rounded(Kind::VolumeFlow, 0.6 * most, false, system)
}

fn cup<'a>(cells: impl Iterator<Item = &'a MomentCell>, system: System) -> (f64, String) {
    let most = cells.map(|c| c.spilled).fold(0.0, f64::max);
    rounded(Kind::Volume, most.max(10.0 * FIRST_VOLUME), true, system)
}
