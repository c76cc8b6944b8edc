//! Reading files and standard input.

use std::io::Read;
use std::path::Path;

/// Why an input cannot be read.
#[derive(Debug, thiserror::Error)]
pub enum InputError {
    /// The system says so.
    #[error("{name}: {error}")]
    Io {
        /// File, or `<stdin>`.
        name: String,
        /// What the system says.
        error: std::io::Error,
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
        std::fs::File::open(path).and_then(bytes_of)
    }
    .map_err(|error| InputError::Io { name: name.clone(), error })?;
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

fn bytes_of(reader: impl Read) -> std::io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    reader.take(MOST_BYTES + 1).read_to_end(&mut bytes)?;
    Ok(bytes)
}
