//! The resolved input of a run: every catalogue field with its value, where it stands and how far to trust it.
//!
//! ```
//! use poppetry::assembly::Resolver;
//! let settings = Resolver::new().assembly("pvb-spring").set("check.load=2 psi").resolve().unwrap();
//! assert!((settings.number("check.load").unwrap() - 13_789.5).abs() < 0.1);
//! assert_eq!(settings.choice("air_inlet.closed_by").unwrap(), "zone2");
//! ```

mod vary;

use super::cross;
use super::fields::{self, Initial, Value};
use super::layer::{Entry, Layer, Provenance};
use super::tables::{self, AirTrace, LoadCurve, SupplyTrace};
use crate::error::{At, Error, QuantityProblem, Source};
use crate::units;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// One field's value and its history.
#[derive(Debug, Clone, PartialEq)]
pub struct Setting {
    /// The value, SI.
    pub value: Value,
    /// The value as written.
    pub text: String,
    /// Where it was written.
    pub at: At,
    /// How far it can be relied on.
    pub provenance: Provenance,
    /// The note beside it, or nothing.
    pub note: String,
}

/// What a file that a field names says.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Table {
    Curve(LoadCurve),
    Trace(SupplyTrace),
    Weather(AirTrace),
}

/// The resolved input: a value for every field of the catalogue. Immutable; variations are new settings.
#[derive(Debug, Clone)]
pub struct Settings {
    assembly: String,
    values: BTreeMap<&'static str, Arc<Setting>>,
    tables: BTreeMap<&'static str, (PathBuf, Arc<Table>)>,
    layers: Vec<Arc<Layer>>,
}

impl Settings {
    pub(super) fn from_layers(
        assembly: String,
        layers: Vec<Arc<Layer>>,
        known: &BTreeMap<&'static str, (PathBuf, Arc<Table>)>,
    ) -> Result<Settings, Error> {
        let mut s = Settings { assembly, values: BTreeMap::new(), tables: BTreeMap::new(), layers };
        let size = s.read("size", "")?;
        let Value::Choice(size_name) = size.value else { return Err(s.mismatch("size", "no size")) };
        for field in fields::fields() {
            let setting = s.read(field.path, size_name)?;
            s.values.insert(field.path, Arc::new(setting));
        }
        for part in ["check", "air_inlet"] {
            if matches!(s.get(&format!("{part}.load_curve")).map(|x| &x.value), Some(Value::Path(_))) {
                cross::load_or_curve(&s, part)?;
                for field in ["load", "load_rate"] {
                    if let Some(setting) = s.values.get_mut(format!("{part}.{field}").as_str()) {
                        Arc::make_mut(setting).value = Value::None;
                    }
                }
            }
        }
        for path in ["check.load_curve", "air_inlet.load_curve", "supply.trace", "night.weather"] {
            s.read_table(path, known)?;
        }
        cross::check(&s)?;
        Ok(s)
    }

    /// The last layer that has the field decides.
    fn read(&self, path: &'static str, size: &str) -> Result<Setting, Error> {
        let found = self.layers.iter().rev().find_map(|layer| Some((layer.entries.get(path)?, layer)));
        let (Some((entry, layer)), Some(field)) = (found, fields::field(path)) else {
            let at = At::default_value();
            let (provenance, note) = (Provenance::Estimate, String::new());
            return Ok(Setting { value: Value::None, text: "none".to_string(), at, provenance, note });
        };
        let text = entry.text(size).to_string();
        let value = field.read(&text, &entry.at, &layer.directory)?;
        Ok(Setting { value, text, at: entry.at.clone(), provenance: entry.provenance, note: entry.note.clone() })
    }

    /// A size of the moment must change what goes with it: a complete file fixes every dimension, and only its label
    /// would change.
    pub(super) fn size_counts(&self) -> Result<(), Error> {
        let decides = |path: &str| self.layers.iter().rev().find_map(|layer| layer.entries.get(path));
        let Some(at) = self.get("size").map(|s| &s.at).filter(|at| *at.source == Source::Set) else { return Ok(()) };
        if fields::fields().any(|f| decides(f.path).is_some_and(Entry::goes_by_size)) {
            return Ok(());
        }
        Err(Error::Conflict {
            at: at.clone(),
            name: "size-of-a-complete-file",
            fields: vec!["size".to_string(), "the dimensions in the file".to_string()],
            rule: "the file fixes every dimension that goes with a size; take them out of it, or write a new one with \
                   `poppetry assemblies NAME --set \"size=...\"`"
                .to_string(),
        })
    }

    fn read_table(
        &mut self,
        path: &'static str,
        known: &BTreeMap<&'static str, (PathBuf, Arc<Table>)>,
    ) -> Result<(), Error> {
        let Some(setting) = self.get(path) else { return Ok(()) };
        let Value::Path(file) = &setting.value else { return Ok(()) };
        let name_it = |e| match e {
            Error::File { path: file, problem, .. } => {
                Error::File { path: file, named_by: Some(format!("{path} at {}", setting.at)), problem }
            }
            other => other,
        };
        let table = match known.get(path) {
            Some((same, table)) if same == file => Arc::clone(table),
            _ if path == "night.weather" => Arc::new(Table::Weather(tables::weather(file).map_err(name_it)?)),
            _ if path == "supply.trace" => Arc::new(Table::Trace(tables::supply_trace(file).map_err(name_it)?)),
            _ => Arc::new(Table::Curve(tables::load_curve(file).map_err(name_it)?)),
        };
        let file = file.clone();
        self.tables.insert(path, (file, table));
        Ok(())
    }

    /// The built-in these settings started from.
    pub fn assembly(&self) -> &str {
        &self.assembly
    }

    /// The setting of a field, `None` for a path that the catalogue does not have.
    pub fn get(&self, path: &str) -> Option<&Setting> {
        self.values.get(path).map(|setting| &**setting)
    }

    /// All settings, by path.
    pub fn iter(&self) -> impl Iterator<Item = (&'static str, &Setting)> {
        self.values.iter().map(|(path, setting)| (*path, &**setting))
    }

    fn setting(&self, path: &str) -> Result<&Setting, Error> {
        self.get(path).ok_or_else(|| Error::UnknownField {
            at: At::default_value(),
            field: path.to_string(),
            nearest: fields::nearest(path),
        })
    }

    fn mismatch(&self, path: &str, found: &'static str) -> Error {
        let (at, text) = match self.get(path) {
            Some(setting) => (setting.at.clone(), setting.text.clone()),
            None => (At::default_value(), String::new()),
        };
        let expected = fields::field(path).map(|f| f.expected()).unwrap_or_default();
        Error::Quantity {
            at,
            field: path.to_string(),
            text,
            expected,
            problem: Box::new(QuantityProblem::WrongType { found }),
        }
    }

    /// The number of a field, SI.
    ///
    /// # Errors
    /// [`Error::UnknownField`]; [`Error::Quantity`] if the field holds no number (not set, or another kind).
    pub fn number(&self, path: &str) -> Result<f64, Error> {
        self.optional_number(path)?.ok_or_else(|| self.mismatch(path, "\"none\""))
    }

    /// The number of a field, SI; `None` where it is not set ("none", "auto", a load replaced by its curve).
    ///
    /// # Errors
    /// [`Error::UnknownField`]; [`Error::Quantity`] if the field is of another kind.
    pub fn optional_number(&self, path: &str) -> Result<Option<f64>, Error> {
        match self.setting(path)?.value {
            Value::Number(si) => Ok(Some(si)),
            Value::None if fields::field(path).is_some_and(|f| f.number_kind().is_some()) => Ok(None),
            _ => Err(self.mismatch(path, "no number")),
        }
    }

    /// The word of a field with choices, or the nominal size.
    ///
    /// # Errors
    /// [`Error::UnknownField`]; [`Error::Quantity`] if the field has no choices.
    pub fn choice(&self, path: &str) -> Result<&'static str, Error> {
        match self.setting(path)?.value {
            Value::Choice(word) => Ok(word),
            _ => Err(self.mismatch(path, "no choice")),
        }
    }

    /// The value of a switch.
    ///
    /// # Errors
    /// [`Error::UnknownField`]; [`Error::Quantity`] if the field is no switch.
    pub fn switch(&self, path: &str) -> Result<bool, Error> {
        match self.setting(path)?.value {
            Value::Switch(on) => Ok(on),
            _ => Err(self.mismatch(path, "no switch")),
        }
    }

    /// Water at the start in a space.
    ///
    /// # Errors
    /// [`Error::UnknownField`]; [`Error::Quantity`] if the field is of another kind.
    pub fn initial(&self, path: &str) -> Result<Initial, Error> {
        match self.setting(path)?.value {
            Value::Initial(initial) => Ok(initial),
            _ => Err(self.mismatch(path, "no amount of water")),
        }
    }

    /// The file a field names, joined to the directory of the file that names it; `None` where it names none.
    ///
    /// # Errors
    /// [`Error::UnknownField`]; [`Error::Quantity`] if the field is of another kind.
    pub fn path(&self, path: &str) -> Result<Option<&Path>, Error> {
        match &self.setting(path)?.value {
            Value::Path(file) => Ok(Some(file)),
            Value::None if fields::field(path).is_some_and(|f| f.kind == fields::FieldKind::Path) => Ok(None),
            _ => Err(self.mismatch(path, "no file")),
        }
    }

    /// The load curve that "check.load_curve" or "air_inlet.load_curve" names.
    pub fn load_curve(&self, path: &str) -> Option<&LoadCurve> {
        match self.table(path)? {
            Table::Curve(curve) => Some(curve),
            _ => None,
        }
    }

    /// What the file that a field names says.
    pub(super) fn table(&self, path: &str) -> Option<&Table> {
        self.tables.get(path).map(|(_, table)| table.as_ref())
    }

    /// The trace that "supply.trace" names.
    pub fn supply_trace(&self) -> Option<&SupplyTrace> {
        match self.table("supply.trace")? {
            Table::Trace(trace) => Some(trace),
            _ => None,
        }
    }

    /// The weather that "night.weather" names.
    pub fn weather(&self) -> Option<&AirTrace> {
        match self.table("night.weather")? {
            Table::Weather(trace) => Some(trace),
            _ => None,
        }
    }

    /// The same settings with one number (SI) changed, for studies; all rules are checked again.
    ///
    /// # Errors
    /// [`Error::UnknownField`], [`Error::OutOfRange`], [`Error::Conflict`]; [`Error::Quantity`] if the field takes no
    /// number or the number is not finite.
    pub fn with_number(&self, path: &str, si: f64) -> Result<Settings, Error> {
        let at = At::whole(Source::Study);
        let field = fields::require(path, &at)?;
        match field.number_kind() {
            Some(kind) => self.with_text(path, &units::exact_text(kind, si)),
            None => Err(self.mismatch(path, "a number")),
        }
    }

    /// The same settings with one field changed, written as people write it; `size` picks new values by size.
    ///
    /// # Errors
    /// As [`super::Resolver::resolve`].
    pub fn with_text(&self, path: &str, text: &str) -> Result<Settings, Error> {
        self.with_texts(&[(path, text)])
    }

    /// The same settings with one more layer on top; all rules are checked again.
    pub(super) fn with_layer(&self, layer: Layer) -> Result<Settings, Error> {
        let mut layers = self.layers.clone();
        layers.push(Arc::new(layer));
        Settings::from_layers(self.assembly.clone(), layers, &self.tables)
    }

    /// All layers, the weakest first: two of the built-in, then what was given.
    pub(super) fn layers(&self) -> &[Arc<Layer>] {
        &self.layers
    }

    /// The same tables and built-in with other layers.
    pub(super) fn relayered(&self, layers: Vec<Arc<Layer>>) -> Result<Settings, Error> {
        Settings::from_layers(self.assembly.clone(), layers, &self.tables)
    }
}
