//! Writing results and complaints.

use super::Color;
use super::input::why;
use coldbasin::printable::printable_lines;
use coldbasin::readings::NotUsed;
use coldbasin::report::page;
use std::borrow::Cow;
use std::fs;
use std::io::{self, IsTerminal, Write};
use std::path::{Path, PathBuf};

/// Why a result cannot be written.
#[derive(Debug, thiserror::Error)]
pub enum OutputError {
    /// The system says so.
    #[error("{}: {}", path.display(), refused(error))]
    File {
        /// Where.
        path: PathBuf,
        /// What the system says.
        error: io::Error,
    },
    /// Standard output is full or gone.
    #[error("standard output: {0}")]
    Standard(io::Error),
    /// The result would overwrite what it was made from.
    #[error("{}: this is an input; write the result to another file", .0.display())]
    IsInput(PathBuf),
}

/// Why nothing can be written there.
fn refused(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::NotFound => "there is no such folder".into(),
        _ => why(error),
    }
}

/// Whether headings on standard output are bold.
pub fn is_bold(color: Color, output: Option<&Path>) -> bool {
    match color {
        Color::Always => true,
        Color::Never => false,
        Color::Auto => {
            output.is_none()
                && std::io::stdout().is_terminal()
                && anstream::AutoStream::choice(&std::io::stdout()) != anstream::ColorChoice::Never
        }
    }
}

/// Writes a result to standard output, or whole to a file: never half a result in the place of a
/// good one, never onto an input.
///
/// Of what a terminal obeys, ends of lines and the bold of headings alone come through.
pub fn write(text: &str, output: Option<&Path>, inputs: &[PathBuf]) -> Result<(), OutputError> {
    let text = &obeyed_by_none(text);
    match output.filter(|path| path.as_os_str() != "-") {
        None => write_standard(text),
        Some(path) => write_file(text, path, inputs),
    }
}

/// Says on standard error which rows of a file are not used, where the result itself has no place for it.
pub fn tell_of_lost_rows(name: &str, not_used: &NotUsed) {
    if let Some(words) = not_used.caution().or_else(|| not_used.lost_in_words()) {
        complain(&format!("{name}: {words}; --format json lists all"));
    }
}

/// Writes a result as it is made, to standard output or to a file that takes its name when it is whole.
pub fn stream(
    output: Option<&Path>,
    inputs: &[PathBuf],
    make: impl FnOnce(&mut dyn Write) -> io::Result<()>,
) -> Result<(), OutputError> {
    match output.filter(|path| path.as_os_str() != "-") {
        None => {
            let mut standard = io::stdout().lock();
            match make(&mut standard).and_then(|()| standard.flush()) {
                Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(()),
                result => result.map_err(OutputError::Standard),
            }
        }
        Some(path) => to_file(path, inputs, make),
    }
}

fn write_standard(text: &str) -> Result<(), OutputError> {
    let mut standard = io::stdout().lock();
    match standard.write_all(text.as_bytes()).and_then(|()| standard.flush()) {
        // The reader has seen enough.
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(()),
        result => result.map_err(OutputError::Standard),
    }
}

fn write_file(text: &str, path: &Path, inputs: &[PathBuf]) -> Result<(), OutputError> {
    to_file(path, inputs, |file| file.write_all(text.as_bytes()))
}

fn to_file(
    path: &Path,
    inputs: &[PathBuf],
    make: impl FnOnce(&mut dyn Write) -> io::Result<()>,
) -> Result<(), OutputError> {
    let same = |input: &PathBuf| match (fs::canonicalize(input), fs::canonicalize(path)) {
        (Ok(input), Ok(output)) => input == output,
        _ => false,
    };
    if inputs.iter().any(same) {
        return Err(OutputError::IsInput(path.to_path_buf()));
    }
    let failed = |error| OutputError::File { path: path.to_path_buf(), error };
    if fs::metadata(path).is_ok_and(|metadata| !metadata.is_file()) {
        // A device or a pipe is written through; a directory says so itself.
        return fs::OpenOptions::new()
            .write(true)
            .open(path)
            .and_then(|mut file| make(&mut file))
            .map_err(failed);
    }
    // A link stays a link: the file that it points to is replaced.
    let target = fs::canonicalize(path).unwrap_or_else(|_| path.to_path_buf());
    let temporary = beside(&target);
    let written = fs::OpenOptions::new()
        .write(true)
        .create_new(true)
        .open(&temporary)
        .and_then(|mut file| make(&mut file).and_then(|()| file.sync_all()))
        .and_then(|()| fs::rename(&temporary, &target));
    if written.is_err() {
        let _ = fs::remove_file(&temporary);
    }
    written.map_err(failed)
}

/// A name in the same folder, so that renaming replaces the file at once.
fn beside(path: &Path) -> PathBuf {
    let mut name = path.file_name().unwrap_or_default().to_os_string();
    name.push(format!(".{}.part", std::process::id()));
    path.with_file_name(name)
}

/// Prints to standard error, in ASCII where that was asked for; a closed one is no reason to fail.
pub fn complain(text: &str) {
    let lines = printable_lines(text);
    // Also of arguments that cannot be read.
    let ascii = std::env::args_os().any(|argument| argument == "--ascii");
    let lines = if ascii { Cow::Owned(page::ascii(&lines)) } else { lines };
    let _ = writeln!(io::stderr().lock(), "{lines}");
}

/// A page that no terminal obeys, but for bold headings.
fn obeyed_by_none(text: &str) -> Cow<'_, str> {
    const BOLD: &str = "\x1b[1m";
    const PLAIN: &str = "\x1b[0m";
    if !text.contains('\x1b') {
        return printable_lines(text);
    }
    let plain = |part: &str| {
        let parts: Vec<_> = part.split(PLAIN).map(printable_lines).collect();
        parts.join(PLAIN)
    };
    let parts: Vec<_> = text.split(BOLD).map(plain).collect();
    Cow::Owned(parts.join(BOLD))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_page_keeps_its_bold_headings_alone() {
        assert_eq!(
            obeyed_by_none("\x1b[1mHEAD\x1b[0m\na\x1b[2Jb\u{9b}c\n"),
            "\x1b[1mHEAD\x1b[0m\na\u{fffd}[2Jb\u{fffd}c\n"
        );
    }
}
