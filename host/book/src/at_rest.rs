//! What lies on the disk under a book's name, before the database is asked.
//!
//! In: a path. Out: whether it may be opened as a book at all, and whether the journal beside it is the book's own.

use crate::book::Result;
use crate::error::Error;
use crate::schema::APPLICATION_ID;
use std::fs::File;
use std::io::{ErrorKind, Read};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// First bytes of an SQLite 3 file (SQLite, "Database File Format", section 1.3).
const SQLITE: &[u8] = b"SQLite format 3\0";
/// Length of the header that begins with them.
const HEADER: usize = 100;
/// Where the header holds the file change counter, and the application id.
const CHANGE_COUNTER: usize = 24;
const APPLICATION: usize = 68;
/// First bytes of a rollback journal with something in it (same page, section 3).
const JOURNAL: &[u8] = &[0xd9, 0xd5, 0x05, 0xf9, 0x20, 0xa1, 0x63, 0xd7];
/// Pages of a journal that are looked at. The first page of a book is among the first that a write keeps.
const LOOKED_AT: usize = 4096;
/// A writer at work changes both files at once: what does not fit is looked at again after this long.
const AGAIN: Duration = Duration::from_millis(50);
/// How often.
const LOOKS: usize = 4;

/// What was found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Found {
    /// No file.
    Nothing,
    /// A file without a byte in it.
    Empty,
    /// An SQLite file that says it is a book.
    Book,
}

/// The journal that belongs to the book at `path`: beside the file itself, whichever name led there.
pub(crate) fn journal(path: &Path) -> PathBuf {
    let file = path.canonicalize().unwrap_or_else(|_| path.to_owned());
    let mut journal = file.into_os_string();
    journal.push("-journal");
    journal.into()
}

/// Whether something lies in that journal.
pub(crate) fn has_journal(path: &Path) -> bool {
    journal(path).metadata().is_ok_and(|file| file.len() > 0)
}

/// Looks at the file before the database does: what is no book stays untouched, its journal too.
pub(crate) fn look(path: &Path) -> Result<Found> {
    let not_a_book = |found: &str| Error::NotABook {
        path: path.into(),
        found: found.to_owned(),
    };
    let file = match path.metadata() {
        Ok(file) => file,
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(Found::Nothing),
        Err(source) => return Err(cannot_open(path, source)),
    };
    if file.is_dir() {
        return Err(not_a_book("a folder"));
    }
    if !file.is_file() {
        return Err(not_a_book("a device or a pipe"));
    }
    let header = beginning(path, HEADER).map_err(|source| cannot_open(path, source))?;
    if header.is_empty() {
        return Ok(Found::Empty);
    }
    let journal = Journal::read(&journal(path));
    if header.iter().all(|byte| *byte == 0) && journal.is_some_and(|journal| journal.pages == 0) {
        // Cut off by a loss of power while it was created: room, and nothing in it yet.
        return Ok(Found::Empty);
    }
    if !header.starts_with(SQLITE) || header.len() < HEADER {
        return Err(not_a_book("no database"));
    }
    let application = number(&header, APPLICATION).unwrap_or(0);
    if i64::from(application) != APPLICATION_ID {
        return Err(not_a_book(&format!(
            "another program's database (application id {application:#010x})"
        )));
    }
    refuse_strange_journal(path)?;
    Ok(Found::Book)
}

fn cannot_open(path: &Path, source: std::io::Error) -> Error {
    Error::File {
        path: path.into(),
        source,
    }
}

/// Rolling back a journal of another book, or of this one at another time, would write old pages into this one: a backup
/// put in the place of a book that was cut off. The database cannot tell; the file change counter can: it is in both, and
/// a write counts it up by one.
fn refuse_strange_journal(path: &Path) -> Result<()> {
    let journal = journal(path);
    for _ in 0..LOOKS {
        let Some(before) = Journal::read(&journal).and_then(|journal| journal.counter) else {
            return Ok(());
        };
        let now = beginning(path, HEADER).map_err(|source| cannot_open(path, source))?;
        match number(&now, CHANGE_COUNTER) {
            Some(now) if now != before && now != before.wrapping_add(1) => {
                std::thread::sleep(AGAIN);
            }
            _ => return Ok(()),
        }
    }
    Err(Error::StrangeJournal {
        path: path.into(),
        journal,
    })
}

/// What a rollback journal says of the file it belongs to.
struct Journal {
    /// Pages before the write; 0 where the file was being created.
    pages: u32,
    /// File change counter before the write; none where the journal does not hold it whole.
    counter: Option<u32>,
}

impl Journal {
    /// None where there is no journal, or nothing in it to roll back.
    fn read(path: &Path) -> Option<Self> {
        let mut file = File::open(path).ok()?;
        let mut header = [0; 28];
        file.read_exact(&mut header).ok()?;
        if !header.starts_with(JOURNAL) {
            return None;
        }
        let pages = number(&header, 16)?;
        let counter = match pages {
            0 => Some(0),
            _ => first_page_counter(&mut file, &header),
        };
        Some(Self { pages, counter })
    }
}

/// The counter in the first page, as the journal keeps it after its header.
fn first_page_counter(file: &mut File, header: &[u8]) -> Option<u32> {
    let [nonce, sector, page] = [12, 20, 24].map(|at| number(header, at));
    let [sector, page] = [sector?, page?].map(usize::try_from);
    let (sector, page) = (sector.ok()?, page.ok()?);
    if !(512..=65_536).contains(&page) || !(28..=65_536).contains(&sector) {
        return None;
    }
    file.read_exact(&mut vec![0; sector - header.len()]).ok()?;
    // Number of the page, the page, its checksum.
    let mut record = vec![0; 4 + page + 4];
    for _ in 0..LOOKED_AT {
        file.read_exact(&mut record).ok()?;
        if number(&record, 0)? == 1 {
            let whole = checksum(nonce?, &record[4..4 + page]) == number(&record, 4 + page)?;
            return number(&record, 4 + CHANGE_COUNTER).filter(|_| whole);
        }
    }
    None
}

/// The nonce and every 200th byte of the page, counted from its end (same page, section 3).
fn checksum(nonce: u32, page: &[u8]) -> u32 {
    let bytes = (1..).map_while(|step| page.len().checked_sub(200 * step));
    bytes
        .filter(|at| *at > 0)
        .fold(nonce, |sum, at| sum.wrapping_add(page[at].into()))
}

fn beginning(path: &Path, most: usize) -> std::io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    File::open(path)?
        .take(most as u64)
        .read_to_end(&mut bytes)?;
    Ok(bytes)
}

/// Four bytes, most significant first.
fn number(bytes: &[u8], at: usize) -> Option<u32> {
    let bytes = bytes.get(at..at + 4)?.try_into().ok()?;
    Some(u32::from_be_bytes(bytes))
}
