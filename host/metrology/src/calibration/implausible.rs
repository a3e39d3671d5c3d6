//! What in a calibration cannot be right though it can be computed. In: readings under known loads, what is said of the
//! reference. Out: what to ask about, as values.

use super::runs::{Deflection, Run, Runs};
use super::{CalibrationError, Direction, Point};
use crate::doubt::LEAST_N;
use crate::statistics::median;

/// Counts for a newton that differ by more from what the gauge gives elsewhere are a slip of the pen or another load: a
/// usable load cell is straight, comes back and repeats many times better. Common practice, no source.
const APART: f64 = 0.05;
/// The same as a share of the reading at the highest load: near zero a share of the reading says little.
const APART_OF_HIGHEST: f64 = 0.005;
/// A reference that is known no better than this (k = 2, %) calibrates nothing. Common practice, no source.
const POOREST_PERCENT: f64 = 5.0;
/// No laboratory states less (k = 2, %). Common practice, no source.
const BEST_PERCENT: f64 = 0.001;

/// Something to be asked about.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Implausible {
    /// A reading unlike what the gauge gives at other loads and in other runs.
    ReadingApart {
        /// The run.
        run: u32,
        /// Loading or unloading.
        direction: Direction,
        /// The load, N.
        load_n: f64,
        /// The reading, its run's zero taken off, counts.
        counts: f64,
        /// What the others let expect there, counts.
        expected_counts: f64,
    },
    /// All runs have the readings of the first, digit by digit: no gauge repeats so.
    RunsAlike {
        /// How many runs.
        runs: usize,
    },
    /// No load that a drawbar could have.
    LoadsLow {
        /// The highest, N.
        highest_n: f64,
        /// The least that is not asked about, N.
        least_n: f64,
    },
    /// A reference nobody calibrates by.
    Reference {
        /// Its expanded uncertainty (k = 2), %.
        percent: f64,
        /// The least and the most that is not asked about, %.
        between: [f64; 2],
    },
}

/// Everything to be asked about, the loads first.
///
/// # Errors
/// Readings that make no runs.
pub fn implausible(
    points: &[Point],
    reference_percent: Option<f64>,
) -> Result<Vec<Implausible>, CalibrationError> {
    let highest_n = points.iter().map(|point| point.load_n).fold(0.0, f64::max);
    let low = (highest_n < LEAST_N).then_some(Implausible::LoadsLow {
        highest_n,
        least_n: LEAST_N,
    });
    let between = [BEST_PERCENT, POOREST_PERCENT];
    let reference = reference_percent
        .filter(|percent| !(BEST_PERCENT..=POOREST_PERCENT).contains(percent))
        .map(|percent| Implausible::Reference { percent, between });
    let runs = Runs::sort(points)?;
    let apart = reading_apart(&runs);
    let alike = runs_alike(&runs);
    Ok([low, reference, apart, alike]
        .into_iter()
        .flatten()
        .collect())
}

/// Readings that are alike in so many loads are so by no chance.
const ALIKE_FROM: usize = 3;

fn runs_alike(runs: &Runs) -> Option<Implausible> {
    let (first, others) = runs.measuring.split_first()?;
    let alike = |run: &Run| {
        let pairs = run.deflections.iter().zip(&first.deflections);
        run.deflections.len() == first.deflections.len()
            && pairs
                .into_iter()
                .all(|(a, b)| a.counts.total_cmp(&b.counts).is_eq())
    };
    (first.deflections.len() >= ALIKE_FROM && !others.is_empty() && others.iter().all(alike))
        .then_some(Implausible::RunsAlike {
            runs: runs.measuring.len(),
        })
}

/// The reading that lies farthest from what the others let expect, where that is too far.
fn reading_apart(runs: &Runs) -> Option<Implausible> {
    let all = || runs.measuring.iter().flat_map(|run| &run.deflections);
    let per_newton: Vec<f64> = all().map(|one| one.counts / one.load_n).collect();
    if per_newton.is_empty() {
        return None;
    }
    let usual = median(&per_newton);
    let expected = |one: &Deflection| usual * one.load_n;
    let off = |one: &Deflection| (one.counts - expected(one)).abs();
    let highest = all().map(|one| expected(one).abs()).fold(0.0, f64::max);
    let is_too_far = |one: &&Deflection| {
        off(one) > (APART * expected(one).abs()).max(APART_OF_HIGHEST * highest)
    };
    let farthest = all()
        .filter(is_too_far)
        .max_by(|a, b| off(a).total_cmp(&off(b)))?;
    Some(Implausible::ReadingApart {
        run: farthest.run,
        direction: farthest.direction,
        load_n: farthest.load_n,
        counts: farthest.counts,
        expected_counts: expected(farthest),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn points(reading: impl Fn(u32, Direction, f64) -> f64) -> Vec<Point> {
        let ways = [
            (Direction::Up, [0.0, 2e3, 4e3, 6e3]),
            (Direction::Down, [4e3, 2e3, 0.0, 0.0]),
        ];
        let mut points = Vec::new();
        for run in 1..=3 {
            for (direction, loads_n) in ways {
                points.extend(loads_n.map(|load_n| Point {
                    run,
                    direction,
                    load_n,
                    // No two runs are alike to the last digit.
                    reading_counts: 500.0
                        + reading(run, direction, load_n) * (1.0 + 1e-5 * f64::from(run)),
                    position_deg: None,
                }));
            }
        }
        points
    }

    #[test]
    fn a_reading_far_off_is_named_and_a_bent_or_lagging_gauge_is_not() {
        let straight = |_, _, load_n: f64| 10.0 * load_n;
        assert_eq!(implausible(&points(straight), Some(0.1)), Ok(vec![]));
        let bent = |_, direction, load_n: f64| {
            let lag = if direction == Direction::Down {
                1.01
            } else {
                1.0
            };
            10.0 * lag * load_n * (1.0 + load_n / 3e5)
        };
        assert_eq!(implausible(&points(bent), Some(0.1)), Ok(vec![]));
        for share in [0.8, 1.2, -1.0, 0.1] {
            let off = |run, direction, load_n: f64| {
                let here = run == 2 && direction == Direction::Up && load_n > 3e3 && load_n < 5e3;
                10.0 * load_n * if here { share } else { 1.0 }
            };
            let found = implausible(&points(off), None).expect("runs");
            let named = matches!(
                found[..],
                [Implausible::ReadingApart { run: 2, direction: Direction::Up, load_n, .. }]
                    if load_n.total_cmp(&4e3).is_eq()
            );
            assert!(named, "{share}: {found:?}");
        }
    }

    #[test]
    fn runs_that_are_one_run_are_named() {
        let mut copied = points(|_, _, load_n| 10.0 * load_n);
        let each = copied.len() / 3;
        for place in each..copied.len() {
            copied[place].reading_counts = copied[place % each].reading_counts;
        }
        let alike = Implausible::RunsAlike { runs: 3 };
        assert_eq!(implausible(&copied, Some(0.1)), Ok(vec![alike]));
        copied[each + 2].reading_counts += 0.1;
        assert_eq!(implausible(&copied, Some(0.1)), Ok(vec![]));
    }

    #[test]
    fn loads_in_another_unit_and_a_reference_that_is_none_are_asked_about() {
        let mut kilonewtons = points(|_, _, load_n| 10.0 * load_n);
        for point in &mut kilonewtons {
            point.load_n /= 1e3;
        }
        let found = implausible(&kilonewtons, Some(50.0)).expect("runs");
        let [
            Implausible::LoadsLow { highest_n, .. },
            Implausible::Reference { .. },
        ] = found[..]
        else {
            panic!("{found:?}");
        };
        assert!(highest_n.total_cmp(&6.0).is_eq());
        for (percent, asked) in [(0.0005, 1), (0.001, 0), (5.0, 0), (5.1, 1)] {
            let found = implausible(&points(|_, _, load_n| load_n), Some(percent)).expect("runs");
            assert_eq!(found.len(), asked, "{percent}");
        }
    }
}
