//! Runs and the curve in; how far readings differ between runs, positions and directions out.

use super::runs::{Run, Runs};
use super::{Curve, Direction};
use crate::statistics::mean;
use serde::{Deserialize, Serialize};

/// Errors at one load, % of the reading. Absent where the runs do not show it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct LoadErrors {
    /// The load, N.
    pub load_n: f64,
    /// Mean reading over the positions, counts.
    pub mean_counts: f64,
    /// Largest less smallest reading over the positions.
    pub reproducibility_percent: Option<f64>,
    /// Largest less smallest reading in one position.
    pub repeatability_percent: Option<f64>,
    /// Unloading less loading without its sign, mean over the runs that have both.
    pub reversibility_percent: Option<f64>,
    /// Mean reading less curve.
    pub interpolation_percent: f64,
}

/// Errors of a calibration: by load, and the largest of each without its sign.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Errors {
    /// By load.
    pub loads: Vec<LoadErrors>,
    /// Largest reproducibility error, %.
    pub reproducibility_percent: Option<f64>,
    /// Largest repeatability error, %.
    pub repeatability_percent: Option<f64>,
    /// Largest reversibility error, %.
    pub reversibility_percent: Option<f64>,
    /// Largest interpolation error, %.
    pub interpolation_percent: f64,
    /// Largest return to zero, % of the largest deflection; `None` without zeros before and after a run.
    pub zero_return_percent: Option<f64>,
    /// The same as a load, N; 0 if unknown.
    pub zero_return_n: f64,
}

/// Errors in the style of ISO 376 (formulas from memory).
pub(super) fn errors(runs: &Runs, loads: &[f64], curve: &Curve) -> Errors {
    let rotated = runs.rotated();
    let together = runs.in_one_position();
    let at_load = |load: &f64| {
        let load = *load;
        let up: Vec<f64> = readings(runs, &rotated, load, Direction::Up);
        let mean_counts = mean(&up);
        let on_curve = curve.value(load);
        LoadErrors {
            load_n: load,
            mean_counts,
            reproducibility_percent: spread_percent(&up).filter(|_| runs.positions() >= 2),
            repeatability_percent: spread_percent(&readings(runs, &together, load, Direction::Up)),
            reversibility_percent: reversibility(runs, load),
            interpolation_percent: 100.0 * (mean_counts - on_curve) / on_curve,
        }
    };
    let rows: Vec<LoadErrors> = loads.iter().map(at_load).collect();
    let zero_return_percent = zero_return(runs);
    let highest = loads.last().copied().unwrap_or(0.0);
    Errors {
        reproducibility_percent: largest(rows.iter().map(|r| r.reproducibility_percent)),
        repeatability_percent: largest(rows.iter().map(|r| r.repeatability_percent)),
        reversibility_percent: largest(rows.iter().map(|r| r.reversibility_percent)),
        interpolation_percent: largest(rows.iter().map(|r| Some(r.interpolation_percent)))
            .unwrap_or(0.0),
        zero_return_percent,
        zero_return_n: zero_return_percent.map_or(0.0, |percent| percent / 100.0 * highest),
        loads: rows,
    }
}

fn readings(runs: &Runs, of: &[&Run], load: f64, direction: Direction) -> Vec<f64> {
    let at = |run: &&Run| {
        let found: Vec<f64> = run
            .going(direction)
            .filter(|d| runs.same_load(d.load_n, load))
            .map(|d| d.counts * load / d.load_n)
            .collect();
        (!found.is_empty()).then(|| mean(&found))
    };
    of.iter().filter_map(at).collect()
}

fn spread_percent(readings: &[f64]) -> Option<f64> {
    let largest = readings.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let smallest = readings.iter().copied().fold(f64::INFINITY, f64::min);
    (readings.len() >= 2).then(|| 100.0 * (largest - smallest) / mean(readings).abs())
}

fn reversibility(runs: &Runs, load: f64) -> Option<f64> {
    let of_run = |run: &Run| {
        let up = readings(runs, &[run], load, Direction::Up)
            .first()
            .copied()?;
        let down = readings(runs, &[run], load, Direction::Down)
            .first()
            .copied()?;
        // The mean of the amounts: runs that differ in sign do not cancel.
        Some(100.0 * (down - up).abs() / up.abs())
    };
    let found: Vec<f64> = runs.measuring.iter().filter_map(of_run).collect();
    (!found.is_empty()).then(|| mean(&found))
}

fn zero_return(runs: &Runs) -> Option<f64> {
    let of_run = |run: &Run| {
        let moved = run.zero_after? - run.zero_before?;
        let largest = run
            .deflections
            .iter()
            .map(|d| d.counts.abs())
            .fold(0.0, f64::max);
        Some(100.0 * moved / largest)
    };
    largest(runs.measuring.iter().map(of_run))
}

/// The largest without its sign.
fn largest(values: impl Iterator<Item = Option<f64>>) -> Option<f64> {
    values.flatten().map(f64::abs).reduce(f64::max)
}
