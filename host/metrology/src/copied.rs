//! Whether two series of readings are one. In: both. Out: alike to the last digit, or but for a factor and a constant.
//!
//! No two measurements share their noise: a second series that follows the first sample by sample within what rounding
//! leaves is the first once more, in another unit, shifted or stretched.

use crate::statistics;
use std::cmp::Ordering;

/// Fewer readings may agree by chance.
const FEWEST: usize = 3;
/// So many must follow each other before a factor and a constant are taken off.
const FEWEST_STRETCHED: usize = 50;
/// The step is told from so many readings after the rise: in the rise itself no two lie as near as noise puts them.
const TELL_STEP: usize = 500;
/// Noise over so many steps of the readings is no two times the same by chance.
const NOISE_STEPS: f64 = 1.0;
/// Noise turns at two readings of three, a curve seldom: at this share it is noise.
const LEAST_TURNS: f64 = 0.25;
/// What rounding leaves, share of the steps of both: a half, and room for the fit.
const ROUNDING_SHARE: f64 = 0.75;

/// What differs by less is one number, share of the largest.
const LAST_DIGIT_SHARE: f64 = 1e-9;

/// How two series agree.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Alike {
    /// Reading by reading.
    ToTheLastDigit,
    /// But for a factor and a constant.
    Stretched,
    /// Clamp by clamp: at other times, in other steps, or with clamps cut off.
    ClampByClamp,
}

/// A clamp as a record shows it, whatever times and steps it is written in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ClampSeen {
    /// Its settled force, N.
    pub force_n: f64,
    /// When it was clamped, s.
    pub clamped_s: f64,
    /// When it was released, s.
    pub released_s: f64,
}

/// What times and steps of two records leave between two looks at one clamp.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Room {
    /// Of a force, N.
    pub force_n: f64,
    /// Of a time, s.
    pub time_s: f64,
}

/// Fewer clamps agree too often.
const FEWEST_CLAMPS: usize = 3;
/// Two sets that are no copies agree in all their clamps with this chance at most.
const CHANCE: f64 = 1e-6;
/// Two draws of one standard deviation lie within a room of each other with a chance of its whole width over 2√π standard
/// deviations, as long as the room is small.
const DRAWS: f64 = 3.544_907_701_811_032;

/// Whether two records show the same clamps: forces, holds and pauses of every clamp they lie upon each other in agree within
/// what is left by how they are written, and would by chance, from the scatter of the sets, in fewer than one of a million.
/// A machine that clamps by its own clock has pauses that say nothing, and so has a meter too coarse for the scatter.
///
/// Source: common practice.
pub fn same_clamps(first: &[ClampSeen], second: &[ClampSeen], room: Room) -> bool {
    is_laid(first, second, |first, second| {
        chance(first, second, room).is_some_and(|chance| chance < CHANCE)
    })
}

/// How many clamps of the second set agree with one of the first, in force and hold, within a room; in whatever order.
pub fn agree_in(first: &[ClampSeen], second: &[ClampSeen], room: Room) -> usize {
    let hold_s = |clamp: &ClampSeen| clamp.released_s - clamp.clamped_s;
    let agrees = |clamp: &&ClampSeen| {
        first.iter().any(|other| {
            (other.force_n - clamp.force_n).abs() <= room.force_n
                && (hold_s(other) - hold_s(clamp)).abs() <= room.time_s
        })
    };
    second.iter().filter(agrees).count()
}

/// Whether they may be, as far as a wide room shows.
pub fn may_be_same_clamps(first: &[ClampSeen], second: &[ClampSeen], room: Room) -> bool {
    is_laid(first, second, |first, second| {
        chance(first, second, room).is_some()
    })
}

/// Whether they lie upon each other somewhere, in clamps enough.
fn is_laid(
    first: &[ClampSeen],
    second: &[ClampSeen],
    agree: impl Fn(&[ClampSeen], &[ClampSeen]) -> bool,
) -> bool {
    let laid = |first: &[ClampSeen], second: &[ClampSeen]| {
        (0..first.len()).any(|from| {
            let count = (first.len() - from).min(second.len());
            count >= FEWEST_CLAMPS && agree(&first[from..from + count], &second[..count])
        })
    };
    laid(first, second) || laid(second, first)
}

/// With what chance two sets that are no copies agree so; none where they do not.
fn chance(first: &[ClampSeen], second: &[ClampSeen], room: Room) -> Option<f64> {
    let looks = Looks::of(first).0.into_iter().zip(Looks::of(second).0);
    let rooms = [room.force_n, room.time_s, room.time_s];
    let each = looks.zip(rooms).map(|((first, second), room)| {
        let mut pairs = first.iter().zip(&second);
        let agree = pairs.all(|(a, b)| (a - b).abs() <= room);
        let by_chance = 2.0 * room / (DRAWS * statistics::stdev(&first));
        // Of one alone no scatter is known.
        let by_chance = match first.len() {
            0 | 1 => 1.0,
            _ => by_chance.min(1.0),
        };
        agree.then(|| first.iter().map(|_| by_chance).product::<f64>())
    });
    each.product()
}

/// Forces, holds and pauses of clamps.
struct Looks([Vec<f64>; 3]);

impl Looks {
    fn of(clamps: &[ClampSeen]) -> Self {
        let held = clamps
            .iter()
            .map(|clamp| clamp.released_s - clamp.clamped_s);
        let pauses = clamps
            .windows(2)
            .map(|pair| pair[1].clamped_s - pair[0].released_s);
        Self([
            clamps.iter().map(|clamp| clamp.force_n).collect(),
            held.collect(),
            pauses.collect(),
        ])
    }
}

/// Readings, and what is known of them beforehand: a series is held against many others.
#[derive(Clone, Debug)]
pub struct Series<'a> {
    values: &'a [f64],
    varies: bool,
    /// Where it rises: there is laid upon it what was cut differently. Never empty.
    rises: Vec<Rise>,
    largest: f64,
}

/// A place where readings rise.
#[derive(Clone, Copy, Debug)]
struct Rise {
    at: usize,
    /// No less than the step any stretch from there on is written in.
    at_most_step: f64,
    /// From how many readings that is told.
    told_from: usize,
}

impl<'a> Series<'a> {
    /// A look at all the readings once.
    pub fn of(values: &'a [f64]) -> Self {
        let rise = |at: usize| {
            let some = &values[at..values.len().min(at + TELL_STEP)];
            Rise {
                at,
                at_most_step: Some(least_step(some))
                    .filter(|step| *step > 0.0)
                    .unwrap_or(f64::INFINITY),
                told_from: some.len(),
            }
        };
        Self {
            values,
            varies: varies(values),
            rises: rises(values).into_iter().map(rise).collect(),
            largest: largest(values),
        }
    }

    /// Whether the second series is the first once more. One that stands still agrees with any other that does, so that it
    /// says nothing.
    pub fn alike(&self, second: &Series<'_>) -> Option<Alike> {
        let (a, b) = (self.values, second.values);
        if a.len().min(b.len()) < FEWEST || !self.varies || !second.varies {
            return None;
        }
        if is_same(a, b) {
            return Some(Alike::ToTheLastDigit);
        }
        let (first, other_first) = (self.rises[0], second.rises[0]);
        // Of one of the two the first clamps may have been cut off: what is left of the other must be enough to know it again.
        let with_enough_behind = |rises: &[Rise]| {
            let last = (rises.len() + 1).saturating_sub(FEWEST_CLAMPS).max(1);
            rises[1..last].to_vec()
        };
        let later = with_enough_behind(&self.rises).into_iter();
        let later_in_second = with_enough_behind(&second.rises).into_iter();
        std::iter::once((first, other_first))
            .chain(later.map(|rise| (rise, other_first)))
            .chain(later_in_second.map(|rise| (first, rise)))
            .any(|(one, other)| self.follows(one, second, other))
            .then_some(Alike::Stretched)
    }

    /// In how many of the second's clamps one of the first lies, in whatever order: a rise and half the way to the next one, so
    /// that what was cut out between them does not matter.
    pub fn clamps_in_both(&self, second: &Series<'_>) -> usize {
        let (of_first, of_second) = (self.clamps(), second.clamps());
        let is_in_first = |clamp: &&&[f64]| {
            of_first.iter().any(|other| {
                let length = clamp.len().min(other.len());
                is_stretched(&other[..length], &clamp[..length])
            })
        };
        of_second.iter().filter(is_in_first).count()
    }

    fn clamps(&self) -> Vec<&[f64]> {
        let ends = self.rises[1..].iter().map(|rise| rise.at);
        let ends = ends.chain([self.values.len()]);
        let half = |(rise, end): (&Rise, usize)| {
            let half = (end - rise.at).div_ceil(2);
            &self.values[rise.at..rise.at + half]
        };
        self.rises.iter().zip(ends).map(half).collect()
    }

    /// Whether one lies upon the other, a rise of the one upon a rise of the other.
    fn follows(&self, one: Rise, second: &Series<'_>, other: Rise) -> bool {
        let before = one.at.min(other.at);
        let (a, b) = (
            &self.values[one.at - before..],
            &second.values[other.at - before..],
        );
        let length = a.len().min(b.len());
        // The readings the steps are told from must be in what is compared.
        let told = length >= before + one.told_from.max(other.told_from);
        let (from_a, from_b) = (&a[before..length], &b[before..length]);
        let room = 2.0 * ROUNDING_SHARE * one.at_most_step;
        let room_of_second =
            2.0 * (ROUNDING_SHARE * other.at_most_step + LAST_DIGIT_SHARE * second.largest);
        if told && !may_follow((from_a, room), (from_b, room_of_second)) {
            return false;
        }
        is_stretched(&a[..length], &b[..length])
    }
}

/// Whether any one factor takes each step from reading to reading into that of the other, within what rounding leaves of
/// two readings. Noise that is not the same shows after a few of them.
fn may_follow((a, room): (&[f64], f64), (b, room_of_second): (&[f64], f64)) -> bool {
    // The factors still possible.
    let (mut low, mut high) = (0.0_f64, f64::INFINITY);
    a.windows(2).zip(b.windows(2)).all(|(a, b)| {
        let (step, other) = (a[1] - a[0], b[1] - b[0]);
        // factor · (step + room) ≥ other − room_of_second, and factor · (step − room) ≤ other + room_of_second.
        for (by, least) in [
            (step + room, other - room_of_second),
            (room - step, -other - room_of_second),
        ] {
            match by.total_cmp(&0.0) {
                Ordering::Greater => low = low.max(least / by),
                Ordering::Less => high = high.min(least / by),
                Ordering::Equal if least > 0.0 => high = f64::NEG_INFINITY,
                Ordering::Equal => {}
            }
        }
        low * (1.0 - LAST_DIGIT_SHARE) <= high
    })
}

/// As [`Series::alike`], of two series that are held against each other alone.
pub fn alike(first: &[f64], second: &[f64]) -> Option<Alike> {
    Series::of(first).alike(&Series::of(second))
}

/// To the last digit.
fn is_same(first: &[f64], second: &[f64]) -> bool {
    let same = |(a, b): (&f64, &f64)| a.total_cmp(b).is_eq();
    first.len() == second.len() && first.iter().zip(second).all(same)
}

fn varies(values: &[f64]) -> bool {
    values
        .windows(2)
        .any(|pair| pair[0].total_cmp(&pair[1]).is_ne())
}

/// No set has more rises that are worth a look.
const MOST_RISES: usize = 20;
/// Between two clamps so many readings are low; noise is not for so long.
const LOW_FOR: usize = 10;

/// Where it passes half-way between its ends, and again after it was below a quarter for a while: there two records that were cut
/// differently are laid upon each other. The first reading where it never does.
fn rises(values: &[f64]) -> Vec<usize> {
    let low = values.iter().copied().fold(f64::INFINITY, f64::min);
    let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let middle = f64::midpoint(low, high);
    let quarter = f64::midpoint(low, middle);
    let mut low_for = LOW_FOR;
    let mut rises: Vec<usize> = Vec::new();
    for (place, value) in values.iter().enumerate() {
        if low_for >= LOW_FOR && *value > middle {
            rises.push(place);
            low_for = 0;
        }
        match (*value < quarter, low_for < LOW_FOR) {
            (true, true) => low_for += 1,
            (false, true) => low_for = 0,
            (_, false) => {}
        }
        if rises.len() == MOST_RISES {
            break;
        }
    }
    if rises.is_empty() {
        rises.push(0);
    }
    rises
}

/// Whether readings turn up and down as noise does, by more than the step they are written in; a curve without noise may well be
/// the same twice.
pub fn has_noise(values: &[f64]) -> bool {
    let threes = || {
        values
            .windows(3)
            .map(|three| (three[1] - three[0], three[2] - three[1]))
    };
    let turns = threes()
        .filter(|(before, after)| before * after < 0.0)
        .count();
    let bends: Vec<f64> = threes()
        .map(|(before, after)| (after - before).abs())
        .collect();
    let often = turns as f64 >= LEAST_TURNS * bends.len() as f64;
    !bends.is_empty() && often && statistics::median(&bends) >= NOISE_STEPS * least_step(values)
}

/// Smallest difference between any two values that differ: the step they are written in.
pub fn least_step(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let largest = largest(values);
    let steps = sorted.windows(2).map(|pair| pair[1] - pair[0]);
    let differ = steps.filter(|step| *step > LAST_DIGIT_SHARE * largest);
    let least = differ.fold(f64::INFINITY, f64::min);
    if least.is_finite() { least } else { 0.0 }
}

fn largest(values: &[f64]) -> f64 {
    values.iter().copied().map(f64::abs).fold(0.0, f64::max)
}

fn is_stretched(first: &[f64], second: &[f64]) -> bool {
    if first.len() < FEWEST_STRETCHED {
        return false;
    }
    let [step, other_step] = [first, second].map(least_step);
    if !has_noise(first) || !has_noise(second) {
        return false;
    }
    let Some(line) = statistics::least_squares_line(first, second) else {
        return false;
    };
    let left =
        ROUNDING_SHARE * (line.slope * step + other_step) + LAST_DIGIT_SHARE * largest(second);
    let off = |(a, b): (&f64, &f64)| (line.intercept + line.slope * a - b).abs();
    line.slope > 0.0 && first.iter().zip(second).map(off).all(|off| off <= left)
}

/// How many planes of the second check hold the readings of one of the first's, to the last digit: those are no readings of their
/// own.
pub fn planes_in_both(first: &[Vec<f64>], second: &[Vec<f64>]) -> usize {
    let enough = |plane: &&Vec<f64>| plane.len() >= FEWEST && varies(plane);
    let planes = second.iter().filter(enough);
    planes
        .filter(|plane| first.iter().any(|other| is_same(other, plane)))
        .count()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Noise of 5 about a step, to a tenth.
    fn series(seed: u64, level: f64) -> Vec<f64> {
        let mut state = seed;
        let noise = move || {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1);
            (state >> 40) as f64 / 16_777_216.0 - 0.5
        };
        let noises = std::iter::repeat_with(noise).take(400);
        let value = |(index, noise): (usize, f64)| {
            let held = if (100..300).contains(&index) {
                level
            } else {
                0.0
            };
            (10.0 * (held + 10.0 * noise)).round() / 10.0
        };
        noises.enumerate().map(value).collect()
    }

    #[test]
    fn a_copy_is_told_in_another_unit_shifted_stretched_and_cut() {
        let first = series(1, 9_500.0);
        assert_eq!(alike(&first, &first), Some(Alike::ToTheLastDigit));
        let as_kn: Vec<f64> = first.iter().map(|n| n.round() / 1000.0).collect();
        let lifted: Vec<f64> = first.iter().map(|n| n * 1.01 + 20.0).collect();
        for copy in [&as_kn[..], &lifted, &first[7..], &first[..390]] {
            assert_eq!(alike(&first, copy), Some(Alike::Stretched));
            assert_eq!(alike(copy, &first), Some(Alike::Stretched));
        }
    }

    #[test]
    fn two_measurements_are_two() {
        let first = series(1, 9_500.0);
        for other in [series(2, 9_500.0), series(1, 9_800.0)] {
            assert_eq!(alike(&first, &other), None);
        }
        assert_eq!(alike(&[0.0; 80], &[0.0; 80]), None);
        assert_eq!(alike(&[9.5, 9.6], &[9.5, 9.6]), None);
    }

    /// The look at the first readings only spares time.
    #[test]
    fn whatever_follows_is_looked_at_as_a_whole() {
        let by = |factor: f64, step: f64, values: &[f64]| -> Vec<f64> {
            let written = |value: &f64| (value * factor / step).round() * step;
            values.iter().map(written).collect()
        };
        for noise_steps in [0.1, 1.0, 2.0, 5.0, 10.0] {
            let first = by(1.0, 10.0 / noise_steps, &series(3, 9_500.0));
            for factor in [0.001, 0.5, 1.0, 1.01, 4.448] {
                for step in [1e-6, 1e-3, 0.1, 1.0, 5.0, 20.0] {
                    for other in [series(3, 9_500.0), series(4, 9_500.0)] {
                        let second = by(factor, step, &other);
                        let whole = varies(&second) && is_stretched(&first, &second);
                        let told = alike(&first, &second) == Some(Alike::Stretched);
                        let same = first == second;
                        assert_eq!(told || same, whole || same, "{noise_steps} {factor} {step}");
                    }
                }
            }
        }
    }

    fn seen(clamps: &[(f64, f64, f64)]) -> Vec<ClampSeen> {
        let seen = |&(force_n, clamped_s, released_s): &(f64, f64, f64)| ClampSeen {
            force_n,
            clamped_s,
            released_s,
        };
        clamps.iter().map(seen).collect()
    }

    #[test]
    fn clamps_by_hand_are_known_again_and_those_of_a_clock_are_not() {
        let room = Room {
            force_n: 2.0,
            time_s: 0.02,
        };
        let by_hand = seen(&[
            (9_500.0, 3.1, 8.4),
            (9_531.0, 12.2, 17.1),
            (9_478.0, 20.9, 26.2),
            (9_512.0, 31.0, 36.3),
        ]);
        let later: Vec<ClampSeen> = by_hand[1..]
            .iter()
            .map(|clamp| ClampSeen {
                force_n: clamp.force_n + 1.0,
                clamped_s: clamp.clamped_s - 9.0,
                released_s: clamp.released_s - 8.995,
            })
            .collect();
        assert!(same_clamps(&by_hand, &later, room) && same_clamps(&later, &by_hand, room));
        assert!(!same_clamps(&by_hand, &by_hand[..2], room), "too few");
        let mut another = by_hand.clone();
        another[2].force_n += 5.0;
        assert!(!same_clamps(&by_hand, &another, room));
        // Clamped by a clock and read in steps of 100 N: two sets agree however often they are taken.
        let coarse = Room {
            force_n: 110.0,
            time_s: 0.02,
        };
        let by_a_clock = seen(&[
            (9_500.0, 3.0, 8.0),
            (9_500.0, 12.0, 17.0),
            (9_500.0, 21.0, 26.0),
        ]);
        assert!(!same_clamps(&by_a_clock, &by_a_clock, coarse));
    }

    #[test]
    fn without_noise_only_the_same_is_the_same() {
        let still = |level: f64| [[0.0; 100], [level; 100], [0.0; 100]].concat();
        assert_eq!(alike(&still(9_500.0), &still(9_800.0)), None);
        assert_eq!(
            alike(&still(9_500.0), &still(9_500.0)),
            Some(Alike::ToTheLastDigit)
        );
    }
}
