//! Going on with a check. In: a visit, what is measured. Out: the check that has not ended, for this program alone.

use crate::terminal::error::Error;
use crate::terminal::lease::Lease;
use crate::terminal::times;
use crate::visits::book::book_writer;
use crate::visits::book::book_writer::BookWriter;
use holdtrue_book::{CheckKind, CheckStart};
use holdtrue_terms::vocabulary::State;
use uuid::Uuid;

/// The unfinished check of a visit, for this program alone; none where there is none.
///
/// # Errors
/// Another program adds to it, or the book cannot be read: exit 6.
pub(crate) fn unfinished(
    writer: &BookWriter,
    visit: Uuid,
    kind: CheckKind,
    state: Option<State>,
) -> Result<Option<(CheckStart, Lease)>, Error> {
    loop {
        let found = writer
            .book
            .open_check(visit, kind, state, &book_writer::now())?;
        let Some(start) = found else {
            return Ok(None);
        };
        let lease = Lease::of_check(start.id)?.ok_or_else(|| under_way(&start))?;
        // Whoever had it may have ended it between the look and the lease.
        if writer.book.results(start.id)?.is_empty() {
            return Ok(Some((start, lease)));
        }
    }
}

fn under_way(start: &CheckStart) -> Error {
    Error::book(format!(
        "the unfinished {} check of {} is being measured by another program on this computer: let it come to its end there, \
         or begin another check with --new",
        start.kind,
        times::moment(&start.stamp.at)
    ))
}
