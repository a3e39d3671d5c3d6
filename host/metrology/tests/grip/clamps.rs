//! Clamps found in records whose truth is known.

use crate::recipe::{Pull, Recipe};
use crate::words::said;
use holdtrue_metrology::grip::clamps::{Found, Rules, find};
use holdtrue_metrology::grip::excluded::{Discard, Excluded};
use holdtrue_metrology::grip::found::FoundClamp;
use holdtrue_metrology::grip::levels::NoClamp;
use holdtrue_metrology::grip::record::SpanReason;
use holdtrue_metrology::grip::record::{ForceRecord, Span, SpanKind};
use holdtrue_metrology::grip::remarks::ClampNote;
use proptest::prelude::*;

fn found(recipe: &Recipe) -> Found {
    find(&recipe.record(), &Rules::default()).unwrap()
}

fn counted(found: &Found) -> Vec<&FoundClamp> {
    found
        .clamps
        .iter()
        .filter(|clamp| clamp.counted())
        .collect()
}

fn excluded(found: &Found) -> Vec<Option<Excluded>> {
    found.clamps.iter().map(|clamp| clamp.excluded).collect()
}

/// Every counted clamp within `share` of the recipe's level.
fn assert_levels(found: &Found, levels_n: &[f64], share: f64) {
    assert_eq!(
        excluded(found),
        vec![None; levels_n.len()],
        "{:#?}",
        found.clamps
    );
    for (clamp, level) in found.clamps.iter().zip(levels_n) {
        let settled = clamp.settled_n.unwrap();
        assert!(
            (settled / level - 1.0).abs() < share,
            "clamp {}: {settled} for {level}",
            clamp.number
        );
    }
}

const FIVE: [f64; 5] = [10_000.0, 9_900.0, 10_050.0, 9_950.0, 10_020.0];

#[test]
fn five_clean_clamps_at_every_rate() {
    for rate_hz in [80.0, 100.0, 175.0, 330.0, 600.0, 1000.0] {
        let recipe = Recipe {
            rate_hz,
            ..Recipe::row(&FIVE, 5.0, 3.0)
        };
        assert_levels(&found(&recipe), &FIVE, 1e-9);
    }
}

#[test]
fn the_settled_window_is_tied_to_the_clamping() {
    // Rise from 2.0 s over 0.08 s: half the level at 2.04 s. Held 5 s, fall over 0.05 s: half the level at 7.025 s.
    let found = found(&Recipe::row(&[10_000.0], 5.0, 3.0));
    let clamp = &found.clamps[0];
    assert!((clamp.edges.clamped_s.unwrap() - 2.04).abs() < 1e-6);
    assert!((clamp.edges.released_s.unwrap() - 7.025).abs() < 1e-6);
    let window = clamp.window.unwrap();
    assert!((window.from_s - 3.04).abs() < 1e-6 && (window.to_s - 5.04).abs() < 1e-6);
    assert!(!clamp.short_hold);
}

#[test]
fn offset_and_drift_of_the_zero_do_not_reach_the_figure() {
    for (offset_n, drift_n_per_s) in [
        (700.0, 0.0),
        (-700.0, 0.0),
        (0.0, 8.0),
        (-700.0, 5.0),
        (700.0, -8.0),
    ] {
        let recipe = Recipe {
            offset_n,
            drift_n_per_s,
            ..Recipe::row(&FIVE, 5.0, 3.0)
        };
        assert_levels(&found(&recipe), &FIVE, 1e-6);
    }
}

#[test]
fn one_per_cent_of_noise_leaves_what_noise_must_leave() {
    for (rate_hz, seed) in [(80.0, 1), (80.0, 2), (250.0, 3), (1000.0, 4), (1000.0, 5)] {
        let recipe = Recipe {
            rate_hz,
            seed,
            noise_n: 100.0,
            ..Recipe::row(&FIVE, 5.0, 3.0)
        };
        // The mean of 2 s of samples less a zero of 2 × 0.5 s, five standard deviations.
        let expected = 100.0 * (1.0 / (2.0 * rate_hz) + 1.0 / rate_hz).sqrt();
        assert_levels(&found(&recipe), &FIVE, 5.0 * expected / 10_000.0);
    }
}

#[test]
fn a_clamp_of_four_tenths_of_a_second_is_listed_and_not_counted() {
    let mut recipe = Recipe::row(&[10_000.0; 3], 5.0, 3.0);
    recipe.pulls[1].length_s = 0.4;
    let found = found(&recipe);
    assert_eq!(excluded(&found), [None, Some(Excluded::Short), None]);
    assert_eq!(
        found
            .clamps
            .iter()
            .map(|clamp| clamp.number)
            .collect::<Vec<_>>(),
        [1, 2, 3]
    );
    let short = &found.clamps[1];
    let (clamped, released) = (
        short.edges.clamped_s.unwrap(),
        short.edges.released_s.unwrap(),
    );
    let window = short.window.unwrap();
    assert!((window.to_s - released).abs() < 1e-9);
    assert!((window.from_s - (released - 0.4 * (released - clamped))).abs() < 1e-9);
    assert!(short.settled_n.unwrap() > 9_000.0);
}

#[test]
fn half_overshoot_moves_the_peak_and_not_the_figure() {
    let recipe = Recipe::row(&FIVE, 5.0, 3.0).each(|pull| pull.overshoot = 0.5);
    let found = found(&recipe);
    assert_levels(&found, &FIVE, 0.002);
    for (clamp, level) in found.clamps.iter().zip(FIVE) {
        assert!((clamp.peak_n.unwrap() / level - 1.5).abs() < 0.02);
    }
}

#[test]
fn a_two_minute_hold_shows_its_sag_and_does_not_lower_the_figure() {
    let recipe =
        Recipe::row(&[10_000.0, 10_000.0], 120.0, 3.0).each(|pull| pull.sag_n_per_s = 10.0);
    let found = found(&recipe);
    // Two seconds after the clamping the sag has taken 20 N: the figure does not know how long somebody held.
    assert_levels(&found, &[9_980.0, 9_980.0], 1e-4);
    let sag = found.clamps[0].sag.unwrap();
    assert!(
        (sag.n_per_s - 10.0).abs() < 1e-6 && (sag.late_n_per_s - 10.0).abs() < 1e-6,
        "{sag:?}"
    );
}

#[test]
fn a_steady_sag_is_no_bump() {
    let recipe = Recipe::row(&[10_000.0; 3], 5.0, 3.0).each(|pull| pull.sag_n_per_s = 400.0);
    assert_eq!(excluded(&found(&recipe)), [None; 3]);
}

#[test]
fn a_knock_is_cut_out_with_its_margin_and_noted() {
    let recipe =
        Recipe::row(&[10_000.0], 5.0, 3.0).each(|pull| pull.knocks = vec![(2.0, 0.15, 0.9)]);
    let found = found(&recipe);
    assert_levels(&found, &[10_000.0], 1e-6);
    let note = &said(&found.clamps[0].notes)[0];
    assert!(note.contains("bumped") && note.contains("0.25 s"), "{note}");
}

#[test]
fn a_long_knock_disturbs_the_clamp() {
    let recipe =
        Recipe::row(&[10_000.0; 2], 5.0, 3.0).each(|pull| pull.knocks = vec![(2.0, 0.6, 0.9)]);
    assert_eq!(excluded(&found(&recipe)), [Some(Excluded::Disturbed); 2]);
}

#[test]
fn a_drop_to_a_tenth_inside_the_hold_does_not_split_the_clamp() {
    let recipe =
        Recipe::row(&[10_000.0; 3], 5.0, 3.0).each(|pull| pull.knocks = vec![(3.6, 0.3, 0.1)]);
    assert_levels(&found(&recipe), &[10_000.0; 3], 1e-6);
}

#[test]
fn slow_rises_and_a_hard_push_out() {
    for rise_s in [0.02, 0.3, 1.0] {
        let recipe = Recipe::row(&FIVE, 5.0, 3.0).each(|pull| {
            pull.rise_s = rise_s;
            pull.length_s = 5.0 + rise_s;
            (pull.push_out_n, pull.push_out_s) = (-4_000.0, 0.4);
        });
        assert_levels(&found(&recipe), &FIVE, 1e-6);
    }
}

#[test]
fn clamps_that_follow_one_another_after_six_tenths_of_a_second() {
    let recipe = Recipe {
        offset_n: 300.0,
        ..Recipe::row(&FIVE, 4.0, 0.6)
    };
    let found = found(&recipe);
    assert_levels(&found, &FIVE, 1e-6);
    let notes = said(&found.clamps[2].notes);
    assert!(notes[0].contains("elsewhere in the record"), "{notes:?}");
}

#[test]
fn a_clamp_after_a_push_out_that_fills_the_pause_is_read_against_the_free_gauge_elsewhere() {
    let recipe = Recipe::row(&[10_000.0; 3], 4.0, 0.65).each(|pull| {
        (pull.push_out_n, pull.push_out_s) = (-4_000.0, 0.6);
    });
    let found = found(&recipe);
    assert_levels(&found, &[10_000.0; 3], 1e-6);
    assert!(found.clamps[1].zeros.before.is_err() && found.clamps[1].zeros.after.is_err());
}

#[test]
fn one_weak_clamp_among_strong_ones_is_the_news() {
    let levels = [10_000.0, 10_000.0, 2_000.0, 10_000.0, 10_000.0];
    assert_levels(&found(&Recipe::row(&levels, 5.0, 3.0)), &levels, 1e-6);
}

#[test]
fn a_gauge_left_hanging_after_the_clamp_gives_no_zero_there() {
    let mut recipe = Recipe::row(&[10_000.0, 10_000.0], 5.0, 4.0);
    recipe.pulls[1].push_out_n = 550.0;
    recipe.pulls[1].push_out_s = 6.0;
    let found = found(&recipe);
    assert_levels(&found, &[10_000.0, 10_000.0], 1e-6);
    assert!(
        said(&found.clamps[1].notes)[0].contains("zero from before the clamp only"),
        "{:?}",
        found.clamps[1].notes
    );
}

#[test]
fn a_record_that_ends_under_load_lists_the_clamp_as_not_released() {
    let mut recipe = Recipe::row(&[10_000.0; 2], 5.0, 3.0);
    recipe.end_s = recipe.pulls[1].at_s + 4.0;
    let found = found(&recipe);
    assert_eq!(excluded(&found), [None, Some(Excluded::NotReleased)]);
    let last = &found.clamps[1];
    assert_eq!((last.edges.released_s, last.settled_n), (None, None));
    assert!(last.edges.clamped_s.is_some());
}

#[test]
fn a_record_that_begins_under_load_has_no_zero_for_that_clamp() {
    let mut recipe = Recipe::row(&[10_000.0; 2], 5.0, 3.0);
    recipe.start_s = 3.0;
    let found = found(&recipe);
    assert_eq!(excluded(&found), [Some(Excluded::NoZero), None]);
    assert_eq!(
        (found.clamps[0].edges.clamped_s, found.clamps[0].settled_n),
        (None, None)
    );
}

#[test]
fn a_hold_under_three_seconds_counts_and_is_flagged() {
    let found = found(&Recipe::row(&[10_000.0; 2], 2.0, 3.0));
    assert_levels(&found, &[10_000.0; 2], 1e-6);
    assert!(
        found
            .clamps
            .iter()
            .all(|clamp| clamp.short_hold && clamp.sag.is_none())
    );
}

#[test]
fn missing_samples_in_the_hold_exclude_and_in_the_pause_do_not() {
    let recipe = Recipe::row(&[10_000.0; 3], 5.0, 4.0);
    let lose = |from: f64, to: f64| {
        let times: Vec<f64> = recipe
            .times()
            .into_iter()
            .filter(|time| !(from..to).contains(time))
            .collect();
        find(
            &ForceRecord::new(&times, &recipe.forces(&times)).unwrap(),
            &Rules::default(),
        )
        .unwrap()
    };
    let second = recipe.pulls[1].at_s;
    assert_eq!(
        excluded(&lose(second + 2.0, second + 2.2)),
        [None, Some(Excluded::Gap), None]
    );
    assert_eq!(excluded(&lose(second - 2.0, second - 1.9)), [None; 3]);
}

#[test]
fn the_first_reason_that_applies_is_given() {
    let recipe = Recipe::row(&[10_000.0; 3], 1.0, 3.0);
    let mut record = recipe.record();
    let at = |clamp: usize| recipe.pulls[clamp].at_s + 0.5;
    record.mark(Span {
        from_s: at(1),
        to_s: at(1),
        kind: SpanKind::Overload,
        reason: SpanReason::Saturated,
    });
    record.mark(Span {
        from_s: at(2),
        to_s: at(2),
        kind: SpanKind::Fault,
        reason: SpanReason::OpenBridge,
    });
    record.mark(Span {
        from_s: at(2),
        to_s: at(2),
        kind: SpanKind::Overload,
        reason: SpanReason::Saturated,
    });
    let plain = find(&record, &Rules::default()).unwrap();
    assert_eq!(
        excluded(&plain),
        [
            Some(Excluded::Short),
            Some(Excluded::Overload),
            Some(Excluded::Fault)
        ]
    );
    assert!(
        plain.clamps[2]
            .notes
            .contains(&ClampNote::Marked(SpanReason::OpenBridge))
    );
    let discards = vec![Discard {
        number: 3,
        reason: "gauge slipped".to_owned(),
    }];
    let by_hand = find(
        &record,
        &Rules {
            discards,
            ..Rules::default()
        },
    )
    .unwrap();
    assert_eq!(by_hand.clamps[2].excluded, Some(Excluded::Discarded));
    assert_eq!(by_hand.clamps[2].excluded_otherwise, Some(Excluded::Fault));
    assert!(said(&by_hand.clamps[2].notes)[0].contains("gauge slipped"));
}

#[test]
fn a_pull_or_a_push_beyond_the_rated_load_is_an_overload() {
    let rules = Rules {
        rated_load_n: Some(12_000.0),
        ..Rules::default()
    };
    let pulled = Recipe::row(&[10_000.0, 13_000.0, 10_000.0], 5.0, 3.0);
    let found = find(&pulled.record(), &rules).unwrap();
    assert_eq!(excluded(&found), [None, Some(Excluded::Overload), None]);
    assert!(found.overloaded);
    let pushed = Recipe::row(&[10_000.0; 2], 5.0, 3.0).each(|pull| {
        (pull.push_out_n, pull.push_out_s) = (-15_000.0, 0.2);
    });
    let found = find(&pushed.record(), &rules).unwrap();
    assert!(found.overloaded);
    assert_eq!(counted(&found).len(), 2);
}

#[test]
fn a_record_without_a_clamp_says_what_it_looked_for() {
    let quiet = Recipe {
        noise_n: 5.0,
        ..Recipe::of(Vec::new())
    };
    let error = find(&quiet.record(), &Rules::default()).unwrap_err();
    assert!(
        matches!(error, NoClamp::Flat { needed_n, .. } if (needed_n - 100.0).abs() < 1e-9),
        "{error}"
    );
    // Minutes, called seconds: five clamps pass within one.
    let minutes = Recipe::row(&[9_500.0; 5], 5.0, 3.0).record();
    let times: Vec<f64> = minutes.time_s().iter().map(|time| time / 60.0).collect();
    let minutes = ForceRecord::new(&times, minutes.force_n()).unwrap();
    let error = find(&minutes, &Rules::default()).unwrap_err();
    assert!(matches!(error, NoClamp::NothingHeld { .. }), "{error}");
    let brief = ForceRecord::new(&[0.0, 0.1], &[0.0, 9_000.0]).unwrap();
    assert!(matches!(
        find(&brief, &Rules::default()).unwrap_err(),
        NoClamp::TooShort { samples: 2, .. }
    ));
    assert!(matches!(
        find(&ForceRecord::default(), &Rules::default()).unwrap_err(),
        NoClamp::TooShort { .. }
    ));
}

#[test]
fn a_force_that_just_reaches_the_threshold_is_no_clamp() {
    let record = Recipe::row(&[100.0], 5.0, 3.0).record();
    let error = find(&record, &Rules::default()).unwrap_err();
    assert!(matches!(error, NoClamp::Flat { .. }), "{error}");
    assert_eq!(found(&Recipe::row(&[101.0], 5.0, 3.0)).clamps.len(), 1);
}

#[test]
fn turning_the_gauge_is_told_from_the_middle_of_the_hold() {
    let recipe = Recipe::row(&[10_000.0; 2], 5.0, 3.0);
    let times = recipe.times();
    let turned: Vec<f64> = times
        .iter()
        .map(|&time| {
            if time < recipe.pulls[1].at_s - 1.0 {
                0.0
            } else {
                180.0
            }
        })
        .collect();
    let record = recipe.record().with_orientation(&turned).unwrap();
    let found = find(&record, &Rules::default()).unwrap();
    let angles: Vec<_> = found
        .clamps
        .iter()
        .map(|clamp| clamp.orientation_deg)
        .collect();
    assert_eq!(angles, [Some(0.0), Some(180.0)]);
}

fn noisy(seed: u64) -> Recipe {
    let mut recipe =
        Recipe::row(&[9_000.0, 9_300.0, 8_800.0], 4.0, 2.0).each(|pull| pull.overshoot = 0.2);
    recipe.pulls.push(Pull::at(recipe.end_s, 9_100.0, 0.5));
    Recipe {
        rate_hz: 200.0,
        noise_n: 40.0,
        seed,
        ..Recipe::of(recipe.pulls)
    }
}

fn figures(record: &ForceRecord) -> Vec<(f64, f64, f64)> {
    let found = find(record, &Rules::default()).unwrap();
    found
        .clamps
        .iter()
        .map(|clamp| {
            (
                clamp.edges.clamped_s.unwrap(),
                clamp.edges.released_s.unwrap(),
                clamp.settled_n.unwrap(),
            )
        })
        .collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(12))]

    #[test]
    fn scaling_every_force_scales_every_figure(seed in 0_u64..1000, factor in 0.5..4.0_f64) {
        let recipe = noisy(seed);
        let times = recipe.times();
        let forces = recipe.forces(&times);
        let scaled: Vec<f64> = forces.iter().map(|force| factor * force).collect();
        let plain = figures(&ForceRecord::new(&times, &forces).unwrap());
        let scaled = figures(&ForceRecord::new(&times, &scaled).unwrap());
        prop_assert_eq!(plain.len(), scaled.len());
        for (a, b) in plain.iter().zip(&scaled) {
            prop_assert!((a.0 - b.0).abs() < 1e-9 && (a.1 - b.1).abs() < 1e-9);
            prop_assert!((factor * a.2 - b.2).abs() < 1e-8 * b.2);
        }
    }

    #[test]
    fn another_zero_of_time_or_of_force_changes_no_figure(
        seed in 0_u64..1000, later_s in -1e4..1e5_f64, offset_n in -700.0..700.0_f64,
    ) {
        let recipe = noisy(seed);
        let times = recipe.times();
        let forces = recipe.forces(&times);
        let moved_times: Vec<f64> = times.iter().map(|time| time + later_s).collect();
        let moved_forces: Vec<f64> = forces.iter().map(|force| force + offset_n).collect();
        let plain = figures(&ForceRecord::new(&times, &forces).unwrap());
        let moved = figures(&ForceRecord::new(&moved_times, &moved_forces).unwrap());
        prop_assert_eq!(plain.len(), moved.len());
        for (a, b) in plain.iter().zip(&moved) {
            prop_assert!((a.0 + later_s - b.0).abs() < 1e-6 && (a.1 + later_s - b.1).abs() < 1e-6);
            // A sample on the very edge of the window may fall on its other side.
            prop_assert!((a.2 - b.2).abs() < 1.0);
        }
    }
}
