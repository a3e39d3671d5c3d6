//! Properties of any study, and the refusals.

use super::*;
use proptest::prelude::*;

fn readings(value: impl Fn(u32, u32, u32) -> f64) -> Vec<StudyReading> {
    let mut all = Vec::new();
    for part in 0..4 {
        for technician in 0..3 {
            for trial in 1..=2 {
                all.push(StudyReading {
                    part: format!("Centre {part}"),
                    technician: format!("Technician {technician}"),
                    trial,
                    value: value(part, technician, trial),
                });
            }
        }
    }
    all
}

const ONE_CLASS: StudySetup = StudySetup {
    unit: "N",
    subject: Subject::WholeCheck,
    tolerance: Some(4_000.0),
    one_class: true,
};

proptest! {
    #[test]
    fn the_parts_of_the_scatter_sum_to_the_whole(values in proptest::collection::vec(-50.0..50.0_f64, 24)) {
        let at = |p: u32, t: u32, k: u32| values[usize::try_from(p * 6 + t * 2 + k - 1).unwrap()];
        let found = study(&readings(at), &ONE_CLASS).unwrap();
        let all: Vec<f64> = values.clone();
        let total = crate::statistics::sum_of_squares(&all);
        prop_assert!((found.table.total().sum_of_squares - total).abs() < 1e-8 * total);
        prop_assert_eq!(found.table.total().dof, 23);
        for c in [&found.with_interaction, &found.without_interaction] {
            prop_assert!(c.technician >= 0.0 && c.interaction >= 0.0 && c.part >= 0.0);
        }
    }

    #[test]
    fn moving_all_readings_changes_nothing(values in proptest::collection::vec(-50.0..50.0_f64, 24), by in -1e4..1e4_f64) {
        let at = |p: u32, t: u32, k: u32| values[usize::try_from(p * 6 + t * 2 + k - 1).unwrap()];
        let here = study(&readings(at), &ONE_CLASS).unwrap();
        let there = study(&readings(|p, t, k| at(p, t, k) + by), &ONE_CLASS).unwrap();
        prop_assert!((here.reported().check() - there.reported().check()).abs() < 1e-6 * here.reported().check());
    }
}

#[test]
fn technicians_that_differ_show_as_reproducibility_and_parts_as_parts() {
    let shaky = |p: u32, t: u32, k: u32| f64::from((p * 7 + t * 11 + k * 13) % 5);
    let parts = study(
        &readings(|p, t, k| 1_000.0 * f64::from(p) + shaky(p, t, k)),
        &ONE_CLASS,
    )
    .unwrap();
    assert!(
        parts
            .reported()
            .percent_of_variation(parts.reported().part)
            .unwrap()
            > 99.0
    );
    assert!(parts.distinct_categories.unwrap() > 50);
    let hands = study(
        &readings(|p, t, k| 1_000.0 * f64::from(t) + shaky(p, t, k)),
        &ONE_CLASS,
    )
    .unwrap();
    assert!(
        hands
            .reported()
            .percent_of_variation(hands.reported().reproducibility())
            .unwrap()
            > 99.0
    );
    assert_eq!(hands.distinct_categories, Some(1));
}

#[test]
fn categories_are_not_counted_across_classes() {
    let mixed = StudySetup {
        one_class: false,
        ..ONE_CLASS
    };
    let found = study(&readings(|p, _, k| f64::from(p * 100 + k)), &mixed).unwrap();
    assert_eq!(found.distinct_categories, None);
    assert!(
        found
            .notes
            .iter()
            .any(|n| n.contains("one taper and class"))
    );
}

#[test]
fn a_component_below_zero_is_set_to_zero_and_said_so() {
    // technicians agree on average better than their scatter would let them
    let found = study(
        &readings(|p, _, k| f64::from(p) * 100.0 + f64::from(k) * 9.0),
        &ONE_CLASS,
    )
    .unwrap();
    let zeroed: Vec<Source> = found
        .reported()
        .set_to_zero
        .iter()
        .map(|(s, _)| *s)
        .collect();
    assert!(zeroed.contains(&Source::Technician), "{zeroed:?}");
    assert!(
        found
            .notes
            .iter()
            .any(|n| n.contains("below zero (-") && n.contains(" N²)")),
        "{:?}",
        found.notes
    );
    assert!(found.reported().technician.abs() < 1e-12);
}

#[test]
fn readings_without_any_scatter_are_no_failure() {
    let found = study(&readings(|_, _, _| 5.0), &ONE_CLASS).unwrap();
    assert_eq!(
        found
            .reported()
            .percent_of_variation(found.reported().check()),
        None
    );
    assert_eq!(found.distinct_categories, None);
    assert!(
        found.trials_agree
            && found
                .notes
                .iter()
                .any(|n| n.contains("below the resolution"))
    );
    let seen = study(&readings(|_, _, k| f64::from(k)), &ONE_CLASS).unwrap();
    assert!(!seen.trials_agree);
}

#[test]
fn values_whose_squares_are_no_numbers_are_refused() {
    for huge in [1e300, -1e13, f64::INFINITY] {
        let refusal = study(
            &readings(|p, _, k| if p == 2 && k == 2 { huge } else { 1.0 }),
            &ONE_CLASS,
        )
        .unwrap_err();
        assert!(
            refusal.found().contains("trial 2 of part Centre 2"),
            "{refusal}"
        );
    }
}

#[test]
fn an_incomplete_study_is_refused_with_the_missing_cell_named() {
    let mut short = readings(|p, t, k| f64::from(p + t + k));
    short.remove(9);
    let refusal = study(&short, &ONE_CLASS).unwrap_err();
    assert_eq!(
        refusal,
        StudyError::Unbalanced {
            part: "Centre 1".to_owned(),
            technician: "Technician 1".to_owned(),
            found: 1,
            expected: 2,
        }
    );
    let single: Vec<StudyReading> = readings(|p, t, k| f64::from(p + t + k))
        .into_iter()
        .filter(|r| r.technician.ends_with('0'))
        .collect();
    assert_eq!(
        study(&single, &ONE_CLASS),
        Err(StudyError::TooFew {
            what: "technicians",
            found: 1
        })
    );
    let nan = readings(|p, _, _| if p == 2 { f64::NAN } else { 1.0 });
    assert!(matches!(
        study(&nan, &ONE_CLASS),
        Err(StudyError::NoNumber { .. })
    ));
}
