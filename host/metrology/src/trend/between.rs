//! What visits differ by beyond their own uncertainties. In: residuals' weights by a candidate variance. Out: the variance
//! at which the residuals are as large as they should be.

/// Weighted residual sum of squares with a variance added to every point, and the sum of the squares of the residuals each
/// weighted twice: minus the derivative of the first.
#[derive(Clone, Copy, Debug)]
pub struct Misfit {
    /// Σ w·r².
    pub sum: f64,
    /// Σ w²·r².
    pub steepness: f64,
}

/// The variance between visits: the one at which Σ w·r² equals its expectation, the degrees of freedom; zero where the
/// residuals are no larger than that without it.
///
/// `misfit` is convex and falls, so Newton's steps from zero never pass the root.
/// Source: R. C. Paule, J. Mandel, *J. Res. Natl. Bur. Stand.* 87 (1982) 377; with regressors as R. DerSimonian, R. Kacker,
/// *Contemp. Clin. Trials* 28 (2007) 105 (from memory).
pub fn paule_mandel(dof: f64, misfit: impl Fn(f64) -> Misfit) -> f64 {
    const STEPS: usize = 200;
    let mut variance = 0.0;
    for _ in 0..STEPS {
        let now = misfit(variance);
        let step = (now.sum - dof) / now.steepness;
        if !step.is_finite() || step <= 1e-14 * variance {
            break;
        }
        variance += step;
    }
    variance
}

/// The same for the common mean of several results with their variances: (variance between, mean, its standard error).
pub fn common_mean(values: &[f64], variances: &[f64]) -> (f64, f64, f64) {
    let mean = |between: f64| {
        let weights = variances.iter().map(|own| 1.0 / (own + between));
        let total: f64 = weights.clone().sum();
        let sum: f64 = weights.zip(values).map(|(w, v)| w * v).sum();
        (sum / total, total)
    };
    let misfit = |between: f64| {
        let (centre, _) = mean(between);
        let parts = variances.iter().zip(values).map(|(own, value)| {
            let weight = 1.0 / (own + between);
            (weight, (value - centre).powi(2))
        });
        Misfit {
            sum: parts.clone().map(|(w, square)| w * square).sum(),
            steepness: parts.map(|(w, square)| w * w * square).sum(),
        }
    };
    let between = paule_mandel(values.len() as f64 - 1.0, misfit);
    let (centre, total) = mean(between);
    (between, centre, total.sqrt().recip())
}
