//! A made-up gauge of known curve, calibrated.

use super::*;
use proptest::prelude::*;

/// Three preloads, two runs at 0°, one each at 120° and 240° with unloading, zeros throughout.
fn full_sequence(reading: impl Fn(u32, Direction, f64) -> f64) -> Vec<Point> {
    let mut points = Vec::new();
    let mut add = |run, direction, load_n, position_deg| {
        let reading_counts = reading(run, direction, load_n);
        points.push(Point {
            run,
            direction,
            load_n,
            reading_counts,
            position_deg,
        });
    };
    for run in 1..=3 {
        for load in [0.0, 20_000.0, 0.0] {
            add(run, Direction::Up, load, Some(0.0));
        }
    }
    for (run, position) in [(4, 0.0), (5, 0.0), (6, 120.0), (7, 240.0)] {
        for i in 0..=8 {
            add(run, Direction::Up, f64::from(i) * 2_500.0, Some(position));
        }
        if run >= 6 {
            for i in (1..=7).rev() {
                add(run, Direction::Down, f64::from(i) * 2_500.0, Some(position));
            }
        }
        add(run, Direction::Down, 0.0, Some(position));
    }
    points
}

const WHOLE: CalibrationSetup = CalibrationSetup {
    reference_expanded_percent: Some(0.01),
    resolution_counts: 1.0,
    preloads: Vec::new(),
    preload_dwell_s: Some(30.0),
    through_own_knob_and_shank: true,
    degrees: [1, 2],
};

fn straight(_: u32, _: Direction, load: f64) -> f64 {
    1_234.0 + 50.0 * load
}

/// A wobble of ± 2 counts that differs between runs and loads.
fn wobble(run: u32, load: f64) -> f64 {
    ((load / 2_500.0 * 7.0 + f64::from(run) * 3.0) % 5.0) - 2.0
}

proptest! {
    #[test]
    fn the_curve_that_was_made_is_found(slope in 10.0..200.0_f64, share in 1e-3..1e-2_f64, zero in -1e5..1e5_f64) {
        // bent by up to 1 % at the highest load
        let bend = share * slope / 20_000.0;
        let points = full_sequence(|run, _, load| {
            let moves = if load > 0.0 { wobble(run, load) * 1e-3 } else { 0.0 };
            zero + slope * load + bend * load * load + moves
        });
        let found = calibrate(&points, &WHOLE).unwrap();
        prop_assert_eq!(found.curve.degree, 2);
        prop_assert!((found.curve.coefficients[1] / slope - 1.0).abs() < 1e-6);
        prop_assert!((found.curve.coefficients[2] / bend - 1.0).abs() < 1e-4);
        prop_assert!((found.zero_counts - zero).abs() < 1e-6);
        for load in [2_500.0, 9_000.0, 20_000.0] {
            let back = found.inverse.value(found.curve.value(load));
            prop_assert!((back - load).abs() < 2.0, "{} for {}", back, load);
        }
    }
}

#[test]
fn a_straight_gauge_gets_a_straight_curve_and_the_best_class() {
    let found = calibrate(
        &full_sequence(|r, d, l| straight(r, d, l) + wobble(r, l)),
        &WHOLE,
    )
    .unwrap();
    assert_eq!(
        (found.curve.degree, found.missing.len()),
        (1, 0),
        "{:?}",
        found.missing
    );
    assert!(found.curve.next_term_p.unwrap() > 0.05);
    assert_eq!(found.class, Some(IsoStyleClass::Class00));
    assert!((found.zero_counts - 1_234.0).abs() < 3.0);
    assert!((found.span_n[0] - 2_500.0).abs() < 1e-9 && (found.span_n[1] - 20_000.0).abs() < 1e-9);
    // 0.01 % of the reference is nearly all of it
    assert!((found.expanded_percent.unwrap() - 0.01).abs() < 0.001);
}

/// Limits of reference and resolution, class 00 to 2, and what is beyond them all.
#[test]
fn a_class_asks_for_a_reference_and_a_resolution_that_permit_it() {
    use IsoStyleClass::{Class00, Class1, Class2, Class05};
    let points = full_sequence(|r, d, l| straight(r, d, l) + wobble(r, l));
    let class = |reference: Option<f64>, resolution_counts: f64| {
        let setup = CalibrationSetup {
            reference_expanded_percent: reference,
            resolution_counts,
            ..WHOLE
        };
        let found = calibrate(&points, &setup).unwrap();
        assert_eq!(found.class.is_some(), found.missing.is_empty());
        (found.class, found.missing.join("; "))
    };
    for (reference, expected) in [
        (0.01, Class00),
        (0.02, Class05),
        (0.05, Class1),
        (0.1, Class2),
    ] {
        assert_eq!(class(Some(reference), 1.0).0, Some(expected), "{reference}");
    }
    for (reference, told) in [
        (None, "the uncertainty of the reference"),
        (
            Some(0.11),
            "a reference known to 0.1 % (k = 2), found 0.11 %",
        ),
        (Some(0.0), "found 0 %"),
        (Some(f64::NAN), "found NaN %"),
    ] {
        let (none, missing) = class(reference, 1.0);
        assert!(none.is_none() && missing.contains(told), "{missing}");
    }
    // 2500 N are 125 000 counts.
    for (steps, expected) in [
        (4_100.0, Class00),
        (2_100.0, Class05),
        (1_100.0, Class1),
        (510.0, Class2),
    ] {
        assert_eq!(
            class(Some(0.01), 125_000.0 / steps).0,
            Some(expected),
            "{steps}"
        );
    }
    let (none, missing) = class(Some(0.01), 125_000.0 / 490.0);
    assert!(none.is_none() && missing.contains("found 490"), "{missing}");
}

#[test]
fn loads_that_are_bunched_make_no_class() {
    let moved = |to: fn(f64) -> f64| {
        let mut points = full_sequence(|_, _, _| 0.0);
        for point in &mut points {
            point.load_n = if point.load_n > 0.0 {
                to(point.load_n)
            } else {
                0.0
            };
            point.reading_counts = 1_234.0 + 50.0 * point.load_n;
        }
        calibrate(&points, &WHOLE).unwrap()
    };
    assert_eq!(moved(|n| n).class, Some(IsoStyleClass::Class00));
    // 40 to 100 %: a class of that range.
    assert!(moved(|n| 8_000.0 + 0.6 * n).class.is_some());
    let bunched: [fn(f64) -> f64; 2] = [
        |n| 12_000.0 + 0.4 * n,
        |n| if n < 18_000.0 { 0.3 * n } else { n },
    ];
    for to in bunched {
        let found = moved(to);
        assert_eq!(found.class, None);
        assert!(
            found
                .missing
                .iter()
                .any(|step| step.contains("spread evenly")),
            "{:?}",
            found.missing
        );
    }
}

/// Two runs that come back high and low by as much are no gauge without hysteresis.
#[test]
fn hysteresis_of_two_signs_does_not_cancel() {
    let points = full_sequence(|run, direction, load| {
        let late = match (run, direction) {
            (6, Direction::Down) => 0.002,
            (7, Direction::Down) => -0.002,
            _ => 0.0,
        };
        1_234.0 + 50.0 * load * (1.0 + if load > 0.0 { late } else { 0.0 })
    });
    let found = calibrate(&points, &WHOLE).unwrap();
    assert!((found.errors.reversibility_percent.unwrap() - 0.2).abs() < 1e-6);
    assert_eq!(found.class, Some(IsoStyleClass::Class1));
}

#[test]
fn hysteresis_lowers_the_class_and_widens_the_uncertainty() {
    let points = full_sequence(|_, direction, load| {
        let late = if direction == Direction::Down && load > 0.0 {
            0.0025
        } else {
            0.0
        };
        1_234.0 + 50.0 * load * (1.0 + late)
    });
    let found = calibrate(&points, &WHOLE).unwrap();
    assert!((found.errors.reversibility_percent.unwrap() - 0.25).abs() < 1e-6);
    assert_eq!(found.class, Some(IsoStyleClass::Class1));
    assert!(found.expanded_percent.unwrap() > 0.14);
}

#[test]
fn without_the_whole_sequence_there_is_no_class_and_the_gaps_are_named() {
    let points = full_sequence(straight);
    let hasty = CalibrationSetup {
        preload_dwell_s: None,
        ..WHOLE
    };
    let found = calibrate(&points, &hasty).unwrap();
    assert_eq!(found.class, None);
    assert_eq!(found.missing, ["30 s at the highest load in every preload"]);
    let two_positions: Vec<Point> = points.into_iter().filter(|p| p.run != 7).collect();
    let found = calibrate(&two_positions, &WHOLE).unwrap();
    assert_eq!(found.class, None);
    assert!(
        found
            .missing
            .iter()
            .any(|m| m.contains("three positions, found 2")),
        "{:?}",
        found.missing
    );
}

#[test]
fn recorded_preloads_count_with_the_time_each_was_held() {
    let runs: Vec<Point> = full_sequence(straight)
        .into_iter()
        .filter(|p| p.run > 3)
        .collect();
    let found = |load_n: f64, last_held_s: Option<f64>| {
        let preload = |held_s| Preload {
            load_n,
            held_s,
            reading_counts: None,
        };
        let setup = CalibrationSetup {
            preloads: vec![
                preload(Some(31.0)),
                preload(Some(30.0)),
                preload(last_held_s),
            ],
            preload_dwell_s: None,
            ..WHOLE
        };
        calibrate(&runs, &setup).unwrap()
    };
    let class = found(19_950.0, Some(30.0)).class;
    assert_eq!(class, Some(IsoStyleClass::Class00));
    for held_s in [Some(29.0), None] {
        let missing = found(20_000.0, held_s).missing;
        assert_eq!(missing, ["30 s at the highest load in every preload"]);
    }
    let too_low = found(15_000.0, Some(30.0));
    assert!(
        too_low.missing[0].contains("found 0"),
        "{:?}",
        too_low.missing
    );
}

#[test]
fn a_preload_at_which_the_gauge_did_not_read_the_highest_load_is_none() {
    let runs: Vec<Point> = full_sequence(straight)
        .into_iter()
        .filter(|p| p.run > 3)
        .collect();
    let found = |load_n: f64| {
        let preload = |load_n: f64| Preload {
            load_n: 20_000.0,
            held_s: Some(30.0),
            reading_counts: Some(straight(0, Direction::Up, load_n)),
        };
        let setup = CalibrationSetup {
            preloads: vec![preload(20_000.0), preload(load_n), preload(20_000.0)],
            ..WHOLE
        };
        calibrate(&runs, &setup).unwrap()
    };
    assert_eq!(found(19_000.0).class, Some(IsoStyleClass::Class00));
    for load_n in [0.0, 10_000.0] {
        let half = found(load_n);
        assert_eq!(half.class, None);
        assert_eq!(
            half.missing,
            [
                "three preloads to the highest load, found 2 and 1 at which the gauge did not read that load"
            ]
        );
    }
    // runs straight to the highest load, with nothing on in one of them
    let points = full_sequence(|run, direction, load| {
        straight(run, direction, if run == 2 { 0.0 } else { load })
    });
    let found = calibrate(&points, &WHOLE).unwrap();
    assert_eq!(found.class, None);
    assert!(found.missing[0].contains("found 2"), "{:?}", found.missing);
}

#[test]
fn a_repeat_that_reads_otherwise_raises_the_lower_limit() {
    let limit_n = |off: f64| {
        let points = full_sequence(|run, direction, load| {
            let off = if run == 5 && load > 0.0 { off } else { 0.0 };
            straight(run, direction, load) + wobble(run, load) + off
        });
        calibrate(&points, &WHOLE).unwrap().lower_limit.factor_n
    };
    // Run 5 repeats the position of run 4: 8 readings of 32, 500 counts off, one coefficient; 50 counts are 1 N.
    let squares: f64 = 8.0 * 500.0 * 500.0;
    let expected_n = 2.4 * (squares / 31.0).sqrt() / 50.0;
    assert!((limit_n(500.0) / expected_n - 1.0).abs() < 0.02);
    assert!(limit_n(0.0) < 0.01 * expected_n);
}

#[test]
fn what_was_not_run_is_never_taken_as_zero() {
    let loads = |run: u32, zero_after: bool| -> Vec<Point> {
        let taken = full_sequence(|r, d, l| straight(r, d, l) + wobble(r, l));
        let up = taken
            .into_iter()
            .filter(|p| p.run == 4 && (p.direction == Direction::Up || zero_after));
        up.map(|p| Point {
            run,
            position_deg: None,
            ..p
        })
        .collect()
    };
    let setup = CalibrationSetup {
        reference_expanded_percent: Some(0.05),
        ..CalibrationSetup::default()
    };
    let once = calibrate(&loads(1, false), &setup).unwrap();
    assert_eq!(once.lacking.len(), 2, "{:?}", once.lacking);
    assert_eq!(once.assumed.len(), 4, "{:?}", once.assumed);
    // of class 2: turning 0.4, repeats 0.2, unloading 0.5 %; half widths of rectangles, from memory
    let squares: f64 = [0.4, 0.2, 0.5]
        .map(|wide: f64| (0.5 * wide).powi(2) / 3.0)
        .iter()
        .sum();
    let expected = 2.0 * (squares + 0.025_f64.powi(2)).sqrt();
    assert!((once.expanded_percent.unwrap() - expected).abs() < 1e-9);
    // 0.1 % of 20 kN that the zero may not come back by
    assert!(once.expanded_n > 2.0 * 0.5 * 20.0 / 3.0_f64.sqrt());

    let repeated = [loads(1, true), loads(2, true)].concat();
    let twice = calibrate(&repeated, &setup).unwrap();
    assert_eq!(
        (twice.lacking.len(), twice.assumed.len()),
        (0, 2),
        "{:?}",
        twice.assumed
    );
    assert!(twice.assumed[0].contains("turning") && twice.assumed[1].contains("unloading"));
    let whole = calibrate(&full_sequence(straight), &WHOLE).unwrap();
    assert!(whole.assumed.is_empty() && whole.lacking.is_empty());
}

/// 13.97 and 2.28: JCGM 100:2008, table G.2, 95.45 % for 1 and 10 degrees of freedom (published).
#[test]
fn the_written_uncertainty_counts_the_few_readings_behind_the_fit() {
    assert!((factor_that_covers_as_two(1.0) - 13.97).abs() < 0.005);
    assert!((factor_that_covers_as_two(10.0) - 2.28).abs() < 0.005);
    assert!((factor_that_covers_as_two(f64::INFINITY) - 2.0).abs() < 1e-9);
    let point = |load_n: f64, off: f64| Point {
        run: 1,
        direction: Direction::Up,
        load_n,
        reading_counts: 50.0 * load_n + off,
        position_deg: None,
    };
    let three = [
        point(0.0, 0.0),
        point(5e3, 9e3),
        point(1e4, -9e3),
        point(2e4, 9e3),
    ];
    let fixed_degree = CalibrationSetup {
        degrees: [2, 2],
        ..CalibrationSetup::default()
    };
    let found = calibrate(&three, &fixed_degree).unwrap();
    assert_eq!(found.inverse.dof, 1);
    assert!(found.coverage_factor > 10.0, "{}", found.coverage_factor);
    assert!(found.expanded_n > 10.0 * found.inverse.residual_stdev);
    // a curve with as many coefficients as readings says nothing of itself
    let bare: Vec<Point> = three[1..].to_vec();
    let refusal = calibrate(&bare, &fixed_degree).unwrap_err();
    assert!(
        matches!(refusal, CalibrationError::NothingLeft { readings: 3 }),
        "{refusal}"
    );
}

#[test]
fn a_falling_curve_is_refused() {
    let swapped = full_sequence(|_, _, load| 1_000.0 - 50.0 * load);
    let refusal = calibrate(&swapped, &WHOLE).unwrap_err();
    assert!(matches!(refusal, CalibrationError::Falling { .. }));
    assert!(refusal.to_string().contains("wires are swapped"));
}

#[test]
fn what_is_no_calibration_is_refused() {
    let point = |run, load_n, reading_counts| Point {
        run,
        direction: Direction::Up,
        load_n,
        reading_counts,
        position_deg: None,
    };
    let few = [point(1, 1_000.0, 10.0), point(1, 2_000.0, 20.0)];
    assert_eq!(
        calibrate(&few, &WHOLE),
        Err(CalibrationError::TooFewLoads { found: 2 })
    );
    let nan = [point(1, f64::NAN, 10.0)];
    assert!(matches!(
        calibrate(&nan, &WHOLE),
        Err(CalibrationError::NoNumber { .. })
    ));
    let mut mixed: Vec<Point> = (0..4)
        .map(|i| point(1, f64::from(i) * 1e3, f64::from(i) * 10.0))
        .collect();
    mixed.extend((1..4).map(|i| point(2, f64::from(i) * 1e3, f64::from(i) * 10.0)));
    assert_eq!(
        calibrate(&mixed, &WHOLE),
        Err(CalibrationError::ZeroMissing { run: 2 })
    );
}

#[test]
fn without_the_references_uncertainty_none_is_made_up() {
    let found = calibrate(&full_sequence(straight), &CalibrationSetup::default()).unwrap();
    assert_eq!(found.expanded_percent, None);
}

#[test]
fn a_zero_that_does_not_come_back_is_seen() {
    let points = full_sequence(|run, direction, load| {
        let moved = if load <= 0.0 && direction == Direction::Down {
            f64::from(run) * 100.0
        } else {
            0.0
        };
        1_234.0 + 50.0 * load + moved
    });
    let found = calibrate(&points, &WHOLE).unwrap();
    // 700 counts of a million in run 7
    assert!((found.errors.zero_return_percent.unwrap() - 0.07).abs() < 1e-9);
    assert!((found.errors.zero_return_n - 14.0).abs() < 1e-9);
}
