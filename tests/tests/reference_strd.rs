//! The statistical reference datasets of NIST (provenance: published), at the tolerance each file
//! states: one digit looser than sound double-precision arithmetic reaches.

#![allow(clippy::unwrap_used, clippy::float_cmp)] // a test may stop at what it did not expect

use holdtrue_metrology::anova::one_way;
use holdtrue_metrology::regression::{Fit, fit};
use holdtrue_metrology::statistics::{mean, stdev};
use holdtrue_tests::reference::Reference;
use serde_json::json;

#[test]
fn univariate() {
    let files = Reference::load_all("strd", "univariate_");
    assert_eq!(files.len(), 8);
    for file in files {
        let y = file.numbers("/input/y");
        file.check("mean", mean(&y));
        file.check("s", stdev(&y));
        file.leave("r1", "the program has no use for an autocorrelation");
        file.finish();
    }
}

#[test]
fn analysis_of_variance() {
    let files = Reference::load_all("strd", "anova_");
    assert_eq!(files.len(), 11);
    for file in files {
        let table = one_way(&file.rows("/input/groups")).unwrap();
        file.check("between_df", table.between_dof);
        file.check("between_ss", table.between);
        file.check("between_ms", table.between_mean_square());
        file.check("within_df", table.within_dof);
        file.check("within_ss", table.within);
        file.check("within_ms", table.within_mean_square());
        file.check("F", table.f_ratio());
        file.check("residual_sd", table.residual_stdev());
        file.finish();
    }
}

/// The columns of a model: the named ones, or the powers the model's text asks for.
fn columns(file: &Reference) -> (Vec<Vec<f64>>, usize) {
    let input = file.at("/input");
    if input.get("x_columns").is_some() {
        let constant = vec![1.0; file.numbers("/input/y").len()];
        let given = file.rows("/input/x_columns");
        return (std::iter::once(constant).chain(given).collect(), 0);
    }
    let model = file.at("/input/model").as_str().unwrap();
    let range = model.split("k = ").nth(1).unwrap();
    let (first, last) = range.split_once("..").unwrap();
    let (first, last): (usize, usize) = (first.parse().unwrap(), last.parse().unwrap());
    let x = file.numbers("/input/x");
    let power = |k: usize| x.iter().map(|v| (0..k).fold(1.0, |p, _| p * v)).collect();
    ((first..=last).map(power).collect(), first)
}

fn exact_fits_have_no_certified_ratio(file: &Reference, found: &Fit) -> bool {
    let exact = file.expected("F") == &json!("inf");
    if exact {
        assert!(
            found.f_ratio() > 1e15,
            "{}: {:e}",
            file.path(),
            found.f_ratio()
        );
        file.leave("F", "certified as infinite: checked to be beyond 1e15");
    }
    exact
}

#[test]
fn linear_regression() {
    let files = Reference::load_all("strd", "linear_");
    assert_eq!(files.len(), 10);
    for file in files {
        let (columns, first) = columns(&file);
        let found = fit(&columns, &file.numbers("/input/y"), None).unwrap();
        for (k, (value, error)) in found
            .coefficients
            .iter()
            .zip(&found.standard_errors)
            .enumerate()
        {
            file.check(&format!("B{}", k + first), *value);
            file.check(&format!("se_B{}", k + first), *error);
        }
        file.check("residual_sd", found.residual_stdev());
        file.check("regression_df", found.regression_dof);
        file.check("regression_ss", found.regression_sum_of_squares);
        file.check("residual_df", found.dof);
        file.check("residual_ss", found.residual_sum_of_squares);
        if !exact_fits_have_no_certified_ratio(&file, &found) {
            file.check("F", found.f_ratio());
        }
        file.finish();
    }
}
