//! `relief`: from the arguments to text, document, table and charts.

use super::args::Given;
use super::caution::Caution;
use super::conditions::Conditions;
use super::frame::{self, Findings, Frame, Notice};
use super::freeze::{conditions, range, relief_place};
use super::problem::Problem;
use super::relief_picture::{grid_picture, window_picture};
use super::table;
use super::text::{Rows, degrees, wrapped};
use crate::bench::{
    Freeze, RELIEF_GRID, ReliefStudy, Verdict, WARM_DAY, ZoneNights, gives_way, part_name, relief_document,
    relief_study, zone_name,
};
use crate::charts::{lay_out_bands, lay_out_map};
use crate::error::Error;
use crate::freeze::Scene;
use crate::freeze::night::TOLERANCE;
use crate::rig::Rig;
use crate::units::{Kind, System, format};
use clap::Args;
use std::io::Write;
use std::time::Instant;

/// `relief`.
#[derive(Debug, Args)]
#[command(after_help = "\
The relief stands where relief.place says (zone 2 if it says none); its set and bore are what is looked for.
With no FILE and no --assembly it takes the built-in pvb-spring. Without --json and --chart it writes
DIR/relief-window-ASSEMBLY and DIR/relief-grid-ASSEMBLY, .svg and .png. --csv writes the grid.

Charts: window, grid, peak")]
pub(super) struct ReliefArgs {
    /// Values of set and of bore in the grid, each, 2 to 200
    #[arg(long, value_name = "N", default_value_t = RELIEF_GRID, value_parser = clap::value_parser!(u16).range(2..=200))]
    pub grid: u16,
    #[command(flatten)]
    pub given: Given,
}

pub(super) fn run(args: &ReliefArgs, out: &mut dyn Write, err: &mut dyn Write, columns: usize) -> Result<(), Problem> {
    let settings = frame::resolve(&args.given.shared, &args.given.files)?;
    let rig = Rig::from_settings(&settings)?;
    let scene = Scene::from_settings(&settings, &rig)?;
    let name = settings.assembly();
    let usual = [("window", format!("relief-window-{name}")), ("grid", format!("relief-grid-{name}"))];
    let frame = Frame::new(&args.given, &settings, &["window", "grid", "peak"], &usual, None)?
        .beside(&format!("grid {}", args.grid));

    let start = Instant::now();
    let found = relief_study(&settings, &scene, usize::from(args.grid), TOLERANCE)?;
    let wall_s = start.elapsed().as_secs_f64();

    let c = frame.conditions(&rig);
    let title = headline(&found, &relief_place(&found.place, &settings)?, c.system);
    let notices = notices(&found, &scene, &c)?;
    let findings = Findings {
        draw: &|chart| {
            Ok(match chart {
                "window" => lay_out_bands(&window_picture(&found, &scene, &title, &c, &frame.hash)?),
                other => lay_out_map(&grid_picture(&found, &scene, other == "peak", &c, &frame.hash)?),
            })
        },
        table: &|| table::rows(&found.grid),
        notices: &notices,
        said_in_text: true,
        cautions: &Caution::of_commands(["relief"]),
        document: &|s| relief_document(&found, s.assembly, s.inputs_sha256, wall_s, s.warnings, s.cautions),
        report: &|| report(&found, &scene, &c, &title, &notices, columns),
    };
    frame.deliver(&findings, out, err, columns)
}

/// The finding in one line.
fn headline(found: &ReliefStudy, place: &str, system: System) -> String {
    let show = |kind, si| format(kind, si, system);
    match &found.recommended {
        Some(r) => {
            let peak = show(Kind::GaugePressure, r.peak_pa_gauge);
            let holds = match broken(found) {
                None => format!("holds a freeze to {peak}{}", beyond(found, system)),
                Some((part, plugged, t)) => {
                    let until = if plugged { "until ice plugs it" } else { "where it reaches" };
                    format!("holds {peak} {until}: {part} gives way after {}", show(Kind::Time, t))
                }
            };
            format!(
                "A relief {place} set at {}, bore {}, {holds}{}",
                show(Kind::GaugePressure, r.set_pressure_pa_gauge),
                show(Kind::Length, r.bore_m),
                if r.lifts_in_slams { "; slams lift it" } else { "" }
            )
        }
        None => format!(
            "No set does it: everyday pressure reaches higher than the {} stands with its safety factor",
            found.weakest.0
        ),
    }
}

/// What zones come to that ice cuts off from the recommended relief, and what gives way if ice does so at another share.
fn beyond(found: &ReliefStudy, system: System) -> String {
    let (Some(run), Some(r)) = (&found.with_it, &found.recommended) else { return String::new() };
    let mut out = String::new();
    for z in cut_off(run, r.peak_pa_gauge) {
        let peak = format(Kind::GaugePressure, z.peak_pa_gauge, system);
        out.push_str(&format!("; {}, cut off by ice, comes to {peak}", zone_name(&z.zone)));
    }
    if let Some((port, share, broken)) = run.gives_way_at() {
        out.push_str(&format!("; with {port} blocked at {:.0} % ice {} gives way", 100.0 * share, part_name(broken)));
    }
    out
}

/// Zones well above what the relief holds with its port clear of ice, the balls left out.
fn cut_off(run: &Freeze, held: f64) -> impl Iterator<Item = &ZoneNights> {
    run.zones.iter().filter(move |z| z.zone != "shutoff-ball" && z.peak_pa_gauge > 1.05 * held)
}

/// What gives way on the night with the recommended relief, its port open to ice: part, whether ice had plugged the port,
/// and when, s.
fn broken(found: &ReliefStudy) -> Option<(String, bool, f64)> {
    let run = found.with_it.as_ref()?;
    let (plugged, t) = gives_way(run)?;
    Some((part_name(&run.first_yield.as_ref()?.part), plugged, t))
}

fn notices(found: &ReliefStudy, scene: &Scene, c: &Conditions<'_>) -> Result<Vec<Notice>, Error> {
    let system = c.system;
    let show = |kind, si| format(kind, si, system);
    let mut all = Vec::new();
    let mut say = |id, words: String| all.push((id, words));
    if found.recommended.as_ref().is_some_and(|r| r.lifts_in_slams) {
        let words = "slams lift this relief for a moment: it spits and wears; open shutoff 1 slowly, close valves slowly, or use \
                     a stronger bonnet";
        say("lifts-in-slams", words.to_owned());
    }
    if let Some((part, plugged, t)) = broken(found) {
        let why = if plugged { "once ice has plugged the relief's port" } else { "where the relief does not reach" };
        let words = format!(
            "on this very night it is not enough: {part} gives way after {} {why}; a port where water freezes last, less cold, \
             or a drained body is what helps",
            show(Kind::Time, t)
        );
        say("gives-way-in-spite-of-it", words);
    }
    if let (Some(run), Some(r), None) = (&found.with_it, &found.recommended, broken(found)) {
        for z in cut_off(run, r.peak_pa_gauge) {
            let fitted = scene.body.zones.iter().find(|x| x.name == z.zone);
            let Some(allowed) = fitted.map(|x| x.strength() / found.weakest.2) else { continue };
            if z.peak_pa_gauge > allowed {
                let words = format!(
                    "on this very night ice cuts {} off from the relief: it comes to {}, beyond the {} that it stands with its \
                     safety factor",
                    zone_name(&z.zone),
                    show(Kind::GaugePressure, z.peak_pa_gauge),
                    show(Kind::GaugePressure, allowed)
                );
                say("beyond-the-safety-factor-in-spite-of-it", words);
            }
        }
    }
    for (run, b) in found.with_it.iter().flat_map(|run| run.blocking.iter().map(move |b| (run, b))) {
        say(b.id(), b.words(run, system));
    }
    if found.grid.iter().any(|c| c.verdict.is_none()) {
        say("grid-incomplete", "some cells of the grid could not be computed".to_owned());
    }
    let aside = left_out(c)?;
    if !aside.is_empty() {
        let words = format!(
            "the advice is for a relief that reseats and opens at its set in the cold, the first time and every time: {} in \
             the file is not counted in it (poppetry freeze counts it)",
            aside.join(", ")
        );
        say("relief-taken-as-set", words);
    }
    let words = "a relief that has lifted in a freeze is to be inspected or replaced and the assembly retested; it guards no \
                 water shut in in the balls of the shutoffs";
    say("inspect-or-replace-and-retest", words.to_owned());
    Ok(all)
}

/// Fields by which the relief of the file differs from the one that is advised.
fn left_out(c: &Conditions<'_>) -> Result<Vec<&'static str>, Error> {
    let s = c.settings;
    let mut all = Vec::new();
    if s.choice("relief.kind")? == "one-shot" {
        all.push("relief.kind");
    }
    if s.switch("relief.stuck")? {
        all.push("relief.stuck");
    }
    for path in ["relief.drop_length", "relief.set_drift", "relief.cold_stiffening"] {
        if s.number(path)? != 0.0 {
            all.push(path);
        }
    }
    Ok(all)
}

/// Name of a band in words.
pub(super) fn band_words(name: &str, system: System) -> String {
    let words = match name {
        "working-pressure" => "working pressure",
        "shut-in-and-cooled-before-ice" => "shut in and cooled, before ice",
        "shut-in-and-warmed" => return format!("shut in and warmed by {}", degrees(WARM_DAY, system)),
        "fill-slam" => "fill slam, shutoff 1 flicked open",
        "downstream-slam" => "slam of a valve downstream",
        "weakest-part-over-safety-factor" => "weakest part / safety factor",
        _ => "weakest part",
    };
    words.to_owned()
}

fn report(
    found: &ReliefStudy,
    scene: &Scene,
    c: &Conditions<'_>,
    title: &str,
    notices: &[Notice],
    columns: usize,
) -> Result<String, Error> {
    let show = |kind: Kind, si: f64| format(kind, si, c.system);
    let mut out = wrapped(&format!("{title}."), columns, 0, 0);
    let mut rows = conditions(scene, c)?;
    rows.add("relief", format!("{}, its set and bore looked for", relief_place(&found.place, c.settings)?));
    out.push_str(&format!("\n{}", rows.laid_out("Conditions", columns)));
    let mut rows = Rows::default();
    for b in &found.window {
        let words = match (b.lower_pa_gauge, b.upper_pa_gauge) {
            (Some(low), Some(high)) => {
                format!("{} to {}", show(Kind::GaugePressure, low), show(Kind::GaugePressure, high))
            }
            (Some(low), None) => format!("from {} up ({})", show(Kind::GaugePressure, low), found.weakest.0),
            _ => "not computed".to_owned(),
        };
        rows.add(&band_words(b.name, c.system), words);
    }
    out.push_str(&format!(
        "\n{}",
        rows.laid_out(
            "Window (gauge): the set lies above these and below the weakest part; warming may lift it",
            columns
        )
    ));
    let mut rows = Rows::default();
    if let Some(r) = &found.recommended {
        let floor = if r.lifts_in_slams { "what lasts (slams do lift it)" } else { "all that must not lift it" };
        rows.add(
            "set",
            format!(
                "{}: {} above {floor}, {} below the {} over a safety factor of {:.1}",
                show(Kind::GaugePressure, r.set_pressure_pa_gauge),
                show(Kind::PressureDifference, r.margin_below_pa),
                show(Kind::PressureDifference, r.margin_above_pa),
                found.weakest.0,
                found.weakest.2
            ),
        );
        let times = found.critical_bore_m.map(|b| r.bore_m / b);
        rows.add(
            "bore",
            match times {
                Some(t) => format!("{}, {t:.1} times the critical bore", show(Kind::Length, r.bore_m)),
                None => show(Kind::Length, r.bore_m),
            },
        );
        rows.add(
            "highest pressure",
            format!(
                "{} with its port clear of ice{}",
                show(Kind::GaugePressure, r.peak_pa_gauge),
                blocked(found, c.system)
            ),
        );
    }
    match (found.critical_bore_m, found.pulse_rate) {
        (Some(b), Some(q)) => rows.add(
            "critical bore",
            format!(
                "{} at {}: below it the first ice ({:.2} mL/s net) drives the pressure above the set",
                show(Kind::Length, b),
                show(Kind::GaugePressure, found.critical_set),
                1e6 * q
            ),
        ),
        _ => rows.add("critical bore", "none: no ice forms suddenly on this night"),
    }
    rows.add(
        "rests on",
        "working pressure and the slams as listed, the strengths in the file (estimates unless it says otherwise), the \
         supercooling assumed, a port clear of ice, and a relief that does what it is set to",
    );
    out.push_str(&format!("\n{}", rows.laid_out("Recommended", columns)));
    out.push_str(&format!("\n{}", counted(found, columns)));
    for (_, words) in notices {
        out.push_str(&format!("\n{}", wrapped(&format!("Note: {words}."), columns, 0, 6)));
    }
    Ok(out)
}

/// The same with ports that ice can block.
fn blocked(found: &ReliefStudy, system: System) -> String {
    let Some(run) = &found.with_it else { return String::new() };
    let zones: Vec<String> = run
        .zones
        .iter()
        .filter(|z| z.zone != "shutoff-ball")
        .map(|z| {
            let peak = format(Kind::GaugePressure, z.peak_pa_gauge, system);
            let moved = range(run, &z.zone, system).map_or(String::new(), |words| format!(" ({words})"));
            format!("{peak} in {}{moved}", zone_name(&z.zone))
        })
        .collect();
    format!("; with ports that ice can block {}", zones.join(" and "))
}

/// What the cells of the grid come to, in one sentence.
fn counted(found: &ReliefStudy, columns: usize) -> String {
    let count = |v: Verdict| found.grid.iter().filter(|c| c.verdict == Some(v)).count();
    let words = [
        (Verdict::Good, "hold and do not weep"),
        (Verdict::LiftsInSlams, "hold but lift in slams"),
        (Verdict::Weeps, "weep in use"),
        (Verdict::NoMargin, "hold with less than the safety factor"),
        (Verdict::GivesWay, "let something give way"),
    ]
    .map(|(v, words)| (count(v), words))
    .into_iter()
    .filter(|(n, _)| *n > 0)
    .map(|(n, words)| format!("{n} {words}"))
    .collect::<Vec<_>>()
    .join(", ");
    let all = found.grid.len();
    wrapped(&format!("Of {all} pairs of set and bore (ports clear of ice), {words}."), columns, 0, 2)
}
