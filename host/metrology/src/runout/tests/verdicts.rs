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
            matches!(reasons(&verdict)[..], [RunoutReason::NotMeasured { .. }]),
            "{verdict:?}"
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
    lapsed.indicator.as_mut().expect("given").out_of_force = Some(CertificateGap::Lapsed);
    let mut missing = lapsed.clone();
    missing.indicator = None;
    for setup in [lapsed, missing] {
        assert_eq!(judged(simple(2.0), &setup).outcome, Outcome::Undecided);
        assert_eq!(judged(simple(12.0), &setup).outcome, Outcome::Undecided);
        let gross = judged(simple(20.0), &setup);
        assert_eq!(gross.outcome, Outcome::Reject);
        assert!(
            reasons(&gross)
                .iter()
                .any(|reason| matches!(reason, RunoutReason::RunoutFarOut { .. })),
            "{gross:?}"
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
    assert_eq!(remedy(&verdict), RunoutRemedy::ReadRoundTurn);
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
        reasons(&verdict)
            .iter()
            .any(|reason| matches!(reason, RunoutReason::BarExplains { .. })),
        "{verdict:?}"
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

/// A bar 5 µm off centre whose high spot lies at `high_deg`, read at `stops` equal positions.
fn high_at(high_deg: f64, stops: u32, seating: u32) -> Plane {
    stepped(
        bar(300.0, seating, 0.0),
        &equal(stops),
        &[(1.0, 5.0, high_deg)],
    )
}

#[test]
fn a_high_spot_between_the_positions_passes_no_limit_below_it() {
    for (high_deg, stops) in [(45.0, 4), (22.5, 8), (11.25, 16)] {
        let limits = judging(&[limit(Figure::Tir, None, 9.98)], 0.01);
        let verdict = judged([high_at(high_deg, stops, 1)], &limits);
        assert_eq!(verdict.outcome, Outcome::Undecided, "{stops} positions");
        let remedy = remedy(&verdict);
        assert!(
            matches!(remedy, RunoutRemedy::MorePositions { .. }),
            "{remedy:?}"
        );
        // a limit that the curve itself clears is met all the same
        let limits = judging(&[limit(Figure::Tir, None, 11.5)], 0.01);
        let verdict = judged([high_at(high_deg, stops, 1)], &limits);
        assert_eq!(verdict.outcome, Outcome::Accept, "{stops} positions");
    }
}

#[test]
fn a_seat_known_from_few_seatings_has_to_clear_its_limit_by_far() {
    // Two seatings 2.83 µm apart: a standard deviation of 1 µm by 2 degrees of freedom. 95 % upper bound:
    // 1·√(2/χ²₀.₀₅(2)) = 1·√(2/0.102587) = 4.415 (computed: chi-squared of two degrees of freedom is −2·ln p).
    let apart = 2.0;
    let planes = |seatings: u32| -> Vec<Plane> {
        (0..seatings)
            .map(|n| {
                let side = if n % 2 == 0 { 0.5 } else { -0.5 };
                off_centre(bar(300.0, n + 1, 0.0), vector(side * apart, 0.0))
            })
            .collect()
    };
    let verdict = |limit_um: f64| {
        judged(
            planes(2),
            &judging(&[limit(Figure::Seat, None, limit_um)], 0.001),
        )
    };
    let found = found(planes(2))
        .seat_repeatability_um
        .expect("two seatings");
    let bound = found * (2.0 / (-2.0 * 0.95_f64.ln())).sqrt();
    assert_eq!(verdict(bound * 1.001).outcome, Outcome::Accept);
    assert_eq!(verdict(bound * 0.999).outcome, Outcome::Undecided);
    let remedy = remedy(&verdict(bound * 0.9));
    assert!(
        matches!(remedy, RunoutRemedy::MoreSeatings { .. }),
        "{remedy:?}"
    );
}

#[test]
fn of_several_seatings_each_bears_its_part_of_the_risk_of_a_reject() {
    let setup = judging(&[limit(Figure::Tir, None, 9.0)], 1.0);
    let guard = |planes: Vec<Plane>| judged(planes, &setup).limits[0].guard;
    let one = guard(vec![high_at(0.0, 8, 1)]);
    let four = guard((1..5).map(|seating| high_at(0.0, 8, seating)).collect());
    // normal quantiles at 0.95 and 0.9875 (published: any table of the normal distribution)
    assert!((one / 0.5 - 1.6449).abs() < 0.02, "{one}");
    assert!((four / one - 2.2414 / 1.6449).abs() < 0.01, "{four}");
}
