//! What of a command's JSON is kept of each run.

use super::axis::syntax;
use super::optional::{anywhere, optional};
use super::question::{self, Question};
use crate::error::{At, Error, nearest, quoted};
use crate::units::Kind;
use serde_json::Value as Json;

/// One recorded value.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// A number, SI.
    Number(f64),
    /// A word.
    Text(String),
    /// true or false.
    Flag(bool),
    /// null, or not there (an event that did not happen).
    Missing,
}

impl Cell {
    /// The number, if it is one.
    pub fn number(&self) -> Option<f64> {
        match self {
            Cell::Number(v) => Some(*v),
            _ => None,
        }
    }

    /// As it stands in a table: shortest text that reads back to the same bits.
    pub fn text(&self) -> String {
        match self {
            Cell::Number(v) => number_text(*v),
            Cell::Text(t) => t.split_whitespace().collect::<Vec<_>>().join(" "),
            Cell::Flag(b) => b.to_string(),
            Cell::Missing => String::new(),
        }
    }

    /// Reads what [`Cell::text`] wrote.
    pub fn read(text: &str) -> Cell {
        match text {
            "" => Cell::Missing,
            "true" => Cell::Flag(true),
            "false" => Cell::Flag(false),
            _ => match text.parse::<f64>() {
                Ok(v) if text.starts_with(|c: char| c.is_ascii_digit() || c == '-') => Cell::Number(v),
                _ => Cell::Text(text.to_owned()),
            },
        }
    }

    /// As it stands in a document.
    pub fn json(&self) -> Json {
        match self {
            Cell::Number(v) => serde_json::Number::from_f64(*v).map_or(Json::Null, Json::Number),
            Cell::Text(t) => Json::String(t.clone()),
            Cell::Flag(b) => Json::Bool(*b),
            Cell::Missing => Json::Null,
        }
    }
}

/// Shortest decimal text of a number, with an exponent where a row of zeros would stand.
pub(super) fn number_text(v: f64) -> String {
    // Minus zero is zero written otherwise.
    let v = v + 0.0;
    if v != 0.0 && !(1e-4..1e7).contains(&v.abs()) { format!("{v:e}") } else { format!("{v}") }
}

/// A value to record: a command and a dotted path into its JSON.
#[derive(Clone)]
pub struct Output {
    /// Who answers.
    pub question: &'static dyn Question,
    /// The dotted path below the command, as written.
    pub key: String,
}

impl std::fmt::Debug for Output {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Output({})", self.name())
    }
}

impl PartialEq for Output {
    fn eq(&self, other: &Self) -> bool {
        self.name() == other.name()
    }
}

impl Output {
    /// Reads `COMMAND.KEY`, for example `sequence.spill_m3` or `sequence.final.zone2_pa_gauge`.
    ///
    /// # Errors
    /// [`Error`] if the command is none that can be asked, or the key is empty.
    pub fn parse(text: &str, at: &At) -> Result<Output, Error> {
        let (command, key) = text.trim().split_once('.').unwrap_or((text.trim(), ""));
        let question = question::named(command, at)?;
        if key.is_empty() || key.split('.').any(|part| part.trim().is_empty()) {
            let message = format!("COMMAND.KEY is wanted, for example \"sequence.spill_m3\", not {}", quoted(text));
            return syntax(at, message);
        }
        Ok(Output { question, key: key.to_owned() })
    }

    /// Command and key.
    pub fn name(&self) -> String {
        format!("{}.{}", self.question.command(), self.key)
    }

    /// What its numbers are, from the unit at the end of the key; plain numbers and words give [`Kind::Number`].
    pub fn kind(&self) -> Kind {
        kind_of(&self.key)
    }

    /// The value in an answer. A list's element that does not exist is [`Cell::Missing`], as is what lies below a null.
    ///
    /// # Errors
    /// [`Error::UnknownName`] with the nearest key if the path leads nowhere in any answer, or to a list or group.
    pub fn pick(&self, answer: &Json, at: &At) -> Result<Cell, Error> {
        let mut here = answer;
        let mut beyond = false;
        for part in self.key.split('.') {
            here = match here {
                Json::Object(map) => match map.get(part) {
                    Some(inner) => inner,
                    None => return Err(self.unknown(answer, at)),
                },
                Json::Array(list) => match part.parse::<usize>().map(|place| (list.get(place), list.first())) {
                    Ok((Some(inner), _)) => inner,
                    // The others tell what it would have been.
                    Ok((None, Some(first))) => {
                        beyond = true;
                        first
                    }
                    Ok((None, None)) => return self.absent(answer, at),
                    Err(_) => return Err(self.unknown(answer, at)),
                },
                Json::Null => return self.absent(answer, at),
                _ => return Err(self.unknown(answer, at)),
            };
        }
        match here {
            // A list or a group is not one value, whether there is something in it or not.
            Json::Array(list) if list.is_empty() => self.absent(answer, at),
            Json::Array(_) | Json::Object(_) => Err(self.unknown(answer, at)),
            Json::Null if self.below(optional(self.question.command())).is_empty() => Ok(Cell::Missing),
            Json::Null => Err(self.unknown(answer, at)),
            _ if beyond => Ok(Cell::Missing),
            Json::Bool(b) => Ok(Cell::Flag(*b)),
            Json::Number(n) => Ok(n.as_f64().map_or(Cell::Missing, Cell::Number)),
            Json::String(s) => Ok(Cell::Text(s.clone())),
        }
    }

    /// What this answer does not have, if another may.
    fn absent(&self, answer: &Json, at: &At) -> Result<Cell, Error> {
        let name = anywhere(&self.name());
        if optional(self.question.command()).any(|key| key == name) {
            return Ok(Cell::Missing);
        }
        Err(self.unknown(answer, at))
    }

    /// Those of the keys that lie below this one.
    fn below(&self, keys: impl Iterator<Item = String>) -> Vec<String> {
        let group = format!("{}.", anywhere(&self.name()));
        keys.filter(|key| key.starts_with(&group)).collect()
    }

    fn unknown(&self, answer: &Json, at: &At) -> Error {
        let mut known = Vec::new();
        leaves(self.question.command(), answer, &mut known);
        known.extend(optional(self.question.command()).filter(|key| !known.contains(key)).collect::<Vec<_>>());
        let name = self.name();
        let below = self.below(known.iter().cloned());
        if !below.is_empty() {
            let nearest = below.first().cloned();
            return Error::UnknownName { at: Some(at.clone()), what: "single value", name, nearest, known: below };
        }
        let near = nearest(&name, known.iter().map(String::as_str))
            .or_else(|| known.iter().find(|k| k.rsplit('.').next() == name.rsplit('.').next()).cloned());
        Error::UnknownName { at: Some(at.clone()), what: "value", name, nearest: near, known }
    }
}

/// All dotted paths to values; of lists only the first element.
fn leaves(prefix: &str, json: &Json, all: &mut Vec<String>) {
    match json {
        Json::Object(map) => map.iter().for_each(|(k, v)| leaves(&format!("{prefix}.{k}"), v, all)),
        Json::Array(list) => list.iter().take(1).for_each(|v| leaves(&format!("{prefix}.0"), v, all)),
        _ => all.push(prefix.to_owned()),
    }
}

/// Units as keys end in them, a longer one before those it ends in. Where there is no kind of its own the number stays plain.
const UNITS: [(&str, Kind); 15] = [
    ("pa_gauge", Kind::GaugePressure),
    ("pa_abs", Kind::AbsolutePressure),
    ("pa_s", Kind::Number),
    ("m3_s", Kind::VolumeFlow),
    ("kg_s", Kind::Number),
    ("m_s", Kind::Velocity),
    ("n_m", Kind::Stiffness),
    ("pa", Kind::PressureDifference),
    ("m3", Kind::Volume),
    ("m2", Kind::Area),
    ("m", Kind::Length),
    ("kg", Kind::Mass),
    ("k", Kind::Temperature),
    ("n", Kind::Force),
    ("s", Kind::Time),
];

/// What stands before the unit in one part of a key, and the kind that the unit stands for.
fn split_unit(part: &str) -> Option<(&str, Kind)> {
    UNITS.iter().find_map(|(unit, kind)| {
        let name = part.strip_suffix(unit)?;
        // A unit is whole words: "pa_s" is none of seconds.
        (name.is_empty() || name.ends_with('_')).then(|| (name.trim_end_matches('_'), *kind))
    })
}

/// What a key's numbers are, from the SI unit at its end.
pub fn kind_of(key: &str) -> Kind {
    let mut parts = key.rsplit('.');
    // In "rise_m.at_rest" and "forces_n.load" the unit stands with the group.
    parts
        .next()
        .and_then(split_unit)
        .or_else(|| parts.next().and_then(split_unit))
        .map_or(Kind::Number, |(_, kind)| kind)
}

/// A key in words, without its command and without units, which are shown with the number: "final zone2".
pub fn key_words(key: &str) -> String {
    let plain = |part| match split_unit(part) {
        Some((name, kind)) if kind != Kind::Number && !name.is_empty() => name,
        _ => part,
    };
    let commands = || question::QUESTIONS.iter().map(|q| q.command()).chain(["tolerance"]);
    let below =
        key.split_once('.').filter(|(first, _)| commands().any(|c| c == *first)).map_or(key, |(_, below)| below);
    below.split('.').map(plain).collect::<Vec<_>>().join(" ").replace('_', " ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn output(text: &str) -> Output {
        Output::parse(text, &At::whole(crate::error::Source::Study)).unwrap()
    }

    #[test]
    fn practice_keys_are_found_and_unknown_ones_named_with_the_nearest() {
        let answer =
            json!({"order": "check-first", "final": {"zone2_pa_gauge": 2.5}, "events": [{"t_s": 0.25}], "lap": null});
        let at = At::whole(crate::error::Source::Option("--record"));
        let pick = |text: &str| output(text).pick(&answer, &at);
        assert_eq!(pick("sequence.order").unwrap(), Cell::Text("check-first".into()));
        assert_eq!(pick("sequence.final.zone2_pa_gauge").unwrap(), Cell::Number(2.5));
        assert_eq!(pick("sequence.events.0.t_s").unwrap(), Cell::Number(0.25));
        assert_eq!(pick("sequence.events.7.t_s").unwrap(), Cell::Missing);
        assert_eq!(pick("sequence.lap").unwrap(), Cell::Missing);
        let message = pick("sequence.ordr").unwrap_err().to_string();
        assert!(message.contains("--record") && message.contains("did you mean \"sequence.order\"?"), "{message}");
        assert!(pick("sequence.lap.bogus").is_err() && pick("sequence.events.7.bogus").is_err());
        let group = pick("sequence.events").unwrap_err().to_string();
        assert!(group.contains("no single value") && group.contains("sequence.events.0.t_s"), "{group}");
        let message = pick("sequence.zone2_pa_gauge").unwrap_err().to_string();
        assert!(message.contains("sequence.final.zone2_pa_gauge"), "{message}");
        let bad = Output::parse("sequense.order", &at).unwrap_err().to_string();
        assert!(bad.contains("did you mean \"sequence\"?"), "{bad}");
        assert!(Output::parse("sequence", &at).is_err() && Output::parse("sequence..x", &at).is_err());
    }

    #[test]
    fn analytic_every_number_reads_back_to_the_same_bits() {
        let mut x = 1.0_f64;
        for k in 0..2000_u32 {
            x = (x * 1.37 + f64::from(k) * 1e-3) % 1e9;
            for v in [x, -x, x * 1e-12, 1.0 / x, x * 1e20, f64::MIN_POSITIVE * x] {
                assert_eq!(Cell::read(&Cell::Number(v).text()), Cell::Number(v));
            }
        }
        assert_eq!(Cell::read(&Cell::Number(-0.0).text()), Cell::Number(0.0));
        for cell in
            [Cell::Flag(true), Cell::Missing, Cell::Text("air-inlet-first".into()), Cell::Text("infinity".into())]
        {
            assert_eq!(Cell::read(&cell.text()), cell);
        }
    }

    #[test]
    fn analytic_the_unit_at_the_end_of_a_key_says_what_it_is() {
        for (key, kind) in [
            ("spill_m3", Kind::Volume),
            ("spill_rate_m3_s", Kind::VolumeFlow),
            ("final.zone2_pa_gauge", Kind::GaugePressure),
            ("sequence_margin_pa", Kind::PressureDifference),
            ("order", Kind::Number),
            ("rise_m.at_rest", Kind::Length),
            ("events.0.t_s", Kind::Time),
            ("slam_m_s.check", Kind::Velocity),
            ("readings.0.fall_pa_s", Kind::Number),
            ("readings.0.band_pa.1", Kind::PressureDifference),
            ("first_yield.pa_gauge", Kind::GaugePressure),
            ("springs.0.rate_n_m", Kind::Stiffness),
        ] {
            assert_eq!(kind_of(key), kind, "{key}");
        }
    }

    /// The last part alone was "max", "true", or "zone2" whichever moment it was of.
    #[test]
    fn bug_a_key_in_words_keeps_what_tells_it_apart() {
        for (key, words) in [
            ("sequence.final.zone2_pa_gauge", "final zone2"),
            ("siphon.rise_m.max", "rise max"),
            ("readings.0.true_pa", "readings 0 true"),
            ("peak_pa_gauge.line", "peak line"),
            ("tolerance.pass_rate", "pass rate"),
            ("spill_m3", "spill"),
        ] {
            assert_eq!(key_words(key), words);
        }
    }
}
