//! Harmonics of a turn. In: angles, readings and, for a turning spindle, times. Out: mean, drift, eccentricity and
//! higher harmonics by least squares, with their standard errors, or why the positions do not bear them.

use super::remarks::PlaneNote;
pub use super::vector::count;
use super::vector::{Vector, distinct_angles_deg, turn_by};
use nalgebra::{DMatrix, DVector, SymmetricEigen};

/// Highest harmonic ever fitted.
pub const HIGHEST_ORDER: usize = 12;
/// An eccentricity needs this many different positions: mean and one harmonic, and one reading to check them.
pub const FEWEST_ANGLES: usize = 4;
/// The eccentricity may be this many times less certain than from as many equal positions.
const BUNCHING: f64 = 3.0;
/// Eigenvalues of the normal equations below this share of the largest carry no digit one could use.
const SINGULAR: f64 = 1e-10;

/// Readings round one or more turns.
#[derive(Clone, Copy, Debug)]
pub struct Turn<'a> {
    /// How far the spindle was turned at each reading, degrees.
    pub angles_deg: &'a [f64],
    /// The readings, µm.
    pub readings_um: &'a [f64],
    /// Their times, s, where a drift is to be fitted along with the harmonics.
    pub times_s: Option<&'a [f64]>,
}

/// Why no harmonics were fitted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoFit {
    /// Fewer than four different positions.
    FewAngles(usize),
    /// The positions are bunched on one side of the turn.
    Bunched,
}

impl NoFit {
    /// The remark on a plane without an eccentricity.
    pub fn note(self) -> PlaneNote {
        match self {
            Self::FewAngles(positions) => PlaneNote::FewPositions {
                positions,
                fewest: FEWEST_ANGLES,
            },
            Self::Bunched => PlaneNote::Bunched,
        }
    }
}

/// reading = mean + slope·(t − t̄) + Σ Re(v_k·e^{−ikθ}), fitted by least squares.
#[derive(Clone, Debug)]
pub struct Harmonics {
    /// Mean, µm; with a drift fitted: at the middle of the times.
    pub mean_um: f64,
    /// Fitted drift, µm/s.
    pub slope_um_per_s: Option<f64>,
    /// v_k = A_k·e^{iφ_k} for k = 1, 2, …: A_k·cos(kθ − φ_k) in the reading.
    pub vectors: Vec<Vector>,
    /// Largest standard error of the eccentricity vector, in any direction, for a reading noise of 1.
    pub standard_error_per_noise: f64,
    /// Sum of squared residuals of the whole model, µm².
    pub residual_squares_um2: f64,
    /// Readings less fitted parameters.
    pub dof: usize,
}

impl Harmonics {
    /// The eccentricity vector (k = 1), µm.
    pub fn eccentricity(&self) -> Vector {
        self.vectors[0]
    }

    /// The fitted curve at an angle, without mean and drift, µm.
    pub fn at(&self, angle_deg: f64) -> f64 {
        orders(&self.vectors)
            .map(|(order, v)| (v * turn_by(-order * angle_deg)).re)
            .sum()
    }

    /// Slope of the fitted curve at an angle, µm per radian.
    pub fn slope_at(&self, angle_deg: f64) -> f64 {
        orders(&self.vectors)
            .map(|(order, v)| order * (v * turn_by(-order * angle_deg)).im)
            .sum()
    }

    /// Peak to valley of the fitted curve over a whole turn, µm, to a part in 10⁴ of its amplitude.
    pub fn peak_to_valley_um(&self) -> f64 {
        spread((0..720).map(|half_degree| self.at(f64::from(half_degree) / 2.0)))
    }

    /// Standard deviation of a reading about the fit, µm; `None` without a spare reading.
    pub fn noise_um(&self) -> Option<f64> {
        (self.dof > 0).then(|| (self.residual_squares_um2 / count(self.dof)).sqrt())
    }
}

fn orders(vectors: &[Vector]) -> impl Iterator<Item = (f64, Vector)> + '_ {
    vectors
        .iter()
        .enumerate()
        .map(|(index, v)| (count(index + 1), *v))
}

/// Largest less smallest; 0 for nothing.
pub fn spread(values: impl Iterator<Item = f64>) -> f64 {
    let (low, high) = values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), x| {
        (low.min(x), high.max(x))
    });
    (high - low).max(0.0)
}

/// Mean length of an eccentricity vector whose true length is zero, when each component has the standard
/// uncertainty `standard_um`: standard·√(π/2).
///
/// A true spindle still shows this much: what is not well above it is noise.
/// Source: mean of the Rayleigh distribution.
pub fn noise_floor_um(standard_um: f64) -> f64 {
    standard_um * std::f64::consts::FRAC_PI_2.sqrt()
}

/// Highest harmonic that `distinct` different angles bear: the largest K with 1 + 2K ≤ distinct − 1, K < distinct/2
/// and K ≤ 12.
pub fn highest_order(distinct: usize) -> usize {
    (distinct.saturating_sub(2) / 2)
        .min(distinct.saturating_sub(1) / 2)
        .min(HIGHEST_ORDER)
}

/// Mean, drift and as many harmonics as the positions bear, by linear least squares.
///
/// The highest order is [`highest_order`], lowered until the largest standard error of the eccentricity per unit of
/// reading noise is at most 3·√(2/n), n different angles; √(2/n) is its value for equal positions.
/// Angles may be unequal, missing or repeated.
///
/// # Errors
/// [`NoFit`] with fewer than four different angles, or when they are bunched.
pub fn fit(turn: &Turn) -> Result<Harmonics, NoFit> {
    let distinct = distinct_angles_deg(turn.angles_deg).len();
    if distinct < FEWEST_ANGLES {
        return Err(NoFit::FewAngles(distinct));
    }
    let worst = BUNCHING * (2.0 / count(distinct)).sqrt();
    let equations = Equations::new(turn, highest_order(distinct));
    (1..=highest_order(distinct))
        .rev()
        .find_map(|order| {
            equations
                .solve(order)
                .filter(|fit| fit.standard_error_per_noise <= worst)
        })
        .ok_or(NoFit::Bunched)
}

/// The same with the highest order given: what lies above it is left in the residuals. `None` where the positions do
/// not determine it.
pub fn fit_order(turn: &Turn, order: usize) -> Option<Harmonics> {
    Equations::new(turn, order).solve(order)
}

/// The normal equations: those of a lower order are their leading part.
struct Equations<'a> {
    turn: &'a Turn<'a>,
    mean_um: f64,
    middle_s: f64,
    half_span_s: f64,
    gram: DMatrix<f64>,
    right: DVector<f64>,
}

impl<'a> Equations<'a> {
    fn new(turn: &'a Turn<'a>, order: usize) -> Self {
        let (first, last) = turn.times_s.map_or((0.0, 0.0), |times| {
            (times[0], times.last().copied().unwrap_or(times[0]))
        });
        let mut equations = Self {
            turn,
            mean_um: turn.readings_um.iter().sum::<f64>() / count(turn.readings_um.len()),
            middle_s: f64::midpoint(first, last),
            half_span_s: (last - first) / 2.0,
            gram: DMatrix::zeros(0, 0),
            right: DVector::zeros(0),
        };
        let size = equations.size(order);
        equations.gram = DMatrix::zeros(size, size);
        equations.right = DVector::zeros(size);
        equations.accumulate(order);
        equations
    }

    fn size(&self, order: usize) -> usize {
        self.first_harmonic() + 2 * order
    }

    /// Column of cos θ: after the mean and the drift.
    fn first_harmonic(&self) -> usize {
        1 + usize::from(self.turn.times_s.is_some())
    }

    /// One row of the design: 1, time scaled to ± 1, cos θ, sin θ, cos 2θ, …
    fn row(&self, reading: usize, order: usize) -> Vec<f64> {
        let mut row = vec![1.0];
        if let Some(times) = self.turn.times_s {
            row.push((times[reading] - self.middle_s) / self.half_span_s);
        }
        let angle = self.turn.angles_deg[reading].to_radians();
        for k in 1..=order {
            let (sin, cos) = (count(k) * angle).sin_cos();
            row.extend([cos, sin]);
        }
        row
    }

    fn accumulate(&mut self, order: usize) {
        for reading in 0..self.turn.readings_um.len() {
            let row = self.row(reading, order);
            let value = self.turn.readings_um[reading] - self.mean_um;
            for (i, a) in row.iter().enumerate() {
                self.right[i] += a * value;
                for (j, b) in row.iter().enumerate().take(i + 1) {
                    self.gram[(i, j)] += a * b;
                }
            }
        }
        self.gram.fill_upper_triangle_with_lower_triangle();
    }

    fn solve(&self, order: usize) -> Option<Harmonics> {
        let size = self.size(order);
        let gram = self.gram.view((0, 0), (size, size)).into_owned();
        let eigenvalues = SymmetricEigen::new(gram.clone()).eigenvalues;
        if self.turn.readings_um.len() < size || eigenvalues.min() <= SINGULAR * eigenvalues.max() {
            return None;
        }
        let factor = gram.cholesky()?;
        let solution = factor.solve(&self.right.rows(0, size).into_owned());
        let covariance = factor.inverse();
        let first = self.first_harmonic();
        let vectors =
            (0..order).map(|k| Vector::new(solution[first + 2 * k], solution[first + 2 * k + 1]));
        Some(Harmonics {
            mean_um: self.mean_um + solution[0],
            slope_um_per_s: self.turn.times_s.map(|_| solution[1] / self.half_span_s),
            vectors: vectors.collect(),
            standard_error_per_noise: longest_axis(&covariance, first),
            residual_squares_um2: self.residual_squares(&solution, order),
            dof: self.turn.readings_um.len() - size,
        })
    }

    fn residual_squares(&self, solution: &DVector<f64>, order: usize) -> f64 {
        let residual = |reading: usize| {
            let row = DVector::from_vec(self.row(reading, order));
            self.turn.readings_um[reading] - self.mean_um - row.dot(solution)
        };
        (0..self.turn.readings_um.len())
            .map(|reading| residual(reading).powi(2))
            .sum()
    }
}

/// Root of the larger eigenvalue of the 2 × 2 block that starts at `first`: free of where 0° lies.
fn longest_axis(covariance: &DMatrix<f64>, first: usize) -> f64 {
    let (a, b, c) = (
        covariance[(first, first)],
        covariance[(first, first + 1)],
        covariance[(first + 1, first + 1)],
    );
    (f64::midpoint(a, c) + ((a - c) / 2.0).hypot(b)).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn readings(angles_deg: &[f64], terms: &[(f64, f64, f64)]) -> Vec<f64> {
        angles_deg
            .iter()
            .map(|angle| {
                terms
                    .iter()
                    .map(|(k, a, phase)| a * (k * angle - phase).to_radians().cos())
                    .sum()
            })
            .collect()
    }

    fn fitted(angles_deg: &[f64], readings_um: &[f64]) -> Result<Harmonics, NoFit> {
        fit(&Turn {
            angles_deg,
            readings_um,
            times_s: None,
        })
    }

    #[test]
    fn four_equal_positions_bear_one_harmonic_and_thirty_six_bear_twelve() {
        let orders: Vec<usize> = [3, 4, 5, 6, 8, 12, 16, 36]
            .into_iter()
            .map(highest_order)
            .collect();
        assert_eq!(orders, [0, 1, 1, 2, 3, 5, 7, 12]);
    }

    #[test]
    fn bunched_angles_lower_the_order_before_they_refuse() {
        // Nine positions within 160°: three harmonics cannot be told apart there, one can.
        let near: Vec<f64> = (0..9).map(|i| 20.0 * f64::from(i)).collect();
        let fit = fitted(&near, &readings(&near, &[(1.0, 5.0, 70.0)])).expect("one harmonic");
        assert!(
            fit.vectors.len() < highest_order(9),
            "{}",
            fit.vectors.len()
        );
        assert!((fit.eccentricity().norm() - 5.0).abs() < 1e-9);
        let nearer: Vec<f64> = (0..9).map(|i| 5.0 * f64::from(i)).collect();
        let refused = fitted(&nearer, &readings(&nearer, &[(1.0, 5.0, 70.0)]));
        assert_eq!(refused.expect_err("bunched"), NoFit::Bunched);
    }

    #[test]
    fn a_drift_in_time_is_told_from_the_eccentricity_of_a_turning_spindle() {
        let times: Vec<f64> = (0..400).map(|i| 0.01 * f64::from(i)).collect();
        let angles: Vec<f64> = times.iter().map(|t| (180.0 * t) % 360.0).collect();
        let mut values = readings(
            &angles,
            &[(0.0, 40.0, 0.0), (1.0, 5.0, 30.0), (2.0, 1.0, 10.0)],
        );
        for (value, t) in values.iter_mut().zip(&times) {
            *value += 3.0 * t;
        }
        let fit = fit(&Turn {
            angles_deg: &angles,
            readings_um: &values,
            times_s: Some(&times),
        })
        .expect("two turns");
        assert!((fit.slope_um_per_s.expect("a drift") - 3.0).abs() < 1e-9);
        assert!((fit.eccentricity() - super::super::vector::vector(5.0, 30.0)).norm() < 1e-9);
        assert!(fit.residual_squares_um2 < 1e-15);
    }

    #[test]
    fn the_slope_is_that_of_the_curve() {
        let angles: Vec<f64> = (0..8).map(|i| 45.0 * f64::from(i)).collect();
        let fit = fitted(
            &angles,
            &readings(&angles, &[(1.0, 5.0, 30.0), (3.0, 1.0, 0.0)]),
        )
        .expect("fits");
        let step: f64 = 1e-4;
        let difference = (fit.at(77.0 + step) - fit.at(77.0 - step)) / (2.0 * step.to_radians());
        assert!((fit.slope_at(77.0) - difference).abs() < 1e-6);
        assert!(
            (fit.peak_to_valley_um() - spread((0..3600).map(|i| fit.at(f64::from(i) / 10.0))))
                .abs()
                < 1e-3
        );
    }

    proptest! {
        #[test]
        fn any_positions_that_bear_it_give_the_eccentricity_back(
            angles in proptest::collection::vec(0.0..360.0_f64, 4..40),
            length in 0.0..50.0_f64,
            direction in 0.0..360.0_f64,
        ) {
            let values = readings(&angles, &[(0.0, 1000.0, 0.0), (1.0, length, direction)]);
            if let Ok(fit) = fitted(&angles, &values) {
                let off = fit.eccentricity() - super::super::vector::vector(length, direction);
                prop_assert!(off.norm() < 1e-8, "off by {} µm", off.norm());
            }
        }

        #[test]
        fn noise_moves_the_eccentricity_no_more_than_its_standard_error_allows(
            angles in proptest::collection::vec(0.0..360.0_f64, 4..40),
            bumped in 0_usize..4,
        ) {
            // One reading moved by 1 µm moves the vector by at most the largest standard error per unit of noise.
            let mut values = vec![0.0; angles.len()];
            values[bumped] = 1.0;
            if let Ok(fit) = fitted(&angles, &values) {
                prop_assert!(fit.eccentricity().norm() <= fit.standard_error_per_noise * (1.0 + 1e-6));
            }
        }
    }
}
