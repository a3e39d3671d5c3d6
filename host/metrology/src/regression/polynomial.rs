//! A curve of some degree through points: points in; coefficients, values and intervals out.

use super::{Fit, FitError, Prediction, fit};

/// A fitted polynomial, lowest power first.
#[derive(Clone, Debug)]
pub struct Polynomial {
    /// The power of the first coefficient: 0, or 1 for a curve through zero.
    pub lowest_power: i32,
    /// The fit behind it.
    pub fit: Fit,
}

/// Fits Σ bₖ xᵏ, k from 0 (from 1 with `through_zero`) to `degree`. See [`fit`].
pub fn polynomial(
    x: &[f64],
    y: &[f64],
    degree: i32,
    through_zero: bool,
    weights: Option<&[f64]>,
) -> Result<Polynomial, FitError> {
    let lowest_power = i32::from(through_zero);
    let columns: Vec<Vec<f64>> = (lowest_power..=degree)
        .map(|k| x.iter().map(|v| power(*v, k)).collect())
        .collect();
    Ok(Polynomial {
        lowest_power,
        fit: fit(&columns, y, weights)?,
    })
}

/// xᵏ by plain multiplication: the same digits on every machine.
fn power(x: f64, k: i32) -> f64 {
    (0..k).fold(1.0, |product, _| product * x)
}

impl Polynomial {
    /// The curve at `x`.
    pub fn value(&self, x: f64) -> f64 {
        let sum = self
            .fit
            .coefficients
            .iter()
            .rev()
            .fold(0.0, |sum, b| sum * x + b);
        sum * power(x, self.lowest_power)
    }

    /// Rise of the curve at `x`.
    pub fn slope(&self, x: f64) -> f64 {
        let powers = self.powers();
        let terms = powers.zip(&self.fit.coefficients).filter(|(k, _)| *k > 0);
        terms.map(|(k, b)| f64::from(k) * b * power(x, k - 1)).sum()
    }

    /// The curve at `x` with its intervals, for a new observation of weight `weight`.
    pub fn predict(&self, x: f64, weight: f64) -> Prediction {
        let row: Vec<f64> = self.powers().map(|k| power(x, k)).collect();
        self.fit.predict(&row, weight)
    }

    /// The x between `low` and `high` where the curve has the value `y`; `None` if it is not taken
    /// there an odd number of times.
    pub fn inverse(&self, y: f64, low: f64, high: f64) -> Option<f64> {
        let miss = |x: f64| self.value(x) - y;
        let crosses = miss(low) * miss(high) <= 0.0;
        crosses.then(|| crate::special::root_between(miss, low, high))
    }

    fn powers(&self) -> impl Iterator<Item = i32> + use<> {
        let first = self.lowest_power;
        (0..self.fit.coefficients.len())
            .zip(first..)
            .map(|(_, k)| k)
    }
}
