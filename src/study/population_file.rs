//! The tables of a population in an assembly file.
//!
//! ```toml
//! [spread."check.load"]            # about the value above, unless a mean is given
//! kind = "normal"                  # mean, sd
//! sd = "0.1 psi"
//! [spread."air_inlet.friction"]
//! kind = "uniform"                 # low and high, or half_width
//! low = "0.02 psi"
//! high = "0.15 psi"
//! [spread."check.seat_wear"]
//! kind = "triangular"              # low, mode, high, or half_width
//! [spread."zone2.compliance"]
//! kind = "lognormal"               # median, factor (geometric standard deviation)
//! [spread."air_inlet.load"]
//! kind = "sample"                  # values, or file: a CSV with one column "air_inlet.load [psi]"
//! values = ["1.1 psi", "1.2 psi", "1.25 psi"]
//!
//! [[correlation]]
//! between = ["check.load", "air_inlet.load"]
//! coefficient = 0.5
//!
//! [ageing]
//! years = 10
//! check_relaxation = 0.02
//! ```

use super::axis::{number_field, syntax};
use super::distribution::Distribution;
use super::plan::{Level, Plan};
use super::population::{AGEING, Ageing, Correlation, Population, Shape, Spread};
use super::population_reader::Reader;
use super::table::Table;
use crate::assembly::read;
use crate::error::{At, Error, Source, nearest};
use crate::units::Kind;
use std::path::{Path, PathBuf};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Top-level tables of a file that belong to the population.
pub const TABLES: [&str; 3] = ["spread", "correlation", "ageing"];

/// Reads the tables of a population for what is wrong with them alone: a file that spreads fields serves commands that spread
/// nothing too.
///
/// # Errors
/// As [`Population::read`].
pub fn check_tables(files: &[(PathBuf, String)]) -> Result<(), Error> {
    files.iter().try_fold(Population::default(), |all, (path, text)| all.read_text(path, text)).map(drop)
}

const KINDS: [&str; 5] = ["normal", "uniform", "triangular", "lognormal", "sample"];

impl Population {
    /// Adds what a file says; a spread of the same field is replaced. The rest of the file is for the
    /// [`crate::assembly::Resolver`], with [`TABLES`] set aside.
    ///
    /// # Errors
    /// [`Error`] with file, line, value and rule.
    pub fn read(self, path: &Path) -> Result<Population, Error> {
        let text = read::text(path)?;
        self.read_text(path, &text)
    }

    /// As [`Population::read`], with the text at hand.
    ///
    /// # Errors
    /// As [`Population::read`].
    pub fn read_text(mut self, path: &Path, text: &str) -> Result<Population, Error> {
        let at = At::whole(Source::File(path.to_path_buf()));
        // The assembly's reader has refused what is no TOML, and deep nesting, with a better message.
        let root = DeTable::parse(text)
            .map_err(|e| Error::Syntax { at: at.clone(), message: format!("not TOML: {}", e.message()) })?;
        let reader = Reader { text, at: &at, directory: path.parent().unwrap_or(Path::new("")) };
        for (key, value) in root.get_ref().iter() {
            let here = reader.place(key.span());
            match (key.get_ref().as_ref(), value.get_ref()) {
                ("spread", DeValue::Table(table)) => {
                    for (name, value) in table.iter() {
                        let here = reader.place(name.span());
                        let spread = reader.spread(name.get_ref(), value, &here, &mut self.files)?;
                        match self.spreads.iter_mut().find(|s| s.name == spread.name) {
                            Some(old) => *old = spread,
                            None => self.spreads.push(spread),
                        }
                    }
                }
                ("ageing", DeValue::Table(table)) => reader.ageing(table, &mut self.ageing)?,
                ("correlation", DeValue::Array(_)) => {}
                ("spread", _) => return syntax(&here, "write [spread.\"PATH\"] and its kind below"),
                ("ageing", _) => return syntax(&here, "write [ageing] and years below"),
                ("correlation", _) => return syntax(&here, "write [[correlation]], with two brackets"),
                _ => {}
            }
        }
        if let Some(DeValue::Array(list)) = root.get_ref().get("correlation").map(Spanned::get_ref) {
            for item in list.iter() {
                let correlation = reader.correlation(item, &self)?;
                self.correlations.push(correlation);
            }
        }
        Ok(self)
    }
}

impl Reader<'_> {
    /// Notes in `files` what else it reads.
    fn spread(
        &self,
        name: &str,
        value: &Spanned<DeValue<'_>>,
        at: &At,
        files: &mut Vec<PathBuf>,
    ) -> Result<Spread, Error> {
        let what = format!("spread.\"{name}\"");
        let DeValue::Table(table) = value.get_ref() else {
            return syntax(at, format!("write [{what}] and its kind below"));
        };
        // Without the quotes [spread.check.load] is a table in a table.
        if let Some((inner, DeValue::Table(_))) = table.iter().next().map(|(k, v)| (k.get_ref(), v.get_ref())) {
            return syntax(at, format!("put the path in quotes: [spread.\"{name}.{inner}\"]"));
        }
        let kind = match AGEING.contains(&name) {
            true => Kind::Number,
            false => number_field(name, at)?.1,
        };
        if kind == Kind::Count {
            return syntax(at, format!("{name} takes whole numbers and cannot be spread; sweep varies it"));
        }
        let Some(kind_value) = table.get("kind") else {
            return syntax(at, format!("{what} needs a kind: {}", KINDS.join(", ")));
        };
        let word = self.scalar(kind_value, &what)?;
        let known: &[&str] = match word.as_str() {
            "normal" => &["kind", "mean", "sd"],
            "uniform" => &["kind", "low", "high", "half_width"],
            "triangular" => &["kind", "low", "mode", "high", "half_width"],
            "lognormal" => &["kind", "median", "factor"],
            "sample" => &["kind", "values", "file"],
            _ => {
                return Err(Error::UnknownName {
                    at: Some(self.place(kind_value.span())),
                    what: "kind of spread",
                    nearest: nearest(&word, KINDS),
                    name: word,
                    known: KINDS.map(str::to_owned).to_vec(),
                });
            }
        };
        let entries = self.entries(&what, table, known)?;
        let find = |name: &str| entries.iter().find(|(n, ..)| *n == name).map(|(_, value, _)| *value);
        let level = |name: &str| find(name).map(|v| self.number(v, kind, &format!("{what}.{name}"))).transpose();
        let width = |name: &str| find(name).map(|v| self.width(v, kind, &format!("{what}.{name}"))).transpose();
        let missing = |needs: &str| syntax(at, format!("{what} of kind {word} needs {needs}"));
        let shape = match word.as_str() {
            "normal" => match (level("mean")?, width("sd")?) {
                (Some(mean), Some(sd)) => Shape::Fixed(Distribution::Normal { mean, sd }),
                (None, Some(sd)) => Shape::NormalAbout { sd },
                _ => return missing("sd"),
            },
            "uniform" => match (level("low")?, level("high")?, width("half_width")?) {
                (Some(low), Some(high), None) => Shape::Fixed(Distribution::Uniform { low, high }),
                (None, None, Some(half_width)) => Shape::UniformAbout { half_width },
                _ => return missing("low and high, or half_width"),
            },
            "triangular" => match (level("low")?, level("mode")?, level("high")?, width("half_width")?) {
                (Some(low), Some(mode), Some(high), None) => Shape::Fixed(Distribution::Triangular { low, mode, high }),
                (None, None, None, Some(half_width)) => Shape::TriangularAbout { half_width },
                _ => return missing("low, mode and high, or half_width"),
            },
            "lognormal" => {
                let factor =
                    find("factor").map(|v| self.number(v, Kind::Number, &format!("{what}.factor"))).transpose()?;
                match (level("median")?, factor) {
                    (Some(median), Some(factor)) => Shape::Fixed(Distribution::Lognormal { median, factor }),
                    (None, Some(factor)) => Shape::LognormalAbout { factor },
                    _ => return missing("factor"),
                }
            }
            _ => {
                let mut values = match (find("values"), find("file")) {
                    (Some(list), None) => self.values(list, kind, &what)?,
                    (None, Some(file)) => {
                        let path = self.directory.join(self.scalar(file, &what)?);
                        let values = measured(&path, name)?;
                        files.push(path);
                        values
                    }
                    _ => return missing("values or file"),
                };
                values.sort_by(f64::total_cmp);
                Shape::Fixed(Distribution::Sample { values })
            }
        };
        if let Shape::Fixed(d) = &shape {
            d.clone().checked(name, at)?;
        }
        Ok(Spread { name: name.to_owned(), kind, shape, at: at.clone() })
    }

    fn values(&self, list: &Spanned<DeValue<'_>>, kind: Kind, what: &str) -> Result<Vec<f64>, Error> {
        match list.get_ref() {
            DeValue::Array(items) => items.iter().map(|v| self.number(v, kind, &format!("{what}.values"))).collect(),
            _ => syntax(&self.place(list.span()), format!("{what}.values: a list is wanted")),
        }
    }

    fn ageing(&self, table: &DeTable<'_>, ageing: &mut Ageing) -> Result<(), Error> {
        let known = ["years", "check_relaxation", "air_inlet_relaxation"];
        for (name, value, at) in self.entries("ageing", table, &known)? {
            let number = self.number(value, Kind::Number, &format!("ageing.{name}"))?;
            if !(number >= 0.0) {
                return syntax(&at, format!("ageing.{name} cannot be negative"));
            }
            if name != "years" && number > 1.0 {
                return syntax(&at, format!("ageing.{name} is a share of the load lost per decade of time, 0 to 1"));
            }
            match name {
                "years" => ageing.years = number,
                "check_relaxation" => ageing.check_relaxation = number,
                _ => ageing.air_inlet_relaxation = number,
            }
        }
        Ok(())
    }

    fn correlation(&self, item: &Spanned<DeValue<'_>>, population: &Population) -> Result<Correlation, Error> {
        let at = self.place(item.span());
        let DeValue::Table(table) = item.get_ref() else {
            return syntax(&at, "write [[correlation]] with between and coefficient below");
        };
        let entries = self.entries("correlation", table, &["between", "coefficient"])?;
        let find = |name: &str| entries.iter().find(|(n, ..)| *n == name).map(|(_, value, _)| *value);
        let (Some(between), Some(coefficient)) = (find("between"), find("coefficient")) else {
            return syntax(&at, "a correlation needs between = [\"A\", \"B\"] and coefficient");
        };
        let names = match between.get_ref() {
            DeValue::Array(list) => {
                list.iter().map(|v| self.scalar(v, "correlation.between")).collect::<Result<Vec<_>, _>>()?
            }
            _ => Vec::new(),
        };
        let [a, b] = names.as_slice() else {
            return syntax(
                &self.place(between.span()),
                "between takes two names: [\"check.load\", \"air_inlet.load\"]",
            );
        };
        let place = |name: &String| {
            population.spreads.iter().position(|s| s.name == *name).ok_or_else(|| {
                let known = || population.spreads.iter().map(|s| s.name.as_str());
                Error::UnknownName {
                    at: Some(self.place(between.span())),
                    what: "spread value",
                    name: name.clone(),
                    nearest: nearest(name, known()),
                    known: known().map(str::to_owned).collect(),
                }
            })
        };
        let pair = [place(a)?, place(b)?];
        let value = self.number(coefficient, Kind::Number, "correlation.coefficient")?;
        if !(value > -1.0 && value < 1.0) {
            return syntax(&self.place(coefficient.span()), "a coefficient must be above -1 and below 1");
        }
        let same = |c: &Correlation| c.between == pair || c.between == [pair[1], pair[0]];
        if pair[0] == pair[1] || population.correlations.iter().any(same) {
            return syntax(&at, format!("{a} and {b}: each pair of different values once"));
        }
        Ok(Correlation { between: pair, coefficient: value, at })
    }
}

/// Measured values from a table with one column for this field.
fn measured(path: &Path, name: &str) -> Result<Vec<f64>, Error> {
    let table = Table::read(path)?;
    let Some(place) = table.columns().iter().position(|c| c.path == name && c.kind.is_some()) else {
        let at = At::whole(Source::File(path.to_path_buf()));
        return syntax(&at, format!("no column of numbers for {name}; its head must be like \"{name} [unit]\""));
    };
    let number = |i: u64| match table.point(i).into_iter().nth(place) {
        Some(Level::Number(v)) => Some(v),
        _ => None,
    };
    Ok((0..table.len()).filter_map(number).collect())
}
