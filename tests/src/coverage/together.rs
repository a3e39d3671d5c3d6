//! Four limits at once, on mean, lowest clamp, scatter and drop while held: the joint rates.

use super::{Dice, SIGMA_N, TRUTH_N, Tally, limit, side_by_side};
use holdtrue_metrology::decision::{Figure, Limit, judge, overall};
use holdtrue_metrology::grip::analyse_readings;
use holdtrue_metrology::grip::setup::{Gauge, GripSetup};
use holdtrue_terms::vocabulary::{Outcome, Provenance};
use std::fmt::Write;

const CLAMPS: usize = 5;
/// Expanded uncertainty (k = 2) of the gauge, %.
const GAUGE_PERCENT: f64 = 1.0;
/// Standard uncertainty of the drop while held, N/s.
const SAG_STANDARD: f64 = 1.0;

/// Where the truth lies for the figures of a row.
#[derive(Clone, Copy, Debug)]
struct Case {
    words: &'static str,
    /// The mean lies at its limit (else far inside).
    mean_at_limit: bool,
    /// The other three lie at theirs.
    others_at_limit: bool,
}

const CASES: [Case; 3] = [
    Case {
        words: "all four exactly at their limits",
        mean_at_limit: true,
        others_at_limit: true,
    },
    Case {
        words: "the mean at its limit, the others far inside",
        mean_at_limit: true,
        others_at_limit: false,
    },
    Case {
        words: "all four far inside",
        mean_at_limit: false,
        others_at_limit: false,
    },
];

fn one(case: Case, dice: &mut Dice) -> Outcome {
    let error = 1.0 + 0.005 * GAUGE_PERCENT * dice.normal();
    let true_n: Vec<f64> = (0..CLAMPS)
        .map(|_| TRUTH_N + SIGMA_N * dice.normal())
        .collect();
    let read_n: Vec<f64> = true_n.iter().map(|n| n * error).collect();
    let lowest_n = true_n.iter().copied().fold(f64::INFINITY, f64::min);
    let inside = |at_limit: bool, limit: f64, far: f64| if at_limit { limit } else { far };
    let others = case.others_at_limit;
    let mean = limit(inside(case.mean_at_limit, TRUTH_N, 0.8 * TRUTH_N));
    let on = |figure, limit| Limit::on(figure, limit, Provenance::Maker);
    let lowest = on(Figure::GripLowest, inside(others, lowest_n, 0.7 * TRUTH_N));
    let true_cv = 100.0 * SIGMA_N / TRUTH_N;
    let scatter = on(Figure::GripScatter, inside(others, true_cv, 10.0 * true_cv));
    let sag = on(Figure::GripSag, inside(others, 20.0, 40.0));
    let setup = GripSetup {
        gauge: Gauge::stated(GAUGE_PERCENT),
        limits: vec![mean, lowest, scatter],
        ..GripSetup::default()
    };
    let result = analyse_readings(&read_n, &setup).expect("five sound readings");
    let mut judged = result.verdict.expect("there are limits").limits;
    // readings noted by hand have no drop while held; it is judged as a record's is
    let measured = 20.0 + SAG_STANDARD * dice.normal();
    judged.push(judge(&sag, measured, SAG_STANDARD, f64::INFINITY));
    overall(&judged)
}

/// All rows as a table.
pub fn table(checks: u64) -> String {
    let rows = side_by_side(&CASES, |case| {
        let mut tally = Tally::default();
        for check in 0..checks {
            tally.count(one(*case, &mut Dice::new(40_000, check)));
        }
        tally
    });
    let mut text = format!(
        "### Four limits at once ({CLAMPS} clamps, gauge {GAUGE_PERCENT} % (k = 2), {checks} checks a row)\n\n\
         | truth | accept | undecided | reject |\n|---|---:|---:|---:|\n"
    );
    for (case, t) in CASES.iter().zip(rows) {
        let [a, u, r] = [t.accepted, t.undecided, t.rejected].map(|count| t.percent(count));
        writeln!(text, "| {} | {a:.2} % | {u:.2} % | {r:.2} % |", case.words)
            .expect("a string takes everything");
    }
    text
}
