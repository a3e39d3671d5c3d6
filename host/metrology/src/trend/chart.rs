//! A chart of single figures. In: figures in order. Out: their mean, the limits a steady run keeps within, and who is outside.

use crate::statistics::mean;
use serde::Serialize;

/// The individuals chart of a series.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Chart {
    /// Mean of the figures.
    pub mean: f64,
    /// Mean of the differences from one figure to the next.
    pub moving_range: f64,
    /// Lower and upper limit.
    pub limits: [f64; 2],
    /// Places, counted from 0, of the figures outside them.
    pub outside: Vec<usize>,
}

/// Mean ± 3 σ, σ the mean moving range over d₂ = 2/√π. `None` below two figures.
///
/// Source: NIST/SEMATECH e-Handbook, section 6.3.2.2.
pub fn individuals_chart(values: &[f64]) -> Option<Chart> {
    if values.len() < 2 {
        return None;
    }
    let d2 = 2.0 / std::f64::consts::PI.sqrt();
    let ranges: Vec<f64> = values
        .windows(2)
        .map(|pair| (pair[1] - pair[0]).abs())
        .collect();
    let (centre, moving_range) = (mean(values), mean(&ranges));
    let three_sigma = 3.0 * moving_range / d2;
    let outside = values
        .iter()
        .enumerate()
        .filter(|(_, value)| (*value - centre).abs() > three_sigma);
    Some(Chart {
        mean: centre,
        moving_range,
        limits: [centre - three_sigma, centre + three_sigma],
        outside: outside.map(|(place, _)| place).collect(),
    })
}
