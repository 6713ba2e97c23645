//! Reading a procedure from TOML, with the line of every mistake.

use super::act::{Act, Moment, Pace, Part, Sign};
use super::procedure::Procedure;
use crate::error::{At, Error, QuantityProblem, nearest};
use crate::parts::Instrument;
use crate::units::{self, Kind};
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Most acts of a procedure.
const MOST_ACTS: usize = 400;

/// What an act may be called, with the fields it takes.
const ACTS: [(&str, &[&str]); 15] = [
    ("canopy-off", &[]),
    ("canopy-on", &[]),
    ("close-shutoff", &["shutoff", "to"]),
    ("open-shutoff", &["shutoff", "to"]),
    ("attach-hose", &["cock"]),
    ("remove-hose", &[]),
    ("open-cock", &["cock", "turns"]),
    ("close-cock", &["cock"]),
    ("open-screw", &["to"]),
    ("close-screw", &[]),
    ("bleed", &["pace", "fall_per_second", "flow", "until", "needle", "at_most"]),
    ("wait", &["until", "needle", "at_most"]),
    ("close-bleed", &[]),
    ("compensate", &[]),
    ("read", &["part", "at"]),
];
/// What may be written, as a comment below a printed procedure.
pub(super) const FORMAT: &str = "\
# A procedure is a list of [[act]], each with do = one of these; \"...\" are texts, quantities carry their unit.
#   canopy-off, canopy-on, remove-hose, close-screw, close-bleed
#   close-shutoff, open-shutoff   shutoff = 1 or 2; to = share it is open afterwards (else shut, or wide open)
#   attach-hose, close-cock       cock = 1 or 2
#   open-cock                     cock = 1 or 2; turns = of its handle (else wide open)
#   open-screw                    to = share it is open afterwards
#   bleed                         pace = slow, quick, vent or lift (fields hand.*; else slow), or fall_per_second = \"0.15 psi\",
#                                 or flow = \"0.3 mL/s\"; until, needle, at_most as below
#   wait                          until, needle, at_most; without until it waits for at_most
#   compensate                    bleeds until the open cock or screw has stopped running (shutoff 1 leaks)
#   read                          part = check or air-inlet; at = opening or held (else as usual for the part)
# until = a list, the first that is seen ends the act: needle (has fallen to needle = \"12 psi\"), air-inlet-opens,
#   air-inlet-fully-open, steady (the needle stands), at-rest (so does all else: nothing runs out of zone 1).
# at_most = \"60 s\" ends it anyhow (else hand.patience). name, title and instrument = gauge or tube stand at the top.
";
const TOP: [&str; 4] = ["name", "title", "instrument", "act"];

/// Reads a procedure.
pub(super) fn read(text: &str, at: &At) -> Result<Procedure, Error> {
    let reader = Reader { text, at };
    let root = DeTable::parse(text).map_err(|e| {
        let line = e.span().map(|s| reader.line(s));
        Error::Syntax {
            at: line.map_or_else(|| at.clone(), |l| at.line(l)),
            message: format!("not TOML: {}", e.message()),
        }
    })?;
    let table = root.get_ref();
    for (key, _) in table.iter() {
        let name = key.get_ref().as_ref();
        if !TOP.contains(&name) {
            return Err(reader.unknown("entry of a procedure", name, reader.place(key.span()), &TOP));
        }
    }
    let name = reader.text_of(table, "name")?.map_or_else(|| "procedure".to_owned(), |t| t.0);
    let title = reader.text_of(table, "title")?.map_or_else(|| name.clone(), |t| t.0);
    let instrument = match reader.text_of(table, "instrument")? {
        None => Instrument::Gauge,
        Some((word, at)) => match word.as_str() {
            "gauge" => Instrument::Gauge,
            "tube" => Instrument::Tube,
            _ => return Err(reader.unknown("instrument", &word, at, &["gauge", "tube"])),
        },
    };
    let Some(list) = table.get("act") else {
        return Err(Error::Syntax {
            at: at.clone(),
            message: "no acts: write [[act]] and do = \"...\" below it".to_owned(),
        });
    };
    let DeValue::Array(list_items) = list.get_ref() else {
        let message = "act is a list: write [[act]] for each act".to_owned();
        return Err(Error::Syntax { at: reader.place(list.span()), message });
    };
    if list_items.len() > MOST_ACTS {
        let message = format!("more than {MOST_ACTS} acts");
        return Err(Error::Syntax { at: reader.place(list.span()), message });
    }
    let mut acts = Vec::new();
    let mut attached = false;
    for item in list_items.iter() {
        let place = reader.place(item.span());
        let DeValue::Table(inner) = item.get_ref() else {
            let message = "an act is a table: write [[act]] and do = \"...\" below it".to_owned();
            return Err(Error::Syntax { at: place, message });
        };
        let act = reader.act(inner, place.clone())?;
        attached |= matches!(act, Act::Attach { .. });
        let needs_hose = matches!(act, Act::Bleed { .. } | Act::Compensate | Act::Read { .. } | Act::CloseBleed);
        if needs_hose && !attached {
            let message = format!("\"{}\" before any attach-hose: there is no gauge on the assembly yet", act.words());
            return Err(Error::Syntax { at: place, message });
        }
        acts.push(act);
    }
    if acts.is_empty() {
        return Err(Error::Syntax { at: at.clone(), message: "the list of acts is empty".to_owned() });
    }
    Ok(Procedure { name, title, instrument, acts })
}

struct Reader<'a> {
    text: &'a str,
    at: &'a At,
}

type Table<'a> = DeTable<'a>;

impl Reader<'_> {
    fn line(&self, span: Range<usize>) -> usize {
        let before = self.text.as_bytes().get(..span.start).unwrap_or(self.text.as_bytes());
        before.iter().filter(|b| **b == b'\n').count() + 1
    }

    fn place(&self, span: Range<usize>) -> At {
        self.at.line(self.line(span))
    }

    fn unknown(&self, what: &'static str, name: &str, at: At, known: &[&str]) -> Error {
        Error::UnknownName {
            at: Some(at),
            what,
            name: name.to_owned(),
            nearest: nearest(name, known.iter().copied()),
            known: known.iter().map(|k| (*k).to_owned()).collect(),
        }
    }

    fn wrong(&self, field: &str, value: &Spanned<DeValue<'_>>, expected: &str, problem: QuantityProblem) -> Error {
        Error::Quantity {
            at: self.place(value.span()),
            field: field.to_owned(),
            text: self.text.get(value.span()).unwrap_or_default().to_owned(),
            expected: expected.to_owned(),
            problem: Box::new(problem),
        }
    }

    fn text_of(&self, table: &Table<'_>, key: &str) -> Result<Option<(String, At)>, Error> {
        let Some(value) = table.get(key) else { return Ok(None) };
        match value.get_ref() {
            DeValue::String(s) => Ok(Some((s.to_string(), self.place(value.span())))),
            _ => {
                Err(self.wrong(key, value, "a text in quotes", QuantityProblem::WrongType { found: "something else" }))
            }
        }
    }

    fn number_of(&self, table: &Table<'_>, key: &str, kind: Kind, low: f64, high: f64) -> Result<Option<f64>, Error> {
        let Some(value) = table.get(key) else { return Ok(None) };
        let text = match value.get_ref() {
            DeValue::String(s) => s.to_string(),
            DeValue::Integer(n) if n.radix() == 10 => n.as_str().to_owned(),
            DeValue::Float(n) => n.as_str().to_owned(),
            _ => {
                let problem = QuantityProblem::WrongType { found: "something else" };
                return Err(self.wrong(key, value, kind.expected(), problem));
            }
        };
        let si = units::parse(kind, &text).map_err(|p| self.wrong(key, value, kind.expected(), p))?;
        if !(si >= low && si <= high) {
            let show = |v| units::format(kind, v, units::System::Us);
            return Err(Error::OutOfRange {
                at: self.place(value.span()),
                field: key.to_owned(),
                value_text: text,
                rule: format!("from {} to {}", show(low), show(high)),
            });
        }
        Ok(Some(si))
    }

    fn which(&self, table: &Table<'_>, key: &str, place: &At) -> Result<usize, Error> {
        let Some(value) = table.get(key) else {
            return Err(Error::Syntax { at: place.clone(), message: format!("{key} = 1 or {key} = 2 is missing") });
        };
        match value.get_ref() {
            DeValue::Integer(n) if n.as_str() == "1" => Ok(1),
            DeValue::Integer(n) if n.as_str() == "2" => Ok(2),
            _ => {
                let written = self.text.get(value.span()).unwrap_or_default().to_owned();
                Err(self.unknown(
                    if key == "cock" { "test cock" } else { "shutoff" },
                    &written,
                    self.place(value.span()),
                    &["1", "2"],
                ))
            }
        }
    }

    fn sign(&self, table: &Table<'_>) -> Result<Sign, Error> {
        const KNOWN: [&str; 5] = ["needle", "air-inlet-opens", "air-inlet-fully-open", "steady", "at-rest"];
        let mut sign = Sign::default();
        let Some(value) = table.get("until") else { return Ok(sign) };
        let items: Vec<&Spanned<DeValue<'_>>> = match value.get_ref() {
            DeValue::Array(list) => list.iter().collect(),
            DeValue::String(_) => vec![value],
            _ => {
                let problem = QuantityProblem::WrongType { found: "something else" };
                return Err(self.wrong("until", value, "a list of signs", problem));
            }
        };
        for item in items {
            let place = self.place(item.span());
            let DeValue::String(word) = item.get_ref() else {
                let problem = QuantityProblem::WrongType { found: "something else" };
                return Err(self.wrong("until", item, "a text in quotes", problem));
            };
            match word.as_ref() {
                "needle" => {
                    let psi = 6_894.757;
                    let mark = self.number_of(table, "needle", Kind::GaugePressure, -15.0 * psi, 500.0 * psi)?;
                    let message = "until = \"needle\" needs needle = \"12 psi\" or the like".to_owned();
                    sign.needle = Some(mark.ok_or(Error::Syntax { at: place, message })?);
                }
                "air-inlet-opens" => sign.opens = true,
                "air-inlet-fully-open" => sign.fully_open = true,
                "steady" => sign.steady = true,
                "at-rest" => sign.at_rest = true,
                other => return Err(self.unknown("sign to wait for", other, place, &KNOWN)),
            }
        }
        Ok(sign)
    }

    fn pace(&self, table: &Table<'_>, place: &At) -> Result<Pace, Error> {
        let fall = self.number_of(table, "fall_per_second", Kind::PressureDifference, 1.0, 1e6)?;
        let flow = self.number_of(table, "flow", Kind::VolumeFlow, 1e-10, 1e-3)?;
        let word = self.text_of(table, "pace")?;
        match (fall, flow, word) {
            (Some(p), None, None) => Ok(Pace::Fall(p)),
            (None, Some(q), None) => Ok(Pace::Flow(q)),
            (None, None, None) => Ok(Pace::Slow),
            (None, None, Some((word, at))) => match word.as_str() {
                "slow" => Ok(Pace::Slow),
                "quick" => Ok(Pace::Quick),
                "vent" => Ok(Pace::Vent),
                "lift" => Ok(Pace::Lift),
                _ => Err(self.unknown("pace", &word, at, &["slow", "quick", "vent", "lift"])),
            },
            _ => {
                let message = "give one of pace, fall_per_second and flow".to_owned();
                Err(Error::Syntax { at: place.clone(), message })
            }
        }
    }

    fn act(&self, table: &Table<'_>, place: At) -> Result<Act, Error> {
        let Some((word, word_at)) = self.text_of(table, "do")? else {
            return Err(Error::Syntax { at: place, message: "an act without do = \"...\"".to_owned() });
        };
        let Some((_, fields)) = ACTS.iter().find(|a| a.0 == word) else {
            return Err(self.unknown("act", &word, word_at, &ACTS.map(|a| a.0)));
        };
        for (key, _) in table.iter() {
            let key_name = key.get_ref().as_ref();
            if key_name != "do" && !fields.contains(&key_name) {
                return Err(self.unknown("entry of this act", key_name, self.place(key.span()), fields));
            }
        }
        let share = |key| self.number_of(table, key, Kind::Number, 0.0, 1.0);
        let at_most = || self.number_of(table, "at_most", Kind::Time, 1e-3, 36_000.0);
        Ok(match word.as_str() {
            "canopy-off" => Act::Canopy { on: false },
            "canopy-on" => Act::Canopy { on: true },
            "close-shutoff" => {
                Act::Shutoff { number: self.which(table, "shutoff", &place)?, to: share("to")?.unwrap_or(0.0) }
            }
            "open-shutoff" => {
                Act::Shutoff { number: self.which(table, "shutoff", &place)?, to: share("to")?.unwrap_or(1.0) }
            }
            "attach-hose" => Act::Attach { cock: self.which(table, "cock", &place)? },
            "remove-hose" => Act::Detach,
            "open-cock" => {
                let turns = self.number_of(table, "turns", Kind::Number, 0.0, 20.0)?;
                Act::Cock { number: self.which(table, "cock", &place)?, turns }
            }
            "close-cock" => Act::Cock { number: self.which(table, "cock", &place)?, turns: Some(0.0) },
            "open-screw" => Act::Screw { to: share("to")?.unwrap_or(1.0) },
            "close-screw" => Act::Screw { to: 0.0 },
            "bleed" => Act::Bleed { pace: self.pace(table, &place)?, until: self.sign(table)?, at_most: at_most()? },
            "wait" => Act::Wait { until: self.sign(table)?, at_most: at_most()? },
            "close-bleed" => Act::CloseBleed,
            "compensate" => Act::Compensate,
            _ => self.reading(table, &place)?,
        })
    }

    fn reading(&self, table: &Table<'_>, place: &At) -> Result<Act, Error> {
        let known = ["check", "air-inlet"];
        let part = match self.text_of(table, "part")? {
            Some((word, at)) => match word.as_str() {
                "check" => Part::Check,
                "air-inlet" => Part::AirInlet,
                _ => return Err(self.unknown("part to read", &word, at, &known)),
            },
            None => {
                let message = "read needs part = \"check\" or \"air-inlet\"".to_owned();
                return Err(Error::Syntax { at: place.clone(), message });
            }
        };
        let at = match self.text_of(table, "at")? {
            None if part == Part::AirInlet => Moment::Opening,
            None => Moment::Held,
            Some((word, at)) => match word.as_str() {
                "opening" => Moment::Opening,
                "held" => Moment::Held,
                _ => return Err(self.unknown("moment to read", &word, at, &["opening", "held"])),
            },
        };
        Ok(Act::Read { part, at })
    }
}
