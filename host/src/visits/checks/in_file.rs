//! A check out of a book that was named as a file. In: the file, what was measured, which one is meant. Out: the check.

use crate::terminal::error::{Error, Place, Refusal};
use crate::visits::book::opening::{find_visit, visit_meant};
use holdtrue_book::{Book, Check, CheckKind};

/// Whether a file that begins so is a book: a database file.
pub fn is_book(begins: &[u8]) -> bool {
    begins.starts_with(b"SQLite format 3\0")
}

/// Which check of a book is to be computed again.
#[derive(Clone, Debug, Default, clap::Args)]
pub struct WhichSet {
    /// Which set of the visit, as visit status numbers them, where FILE is a book; else the one begun last
    #[arg(long, value_name = "NUMBER", requires = "from")]
    pub set: Option<usize>,
}

/// The check that is meant in the book of this name; none where the file is no book.
///
/// # Errors
/// When the book cannot be read: exit 6. No such check in it: exit 4. A visit or set named where there is no book,
/// a visit that is not in it: exit 2.
pub fn meant(
    book: Option<&str>,
    kind: CheckKind,
    which: &WhichSet,
    visit: Option<&str>,
    to_store: bool,
) -> Result<Option<(Book, Check)>, Error> {
    let name = match book {
        Some(name) => name,
        _ if which.set.is_some() => {
            return Err(Error::usage(
                "--set names a set of a book, and the file is none: leave it out, or name the book with --from",
            ));
        }
        _ if visit.is_some() && !to_store => {
            return Err(Error::usage(
                "--visit names a visit of a book: add --store to file this in it, or name the book with --from",
            ));
        }
        _ => return Ok(None),
    };
    if to_store {
        return Err(Error::usage("--store: this check is in a book already"));
    }
    let book = Book::open_read_only(name)?;
    let check = match which.set {
        Some(number) => {
            let checks = book.visit(visit_meant(&book, visit)?)?.checks;
            let check = number
                .checked_sub(1)
                .and_then(|place| checks.into_iter().nth(place));
            check.filter(|check| check.start.kind == kind)
        }
        None => begun_last(&book, kind, visit)?,
    };
    let check = check.ok_or_else(|| none_in(name, kind, which.set))?;
    Ok(Some((book, check)))
}

/// Said where a book has no record of what is meant.
pub fn none_in(name: &str, kind: CheckKind, number: Option<usize>) -> Error {
    let found = match number {
        Some(number) => {
            format!("a book in whose visit set {number} is no {kind} check with a record")
        }
        None => format!("a book without a recorded {kind} check"),
    };
    Error::input(
        Place::file(name),
        Refusal {
            found: &found,
            expected: "one with a record to compute from",
            next: "Look which sets a visit has with holdtrue visit status, name another book, or a CSV file.",
        },
    )
}

fn begun_last(book: &Book, kind: CheckKind, visit: Option<&str>) -> Result<Option<Check>, Error> {
    let visits = match visit {
        Some(wanted) => vec![find_visit(book, wanted)?],
        None => book.visits()?.iter().map(|visit| visit.id).collect(),
    };
    let mut latest: Option<Check> = None;
    for visit in visits {
        let checks = book.visit(visit)?.checks.into_iter();
        let checks = checks.filter(|check| check.start.kind == kind);
        latest = checks.chain(latest).max_by_key(begun_at);
    }
    Ok(latest)
}

fn begun_at(check: &Check) -> Option<jiff::Timestamp> {
    check.start.stamp.at.parse().ok()
}
