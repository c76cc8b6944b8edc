//! Part files of a run that is interrupted: removed before the program ends as the signal asks.

use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};

static UNFINISHED: Mutex<Vec<PathBuf>> = Mutex::new(Vec::new());

/// A part file while it is written.
pub struct Unfinished(PathBuf);

impl Unfinished {
    /// From now on an interruption removes it.
    pub fn new(path: &Path) -> Self {
        watch();
        unfinished().push(path.to_path_buf());
        Self(path.to_path_buf())
    }
}

impl Drop for Unfinished {
    fn drop(&mut self) {
        unfinished().retain(|path| *path != self.0);
    }
}

fn unfinished() -> MutexGuard<'static, Vec<PathBuf>> {
    UNFINISHED.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Waits for signals, from the first part file on. Where that cannot be had, part files may stay behind.
#[cfg(unix)]
fn watch() {
    use signal_hook::consts::{SIGHUP, SIGINT, SIGTERM, SIGXFSZ};
    use signal_hook::iterator::Signals;
    use signal_hook::low_level::emulate_default_handler;
    use std::sync::Once;

    static WATCHED: Once = Once::new();
    WATCHED.call_once(|| {
        let Ok(mut signals) = Signals::new([SIGHUP, SIGINT, SIGTERM, SIGXFSZ]) else { return };
        let wait = move || {
            for signal in &mut signals {
                // A file beyond what may be written is told as an error of the writing.
                if signal != SIGXFSZ {
                    unfinished().iter().for_each(|path| drop(std::fs::remove_file(path)));
                    let _ = emulate_default_handler(signal);
                }
            }
        };
        let _ = std::thread::Builder::new().name("signals".into()).spawn(wait);
    });
}

#[cfg(not(unix))]
fn watch() {}
