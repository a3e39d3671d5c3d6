//! Whether positions said to be of a whole turn are of a part of one. In: the readings of a stepped plane. Out: what the whole
//! turn would spread over, where a part of it explains them far better.
//!
//! Half a turn divided into eight reads as half a swing, with a jump or a kink between the last position and the first. A
//! reading back at position 1 shows it; without one the curve does. An ovality of just that size and direction looks the same.
//! Common practice, no source.

use super::harmonics::{self, Turn, count};
use super::noise;
use super::record::{Readings, Stop};
use super::stepped;

/// Parts of a turn that are tried: from so much of it, in so many steps of so much.
const LEAST_PART: f64 = 0.3;
const STEP: f64 = 0.05;
const STEPS: u32 = 11;
/// A part leaves of the readings at most this share of what a whole turn leaves, in squares.
const BETTER: f64 = 0.25;
/// Fewest readings that tell a part from a whole.
const FEWEST: usize = 6;

/// What the whole turn would spread over, µm; none where a whole turn explains the readings.
///
/// A reading back at position 1 is one more position of a part, and of a whole turn the first one again, off by a drift.
pub fn whole_um(readings: &Readings, step_um: Option<f64>) -> Option<f64> {
    let Readings::Stepped(stops) = readings else {
        return None;
    };
    let closed = stepped::is_closed(stops);
    if stops.len() < FEWEST + usize::from(closed) {
        return None;
    }
    let mut rows: Vec<Stop> = stops.clone();
    if closed && let Some(last) = rows.last_mut().filter(|last| last.angle_deg < 180.0) {
        last.angle_deg += 360.0;
    }
    rows.sort_by(|a, b| a.angle_deg.total_cmp(&b.angle_deg));
    let readings_um: Vec<f64> = rows.iter().map(|stop| stop.reading_um).collect();
    let step_um = step_um.unwrap_or_else(|| noise::step_um(&readings_um));
    let rounding_um2 = step_um.powi(2) / 12.0 * count(rows.len() - 3);
    let (whole_um2, _) = as_part(&rows, &readings_um, 1.0, closed)?;
    let parts = (0..STEPS).map(|step| LEAST_PART + STEP * f64::from(step));
    let (left_um2, amplitude_um) = parts
        .filter_map(|part| as_part(&rows, &readings_um, part, false))
        .min_by(|a, b| a.0.total_cmp(&b.0))?;
    let better = left_um2 + rounding_um2 < BETTER * (whole_um2 + rounding_um2);
    better.then_some(2.0 * amplitude_um)
}

/// What one swing a turn leaves of the readings, in squares, and how long it is, if they are of this part of a turn; with
/// a drift as they were taken, where one is known.
fn as_part(rows: &[Stop], readings_um: &[f64], part: f64, drifts: bool) -> Option<(f64, f64)> {
    let angles_deg: Vec<f64> = rows.iter().map(|stop| part * stop.angle_deg).collect();
    let order: Vec<f64> = (0..rows.len()).map(count).collect();
    let turn = Turn {
        angles_deg: &angles_deg,
        readings_um,
        times_s: drifts.then_some(&order),
    };
    let fit = harmonics::fit_order(&turn, 1)?;
    Some((fit.residual_squares_um2, fit.eccentricity().norm()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(positions: u32, reading: impl Fn(f64) -> f64) -> Readings {
        let angle = |i: u32| 360.0 * f64::from(i) / f64::from(positions);
        let stop = |i: u32| Stop {
            angle_deg: angle(i),
            reading_um: (10.0 * reading(angle(i))).round() / 10.0,
        };
        Readings::Stepped((0..positions).map(stop).collect())
    }

    #[test]
    fn a_part_of_a_turn_is_told_from_a_whole_one() {
        for positions in [8, 12, 16] {
            for from in (0..360).step_by(20).map(f64::from) {
                let swing = |turned: f64| 10.0 * (turned - from).to_radians().cos();
                assert_eq!(whole_um(&read(positions, swing), None), None, "{from}");
                for part in [0.5, 0.7] {
                    let um = whole_um(&read(positions, |a| swing(part * a)), None);
                    let um = um.unwrap_or_default();
                    assert!(um > 14.0, "{positions} {part} {from}: {um}");
                }
            }
        }
    }

    fn with_return(positions: u32, part: f64, reading: impl Fn(f64) -> f64) -> Readings {
        let mut read = read(positions, |a| reading(part * a));
        if let Readings::Stepped(stops) = &mut read {
            stops.push(Stop {
                angle_deg: 360.0,
                reading_um: (10.0 * reading(part * 360.0)).round() / 10.0,
            });
        }
        read
    }

    #[test]
    fn a_part_of_a_turn_is_told_from_a_whole_one_that_drifts() {
        for positions in [8, 12, 24, 36] {
            for from in (0..360).step_by(20).map(f64::from) {
                let swing = |turned: f64| 10.0 * (turned - from).to_radians().cos();
                for drift_um in [0.0, 3.0, -8.0] {
                    let drifts = |a: f64| swing(a) + drift_um * a / 360.0;
                    let whole = with_return(positions, 1.0, drifts);
                    assert_eq!(whole_um(&whole, None), None, "{from} {drift_um}");
                }
                let um = whole_um(&with_return(positions, 0.5, swing), None);
                let um = um.unwrap_or_default();
                assert!(um > 14.0, "{positions} {from}: {um}");
            }
        }
    }

    #[test]
    fn an_oval_spindle_and_a_still_one_are_of_a_whole_turn() {
        for from in (0..360).step_by(10).map(f64::from) {
            let oval = |a: f64| 8.0 * a.to_radians().cos() + (2.0 * a - from).to_radians().cos();
            assert_eq!(whole_um(&read(8, oval), None), None, "{from}");
            assert_eq!(whole_um(&with_return(8, 1.0, oval), None), None, "{from}");
        }
        assert_eq!(whole_um(&read(8, |_| 0.0), None), None);
    }
}
