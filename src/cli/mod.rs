//! The command line as a library: arguments in, text on two writers, an exit status out.
//!
//! | status | meaning |
//! |---|---|
//! | 0 | done, also when what was found is bad news |
//! | 1 | the run could not be completed |
//! | 2 | the input is wrong; nothing was written |
//! | 130 | interrupted; files that exist are complete |
//!
//! ```
//! let (mut out, mut err) = (Vec::new(), Vec::new());
//! let status = poppetry::cli::run(["poppetry", "assemblies"], &mut out, &mut err, 96);
//! assert_eq!(status, 0);
//! assert!(String::from_utf8(out).unwrap().contains("pvb-spring"));
//! ```

mod args;
mod assemblies;
mod caution;
mod compare;
mod conditions;
mod curves;
mod drawn;
mod faults;
mod field;
mod field_picture;
mod field_report;
mod files;
mod frame;
mod freeze;
mod freeze_notes;
mod freeze_picture;
mod interrupt;
mod moments;
mod picture;
mod problem;
mod relief;
mod relief_picture;
mod report;
mod sequence;
mod siphon;
mod siphon_charts;
mod studies;
mod surge;
mod surge_charts;
mod table;
mod text;
mod warning;

pub use caution::Caution;
pub use problem::Problem;
pub use warning::{Notice, Warning, warnings};

use args::{Command, Line};
use clap::Parser;
use std::ffi::OsString;
use std::io::Write;
use std::process::ExitCode;

/// Columns that text is wrapped to unless the environment says otherwise.
const WIDTH: usize = 96;

/// Runs with the arguments, writers and environment of the process.
pub fn main() -> ExitCode {
    interrupt::install();
    let columns = std::env::var("COLUMNS").ok().and_then(|c| c.trim().parse().ok()).unwrap_or(WIDTH);
    let (stdout, stderr) = (std::io::stdout(), std::io::stderr());
    let mut out = std::io::BufWriter::new(stdout);
    let mut err = stderr;
    ExitCode::from(run(std::env::args_os(), &mut out, &mut err, columns))
}

/// Runs one command line (`args` begins with the program's name) and returns the exit status. Results go to `out`,
/// warnings and errors to `err`, wrapped to `columns`; files go where the arguments say.
pub fn run<I, T>(args: I, out: &mut dyn Write, err: &mut dyn Write, columns: usize) -> u8
where
    I: IntoIterator<Item = T>,
    T: Into<OsString> + Clone,
{
    let columns = columns.clamp(60, 160);
    let done = match Line::try_parse_from(args) {
        Ok(line) => match line.command {
            Command::Assemblies(args) => assemblies::run(&args, out, columns),
            Command::Sequence(args) => sequence::run(&args, out, err, columns),
            Command::Curves(args) => curves::run(&args, out, err, columns),
            Command::FieldTest(args) => field::run(&args, out, err, columns),
            Command::Faults(args) => faults::run(&args, out, columns),
            Command::Sweep(args) => studies::sweep(&args, out, err, columns),
            Command::Tolerance(args) => studies::tolerance(&args, out, err, columns),
            Command::Find(args) => studies::find(&args, out, err, columns),
            Command::Freeze(args) => freeze::run(&args, out, err, columns),
            Command::Relief(args) => relief::run(&args, out, err, columns),
            Command::Siphon(args) => siphon::run(&args, out, err, columns),
            Command::Surge(args) => surge::run(&args, out, err, columns),
        },
        Err(usage) if usage.use_stderr() => Err(Problem::Usage(text::plain(&usage.render().to_string()))),
        Err(help) => text::print(out, &help.render().to_string()),
    };
    match done.and_then(|()| text::flush(out)) {
        Ok(()) => 0,
        Err(problem) => {
            // With standard error gone too there is nobody left to tell.
            let _ = err.write_all(problem.message().as_bytes());
            problem.status()
        }
    }
}
