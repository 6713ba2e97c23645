//! Assemblies side by side.

use super::problem::Problem;
use super::sequence::Done;
use super::text;
use crate::assembly::{Resolver, builtin::names};
use crate::bench::headline;
use crate::rig::{Rig, Statics};
use crate::units::{Kind, System, format};

/// A table of words: one row per line, names in the first column.
struct Grid(Vec<Vec<String>>);

impl Grid {
    fn row(&mut self, name: &str, cells: impl Iterator<Item = String>) {
        self.0.push(std::iter::once(name.to_owned()).chain(cells).collect());
    }

    /// Columns padded to their widest cell; cut into blocks of columns that fit, each with the names again.
    fn laid_out(&self, columns: usize) -> String {
        let count = self.0.iter().map(Vec::len).max().unwrap_or(0);
        let width =
            |c: usize| self.0.iter().filter_map(|r| r.get(c)).map(|cell| cell.chars().count()).max().unwrap_or(0);
        let mut out = String::new();
        let mut first = 1;
        while first < count {
            let (mut last, mut used) = (first, 2 + width(0));
            while last < count && (last == first || used + 2 + width(last) <= columns) {
                used += 2 + width(last);
                last += 1;
            }
            if first > 1 {
                out.push('\n');
            }
            for row in &self.0 {
                let cell = |c: usize| row.get(c).map_or("", String::as_str);
                let pad = |c: usize| " ".repeat(width(c).saturating_sub(cell(c).chars().count()));
                let mut line = format!("  {}{}", cell(0), pad(0));
                for c in first..last {
                    line.push_str(&format!("  {}{}", cell(c), pad(c)));
                }
                out.push_str(line.trim_end());
                out.push('\n');
            }
            first = last;
        }
        out
    }
}

/// Pressure at which the air inlet shuts and the like, in the words of a table.
fn pressure(si: Option<f64>, system: System) -> String {
    si.map_or("-".to_owned(), |p| format(Kind::GaugePressure, p, system))
}

fn margin(s: &Statics, system: System) -> String {
    match (s.sequence_margin_pa, s.lap_margin_m) {
        (_, Some(lap)) => format!("lap {}", format(Kind::Length, lap, system)),
        (Some(m), None) => format(Kind::PressureDifference, m, system),
        (None, None) => "-".to_owned(),
    }
}

/// The runs of `sequence --against`, side by side, and what came of each in a sentence.
pub(super) fn runs(done: &[Done], system: System, columns: usize) -> String {
    let mut grid = Grid(Vec::new());
    let volume = |v: f64| format(Kind::Volume, v, system);
    let event = |d: &Done, part: crate::rig::Part, what: crate::rig::What| {
        let at = d.run.events.iter().find(|e| e.part == part && e.what == what);
        at.map_or("never".to_owned(), |e| format!("{:.3} s", e.t_s))
    };
    use crate::rig::{Part, What};
    grid.row("", done.iter().map(|d| d.name.clone()));
    grid.row("check opens", done.iter().map(|d| event(d, Part::Check, What::StartsToOpen)));
    grid.row("air inlet shut", done.iter().map(|d| event(d, Part::AirInlet, What::Closed)));
    grid.row("spill", done.iter().map(|d| volume(d.run.spill_m3)));
    grid.row("rebound spill", done.iter().map(|d| volume(d.run.rebound_spill_m3)));
    grid.row("sequence margin", done.iter().map(|d| margin(&d.run.statics, system)));
    grid.row(
        "check lifts at",
        done.iter().map(|d| format(Kind::PressureDifference, d.run.statics.check_lifts_pa, system)),
    );
    grid.row("inlet shut by zone 1 at", done.iter().map(|d| pressure(d.run.statics.inlet_shut_pa_gauge, system)));
    grid.row("peak zone 2", done.iter().map(|d| pressure(Some(d.run.peak.zone2_pa_gauge), system)));
    let mut out = format!("Side by side, in the same scene\n{}", grid.laid_out(columns));
    for d in done {
        out.push_str(&text::wrapped(&format!("{}: {}.", d.name, headline(&d.run, system)), columns, 2, 4));
    }
    out
}

/// The built-in constructions side by side.
pub(super) fn constructions(columns: usize) -> Result<String, Problem> {
    let system = System::Us;
    let mut all = Vec::new();
    for (name, _) in names() {
        let settings = Resolver::new().assembly(name).resolve()?;
        let rig = Rig::from_settings(&settings)?;
        let run = crate::bench::sequence(&rig, &crate::rig::options(&settings)?)?;
        all.push((name, settings, rig, run));
    }
    let mut grid = Grid(Vec::new());
    let mut row = |name: &str, cell: &dyn Fn(usize) -> Result<String, Problem>| -> Result<(), Problem> {
        let cells = (0..all.len()).map(cell).collect::<Result<Vec<_>, _>>()?;
        grid.row(name, cells.into_iter());
        Ok(())
    };
    let choice = |k: usize, path: &str| -> Result<String, Problem> { Ok(all[k].1.choice(path)?.to_owned()) };
    row("", &|k| Ok(all[k].0.to_owned()))?;
    row("air inlet loaded by", &|k| choice(k, "air_inlet.loading"))?;
    row("air inlet closed by", &|k| choice(k, "air_inlet.closed_by"))?;
    row("zone 1, zone 2 share", &|k| {
        let share = |zone: u8| all[k].1.number(&format!("air_inlet.zone{zone}_share"));
        Ok(format!("{}, {}", share(1)?, share(2)?))
    })?;
    row("check spring", &|k| choice(k, "check.spring"))?;
    row("check seat", &|k| choice(k, "check.seat"))?;
    row("test cocks", &|k| Ok(format!("{}, {}", choice(k, "cock1.place")?, choice(k, "cock2.place")?)))?;
    row("bleed screw", &|k| {
        let area = all[k].1.number("bleed_screw.area")?;
        Ok(if area > 0.0 { format(Kind::Area, area, system) } else { "none".to_owned() })
    })?;
    row("relief", &|k| choice(k, "relief.place"))?;
    row("check lifts at", &|k| Ok(format(Kind::PressureDifference, all[k].3.statics.check_lifts_pa, system)))?;
    row("inlet shut by zone 1 at", &|k| Ok(pressure(all[k].3.statics.inlet_shut_pa_gauge, system)))?;
    row("inlet opens again at", &|k| {
        Ok(format!("{} zone {}", pressure(all[k].3.statics.inlet_opens_pa_gauge, system), all[k].2.shutting_zone()))
    })?;
    row("sequence margin", &|k| Ok(margin(&all[k].3.statics, system)))?;
    row("spill, demo scene", &|k| Ok(format(Kind::Volume, all[k].3.spill_m3, system)))?;
    row("loss at 7.5 ft/s", &|k| {
        let (rig, supply) = (&all[k].2, all[k].1.number("supply.pressure")?);
        let loss = rig.steady_loss(crate::bench::rated_flow(rig), supply);
        Ok(format(Kind::PressureDifference, loss.dp_pa, system))
    })?;
    Ok(grid.laid_out(columns))
}
