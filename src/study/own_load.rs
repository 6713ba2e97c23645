//! A load that no number states (by-geometry, or a curve) is spread as a factor on the force of its spring or lip: units of
//! one mould and compound differ as their stiffness does, and what dimensions, temperature and set make of the load stays.
//! `load_factor` is then multiplied by `(x - w) / (l - w)`, with `x` the sampled load, `l` the assembly's own and `w` the
//! weight in both; at the assembly's own values the spread is that of the load, in its own unit.

use crate::assembly::Settings;
use crate::error::Error;
use crate::rig::stated_load;

/// A load that is spread as a factor, Pa.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct OwnLoad {
    /// What the assembly's spring, lip or curve gives, the part's weight counted.
    pub nominal: f64,
    weight: f64,
}

impl OwnLoad {
    /// That of the settings, if `path` is a load and no number states it.
    pub fn of(base: &Settings, path: &str) -> Result<Option<OwnLoad>, Error> {
        let Some(group) = path.strip_suffix(".load").filter(|group| ["check", "air_inlet"].contains(group)) else {
            return Ok(None);
        };
        if base.optional_number(path)?.is_some() {
            return Ok(None);
        }
        let [nominal, weight] = stated_load(base, group)?;
        Ok(Some(OwnLoad { nominal, weight }))
    }

    /// What the force of spring or lip is multiplied by for this load.
    pub fn factor(self, load: f64) -> f64 {
        (load - self.weight) / (self.nominal - self.weight)
    }
}
