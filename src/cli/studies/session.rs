//! Doing a study from the command line: journal, progress, Ctrl-C, and the table at the end.

use super::args::{self, Chart, Common, Kept, Long};
use crate::cli::problem::Problem;
use crate::cli::{files, frame, interrupt, text};
use crate::error::{At, Error, FileProblem, Source};
use crate::study::{Control, Done, Header, Journal, Outcome, Shard, Study, table_file};
use crate::units::{Kind, System, format};
use indicatif::{ProgressBar, ProgressStyle};
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Most rows that stand inside a document.
const IN_DOCUMENT: u64 = 20_000;

/// A study as asked for.
pub(super) struct Asked<'a> {
    pub command: &'static str,
    pub common: &'a Common,
    pub kept: &'a Kept,
    pub long: &'a Long,
}

/// Where the files of a study stand.
#[derive(Debug)]
pub(super) struct Places {
    charts: Vec<(Chart, files::Destination)>,
    /// The table, if it is to be a file.
    pub table: Option<PathBuf>,
    /// The finished form, if it is to be a file: the table, or the part.
    last: Option<PathBuf>,
    /// What Ctrl-C leaves of it.
    partial: Option<PathBuf>,
    /// The journal.
    journal: PathBuf,
    /// Which part is done.
    pub shard: Shard,
    /// Holds the journal of a study that leaves no table.
    _scratch: Option<tempfile::TempDir>,
}

fn beside(path: &Path, ending: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(ending);
    PathBuf::from(name)
}

impl Asked<'_> {
    /// The table, if it is to be a file.
    fn table(&self, stem: &str, rows: u64) -> Result<Option<PathBuf>, Problem> {
        let document = self.common.json && self.long.shard.is_none() && !self.long.resume;
        let table = self.kept.table(stem, document);
        if table.is_none() && rows > IN_DOCUMENT {
            let message = format!("{rows} rows are too many for one document; name a table with --csv");
            return Err(Error::Syntax { at: At::whole(Source::Option("--json")), message }.into());
        }
        Ok(table)
    }

    fn charts(&self, stem: &str, charts: (&[&'static str], &[&'static str])) -> Result<Vec<Chart>, Problem> {
        if self.long.shard.is_none() {
            return Ok(self.kept.charts(stem, self.common.json, charts)?);
        }
        if let Some(text) = self.kept.chart.first() {
            args::chart(text, charts.0)?;
            let message = "a part of a study has no chart; draw it of the whole, with --merge".to_owned();
            return Err(Error::Syntax { at: At::whole(Source::Option("--chart")), message }.into());
        }
        Ok(Vec::new())
    }
}

impl Places {
    /// Names and checks all files: charts (those there are, those usual), the table, and what stands beside it. `read` are
    /// the files that the study reads beside its input.
    pub fn new<'a>(
        asked: &'a Asked<'_>,
        study: &'a Study,
        charts: (&[&'static str], &[&'static str]),
        read: impl IntoIterator<Item = &'a Path>,
    ) -> Result<Places, Problem> {
        let long = asked.long;
        let stem = format!("{}-{}", asked.command, study.base.assembly());
        let table = asked.table(&stem, study.plan.len())?;
        let charts = asked.charts(&stem, charts)?;
        let mut inputs = frame::inputs(&asked.common.files, &study.base)?;
        inputs.extend(read);
        let shard = long.shard.unwrap_or(Shard::WHOLE);
        let mut all: Vec<PathBuf> = charts.iter().map(|c| c.path.clone()).collect();
        let mut last = table.clone();
        let mut partial = table.as_ref().map(|t| t.with_extension("partial.csv"));
        if let (Some(table), Some(Shard { part, of })) = (&table, long.shard) {
            let name = |ending| beside(&table.with_extension(""), &format!(".{part}-of-{of}.{ending}"));
            (last, partial) = (Some(name("shard")), Some(name("partial.csv")));
        }
        let (journal, scratch) = match &last {
            Some(own) => {
                let journal = beside(own, ".journal");
                all.extend([own.clone(), journal.clone()]);
                (journal, None)
            }
            None => {
                let scratch = tempfile::tempdir().map_err(|e| Error::Unwritten {
                    path: std::env::temp_dir(),
                    problem: format!("no temporary folder can be made here: {e}"),
                })?;
                (scratch.path().join("study.journal"), Some(scratch))
            }
        };
        let checked = files::check(&all, &inputs)?;
        let charts = charts.into_iter().zip(checked).collect();
        let places = Places { charts, table, last, partial, journal, shard, _scratch: scratch };
        if !long.resume && places.journal.exists() {
            let problem = FileProblem::Io(
                "an unfinished study stands here; go on with --resume, or remove it to begin again".to_owned(),
            );
            return Err(Error::File { path: places.journal, named_by: None, problem }.into());
        }
        Ok(places)
    }

    /// Whether one part of several is done, which stays as its journal is.
    fn is_part(&self) -> bool {
        self.last != self.table
    }

    /// The rows, whether the study is finished or not.
    pub fn journal(&self) -> &Path {
        &self.journal
    }

    /// Writes the charts that the study has; `encode` gives each as the bytes of its file. The names of what was written.
    pub fn write_charts(
        &self,
        encode: impl Fn(&str, &Path) -> Result<Option<Vec<u8>>, Problem>,
        err: &mut dyn Write,
        columns: usize,
    ) -> Result<Vec<PathBuf>, Problem> {
        let mut bytes = Vec::new();
        for (chart, place) in &self.charts {
            match encode(chart.name, &chart.path)? {
                Some(sheet) => bytes.push((place, sheet)),
                None if chart.asked => {
                    text::warn(err, &format!("this study has no chart \"{}\"", chart.name), columns);
                }
                None => {}
            }
        }
        files::write(&bytes)?;
        Ok(bytes.iter().map(|(place, _)| place.shown.clone()).collect())
    }

    /// Gives the finished study its last form, the table or the shard, and takes the journal away.
    pub fn finish(&self) -> Result<Option<PathBuf>, Problem> {
        let _whole = interrupt::hold();
        let Some(last) = &self.last else { return Ok(None) };
        let fail = |path: &Path, e: std::io::Error| {
            Problem::from(Error::Unwritten { path: path.to_path_buf(), problem: e.to_string() })
        };
        if self.is_part() {
            fs::rename(&self.journal, last).map_err(|e| fail(last, e))?;
        } else {
            table_file::from_journal(&self.journal, last).map_err(|e| {
                let kept = format!("all runs are kept in {}; go on with --resume", self.journal.display());
                Problem::Stopped(format!("{e}\n  {kept}"))
            })?;
            fs::remove_file(&self.journal).map_err(|e| fail(&self.journal, e))?;
        }
        // The table of an earlier, interrupted session says nothing that the whole one does not.
        if let Some(partial) = &self.partial {
            let _ = fs::remove_file(partial);
        }
        Ok(Some(last.clone()))
    }
}

/// Does a study, or what an earlier session left of it.
pub(super) fn carry_out(study: &Study, places: &Places, common: &Common, resume: bool) -> Result<Outcome, Problem> {
    let header = Header::new(study, places.shard);
    if let Some(parent) = places.journal.parent().filter(|p| !p.as_os_str().is_empty()) {
        fs::create_dir_all(parent)
            .map_err(|e| Error::Unwritten { path: places.journal.clone(), problem: e.to_string() })?;
    }
    let finished = places.last.as_ref().filter(|last| resume && !places.journal.exists() && last.exists());
    if let Some(last) = finished {
        let _whole = interrupt::hold();
        match places.is_part() {
            // A part is its journal. What is no part of this study stays where it is.
            true => {
                Journal::resume(last, &header, &*study.plan)?;
                fs::rename(last, &places.journal)
                    .map_err(|e| Error::Unwritten { path: places.journal.clone(), problem: e.to_string() })?;
            }
            false => drop(table_file::to_journal(last, &places.journal, study)?),
        }
    }
    let (mut journal, done) = if resume && places.journal.exists() {
        Journal::resume(&places.journal, &header, &*study.plan)?
    } else {
        (Journal::create(&places.journal, &header)?, Done::none(places.shard))
    };
    let total = places.shard.count(study.plan.len());
    let asking = interrupt::ask_first();
    let bar = bar(total, common.quiet);
    let mut progress = |p: &crate::study::Progress| {
        bar.set_position(p.done);
        let failed = if p.failed > 0 { format!(", {} failed", p.failed) } else { String::new() };
        let left = format(Kind::Time, p.left_s.round(), System::Si);
        bar.set_message(format!("{:.0} a second, {left} left{failed}", p.rate));
    };
    let mut control =
        Control { threads: common.threads.map(usize::from), cancel: &|| asking.asked(), progress: &mut progress };
    let outcome = study.run(places.shard, &done, &mut control, &mut |row| journal.append(&row));
    bar.finish_and_clear();
    let outcome = match outcome {
        Ok(outcome) => outcome,
        Err(error) => {
            let kept = match places.table.is_some() {
                true => {
                    format!("\n  the runs done so far are kept in {}; go on with --resume", places.journal.display())
                }
                false => String::new(),
            };
            return Err(Problem::Stopped(format!("{error}{kept}")));
        }
    };
    if outcome.cancelled {
        drop(journal);
        return Err(interrupted(places, done.count() + outcome.done, total));
    }
    Ok(outcome)
}

/// Puts the finished parts of a study together as its journal, as if it had been done here.
pub(super) fn join(study: &Study, places: &Places, parts: &[PathBuf]) -> Result<Outcome, Problem> {
    let header = Header::new(study, Shard::WHOLE);
    let merged = table_file::Merged::open(parts)?.with_plan(Arc::clone(&study.plan));
    let first = parts.first().map_or(Path::new(""), PathBuf::as_path);
    // How many parts there were is not part of what they say.
    let whole = Header { shard: Shard::WHOLE, ..merged.header.clone() };
    whole.require_same(first, &header)?;
    if let Some(parent) = places.journal.parent().filter(|p| !p.as_os_str().is_empty()) {
        fs::create_dir_all(parent)
            .map_err(|e| Error::Unwritten { path: places.journal.clone(), problem: e.to_string() })?;
    }
    let _whole = interrupt::hold();
    table_file::write_lines(&places.journal, &header.line(), &mut merged.map(|row| row.map(|(_, line)| line)))?;
    Ok(Outcome::nothing())
}

/// What is left after Ctrl-C: the journal, and a valid table of what is done.
fn interrupted(places: &Places, done: u64, total: u64) -> Problem {
    let _whole = interrupt::hold();
    let Some(partial) = &places.partial else {
        return Problem::Interrupted(format!("{done} of {total} runs were done; with --csv they would be kept"));
    };
    let kept = format!("{done} of {total} runs are done and kept in {}", places.journal.display());
    match table_file::from_journal(&places.journal, partial) {
        Ok(_) => Problem::Interrupted(format!("{kept}; as a table: {}. Go on with --resume.", partial.display())),
        Err(e) => Problem::Interrupted(format!("{kept}; their table could not be written: {e}. Go on with --resume.")),
    }
}

/// A bar on a terminal, nothing elsewhere.
fn bar(total: u64, quiet: bool) -> ProgressBar {
    if quiet {
        return ProgressBar::hidden();
    }
    let bar = ProgressBar::new(total);
    let style = "{bar:30} {pos} of {len} runs, {msg}";
    if let Ok(style) = ProgressStyle::with_template(style) {
        bar.set_style(style);
    }
    bar
}
