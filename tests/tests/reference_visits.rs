//! Figures of several visits against references: the variance between them, weighted lines and their bands, the chart of
//! single figures (provenance in each file).

#![allow(clippy::unwrap_used)] // a test may stop at what it did not expect

use holdtrue_metrology::decision::Side;
use holdtrue_metrology::trend::{Limit, Line, Point, follow, individuals_chart, line};
use holdtrue_tests::reference::Reference;
use serde_json::{Value, json};

fn points(x: &[f64], y: &[f64], own: &[f64]) -> Vec<Point> {
    let point = |((x, value), own): ((&f64, &f64), &f64)| Point {
        x: *x,
        value: *value,
        own: Some(*own),
        own_dof: f64::INFINITY,
        shared: None,
        calibration: 0,
        repair_before: false,
    };
    x.iter().zip(y).zip(own).map(point).collect()
}

fn row(found: &Line, at: &[f64]) -> Value {
    let slope = found.slope_interval();
    let ends = |end: usize| {
        at.iter()
            .map(|x| found.confidence(*x)[end])
            .collect::<Vec<_>>()
    };
    json!({
        "between": found.between_variance, "slope": found.slope, "slope_low": slope[0], "slope_high": slope[1],
        "p": found.p(), "scale": found.scale, "at": at,
        "line": at.iter().map(|x| found.at(*x)).collect::<Vec<_>>(), "line_low": ends(0), "line_high": ends(1),
    })
}

#[test]
fn the_variance_between_visits_and_the_line_are_those_of_a_meta_analysis_library() {
    let file = Reference::load("trend/paule_mandel");
    let (y, v) = (file.numbers("/input/y"), file.numbers("/input/v"));
    let own: Vec<f64> = v.iter().map(|variance| variance.sqrt()).collect();
    let latitude = line(&points(&file.numbers("/input/latitude"), &y, &own)).unwrap();
    file.check(
        "latitude",
        row(&latitude, &file.numbers("/expected/latitude/value/at")),
    );
    let grip = points(
        &file.numbers("/input/years"),
        &file.numbers("/input/force"),
        &file.numbers("/input/own"),
    );
    let grip = line(&grip).unwrap();
    file.check("grip", row(&grip, &file.numbers("/expected/grip/value/at")));
    file.finish();
}

/// Uncertainties larger than the residuals leave nothing between the visits; what the intervals are made of is then the
/// residuals alone, whatever the size of the uncertainties.
#[test]
fn without_a_variance_between_visits_the_line_is_the_weighted_one() {
    let file = Reference::load("regression/weighted_prediction_intervals");
    let wide: Vec<f64> = file.numbers("/input/s").iter().map(|s| 2.0 * s).collect();
    let found = line(&points(
        &file.numbers("/input/x"),
        &file.numbers("/input/y"),
        &wide,
    ))
    .unwrap();
    assert!(found.between_variance <= 0.0 && found.scale < 1.0);
    let at = file.numbers("/input/x_new");
    let weights = file.numbers("/input/weights_new");
    let own = |weight: &f64| 2.0 / weight.sqrt();
    let new = |end: usize| -> Vec<f64> {
        at.iter()
            .zip(&weights)
            .map(|(x, weight)| found.prediction(*x, own(weight))[end])
            .collect()
    };
    let held = |end: usize| -> Vec<f64> { at.iter().map(|x| found.confidence(*x)[end]).collect() };
    file.check("coef", vec![found.at(0.0), found.slope]);
    file.check("df", found.dof);
    file.check("fit", at.iter().map(|x| found.at(*x)).collect::<Vec<_>>());
    file.check("ci_lower", held(0));
    file.check("ci_upper", held(1));
    file.check("pi_lower", new(0));
    file.check("pi_upper", new(1));
    file.check("residual_sd", 2.0 * found.scale.sqrt());
    file.check("chi_squared", 4.0 * found.scale * found.dof);
    for (name, why) in [
        ("se", "told through the intervals"),
        ("se_fit", "told through the intervals"),
        (
            "se_with_absolute_sigma",
            "the residuals are used, not the stated uncertainties alone",
        ),
    ] {
        file.leave(name, why);
    }
    file.finish();
}

#[test]
fn the_chart_of_single_figures_is_the_published_one() {
    let file = Reference::load("handbook/individuals_chart_6322");
    let chart = individuals_chart(&file.numbers("/input/x")).unwrap();
    file.check("xbar", chart.mean);
    file.check("mr_bar", chart.moving_range);
    file.check("lcl_x_exact_d2", chart.limits[0]);
    file.check("ucl_x_exact_d2", chart.limits[1]);
    file.check(
        "sigma_hat_mr_exact_d2",
        (chart.limits[1] - chart.mean) / 3.0,
    );
    for (name, why) in [
        ("ucl_x_d2_1128", "with the rounded constant"),
        ("lcl_x_d2_1128", "with the rounded constant"),
        ("ucl_mr", "the ranges are not charted"),
        ("lcl_mr", "the ranges are not charted"),
        ("sample_s", "the limits come from the moving range"),
    ] {
        file.leave(name, why);
    }
    file.finish();
}

/// By hand: five visits a year apart on 10, 9.9, 9.7, 9.6, 9.4 kN fall by 150 N a year; the line at the middle is 9720 N.
#[test]
fn the_crossing_is_where_the_line_is_and_its_ends_where_the_band_leaves_the_limit() {
    let x = [0.0, 1.0, 2.0, 3.0, 4.0];
    let y = [10_000.0, 9_900.0, 9_700.0, 9_600.0, 9_400.0];
    let series = points(&x, &y, &[30.0; 5]);
    let limit = |value| Limit {
        side: Side::Lower,
        value,
    };
    let found = follow(&series, Some(limit(9_120.0)));
    let crossing = found.crossing.unwrap().unwrap();
    assert!((crossing.estimate - 6.0).abs() < 1e-9);
    let held = found.line.unwrap();
    for end in [crossing.earliest.unwrap(), crossing.latest.unwrap()] {
        let edge = (held.at(end) - 9_120.0).abs() - held.half_width(end);
        assert!(edge.abs() < 1e-6, "{edge}");
    }
    // Residuals are 20, -30, 20... : s² = Σr²/3, the slope's variance s²/10.
    let residuals = [-20.0, 30.0, -20.0, 30.0, -20.0];
    let s2 = residuals.iter().map(|r: &f64| r * r).sum::<f64>() / 3.0;
    let t = 3.182_446_305_284_263;
    let half = t * (s2 / 10.0).sqrt();
    let interval = held.slope_interval();
    assert!((interval[0] - (-150.0 - half)).abs() < 1e-6, "{interval:?}");
    // A shared error of a certificate widens the crossing and leaves the slope alone.
    let shared: Vec<Point> = series
        .iter()
        .map(|point| Point {
            shared: Some(70.0),
            ..*point
        })
        .collect();
    let wider = follow(&shared, Some(limit(9_120.0)));
    let wide = wider.crossing.unwrap().unwrap();
    assert!(wide.earliest.unwrap() < crossing.earliest.unwrap() - 0.3);
    let slope = wider.line.unwrap().slope_interval();
    assert!((slope[0] - interval[0]).abs() < 1e-12 && (slope[1] - interval[1]).abs() < 1e-12);
    // No farther ahead than looked back: four years after the fourth.
    let far = follow(&series, Some(limit(8_760.0)));
    assert!(far.crossing.unwrap().is_err());
}
