//! Planes that are one plane written twice. In: the planes of a record. Out: pairs that agree to the last digit where no
//! spindle, bar and seat come back so.

use super::harmonics::{count, spread};
use super::noise;
use super::record::{Place, Plane, Readings, RunoutRecord};
use super::vector::same_angle;

/// Two readings at one place of two seatings differ like this at least, µm: noise, drift and seat of 0.1 µm each way
/// (common practice). They agree to the last digit with the probability step ÷ this.
const DIFFER_UM: f64 = 0.35;
/// Agreement as improbable as this is a copy.
const IMPROBABLE: f64 = 1e-3;
/// Fewest readings that are compared.
const FEWEST: usize = 4;

/// Two planes with the same readings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Copied {
    /// The first.
    pub one: Place,
    /// The other.
    pub other: Place,
}

impl Copied {
    /// Whether the two are of one height and one orientation, so that only the seat is said to be the same.
    pub fn is_one_seat(&self) -> bool {
        self.one.same_height(&self.other)
            && same_angle(
                self.one.orientation_or_zero_deg(),
                self.other.orientation_or_zero_deg(),
            )
    }
}

/// Every pair of planes that agree to the last digit, though they would not by chance.
pub fn copied(record: &RunoutRecord) -> Vec<Copied> {
    let planes = &record.planes;
    let pairs = planes
        .iter()
        .enumerate()
        .flat_map(|(n, one)| planes[n + 1..].iter().map(move |other| (one, other)));
    pairs
        .filter(|(one, other)| is_copy(one, other))
        .map(|(one, other)| Copied {
            one: one.place,
            other: other.place,
        })
        .collect()
}

fn is_copy(one: &Plane, other: &Plane) -> bool {
    let (a, b) = (one.readings.values_um(), other.readings.values_um());
    a.len() >= FEWEST
        && a == b
        && same_way(&one.readings, &other.readings)
        && spread(a.iter().copied()) > 0.0
        && by_chance(&a) < IMPROBABLE
}

fn same_way(one: &Readings, other: &Readings) -> bool {
    std::mem::discriminant(one) == std::mem::discriminant(other)
}

/// How probable it is that all readings of another plane agree with these.
///
/// Readings without a last digit are means of many or were computed; what somebody copies was written down.
fn by_chance(readings_um: &[f64]) -> f64 {
    match noise::step_um(readings_um) {
        0.0 => 1.0,
        step_um => (step_um / DIFFER_UM)
            .min(1.0)
            .powf(count(readings_um.len())),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::runout::Stop;

    fn plane(height_mm: f64, seating: u32, orientation_deg: f64, readings_um: &[f64]) -> Plane {
        let step_deg = 360.0 / count(readings_um.len());
        Plane {
            place: Place {
                at: None,
                height_mm: Some(height_mm),
                seating: Some(seating),
                orientation_deg: Some(orientation_deg),
            },
            readings: Readings::Stepped(
                readings_um
                    .iter()
                    .enumerate()
                    .map(|(n, um)| Stop {
                        angle_deg: step_deg * count(n),
                        reading_um: *um,
                    })
                    .collect(),
            ),
        }
    }

    fn found(planes: &[Plane]) -> Vec<Copied> {
        copied(&RunoutRecord {
            planes: planes.to_vec(),
        })
    }

    const FINE: [f64; 8] = [0.9, 0.69, 0.22, -0.41, -0.88, -0.71, -0.2, 0.38];
    const COARSE: [f64; 8] = [5.0, 4.0, 0.0, -4.0, -5.0, -3.0, 0.0, 3.0];

    #[test]
    fn one_plane_written_twice_is_found_and_its_kind_told() {
        let turned = found(&[plane(300.0, 1, 0.0, &FINE), plane(300.0, 2, 180.0, &FINE)]);
        assert_eq!(
            turned.iter().map(Copied::is_one_seat).collect::<Vec<_>>(),
            [false]
        );
        let moved = found(&[plane(20.0, 1, 0.0, &FINE), plane(300.0, 1, 0.0, &FINE)]);
        assert_eq!(
            moved.iter().map(Copied::is_one_seat).collect::<Vec<_>>(),
            [false]
        );
        let seated = found(&[plane(300.0, 1, 0.0, &FINE), plane(300.0, 2, 0.0, &FINE)]);
        assert_eq!(
            seated.iter().map(Copied::is_one_seat).collect::<Vec<_>>(),
            [true]
        );
    }

    #[test]
    fn what_comes_back_by_chance_is_no_copy() {
        assert_eq!(
            found(&[
                plane(300.0, 1, 0.0, &COARSE),
                plane(300.0, 2, 180.0, &COARSE)
            ]),
            []
        );
        let mut near = FINE;
        near[3] += 0.01;
        assert_eq!(
            found(&[plane(300.0, 1, 0.0, &FINE), plane(300.0, 2, 180.0, &near)]),
            []
        );
        assert_eq!(
            found(&[
                plane(300.0, 1, 0.0, &[0.0; 8]),
                plane(300.0, 2, 180.0, &[0.0; 8])
            ]),
            []
        );
    }
}
