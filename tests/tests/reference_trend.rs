//! Trends of groundwater and rainfall series and small cases (provenance in each file).

#![allow(clippy::unwrap_used, clippy::float_cmp)] // a test may stop at what it did not expect

use holdtrue_metrology::regression::polynomial;
use holdtrue_metrology::special::t_survival;
use holdtrue_metrology::statistics::{least_squares_line, theil_sen};
use holdtrue_metrology::trend::{mann_kendall, mann_kendall_exact_p, robust_slope};
use holdtrue_tests::reference::Reference;
use serde_json::{Value, json};

fn mann_kendall_row(y: &[f64]) -> Value {
    let found = mann_kendall(y).unwrap();
    json!({
        "S": found.s, "var_S": found.variance, "z": found.z, "p_two_sided": found.p_two_sided,
        "tau_a": found.tau_a, "tau_b": found.tau_b, "ties": found.ties, "n": y.len(),
    })
}

/// Compares the names our result has; the files also carry figures of other conventions.
fn check_slope(file: &Reference, name: &str, part: &str, t: &[f64], y: &[f64]) {
    let found = robust_slope(t, y, 0.95).unwrap();
    let (slope, offset) = theil_sen(t, y).unwrap();
    let at = |key: &str| format!("{part}/{key}");
    file.check_at(name, &at("slope"), found.slope);
    file.check_at(name, &at("slope"), slope);
    file.check_at(name, &at("intercept_median_residual"), offset);
    file.check_at(name, &at("intercept_conover"), found.intercept_of_medians);
    file.check_at(
        name,
        &at("intercept_median_residual"),
        found.intercept_median_residual,
    );
    file.check_at(name, &at("number_of_slopes"), found.pairs);
    let end = |e: Option<f64>| e.map_or(json!("nan"), |v| json!(v));
    file.check_at(name, &at("gilbert_lower"), end(found.interval[0]));
    file.check_at(name, &at("gilbert_upper"), end(found.interval[1]));
}

fn check_line(file: &Reference, name: &str, part: &str, t: &[f64], y: &[f64]) {
    let line = least_squares_line(t, y).unwrap();
    let fit = polynomial(t, y, 1, false, None).unwrap().fit;
    let at = |key: &str| format!("{part}/{key}");
    file.check_at(name, &at("slope"), line.slope);
    file.check_at(name, &at("intercept"), line.intercept);
    let exact = file.expected(name).pointer(&at("se_slope")) == Some(&json!(0.0));
    if exact {
        assert!(line.slope_standard_error < 1e-12 && line.p_two_sided < 1e-40);
        return;
    }
    file.check_at(name, &at("se_slope"), line.slope_standard_error);
    file.check_at(name, &at("se_intercept"), fit.standard_errors[0]);
    file.check_at(name, &at("p_two_sided"), line.p_two_sided);
    // r and t say the same: t² = r² ν/(1 − r²)
    let r = file
        .expected(name)
        .pointer(&at("r"))
        .and_then(Value::as_f64)
        .unwrap();
    let dof = y.len() as f64 - 2.0;
    let t_of_r = (r * r * dof / (1.0 - r * r)).sqrt();
    assert!((2.0 * t_survival(t_of_r, dof) / line.p_two_sided - 1.0).abs() < 1e-6);
}

#[test]
fn sulfate_with_ties() {
    let file = Reference::load("trend/epa_example_17_6_sulfate");
    let (t, y) = (file.numbers("/input/t"), file.numbers("/input/y"));
    let test = mann_kendall(&y).unwrap();
    let slope = robust_slope(&t, &y, 0.95).unwrap();
    file.check("slope", slope.slope);
    file.check("intercept_conover", slope.intercept_of_medians);
    file.check("tau", test.tau_a);
    file.check("z", test.z);
    file.check("p_two_sided", test.p_two_sided);
    file.check("slope_ci95_lower_gilbert", slope.interval[0]);
    file.check("slope_ci95_upper_gilbert", slope.interval[1]);
    file.check_at("full", "/mann_kendall", mann_kendall_row(&y));
    check_slope(&file, "full", "/theil_sen", &t, &y);
    check_line(&file, "full", "/ols", &t, &y);
    file.finish();
}

#[test]
fn sodium_without_ties() {
    let file = Reference::load("trend/epa_example_17_7_sodium");
    let (t, y) = (file.numbers("/input/t"), file.numbers("/input/y"));
    file.check("mann_kendall", mann_kendall_row(&y));
    check_slope(&file, "theil_sen", "", &t, &y);
    check_line(&file, "ols", "", &t, &y);
    let s = mann_kendall(&y).unwrap().s;
    file.check("exact_p_two_sided", mann_kendall_exact_p(s, y.len()));
    file.finish();
}

#[test]
fn long_series() {
    let file = Reference::load("trend/precip_great_lakes");
    let y = file.numbers("/input/y");
    let t: Vec<f64> = (0_u32..).zip(&y).map(|(i, _)| f64::from(i)).collect();
    file.check("mann_kendall", mann_kendall_row(&y));
    check_slope(&file, "theil_sen", "", &t, &y);
    file.finish();
}

#[test]
fn small_cases() {
    let file = Reference::load("trend/small_cases");
    let cases = file.expected("cases").as_array().unwrap().clone();
    assert_eq!(cases.len(), 8);
    for (i, case) in cases.iter().enumerate() {
        let y = file.numbers(&format!("/expected/cases/value/{i}/y"));
        let t: Vec<f64> = (0_u32..).zip(&y).map(|(i, _)| f64::from(i)).collect();
        let part = |name: &str| format!("/{i}/{name}");
        file.check_at("cases", &part("mann_kendall"), mann_kendall_row(&y));
        if case.get("theil_sen_slope").is_some() {
            file.check_at(
                "cases",
                &part("theil_sen_slope"),
                robust_slope(&t, &y, 0.95).unwrap().slope,
            );
        }
        if case.get("theil_sen").is_some() {
            check_slope(&file, "cases", &part("theil_sen"), &t, &y);
        }
        if case.get("ols").is_some() {
            check_line(&file, "cases", &part("ols"), &t, &y);
        }
    }
    file.finish();
}
