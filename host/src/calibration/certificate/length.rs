//! The certificate of an indicator or a probe. In: what is known of it, in µm. Out: the record the gauge stores, or the one
//! thing that contradicts another.

use crate::calibration::certificate::{Contradiction, Draft, days, refuse, temperature, text};
use holdtrue_protocol::message::{CalibrationRecord, Channel};

/// What only the certificate of an indicator has; every part may still be missing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Length {
    /// [`Channel::Indicator`], or [`Channel::Displacement`] for the gauge's own probe.
    pub channel: Channel,
    /// Lowest and highest calibrated reading, µm.
    pub span_um: Option<[f64; 2]>,
    /// Whole travel of the plunger, µm.
    pub travel_um: Option<f64>,
    /// Expanded uncertainty (k = 2), errors that are not corrected included, µm.
    pub expanded_um: Option<f64>,
    /// Travel of the probe for one count, µm, where the gauge tells it.
    pub um_per_count: Option<f64>,
}

/// Makes the record; its name is still missing.
pub(crate) fn record(draft: &Draft, length: &Length) -> Result<CalibrationRecord, Contradiction> {
    let (date_days, due_days) = days(draft)?;
    let span = span(length)?;
    Ok(CalibrationRecord {
        id: [0; 16],
        channel: length.channel,
        coefficients: coefficients(draft, length)?,
        zero_counts: draft.zero_counts,
        expanded_relative: draft.expanded_percent.unwrap_or(0.0) / 100.0,
        expanded_fixed: length.expanded_um.unwrap_or(0.0),
        span,
        rated: travel(length, span),
        temperature_c: temperature(draft),
        date_days,
        due_days,
        certificate: text("certificate", draft.certificate.as_deref())?,
        laboratory: text("laboratory", draft.laboratory.as_deref())?,
    })
}

fn span(length: &Length) -> Result<[f64; 2], Contradiction> {
    let next = "Enter the lowest and the highest reading that was compared, in µm.";
    length.span_um.map_or_else(
        || refuse("span_um", "nothing", "two readings in µm", next),
        Ok,
    )
}

/// The whole travel; without it, as far as the calibration goes.
fn travel(length: &Length, [low, high]: [f64; 2]) -> f64 {
    length.travel_um.unwrap_or(low.abs().max(high.abs()))
}

/// µm from what is shown or counted: what the certificate states, else what the sensor is built for.
fn coefficients(draft: &Draft, length: &Length) -> Result<[f64; 4], Contradiction> {
    let built_for = match length.channel {
        Channel::Indicator => Some(1.0),
        _ => length.um_per_count,
    };
    let given = &draft.coefficients;
    let expected = "2 to 4 numbers, constant first";
    if !draft.points.is_empty() {
        let next = "Points are for a force gauge: leave them out and enter the uncertainty.";
        return refuse("point", "points", "none for an indicator", next);
    }
    match (built_for, given.len()) {
        (Some(step), 0) => Ok([0.0, step, 0.0, 0.0]),
        (None, 0) => refuse(
            "coefficients",
            "nothing",
            expected,
            "Name the gauge with --gauge: it knows its probe. Or enter 0 and µm for each count.",
        ),
        (_, 2..=4) => {
            let mut all = [0.0; 4];
            all[..given.len()].copy_from_slice(given);
            Ok(all)
        }
        _ => refuse(
            "coefficients",
            format!("{given:?}"),
            expected,
            "Enter µm, µm for each count or µm shown … (0 for a constant that is none).",
        ),
    }
}
