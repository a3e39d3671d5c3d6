//! Steps of gauge blocks under an indicator in; its error of indication, hysteresis and uncertainty out.

use super::{CalibrationError, Direction};
use crate::statistics::mean;
use crate::uncertainty::{Budget, Contribution, Distribution};
use holdtrue_terms::vocabulary::Provenance;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::f64::consts::SQRT_2;

/// No indicator of a workshop is better than this, µm (common practice).
const LEAST_EXPANDED_UM: f64 = 0.01;
/// Errors and uncertainty stay below this share of the span, or something else was measured (common practice).
const MOST_OF_SPAN: f64 = 0.2;

/// One reading of an indicator on a step.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct IndicatorStep {
    /// Number of the run.
    pub run: u32,
    /// Plunger going in (up) or coming out.
    pub direction: Direction,
    /// Height of the blocks, µm.
    pub step_um: f64,
    /// Reading, µm.
    pub reading_um: f64,
}

/// What is known besides the readings.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct IndicatorSetup {
    /// Expanded uncertainty (k = 2) of a stack of blocks, µm; `None`: not stated.
    pub blocks_expanded_um: Option<f64>,
    /// Smallest step of the indicator, µm.
    pub resolution_um: f64,
}

/// Errors at one step, µm.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct IndicatorErrors {
    /// Height of the blocks.
    pub step_um: f64,
    /// Mean reading with the plunger going in, less the run's zero, less the height above the lowest step.
    pub error_um: f64,
    /// Coming out less going in, mean over the runs that have both; `None` without.
    pub hysteresis_um: Option<f64>,
    /// Largest less smallest reading in one direction; `None` without repeats.
    pub repeatability_um: Option<f64>,
}

/// What steps say about an indicator.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct IndicatorCalibration {
    /// Lowest and highest step, µm.
    pub span_um: [f64; 2],
    /// By step, rising.
    pub steps: Vec<IndicatorErrors>,
    /// Largest less smallest error going in, µm.
    pub error_of_indication_um: f64,
    /// Largest difference between going in and coming out at one step, without its sign, µm; `None` without both.
    pub hysteresis_um: Option<f64>,
    /// Largest spread of readings at one step in one direction, µm; `None` without repeats.
    pub repeatability_um: Option<f64>,
    /// Contributions to the standard uncertainty of a difference of two readings, µm.
    pub budget: Vec<Contribution>,
    /// Expanded uncertainty (k = 2) of a difference of two readings in the span, µm; `None`: that of the blocks is not
    /// stated.
    pub expanded_um: Option<f64>,
}

/// Evaluates steps of gauge blocks under an indicator.
///
/// The reading of a run on the lowest step, plunger going in, is its zero and taken off. Errors are not corrected: half
/// their range is a bound. A difference of two readings is what a runout is, so blocks and resolution enter twice.
/// Refused with fewer than three steps, values that are no numbers, a run without its zero, or readings that do not rise.
/// Source: terms of ISO 463 (mechanical dial gauges), from memory; budget after JCGM 100:2008, 4.3.
pub fn calibrate_indicator(
    steps: &[IndicatorStep],
    setup: &IndicatorSetup,
) -> Result<IndicatorCalibration, CalibrationError> {
    check(steps)?;
    let heights = heights(steps);
    if heights.len() < 3 {
        return Err(CalibrationError::TooFewSteps {
            found: heights.len(),
        });
    }
    let readings = less_zeros(steps, heights[0])?;
    require_rising(&readings, &heights)?;
    let rows: Vec<IndicatorErrors> = heights
        .iter()
        .map(|height| errors_at(&readings, *height, heights[0]))
        .collect();
    let error_of_indication_um = range(rows.iter().map(|row| row.error_um)).unwrap_or(0.0);
    let hysteresis = rows.iter().filter_map(|row| row.hysteresis_um);
    let hysteresis_um = hysteresis.map(f64::abs).reduce(f64::max);
    let repeats = rows.iter().filter_map(|row| row.repeatability_um);
    let repeatability_um = repeats.reduce(f64::max);
    let budget = budget(
        [
            error_of_indication_um,
            hysteresis_um.unwrap_or(0.0),
            repeatability_um.unwrap_or(0.0),
        ],
        setup,
    );
    let span_um = [heights[0], heights[heights.len() - 1]];
    let expanded_um = setup.blocks_expanded_um.map(|_| 2.0 * budget.combined());
    require_likely(span_um[1] - span_um[0], error_of_indication_um, expanded_um)?;
    Ok(IndicatorCalibration {
        span_um,
        steps: rows,
        error_of_indication_um,
        hysteresis_um,
        repeatability_um,
        expanded_um,
        budget: budget.contributions,
    })
}

/// A unit mistaken for another shows in an error or an uncertainty no indicator has.
fn require_likely(
    span_um: f64,
    error_um: f64,
    expanded_um: Option<f64>,
) -> Result<(), CalibrationError> {
    if error_um > MOST_OF_SPAN * span_um {
        return Err(CalibrationError::IndicatorFarOff { error_um, span_um });
    }
    let likely = LEAST_EXPANDED_UM..MOST_OF_SPAN * span_um;
    match expanded_um.filter(|expanded_um| !likely.contains(expanded_um)) {
        Some(expanded_um) => Err(CalibrationError::UnlikelyUncertainty {
            expanded_um,
            span_um,
        }),
        None => Ok(()),
    }
}

fn check(steps: &[IndicatorStep]) -> Result<(), CalibrationError> {
    for s in steps {
        for (what, found) in [("the step", s.step_um), ("the reading", s.reading_um)] {
            if !found.is_finite() {
                return Err(CalibrationError::NoNumber {
                    run: s.run,
                    what,
                    found,
                    expected: "a number of micrometres",
                });
            }
        }
    }
    Ok(())
}

/// The different steps with the plunger going in, rising.
fn heights(steps: &[IndicatorStep]) -> Vec<f64> {
    let going_in = steps.iter().filter(|s| s.direction == Direction::Up);
    let mut heights: Vec<f64> = going_in.map(|s| s.step_um).collect();
    heights.sort_by(f64::total_cmp);
    heights.dedup_by(|a, b| a.total_cmp(b).is_eq());
    heights
}

/// Readings less their run's reading on the lowest step.
fn less_zeros(
    steps: &[IndicatorStep],
    lowest_um: f64,
) -> Result<Vec<IndicatorStep>, CalibrationError> {
    let mut zeros = BTreeMap::new();
    for s in steps {
        if s.direction == Direction::Up && s.step_um.total_cmp(&lowest_um).is_eq() {
            zeros.entry(s.run).or_insert(s.reading_um);
        }
    }
    let less_zero = |s: &IndicatorStep| match zeros.get(&s.run) {
        Some(zero) => Ok(IndicatorStep {
            reading_um: s.reading_um - zero,
            ..*s
        }),
        None => Err(CalibrationError::FirstStepMissing {
            run: s.run,
            lowest_um,
        }),
    };
    steps.iter().map(less_zero).collect()
}

fn at(readings: &[IndicatorStep], height: f64, direction: Direction) -> Vec<f64> {
    let here =
        |s: &&IndicatorStep| s.step_um.total_cmp(&height).is_eq() && s.direction == direction;
    readings.iter().filter(here).map(|s| s.reading_um).collect()
}

fn require_rising(readings: &[IndicatorStep], heights: &[f64]) -> Result<(), CalibrationError> {
    let reading = |height: f64| mean(&at(readings, height, Direction::Up));
    for pair in heights.windows(2) {
        let (from_reading_um, to_reading_um) = (reading(pair[0]), reading(pair[1]));
        if to_reading_um <= from_reading_um {
            return Err(CalibrationError::IndicatorFalls {
                from_um: pair[0],
                to_um: pair[1],
                from_reading_um,
                to_reading_um,
            });
        }
    }
    Ok(())
}

fn errors_at(readings: &[IndicatorStep], height: f64, lowest: f64) -> IndicatorErrors {
    let (going_in, coming_out) = (
        at(readings, height, Direction::Up),
        at(readings, height, Direction::Down),
    );
    let spread = |found: &[f64]| range(found.iter().copied()).filter(|_| found.len() > 1);
    IndicatorErrors {
        step_um: height,
        error_um: mean(&going_in) - (height - lowest),
        hysteresis_um: hysteresis(readings, height),
        repeatability_um: spread(&going_in)
            .into_iter()
            .chain(spread(&coming_out))
            .reduce(f64::max),
    }
}

fn hysteresis(readings: &[IndicatorStep], height: f64) -> Option<f64> {
    let mut runs: Vec<u32> = readings.iter().map(|s| s.run).collect();
    runs.dedup();
    let of_run = |run: u32| {
        let own: Vec<IndicatorStep> = readings.iter().filter(|s| s.run == run).copied().collect();
        let (going_in, coming_out) = (
            at(&own, height, Direction::Up),
            at(&own, height, Direction::Down),
        );
        (!going_in.is_empty() && !coming_out.is_empty())
            .then(|| mean(&coming_out) - mean(&going_in))
    };
    let found: Vec<f64> = runs.into_iter().filter_map(of_run).collect();
    (!found.is_empty()).then(|| mean(&found))
}

fn budget([error, hysteresis, repeats]: [f64; 3], setup: &IndicatorSetup) -> Budget {
    let bounded = |source: &str, full_um: f64| {
        let shape = Distribution::Rectangular;
        Contribution::bounded(source, shape, 0.5 * full_um, 1.0, Provenance::Computed)
    };
    let blocks = Contribution::bounded(
        "gauge blocks, two stacks",
        Distribution::Normal,
        setup.blocks_expanded_um.unwrap_or(0.0),
        SQRT_2,
        Provenance::Published,
    );
    let all = [
        bounded("error of indication, not corrected", error),
        bounded("plunger going in against coming out", hysteresis),
        bounded("repeats", repeats),
        blocks,
        bounded("resolution, two readings", SQRT_2 * setup.resolution_um),
    ];
    Budget::new(all.into_iter().filter(|c| c.standard > 0.0).collect())
}

fn range(values: impl Iterator<Item = f64> + Clone) -> Option<f64> {
    let smallest = values.clone().reduce(f64::min)?;
    Some(values.fold(f64::NEG_INFINITY, f64::max) - smallest)
}

#[cfg(test)]
mod tests {
    use super::*;

    const SETUP: IndicatorSetup = IndicatorSetup {
        blocks_expanded_um: Some(0.2),
        resolution_um: 1.0,
    };

    fn step(run: u32, direction: Direction, step_um: f64, reading_um: f64) -> IndicatorStep {
        IndicatorStep {
            run,
            direction,
            step_um,
            reading_um,
        }
    }

    #[test]
    fn errors_count_from_the_first_step_and_hysteresis_between_ways() {
        let steps = [
            step(1, Direction::Up, 0.0, 5.0),
            step(1, Direction::Up, 100.0, 106.0),
            step(1, Direction::Up, 200.0, 204.0),
            step(1, Direction::Down, 100.0, 108.0),
        ];
        let found = calibrate_indicator(&steps, &SETUP).unwrap();
        let errors: Vec<f64> = found.steps.iter().map(|row| row.error_um).collect();
        assert_eq!(errors, [0.0, 1.0, -1.0]);
        assert!((found.error_of_indication_um - 2.0).abs() < 1e-12);
        assert_eq!(found.hysteresis_um, Some(2.0));
        assert_eq!(found.repeatability_um, None);
        // rectangular halves 1, 1 and 0.5·√2; twice a normal 0.1; doubled
        let variance: f64 = (1.0 + 1.0 + 0.5) / 3.0 + 2.0 * 0.01;
        assert!((found.expanded_um.unwrap() - 2.0 * variance.sqrt()).abs() < 1e-12);
    }

    #[test]
    fn an_indicator_set_anew_between_runs_repeats_all_the_same() {
        let run = |run: u32, zero: f64| {
            [0.0, 100.0, 200.0].map(|h| step(run, Direction::Up, h, zero + h))
        };
        let steps = [run(1, 3.0), run(2, -40.0)].concat();
        let found = calibrate_indicator(&steps, &SETUP).unwrap();
        assert!(found.repeatability_um.unwrap() < 1e-12);
        assert!(matches!(
            calibrate_indicator(&steps[..4], &SETUP).map(|found| found.steps.len()),
            Ok(3)
        ));
        assert!(matches!(
            calibrate_indicator(&[&steps[..3], &steps[4..]].concat(), &SETUP),
            Err(CalibrationError::FirstStepMissing { run: 2, .. })
        ));
    }

    #[test]
    fn an_indicator_the_wrong_way_round_is_refused() {
        let steps = [0.0, 100.0, 200.0].map(|h| step(1, Direction::Up, h, -h));
        assert!(matches!(
            calibrate_indicator(&steps, &SETUP),
            Err(CalibrationError::IndicatorFalls { .. })
        ));
    }

    #[test]
    fn without_the_blocks_uncertainty_there_is_none() {
        let steps = [0.0, 100.0, 200.0].map(|h| step(1, Direction::Up, h, h));
        let found = calibrate_indicator(&steps, &IndicatorSetup::default()).unwrap();
        assert_eq!(found.expanded_um, None);
    }

    #[test]
    fn a_unit_mistaken_for_another_is_refused() {
        let read = |factor: f64| [0.0, 100.0, 200.0].map(|h| step(1, Direction::Up, h, factor * h));
        for factor in [0.001, 0.7, 1.3, 25.4] {
            let refused = calibrate_indicator(&read(factor), &SETUP);
            assert!(
                matches!(refused, Err(CalibrationError::IndicatorFarOff { .. })),
                "{refused:?}"
            );
        }
        for (blocks_expanded_um, resolution_um) in [(0.000_2, 0.001), (200.0, 1.0), (0.2, 1_000.0)]
        {
            let setup = IndicatorSetup {
                blocks_expanded_um: Some(blocks_expanded_um),
                resolution_um,
            };
            let refused = calibrate_indicator(&read(1.0), &setup);
            assert!(
                matches!(refused, Err(CalibrationError::UnlikelyUncertainty { .. })),
                "{refused:?}"
            );
        }
    }
}
