//! Ctrl-C: ends at once with status 130, but never between the first and the last byte of a file.

use std::sync::{Mutex, MutexGuard, PoisonError};

/// Exit status after Ctrl-C.
const INTERRUPTED: i32 = 130;

static WRITING: Mutex<()> = Mutex::new(());

/// While the guard lives the process is not ended by Ctrl-C.
pub(super) fn hold() -> MutexGuard<'static, ()> {
    WRITING.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Sets the handler. Without one (a second call in one process) Ctrl-C keeps its usual effect.
pub(super) fn install() {
    let _ = ctrlc::set_handler(|| {
        let _guard = hold();
        std::process::exit(INTERRUPTED);
    });
}
