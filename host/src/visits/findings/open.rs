//! What was seen at a spindle and is still open. In: its visits, in order of time. Out: what nobody found in order since.

use crate::terminal::error::Error;
use crate::visits::corrected;
use crate::visits::corrected::read_by;
use holdtrue_book::{Book, Finding, FindingKind};
use holdtrue_terms::vocabulary::Severity;
use std::collections::HashSet;
use uuid::Uuid;

/// The rows and entities of a book that something was said of since: struck, corrected, or that lifted.
///
/// # Errors
/// The book cannot be read.
pub(crate) fn said_of(book: &Book) -> holdtrue_book::Result<HashSet<Uuid>> {
    let remarks = book.remarks()?.into_iter();
    Ok(remarks.map(|remark| remark.target).collect())
}

/// What was seen at these visits, in order of time, and not found in order since. `seen` gives the findings of a visit as they
/// were written; `said_of` are the rows that something was said of; `is_gone` tells which were withdrawn or struck.
///
/// # Errors
/// The book cannot be read: exit 6.
pub(crate) fn open_after(
    book: &Book,
    visits: impl Iterator<Item = Uuid>,
    seen: impl Fn(Uuid) -> holdtrue_book::Result<Vec<Finding>>,
    said_of: &HashSet<Uuid>,
    is_gone: impl Fn(Uuid) -> bool,
) -> Result<Vec<Finding>, Error> {
    let mut open: Vec<Finding> = Vec::new();
    for visit in visits {
        let written = seen(visit)?;
        if written.is_empty() {
            continue;
        }
        // Of a finished visit what its end covers, and what amendments took up: what was said since counts nowhere yet. A visit
        // is read whole only where something was said of it.
        let mut rows = written.iter().map(|finding| finding.id).chain([visit]);
        let read = match rows.any(|row| said_of.contains(&row)) {
            false => read_by(&written, &[]),
            true => corrected::findings(&book.visit(visit)?),
        };
        let stands = read.into_iter().filter(|each| each.struck.is_none());
        for finding in stands.map(|each| each.finding) {
            if is_gone(finding.id) {
                continue;
            }
            open.retain(|known| !is_same_item(known, &finding));
            let found = finding.kind == FindingKind::Found;
            if found && finding.severity != Some(Severity::Note) {
                open.push(finding);
            }
        }
    }
    Ok(open)
}

fn is_same_item(one: &Finding, other: &Finding) -> bool {
    let key = |finding: &Finding| (finding.assembly.to_lowercase(), finding.item.to_lowercase());
    key(one) == key(other)
}
