//! From journals to the table: in order, streamed, complete or not at all.

use super::journal::{Header, Lines, no_row, output_error, row_line};
use super::part::Shard;
use super::plan::Plan;
use super::run::{Row, Study};
use crate::error::{Error, FileProblem};
use std::fs::File;
use std::io::{BufRead, BufReader, BufWriter, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Writes lines under a temporary name beside `path`, then gives the file its name.
///
/// # Errors
/// [`Error::Unwritten`], then nothing has appeared under `path`; the errors of `lines`.
pub fn write_lines(
    path: &Path,
    head: &str,
    lines: &mut dyn Iterator<Item = Result<String, Error>>,
) -> Result<u64, Error> {
    let refused = |e: std::io::Error| output_error(path, &e);
    let parent = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mut builder = tempfile::Builder::new();
    builder.prefix(".poppetry-");
    // A temporary file is private by default; a result is to be as readable as any other file the user makes.
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    let file = builder.tempfile_in(parent).map_err(refused)?;
    let mut writer = BufWriter::new(file);
    writer.write_all(format!("{head}\n").as_bytes()).map_err(refused)?;
    let mut count = 0;
    for line in lines {
        writer.write_all(line?.as_bytes()).and_then(|()| writer.write_all(b"\n")).map_err(refused)?;
        count += 1;
    }
    let file = writer.into_inner().map_err(|e| refused(e.into_error()))?;
    file.persist(path).map_err(|e| refused(e.error))?;
    Ok(count)
}

/// The table of a journal, finished or not.
///
/// # Errors
/// [`Error::File`] and [`Error::Unwritten`].
pub fn from_journal(journal: &Path, table: &Path) -> Result<u64, Error> {
    let lines = Lines::open(journal)?;
    let head = lines.header.table_head();
    write_lines(table, &head, &mut lines.map(|line| line.map(|(_, text)| text)))
}

/// Runs of a finished table that are done again before it is taken for the study's: a table does not say what it was made of.
const DONE_AGAIN: u64 = 5;

/// The finished table of a whole study as its journal again.
///
/// # Errors
/// [`Error::Mismatch`] if it is the table of another study: in its columns, its runs or what some of them come to;
/// [`Error::File`] for a row that the study does not have.
pub fn to_journal(table: &Path, journal: &Path, study: &Study) -> Result<u64, Error> {
    let header = Header::new(study, Shard::WHOLE);
    let unread = |e: std::io::Error| Error::File {
        path: table.to_path_buf(),
        named_by: None,
        problem: FileProblem::Io(e.to_string()),
    };
    let other = |what: String| Error::Mismatch { path: table.to_path_buf(), differences: vec![what] };
    let mut lines = BufReader::new(File::open(table).map_err(unread)?).lines();
    if lines.next().transpose().map_err(unread)?.is_none_or(|head| head != header.table_head()) {
        return Err(other("other columns".to_owned()));
    }
    let last = header.total.saturating_sub(1);
    let again: Vec<u64> = (0..DONE_AGAIN).map(|k| last * k / (DONE_AGAIN - 1)).collect();
    let mut next = 0;
    let mut rows = lines.map(|line| {
        let line = line.map_err(unread)?;
        let row = header.row(&line, Some(&*study.plan)).filter(|row| row.index == next);
        let index = row.ok_or_else(|| no_row(table, next + 2))?.index;
        if again.contains(&index) && row_line(&study.row(index)) != line {
            return Err(other(format!("run {} comes to something else now", index + 1)));
        }
        next += 1;
        Ok(line)
    });
    let count = write_lines(journal, &header.line(), &mut rows)?;
    if count == header.total {
        return Ok(count);
    }
    std::fs::remove_file(journal).map_err(|e| output_error(journal, &e))?;
    Err(other(format!("{count} runs before, {} now", header.total)))
}

fn refuse<T>(path: &Path, message: String) -> Result<T, Error> {
    Err(Error::File { path: path.to_path_buf(), named_by: None, problem: FileProblem::Io(message) })
}

/// The lines of all parts of a study, in order.
pub struct Merged {
    parts: Vec<Lines>,
    plan: Option<Arc<dyn Plan>>,
    paths: Vec<PathBuf>,
    next: u64,
    /// Header of the whole.
    pub header: Header,
}

impl Merged {
    /// Opens the parts of one study, given in any order.
    ///
    /// # Errors
    /// [`Error::Mismatch`] for a part of another study, with the difference; [`Error::File`] for one that is no part, is
    /// given twice or is not complete, and for parts that are missing.
    pub fn open(paths: &[PathBuf]) -> Result<Merged, Error> {
        let mut parts: Vec<(PathBuf, Lines)> = Vec::new();
        for path in paths {
            let lines = Lines::open(path)?;
            if let Some((_, first)) = parts.first() {
                first.header.require_same(path, &lines.header)?;
            }
            if let Some((other, _)) = parts.iter().find(|(_, l)| l.header.shard == lines.header.shard) {
                let shard = lines.header.shard;
                return refuse(
                    path,
                    format!("part {}/{} is given twice, also as {}", shard.part, shard.of, other.display()),
                );
            }
            parts.push((path.clone(), lines));
        }
        parts.sort_by_key(|(_, lines)| lines.header.shard.part);
        let Some((first_path, first)) = parts.first() else {
            return refuse(Path::new(""), "there is nothing to merge".to_owned());
        };
        let of = first.header.shard.of;
        let missing: Vec<String> = (1..=of)
            .filter(|k| parts.binary_search_by_key(k, |(_, l)| l.header.shard.part).is_err())
            .map(|k| format!("{k}/{of}"))
            .collect();
        if !missing.is_empty() {
            let (shown, more) = missing.split_at(missing.len().min(8));
            let more = if more.is_empty() { String::new() } else { format!(" and {} more", more.len()) };
            return refuse(first_path, format!("of this study the parts {}{more} are missing", shown.join(", ")));
        }
        let header = Header { shard: Shard::WHOLE, ..first.header.clone() };
        let plan = super::plan::described(&header.study);
        let (paths, parts) = parts.into_iter().unzip();
        Ok(Merged { parts, plan, paths, next: 0, header })
    }

    /// The points, where the parts say enough of them: of a grid or a table.
    pub fn plan(&self) -> Option<&Arc<dyn Plan>> {
        self.plan.as_ref()
    }

    /// The same with the points that the study has.
    #[must_use]
    pub fn with_plan(self, plan: Arc<dyn Plan>) -> Merged {
        Merged { plan: Some(plan), ..self }
    }
}

impl Iterator for Merged {
    /// The row and its line.
    type Item = Result<(Row, String), Error>;

    fn next(&mut self) -> Option<Self::Item> {
        if self.next >= self.header.total {
            return None;
        }
        let of = self.parts.len() as u64;
        let place = usize::try_from(self.next % of.max(1)).ok()?;
        let part = self.parts.get_mut(place)?;
        let line = part.next();
        let wanted = self.next;
        self.next += 1;
        let path = self.paths.get(place)?;
        Some(match line {
            Some(Ok((index, text))) if index == wanted => match part.header.row(&text, self.plan.as_deref()) {
                Some(row) => Ok((row, text)),
                None => refuse(
                    path,
                    format!(
                        "run {} is no row of this study: its columns and its point must be those of its run",
                        wanted + 1
                    ),
                ),
            },
            Some(Err(e)) => Err(e),
            _ => refuse(
                path,
                format!("this part is not complete: run {} is missing; finish it with --resume", wanted + 1),
            ),
        })
    }
}
