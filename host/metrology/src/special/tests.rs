//! Identities that hold for any argument, and the refusals. Reference values are checked in the
//! workspace's reference tests.

use super::*;
use proptest::prelude::*;

fn close(a: f64, b: f64, relative: f64) -> bool {
    (a - b).abs() <= relative * b.abs()
}

proptest! {
    #[test]
    fn t_quantile_undoes_t_cdf(p in 1e-12..0.999_f64, dof in 1.0..1e6_f64) {
        prop_assert!(close(t_cdf(t_quantile(p, dof), dof), p, 1e-11));
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
        prop_assert!(close(noncentral_t_cdf(t, dof, 0.0).unwrap(), t_cdf(t, dof), 1e-10));
    }

    #[test]
    fn noncentral_t_tails_sum_to_one(t in -50.0..50.0_f64, dof in 1.0..1e4_f64, delta in -30.0..30.0_f64) {
        let sum = noncentral_t_cdf(t, dof, delta).unwrap() + noncentral_t_survival(t, dof, delta).unwrap();
        prop_assert!(close(sum, 1.0, 1e-11));
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
