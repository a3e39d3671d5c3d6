//! Gauges in the book. In: who the gauge on the port is. Out: its entry.

use crate::terminal::error::Error;
use crate::visits::book::book_writer::{BookWriter, known_gauge};
use crate::visits::checks::stored_calibration;
use crate::visits::overloads;
use crate::visits::unfit;
use holdtrue_book::{Book, GaugeHeader};
use holdtrue_gauge::calibration;
use holdtrue_gauge::displacement::DisplacementBuilder;
use holdtrue_gauge::session::Session;
use holdtrue_metrology::grip::setup::Standing;
use holdtrue_protocol::message::CalibrationRecord;
use uuid::Uuid;

/// What the book calls a force gauge.
pub(crate) const FORCE_GAUGE: &str = "force-gauge";

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
    let Some(gauge) = known_gauge(book, serial, FORCE_GAUGE)? else {
        return Ok(None);
    };
    let measured_with = book.measured_with(gauge.id)?;
    let Some(record) = stored_calibration::newest(book, gauge.id, measured_with)? else {
        return Ok(None);
    };
    let overloaded = overloads::since(&overloads::of(&gauge), &record).count() > 0;
    Ok(match calibration::standing(&record, today_days) {
        calibration::Standing::Lapsed => Some(Standing::Lapsed),
        // Read before its newest certificate: what was in force then is not this one.
        calibration::Standing::NotYet => None,
        calibration::Standing::InForce if overloaded => Some(Standing::Exceeded),
        calibration::Standing::InForce => {
            unfit::found(book, gauge.id, &record)?.map(|_| Standing::Unfit)
        }
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
        what: FORCE_GAUGE.to_owned(),
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
