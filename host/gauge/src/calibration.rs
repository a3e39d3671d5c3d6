//! In: a gauge's calibration record and today's date. Out: newtons from counts, and whether the calibration may decide.
//!
//! A record is held to one set of rules wherever it comes from: a gauge, a book, a certificate that is entered.

use holdtrue_metrology::calibration::{Sensor, Stated, Unsound};
use holdtrue_protocol::message::{CalibrationRecord, Channel};
use uuid::Uuid;

/// 2199-12-31, counted from 1970-01-01. No calibration lies before the one or is due after the other.
const LAST_DAY: i32 = 84_005;

/// Holds a record to the rules of a certificate.
///
/// # Errors
/// The first part that cannot be.
pub fn require_sound(record: &CalibrationRecord) -> Result<(), Unsound> {
    require_days(record)?;
    stated(record).require_sound()?;
    require_text("certificate", &record.certificate)?;
    require_text("laboratory", &record.laboratory)?;
    if record.id == [0; 16] {
        return Err(Unsound {
            part: "id",
            found: id_text(record),
            expected: "a name of its own",
            next: "Leave the id out: the content names the record.",
        });
    }
    Ok(())
}

/// What a record states, in plain figures.
pub fn stated(record: &CalibrationRecord) -> Stated {
    Stated {
        sensor: match record.channel {
            Channel::Force => Sensor::Force,
            Channel::Displacement => Sensor::Probe,
            Channel::Indicator => Sensor::Indicator,
        },
        coefficients: record.coefficients,
        zero_counts: record.zero_counts,
        expanded_relative: record.expanded_relative,
        expanded_fixed: record.expanded_fixed,
        span: record.span,
        rated: record.rated,
        temperature_c: f64::from(record.temperature_c),
    }
}

fn require_days(record: &CalibrationRecord) -> Result<(), Unsound> {
    for (part, days) in [("date", record.date_days), ("due", record.due_days)] {
        if !(0..=LAST_DAY).contains(&days) {
            return Err(Unsound {
                part,
                found: day_text(days),
                expected: "a day from 1970-01-01 to 2199-12-31",
                next: "Enter the day as it stands on the paper.",
            });
        }
    }
    if record.due_days <= record.date_days {
        return Err(Unsound {
            part: "due",
            found: day_text(record.due_days),
            expected: "a day after that of the calibration",
            next: "Are the two days exchanged?",
        });
    }
    Ok(())
}

fn require_text(part: &'static str, text: &str) -> Result<(), Unsound> {
    if is_printable(text) && !text.trim().is_empty() {
        return Ok(());
    }
    Err(Unsound {
        part,
        found: format!("{text:?}"),
        expected: "1 to 32 bytes of text, no control characters",
        next: "Write it as on the paper, shortened if need be.",
    })
}

/// Whether a text shows as it is: no control characters, nothing that hides or turns round what stands beside it.
pub fn is_printable(text: &str) -> bool {
    let hides = |c: char| matches!(c, '\u{ad}' | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}');
    text.chars().all(|c| !c.is_control() && !hides(c))
}

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
    let epoch = jiff::civil::date(1970, 1, 1);
    jiff::Span::new()
        .try_days(days)
        .and_then(|span| epoch.checked_add(span))
        .map_or_else(
            |_| format!("day {days} counted from 1970-01-01"),
            |date| date.to_string(),
        )
}

/// The record's name as people read it: a UUID.
pub fn id_text(record: &CalibrationRecord) -> String {
    Uuid::from_bytes(record.id).to_string()
}

/// The record's name with its certificate, for messages; whatever the certificate holds shows as it is.
pub fn name(record: &CalibrationRecord) -> String {
    let certificate = record.certificate.escape_debug();
    format!("{} (certificate {certificate})", id_text(record))
}

/// The channel's word.
pub fn channel_word(channel: Channel) -> &'static str {
    match channel {
        Channel::Force => "force",
        Channel::Displacement => "displacement",
        Channel::Indicator => "indicator",
    }
}

/// The record as the wire carries it and the book keeps it.
pub fn to_bytes(record: &CalibrationRecord) -> Vec<u8> {
    let mut buffer = [0; CalibrationRecord::MAX_ENCODED];
    record
        .encode(&mut buffer)
        .expect("MAX_ENCODED bytes hold any record")
        .to_vec()
}

#[cfg(test)]
mod tests {
    use super::sample::record;
    use super::*;

    #[test]
    fn days_texts_and_names_that_cannot_be_are_refused_by_their_part() {
        type Spoil = fn(&mut CalibrationRecord);
        let spoilt: [(&str, Spoil); 9] = [
            ("date", |r| r.date_days = i32::MIN),
            ("date", |r| r.date_days = -1),
            ("due", |r| r.due_days = i32::MAX),
            ("due", |r| r.due_days = LAST_DAY + 1),
            ("due", |r| r.due_days = r.date_days),
            ("certificate", |r| {
                r.certificate = "TP\u{1b}[2J".try_into().unwrap();
            }),
            ("certificate", |r| r.certificate.clear()),
            ("laboratory", |r| {
                r.laboratory = "Point\u{202e}nret".try_into().unwrap();
            }),
            ("id", |r| r.id = [0; 16]),
        ];
        assert_eq!(require_sound(&record()), Ok(()));
        for (part, spoil) in spoilt {
            let mut bad = record();
            spoil(&mut bad);
            let refused = require_sound(&bad).unwrap_err();
            assert_eq!(refused.part, part, "{refused}");
            assert!(is_printable(&refused.to_string()), "{refused}");
        }
    }

    #[test]
    fn any_day_has_a_text() {
        assert_eq!(day_text(LAST_DAY), "2199-12-31");
        for far in [i32::MIN, -8_000_000, 8_000_000, i32::MAX] {
            assert!(day_text(far).contains(&far.to_string()));
        }
    }
}

/// A calibration for tests, of this crate and of those that use it.
#[cfg(any(test, feature = "sample"))]
pub mod sample {
    use super::*;

    /// 0.01 N a count up to 20 kN, made on day 100 and good for a year.
    ///
    /// # Panics
    /// Never: both texts are short enough.
    pub fn record() -> CalibrationRecord {
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
            certificate: "TP-C1".try_into().expect("short enough"),
            laboratory: "Tern Point".try_into().expect("short enough"),
        }
    }
}
