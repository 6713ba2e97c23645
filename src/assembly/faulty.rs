//! Faults and repairs, each as a layer of settings on top of what is there.

use super::layer::Layer;
use super::settings::Settings;
use crate::error::{At, Error, Source};
use crate::faults::{self, Component, Fault};
use std::collections::BTreeMap;
use std::sync::Arc;

/// A fault that is in an assembly.
#[derive(Debug, Clone, Copy)]
pub struct InPlace {
    /// Which.
    pub fault: &'static Fault,
    /// How severe, 0 (as new) to 1 (the worst end of its range).
    pub severity: f64,
}

impl Settings {
    /// The faults put in, in order.
    pub fn faults(&self) -> Vec<InPlace> {
        self.layers().iter().filter_map(|layer| in_place(layer)).collect()
    }

    /// The same settings with one more fault, by its name and severity (0 to 1). What it changes is reckoned from the
    /// values as they stand, so that faults add up.
    ///
    /// # Errors
    /// [`Error::UnknownName`]; [`Error::OutOfRange`] for the severity, or for a field driven out of its range;
    /// [`Error::DoesNotApply`] if this construction does not have the part.
    pub fn with_fault(&self, name: &str, severity: f64) -> Result<Settings, Error> {
        self.with_layer(self.fault_layer(faults::named(name)?, severity, Vec::new())?)
    }

    /// As [`Settings::with_fault`], from `NAME` (at its worst) or `NAME=SEVERITY`.
    ///
    /// # Errors
    /// As [`Settings::with_fault`]; [`Error::Quantity`] for a severity that is no number.
    pub fn with_fault_text(&self, text: &str) -> Result<Settings, Error> {
        let (fault, severity) = faults::parse(text)?;
        self.with_layer(self.fault_layer(fault, severity, Vec::new())?)
    }

    /// The fault as a layer, without what sits in the `cured` parts.
    fn fault_layer(&self, fault: &'static Fault, severity: f64, cured: Vec<Component>) -> Result<Layer, Error> {
        let at = At::whole(Source::Fault(fault.name.to_string()));
        let changes = fault.changes_left(self, severity, &cured)?;
        let note = format!("fault {} at severity {severity}", fault.name);
        let mut layer = Layer::worked_out(&changes, &at, &note)?;
        (layer.fault, layer.cured) = (Some((fault.name, severity)), cured);
        Ok(layer)
    }

    /// The same settings with more layers, put on top of all but the faults, which are reckoned anew.
    pub(super) fn beneath_faults(&self, more: Vec<Arc<Layer>>) -> Result<Settings, Error> {
        self.relaid(more, &[])
    }

    /// The layers up to the first fault, then `more`, then all later ones but what of faults the `renewed` parts cure.
    fn relaid(&self, more: Vec<Arc<Layer>>, renewed: &[Component]) -> Result<Settings, Error> {
        let first = self.layers().iter().position(|l| l.fault.is_some()).unwrap_or(self.layers().len());
        let (plain, later) = self.layers().split_at(first);
        let mut settings = self.relayered([plain, &more].concat())?;
        for layer in later {
            settings = match in_place(layer) {
                Some(InPlace { fault, severity }) => {
                    let cured = [&layer.cured[..], renewed].concat();
                    match fault.cured_by(&cured) {
                        true => settings,
                        false => settings.with_layer(settings.fault_layer(fault, severity, cured)?)?,
                    }
                }
                None => settings.with_layer(Layer::clone(layer))?,
            };
        }
        Ok(settings)
    }

    /// The same settings with a part repaired: the faults it cures are taken out, the fields that say in which condition
    /// the part is are as the built-in has them, and all other faults stay. `part` is one of [`faults::Repair::ALL`].
    ///
    /// # Errors
    /// [`Error::UnknownName`] for a part that no assembly has; [`Error::DoesNotApply`] for one that this construction does
    /// not have.
    pub fn repaired(&self, part: &str) -> Result<Settings, Error> {
        let renewed = faults::Repair::named(part)?.renews(self)?;
        let fields: Vec<&str> = renewed.iter().flat_map(|c| c.condition_fields()).copied().collect();
        let mut as_new = BTreeMap::new();
        for path in fields {
            // A built-in consists of two layers; the later one decides.
            let entry = self.layers().iter().take(2).rev().find_map(|l| l.entries.get_key_value(path));
            if let Some((path, entry)) = entry {
                as_new.insert(*path, entry.clone());
            }
        }
        self.relaid(vec![Arc::new(Layer::of(as_new))], &renewed)
    }
}

fn in_place(layer: &Layer) -> Option<InPlace> {
    let (name, severity) = layer.fault?;
    Some(InPlace { fault: faults::named(name).ok()?, severity })
}
