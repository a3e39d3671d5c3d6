//! Calibration records go in, checked; the newest valid one of a channel comes out, and the counts beyond which its
//! rated load is exceeded.

use holdtrue_protocol::message::{Binding, BoundRecord, CalibrationRecord, Channel, Converter};

use crate::flash::Flash;
use crate::store::{self, Payload, Record};

const _: () = assert!(CalibrationRecord::MAX_ENCODED <= store::MAX_PAYLOAD);

/// Where a channel's calibration lives.
#[must_use]
pub const fn record_of(channel: Channel) -> Record {
    match channel {
        Channel::Force => Record::ForceCalibration,
        Channel::Displacement => Record::DisplacementCalibration,
        Channel::Indicator => Record::IndicatorCalibration,
    }
}

/// The newest valid calibration of a channel; `None` if there is none, or the memory fails.
pub fn read<F: Flash>(flash: &mut F, channel: Channel) -> Option<CalibrationRecord> {
    read_bound(flash, channel).map(|(record, _)| record)
}

/// The same with what it was made on; none of a record that was stored without.
pub fn read_bound<F: Flash>(
    flash: &mut F,
    channel: Channel,
) -> Option<(CalibrationRecord, Option<Binding>)> {
    let payload = store::newest(flash, record_of(channel)).ok()??;
    let (record, rest): (CalibrationRecord, _) = postcard::take_from_bytes(&payload).ok()?;
    let made_on = match rest {
        [] => None,
        rest => Some(postcard::from_bytes(rest).ok()?),
    };
    (record.channel == channel).then_some((record, made_on))
}

/// The bytes to store, if the record does not contradict itself.
#[must_use]
pub fn payload_of(record: &CalibrationRecord) -> Option<Payload> {
    encoded(record, record)
}

/// The same of a record with what it was made on: the record's bytes, then the binding's.
#[must_use]
pub fn payload_of_bound(bound: &BoundRecord) -> Option<Payload> {
    encoded(&bound.record, bound)
}

/// Whether a binding can be that of a record of this channel: only a load cell has a converter.
#[must_use]
pub fn belongs(bound: &BoundRecord, converter: Option<&Converter>) -> bool {
    bound.record.channel == Channel::Force && converter == Some(&bound.made_on.converter)
}

fn encoded(record: &CalibrationRecord, whole: &impl serde::Serialize) -> Option<Payload> {
    if !is_sound(record) {
        return None;
    }
    let mut bytes = [0; store::MAX_PAYLOAD];
    let encoded = postcard::to_slice(whole, &mut bytes).ok()?;
    Payload::from_slice(encoded).ok()
}

/// 2199-12-31, counted from 1970-01-01: the last day a record may name; the first is day 0.
const LAST_DAY: i32 = 84_005;
/// Nobody calibrates so badly: expanded uncertainty in parts of the reading.
const TOO_UNCERTAIN: f64 = 0.2;
/// Where somebody calibrates, degrees Celsius.
const TEMPERATURE_C: [f64; 2] = [-20.0, 60.0];

/// Every number finite; span, rated load and dates in their order, and the dates of this age; an uncertainty that is one;
/// a quantity that rises with the counts and reaches the end of the span within the converter's range; texts without
/// control characters. The host holds a record to more.
#[must_use]
pub fn is_sound(record: &CalibrationRecord) -> bool {
    let [lower, upper] = record.span;
    let numbers = [
        record.expanded_relative,
        record.expanded_fixed,
        lower,
        upper,
        record.rated,
        f64::from(record.temperature_c),
    ];
    let finite = numbers
        .iter()
        .chain(&record.coefficients)
        .all(|number| number.is_finite());
    let known = [record.expanded_relative, record.expanded_fixed];
    let texts = [&record.certificate, &record.laboratory];
    let [coldest, warmest] = TEMPERATURE_C;
    finite
        && lower < upper
        && record.rated >= lower.abs().max(upper.abs())
        && known.iter().all(|part| *part >= 0.0)
        && known.iter().any(|part| *part > 0.0)
        && record.expanded_relative < TOO_UNCERTAIN
        && (coldest..=warmest).contains(&f64::from(record.temperature_c))
        && (0..record.due_days).contains(&record.date_days)
        && record.due_days <= LAST_DAY
        && record.coefficients[1] > 0.0
        && (record.channel != Channel::Force || reaches(record, upper))
        && texts.iter().all(|text| !text.chars().any(char::is_control))
}

/// Whether the converter's range goes as far as a force.
fn reaches(record: &CalibrationRecord, force: f64) -> bool {
    let highest = f64::from(0x7f_ffff_i32) - f64::from(record.zero_counts);
    record.coefficients[1] * highest >= force
}

/// The quantity at a reading, by the record's polynomial.
#[must_use]
pub fn quantity(record: &CalibrationRecord, counts: i32) -> f64 {
    let c = f64::from(counts) - f64::from(record.zero_counts);
    record
        .coefficients
        .iter()
        .rev()
        .fold(0.0, |sum, coefficient| sum * c + coefficient)
}

/// Lowest and highest counts not beyond the rated load.
#[must_use]
pub fn rated_counts(record: &CalibrationRecord) -> (i32, i32) {
    (last_within(record, -1), last_within(record, 1))
}

/// Goes from zero load in one direction, halving the step, as far as the rated load is kept.
fn last_within(record: &CalibrationRecord, direction: i32) -> i32 {
    let mut reach = 0_i32;
    for bit in (0..24).rev() {
        let farther = reach | 1 << bit;
        let counts = record.zero_counts.saturating_add(direction * farther);
        if quantity(record, counts).abs() <= record.rated {
            reach = farther;
        }
    }
    record.zero_counts.saturating_add(direction * reach)
}

#[cfg(test)]
mod tests {
    use heapless::String;
    use proptest::prelude::*;

    use super::*;

    /// 25 kN at 25 400 counts per kilonewton, a little bent.
    fn cell() -> CalibrationRecord {
        CalibrationRecord {
            id: [7; 16],
            channel: Channel::Force,
            coefficients: [0.0, 0.039_37, 1e-12, 0.0],
            zero_counts: -12_000,
            expanded_relative: 0.005,
            expanded_fixed: 10.0,
            span: [500.0, 20_000.0],
            rated: 25_000.0,
            temperature_c: 21.5,
            date_days: 20_000,
            due_days: 20_365,
            certificate: String::try_from("TP-2024-117").unwrap(),
            laboratory: String::try_from("Tern Point").unwrap(),
        }
    }

    #[test]
    fn a_sound_record_comes_back_as_stored() {
        let payload = payload_of(&cell()).unwrap();
        assert!(payload.len() <= CalibrationRecord::MAX_ENCODED);
        let back: CalibrationRecord = postcard::from_bytes(&payload).unwrap();
        assert_eq!(back, cell());
    }

    #[test]
    fn the_longest_record_fits() {
        let longest = CalibrationRecord {
            id: [255; 16],
            zero_counts: i32::MIN,
            date_days: i32::MIN,
            due_days: i32::MAX,
            certificate: String::try_from("12345678901234567890123456789012").unwrap(),
            laboratory: String::try_from("12345678901234567890123456789012").unwrap(),
            ..cell()
        };
        let mut bytes = [0; CalibrationRecord::MAX_ENCODED];
        assert!(postcard::to_slice(&longest, &mut bytes).is_ok());
    }

    #[test]
    fn records_that_contradict_themselves_are_refused() {
        let spoilt: [fn(&mut CalibrationRecord); 18] = [
            |record| record.coefficients[1] = f64::NAN,
            |record| record.coefficients = [5.0, 0.0, 0.0, 0.0],
            |record| record.rated = f64::INFINITY,
            |record| record.rated = 19_999.0,
            |record| record.span = [20_000.0, 500.0],
            |record| record.expanded_relative = -0.001,
            |record| record.expanded_fixed = f64::NAN,
            |record| record.due_days = record.date_days - 1,
            |record| record.due_days = record.date_days,
            |record| record.due_days = i32::MAX,
            |record| record.date_days = i32::MIN,
            |record| (record.expanded_relative, record.expanded_fixed) = (0.0, 0.0),
            |record| record.expanded_relative = 0.5,
            |record| record.coefficients[1] = -0.039_37,
            |record| record.coefficients[1] = 1e-6,
            |record| record.temperature_c = 300.0,
            |record| record.laboratory = String::try_from("\u{1b}[2J").unwrap(),
            |record| record.temperature_c = f32::NAN,
        ];
        for (number, spoil) in spoilt.into_iter().enumerate() {
            let mut record = cell();
            spoil(&mut record);
            assert_eq!(payload_of(&record), None, "case {number}");
        }
    }

    #[test]
    fn the_rated_load_is_exceeded_one_count_beyond_the_limits() {
        let (lowest, highest) = rated_counts(&cell());
        for (within, beyond) in [(highest, highest + 1), (lowest, lowest - 1)] {
            assert!(quantity(&cell(), within).abs() <= 25_000.0);
            assert!(quantity(&cell(), beyond).abs() > 25_000.0);
        }
    }

    #[test]
    fn a_range_that_never_reaches_the_rated_load_has_no_overload() {
        let strong = CalibrationRecord {
            rated: 1e9,
            ..cell()
        };
        let (lowest, highest) = rated_counts(&strong);
        assert!(
            lowest <= -0x80_0000 && highest >= 0x7f_ffff,
            "{lowest} {highest}"
        );
    }

    proptest! {
        #[test]
        fn limits_lie_on_both_sides_of_zero_load_whatever_the_slope(
            slope in prop_oneof![-1.0_f64..-1e-4, 1e-4_f64..1.0], zero in -2_000_000..2_000_000_i32, rated in 1e3_f64..1e5,
        ) {
            let record = CalibrationRecord {
                coefficients: [0.0, slope, 0.0, 0.0],
                zero_counts: zero,
                rated,
                span: [0.0, rated],
                ..cell()
            };
            let (lowest, highest) = rated_counts(&record);
            prop_assert!(lowest <= zero && zero <= highest);
            prop_assert!(quantity(&record, lowest).abs() <= rated && quantity(&record, highest).abs() <= rated);
        }
    }
}
