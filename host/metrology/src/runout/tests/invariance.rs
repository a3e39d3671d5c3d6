//! What must not matter.

use super::*;
use proptest::prelude::*;

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
            });
        Plane::stepped(bar(25.0, 1, 0.0), stops)
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
