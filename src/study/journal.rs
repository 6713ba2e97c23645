//! The journal of a study: one line a run, written as soon as the run is done, so that a kill at any moment loses at most
//! the runs under way.
//!
//! ```text
//! {"schema":"poppetry/journal/1","inputs_sha256":...,"shard":[1,4],"total":400,"columns":[...],"points":2,"study":{...}}
//! 17,10342.1,15168.4,air-inlet-first,0,
//! 1,...
//! ```
//!
//! Behind the header stand the rows of the table to be, in the order in which they were finished. A line is whole only with
//! its line end; what a kill or a full disk cut short is dropped on resuming. A finished shard is its journal.

use super::identity::{differences, sha256};
use super::part::{Done, Shard};
use super::plan::Plan;
use super::row_line::{begin, csv_line, index_of};
pub use super::row_line::{read_row, row_line};
use super::run::{Row, Study};
use crate::error::{Error, FileProblem};
use serde_json::{Value as Json, json};
use std::collections::BTreeMap;
use std::fs::{File, OpenOptions};
use std::io::{BufRead, BufReader, ErrorKind, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

/// Schema of the journal.
pub const SCHEMA_JOURNAL: &str = "poppetry/journal/1";
/// Differences named before the rest is counted.
const NAMED: usize = 3;
/// Longest header that is read, bytes.
const LONGEST_HEADER: u64 = 64 * 1024 * 1024;

/// What a journal belongs to.
#[derive(Debug, Clone, PartialEq)]
pub struct Header {
    /// [`Study::description`], with whatever else decides the rows.
    pub study: Json,
    /// Which part.
    pub shard: Shard,
    /// Runs of the whole study.
    pub total: u64,
    /// Heads of the table's columns: `run`, the points, the outputs, `failed`.
    pub columns: Vec<String>,
    /// How many of them are points.
    pub points: usize,
}

pub(super) fn output_error(path: &Path, e: &std::io::Error) -> Error {
    Error::Unwritten { path: path.to_path_buf(), problem: e.to_string() }
}

fn bad(path: &Path, message: String) -> Error {
    Error::File { path: path.to_path_buf(), named_by: None, problem: FileProblem::Io(message) }
}

/// A line that the study does not have.
pub(super) fn no_row(path: &Path, line: u64) -> Error {
    bad(path, format!("line {line} is no row of this study: its columns and its point must be those of its run"))
}

impl Header {
    /// The header of one part of a study.
    pub fn new(study: &Study, shard: Shard) -> Header {
        let points = study.plan.columns();
        let columns = std::iter::once("run".to_owned())
            .chain(points.iter().map(super::plan::Column::head))
            .chain(study.outputs.iter().map(super::output::Output::name))
            .chain(["failed".to_owned()]);
        Header {
            study: study.description(),
            shard,
            total: study.plan.len(),
            columns: columns.collect(),
            points: points.len(),
        }
    }

    /// Hash of the study, the same for all its parts, and of all that the header says of its rows.
    pub fn inputs_sha256(&self) -> String {
        sha256(&json!({"columns": self.columns, "points": self.points, "study": self.study, "total": self.total}))
    }

    /// The row that a line holds; `None` if it is none of this part, or stands at another point than `plan` has for its number.
    pub fn row(&self, line: &str, plan: Option<&dyn Plan>) -> Option<Row> {
        let row = read_row(line, self.points, self.columns.len())?;
        let Shard { part, of } = self.shard;
        let of_it = row.index < self.total && row.index % of.max(1) == part - 1;
        let at_its_point = |plan: &dyn Plan| line.starts_with(&(begin(row.index, &plan.point(row.index)) + ","));
        (of_it && plan.is_none_or(at_its_point)).then_some(row)
    }

    /// The table's first line, without its end.
    pub fn table_head(&self) -> String {
        csv_line(self.columns.iter().map(String::as_str))
    }

    /// The journal's first line, without its end.
    pub fn line(&self) -> String {
        json!({
            "schema": SCHEMA_JOURNAL,
            "inputs_sha256": self.inputs_sha256(),
            "shard": [self.shard.part, self.shard.of],
            "total": self.total,
            "columns": self.columns,
            "points": self.points,
            "study": self.study,
        })
        .to_string()
    }

    fn read(path: &Path, line: &str) -> Result<Header, Error> {
        let none = || bad(path, "this is no journal of a study".to_owned());
        let json: Json = serde_json::from_str(line).map_err(|_| none())?;
        if json.get("schema").and_then(Json::as_str) != Some(SCHEMA_JOURNAL) {
            return Err(none());
        }
        let whole = |j: Option<&Json>| j.and_then(Json::as_u64).ok_or_else(none);
        let shard = json.get("shard");
        let header = Header {
            study: json.get("study").cloned().ok_or_else(none)?,
            shard: Shard { part: whole(shard.and_then(|s| s.get(0)))?, of: whole(shard.and_then(|s| s.get(1)))? },
            total: whole(json.get("total"))?,
            columns: serde_json::from_value(json.get("columns").cloned().unwrap_or(Json::Null)).map_err(|_| none())?,
            points: usize::try_from(whole(json.get("points"))?).map_err(|_| none())?,
        };
        if !(1..=header.shard.of).contains(&header.shard.part) {
            return Err(none());
        }
        if json.get("inputs_sha256").and_then(Json::as_str) != Some(header.inputs_sha256().as_str()) {
            return Err(bad(path, "the header of this journal has been changed: its hash does not fit".to_owned()));
        }
        Ok(header)
    }

    /// Refuses a header of another study, naming the differences.
    ///
    /// # Errors
    /// [`Error::Mismatch`].
    pub fn require_same(&self, path: &Path, now: &Header) -> Result<(), Error> {
        let mut list = differences(&self.study, &now.study, NAMED);
        if list.is_empty() && self.columns != now.columns {
            list.push("other columns".to_owned());
        }
        if list.is_empty() && self.total != now.total {
            list.push(format!("{} runs before, {} now", self.total, now.total));
        }
        if list.is_empty() && self.shard.of != now.shard.of {
            list.push(format!("divided by {} before, by {} now", self.shard.of, now.shard.of));
        }
        if list.is_empty() { Ok(()) } else { Err(Error::Mismatch { path: path.to_path_buf(), differences: list }) }
    }
}

/// A journal being written.
#[derive(Debug)]
pub struct Journal {
    path: PathBuf,
    file: File,
}

impl Journal {
    /// Begins a journal; one that stands there already is not touched.
    ///
    /// # Errors
    /// [`Error::Output`], also if there is a file of this name.
    pub fn create(path: &Path, header: &Header) -> Result<Journal, Error> {
        let refused = |e: std::io::Error| output_error(path, &e);
        let mut file = OpenOptions::new().create_new(true).append(true).open(path).map_err(refused)?;
        let lock = file.try_lock();
        file.write_all(format!("{}\n", header.line()).as_bytes()).map_err(refused)?;
        drop(lock);
        Ok(Journal { path: path.to_path_buf(), file })
    }

    /// Goes on with a journal: which runs are done follows from it.
    ///
    /// # Errors
    /// [`Error::File`] if it cannot be read, is no journal, has a row that `plan` does not have, or is being written by another
    /// program; [`Error::Mismatch`] if it belongs to another study.
    pub fn resume(path: &Path, header: &Header, plan: &dyn Plan) -> Result<(Journal, Done), Error> {
        let mut file = OpenOptions::new().read(true).append(true).open(path).map_err(|e| open_error(path, &e))?;
        if matches!(file.try_lock(), Err(std::fs::TryLockError::WouldBlock)) {
            return Err(bad(path, "another program is writing to this journal".to_owned()));
        }
        let refused = |e: std::io::Error| output_error(path, &e);
        let mut done = Done::none(header.shard);
        let mut whole = 0;
        let mut reader = BufReader::new(&mut file);
        let mut line = String::new();
        let mut number: u64 = 0;
        while read_whole_line(path, &mut reader, &mut line, number == 0)? {
            number += 1;
            match number {
                1 => {
                    let before = Header::read(path, line.trim_end())?;
                    before.require_same(path, header)?;
                    if before.shard != header.shard {
                        return Err(Error::Mismatch {
                            path: path.to_path_buf(),
                            differences: vec![format!("part {} before, {} now", before.shard.part, header.shard.part)],
                        });
                    }
                }
                _ => {
                    match header.row(line.trim_end_matches('\n'), Some(plan)) {
                        // A run noted twice is no harm: a row follows from its number.
                        Some(row) => drop(done.insert(row.index)),
                        None => return Err(no_row(path, number)),
                    }
                }
            }
            whole += line.len() as u64;
        }
        drop(reader);
        file.set_len(whole).map_err(refused)?;
        file.seek(SeekFrom::End(0)).map_err(refused)?;
        if number == 0 {
            file.write_all(format!("{}\n", header.line()).as_bytes()).map_err(refused)?;
        }
        Ok((Journal { path: path.to_path_buf(), file }, done))
    }

    /// Notes a row. When this returns, the row survives the end of the process (not a loss of power).
    ///
    /// # Errors
    /// [`Error::Unwritten`], for example when the disk is full; the rows before are whole.
    pub fn append(&mut self, row: &Row) -> Result<(), Error> {
        let line = format!("{}\n", row_line(row));
        self.file.write_all(line.as_bytes()).map_err(|e| output_error(&self.path, &e))
    }

    /// Where it stands.
    pub fn path(&self) -> &Path {
        &self.path
    }
}

fn open_error(path: &Path, e: &std::io::Error) -> Error {
    let problem = match e.kind() {
        ErrorKind::NotFound => FileProblem::NotFound,
        ErrorKind::IsADirectory => FileProblem::IsDirectory,
        _ => FileProblem::Io(e.to_string()),
    };
    Error::File { path: path.to_path_buf(), named_by: None, problem }
}

/// Reads a line that has its end; `false` at the end of the file or before a line cut short.
fn read_whole_line(path: &Path, reader: &mut impl BufRead, line: &mut String, header: bool) -> Result<bool, Error> {
    line.clear();
    // A file that is no journal may be one endless line.
    let limit = if header { LONGEST_HEADER } else { 1024 * 1024 };
    let read = reader.take(limit).read_line(line).map_err(|e| match e.kind() {
        ErrorKind::InvalidData => bad(path, "this is no journal of a study".to_owned()),
        _ => open_error(path, &e),
    })?;
    if read as u64 == limit {
        return Err(bad(path, "this is no journal of a study".to_owned()));
    }
    Ok(line.ends_with('\n'))
}

/// The lines of a journal in the order of their runs. Holds the few that were finished before their turn.
#[derive(Debug)]
pub struct Lines {
    path: PathBuf,
    reader: BufReader<File>,
    /// Its header.
    pub header: Header,
    waiting: BTreeMap<u64, String>,
    next: u64,
    at_end: bool,
}

impl Lines {
    /// Opens a journal.
    ///
    /// # Errors
    /// [`Error::File`].
    pub fn open(path: &Path) -> Result<Lines, Error> {
        let mut reader = BufReader::new(File::open(path).map_err(|e| open_error(path, &e))?);
        let mut line = String::new();
        if !read_whole_line(path, &mut reader, &mut line, true)? {
            return Err(bad(path, "this is no journal of a study".to_owned()));
        }
        let header = Header::read(path, line.trim_end())?;
        let next = header.shard.part - 1;
        Ok(Lines { path: path.to_path_buf(), reader, header, waiting: BTreeMap::new(), next, at_end: false })
    }

    /// The next row.
    pub fn next_row(&mut self) -> Option<Result<Row, Error>> {
        let line = self.next()?;
        Some(line.and_then(|(_, line)| {
            read_row(&line, self.header.points, self.header.columns.len())
                .ok_or_else(|| bad(&self.path, "a line is no row of this study".to_owned()))
        }))
    }
}

impl Iterator for Lines {
    /// Number of the run and its line without the end.
    type Item = Result<(u64, String), Error>;

    fn next(&mut self) -> Option<Self::Item> {
        loop {
            if let Some(line) = self.waiting.remove(&self.next) {
                let index = self.next;
                self.next = self.next.saturating_add(self.header.shard.of);
                return Some(Ok((index, line)));
            }
            if self.at_end {
                // Of an unfinished journal: what is there, in order.
                let (index, line) = self.waiting.pop_first()?;
                return Some(Ok((index, line)));
            }
            let mut line = String::new();
            match read_whole_line(&self.path, &mut self.reader, &mut line, false) {
                Ok(true) => {
                    line.truncate(line.trim_end_matches('\n').len());
                    match index_of(&line) {
                        Some(index) if index >= self.next => drop(self.waiting.insert(index, line)),
                        // Written twice.
                        Some(_) => {}
                        None => return Some(Err(bad(&self.path, "a line is no row of this study".to_owned()))),
                    }
                }
                Ok(false) => self.at_end = true,
                Err(e) => return Some(Err(e)),
            }
        }
    }
}
