//! Properties that hold for any readings.

use super::*;
use proptest::collection::vec;
use proptest::prelude::*;

fn readings() -> impl Strategy<Value = Vec<f64>> {
    vec(-1e4..1e4_f64, 3..60)
}

fn slow_running_median(x: &[f64], window: usize) -> Vec<f64> {
    let half = window / 2;
    (0..x.len())
        .map(|i| median(&x[i.saturating_sub(half)..(i + half + 1).min(x.len())]))
        .collect()
}

proptest! {
    #[test]
    fn moving_all_readings_moves_the_mean_and_leaves_the_spread(x in readings(), by in -1e5..1e5_f64) {
        let moved: Vec<f64> = x.iter().map(|v| v + by).collect();
        prop_assert!((mean(&moved) - mean(&x) - by).abs() < 1e-9);
        prop_assert!((stdev(&moved) - stdev(&x)).abs() < 1e-9 * (1.0 + stdev(&x)));
    }

    #[test]
    fn running_median_is_the_median_of_each_window(x in vec(-10_i32..10, 0..80), window in 1_usize..20) {
        let x: Vec<f64> = x.into_iter().map(f64::from).collect();
        prop_assert_eq!(running_median(&x, window), slow_running_median(&x, window));
    }

    #[test]
    fn points_on_a_line_give_that_line(slope in -50.0..50.0_f64, intercept in -1e3..1e3_f64, n in 3_u32..40) {
        let x: Vec<f64> = (0..n).map(|i| f64::from(i) * 0.7).collect();
        let y: Vec<f64> = x.iter().map(|v| intercept + slope * v).collect();
        let line = least_squares_line(&x, &y).unwrap();
        prop_assert!((line.slope - slope).abs() < 1e-9 && (line.intercept - intercept).abs() < 1e-9);
        let (robust, at_zero) = theil_sen(&x, &y).unwrap();
        prop_assert!((robust - slope).abs() < 1e-9 && (at_zero - intercept).abs() < 1e-8);
    }

    #[test]
    fn the_tolerance_bound_lies_below_the_confidence_interval(x in vec(1e3..2e3_f64, 3..12)) {
        prop_assume!(stdev(&x) > 1e-6);
        let bound = tolerance_lower_bound(&x, 0.95, 0.95).unwrap();
        prop_assert!(bound < mean_confidence(&x, 0.90).unwrap()[0]);
    }
}

#[test]
fn one_wild_reading_is_named_and_calm_ones_are_not() {
    assert_eq!(
        grubbs_two_sided(&[10.0, 10.1, 9.9, 10.05, 9.95, 7.0], 0.05),
        Some(5)
    );
    assert_eq!(
        grubbs_two_sided(&[10.0, 10.1, 9.9, 10.05, 9.95, 10.02], 0.05),
        None
    );
    assert_eq!(grubbs_two_sided(&[5.0; 6], 0.05), None);
}

#[test]
fn too_few_readings_give_nothing_rather_than_a_guess() {
    assert_eq!(mean_confidence(&[1.0], 0.95), None);
    assert_eq!(tolerance_lower_bound(&[1.0], 0.95, 0.95), None);
    assert!(least_squares_line(&[1.0, 2.0], &[1.0, 2.0]).is_none());
    assert!(least_squares_line(&[1.0; 4], &[1.0, 2.0, 3.0, 4.0]).is_none());
    assert!(theil_sen(&[1.0, 1.0], &[1.0, 2.0]).is_none());
}

#[test]
fn noise_sees_the_scatter_and_not_the_slope() {
    let wobble = |i: i32| f64::from((i * 7919) % 101 - 50);
    let flat: Vec<f64> = (0..2000).map(wobble).collect();
    let steep: Vec<f64> = (0..2000).map(|i| wobble(i) + 0.01 * f64::from(i)).collect();
    assert!((noise(&steep) / noise(&flat) - 1.0).abs() < 0.01);
}
