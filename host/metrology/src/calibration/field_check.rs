//! Readings of a check standard (or of the shunt) at calibration and since in; whether the gauge still
//! reads as it did out.

use crate::special::t_quantile;
use crate::statistics::{mean, stdev};
use serde::{Deserialize, Serialize};

/// A field check against the history.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct FieldCheck {
    /// Reading now less the mean of the baseline, in the unit of the readings.
    pub change: f64,
    /// The same, % of the baseline's mean.
    pub change_percent: f64,
    /// How far a reading may be off without meaning anything.
    pub bound: f64,
    /// Whether it is within the bound.
    pub in_control: bool,
}

/// Compares a reading with those of the baseline: out of control beyond t₀.₉₉₅(n − 1)·s·√(1 + 1/n), but
/// not within `least_bound` (resolution, temperature), which a quiet baseline would undercut.
///
/// `None` below three baseline readings. Source: NIST/SEMATECH e-Handbook, section 2.1.2 (check
/// standards), with the prediction interval of section 4.5.1.2.
pub fn field_check(baseline: &[f64], reading: f64, least_bound: f64) -> Option<FieldCheck> {
    let n = baseline.len() as f64;
    if baseline.len() < 3 || !reading.is_finite() {
        return None;
    }
    let centre = mean(baseline);
    let scatter = t_quantile(0.995, n - 1.0) * stdev(baseline) * (1.0 + 1.0 / n).sqrt();
    let bound = scatter.max(least_bound);
    let change = reading - centre;
    Some(FieldCheck {
        change,
        change_percent: 100.0 * change / centre.abs(),
        bound,
        in_control: change.abs() <= bound,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const BASELINE: [f64; 5] = [5_000.0, 5_004.0, 4_997.0, 5_002.0, 4_999.0];

    #[test]
    fn a_gauge_that_reads_as_before_is_in_control_and_one_that_moved_is_not() {
        assert!(field_check(&BASELINE, 5_005.0, 1.0).unwrap().in_control);
        let moved = field_check(&BASELINE, 5_100.0, 1.0).unwrap();
        assert!(!moved.in_control && (moved.change_percent - 1.99).abs() < 0.01);
    }

    #[test]
    fn a_quiet_baseline_does_not_make_the_resolution_an_alarm() {
        assert!(field_check(&[5_000.0; 5], 5_001.0, 2.0).unwrap().in_control);
        assert!(!field_check(&[5_000.0; 5], 5_003.0, 2.0).unwrap().in_control);
        assert!(field_check(&[5_000.0; 2], 5_001.0, 2.0).is_none());
    }
}
