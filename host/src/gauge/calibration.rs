//! In: a gauge's calibration record and today's date. Out: newtons from counts, and whether the calibration may decide.

use holdtrue_protocol::message::{CalibrationRecord, Channel};

/// Whether a calibration may carry a verdict.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standing {
    /// In date.
    InForce,
    /// Its due date has passed.
    Lapsed,
    /// Its date lies in the future: this computer's clock or the record is wrong.
    NotYet,
}

/// Quantity of `counts`, in the record's unit: Σ coefficientₖ · (counts − zero)ᵏ.
pub fn quantity(record: &CalibrationRecord, counts: i32) -> f64 {
    let x = f64::from(counts) - f64::from(record.zero_counts);
    let [a, b, c, d] = record.coefficients;
    a + x * (b + x * (c + x * d))
}

/// How the record stands on a day, counted from 1970-01-01.
pub fn standing(record: &CalibrationRecord, today_days: i32) -> Standing {
    if today_days < record.date_days {
        Standing::NotYet
    } else if today_days > record.due_days {
        Standing::Lapsed
    } else {
        Standing::InForce
    }
}

/// A day, counted from 1970-01-01, as people and the book write it.
pub fn day_text(days: i32) -> String {
    use jiff::ToSpan;
    jiff::civil::date(1970, 1, 1)
        .checked_add(days.days())
        .map_or_else(|_| format!("day {days}"), |date| date.to_string())
}

/// The record's name as people read it: a UUID.
pub fn id_text(record: &CalibrationRecord) -> String {
    uuid::Uuid::from_bytes(record.id).to_string()
}

/// The channel's word in the book.
pub fn channel_word(channel: Channel) -> &'static str {
    match channel {
        Channel::Force => "force",
        Channel::Displacement => "displacement",
        Channel::Indicator => "indicator",
    }
}

/// What a check names the record by it was computed with.
pub fn sha256(record: &CalibrationRecord) -> String {
    holdtrue_book::sha256_hex(&to_bytes(record))
}

/// The record as the wire carries it and the book keeps it.
pub fn to_bytes(record: &CalibrationRecord) -> Vec<u8> {
    let mut buffer = [0; CalibrationRecord::MAX_ENCODED];
    record
        .encode(&mut buffer)
        .expect("MAX_ENCODED bytes hold any record")
        .to_vec()
}

/// A calibration for the tests of this crate.
#[cfg(test)]
pub(crate) mod sample {
    use super::*;

    /// 0.01 N a count up to 20 kN, made on day 100 and good for a year.
    pub(crate) fn record() -> CalibrationRecord {
        CalibrationRecord {
            id: [1; 16],
            channel: Channel::Force,
            coefficients: [0.0, 0.01, 0.0, 0.0],
            zero_counts: 0,
            expanded_relative: 0.005,
            expanded_fixed: 0.0,
            span: [0.0, 20_000.0],
            rated: 20_000.0,
            temperature_c: 20.0,
            date_days: 100,
            due_days: 465,
            certificate: "TP-C1".try_into().unwrap(),
            laboratory: "Tern Point".try_into().unwrap(),
        }
    }
}
