//! Calibration records in a book. In: a record, or the name of one. Out: the record, held to the rules of a certificate.

use crate::terminal::error::Error;
use holdtrue_book::Book;
use holdtrue_gauge::calibration::{name, require_sound, to_bytes};
use holdtrue_protocol::message::CalibrationRecord;
use uuid::Uuid;

/// The record of this id, where the book has one that can be read.
///
/// # Errors
/// When the book cannot be read: exit 6. A record that breaks the rules of a certificate: exit 5.
pub fn in_book(book: &Book, id: Uuid) -> Result<Option<CalibrationRecord>, Error> {
    let stored = book.calibration(id)?;
    let record = stored.and_then(|stored| CalibrationRecord::decode(&stored.record));
    if let Some(record) = &record {
        require_usable(&book.path().display().to_string(), record)?;
    }
    Ok(record)
}

/// Refuses a record that is in a book, or on its way into one.
///
/// # Errors
/// One that breaks the rules of a certificate: exit 5.
pub fn require_usable(book: &str, record: &CalibrationRecord) -> Result<(), Error> {
    require_sound(record).map_err(|unsound| {
        let holdtrue_metrology::calibration::Unsound {
            part,
            found,
            expected,
            ..
        } = unsound;
        let name = name(record);
        Error::gauge(format!(
            "{book}: calibration {name} cannot be used: {part}: found {found}, expected {expected}. \
             Compare it with the paper; no figure is computed with it"
        ))
    })
}

/// What a check names the record by it was computed with.
pub fn sha256(record: &CalibrationRecord) -> String {
    holdtrue_book::sha256_hex(&to_bytes(record))
}

/// The calibration a check was begun with.
///
/// # Errors
/// As [`in_book`]; or the book holds none for this check: exit 6.
pub fn of_check(book: &Book, check: Uuid) -> Result<CalibrationRecord, Error> {
    let record = match book.check_start(check)?.calibration {
        Some(id) => in_book(book, id)?,
        None => None,
    };
    record.ok_or_else(|| {
        let file = book.path().display();
        Error::book(format!("{file}: check {check} has no calibration record this program can read; run `holdtrue book check`"))
    })
}

/// The calibration record of this id, where the book has one that can be read.
///
/// # Errors
/// As [`in_book`].
pub fn of_id(book: &Book, id: Option<Uuid>) -> Result<Option<CalibrationRecord>, Error> {
    id.map_or(Ok(None), |id| in_book(book, id))
}
