//! Worked examples of the NIST/SEMATECH e-Handbook of Statistical Methods.

#![allow(clippy::unwrap_used, clippy::float_cmp)] // a test may stop at what it did not expect

use holdtrue_metrology::regression::polynomial;
use holdtrue_metrology::special::t_quantile;
use holdtrue_metrology::statistics as st;
use holdtrue_tests::reference::Reference;
use serde_json::json;

#[test]
fn confidence_interval_of_a_mean() {
    let file = Reference::load("handbook/confidence_limits_1352");
    let x = file.numbers("/input/x");
    let [lower, upper] = st::mean_confidence(&x, 0.95).unwrap();
    file.check("mean", st::mean(&x));
    file.check("s", st::stdev(&x));
    file.check("t_975_194", t_quantile(0.975, 194.0));
    file.check("lower_95", lower);
    file.check("upper_95", upper);
    file.check(
        "printed",
        json!({"mean": st::mean(&x), "s": st::stdev(&x), "lower": lower, "upper": upper}),
    );
    file.finish();
}

#[test]
fn one_outlier() {
    let file = Reference::load("handbook/grubbs_13517");
    let x = file.numbers("/input/x");
    let alpha = file.number("/input/alpha");
    let (index, g) = st::grubbs_statistic(&x).unwrap();
    let one_sided = st::grubbs_critical_one_sided(x.len(), alpha).unwrap();
    let two_sided = st::grubbs_critical_two_sided(x.len(), alpha).unwrap();
    file.check("G", g);
    file.check("G_full", g);
    file.check("critical_one_sided_upper", one_sided);
    file.check("critical_one_sided_upper_full", one_sided);
    file.check("critical_two_sided", two_sided);
    file.check("critical_two_sided_full", two_sided);
    file.check("outlier_value", x[index]);
    file.check("reject", st::grubbs_two_sided(&x, alpha) == Some(index));
    file.finish();
}

#[test]
fn tolerance_interval() {
    let file = Reference::load("handbook/tolerance_interval_7263");
    let (p, confidence) = (
        file.number("/input/coverage_p"),
        file.number("/input/confidence"),
    );
    let x = file.numbers("/input/data_100ohm");
    file.check(
        "k1_exact_noncentral_t_n43",
        st::tolerance_factor(43, p, confidence).unwrap(),
    );
    file.check("data_mean", st::mean(&x));
    file.check("data_s", st::stdev(&x));
    for name in ["k1_natrella_a", "k1_natrella_b", "k1_natrella_n43"] {
        file.leave(name, "an approximation; the program uses the exact factor");
    }
    file.finish();
}

#[test]
fn straight_line_calibration() {
    let file = Reference::load("handbook/linear_calibration_mpc3673");
    let (x, y) = (file.numbers("/input/x"), file.numbers("/input/y"));
    let line = polynomial(&x, &y, 1, false, None).unwrap();
    file.check("intercept", line.fit.coefficients[0]);
    file.check("slope", line.fit.coefficients[1]);
    file.check("se_intercept", line.fit.standard_errors[0]);
    file.check("se_slope", line.fit.standard_errors[1]);
    file.check("residual_sd", line.fit.residual_stdev());
    file.check("residual_df", line.fit.dof);
    file.check("x_from_y_5.0", line.inverse(5.0, 0.0, 20.0).unwrap());
    let plain = st::least_squares_line(&x, &y).unwrap();
    file.check("slope", plain.slope);
    file.check("intercept", plain.intercept);
    file.check("se_slope", plain.slope_standard_error);
    file.finish();
}
