//! What is decided, and when nothing is.

use super::*;

fn simple(tir_um: f64) -> [Plane; 1] {
    [off_centre(bar(25.0, 1, 0.0), vector(tir_um / 2.0, 0.0))]
}

#[test]
fn a_tir_is_judged_with_half_the_stated_uncertainty() {
    let setup = judging(&[limit(Figure::Tir, None, 10.0)], 1.0);
    let verdict = judged(simple(8.0), &setup);
    assert_eq!(verdict.outcome, Outcome::Accept);
    // t₀.₉₅(∞)·0.5 µm; the positions hit both extremes, so nothing else weighs.
    assert!((verdict.limits[0].guard - 1.644_853_626_951_472 * 0.5).abs() < 1e-3);
    assert_eq!(judged(simple(9.5), &setup).outcome, Outcome::Undecided);
    assert_eq!(judged(simple(11.0), &setup).outcome, Outcome::Reject);
    let result = analyse(&record(simple(8.0)), &setup).expect("one plane");
    let budget = result.uncertainty.expect("an indicator");
    assert!(
        budget
            .budget
            .iter()
            .any(|line| (line.standard_um - 0.5).abs() < 1e-12 && line.dof.is_none())
    );
}

#[test]
fn without_a_limit_there_is_no_verdict() {
    assert_eq!(found(simple(8.0)).verdict, None);
    assert_eq!(found(simple(8.0)).uncertainty, None);
}

#[test]
fn a_limit_for_another_figure_or_height_decides_nothing() {
    for limit in [
        limit(Figure::SpindlePart, None, 10.0),
        limit(Figure::FourSeatings, None, 10.0),
        limit(Figure::Seat, None, 10.0),
        limit(Figure::Tir, Some(300.0), 10.0),
    ] {
        let verdict = judged(simple(2.0), &judging(&[limit], 0.5));
        assert_eq!(verdict.outcome, Outcome::Undecided);
        assert!(verdict.limits.is_empty());
        assert!(
            verdict.reasons[0].contains("no verdict on it"),
            "{:?}",
            verdict.reasons
        );
    }
}

#[test]
fn an_indicator_coarser_than_a_fifth_of_the_limit_decides_nothing() {
    let limits = [limit(Figure::Tir, None, 10.0)];
    assert_eq!(
        judged(simple(2.0), &judging(&limits, 2.0)).outcome,
        Outcome::Accept
    );
    let coarse = judged(simple(2.0), &judging(&limits, 2.1));
    assert_eq!(
        (coarse.outcome, coarse.limits.len()),
        (Outcome::Undecided, 0)
    );
    let mut steps_of_ten = judging(&limits, 1.0);
    steps_of_ten
        .indicator
        .as_mut()
        .expect("given")
        .resolution_um = Some(10.0);
    assert_eq!(
        judged(simple(30.0), &steps_of_ten).outcome,
        Outcome::Undecided
    );
}

#[test]
fn without_a_certificate_in_force_only_a_gross_excess_is_rejected() {
    let mut lapsed = judging(&[limit(Figure::Tir, None, 10.0)], 1.0);
    lapsed.indicator.as_mut().expect("given").out_of_force =
        Some("its certificate lapsed".to_owned());
    let mut missing = lapsed.clone();
    missing.indicator = None;
    for setup in [lapsed, missing] {
        assert_eq!(judged(simple(2.0), &setup).outcome, Outcome::Undecided);
        assert_eq!(judged(simple(12.0), &setup).outcome, Outcome::Undecided);
        let gross = judged(simple(20.0), &setup);
        assert_eq!(gross.outcome, Outcome::Reject);
        assert!(
            gross
                .reasons
                .iter()
                .any(|r| r.contains("out of calibration")),
            "{:?}",
            gross.reasons
        );
    }
}

#[test]
fn positions_that_miss_the_high_spot_do_not_accept() {
    // 10 µm off centre, high spot half-way between four positions: they show 14.1 of 20 µm.
    let four = [stepped(bar(25.0, 1, 0.0), &equal(4), &[(1.0, 10.0, 45.0)])];
    assert_eq!(
        judged(four, &judging(&[limit(Figure::Tir, None, 16.0)], 0.5)).outcome,
        Outcome::Undecided
    );
    let two = [stepped(
        bar(25.0, 1, 0.0),
        &[0.0, 180.0],
        &[(1.0, 10.0, 90.0)],
    )];
    let verdict = judged(two, &judging(&[limit(Figure::Tir, None, 16.0)], 0.5));
    assert_eq!(verdict.outcome, Outcome::Undecided);
    assert!(
        verdict
            .would_decide
            .expect("undecided")
            .text
            .contains("four positions")
    );
    let two_over = [stepped(
        bar(25.0, 1, 0.0),
        &[0.0, 180.0],
        &[(1.0, 10.0, 0.0)],
    )];
    assert_eq!(
        judged(two_over, &judging(&[limit(Figure::Tir, None, 16.0)], 0.5)).outcome,
        Outcome::Reject
    );
}

#[test]
fn a_bent_bar_alone_never_rejects_a_spindle() {
    let true_spindle = |_: f64| vector(0.5, 0.0);
    let bent = |z: f64| vector(0.06, 200.0) * z;
    let planes = turned_bar(&[0.0, 180.0, 0.0, 180.0], true_spindle, bent);
    let tir = judging(&[limit(Figure::Tir, None, 10.0)], 0.5);
    let verdict = judged(planes.clone(), &tir);
    assert_eq!(verdict.outcome, Outcome::Undecided);
    assert!(
        verdict
            .reasons
            .iter()
            .any(|r| r.contains("not shown to be the spindle's")),
        "{:?}",
        verdict.reasons
    );
    let spindle_part = judging(&[limit(Figure::SpindlePart, None, 10.0)], 0.5);
    assert_eq!(
        judged(planes.clone(), &spindle_part).outcome,
        Outcome::Accept
    );
    let bad_spindle = turned_bar(&[0.0, 180.0, 0.0, 180.0], |_| vector(9.0, 0.0), bent);
    assert_eq!(judged(bad_spindle, &tir).outcome, Outcome::Reject);
}

#[test]
fn one_seating_each_carries_an_assumed_seat() {
    let planes =
        |orientations: &[f64]| turned_bar(orientations, |_| vector(4.6, 0.0), |_| vector(1.0, 0.0));
    let setup = judging(&[limit(Figure::SpindlePart, Some(25.0), 10.0)], 0.5);
    assert_eq!(
        judged(planes(&[0.0, 180.0]), &setup).outcome,
        Outcome::Undecided
    );
    assert_eq!(
        judged(planes(&[0.0, 180.0, 0.0, 180.0]), &setup).outcome,
        Outcome::Accept
    );
}

#[test]
fn four_seatings_are_judged_by_their_mean() {
    let planes = turned_bar(
        &[0.0, 90.0, 180.0, 270.0],
        |_| vector(3.0, 0.0),
        |_| vector(3.0, 0.0),
    );
    let result = found(planes.clone());
    // |3 + 3|, |3 + 3i|, |3 − 3|, |3 − 3i|, doubled.
    assert_close(
        Some(result.four_seatings[0].mean_tir_um),
        2.0 * (6.0 + 2.0 * 18.0_f64.sqrt()) / 4.0,
        "mean TIR",
    );
    let setup = judging(&[limit(Figure::FourSeatings, Some(25.0), 9.0)], 0.5);
    assert_eq!(judged(planes, &setup).outcome, Outcome::Accept);
}
