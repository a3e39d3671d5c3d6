//! Stepped turns. In: readings at rest, position by position. Out: the closure, the drift it shows, and the figures.

use super::figures::Figures;
use super::harmonics::{self, Turn, count, spread};
use super::record::{Place, Stop};
use super::remarks::PlaneNote;
use super::result::Method;
use super::vector::{SAME_ANGLE_DEG, distinct_angles_deg, same_angle};

/// Fewest readings with which the drift can be more than a guess about one step.
const FEWEST_POSITIONS: usize = 2;

/// Evaluates a stepped turn.
///
/// A row at 360°, or 0° again as the last row, is the closure: with a reading at 0° it shows the drift, (closure −
/// reading at 0°), which is spread evenly over the steps and taken off; it is used for nothing else.
pub fn evaluate(place: Place, stops: &[Stop]) -> Figures {
    let turn = ClosedTurn::new(stops);
    let mut figures = Figures::of_spread(place, Method::Stepped, &turn.as_read_um());
    figures.stops = Some(turn.positions());
    figures.notes = turn.notes();
    if turn.positions() < FEWEST_POSITIONS {
        figures.tir_um = figures.tir_as_read_um;
        return figures;
    }
    figures.drift_um = turn.drift_um;
    let (angles_deg, readings_um) = turn.without_drift();
    figures.tir_um = Some(spread(readings_um.iter().copied()));
    let readings = Turn {
        angles_deg: &angles_deg,
        readings_um: &readings_um,
        times_s: None,
    };
    figures.take_fit(&readings, harmonics::fit(&readings));
    add_what_the_positions_missed(&mut figures, &readings);
    figures
}

/// The fitted curve tells how far the extreme readings are from the extremes of the surface.
fn add_what_the_positions_missed(figures: &mut Figures, turn: &Turn) {
    let (Some(fit), Some(tir_um)) = (&figures.harmonics, figures.tir_um) else {
        return;
    };
    figures.low_by_um = Some((fit.peak_to_valley_um() - tir_um).max(0.0));
    let order = |a: &usize, b: &usize| turn.readings_um[*a].total_cmp(&turn.readings_um[*b]);
    let slope = |reading: Option<usize>| reading.map_or(0.0, |i| fit.slope_at(turn.angles_deg[i]));
    let all = 0..turn.readings_um.len();
    figures.tir_per_radian_um = slope(all.clone().max_by(order)).hypot(slope(all.min_by(order)));
}

/// Whether the first position was read again after the turn.
pub fn is_closed(stops: &[Stop]) -> bool {
    ClosedTurn::new(stops).closure().is_some()
}

/// The rows of a turn in the order taken, with the closure told apart.
struct ClosedTurn {
    rows: Vec<Stop>,
    closes: Vec<bool>,
    at_zero: Option<usize>,
    drift_um: Option<f64>,
    zero_read_at_360: bool,
}

impl ClosedTurn {
    fn new(stops: &[Stop]) -> Self {
        let mut rows = stops.to_vec();
        let has_zero = rows.iter().any(is_at_zero);
        // The reading after the full turn cannot lie among the others: such rows are not in the order taken, but the
        // angle, which grows as the spindle turns, is.
        if has_zero
            && rows
                .iter()
                .rposition(is_at_360)
                .is_some_and(|last| last + 1 < rows.len())
        {
            rows.sort_by(|a, b| a.angle_deg.total_cmp(&b.angle_deg));
        }
        let closes = closing_rows(&rows, has_zero);
        let mut turn = Self {
            at_zero: rows.iter().position(is_at_zero),
            zero_read_at_360: !has_zero && rows.iter().any(is_at_360),
            rows,
            closes,
            drift_um: None,
        };
        turn.drift_um = turn
            .closure()
            .map(|(zero, closure)| turn.rows[closure].reading_um - turn.rows[zero].reading_um);
        turn
    }

    /// Row of the reading at 0° and row of the closure.
    fn closure(&self) -> Option<(usize, usize)> {
        let closure = self.closes.iter().rposition(|closes| *closes)?;
        Some((self.at_zero?, closure))
    }

    fn readings(&self) -> impl Iterator<Item = (usize, &Stop)> {
        self.rows
            .iter()
            .enumerate()
            .filter(|(row, _)| !self.closes[*row])
    }

    fn positions(&self) -> usize {
        let angles: Vec<f64> = self.readings().map(|(_, stop)| stop.angle_deg).collect();
        distinct_angles_deg(&angles).len()
    }

    fn as_read_um(&self) -> Vec<f64> {
        self.readings().map(|(_, stop)| stop.reading_um).collect()
    }

    fn without_drift(&self) -> (Vec<f64>, Vec<f64>) {
        let drift_at = |row: usize| match (self.closure(), self.drift_um) {
            (Some((zero, closure)), Some(drift_um)) => {
                drift_um * (count(row) - count(zero)) / (count(closure) - count(zero))
            }
            _ => 0.0,
        };
        self.readings()
            .map(|(row, stop)| (stop.angle_deg, stop.reading_um - drift_at(row)))
            .unzip()
    }

    fn notes(&self) -> Vec<PlaneNote> {
        let mut notes = Vec::new();
        if self.positions() < FEWEST_POSITIONS {
            notes.push(PlaneNote::OnePosition);
        } else if self.drift_um.is_none() {
            notes.push(PlaneNote::DriftNotKnown);
        }
        if self.zero_read_at_360 {
            notes.push(PlaneNote::ReadAt360);
        }
        notes
    }
}

fn closing_rows(rows: &[Stop], has_zero: bool) -> Vec<bool> {
    let mut closes: Vec<bool> = rows
        .iter()
        .map(|stop| has_zero && is_at_360(stop))
        .collect();
    if let Some((last, before)) = rows.split_last()
        && is_at_zero(last)
        && before.iter().any(is_at_zero)
        && before.iter().any(|stop| !same_angle(stop.angle_deg, 0.0))
    {
        closes[before.len()] = true;
    }
    closes
}

fn is_at_zero(stop: &Stop) -> bool {
    stop.angle_deg <= SAME_ANGLE_DEG
}

fn is_at_360(stop: &Stop) -> bool {
    stop.angle_deg >= 360.0 - SAME_ANGLE_DEG
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stops(rows: &[(f64, f64)]) -> Vec<Stop> {
        rows.iter()
            .map(|&(angle_deg, reading_um)| Stop {
                angle_deg,
                reading_um,
            })
            .collect()
    }

    /// Eccentricity 5 µm at 30° on 8 positions, drifting by 0.4 µm a step.
    fn drifting(closing_angle_deg: f64) -> Vec<Stop> {
        (0..=8)
            .map(|step| {
                let angle = 45.0 * f64::from(step);
                Stop {
                    angle_deg: if step == 8 { closing_angle_deg } else { angle },
                    reading_um: 100.0
                        + 5.0 * (angle - 30.0).to_radians().cos()
                        + 0.4 * f64::from(step),
                }
            })
            .collect()
    }

    #[test]
    fn the_closure_takes_the_drift_off_wherever_it_is_written() {
        let mut shuffled = drifting(360.0);
        shuffled.swap(2, 8);
        shuffled.swap(5, 7);
        for rows in [drifting(360.0), drifting(0.0), shuffled] {
            let figures = evaluate(Place::default(), &rows);
            assert!((figures.drift_um.expect("closed") - 3.2).abs() < 1e-9);
            let eccentricity = figures.eccentricity().expect("eight positions");
            assert!((eccentricity - super::super::vector::vector(5.0, 30.0)).norm() < 1e-9);
            assert!((figures.tir_um.expect("read") - 9.659_258_262_890_683).abs() < 1e-9);
            assert_eq!(figures.stops, Some(8));
        }
    }

    #[test]
    fn two_positions_give_a_tir_and_say_what_an_eccentricity_needs() {
        let figures = evaluate(Place::default(), &stops(&[(0.0, 3.0), (180.0, -4.0)]));
        assert_eq!(figures.tir_um, Some(7.0));
        assert!(figures.eccentricity().is_none());
        assert!(
            figures.notes.contains(&PlaneNote::FewPositions {
                positions: 2,
                fewest: 4
            }),
            "{:?}",
            figures.notes
        );
        assert_eq!(figures.low_by_um, None);
    }

    #[test]
    fn one_position_and_its_closure_show_no_drift_of_a_turn() {
        let figures = evaluate(
            Place::default(),
            &stops(&[(0.0, 3.0), (0.0, 3.5), (360.0, 5.0)]),
        );
        assert_eq!((figures.drift_um, figures.tir_um), (None, Some(0.5)));
    }

    #[test]
    fn a_reading_at_360_without_one_at_0_stands_for_it() {
        let rows = [
            (45.0, 0.0),
            (135.0, 1.0),
            (225.0, 2.0),
            (300.0, 1.5),
            (360.0, 9.0),
        ];
        let figures = evaluate(Place::default(), &stops(&rows));
        assert_eq!(
            (figures.stops, figures.tir_um, figures.drift_um),
            (Some(5), Some(9.0), None)
        );
    }

    #[test]
    fn positions_that_miss_the_high_spot_say_by_how_much() {
        let rows: Vec<Stop> = (0..4)
            .map(|i| 90.0 * f64::from(i))
            .map(|angle| Stop {
                angle_deg: angle,
                reading_um: 10.0 * (angle - 45.0).to_radians().cos(),
            })
            .collect();
        let figures = evaluate(Place::default(), &rows);
        let low = figures.low_by_um.expect("fitted");
        assert!(
            (low - (20.0 - 200.0_f64.sqrt())).abs() < 1e-3,
            "low by {low} µm"
        );
    }
}
