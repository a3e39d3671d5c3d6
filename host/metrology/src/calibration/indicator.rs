//! Steps of gauge blocks under an indicator in; its error of indication, hysteresis and uncertainty out.

use super::{CalibrationError, Direction};
use crate::provenance::Provenance;
use crate::statistics::mean;
use crate::uncertainty::{Budget, Contribution, Distribution};
use serde::{Deserialize, Serialize};

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

/// What steps say about an indicator.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct IndicatorCalibration {
    /// Lowest and highest step, µm.
    pub span_um: [f64; 2],
    /// Mean error of indication by step going in, the first step taken as zero: `(step, error)`, µm.
    pub errors_um: Vec<(f64, f64)>,
    /// Largest less smallest of them, µm.
    pub error_of_indication_um: f64,
    /// Largest difference between going in and coming out at one step, µm; `None` without both.
    pub hysteresis_um: Option<f64>,
    /// Largest spread of readings at one step in one direction, µm; `None` without repeats.
    pub repeatability_um: Option<f64>,
    /// Expanded uncertainty (k = 2) of a difference of two readings in the span, µm.
    pub expanded_um: f64,
}

/// Evaluates steps of gauge blocks known to within ± `blocks_um` under an indicator of resolution
/// `resolution_um`.
///
/// Refused with fewer than three steps, values that are no numbers, or readings that do not rise.
/// Source: terms of ISO 463 (mechanical dial gauges), from memory; budget after JCGM 100:2008, 4.3.
pub fn calibrate_indicator(
    steps: &[IndicatorStep],
    blocks_um: f64,
    resolution_um: f64,
) -> Result<IndicatorCalibration, CalibrationError> {
    for s in steps {
        for (what, found) in [("the step", s.step_um), ("the reading", s.reading_um)] {
            if !found.is_finite() {
                let expected = "a number of micrometres";
                return Err(CalibrationError::NoNumber {
                    run: s.run,
                    what,
                    found,
                    expected,
                });
            }
        }
    }
    let mut heights: Vec<f64> = steps.iter().map(|s| s.step_um).collect();
    heights.sort_by(f64::total_cmp);
    heights.dedup_by(|a, b| a.total_cmp(b).is_eq());
    let at = |height: f64, direction: Direction| -> Vec<f64> {
        let here =
            |s: &&IndicatorStep| s.step_um.total_cmp(&height).is_eq() && s.direction == direction;
        steps.iter().filter(here).map(|s| s.reading_um).collect()
    };
    heights.retain(|h| !at(*h, Direction::Up).is_empty());
    if heights.len() < 3 {
        return Err(CalibrationError::TooFewLoads {
            found: heights.len(),
        });
    }
    let going_in: Vec<f64> = heights
        .iter()
        .map(|h| mean(&at(*h, Direction::Up)))
        .collect();
    if going_in.windows(2).any(|pair| pair[1] <= pair[0]) {
        let (from, to) = (going_in[0], going_in[going_in.len() - 1]);
        return Err(CalibrationError::Falling {
            from_n: heights[0],
            to_n: heights[heights.len() - 1],
            from_counts: from,
            to_counts: to,
        });
    }
    let error = |(h, r): (&f64, &f64)| (*h, (r - going_in[0]) - (h - heights[0]));
    let errors_um: Vec<(f64, f64)> = heights.iter().zip(&going_in).map(error).collect();
    let hysteresis = heights.iter().zip(&going_in).filter_map(|(h, r)| {
        let out = at(*h, Direction::Down);
        (!out.is_empty()).then(|| (mean(&out) - r).abs())
    });
    let hysteresis_um = hysteresis.reduce(f64::max);
    let spreads = heights
        .iter()
        .flat_map(|h| [at(*h, Direction::Up), at(*h, Direction::Down)]);
    let repeatability_um = spreads
        .filter(|r| r.len() > 1)
        .map(|r| spread(&r))
        .reduce(f64::max);
    let error_of_indication_um = spread(&errors_um.iter().map(|e| e.1).collect::<Vec<f64>>());
    let bounded = |source: &str, full_um: f64| {
        let shape = Distribution::Rectangular;
        Contribution::bounded(source, shape, 0.5 * full_um, 1.0, Provenance::Computed)
    };
    let budget = Budget::new(vec![
        bounded("error of indication", error_of_indication_um),
        bounded("going in against coming out", hysteresis_um.unwrap_or(0.0)),
        bounded("repeats", repeatability_um.unwrap_or(0.0)),
        bounded("gauge blocks", 2.0 * blocks_um),
        bounded("resolution", std::f64::consts::SQRT_2 * resolution_um),
    ]);
    Ok(IndicatorCalibration {
        span_um: [heights[0], heights[heights.len() - 1]],
        errors_um,
        error_of_indication_um,
        hysteresis_um,
        repeatability_um,
        expanded_um: 2.0 * budget.combined(),
    })
}

fn spread(x: &[f64]) -> f64 {
    let largest = x.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    largest - x.iter().copied().fold(f64::INFINITY, f64::min)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn step(direction: Direction, step_um: f64, reading_um: f64) -> IndicatorStep {
        IndicatorStep {
            run: 1,
            direction,
            step_um,
            reading_um,
        }
    }

    #[test]
    fn errors_count_from_the_first_step_and_hysteresis_between_ways() {
        let steps = [
            step(Direction::Up, 0.0, 5.0),
            step(Direction::Up, 100.0, 106.0),
            step(Direction::Up, 200.0, 204.0),
            step(Direction::Down, 100.0, 108.0),
        ];
        let found = calibrate_indicator(&steps, 0.1, 1.0).unwrap();
        assert_eq!(found.errors_um, [(0.0, 0.0), (100.0, 1.0), (200.0, -1.0)]);
        assert!((found.error_of_indication_um - 2.0).abs() < 1e-12);
        assert_eq!(found.hysteresis_um, Some(2.0));
        assert_eq!(found.repeatability_um, None);
        // rectangular halves 1, 1, 0.1 and 0.5·√2, doubled
        assert!(
            (found.expanded_um - 2.0 * ((1.0 + 1.0 + 0.01 + 0.5) / 3.0_f64).sqrt()).abs() < 1e-12
        );
    }

    #[test]
    fn an_indicator_the_wrong_way_round_is_refused() {
        let steps = [0.0, 100.0, 200.0].map(|h| step(Direction::Up, h, -h));
        assert!(matches!(
            calibrate_indicator(&steps, 0.1, 1.0),
            Err(CalibrationError::Falling { .. })
        ));
    }
}
