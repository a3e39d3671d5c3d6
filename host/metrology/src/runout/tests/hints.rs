//! What a check points to.

use super::*;

fn causes(planes: impl IntoIterator<Item = Plane>) -> Vec<Cause> {
    found(planes)
        .hints
        .into_iter()
        .map(|hint| hint.cause)
        .collect()
}

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
    let Evidence::TurnsWithBar { bar_or_seat, .. } = hints[0].evidence else {
        panic!("{hints:?}");
    };
    assert!(bar_or_seat);
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
