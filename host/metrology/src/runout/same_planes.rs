//! Planes that are one plane written twice. In: the planes of a record. Out: pairs that agree to the last digit where no
//! spindle, bar and seat come back so: as they stand, with a few digits changed, moved on by some positions, turned over,
//! with the dial set anew, or scaled.

use super::harmonics::{count, spread};
use super::noise;
use super::record::{Place, Readings, RunoutRecord};
use super::vector::same_angle;

/// Two readings at one place of two seatings differ like this at least, µm: noise, drift and seat of 0.1 µm each way
/// (common practice). They agree to the last digit with the probability step ÷ this.
const DIFFER_UM: f64 = 0.35;
/// Agreement as improbable as this is a copy.
const IMPROBABLE: f64 = 1e-3;
/// Fewest readings that are compared.
const FEWEST: usize = 4;
/// Of so many readings one may have been changed.
const OF_WHICH_ONE_CHANGED: usize = 4;
/// A turn with more readings is not moved on: nobody does that to a record.
const MOST_POSITIONS: usize = 36;

/// Two planes with the same readings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Copied {
    /// The first.
    pub one: Place,
    /// The other.
    pub other: Place,
    /// They agree as they stand.
    as_it_stands: bool,
}

impl Copied {
    /// Whether the two are of one height and one orientation and agree as they stand, so that only the seat is said to be
    /// the same.
    pub fn is_one_seat(&self) -> bool {
        self.as_it_stands
            && self.one.same_height(&self.other)
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
        .filter_map(|(one, other)| {
            Some(Copied {
                one: one.place,
                other: other.place,
                as_it_stands: copy_of(&one.readings, &other.readings)?,
            })
        })
        .collect()
}

/// Whether one is a copy of the other, and if so whether as it stands.
fn copy_of(one: &Readings, other: &Readings) -> Option<bool> {
    if std::mem::discriminant(one) != std::mem::discriminant(other) {
        return None;
    }
    let (a, b) = (once_round(one), once_round(other));
    let still = spread(a.iter().copied()) <= 0.0 || spread(b.iter().copied()) <= 0.0;
    if a.len() < FEWEST || a.len() != b.len() || still {
        return None;
    }
    let (step_a, step_b) = (noise::step_um(&a), noise::step_um(&b));
    // Readings without a last digit are means of many or were computed; what somebody copies was written down.
    if step_a <= 0.0 || step_b <= 0.0 {
        return None;
    }
    let pair = Pair {
        step_um: step_a.max(step_b),
        a,
        b,
    };
    if pair.is_same() {
        return Some(true);
    }
    let dressed = match pair.a.len() {
        positions @ ..=MOST_POSITIONS => {
            (0..positions).any(|by| pair.is_moved(by) || pair.is_scaled(by))
        }
        _ => pair.is_scaled(0),
    };
    dressed.then_some(false)
}

/// The readings round one turn, in order of their angle; of a turning spindle in order of time.
fn once_round(readings: &Readings) -> Vec<f64> {
    let Readings::Stepped(stops) = readings else {
        return readings.values_um();
    };
    let mut turn = stops.clone();
    if turn.len() > 1
        && turn
            .last()
            .is_some_and(|last| same_angle(last.angle_deg, turn[0].angle_deg))
    {
        turn.pop();
    }
    turn.sort_by(|a, b| a.angle_deg.total_cmp(&b.angle_deg));
    turn.iter().map(|stop| stop.reading_um).collect()
}

struct Pair {
    a: Vec<f64>,
    b: Vec<f64>,
    /// The coarser of their steps, µm.
    step_um: f64,
}

impl Pair {
    /// How probable it is that so many readings agree within so many steps.
    fn by_chance(&self, agree: usize, steps: f64) -> f64 {
        let each = (steps * self.step_um / DIFFER_UM).min(1.0);
        each.powf(count(agree))
    }

    fn is_same(&self) -> bool {
        let same = self.a.iter().zip(&self.b).all(|(a, b)| alike(*a, *b));
        same && self.by_chance(self.a.len(), 1.0) < IMPROBABLE
    }

    /// The first moved on by so many positions.
    fn moved(&self, by: usize) -> impl Iterator<Item = (f64, f64)> + Clone {
        let on = self.a.iter().cycle().skip(by);
        on.copied().zip(self.b.iter().copied())
    }

    /// The same but for where the dial was set, its sign, and a few digits.
    fn is_moved(&self, by: usize) -> bool {
        let n = self.a.len();
        let changed = n / OF_WHICH_ONE_CHANGED;
        let starts = (changed + 1).min(n);
        [1.0, -1.0].into_iter().any(|sign| {
            self.moved(by).take(starts).any(|(from, to)| {
                let set_um = to - sign * from;
                let agree = self
                    .moved(by)
                    .filter(|(a, b)| alike(sign * a + set_um, *b))
                    .count();
                let ways = (0..n - agree).fold(2.0 * count(n), |ways, k| ways * count(n - k));
                n - agree <= changed && ways * self.by_chance(agree - 1, 1.0) < IMPROBABLE
            })
        })
    }

    /// Each is the other times a factor and set anew, within what rounding leaves.
    fn is_scaled(&self, by: usize) -> bool {
        let n = count(self.a.len());
        let mean = |of: &[f64]| crate::statistics::mean(of);
        let (mean_a, mean_b) = (mean(&self.a), mean(&self.b));
        let squares: f64 = self.a.iter().map(|a| (a - mean_a).powi(2)).sum();
        let both: f64 = self
            .moved(by)
            .map(|(a, b)| (a - mean_a) * (b - mean_b))
            .sum();
        let factor = both / squares;
        let rounding_um = 0.51 * self.step_um * (1.0 + factor.abs());
        let scaled = self
            .moved(by)
            .all(|(a, b)| (b - mean_b - factor * (a - mean_a)).abs() <= rounding_um);
        let steps = 2.0 * rounding_um / self.step_um;
        scaled && n * self.by_chance(self.a.len() - 2, steps) < IMPROBABLE
    }
}

/// Equal to the last digit.
fn alike(a_um: f64, b_um: f64) -> bool {
    (a_um - b_um).abs() < 1e-6
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::runout::{Plane, Stop};

    fn plane(height_mm: f64, seating: u32, orientation_deg: f64, readings_um: &[f64]) -> Plane {
        let step_deg = 360.0 / count(readings_um.len());
        let place = Place {
            height_mm: Some(height_mm),
            ..Place::default()
        };
        let stops = readings_um.iter().enumerate().map(|(n, um)| Stop {
            angle_deg: step_deg * count(n),
            reading_um: *um,
        });
        Plane::stepped(place.seated(seating, orientation_deg), stops)
    }

    fn found(planes: &[Plane]) -> Vec<Copied> {
        copied(&RunoutRecord::new(planes.to_vec()))
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
        let noise = [0.13, -0.08, 0.21, -0.02, 0.17, -0.11, 0.05, -0.19];
        let near: Vec<f64> = FINE.iter().zip(noise).map(|(um, off)| um + off).collect();
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

    #[test]
    fn a_copy_is_found_however_it_was_dressed() {
        let rounded = |um: f64| (100.0 * um).round() / 100.0;
        let each = |change: &dyn Fn(usize, f64) -> f64| -> Vec<f64> {
            let dressed = FINE.iter().enumerate();
            dressed.map(|(n, um)| rounded(change(n, *um))).collect()
        };
        let copies = [
            each(&|n, _| FINE[(n + 4) % 8]),
            each(&|_, um| -um),
            each(&|_, um| um + 3.0),
            each(&|n, um| um + if n == 3 { 0.07 } else { 0.0 }),
            each(&|_, um| 0.6 * um),
            each(&|n, _| 2.0 - 1.5 * FINE[(n + 1) % 8]),
        ];
        for copy in copies {
            let pair = found(&[plane(300.0, 1, 0.0, &FINE), plane(300.0, 2, 180.0, &copy)]);
            assert_eq!(pair.len(), 1, "{copy:?}");
            let dressed = found(&[plane(300.0, 1, 0.0, &FINE), plane(300.0, 2, 0.0, &copy)]);
            assert!(!dressed[0].is_one_seat(), "{copy:?}");
        }
    }
}
