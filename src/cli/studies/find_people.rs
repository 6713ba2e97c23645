//! `find` on a population: one unknown solved for so that a share of the units meets what they must.

use super::find::{Answer, FindArgs, outputs, search, spinner, stopped};
use super::looked::{Counted, Look, Looked, Seen};
use super::population::{self, Prepared};
use crate::cli::interrupt;
use crate::cli::problem::Problem;
use crate::error::{At, Error, Source, shown};
use crate::study::analysis::{SPILL, spills};
use crate::study::find::{Found, find};
use crate::study::statistics::Share;
use crate::study::{Condition, Judge, Judged, Op, Outcomes, Output, Plan, PopulationPlan, Range, Row, Study, Until};
use rayon::prelude::*;
use serde_json::json;
use std::sync::{Mutex, PoisonError};

/// Width of the last bracket as a share of the range.
const OF_PEOPLE: f64 = 1e-3;

/// Which share of a population a condition is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Of {
    Passing,
    Spilling,
}

/// A condition on a share.
#[derive(Debug, Clone, Copy)]
struct ShareCondition {
    of: Of,
    op: Op,
    value: f64,
}

fn share_condition(rest: &str) -> Result<ShareCondition, Error> {
    let at = At::whole(Source::Option("--so-that"));
    let (key, op, value) = crate::study::split_condition(rest, &at)?;
    let known = ["tolerance.pass_rate", "tolerance.spill_probability"];
    let of = match key {
        "pass_rate" => Of::Passing,
        "spill_probability" => Of::Spilling,
        other => {
            let name = format!("tolerance.{other}");
            return Err(Error::UnknownName {
                at: Some(at),
                what: "value",
                nearest: crate::error::nearest(&name, known),
                name,
                known: known.map(str::to_owned).to_vec(),
            });
        }
    };
    let refuse = |message: String| Err(Error::Syntax { at: at.clone(), message });
    let (text, scale) = match value.strip_suffix('%') {
        Some(number) => (number.trim(), 0.01),
        None => (value, 1.0),
    };
    let share = match text.parse::<f64>() {
        Ok(v) if v * scale >= 0.0 && v * scale <= 1.0 => v * scale,
        _ => return refuse(format!("a share from 0 to 1 is wanted (or from 0 to 100 %), not {}", shown(value))),
    };
    if matches!(op, Op::Is | Op::IsNot) {
        return refuse("a share of a sample is compared with <, <=, > or >=".to_owned());
    }
    Ok(ShareCondition { of, op, value: share })
}

/// Looks for where the share begins to be what it must, and where the ends of its interval do.
pub(super) fn of_people(args: &FindArgs, range: Range, rest: &str) -> Result<Answer, Problem> {
    let condition = share_condition(rest)?;
    let all = population::prepare(&args.people, &args.common, None)?;
    let outputs = outputs(args, &all.base, &all.population.files)?;
    if let Some(spread) = all.population.spreads.iter().find(|s| s.name == range.path && !s.follows()) {
        let message = format!(
            "{} is looked for, so its spread must follow it: take the mean (or low and high) away and give sd, half_width \
             or factor",
            range.path
        );
        return Err(Error::Syntax { at: spread.at.clone(), message }.into());
    }
    let mut study = Study::new(all.base.clone(), all.plan.clone());
    study.until = args.common.until.unwrap_or(Until::Rest);
    let units_must = match condition.of {
        Of::Passing => all.conditions.clone(),
        Of::Spilling => vec![spills(Output::parse(SPILL, &At::whole(Source::Study))?)],
    };
    population::also(&mut study, &units_must);
    let example = super::check_outputs(&study)?;
    super::check_conditions(&study, &units_must, &example)?;
    let asking = interrupt::ask_first();
    let bar = spinner(&args.common);
    let looked: Mutex<Vec<Look>> = Mutex::default();
    let judge = |pick: fn(&Share) -> f64, share: &Share| match share.of {
        0 => Judged::Unknown,
        _ => Some(condition.op.holds(pick(share), condition.value)).into(),
    };
    let people = |x: f64| -> Result<Counted, Error> {
        let lock = || looked.lock().unwrap_or_else(PoisonError::into_inner);
        let known = lock().iter().find(|look| look.x.to_bits() == x.to_bits()).map(|look| look.found.clone());
        if let Some(Seen::People(counted)) = known {
            return Ok(counted);
        }
        let counted = count_at(&study, &all, args, &units_must, (range.path, x))?;
        let judged = judge(|s| s.estimate, &counted.outcomes.share());
        let mut known = lock();
        known.push(Look { x, judged, found: Seen::People(counted.clone()) });
        bar.set_message(format!("{} populations of {}", known.len(), args.people.runs()));
        bar.tick();
        Ok(counted)
    };
    let look = |pick: fn(&Share) -> f64| -> Result<Found, Problem> {
        let judge = |x: f64| Ok(judge(pick, &people(x)?.outcomes.share()));
        find(search(&range, OF_PEOPLE), &judge, &|| asking.asked())?.ok_or_else(stopped)
    };
    let found = look(|s| s.estimate)?;
    let (low, high) = (look(|s| s.low)?, look(|s| s.high)?);
    bar.finish_and_clear();
    // The end of where the condition holds, on the side of it that the estimate has.
    let ceases = found.at_low == Judged::Holds;
    let end = |f: &Found| match (f.at_low == Judged::Holds) == ceases {
        true => f.edge().map(|(x, _)| x),
        false => Some(range.low),
    };
    let up = matches!(condition.op, Op::AtLeast | Op::Above);
    let (hopeful, careful) = if up { (end(&high), end(&low)) } else { (end(&low), end(&high)) };
    let at_answer = found.edge().map(|(x, _)| x).or(ceases.then_some(range.low));
    let asked = json!({
        "pass": (condition.of == Of::Passing).then(|| population::judged_by(&all.conditions)),
        "population": all.plan.describe(),
        "so_that": [format!("{:?}", condition.of), condition.op.sign()],
        "share": condition.value,
        "until": study.until.word(),
    });
    Ok(Answer {
        base: all.base.clone(),
        open: Some(if ceases { [careful, hopeful] } else { [hopeful, careful] }),
        there: at_answer.map(&people).transpose()?,
        limit: Some(condition.value),
        not_seen: None,
        sample: Some(all.sample_words()),
        looked: Looked::new(looked.into_inner().unwrap_or_else(PoisonError::into_inner), &range),
        asked,
        key: args.so_that.split(['<', '>', '=', '!']).next().unwrap_or_default().trim().to_owned(),
        study,
        found,
        outputs,
    })
}

/// The population at one value of the unknown; always the same units, so that values can be compared.
fn count_at(
    study: &Study,
    all: &Prepared,
    args: &FindArgs,
    conditions: &[Condition],
    at: (&str, f64),
) -> Result<Counted, Error> {
    let base = study.base.with_numbers(&[at])?;
    let people = &args.people;
    let plan = PopulationPlan::new(&all.population, &base, people.design(), people.runs(), None, args.common.seed())?;
    let units = plan.len();
    let here = Study { base, plan: std::sync::Arc::new(plan), ..study.clone() };
    let judge = Judge::new(&here.outputs, conditions);
    let (mut outcomes, mut failed, mut reason) = (Outcomes::default(), 0, None);
    // Blocks keep memory independent of the number of units.
    let mut from = 0;
    while from < units {
        let to = (from + 1024).min(units);
        let rows: Vec<Row> = (from..to).into_par_iter().map(|i| here.row(i)).collect();
        for row in rows {
            if row.failed.is_some() {
                failed += 1;
                reason = reason.or(row.failed);
                continue;
            }
            outcomes.add(Judged::all(&judge.each(&row)?));
        }
        from = to;
    }
    Ok(Counted { outcomes, failed, reason })
}
