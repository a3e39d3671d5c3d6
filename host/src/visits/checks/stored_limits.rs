//! Limits as the book keeps them. In: the SHA-256 a check or a result names. Out: the limits file that was in force.

use crate::limits;
use crate::limits::LimitsFile;
use crate::terminal::error::Error;
use holdtrue_book::Book;

/// The limits of this SHA-256; none where none is named.
///
/// # Errors
/// The book cannot be read: exit 6. A text that is not understood: exit 4.
pub fn by_sha256(book: &Book, sha256: Option<&str>) -> Result<Option<LimitsFile>, Error> {
    let text = sha256.map(|sha256| book.limits(sha256)).transpose()?;
    text.flatten()
        .map(|text| limits::understand("limits in force", &text))
        .transpose()
}
