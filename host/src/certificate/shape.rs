//! In: a calibration record. Out: whether its force rises with the counts as far as its span goes.

use super::{Contradiction, refuse};
use crate::gauge::calibration::quantity;
use holdtrue_protocol::message::CalibrationRecord;

/// The converter's highest reading.
const HIGHEST_COUNTS: i32 = (1 << 23) - 1;
/// Places between no load and the upper end of the span where the rise is looked at.
const PLACES: i32 = 64;

/// A pull has to raise the counts, all the way up to the end of the span.
pub(super) fn require_rising(record: &CalibrationRecord) -> Result<(), Contradiction> {
    let next = "The signal wires are swapped, or the sign of a coefficient is: put it right and calibrate again.";
    let [_, high] = record.span;
    let rise = record.coefficients[1];
    if rise <= 0.0 {
        let found = format!("{rise} N for each count");
        return refuse(
            "coefficients",
            found,
            "a force that rises with the counts",
            next,
        );
    }
    let Some(end) = counts_at(record, high) else {
        let found = format!(
            "{} N at the converter's highest reading",
            quantity(record, HIGHEST_COUNTS)
        );
        let next = "Are the coefficients in N for each count, and the span in N?";
        return refuse(
            "coefficients",
            found,
            "a force that reaches the end of the span",
            next,
        );
    };
    let step = ((end - record.zero_counts) / PLACES).max(1);
    let forces: Vec<f64> = (0..=PLACES)
        .map(|i| quantity(record, record.zero_counts.saturating_add(i * step)))
        .collect();
    match forces.windows(2).find(|pair| pair[1] <= pair[0]) {
        Some(pair) => {
            let found = format!("a force that falls after {:.0} N", pair[0]);
            refuse(
                "coefficients",
                found,
                "a force that rises over the whole span",
                next,
            )
        }
        None => Ok(()),
    }
}

/// The lowest counts found to give a force, of a curve that rises; `None` if the converter does not reach it.
pub fn counts_at(record: &CalibrationRecord, force_n: f64) -> Option<i32> {
    let (mut below, mut above) = (record.zero_counts.min(HIGHEST_COUNTS), HIGHEST_COUNTS);
    if quantity(record, above) < force_n {
        return None;
    }
    while above - below > 1 {
        let middle = below + (above - below) / 2;
        if quantity(record, middle) < force_n {
            below = middle;
        } else {
            above = middle;
        }
    }
    Some(above)
}
