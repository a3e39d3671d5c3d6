//! Whether the mark came once a turn. In: the fit of a marked plane and its readings. Out: yes, or not shown.
//!
//! A mark on two keys, or on a pulley, comes twice a turn or every second one; what comes once a turn then stands in
//! another order of the fit or in none, and the eccentricity is nothing. Common practice, no source.

use super::harmonics::{Harmonics, count};
use super::noise;
use super::vector::length_um;

/// What no order explains may be this large against the once-per-turn part.
const UNEXPLAINED: f64 = 0.5;
/// Amplitudes shorter than this many of their standard deviations are noise.
const SURE: f64 = 4.0;
/// A residual within this much of the noise is noise.
const NOISE: f64 = 1.5;

/// Whether the once-per-turn part fails to explain what the readings do.
pub fn is_doubtful(fit: &Harmonics, readings_um: &[f64]) -> bool {
    let noise_um = noise::standard_um(readings_um);
    let once_um = length_um(fit.vectors[0]);
    let other_um = fit.vectors[1..]
        .iter()
        .map(|v| length_um(*v))
        .fold(0.0, f64::max);
    let sure_um = SURE * noise_um * (2.0 / count(readings_um.len().max(1))).sqrt();
    let residual_um2 = fit.residual_squares_um2 / count(fit.dof.max(1));
    let unexplained_um = (2.0 * (residual_um2 - (NOISE * noise_um).powi(2)).max(0.0)).sqrt();
    (other_um > once_um && other_um > sure_um)
        || (unexplained_um > UNEXPLAINED * once_um && unexplained_um > noise_um)
}
