//! Calibrating a force gauge: loads of a reference cell and readings of the gauge in; curve, errors,
//! uncertainty and what was left out of the sequence out.
//!
//! Terms and figures are in the style of ISO 376 and ASTM E74, from memory.

mod certificate;
mod class;
mod curve;
mod errors;
pub mod expected;
mod field_check;
mod implausible;
mod indicator;
mod points;
mod refusal;
mod runs;
mod stated;
mod steady;
mod steps;

pub use certificate::{Certificate, CertificatePoint, OffCurve, farthest, read_certificate};
pub use class::IsoStyleClass;
pub use curve::{Curve, LowerLimit};
pub use errors::{Errors, LoadErrors};
pub use field_check::{FieldCheck, field_check};
pub use implausible::{Implausible, implausible};
pub use indicator::{
    IndicatorCalibration, IndicatorErrors, IndicatorSetup, IndicatorStep, calibrate_indicator,
};
pub use points::{CalibrationSetup, Direction, Point, Preload, Residual};
pub use refusal::{CalibrationError, CertificateError};
pub use stated::{Doubtful, HIGHEST_COUNTS, LONGEST_YEARS, Sensor, Stated, Unsound};
pub use steady::{NotSteady, Steady, steady};

use crate::special::{normal_cdf, t_quantile};
use crate::uncertainty::{Budget, Contribution, Distribution};
use holdtrue_terms::vocabulary::Provenance;
use runs::Runs;
use serde::{Deserialize, Serialize};

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
    /// Class in the style of ISO 376, only if the whole sequence was run, with a reference and a resolution it permits.
    pub class: Option<IsoStyleClass>,
    /// What is lacking for a class.
    pub missing: Vec<String>,
    /// What it lacks to be written into a gauge: without it nothing is known of how readings repeat.
    pub lacking: Vec<String>,
    /// Contributions the sequence did not show, taken as large as class 2 allows (common practice).
    pub assumed: Vec<String>,
    /// Contributions to the standard uncertainty at the highest load, N.
    pub budget: Vec<Contribution>,
    /// Expanded uncertainty (k = 2), part in proportion to the load, %; `None`: the reference's is not stated.
    pub expanded_percent: Option<f64>,
    /// Expanded uncertainty, fixed part, N. Its factor is [`Self::coverage_factor`], so that who takes it as k = 2 and
    /// known without end takes it large enough.
    pub expanded_n: f64,
    /// Factor of the fixed part: the one that covers what 2 covers of a normal distribution, for the degrees of freedom
    /// the fit of the curve leaves it.
    pub coverage_factor: f64,
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
    let setup = &CalibrationSetup {
        resolution_counts: steps::resolution_counts(points, setup.resolution_counts),
        ..setup.clone()
    };
    let runs = Runs::sort(points)?;
    let loads = runs.loads();
    if loads.len() < 3 {
        return Err(CalibrationError::TooFewLoads { found: loads.len() });
    }
    curve::require_rising(&runs, &loads)?;
    let fitted = runs.fitted();
    let through_zero = runs.have_zeros();
    let (curve, inverse, residuals) = curve::fit_both(&fitted, through_zero, setup.degrees)?;
    if inverse.dof == 0 {
        return Err(CalibrationError::NothingLeft {
            readings: fitted.len(),
        });
    }
    let errors = errors::errors(&runs, &loads, &curve);
    let lower_limit = LowerLimit::of(&curve, &runs.going_up(), fitted.len() - curve.dof);
    let mut missing = class::missing_steps(&runs, &loads, setup);
    let shown = class::Shown::of(&errors, loads[0], inverse.slope_at_zero(), setup);
    missing.extend(shown.iter().flat_map(class::Shown::beyond_all));
    let class = shown
        .filter(|_| missing.is_empty())
        .and_then(|shown| shown.class());
    let span_n = [loads[0], loads[loads.len() - 1]];
    let lacking = class::lacking_for_a_record(&errors);
    let uncertainty = uncertainty(&errors, &inverse, span_n[1], setup);
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
        lacking,
        assumed: uncertainty.assumed,
        budget: uncertainty.budget,
        expanded_percent: uncertainty.expanded_percent,
        expanded_n: uncertainty.expanded_n,
        coverage_factor: uncertainty.coverage_factor,
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

/// What a calibration is uncertain by.
struct Uncertainty {
    budget: Vec<Contribution>,
    assumed: Vec<String>,
    expanded_percent: Option<f64>,
    expanded_n: f64,
    coverage_factor: f64,
}

/// Contributions at the highest load, and the expanded uncertainty split into its part in proportion to
/// the load and its fixed part, such that U² = (percent · load)² + fixed².
///
/// What the runs did not show is not zero: it is taken as large as class 2 allows (limits from memory).
fn uncertainty(
    errors: &Errors,
    inverse: &Curve,
    highest_n: f64,
    setup: &CalibrationSetup,
) -> Uncertainty {
    let allowed = class::WIDEST;
    let mut assumed = Vec::new();
    let mut spread = |source: &str, known: Option<f64>, allowed: f64| {
        let shape = Distribution::Rectangular;
        let half_width = |percent: f64| 0.5 * percent.abs() / 100.0;
        if let Some(percent) = known {
            let of_runs = Provenance::Computed;
            return Contribution::bounded(source, shape, half_width(percent), highest_n, of_runs);
        }
        let source = format!("{source}, not run: {allowed} % assumed");
        assumed.push(source.clone());
        let usual = Provenance::CommonPractice;
        Contribution::bounded(source, shape, half_width(allowed), highest_n, usual)
    };
    let turning = spread(
        "turning the gauge in the press",
        errors.reproducibility_percent,
        allowed.reproducibility,
    );
    let repeats = spread(
        "repeats in one position",
        errors.repeatability_percent,
        allowed.repeatability,
    );
    let unloading = spread(
        "loading against unloading",
        errors.reversibility_percent,
        allowed.reversibility,
    );
    let zero = spread(
        "return to zero",
        errors.zero_return_percent,
        allowed.zero_return,
    );
    let reference = setup.reference_expanded_percent;
    let of_cell = Contribution::bounded(
        "reference",
        Distribution::Normal,
        reference.unwrap_or(0.0) / 100.0,
        highest_n,
        Provenance::Published,
    );
    let proportional = Budget::new(vec![of_cell, turning, repeats, unloading]);
    let resolution_n = 0.5 * setup.resolution_counts * inverse.slope_at_zero().abs();
    let fixed = Budget::new(vec![
        Contribution::new(
            "fit of the curve",
            inverse.residual_stdev,
            Some(inverse.dof as f64),
        ),
        zero,
        Contribution::bounded(
            "resolution",
            Distribution::Rectangular,
            resolution_n,
            1.0,
            Provenance::Computed,
        ),
    ]);
    let coverage_factor = factor_that_covers_as_two(fixed.effective_dof());
    let parts = proportional
        .contributions
        .iter()
        .chain(&fixed.contributions);
    Uncertainty {
        budget: parts.filter(|c| c.standard > 0.0).cloned().collect(),
        assumed,
        expanded_percent: reference.map(|_| 200.0 * proportional.combined() / highest_n),
        expanded_n: coverage_factor * fixed.combined(),
        coverage_factor,
    }
}

/// Factor that covers 95.45 %, as 2 does of a normal distribution. Source: JCGM 100:2008, G.6.4 and table G.2.
fn factor_that_covers_as_two(dof: f64) -> f64 {
    t_quantile(normal_cdf(2.0), dof)
}

#[cfg(test)]
mod tests;
