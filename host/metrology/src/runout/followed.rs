//! Whether the indicator followed the surface. In: the readings of a plane and the step of its last digit. Out: whether
//! they stand at one value, their highest or lowest, where the surface goes on.
//!
//! A tip that no longer touches and an indicator at the end of its travel read one number, to the last digit, over a good
//! part of the turn. So does a coarse indicator on a round surface, but only where the surface moves less than its step.
//! Common practice, no source.

use super::harmonics::{self, Turn, count, spread};
use super::noise;
use super::record::{Readings, Stop};
use super::vector::{same_angle, turn_by};

/// So many neighbours at one value are looked at.
const FEWEST_ALIKE: usize = 3;
/// The curve under them moves by more steps than rounding hides.
const STEPS_AT_REST: f64 = 2.0;
/// While turning: so many steps further, half as long again before and after, than a round top falls.
const STEPS_TURNING: f64 = 5.0;
/// One such stretch counts from this share of the record on: a hand may stop at a high spot.
const LONG: f64 = 0.1;

/// Whether the readings stand still at their end where the surface goes on. `step_um`: of the last digit, where it is
/// known; else the readings tell it.
pub fn stopped(readings: &Readings, step_um: Option<f64>) -> bool {
    let values_um = readings.values_um();
    if values_um.is_empty() {
        return false;
    }
    let step_um = step_um.unwrap_or_else(|| noise::step_um(&values_um));
    match readings {
        Readings::Stepped(stops) => stopped_at_rest(stops, step_um),
        Readings::Free(_) | Readings::Marked { .. } => stopped_turning(&values_um, step_um),
        Readings::Noted(_) => false,
    }
}

fn stopped_at_rest(stops: &[Stop], step_um: f64) -> bool {
    let mut turn = stops.to_vec();
    turn.retain(|stop| stop.angle_deg < 360.0);
    turn.sort_by(|a, b| a.angle_deg.total_cmp(&b.angle_deg));
    turn.dedup_by(|a, b| same_angle(a.angle_deg, b.angle_deg));
    let angles_deg: Vec<f64> = turn.iter().map(|stop| stop.angle_deg).collect();
    let readings_um: Vec<f64> = turn.iter().map(|stop| stop.reading_um).collect();
    let round = Turn {
        angles_deg: &angles_deg,
        readings_um: &readings_um,
        times_s: None,
    };
    let Some(fit) = harmonics::fit_order(&round, 1) else {
        return false;
    };
    let curve = |place: usize| (fit.eccentricity() * turn_by(-angles_deg[place])).re;
    longest_at_the_ends(&readings_um).iter().any(|run| {
        run.len() >= FEWEST_ALIKE
            && run.len() < turn.len()
            && spread(run.iter().map(|place| curve(*place))) > STEPS_AT_REST * step_um
    })
}

/// The longest run of neighbours, round the turn, at the highest reading and at the lowest.
fn longest_at_the_ends(readings_um: &[f64]) -> [Vec<usize>; 2] {
    let n = readings_um.len();
    [f64::max, f64::min].map(|farther| {
        let end_um = readings_um.iter().copied().reduce(farther).unwrap_or(0.0);
        let run = |from: usize| -> Vec<usize> {
            (from..from + n)
                .map(|place| place % n)
                .take_while(|place| alike(readings_um[*place], end_um))
                .collect()
        };
        (0..n).map(run).max_by_key(Vec::len).unwrap_or_default()
    })
}

/// At a round top a stretch within one step is followed, as long again outside, by a fall of less than four.
fn stopped_turning(values_um: &[f64], step_um: f64) -> bool {
    [f64::max, f64::min].into_iter().any(|farther| {
        let end_um = values_um.iter().copied().reduce(farther).unwrap_or(0.0);
        let mut cut: Vec<usize> = Vec::new();
        let mut from = 0;
        while from < values_um.len() {
            let length = values_um[from..]
                .iter()
                .take_while(|um| alike(**um, end_um))
                .count();
            if length >= FEWEST_ALIKE && is_cut(values_um, from, length, STEPS_TURNING * step_um) {
                cut.push(length);
            }
            from += length.max(1);
        }
        let share = count(cut.iter().sum()) / count(values_um.len().max(1));
        cut.len() > 1 || share > LONG
    })
}

fn is_cut(values_um: &[f64], from: usize, length: usize, falls_um: f64) -> bool {
    let out = length.div_ceil(2);
    let before = from.checked_sub(out);
    let after = from + length - 1 + out;
    let mut sides = [before, Some(after)]
        .into_iter()
        .flatten()
        .filter_map(|place| values_um.get(place))
        .peekable();
    sides.peek().is_some() && sides.all(|um| (um - values_um[from]).abs() > falls_um)
}

/// Equal to the last digit.
fn alike(a_um: f64, b_um: f64) -> bool {
    (a_um - b_um).abs() < 1e-6
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::runout::Passing;

    fn at_rest(positions: u32, reading: impl Fn(f64) -> f64) -> Readings {
        let angle = |i: u32| 360.0 * f64::from(i) / f64::from(positions);
        Readings::Stepped(
            (0..=positions)
                .map(|i| Stop {
                    angle_deg: angle(i),
                    reading_um: reading(angle(i)),
                })
                .collect(),
        )
    }

    fn turning(turns: f64, reading: impl Fn(f64) -> f64) -> Readings {
        Readings::Free(
            (0..600)
                .map(|i| Passing {
                    time_s: f64::from(i) * 0.02,
                    reading_um: reading(360.0 * turns * f64::from(i) / 600.0),
                })
                .collect(),
        )
    }

    fn rounded(um: f64, step_um: f64) -> f64 {
        (um / step_um).round() * step_um
    }

    #[test]
    fn an_indicator_cut_off_on_either_side_has_not_followed() {
        for positions in [8, 12, 36] {
            for high_deg in [0.0, 10.0, 77.0, 200.0] {
                for end_um in [-4.0, 0.0, 4.0] {
                    let y = |a: f64| rounded(12.0 * (a - high_deg).to_radians().cos(), 0.1);
                    assert!(
                        stopped(&at_rest(positions, |a| y(a).min(end_um)), None),
                        "{positions} {high_deg} {end_um}"
                    );
                    assert!(
                        stopped(&at_rest(positions, |a| y(a).max(end_um)), None),
                        "{positions} {high_deg} {end_um}"
                    );
                    assert!(
                        stopped(&turning(2.5, |a| y(a).min(end_um)), None),
                        "turning {high_deg} {end_um}"
                    );
                    assert!(
                        stopped(&turning(2.5, |a| y(a).max(end_um)), None),
                        "turning {high_deg} {end_um}"
                    );
                }
            }
        }
        let dial = [10.0, 13.0, 15.0, 13.0, 10.0, 10.0, 10.0, 10.0, 10.0];
        let typed = at_rest(8, |a| {
            dial[usize::from(a > 22.0)
                + usize::from(a > 67.0)
                + usize::from(a > 112.0)
                + usize::from(a > 157.0)]
        });
        assert!(stopped(&typed, Some(1.0)));
    }

    #[test]
    fn a_coarse_indicator_on_a_small_runout_has_followed() {
        for step_um in [0.1, 1.0, 2.54, 10.0] {
            for steps in [0.6, 1.0, 2.0, 3.0, 5.0, 12.0] {
                for positions in [4, 6, 8, 12, 36] {
                    for high_deg in 0..18 {
                        let high_deg = 20.0 * f64::from(high_deg) + 1.0;
                        let y = |a: f64| {
                            rounded(
                                steps * step_um * (a - high_deg).to_radians().cos() + 0.3 * step_um,
                                step_um,
                            )
                        };
                        for told in [None, Some(step_um)] {
                            assert!(
                                !stopped(&at_rest(positions, y), told),
                                "{step_um} {steps} {positions} {high_deg} {told:?}"
                            );
                        }
                        assert!(
                            !stopped(&turning(2.5, y), None),
                            "turning {step_um} {steps} {high_deg}"
                        );
                    }
                }
            }
        }
    }

    #[test]
    fn a_flat_record_and_an_exact_one_are_not_cut_off() {
        assert!(!stopped(&at_rest(8, |_| 0.0), None));
        assert!(!stopped(&turning(2.5, |_| 0.0), None));
        assert!(!stopped(
            &at_rest(8, |a| 7.0 * (a - 22.5).to_radians().cos()),
            None
        ));
        assert!(!stopped(
            &turning(2.5, |a| 7.0 * a.to_radians().cos()),
            None
        ));
    }
}
