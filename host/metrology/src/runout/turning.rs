//! Turns without stopping. In: readings against time, with or without a mark once a turn. Out: the figures; with the
//! mark also what repeats every turn and what does not.

use super::figures::Figures;
use super::harmonics::{self, Turn, count, spread};
use super::lone;
use super::record::{Passing, Place, Stop};
use super::remarks::PlaneNote;
use super::result::Method;
use super::vector::{Vector, turn_by};
use crate::statistics::median;

/// Equal angles at which turns are compared.
pub const COMPARED_ANGLES: usize = 128;
/// From so many turns on, what repeats is told from what does not.
pub const FEWEST_TURNS_TO_COMPARE: usize = 3;
/// Below so many readings a turn the extremes may fall between readings: 1 − cos(180°/16) = 1.9 % of the
/// eccentricity each.
pub const ENOUGH_READINGS_A_TURN: f64 = 16.0;
/// A step longer than this, and than five times the usual one, is a gap.
const GAP_S: f64 = 0.05;
const GAP_STEPS: f64 = 5.0;
/// Readings a turn from which the largest and smallest of them bound the TIR.
const FEWEST_FOR_A_BOUND: f64 = 4.0;

/// Evaluates a free turn: its TIR, and whether it had readings enough.
pub fn evaluate_free(place: Place, readings: &[Passing]) -> Figures {
    let values_um: Vec<f64> = readings.iter().map(|r| r.reading_um).collect();
    let mut figures = Figures::of_spread(place, Method::Free, &values_um);
    figures.notes.push(PlaneNote::FreeTurn);
    figures.tir_without_lone_um = lone::tir_without_um(&values_um);
    let a_turn = readings_a_turn(&values_um);
    let tir_um = figures.tir_um.unwrap_or(0.0);
    figures.low_by_um = Some(missed_um(tir_um, a_turn.at_least));
    if a_turn.told {
        note_few_readings(&mut figures, a_turn.at_least);
    }
    if !gaps(readings).is_empty() {
        figures.notes.push(PlaneNote::ReadingsMissing);
        figures.low_by_um = None;
    }
    figures
}

/// How much larger a TIR may be than that of so many readings a turn: at worst each extreme lies half-way between two.
/// Of three and fewer readings that tells nothing.
fn missed_um(tir_um: f64, readings_a_turn: f64) -> f64 {
    let seen = (std::f64::consts::PI / readings_a_turn.max(FEWEST_FOR_A_BOUND)).cos();
    tir_um * (1.0 / seen - 1.0)
}

fn note_few_readings(figures: &mut Figures, a_turn: f64) {
    if a_turn < ENOUGH_READINGS_A_TURN {
        let low_percent = 100.0 * (1.0 - (std::f64::consts::PI / a_turn).cos());
        figures.notes.push(PlaneNote::FewReadings {
            readings_a_turn: a_turn,
            low_percent,
        });
    }
}

/// Readings a turn of a free turn.
struct ReadingsATurn {
    at_least: f64,
    /// Whether the record shows it, or only bounds it.
    told: bool,
}

/// Tells the readings a turn of a free turn from its own swing.
///
/// A record with fewer readings than one turn ought to have cannot hold more. Otherwise turns are counted by rises
/// through the middle that began at least a quarter of the TIR below it: with two lobes higher than the eccentricity
/// this counts double and asks for slower turning than needed, never for faster. With fewer than two rises the record
/// holds less than two turns.
fn readings_a_turn(values_um: &[f64]) -> ReadingsATurn {
    let n = count(values_um.len());
    let rises = rises(values_um);
    let (at_least, told) = match (rises.first(), rises.last()) {
        _ if n < ENOUGH_READINGS_A_TURN => (n, true),
        (Some(first), Some(last)) if last > first => {
            (count(last - first) / count(rises.len() - 1), true)
        }
        _ => (n / 2.0, false),
    };
    ReadingsATurn {
        at_least: at_least.max(2.0),
        told,
    }
}

/// Readings a turn of a free turn, where its own swing tells them.
pub fn told_readings_a_turn(values_um: &[f64]) -> Option<f64> {
    let a_turn = readings_a_turn(values_um);
    (a_turn.told && a_turn.at_least >= ENOUGH_READINGS_A_TURN).then_some(a_turn.at_least)
}

/// How many readings are taken together so that a turn has about so many.
pub fn readings_for(a_turn: f64, wanted: f64) -> usize {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a number of readings"
    )]
    let together = (a_turn / wanted) as usize;
    together.max(1)
}

/// The middle reading at each of so many equal angles of marked turns; none without a whole turn.
pub fn round(readings: &[Passing], edges_s: &[f64], angles: usize) -> Vec<Stop> {
    let samples = Samples::within(readings, &whole_turns(readings, edges_s).whole);
    let width_deg = 360.0 / count(angles);
    let mut at: Vec<Vec<f64>> = vec![Vec::new(); angles];
    for (angle_deg, reading_um) in samples.angles_deg.iter().zip(&samples.readings_um) {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "an angle within a turn"
        )]
        let place = (angle_deg / width_deg) as usize;
        at[place.min(angles - 1)].push(*reading_um);
    }
    let stop = |(place, readings_um): (usize, Vec<f64>)| {
        (!readings_um.is_empty()).then(|| Stop {
            angle_deg: (count(place) + 0.5) * width_deg,
            reading_um: median(&readings_um),
        })
    };
    at.into_iter().enumerate().filter_map(stop).collect()
}

fn rises(values_um: &[f64]) -> Vec<usize> {
    let low = values_um.iter().copied().fold(f64::INFINITY, f64::min);
    let tir_um = spread(values_um.iter().copied());
    let (armed_below, middle) = (low + 0.25 * tir_um, low + 0.5 * tir_um);
    let mut armed = false;
    let mut rises = Vec::new();
    for (index, value) in values_um.iter().enumerate() {
        armed |= *value < armed_below;
        if armed && *value >= middle {
            rises.push(index);
            armed = false;
        }
    }
    rises
}

/// Index of the first reading after each gap.
fn gaps(readings: &[Passing]) -> Vec<usize> {
    let steps: Vec<f64> = readings
        .windows(2)
        .map(|pair| pair[1].time_s - pair[0].time_s)
        .collect();
    if steps.is_empty() {
        return Vec::new();
    }
    let longest = (GAP_STEPS * median(&steps)).max(GAP_S);
    steps
        .iter()
        .zip(1..)
        .filter(|(step, _)| **step > longest)
        .map(|(_, index)| index)
        .collect()
}

/// Evaluates marked turns: whole turns only, angle linear in time between the mark's rising edges, the drift fitted
/// together with the harmonics against time.
pub fn evaluate_marked(place: Place, readings: &[Passing], edges_s: &[f64]) -> Figures {
    let turns = whole_turns(readings, edges_s);
    if turns.whole.is_empty() {
        let mut figures = evaluate_free(place, readings);
        figures.notes.insert(0, turns.why_none);
        return figures;
    }
    let samples = Samples::within(readings, &turns.whole);
    let mut figures = Figures::of_spread(place, Method::Marked, &samples.readings_um);
    let turn = Turn {
        angles_deg: &samples.angles_deg,
        readings_um: &samples.readings_um,
        times_s: Some(&samples.times_s),
    };
    figures.take_fit(&turn, harmonics::fit(&turn));
    take_drift_off(&mut figures, &samples, &turns.whole);
    figures.tir_without_lone_um = lone::tir_without_um(&samples.readings_um);
    figures.besides_um = Some(spread(readings.iter().map(|r| r.reading_um)));
    if turns.left_out > 0 {
        let turns = turns.left_out;
        figures.notes.push(PlaneNote::TurnsLeftOut { turns });
    }
    let a_turn = count(samples.readings_um.len()) / count(turns.whole.len());
    note_few_readings(&mut figures, a_turn);
    compare_turns(&mut figures, readings, &turns.whole);
    figures
}

/// One whole turn, from edge to edge.
#[derive(Clone, Copy, Debug)]
struct Span {
    from_s: f64,
    to_s: f64,
}

impl Span {
    fn time_s(&self, angle_deg: f64) -> f64 {
        self.from_s + (self.to_s - self.from_s) * angle_deg / 360.0
    }

    fn angle_deg(&self, time_s: f64) -> f64 {
        360.0 * (time_s - self.from_s) / (self.to_s - self.from_s)
    }
}

struct WholeTurns {
    whole: Vec<Span>,
    left_out: usize,
    why_none: PlaneNote,
}

fn whole_turns(readings: &[Passing], edges_s: &[f64]) -> WholeTurns {
    let gaps: Vec<(f64, f64)> = gaps(readings)
        .into_iter()
        .map(|index| (readings[index - 1].time_s, readings[index].time_s))
        .collect();
    let (whole, damaged): (Vec<Span>, Vec<Span>) = edges_s
        .windows(2)
        .map(|pair| Span {
            from_s: pair[0],
            to_s: pair[1],
        })
        .partition(|turn| {
            gaps.iter()
                .all(|(from, to)| *to <= turn.from_s || *from >= turn.to_s)
        });
    WholeTurns {
        left_out: damaged.len(),
        why_none: if damaged.is_empty() {
            PlaneNote::NoWholeTurn
        } else {
            PlaneNote::NoTurnComplete
        },
        whole,
    }
}

/// The readings within whole turns, with their angles.
#[derive(Default)]
struct Samples {
    times_s: Vec<f64>,
    angles_deg: Vec<f64>,
    readings_um: Vec<f64>,
}

impl Samples {
    fn within(readings: &[Passing], turns: &[Span]) -> Self {
        let mut samples = Self::default();
        for turn in turns {
            let from = readings.partition_point(|r| r.time_s < turn.from_s);
            let to = readings.partition_point(|r| r.time_s < turn.to_s);
            for reading in &readings[from..to.max(from)] {
                samples.times_s.push(reading.time_s);
                samples.angles_deg.push(turn.angle_deg(reading.time_s));
                samples.readings_um.push(reading.reading_um);
            }
        }
        samples
    }
}

fn take_drift_off(figures: &mut Figures, samples: &Samples, turns: &[Span]) {
    let Some(fit) = &figures.harmonics else {
        return;
    };
    let slope = fit.slope_um_per_s.unwrap_or(0.0);
    let without = samples
        .times_s
        .iter()
        .zip(&samples.readings_um)
        .map(|(t, r)| r - slope * t);
    let tir_um = spread(without);
    figures.low_by_um = Some((fit.peak_to_valley_um() - tir_um).max(0.0));
    figures.tir_um = Some(tir_um);
    figures.drift_um = Some(slope * (turns[turns.len() - 1].to_s - turns[0].from_s));
}

/// Compares whole turns at equal angles, the drift taken off: it is neither part of a turn nor of what differs
/// between turns.
///
/// Asynchronous: the largest spread over turns at one angle. Synchronous: peak to valley of the mean over turns,
/// without its once-per-turn part, which is the eccentricity. Terms of ISO 230-7.
fn compare_turns(figures: &mut Figures, readings: &[Passing], turns: &[Span]) {
    if turns.len() < FEWEST_TURNS_TO_COMPARE {
        return;
    }
    let slope = figures
        .harmonics
        .as_ref()
        .and_then(|fit| fit.slope_um_per_s)
        .unwrap_or(0.0);
    let profiles: Vec<Vec<f64>> = turns
        .iter()
        .map(|turn| profile_um(readings, turn, slope))
        .collect();
    let motion = compare_profiles(&profiles);
    figures.synchronous_um = Some(motion.synchronous_um);
    figures.asynchronous_um = Some(motion.asynchronous_um);
    figures.notes.push(PlaneNote::NoBearingTest);
}

/// One turn interpolated linearly at equal angles.
fn profile_um(readings: &[Passing], turn: &Span, slope_um_per_s: f64) -> Vec<f64> {
    (0..COMPARED_ANGLES)
        .map(|index| {
            let time_s = turn.time_s(360.0 * count(index) / count(COMPARED_ANGLES));
            interpolated_um(readings, time_s) - slope_um_per_s * time_s
        })
        .collect()
}

fn interpolated_um(readings: &[Passing], time_s: f64) -> f64 {
    let after = readings
        .partition_point(|r| r.time_s < time_s)
        .clamp(1, readings.len() - 1);
    let (a, b) = (readings[after - 1], readings[after]);
    let share = ((time_s - a.time_s) / (b.time_s - a.time_s)).clamp(0.0, 1.0);
    a.reading_um + share * (b.reading_um - a.reading_um)
}

/// What repeats every turn and what does not.
#[derive(Clone, Debug, PartialEq)]
pub struct TurnMotion {
    /// Mean over the turns at each angle, less its mean and its once-per-turn part, µm.
    pub synchronous_profile_um: Vec<f64>,
    /// Peak to valley of that, µm.
    pub synchronous_um: f64,
    /// Largest spread over turns at one angle, µm.
    pub asynchronous_um: f64,
}

/// Compares turns given at the same equal angles: each inner list is one turn. Terms of ISO 230-7.
pub fn compare_profiles(turns: &[Vec<f64>]) -> TurnMotion {
    let angles = turns.first().map_or(0, Vec::len);
    let at = |index: usize| turns.iter().map(move |turn| turn[index]);
    let means: Vec<f64> = (0..angles)
        .map(|index| at(index).sum::<f64>() / count(turns.len()))
        .collect();
    let synchronous_profile_um = without_once_per_turn(&means);
    TurnMotion {
        synchronous_um: spread(synchronous_profile_um.iter().copied()),
        synchronous_profile_um,
        asynchronous_um: (0..angles)
            .map(|index| spread(at(index)))
            .fold(0.0, f64::max),
    }
}

/// A profile at equal angles less its mean and its first Fourier component.
fn without_once_per_turn(profile_um: &[f64]) -> Vec<f64> {
    let n = count(profile_um.len());
    let at = |index: usize| turn_by(360.0 * count(index) / n);
    let mean = profile_um.iter().sum::<f64>() / n;
    let once: Vector = profile_um
        .iter()
        .enumerate()
        .map(|(i, value)| at(i) * (value - mean))
        .sum::<Vector>()
        * (2.0 / n);
    profile_um
        .iter()
        .enumerate()
        .map(|(i, value)| value - mean - (once * at(i).conj()).re)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Readings every 2 ms of a spindle turning once a second, its angle wandering by `wander` of a turn's speed.
    fn turning(seconds: f64, reading: impl Fn(f64, f64) -> f64) -> (Vec<Passing>, Vec<f64>) {
        let every_s = 0.002;
        let steps = (seconds / every_s).round();
        let mut readings = Vec::new();
        let mut at = 0.0;
        while at <= steps {
            let time_s = at * every_s;
            let turned = time_s - 0.25;
            readings.push(Passing {
                time_s,
                reading_um: reading(360.0 * turned, time_s),
            });
            at += 1.0;
        }
        let edges = (0..)
            .map(|k| 0.25 + f64::from(k))
            .take_while(|edge| *edge <= seconds)
            .collect();
        (readings, edges)
    }

    fn once(angle_deg: f64) -> f64 {
        50.0 + 5.0 * (angle_deg - 70.0).to_radians().cos()
            + 1.0 * (2.0 * angle_deg).to_radians().cos()
    }

    #[test]
    fn marked_turns_give_eccentricity_ovality_and_drift() {
        let (readings, edges) = turning(4.5, |angle, t| once(angle) + 0.8 * t);
        let figures = evaluate_marked(Place::default(), &readings, &edges);
        let fit = figures.harmonics.as_ref().expect("four turns");
        assert!((fit.eccentricity() - super::super::vector::vector(5.0, 70.0)).norm() < 1e-6);
        assert!((fit.vectors[1] - super::super::vector::vector(1.0, 0.0)).norm() < 1e-6);
        assert!((figures.drift_um.expect("fitted") - 0.8 * 4.0).abs() < 1e-6);
        assert!(figures.asynchronous_um.expect("four turns") < 1e-6);
        assert!((figures.synchronous_um.expect("four turns") - 2.0).abs() < 1e-3);
    }

    #[test]
    fn what_does_not_repeat_is_its_spread_at_one_angle() {
        let (readings, edges) = turning(4.5, |angle, _| {
            once(angle)
                + if angle < 0.0 {
                    0.0
                } else {
                    0.5 * ((angle / 360.0).floor() % 2.0)
                }
        });
        let figures = evaluate_marked(Place::default(), &readings, &edges);
        assert!(
            (figures.asynchronous_um.expect("four turns") - 0.5).abs() < 0.15,
            "{:?}",
            figures.asynchronous_um
        );
    }

    #[test]
    fn a_turn_with_missing_readings_is_left_out() {
        let (mut readings, edges) = turning(4.5, |angle, _| once(angle));
        readings.retain(|r| !(1.5..1.9).contains(&r.time_s));
        let figures = evaluate_marked(Place::default(), &readings, &edges);
        assert!((figures.eccentricity().expect("three turns").norm() - 5.0).abs() < 1e-6);
        assert!(
            figures
                .notes
                .contains(&PlaneNote::TurnsLeftOut { turns: 1 }),
            "{:?}",
            figures.notes
        );
    }

    #[test]
    fn without_a_whole_turn_there_is_a_tir_only() {
        let (readings, _) = turning(0.9, |angle, _| once(angle));
        let figures = evaluate_marked(Place::default(), &readings, &[0.25]);
        assert!(figures.eccentricity().is_none() && figures.tir_um.is_some());
        assert_eq!(figures.notes[0], PlaneNote::NoWholeTurn);
    }

    #[test]
    fn a_free_turn_with_few_readings_is_flagged_and_one_with_many_is_not() {
        let flagged = |a_turn: u32, turns: u32| {
            let readings: Vec<Passing> = (0..a_turn * turns)
                .map(|i| Passing {
                    time_s: f64::from(i),
                    reading_um: once(360.0 * f64::from(i) / f64::from(a_turn)),
                })
                .collect();
            let figures = evaluate_free(Place::default(), &readings);
            assert!(figures.eccentricity().is_none());
            figures
                .notes
                .iter()
                .any(|note| matches!(note, PlaneNote::FewReadings { .. }))
        };
        assert!(flagged(8, 1) && flagged(8, 5) && flagged(12, 3));
        assert!(!flagged(16, 1) && !flagged(20, 4) && !flagged(40, 3));
    }
}
