//! Settings written out: as a complete file to edit, and as the canonical text that identifies a run.

use super::builtin;
use super::fields::{self, Field, FieldKind, Initial, Value};
use super::settings::{Setting, Settings, Table};
use super::tables::Branch;
use crate::error::shown_long;
use serde_json::{Map, Number, Value as Json, json};
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::fmt::Write;

impl Settings {
    /// The complete file, ready to edit: each field with its meaning above it and where its value comes from behind
    /// it. Reading it gives the same settings.
    pub fn to_toml(&self) -> String {
        let summary = builtin::names().find(|(n, _)| *n == self.assembly()).map_or("", |(_, s)| s);
        let mut out = format!(
            "# Assembly file, complete. It started from the built-in \"{0}\": {1}.\n\
             # Values marked estimate are invented for a generic unit, not those of any product; change what you know.\n\
             # Pressures are gauge unless the name says absolute; gpm is US. Behind each value: where it comes from.\n\n\
             base = \"{0}\"\n\n",
            self.assembly(),
            summary
        );
        let mut group = "";
        for field in fields::fields() {
            let Some(setting) = self.get(field.path) else { continue };
            let (own_group, name) = field.path.split_once('.').unwrap_or(("", field.path));
            if own_group != group {
                group = own_group;
                // Writing to a String cannot fail.
                let _ = write!(out, "\n[{group}]\n");
            }
            let origin = match setting.note.is_empty() {
                true => setting.provenance.word().to_string(),
                false => format!("{}: {}", setting.provenance.word(), shown_long(&setting.note)),
            };
            let replaced =
                matches!(name, "load" | "load_rate") && self.load_curve(&format!("{group}.load_curve")).is_some();
            let _ = match replaced {
                true => write!(out, "# {}\n# {name}: replaced by {group}.load_curve\n", field.doc),
                false => write!(out, "# {}\n{name} = {}  # {origin}\n", field.doc, toml_value(field, setting)),
            };
        }
        out
    }

    /// One JSON object with every field in SI, sorted by path, tables with their rows. The same input gives the same
    /// text, however it was written.
    pub fn canonical_json(&self) -> String {
        let sorted: BTreeMap<&str, Json> = self.iter().map(|(path, s)| (path, self.json_value(path, s))).collect();
        let object: Map<String, Json> = sorted.into_iter().map(|(k, v)| (k.to_string(), v)).collect();
        Json::Object(object).to_string()
    }

    /// SHA-256 of the crate version and the canonical input, in hexadecimal.
    pub fn sha256(&self, crate_version: &str) -> String {
        self.sha256_with(crate_version, "")
    }

    /// The same with what a command is given `beside` the settings, such as the acts of a procedure.
    pub fn sha256_with(&self, crate_version: &str, beside: &str) -> String {
        let digest = Sha256::digest(format!("{crate_version}\n{}{beside}", self.canonical_json()).as_bytes());
        digest.iter().fold(String::new(), |mut hex, byte| {
            let _ = write!(hex, "{byte:02x}");
            hex
        })
    }

    /// A setting's value as the canonical text has it: SI, tables with their rows.
    pub(crate) fn json_value(&self, path: &str, setting: &Setting) -> Json {
        match &setting.value {
            Value::None => Json::Null,
            // Minus zero is zero written otherwise.
            Value::Number(si) => number(*si + 0.0),
            Value::Choice(word) => json!(word),
            Value::Switch(on) => json!(on),
            Value::Initial(Initial::Empty) => json!("empty"),
            Value::Initial(Initial::Brimful) => json!("brimful"),
            Value::Initial(Initial::Volume(m3)) => number(*m3),
            // What the file says identifies the run, not what it is called.
            Value::Path(_) => {
                let branch = |b: &Branch| json!({"force_n": b.force_n, "travel_m": b.travel_m});
                match self.table(path) {
                    Some(Table::Curve(c)) => {
                        json!({"closing": c.closing.as_ref().map(branch), "opening": branch(&c.opening)})
                    }
                    Some(Table::Trace(t)) => json!({"pressure_pa_gauge": t.pressure_pa_gauge, "time_s": t.time_s}),
                    Some(Table::Weather(w)) => json!({"air_k": w.air_k, "time_s": w.time_s}),
                    None => Json::Null,
                }
            }
        }
    }
}

fn number(si: f64) -> Json {
    Number::from_f64(si).map_or(Json::Null, Json::Number)
}

/// The value as TOML: plain numbers and true/false bare, all else in quotes.
fn toml_value(field: &Field, setting: &Setting) -> String {
    let text = match &setting.value {
        // The new file may stand in another directory.
        Value::Path(file) => std::path::absolute(file).unwrap_or_else(|_| file.clone()).to_string_lossy().into_owned(),
        _ => setting.text.trim().to_string(),
    };
    let bare = match field.kind {
        FieldKind::Switch | FieldKind::Opening if text == "true" || text == "false" => true,
        FieldKind::Quantity(_) | FieldKind::Opening => {
            let whole = text.split_once('.').map_or(text.as_str(), |(w, _)| w);
            // TOML numbers have figures on both sides of the point and no leading zeros.
            let plain = text.bytes().all(|b| b.is_ascii_digit() || b == b'.') && !text.ends_with('.');
            plain && !whole.is_empty() && (whole == "0" || !whole.starts_with('0')) && text.parse::<f64>().is_ok()
        }
        _ => false,
    };
    if bare { text } else { toml::Value::String(text).to_string() }
}
