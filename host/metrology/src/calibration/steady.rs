//! Readings while a load is said to stand still in; their mean, or how far it moved meanwhile, out.

use crate::statistics::{mean, noise};
use serde::{Deserialize, Serialize};

/// The stretch is looked at in so many parts. A tenth of a second is five periods of 50 Hz mains and six of 60 Hz, so
/// that hum moves none of them against the others.
const PARTS: usize = 10;
/// The means of the parts may differ by so many of their standard deviations: over ten of them the range of pure noise
/// exceeds this once in some hundred thousand stretches.
const NOISE_FACTOR: f64 = 7.0;
/// A press that settles and a cell that creeps are never quite still: so much of the reading is allowed besides, well
/// below the repeatability of the best class.
const SETTLING: f64 = 1e-4;
/// The least that counts as a movement, counts.
const LEAST_COUNTS: f64 = 3.0;

/// A reading of a load at rest.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Steady {
    /// Mean of the samples, counts.
    pub mean_counts: f64,
    /// Noise of one sample, counts.
    pub noise_counts: f64,
    /// Largest less smallest mean of the parts, counts.
    pub moved_counts: f64,
}

/// Why samples are no reading.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum NotSteady {
    /// Fewer than two samples for each part.
    #[error("only {found} samples arrived")]
    TooFew {
        /// How many.
        found: usize,
    },
    /// More movement than the noise permits.
    #[error(
        "it moved by {moved_counts:.0} counts while it was read, noise permits {permitted_counts:.0}"
    )]
    Moved {
        /// Largest less smallest mean of the parts.
        moved_counts: f64,
        /// What was permitted.
        permitted_counts: f64,
    },
}

/// Mean of the samples of one second of a load at rest, taken at even spacing; `zero_counts` is the reading at no load, as
/// far as it is known.
///
/// The samples are cut into ten parts; the means of the parts may differ by seven of their standard deviations (noise by
/// neighbouring differences), or by 0.01 % of the reading less the zero, or by 3 counts, whichever is largest. Common
/// practice, no source; the mean over whole periods of the mains takes out their hum.
pub fn steady(counts: &[f64], zero_counts: Option<f64>) -> Result<Steady, NotSteady> {
    let part = counts.len() / PARTS;
    if part < 2 {
        return Err(NotSteady::TooFew {
            found: counts.len(),
        });
    }
    let means: Vec<f64> = (0..PARTS)
        .map(|k| mean(&counts[k * counts.len() / PARTS..(k + 1) * counts.len() / PARTS]))
        .collect();
    let highest = means.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let lowest = means.iter().copied().fold(f64::INFINITY, f64::min);
    let (mean_counts, noise_counts) = (mean(counts), noise(counts));
    let by_noise = NOISE_FACTOR * noise_counts / (part as f64).sqrt();
    let by_settling = zero_counts.map_or(0.0, |zero| SETTLING * (mean_counts - zero).abs());
    let permitted_counts = by_noise.max(by_settling).max(LEAST_COUNTS);
    let moved_counts = highest - lowest;
    if moved_counts > permitted_counts {
        return Err(NotSteady::Moved {
            moved_counts,
            permitted_counts,
        });
    }
    Ok(Steady {
        mean_counts,
        noise_counts,
        moved_counts,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 330 samples of a level with a ripple of neighbours, moved by `moved` from first to last.
    fn second(level: f64, moved: f64) -> Vec<f64> {
        (0..330)
            .map(|i| {
                let ripple = f64::from(i * 7919 % 101) - 50.0;
                level + ripple + moved * f64::from(i) / 329.0
            })
            .collect()
    }

    #[test]
    fn a_load_at_rest_reads_its_mean() {
        let found = steady(&second(400_000.0, 0.0), Some(0.0)).unwrap();
        assert!((found.mean_counts - 400_000.0).abs() < 1.0, "{found:?}");
        assert!((20.0..60.0).contains(&found.noise_counts), "{found:?}");
    }

    #[test]
    fn a_load_that_moves_or_is_knocked_is_no_reading() {
        // 0.05 % of the reading in one second.
        let moving = steady(&second(400_000.0, 200.0), Some(0.0));
        assert!(matches!(moving, Err(NotSteady::Moved { .. })), "{moving:?}");
        let mut knocked = second(400_000.0, 0.0);
        knocked[100..130].iter_mut().for_each(|x| *x += 300.0);
        assert!(matches!(
            steady(&knocked, Some(0.0)),
            Err(NotSteady::Moved { .. })
        ));
        // Slow settling of 0.005 % is let pass: the same share of nothing is not.
        assert!(steady(&second(400_000.0, 20.0), Some(0.0)).is_ok());
    }

    #[test]
    fn hum_of_the_mains_is_no_movement() {
        let hum = |hz: f64| -> Vec<f64> {
            (0..1_000)
                .map(|i| {
                    5_000.0 + 80.0 * (std::f64::consts::TAU * hz * f64::from(i) / 1_000.0).sin()
                })
                .collect()
        };
        for hz in [50.0, 60.0] {
            let found = steady(&hum(hz), None).unwrap();
            assert!(
                (found.mean_counts - 5_000.0).abs() < 1e-6,
                "{hz} Hz: {found:?}"
            );
        }
    }

    #[test]
    fn a_handful_of_samples_is_no_reading() {
        assert_eq!(
            steady(&[1.0; 19], None),
            Err(NotSteady::TooFew { found: 19 })
        );
    }
}
