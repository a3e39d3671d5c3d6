//! A check while it is taken: each clamp reported once, the end where it belongs, live and replay to the same digits.

use crate::recipe::{Pull, Recipe};
use holdtrue_metrology::grip::analyse;
use holdtrue_metrology::grip::excluded::{Discard, Excluded};
use holdtrue_metrology::grip::record::SpanReason;
use holdtrue_metrology::grip::record::{ForceRecord, Sample, Span, SpanKind};
use holdtrue_metrology::grip::result::{Clamp, GripResult};
use holdtrue_metrology::grip::setup::GripSetup;
use holdtrue_metrology::grip::step::Step;
use holdtrue_metrology::grip::watch::{Watch, part_read};
use proptest::prelude::*;

const FIVE: [f64; 5] = [10_000.0, 9_900.0, 10_050.0, 9_950.0, 10_020.0];

struct Run {
    watch: Watch,
    /// Reported clamps, with the time of the sample that completed them.
    reported: Vec<(f64, Clamp)>,
}

fn run(record: &ForceRecord, wanted: Option<u32>) -> Run {
    let mut watch = Watch::new(wanted, GripSetup::default());
    let mut reported = Vec::new();
    for sample in record.samples() {
        let clamps = watch.push(sample).unwrap();
        reported.extend(clamps.into_iter().map(|clamp| (sample.time_s, clamp)));
    }
    Run { watch, reported }
}

fn numbers(result: &GripResult) -> Vec<(u32, bool)> {
    result
        .clamps
        .iter()
        .map(|clamp| (clamp.number, clamp.counted))
        .collect()
}

#[test]
fn each_clamp_is_reported_once_a_second_and_a_half_after_its_release() {
    let run = run(&Recipe::row(&FIVE, 5.0, 3.0).record(), None);
    assert_eq!(
        run.reported
            .iter()
            .map(|(_, clamp)| clamp.number)
            .collect::<Vec<_>>(),
        [1, 2, 3, 4, 5]
    );
    for (time_s, clamp) in &run.reported {
        let after = time_s - clamp.released_s.unwrap();
        assert!(
            (1.5 - 1e-9..1.502).contains(&after),
            "clamp {} after {after} s",
            clamp.number
        );
        assert!(clamp.counted);
    }
}

#[test]
fn the_check_ends_at_the_first_sample_after_the_last_release_asked_for() {
    for rate_hz in [80.0, 330.0, 1000.0] {
        let recipe = Recipe {
            rate_hz,
            noise_n: 20.0,
            ..Recipe::row(&FIVE, 5.0, 3.0)
        };
        let run = run(&recipe.record(), Some(3));
        assert!(run.watch.is_done());
        assert_eq!(run.watch.step(), Step::Done);
        let result = run.watch.finish().unwrap();
        assert_eq!(numbers(&result), [(1, true), (2, true), (3, true)]);
        let released = result.clamps[2].released_s.unwrap();
        let times = run.watch.record().time_s();
        let end = times[times.len() - 1];
        assert!(
            end >= released + 1.5 && end - 1.0 / rate_hz < released + 1.5,
            "{rate_hz} Hz: {}",
            end - released
        );
    }
}

#[test]
fn a_clamp_that_does_not_count_is_made_up_for() {
    let mut recipe = Recipe::row(&FIVE, 5.0, 3.0);
    recipe.pulls[1].length_s = 0.4;
    let run = run(&recipe.record(), Some(3));
    let result = run.watch.finish().unwrap();
    assert_eq!(
        numbers(&result),
        [(1, true), (2, false), (3, true), (4, true)]
    );
    assert_eq!(run.watch.counted(), 3);
}

/// The watch ends by the release as it looked then, the picture by the one of the result: some samples apart, in noise.
fn same_end(drawn: &ForceRecord, watched: &ForceRecord) {
    let end = |record: &ForceRecord| record.time_s().last().copied().unwrap();
    assert!(
        (end(drawn) - end(watched)).abs() < 0.05,
        "{} {}",
        end(drawn),
        end(watched)
    );
    let both = drawn.len().min(watched.len());
    assert_eq!(drawn.cut_to(both), watched.cut_to(both));
}

#[test]
fn live_replay_and_the_record_cut_by_hand_give_the_same_digits() {
    for (seed, pause_s) in [(1, 3.0), (2, 0.6), (3, 1.0), (4, 8.0)] {
        let recipe = Recipe {
            rate_hz: 250.0,
            seed,
            noise_n: 60.0,
            offset_n: -400.0,
            ..Recipe::row(&FIVE, 4.0, pause_s)
        };
        let whole = recipe.record();
        let live = run(&whole, Some(4));
        let replayed = Watch::replay(&whole, Some(4), GripSetup::default()).unwrap();
        let result = live.watch.finish().unwrap();
        assert_eq!(replayed.finish().unwrap(), result);
        // What is drawn of it, found by the stored clamps alone.
        let drawn = part_read(whole.clone(), &result.clamps, Some(4));
        same_end(&drawn, replayed.record());
        assert_eq!(
            analyse(live.watch.record(), &GripSetup::default()).unwrap(),
            result
        );
    }
}

#[test]
fn fewer_clamps_than_asked_for_are_analysed_to_the_end_of_the_record() {
    let record = Recipe::row(&FIVE[..2], 5.0, 3.0).record();
    let watch = Watch::replay(&record, Some(5), GripSetup::default()).unwrap();
    assert!(!watch.is_done());
    assert_eq!(watch.record().len(), record.len());
    let clamps = watch.finish().unwrap().clamps;
    assert_eq!(part_read(record.clone(), &clamps, Some(5)), record);
    assert_eq!(part_read(record.clone(), &clamps, None), record);
    assert_eq!(
        watch.finish().unwrap(),
        analyse(&record, &GripSetup::default()).unwrap()
    );
}

/// A light clamp of 400 N, then strong ones: by the whole record its 400 N are under the threshold of 500 N.
fn light_before_strong() -> Recipe {
    let mut pulls = vec![Pull::at(2.0, 400.0, 5.0)];
    pulls.extend(
        Recipe::row(&FIVE, 5.0, 3.0)
            .each(|pull| pull.at_s += 9.0)
            .pulls,
    );
    Recipe::of(pulls)
}

#[test]
fn a_clamp_shown_as_recorded_is_not_unlisted_by_stronger_ones() {
    let record = light_before_strong().record();
    assert_eq!(
        analyse(&record, &GripSetup::default())
            .unwrap()
            .clamps
            .len(),
        5
    );
    let run = run(&record, None);
    let result = run.watch.finish().unwrap();
    assert_eq!(result.clamps.len(), 6);
    for (_, shown) in &run.reported {
        let kept = result
            .clamps
            .iter()
            .find(|clamp| clamp.number == shown.number)
            .unwrap();
        assert_eq!(kept.counted, shown.counted);
        assert!((kept.settled_n.unwrap() - shown.settled_n.unwrap()).abs() < 1e-6);
        assert!((kept.clamped_s.unwrap() - shown.clamped_s.unwrap()).abs() < 0.01);
    }
    assert!((result.clamps[0].settled_n.unwrap() - 400.0).abs() < 1e-6);
}

#[test]
fn a_drop_in_the_hold_does_not_split_a_clamp_already_listed() {
    // At 3 kN a drop to 400 N stays above the end of the clamp; by the 20 kN that follow it would not.
    let mut first = Pull::at(2.0, 3_000.0, 6.0);
    first.knocks = vec![(4.5, 0.3, 0.133)];
    let mut pulls = vec![first];
    pulls.extend(
        Recipe::row(&[20_000.0; 2], 5.0, 3.0)
            .each(|pull| pull.at_s += 9.0)
            .pulls,
    );
    let record = Recipe::of(pulls).record();
    assert_eq!(
        analyse(&record, &GripSetup::default())
            .unwrap()
            .clamps
            .len(),
        4
    );
    let result = run(&record, None).watch.finish().unwrap();
    assert_eq!(numbers(&result), [(1, true), (2, true), (3, true)]);
}

#[test]
fn clamps_that_follow_one_another_fast_are_all_reported() {
    let run = run(&Recipe::row(&FIVE, 4.0, 0.6).record(), Some(5));
    assert_eq!(run.reported.len(), 5);
    assert!(run.watch.is_done());
}

#[test]
fn a_clamp_begun_before_the_end_is_listed_as_not_released() {
    let run = run(&Recipe::row(&FIVE, 4.0, 0.6).record(), Some(2));
    let result = run.watch.finish().unwrap();
    assert_eq!(numbers(&result), [(1, true), (2, true), (3, false)]);
    assert_eq!(result.clamps[2].excluded, Some(Excluded::NotReleased));
}

#[test]
fn slow_releases_knocks_and_sagging_holds_do_not_make_it_miss_a_clamp() {
    let mut recipe = Recipe {
        noise_n: 80.0,
        ..Recipe::row(&FIVE, 8.0, 4.0)
    };
    recipe.pulls[0].fall_s = 2.5;
    recipe.pulls[1].knocks = vec![(4.0, 0.4, 0.3), (5.0, 0.1, 0.5)];
    recipe.pulls[2].sag_n_per_s = 150.0;
    recipe.pulls[3].push_out_n = -4_000.0;
    recipe.pulls[3].push_out_s = 0.5;
    let run = run(&recipe.record(), Some(5));
    assert_eq!(run.reported.len(), 5);
    // The end of a slow fall is seen late; the record analysed still ends where it must.
    let record = run.watch.record();
    let (released, end) = (
        run.reported[4].1.released_s.unwrap(),
        record.time_s()[record.len() - 1],
    );
    assert!((end - released - 1.5).abs() < 0.002);
}

#[test]
fn a_slow_last_release_still_ends_the_record_in_its_place() {
    let mut recipe = Recipe {
        noise_n: 30.0,
        ..Recipe::row(&FIVE, 6.0, 4.0)
    };
    recipe.pulls[2].fall_s = 2.5;
    let run = run(&recipe.record(), Some(3));
    let record = run.watch.record();
    let released = run.watch.finish().unwrap().clamps[2].released_s.unwrap();
    let after = record.time_s()[record.len() - 1] - released;
    // What came after the look moves the release by the noise of the levels, no more.
    assert!((after - 1.5).abs() < 0.005, "{after}");
}

#[test]
fn the_steps_lead_through_a_clamp() {
    let recipe = Recipe {
        noise_n: 20.0,
        offset_n: 500.0,
        ..Recipe::row(&FIVE[..2], 6.0, 4.0)
    };
    let (steps, watch) = led(&recipe.record(), 2);
    // The second would be held longer than it was; it counts all the same.
    let expected = [
        "wait", "free", "rising", "hold", "unclamp", "wait", "free", "rising", "hold", "wait",
        "done",
    ];
    assert_eq!(steps, expected);
    assert_eq!(watch.counted(), 2);
}

/// The steps a technician is led through, and the watch at the end.
fn led(record: &ForceRecord, wanted: u32) -> (Vec<&'static str>, Watch) {
    let mut watch = Watch::new(Some(wanted), GripSetup::default());
    let mut steps: Vec<&str> = Vec::new();
    for sample in record.samples() {
        watch.push(sample).unwrap();
        let hold_s = if watch.is_long_hold() { 30.0 } else { 5.0 };
        let word = match watch.step() {
            Step::Free => "free",
            Step::Resting { .. } => "resting",
            Step::Rising => "rising",
            Step::Hold { held_s } => {
                assert!((0.0..hold_s).contains(&held_s));
                "hold"
            }
            Step::StillRising { held_s } => {
                assert!(held_s >= hold_s);
                "still rising"
            }
            Step::Unclamp { held_s } => {
                assert!(held_s >= hold_s);
                "unclamp"
            }
            Step::WaitFree { left_s } => {
                assert!(left_s > 0.0 && left_s <= 1.5);
                "wait"
            }
            Step::Done => "done",
        };
        if steps.last() != Some(&word) {
            steps.push(word);
        }
    }
    (steps, watch)
}

#[test]
fn the_last_clamp_that_counts_is_held_long_and_no_other() {
    let held = |lengths_s: &[f64]| {
        let mut at_s = 2.0;
        let mut recipe = Recipe::row(&vec![10_000.0; lengths_s.len()], 6.0, 4.0);
        for (pull, &length_s) in recipe.pulls.iter_mut().zip(lengths_s) {
            (pull.at_s, pull.length_s) = (at_s, length_s);
            at_s = pull.end_s() + 4.0;
        }
        recipe.end_s = at_s;
        let (steps, watch) = led(&recipe.record(), 3);
        let unclamps = steps.iter().filter(|step| **step == "unclamp").count();
        (unclamps, watch.counted(), watch.is_done())
    };
    assert_eq!(held(&[6.0, 6.0, 31.0]), (3, 3, true));
    // Let go too early for a drop: the clamp counts.
    assert_eq!(held(&[6.0, 6.0, 12.0]), (2, 3, true));
    // Too short to count: another follows, held as long.
    assert_eq!(held(&[6.0, 6.0, 1.0, 31.0]), (3, 3, true));
    // One was held long before: it need not be done twice.
    assert_eq!(held(&[31.0, 6.0, 6.0]), (3, 3, true));
}

#[test]
fn a_slow_clamp_is_not_told_to_unclamp_before_it_has_settled() {
    // A hydraulic clamp through a throttle: 90 % after 5.5 s.
    let mut forces = vec![0.0; 2_000];
    forces.extend((0..16_000).map(|ms| 10_000.0 * (1.0 - (-f64::from(ms) / 2_400.0).exp())));
    forces.extend(vec![0.0; 3_000]);
    let times: Vec<f64> = (0..forces.len()).map(|ms| ms as f64 / 1e3).collect();
    let record = ForceRecord::new(&times, &forces).unwrap();
    let mut watch = Watch::new(None, GripSetup::default());
    let mut said = Vec::new();
    for sample in record.samples() {
        watch.push(sample).unwrap();
        match watch.step() {
            Step::StillRising { .. } => said.push(("rising", sample.time_s)),
            Step::Unclamp { .. } => said.push(("unclamp", sample.time_s)),
            _ => {}
        }
    }
    let first = |word: &str| said.iter().find(|(said, _)| *said == word).unwrap().1;
    assert!(first("rising") < first("unclamp"), "{:?}", said.first());
    // Half a per cent a second: exp(−t ÷ 2.4 s) = 0.012 after 10.6 s.
    assert!(
        (11.5..14.0).contains(&first("unclamp")),
        "{}",
        first("unclamp")
    );
}

#[test]
fn a_gauge_that_rests_on_something_in_a_pause_is_asked_about_until_it_hangs_free() {
    for (rests_n, drift_n_per_s) in [(-800.0, 0.0), (-70.0, 0.0), (300.0, 0.0), (-800.0, 1.5)] {
        let mut recipe = Recipe {
            noise_n: 5.0,
            offset_n: -250.0,
            drift_n_per_s,
            ..Recipe::row(&[10_000.0; 3], 6.0, 6.0)
        };
        recipe.pulls[0].push_out_n = rests_n;
        recipe.pulls[0].push_out_s = 4.0;
        let mut watch = Watch::new(Some(3), GripSetup::default());
        let mut asked = Vec::new();
        let mut after = Vec::new();
        for sample in recipe.record().samples() {
            watch.push(sample).unwrap();
            match watch.step() {
                Step::Resting { reads_n } => {
                    assert!((reads_n - rests_n).abs() < 15.0, "{reads_n} for {rests_n}");
                    asked.push(sample.time_s);
                }
                Step::Free if !asked.is_empty() => after.push(sample.time_s),
                _ => {}
            }
        }
        // Released at 8.05 s, resting to 12.05 s; asked at once, no longer once it is free.
        assert!((9.4..10.2).contains(&asked[0]), "{rests_n}: {}", asked[0]);
        assert!(
            asked[asked.len() - 1] < 13.2 && !after.is_empty(),
            "{rests_n}"
        );
    }
}

#[test]
fn a_gauge_that_drifts_from_pause_to_pause_is_not_taken_for_one_that_rests() {
    for drift_n_per_s in [-3.0, 3.0] {
        let recipe = Recipe {
            noise_n: 5.0,
            drift_n_per_s,
            ..Recipe::row(&[10_000.0; 6], 6.0, 3.0)
        };
        let (steps, _) = led(&recipe.record(), 6);
        assert!(!steps.contains(&"resting"), "{steps:?}");
    }
}

#[test]
fn unclamp_is_asked_for_five_seconds_after_the_clamping() {
    let recipe = Recipe::row(&FIVE[..1], 8.0, 3.0).each(|pull| pull.rise_s = 0.8);
    let mut watch = Watch::new(None, GripSetup::default());
    let asked = recipe.record().samples().find_map(|sample| {
        watch.push(sample).unwrap();
        matches!(watch.step(), Step::Unclamp { .. }).then_some(sample.time_s)
    });
    // Rise from 2.0 to 2.8 s: clamped at 2.4 s.
    assert!((asked.unwrap() - 7.4).abs() < 0.1, "{asked:?}");
}

#[test]
fn breaking_off_keeps_what_was_reported() {
    let recipe = Recipe::row(&FIVE, 5.0, 3.0);
    let record = recipe.record();
    let middle_of_third = recipe.pulls[2].at_s + 2.0;
    let samples = record
        .time_s()
        .partition_point(|&time| time < middle_of_third);
    let run = run(&record.cut_to(samples), Some(5));
    let result = run.watch.finish().unwrap();
    assert_eq!(numbers(&result), [(1, true), (2, true), (3, false)]);
}

#[test]
fn a_check_broken_off_goes_on_where_it_stopped() {
    let recipe = Recipe::row(&FIVE, 5.0, 3.0);
    let record = recipe.record();
    let cut = record
        .time_s()
        .partition_point(|&time| time < recipe.pulls[2].at_s + 2.0);
    let first = record.cut_to(cut);
    let second = Recipe::row(&FIVE[2..], 5.0, 3.0).record();
    let resumed_s = first.time_s()[cut - 1] + 45.0;
    let mut joined = first;
    for sample in second.samples() {
        let time_s = resumed_s + sample.time_s;
        joined.push(Sample { time_s, ..sample }).unwrap();
    }
    let result = Watch::replay(&joined, Some(5), GripSetup::default())
        .unwrap()
        .finish()
        .unwrap();
    let counted: Vec<u32> = result
        .clamps
        .iter()
        .filter(|clamp| clamp.counted)
        .map(|clamp| clamp.number)
        .collect();
    assert_eq!(counted.len(), 5);
    assert_eq!(result.statistics.unwrap().count, 5);
}

#[test]
fn discarding_by_hand_asks_for_one_more() {
    let record = Recipe::row(&FIVE, 5.0, 3.0).record();
    let mut watch = Watch::new(Some(3), GripSetup::default());
    let mut discarded = false;
    for sample in record.samples() {
        if watch.counted() == 2 && !std::mem::replace(&mut discarded, true) {
            watch.discard(Discard {
                number: 1,
                reason: "shank not wiped".to_owned(),
            });
        }
        watch.push(sample).unwrap();
    }
    let result = watch.finish().unwrap();
    assert_eq!(
        numbers(&result),
        [(1, false), (2, true), (3, true), (4, true)]
    );
    assert_eq!(result.with_discarded.unwrap().statistics.unwrap().count, 4);
}

#[test]
fn a_fault_reported_while_held_excludes_that_clamp() {
    let recipe = Recipe::row(&FIVE, 5.0, 3.0);
    let record = recipe.record();
    let at = recipe.pulls[1].at_s + 2.0;
    let mut watch = Watch::new(Some(3), GripSetup::default());
    for sample in record.samples() {
        if (at..at + 0.2).contains(&sample.time_s) {
            continue;
        }
        if sample.time_s >= at + 0.2 && watch.record().marked_spans().is_empty() {
            watch.mark(Span {
                from_s: at,
                to_s: at + 0.2,
                kind: SpanKind::Fault,
                reason: SpanReason::OpenBridge,
            });
        }
        watch.push(sample).unwrap();
    }
    let result = watch.finish().unwrap();
    assert_eq!(result.clamps[1].excluded, Some(Excluded::Fault));
    assert_eq!(
        numbers(&result),
        [(1, true), (2, false), (3, true), (4, true)]
    );
}

#[test]
fn a_sample_out_of_time_is_refused() {
    let mut watch = Watch::new(None, GripSetup::default());
    let sample = |time_s| Sample {
        time_s,
        force_n: 0.0,
        orientation_deg: None,
    };
    watch.push(sample(1.0)).unwrap();
    assert!(watch.push(sample(1.0)).is_err());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(10))]

    #[test]
    fn looking_on_between_samples_changes_nothing(seed in 0_u64..1000, every in 40_usize..400) {
        let recipe = Recipe { rate_hz: 200.0, seed, noise_n: 80.0, ..Recipe::row(&FIVE, 3.5, 1.2) };
        let record = recipe.record();
        let mut watch = Watch::new(Some(4), GripSetup::default());
        let mut shown = Vec::new();
        for (index, sample) in record.samples().enumerate() {
            shown.extend(watch.push(sample).unwrap());
            if index % every == 0 {
                // What a screen does between samples.
                let _ = (watch.step(), watch.finish());
            }
        }
        let replayed = Watch::replay(&record, Some(4), GripSetup::default()).unwrap();
        prop_assert_eq!(shown.len(), 4);
        let result = watch.finish().unwrap();
        same_end(&part_read(record, &result.clamps, Some(4)), replayed.record());
        prop_assert_eq!(result, replayed.finish().unwrap());
    }
}

/// The gauge hangs on at a fifth of its force for three seconds after the gripper let go: the record must not end before
/// the clamp does.
#[test]
fn a_gauge_that_hangs_on_after_the_release_ends_the_check_where_the_clamp_ends() {
    let level_n = |time_s: f64| match time_s {
        t if t < 2.0 => 0.0,
        t if t < 7.0 => 10_000.0,
        t if t < 10.0 => 2_000.0,
        _ => 0.0,
    };
    let samples = (0..1_500_u32).map(|index| f64::from(index) / 100.0);
    let mut watch = Watch::new(Some(1), GripSetup::default());
    let mut shown = Vec::new();
    for time_s in samples {
        let force_n = level_n(time_s);
        let sample = Sample {
            time_s,
            force_n,
            orientation_deg: None,
        };
        shown.extend(watch.push(sample).unwrap());
    }
    assert!(watch.is_done());
    let result = watch.finish().unwrap();
    assert_eq!(result.clamps.len(), shown.len());
    assert_eq!(
        result
            .clamps
            .iter()
            .map(|clamp| clamp.counted)
            .collect::<Vec<_>>(),
        shown.iter().map(|clamp| clamp.counted).collect::<Vec<_>>()
    );
}

/// What is listed where something pulls between two strong clamps, so long after the first.
fn between_two_clamps(level_n: f64, after_s: f64) -> Vec<f64> {
    let mut recipe = Recipe::row(&[10_000.0; 3], 5.0, 4.0);
    let first_end_s = recipe.pulls[0].end_s();
    let second = &mut recipe.pulls[1];
    (second.level_n, second.length_s) = (level_n, 4.0);
    second.at_s = first_end_s + after_s;
    let run = run(&recipe.record(), None);
    let result = run.watch.finish().unwrap();
    assert_eq!(result.clamps.len(), run.reported.len());
    let numbers: Vec<u32> = run.reported.iter().map(|(_, clamp)| clamp.number).collect();
    assert!((1..).zip(&numbers).all(|(place, &number)| place == number));
    let settled = result.clamps.iter().filter_map(|clamp| clamp.settled_n);
    settled.map(f64::round).collect()
}

#[test]
fn a_weak_clamp_is_listed_and_what_pulls_before_one_was_asked_for_is_not() {
    for weak_n in [700.0, 950.0] {
        assert_eq!(between_two_clamps(weak_n, 1.0), [10_000.0, 10_000.0]);
        assert_eq!(
            between_two_clamps(weak_n, 2.5),
            [10_000.0, weak_n, 10_000.0]
        );
    }
    // Whoever is quick and clamps in full has a clamp.
    assert_eq!(
        between_two_clamps(3_000.0, 1.0),
        [10_000.0, 3_000.0, 10_000.0]
    );
}
