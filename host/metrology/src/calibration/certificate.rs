//! A laboratory's certificate in: points, readings, uncertainties. Out: the curve the gauge stores and
//! an uncertainty that covers every point.

use super::Curve;
use super::Direction;
use super::curve::{self};
use super::runs::Deflection;
use serde::{Deserialize, Serialize};

/// One line of a certificate.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct CertificatePoint {
    /// Load applied, N.
    pub load_n: f64,
    /// Reading less zero, counts (or N, for a gauge that reads in N).
    pub reading_counts: f64,
    /// Expanded uncertainty (k = 2) stated for this point, N.
    pub expanded_n: f64,
}

/// What a certificate comes to.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Certificate {
    /// Load as a curve of the reading: what the gauge stores.
    pub inverse: Curve,
    /// Lowest and highest load, N. No verdict outside.
    pub span_n: [f64; 2],
    /// Largest distance of a point from the curve, N.
    pub largest_residual_n: f64,
    /// Expanded uncertainty (k = 2), part in proportion to the load, %.
    pub expanded_percent: f64,
    /// Expanded uncertainty (k = 2), fixed part, N; U² = (percent · load)² + fixed².
    pub expanded_n: f64,
}

/// Why a certificate cannot be used.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum CertificateError {
    /// A value that is no number or not above zero.
    #[error("point {point}: {what} is {found}, expected a number above zero")]
    NoNumber {
        /// Counted from one.
        point: usize,
        /// Which value.
        what: &'static str,
        /// The value.
        found: f64,
    },
    /// Too few points.
    #[error("found {found} points, expected at least 3; enter every line of the certificate")]
    TooFew {
        /// How many.
        found: usize,
    },
    /// The reading does not rise with the load.
    #[error(
        "the reading falls between {from_n} N and {to_n} N; expected rising: check the lines, or the sign of the gauge's signal"
    )]
    Falling {
        /// Lower load, N.
        from_n: f64,
        /// Higher load, N.
        to_n: f64,
    },
    /// The curve could not be fitted.
    #[error(transparent)]
    Fit(#[from] crate::regression::FitError),
}

/// Makes the stored curve and an uncertainty from a certificate's points.
///
/// Loads over readings through zero, degree chosen as for a calibration. The uncertainty is the smallest
/// (at the middle of the span) of the form U² = (percent·load)² + fixed² that covers what is stated at
/// every point together with the curve's distance from it.
pub fn read_certificate(points: &[CertificatePoint]) -> Result<Certificate, CertificateError> {
    let mut points = points.to_vec();
    check(&points)?;
    points.sort_by(|a, b| a.load_n.total_cmp(&b.load_n));
    for pair in points.windows(2) {
        if pair[1].load_n > pair[0].load_n && pair[1].reading_counts <= pair[0].reading_counts {
            return Err(CertificateError::Falling {
                from_n: pair[0].load_n,
                to_n: pair[1].load_n,
            });
        }
    }
    let deflection = |p: &CertificatePoint| Deflection {
        run: 1,
        direction: Direction::Up,
        load_n: p.load_n,
        counts: p.reading_counts,
    };
    let fitted: Vec<Deflection> = points.iter().map(deflection).collect();
    let (_, inverse, residuals) = curve::fit_both(&fitted, true, [1, 2])?;
    let covered: Vec<(f64, f64)> = points
        .iter()
        .zip(&residuals)
        .map(|(p, r)| (p.load_n, p.expanded_n.hypot(2.0 * r.residual_n)))
        .collect();
    let (proportional, expanded_n) = envelope(&covered);
    Ok(Certificate {
        inverse,
        span_n: [points[0].load_n, points[points.len() - 1].load_n],
        largest_residual_n: residuals
            .iter()
            .map(|r| r.residual_n.abs())
            .fold(0.0, f64::max),
        expanded_percent: 100.0 * proportional,
        expanded_n,
    })
}

fn check(points: &[CertificatePoint]) -> Result<(), CertificateError> {
    for (i, p) in points.iter().enumerate() {
        let values = [
            ("the load", p.load_n),
            ("the reading", p.reading_counts),
            ("the uncertainty", p.expanded_n),
        ];
        let bad = values
            .into_iter()
            .find(|(_, v)| !v.is_finite() || *v <= 0.0);
        if let Some((what, found)) = bad {
            return Err(CertificateError::NoNumber {
                point: i + 1,
                what,
                found,
            });
        }
    }
    if points.len() < 3 {
        return Err(CertificateError::TooFew {
            found: points.len(),
        });
    }
    Ok(())
}

/// Smallest `(b, a)` at the middle load with a² + (b·load)² ≥ U² at every point: of all corners that two
/// points (or one point and a vanishing part) make, the one that covers all and is lowest.
fn envelope(points: &[(f64, f64)]) -> (f64, f64) {
    let squares: Vec<(f64, f64)> = points
        .iter()
        .map(|(load, u)| (load * load, u * u))
        .collect();
    let middle = squares.iter().map(|(load, _)| load).sum::<f64>() / squares.len() as f64;
    let all_fixed = (0.0, squares.iter().map(|(_, u)| *u).fold(0.0, f64::max));
    let all_proportional = (
        squares.iter().map(|(load, u)| u / load).fold(0.0, f64::max),
        0.0,
    );
    let corner = |(i, j): (usize, usize)| {
        let ((x1, u1), (x2, u2)) = (squares[i], squares[j]);
        let slope = (u2 - u1) / (x2 - x1);
        (slope, u1 - slope * x1)
    };
    let pairs = (0..squares.len()).flat_map(|i| (i + 1..squares.len()).map(move |j| (i, j)));
    let covers = |(slope, constant): &(f64, f64)| {
        let sound = *slope >= 0.0 && *constant >= 0.0;
        sound
            && squares
                .iter()
                .all(|(x, u)| constant + slope * x >= u * (1.0 - 1e-12))
    };
    let height = |(slope, constant): &(f64, f64)| slope * middle + constant;
    let candidates = pairs
        .map(corner)
        .chain([all_fixed, all_proportional])
        .filter(covers);
    let best = candidates
        .min_by(|a, b| height(a).total_cmp(&height(b)))
        .unwrap_or(all_fixed);
    (best.0.sqrt(), best.1.sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn the_uncertainty_covers_every_point(u in proptest::collection::vec(1.0..80.0_f64, 3..10)) {
            let points: Vec<(f64, f64)> = (1_u32..).map(|i| f64::from(i) * 2_500.0).zip(u).collect();
            let (b, a) = envelope(&points);
            for (load, u) in points {
                prop_assert!(a.hypot(b * load) >= u * (1.0 - 1e-9));
            }
        }
    }

    fn points() -> Vec<CertificatePoint> {
        (1..=5)
            .map(|i| {
                let load_n = f64::from(i) * 4_000.0;
                CertificatePoint {
                    load_n,
                    reading_counts: load_n * 50.0,
                    expanded_n: 0.004 * load_n,
                }
            })
            .collect()
    }

    #[test]
    fn a_proportional_certificate_comes_out_proportional() {
        let found = read_certificate(&points()).unwrap();
        assert!((found.expanded_percent - 0.4).abs() < 1e-6 && found.expanded_n < 1e-3);
        assert!((found.inverse.value(400_000.0) - 8_000.0).abs() < 1e-6);
        assert!(
            (found.span_n[0] - 4_000.0).abs() < 1e-9 && (found.span_n[1] - 20_000.0).abs() < 1e-9
        );
    }

    #[test]
    fn a_certificate_that_falls_or_lacks_a_number_is_refused() {
        let mut falling = points();
        falling[3].reading_counts = 1.0;
        assert!(matches!(
            read_certificate(&falling),
            Err(CertificateError::Falling { .. })
        ));
        let mut empty = points();
        empty[1].expanded_n = 0.0;
        assert!(matches!(
            read_certificate(&empty),
            Err(CertificateError::NoNumber { point: 2, .. })
        ));
        assert_eq!(
            read_certificate(&points()[..2]),
            Err(CertificateError::TooFew { found: 2 })
        );
    }
}
