//! Lines of a file, whichever way they end: with a line feed, a carriage return, or both.

use super::LogError;
use std::io::{self, BufRead, BufReader, Read};

/// No table has a longer line than this, in bytes.
const LONGEST_LINE: usize = 1 << 20;

/// What a file is that is no text in UTF-8, by how it begins; `None` where it may be one.
pub fn kind_of_no_text(bytes: &[u8]) -> Option<&'static str> {
    match bytes {
        [0xff, 0xfe, ..]
        | [0xfe, 0xff, ..]
        | [1..=255, 0, 1..=255, 0, ..]
        | [0, 1..=255, 0, 1..=255, ..] => Some("text in UTF-16"),
        [b'P', b'K', 3, 4, ..] | [0xd0, 0xcf, 0x11, 0xe0, ..] => Some("a spreadsheet's own file"),
        [b'%', b'P', b'D', b'F', ..] => Some("a PDF"),
        _ => None,
    }
}

/// The lines of a table. As a reader, it hands out one line a record, so that a record that does not end in
/// its line is found where it begins.
pub(super) struct Lines<R> {
    reader: BufReader<R>,
    line: Vec<u8>,
    number: u64,
    /// Lines that are to be taken again, the next one last.
    put_back: Vec<Vec<u8>>,
    /// Bytes of the line that are handed out.
    handed: usize,
    record: Record,
}

/// How far a record has come.
#[derive(PartialEq)]
enum Record {
    /// Its line is not handed out.
    Due,
    /// Its line is.
    Begun,
    /// It asks for more than its line.
    Open,
}

impl<R: Read> Lines<R> {
    /// From the first line on, without its byte-order mark.
    ///
    /// # Errors
    /// [`LogError`] for what is no text of one byte a letter or UTF-8.
    pub(super) fn new(reader: R) -> Result<Self, LogError> {
        let mut lines = Self {
            reader: BufReader::new(reader),
            line: Vec::new(),
            number: 0,
            put_back: Vec::new(),
            handed: 0,
            record: Record::Due,
        };
        if lines.advance()? {
            let first = std::mem::take(&mut lines.line);
            if let Some(kind) = kind_of_no_text(&first) {
                return Err(LogError::NotText(kind));
            }
            let text = first.strip_prefix(b"\xef\xbb\xbf").unwrap_or(&first).to_vec();
            lines.put_back(Some(text));
        }
        Ok(lines)
    }

    /// The next line without its end; `None` at the end of the file.
    pub(super) fn take_line(&mut self) -> io::Result<Option<Vec<u8>>> {
        let is_line = self.advance()?;
        Ok(is_line.then(|| std::mem::take(&mut self.line)))
    }

    /// Gives back the line that was taken last, where there was one.
    pub(super) fn put_back(&mut self, line: Option<Vec<u8>>) {
        self.number -= u64::from(line.is_some());
        self.put_back.extend(line);
    }

    /// Number of the line that was taken last, from 1.
    pub(super) fn number(&self) -> u64 {
        self.number
    }

    /// Lets the next line begin a record.
    pub(super) fn begin_record(&mut self) {
        self.record = Record::Due;
    }

    /// An error where the record does not end in its line.
    pub(super) fn end_record(&self) -> Result<(), LogError> {
        match self.record {
            Record::Open => Err(LogError::OpenQuote { line: self.number }),
            Record::Due | Record::Begun => Ok(()),
        }
    }

    /// Takes a line; whether there was one.
    fn advance(&mut self) -> io::Result<bool> {
        if let Some(line) = self.put_back.pop() {
            self.line = line;
            self.number += 1;
            return Ok(true);
        }
        self.line.clear();
        loop {
            let bytes = match self.reader.fill_buf() {
                Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
                bytes => bytes?,
            };
            let end = bytes.iter().position(|byte| matches!(byte, b'\n' | b'\r'));
            let is_at_end = bytes.is_empty();
            let is_return = end.is_some_and(|end| bytes[end] == b'\r');
            let taken = end.unwrap_or(bytes.len());
            self.line.extend_from_slice(&bytes[..taken]);
            self.reader.consume(taken + usize::from(end.is_some()));
            if self.line.len() > LONGEST_LINE {
                let words = format!(
                    "line {} is longer than {LONGEST_LINE} bytes: no table",
                    self.number + 1
                );
                return Err(io::Error::new(io::ErrorKind::InvalidData, words));
            }
            if is_return && self.reader.fill_buf()?.first() == Some(&b'\n') {
                self.reader.consume(1);
            }
            if end.is_some() || is_at_end {
                let is_line = end.is_some() || !self.line.is_empty();
                self.number += u64::from(is_line);
                return Ok(is_line);
            }
        }
    }
}

impl<R: Read> Read for Lines<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        if self.handed == self.line.len() {
            if self.record != Record::Due {
                self.record = Record::Open;
                return Ok(0);
            }
            loop {
                if !self.advance()? {
                    self.handed = 0;
                    return Ok(0);
                }
                if !self.line.trim_ascii().is_empty() {
                    break;
                }
            }
            self.line.push(b'\n');
            self.handed = 0;
            self.record = Record::Begun;
        }
        let rest = &self.line[self.handed..];
        let count = rest.len().min(buffer.len());
        buffer[..count].copy_from_slice(&rest[..count]);
        self.handed += count;
        Ok(count)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_end_in_three_ways() {
        for end in ["\n", "\r\n", "\r"] {
            let text = ["a", "", "b"].join(end);
            for text in [format!("{text}{end}"), text] {
                let mut lines = Lines::new(text.as_bytes()).unwrap();
                let mut taken = Vec::new();
                while let Some(line) = lines.take_line().unwrap() {
                    taken.push((lines.number(), String::from_utf8(line).unwrap()));
                }
                assert_eq!(taken, [(1, "a".into()), (2, String::new()), (3, "b".into())]);
            }
        }
    }

    #[test]
    fn a_line_without_an_end_is_refused() {
        let mut lines = Lines::new(io::repeat(b'7')).err().map(|error| error.to_string());
        assert!(lines.take().unwrap().contains("line 1 is longer than 1048576 bytes"));
    }
}
