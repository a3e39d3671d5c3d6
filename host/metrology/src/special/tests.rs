//! Identities that hold for any argument, and the refusals. Reference values are checked in the
//! workspace's reference tests.

use super::*;
use proptest::prelude::*;

fn close(a: f64, b: f64, relative: f64) -> bool {
    (a - b).abs() <= relative * b.abs()
}

proptest! {
    #[test]
    fn t_quantile_undoes_the_tail(p in 1e-12..0.999_f64, dof in 1.0..1e6_f64) {
        prop_assert!(close(t_survival(-t_quantile(p, dof), dof), p, 1e-11));
    }

    #[test]
    fn chi2_quantile_undoes_chi2_cdf(p in 1e-12..0.999_f64, dof in 1.0..1e5_f64) {
        prop_assert!(close(chi2_cdf(chi2_quantile(p, dof).unwrap(), dof).unwrap(), p, 1e-10));
        prop_assert!(close(chi2_survival(chi2_quantile_upper(p, dof).unwrap(), dof).unwrap(), p, 1e-10));
    }

    /// DLMF 7.11.2: erfc(x) = Q(½, x²).
    #[test]
    fn the_normal_tail_is_an_incomplete_gamma_function(z in 0.0..37.0_f64) {
        let (inner, outer) = incomplete_gamma(0.5, 0.5 * z * z);
        prop_assert!(close(normal_survival(z), 0.5 * outer, 4e-13));
        prop_assert!((normal_cdf(z) - 0.5 - 0.5 * inner).abs() <= 1e-14);
    }

    #[test]
    fn f_of_the_inverse_ratio_is_the_other_tail(x in 1e-3..1e3_f64, a in 1.0..1e4_f64, b in 1.0..1e4_f64) {
        let upper = f_survival(x, a, b).unwrap();
        prop_assert!((f_cdf(1.0 / x, b, a).unwrap() - upper).abs() <= 1e-10 * upper + 1e-300);
    }

    #[test]
    fn noncentral_t_without_noncentrality_is_students_t(t in -20.0..20.0_f64, dof in 1.0..1e4_f64) {
        prop_assert!(close(noncentral_t_cdf(t, dof, 0.0).unwrap(), t_survival(-t, dof), 1e-10));
    }

    #[test]
    fn noncentral_t_tails_sum_to_one(t in -50.0..50.0_f64, dof in 1.0..1e4_f64, delta in -30.0..30.0_f64) {
        let sum = noncentral_t_cdf(t, dof, delta).unwrap() + noncentral_t_survival(t, dof, delta).unwrap();
        prop_assert!(close(sum, 1.0, 1e-11));
    }
}

/// Both tails are integrated apart, so their sum tells of a step over the narrow edge between them.
#[test]
fn noncentral_t_tails_sum_to_one_over_the_whole_range() {
    let magnitudes = [0.0, 0.3, 2.0, 9.0, 20.0, 45.0, 70.0, 88.0, 99.9, 100.0];
    let ratios = [0.01, 0.3, 0.8, 0.95, 1.0, 1.06, 1.3, 3.0, 30.0, 1e4];
    for dof in [1.0, 1.2, 1.976, 3.0, 7.7, 30.0, 400.0, 1e4, 1e5] {
        for delta in magnitudes.into_iter().flat_map(|delta| [delta, -delta]) {
            for t in ratios
                .map(|ratio| ratio * delta)
                .into_iter()
                .chain([-1e6, -3.0, 0.0, 2.0, 1e6])
            {
                let cdf = noncentral_t_cdf(t, dof, delta).unwrap();
                let sum = cdf + noncentral_t_survival(t, dof, delta).unwrap();
                assert!(
                    close(sum, 1.0, 2e-11),
                    "t = {t}, dof = {dof}, delta = {delta}: {sum}"
                );
            }
        }
    }
}

#[test]
fn what_is_no_number_or_has_no_numeric_result_is_refused() {
    assert!(f_survival(f64::NAN, 3.0, 4.0).is_err() && f_cdf(f64::NAN, 3.0, 4.0).is_err());
    assert!(f_survival(1e307, 1e7, 4.0).is_err());
    assert!(close(f_survival(1e300, 1.0, 2.0).unwrap(), 1e-300, 1e-9));
    assert!(chi2_survival(f64::NAN, 3.0).is_err() && chi2_cdf(f64::NAN, 3.0).is_err());
    assert!(t_quantile(0.95, 1e-3).is_nan() && t_quantile(0.95, f64::NAN).is_nan());
    assert!(t_quantile(f64::NAN, 3.0).is_nan() && t_quantile(1e-31, 3.0).is_nan());
    assert!(t_survival(f64::NAN, 3.0).is_nan() && t_survival(1.0, 0.0).is_nan());
    assert!(noncentral_t_cdf(f64::NAN, 3.0, 1.0).is_err());
    assert!(noncentral_t_cdf(1.0, 3.0, 100.1).is_err());
}

#[test]
fn quantiles_at_the_corners_of_their_range_are_refused_or_lead_back() {
    let tails = [1e-30, 1e-12, 0.05, 0.5, 0.95, 1.0 - 1e-15];
    let dofs = [0.5, 1.0, 3.0, 1e3, 1e7];
    for p in tails {
        for dof1 in dofs {
            for dof2 in dofs {
                if let Ok(x) = f_quantile_upper(p, dof1, dof2) {
                    let back = f_survival(x, dof1, dof2).unwrap();
                    assert!(close(back, p, 1e-8), "F, {p} {dof1} {dof2}: {x}, {back}");
                }
            }
            if let Ok(x) = chi2_quantile_upper(p, dof1) {
                let back = chi2_survival(x, dof1).unwrap();
                assert!(close(back, p, 1e-8), "chi2, {p} {dof1}: {x}, {back}");
            }
            let t = t_quantile(p, dof1);
            assert!(close(t_survival(-t, dof1), p, 1e-8), "t, {p} {dof1}: {t}");
        }
    }
}

#[test]
fn a_call_outside_the_range_is_refused_with_the_argument_named() {
    let refusal = chi2_quantile(0.5, 0.0).unwrap_err();
    assert_eq!(refusal.argument, "degrees of freedom");
    assert!(noncentral_t_cdf(0.0, 0.5, 1.0).is_err());
    assert!(f_quantile(0.0, 3.0, 3.0).is_err());
    assert!(f_quantile(f64::NAN, 3.0, 3.0).is_err());
}
