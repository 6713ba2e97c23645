//! A population from the command line, as `tolerance` and `find` take it.

use super::args::Common;
use crate::assembly::Settings;
use crate::cli::problem::Problem;
use crate::error::{At, Error, Source};
use crate::study::distribution::Distribution;
use crate::study::population::Spread;
use crate::study::sampling::Design;
use crate::study::{Condition, Population, PopulationPlan, Study};
use crate::units::{Kind, System, format};
use clap::Args;
use serde_json::{Value as Json, json};
use std::path::Path;

/// What is recorded unless asked otherwise.
pub(super) const RECORDED: [&str; 5] = [
    "sequence.sequence_margin_pa",
    "sequence.spill_m3",
    "sequence.statics.check_settles_pa",
    "sequence.statics.inlet_opens_pa_gauge",
    "sequence.order",
];
/// What passes unless asked otherwise: what the trade tests for (common practice; a state manual of field tests).
const PASSES: [&str; 2] =
    ["sequence.statics.check_settles_pa>=1.0 psi", "sequence.statics.inlet_opens_pa_gauge>=1.0 psi"];
const BUILT_IN: &str = include_str!("../../study/builtin_population.toml");

/// How a population is sampled and judged.
#[derive(Debug, Args)]
pub(in crate::cli) struct People {
    /// Units sampled [default: 1000]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(1..=1_000_000_000))]
    runs: Option<u64>,
    /// How they are laid: latin-hypercube, or sobol (best with a power of two) [default: latin-hypercube]
    #[arg(long, value_name = "DESIGN", value_parser = design)]
    design: Option<Design>,
    /// A unit passes if it meets this, repeatable [default: check and air inlet each at 1.0 psi or more]
    #[arg(long, value_name = "COMMAND.KEY<op>VALUE")]
    pub pass: Vec<String>,
    /// Years in service, a number from 0 on; overrides [ageing] years
    #[arg(long, value_name = "YEARS", allow_negative_numbers = true)]
    pub years: Option<f64>,
}

impl People {
    /// Units sampled.
    pub fn runs(&self) -> u64 {
        self.runs.unwrap_or(1000)
    }

    /// How they are laid.
    pub fn design(&self) -> Design {
        self.design.unwrap_or(Design::LatinHypercube)
    }

    /// The first option given, for a command that has no population to use it on.
    pub fn given(&self) -> Option<&'static str> {
        let all = [
            ("--runs", self.runs.is_some()),
            ("--design", self.design.is_some()),
            ("--pass", !self.pass.is_empty()),
            ("--years", self.years.is_some()),
        ];
        all.into_iter().find(|(_, given)| *given).map(|(name, _)| name)
    }
}

fn design(text: &str) -> Result<Design, String> {
    [Design::LatinHypercube, Design::Sobol]
        .into_iter()
        .find(|d| d.word() == text)
        .ok_or_else(|| "latin-hypercube or sobol is wanted".to_owned())
}

/// A population ready to run.
pub(super) struct Prepared {
    pub base: Settings,
    pub population: Population,
    pub plan: PopulationPlan,
    pub conditions: Vec<Condition>,
    pub notices: Vec<String>,
    pub seed: u64,
    design: Design,
}

pub(super) fn prepare(people: &People, common: &Common, indices: Option<(u64, u64)>) -> Result<Prepared, Problem> {
    let mut resolver = super::resolver(common);
    let demo = common.files.is_empty();
    if demo && common.assembly.is_none() {
        resolver = resolver.assembly("svb-diaphragm");
    }
    let base = resolver.resolve()?;
    let mut population = Population::default();
    if demo {
        population = population.read_text(Path::new("built-in population"), BUILT_IN)?;
    }
    for file in &common.files {
        population = population.read(file)?;
    }
    if let Some(years) = people.years {
        if !(years >= 0.0 && years.is_finite()) {
            let message = format!("years in service cannot be {years}");
            return Err(Error::Syntax { at: At::whole(Source::Option("--years")), message }.into());
        }
        population.ageing.years = years;
    }
    if population.spreads.is_empty() {
        let file = common.files.last().cloned().unwrap_or_default();
        let message = "nothing is spread: write for example [spread.\"check.load\"] with kind = \"normal\" and sd = \"0.1 psi\", or \
             leave FILE out for the built-in population";
        return Err(Error::Syntax { at: At::whole(Source::File(file)), message: message.to_owned() }.into());
    }
    let at = At::whole(Source::Option("--pass"));
    let given: Vec<&str> = match people.pass.is_empty() {
        true => PASSES.to_vec(),
        false => people.pass.iter().map(String::as_str).collect(),
    };
    let conditions = given.into_iter().map(|text| Condition::parse(text, &at)).collect::<Result<Vec<_>, _>>()?;
    let mut notices = Vec::new();
    if indices.is_some() && !population.correlations.is_empty() {
        notices.push(
            "with correlations the variance shares have no meaning and are left out; take the correlations away to see them"
                .to_owned(),
        );
    }
    let plan = PopulationPlan::new(&population, &base, people.design(), people.runs(), indices, common.seed())?;
    Ok(Prepared { base, population, plan, conditions, notices, seed: common.seed(), design: people.design() })
}

/// Records what the conditions need, behind what is recorded already.
pub(super) fn also(study: &mut Study, conditions: &[Condition]) {
    for condition in conditions {
        if !study.outputs.contains(&condition.output) {
            study.outputs.push(condition.output.clone());
        }
    }
}

/// What units are judged by, for the identity of a result.
pub(super) fn judged_by(conditions: &[Condition]) -> Json {
    conditions.iter().map(|c| json!([c.output.name(), c.op.sign(), c.value.json()])).collect()
}

/// "sequence.sequence_margin_pa" as "sequence margin".
pub(super) use crate::study::key_words as short;

/// A distribution in words.
fn words(d: &Distribution, kind: Kind, system: System) -> String {
    let show = |v: f64| format(kind, v, system);
    // A width in degrees is not a temperature.
    let width = |v: f64| match kind {
        Kind::Temperature => format!("{v:.2} K"),
        Kind::AbsolutePressure => format(Kind::PressureDifference, v, system),
        _ => show(v),
    };
    match d {
        Distribution::Normal { mean, sd } => {
            format!("normal about {} with {} standard deviation", show(*mean), width(*sd))
        }
        Distribution::Uniform { low, high } => format!("even from {} to {}", show(*low), show(*high)),
        Distribution::Triangular { low, mode, high } => {
            format!("triangular from {} over {} to {}", show(*low), show(*mode), show(*high))
        }
        Distribution::Lognormal { median, factor } => format!("lognormal about {}, factor {factor}", show(*median)),
        Distribution::Sample { values } => format!("as {} measured values", values.len()),
    }
}

impl Prepared {
    /// The spreads with their distributions, and whether each goes as a factor on a load.
    fn spreads(&self) -> impl Iterator<Item = (&Spread, &Distribution, bool)> {
        let each = self.population.spreads.iter().zip(self.plan.distributions()).zip(self.plan.as_factor());
        each.map(|((s, d), factor)| (s, d, factor))
    }

    /// What is spread and how, and how old it is.
    pub fn words(&self, system: System) -> String {
        let how = |factor| if factor { ", as a factor on what its spring, lip or curve gives" } else { "" };
        let mut all: Vec<String> = self
            .spreads()
            .map(|(s, d, factor)| format!("{} {}{}", s.name, words(d, s.kind, system), how(factor)))
            .collect();
        if !self.population.correlations.is_empty() {
            all.push(format!("{} correlations", self.population.correlations.len()));
        }
        let a = &self.population.ageing;
        if a.years > 0.0 {
            let left = |rate| 100.0 * crate::study::population::load_left(a.years, rate);
            all.push(format!(
                "{} years old: {:.1} % of the check's load and {:.1} % of the air inlet's are left (estimate)",
                a.years,
                left(a.check_relaxation),
                left(a.air_inlet_relaxation)
            ));
        }
        all.join("; ")
    }

    /// How it is sampled.
    pub fn sample_words(&self) -> String {
        let indices = self.plan.scheme().map_or(String::new(), |s| {
            format!(
                ", and {} runs for the variance shares ({} replicates of {} points)",
                s.len(),
                s.replicates(),
                s.base()
            )
        });
        let mixed = self.plan.mixed();
        let mixed = match mixed.as_slice() {
            [] => String::new(),
            names => format!(" before correlation ({} then not in even slices)", names.join(", ")),
        };
        format!("{} units, {}{mixed}, seed {}{indices}", self.plan.units(), self.design.word(), self.seed)
    }

    /// The spreads for a document.
    pub fn axes(&self) -> Json {
        let one = |(s, d, factor): (&Spread, &Distribution, bool)| {
            let mut axis = json!({"path": s.name, "unit": crate::study::si_symbol(s.kind), "spread": d});
            if let (true, Some(axis)) = (factor, axis.as_object_mut()) {
                axis.insert("as_factor".to_owned(), json!(true));
            }
            axis
        };
        self.spreads().map(one).collect()
    }
}
