//! From counted clamps to figures, uncertainty and verdict.

use crate::recipe::Recipe;
use crate::words::{self, said};
use holdtrue_metrology::decision::{Figure, Limit, Side};
use holdtrue_metrology::grip::excluded::{Discard, Excluded};
use holdtrue_metrology::grip::limits::{Assumption, MakersFigure, Shares, lower, share_of_nominal};
use holdtrue_metrology::grip::record::{ForceRecord, Span, SpanKind, SpanReason};
use holdtrue_metrology::grip::remarks::GripNote;
use holdtrue_metrology::grip::result::GripResult;
use holdtrue_metrology::grip::setup::{Allowance, Gauge, GripSetup, Standing};
use holdtrue_metrology::grip::{GripError, analyse, analyse_readings};
use holdtrue_terms::figure::{ForceOf, GivenBy, Measure};
use holdtrue_terms::vocabulary::{Class, Outcome, Provenance, State};
use serde_json::{Value, json};

const FIVE: [f64; 5] = [9_800.0, 9_900.0, 9_700.0, 10_000.0, 9_850.0];

fn limited(figure: Figure, limit: f64) -> GripSetup {
    GripSetup {
        limits: vec![lower(figure, limit, Provenance::Maker, None)],
        gauge: Gauge::stated(1.0),
        ..GripSetup::default()
    }
}

fn upper(figure: Figure, limit: f64, unit: &str) -> Limit {
    Limit {
        side: Side::Upper,
        unit: unit.to_owned(),
        ..lower(figure, limit, Provenance::Maker, None)
    }
}

fn outcome(result: &GripResult) -> Outcome {
    result.verdict.as_ref().unwrap().outcome
}

fn reasons(result: &GripResult) -> String {
    said(&result.verdict.as_ref().unwrap().reasons).join(" | ")
}

#[test]
fn the_document_has_the_contracted_fields() {
    let setup = GripSetup {
        state: Some(State::AsFound),
        ..limited(Figure::GripMean, 8_000.0)
    };
    let result = analyse(&Recipe::row(&FIVE, 5.0, 3.0).record(), &setup).unwrap();
    let document = holdtrue_wording::document(&result).unwrap();
    let has = |value: &Value, fields: &[&str]| {
        for field in fields {
            assert!(value.get(field).is_some(), "no {field} in {value:#}");
        }
    };
    let top = [
        "check",
        "schema",
        "state",
        "clamps",
        "statistics",
        "uncertainty",
        "verdict",
        "hints",
        "notes",
    ];
    has(&document, &top);
    assert_eq!(
        (&document["check"], &document["schema"]),
        (&json!("grip"), &json!(1))
    );
    assert_eq!(document["state"], json!("as_found"));
    let clamp = [
        "number",
        "counted",
        "excluded",
        "clamped_s",
        "released_s",
        "window_s",
        "settled_n",
        "peak_n",
    ];
    has(&document["clamps"][0], &clamp);
    has(
        &document["clamps"][0],
        &[
            "sag_n_per_s",
            "orientation_deg",
            "short_hold",
            "clamping_s",
            "push_out_mm",
            "draw_in_mm",
            "notes",
        ],
    );
    assert_eq!(
        document["clamps"][0]["window_s"].as_array().unwrap().len(),
        2
    );
    let statistics = [
        "count",
        "mean_n",
        "lowest_n",
        "stdev_n",
        "cv_percent",
        "confidence_95_n",
        "tolerance_95_95_n",
    ];
    has(&document["statistics"], &statistics);
    has(
        &document["statistics"],
        &["trend_n_per_clamp", "trend_p", "outlier"],
    );
    has(
        &document["uncertainty"],
        &[
            "budget",
            "combined_n",
            "effective_dof",
            "coverage_factor",
            "expanded_n",
        ],
    );
    has(
        &document["uncertainty"]["budget"][0],
        &["source", "standard_n", "dof"],
    );
    has(
        &document["verdict"],
        &["outcome", "limits", "reasons", "would_decide"],
    );
    let limit = [
        "figure",
        "side",
        "limit",
        "unit",
        "provenance",
        "measured",
        "guard",
        "outcome",
        "watch",
    ];
    has(&document["verdict"]["limits"][0], &limit);
    let read_back: GripResult = serde_json::from_value(document).unwrap();
    assert_eq!(read_back, result);
}

#[test]
fn figures_appear_at_their_minimum_counts() {
    let figures = |count: usize| {
        let forces = [9_800.0, 9_900.0, 9_700.0, 10_000.0, 9_850.0, 7_000.0];
        analyse_readings(&forces[..count], &GripSetup::default())
            .unwrap()
            .statistics
            .unwrap()
    };
    let one = figures(1);
    assert_eq!(
        (one.count, one.stdev_n, one.cv_percent, one.confidence_95_n),
        (1, None, None, None)
    );
    assert!((one.mean_n - 9_800.0).abs() < 1e-9 && (one.lowest_n - 9_800.0).abs() < 1e-9);
    let two = figures(2);
    assert!(
        two.stdev_n.is_some() && two.confidence_95_n.is_some() && two.tolerance_95_95_n.is_some()
    );
    assert_eq!((two.trend_n_per_clamp, two.trend_p), (None, None));
    assert!(figures(3).trend_p.is_some());
    assert_eq!(figures(5).outlier, None);
    assert_eq!(figures(6).outlier, Some(6));
}

#[test]
fn readings_have_no_times_no_peak_and_no_sag() {
    let result = analyse_readings(&FIVE, &GripSetup::default()).unwrap();
    let clamp = serde_json::to_value(&result.clamps[0]).unwrap();
    for field in [
        "clamped_s",
        "released_s",
        "window_s",
        "peak_n",
        "sag_n_per_s",
        "orientation_deg",
        "excluded",
    ] {
        assert_eq!(clamp[field], Value::Null, "{field}");
    }
    assert_eq!(clamp["settled_n"], json!(9_800.0));
    assert_eq!((result.verdict, result.uncertainty), (None, None));
}

#[test]
fn the_guard_of_the_mean_is_students_factor_times_its_uncertainty() {
    let result = analyse_readings(&FIVE, &limited(Figure::GripMean, 8_000.0)).unwrap();
    let judged = &result.verdict.as_ref().unwrap().limits[0];
    // s = 111.80 N, s/√5 = 50 N; gauge 0.5 % of 9850 N = 49.25 N once. Welch–Satterthwaite gives ν = 15.527;
    // t₀.₉₅ = 1.753050 at 15 and 1.745884 at 16 (tables), 1.74916 between them.
    let uncertainty = result.uncertainty.as_ref().unwrap();
    assert!((uncertainty.combined_n - 50.0_f64.hypot(49.25)).abs() < 1e-9);
    assert!(
        (uncertainty.effective_dof.unwrap() - 15.527).abs() < 1e-3,
        "{uncertainty:?}"
    );
    assert!(
        (judged.guard / uncertainty.combined_n - 1.749_16).abs() < 1e-4,
        "{}",
        judged.guard / uncertainty.combined_n
    );
    assert_eq!(judged.outcome, Outcome::Accept);
}

#[test]
fn the_same_clamps_are_within_by_a_good_gauge_and_undecided_by_a_poor_one() {
    let with = |percent: f64| {
        let setup = GripSetup {
            gauge: Gauge::stated(percent),
            ..limited(Figure::GripMean, 9_500.0)
        };
        analyse_readings(&FIVE, &setup).unwrap()
    };
    assert_eq!(outcome(&with(0.5)), Outcome::Accept);
    let poor = with(8.0);
    assert_eq!(outcome(&poor), Outcome::Undecided);
    let remedy = remedy(&poor);
    assert!(remedy.contains("gauge"), "{remedy}");
    // No number of clamps makes up for the gauge.
    let would = poor.verdict.unwrap().would_decide.unwrap();
    assert_eq!(would.more_clamps, None);
}

#[test]
fn more_clamps_are_offered_where_they_help_and_then_settle_it() {
    let forces = [9_500.0, 10_100.0, 9_900.0];
    let setup = GripSetup {
        gauge: Gauge::stated(0.5),
        ..limited(Figure::GripMean, 9_400.0)
    };
    let few = analyse_readings(&forces, &setup).unwrap();
    assert_eq!(outcome(&few), Outcome::Undecided);
    let more = few
        .verdict
        .unwrap()
        .would_decide
        .unwrap()
        .more_clamps
        .unwrap();
    // Clamps with the same mean and the same standard deviation, as many as asked for.
    let count = 3 + usize::try_from(more).unwrap();
    let (mean, stdev) = (
        few.statistics.as_ref().unwrap().mean_n,
        few.statistics.unwrap().stdev_n.unwrap(),
    );
    let like_these = |count: usize| -> Vec<f64> {
        let pairs = (count / 2) as f64;
        let off = stdev * ((count - 1) as f64 / (2.0 * pairs)).sqrt();
        let place = |i: usize| {
            if i == count - 1 && count % 2 == 1 {
                0.0
            } else if i.is_multiple_of(2) {
                off
            } else {
                -off
            }
        };
        (0..count).map(|i| mean + place(i)).collect()
    };
    assert_eq!(
        outcome(&analyse_readings(&like_these(count), &setup).unwrap()),
        Outcome::Accept
    );
    assert_eq!(
        outcome(&analyse_readings(&like_these(count - 1), &setup).unwrap()),
        Outcome::Undecided
    );
}

#[test]
fn the_lowest_clamp_is_judged_without_repeatability_and_never_offered_more_clamps() {
    let setup = GripSetup {
        gauge: Gauge::stated(4.0),
        ..limited(Figure::GripLowest, 9_600.0)
    };
    let result = analyse_readings(&FIVE, &setup).unwrap();
    let verdict = result.verdict.unwrap();
    // 2 % of 9700 N = 194 N, times 1.6449 for infinite degrees of freedom.
    assert!((verdict.limits[0].guard - 1.644_854 * 194.0).abs() < 1e-2);
    assert_eq!(verdict.outcome, Outcome::Undecided);
    assert_eq!(verdict.would_decide.unwrap().more_clamps, None);
}

#[test]
fn one_weak_clamp_rejects_by_the_lowest_and_not_by_the_mean() {
    let mut setup = limited(Figure::GripMean, 7_000.0);
    setup
        .limits
        .push(lower(Figure::GripLowest, 7_000.0, Provenance::Maker, None));
    let result =
        analyse_readings(&[10_000.0, 10_050.0, 9_950.0, 10_000.0, 2_000.0], &setup).unwrap();
    let verdict = result.verdict.unwrap();
    let of = |figure| {
        verdict
            .limits
            .iter()
            .find(|limit| limit.figure == figure)
            .unwrap()
            .outcome
    };
    assert_eq!(
        (of(Figure::GripMean), of(Figure::GripLowest)),
        (Outcome::Undecided, Outcome::Reject)
    );
    assert_eq!(verdict.outcome, Outcome::Reject);
}

#[test]
fn one_clamp_is_never_within_limit() {
    let setup = limited(Figure::GripMean, 8_000.0);
    let good = analyse_readings(&[12_000.0], &setup).unwrap();
    assert_eq!(outcome(&good), Outcome::Undecided);
    assert_eq!(
        good.verdict.unwrap().would_decide.unwrap().more_clamps,
        Some(2)
    );
    assert_eq!(
        outcome(&analyse_readings(&[3_000.0], &setup).unwrap()),
        Outcome::Reject
    );
}

#[test]
fn without_a_calibration_in_force_nothing_is_within_but_a_gross_shortfall_is_outside() {
    let at = |share: f64, standing: Standing| {
        let gauge = Gauge {
            standing,
            ..Gauge::stated(1.0)
        };
        let setup = GripSetup {
            gauge,
            ..limited(Figure::GripMean, 7_000.0)
        };
        analyse_readings(&[10_000.0 * share; 5], &setup).unwrap()
    };
    for standing in [Standing::Lapsed, Standing::Missing, Standing::Exceeded] {
        assert_eq!(outcome(&at(1.0, standing)), Outcome::Undecided);
        // 60 % plus a fifth of it is 72 %: not below 70 %.
        assert_eq!(outcome(&at(0.6, standing)), Outcome::Undecided);
        let far = at(0.4, standing);
        assert_eq!(outcome(&far), Outcome::Reject);
        let words = "far too low by a gauge out of calibration: do not run until measured again";
        assert!(reasons(&far).contains(words), "{}", reasons(&far));
    }
    assert_eq!(outcome(&at(1.0, Standing::InForce)), Outcome::Accept);
    assert_eq!(outcome(&at(0.6, Standing::InForce)), Outcome::Reject);
}

#[test]
fn outside_the_calibrated_span_nothing_is_within() {
    let gauge = Gauge {
        span_n: Some([2_000.0, 9_000.0]),
        ..Gauge::stated(1.0)
    };
    let setup = GripSetup {
        gauge,
        ..limited(Figure::GripMean, 7_000.0)
    };
    let result = analyse_readings(&FIVE, &setup).unwrap();
    assert_eq!(outcome(&result), Outcome::Undecided);
    assert!(reasons(&result).contains("span"), "{}", reasons(&result));
}

fn assumed(interface: &str, class: Class) -> GripSetup {
    let interface = interface.parse().unwrap();
    GripSetup {
        assumption: Some(Assumption { interface, class }),
        gauge: Gauge::stated(1.0),
        ..GripSetup::default()
    }
}

#[test]
fn a_usual_range_never_accepts() {
    for interface in [
        "7/24-30", "7/24-40", "7/24-50", "HSK-A63", "HSK-E40", "7/24-45",
    ] {
        for kilonewton in [1.0, 4.0, 8.0, 10.0, 12.0, 18.0, 25.0, 60.0] {
            let forces = [1_000.0 * kilonewton; 6];
            let result = analyse_readings(&forces, &assumed(interface, Class::Standard)).unwrap();
            assert_ne!(
                outcome(&result),
                Outcome::Accept,
                "{interface} {kilonewton}"
            );
            assert!(
                result
                    .verdict
                    .unwrap()
                    .limits
                    .iter()
                    .all(|limit| limit.outcome != Outcome::Accept)
            );
        }
    }
}

#[test]
fn a_usual_range_rejects_only_far_below_its_low_end() {
    // No. 40, standard: 8 kN at its low end (common practice), 70 % of it 5.6 kN.
    let at = |force: f64| {
        let forces = [
            force - 20.0,
            force,
            force + 20.0,
            force - 10.0,
            force + 10.0,
        ];
        analyse_readings(&forces, &assumed("7/24-40", Class::Standard)).unwrap()
    };
    assert_eq!(outcome(&at(5_400.0)), Outcome::Reject);
    assert_eq!(outcome(&at(5_580.0)), Outcome::Undecided);
    assert!(reasons(&at(7_000.0)).contains("below the usual range"));
    assert!(reasons(&at(10_000.0)).contains("inside the usual range"));
    assert!(remedy(&at(10_000.0)).contains("maker's"));
    // HSK-A63: 18 kN (from memory), 80 % of it 14.4 kN.
    let hollow = |force: f64| {
        let forces = [
            force - 20.0,
            force,
            force + 20.0,
            force - 10.0,
            force + 10.0,
        ];
        outcome(&analyse_readings(&forces, &assumed("HSK-A63", Class::Standard)).unwrap())
    };
    assert_eq!(
        (hollow(14_000.0), hollow(14_800.0)),
        (Outcome::Reject, Outcome::Undecided)
    );
}

#[test]
fn the_makers_figure_wins_over_a_usual_range() {
    let mut setup = assumed("7/24-40", Class::Standard);
    setup.nominal_n = Some(6_000.0);
    setup.limits = MakersFigure {
        nominal_n: Some(6_000.0),
        minimum_n: None,
    }
    .limits(Shares::usual(false));
    assert_eq!(
        outcome(&analyse_readings(&[5_900.0, 6_000.0, 6_100.0], &setup).unwrap()),
        Outcome::Accept
    );
    let watched = analyse_readings(&[4_900.0, 4_950.0, 4_920.0], &setup).unwrap();
    assert_eq!(outcome(&watched), Outcome::Accept);
    assert!(watched.verdict.unwrap().limits[0].watch);
}

#[test]
fn only_a_limit_on_the_holding_force_takes_the_place_of_the_usual_range() {
    for &figure in Figure::ALL.iter().filter(|one| one.is_of(GivenBy::Grip)) {
        let met = match figure.facts().good {
            Side::Lower => 0.001,
            Side::Upper => 100_000.0,
        };
        let mut setup = assumed("7/24-40", Class::Standard);
        setup.limits = vec![Limit::on(figure, met, Provenance::Maker)];
        let result = analyse_readings(&FIVE, &setup).unwrap();
        let by_usual_range = reasons(&result).contains("no maker's figure");
        assert_eq!(by_usual_range, !figure.is_holding_force(), "{figure}");
        assert!(
            !by_usual_range || outcome(&result) != Outcome::Accept,
            "{figure}"
        );
    }
}

/// What a figure's row says of it is so: a difference called a holding force would let a weak spindle be accepted by it.
#[test]
fn a_holding_force_grows_with_every_clamp_and_a_difference_of_forces_does_not() {
    const MORE_N: f64 = 1_000.0;
    let value_n = |figure: Figure, more_n: f64| {
        let forces_n = FIVE.map(|force_n| force_n + more_n);
        let result = analyse_readings(&forces_n, &limited(figure, 1.0)).unwrap();
        let mut judged = result.verdict.unwrap().limits.into_iter();
        let of_it = judged.rfind(|one| one.figure == figure);
        of_it
            .unwrap_or_else(|| panic!("{figure} was not judged"))
            .measured
    };
    for &figure in Figure::ALL {
        let Measure::Force(of) = figure.facts().measure else {
            continue;
        };
        let grown_n = value_n(figure, MORE_N) - value_n(figure, 0.0);
        let expected_n = match of {
            ForceOf::Hold => MORE_N,
            ForceOf::Difference => 0.0,
        };
        assert!((grown_n - expected_n).abs() < 1e-6, "{figure}: {grown_n} N");
    }
}

#[test]
fn a_limit_for_runout_has_no_say_over_grip() {
    let mut setup = limited(Figure::GripMean, 8_000.0);
    setup.limits.push(upper(Figure::Tir, 10.0, "um"));
    assert_eq!(
        outcome(&analyse_readings(&FIVE, &setup).unwrap()),
        Outcome::Accept
    );
    setup.limits.remove(0);
    assert_eq!(analyse_readings(&FIVE, &setup).unwrap().verdict, None);
}

#[test]
fn far_above_nominal_says_stop() {
    let setup = GripSetup {
        nominal_n: Some(10_000.0),
        limits: vec![share_of_nominal(10_000.0, 70.0, Provenance::Maker)],
        gauge: Gauge::stated(1.0),
        ..GripSetup::default()
    };
    let high = analyse_readings(&[12_500.0, 12_600.0, 12_550.0], &setup).unwrap();
    assert!(reasons(&high).starts_with("stop: ") && reasons(&high).contains("drawbar setting"));
    assert_eq!(outcome(&high), Outcome::Undecided);
    assert!(remedy(&high).contains("taken again"), "{}", remedy(&high));
    let at_the_edge = analyse_readings(&[11_950.0, 12_000.0, 12_050.0], &setup).unwrap();
    assert_eq!(outcome(&at_the_edge), Outcome::Accept);
    let mut scattering = setup.clone();
    scattering.limits.push(upper(Figure::GripScatter, 1.0, "%"));
    let wild = analyse_readings(
        &[9_000.0, 12_000.0, 16_000.0, 11_000.0, 17_000.0],
        &scattering,
    )
    .unwrap();
    assert_eq!(outcome(&wild), Outcome::Reject);
    assert!(reasons(&wild).starts_with("stop: "));
    assert!(!reasons(&analyse_readings(&FIVE, &setup).unwrap()).contains("stop"));
}

#[test]
fn a_nominal_alone_sets_no_limit() {
    let setup = GripSetup {
        nominal_n: Some(10_000.0),
        gauge: Gauge::stated(1.0),
        ..GripSetup::default()
    };
    assert_eq!(analyse_readings(&FIVE, &setup).unwrap().verdict, None);
}

#[test]
fn no_counted_clamp_is_undecided_where_a_limit_is_set() {
    let recipe = Recipe::row(&[10_000.0; 2], 1.0, 3.0);
    let result = analyse(&recipe.record(), &limited(Figure::GripMean, 7_000.0)).unwrap();
    assert_eq!(
        (result.statistics.is_none(), result.uncertainty.is_none()),
        (true, true)
    );
    assert_eq!(outcome(&result), Outcome::Undecided);
    assert_eq!(
        analyse(&recipe.record(), &GripSetup::default())
            .unwrap()
            .verdict,
        None
    );
}

#[test]
fn scatter_is_not_judged_below_five_clamps() {
    let setup = GripSetup {
        limits: vec![upper(Figure::GripScatter, 5.0, "%")],
        gauge: Gauge::stated(1.0),
        nominal_n: Some(10_000.0),
        ..GripSetup::default()
    };
    let few = analyse_readings(&[10_000.0, 10_010.0, 9_990.0], &setup).unwrap();
    assert_eq!(outcome(&few), Outcome::Undecided);
    assert_eq!(
        few.verdict.unwrap().would_decide.unwrap().more_clamps,
        Some(2)
    );
    // CV 1.135 %; with 4 degrees of freedom the true scatter may be √(4/0.7107) = 2.372 times that (tables).
    let five = analyse_readings(&FIVE, &setup).unwrap();
    let judged = &five.verdict.as_ref().unwrap().limits[0];
    assert!(((judged.measured + judged.guard) / judged.measured - 2.372).abs() < 1e-3);
    assert_eq!(outcome(&five), Outcome::Accept);
    let wild = [10_000.0, 6_000.0, 13_000.0, 8_000.0, 14_000.0];
    assert_eq!(
        outcome(&analyse_readings(&wild, &setup).unwrap()),
        Outcome::Reject
    );
}

#[test]
fn the_drop_while_held_is_judged_on_the_longest_hold() {
    let setup = GripSetup {
        limits: vec![upper(Figure::GripSag, 5.0, "N/s")],
        gauge: Gauge::stated(1.0),
        nominal_n: Some(10_000.0),
        ..GripSetup::default()
    };
    let held = |sag: f64| {
        let mut recipe = Recipe {
            noise_n: 10.0,
            ..Recipe::row(&[10_000.0; 3], 5.0, 3.0)
        };
        recipe.pulls[2].length_s = 30.0;
        recipe.pulls[2].sag_n_per_s = sag;
        recipe.end_s += 25.0;
        analyse(&recipe.record(), &setup).unwrap()
    };
    assert_eq!(outcome(&held(1.0)), Outcome::Accept);
    let rising = held(-2.0).verdict.unwrap();
    assert_eq!(rising.outcome, Outcome::Accept);
    assert!(
        said(&rising.reasons)
            .iter()
            .any(|reason| reason.contains("below zero, the force rose")),
        "{:?}",
        rising.reasons
    );
    let dropping = held(12.0);
    assert_eq!(outcome(&dropping), Outcome::Reject);
    assert!((dropping.verdict.unwrap().limits[0].measured - 12.0).abs() < 0.2);
    let brief = analyse(&Recipe::row(&[10_000.0; 3], 2.0, 3.0).record(), &setup).unwrap();
    assert_eq!(outcome(&brief), Outcome::Undecided);
}

/// Gauges that must not say *within limit* at 10 kN.
fn not_to_be_relied_on() -> [Gauge; 4] {
    let standing = |standing| Gauge {
        standing,
        ..Gauge::stated(1.0)
    };
    let span_n = Some([500.0, 5_000.0]);
    [
        standing(Standing::Lapsed),
        standing(Standing::Missing),
        standing(Standing::Exceeded),
        Gauge {
            span_n,
            ..Gauge::stated(1.0)
        },
    ]
}

fn remedy(result: &GripResult) -> String {
    words::remedy(result.verdict.as_ref().unwrap())
}

#[test]
fn scatter_and_drop_are_held_back_by_a_gauge_not_to_be_relied_on_and_a_remedy_is_named() {
    let mut recipe = Recipe {
        noise_n: 10.0,
        ..Recipe::row(&[10_000.0, 10_010.0, 9_990.0, 10_020.0, 9_980.0], 5.0, 3.0)
    };
    recipe.pulls[4].length_s = 30.0;
    recipe.pulls[4].sag_n_per_s = 12.0;
    recipe.end_s += 25.0;
    let judged = |limit: Limit, gauge: Gauge| {
        let limits = vec![limit];
        analyse(
            &recipe.record(),
            &GripSetup {
                limits,
                gauge,
                nominal_n: Some(10_000.0),
                // 12 N/s would be undecided for themselves.
                drop_because: Some("the valve weeps".to_owned()),
                ..GripSetup::default()
            },
        )
        .unwrap()
    };
    for gauge in not_to_be_relied_on() {
        for (figure, far_above, unit) in [
            (Figure::GripScatter, 5.0, "%"),
            (Figure::GripSag, 100.0, "N/s"),
        ] {
            let good = judged(upper(figure, far_above, unit), Gauge::stated(1.0));
            assert_eq!(outcome(&good), Outcome::Accept);
            let held = judged(upper(figure, far_above, unit), gauge.clone());
            assert_eq!(outcome(&held), Outcome::Undecided, "{figure:?} {gauge:?}");
            assert!(
                remedy(&held).contains("calibration is in force"),
                "{held:?}"
            );
        }
        // 12 N/s less a fifth of it is 9.6 N/s: over 9 beyond doubt, over 11 not.
        let gross = judged(upper(Figure::GripSag, 9.0, "N/s"), gauge.clone());
        assert_eq!(outcome(&gross), Outcome::Reject);
        let words = "by a gauge out of calibration: do not run until measured again";
        assert!(reasons(&gross).contains(words), "{}", reasons(&gross));
        let doubtful = judged(upper(Figure::GripSag, 11.0, "N/s"), gauge.clone());
        assert_eq!(outcome(&doubtful), Outcome::Undecided);
        assert!(remedy(&doubtful).contains("calibration is in force"));
    }
    let sound = judged(upper(Figure::GripSag, 11.0, "N/s"), Gauge::stated(1.0));
    assert_eq!(outcome(&sound), Outcome::Reject);
}

#[test]
fn scatter_outside_its_limit_stays_outside_by_a_gauge_of_unknown_scale() {
    let gauge = Gauge {
        standing: Standing::Lapsed,
        ..Gauge::stated(1.0)
    };
    let setup = GripSetup {
        limits: vec![upper(Figure::GripScatter, 5.0, "%")],
        gauge,
        ..GripSetup::default()
    };
    let wild = [10_000.0, 6_000.0, 13_000.0, 8_000.0, 14_000.0];
    let result = analyse_readings(&wild, &setup).unwrap();
    assert_eq!(outcome(&result), Outcome::Reject);
    assert!(reasons(&result).contains("do not run until measured again"));
}

#[test]
fn a_clamp_discarded_by_hand_stays_listed_and_the_verdict_is_given_both_ways() {
    let recipe = Recipe::row(&[10_000.0, 10_050.0, 4_000.0, 9_950.0, 10_000.0], 5.0, 3.0);
    let mut setup = limited(Figure::GripLowest, 7_000.0);
    setup.discards = vec![Discard {
        number: 3,
        reason: "gauge slipped in the hand".to_owned(),
    }];
    for result in [
        analyse(&recipe.record(), &setup).unwrap(),
        analyse_readings(&[10_000.0, 10_050.0, 4_000.0, 9_950.0, 10_000.0], &setup).unwrap(),
    ] {
        assert_eq!(result.clamps[2].excluded, Some(Excluded::Discarded));
        assert!(
            said(&result.clamps[2].notes)[0].contains("slipped")
                && result.clamps[2].settled_n.is_some()
        );
        assert_eq!(result.statistics.as_ref().unwrap().count, 4);
        assert_eq!(outcome(&result), Outcome::Undecided);
        let both = result.with_discarded.unwrap();
        assert_eq!(
            (
                both.statistics.unwrap().count,
                both.verdict.unwrap().outcome
            ),
            (5, Outcome::Reject)
        );
    }
    setup.discards[0].number = 9;
    assert_eq!(
        analyse(&recipe.record(), &setup).unwrap_err(),
        GripError::Discard {
            number: 9,
            clamps: 5
        }
    );
}

#[test]
fn short_holds_cost_certainty() {
    let setup = limited(Figure::GripMean, 7_000.0);
    let full = analyse(&Recipe::row(&[10_000.0; 3], 5.0, 3.0).record(), &setup).unwrap();
    let short = analyse(&Recipe::row(&[10_000.0; 3], 1.8, 3.0).record(), &setup).unwrap();
    assert!(
        short
            .clamps
            .iter()
            .all(|clamp| clamp.counted && clamp.short_hold && clamp.sag_n_per_s.is_none())
    );
    assert!(short.uncertainty.as_ref().unwrap().combined_n > full.uncertainty.unwrap().combined_n);
    assert!(
        short
            .uncertainty
            .unwrap()
            .budget
            .iter()
            .any(|line| line.source.contains("unclamping early"))
    );
}

#[test]
fn allowances_widen_the_uncertainty_once() {
    let plain = limited(Figure::GripMean, 7_000.0);
    let allowances = Allowance::usual("7/24-40".parse().ok());
    let allowed = GripSetup {
        allowances,
        ..plain.clone()
    };
    let of = |setup| {
        analyse_readings(&FIVE, setup)
            .unwrap()
            .uncertainty
            .unwrap()
            .combined_n
    };
    // 1, 0.3, 0.2, 0.05, 0.35 % and 5 K times 0.02 % of 9850 N, equally likely within (common practice).
    let extra: f64 = [1.0, 0.3, 0.2, 0.05, 0.35, 0.1]
        .iter()
        .map(|percent| (98.5_f64 * percent).powi(2) / 3.0)
        .sum();
    assert!((of(&allowed).powi(2) - of(&plain).powi(2) - extra).abs() < 1e-6);
}

#[test]
fn readings_that_are_no_forces_are_refused() {
    assert_eq!(
        analyse_readings(&[], &GripSetup::default()).unwrap_err(),
        GripError::NoReadings
    );
    for wrong in [f64::NAN, f64::INFINITY, -5.0] {
        let error = analyse_readings(&[9_000.0, wrong], &GripSetup::default()).unwrap_err();
        assert!(
            matches!(error, GripError::Reading { number: 2, .. }),
            "{error}"
        );
    }
}

#[test]
fn readings_typed_to_a_coarse_step_and_all_alike_carry_their_rounding() {
    let setup = GripSetup {
        typed_step_n: Some(100.0),
        ..with_gauge(Figure::GripMean, 9_750.0, 0.5)
    };
    let alike = analyse_readings(&[9_800.0; 3], &setup).unwrap();
    let combined = alike.uncertainty.unwrap().combined_n;
    // 24.5 N of the gauge and 100 N / √12 of rounding.
    assert!(
        (combined - 24.5_f64.hypot(100.0 / 12.0_f64.sqrt())).abs() < 1e-9,
        "{combined}"
    );
    assert_eq!(alike.verdict.unwrap().outcome, Outcome::Undecided);
    // What scatters by more than its rounding shows the rounding with it.
    let apart = analyse_readings(&[9_700.0, 9_800.0, 9_900.0], &setup).unwrap();
    let plain = GripSetup {
        typed_step_n: None,
        ..setup
    };
    let without = analyse_readings(&[9_700.0, 9_800.0, 9_900.0], &plain).unwrap();
    assert_eq!(apart.uncertainty, without.uncertainty);
}

#[test]
fn every_limit_judged_by_a_budget_shows_it() {
    let mut setup = with_gauge(Figure::GripMean, 9_000.0, 0.5);
    setup
        .limits
        .extend(limited(Figure::GripLowest, 8_000.0).limits);
    let verdict = analyse_readings(&FIVE, &setup).unwrap().verdict.unwrap();
    for judged in &verdict.limits {
        let factor = judged.guard / combined(&judged.budget);
        assert!(
            (1.6..2.2).contains(&factor),
            "{:?}: {factor}",
            judged.figure
        );
    }
    assert!(
        verdict.limits[1]
            .budget
            .iter()
            .all(|line| !line.source.contains("repeatability"))
    );
}

fn combined(lines: &[holdtrue_metrology::uncertainty::Contribution]) -> f64 {
    lines
        .iter()
        .map(|line| line.standard.powi(2))
        .sum::<f64>()
        .sqrt()
}

fn with_gauge(figure: Figure, limit_n: f64, percent: f64) -> GripSetup {
    GripSetup {
        gauge: Gauge::stated(percent),
        ..limited(figure, limit_n)
    }
}

/// A gauge that was hung otherwise, or exchanged, while a check was broken off.
#[test]
fn a_zero_that_moved_while_the_check_was_broken_off_is_told() {
    let recipe = Recipe {
        noise_n: 2.0,
        ..Recipe::row(&FIVE, 5.0, 3.0)
    };
    let times = recipe.times();
    let forces = recipe.forces(&times);
    // In the pause before the third clamp.
    let at_s = recipe.pulls[2].at_s - 1.5;
    for (moved_n, is_told) in [(0.0, false), (-40.0, false), (-80.0, true), (120.0, true)] {
        let moved = times.iter().zip(&forces).map(|(&time_s, &force_n)| {
            let by_n = if time_s > at_s { moved_n } else { 0.0 };
            force_n + by_n
        });
        let mut record = ForceRecord::new(&times, &moved.collect::<Vec<f64>>()).unwrap();
        record.mark(Span {
            from_s: at_s,
            to_s: at_s + 0.01,
            kind: SpanKind::Gap,
            reason: SpanReason::ConnectedAgain,
        });
        let setup = GripSetup {
            at_spindle: true,
            ..GripSetup::default()
        };
        let result = analyse(&record, &setup).unwrap();
        let told = result
            .notes
            .iter()
            .any(|note| matches!(note, GripNote::ZeroMovedBetween { .. }));
        assert_eq!(told, is_told, "{moved_n} N: {:?}", result.notes);
    }
}
