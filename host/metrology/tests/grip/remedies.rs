//! What is said to settle an undecided check settles it, taken at its word.

use crate::words::remedy;
use holdtrue_metrology::decision::{Figure, Limit, Side};
use holdtrue_metrology::grip::analyse_readings;
use holdtrue_metrology::grip::limits::lower;
use holdtrue_metrology::grip::result::GripResult;
use holdtrue_metrology::grip::setup::{Gauge, GripSetup};
use holdtrue_terms::vocabulary::{Outcome, Provenance};
use proptest::prelude::*;

const TOO_NEAR: &str = "take it as at the limit";

fn limit_mean(limit_n: f64) -> Limit {
    lower(Figure::GripMean, limit_n, Provenance::Maker, None)
}

fn limit_lowest(limit_n: f64) -> Limit {
    lower(Figure::GripLowest, limit_n, Provenance::Maker, None)
}

fn limit_scatter(limit_percent: f64) -> Limit {
    Limit::on(Figure::GripScatter, limit_percent, Provenance::Maker)
}

fn judged(forces_n: &[f64], limits: &[Limit], gauge_percent: f64) -> GripResult {
    let setup = GripSetup {
        limits: limits.to_vec(),
        gauge: Gauge::stated(gauge_percent),
        // A limit on something else leaves it to this whether they grip enough.
        nominal_n: limits
            .iter()
            .all(|limit| limit.side == Side::Upper)
            .then_some(10_000.0),
        ..GripSetup::default()
    };
    analyse_readings(forces_n, &setup).unwrap()
}

/// So many clamps with exactly this mean and standard deviation.
fn like(count: usize, mean_n: f64, stdev_n: f64) -> Vec<f64> {
    let pairs = (count / 2) as f64;
    let off = stdev_n * ((count - 1) as f64 / (2.0 * pairs)).sqrt();
    let place = |i: usize| match i {
        i if i == count - 1 && count % 2 == 1 => 0.0,
        i if i.is_multiple_of(2) => off,
        _ => -off,
    };
    (0..count).map(|i| mean_n + place(i)).collect()
}

fn outcome(result: &GripResult) -> Outcome {
    result.verdict.as_ref().unwrap().outcome
}

/// Clamps asked for and the gauge asked for, out of the words a person reads.
struct Advice {
    more: usize,
    gauge_percent: Option<f64>,
    text: String,
}

fn advice(result: &GripResult) -> Advice {
    let verdict = result.verdict.as_ref().unwrap();
    let decide = verdict.would_decide.as_ref();
    let decide = decide.expect("an undecided check has a remedy");
    let text = remedy(verdict);
    let gauge = text.split("a gauge good to ± ").nth(1);
    let gauge_percent = gauge.map(|rest| rest.split(' ').next().unwrap().parse().unwrap());
    let more = usize::try_from(decide.more_clamps.unwrap_or(0)).unwrap();
    assert_eq!(text.contains("more clamp") && more > 0, more > 0, "{text}");
    Advice {
        more,
        gauge_percent,
        text,
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn mean_and_scatter_are_decided_by_what_is_asked_for(
        count in 2_usize..12, off in -0.06..0.06_f64, cv in 0.1..4.0_f64, gauge in 0.1..6.0_f64, scatter in 0.5..6.0_f64,
    ) {
        let limits = [limit_mean(10_000.0), limit_scatter(scatter)];
        let mean_n = 10_000.0 * (1.0 + off);
        let taken = like(count, mean_n, cv / 100.0 * mean_n);
        let first = judged(&taken, &limits, gauge);
        prop_assume!(outcome(&first) == Outcome::Undecided);
        let advice = advice(&first);
        if let Some(better) = advice.gauge_percent {
            prop_assert!(better < gauge, "{}", advice.text);
        }
        let again = judged(
            &like(count + advice.more, mean_n, cv / 100.0 * mean_n),
            &limits,
            advice.gauge_percent.unwrap_or(gauge),
        );
        if advice.text.contains(TOO_NEAR) {
            let best = judged(&like(20, mean_n, cv / 100.0 * mean_n), &limits, 0.05);
            let limits = best.verdict.unwrap().limits;
            let open = limits.iter().any(|limit| limit.outcome == Outcome::Undecided);
            prop_assert!(open, "{}", advice.text);
        } else {
            prop_assert_ne!(outcome(&again), Outcome::Undecided, "{}", advice.text);
        }
    }

    #[test]
    fn the_lowest_clamp_is_decided_by_the_gauge_asked_for_and_never_by_clamps(
        forces in proptest::collection::vec(9_700.0..10_300.0_f64, 1..9), limit_n in 9_300.0..10_300.0_f64, gauge in 0.1..8.0_f64,
    ) {
        let limits = [limit_lowest(limit_n)];
        let first = judged(&forces, &limits, gauge);
        prop_assume!(outcome(&first) == Outcome::Undecided);
        let advice = advice(&first);
        prop_assert_eq!(advice.more, 0, "{}", advice.text);
        match advice.gauge_percent {
            Some(better) => {
                prop_assert!(better < gauge);
                prop_assert_ne!(outcome(&judged(&forces, &limits, better)), Outcome::Undecided, "{}", advice.text);
            }
            None => {
                prop_assert!(advice.text.contains(TOO_NEAR));
                prop_assert_eq!(outcome(&judged(&forces, &limits, 0.05)), Outcome::Undecided, "{}", advice.text);
            }
        }
    }
}

#[test]
fn a_gauge_is_asked_for_that_decides_with_the_clamps_there_are() {
    let forces = [9_950.0, 10_100.0, 10_020.0, 10_200.0, 10_050.0];
    let limits = [limit_mean(10_000.0)];
    let first = judged(&forces, &limits, 5.0);
    let asked = advice(&first);
    // Mean 10 064 N, s 93.7 N: by these five clamps alone the guard is 2.132 × 41.9 N = 89 N (tables), more than 64 N, so
    // a gauge alone cannot do and clamps are asked for with it.
    assert!(
        asked.more > 0 && asked.gauge_percent.is_some(),
        "{}",
        asked.text
    );
}

#[test]
fn no_gauge_is_asked_for_that_is_worse_than_the_one_in_hand() {
    let limits = [limit_mean(9_000.0), limit_scatter(3.0)];
    let wild = judged(&[6_000.0, 11_000.0, 15_000.0], &limits, 0.3);
    let asked = advice(&wild);
    assert!(
        asked.gauge_percent.is_none_or(|percent| percent < 0.3),
        "{}",
        asked.text
    );
}

#[test]
fn scatter_of_few_clamps_asks_for_as_many_as_decide_and_says_where_none_do() {
    let with_cv = |count, cv: f64| {
        judged(
            &like(count, 10_000.0, 100.0 * cv),
            &[limit_scatter(3.0)],
            1.0,
        )
    };
    // 2.67 % against 3 %: with 20 clamps the bound is 2.67 × √(19/10.117) = 3.66 % (χ² tables).
    let near = advice(&with_cv(4, 2.67));
    assert_eq!(near.more, 0, "{}", near.text);
    assert!(
        near.text.contains("not decided by 20 clamps"),
        "{}",
        near.text
    );
    // 1.8 % against 3 %: √(8/2.733) = 1.711 gives 3.08 %, √(9/3.325) = 1.645 gives 2.96 % (χ² tables): 10 clamps.
    assert_eq!(advice(&with_cv(4, 1.8)).more, 6);
    assert_eq!(advice(&with_cv(4, 1.0)).more, 1);
}

#[test]
fn one_clamp_with_a_limit_on_scatter_asks_for_clamps_and_nothing_vague() {
    let one = judged(&[10_000.0], &[limit_scatter(3.0)], 1.0);
    assert_eq!(advice(&one).text, "about 4 more clamps");
}
