//! Whether the indicator followed the surface. In: the readings of a plane and the step of its last digit. Out: whether
//! they stand at one value, their highest or lowest, where the surface goes on; and, where they flicker there, how far it may
//! go on.
//!
//! A tip that no longer touches and an indicator at the end of its travel read one number, to the last digit, over a good
//! part of the turn. So does a coarse indicator on a round surface, but only where the surface moves less than its step.
//! Common practice, no source.

use super::harmonics::{self, Turn, count, spread};
use super::noise;
use super::record::{Passing, Readings, Stop, once_round};
use super::turning;
use super::vector::turn_by;

/// So many neighbours at one value are looked at.
const FEWEST_ALIKE: usize = 3;
/// The curve under them moves by more steps than rounding hides.
const STEPS_AT_REST: f64 = 2.0;
/// While turning: so many steps further, half as long again before and after, than a round top falls.
const STEPS_TURNING: f64 = 5.0;
/// One such stretch counts from this share of the record on: a hand may stop at a high spot.
const LONG: f64 = 0.1;

/// A tip that does not touch, or an indicator at its stop, flickers by so many steps, or by this share of the TIR.
const FLICKER_STEPS: f64 = 4.0;
const FLICKER_SHARE: f64 = 0.05;
/// Fewest readings besides that tell the curve.
const FEWEST_BESIDES: usize = 3;
/// The curve goes on by so many times what it leaves of the readings.
const GOES_ON: f64 = 8.0;
/// And by so many times what the curve through a few readings is known to.
const SURE: f64 = 4.0;
/// Form told by two harmonics, or three of twelve readings and more, explains the readings better than a stop does by this.
const BETTER: f64 = 2.0;
const THREE_FROM: usize = 12;
/// More positions are taken together: so many show a stop.
const MOST_POSITIONS: usize = 36;
/// While turning without a mark: the share of every turn, at least twice, that a round top does not take. It takes a seventh.
const LONG_EACH_TURN: f64 = 0.3;
/// By so many standard deviations of noise besides.
const FLICKER_NOISES: f64 = 6.0;
/// Readings are taken together to this many means a turn …
const MEANS_A_TURN: f64 = 48.0;
const FEWEST_MEANS_A_TURN: f64 = 32.0;
/// … and what leaves an end for less than this share of a turn has not left it.
const GAP_SHARE: f64 = 0.05;
/// More of a turn than this is no turn any more.
const MOST_SHARE: f64 = 0.8;
/// Above this share of the TIR noise hides it.
const MOST_FLICKER: f64 = 0.15;
/// While turning, where a stretch has to be longer than a round top within it by this share of a turn.
const MOST_FLICKER_TURNING: f64 = 0.3;
const LONGER_THAN_ROUND: f64 = 0.06;

/// How far the surface may go on beyond readings that flicker at their highest or lowest where it does, µm; none where they
/// do not.
pub fn beyond_um(readings: &Readings, step_um: Option<f64>) -> Option<f64> {
    let values_um = readings.values_um();
    let step_um = step_um.unwrap_or_else(|| noise::step_um(&values_um));
    match readings {
        Readings::Stepped(stops) => beyond_at_rest(stops, step_um),
        Readings::Free(readings) => beyond_turning(readings, step_um),
        Readings::Marked { readings, edges_s } => {
            // What goes on under the tip may be form besides, which hides it from a curve through the rest.
            let stops = turning::round(readings, edges_s, MOST_POSITIONS);
            let by_angles = beyond_at_rest(&stops, step_um);
            by_angles.or_else(|| beyond_turning(readings, step_um))
        }
        Readings::Noted(_) => None,
    }
}

/// The same of readings at rest that stand at one value, to the last digit; none where too few others tell the curve.
pub fn beyond_stopped_um(readings: &Readings) -> Option<f64> {
    let Readings::Stepped(stops) = readings else {
        return None;
    };
    let turn = once_round(stops);
    let angles_deg: Vec<f64> = turn.iter().map(|stop| stop.angle_deg).collect();
    let as_read_um: Vec<f64> = turn.iter().map(|stop| stop.reading_um).collect();
    let runs = longest_at_the_ends(&as_read_um).into_iter();
    let beyond = runs.zip([-1.0, 1.0]).filter_map(|(run, sign)| {
        let readings_um: Vec<f64> = as_read_um.iter().map(|um| sign * um).collect();
        let told = run.len() >= FEWEST_ALIKE && run.len() + FEWEST_BESIDES <= turn.len();
        let arc = Arc::at(&angles_deg, &readings_um, *run.first()?, run.len(), 0.0);
        let arc = arc.filter(|_| told)?;
        Some(if arc.goes_on { arc.beyond_um } else { 0.0 })
    });
    beyond.reduce(f64::max)
}

/// Of every stretch of positions taken for a stop, the one that leaves least: a curve once a turn through the others, and one
/// value there.
fn beyond_at_rest(stops: &[Stop], step_um: f64) -> Option<f64> {
    let turn = once_round(stops);
    let n = turn.len();
    if !(FEWEST_ALIKE + FEWEST_BESIDES..=MOST_POSITIONS).contains(&n) {
        return None;
    }
    let angles_deg: Vec<f64> = turn.iter().map(|stop| stop.angle_deg).collect();
    let as_read_um: Vec<f64> = turn.iter().map(|stop| stop.reading_um).collect();
    let least_um2 = step_um.powi(2) / 12.0;
    let tir_um = spread(as_read_um.iter().copied());
    let flicker_um = (FLICKER_STEPS * step_um).clamp(FLICKER_SHARE * tir_um, MOST_FLICKER * tir_um);
    let mut best: Option<Arc> = None;
    for sign in [1.0, -1.0] {
        let readings_um: Vec<f64> = as_read_um.iter().map(|um| sign * um).collect();
        for (from, length) in (FEWEST_ALIKE..=(n - FEWEST_BESIDES).min(3 * n / 4))
            .flat_map(|length| (0..n).map(move |from| (from, length)))
        {
            let found = Arc::at(&angles_deg, &readings_um, from, length, flicker_um);
            best = [best, found.filter(|arc| arc.goes_on)]
                .into_iter()
                .flatten()
                .min_by(|a, b| a.squares_um2.total_cmp(&b.squares_um2));
        }
    }
    let best = best?;
    let variance_um2 = best.squares_um2 / count(n - 4);
    let round = Turn {
        angles_deg: &angles_deg,
        readings_um: &as_read_um,
        times_s: None,
    };
    let form = if n < THREE_FROM { 2 } else { 3 };
    let by_form_um2 = harmonics::fit_order(&round, form)
        .filter(|fit| fit.dof > 0)
        .map_or(f64::INFINITY, |fit| {
            fit.residual_squares_um2 / count(fit.dof)
        });
    let standard_um = (variance_um2 + least_um2).sqrt();
    let goes_on = best.beyond_um > standard_um * GOES_ON.max(SURE * best.standard_error_per_noise);
    let by_no_form = variance_um2 <= BETTER * (by_form_um2 + least_um2);
    (goes_on && by_no_form).then_some(best.beyond_um)
}

/// A stretch taken for a stop.
struct Arc {
    /// What curve and stop leave, µm².
    squares_um2: f64,
    /// The curve under it lies beyond it.
    goes_on: bool,
    /// How far the curve goes on, µm.
    beyond_um: f64,
    /// Standard error of the curve for a reading noise of 1.
    standard_error_per_noise: f64,
}

impl Arc {
    /// At the lowest readings; `None` where they are not, or no curve is told by the others.
    fn at(
        angles_deg: &[f64],
        readings_um: &[f64],
        from: usize,
        length: usize,
        flicker_um: f64,
    ) -> Option<Self> {
        let n = readings_um.len();
        let place = |at: usize| (from + at) % n;
        let stopped_um: Vec<f64> = (0..length).map(|at| readings_um[place(at)]).collect();
        let others: Vec<usize> = (length..n).map(place).collect();
        let others_um: Vec<f64> = others.iter().map(|at| readings_um[*at]).collect();
        let others_deg: Vec<f64> = others.iter().map(|at| angles_deg[*at]).collect();
        let highest_um = stopped_um.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let lowest_um = others_um.iter().copied().fold(f64::INFINITY, f64::min);
        if highest_um > lowest_um + flicker_um {
            return None;
        }
        let fit = harmonics::fit_order(
            &Turn {
                angles_deg: &others_deg,
                readings_um: &others_um,
                times_s: None,
            },
            1,
        )?;
        let at_um = crate::statistics::mean(&stopped_um);
        let curve_um = |at: usize| {
            let angle_deg = angles_deg[place(at)];
            fit.mean_um + (fit.eccentricity() * turn_by(-angle_deg)).re
        };
        let under_um = (0..length).map(|at| at_um - curve_um(at)).sum::<f64>();
        let flicker_um2: f64 = stopped_um.iter().map(|um| (um - at_um).powi(2)).sum();
        Some(Self {
            goes_on: under_um > 0.0,
            squares_um2: fit.residual_squares_um2 + flicker_um2,
            standard_error_per_noise: fit.standard_error_per_noise,
            beyond_um: at_um - (fit.mean_um - fit.eccentricity().norm()),
        })
    }
}

/// Without angles: every turn spends longer at one end than a round top takes. Turned steadily, that much of the turn is
/// missing there. A quick indicator is looked at in means of so many readings as leave enough to tell a turn by: their noise is
/// less, and none of them alone parts a stretch in two.
fn beyond_turning(readings: &[Passing], step_um: f64) -> Option<f64> {
    let as_read_um: Vec<f64> = readings.iter().map(|r| r.reading_um).collect();
    let noise_um = noise::standard_um(&as_read_um);
    let means_um = |over: usize| -> Vec<f64> {
        let together = as_read_um.chunks_exact(over);
        together.map(crate::statistics::mean).collect()
    };
    // Noise makes a turn of quick readings look like several: it is told from means of them.
    let at_least = turning::told_readings_a_turn(&as_read_um)?;
    let few = turning::readings_for(at_least, FEWEST_MEANS_A_TURN);
    let read_a_turn = turning::told_readings_a_turn(&means_um(few))? * count(few);
    let over = turning::readings_for(read_a_turn, MEANS_A_TURN);
    let values_um = means_um(over);
    let a_turn = read_a_turn / count(over);
    let tir_um = spread(values_um.iter().copied());
    let flicker_um = step_um
        .max(FLICKER_SHARE * tir_um)
        .max(FLICKER_NOISES * noise_um / count(over).sqrt());
    // A round top that is read in steps is flat for one of them besides.
    let within = (flicker_um + step_um) / tir_um;
    if tir_um <= 0.0 || within > MOST_FLICKER_TURNING {
        return None;
    }
    // So much of a turn a round top lies within that of its end.
    let round_share = (1.0 - 2.0 * within).acos() / std::f64::consts::PI;
    let long_share = LONG_EACH_TURN.max(round_share + LONGER_THAN_ROUND);
    let ends = [f64::max, f64::min].into_iter();
    let shares = ends.filter_map(|farther| {
        let end_um = values_um.iter().copied().reduce(farther)?;
        let mut there: Vec<bool> = values_um
            .iter()
            .map(|um| (um - end_um).abs() <= flicker_um)
            .collect();
        close_gaps(&mut there, GAP_SHARE * a_turn);
        let runs: Vec<&[bool]> = there.chunk_by(|a, b| a == b).collect();
        let last = runs.len().saturating_sub(1);
        let mut whole = true;
        let (mut inside, mut at_an_end) = (Vec::new(), Vec::new());
        for (place, run) in runs.iter().enumerate().filter(|(_, run)| run[0]) {
            let share = count(run.len()) / a_turn;
            let is_inside = place > 0 && place < last;
            whole &= !is_inside || share >= long_share;
            if share >= long_share {
                if is_inside {
                    &mut inside
                } else {
                    &mut at_an_end
                }
                .push(share);
            }
        }
        let shown = if inside.is_empty() {
            &at_an_end
        } else {
            &inside
        };
        let told = whole && inside.len() + at_an_end.len() > 1;
        told.then(|| crate::statistics::median(shown).min(MOST_SHARE))
    });
    let share = shares.reduce(f64::max)?;
    // A circle of which so much is cut off spreads over 1 + cos(π·share) of its half.
    let seen = f64::midpoint(1.0, (std::f64::consts::PI * share).cos());
    Some(tir_um * (1.0 / seen - 1.0))
}

/// What lies between two stretches at an end for no longer than so many readings is noise.
fn close_gaps(there: &mut [bool], most: f64) {
    let mut last_there: Option<usize> = None;
    for at in 0..there.len() {
        if !there[at] {
            continue;
        }
        if let Some(last) = last_there
            && at > last + 1
            && count(at - last - 1) <= most
        {
            there[last..at].fill(true);
        }
        last_there = Some(at);
    }
}

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
    let turn = once_round(stops);
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
