//! Variants of the same settings: all changes at once, and numbers without reading the other fields again.

use super::super::cross;
use super::super::fields;
use super::super::layer::{Layer, Provenance};
use super::{Setting, Settings};
use crate::error::{At, Error, Source};
use crate::units;
use std::path::Path;
use std::sync::Arc;

impl Settings {
    /// The same settings with several fields changed together, written as people write them. Rules are checked once, on
    /// the outcome. Faults stay on top and are reckoned anew from the changed values.
    ///
    /// # Errors
    /// As [`crate::assembly::Resolver::resolve`].
    pub fn with_texts<P: AsRef<str>, T: AsRef<str>>(&self, changes: &[(P, T)]) -> Result<Settings, Error> {
        let at = At::whole(Source::Study);
        let mut own = Vec::with_capacity(changes.len());
        for (path, text) in changes {
            own.push(Arc::new(Layer::single(path.as_ref(), text.as_ref(), at.clone())?));
        }
        self.beneath_faults(own)
    }

    /// The same settings with several numbers (SI) changed together, to the bit as [`Settings::with_texts`] gives them, at
    /// a tenth of the time: only the changed fields are read again. All rules are checked on the outcome.
    ///
    /// # Errors
    /// As [`Settings::with_number`].
    pub fn with_numbers<P: AsRef<str>>(&self, changes: &[(P, f64)]) -> Result<Settings, Error> {
        let at = At::whole(Source::Study);
        if self.layers.iter().any(|layer| layer.fault.is_some()) {
            let text = |(path, si): &(P, f64)| {
                let field = fields::require(path.as_ref(), &at)?;
                let Some(kind) = field.number_kind() else { return Err(self.mismatch(field.path, "a number")) };
                Ok((field.path, units::exact_text(kind, *si)))
            };
            return self.with_texts(&changes.iter().map(text).collect::<Result<Vec<_>, Error>>()?);
        }
        let mut new = self.clone();
        for (path, si) in changes {
            let field = fields::require(path.as_ref(), &at)?;
            let Some(kind) = field.number_kind() else { return Err(self.mismatch(field.path, "a number")) };
            let text = units::exact_text(kind, *si);
            let value = field.read(&text, &at, Path::new(""))?;
            new.layers.push(Arc::new(Layer::single(field.path, &text, at.clone())?));
            let (provenance, note) = (Provenance::Given, String::new());
            new.values.insert(field.path, Arc::new(Setting { value, text, at: at.clone(), provenance, note }));
        }
        for part in ["check", "air_inlet"] {
            if new.tables.contains_key(format!("{part}.load_curve").as_str()) {
                cross::load_or_curve(&new, part)?;
            }
        }
        cross::check(&new)?;
        Ok(new)
    }
}
