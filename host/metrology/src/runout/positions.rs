//! A stepped turn held against itself. In: its readings in the order taken. Out: which of them look as if a position had
//! been read twice, left out or read at its neighbour, and what that would change.
//!
//! The readings are fitted at the angles they were meant for, then at those of every single mistake a hand makes: a
//! position twice (all later ones come late), one left out (all later ones come early), one read before the spindle was
//! turned on or after it was turned too far. Neighbours that are alike where the curve moves, a turn that does not close,
//! and a residual beyond what noise allows all show as one thing: a mistake that fits far better. Computed here, no source;
//! `host/docs/hints.md` says how often it is right.

use super::harmonics::count;
use super::mistake::Mistake;
use super::record::Stop;
use super::remarks::PlaneNote;
use super::vector::{SAME_ANGLE_DEG, Vector};
use nalgebra::{DMatrix, DVector};

/// Form above ovality, bearings that do not come round with the spindle, and noise: a sound plane leaves this much, µm,
/// standard deviation (common practice).
const ALLOWED_UM: f64 = 0.3;
/// Machine and head drift by this much while eight positions are read, µm, standard deviation (common practice).
const DRIFT_UM: f64 = 1.0;
const DRIFT_POSITIONS: f64 = 8.0;
/// A mistake must leave less than the meant angles by this many variances of a reading, and by more where few degrees of
/// freedom tell the variance: below 1 % of sound planes do.
const BETTER: f64 = 7.0;
const BETTER_PER_DOF: f64 = 18.0;
/// A closure beyond so many standard deviations of drift and readings has not come back.
const OFF: f64 = 3.0;
/// From so many positions on ovality is fitted too.
const OVALITY_FROM: usize = 8;
/// Fewest degrees of freedom that tell anything: four positions and the reading back at the first.
const FEWEST_DOF: usize = 2;

/// A doubt about a stepped plane.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Doubt {
    /// What it looks like.
    pub mistake: Mistake,
    /// The two positions it is about, counted from 1; one more than there are is the reading back at the first.
    pub between: [usize; 2],
    /// How far the eccentricity vector would move, µm.
    pub moves_um: f64,
    /// How much longer or shorter the eccentricity would be, µm.
    pub changes_um: f64,
}

impl Doubt {
    /// The remark on a plane of so many positions that was kept so.
    pub fn note(&self, positions: usize) -> PlaneNote {
        PlaneNote::InDoubt {
            mistake: self.mistake,
            between: self.between,
            positions,
            moves_um: self.moves_um,
        }
    }
}

/// What is known of the readings besides themselves.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Allowed {
    /// Smallest step the indicator shows, µm; 0 where not known.
    pub step_um: f64,
    /// A position is within this of its angle, degrees.
    pub position_error_deg: f64,
}

/// The doubt about readings in the order taken, if there is one. None either where there is too little to tell by: fewer
/// than four positions and the reading back, or angles that do not grow.
pub fn doubt(stops: &[Stop], allowed: &Allowed) -> Option<Doubt> {
    let turn = Turn::of(stops, allowed)?;
    let meant = turn.fit(&turn.meant())?;
    // A mistake can take away no more than all of it.
    if meant.squares_um2 <= turn.better() * turn.allowed_um2 {
        return turn.not_back();
    }
    let fits = turn.mistakes().into_iter();
    let best = fits
        .filter_map(|(mistake, between, places)| Some((turn.fit(&places)?, mistake, between)))
        .min_by(|a, b| a.0.squares_um2.total_cmp(&b.0.squares_um2));
    match best {
        Some((fit, mistake, between))
            if meant.squares_um2 - fit.squares_um2 > turn.better() * turn.variance_um2(&fit) =>
        {
            Some(Doubt {
                mistake,
                between,
                moves_um: (fit.eccentricity - meant.eccentricity).norm(),
                changes_um: (fit.eccentricity.norm() - meant.eccentricity.norm()).abs(),
            })
        }
        _ => turn.not_back(),
    }
}

/// A place round the turn: the number of the position it belongs to, from 0 on.
type Place = usize;

/// A stepped turn, its readings in the order taken.
struct Turn {
    /// Angles of the positions, and of as many of the next turn as a hand may reach, degrees.
    angles_deg: Vec<f64>,
    readings_um: Vec<f64>,
    positions: usize,
    closed: bool,
    /// Variance that a reading about the fit may have, µm².
    allowed_um2: f64,
}

/// What a set of places leaves.
struct Fit {
    squares_um2: f64,
    eccentricity: Vector,
}

impl Turn {
    fn of(stops: &[Stop], allowed: &Allowed) -> Option<Self> {
        let (first, last) = (stops.first()?, stops.last()?);
        let back_at_0 = last.angle_deg <= SAME_ANGLE_DEG && stops.len() > 1;
        let mut angles_deg: Vec<f64> = stops.iter().map(|stop| stop.angle_deg).collect();
        if back_at_0 && let Some(angle_deg) = angles_deg.last_mut() {
            *angle_deg = 360.0;
        }
        let grow = angles_deg
            .windows(2)
            .all(|pair| pair[1] > pair[0] + SAME_ANGLE_DEG);
        let closed = angles_deg.last()? - first.angle_deg >= 360.0 - SAME_ANGLE_DEG;
        let positions = stops.len() - usize::from(closed);
        // One place more than there are readings: who left a position out comes further.
        angles_deg.push(angles_deg[angles_deg.len() - positions] + 360.0);
        let readings_um: Vec<f64> = stops.iter().map(|stop| stop.reading_um).collect();
        let high_um = super::harmonics::spread(readings_um.iter().copied()) / 2.0;
        let off_um = high_um * allowed.position_error_deg.to_radians() / 3.0_f64.sqrt();
        let turn = Self {
            allowed_um2: ALLOWED_UM.powi(2) + allowed.step_um.powi(2) / 12.0 + off_um.powi(2),
            angles_deg,
            readings_um,
            positions,
            closed,
        };
        (grow && turn.dof().is_some()).then_some(turn)
    }

    fn order(&self) -> usize {
        if self.positions >= OVALITY_FROM { 2 } else { 1 }
    }

    /// Readings, and what is known of the drift, less mean, drift and harmonics.
    fn dof(&self) -> Option<f64> {
        let dof = (self.readings_um.len() + 1).checked_sub(2 + 2 * self.order())?;
        (dof >= FEWEST_DOF).then(|| count(dof))
    }

    fn better(&self) -> f64 {
        BETTER + BETTER_PER_DOF / self.dof().unwrap_or(1.0)
    }

    fn variance_um2(&self, fit: &Fit) -> f64 {
        self.allowed_um2 + fit.squares_um2 / self.dof().unwrap_or(1.0)
    }

    /// Standard deviation of the drift over the turn, µm.
    fn drift_um(&self) -> f64 {
        DRIFT_UM * (count(self.positions) / DRIFT_POSITIONS).max(1.0)
    }

    fn meant(&self) -> Vec<Place> {
        (0..self.readings_um.len()).collect()
    }

    /// Every single mistake: what it is, the positions it is about, counted from 1, and where each reading was then taken.
    fn mistakes(&self) -> Vec<(Mistake, [usize; 2], Vec<Place>)> {
        let readings = self.readings_um.len();
        let mut all = Vec::new();
        let mut add = |mistake, between, place_of: &dyn Fn(usize) -> usize| {
            all.push((mistake, between, (0..readings).map(place_of).collect()));
        };
        for at in 1..readings {
            let neighbours = [at, at + 1];
            add(Mistake::Alike, neighbours, &|j| j - usize::from(j >= at));
            if at + 1 == readings {
                continue;
            }
            add(Mistake::Alike, neighbours, &|j| j - usize::from(j == at));
            add(Mistake::Alike, [at + 1, at + 2], &|j| {
                j + usize::from(j == at)
            });
            add(Mistake::LeftOut, neighbours, &|j| j + usize::from(j >= at));
            if self.closed {
                // Whoever stops when the tape is back at the first position reads it twice there.
                add(Mistake::LeftOut, neighbours, &|j| {
                    (j + usize::from(j >= at)).min(readings - 1)
                });
            }
        }
        all
    }

    /// Mean, drift and harmonics by least squares, the readings taken at these places; a drift of its usual size is as
    /// likely as a reading off by what is allowed.
    fn fit(&self, places: &[Place]) -> Option<Fit> {
        let rows = self.readings_um.len();
        let columns = 2 + 2 * self.order();
        let last = count(rows - 1);
        let mean_um = crate::statistics::mean(&self.readings_um);
        let mut design = DMatrix::zeros(rows + 1, columns);
        let mut right = DVector::zeros(rows + 1);
        for (row, &place) in places.iter().enumerate() {
            right[row] = self.readings_um[row] - mean_um;
            design[(row, 0)] = 1.0;
            design[(row, 1)] = count(row) / last - 0.5;
            for order in 1..=self.order() {
                let angle = (count(order) * self.angles_deg[place]).to_radians();
                design[(row, 2 * order)] = angle.cos();
                design[(row, 2 * order + 1)] = angle.sin();
            }
        }
        design[(rows, 1)] = self.allowed_um2.sqrt() / self.drift_um();
        let solution = design
            .tr_mul(&design)
            .cholesky()?
            .solve(&design.tr_mul(&right));
        let left = &right - &design * &solution;
        Some(Fit {
            squares_um2: left.norm_squared(),
            eccentricity: Vector::new(solution[2], solution[3]),
        })
    }

    fn not_back(&self) -> Option<Doubt> {
        let off_um = self.readings_um.last()? - self.readings_um.first()?;
        let usual_um = self.drift_um().hypot((2.0 * self.allowed_um2).sqrt());
        (self.closed && off_um.abs() > OFF * usual_um).then_some(Doubt {
            mistake: Mistake::NotBack,
            between: [1, self.positions + 1],
            moves_um: 0.0,
            changes_um: 0.0,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ALLOWED: Allowed = Allowed {
        step_um: 0.1,
        position_error_deg: 3.0,
    };

    fn surface_um(place: usize, positions: usize) -> f64 {
        let angle = (360.0 * count(place) / count(positions)).to_radians();
        40.0 + 8.0 * (angle - 0.7).cos() + 0.3 * (2.0 * angle).cos()
    }

    fn read(positions: usize, places: &[usize]) -> Vec<Stop> {
        let step_deg = 360.0 / count(positions);
        let stops = places.iter().enumerate().map(|(position, place)| Stop {
            angle_deg: count(position) * step_deg,
            reading_um: surface_um(*place, positions) + 0.05 * count(position),
        });
        stops.collect()
    }

    fn found(positions: usize, places: &[usize]) -> Option<(Mistake, [usize; 2])> {
        doubt(&read(positions, places), &ALLOWED).map(|doubt| (doubt.mistake, doubt.between))
    }

    #[test]
    fn a_sound_turn_raises_no_doubt_closed_or_not() {
        for positions in [4, 5, 6, 8, 12, 16, 36] {
            let closed: Vec<usize> = (0..=positions).collect();
            assert_eq!(found(positions, &closed), None, "{positions}");
            assert_eq!(
                found(positions, &closed[..positions]),
                None,
                "{positions}, not closed"
            );
        }
    }

    #[test]
    fn a_position_read_twice_is_named() {
        assert_eq!(
            found(8, &[0, 1, 2, 3, 4, 4, 5, 6, 7]),
            Some((Mistake::Alike, [5, 6]))
        );
        // Read before the spindle was turned on, the others right.
        assert_eq!(
            found(8, &[0, 1, 2, 3, 4, 4, 6, 7, 8]),
            Some((Mistake::Alike, [5, 6]))
        );
        assert_eq!(
            found(12, &[0, 1, 2, 3, 3, 4, 5, 6, 7, 8, 9, 10, 11]),
            Some((Mistake::Alike, [4, 5]))
        );
    }

    #[test]
    fn a_position_left_out_is_named() {
        assert_eq!(
            found(8, &[0, 1, 2, 4, 5, 6, 7, 8, 8]),
            Some((Mistake::LeftOut, [3, 4]))
        );
        assert_eq!(
            found(8, &[0, 1, 2, 4, 5, 6, 7, 8, 9]),
            Some((Mistake::LeftOut, [3, 4]))
        );
    }

    #[test]
    fn a_turn_that_does_not_close_is_told_where_no_mistake_explains_it() {
        let mut stops = read(8, &[0, 1, 2, 3, 4, 5, 6, 7, 8]);
        stops[8].reading_um += 9.0;
        assert!(doubt(&stops, &ALLOWED).is_some());
    }

    #[test]
    fn what_cannot_be_told_is_not_told() {
        let shuffled = [
            (0.0, 1.0),
            (180.0, 5.0),
            (90.0, 9.0),
            (270.0, 2.0),
            (360.0, 1.0),
        ];
        let stops: Vec<Stop> = shuffled
            .iter()
            .map(|&(angle_deg, reading_um)| Stop {
                angle_deg,
                reading_um,
            })
            .collect();
        assert_eq!(doubt(&stops, &ALLOWED), None);
        assert_eq!(doubt(&[], &ALLOWED), None);
        assert_eq!(doubt(&stops[..1], &ALLOWED), None);
    }
}
