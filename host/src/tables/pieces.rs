//! A file in pieces of whole lines, some megabytes at a time: a record of hours is never in memory as text.

use crate::tables::column::unreadable;
use crate::tables::text;
use crate::terminal::error::Error;
use std::io::Read;

/// A piece is no shorter unless the file ends.
const PIECE_BYTES: usize = 4 << 20;

/// The piece of a file that is looked at, and what comes after it.
pub(crate) struct Pieces<'a> {
    name: &'a str,
    source: &'a mut dyn Read,
    bytes: Vec<u8>,
    /// Where the piece begins and ends.
    from: usize,
    to: usize,
    ended: bool,
}

impl<'a> Pieces<'a> {
    /// The first piece; it has the header of the file, if there is one.
    ///
    /// # Errors
    /// The file cannot be read, or is no text table: exit 4.
    pub fn begin(name: &'a str, source: &'a mut dyn Read) -> Result<Self, Error> {
        let mut pieces = Self {
            name,
            source,
            bytes: Vec::new(),
            from: 0,
            to: 0,
            ended: false,
        };
        pieces.go_on()?;
        pieces.from = text::begins_at(name, &pieces.bytes)?;
        if text::header(name, pieces.text(0)?).is_err() {
            pieces.take_rest()?;
            let text = pieces.text(0)?;
            text::require_content(name, text)?;
        }
        Ok(pieces)
    }

    /// The piece; so many lines of the file come before it.
    ///
    /// # Errors
    /// It is no text: exit 4.
    pub fn text(&self, lines_before: u64) -> Result<&str, Error> {
        text::checked(self.name, &self.bytes[self.from..self.to], lines_before)
    }

    /// The piece begins so many bytes later.
    pub fn skip(&mut self, bytes: usize) {
        self.from = (self.from + bytes).min(self.to);
    }

    /// The next piece; whether there is one.
    ///
    /// # Errors
    /// The file cannot be read: exit 4.
    pub fn go_on(&mut self) -> Result<bool, Error> {
        self.bytes.drain(..self.to);
        (self.from, self.to) = (0, 0);
        while self.to == 0 && !self.ended {
            self.read_up_to(PIECE_BYTES)?;
            let line_end = self.bytes.iter().rposition(|byte| *byte == b'\n');
            self.to = match line_end {
                _ if self.ended => self.bytes.len(),
                Some(last) => last + 1,
                None => 0,
            };
        }
        Ok(self.to > 0)
    }

    /// Whether nothing comes after the piece.
    pub fn is_last(&self) -> bool {
        self.ended && self.to == self.bytes.len()
    }

    /// All that comes after the piece belongs to it.
    ///
    /// # Errors
    /// The file cannot be read: exit 4.
    pub fn take_rest(&mut self) -> Result<(), Error> {
        while !self.ended {
            self.read_up_to(PIECE_BYTES)?;
        }
        self.to = self.bytes.len();
        Ok(())
    }

    fn read_up_to(&mut self, bytes: usize) -> Result<(), Error> {
        let source: &mut dyn Read = self.source;
        let read = source.take(bytes as u64).read_to_end(&mut self.bytes);
        let read = read.map_err(|source| unreadable(self.name, &source))?;
        self.ended = read < bytes;
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pieces_end_with_a_line_and_are_the_file() {
        let line = "0.001,12.5\n";
        for (lines, end) in [
            (0, ""),
            (3, ""),
            (3, "0.1,1"),
            (1_000_000, ""),
            (1_000_000, "0.1,1"),
        ] {
            let file = format!("time_s,force_n\n{}{end}", line.repeat(lines));
            let mut source = file.as_bytes();
            let mut pieces = Pieces::begin("a.csv", &mut source).expect("text");
            let mut read = String::new();
            loop {
                let piece = pieces.text(0).expect("text");
                assert!(piece.ends_with('\n') || pieces.is_last());
                read += piece;
                if !pieces.go_on().expect("readable") {
                    break;
                }
            }
            assert!(read == file, "{lines} lines");
        }
    }

    #[test]
    fn a_header_below_megabytes_of_remarks_is_in_the_first_piece() {
        let file = format!("{}a,b\n1,2\n", "# remark\n".repeat(1_000_000));
        let mut source = file.as_bytes();
        let pieces = Pieces::begin("a.csv", &mut source).expect("text");
        assert!(pieces.text(0).expect("text").ends_with("a,b\n1,2\n"));
    }
}
