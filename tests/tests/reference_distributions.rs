//! Distribution functions, quantiles, tolerance factors and outlier limits against 40-digit
//! arithmetic (provenance: computed, `tests/reference/distributions.py`) and printed tables.

#![allow(clippy::unwrap_used, clippy::float_cmp)] // a test may stop at what it did not expect

use holdtrue_metrology::special::*;
use holdtrue_metrology::statistics as st;
use holdtrue_tests::reference::{Reference, count, rows_recomputed};
use serde_json::{Value, json};

/// The rows of a computed table with its last column replaced by what `compute` gives for the rest.
fn recomputed(file: &Reference, compute: impl Fn(&str, &[f64]) -> f64) -> Value {
    let row = |row: &Value| {
        let cells = row.as_array().unwrap();
        let name = cells[0].as_str().unwrap();
        let arguments: Vec<f64> = cells[1..cells.len() - 1]
            .iter()
            .map(|v| v.as_f64().unwrap())
            .collect();
        let mut row = cells[..cells.len() - 1].to_vec();
        row.push(json!(compute(name, &arguments)));
        Value::Array(row)
    };
    file.expected("table")
        .as_array()
        .unwrap()
        .iter()
        .map(row)
        .collect()
}

fn check_table(path: &str, compute: impl Fn(&str, &[f64]) -> f64) {
    let file = Reference::load(path);
    file.check("table", recomputed(&file, compute));
    file.finish();
}

#[test]
fn normal() {
    check_table("computed/normal", |function, a| match function {
        "survival" => normal_survival(a[0]),
        _ => normal_quantile(a[0]),
    });
}

#[test]
fn student() {
    check_table("computed/student_t", |function, a| match function {
        "survival" => t_survival(a[0], a[1]),
        _ => -t_quantile(a[0], a[1]),
    });
}

#[test]
fn chi_squared() {
    check_table("computed/chi_squared", |function, a| {
        match function {
            "cdf" => chi2_cdf(a[0], a[1]),
            "survival" => chi2_survival(a[0], a[1]),
            "quantile" => chi2_quantile(a[0], a[1]),
            _ => chi2_quantile_upper(a[0], a[1]),
        }
        .unwrap()
    });
}

#[test]
fn f_ratio() {
    check_table("computed/f_ratio", |function, a| {
        match function {
            "cdf" => f_cdf(a[0], a[1], a[2]),
            "survival" => f_survival(a[0], a[1], a[2]),
            "quantile" => f_quantile(a[0], a[1], a[2]),
            _ => f_quantile_upper(a[0], a[1], a[2]),
        }
        .unwrap()
    });
}

fn noncentral_tail(function: &str, a: &[f64]) -> f64 {
    match function {
        "cdf" => noncentral_t_cdf(a[0], a[1], a[2]),
        _ => noncentral_t_survival(a[0], a[1], a[2]),
    }
    .unwrap()
}

#[test]
fn noncentral_t() {
    check_table("computed/noncentral_t", noncentral_tail);
}

#[test]
fn noncentral_t_at_the_edge_of_its_range() {
    check_table("computed/noncentral_t_edge", noncentral_tail);
}

#[test]
fn tolerance_factors_one_sided() {
    let file = Reference::load("computed/tolerance_one_sided");
    let rows = file.rows("/expected/table/value");
    let k = |a: &[f64]| st::tolerance_factor(count(a[0]), a[1], a[2]).unwrap();
    file.check("table", rows_recomputed(&rows, 3, |_, a| k(a)));
    file.finish();
}

#[test]
fn grubbs_critical_values() {
    let file = Reference::load("computed/grubbs");
    let rows = file.rows("/expected/table/value");
    file.check(
        "table",
        rows_recomputed(&rows, 2, |column, a| {
            let critical = [st::grubbs_critical_one_sided, st::grubbs_critical_two_sided][column];
            critical(count(a[0]), a[1]).unwrap()
        }),
    );
    file.finish();
}
