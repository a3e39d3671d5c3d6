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
