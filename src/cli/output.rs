//! Writing results and complaints.

use super::input::why;
use super::{Color, replace};
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
    /// Two results would be one file.
    #[error("{}: two results are written here; give each a file of its own", .0.display())]
    Twice(PathBuf),
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

/// The file that a result goes to; `None` for standard output, by whichever name.
fn file_of(output: Option<&Path>) -> Option<&Path> {
    output.filter(|path| path.as_os_str() != "-" && !replace::is_standard_output(path))
}

/// Writes a result to standard output, or whole to a file: never half a result in the place of a
/// good one, never onto an input.
///
/// Of what a terminal obeys, ends of lines and the bold of headings alone come through.
pub fn write(text: &str, output: Option<&Path>, inputs: &[PathBuf]) -> Result<(), OutputError> {
    let text = &obeyed_by_none(text);
    match file_of(output) {
        None => write_standard(text),
        Some(path) => to_file(path, inputs, |file| file.write_all(text.as_bytes())),
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
    match file_of(output) {
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

fn to_file(
    path: &Path,
    inputs: &[PathBuf],
    make: impl FnOnce(&mut dyn Write) -> io::Result<()>,
) -> Result<(), OutputError> {
    let is_input = |input: &PathBuf| match input.as_os_str() == "-" {
        true => replace::is_standard_input(path),
        false => replace::is_one_file(input, path),
    };
    // A terminal is read and written.
    let metadata = fs::metadata(path).ok();
    let is_file = metadata.is_none_or(|metadata| metadata.is_file());
    if is_file && inputs.iter().any(is_input) {
        return Err(OutputError::IsInput(path.to_path_buf()));
    }
    let mut make = Some(make);
    let mut make = |file: &mut dyn Write| make.take().map_or(Ok(()), |make| make(file));
    let written = match is_file {
        true => replace::replace(path, &mut make),
        // A device or a pipe is written through; a directory says so itself.
        false => fs::OpenOptions::new().write(true).open(path).and_then(|mut file| make(&mut file)),
    };
    written.map_err(|error| OutputError::File { path: path.to_path_buf(), error })
}

/// Refuses two results in one place: the result itself and files beside it.
pub fn refuse_one_place(
    result: Option<&Path>,
    beside: &[Option<&Path>],
) -> Result<(), OutputError> {
    let mut taken: Vec<&Path> = result.into_iter().collect();
    for path in beside.iter().flatten() {
        let is_taken = |other: &&Path| replace::is_one_file(path, other);
        if taken.iter().any(is_taken) || replace::is_standard_output(path) {
            return Err(OutputError::Twice(path.to_path_buf()));
        }
        taken.push(path);
    }
    Ok(())
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
