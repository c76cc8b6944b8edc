//! Reading files and standard input.

use std::fs::File;
use std::io::{self, ErrorKind, Read};
use std::path::Path;

/// Why an input cannot be read.
#[derive(Debug, thiserror::Error)]
pub enum InputError {
    /// There is none.
    #[error(
        "{name}: there is no such file\n    `coldbasin init {name}` writes a site file to begin with"
    )]
    Missing {
        /// File.
        name: String,
    },
    /// The system says so.
    #[error("{name}: {}", why(error))]
    Io {
        /// File, or `<stdin>`.
        name: String,
        /// What the system says.
        error: io::Error,
    },
    /// Bytes that are not UTF-8.
    #[error(
        "{name}:{line}:1: the text is not UTF-8\n    save the file as UTF-8; it looks like another encoding, such as Latin-1"
    )]
    NotUtf8 {
        /// File, or `<stdin>`.
        name: String,
        /// Line of the first byte that is not.
        line: usize,
    },
    /// Another kind of file.
    #[error("{name}: this is {kind}; save it as plain text in UTF-8")]
    NotText {
        /// File, or `<stdin>`.
        name: String,
        /// What it looks like.
        kind: &'static str,
    },
    /// More than a site file can be.
    #[error("{name}: the file is larger than {} MB: this is not a site file", MOST_BYTES / 1_000_000)]
    TooLarge {
        /// File, or `<stdin>`.
        name: String,
    },
}

/// A site file is a few kilobytes; more than this is some other file.
const MOST_BYTES: u64 = 4_000_000;

/// Name and text of a file; `-` is standard input.
pub fn read(path: &Path) -> Result<(String, String), InputError> {
    let is_stdin = path.as_os_str() == "-";
    let name = if is_stdin { "<stdin>".to_string() } else { path.display().to_string() };
    let bytes = if is_stdin {
        bytes_of(std::io::stdin().lock())
    } else {
        File::open(path).and_then(bytes_of)
    }
    .map_err(|error| match error.kind() {
        ErrorKind::NotFound => InputError::Missing { name: name.clone() },
        _ => InputError::Io { name: name.clone(), error },
    })?;
    if bytes.len() as u64 > MOST_BYTES {
        return Err(InputError::TooLarge { name });
    }
    if let Some(kind) = coldbasin::readings::kind_of_no_text(&bytes) {
        return Err(InputError::NotText { name, kind });
    }
    match String::from_utf8(bytes) {
        Ok(text) => Ok((name, text)),
        Err(error) => {
            let before = &error.as_bytes()[..error.utf8_error().valid_up_to()];
            let line = 1 + before.iter().filter(|byte| **byte == b'\n').count();
            Err(InputError::NotUtf8 { name, line })
        }
    }
}

/// Opens a log, a sheet of visits or a table of weather.
pub fn open(path: &Path) -> Result<File, InputError> {
    // A folder opens, and only its reading fails.
    let opened = File::open(path).and_then(|file| match file.metadata()?.is_dir() {
        true => Err(ErrorKind::IsADirectory.into()),
        false => Ok(file),
    });
    opened.map_err(|error| InputError::Io { name: path.display().to_string(), error })
}

/// What the system says, in plain words where they are known.
pub fn why(error: &io::Error) -> String {
    match error.kind() {
        ErrorKind::NotFound => "there is no such file".into(),
        ErrorKind::IsADirectory => "this is a folder; name a file in it".into(),
        ErrorKind::PermissionDenied => "this file may not be opened by you".into(),
        _ => error.to_string(),
    }
}

fn bytes_of(reader: impl Read) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    reader.take(MOST_BYTES + 1).read_to_end(&mut bytes)?;
    Ok(bytes)
}
