//! Gauges in the book. In: who the gauge on the port is. Out: its entry.

use crate::terminal::error::Error;
use crate::visits::book_writer::BookWriter;
use crate::visits::{overloads, stored_calibration};
use holdtrue_book::{Book, GaugeHeader};
use holdtrue_gauge::calibration;
use holdtrue_gauge::displacement::DisplacementBuilder;
use holdtrue_gauge::session::Session;
use holdtrue_metrology::grip::setup::Standing;
use holdtrue_protocol::message::CalibrationRecord;
use uuid::Uuid;

/// How the force gauge of that serial number stands on a day, where the book knows that its calibration carries no verdict: what
/// was read on it and is typed, or comes from a file, is no surer than what it reads itself.
///
/// # Errors
/// When the book cannot be read: exit 6.
pub(crate) fn why_no_force(
    book: &Book,
    serial: &str,
    today_days: i32,
) -> Result<Option<Standing>, Error> {
    let known = book.list::<GaugeHeader>()?.into_iter();
    let mut of_it = known.filter(|gauge| {
        let header = gauge.header();
        !gauge.removed && header.what == "force-gauge" && header.serial == serial
    });
    let Some(gauge) = of_it.next() else {
        return Ok(None);
    };
    let mut records: Vec<CalibrationRecord> =
        stored_calibration::entered_for(book, gauge.id)?.collect();
    for id in book.measured_with(gauge.id)? {
        records.extend(stored_calibration::in_book(book, id)?);
    }
    let Some(record) = records.into_iter().max_by_key(|record| record.date_days) else {
        return Ok(None);
    };
    let overloaded = overloads::since(&gauge.header().overloads, &record).count() > 0;
    Ok(match calibration::standing(&record, today_days) {
        calibration::Standing::Lapsed => Some(Standing::Lapsed),
        // Read before its newest certificate: what was in force then is not this one.
        calibration::Standing::NotYet => None,
        calibration::Standing::InForce => overloaded.then_some(Standing::Exceeded),
    })
}

/// The gauge's entry in the book, made now if there is none.
pub(crate) fn force_gauge(
    session: &Session,
    record: &CalibrationRecord,
    simulated: bool,
    writer: &mut BookWriter,
) -> Result<Uuid, Error> {
    let header = GaugeHeader {
        serial: session.hello().serial.to_string(),
        what: "force-gauge".to_owned(),
        rated_n: Some(record.rated),
        resolution: Some(record.coefficients[1].abs()),
        simulated,
        ..GaugeHeader::default()
    };
    Ok(writer.gauge(header)?)
}

/// The indicator's entry in the book, made now if there is none.
pub(crate) fn indicator(
    session: &Session,
    record: &CalibrationRecord,
    simulated: bool,
    writer: &mut BookWriter,
) -> Result<Uuid, Error> {
    Ok(writer.gauge(GaugeHeader {
        serial: session.hello().serial.to_string(),
        what: "indicator".to_owned(),
        resolution: Some(DisplacementBuilder::resolution_um(record)),
        simulated,
        ..GaugeHeader::default()
    })?)
}
