//! Which limits a runout check is judged by.

use super::SourcedLimit;
use crate::runout::same_height;
use holdtrue_terms::figure::GivenBy;
use holdtrue_terms::vocabulary::Provenance;

/// `also` fills in what `first` does not limit; what is the maker's stands beside a laxer one, too.
///
/// Source: the order is common practice.
pub fn join(mut first: Vec<SourcedLimit>, also: Vec<SourcedLimit>) -> Vec<SourcedLimit> {
    for limit in also
        .into_iter()
        .filter(|limit| limit.limit.figure.is_of(GivenBy::Runout))
    {
        let known = first.iter().any(|known| {
            known.limit.figure == limit.limit.figure
                && same_height(known.limit.height_mm, limit.limit.height_mm)
                && (limit.limit.provenance != Provenance::Maker
                    || known.limit.limit <= limit.limit.limit)
        });
        if !known {
            first.push(limit);
        }
    }
    first
}
