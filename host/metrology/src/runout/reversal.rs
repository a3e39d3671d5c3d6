//! Spindle and bar told apart. In: eccentricity vectors with the bar in several orientations and seatings. Out: what
//! stays with the spindle, what follows the bar, and how well the seat repeats.

use super::figures::Figures;
use super::harmonics::count;
use super::nose::BarTurns;
use super::record::Place;
use super::remarks::RunoutNote;
use super::result::{FourSeatingsResult, ReversalResult};
use super::vector::{Vector, direction_deg, distinct_angles_deg, length_um, same_angle, turn_by};

/// The separated parts may be this many times less certain than from evenly spread orientations.
const BUNCHING: f64 = 3.0;
/// Orientations of four seatings may be this far from 90° apart, degrees.
const QUARTER_TURN_TOLERANCE_DEG: f64 = 5.0;

/// A vector measured with the bar turned by an angle in the spindle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Turned {
    /// How far the bar was turned, degrees.
    pub orientation_deg: f64,
    /// What was measured, in the spindle's frame.
    pub measured: Vector,
}

/// What stays and what turns with the bar.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Separation {
    /// Stays with the spindle.
    pub stays: Vector,
    /// Turns with the bar, in the bar's frame.
    pub turns: Vector,
    /// Variance of either part's components for a variance of 1 of the measured ones.
    pub variance_factor: f64,
    /// Sum of squared lengths of what neither explains.
    pub residual_squares: f64,
    /// Components measured less components fitted.
    pub dof: usize,
}

/// Separates measured = stays + turns·e^{i·order·o} by least squares over any orientations o of the bar.
///
/// `order` 1 for eccentricities, 2 for ovality, …: half turns say nothing about even orders. `None` where the
/// orientations do not tell the two apart. For one turn of 180° the parts are half sum and half difference.
/// Source: reversal after Donaldson, Annals of the CIRP 21/1 (1972), in vector form; turning through several equal
/// steps is the multi-step method.
pub fn separate(order: u32, turned: &[Turned]) -> Option<Separation> {
    let n = count(turned.len());
    let factor = |t: &Turned| turn_by(f64::from(order) * t.orientation_deg);
    let q: Vector = turned.iter().map(factor).sum();
    let sum: Vector = turned.iter().map(|t| t.measured).sum();
    let back: Vector = turned.iter().map(|t| t.measured * factor(t).conj()).sum();
    let determinant = n * n - q.norm_sqr();
    if turned.len() < 2 || determinant * BUNCHING.powi(2) < n * n {
        return None;
    }
    let stays = (sum * n - q * back) / determinant;
    let turns = (back * n - q.conj() * sum) / determinant;
    let left = |t: &Turned| (t.measured - stays - turns * factor(t)).norm_sqr();
    Some(Separation {
        stays,
        turns,
        variance_factor: n / determinant,
        residual_squares: turned.iter().map(left).sum(),
        dof: 2 * turned.len() - 4,
    })
}

/// How well the bar comes back to its place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SeatScatter {
    /// Standard deviation of a component between seatings, µm.
    pub standard_um: f64,
    /// Degrees of freedom; `None`: assumed, not measured.
    pub dof: Option<usize>,
}

/// Spindle and bar at one height.
#[derive(Clone, Debug)]
pub struct SeparatedHeight {
    /// Surface and height; seating and orientation left out.
    pub place: Place,
    /// Different orientations.
    pub orientations: usize,
    /// Eccentricities.
    pub once: Separation,
    /// Ovality, where the orientations tell it apart.
    pub twice: Option<Separation>,
    /// How well the seat repeats at this height.
    pub seat: SeatScatter,
    /// Whether the bar part may as well be the seat.
    pub bar_or_seat: bool,
}

impl SeparatedHeight {
    /// Standard uncertainty of a component of spindle or bar part, µm.
    pub fn part_standard_um(&self) -> f64 {
        self.seat.standard_um * self.once.variance_factor.sqrt()
    }

    /// Spindle part as a TIR: twice its eccentricity, µm.
    pub fn spindle_tir_um(&self) -> f64 {
        2.0 * length_um(self.once.stays)
    }

    /// Bar part as a TIR, µm.
    pub fn bar_tir_um(&self) -> f64 {
        2.0 * length_um(self.once.turns)
    }

    /// As the result states it.
    pub fn to_result(&self) -> ReversalResult {
        let length = |v: Vector| Some(length_um(v));
        ReversalResult {
            height_mm: self.place.height_mm,
            orientations: self.orientations,
            spindle_eccentricity_um: length_um(self.once.stays),
            spindle_direction_deg: direction_deg(self.once.stays),
            bar_eccentricity_um: length_um(self.once.turns),
            bar_direction_deg: direction_deg(self.once.turns),
            spindle_standard_um: self.part_standard_um(),
            bar_or_seat: self.bar_or_seat,
            spindle_ovality_um: self.twice.and_then(|s| length(s.stays)),
            bar_ovality_um: self.twice.and_then(|s| length(s.turns)),
        }
    }
}

/// Seat scatter taken on where it was not measured: 1 µm at the nose and 1 µm more every 150 mm out, since a speck in
/// the taper tilts the bar (common practice).
pub fn assumed_seat_um(height_mm: Option<f64>) -> f64 {
    1.0 + height_mm.unwrap_or(0.0).abs() / 150.0
}

/// Separates every height of the bar that was read in orientations enough, with remarks on those that were not.
pub fn of_check(
    figures: &[Figures],
    assumed_um: Option<f64>,
    turns: BarTurns,
) -> (Vec<SeparatedHeight>, Vec<RunoutNote>) {
    let mut separated = Vec::new();
    let mut notes = Vec::new();
    for group in heights(figures) {
        match separate_height(&group, assumed_um, turns) {
            Ok(height) => separated.push(height),
            Err(note) => notes.push(note),
        }
    }
    if separated.iter().any(|height| height.twice.is_none()) {
        notes.push(RunoutNote::OvalityNotToldApart);
    }
    notes.dedup();
    (separated, notes)
}

/// Planes of the bar with an eccentricity, gathered by height.
pub fn heights(figures: &[Figures]) -> Vec<Vec<&Figures>> {
    let mut groups: Vec<Vec<&Figures>> = Vec::new();
    for plane in figures
        .iter()
        .filter(|f| f.place.may_be_bar() && f.eccentricity().is_some())
    {
        match groups
            .iter_mut()
            .find(|group| group[0].place.same_height(&plane.place))
        {
            Some(group) => group.push(plane),
            None => groups.push(vec![plane]),
        }
    }
    groups
}

fn separate_height(
    group: &[&Figures],
    assumed_um: Option<f64>,
    turns: BarTurns,
) -> Result<SeparatedHeight, RunoutNote> {
    let orientations_deg: Vec<f64> = group
        .iter()
        .map(|f| f.place.orientation_or_zero_deg())
        .collect();
    let orientations = distinct_angles_deg(&orientations_deg);
    if orientations.len() < 2 || turns == BarTurns::OneWay {
        return Err(not_told_apart(turns));
    }
    let once = separate(1, &turned(group, 1)).ok_or(RunoutNote::OrientationsClose)?;
    let place = group[0].place.of_any_seating();
    let seatings = |orientation: &f64| {
        orientations_deg
            .iter()
            .filter(|o| same_angle(**o, *orientation))
            .count()
    };
    Ok(SeparatedHeight {
        place,
        orientations: orientations.len(),
        once,
        twice: separate_ovality(group),
        seat: seat_scatter(group, &once, assumed_um),
        bar_or_seat: orientations.iter().any(|o| seatings(o) < 2),
    })
}

fn not_told_apart(turns: BarTurns) -> RunoutNote {
    match turns {
        BarTurns::OneWay => RunoutNote::KeysOneWay,
        _ => RunoutNote::OneOrientation,
    }
}

fn turned(group: &[&Figures], order: usize) -> Vec<Turned> {
    group
        .iter()
        .filter_map(|f| {
            Some(Turned {
                orientation_deg: f.place.orientation_or_zero_deg(),
                measured: *f.harmonics.as_ref()?.vectors.get(order - 1)?,
            })
        })
        .collect()
}

fn separate_ovality(group: &[&Figures]) -> Option<Separation> {
    let turned = turned(group, 2);
    (turned.len() == group.len())
        .then(|| separate(2, &turned))
        .flatten()
}

fn seat_scatter(group: &[&Figures], once: &Separation, assumed_um: Option<f64>) -> SeatScatter {
    if once.dof > 0 {
        return SeatScatter {
            standard_um: (once.residual_squares / count(once.dof)).sqrt(),
            dof: Some(once.dof),
        };
    }
    let noise_um2: f64 = group
        .iter()
        .filter_map(|f| f.eccentricity_standard_um())
        .map(|u| u * u)
        .sum();
    let seat_um = assumed_um.unwrap_or_else(|| assumed_seat_um(group[0].place.height_mm));
    SeatScatter {
        standard_um: (seat_um.powi(2) + noise_um2 / count(group.len())).sqrt(),
        dof: None,
    }
}

/// Standard deviation of a component between seatings of equal orientation and height: √(Σ|e − ē|² / 2Σ(n − 1));
/// `None` where nothing was seated twice.
pub fn seat_repeatability(figures: &[Figures]) -> Option<SeatScatter> {
    let mut squares = 0.0;
    let mut spare = 0;
    for group in heights(figures) {
        let mut left: Vec<&Figures> = group;
        while let Some(first) = left.first().map(|f| f.place.orientation_or_zero_deg()) {
            let (alike, others): (Vec<_>, Vec<_>) = left
                .into_iter()
                .partition(|f| same_angle(f.place.orientation_or_zero_deg(), first));
            let vectors: Vec<Vector> = alike.iter().filter_map(|f| f.eccentricity()).collect();
            let mean = vectors.iter().sum::<Vector>() / count(vectors.len());
            squares += vectors.iter().map(|v| (v - mean).norm_sqr()).sum::<f64>();
            spare += vectors.len() - 1;
            left = others;
        }
    }
    (spare > 0).then(|| SeatScatter {
        standard_um: (squares / (2.0 * count(spare))).sqrt(),
        dof: Some(2 * spare),
    })
}

/// Mean TIR of the heights of the bar that were seated in four orientations 90° apart.
///
/// Source: the way of accepting new machines, mandrel reseated at four positions 90° apart, the four runouts averaged
/// (ISO 230-1, from memory).
pub fn four_seatings(figures: &[Figures], turns: BarTurns) -> Vec<FourSeatings> {
    let mut all = Vec::new();
    if turns == BarTurns::OneWay {
        return all;
    }
    for plane in figures
        .iter()
        .filter(|f| f.place.may_be_bar() && f.tir_um.is_some())
    {
        if all
            .iter()
            .any(|done: &FourSeatings| done.place.same_height(&plane.place))
        {
            continue;
        }
        all.extend(four_seatings_at(figures, &plane.place));
    }
    all
}

/// Mean TIR of four seatings at one height.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FourSeatings {
    /// Surface and height.
    pub place: Place,
    /// Mean of the TIRs, µm.
    pub mean_tir_um: f64,
    /// Seatings in it.
    pub seatings: usize,
}

impl FourSeatings {
    /// As the result states it.
    pub fn to_result(self) -> FourSeatingsResult {
        FourSeatingsResult {
            height_mm: self.place.height_mm,
            mean_tir_um: self.mean_tir_um,
        }
    }
}

fn four_seatings_at(figures: &[Figures], place: &Place) -> Option<FourSeatings> {
    let at_height: Vec<&Figures> = figures
        .iter()
        .filter(|f| f.place.same_height(place) && f.tir_um.is_some())
        .collect();
    let orientations_deg: Vec<f64> = at_height
        .iter()
        .filter_map(|f| f.place.orientation_deg)
        .collect();
    let distinct = distinct_angles_deg(&orientations_deg);
    let quarter_turns = distinct.len() == 4
        && distinct
            .windows(2)
            .all(|pair| (pair[1] - pair[0] - 90.0).abs() <= QUARTER_TURN_TOLERANCE_DEG);
    let balanced = orientations_deg.len().is_multiple_of(4)
        && distinct.iter().all(|d| {
            4 * orientations_deg
                .iter()
                .filter(|o| same_angle(**o, *d))
                .count()
                == orientations_deg.len()
        });
    (quarter_turns && balanced && orientations_deg.len() == at_height.len()).then(|| FourSeatings {
        place: place.of_any_seating(),
        mean_tir_um: at_height.iter().filter_map(|f| f.tir_um).sum::<f64>()
            / count(at_height.len()),
        seatings: at_height.len(),
    })
}

#[cfg(test)]
mod tests {
    use super::super::vector::vector;
    use super::*;
    use proptest::prelude::*;

    fn measured(spindle: Vector, bar: Vector, orientations_deg: &[f64]) -> Vec<Turned> {
        orientations_deg
            .iter()
            .map(|o| Turned {
                orientation_deg: *o,
                measured: spindle + bar * turn_by(*o),
            })
            .collect()
    }

    #[test]
    fn orientations_that_are_one_or_nearly_one_tell_nothing() {
        let (spindle, bar) = (vector(4.0, 30.0), vector(3.0, 200.0));
        for orientations in [&[0.0][..], &[0.0, 0.0], &[0.0, 360.0], &[0.0, 10.0]] {
            assert_eq!(
                separate(1, &measured(spindle, bar, orientations)),
                None,
                "{orientations:?}"
            );
        }
    }

    #[test]
    fn half_turns_do_not_separate_ovality_and_quarter_turns_do() {
        assert_eq!(
            separate(
                2,
                &measured(vector(1.0, 0.0), vector(2.0, 50.0), &[0.0, 180.0])
            ),
            None
        );
        let turned: Vec<Turned> = [0.0, 90.0]
            .map(|o| Turned {
                orientation_deg: o,
                measured: vector(1.0, 0.0) + vector(2.0, 50.0) * turn_by(2.0 * o),
            })
            .to_vec();
        let parts = separate(2, &turned).expect("a quarter turn");
        assert!((parts.turns - vector(2.0, 50.0)).norm() < 1e-12);
    }

    proptest! {
        #[test]
        fn any_orientations_that_tell_them_apart_give_both_parts_back(
            orientations in proptest::collection::vec(0.0..360.0_f64, 2..8),
            s in 0.0..20.0_f64, s_deg in 0.0..360.0_f64,
            b in 0.0..20.0_f64, b_deg in 0.0..360.0_f64,
        ) {
            let (spindle, bar) = (vector(s, s_deg), vector(b, b_deg));
            if let Some(parts) = separate(1, &measured(spindle, bar, &orientations)) {
                prop_assert!((parts.stays - spindle).norm() < 1e-9);
                prop_assert!((parts.turns - bar).norm() < 1e-9);
                prop_assert!(parts.residual_squares < 1e-16);
            }
        }
    }
}
