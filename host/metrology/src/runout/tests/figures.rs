//! Figures of clean readings.

use super::*;

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
            result.notes.contains(&RunoutNote::NoAxis),
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
    let marked = Readings::Marked { readings, edges_s };
    let plane = &found([Plane::new(bar(25.0, 1, 0.0), marked)]).planes[0];
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
