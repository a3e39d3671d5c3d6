//! Readings that stand alone. In: readings of a turn without stopping. Out: how far they would spread without those that stand
//! off all their neighbours: a knock at the stand or a slipped digit, not the surface, which passes in many readings.

use super::harmonics::{count, spread};
use crate::statistics::{median, noise};

/// On either side.
const NEIGHBOURS: usize = 2;
/// Off the neighbours by more than so many times the noise.
const NOISES: f64 = 8.0;
/// And by more than this share of what the others spread over: a surface read often goes from side to side in many readings.
const SHARE: f64 = 0.5;
/// Of the readings at most this share: more of them are no accident.
const MOST: f64 = 0.01;
/// Readings below which none can be told alone.
const FEWEST: usize = 50;

/// Spread of the others, µm; none where no reading stands alone.
pub fn tir_without_um(values_um: &[f64]) -> Option<f64> {
    if values_um.len() < FEWEST {
        return None;
    }
    let noise_um = noise(values_um);
    let off: Vec<f64> = (0..values_um.len())
        .map(|place| {
            let from = place.saturating_sub(NEIGHBOURS);
            let to = (place + NEIGHBOURS + 1).min(values_um.len());
            let around = [&values_um[from..place], &values_um[place + 1..to]].concat();
            (values_um[place] - median(&around)).abs()
        })
        .collect();
    let others = |most_um: f64| {
        let kept = values_um.iter().zip(&off);
        kept.filter(move |(_, off)| **off <= most_um)
            .map(|(value, _)| *value)
    };
    let by_noise = NOISES * noise_um;
    let tir_um = spread(others(by_noise));
    let most_um = by_noise.max(SHARE * tir_um);
    let alone = off.iter().filter(|off| **off > most_um).count();
    let few = alone > 0 && count(alone) <= (MOST * count(values_um.len())).max(1.0);
    few.then(|| spread(others(most_um)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn turn(alone: &[(usize, f64)]) -> Vec<f64> {
        let mut values: Vec<f64> = (0..400)
            .map(|place| 3.0 * (f64::from(place) * 0.05).cos() + 0.1 * f64::from(place % 3))
            .collect();
        for (place, by_um) in alone {
            values[*place] += by_um;
        }
        values
    }

    #[test]
    fn one_reading_off_all_the_others_is_told_and_a_chip_in_the_wall_is_not() {
        assert_eq!(tir_without_um(&turn(&[])), None);
        let without = tir_without_um(&turn(&[(200, 40.0)])).expect("one stands alone");
        assert!((6.0..6.5).contains(&without), "{without}");
        assert!(tir_without_um(&turn(&[(0, -40.0)])).is_some());
        let chip: Vec<_> = (200..206).map(|place| (place, 40.0)).collect();
        assert_eq!(tir_without_um(&turn(&chip)), None);
        let many: Vec<_> = (0..40).map(|place| (10 * place, 40.0)).collect();
        assert_eq!(tir_without_um(&turn(&many)), None);
    }
}
