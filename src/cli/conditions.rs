//! Under which conditions a run took place, in words.

use super::text::Rows;
use crate::assembly::{Initial, Resolver, Settings, Value};
use crate::error::{Error, shown};
use crate::rig::{Feed, Line, MainPressure, Rig};
use crate::units::{Kind, System, format};

/// Changed fields named one by one before the rest is counted.
const NAMED: usize = 8;

/// What a run's words need to know about its input.
pub(super) struct Conditions<'a> {
    pub settings: &'a Settings,
    pub rig: &'a Rig,
    pub system: System,
    /// Names of the files given.
    pub files: Vec<String>,
}

impl Conditions<'_> {
    fn shown(&self, path: &str, kind: Kind) -> Result<String, Error> {
        Ok(format(kind, self.settings.number(path)?, self.system))
    }

    /// Assembly, size and where they come from.
    pub fn assembly(&self) -> Result<String, Error> {
        let name = self.settings.assembly();
        let size = self.settings.choice("size")?;
        Ok(match self.files.is_empty() {
            true => format!("{name}, {size}, built in (invented, generic)"),
            false => format!("{name}, {size}, from {}", self.files.join(", ")),
        })
    }

    /// Faults put in, each with what it is and how severe.
    pub fn faults(&self) -> Option<String> {
        let all: Vec<String> = self
            .settings
            .faults()
            .iter()
            .map(|f| format!("{} at severity {} ({})", f.fault.name, f.severity, f.fault.what))
            .collect();
        (!all.is_empty()).then(|| all.join("; "))
    }

    /// Fields that differ from the built-in of this size, with their values.
    pub(super) fn changes(&self) -> Result<Option<String>, Error> {
        let (name, size) = (self.settings.assembly(), self.settings.choice("size")?);
        let plain = Resolver::new().assembly(name).set(&format!("size={size}")).resolve()?;
        let differs = |path: &str, value: &Value| plain.get(path).is_none_or(|s| s.value != *value);
        let changed: Vec<String> = self
            .settings
            .iter()
            .filter(|(path, s)| differs(path, &s.value) && !(s.value == Value::None && path.ends_with(".load_rate")))
            .map(|(path, s)| format!("{path} = {}", shown(s.text.trim())))
            .collect();
        let more = changed.len().saturating_sub(NAMED);
        let mut words = changed.into_iter().take(NAMED).collect::<Vec<_>>().join(", ");
        if more > 0 {
            words.push_str(&format!(", and {more} more"));
        }
        Ok((!words.is_empty()).then_some(words))
    }

    pub fn initial(&self, space: &str) -> Result<String, Error> {
        let water = match self.settings.initial(&format!("{space}.initial"))? {
            Initial::Empty => "empty".to_owned(),
            Initial::Brimful => "brimful".to_owned(),
            Initial::Volume(v) => format!("holding {}", format(Kind::Volume, v, self.system)),
        };
        Ok(match self.settings.optional_number(&format!("{space}.initial_pressure")).unwrap_or(None) {
            Some(p) if p != 0.0 => format!("{water} at {}", format(Kind::GaugePressure, p, self.system)),
            _ => water,
        })
    }

    fn pressure(&self, line: &Line) -> String {
        match &line.pressure {
            MainPressure::Steady(p) => format!("{} at the main", format(Kind::GaugePressure, *p, self.system)),
            MainPressure::Recorded(_) => format!("{} recorded at the main", self.trace()),
        }
    }

    fn trace(&self) -> String {
        self.settings.get("supply.trace").map_or_else(String::new, |s| shown(s.text.trim()))
    }

    fn supply(&self) -> String {
        let show = |kind, si| format(kind, si, self.system);
        let Feed::Line(line) = &self.rig.feed else {
            return format!("pressure before shutoff 1 as recorded in {}", self.trace());
        };
        let mut words = self.pressure(line);
        if line.elevation != 0.0 {
            let way = if line.elevation > 0.0 { "above" } else { "below" };
            words.push_str(&format!(", which lies {} {way}", show(Kind::Length, line.elevation.abs())));
        }
        if let Some(q) = line.flow_limit {
            words.push_str(&format!(", {} at most", show(Kind::VolumeFlow, q)));
        }
        let cells = if line.cells == 1 { "1 elastic cell".to_owned() } else { format!("{} elastic cells", line.cells) };
        let (length, bore) = (show(Kind::Length, line.length), show(Kind::Length, line.bore));
        format!("{words}; {length} of line, bore {bore}, {cells}")
    }

    pub fn load_side(&self) -> Result<String, Error> {
        let open = self.settings.number("shutoff2.open")?;
        let outlet = self.settings.number("load_side.outlet_area")?;
        let valve = match open {
            o if o <= 0.0 => return Ok("shutoff 2 shut".to_owned()),
            o if o >= 1.0 => "shutoff 2 open".to_owned(),
            o => format!("shutoff 2 open {:.0} %", 100.0 * o),
        };
        let outlet = match outlet > 0.0 {
            true => format!("outlet of {}", format(Kind::Area, outlet, self.system)),
            false => "no outlet open".to_owned(),
        };
        Ok(format!("{valve}, {outlet}, piping {}", self.initial("load_side")?))
    }

    /// One row each.
    pub fn rows(&self) -> Result<Rows, Error> {
        let mut rows = Rows::default();
        rows.add("assembly", self.assembly()?);
        if let Some(faults) = self.faults() {
            rows.add("faults put in", faults);
        }
        if let Some(changes) = self.changes()? {
            rows.add("changed", changes);
        }
        rows.add("supply", self.supply());
        let time = self.shown("shutoff1.opening_time", Kind::Time)?;
        rows.add("shutoff 1", format!("opens from t = 0 in {time}"));
        rows.add("load side", self.load_side()?);
        let zones = format!("zone 1 {}, zone 2 {}", self.initial("zone1")?, self.initial("zone2")?);
        rows.add("water at the start", zones);
        rows.add("water temperature", self.shown("water.temperature", Kind::Temperature)?);
        rows.add("ambient", self.shown("ambient.pressure_absolute", Kind::AbsolutePressure)?);
        Ok(rows)
    }

    /// All in one sentence, for a chart.
    pub fn line(&self) -> Result<String, Error> {
        let supply = match &self.rig.feed {
            Feed::Line(line) => self.pressure(line),
            _ => "recorded".to_owned(),
        };
        Ok(format!(
            "Water turned on: shutoff 1 opens in {}; supply {supply}; {}; zone 1 {}, zone 2 {}; water {}",
            self.shown("shutoff1.opening_time", Kind::Time)?,
            self.load_side()?,
            self.initial("zone1")?,
            self.initial("zone2")?,
            self.shown("water.temperature", Kind::Temperature)?
        ))
    }
}
