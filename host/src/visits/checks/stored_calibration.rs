//! Calibration records in a book. In: a record, or the name of one. Out: the record, held to the rules of a certificate.

use crate::terminal::error::Error;
use crate::visits::known_day::days;
use holdtrue_book::{Book, GaugeHeader};
use holdtrue_gauge::calibration::{name, require_sound, to_bytes};
use holdtrue_protocol::message::CalibrationRecord;
use jiff::civil::Date;
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

/// Of the calibrations entered for a gauge the one that held on a day: the latest of that day or before.
///
/// # Errors
/// When the book cannot be read.
pub fn of_gauge_on(
    book: &Book,
    gauge: Uuid,
    day: Date,
) -> holdtrue_book::Result<Option<CalibrationRecord>> {
    let day = days(day);
    let entered = entered_for(book, gauge)?;
    let until_then = entered.filter(|record| f64::from(record.date_days) <= day);
    Ok(until_then.max_by_key(|record| record.date_days))
}

/// Every calibration entered for a gauge, older ones among them.
///
/// # Errors
/// When the book cannot be read.
pub fn entered_for(
    book: &Book,
    gauge: Uuid,
) -> holdtrue_book::Result<impl Iterator<Item = CalibrationRecord> + use<>> {
    let mut records = Vec::new();
    for revision in book.history::<GaugeHeader>(gauge)? {
        let stored = revision.header.calibration.map(|id| book.calibration(id));
        let stored = stored.transpose()?.flatten();
        records.extend(stored.and_then(|stored| CalibrationRecord::decode(&stored.record)));
    }
    Ok(records.into_iter())
}

/// The newest calibration of a gauge: of those entered for it and those it was measured with.
///
/// # Errors
/// As [`in_book`].
pub fn newest(
    book: &Book,
    gauge: Uuid,
    measured_with: impl IntoIterator<Item = Uuid>,
) -> Result<Option<CalibrationRecord>, Error> {
    newest_by(book, gauge, measured_with, i32::MAX)
}

/// The same of those made by a day: a later one says nothing of what was in force then.
///
/// # Errors
/// As [`in_book`].
pub fn newest_by(
    book: &Book,
    gauge: Uuid,
    measured_with: impl IntoIterator<Item = Uuid>,
    last_days: i32,
) -> Result<Option<CalibrationRecord>, Error> {
    let mut records: Vec<_> = entered_for(book, gauge)?.collect();
    for id in measured_with {
        records.extend(in_book(book, id)?);
    }
    let by_then = records
        .into_iter()
        .filter(|record| record.date_days <= last_days);
    Ok(by_then.max_by_key(|record| record.date_days))
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
