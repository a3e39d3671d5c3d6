//! Calibration of a load cell by published data, and errors in the style of ISO 376.

#![allow(clippy::unwrap_used, clippy::float_cmp)] // a test may stop at what it did not expect

use holdtrue_metrology::calibration::{CalibrationSetup, Direction, Point, calibrate};
use holdtrue_metrology::regression::polynomial;
use holdtrue_tests::reference::Reference;
use serde_json::{Value, json};

fn up(run: u32, load_n: f64, reading_counts: f64, position_deg: Option<f64>) -> Point {
    Point {
        run,
        direction: Direction::Up,
        load_n,
        reading_counts,
        position_deg,
    }
}

/// NIST's load-cell data: three runs, no zeros, so the curve has a constant.
#[test]
fn published_load_cell() {
    let file = Reference::load("handbook/load_cell_mpc365");
    let (load, response) = (file.numbers("/input/load"), file.numbers("/input/response"));
    // the file lists the three runs' readings load by load
    let mut points: Vec<Point> = load
        .iter()
        .zip(&response)
        .zip((1..=3).cycle())
        .map(|((load, response), run)| up(run, *load, *response, None))
        .collect();
    points.sort_by_key(|p| p.run);
    let found = calibrate(&points, &CalibrationSetup::default()).unwrap();
    assert_eq!(found.curve.degree, 2);
    for k in 0..3 {
        file.check(&format!("a{k}"), found.curve.coefficients[k]);
        file.check(&format!("se_a{k}"), found.curve.standard_errors[k]);
    }
    file.check("residual_sd", found.curve.residual_stdev);
    file.check("residual_df", found.curve.dof);
    file.check("e74_style_llf", found.lower_limit.factor_n);
    let back = found.inverse.value(1.2);
    let expected = file.number("/expected/load_at_response_1.2/value");
    assert!((back / expected - 1.0).abs() < 2e-5, "{back}"); // fitted the other way round

    let line = polynomial(&load, &response, 1, false, None).unwrap();
    file.check("residual_sd_straight_line", line.fit.residual_stdev());
    let curve = polynomial(&load, &response, 2, false, None).unwrap();
    file.check(
        "load_at_response_1.2",
        curve.inverse(1.2, 0.0, 25.0).unwrap(),
    );
    file.finish();
}

/// Deflections are given with their zeros taken off already.
#[test]
fn errors_of_rotated_runs() {
    let file = Reference::load("regression/iso376_style");
    let force = file.numbers("/input/force");
    let runs = [
        ("X1", 1, Direction::Up, 0.0),
        ("X2", 2, Direction::Up, 0.0),
        ("X3", 3, Direction::Up, 120.0),
        ("X3_down", 3, Direction::Down, 120.0),
        ("X4_up", 4, Direction::Up, 240.0),
        ("X4_down", 4, Direction::Down, 240.0),
    ];
    let mut points = Vec::new();
    for (name, run, direction, position) in runs {
        if direction == Direction::Up {
            points.push(up(run, 0.0, 0.0, Some(position)));
        }
        let readings = file.at(&format!("/input/runs/{name}")).as_array().unwrap();
        let taken = force
            .iter()
            .zip(readings)
            .filter_map(|(f, r)| Some((*f, r.as_f64()?)));
        points.extend(taken.map(|(load_n, reading_counts)| Point {
            run,
            direction,
            load_n,
            reading_counts,
            position_deg: Some(position),
        }));
    }
    let setup = CalibrationSetup {
        degrees: [3, 3],
        ..CalibrationSetup::default()
    };
    let found = calibrate(&points, &setup).unwrap();
    assert_eq!(found.curve.degree, 3);
    file.check("coef", found.curve.coefficients[1..].to_vec());
    let row = |e: &holdtrue_metrology::calibration::LoadErrors| {
        json!({
            "force": e.load_n,
            "mean_with_rotation": e.mean_counts,
            "b_reproducibility_percent": e.reproducibility_percent,
            "b_prime_repeatability_percent": e.repeatability_percent,
            "v_reversibility_percent": e.reversibility_percent,
            "fc_interpolation_percent": e.interpolation_percent,
        })
    };
    file.check(
        "results",
        found.errors.loads.iter().map(row).collect::<Value>(),
    );
    assert_eq!(found.class, None, "the sequence was not run in full");
    file.finish();
}
