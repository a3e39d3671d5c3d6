//! Calibration records go in, checked; the newest valid one of a channel comes out, and the counts beyond which its
//! rated load is exceeded.

use holdtrue_protocol::message::{CalibrationRecord, Channel};

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
    let payload = store::newest(flash, record_of(channel)).ok()??;
    let record: CalibrationRecord = postcard::from_bytes(&payload).ok()?;
    (record.channel == channel).then_some(record)
}

/// The bytes to store, if the record does not contradict itself.
#[must_use]
pub fn payload_of(record: &CalibrationRecord) -> Option<Payload> {
    if !is_sound(record) {
        return None;
    }
    let mut bytes = [0; CalibrationRecord::MAX_ENCODED];
    let encoded = postcard::to_slice(record, &mut bytes).ok()?;
    Payload::from_slice(encoded).ok()
}

/// Every number finite; span, rated load and dates in their order; uncertainties not negative; a slope at all.
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
    finite
        && lower < upper
        && record.rated >= lower.abs().max(upper.abs())
        && record.expanded_relative >= 0.0
        && record.expanded_fixed >= 0.0
        && record.due_days >= record.date_days
        && record.coefficients.iter().skip(1).any(|c| c.abs() > 0.0)
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
