//! What was seen at a spindle and is still open. In: its visits, in order of time. Out: what nobody found in order since.

use crate::terminal::error::Error;
use crate::visits::corrected;
use crate::visits::corrected::read_by;
use holdtrue_book::{Book, Finding, FindingKind};
use holdtrue_terms::vocabulary::Severity;
use uuid::Uuid;

/// What was seen at these visits, in order of time, and not found in order since. `seen` gives the findings of a visit as they
/// were written; `is_gone` tells which of them were withdrawn or struck.
///
/// # Errors
/// The book cannot be read: exit 6.
pub(crate) fn open_after(
    book: &Book,
    visits: impl Iterator<Item = Uuid>,
    seen: impl Fn(Uuid) -> holdtrue_book::Result<Vec<Finding>>,
    is_gone: impl Fn(Uuid) -> bool,
) -> Result<Vec<Finding>, Error> {
    let remarks = book.remarks()?;
    let mut open: Vec<Finding> = Vec::new();
    for visit in visits {
        let written = seen(visit)?;
        if written.is_empty() {
            continue;
        }
        // Of a finished visit what its end covers, and what amendments took up: what was said since counts nowhere yet. A visit
        // is read whole only where something was said of it.
        let said_of = |target: Uuid| remarks.iter().any(|remark| remark.target == target);
        let read = match said_of(visit) || written.iter().any(|finding| said_of(finding.id)) {
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
