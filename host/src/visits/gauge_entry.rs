//! Gauges in the book. In: who the gauge on the port is. Out: its entry.

use crate::terminal::error::Error;
use crate::visits::book::book_writer::{BookWriter, known_gauge};
use crate::visits::checks::stored_calibration;
use crate::visits::known_day::{KnownDay, whole_days};
use crate::visits::overloads;
use crate::visits::stops;
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
/// What it calls an indicator.
pub(crate) const INDICATOR: &str = "indicator";

/// How a gauge of that serial number stood on a day, where the book knows that its calibration carries no verdict: what was
/// read on it and is typed, or comes from a file, is no surer than what it reads itself.
///
/// # Errors
/// When the book cannot be read: exit 6.
pub(crate) fn why_no_verdict(
    book: &Book,
    serial: &str,
    what: &str,
    on: Option<&KnownDay>,
) -> Result<Option<Standing>, Error> {
    let Some(gauge) = known_gauge(book, serial, what)? else {
        return Ok(None);
    };
    let today = KnownDay::today();
    // Of a month or a year the last day: what may have lapsed by then carries no verdict.
    let last_days = whole_days(on.unwrap_or(&today).last);
    let measured_with = book.measured_with(gauge.id)?;
    let Some(record) = stored_calibration::newest_by(book, gauge.id, measured_with, last_days)?
    else {
        return Ok(None);
    };
    let seen_by = calibration::day_text(last_days + 1);
    let known = overloads::of(&gauge);
    let overloaded = overloads::since(&known, &record).any(|it| it.past_from <= seen_by);
    Ok(match calibration::standing(&record, last_days) {
        calibration::Standing::Lapsed => Some(Standing::Lapsed),
        calibration::Standing::NotYet => None,
        calibration::Standing::InForce if overloaded => Some(Standing::Exceeded),
        calibration::Standing::InForce => {
            unfit::found(book, gauge.id, &record, on)?.map(|_| Standing::Unfit)
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

/// Keeps what a gauge tells of stops of its program, and puts into words what this book was not told of before; nothing of a gauge
/// that cannot tell.
///
/// # Errors
/// A gauge that is gone: exit 5; a book that does not take it: exit 6.
pub(crate) fn new_stops(
    session: &mut Session,
    gauge: Uuid,
    writer: &mut BookWriter,
) -> Result<Vec<String>, Error> {
    let history = session.stops()?.unwrap_or_default();
    let new = writer.note_stops(gauge, &history)?;
    let happened = new.iter().map(|stop| {
        format!(
            "The gauge's program stopped by itself {}.",
            stops::words(stop)
        )
    });
    let next = new
        .last()
        .map(|newest| format!("After such a stop {}.", stops::next(newest)));
    Ok(happened.chain(next).collect())
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
        what: INDICATOR.to_owned(),
        resolution: Some(DisplacementBuilder::resolution_um(record)),
        simulated,
        ..GaugeHeader::default()
    })?)
}
