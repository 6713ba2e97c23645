//! The charts of `sequence`, encoded: one look-up of what each file shows.

use super::conditions::Conditions;
use super::problem::Problem;
use super::sequence::Done;
use super::{frame, moments, picture};
use crate::bench::headline;
use crate::charts::{
    MoviePicture, Page, Sheet, each_frame, encode_gif, encode_sheet, lay_out_moments, lay_out_sequence,
};
use crate::error::Error;
use crate::units::System;
use std::io::IsTerminal;
use std::path::{Path, PathBuf};

/// The files behind the charts asked for: `frames` becomes one file per frame, NAME-01.svg and so on.
pub(super) fn files_of(charts: &[(&'static str, PathBuf)]) -> Vec<(&'static str, PathBuf)> {
    let mut all = Vec::with_capacity(charts.len());
    for (name, path) in charts {
        if *name == "frames" {
            all.extend((1..=moments::FRAMES).map(|i| (*name, numbered(path, i))));
        } else {
            all.push((*name, path.clone()));
        }
    }
    all
}

fn numbered(path: &Path, number: usize) -> PathBuf {
    let part = |p: Option<&std::ffi::OsStr>| p.map_or(String::new(), |p| p.to_string_lossy().into_owned());
    path.with_file_name(format!("{}-{number:02}.{}", part(path.file_stem()), part(path.extension())))
}

/// The bytes of all files, in their order. Sequence charts show the runs in turn, file by file of a folder; one asked for
/// by name shows the first.
///
/// # Errors
/// [`Problem`] if a chart cannot be made.
pub(super) fn encode(
    done: &[Done],
    conditions: &[Conditions<'_>],
    files: &[(&'static str, PathBuf)],
    system: System,
    quiet: bool,
) -> Result<Vec<Vec<u8>>, Problem> {
    let mut bytes = Vec::with_capacity(files.len());
    let (mut strip, mut movie): (Option<Sheet>, Option<MoviePicture>) = (None, None);
    let mut frames: Vec<Vec<u8>> = Vec::new();
    for (name, path) in files {
        match *name {
            "strip" => {
                let sheet = match strip.take() {
                    Some(sheet) => sheet,
                    None => lay_out_moments(&moments::strip(done, page(done, conditions, system)?, system)?),
                };
                bytes.push(encode_sheet(&sheet, path)?);
                strip = Some(sheet);
            }
            "movie" | "frames" => {
                let picture = match movie.take() {
                    Some(picture) => picture,
                    None => moments::movie(done, page(done, conditions, system)?, system)?,
                };
                if *name == "movie" {
                    bytes.push(gif(&picture, quiet)?);
                } else {
                    if frames.is_empty() {
                        each_frame(&picture, |_, sheet| {
                            frames.push(encode_sheet(&sheet, path)?);
                            Ok::<(), Problem>(())
                        })?;
                        frames.reverse();
                    }
                    bytes.extend(frames.pop());
                }
                movie = Some(picture);
            }
            _ => {
                let d = index_of(done, path);
                let (Some(run), Some(conditions)) = (done.get(d), conditions.get(d)) else { continue };
                let (sheet, ..) = lay_out_sequence(&picture::sequence(&run.run, conditions, &run.hash())?);
                bytes.push(encode_sheet(&sheet, path)?);
            }
        }
    }
    Ok(bytes)
}

/// The run that a file of the folder is named after; the first for a file of the user's own name.
fn index_of(done: &[Done], path: &Path) -> usize {
    let stem = path.file_stem().map(|s| s.to_string_lossy().into_owned()).unwrap_or_default();
    let named = |d: &Done| stem == format!("sequence-{}", d.name);
    done.iter().position(named).unwrap_or(0)
}

/// Words around a picture of one or more runs.
fn page(done: &[Done], conditions: &[Conditions<'_>], system: System) -> Result<Page, Error> {
    let (Some(first), Some(own)) = (done.first(), conditions.first()) else { return Ok(Page::default()) };
    let mut page = frame::page(headline(&first.run, system), &own.line()?, own, &first.hash())?;
    if done.len() > 1 {
        let names: Vec<&str> = done.iter().map(|d| d.name.as_str()).collect();
        let hashes: Vec<String> = done.iter().map(|d| d.hash().chars().take(8).collect()).collect();
        let words = format!(
            "{}, in one scene · against {} · poppetry {} · inputs {}",
            own.assembly()?,
            names.get(1..).unwrap_or_default().join(", "),
            env!("CARGO_PKG_VERSION"),
            hashes.join(", ")
        );
        if let Some(line) = page.foot.first_mut() {
            *line = format!("Assembly {words}");
        }
    }
    Ok(page)
}

/// The moving picture, with a progress bar if someone is watching.
fn gif(picture: &MoviePicture, quiet: bool) -> Result<Vec<u8>, Problem> {
    let watched = !quiet && std::io::stderr().is_terminal();
    let bar = match watched {
        true => {
            let style = indicatif::ProgressStyle::with_template("drawing frame {pos} of {len} {bar:30}");
            let style = style.unwrap_or_else(|_| indicatif::ProgressStyle::default_bar());
            indicatif::ProgressBar::new(picture.frames.len() as u64).with_style(style)
        }
        false => indicatif::ProgressBar::hidden(),
    };
    let bytes = encode_gif(picture, |done| bar.set_position(done as u64));
    bar.finish_and_clear();
    Ok(bytes?)
}
