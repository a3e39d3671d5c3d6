//! Prediction intervals and the choice of a degree, against independent statistical packages
//! (provenance: computed; versions in the files' notes).

#![allow(clippy::unwrap_used, clippy::float_cmp)] // a test may stop at what it did not expect

use holdtrue_metrology::regression::{Prediction, polynomial};
use holdtrue_tests::reference::Reference;
use serde_json::{Value, json};

fn column(rows: &[Prediction], value: impl Fn(&Prediction) -> f64) -> Vec<f64> {
    rows.iter().map(value).collect()
}

fn check_intervals(path: &str, x: &str, degree: i32, weighted: bool) -> Reference {
    let file = Reference::load(path);
    let weights = weighted.then(|| file.numbers("/input/weights"));
    let x = file.numbers(&format!("/input/{x}"));
    let curve = polynomial(
        &x,
        &file.numbers("/input/y"),
        degree,
        false,
        weights.as_deref(),
    )
    .unwrap();
    let new = file.numbers("/input/x_new");
    let new_weights = if weighted {
        file.numbers("/input/weights_new")
    } else {
        vec![1.0; new.len()]
    };
    let rows: Vec<Prediction> = new
        .iter()
        .zip(new_weights)
        .map(|(x, w)| curve.predict(*x, w))
        .collect();
    file.check("coef", curve.fit.coefficients.clone());
    file.check("se", curve.fit.standard_errors.clone());
    file.check("df", curve.fit.dof);
    file.check("residual_sd", curve.fit.residual_stdev());
    file.check("fit", column(&rows, |p| p.value));
    file.check("se_fit", column(&rows, |p| p.standard_error));
    file.check("ci_lower", column(&rows, |p| p.confidence(0.95)[0]));
    file.check("ci_upper", column(&rows, |p| p.confidence(0.95)[1]));
    file.check("pi_lower", column(&rows, |p| p.prediction(0.95)[0]));
    file.check("pi_upper", column(&rows, |p| p.prediction(0.95)[1]));
    if weighted {
        let s = curve.fit.residual_stdev();
        let absolute: Vec<f64> = curve.fit.standard_errors.iter().map(|e| e / s).collect();
        file.check("se_with_absolute_sigma", absolute);
        file.check("chi_squared", curve.fit.residual_sum_of_squares);
    }
    file
}

#[test]
fn straight_line() {
    check_intervals("regression/cars_prediction_intervals", "x", 1, false).finish();
}

#[test]
fn load_cell_parabola() {
    check_intervals(
        "regression/pontius_prediction_intervals",
        "x_over_1e6",
        2,
        false,
    )
    .finish();
}

#[test]
fn weighted_line() {
    check_intervals("regression/weighted_prediction_intervals", "x", 1, true).finish();
}

#[test]
fn significance_of_the_highest_term() {
    let file = Reference::load("regression/polynomial_degree");
    let (x, y) = (file.numbers("/input/x"), file.numbers("/input/y"));
    let row = |degree: i32| {
        let fit = polynomial(&x, &y, degree, false, None).unwrap().fit;
        let highest = fit.coefficients.len() - 1;
        json!({
            "degree": degree,
            "coef": fit.coefficients,
            "residual_sd": fit.residual_stdev(),
            "df": fit.dof,
            "p_of_highest_term": fit.significance(highest),
        })
    };
    file.check("degrees", (1..=4).map(row).collect::<Value>());
    file.finish();
}
