//! A calibration into gauge and book. In: a record that agrees with itself, and a port. Out: what the gauge carried before
//! and carries now; nothing is written where it contradicts what is known.

use crate::connection::{calibration_words, certificate, to_be_replaced};
use crate::terminal::app::App;
use crate::terminal::error::Error;
use crate::terminal::times;
use crate::visits::book::book_writer::BookWriter;
use crate::visits::checks::stored_calibration::require_usable;
use crate::visits::gauge_entry;
use crate::visits::overloads;
use holdtrue_gauge::binding::Belonging;
use holdtrue_gauge::calibration::{id_text, quantity};
use holdtrue_gauge::session::Session;
use holdtrue_metrology::gauge_check::shunt::{COMPUTED_BOUND, computed_step};
use holdtrue_protocol::message::{Binding, BoundRecord, CalibrationRecord, Channel, Command};
use serde::Serialize;
use serde_json::Value;
use uuid::Uuid;

/// A slope that differs from the last one by more than this is more likely a mistake than a change.
const DOUBTFUL_CHANGE_PERCENT: f64 = 10.0;
/// An uncertainty that grew by more than this factor tells of a poor calibration rather than of a poor gauge.
const DOUBTFUL_GROWTH: f64 = 3.0;

/// What was written where.
#[derive(Debug, Serialize)]
pub(crate) struct Written {
    port: String,
    serial: String,
    before: Option<Value>,
    after: Value,
    /// Whether the gauge already carried this very record.
    already: bool,
    book: String,
}

/// How a doubt is put to somebody; `None` when nobody can be asked.
pub(crate) type Ask<'a> = &'a mut dyn FnMut(&mut App, &str) -> Result<Option<bool>, Error>;

/// Asks on the terminal.
pub(crate) fn on_terminal(app: &mut App, question: &str) -> Result<Option<bool>, Error> {
    app.console.ask(question)
}

/// A record held to what is known of the gauge, with nothing against writing it.
pub(crate) struct Held {
    before: Option<CalibrationRecord>,
    made_on: Option<Binding>,
    already: bool,
    writer: BookWriter,
}

/// Says what the gauge carries and would carry, and what speaks against it; nothing is written. Doubts are put as `ask` does.
pub(crate) fn held(
    record: &CalibrationRecord,
    session: &mut Session,
    app: &mut App,
    ask: Ask<'_>,
) -> Result<Held, Error> {
    require_fitted(session, record)?;
    require_usable(&session.port(), record)?;
    let before = to_be_replaced(session, record.channel, app)?;
    app.console.say(&comparison(before.as_ref(), record, app));
    let writer = app.writer()?;
    writer.require_no_other(record)?;
    if let Some(before) = &before {
        require_other_name(session, before, record)?;
        require_sense(before, record, app, ask)?;
    }
    let known = match record.channel {
        Channel::Force => session.belonging()?,
        Channel::Displacement | Channel::Indicator => Belonging::default(),
    };
    require_same_hardware(session, record, &known)?;
    let serial = session.hello().serial.clone();
    require_own(&serial, record, &writer, app, ask)?;
    let made_on = made_on(session, &known)?;
    let same_hardware = match (&known.made_on, &made_on) {
        (Some(then), Some(now)) => then.converter == now.converter,
        (then, now) => then.is_none() && now.is_none(),
    };
    let already = before.as_ref() == Some(record) && same_hardware;
    Ok(Held {
        before,
        made_on,
        already,
        writer,
    })
}

/// Writes into the gauge, reads back and keeps the record in the book; doubts are put as `ask` does.
pub(crate) fn write(
    record: &CalibrationRecord,
    session: &mut Session,
    app: &mut App,
    ask: Ask<'_>,
) -> Result<Written, Error> {
    let Held {
        before,
        made_on,
        already,
        mut writer,
    } = held(record, session, app, ask)?;
    if !already {
        store(session, record, made_on)?;
    }
    let counted = enter_gauge(session, before.as_ref(), record, &mut writer)?;
    if counted > 0 {
        app.console.say(&stay_counted(counted));
    }
    Ok(Written {
        port: session.port(),
        serial: session.hello().serial.to_string(),
        before: before.as_ref().map(certificate),
        after: certificate(record),
        already,
        book: app.book_path().display().to_string(),
    })
}

/// Written with what it is made on, where the gauge can keep that, and read back.
fn store(
    session: &mut Session,
    record: &CalibrationRecord,
    made_on: Option<Binding>,
) -> Result<(), Error> {
    let command = match made_on.clone() {
        Some(made_on) => Command::WriteBound(BoundRecord {
            record: record.clone(),
            made_on,
        }),
        None => Command::WriteCalibration(record.clone()),
    };
    session.request(command, "store a calibration")?;
    let stored = session.stored_calibration(record.channel)?;
    let bound = match made_on {
        Some(_) => session.belonging()?.made_on,
        None => None,
    };
    if stored.as_ref() == Some(record) && bound == made_on {
        return Ok(());
    }
    Err(refused(
        session,
        "what it stored reads back otherwise; try again, and have the gauge repaired if it stays",
    ))
}

/// What a record that is written now is bound to; nothing where the gauge cannot keep it. A bridge that does not move as
/// computed is no bridge to bind a calibration to.
fn made_on(session: &mut Session, known: &Belonging) -> Result<Option<Binding>, Error> {
    let Some(converter) = known.converter().cloned() else {
        return Ok(None);
    };
    let step = session.shunt_step()?;
    let computed = computed_step(converter.gain);
    if let Some(step) = step
        && (step - computed).abs() > COMPUTED_BOUND * computed
    {
        let reason = format!(
            "its shunt moves the reading by {step:.0} counts, computed {computed:.0}. Put bridge, shunt, wires or firmware \
             right first, and see `holdtrue gauge check`"
        );
        return Err(refused(session, &reason));
    }
    #[allow(
        clippy::cast_possible_truncation,
        reason = "a difference of two readings of 24 bits"
    )]
    let shunt_step = step.map(|step| step.round() as i32);
    Ok(Some(Binding {
        converter,
        shunt_step,
    }))
}

/// The calibration the gauge carries does not come to belong to other hardware by being entered again.
fn require_same_hardware(
    session: &mut Session,
    record: &CalibrationRecord,
    known: &Belonging,
) -> Result<(), Error> {
    let differences = known.differences();
    let Some(difference) = differences.first() else {
        return Ok(());
    };
    let carried = session.stored_calibration(record.channel)?;
    if carried.is_none_or(|carried| carried.id != record.id) {
        return Ok(());
    }
    Err(refused(
        session,
        &format!("this very calibration was made on something else. {difference}"),
    ))
}

/// A calibration the book knows of another gauge is asked about.
///
/// # Errors
/// Nobody said that it is right: exit 2.
pub(crate) fn require_own(
    serial: &str,
    record: &CalibrationRecord,
    writer: &BookWriter,
    app: &mut App,
    ask: Ask<'_>,
) -> Result<(), Error> {
    let known = writer
        .book
        .gauges_calibrated_by(Uuid::from_bytes(record.id))?;
    let Some(other) = known.iter().find(|other| other.as_str() != serial) else {
        return Ok(());
    };
    settle(
        format!(
            "Certificate {} is that of gauge {other} in the book; this is gauge {serial}.",
            record.certificate
        ),
        app,
        ask,
    )
}

fn require_fitted(session: &Session, record: &CalibrationRecord) -> Result<(), Error> {
    let fitted = session.hello().fitted;
    let (there, missing) = match record.channel {
        Channel::Force => (fitted.force, "it has no load cell; use a force gauge"),
        Channel::Displacement => (
            fitted.displacement,
            "it has no probe; use a gauge that has one",
        ),
        Channel::Indicator => (
            fitted.indicator,
            "it has no indicator; use a gauge that has one",
        ),
    };
    if there {
        Ok(())
    } else {
        Err(refused(session, missing))
    }
}

/// Gauge and calibration belong together in the book; a load cell's overloads lie before a newer calibration made the day
/// they were seen or later. How many still count.
fn enter_gauge(
    session: &mut Session,
    before: Option<&CalibrationRecord>,
    record: &CalibrationRecord,
    writer: &mut BookWriter,
) -> Result<usize, Error> {
    if record.channel != Channel::Force {
        let indicator = gauge_entry::indicator(session, record, false, writer)?;
        writer.gauge_has(indicator, record)?;
        return Ok(0);
    }
    let gauge = gauge_entry::force_gauge(session, record, false, writer)?;
    writer.gauge_has(gauge, record)?;
    let newer = before.is_none_or(|before| before.date_days < record.date_days);
    let known = writer.note_overloads(gauge, &session.overloads()?, newer.then_some(record))?;
    Ok(overloads::since(&known, record).count())
}

fn stay_counted(overloads: usize) -> String {
    let (stays, was) = match overloads {
        1 => ("1 overload stays".to_owned(), "it was"),
        more => (format!("{more} overloads stay"), "they were"),
    };
    format!(
        "{stays} counted: this calibration is older than the day {was} first seen, or not newer than the one before. \
         The gauge gives no acceptance: calibrate it again, or have it checked."
    )
}

/// What became of it, for the person.
pub(crate) fn words(written: Option<&Written>) -> String {
    match written {
        None => "Nothing was written: name the gauge with --gauge PORT to write it.".to_owned(),
        Some(written) if written.already => format!(
            "The gauge {} carries this very calibration already; it is in the book {}.",
            written.serial, written.book
        ),
        Some(written) => format!(
            "Written into the gauge {} on {} and read back; kept in the book {}.",
            written.serial, written.port, written.book
        ),
    }
}

fn comparison(before: Option<&CalibrationRecord>, after: &CalibrationRecord, app: &App) -> String {
    let before = before.map_or_else(
        || "no calibration".to_owned(),
        |record| calibration_words(record, app).replace('\n', "\n        "),
    );
    let after = calibration_words(after, app).replace('\n', "\n        ");
    format!("before  {before}\nafter   {after}")
}

/// One name never stands for two calibrations.
fn require_other_name(
    session: &Session,
    before: &CalibrationRecord,
    record: &CalibrationRecord,
) -> Result<(), Error> {
    if before.id != record.id || before == record {
        return Ok(());
    }
    Err(Error::gauge(format!(
        "{}: the gauge carries a calibration {} with other content; one of the two is damaged. \
         Leave the id out of the certificate, and nothing in the gauge is lost",
        session.port(),
        id_text(record)
    )))
}

/// An older certificate, or one that reads quite otherwise, is asked about.
fn require_sense(
    before: &CalibrationRecord,
    record: &CalibrationRecord,
    app: &mut App,
    ask: Ask<'_>,
) -> Result<(), Error> {
    for doubt in doubts(before, record) {
        settle(doubt, app, ask)?;
    }
    Ok(())
}

fn settle(doubt: String, app: &mut App, ask: Ask<'_>) -> Result<(), Error> {
    if app.yes {
        app.console.say(&doubt);
        return Ok(());
    }
    let question = format!("{doubt} Write it all the same?");
    if ask(app, &question)? == Some(true) {
        return Ok(());
    }
    Err(Error::usage(format!(
        "{doubt} Nothing was written. If it is right, add --yes"
    )))
}

fn doubts(before: &CalibrationRecord, record: &CalibrationRecord) -> Vec<String> {
    let mut doubts = Vec::new();
    if record.date_days < before.date_days {
        doubts.push(format!(
            "The gauge carries a newer calibration, of {}; this one is of {}.",
            times::day(before.date_days),
            times::day(record.date_days)
        ));
    }
    let force = |record: &CalibrationRecord, counts: i32| {
        quantity(record, record.zero_counts.saturating_add(counts))
    };
    let counts = 100_000;
    let unit = match record.channel {
        Channel::Force => "are its forces in N",
        Channel::Displacement | Channel::Indicator => "are its lengths in µm",
    };
    let change = 100.0 * (force(record, counts) / force(before, counts) - 1.0);
    if change.is_nan() || change.abs() > DOUBTFUL_CHANGE_PERCENT {
        doubts.push(format!(
            "The same counts would read {change:+.0} % against the calibration before: is it the certificate of this gauge, and {unit}?"
        ));
    }
    doubts.extend(wider(before, record));
    doubts
}

/// More load allowed than before, or much less known: both take guards away without anybody noticing.
fn wider(before: &CalibrationRecord, record: &CalibrationRecord) -> Vec<String> {
    let (unit, rated) = match record.channel {
        Channel::Force => ("N", "rated load"),
        Channel::Displacement | Channel::Indicator => ("µm", "travel"),
    };
    let mut doubts = Vec::new();
    if before.rated > 0.0 && record.rated > before.rated {
        doubts.push(format!(
            "The {rated} rises from {} to {} {unit}: is that what the plate of the gauge says?",
            before.rated, record.rated
        ));
    }
    let expanded =
        |of: &CalibrationRecord| (of.expanded_relative * record.span[1]).hypot(of.expanded_fixed);
    let (was, is) = (expanded(before), expanded(record));
    if was > 0.0 && is > DOUBTFUL_GROWTH * was {
        doubts.push(format!(
            "The uncertainty U at {:.0} {unit} grows from {was:.2} to {is:.2} {unit}, to {:.0} times what it was: does every \
             reading belong to its load?",
            record.span[1],
            is / was
        ));
    }
    doubts
}

fn refused(session: &Session, reason: &str) -> Error {
    Error::gauge(format!(
        "{}: the gauge will not store a calibration: {reason}",
        session.port()
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use holdtrue_gauge::calibration::sample::record;

    #[test]
    fn an_older_certificate_and_another_gauges_are_doubted_a_newer_one_is_not() {
        let before = record();
        let mut after = record();
        after.date_days = 101;
        after.coefficients[1] = 0.0102;
        assert!(doubts(&before, &after).is_empty());
        after.date_days = 99;
        assert!(doubts(&before, &after)[0].contains("newer"));
        after.coefficients[1] = 0.000_01;
        assert!(doubts(&before, &after)[1].contains("-100 %"));
    }

    #[test]
    fn a_rated_load_that_rises_and_an_uncertainty_that_grows_are_doubted() {
        let before = record();
        let mut after = record();
        after.rated = 15_000.0;
        after.expanded_relative = 0.014;
        assert!(doubts(&before, &after).is_empty());
        after.rated = 200_000.0;
        assert!(doubts(&before, &after)[0].contains("from 20000 to 200000 N"));
        after.rated = 20_000.0;
        after.expanded_relative = 0.02;
        assert!(doubts(&before, &after)[0].contains("from 100.00 to 400.00 N"));
    }
}
