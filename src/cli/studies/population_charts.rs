//! Charts of a population: how a value is spread, and which input decides.

use super::population;
use super::population_report::{Told, percent};
use crate::charts::{Bar, BarsPicture, HistogramPicture, Limit, Page, Sheet, lay_out_bars, lay_out_histogram};
use crate::error::Error;
use crate::study::analysis::{Analysis, MARGIN, Quantity, inputs};
use crate::study::sensitivity::Indices;
use crate::study::{Cell, Op, PopulationPlan, kind_of};
use crate::units::{System, format, to_display, unit_symbol};

/// Inputs by their total share in the variance of the first output that varies, the largest first.
pub(super) struct Ranking {
    /// The output.
    pub key: String,
    /// Names and indices.
    pub inputs: Vec<(String, Indices)>,
    dropped: u64,
    points: u64,
}

impl Ranking {
    pub fn new(plan: &PopulationPlan, analysis: &Analysis) -> Option<Ranking> {
        let (of, indices) = analysis.sensitivity.iter().find_map(|s| Some((s, s.inputs.as_ref()?)))?;
        let mut ranked: Vec<(String, Indices)> = inputs(plan).into_iter().zip(indices.iter().cloned()).collect();
        ranked.sort_by(|a, b| b.1.total.mean.total_cmp(&a.1.total.mean));
        let points = plan.scheme().map_or(0, |s| s.base() * s.replicates());
        Some(Ranking { key: of.key.clone(), inputs: ranked, dropped: of.dropped, points })
    }

    /// Base points that are in no share.
    pub fn left_out(&self) -> Option<String> {
        let Ranking { dropped, points, .. } = self;
        (*dropped > 0)
            .then(|| format!("{dropped} of {points} base points left out: a run of theirs failed or has no such value"))
    }

    /// Whether the first input is known to be before the second.
    fn settled(&self) -> bool {
        match self.inputs.as_slice() {
            [(_, a), (_, b), ..] => {
                a.total.mean - a.total.half_width > b.total.mean + b.total.half_width && self.sum_is_short().is_none()
            }
            _ => true,
        }
    }

    /// Totals of independent inputs come to 1 at least; the sum if it does not, the intervals counted.
    fn sum_is_short(&self) -> Option<f64> {
        let totals = || self.inputs.iter().map(|(_, i)| i.total);
        let sum: f64 = totals().map(|t| t.mean).sum();
        let slack = totals().map(|t| t.half_width * t.half_width).filter(|w| w.is_finite()).sum::<f64>().sqrt();
        (sum + slack < 1.0).then_some(sum)
    }

    /// Why the ranking is not to be relied on.
    pub fn doubt(&self) -> Option<String> {
        let [(a, first), (b, _), ..] = self.inputs.as_slice() else { return None };
        let why = if !first.total.half_width.is_finite() {
            "one replicate gives the variance shares no interval".to_owned()
        } else if let Some(sum) = self.sum_is_short() {
            format!("the total shares come to {sum:.2}, and 1 is the least that they can be")
        } else if !self.settled() {
            format!("the intervals of the shares of {a} and {b} overlap, so which is first is open")
        } else {
            return None;
        };
        Some(format!("{why}: take more --base points"))
    }

    /// What the bars say.
    fn title(&self) -> String {
        let of = population::short(&self.key);
        match self.inputs.as_slice() {
            [(only, _)] => format!("{only} alone is spread, and decides how the {of} varies"),
            [(a, _), ..] if self.settled() => format!("{a} decides most of how the {of} varies"),
            [(a, _), (b, _), ..] => {
                format!("Which input decides most of how the {of} varies cannot be told yet: {a}, {b} or another")
            }
            [] => of,
        }
    }
}

/// One chart of a population.
pub(super) fn sheet(told: &Told<'_>, name: &str) -> Result<Option<Sheet>, Error> {
    match name {
        "histogram" => told.analysis.quantities.first().map(|q| histogram(told, q)).transpose(),
        _ => bars(told),
    }
}

/// Words round a chart, with what is not in it.
fn page(told: &Told<'_>, title: String, left_out: Option<String>) -> Result<Page, Error> {
    let mut page = Page { title, ..told.said.page(&[])? };
    if let Some(words) = left_out {
        page.subtitle = format!("{}; {words}", page.subtitle);
    }
    Ok(page)
}

fn axis_name(key: &str, system: System) -> String {
    match unit_symbol(kind_of(key), system) {
        "" => population::short(key),
        unit => format!("{} ({unit})", population::short(key)),
    }
}

fn histogram(told: &Told<'_>, q: &Quantity) -> Result<Sheet, Error> {
    let kind = kind_of(&q.key);
    let shown = |si: f64| to_display(kind, si, told.system);
    let mut edges: Vec<f64> = q.histogram.iter().map(|b| shown(b.from)).collect();
    edges.extend(q.histogram.last().map(|b| shown(b.to)));
    let mut limits: Vec<Limit> = told
        .all
        .conditions
        .iter()
        .zip(&told.analysis.conditions)
        .filter(|(c, _)| c.output.name() == q.key)
        .filter_map(|(c, s)| {
            let Cell::Number(v) = c.value else { return None };
            let (word, bad_below) = match c.op {
                Op::AtLeast => ("at least", Some(true)),
                Op::Above => ("above", Some(true)),
                Op::AtMost => ("at most", Some(false)),
                Op::Below => ("below", Some(false)),
                Op::Is => ("just", None),
                Op::IsNot => ("not", None),
            };
            let text = format!("{} {word} {}", percent(&s.share()), format(kind, v, told.system));
            Some(Limit { value: shown(v), text, bad_below })
        })
        .collect();
    if limits.is_empty() && q.key == MARGIN {
        let text = "below 0 the check lifts first".to_owned();
        limits.push(Limit { value: 0.0, text, bad_below: Some(true) });
    }
    let same =
        if q.least == q.greatest { format!(", all at {}", format(kind, q.least, told.system)) } else { String::new() };
    let judged = told.analysis.units - told.analysis.failed;
    let have = if q.count < judged { " that have it" } else { "" };
    Ok(lay_out_histogram(&HistogramPicture {
        page: page(told, told.headline(), told.left_out())?,
        x_name: axis_name(&q.key, told.system),
        y_name: format!("units out of {}{have}{same}", q.count),
        edges,
        counts: q.histogram.iter().map(|b| b.share.count as f64).collect(),
        limits,
    }))
}

fn bars(told: &Told<'_>) -> Result<Option<Sheet>, Error> {
    let Some(ranking) = &told.ranking else { return Ok(None) };
    let bar = |(name, index): &(String, Indices)| Bar {
        label: name.clone(),
        value: index.total.mean,
        range: index
            .total
            .half_width
            .is_finite()
            .then_some((index.total.mean - index.total.half_width, index.total.mean + index.total.half_width)),
    };
    Ok(Some(lay_out_bars(&BarsPicture {
        page: page(told, ranking.title(), ranking.left_out())?,
        x_name: "total share of the variance (1 = all of it)".to_owned(),
        bars: ranking.inputs.iter().map(bar).collect(),
    })))
}
