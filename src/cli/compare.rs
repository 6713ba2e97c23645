//! Assemblies side by side.

use super::problem::Problem;
use super::sequence::Done;
use super::text;
use crate::assembly::{Resolver, Settings, builtin::names};
use crate::bench::{Sequence, headline};
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

/// What came of each run of `sequence --against`, in a sentence.
pub(super) fn headlines(done: &[Done], system: System, columns: usize) -> String {
    let sentence = |d: &Done| text::wrapped(&format!("{}: {}", d.name, headline(&d.run, system)), columns, 0, 2);
    done.iter().map(sentence).collect()
}

/// The runs of `sequence --against`, side by side.
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
    format!("Side by side, in the same scene\n{}", grid.laid_out(columns))
}

/// A built-in and what it does in the demo scene.
pub(super) struct Construction {
    pub name: &'static str,
    pub settings: Settings,
    pub rig: Rig,
    pub run: Sequence,
}

impl Construction {
    /// All built-ins.
    ///
    /// # Errors
    /// [`Problem`] if one cannot be run.
    pub fn all() -> Result<Vec<Construction>, Problem> {
        let build = |name| {
            let settings = Resolver::new().assembly(name).resolve()?;
            let rig = Rig::from_settings(&settings)?;
            let run = crate::bench::sequence(&rig, &crate::rig::options(&settings)?)?;
            Ok(Construction { name, settings, rig, run })
        };
        names().map(|(name, _)| build(name)).collect()
    }

    /// Pressure that it loses at its rated flow, Pa.
    ///
    /// # Errors
    /// [`Problem`] if the field with the supply is missing.
    pub fn loss_pa(&self) -> Result<f64, Problem> {
        let supply = self.settings.number("supply.pressure")?;
        Ok(self.rig.steady_loss(crate::bench::rated_flow(&self.rig), supply).dp_pa)
    }
}

/// The built-in constructions side by side.
pub(super) fn constructions(all: &[Construction], system: System, columns: usize) -> Result<String, Problem> {
    let mut grid = Grid(Vec::new());
    let mut row = |name: &str, cell: &dyn Fn(&Construction) -> Result<String, Problem>| -> Result<(), Problem> {
        let cells = all.iter().map(cell).collect::<Result<Vec<_>, _>>()?;
        grid.row(name, cells.into_iter());
        Ok(())
    };
    let choice = |c: &Construction, path: &str| -> Result<String, Problem> { Ok(c.settings.choice(path)?.to_owned()) };
    row("", &|c| Ok(c.name.to_owned()))?;
    row("air inlet loaded by", &|c| choice(c, "air_inlet.loading"))?;
    row("air inlet closed by", &|c| choice(c, "air_inlet.closed_by"))?;
    row("zone 1, zone 2 share", &|c| {
        let share = |zone: u8| c.settings.number(&format!("air_inlet.zone{zone}_share"));
        Ok(format!("{}, {}", share(1)?, share(2)?))
    })?;
    row("check spring", &|c| choice(c, "check.spring"))?;
    row("check seat", &|c| choice(c, "check.seat"))?;
    row("test cocks", &|c| Ok(format!("{}, {}", choice(c, "cock1.place")?, choice(c, "cock2.place")?)))?;
    row("bleed screw", &|c| {
        let area = c.settings.number("bleed_screw.area")?;
        Ok(if area > 0.0 { format(Kind::Area, area, system) } else { "none".to_owned() })
    })?;
    row("relief", &|c| choice(c, "relief.place"))?;
    row("check lifts at", &|c| Ok(format(Kind::PressureDifference, c.run.statics.check_lifts_pa, system)))?;
    row("inlet shut by zone 1 at", &|c| Ok(pressure(c.run.statics.inlet_shut_pa_gauge, system)))?;
    row("inlet opens again at", &|c| {
        Ok(format!("{} zone {}", pressure(c.run.statics.inlet_opens_pa_gauge, system), c.rig.shutting_zone()))
    })?;
    row("sequence margin", &|c| Ok(margin(&c.run.statics, system)))?;
    row("spill, demo scene", &|c| Ok(format(Kind::Volume, c.run.spill_m3, system)))?;
    let rated = format(Kind::Velocity, crate::bench::RATED_SPEED, system);
    row(&format!("loss at {rated}"), &|c| Ok(format(Kind::PressureDifference, c.loss_pa()?, system)))?;
    Ok(grid.laid_out(columns))
}
