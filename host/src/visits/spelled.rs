//! What the book keeps as codes, as people write it. In: a header, a code, a severity. Out: its words.

use holdtrue_book::SpindleHeader;

/// `gas-spring` as a person reads it.
pub(crate) fn words(stored: &str) -> String {
    stored.replace(['-', '_'], " ")
}

/// The interface as it is written.
pub fn interface(header: &SpindleHeader) -> Option<String> {
    let taper = header.taper.as_deref()?;
    let named = match header.taper_size {
        Some(size) if taper.contains('/') => format!("{taper}-{size}"),
        Some(size) => format!("{taper}{size}"),
        None => taper.to_owned(),
    };
    Some(match &header.shank {
        Some(shank) => format!("{named} {shank}"),
        None => named,
    })
}
