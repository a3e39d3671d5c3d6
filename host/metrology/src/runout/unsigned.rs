//! Whether a dial was written without its signs. In: the readings of a stepped plane. Out: whether they turn into one
//! swing a turn once a part of them is taken below zero.
//!
//! A dial that shows both sides of zero, written as 3 2 0 2 3 2 0 2, has half its runout left or less. All readings lie on
//! one side of zero, and the curve is folded there. Ovality that was zeroed at its low spot looks the same. Common practice,
//! no source.

use super::harmonics::{self, Turn};
use super::record::{Readings, once_round};

/// Unfolded, what one swing a turn leaves goes down to this share, in squares.
const BETTER: f64 = 0.25;

/// Whether the signs may have been left off.
pub fn may_lack_signs(readings: &Readings) -> bool {
    let Readings::Stepped(stops) = readings else {
        return false;
    };
    let turn = once_round(stops);
    let readings_um: Vec<f64> = turn.iter().map(|stop| stop.reading_um).collect();
    let one_side =
        readings_um.iter().all(|um| *um >= 0.0) || readings_um.iter().all(|um| *um <= 0.0);
    let angles_deg: Vec<f64> = turn.iter().map(|stop| stop.angle_deg).collect();
    let left_um2 = |readings_um: &[f64]| {
        let round = Turn {
            angles_deg: &angles_deg,
            readings_um,
            times_s: None,
        };
        harmonics::fit_order(&round, 1).map(|fit| fit.residual_squares_um2)
    };
    let Some(as_read_um2) = left_um2(&readings_um).filter(|_| one_side) else {
        return false;
    };
    let mut arcs = (0..readings_um.len())
        .flat_map(|from| (from + 1..=readings_um.len()).map(move |to| from..to));
    arcs.any(|arc| {
        let mut unfolded_um = readings_um.clone();
        unfolded_um[arc].iter_mut().for_each(|um| *um = -*um);
        left_um2(&unfolded_um).is_some_and(|um2| um2 < BETTER * as_read_um2)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::runout::Stop;
    use crate::runout::harmonics::count;

    fn lacks(readings_um: &[f64]) -> bool {
        let step_deg = 360.0 / count(readings_um.len());
        let stops = readings_um.iter().enumerate().map(|(place, um)| Stop {
            angle_deg: count(place) * step_deg,
            reading_um: *um,
        });
        may_lack_signs(&Readings::Stepped(stops.collect()))
    }

    #[test]
    fn a_curve_folded_at_zero_is_told_wherever_it_folds() {
        for positions in [6_u32, 8, 12, 36] {
            for start in 0..20 {
                let folded: Vec<f64> = (0..positions)
                    .map(|place| {
                        let turned = 360.0 * f64::from(place) / f64::from(positions);
                        let angle = turned + 7.0 * f64::from(start) + 2.0;
                        (60.0 * angle.to_radians().cos()).round().abs() / 10.0
                    })
                    .collect();
                assert!(lacks(&folded), "{positions} {start} {folded:?}");
            }
        }
    }

    #[test]
    fn a_dial_zeroed_at_its_low_or_high_spot_has_all_its_signs() {
        assert!(!lacks(&[8.0, 7.0, 4.0, 1.0, 0.0, 1.0, 4.0, 7.0]));
        assert!(!lacks(&[0.0, -1.0, -4.0, -7.0, -8.0, -7.0, -4.0, -1.0]));
        assert!(!lacks(&[4.0, 3.0, 0.0, -3.0, -4.0, -3.0, 0.0, 3.0]));
        assert!(!lacks(&[44.0, 43.0, 40.0, 37.0, 36.0, 37.0, 40.0, 43.0]));
        assert!(!lacks(&[0.0; 8]));
        assert!(!lacks(&[]));
    }
}
