//! From bytes to records of cells with their physical lines. In: a file. Out: trimmed cells, or why it is not a table.

use crate::tables::column::{BadCell, Column, Kind};
use crate::terminal::error::{Error, Place, Refusal};
use holdtrue_wording::quoted;

/// One row as it stands in the file.
pub(crate) struct Record<'a> {
    /// Physical line it begins on, the first is 1.
    pub line: u64,
    cells: &'a csv::StringRecord,
}

impl Record<'_> {
    /// How many cells.
    pub fn len(&self) -> usize {
        self.cells.len()
    }

    /// A cell, trimmed; empty where the row is shorter.
    pub fn cell(&self, place: usize) -> &str {
        self.cells.get(place).unwrap_or_default().trim()
    }

    /// All of them.
    pub fn cells(&self) -> Vec<String> {
        self.cells
            .iter()
            .map(|cell| cell.trim().to_owned())
            .collect()
    }

    /// Physical line of one cell: quoted cells before it may hold line breaks.
    pub fn line_of(&self, cell: usize) -> u64 {
        let before = self.cells.iter().take(cell);
        self.line + before.map(|cell| breaks_in(cell.as_bytes())).sum::<u64>()
    }
}

fn refuse(name: &str, found: &str, next: &str) -> Error {
    Error::input(
        Place::file(name),
        Refusal {
            found,
            expected: "a text table in UTF-8 with a header",
            next,
        },
    )
}

const EXPORT_AS_UTF_8: &str = "Export it again as CSV, UTF-8.";

/// How many bytes of a file are its byte-order mark; refuses that of another encoding.
pub(crate) fn begins_at(name: &str, bytes: &[u8]) -> Result<usize, Error> {
    if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
        return Err(refuse(name, "text in UTF-16", EXPORT_AS_UTF_8));
    }
    let mark = "\u{feff}".as_bytes();
    Ok(if bytes.starts_with(mark) {
        mark.len()
    } else {
        0
    })
}

/// Lines of a file as text, so many lines below its beginning; refuses what is binary or in another encoding.
pub(crate) fn checked<'a>(
    name: &str,
    bytes: &'a [u8],
    lines_before: u64,
) -> Result<&'a str, Error> {
    if bytes.contains(&0) {
        return Err(refuse(name, "binary data", "Is this the right file?"));
    }
    std::str::from_utf8(bytes).map_err(|e| {
        let line = lines_before + line_at(bytes, e.valid_up_to());
        Error::input(
            Place::file(name).line(line),
            Refusal {
                found: "bytes that are not UTF-8",
                expected: "a text table in UTF-8",
                next: EXPORT_AS_UTF_8,
            },
        )
    })
}

/// Refuses a file of blanks.
pub(crate) fn require_content(name: &str, text: &str) -> Result<(), Error> {
    match text.trim().is_empty() {
        true => Err(refuse(name, "an empty file", "Export the record again.")),
        false => Ok(()),
    }
}

/// The first line that is neither blank nor a comment, with its number.
pub(crate) fn header<'a>(name: &str, text: &'a str) -> Result<(u64, &'a str), Error> {
    let mut line = 0;
    for content in text.lines() {
        line += 1;
        if !content.trim().is_empty() && !content.starts_with('#') {
            return Ok((line, content));
        }
    }
    Err(Error::input(
        Place::file(name).line(line),
        Refusal {
            found: "comments only",
            expected: "a header and rows",
            next: "Export the record again.",
        },
    ))
}

/// The separator under which the header has the most known columns.
pub(crate) fn separator(header: &str, known: &[Column]) -> u8 {
    let hits = |separator: char| {
        header
            .split(separator)
            .filter(|cell| {
                let cell = cell.trim().trim_matches('"').trim();
                known
                    .iter()
                    .flat_map(|column| column.headers)
                    .any(|header| header.name.eq_ignore_ascii_case(cell))
            })
            .count()
    };
    let cells = |separator: char| header.matches(separator).count();
    [(b',', ','), (b'\t', '\t'), (b';', ';')]
        .into_iter()
        .max_by_key(|&(_, separator)| (hits(separator), cells(separator)))
        .map_or(b',', |(byte, _)| byte)
}

/// A reader of the cells of a text.
pub(crate) fn reader(text: &str, separator: u8) -> csv::Reader<&[u8]> {
    csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(separator)
        .comment(Some(b'#'))
        .from_reader(text.as_bytes())
}

/// Reads records one after the other.
pub(crate) struct Records<'a> {
    bytes: &'a [u8],
    separator: u8,
    reader: csv::Reader<&'a [u8]>,
    record: csv::StringRecord,
    counted_to: usize,
    breaks_before: u64,
}

impl<'a> Records<'a> {
    /// Of lines that so many lines of the file come before.
    pub fn new(text: &'a str, separator: u8, lines_before: u64) -> Self {
        Self {
            bytes: text.as_bytes(),
            separator,
            reader: reader(text, separator),
            record: csv::StringRecord::new(),
            counted_to: 0,
            breaks_before: lines_before,
        }
    }

    /// How many bytes the records so far took, with the line ends behind them.
    pub fn taken(&self) -> usize {
        let taken = usize::try_from(self.reader.position().byte()).unwrap_or(usize::MAX);
        let taken = taken.min(self.bytes.len());
        // The reader ends a record at the first half of a line end.
        let is_half =
            self.bytes[..taken].ends_with(b"\r") && self.bytes[taken..].starts_with(b"\n");
        if is_half { taken + 1 } else { taken }
    }

    pub fn next(&mut self, name: &str) -> Result<Option<Record<'_>>, Error> {
        let last_line = loop {
            let more = self.reader.read_record(&mut self.record).map_err(|e| {
                Error::input(
                    Place::file(name),
                    Refusal {
                        found: &format!("a row that cannot be read ({e})"),
                        expected: "a text table in UTF-8",
                        next: "Export the record again.",
                    },
                )
            })?;
            if !more {
                return Ok(None);
            }
            let last_line = self.line_of_last_byte();
            if !self.record_is_blank() {
                break last_line;
            }
        };
        Ok(Some(Record {
            line: last_line - breaks_in(self.record.as_slice().as_bytes()),
            cells: &self.record,
        }))
    }

    /// A line of nothing but blanks; where tabs separate, a line of tabs is blank too.
    fn record_is_blank(&self) -> bool {
        (self.record.len() == 1 || self.separator == b'\t')
            && self.record.iter().all(|cell| cell.trim().is_empty())
    }

    /// The reader's own line numbers count comments and blank lines into the record after them; the place where a
    /// record *ends* is free of that. Its last byte may be the line break, which belongs to the line it ends.
    fn line_of_last_byte(&mut self) -> u64 {
        let end = self.taken().saturating_sub(1).max(self.counted_to);
        self.breaks_before += breaks_in(&self.bytes[self.counted_to..end]);
        self.counted_to = end;
        self.breaks_before + 1
    }
}

/// A word out of the allowed ones, or any text.
pub(crate) fn word(cell: &str, kind: Kind) -> Result<String, BadCell> {
    let expected = match kind {
        Kind::Word(words) => match words.iter().find(|word| word.eq_ignore_ascii_case(cell)) {
            Some(word) => return Ok((*word).to_owned()),
            None => words.join(", "),
        },
        Kind::MaybeText => return Ok(cell.to_owned()),
        Kind::Text | Kind::Number | Kind::MaybeNumber if !cell.is_empty() => {
            return Ok(cell.to_owned());
        }
        Kind::Text | Kind::Number | Kind::MaybeNumber => "text".to_owned(),
    };
    Err(BadCell {
        found: quoted(cell),
        expected,
        next: "Correct the cell.",
    })
}

/// How many lines end in these bytes.
pub(crate) fn breaks_in(bytes: &[u8]) -> u64 {
    // Counted in bytes, sixteen of them at a time.
    let few = bytes.chunks(usize::from(u8::MAX));
    let counts = few.map(|few| few.iter().map(|&byte| u8::from(byte == b'\n')).sum::<u8>());
    counts.map(u64::from).sum()
}

fn line_at(bytes: &[u8], at: usize) -> u64 {
    1 + breaks_in(&bytes[..at])
}
