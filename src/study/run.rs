//! Doing a study: rayon's workers take points, one thread hands the rows on.

use super::output::{Cell, Output};
use super::plan::{Level, Plan};
use super::question::{Need, Until};
use super::timing::{Meter, Timing};
use crate::assembly::Settings;
use crate::error::{At, Error, Source};
use serde_json::{Value as Json, json};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;
use std::sync::mpsc::{RecvTimeoutError, channel};
use std::time::{Duration, Instant};

/// How far the youngest run may be ahead of the oldest unfinished one. Bounds memory and the disorder of a journal.
pub const WINDOW: u64 = 4096;

/// One run of a study.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Its number in the plan, from 0.
    pub index: u64,
    /// Where it lies: one level for each column of the plan.
    pub point: Vec<Level>,
    /// What was recorded, one cell for each output; all missing if the run failed.
    pub cells: Vec<Cell>,
    /// Why it failed.
    pub failed: Option<String>,
}

/// One part of a study that is divided among several machines: part `part` (from 1) of `of`. Part k has the runs k, k + of,
/// k + 2 of, ..., so that expensive corners of a map fall to all of them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Shard {
    /// Which, from 1.
    pub part: u64,
    /// Of how many.
    pub of: u64,
}

impl Shard {
    /// The whole study.
    pub const WHOLE: Shard = Shard { part: 1, of: 1 };

    /// The numbers of its runs in a study of `len`.
    pub fn indices(self, len: u64) -> impl Iterator<Item = u64> + Clone {
        (self.part.saturating_sub(1)..len).step_by(usize::try_from(self.of.max(1)).unwrap_or(usize::MAX))
    }

    /// How many runs it has in a study of `len`.
    pub fn count(self, len: u64) -> u64 {
        len.saturating_sub(self.part.saturating_sub(1)).div_ceil(self.of.max(1))
    }
}

/// How far a study has come.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Progress {
    /// Runs that are done, those of an earlier session included.
    pub done: u64,
    /// Runs in all.
    pub total: u64,
    /// Runs of this session that failed.
    pub failed: u64,
    /// Runs per second in this session.
    pub rate: f64,
    /// Seconds left at this rate.
    pub left_s: f64,
}

/// What a caller sees of a study and has to say about it.
pub struct Control<'a> {
    /// Worker threads; `None`: as many as the machine has.
    pub threads: Option<usize>,
    /// Asked between runs: `true` takes up no more of them.
    pub cancel: &'a dyn Fn() -> bool,
    /// Told after each run.
    pub progress: &'a mut dyn FnMut(&Progress),
}

/// How a study ended.
#[derive(Debug, Clone, PartialEq)]
pub struct Outcome {
    /// Runs done in this session.
    pub done: u64,
    /// Of them, failed.
    pub failed: u64,
    /// Whether it was cancelled before all runs were done.
    pub cancelled: bool,
    /// Time and its distribution over the runs.
    pub timing: Timing,
}

/// A study: an assembly, the points, what to record.
#[derive(Clone)]
pub struct Study {
    /// The settings that the points change.
    pub base: Settings,
    /// The points.
    pub plan: Arc<dyn Plan>,
    /// What is recorded of each run.
    pub outputs: Vec<Output>,
    /// How far each run goes.
    pub until: Until,
}

impl Study {
    /// A study of `plan` that records nothing yet.
    pub fn new(base: Settings, plan: impl Plan + 'static) -> Study {
        Study { base, plan: Arc::new(plan), outputs: Vec::new(), until: Until::Rest }
    }

    /// Records one more value, `COMMAND.KEY`.
    ///
    /// # Errors
    /// As [`Output::parse`].
    pub fn record(mut self, key: &str) -> Result<Study, Error> {
        self.outputs.push(Output::parse(key, &At::whole(Source::Option("--record")))?);
        Ok(self)
    }

    /// Everything that decides the rows: crate version, settings, points, outputs.
    pub fn description(&self) -> Json {
        json!({
            "poppetry": env!("CARGO_PKG_VERSION"),
            "assembly": self.base.assembly(),
            "settings": serde_json::from_str::<Json>(&self.base.canonical_json()).unwrap_or(Json::Null),
            "plan": self.plan.describe(),
            "record": self.outputs.iter().map(Output::name).collect::<Vec<_>>(),
            "until": self.until.word(),
        })
    }

    /// Answers of all questions for these settings, one cell for each output.
    ///
    /// # Errors
    /// [`Error`] if a run fails or an output does not exist.
    pub fn ask(&self, settings: &Settings) -> Result<Vec<Cell>, Error> {
        let at = At::whole(Source::Option("--record"));
        let mut cells = vec![Cell::Missing; self.outputs.len()];
        let mut asked: Vec<&str> = Vec::new();
        for output in &self.outputs {
            let command = output.question.command();
            if asked.contains(&command) {
                continue;
            }
            asked.push(command);
            let of_it = || self.outputs.iter().enumerate().filter(|(_, o)| o.question.command() == command);
            let keys: Vec<&str> = of_it().map(|(_, o)| o.key.as_str()).collect();
            let answer = output.question.answer(settings, &Need { keys: &keys, until: self.until })?;
            for (place, output) in of_it() {
                if let Some(cell) = cells.get_mut(place) {
                    *cell = output.pick(&answer, &at)?;
                }
            }
        }
        Ok(cells)
    }

    /// The run at one point.
    pub fn row(&self, index: u64) -> Row {
        let point = self.plan.point(index);
        let cells = self.plan.settings(&self.base, &point).and_then(|settings| self.ask(&settings));
        match cells {
            Ok(cells) => Row { index, point, cells, failed: None },
            Err(error) => {
                let words = error.to_string();
                let reason = words.split_whitespace().collect::<Vec<_>>().join(" ");
                Row { index, point, cells: vec![Cell::Missing; self.outputs.len()], failed: Some(reason) }
            }
        }
    }

    /// Does the runs of `shard` that are not in `done`, and hands each row to `each` as it is finished, in no order. An
    /// error of `each` ends the study; runs under way are finished and handed on first if it was cancelled.
    ///
    /// # Errors
    /// The error of `each`; [`Error::Syntax`] if no worker threads can be started.
    pub fn run(
        &self,
        shard: Shard,
        done: &Done,
        control: &mut Control<'_>,
        each: &mut dyn FnMut(Row) -> Result<(), Error>,
    ) -> Result<Outcome, Error> {
        let mut builder = rayon::ThreadPoolBuilder::new();
        if let Some(threads) = control.threads {
            builder = builder.num_threads(threads.max(1));
        }
        let pool = builder
            .build()
            .map_err(|e| Error::Syntax { at: At::whole(Source::Study), message: format!("no worker threads: {e}") })?;
        let threads = pool.current_num_threads() as u64;
        let len = self.plan.len();
        let mut todo = shard.indices(len).filter(|i| !done.contains(*i)).peekable();
        let total = shard.count(len);
        let before = done.count();
        let start = Instant::now();
        let (send, receive) = channel();
        let mut under_way: BTreeSet<u64> = BTreeSet::new();
        let mut meter = Meter::default();
        let mut failed = 0;
        let mut trouble = None;
        let mut cancelled = false;
        pool.in_place_scope(|scope| {
            loop {
                cancelled |= (control.cancel)();
                // Twice as many as threads, so that none waits for this loop to notice that it is free.
                while !cancelled && trouble.is_none() && (under_way.len() as u64) < 2 * threads {
                    let oldest = under_way.first().copied();
                    let ahead = |i: &u64| oldest.is_none_or(|o| i - o < WINDOW * shard.of.max(1));
                    let Some(index) = todo.next_if(ahead) else { break };
                    under_way.insert(index);
                    let send = send.clone();
                    scope.spawn(move |_| {
                        let start = Instant::now();
                        let row = self.row(index);
                        // The other end lives until all are done.
                        let _ = send.send((row, start.elapsed()));
                    });
                }
                if under_way.is_empty() {
                    break;
                }
                let (row, took) = match receive.recv_timeout(Duration::from_millis(100)) {
                    Ok(message) => message,
                    Err(RecvTimeoutError::Timeout) => continue,
                    Err(RecvTimeoutError::Disconnected) => break,
                };
                under_way.remove(&row.index);
                meter.add(took.as_secs_f64());
                failed += u64::from(row.failed.is_some());
                if trouble.is_none()
                    && let Err(e) = each(row)
                {
                    trouble = Some(e);
                }
                let rate = meter.count() as f64 / start.elapsed().as_secs_f64().max(1e-9);
                let now = before + meter.count();
                let left_s = total.saturating_sub(now) as f64 / rate.max(1e-9);
                (control.progress)(&Progress { done: now, total, failed, rate, left_s });
            }
        });
        match trouble {
            Some(error) => Err(error),
            None => Ok(Outcome {
                done: meter.count(),
                failed,
                cancelled: cancelled && before + meter.count() < total,
                timing: meter.timing(start.elapsed().as_secs_f64(), threads as usize),
            }),
        }
    }

    /// All rows in order, in memory.
    ///
    /// # Errors
    /// As [`Study::run`].
    pub fn rows(&self, control: &mut Control<'_>) -> Result<(Vec<Row>, Outcome), Error> {
        let mut rows = Vec::new();
        let outcome = self.run(Shard::WHOLE, &Done::default(), control, &mut |row| {
            rows.push(row);
            Ok(())
        })?;
        rows.sort_by_key(|row| row.index);
        Ok((rows, outcome))
    }
}

/// Which runs are done: all up to one number, and some beyond it.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Done {
    /// Runs of the shard that are done from its beginning without a gap.
    prefix: u64,
    shard: Option<Shard>,
    beyond: BTreeSet<u64>,
}

impl Done {
    /// Nothing of this shard.
    pub fn none(shard: Shard) -> Done {
        Done { prefix: 0, shard: Some(shard), beyond: BTreeSet::new() }
    }

    /// Notes that run `index` is done; `false` if it is not of this shard or was noted before.
    pub fn insert(&mut self, index: u64) -> bool {
        let Shard { part, of } = self.shard.unwrap_or(Shard::WHOLE);
        let first = part.saturating_sub(1);
        if index < first || (index - first) % of != 0 || self.contains(index) {
            return false;
        }
        self.beyond.insert(index);
        while self.beyond.remove(&(first + self.prefix * of)) {
            self.prefix += 1;
        }
        true
    }

    /// Whether run `index` is done.
    pub fn contains(&self, index: u64) -> bool {
        let Shard { part, of } = self.shard.unwrap_or(Shard::WHOLE);
        let first = part.saturating_sub(1);
        index >= first && (index - first) / of.max(1) < self.prefix || self.beyond.contains(&index)
    }

    /// How many are done.
    pub fn count(&self) -> u64 {
        self.prefix + self.beyond.len() as u64
    }
}

/// Puts rows that come in any order back into the order of their numbers. Holds at most [`WINDOW`] of them.
#[derive(Debug, Default)]
pub struct Reorder {
    waiting: BTreeMap<u64, Row>,
}

impl Reorder {
    /// Takes one row.
    pub fn push(&mut self, row: Row) {
        self.waiting.insert(row.index, row);
    }

    /// The row with this number, if it is there.
    pub fn take(&mut self, index: u64) -> Option<Row> {
        self.waiting.remove(&index)
    }

    /// The first of those waiting.
    pub fn first(&mut self) -> Option<Row> {
        self.waiting.pop_first().map(|(_, row)| row)
    }

    /// How many wait.
    pub fn len(&self) -> usize {
        self.waiting.len()
    }

    /// Whether none waits.
    pub fn is_empty(&self) -> bool {
        self.waiting.is_empty()
    }
}
