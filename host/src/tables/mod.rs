//! A table somebody else wrote. In: the bytes of a CSV file and the columns a format has. Out: checked columns, or one
//! refusal that names file, line, column, what was found, what was expected and what to do next.
//!
//! UTF-8 with or without byte-order mark, LF or CRLF, blank lines and `#` lines ignored, optional double quotes. The
//! separator (comma, semicolon, tab) is told from the header. A decimal comma is read only where the comma does not
//! separate; one file uses one decimal mark. There are no thousands separators. Nothing is skipped silently.

pub mod kept;
pub mod readings;

use crate::terminal::error::{Error, Place, Refusal};
use holdtrue_metrology::file_note::FileNote;
use holdtrue_terms::units::{ForceUnit, NoForceUnit};
use std::io::{Cursor, Read};

mod column;
mod number;
mod pieces;
mod plain;
mod text;

use crate::tables::column::unreadable;
pub use crate::tables::column::{Column, Header, Kind};
pub(crate) use crate::tables::number::NumberReader;
use crate::tables::pieces::Pieces;
use crate::tables::plain::Wanted;

/// A number as it was written, with a decimal point.
#[derive(Clone, Debug, PartialEq)]
pub struct Written {
    /// Its value.
    pub number: f64,
    /// Its digits.
    pub text: String,
}

/// The known columns of a file, row by row.
#[derive(Clone, Debug)]
pub struct Table {
    name: String,
    header_line: u64,
    lines: Lines,
    columns: Vec<Found>,
    /// What was ignored, for the person.
    pub messages: Vec<FileNote>,
}

/// On which physical line each row begins: nearly always on the one after the row before it.
#[derive(Clone, Debug, Default)]
struct Lines {
    rows: usize,
    /// A row whose line does not follow on from the row before it, and that line.
    breaks: Vec<(usize, u64)>,
}

impl Lines {
    fn push(&mut self, line: u64) {
        if self.of_next() != Some(line) {
            self.breaks.push((self.rows, line));
        }
        self.rows += 1;
    }

    /// So many rows, one a line.
    fn extend(&mut self, first_line: u64, rows: usize) {
        if let Some(others) = rows.checked_sub(1) {
            self.push(first_line);
            self.rows += others;
        }
    }

    fn of_next(&self) -> Option<u64> {
        let (row, line) = self.breaks.last()?;
        Some(line + (self.rows - row) as u64)
    }

    fn of(&self, row: usize) -> Option<u64> {
        let before = self.breaks.partition_point(|(first, _)| *first <= row);
        let (first, line) = self.breaks.get(before.checked_sub(1)?)?;
        (row < self.rows).then(|| line + (row - first) as u64)
    }
}

#[derive(Clone, Debug)]
struct Found {
    key: &'static str,
    header: &'static str,
    factor: f64,
    kind: Kind,
    place: usize,
    cells: Cells,
}

#[derive(Clone, Debug)]
enum Cells {
    Numbers(Vec<f64>),
    Words(Vec<String>),
    Maybe(Vec<Option<Written>>),
}

/// An input file that is read as it is needed.
pub struct Opened {
    begins: Cursor<Vec<u8>>,
    rest: Box<dyn Read>,
    /// What was read of it, where it is kept.
    kept: Option<Vec<u8>>,
}

/// So many bytes tell what kind of file it is.
const BEGINS_BYTES: u64 = 16;

impl Opened {
    /// Opens a file, whose bytes are kept or not; `-` is standard input.
    ///
    /// # Errors
    /// When it cannot be opened or read: exit 4.
    pub fn of(name: &str, keep: bool) -> Result<Self, Error> {
        let open = || -> std::io::Result<Self> {
            let mut rest: Box<dyn Read> = match name {
                "-" => Box::new(std::io::stdin()),
                _ => Box::new(std::fs::File::open(name)?),
            };
            let mut begins = Vec::new();
            rest.by_ref().take(BEGINS_BYTES).read_to_end(&mut begins)?;
            Ok(Self {
                begins: Cursor::new(begins),
                rest,
                kept: keep.then(Vec::new),
            })
        };
        open().map_err(|source| unreadable(name, &source))
    }

    /// Its first bytes.
    pub fn begins(&self) -> &[u8] {
        self.begins.get_ref()
    }

    /// All of it.
    ///
    /// # Errors
    /// When it cannot be read: exit 4.
    pub fn whole(mut self, name: &str) -> Result<Vec<u8>, Error> {
        let mut bytes = Vec::new();
        let read = self.read_to_end(&mut bytes);
        read.map_err(|source| unreadable(name, &source))?;
        Ok(bytes)
    }

    /// What was read of it; nothing where it is not kept.
    pub fn kept(self) -> Vec<u8> {
        self.kept.unwrap_or_default()
    }
}

impl Read for Opened {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let read = match self.begins.read(buffer)? {
            0 => self.rest.read(buffer)?,
            read => read,
        };
        if let Some(kept) = &mut self.kept {
            kept.extend_from_slice(&buffer[..read]);
        }
        Ok(read)
    }
}

/// The bytes of an input file; `-` is standard input.
///
/// # Errors
/// When the file cannot be opened or read: exit 4.
pub fn read_file(name: &str) -> Result<Vec<u8>, Error> {
    Opened::of(name, false)?.whole(name)
}

impl Table {
    /// Reads the known columns of a file.
    ///
    /// # Errors
    /// The first thing in the file that is not as the format says: exit 4.
    pub fn read(name: &str, mut bytes: &[u8], known: &[Column]) -> Result<Self, Error> {
        Self::read_from(name, &mut bytes, known)
    }

    /// The same of a file that is read as it is needed.
    ///
    /// # Errors
    /// As [`Self::read`]; the file cannot be read: exit 4.
    pub fn read_from(name: &str, source: &mut dyn Read, known: &[Column]) -> Result<Self, Error> {
        let mut pieces = Pieces::begin(name, source)?;
        let text = pieces.text(0)?;
        let (header_line, header) = text::header(name, text)?;
        let separator = text::separator(header, known);
        let mut table = Self {
            name: name.to_owned(),
            header_line,
            lines: Lines::default(),
            columns: Vec::new(),
            messages: Vec::new(),
        };
        let mut records = text::Records::new(text, separator, 0);
        let mut width = 0;
        if let Some(record) = records.next(name)? {
            width = record.len();
            table.take_header(&record.cells(), known)?;
        }
        let taken = records.taken();
        let mut lines_before = text::breaks_in(&text.as_bytes()[..taken]);
        pieces.skip(taken);
        let wanted = table.wanted(separator, width);
        let mut numbers = NumberReader::new(separator);
        loop {
            if pieces.text(lines_before)?.contains('"') && !pieces.is_last() {
                // A cell in quotes may go on for any number of lines.
                pieces.take_rest()?;
            }
            let text = pieces.text(lines_before)?;
            table.take_rows(text, lines_before, &wanted, &mut numbers)?;
            lines_before += text::breaks_in(text.as_bytes());
            if !pieces.go_on()? {
                break;
            }
        }
        if table.is_empty() {
            return Err(table.refuse_header(
                None,
                "a header without rows",
                "at least one row of numbers below it",
                "Export the record again.",
            ));
        }
        Ok(table)
    }

    /// The file, as the person named it.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// How many rows.
    pub fn len(&self) -> usize {
        self.lines.rows
    }

    /// Whether there is no row; a table that was read always has one.
    pub fn is_empty(&self) -> bool {
        self.lines.rows == 0
    }

    /// The header the file uses for a column; `None` if it has no such column.
    pub fn header(&self, key: &str) -> Option<&'static str> {
        self.column(key).map(|column| column.header)
    }

    /// The physical line of a row, the first is 1.
    pub fn line(&self, row: usize) -> u64 {
        self.lines.of(row).unwrap_or(0)
    }

    /// A column of numbers in the format's own unit.
    pub fn numbers(&self, key: &str) -> Option<&[f64]> {
        match &self.column(key)?.cells {
            Cells::Numbers(numbers) => Some(numbers),
            Cells::Words(_) | Cells::Maybe(_) => None,
        }
    }

    /// The same, taken out of the table.
    pub fn take_numbers(&mut self, key: &str) -> Option<Vec<f64>> {
        let column = self.columns.iter_mut().find(|column| column.key == key)?;
        match &mut column.cells {
            Cells::Numbers(numbers) => Some(std::mem::take(numbers)),
            Cells::Words(_) | Cells::Maybe(_) => None,
        }
    }

    /// A number that a row may have.
    pub fn written(&self, row: usize, key: &str) -> Option<&Written> {
        match &self.column(key)?.cells {
            Cells::Maybe(numbers) => numbers.get(row)?.as_ref(),
            Cells::Numbers(_) | Cells::Words(_) => None,
        }
    }

    /// A text that a row may have.
    pub fn text(&self, row: usize, key: &str) -> Option<&str> {
        let text = self.words(key)?.get(row)?.trim();
        (!text.is_empty()).then_some(text)
    }

    /// A column of words, lower case, or of text as it stands.
    pub fn words(&self, key: &str) -> Option<&[String]> {
        match &self.column(key)?.cells {
            Cells::Words(words) => Some(words),
            Cells::Numbers(_) | Cells::Maybe(_) => None,
        }
    }

    /// Refuses a cell whose content is readable but makes no sense where it stands.
    pub fn refuse(&self, row: usize, key: &str, refusal: Refusal<'_>) -> Error {
        let mut place = Place::file(&self.name);
        if let Some(line) = self.lines.of(row) {
            place = place.line(line);
        }
        Error::input(place.column(self.header(key).unwrap_or(key)), refusal)
    }

    /// Refuses the header: a column missing or too many.
    pub fn refuse_header(
        &self,
        column: Option<&str>,
        found: &str,
        expected: &str,
        next: &str,
    ) -> Error {
        let mut place = Place::file(&self.name).line(self.header_line);
        if let Some(column) = column {
            place = place.column(column);
        }
        Error::input(
            place,
            Refusal {
                found,
                expected,
                next,
            },
        )
    }

    /// Refuses a column of times that does not grow from row to row.
    ///
    /// # Errors
    /// At the first row that is not later than the one before: exit 4.
    pub fn require_growing(&self, key: &str) -> Result<(), Error> {
        self.require_growing_within(key, |_, _| true)
    }

    /// The same where each group of rows has times of its own; `together` says of two rows whether they are of one.
    ///
    /// # Errors
    /// At the first row that is not later than the one before it in its group: exit 4.
    pub fn require_growing_within(
        &self,
        key: &str,
        together: impl Fn(usize, usize) -> bool,
    ) -> Result<(), Error> {
        let numbers = self.numbers(key).unwrap_or_default();
        let mut latest: Vec<usize> = Vec::new();
        for (row, &now) in numbers.iter().enumerate() {
            match latest.iter_mut().find(|last| together(**last, row)) {
                Some(last) if now > numbers[*last] => *last = row,
                Some(last) => {
                    return Err(self.refuse(
                        row,
                        key,
                        Refusal {
                            found: &format!("{now} after {}", numbers[*last]),
                            expected: "every time later than the one above it",
                            next: "Sort or split the record; two records are two files.",
                        },
                    ));
                }
                None => latest.push(row),
            }
        }
        Ok(())
    }

    fn column(&self, key: &str) -> Option<&Found> {
        self.columns.iter().find(|column| column.key == key)
    }

    fn take_header(&mut self, cells: &[String], known: &[Column]) -> Result<(), Error> {
        if let Some(first) = cells.iter().find(|cell| cell.parse::<f64>().is_ok()) {
            return Err(self.refuse_header(
                None,
                &format!("the number {first} where a header should be"),
                &format!("a header such as {}", example(known)),
                "Put a header with the units above the numbers.",
            ));
        }
        for (place, cell) in cells.iter().enumerate() {
            self.take_header_cell(place, cell, known)?;
        }
        match known
            .iter()
            .find(|column| column.required && self.column(column.key).is_none())
        {
            Some(missing) => Err(self.missing(missing, cells)),
            None => Ok(()),
        }
    }

    fn take_header_cell(
        &mut self,
        place: usize,
        cell: &str,
        known: &[Column],
    ) -> Result<(), Error> {
        let Some((column, header)) = known.iter().find_map(|column| {
            let header = column
                .headers
                .iter()
                .find(|header| header.name.eq_ignore_ascii_case(cell))?;
            Some((column, header))
        }) else {
            self.messages.push(FileNote::ColumnNotKnown {
                file: self.name.clone(),
                column: cell.to_owned(),
            });
            return Ok(());
        };
        if let Some(earlier) = self.column(column.key) {
            let found = if earlier.header == header.name {
                format!("{} twice", header.name)
            } else {
                format!("{} beside {}", header.name, earlier.header)
            };
            return Err(self.refuse_header(
                Some(header.name),
                &found,
                &format!("one column out of {}", names(column)),
                "Take the other one out of the file.",
            ));
        }
        let cells = match column.kind {
            Kind::Number => Cells::Numbers(Vec::new()),
            Kind::MaybeNumber => Cells::Maybe(Vec::new()),
            Kind::Word(_) | Kind::Text | Kind::MaybeText => Cells::Words(Vec::new()),
        };
        self.columns.push(Found {
            key: column.key,
            header: header.name,
            factor: header.factor,
            kind: column.kind,
            place,
            cells,
        });
        Ok(())
    }

    fn missing(&self, column: &Column, cells: &[String]) -> Error {
        self.refuse_header(
            Some(column.headers[0].name),
            &format!("the columns {}", cells.join(", ")),
            &format!("a column {}", names(column)),
            &pressure(column, cells).unwrap_or_else(|| {
                "Name the column so, with its unit, in the header line.".to_owned()
            }),
        )
    }

    /// Where the columns that are known stand in a row.
    fn wanted(&self, separator: u8, width: usize) -> Wanted {
        let columns = self.columns.iter();
        Wanted {
            separator,
            width,
            columns: columns
                .map(|column| (column.place, column.factor))
                .collect(),
        }
    }

    /// Takes whole lines that so many lines of the file come before: of plain numbers many at a time, others row by row.
    fn take_rows(
        &mut self,
        text: &str,
        lines_before: u64,
        wanted: &Wanted,
        numbers: &mut NumberReader,
    ) -> Result<(), Error> {
        let is_numbers = |column: &Found| matches!(column.cells, Cells::Numbers(_));
        if text.contains('"') || !self.columns.iter().all(is_numbers) {
            return self.take_row_by_row(text, lines_before, wanted, numbers);
        }
        let mut line = lines_before;
        for (part, rows) in plain::read(text, wanted) {
            match rows.filter(|rows| numbers.agrees(rows.mark)) {
                Some(rows) => self.take_plain(rows, line + 1),
                None => self.take_row_by_row(part, line, wanted, numbers)?,
            }
            line += text::breaks_in(part.as_bytes());
        }
        Ok(())
    }

    fn take_plain(&mut self, rows: plain::Rows, first_line: u64) {
        self.lines.extend(first_line, rows.count);
        for (column, more) in self.columns.iter_mut().zip(rows.numbers) {
            if let Cells::Numbers(list) = &mut column.cells {
                list.extend(more);
            }
        }
    }

    fn take_row_by_row(
        &mut self,
        text: &str,
        lines_before: u64,
        wanted: &Wanted,
        numbers: &mut NumberReader,
    ) -> Result<(), Error> {
        let mut records = text::Records::new(text, wanted.separator, lines_before);
        let name = self.name.clone();
        while let Some(record) = records.next(&name)? {
            self.take_row(&record, wanted.width, numbers)?;
        }
        Ok(())
    }

    fn take_row(
        &mut self,
        record: &text::Record<'_>,
        width: usize,
        numbers: &mut NumberReader,
    ) -> Result<(), Error> {
        if record.len() != width {
            return Err(Error::input(
                Place::file(&self.name).line(record.line),
                Refusal {
                    found: &format!("{} cells", record.len()),
                    expected: &format!("{width}, as in the header"),
                    next: "Is a decimal comma taken for a separator, or was the file cut off?",
                },
            ));
        }
        for column in &mut self.columns {
            let cell = record.cell(column.place);
            let place = || {
                Place::file(&self.name)
                    .line(record.line_of(column.place))
                    .column(column.header)
            };
            match &mut column.cells {
                Cells::Numbers(list) => {
                    list.push(
                        numbers
                            .read(cell, column.factor)
                            .map_err(|e| e.at(place()))?,
                    );
                }
                Cells::Maybe(list) if cell.is_empty() => list.push(None),
                Cells::Maybe(list) => {
                    let number = numbers.read(cell, column.factor);
                    list.push(Some(Written {
                        number: number.map_err(|e| e.at(place()))?,
                        text: cell.replace(',', "."),
                    }));
                }
                Cells::Words(list) => {
                    list.push(text::word(cell, column.kind).map_err(|e| e.at(place()))?);
                }
            }
        }
        self.lines.push(record.line);
        Ok(())
    }
}

/// A force column in a unit of pressure is none.
fn pressure(column: &Column, cells: &[String]) -> Option<String> {
    let unit = |name: &str| {
        name.split_once('_')
            .map(|(what, unit)| (what.to_lowercase(), unit.to_owned()))
    };
    let (wanted, _) = unit(column.headers[0].name)?;
    cells.iter().find_map(|cell| {
        let (what, unit) = unit(cell)?;
        match unit.parse::<ForceUnit>() {
            Err(pressure @ NoForceUnit::Pressure(_)) if what == wanted => {
                Some(format!("{pressure}."))
            }
            _ => None,
        }
    })
}

fn names(column: &Column) -> String {
    let names: Vec<_> = column.headers.iter().map(|header| header.name).collect();
    names.join(" or ")
}

fn example(known: &[Column]) -> String {
    let names: Vec<_> = known
        .iter()
        .filter(|column| column.required)
        .map(|column| column.headers[0].name)
        .collect();
    names.join(",")
}
