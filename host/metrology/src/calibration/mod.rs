//! Calibrating a force gauge: loads of a reference cell and readings of the gauge in; curve, errors,
//! uncertainty and what was left out of the sequence out.
//!
//! Terms and figures are in the style of ISO 376 and ASTM E74, from memory.

mod certificate;
mod class;
mod curve;
mod errors;
mod field_check;
mod indicator;
mod runs;
mod steady;

pub use certificate::{Certificate, CertificateError, CertificatePoint, read_certificate};
pub use class::IsoStyleClass;
pub use curve::{Curve, LowerLimit};
pub use errors::{Errors, LoadErrors};
pub use field_check::{FieldCheck, field_check};
pub use indicator::{
    IndicatorCalibration, IndicatorErrors, IndicatorSetup, IndicatorStep, calibrate_indicator,
};
pub use steady::{NotSteady, Steady, steady};

use crate::provenance::Provenance;
use crate::uncertainty::{Budget, Contribution, Distribution};
use runs::Runs;
use serde::{Deserialize, Serialize};

/// Whether the load was reached by loading or by unloading.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Direction {
    /// Loading.
    Up,
    /// Unloading.
    Down,
}

/// One reading under a known load.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Point {
    /// Number of the run, in the order they were taken.
    pub run: u32,
    /// Loading or unloading.
    pub direction: Direction,
    /// Load by the reference, N; 0 with nothing on the gauge.
    pub load_n: f64,
    /// Reading of the gauge, counts.
    pub reading_counts: f64,
    /// How far the gauge was turned about its axis in this run, degrees; `None`: not recorded.
    pub position_deg: Option<f64>,
}

/// A preload that was recorded as one: to the highest load, before the first run.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Preload {
    /// Load by the reference, N.
    pub load_n: f64,
    /// How long it was held, s; `None`: not recorded.
    pub held_s: Option<f64>,
}

/// What is known about the calibration besides its readings.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CalibrationSetup {
    /// Expanded uncertainty (k = 2) of the reference, % of the load; `None`: not stated.
    pub reference_expanded_percent: Option<f64>,
    /// Smallest step of the gauge's reading, counts.
    pub resolution_counts: f64,
    /// Preloads recorded as such; runs straight to the highest load count as well.
    pub preloads: Vec<Preload>,
    /// How long each preload was held, s, where the preloads do not say it themselves.
    pub preload_dwell_s: Option<f64>,
    /// Whether the gauge was loaded through its own knob and shank.
    pub through_own_knob_and_shank: bool,
    /// Lowest and highest degree of the curve that may be chosen; alike to ask for one.
    pub degrees: [i32; 2],
}

impl Default for CalibrationSetup {
    fn default() -> Self {
        Self {
            reference_expanded_percent: None,
            resolution_counts: 1.0,
            preloads: Vec::new(),
            preload_dwell_s: None,
            through_own_knob_and_shank: false,
            degrees: [1, 2],
        }
    }
}

/// Why readings make no calibration. Each says what was found and what to do.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum CalibrationError {
    /// A value that is no number, or a load below zero.
    #[error("run {run}: {what} is {found}, expected {expected}")]
    NoNumber {
        /// The run.
        run: u32,
        /// Which value.
        what: &'static str,
        /// The value.
        found: f64,
        /// What would have been right.
        expected: &'static str,
    },
    /// Too few loads for a curve.
    #[error(
        "found {found} different loads going up, expected at least 3; take more loads, spread over the span"
    )]
    TooFewLoads {
        /// How many.
        found: usize,
    },
    /// Some runs with a zero reading, some without.
    #[error(
        "run {run} has no reading at zero load, others have; read the zero in every run or in none"
    )]
    ZeroMissing {
        /// The run without.
        run: u32,
    },
    /// The reading goes down as the load goes up.
    #[error(
        "the reading falls from {from_counts} to {to_counts} counts between {from_n} N and {to_n} N; expected rising: the signal wires are swapped, or the load sits on the wrong side"
    )]
    Falling {
        /// Lower load, N.
        from_n: f64,
        /// Higher load, N.
        to_n: f64,
        /// Reading at the lower load, counts.
        from_counts: f64,
        /// Reading at the higher load, counts.
        to_counts: f64,
    },
    /// Too few steps of gauge blocks.
    #[error(
        "found {found} different steps with the plunger going in, expected at least 3; take more steps, spread over the travel that is used"
    )]
    TooFewSteps {
        /// How many.
        found: usize,
    },
    /// A run of gauge blocks without its first step.
    #[error(
        "run {run} has no reading of {lowest_um} µm with the plunger going in, others have; begin every run at the lowest step: its reading there is the run's zero"
    )]
    FirstStepMissing {
        /// The run without.
        run: u32,
        /// The lowest step, µm.
        lowest_um: f64,
    },
    /// The indicator reads less on higher blocks.
    #[error(
        "the indicator reads {from_reading_um} µm on {from_um} µm and {to_reading_um} µm on {to_um} µm; expected rising with the blocks: it counts the wrong way round, or two rows are exchanged"
    )]
    IndicatorFalls {
        /// Lower step, µm.
        from_um: f64,
        /// Higher step, µm.
        to_um: f64,
        /// Reading on the lower step less the run's zero, µm.
        from_reading_um: f64,
        /// Reading on the higher step less the run's zero, µm.
        to_reading_um: f64,
    },
    /// The curve could not be fitted.
    #[error(transparent)]
    Fit(#[from] crate::regression::FitError),
}

/// The result of a calibration.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Calibration {
    /// Lowest and highest load of the curve, N. No verdict outside.
    pub span_n: [f64; 2],
    /// Reading as a curve of the load: counts over N.
    pub curve: Curve,
    /// Load as a curve of the reading less the zero: N over counts; what the gauge stores.
    pub inverse: Curve,
    /// Mean reading at zero load, counts; zero without zero readings (the curve then has a constant).
    pub zero_counts: f64,
    /// Each reading the curve was made from, less the curve.
    pub residuals: Vec<Residual>,
    /// Errors in % of the reading, by load and at their worst.
    pub errors: Errors,
    /// Lowest load the curve is good for, in the style of ASTM E74.
    pub lower_limit: LowerLimit,
    /// Class in the style of ISO 376, only if the whole sequence was run.
    pub class: Option<IsoStyleClass>,
    /// What the sequence lacks for a class.
    pub missing: Vec<String>,
    /// Contributions to the standard uncertainty at the highest load, N.
    pub budget: Vec<Contribution>,
    /// Expanded uncertainty (k = 2), part in proportion to the load, %; `None`: the reference's is not stated.
    pub expanded_percent: Option<f64>,
    /// Expanded uncertainty (k = 2), fixed part, N.
    pub expanded_n: f64,
}

/// One reading less the curve.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Residual {
    /// The run.
    pub run: u32,
    /// The load, N.
    pub load_n: f64,
    /// Reading less curve, counts.
    pub residual_counts: f64,
    /// The same as a load, N.
    pub residual_n: f64,
}

/// Makes a calibration from the readings of all runs, in the order they were taken.
///
/// Runs that go straight to the highest load are preloads. The zero of a run is its reading at no load
/// before loading and is taken off; the curve then goes through zero, else it has a constant. Its degree
/// is the lowest whose next term is not significant at 5 %. Fitted are the readings going up, where
/// positions are recorded one run of each position.
/// Source: in the style of ISO 376:2011 and ASTM E74, from memory; fit and choice of degree as
/// NIST/SEMATECH e-Handbook, sections 2.3.6 and 4.6.1.
pub fn calibrate(
    points: &[Point],
    setup: &CalibrationSetup,
) -> Result<Calibration, CalibrationError> {
    check(points)?;
    let runs = Runs::sort(points)?;
    let loads = runs.loads();
    if loads.len() < 3 {
        return Err(CalibrationError::TooFewLoads { found: loads.len() });
    }
    curve::require_rising(&runs, &loads)?;
    let fitted = runs.fitted();
    let through_zero = runs.have_zeros();
    let (curve, inverse, residuals) = curve::fit_both(&fitted, through_zero, setup.degrees)?;
    let errors = errors::errors(&runs, &loads, &curve);
    let lower_limit = LowerLimit::of(&curve, &fitted);
    let missing = class::missing_steps(&runs, &loads, setup);
    let class = if missing.is_empty() {
        class::class_of(&errors)
    } else {
        None
    };
    let span_n = [loads[0], loads[loads.len() - 1]];
    let (budget, expanded_percent, expanded_n) = uncertainty(&errors, &inverse, span_n[1], setup);
    Ok(Calibration {
        span_n,
        curve,
        inverse,
        zero_counts: runs.mean_zero(),
        residuals,
        errors,
        lower_limit,
        class,
        missing,
        budget: budget.contributions,
        expanded_percent,
        expanded_n,
    })
}

fn check(points: &[Point]) -> Result<(), CalibrationError> {
    for point in points {
        let bad = |what, found, expected| {
            Err(CalibrationError::NoNumber {
                run: point.run,
                what,
                found,
                expected,
            })
        };
        if !point.load_n.is_finite() || point.load_n < 0.0 {
            return bad("the load", point.load_n, "a load in N, zero or above");
        }
        if !point.reading_counts.is_finite() {
            return bad("the reading", point.reading_counts, "a number of counts");
        }
    }
    Ok(())
}

/// Contributions at the highest load, and the expanded uncertainty split into its part in proportion to
/// the load and its fixed part, such that U² = (percent · load)² + fixed².
fn uncertainty(
    errors: &Errors,
    inverse: &Curve,
    highest_n: f64,
    setup: &CalibrationSetup,
) -> (Budget, Option<f64>, f64) {
    let spread = |source: &str, full_percent: Option<f64>| {
        let half_width = 0.5 * full_percent.unwrap_or(0.0).abs() / 100.0;
        let shape = Distribution::Rectangular;
        Contribution::bounded(source, shape, half_width, highest_n, Provenance::Computed)
    };
    let reference = setup.reference_expanded_percent;
    let shape = Distribution::Normal;
    let half_width = reference.unwrap_or(0.0) / 100.0;
    let proportional = Budget::new(vec![
        Contribution::bounded(
            "reference",
            shape,
            half_width,
            highest_n,
            Provenance::Published,
        ),
        spread(
            "turning the gauge in the press",
            errors.reproducibility_percent,
        ),
        spread("repeats in one position", errors.repeatability_percent),
        spread("loading against unloading", errors.reversibility_percent),
    ]);
    let counts_n = inverse.slope_at_zero();
    let resolution_n = 0.5 * setup.resolution_counts * counts_n.abs();
    let shape = Distribution::Rectangular;
    let mut residual = Contribution::new("fit of the curve", inverse.residual_stdev, None);
    residual.dof = Some(inverse.dof as f64);
    let fixed = Budget::new(vec![
        residual,
        Contribution::bounded(
            "return to zero",
            shape,
            0.5 * errors.zero_return_n,
            1.0,
            Provenance::Computed,
        ),
        Contribution::bounded("resolution", shape, resolution_n, 1.0, Provenance::Computed),
    ]);
    let expanded_percent = reference.map(|_| 200.0 * proportional.combined() / highest_n);
    let expanded_n = 2.0 * fixed.combined();
    let all = proportional
        .contributions
        .into_iter()
        .chain(fixed.contributions);
    (
        Budget::new(all.filter(|c| c.standard > 0.0).collect()),
        expanded_percent,
        expanded_n,
    )
}

#[cfg(test)]
mod tests;
