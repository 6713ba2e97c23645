//! What `find` saw at the places that it looked at, as a curve with the limit and the places of change.

use super::found::Told;
use super::grid::axis_name;
use super::grid::curves::panel;
use super::looked::{Look, Seen};
use super::report;
use crate::charts::{CurvePanel, CurvesPicture, Page, Series, Sheet, lay_out_curves};
use crate::error::Error;
use crate::study::statistics::Share;
use crate::study::{Cell, Judged, key_words, kind_of};
use crate::units::to_display;

impl Told<'_> {
    fn at(&self, si: f64) -> f64 {
        to_display(self.range.kind, si, self.system())
    }

    /// The curve.
    ///
    /// # Errors
    /// [`Error`] if a setting that the words need is missing.
    pub fn sheet(&self) -> Result<Sheet, Error> {
        let a = &self.answer;
        let mut shown = if a.sample.is_some() { self.shares() } else { self.values() };
        shown.x_name = axis_name(self.range.path, self.range.kind, self.system());
        shown.verticals = a
            .found
            .changes
            .iter()
            .filter_map(|c| match (c.from, c.to) {
                (_, Judged::Holds) => Some((self.at(c.after), "begins".to_owned())),
                (Judged::Holds, _) => Some((self.at(c.before), "ceases".to_owned())),
                _ => None,
            })
            .collect();
        let page = self.page()?;
        Ok(lay_out_curves(&CurvesPicture { page, panels: vec![shown] }))
    }

    fn page(&self) -> Result<Page, Error> {
        let a = &self.answer;
        let number = |path: &str| a.base.number(path).ok().filter(|_| path != self.range.path);
        let mut parts: Vec<String> = a.sample.iter().cloned().collect();
        parts.push(report::conditions(&number, a.study.plan.columns(), a.study.until, self.system()));
        parts.extend(a.looked.not_judged().into_iter().take(1));
        let assembly = format!("{}, {}", a.base.assembly(), a.base.choice("size")?);
        Ok(Page { title: self.headline(), subtitle: parts.join("; "), foot: report::foot(&assembly, &self.identity()) })
    }

    /// The share of a population with its interval, in per cent.
    fn shares(&self) -> CurvePanel {
        let line = |label: &str, pick: fn(&Share) -> f64| {
            let point = |look: &Look| match &look.found {
                Seen::People(counted) => (self.at(look.x), 100.0 * pick(&counted.outcomes.share())),
                _ => (self.at(look.x), f64::NAN),
            };
            Series { label: label.to_owned(), points: self.answer.looked.all().iter().map(point).collect() }
        };
        let a = &self.answer;
        CurvePanel {
            y_name: format!("{} of the units judged (%)", key_words(&a.key)),
            series: vec![line("share", |s| s.estimate), line("95 % low", |s| s.low), line("95 % high", |s| s.high)],
            horizontals: a.limit.map(|v| (100.0 * v, self.args.so_that.trim().to_owned())).into_iter().collect(),
            dots: true,
            ..CurvePanel::default()
        }
    }

    /// The value of single runs; one that could not be judged breaks the line.
    fn values(&self) -> CurvePanel {
        let key = &self.answer.key;
        let cells = self.answer.looked.all().iter().map(|look| match &look.found {
            Seen::Value(cell) => (look.x, cell),
            _ => (look.x, &Cell::Missing),
        });
        let panel = panel(key, (self.range.path, self.range.kind), cells, self.system());
        let limit = self.answer.limit.filter(|_| panel.words.is_empty());
        let named = |v: f64| (to_display(kind_of(key), v, self.system()), self.args.so_that.trim().to_owned());
        CurvePanel { horizontals: limit.map(named).into_iter().collect(), ..panel }
    }
}
