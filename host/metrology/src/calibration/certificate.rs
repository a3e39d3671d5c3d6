//! A laboratory's certificate in: points, readings, uncertainties. Out: the curve the gauge stores and
//! an uncertainty that covers every point.

use super::Curve;
use super::Direction;
use super::curve::{self};
use super::refusal::CertificateError;
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
    /// The point that has most likely been mistyped, if one lies off.
    pub off_curve: Option<OffCurve>,
}

/// A point that lies off the curve of the others by more than its uncertainty can tell.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct OffCurve {
    /// The point, counted from one in the order they were given.
    pub point: usize,
    /// Its load, N.
    pub load_n: f64,
    /// How far it lies off the curve through the others, N.
    pub off_n: f64,
    /// Its stated expanded uncertainty, N.
    pub expanded_n: f64,
}

/// So many times its expanded uncertainty no point lies off a curve by chance.
const OFF_BY_EXPANDED: f64 = 3.0;

/// Makes the stored curve and an uncertainty from a certificate's points.
///
/// Loads over readings through zero, degree chosen as for a calibration. The uncertainty is the smallest
/// (at the middle of the span) of the form U² = (percent·load)² + fixed² that covers what is stated at
/// every point together with the curve's distance from it.
pub fn read_certificate(points: &[CertificatePoint]) -> Result<Certificate, CertificateError> {
    check(points)?;
    let given = points;
    let mut order: Vec<usize> = (0..points.len()).collect();
    order.sort_by(|a, b| points[*a].load_n.total_cmp(&points[*b].load_n));
    require_rising(points, &order)?;
    let points: Vec<CertificatePoint> = order.iter().map(|i| points[*i]).collect();
    let (inverse, residuals) = fit(&points)?;
    let covered: Vec<(f64, f64)> = points
        .iter()
        .zip(&residuals)
        .map(|(p, r)| (p.load_n, p.expanded_n.hypot(2.0 * r)))
        .collect();
    let (proportional, expanded_n) = envelope(&covered);
    Ok(Certificate {
        inverse,
        span_n: [points[0].load_n, points[points.len() - 1].load_n],
        largest_residual_n: residuals.iter().map(|r| r.abs()).fold(0.0, f64::max),
        expanded_percent: 100.0 * proportional,
        expanded_n,
        off_curve: off_curve(given),
    })
}

/// The curve through points, and how far each lies off it, N.
fn fit(points: &[CertificatePoint]) -> Result<(Curve, Vec<f64>), CertificateError> {
    let deflection = |p: &CertificatePoint| Deflection {
        run: 1,
        direction: Direction::Up,
        load_n: p.load_n,
        counts: p.reading_counts,
    };
    let fitted: Vec<Deflection> = points.iter().map(deflection).collect();
    let (_, inverse, residuals) = curve::fit_both(&fitted, true, [1, 2])?;
    Ok((inverse, residuals.iter().map(|r| r.residual_n).collect()))
}

/// Higher loads read more, and one load reads one thing.
fn require_rising(points: &[CertificatePoint], order: &[usize]) -> Result<(), CertificateError> {
    for pair in order.windows(2) {
        let (from, to) = (points[pair[0]], points[pair[1]]);
        let point = 1 + pair[1];
        if to.load_n > from.load_n && to.reading_counts <= from.reading_counts {
            return Err(CertificateError::Falling {
                point,
                from_n: from.load_n,
                to_n: to.load_n,
            });
        }
        let same_load = to.load_n.total_cmp(&from.load_n).is_eq();
        if same_load && to.reading_counts.total_cmp(&from.reading_counts).is_ne() {
            return Err(CertificateError::TwoReadings {
                point,
                load_n: to.load_n,
                other: 1 + pair[0],
            });
        }
    }
    Ok(())
}

/// How far the worst point lies off the curve of all, in expanded uncertainties.
fn worst(points: &[CertificatePoint]) -> Option<f64> {
    let (_, off) = fit(points).ok()?;
    let shares = points
        .iter()
        .zip(off)
        .map(|(p, off)| off.abs() / p.expanded_n);
    Some(shares.fold(0.0, f64::max))
}

/// The point without which the others agree best, if it lies far off their curve.
///
/// Needs four points: of three nobody can say which one is wrong, and the one farthest off is named.
///
/// Its stated uncertainty is far smaller than that; [`farthest`] finds it where it is not.
fn off_curve(points: &[CertificatePoint]) -> Option<OffCurve> {
    worst(points).filter(|worst| *worst > 1.0)?;
    farthest(points).filter(|off| off.off_n.abs() > OFF_BY_EXPANDED * off.expanded_n)
}

/// The point without which the others agree best, and how far it lies off their curve, N; none where they make no curve.
///
/// Leaves out each in turn and compares the largest distance in expanded uncertainties; of three points, the one
/// nearest to their common curve by that measure is kept last.
pub fn farthest(points: &[CertificatePoint]) -> Option<OffCurve> {
    let without = |left_out: usize| -> Vec<CertificatePoint> {
        let kept = points.iter().enumerate().filter(|(i, _)| *i != left_out);
        kept.map(|(_, p)| *p).collect()
    };
    let (_, all) = fit(points).ok()?;
    let agreement = |i: usize| match points.len() {
        4.. => worst(&without(i)).unwrap_or(f64::INFINITY),
        _ => -all[i].abs() / points[i].expanded_n,
    };
    let found = (0..points.len()).min_by(|a, b| agreement(*a).total_cmp(&agreement(*b)))?;
    let (others, _) = fit(&without(found)).ok()?;
    let p = points[found];
    let off_n = others.value(p.reading_counts) - p.load_n;
    Some(OffCurve {
        point: 1 + found,
        load_n: p.load_n,
        off_n,
        expanded_n: p.expanded_n,
    })
}

/// Loads closer than this share of the largest are one: between them no curve is seen. So is a line entered twice.
const LOADS_APART: f64 = 0.01;

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
    let mut loads_n: Vec<f64> = points.iter().map(|point| point.load_n).collect();
    loads_n.sort_by(f64::total_cmp);
    let apart_n = LOADS_APART * loads_n.last().copied().unwrap_or(0.0);
    let close = loads_n
        .windows(2)
        .filter(|pair| pair[1] - pair[0] < apart_n)
        .count();
    match points.len() - close {
        found @ ..3 => Err(CertificateError::TooFew { found }),
        _ => Ok(()),
    }
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
    fn the_mistyped_point_is_the_one_that_is_named() {
        assert_eq!(read_certificate(&points()).unwrap().off_curve, None);
        for mistyped in 0..5 {
            let mut bad = points();
            bad[mistyped].reading_counts *= 1.05;
            let found = read_certificate(&bad).unwrap().off_curve.unwrap();
            assert_eq!(found.point, mistyped + 1);
            assert!(
                (found.off_n / found.load_n - 0.05).abs() < 0.005,
                "{found:?}"
            );
        }
        // a transducer that is bent and scatters within its uncertainty is none
        let mut bent = points();
        for (p, sign) in bent.iter_mut().zip([1.0, -1.0].into_iter().cycle()) {
            p.reading_counts *= 1.0 + 1e-7 * p.load_n + sign * 0.001;
        }
        assert_eq!(read_certificate(&bent).unwrap().off_curve, None);
    }

    #[test]
    fn one_load_with_two_readings_is_refused_and_a_repeated_line_is_not() {
        let mut twice = points();
        twice[2].load_n = twice[1].load_n;
        let refusal = read_certificate(&twice).unwrap_err();
        assert!(
            matches!(
                refusal,
                CertificateError::TwoReadings {
                    point: 3,
                    other: 2,
                    ..
                }
            ),
            "{refusal}"
        );
        let mut copied = points();
        copied[2] = copied[1];
        assert!(read_certificate(&copied).is_ok());
        // Two loads make no curve, however often or closely they are entered.
        let mut two = points()[..3].to_vec();
        two[1] = two[0];
        assert_eq!(
            read_certificate(&two),
            Err(CertificateError::TooFew { found: 2 })
        );
        two[1].load_n *= 1.0002;
        two[1].reading_counts *= 1.0002;
        assert_eq!(
            read_certificate(&two),
            Err(CertificateError::TooFew { found: 2 })
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
