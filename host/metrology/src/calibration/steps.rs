//! Readings and the resolution stated for them in; the one they were really read with out.

use super::Point;

/// Fewer different readings may all be multiples of a number by chance.
const FEWEST: usize = 8;
/// So near to a whole number of steps a reading is one.
const WHOLE: f64 = 1e-3;
/// Above it a whole number is not told from its neighbours.
const MOST_STEPS: f64 = 1e12;

/// The smallest step of the readings, counts: as stated, or a wider one of which they all are whole multiples.
pub(super) fn resolution_counts(points: &[Point], stated: f64) -> f64 {
    let mut steps = Vec::new();
    for point in points {
        let exact = point.reading_counts / stated;
        let whole = exact.round();
        if (exact - whole).abs() > WHOLE || whole.abs() > MOST_STEPS {
            return stated;
        }
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "no more than a million million, and no sign"
        )]
        steps.push(whole.abs() as u64);
    }
    steps.sort_unstable();
    steps.dedup();
    if steps.len() < FEWEST {
        return stated;
    }
    let common = steps.into_iter().fold(0, greatest_common_divisor);
    stated * (common.max(1) as f64)
}

fn greatest_common_divisor(a: u64, b: u64) -> u64 {
    if b == 0 {
        a
    } else {
        greatest_common_divisor(b, a % b)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calibration::Direction;

    fn read(counts: &[f64], stated: f64) -> f64 {
        let point = |&reading_counts: &f64| Point {
            run: 1,
            direction: Direction::Up,
            load_n: 0.0,
            reading_counts,
            position_deg: None,
        };
        let points: Vec<Point> = counts.iter().map(point).collect();
        resolution_counts(&points, stated)
    }

    #[test]
    fn a_step_wider_than_stated_is_found() {
        let by = |step: f64| -> Vec<f64> {
            let counts = [0.0, 3.0, 8.0, 11.0, 17.0, 20.0, 26.0, 31.0, -2.0];
            counts.iter().map(|count| count * step).collect()
        };
        assert!((read(&by(500.0), 1.0) - 500.0).abs() < 1e-9);
        assert!((read(&by(1.0), 1.0) - 1.0).abs() < 1e-9);
        assert!((read(&by(0.02), 0.01) - 0.02).abs() < 1e-9);
        // Means of several readings lie between the steps.
        assert!((read(&by(0.7), 1.0) - 1.0).abs() < 1e-9);
        assert!((read(&by(500.0)[..5], 1.0) - 1.0).abs() < 1e-9);
    }
}
