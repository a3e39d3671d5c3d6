//! Checks of the grip analysis and of calibrations.

use super::data::{LOADS, RESPONSES, URANIUM};
use super::{Allowed, Sheet, Source};
use crate::calibration::{Calibration, CalibrationSetup, Direction, Point, calibrate};
use crate::grip::record::ForceRecord;
use crate::grip::setup::GripSetup;
use crate::grip::{analyse, analyse_readings};
use holdtrue_terms::vocabulary::Provenance;

pub(super) fn sheets() -> Vec<Sheet> {
    vec![readings(), record(), load_cell()]
}

fn readings() -> Sheet {
    let source = Source(
        "NIST/SEMATECH e-Handbook, section 1.3.5.17.1, quoted in the documentation of stdlib",
        Provenance::Published,
    );
    let found = analyse_readings(&URANIUM, &GripSetup::default())
        .ok()
        .and_then(|r| r.statistics);
    let outlier = found.as_ref().and_then(|s| s.outlier).map(f64::from);
    Sheet::new("grip readings", source)
        .compare(
            "number of the outlying reading",
            8.0,
            outlier,
            Allowed::Absolute(0.0),
        )
        .compare(
            "lowest",
            199.31,
            found.map(|s| s.lowest_n),
            Allowed::Absolute(0.0),
        )
}

/// Two clamps of 10 000 N on a zero that drifts from −500 N by 2 N/s, with a sag of 4 N/s in each hold:
/// the settled window reaches from 1 to 3 s after the clamping, its middle lies 2 s after it.
fn record() -> Sheet {
    let time: Vec<f64> = (0..5_000).map(|i| f64::from(i) * 0.005).collect();
    let force = |t: f64| {
        let zero = -500.0 + 2.0 * t;
        let since = (t - 3.0).rem_euclid(10.0);
        let clamped = (3.0..21.0).contains(&t) && since < 6.0;
        zero + if clamped { 10_000.0 - 4.0 * since } else { 0.0 }
    };
    let forces: Vec<f64> = time.iter().map(|t| force(*t)).collect();
    let result = ForceRecord::new(&time, &forces)
        .ok()
        .and_then(|r| analyse(&r, &GripSetup::default()).ok());
    let clamp = |i: usize| result.as_ref().and_then(|r| r.clamps.get(i).cloned());
    let source = Source("the record's own construction", Provenance::Computed);
    Sheet::new("force record", source)
        .compare(
            "clamps",
            2.0,
            result.as_ref().map(|r| r.clamps.len() as f64),
            Allowed::Absolute(0.0),
        )
        .compare(
            "settled force of the first, N",
            9_992.0,
            clamp(0).and_then(|c| c.settled_n),
            Allowed::Absolute(0.02),
        )
        .compare(
            "settled force of the second, N",
            9_992.0,
            clamp(1).and_then(|c| c.settled_n),
            Allowed::Absolute(0.02),
        )
        .compare(
            // what falls in the record is the clamp's sag less the rise of the zero, which is taken off
            "drop while held of the first, N/s",
            4.0,
            clamp(0).and_then(|c| c.sag_n_per_s),
            Allowed::Absolute(0.05),
        )
}

fn load_cell() -> Sheet {
    let runs = (0..3).flat_map(|run| {
        LOADS
            .iter()
            .zip(RESPONSES)
            .map(move |(load, r)| (run, *load, r[run]))
    });
    let points: Vec<Point> = runs
        .map(|(run, load_n, reading_counts)| Point {
            run: u32::try_from(run).unwrap_or(0),
            direction: Direction::Up,
            load_n,
            reading_counts,
            position_deg: None,
        })
        .collect();
    let found = calibrate(&points, &CalibrationSetup::default()).ok();
    let of = |f: fn(&Calibration) -> f64| found.as_ref().map(f);
    // a curve of another degree than expected has no such term: that is out, not an end of the program
    let term = |k: usize| {
        found
            .as_ref()
            .and_then(|c| c.curve.coefficients.get(k).copied())
    };
    let source = Source(
        "NIST/SEMATECH e-Handbook, section 2.3.6.5, data LOADCELL.DAT; coefficients in 50-digit arithmetic",
        Provenance::Computed,
    );
    Sheet::new("load-cell calibration", source)
        .compare(
            "degree",
            2.0,
            of(|c| f64::from(c.curve.degree)),
            Allowed::Absolute(0.0),
        )
        .compare(
            "linear coefficient",
            0.100_102_485_397_365_45,
            term(1),
            Allowed::Relative(1e-10),
        )
        .compare(
            "quadratic coefficient",
            7.031_865_114_818_033e-6,
            term(2),
            Allowed::Relative(1e-8),
        )
        .compare(
            "lower limit factor",
            0.000_901_710_744_285_024_7,
            of(|c| c.lower_limit.factor_n),
            Allowed::Relative(1e-8),
        )
}
