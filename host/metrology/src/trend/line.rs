//! The line through the figures of several visits. In: points with what is their own and what they share. Out: slope and
//! level with their uncertainty, confidence and prediction bands.

use super::Point;
use super::between::{Misfit, paule_mandel};
use crate::special::{normal_quantile, t_quantile, t_survival};

/// Two-sided level of every interval of a trend.
pub const LEVEL: f64 = 0.95;

/// Why there is no line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoLine {
    /// Fewer than three points.
    TooFew,
    /// All at one place.
    OnePlace,
}

/// A line with its uncertainty.
///
/// Weights are inverse to u² + τ², u the uncertainty of a visit's own and τ² the variance between visits ([`paule_mandel`]).
/// Of several calibrations each adds a covariance of its own to the points it was used for, so the shift from one to the next
/// is no slope. Slope and level have the variance of the residuals on n − 2 degrees of freedom, not less where the residuals
/// are small (G. Knapp, J. Hartung, *Statist. Med.* 22 (2003) 2693, from memory), and beside it what calibrations share.
#[derive(Clone, Debug)]
pub struct Line {
    /// Rise per unit of x.
    pub slope: f64,
    /// Where the value is best known.
    pub centre: f64,
    /// The value there.
    pub level: f64,
    /// Variance between visits, beyond their own uncertainties.
    pub between_variance: f64,
    /// Residual variance over its expectation.
    pub scale: f64,
    /// Degrees of freedom of the scale: n − 2.
    pub dof: f64,
    parts: Vec<Part>,
    quantiles: Quantiles,
}

/// Quantiles of both parts of a variance.
#[derive(Clone, Copy, Debug)]
struct Quantiles {
    /// Student's t on the degrees of freedom of the residuals.
    own: f64,
    /// Normal: what a certificate states.
    shared: f64,
}

impl Quantiles {
    fn two_sided(p: f64, dof: f64) -> Self {
        let up_to = 1.0 - 0.5 * p;
        Self {
            own: t_quantile(up_to, dof),
            shared: normal_quantile(up_to),
        }
    }
}

/// What one point adds to level and slope.
#[derive(Clone, Copy, Debug)]
struct Part {
    /// Variance of its own and between visits.
    variance: f64,
    /// Share of its value in the level at the centre.
    in_level: f64,
    /// Share of its value in the slope.
    in_slope: f64,
    shared: f64,
    calibration: usize,
}

/// A variance in two parts.
#[derive(Clone, Copy, Debug)]
struct Variance {
    /// From the residuals, on `dof`.
    own: f64,
    /// From what calibrations share.
    shared: f64,
}

impl Variance {
    fn total(self) -> f64 {
        self.own + self.shared
    }

    /// Half width of the two-sided interval: each part's own quantile weighted by its share of the variance, as where few
    /// clamps and a shared error are mixed.
    fn half_width(self, quantiles: Quantiles) -> f64 {
        let total = self.total();
        if total <= 0.0 {
            return 0.0;
        }
        let own = self.own * quantiles.own;
        let shared = if self.shared > 0.0 {
            self.shared * quantiles.shared
        } else {
            0.0
        };
        (own + shared) / total.sqrt()
    }
}

/// Fits the line.
///
/// # Errors
/// Too few points, or all at one place.
pub fn line(points: &[Point]) -> Result<Line, NoLine> {
    if points.len() < 3 {
        return Err(NoLine::TooFew);
    }
    let first = points[0].x;
    if points.iter().all(|point| point.x.total_cmp(&first).is_eq()) {
        return Err(NoLine::OnePlace);
    }
    let dof = points.len() as f64 - 2.0;
    let design = Design::of(points);
    let between_variance = paule_mandel(dof, |between| design.fit(between).misfit);
    let fit = design.fit(between_variance);
    let scale = fit.misfit.sum / dof;
    Ok(Line {
        slope: fit.slope,
        centre: fit.centre,
        level: fit.level,
        between_variance,
        scale,
        dof,
        parts: fit.parts,
        quantiles: Quantiles::two_sided(1.0 - LEVEL, dof),
    })
}

impl Line {
    /// The value at a place.
    pub fn at(&self, x: f64) -> f64 {
        self.level + self.slope * (x - self.centre)
    }

    /// Two-sided interval of the slope at 95 %.
    pub fn slope_interval(&self) -> [f64; 2] {
        let half = self.of_slope().half_width(self.quantiles);
        [self.slope - half, self.slope + half]
    }

    /// The figures run one way: the interval of the slope leaves out zero.
    pub fn runs_one_way(&self) -> bool {
        let [low, high] = self.slope_interval();
        low > 0.0 || high < 0.0
    }

    /// Two-sided significance of the slope against none; one for a slope of zero.
    pub fn p(&self) -> f64 {
        let size = self.slope.abs();
        let variance = self.of_slope();
        if size <= 0.0 {
            return 1.0;
        }
        if variance.total() <= 0.0 {
            return 0.0;
        }
        if variance.shared <= 0.0 {
            return (2.0 * t_survival(size / variance.own.sqrt(), self.dof)).min(1.0);
        }
        // The level at which the interval ends at zero: its half width falls as p grows.
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            match variance.half_width(Quantiles::two_sided(middle, self.dof)) > size {
                true => low = middle,
                false => high = middle,
            }
        }
        0.5 * (low + high)
    }

    /// Half width of the interval of the line itself at a place, 95 %, everything shared in it.
    pub fn half_width(&self, x: f64) -> f64 {
        self.at_place(x).half_width(self.quantiles)
    }

    /// Interval of the line at a place, 95 %.
    pub fn confidence(&self, x: f64) -> [f64; 2] {
        let half = self.half_width(x);
        [self.at(x) - half, self.at(x) + half]
    }

    /// Interval for the figure of one more visit whose own standard uncertainty is `own`, 95 %.
    pub fn prediction(&self, x: f64, own: f64) -> [f64; 2] {
        let mut variance = self.at_place(x);
        variance.own += self.scale * (self.between_variance + own * own);
        let half = variance.half_width(self.quantiles);
        [self.at(x) - half, self.at(x) + half]
    }

    /// What all points of one calibration share is taken as one shift here, so that it cancels wholly in a slope of one.
    fn of_slope(&self) -> Variance {
        let own = self
            .parts
            .iter()
            .map(|part| part.in_slope.powi(2) * part.variance)
            .sum::<f64>();
        let shifts = self.by_calibration(|part| part.in_slope);
        let means = self.by_calibration(|part| part.shared);
        let counts = self.by_calibration(|_| 1.0);
        let of_one = |((shift, sum), count): ((f64, f64), f64)| {
            if count > 0.0 {
                (shift * sum / count).powi(2)
            } else {
                0.0
            }
        };
        let shared = match counts.iter().filter(|count| **count > 0.0).count() {
            1 => 0.0,
            _ => shifts.into_iter().zip(means).zip(counts).map(of_one).sum(),
        };
        Variance {
            own: self.scale * own,
            shared,
        }
    }

    fn at_place(&self, x: f64) -> Variance {
        let share = |part: &Part| part.in_level + (x - self.centre) * part.in_slope;
        let own = self
            .parts
            .iter()
            .map(|part| share(part).powi(2) * part.variance)
            .sum::<f64>();
        let shifts = self.by_calibration(|part| share(part) * part.shared);
        Variance {
            own: self.scale * own,
            shared: shifts.iter().map(|shift| shift * shift).sum(),
        }
    }

    /// A sum over the points of each calibration.
    fn by_calibration(&self, of: impl Fn(&Part) -> f64) -> Vec<f64> {
        let groups = self
            .parts
            .iter()
            .map(|part| part.calibration)
            .max()
            .map_or(0, |last| last + 1);
        let mut sums = vec![0.0; groups];
        for part in &self.parts {
            sums[part.calibration] += of(part);
        }
        sums
    }
}

/// Points with their places counted from their middle, and the shift of each calibration.
struct Design<'a> {
    points: &'a [Point],
    owns: Vec<f64>,
    middle: f64,
    /// Of each calibration the standard uncertainty its points share; empty where all have the same, which moves no slope.
    shifts: Vec<f64>,
}

struct Fitted {
    slope: f64,
    centre: f64,
    level: f64,
    misfit: Misfit,
    parts: Vec<Part>,
}

impl<'a> Design<'a> {
    fn of(points: &'a [Point]) -> Self {
        let known = points
            .iter()
            .filter_map(|point| point.own.filter(|own| *own > 0.0));
        let widest = known.clone().fold(0.0, f64::max);
        let finest = known.fold(f64::INFINITY, f64::min);
        // Not known: no more is claimed than for the widest. Known of none: all weigh the same. None at all is no
        // uncertainty: as fine as the finest.
        let owns = points.iter().map(|point| match point.own {
            _ if widest <= 0.0 => 1.0,
            None => widest,
            Some(own) if own <= 0.0 => finest,
            Some(own) => own,
        });
        Self {
            points,
            owns: owns.collect(),
            middle: points.iter().map(|point| point.x).sum::<f64>() / points.len() as f64,
            shifts: shifts(points),
        }
    }

    fn fit(&self, between: f64) -> Fitted {
        let variances: Vec<f64> = self.owns.iter().map(|own| own * own + between).collect();
        let ones = vec![1.0; variances.len()];
        let places: Vec<f64> = self
            .points
            .iter()
            .map(|point| point.x - self.middle)
            .collect();
        let values: Vec<f64> = self.points.iter().map(|point| point.value).collect();
        let by_ones = self.weighted(&ones, &variances);
        let total = dot(&by_ones, &ones);
        let centre = dot(&by_ones, &places) / total;
        let apart: Vec<f64> = places.iter().map(|place| place - centre).collect();
        let by_apart = self.weighted(&apart, &variances);
        let spread = dot(&by_apart, &apart);
        let level = dot(&by_ones, &values) / total;
        let slope = values
            .iter()
            .zip(&by_apart)
            .map(|(value, weight)| (value - level) * weight)
            .sum::<f64>()
            / spread;
        let residuals: Vec<f64> = values
            .iter()
            .zip(&apart)
            .map(|(value, x)| value - level - slope * x)
            .collect();
        let weighed = self.weighted(&residuals, &variances);
        let parts = (0..variances.len()).map(|i| Part {
            variance: variances[i],
            in_level: by_ones[i] / total,
            in_slope: by_apart[i] / spread,
            shared: self.points[i].shared.unwrap_or(0.0),
            calibration: self.points[i].calibration,
        });
        Fitted {
            slope,
            centre: self.middle + centre,
            level,
            misfit: Misfit {
                sum: dot(&weighed, &residuals),
                steepness: dot(&weighed, &weighed),
            },
            parts: parts.collect(),
        }
    }

    /// The inverse of the covariance times a vector: variances of their own on the diagonal, and of each calibration one shift
    /// of all its points (J. Sherman, W. J. Morrison, *Ann. Math. Statist.* 21 (1950) 124, from memory).
    fn weighted(&self, of: &[f64], variances: &[f64]) -> Vec<f64> {
        let mut weighted: Vec<f64> = of
            .iter()
            .zip(variances)
            .map(|(v, variance)| v / variance)
            .collect();
        if self.shifts.is_empty() {
            return weighted;
        }
        let mut sums = vec![(0.0, 0.0); self.shifts.len()];
        for (i, point) in self.points.iter().enumerate() {
            let sum = &mut sums[point.calibration];
            sum.0 += weighted[i];
            sum.1 += 1.0 / variances[i];
        }
        for (i, point) in self.points.iter().enumerate() {
            let shift = self.shifts[point.calibration].powi(2);
            let (of_vector, of_ones) = sums[point.calibration];
            weighted[i] -= shift * of_vector / (1.0 + shift * of_ones) / variances[i];
        }
        weighted
    }
}

/// Of each calibration the mean of what its points share; nothing where there is one calibration.
fn shifts(points: &[Point]) -> Vec<f64> {
    let first = points[0].calibration;
    if points.iter().all(|point| point.calibration == first) {
        return Vec::new();
    }
    let groups = points
        .iter()
        .map(|point| point.calibration)
        .max()
        .map_or(0, |last| last + 1);
    let mut sums = vec![(0.0, 0.0); groups];
    for point in points {
        let sum = &mut sums[point.calibration];
        sum.0 += point.shared.unwrap_or(0.0);
        sum.1 += 1.0;
    }
    sums.into_iter()
        .map(|(sum, count)| if count > 0.0 { sum / count } else { 0.0 })
        .collect()
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}
