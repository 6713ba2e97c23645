//! Doing a study: rayon's threads take points and hand the rows on.

use super::output::{Cell, Output};
use super::part::{Done, Shard};
use super::plan::{Level, Plan};
use super::question::{Need, Until};
use super::timing::{Meter, Timing};
use crate::assembly::Settings;
use crate::error::{At, Error, Source};
use serde_json::{Value as Json, json};
use std::collections::BTreeSet;
use std::sync::{Arc, Condvar, Mutex, PoisonError};
use std::time::Instant;

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
    /// Asked before each run: `true` takes up no more of them.
    pub cancel: &'a (dyn Fn() -> bool + Sync),
    /// Told after each run, by the thread that did it.
    pub progress: &'a mut (dyn FnMut(&Progress) + Send),
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

impl Outcome {
    /// That of a study of which nothing was left to do.
    pub fn nothing() -> Outcome {
        Outcome { done: 0, failed: 0, cancelled: false, timing: Meter::default().timing(0.0, 0) }
    }
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

    /// Does the runs of `shard` that are not in `done`, and hands each row to `each` as it is finished, in no order, one at a
    /// time, on the thread that did it: when `each` has returned, only runs under way can be lost. An error of `each` ends the
    /// study; runs under way are finished and handed on first if it was cancelled.
    ///
    /// # Errors
    /// The error of `each`; [`Error::Syntax`] if no worker threads can be started.
    pub fn run(
        &self,
        shard: Shard,
        done: &Done,
        control: &mut Control<'_>,
        each: &mut (dyn FnMut(Row) -> Result<(), Error> + Send),
    ) -> Result<Outcome, Error> {
        let mut builder = rayon::ThreadPoolBuilder::new();
        if let Some(threads) = control.threads {
            builder = builder.num_threads(threads.max(1));
        }
        let pool = builder
            .build()
            .map_err(|e| Error::Syntax { at: At::whole(Source::Study), message: format!("no worker threads: {e}") })?;
        let len = self.plan.len();
        let total = shard.count(len);
        let start = Instant::now();
        let state = Mutex::new(State {
            todo: shard.indices(len).filter(|i| !done.contains(*i)).peekable(),
            under_way: BTreeSet::new(),
            meter: Meter::default(),
            failed: 0,
            trouble: None,
            cancelled: false,
            each,
            progress: &mut *control.progress,
        });
        let freed = Condvar::new();
        let lock = || state.lock().unwrap_or_else(PoisonError::into_inner);
        let cancel = control.cancel;
        // Each thread takes the next run itself and hands its row on itself: no thread waits to be woken by another.
        pool.broadcast(|_| {
            let mut s = lock();
            loop {
                s.cancelled |= cancel();
                if s.cancelled || s.trouble.is_some() {
                    break;
                }
                let oldest = s.under_way.first().copied();
                let ahead = |i: &u64| oldest.is_none_or(|o| i - o < WINDOW * shard.of.max(1));
                let Some(index) = s.todo.next_if(ahead) else {
                    if s.todo.peek().is_none() {
                        break;
                    }
                    s = freed.wait(s).unwrap_or_else(PoisonError::into_inner);
                    continue;
                };
                s.under_way.insert(index);
                drop(s);
                let start_of_run = Instant::now();
                let row = self.row(index);
                let took = start_of_run.elapsed().as_secs_f64();
                s = lock();
                s.under_way.remove(&index);
                s.finished(row, took, done.count(), total, start);
                freed.notify_all();
            }
        });
        let s = state.into_inner().unwrap_or_else(PoisonError::into_inner);
        match s.trouble {
            Some(error) => Err(error),
            None => Ok(Outcome {
                done: s.meter.count(),
                failed: s.failed,
                cancelled: s.cancelled && done.count() + s.meter.count() < total,
                timing: s.meter.timing(start.elapsed().as_secs_f64(), pool.current_num_threads()),
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

/// What the threads of a study share.
struct State<'a, I: Iterator<Item = u64>> {
    todo: std::iter::Peekable<I>,
    under_way: BTreeSet<u64>,
    meter: Meter,
    failed: u64,
    trouble: Option<Error>,
    cancelled: bool,
    each: &'a mut (dyn FnMut(Row) -> Result<(), Error> + Send),
    progress: &'a mut (dyn FnMut(&Progress) + Send),
}

impl<I: Iterator<Item = u64>> State<'_, I> {
    fn finished(&mut self, row: Row, took: f64, before: u64, total: u64, start: Instant) {
        self.meter.add(took);
        self.failed += u64::from(row.failed.is_some());
        if self.trouble.is_none()
            && let Err(e) = (self.each)(row)
        {
            self.trouble = Some(e);
        }
        let rate = self.meter.count() as f64 / start.elapsed().as_secs_f64().max(1e-9);
        let done = before + self.meter.count();
        let left_s = total.saturating_sub(done) as f64 / rate.max(1e-9);
        (self.progress)(&Progress { done, total, failed: self.failed, rate, left_s });
    }
}
