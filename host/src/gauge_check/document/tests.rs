//! What makes a gauge unfit, each with a next step.

use super::*;
use holdtrue_gauge::calibration::sample::record;
use holdtrue_metrology::gauge_check::control::OnStandard;
use holdtrue_metrology::gauge_check::fitness::{SelfTests, may_be_loaded};
use holdtrue_metrology::gauge_check::loading::Read;

type Spoil = fn(&mut Look);

fn good() -> Look {
    let at_rest = AtRest {
        zero_n: 50.0,
        noise_n: 3.0,
        drift_n: 2.0,
        seconds: 10.0,
    };
    Look {
        record: Some(record()),
        at_rest: Some(at_rest),
        today_days: 200,
        ..Look::default()
    }
}

#[test]
fn a_quiet_gauge_in_date_is_fit() {
    let fitness = judge(good());
    assert!(fitness.fit, "{:?}", fitness.reasons);
}

#[test]
fn every_trouble_is_a_reason_with_a_next_step() {
    let troubles: [(&str, Spoil); 6] = [
        ("zero", |look| {
            look.at_rest.as_mut().unwrap().zero_n = -900.0
        }),
        ("noise", |look| {
            look.at_rest.as_mut().unwrap().noise_n = 40.0
        }),
        ("drift", |look| {
            look.at_rest.as_mut().unwrap().drift_n = 30.0
        }),
        ("overload", |look| look.overloads = 1),
        ("due", |look| look.today_days = 466),
        ("no calibration", |look| look.record = None),
    ];
    for (word, spoil) in troubles {
        let mut look = good();
        spoil(&mut look);
        let fitness = judge(look);
        assert!(!fitness.fit, "{word}");
        assert!(
            fitness.reasons.iter().any(|reason| reason.contains(word)),
            "{word}: {:?}",
            fitness.reasons
        );
    }
}

/// 350 / 400 700 of the supply at gain 128, whatever the bridge reads at rest: 937 883 counts of 2²³.
#[test]
fn the_shunts_step_is_held_to_its_computed_value() {
    let fit = |rest: i32, step: i32| {
        let mut look = good();
        look.tests = SelfTests {
            rest_counts: Some(f64::from(rest)),
            shunt_counts: Some(f64::from(rest + step)),
            ..SelfTests::default()
        };
        let fitness = judge(look);
        let told = fitness.reasons.join("\n");
        assert_eq!(fitness.fit, !told.contains("shunt"), "{told}");
        fitness.fit
    };
    for rest in [0, 1_000_000, -50_000] {
        assert!(
            fit(rest, 937_883) && !fit(rest, -937_883),
            "wires exchanged"
        );
        // Arms 1 % off; a cell of 700 ohm, half and twice the gain, no shunt at all.
        assert!(fit(rest, 928_600) && fit(rest, 947_200));
        for step in [1_875_000, 468_945, 1_875_780, 0, 1_000] {
            assert!(!fit(rest, step), "{step}");
        }
    }
}

fn standard() -> Standard {
    Standard {
        on: OnStandard {
            name: "frame".to_owned(),
            load_n: 5_000.0,
            expanded_percent: None,
            acknowledged: "by_flag".to_owned(),
            read: Read {
                reading_n: 5_010.0,
                reading_counts: 501_000.0,
                zero_before_n: 50.0,
                zero_after_n: 52.0,
            },
        },
        off_n: 10.0,
        allowed_n: 103.0,
        baseline: 3,
        change_n: Some(5.0),
        change_percent: Some(0.1),
        bound_n: Some(25.0),
        in_control: Some(true),
    }
}

#[test]
fn a_standard_that_reads_as_before_is_good_and_each_way_it_does_not_is_a_reason() {
    let judged = |spoil: fn(&mut Standard)| {
        let mut read = standard();
        spoil(&mut read);
        judge(Look {
            standard: Some(read),
            ..good()
        })
        .reasons
        .join("\n")
    };
    assert_eq!(judged(|_| ()), "");
    let off = judged(|read| read.off_n = -120.0);
    assert!(off.contains("against calibration") && off.contains("recalibrated"));
    let moved = judged(|read| read.in_control = Some(false));
    assert!(moved.contains("check standard, change") && moved.contains("once more"));
    assert!(judged(|standard| standard.on.read.zero_after_n = 70.0).contains("zero after"));
    let young = judged(|read| {
        (read.baseline, read.change_n, read.in_control) = (1, None, None);
    });
    assert_eq!(young, "", "a baseline in the making is no fault");
}

#[test]
fn after_an_overload_the_order_is_zero_standard_recalibration() {
    let overloaded = |standard| {
        let look = Look {
            overloads: 1,
            standard,
            ..good()
        };
        judge(look).reasons.join("\n")
    };
    let first = overloaded(None);
    let places = ["zero", "--standard-n", "recalibrated"].map(|word| first.find(word).unwrap());
    assert!(places.is_sorted(), "{first}");
    assert!(!overloaded(Some(standard())).contains("--standard-n"));
    let look = Look {
        overloads: 1,
        ..good()
    };
    assert!(
        may_be_loaded(&look.figures()),
        "the standard is to be tried"
    );
}

#[test]
fn a_knob_beyond_its_stated_life_is_not_fit_and_one_without_is_only_counted() {
    let judged = |clamps, good_for| {
        let knob = Some(Knob {
            clamps,
            since: None,
            knob: None,
            good_for,
        });
        judge(Look { knob, ..good() })
    };
    assert!(judged(500, Some(500)).fit);
    let worn = judged(501, Some(500));
    assert!(!worn.fit && worn.reasons[0].contains("change the knob"));
    assert!(judged(90_000, None).fit);
}

#[test]
fn a_gauge_that_is_wrong_at_rest_is_not_loaded() {
    assert!(may_be_loaded(&good().figures()));
    let mut look = good();
    look.at_rest.as_mut().unwrap().zero_n = 900.0;
    assert!(!may_be_loaded(&look.figures()));
}
