//! Whether a turn without a mark came round. In: its readings against time. Out: that a stretch of them repeats, which only
//! more than one whole turn does, or why that is not shown.
//!
//! A hand turns slowly, quickly and with stops, so times say little; what repeats is the order of high and low spots. A
//! spindle rocked to and fro between the same two places repeats too and is not told from one that was turned on. Common
//! practice, no source.

use super::harmonics::{count, spread};
use super::noise;
use super::record::Passing;

/// Readings are smoothed until they spread over so many times their noise: then a swing is a swing.
const CLEAR: f64 = 30.0;
/// Smoothed over no more than this part of the record: a turn would be smoothed away.
const FEWEST_PARTS: usize = 32;
/// A high spot is left by this share of the spread before it counts as one.
const SWING: f64 = 0.25;
/// High spots are alike within this share of the spread, and so many standard deviations.
const ALIKE: f64 = 0.05;
const ALIKE_NOISE: f64 = 4.0;
/// Most high and low spots a turn has: six lobes.
const MOST_SPOTS: usize = 12;
/// A record with one spot more than a turn has holds so many turns' swings at least.
const ONE_SPOT_MORE: f64 = 1.4;
/// And any other so many.
const MORE_THAN_ONE: f64 = 1.25;

/// Why a record does not show that the spindle came round.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NotShown {
    /// Nothing but noise: a spindle that runs true, or one that stood still.
    Still,
    /// It swings, but no stretch of it comes again.
    NothingRepeats,
}

/// Whether the record holds more than one whole turn, by a stretch that repeats.
///
/// # Errors
/// Why it does not show that.
pub fn came_round(readings: &[Passing]) -> Result<(), NotShown> {
    let Some(clear) = Clear::of(readings) else {
        return Err(NotShown::Still);
    };
    let spots = clear.spots();
    let repeats = (2..=MOST_SPOTS)
        .step_by(2)
        .any(|a_turn| clear.repeats(&spots, a_turn));
    repeats.then_some(()).ok_or(NotShown::NothingRepeats)
}

/// A turn's swing, clear of noise.
struct Clear {
    readings: Vec<Passing>,
    spread_um: f64,
    noise_um: f64,
}

impl Clear {
    /// Smooths a record as little as makes its swing clear; `None` where none comes out.
    fn of(readings: &[Passing]) -> Option<Self> {
        let values: Vec<f64> = readings.iter().map(|r| r.reading_um).collect();
        let noise_um = noise::standard_um(&values);
        let mut over = 1;
        while over == 1 || over * FEWEST_PARTS <= values.len() {
            let smooth = smoothed(readings, over);
            let spread_um = spread(smooth.iter().map(|r| r.reading_um));
            let noise_um = noise_um / count(over).sqrt();
            if spread_um > CLEAR * noise_um {
                return Some(Self {
                    readings: smooth,
                    spread_um,
                    noise_um,
                });
            }
            over = 2 * over + 1;
        }
        None
    }

    /// High and low spots in turn; the first and the last are where the record begins and ends.
    fn spots(&self) -> Vec<Passing> {
        let least_um = SWING * self.spread_um;
        let (mut low, mut high) = (self.readings[0], self.readings[0]);
        let mut spots: Vec<Passing> = Vec::new();
        let mut rising = None;
        for &now in &self.readings {
            if now.reading_um < low.reading_um {
                low = now;
            }
            if now.reading_um > high.reading_um {
                high = now;
            }
            if rising != Some(true) && now.reading_um > low.reading_um + least_um {
                spots.push(low);
                (rising, high) = (Some(true), now);
            } else if rising != Some(false) && now.reading_um < high.reading_um - least_um {
                spots.push(high);
                (rising, low) = (Some(false), now);
            }
        }
        spots.extend(rising.map(|up| if up { high } else { low }));
        spots
    }

    /// Whether every spot is like the one a turn before it, with as many of them as leave no doubt.
    fn repeats(&self, spots: &[Passing], a_turn: usize) -> bool {
        let Some(last) = spots.len().checked_sub(1).filter(|last| *last > a_turn) else {
            return false;
        };
        let within = 1..last;
        let pairs: Vec<(Passing, Passing)> = within
            .clone()
            .filter(|one| within.contains(&(one + a_turn)))
            .map(|one| (spots[one], spots[one + a_turn]))
            .collect();
        let drift = drift_um_per_s(&pairs);
        let allowed_um = ALIKE * self.spread_um + ALIKE_NOISE * self.noise_um;
        let apart =
            |a: &Passing, b: &Passing| b.reading_um - a.reading_um - drift * (b.time_s - a.time_s);
        if pairs.iter().any(|(a, b)| apart(a, b).abs() > allowed_um) {
            return false;
        }
        let mut found = within.len();
        // A record begins and ends anywhere: short of a spot, at it, but not beyond it.
        for (end, like) in [(0, a_turn), (last, last - a_turn)] {
            if !within.contains(&like) {
                continue;
            }
            let neighbour = if end == 0 { 1 } else { last - 1 };
            let is_high = spots[end].reading_um > spots[neighbour].reading_um;
            let beyond_um = apart(&spots[like], &spots[end]) * if is_high { 1.0 } else { -1.0 };
            if beyond_um > allowed_um {
                return false;
            }
            found += usize::from(beyond_um > -allowed_um);
        }
        let enough = a_turn + 2.max(a_turn / 2);
        let turns = turns(spots, a_turn);
        (found >= enough && turns > MORE_THAN_ONE)
            || (a_turn == 2 && found > a_turn && turns > ONE_SPOT_MORE)
    }
}

/// How many turns' swings a record holds.
fn turns(spots: &[Passing], a_turn: usize) -> f64 {
    let swings: Vec<f64> = spots
        .windows(2)
        .map(|pair| (pair[1].reading_um - pair[0].reading_um).abs())
        .collect();
    let one = swings
        .windows(a_turn)
        .map(|turn| turn.iter().sum::<f64>())
        .fold(0.0, f64::max);
    swings.iter().sum::<f64>() / one
}

/// A drift common to at least two pairs a turn apart; one pair alone may differ for any reason.
fn drift_um_per_s(pairs: &[(Passing, Passing)]) -> f64 {
    if pairs.len() < 2 {
        return 0.0;
    }
    let slopes: Vec<f64> = pairs
        .iter()
        .map(|(a, b)| (b.reading_um - a.reading_um) / (b.time_s - a.time_s))
        .collect();
    crate::statistics::median(&slopes)
}

/// The running mean over an odd number of readings, shorter at the ends.
fn smoothed(readings: &[Passing], over: usize) -> Vec<Passing> {
    let half = over / 2;
    let mut sums = vec![0.0];
    for reading in readings {
        sums.push(sums[sums.len() - 1] + reading.reading_um);
    }
    (half..readings.len().saturating_sub(half))
        .map(|middle| Passing {
            time_s: readings[middle].time_s,
            reading_um: (sums[middle + half + 1] - sums[middle - half]) / count(over),
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::runout::noise::made_noise;

    /// A record of 50 readings a second over 20 s, of the turns made up to each time.
    fn read(
        turned: impl Fn(f64) -> f64,
        surface: impl Fn(f64) -> f64,
        noise_um: f64,
        step_um: f64,
    ) -> Vec<Passing> {
        let mut noise = made_noise(7);
        (0..1000)
            .map(|i| {
                let time_s = f64::from(i) * 0.02;
                let um = surface(360.0 * turned(time_s)) + noise_um * noise();
                Passing {
                    time_s,
                    reading_um: if step_um > 0.0 {
                        (um / step_um).round() * step_um
                    } else {
                        um
                    },
                }
            })
            .collect()
    }

    fn off_centre(um: f64) -> impl Fn(f64) -> f64 {
        move |angle: f64| um * (angle - 70.0).to_radians().cos()
    }

    #[test]
    fn part_of_a_turn_never_shows_that_it_came_round() {
        for noise_um in [0.02, 0.1, 1.0] {
            for share in [0.1, 0.25, 0.45, 0.6, 0.8, 0.95] {
                for start in 0..12 {
                    let turned = |t: f64| f64::from(start) / 12.0 + share * t / 20.0;
                    let readings = read(turned, off_centre(10.0), noise_um, 0.01);
                    assert!(came_round(&readings).is_err(), "{share} from {start}");
                    let oval = |a: f64| {
                        2.0 * (a - 70.0).to_radians().cos() + 5.0 * (2.0 * a).to_radians().cos()
                    };
                    if share < 0.7 {
                        assert!(
                            came_round(&read(turned, oval, noise_um, 0.01)).is_err(),
                            "oval, {share} from {start}"
                        );
                    }
                }
            }
        }
    }

    #[test]
    fn two_turns_show_it_however_they_are_turned() {
        for noise_um in [0.0, 0.02, 0.1, 1.0] {
            for start in 0..12 {
                let from = f64::from(start) / 12.0;
                let steady = |t: f64| from + 2.2 * t / 20.0;
                let unsteady = |t: f64| from + 2.2 * t / 20.0 + 0.05 * (t * 1.7).sin();
                let with_a_stop = |t: f64| from + 0.16 * t.min(9.0) + 0.16 * (t - 14.0).max(0.0);
                let quick = |t: f64| from + 0.7 * t;
                for (name, turned) in [
                    ("steady", &steady as &dyn Fn(f64) -> f64),
                    ("unsteady", &unsteady),
                    ("with a stop", &with_a_stop),
                    ("quick", &quick),
                ] {
                    for step_um in [0.0, 0.01, 1.0] {
                        let readings = read(turned, off_centre(10.0), noise_um, step_um);
                        assert_eq!(
                            came_round(&readings),
                            Ok(()),
                            "{name}, {noise_um}, {start}, {step_um}"
                        );
                    }
                }
                let oval = |a: f64| {
                    4.0 * (a - 70.0).to_radians().cos() + 4.0 * (2.0 * a).to_radians().cos()
                };
                assert_eq!(
                    came_round(&read(steady, oval, noise_um.min(0.1), 0.0)),
                    Ok(()),
                    "oval {start}"
                );
            }
        }
    }

    #[test]
    fn one_turn_and_a_half_shows_it_and_backwards_too() {
        for start in 0..12 {
            let from = f64::from(start) / 12.0;
            let readings = read(|t| from + 1.55 * t / 20.0, off_centre(5.0), 0.1, 0.01);
            assert_eq!(came_round(&readings), Ok(()), "{start}");
            let readings = read(|t| from - 1.55 * t / 20.0, off_centre(5.0), 0.1, 0.01);
            assert_eq!(came_round(&readings), Ok(()), "{start}");
        }
    }

    #[test]
    fn a_drift_beside_several_turns_is_no_other_surface() {
        let mut readings = read(|t| 3.3 * t / 20.0, off_centre(4.0), 0.05, 0.0);
        for reading in &mut readings {
            reading.reading_um += 0.15 * reading.time_s;
        }
        assert_eq!(came_round(&readings), Ok(()));
    }

    #[test]
    fn a_spindle_that_stood_still_shows_nothing() {
        for noise_um in [0.02, 0.2, 1.0] {
            for step_um in [0.0, 0.01, 0.1, 1.0] {
                let readings = read(|_| 0.0, off_centre(5.0), noise_um, step_um);
                assert!(came_round(&readings).is_err(), "{noise_um} {step_um}");
            }
        }
        let flat = read(|_| 0.0, |_| 3.0, 0.0, 0.0);
        assert_eq!(came_round(&flat), Err(NotShown::Still));
        let drifting: Vec<Passing> = flat
            .iter()
            .map(|r| Passing {
                reading_um: 0.3 * r.time_s,
                ..*r
            })
            .collect();
        assert_eq!(came_round(&drifting), Err(NotShown::NothingRepeats));
    }

    #[test]
    fn turned_to_and_fro_by_hand_is_not_once_round() {
        // Half a turn there, nearly back, and there again, never to quite the same place.
        let ends = [0.0, 0.42, 0.05, 0.47, 0.02, 0.4];
        let turned = |t: f64| {
            let leg = (t / 4.0).floor();
            let at = ends
                .iter()
                .copied()
                .zip(ends.iter().copied().skip(1))
                .zip(0..)
                .find(|(_, n)| f64::from(*n) >= leg);
            let (from, to) = at.map_or((0.4, 0.4), |((from, to), _)| (from, to));
            let done = (t / 4.0).fract();
            from + (to - from) * done * done * (3.0 - 2.0 * done)
        };
        let readings = read(turned, |a| 8.0 * (a - 30.0).to_radians().cos(), 0.05, 0.0);
        assert_eq!(came_round(&readings), Err(NotShown::NothingRepeats));
    }

    #[test]
    fn next_to_nothing_is_no_turn() {
        assert!(came_round(&[]).is_err());
        assert!(came_round(&read(|t| t, off_centre(3.0), 0.0, 0.0)[..3]).is_err());
    }
}
