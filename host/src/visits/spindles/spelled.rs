//! What the book keeps as codes, as people write it. In: a header, a code. Out: its words.

use holdtrue_book::SpindleHeader;
use holdtrue_terms::taper::name_of_parts;

/// `gas-spring` as a person reads it.
pub(crate) fn words(stored: &str) -> String {
    stored.replace(['-', '_'], " ")
}

/// The interface as it is written.
pub fn interface(header: &SpindleHeader) -> Option<String> {
    let family = header.taper.as_deref()?;
    Some(name_of_parts(
        family,
        header.taper_size,
        header.shank.as_deref(),
    ))
}
