//! Patterns over the clamps and the causes they point to.

use crate::recipe::{Chance, Recipe};
use crate::words::{said, words};
use holdtrue_metrology::grip::limits::Assumption;
use holdtrue_metrology::grip::result::GripResult;
use holdtrue_metrology::grip::setup::{Gauge, GripSetup, Turned};
use holdtrue_metrology::grip::{analyse, analyse_readings};
use holdtrue_metrology::hint::Cause;
use holdtrue_terms::vocabulary::{Class, Drawbar, Provenance};

fn spindle(drawbar: Drawbar) -> GripSetup {
    GripSetup {
        nominal_n: Some(10_000.0),
        drawbar,
        gauge: Gauge::stated(1.0),
        ..GripSetup::default()
    }
}

fn springs() -> GripSetup {
    spindle(Drawbar::DiscSprings)
}

fn causes(result: &GripResult) -> Vec<Cause> {
    result.hints.iter().map(|hint| hint.cause).collect()
}

fn of(forces: &[f64], setup: &GripSetup) -> Vec<Cause> {
    causes(&analyse_readings(forces, setup).unwrap())
}

#[test]
fn an_even_row_near_nominal_points_to_nothing() {
    for drawbar in [
        Drawbar::DiscSprings,
        Drawbar::GasSpring,
        Drawbar::Hydraulic,
        Drawbar::Unknown,
    ] {
        assert_eq!(
            of(
                &[9_950.0, 10_080.0, 10_020.0, 9_900.0, 10_060.0],
                &spindle(drawbar)
            ),
            []
        );
    }
}

#[test]
fn usual_scatter_seldom_points_to_anything() {
    let mut chance = Chance::new(7);
    let mut drawn = 0;
    for _ in 0..2_000 {
        // CV 2 %, turned by half a turn from clamp to clamp.
        let forces: Vec<f64> = (0..5)
            .map(|_| 10_000.0 * (1.0 + 0.02 * chance.normal()))
            .collect();
        let turned = (1..=5).map(|number| Turned {
            number,
            orientation_deg: f64::from(number % 2) * 180.0,
        });
        let setup = GripSetup {
            turned: turned.collect(),
            ..springs()
        };
        drawn += usize::from(!of(&forces, &setup).is_empty());
    }
    assert!(drawn <= 100, "{drawn} of 2000");
}

#[test]
fn low_and_even_points_to_the_springs_after_what_must_be_ruled_out_first() {
    let low = [6_050.0, 6_000.0, 5_980.0, 6_020.0, 6_040.0];
    let result = analyse_readings(&low, &springs()).unwrap();
    assert_eq!(causes(&result), [Cause::WeakSprings]);
    let hint = &words(&result).hints[0];
    assert!(
        hint.text
            .starts_with("First rule out: unclamp cylinder not fully back"),
        "{}",
        hint.text
    );
    assert!(hint.text.contains("push-out") && hint.evidence.contains('%'));
    assert_eq!(hint.provenance, Provenance::CommonPractice);
}

#[test]
fn nothing_is_said_of_springs_or_leaks_where_the_drawbar_is_not_known() {
    let low = [6_050.0, 6_000.0, 5_980.0, 6_020.0, 6_040.0];
    let result = analyse_readings(&low, &spindle(Drawbar::Unknown)).unwrap();
    assert_eq!(causes(&result), []);
    assert!(
        said(&result.notes)
            .iter()
            .any(|note| note.contains("unclamp cylinder not fully back")),
        "{:?}",
        result.notes
    );
    let all_words = format!("{:?}", words(&result));
    assert!(
        !all_words.contains("spring") && !all_words.contains("leak"),
        "{all_words}"
    );
    let sagging = Recipe::row(&[10_000.0; 5], 6.0, 3.0).each(|pull| pull.sag_n_per_s = 60.0);
    assert_eq!(
        causes(&analyse(&sagging.record(), &spindle(Drawbar::Unknown)).unwrap()),
        []
    );
}

#[test]
fn low_against_a_usual_range_counts_as_low() {
    let assumption = Assumption {
        interface: "7/24-40".parse().unwrap(),
        class: Class::Standard,
    };
    let setup = GripSetup {
        nominal_n: None,
        assumption: Some(assumption),
        ..springs()
    };
    assert_eq!(
        of(&[5_050.0, 5_000.0, 4_980.0, 5_020.0, 5_040.0], &setup),
        [Cause::WeakSprings]
    );
    assert_eq!(
        of(&[9_050.0, 9_000.0, 8_980.0, 9_020.0, 9_040.0], &setup),
        []
    );
}

#[test]
fn climbing_points_to_sticking() {
    assert_eq!(
        of(&[8_800.0, 9_250.0, 9_520.0, 9_700.0, 9_830.0], &springs()),
        [Cause::Sticking]
    );
    // The same forces in another order are scatter, not a climb.
    assert!(
        !of(&[9_520.0, 8_800.0, 9_830.0, 9_250.0, 9_700.0], &springs()).contains(&Cause::Sticking)
    );
}

#[test]
fn a_low_first_clamp_points_to_long_standing() {
    assert_eq!(
        of(
            &[9_200.0, 10_010.0, 9_970.0, 10_030.0, 10_000.0],
            &springs()
        ),
        [Cause::StoodLong]
    );
    // Low, but not the first.
    assert!(
        !of(
            &[10_010.0, 9_200.0, 9_970.0, 10_030.0, 10_000.0],
            &springs()
        )
        .contains(&Cause::StoodLong)
    );
}

#[test]
fn large_scatter_without_order_points_to_the_gripper() {
    assert_eq!(
        of(&[9_700.0, 10_600.0, 8_900.0, 10_900.0, 9_300.0], &springs()),
        [Cause::WornGripper]
    );
}

#[test]
fn four_clamps_show_no_pattern() {
    assert_eq!(of(&[8_800.0, 9_250.0, 9_520.0, 9_700.0], &springs()), []);
    assert_eq!(of(&[9_700.0, 10_600.0, 8_900.0, 10_900.0], &springs()), []);
}

#[test]
fn levels_that_follow_the_position_point_off_the_axis() {
    let forces = [10_300.0, 9_700.0, 10_310.0, 9_720.0, 10_290.0];
    let turned = (1..=5).map(|number| Turned {
        number,
        orientation_deg: f64::from((number - 1) % 2) * 180.0,
    });
    let setup = GripSetup {
        turned: turned.collect(),
        ..springs()
    };
    assert_eq!(of(&forces, &setup), [Cause::OffAxis]);
    assert_eq!(of(&forces, &springs()), []);
}

#[test]
fn far_above_nominal_points_to_the_setting() {
    assert_eq!(
        of(&[12_600.0, 12_500.0, 12_550.0], &springs()),
        [Cause::SetTooFar]
    );
}

#[test]
fn a_drop_while_held_is_a_leak_only_on_a_drawbar_held_by_oil() {
    let sagging = Recipe {
        noise_n: 10.0,
        ..Recipe::row(&[10_000.0; 5], 6.0, 3.0)
    };
    let record = sagging.each(|pull| pull.sag_n_per_s = 60.0).record();
    assert_eq!(
        causes(&analyse(&record, &spindle(Drawbar::Hydraulic)).unwrap()),
        [Cause::Leak]
    );
    let by_springs = analyse(&record, &springs()).unwrap();
    assert_eq!(causes(&by_springs), []);
    assert!(
        said(&by_springs.notes)
            .iter()
            .any(|note| note.contains("not a leak")),
        "{:?}",
        by_springs.notes
    );
}

#[test]
fn wandering_zeros_point_to_the_gauge() {
    let steady = Recipe {
        noise_n: 10.0,
        ..Recipe::row(&[10_000.0; 5], 6.0, 3.0)
    };
    assert_eq!(causes(&analyse(&steady.record(), &springs()).unwrap()), []);
    let warming = Recipe {
        drift_n_per_s: 1.5,
        ..steady
    };
    assert_eq!(
        causes(&analyse(&warming.record(), &springs()).unwrap()),
        [Cause::GaugeWarming]
    );
    // So fast that most zeros lie off the free level, either way.
    for drift_n_per_s in [-8.0, 8.0] {
        let fast = Recipe {
            drift_n_per_s,
            ..warming.clone()
        };
        let found = causes(&analyse(&fast.record(), &springs()).unwrap());
        assert!(found.contains(&Cause::GaugeWarming), "{found:?}");
    }
}

#[test]
fn a_gauge_that_came_to_rest_on_something_does_not_warm() {
    let mut rests = Recipe::row(&[10_000.0; 5], 6.0, 3.0);
    for pull in &mut rests.pulls[2..] {
        (pull.push_out_n, pull.push_out_s) = (-800.0, 2.9);
    }
    let found = causes(&analyse(&rests.record(), &springs()).unwrap());
    assert!(!found.contains(&Cause::GaugeWarming), "{found:?}");
}

#[test]
fn a_good_reading_does_not_clear_the_springs_of_a_hollow_taper() {
    let setup = GripSetup {
        interface: Some("HSK-A63".parse().unwrap()),
        ..springs()
    };
    let result = analyse_readings(&[10_000.0; 5], &setup).unwrap();
    assert!(
        said(&result.notes)
            .iter()
            .any(|note| note.contains("does not clear the springs"))
    );
}
