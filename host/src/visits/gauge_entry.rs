//! Gauges in the book. In: who the gauge on the port is. Out: its entry.

use crate::terminal::error::Error;
use crate::visits::book_writer::BookWriter;
use holdtrue_book::GaugeHeader;
use holdtrue_gauge::displacement::DisplacementBuilder;
use holdtrue_gauge::session::Session;
use holdtrue_protocol::message::CalibrationRecord;
use uuid::Uuid;

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
