//! Properties of any fit, and the refusals.

use super::*;
use proptest::prelude::*;

proptest! {
    #[test]
    fn points_on_a_parabola_give_that_parabola(
        b in proptest::array::uniform3(-10.0..10.0_f64),
        shift in -5.0..5.0_f64,
    ) {
        let x: Vec<f64> = (0..9).map(|i| f64::from(i) * 0.8 + shift).collect();
        let y: Vec<f64> = x.iter().map(|v| b[0] + b[1] * v + b[2] * v * v).collect();
        let curve = polynomial(&x, &y, 2, false, None).unwrap();
        for (found, made) in curve.fit.coefficients.iter().zip(b) {
            prop_assert!((found - made).abs() < 1e-9);
        }
        let middle = curve.value(shift + 1.0);
        prop_assert!((curve.predict(shift + 1.0, 1.0).value - middle).abs() < 1e-9);
    }

    #[test]
    fn a_weight_of_two_is_the_observation_taken_twice(y in proptest::collection::vec(-5.0..5.0_f64, 5), which in 0_usize..5) {
        let x: Vec<f64> = (0..5).map(f64::from).collect();
        let weights: Vec<f64> = (0..5).map(|i| if i == which { 2.0 } else { 1.0 }).collect();
        let weighted = polynomial(&x, &y, 1, false, Some(&weights)).unwrap();
        let twice = |v: &[f64]| v.iter().copied().chain([v[which]]).collect::<Vec<f64>>();
        let repeated = polynomial(&twice(&x), &twice(&y), 1, false, None).unwrap();
        for (a, b) in weighted.fit.coefficients.iter().zip(&repeated.fit.coefficients) {
            prop_assert!((a - b).abs() < 1e-10);
        }
        prop_assert!((weighted.fit.residual_sum_of_squares - repeated.fit.residual_sum_of_squares).abs() < 1e-9);
    }
}

#[test]
fn what_cannot_be_fitted_is_refused_with_the_reason() {
    let x = [1.0, 1.0, 1.0];
    assert_eq!(
        polynomial(&x, &x, 1, false, None).unwrap_err(),
        FitError::Undetermined { coefficient: 1 }
    );
    assert!(matches!(
        polynomial(&x, &x, 3, false, None).unwrap_err(),
        FitError::TooFew { .. }
    ));
    assert!(matches!(
        polynomial(&x, &[1.0], 1, false, None).unwrap_err(),
        FitError::UnequalLengths { .. }
    ));
    assert!(matches!(
        polynomial(&x, &[1.0, f64::NAN, 2.0], 0, false, None).unwrap_err(),
        FitError::NoNumber { .. }
    ));
    assert!(matches!(
        polynomial(&x, &x, 0, false, Some(&[1.0, 0.0, 1.0])).unwrap_err(),
        FitError::NoNumber { .. }
    ));
}
