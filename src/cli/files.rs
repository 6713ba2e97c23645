//! Files to write: all of them are checked before a run and appear together after it, complete or not at all.

use super::interrupt;
use super::problem::Problem;
use crate::error::Error;
use std::fs;
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};

/// A file that can be written as far as can be told beforehand.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Destination {
    /// As the user named it.
    pub shown: PathBuf,
    /// Where it really is, links followed.
    target: PathBuf,
}

fn refuse<T>(path: &Path, problem: impl Into<String>) -> Result<T, Problem> {
    Err(Error::Output { path: path.to_path_buf(), problem: problem.into() }.into())
}

impl Destination {
    /// Checks one file name.
    fn check(path: &Path) -> Result<Destination, Problem> {
        let ends_as_folder =
            path.as_os_str().as_encoded_bytes().last().is_some_and(|b| std::path::is_separator(*b as char));
        if path.as_os_str().is_empty() || path.file_name().is_none() || ends_as_folder {
            return refuse(path, "this names a folder, not a file");
        }
        if path.as_os_str() == "-" {
            return refuse(path, "name a file; a dash does not stand for standard output here");
        }
        // An ancestor that exists must be a folder that takes files.
        let absolute = std::path::absolute(path).or_else(|e| refuse(path, e.to_string()))?;
        let Some(parent) = absolute.parent() else { return refuse(path, "this names a folder, not a file") };
        for folder in parent.ancestors() {
            match fs::metadata(folder) {
                Ok(about) if about.is_dir() => {
                    writable(folder, path)?;
                    break;
                }
                Ok(_) => {
                    return refuse(path, format!("{} is a file, not a folder", shown_folder(path, &absolute, folder)));
                }
                Err(e) if matches!(e.kind(), ErrorKind::NotFound | ErrorKind::NotADirectory) => {}
                Err(e) => return refuse(path, e.to_string()),
            }
        }
        match fs::metadata(path) {
            Ok(about) if about.is_dir() => return refuse(path, "a folder has this name"),
            // Renaming a file onto the one that standard output goes to would take what is printed away.
            Ok(about) if is_standard_output(&about) => return refuse(path, "this is where standard output goes"),
            // Renaming a file onto a device would replace the device.
            Ok(about) if !about.is_file() => return refuse(path, "this is a device or pipe, not a file"),
            Err(e) if e.kind() != ErrorKind::NotFound => return refuse(path, e.to_string()),
            _ => {}
        }
        Ok(Destination { shown: path.to_path_buf(), target: resolved(&absolute) })
    }
}

#[cfg(unix)]
fn is_standard_output(about: &fs::Metadata) -> bool {
    use std::os::unix::fs::MetadataExt;
    fs::metadata("/dev/stdout").is_ok_and(|out| (out.dev(), out.ino()) == (about.dev(), about.ino()))
}
#[cfg(not(unix))]
fn is_standard_output(_: &fs::Metadata) -> bool {
    false
}

/// The folder as far as the user wrote it, else in full.
fn shown_folder(path: &Path, absolute: &Path, folder: &Path) -> String {
    let up = absolute.components().count() - folder.components().count();
    let written = path.ancestors().nth(up).filter(|p| !p.as_os_str().is_empty());
    written.unwrap_or(folder).display().to_string()
}

/// Whether a file can be made in a folder: made and removed at once.
fn writable(folder: &Path, path: &Path) -> Result<(), Problem> {
    let _whole = interrupt::hold();
    match tempfile::Builder::new().prefix(".poppetry-").tempfile_in(folder) {
        Ok(_) => Ok(()),
        Err(e) => refuse(path, format!("the folder {} takes no files: {}", folder.display(), e.kind())),
    }
}

/// The path with links followed as far as it exists.
fn resolved(absolute: &Path) -> PathBuf {
    for known in absolute.ancestors() {
        if let (Ok(real), Ok(rest)) = (known.canonicalize(), absolute.strip_prefix(known)) {
            return if rest.as_os_str().is_empty() { real } else { real.join(rest) };
        }
    }
    absolute.to_path_buf()
}

/// Checks all files to be written: each by itself, no two the same or one inside the other, none of them an input.
///
/// # Errors
/// [`Error::Output`] for the first that cannot be.
pub(super) fn check(paths: &[PathBuf], inputs: &[&Path]) -> Result<Vec<Destination>, Problem> {
    let mut all: Vec<Destination> = Vec::with_capacity(paths.len());
    for path in paths {
        let new = Destination::check(path)?;
        if let Some(other) = all.iter().find(|d| d.target.starts_with(&new.target) || new.target.starts_with(&d.target))
        {
            return refuse(path, format!("it would overwrite {}, which this run writes too", other.shown.display()));
        }
        if let Some(input) = inputs.iter().find(|i| i.canonicalize().is_ok_and(|i| i == new.target)) {
            return refuse(path, format!("it would overwrite {}, which this run reads", input.display()));
        }
        all.push(new);
    }
    Ok(all)
}

/// Writes all files under temporary names beside their places, then gives them their names.
///
/// # Errors
/// [`Error::Unwritten`]; then none of the files has appeared, unless the system refused the very renaming.
pub(super) fn write(files: &[(&Destination, Vec<u8>)]) -> Result<(), Problem> {
    let _whole = interrupt::hold();
    let mut ready = Vec::with_capacity(files.len());
    for (place, bytes) in files {
        let refused = refused_as(&place.shown);
        let Some(parent) = place.target.parent() else {
            return refuse(&place.shown, "this names a folder, not a file");
        };
        fs::create_dir_all(parent).map_err(&refused)?;
        let mut builder = tempfile::Builder::new();
        builder.prefix(".poppetry-");
        // A temporary file is private by default; a result is to be as readable as any other file the user makes.
        #[cfg(unix)]
        builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
        let mut file = builder.tempfile_in(parent).map_err(&refused)?;
        file.write_all(bytes).map_err(&refused)?;
        ready.push((place, file));
    }
    for (place, file) in ready {
        file.persist(&place.target).map_err(|e| refused_as(&place.shown)(e.error))?;
    }
    Ok(())
}

/// Makes the folders in which files are to appear.
///
/// # Errors
/// [`Error::Unwritten`].
pub(super) fn folders(places: &[Destination]) -> Result<(), Problem> {
    for place in places {
        if let Some(parent) = place.target.parent() {
            fs::create_dir_all(parent).map_err(refused_as(&place.shown))?;
        }
    }
    Ok(())
}

fn refused_as(path: &Path) -> impl Fn(std::io::Error) -> Problem {
    move |e| Error::Unwritten { path: path.to_path_buf(), problem: e.to_string() }.into()
}
