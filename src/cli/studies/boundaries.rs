//! Where the order of the runs turns, and how far from where the margin is zero.

use crate::cli::text::Rows;
use crate::units::{Kind, System, to_display, unit_symbol};
use serde_json::{Value as Json, json};

/// Panels whose boundaries are told one by one.
const PANELS: usize = 16;

/// Boundaries of one panel.
pub(super) struct Boundary {
    /// What the panel is.
    pub title: String,
    /// Where the margin is zero, for each value of the first axis, SI of the second.
    pub at_rest: Vec<f64>,
    /// Where the output of the runs changes.
    pub moving: Vec<f64>,
    /// Lowest, middle and highest height of the second above the first.
    pub distance: Option<[f64; 3]>,
    /// The word of the whole panel, if it is one.
    pub only: Option<String>,
    /// How far that may be wrong: half the greatest step of the second axis.
    pub within: f64,
}

/// How far any of the boundaries may be wrong.
pub(super) fn within(boundaries: &[Boundary]) -> f64 {
    boundaries.iter().map(|b| b.within).fold(0.0, f64::max)
}

/// A difference with two figures of `within`, how far it may be wrong.
pub(super) fn apart(kind: Kind, v: f64, within: f64, system: System) -> String {
    let show = |v: f64| to_display(kind, v, system) - to_display(kind, 0.0, system);
    let decimals = (1.0 - show(within).abs().log10().floor()).clamp(0.0, 9.0) as usize;
    let text = format!("{:.decimals$}", show(v));
    match unit_symbol(kind, system) {
        "" => text,
        unit => format!("{text} {unit}"),
    }
}

/// For a document.
pub(super) fn json_of(b: &Boundary) -> Json {
    json!({
        "panel": b.title,
        "static": b.at_rest,
        "dynamic": b.moving,
        "above_static": b.distance.map(|[low, middle, high]| json!({"low": low, "middle": middle, "high": high})),
        "within": b.within,
    })
}

/// One row of text for each panel; `kind` is what its second axis is.
pub(super) fn rows(boundaries: &[Boundary], kind: Kind, system: System) -> Rows {
    let mut rows = Rows::default();
    let more = boundaries.len().saturating_sub(PANELS);
    for b in boundaries.iter().take(PANELS) {
        let title = if b.title.is_empty() { "whole map" } else { &b.title };
        let show = |v: f64| {
            let text = apart(kind, v, b.within, system);
            if text.starts_with('-') { text } else { format!("+{text}") }
        };
        rows.add(
            title,
            match b.distance {
                Some([low, middle, high]) => format!("{} (from {} to {})", show(middle), show(low), show(high)),
                None => "the map shows not both".to_owned(),
            },
        );
    }
    if more > 0 {
        rows.add("", format!("{more} more; --json has all"));
    }
    rows
}
