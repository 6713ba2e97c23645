//! Ctrl-C: ends at once with status 130, but never between the first and the last byte of a file. While a study runs, the
//! first one only asks it to stop, so that it can leave a valid table; the second ends at once.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, MutexGuard, PoisonError};

/// Exit status after Ctrl-C.
pub(super) const INTERRUPTED: u8 = 130;

static WRITING: Mutex<()> = Mutex::new(());
static STUDY: AtomicBool = AtomicBool::new(false);
static ASKED: AtomicBool = AtomicBool::new(false);

/// While the guard lives the process is not ended by Ctrl-C.
pub(super) fn hold() -> MutexGuard<'static, ()> {
    WRITING.lock().unwrap_or_else(PoisonError::into_inner)
}

/// While it lives, the first Ctrl-C asks instead of ending.
pub(super) struct Asking;

/// A study begins.
pub(super) fn ask_first() -> Asking {
    STUDY.store(true, Ordering::SeqCst);
    Asking
}

impl Asking {
    /// Whether Ctrl-C was pressed.
    pub(super) fn asked(&self) -> bool {
        ASKED.load(Ordering::SeqCst)
    }
}

impl Drop for Asking {
    fn drop(&mut self) {
        STUDY.store(false, Ordering::SeqCst);
    }
}

/// Sets the handler. Without one (a second call in one process) Ctrl-C keeps its usual effect.
pub(super) fn install() {
    let _ = ctrlc::set_handler(|| {
        if STUDY.load(Ordering::SeqCst) && !ASKED.swap(true, Ordering::SeqCst) {
            return;
        }
        let _guard = hold();
        std::process::exit(i32::from(INTERRUPTED));
    });
}
