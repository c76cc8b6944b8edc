//! How far a long run is, on standard error where that is a terminal.

use std::io::{self, IsTerminal, Write};
use std::time::{Duration, Instant};

/// Runs shorter than this show nothing.
const PATIENCE: Duration = Duration::from_secs(1);
/// Between two lines.
const PAUSE: Duration = Duration::from_millis(200);

/// A line that tells how far a run is.
pub struct Progress {
    what: &'static str,
    all: u64,
    done: u64,
    next: Option<Instant>,
    is_shown: bool,
}

impl Progress {
    /// Of so many of something.
    pub fn new(what: &'static str, all: u64) -> Self {
        let next = io::stderr().is_terminal().then(|| Instant::now() + PATIENCE);
        Self { what, all, done: 0, next, is_shown: false }
    }

    /// So many more are done.
    pub fn advance(&mut self, more: u64) {
        self.done += more;
        if self.next.is_some_and(|next| Instant::now() >= next) {
            self.next = Some(Instant::now() + PAUSE);
            self.is_shown = true;
            let percent = 100 * u128::from(self.done) / u128::from(self.all.max(1));
            let mut error = io::stderr().lock();
            let _ = write!(error, "\r{} of {} {}, {percent} %", self.done, self.all, self.what);
            let _ = error.flush();
        }
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        if self.is_shown {
            let _ = write!(io::stderr().lock(), "\r{:60}\r", "");
        }
    }
}

/// A reader that tells how far it is, in megabytes.
pub struct Watched<R> {
    reader: R,
    progress: Progress,
    rest: u64,
}

const MEGABYTE: u64 = 1_000_000;

impl<R> Watched<R> {
    /// A reader of so many bytes.
    pub fn new(reader: R, bytes: u64) -> Self {
        Self { reader, progress: Progress::new("MB", bytes / MEGABYTE), rest: 0 }
    }
}

impl<R: io::Read> io::Read for Watched<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let count = self.reader.read(buffer)?;
        self.rest += count as u64;
        self.progress.advance(self.rest / MEGABYTE);
        self.rest %= MEGABYTE;
        Ok(count)
    }
}
