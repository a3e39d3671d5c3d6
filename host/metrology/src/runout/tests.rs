//! Whole checks: synthetic spindles, bars and seats in, the stated truth back.

use super::vector::{Vector, direction_deg, turn_by, vector};
use super::*;
use crate::decision::{Figure, Limit, Outcome, Side};
use crate::hint::Cause;
use crate::provenance::Provenance;
use crate::state::State;
use proptest::prelude::*;

/// Promised for clean readings, µm.
const CLOSE_UM: f64 = 1e-3;

fn bar(height_mm: f64, seating: u32, orientation_deg: f64) -> Place {
    Place {
        at: Some(At::Bar),
        height_mm: Some(height_mm),
        seating: Some(seating),
        orientation_deg: Some(orientation_deg),
    }
}

fn wall(height_mm: f64) -> Place {
    Place {
        at: Some(At::Wall),
        height_mm: Some(height_mm),
        ..Place::default()
    }
}

fn equal(stops: u32) -> Vec<f64> {
    (0..stops)
        .map(|i| 360.0 * f64::from(i) / f64::from(stops))
        .collect()
}

/// Readings at these angles of A·cos(kθ − phase) for each (k, A, phase).
fn stepped(place: Place, angles_deg: &[f64], terms: &[(f64, f64, f64)]) -> Plane {
    let reading = |angle: f64| {
        120.0
            + terms
                .iter()
                .map(|(k, a, phase)| a * (k * angle - phase).to_radians().cos())
                .sum::<f64>()
    };
    let stops = angles_deg.iter().map(|&angle_deg| Stop {
        angle_deg,
        reading_um: reading(angle_deg),
    });
    Plane {
        place,
        readings: Readings::Stepped(stops.collect()),
    }
}

fn off_centre(place: Place, eccentricity: Vector) -> Plane {
    let direction = direction_deg(eccentricity).unwrap_or(0.0);
    stepped(place, &equal(8), &[(1.0, eccentricity.norm(), direction)])
}

fn record(planes: impl IntoIterator<Item = Plane>) -> RunoutRecord {
    RunoutRecord {
        planes: planes.into_iter().collect(),
    }
}

fn found(planes: impl IntoIterator<Item = Plane>) -> RunoutResult {
    analyse(&record(planes), &RunoutSetup::default()).expect("a record that can be analysed")
}

fn limit(figure: Figure, height_mm: Option<f64>, limit_um: f64) -> Limit {
    Limit {
        figure,
        height_mm,
        side: Side::Upper,
        limit: limit_um,
        unit: "um".to_owned(),
        provenance: Provenance::Maker,
        watch: None,
    }
}

fn judging(limits: &[Limit], expanded_um: f64) -> RunoutSetup {
    RunoutSetup {
        limits: limits.to_vec(),
        indicator: Some(Indicator::in_force(expanded_um)),
        ..RunoutSetup::default()
    }
}

fn judged(
    planes: impl IntoIterator<Item = Plane>,
    setup: &RunoutSetup,
) -> crate::decision::Verdict {
    analyse(&record(planes), setup)
        .expect("a record that can be analysed")
        .verdict
        .expect("a limit is set")
}

fn assert_close(found: Option<f64>, expected: f64, what: &str) {
    let found = found.unwrap_or_else(|| panic!("{what} is missing"));
    assert!(
        (found - expected).abs() < CLOSE_UM,
        "{what}: {found}, expected {expected}"
    );
}

#[test]
fn eccentricity_is_found_from_any_number_of_positions() {
    for stops in [4, 8, 12, 16, 36] {
        let plane = &found([stepped(
            bar(30.0, 1, 0.0),
            &equal(stops),
            &[(1.0, 6.3, 217.0)],
        )])
        .planes[0];
        assert_close(plane.eccentricity_um, 6.3, "eccentricity");
        assert_close(plane.direction_deg, 217.0, "direction");
        assert_close(plane.residual_rms_um, 0.0, "residual");
        assert_eq!(plane.stops, usize::try_from(stops).ok());
    }
}

#[test]
fn ovality_and_lobes_are_told_from_the_eccentricity() {
    let terms = [(1.0, 6.3, 217.0), (2.0, 1.4, 80.0), (3.0, 0.6, 10.0)];
    for stops in [8, 12, 16, 36] {
        let plane = &found([stepped(bar(30.0, 1, 0.0), &equal(stops), &terms)]).planes[0];
        for (harmonic, (order, amplitude, phase)) in plane.harmonics.iter().zip(terms) {
            assert!((f64::from(harmonic.order) - order).abs() < 1e-12);
            assert_close(Some(harmonic.amplitude_um), amplitude, "amplitude");
            assert_close(harmonic.phase_deg, phase, "phase");
        }
        // Mean square of a cosine is half its amplitude squared.
        assert_close(
            plane.residual_rms_um,
            ((1.4_f64.powi(2) + 0.6_f64.powi(2)) / 2.0).sqrt(),
            "residual",
        );
    }
}

#[test]
fn unequal_and_missing_positions_give_the_same_eccentricity() {
    let uneven = [3.0, 41.0, 88.0, 140.0, 186.0, 225.0, 290.0, 333.0];
    let mut missing = equal(12);
    missing.drain(4..7);
    for angles in [&uneven[..], &missing] {
        let plane = &found([stepped(
            bar(30.0, 1, 0.0),
            angles,
            &[(1.0, 6.3, 217.0), (2.0, 1.0, 0.0)],
        )])
        .planes[0];
        assert_close(plane.eccentricity_um, 6.3, "eccentricity");
        assert_close(plane.direction_deg, 217.0, "direction");
    }
}

#[test]
fn two_heights_in_one_seating_give_offset_and_tilt() {
    let (offset, tilt_per_mm) = (vector(3.0, 40.0), vector(0.05, 130.0));
    let at = |z: f64| off_centre(bar(z, 1, 0.0), offset + tilt_per_mm * z);
    let axis = found([at(25.0), at(300.0)]).axis.expect("two heights");
    assert_close(Some(axis.offset_um), 3.0, "offset");
    assert_close(axis.offset_direction_deg, 40.0, "offset direction");
    assert_close(Some(axis.tilt_um_per_m), 50.0, "tilt");
    assert_close(axis.tilt_direction_deg, 130.0, "tilt direction");
    assert_eq!(axis.from, AxisFrom::AsRead);
}

#[test]
fn wall_and_bar_or_two_seatings_make_no_axis() {
    let lone = |planes: Vec<Plane>| {
        let result = found(planes);
        assert_eq!(result.axis, None);
        assert!(
            result.notes.iter().any(|n| n.starts_with("no axis")),
            "{:?}",
            result.notes
        );
    };
    lone(vec![
        off_centre(wall(-20.0), vector(3.0, 0.0)),
        off_centre(bar(300.0, 1, 0.0), vector(5.0, 0.0)),
    ]);
    lone(vec![
        off_centre(bar(25.0, 1, 0.0), vector(3.0, 0.0)),
        off_centre(bar(300.0, 2, 0.0), vector(5.0, 0.0)),
    ]);
}

/// Bar read at two heights in several orientations, seated without scatter.
fn turned_bar(
    orientations_deg: &[f64],
    spindle: fn(f64) -> Vector,
    bar_part: fn(f64) -> Vector,
) -> Vec<Plane> {
    let mut planes = Vec::new();
    for (orientation, seating) in orientations_deg.iter().zip(1..) {
        for z in [25.0, 300.0] {
            let measured = spindle(z) + bar_part(z) * turn_by(*orientation);
            planes.push(off_centre(bar(z, seating, *orientation), measured));
        }
    }
    planes
}

#[test]
fn spindle_and_bar_are_told_apart_over_two_or_three_orientations() {
    let spindle = |z: f64| vector(2.0, 15.0) + vector(0.02, 70.0) * z;
    let bent = |z: f64| vector(0.04, 200.0) * z;
    for orientations in [
        &[0.0, 180.0][..],
        &[0.0, 120.0, 240.0],
        &[0.0, 90.0, 200.0],
        &[0.0, 180.0, 0.0, 180.0],
    ] {
        let result = found(turned_bar(orientations, spindle, bent));
        assert_eq!(result.reversal.len(), 2);
        for height in &result.reversal {
            let z = height.height_mm.expect("a height");
            assert_close(
                Some(height.spindle_eccentricity_um),
                spindle(z).norm(),
                "spindle part",
            );
            assert_close(
                height.spindle_direction_deg,
                direction_deg(spindle(z)).expect("some"),
                "its direction",
            );
            assert_close(Some(height.bar_eccentricity_um), bent(z).norm(), "bar part");
            assert_close(height.bar_direction_deg, 200.0, "its direction");
        }
        let axis = result.axis.expect("two heights");
        assert_eq!(axis.from, AxisFrom::SpindlePart);
        assert_close(Some(axis.tilt_um_per_m), 20.0, "tilt of the spindle part");
    }
}

#[test]
fn errors_that_cancel_in_one_orientation_are_found_in_the_other() {
    let planes = [(0.0, vector(0.0, 0.0)), (180.0, vector(4.0, 45.0))]
        .map(|(o, measured)| off_centre(bar(25.0, 1, o), measured));
    let result = found(planes);
    assert_eq!(result.planes[0].direction_deg, None);
    assert_close(
        Some(result.reversal[0].spindle_eccentricity_um),
        2.0,
        "spindle part",
    );
    assert_close(
        Some(result.reversal[0].bar_eccentricity_um),
        2.0,
        "bar part",
    );
}

#[test]
fn seats_are_compared_within_one_orientation_and_height() {
    let planes = [
        (1, 0.0, vector(5.0, 0.0)),
        (2, 180.0, vector(9.0, 90.0)),
        (3, 0.0, vector(7.0, 0.0)),
        (4, 180.0, vector(9.0, 90.0)),
    ]
    .map(|(seating, o, measured)| off_centre(bar(25.0, seating, o), measured));
    // Σ|e − ē|² = 1 + 1 + 0 + 0 over 2·(1 + 1).
    assert_close(
        found(planes).seat_repeatability_um,
        (2.0_f64 / 4.0).sqrt(),
        "seat repeatability",
    );
    let once_each = turned_bar(&[0.0, 180.0], |_| vector(2.0, 0.0), |_| vector(1.0, 0.0));
    let result = found(once_each);
    assert_eq!(result.seat_repeatability_um, None);
    assert!(result.reversal.iter().all(|height| height.bar_or_seat));
}

#[test]
fn a_marked_turn_at_wandering_speed_keeps_eccentricity_and_ovality() {
    // Speed ± 4 % once a turn: the mark tells when a turn is over, not how it went.
    let turned = |t: f64| t + 0.04 / std::f64::consts::TAU * (std::f64::consts::TAU * t).sin();
    let (mut readings, mut edges_s, mut last) = (Vec::new(), Vec::new(), -0.5_f64);
    for step in 0..4200_u32 {
        let time_s = f64::from(step) * 1e-3;
        let turns = turned(time_s) - 0.5;
        if turns.floor() > last.floor() {
            edges_s.push(time_s);
        }
        last = turns;
        let angle = 360.0 * turns;
        let reading_um =
            4.0 * (angle - 50.0).to_radians().cos() + 1.5 * (2.0 * angle - 20.0).to_radians().cos();
        readings.push(Passing { time_s, reading_um });
    }
    let plane = &found([Plane {
        place: bar(25.0, 1, 0.0),
        readings: Readings::Marked { readings, edges_s },
    }])
    .planes[0];
    let eccentricity = plane.eccentricity_um.expect("three whole turns");
    assert!(
        (eccentricity / 4.0 - 1.0).abs() < 0.02,
        "eccentricity {eccentricity} µm"
    );
    assert!(
        (plane.harmonics[1].amplitude_um - 1.5).abs() < 0.1,
        "{:?}",
        plane.harmonics[1]
    );
    assert_eq!((plane.method, plane.stops), (Method::Marked, None));
}

#[test]
fn readings_square_to_the_wall_count_across_the_axis() {
    let across = RunoutSetup {
        square_to_wall: Some(taper::Taper::SevenTwentyFour),
        ..RunoutSetup::default()
    };
    let result = analyse(
        &record([off_centre(wall(-20.0), vector(5.0, 0.0))]),
        &across,
    )
    .expect("one plane");
    let plane = &result.planes[0];
    assert_close(plane.tir_as_read_um, 10.0, "as read");
    assert!((plane.tir_um.expect("read") - 10.106).abs() < 1e-3);
}

// Decisions.

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

// Hints.

fn causes(planes: impl IntoIterator<Item = Plane>) -> Vec<Cause> {
    found(planes)
        .hints
        .into_iter()
        .map(|hint| hint.cause)
        .collect()
}

const TWICE_EACH: [f64; 4] = [0.0, 180.0, 0.0, 180.0];

#[test]
fn a_sound_spindle_with_a_good_bar_draws_no_hint() {
    assert_eq!(
        causes(turned_bar(
            &TWICE_EACH,
            |_| vector(1.0, 0.0),
            |_| vector(0.5, 90.0)
        )),
        []
    );
}

#[test]
fn what_follows_the_bar_is_the_bar() {
    let bent = turned_bar(
        &TWICE_EACH,
        |_| vector(1.0, 0.0),
        |z| vector(0.05, 30.0) * z,
    );
    assert_eq!(causes(bent), [Cause::BentTestBar]);
    let once_each = turned_bar(
        &[0.0, 180.0],
        |_| vector(1.0, 0.0),
        |z| vector(0.05, 30.0) * z,
    );
    let hints = found(once_each).hints;
    assert!(hints[0].evidence.contains("bar or seat"), "{hints:?}");
}

#[test]
fn what_changes_at_every_seating_is_the_seat() {
    let mut planes = turned_bar(&TWICE_EACH, |_| vector(1.0, 0.0), |_| vector(0.5, 90.0));
    for (plane, direction) in planes
        .iter_mut()
        .zip([0.0, 20.0, 90.0, 110.0, 200.0, 180.0, 270.0, 300.0])
    {
        let Readings::Stepped(stops) = &mut plane.readings else {
            unreachable!()
        };
        for stop in stops {
            stop.reading_um += 9.0 * (stop.angle_deg - direction).to_radians().cos();
        }
    }
    assert_eq!(causes(planes).first(), Some(&Cause::DirtySeat));
}

#[test]
fn what_stays_with_the_spindle_is_named_only_with_a_look_at_the_wall() {
    let tilted = |z: f64| vector(2.0, 0.0) + vector(0.06, 0.0) * z;
    let on_bar = || turned_bar(&TWICE_EACH, tilted, |_| vector(0.5, 90.0));
    assert_eq!(causes(on_bar()), []);
    let with_wall = |wall_vector: fn(f64) -> Vector| {
        let mut planes = on_bar();
        planes.extend([-10.0, -55.0].map(|z| off_centre(wall(z), wall_vector(z))));
        causes(planes)
    };
    assert_eq!(
        with_wall(|z| vector(2.0, 0.0) + vector(0.06, 0.0) * z),
        [Cause::TiltedTaper]
    );
    assert_eq!(with_wall(|_| vector(0.2, 60.0)), [Cause::StuckDirt]);
}

// What must not matter.

fn shift(plane: &mut Plane, change: impl Fn(&mut Stop)) {
    let Readings::Stepped(stops) = &mut plane.readings else {
        unreachable!()
    };
    stops.iter_mut().for_each(change);
}

fn any_plane() -> impl Strategy<Value = Plane> {
    let readings = proptest::collection::vec(-30.0..30.0_f64, 4..20);
    readings.prop_map(|readings| {
        let count = u32::try_from(readings.len()).expect("few");
        let stops = equal(count)
            .into_iter()
            .zip(readings)
            .map(|(angle_deg, reading_um)| Stop {
                angle_deg,
                reading_um,
            })
            .collect();
        Plane {
            place: bar(25.0, 1, 0.0),
            readings: Readings::Stepped(stops),
        }
    })
}

fn vector_of(result: &RunoutResult) -> Vector {
    let plane = &result.planes[0];
    vector(
        plane.eccentricity_um.expect("positions enough"),
        plane.direction_deg.unwrap_or(0.0),
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn moving_the_zero_changes_nothing(mut plane in any_plane(), zero_um in -500.0..500.0_f64) {
        let before = found([plane.clone()]);
        shift(&mut plane, |stop| stop.reading_um += zero_um);
        let after = found([plane]);
        prop_assert!((vector_of(&before) - vector_of(&after)).norm() < 1e-9);
        prop_assert!((before.planes[0].tir_um.expect("read") - after.planes[0].tir_um.expect("read")).abs() < 1e-9);
    }

    #[test]
    fn turning_the_start_turns_the_direction_only(mut plane in any_plane(), turned_deg in 0.0..360.0_f64) {
        let before = found([plane.clone()]);
        shift(&mut plane, |stop| stop.angle_deg = (stop.angle_deg + turned_deg) % 360.0);
        let after = found([plane]);
        prop_assert!((vector_of(&before) * turn_by(turned_deg) - vector_of(&after)).norm() < 1e-8);
        prop_assert!((before.planes[0].residual_rms_um.expect("fits") - after.planes[0].residual_rms_um.expect("fits")).abs() < 1e-8);
    }

    #[test]
    fn turning_the_other_way_mirrors_the_direction(mut plane in any_plane()) {
        let before = found([plane.clone()]);
        shift(&mut plane, |stop| stop.angle_deg = (360.0 - stop.angle_deg) % 360.0);
        let after = found([plane]);
        prop_assert!((vector_of(&before).conj() - vector_of(&after)).norm() < 1e-9);
    }

    #[test]
    fn the_order_of_rows_does_not_matter(plane in any_plane(), order in any::<u64>()) {
        let before = found([plane.clone()]);
        let mut after = plane;
        if let Readings::Stepped(stops) = &mut after.readings {
            let mut state = order;
            for i in (1..stops.len()).rev() {
                state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
                stops.swap(i, usize::try_from(state >> 33).expect("31 bits") % (i + 1));
            }
        }
        let after = found([after]);
        prop_assert!((vector_of(&before) - vector_of(&after)).norm() < 1e-9);
        prop_assert_eq!(before.planes[0].tir_um, after.planes[0].tir_um);
    }

    #[test]
    fn no_record_gives_anything_but_finite_numbers(
        angles in proptest::collection::vec(0.0..=360.0_f64, 1..30),
        size in 0.0..1e6_f64,
    ) {
        let plane = stepped(bar(25.0, 1, 0.0), &angles, &[(1.0, size, 10.0)]);
        if let Ok(result) = analyse(&record([plane]), &judging(&[limit(Figure::Tir, None, 5.0)], 0.5)) {
            let json = serde_json::to_value(&result).expect("serialises");
            let back: RunoutResult = serde_json::from_value(json).expect("null only where absent");
            // A number that is not finite would have become null, and null is refused or read as absent.
            prop_assert_eq!(back.planes.len(), 1);
            prop_assert!(back.planes[0].tir_um.is_none_or(f64::is_finite));
        }
    }
}

// The JSON contract.

fn keys(value: &serde_json::Value) -> Vec<&str> {
    let mut keys: Vec<&str> = value
        .as_object()
        .expect("an object")
        .keys()
        .map(String::as_str)
        .collect();
    keys.sort_unstable();
    keys
}

fn assert_has(value: &serde_json::Value, expected: &[&str]) {
    let keys = keys(value);
    for key in expected {
        assert!(keys.contains(key), "{key} is missing in {keys:?}");
    }
}

#[test]
fn the_json_has_the_promised_fields() {
    let planes = turned_bar(
        &TWICE_EACH,
        |_| vector(1.0, 0.0),
        |z| vector(0.05, 30.0) * z,
    );
    let setup = RunoutSetup {
        state: Some(State::AsFound),
        ..judging(&[limit(Figure::Tir, Some(25.0), 10.0)], 0.5)
    };
    let result = analyse(&record(planes), &setup).expect("a whole check");
    let json = serde_json::to_value(&result).expect("serialises");
    assert_has(
        &json,
        &[
            "check",
            "schema",
            "state",
            "planes",
            "axis",
            "reversal",
            "seat_repeatability_um",
            "uncertainty",
            "verdict",
            "hints",
            "notes",
        ],
    );
    assert_eq!(
        (&json["check"], &json["schema"], &json["state"]),
        (&"runout".into(), &1.into(), &"as_found".into())
    );
    assert_has(
        &json["planes"][0],
        &[
            "at",
            "height_mm",
            "seating",
            "orientation_deg",
            "method",
            "stops",
            "tir_um",
            "tir_as_read_um",
            "eccentricity_um",
            "direction_deg",
            "harmonics",
            "residual_rms_um",
            "drift_um",
            "synchronous_um",
            "asynchronous_um",
            "notes",
        ],
    );
    assert_eq!(
        (&json["planes"][0]["at"], &json["planes"][0]["method"]),
        (&"bar".into(), &"stepped".into())
    );
    assert_has(
        &json["planes"][0]["harmonics"][0],
        &["order", "amplitude_um", "phase_deg"],
    );
    assert_has(
        &json["axis"],
        &[
            "at_height_mm",
            "offset_um",
            "offset_direction_deg",
            "tilt_um_per_m",
            "tilt_direction_deg",
            "from",
        ],
    );
    assert_eq!(json["axis"]["from"], "spindle-part");
    assert_has(
        &json["reversal"][0],
        &[
            "height_mm",
            "orientations",
            "spindle_eccentricity_um",
            "spindle_direction_deg",
            "bar_eccentricity_um",
            "bar_direction_deg",
        ],
    );
    assert_has(
        &json["uncertainty"],
        &[
            "budget",
            "combined_um",
            "effective_dof",
            "coverage_factor",
            "expanded_um",
        ],
    );
    assert_has(
        &json["uncertainty"]["budget"][0],
        &["source", "standard_um", "dof"],
    );
    assert_has(
        &json["verdict"],
        &["outcome", "limits", "reasons", "would_decide"],
    );
    assert_has(
        &json["verdict"]["limits"][0],
        &[
            "figure",
            "side",
            "limit",
            "unit",
            "provenance",
            "measured",
            "guard",
            "outcome",
            "watch",
        ],
    );
    assert_has(
        &json["hints"][0],
        &["cause", "text", "evidence", "provenance"],
    );
    assert_eq!(json["hints"][0]["cause"], "bent-test-bar");
}
