//! The built-in assemblies: names, one line each, and their embedded files.

use super::layer::Layer;
use crate::error::{At, Error, Source, nearest};
use std::path::Path;
use std::sync::LazyLock;

/// The assembly that runs when none is named.
pub const DEFAULT: &str = "pvb-spring";

const COMMON: &str = include_str!("builtin/common.toml");

struct BuiltIn {
    name: &'static str,
    summary: &'static str,
    text: &'static str,
}

const ALL: [BuiltIn; 5] = [
    BuiltIn {
        name: "pvb-spring",
        summary: "pressure vacuum breaker, air inlet loaded by a spring and shut by zone 2",
        text: include_str!("builtin/pvb-spring.toml"),
    },
    BuiltIn {
        name: "pvb-elastomer",
        summary: "pressure vacuum breaker, air inlet loaded by an elastomer lip without a metal spring",
        text: include_str!("builtin/pvb-elastomer.toml"),
    },
    BuiltIn {
        name: "pvb-relief",
        summary: "pressure vacuum breaker, elastomer lip, conical check spring, a relief in the air inlet's stem",
        text: include_str!("builtin/pvb-relief.toml"),
    },
    BuiltIn {
        name: "svb-diaphragm",
        summary: "spill-resistant vacuum breaker, a diaphragm on zone 1 shuts the air inlet before the check lifts",
        text: include_str!("builtin/svb-diaphragm.toml"),
    },
    BuiltIn {
        name: "svb-stem",
        summary: "spill-resistant vacuum breaker, one stem seals the vent before it lifts the check",
        text: include_str!("builtin/svb-stem.toml"),
    },
];

/// Name and one-line description of every built-in assembly.
pub fn names() -> impl Iterator<Item = (&'static str, &'static str)> {
    ALL.iter().map(|b| (b.name, b.summary))
}

/// A built-in's name and its layers.
type Parsed = (&'static str, Result<[Layer; 2], Error>);

static PARSED: LazyLock<Vec<Parsed>> = LazyLock::new(|| {
    let read = |name: &str, text: &str| {
        let at = At::whole(Source::BuiltIn(name.to_string()));
        Layer::from_toml(text, &at, Path::new(""))
    };
    ALL.iter().map(|b| (b.name, read("common", COMMON).and_then(|c| Ok([c, read(b.name, b.text)?])))).collect()
});

/// The layers of a built-in, the shared one first.
///
/// # Errors
/// [`Error::UnknownName`].
pub(super) fn layers(name: &str, at: Option<At>) -> Result<[Layer; 2], Error> {
    match PARSED.iter().find(|(n, _)| *n == name) {
        Some((_, layers)) => layers.clone(),
        None => Err(Error::UnknownName {
            at,
            what: "built-in assembly",
            name: name.to_string(),
            nearest: nearest(name, names().map(|(n, _)| n)),
            known: names().map(|(n, _)| n.to_string()).collect(),
        }),
    }
}
